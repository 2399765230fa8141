import { describe, expect, it } from "vitest";
import { checkFiles } from "../../src/files/load.ts";
import { parseTree } from "../../src/files/yaml.ts";
import { formatProblems } from "../../src/problem.ts";
import { memoryReader } from "../helpers/files.ts";
import { seeds, slow } from "../helpers/seeds.ts";

const parse = (text: string) => parseTree(text, "f.yaml", "/f.yaml");
const check = (text: string) =>
  checkFiles(memoryReader({ "/f.yaml": text }), ["f.yaml"], { cwd: "/", recipesDir: "/recipes" })[0]!
    .problems;
const times = (count: number, line: (i: number) => string) =>
  Array.from({ length: count }, (_, i) => line(i)).join("");

describe("a text with many faults", () => {
  it("shows the first few faults of a stray bracket and says how many follow", () => {
    const problems = check(`plan: x\namendments: [\n${times(700, (i) => `k${i}: 1\n  a: b\n`)}`);
    expect(problems).toHaveLength(5);
    expect(problems[0]).toMatchObject({ code: "yaml-syntax", place: { line: 3, column: 1 } });
    expect(problems[4]!.message).toMatch(/^1,\d{3} more faults of this kind follow from here$/);
  });

  slow("reports each of many wrong keys at its own place, and prints forty", () => {
    const keys = seeds(10_000, 50_000);
    const problems = check(`plan: x\n${times(keys, (i) => `k${i}: 1\n`)}`);
    const wrong = problems.filter((p) => p.code === "key-unknown");
    expect(wrong).toHaveLength(keys);
    expect(wrong.at(-1)!.place).toEqual({ file: "f.yaml", line: keys + 1, column: 1 });
    const text = formatProblems(problems);
    expect(text.match(/\[key-unknown\]/g)!.length).toBeLessThanOrEqual(40);
    expect(text).toContain(`\n... and ${seeds("9,962", "49,962")} more faults\n`);
  });

  slow("reads 20,000 aliases, each as the anchor last before it", () => {
    const { tree, broken } = parse(
      `a: &x 1\nb: [${times(10_000, () => "*x, ")}]\nc: &x 2\nd: [${times(10_000, () => "*x, ")}]\n`,
    );
    expect(broken).toBe(false);
    const root = tree.root as { b: number[]; d: number[] };
    expect(root.b).toEqual(Array.from({ length: 10_000 }, () => 1));
    expect(root.d).toEqual(Array.from({ length: 10_000 }, () => 2));
  });

  it("says how many of its aliases lead nowhere", () => {
    const problems = check(`plan: x\nlist: [${times(900, () => "*gone, ")}]\n`);
    expect(problems.map((p) => p.message).at(-1)).toBe("896 more faults of this kind follow from here");
  });
});

describe("a text that no grower wrote", () => {
  it("is refused where it is too long, before it is parsed", () => {
    const { problems, broken } = parse(`plan: ${"x".repeat(1_000_000)}\n`);
    expect(broken).toBe(true);
    expect(problems.map((p) => p.message)).toEqual([
      "this file has 1,000,007 characters; at most 1,000,000 are read",
    ]);
  });

  it.each([
    ["a null", "\u0000", "U+0000"],
    ["an escape", "\u001b[31m", "U+001B"],
    ["a C1 control", "\u009b", "U+009B"],
  ])("is refused with the place of %s", (_, sign, name) => {
    const { problems, broken } = parse(`plan: x\nname: a${sign}b\n`);
    expect(broken).toBe(true);
    expect(problems).toMatchObject([{ code: "yaml-syntax", place: { line: 2, column: 8 } }]);
    expect(problems[0]!.message).toContain(name);
  });

  it("may have tabs inside lines and ends of lines of any kind", () => {
    expect(parse("plan: x\t# remark\r\nbatch: 60 lb\r\n").tree.root).toEqual({ plan: "x", batch: "60 lb" });
  });
});

describe("numbers that people read in two ways", () => {
  it.each(["0o17", "0x1F", "012", "-007", "00.5"])("%s is left as text", (text) => {
    expect((parse(`v: ${text}\n`).tree.root as { v: unknown }).v).toBe(text);
  });

  it.each([
    ["0", 0],
    ["0.5", 0.5],
    ["-0.25", -0.25],
    ["1e3", 1000],
    [".5", 0.5],
    ["10", 10],
  ])("%s is a number", (text, value) => {
    expect((parse(`v: ${text}\n`).tree.root as { v: unknown }).v).toBe(value);
  });
});
