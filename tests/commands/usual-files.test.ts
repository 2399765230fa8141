/** What is taken where no file is named, new prices checked by themselves, and the short flags. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { testWorld } from "../helpers/world.ts";

const folder = mkdtempSync(join(tmpdir(), "barrowmix-usual-"));
afterAll(() => rmSync(folder, { recursive: true }));

async function run(...argv: string[]) {
  const world = testWorld({ cwd: folder });
  const code = await main(argv, world);
  return { code, ...world.written };
}

beforeAll(async () => {
  expect(await run("assay")).toMatchObject({ code: 2, stderr: expect.stringContaining("mix.yaml") });
  expect(await run("check")).toMatchObject({ code: 2, stderr: expect.stringContaining("plan.yaml") });
  const init = await run("init", ".", "--recipe", "pepper", "--area", "100 m2", "--yes");
  expect(init.code).toBe(0);
});

describe("where no file is named", () => {
  it("assay takes mix.yaml, check takes plan.yaml", async () => {
    expect((await run("assay")).stdout).toBe((await run("assay", "mix.yaml")).stdout);
    const check = await run("check", "--json");
    expect(JSON.parse(check.stdout)).toMatchObject({
      files: [{ file: "plan.yaml", kind: "plan", ok: true }],
    });
    expect(check.stdout).toBe((await run("check", "plan.yaml", "--json")).stdout);
  });
});

describe("new prices in a file of their own", () => {
  const recipes = readFileSync(join(import.meta.dirname, "../../recipes/README.md"), "utf8");
  const block = recipes.split("```yaml\n").find((text) => text.startsWith("# my-prices.yaml"))!;
  const prices = block.slice(0, block.indexOf("```"));

  it("are checked as laid over the shipped amendments, as recipes/README.md shows them", async () => {
    writeFileSync(join(folder, "my-prices.yaml"), prices);
    const { code, stdout, stderr } = await run("check", "my-prices.yaml");
    expect([code, stderr]).toEqual([0, ""]);
    expect(stdout.replace(/\s+/g, " ")).toContain("No analysis is given for feather-meal, blood-meal");
  });

  it("are refused where no shipped amendment has that id, or another value is wrong", async () => {
    writeFileSync(join(folder, "mistyped.yaml"), prices.replace("blood-meal", "blood-mael"));
    const { code, stderr } = await run("check", "mistyped.yaml");
    expect(code).toBe(2);
    expect(stderr).toContain("blood-mael");
    expect(stderr).toContain("has no analysis");
    writeFileSync(join(folder, "wrong.yaml"), prices.replace("41.00", "-41"));
    expect(await run("check", "wrong.yaml")).toMatchObject({
      code: 2,
      stderr: expect.stringContaining("-41"),
    });
  });
});

describe("short flags", () => {
  it("are the long ones", async () => {
    const long = await run("solve", "plan.yaml", "--out", "a.csv");
    expect(long).toMatchObject({ code: 0, stdout: "" });
    expect(long.stderr).toContain("Wrote a.csv.");
    expect(await run("solve", "plan.yaml", "-q", "-o", "b.csv")).toMatchObject({
      code: 0,
      stdout: "",
      stderr: "",
    });
    expect(readFileSync(join(folder, "b.csv"), "utf8")).toBe(readFileSync(join(folder, "a.csv"), "utf8"));
    expect(await run("-V")).toEqual(await run("--version"));
    expect((await run("-V")).stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });
});
