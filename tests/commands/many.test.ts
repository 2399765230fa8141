/** Several files in one run: order, exit codes, and the same answers as one by one. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

let folder: string;
const write = (name: string, text: string): void => writeFileSync(join(folder, name), text);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "barrowmix-many-"));
  // Prices and analyses are invented.
  write(
    "amendments.yaml",
    [
      "amendments:",
      "  feather-meal: {analysis: {N: 13}, packs: [{size: 50 lb, price: 50}], release: at-once}",
      "  poultry-pellets: {analysis: {N: 4, P2O5: 3, K2O: 2}, bulk: {price: 0.30, per: lb}, release: at-once}",
      "",
    ].join("\n"),
  );
  write("target.yaml", "target: Sweet corn\nseason: 90 days\nneed: {per: bed, N: 3 lb}\n");
  const plan = (name: string, more = ""): string =>
    `plan: ${name}\namendments: amendments.yaml\ntarget: target.yaml\nbed: {area: 1000 sq ft}\n${more}`;
  write("first.yaml", plan("First"));
  write("second.yaml", plan("Second", "limits: {feather-meal: {max: 5 lb}}\n"));
  write("bad.yaml", plan("Bad", "blend: both\n"));
  write("none.yaml", plan("None", "limits: {feather-meal: {max: 1 lb}, poultry-pellets: {max: 1 lb}}\n"));
  write("broken.yaml", "amendments:\n  feather-meal: {analysis: {N: 130}}\n");
  write("on-broken.yaml", plan("On broken").replace("amendments.yaml", "broken.yaml"));
  write("also-on-broken.yaml", plan("Also on broken").replace("amendments.yaml", "broken.yaml"));
  write("mix.yaml", "mix: {feather-meal: 10 lb}\namendments: amendments.yaml\n");
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function run(...args: string[]) {
  const world = testWorld({ cwd: folder });
  const code = await main(args, world);
  return { code, ...world.written };
}

async function lines(...args: string[]) {
  const { code, stdout, stderr } = await run(...args, "--ndjson");
  return {
    code,
    stderr,
    items: stdout
      .trimEnd()
      .split("\n")
      .map((line) => JSON.parse(line) as Record<string, unknown>),
  };
}

describe("several plans", () => {
  it("give in order what each gives alone", async () => {
    const { code, items } = await lines("solve", "second.yaml", "first.yaml", "second.yaml");
    expect(code).toBe(0);
    for (const [i, file] of ["second.yaml", "first.yaml", "second.yaml"].entries()) {
      const { file: named, ...solution } = items[i]!;
      expect(named).toBe(file);
      const alone = JSON.parse((await run("solve", file, "--json")).stdout) as Record<string, unknown>;
      for (const same of ["schema", "status", "cost", "mixes", "purchases", "inputs"])
        expect(solution[same]).toEqual(alone[same]);
    }
  });

  it("go on after one that is no text, which is bad input", async () => {
    writeFileSync(join(folder, "photo.yaml"), Buffer.from([0x89, 0x50, 0xff, 0xfe, 0x00]));
    const { code, items } = await lines("solve", "photo.yaml", "first.yaml");
    expect(code).toBe(2);
    expect(items.map(({ file }) => file)).toEqual(["photo.yaml", "first.yaml"]);
    expect(items[0]).toMatchObject({ problems: [{ code: "file-encoding" }] });
    expect(items[1]).toMatchObject({ status: "optimal" });
  });

  it("go on after a bad one, and exit with the highest code", async () => {
    const { code, items } = await lines("solve", "bad.yaml", "first.yaml", "nowhere.yaml", "none.yaml");
    expect(code).toBe(3);
    expect(items.map(({ file, status }) => [file, status])).toEqual([
      ["bad.yaml", "error"],
      ["first.yaml", "optimal"],
      ["nowhere.yaml", "error"],
      ["none.yaml", "infeasible"],
    ]);
    expect(items[0]!.problems).toEqual([
      expect.objectContaining({ file: "bad.yaml", line: 5, column: 8, code: expect.any(String) }),
    ]);
    const two = await lines("solve", "bad.yaml", "first.yaml");
    expect(two.code).toBe(2);
    // The fault reads on stderr as it does alone.
    expect(two.stderr).toContain((await run("solve", "bad.yaml")).stderr.trimEnd());
    expect((await lines("solve", "first.yaml")).items).toHaveLength(1);
  });

  it("each hear of a fault in a file that they share", async () => {
    const { code, items } = await lines("solve", "on-broken.yaml", "also-on-broken.yaml");
    expect(code).toBe(2);
    const [first, second] = items.map(({ problems }) => problems);
    expect(first).toEqual(second);
    expect(first).toEqual([expect.objectContaining({ file: "broken.yaml", line: 2 })]);
  });

  it("make a row each in tables and CSV, with the faults on stderr", async () => {
    const { code, stdout, stderr } = await run("solve", "--apart", "first.yaml", "bad.yaml", "none.yaml");
    expect(code).toBe(3);
    expect(stdout).toMatch(/^3 files, 2 without an answer\n/);
    expect(stdout).toMatch(/first\.yaml +ok +First +\$\d/);
    expect(stdout).toMatch(/bad\.yaml +wrong input/);
    expect(stdout).toMatch(/none\.yaml +no mix fits/);
    expect(stderr).toMatch(/^bad\.yaml:5:8: /);
    const csv = await run("solve", "--apart", "first.yaml", "bad.yaml", "--format", "csv");
    expect(csv.stdout.split("\r\n").map((line) => line.split(",").length)).toEqual([5, 5, 5, 1]);
  });

  it("are a list in JSON", async () => {
    const { stdout } = await run("solve", "--apart", "first.yaml", "bad.yaml", "--json");
    expect((JSON.parse(stdout) as { file: string }[]).map(({ file }) => file)).toEqual([
      "first.yaml",
      "bad.yaml",
    ]);
  });

  it("are shopped and mixes are assayed in the same way", async () => {
    const shopped = await lines("shop", "first.yaml", "bad.yaml", "second.yaml");
    expect(shopped.code).toBe(2);
    expect(shopped.items.map(({ schema }) => schema)).toEqual([
      "barrowmix.solution/2",
      "barrowmix.failure/1",
      "barrowmix.solution/2",
    ]);
    const assayed = await lines("assay", "mix.yaml", join(ROOT, "examples/brassica-terraces/mix.yaml"));
    expect(assayed.code).toBe(0);
    expect(assayed.items.map(({ schema }) => schema)).toEqual(["barrowmix.assay/1", "barrowmix.assay/1"]);
  });
});

describe("very many plans", () => {
  const named = Array.from(
    { length: 130 },
    (_, i) => ["first.yaml", "bad.yaml", "second.yaml", "none.yaml"][i % 4]!,
  );

  slow("are written line by line as they come, in order", async () => {
    const world = testWorld({ cwd: folder });
    const seen: string[] = [];
    const stdout = { ...world.stdout, write: (text: string) => seen.push(text) };
    expect(await main(["solve", ...named, "--ndjson"], { ...world, stdout })).toBe(3);
    expect(seen).toHaveLength(130);
    const lines = seen.map((text) => JSON.parse(text) as { file: string; schema: string });
    expect(lines.map(({ file }) => file)).toEqual(named);
    expect(new Set(lines.map(({ schema }) => schema))).toEqual(
      new Set(["barrowmix.solution/2", "barrowmix.failure/1"]),
    );
  });

  it("are worked no further once nobody reads", async () => {
    const world = testWorld({ cwd: folder });
    const seen: string[] = [];
    const write = (text: string): void => {
      if (seen.length === 3) throw Object.assign(new Error("broken pipe"), { code: "EPIPE" });
      seen.push(text);
    };
    expect(
      await main(["solve", ...named, "--ndjson"], { ...world, stdout: { ...world.stdout, write } }),
    ).toBe(0);
    expect(seen).toHaveLength(3);
  });
});
