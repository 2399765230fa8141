/** The examples in the help of each command do what it says they do: they are run, in order, in a folder of `init`. */
import { copyFileSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { COMMANDS, main } from "../../src/cli.ts";
import { seeds } from "../helpers/seeds.ts";
import { testWorld } from "../helpers/world.ts";

vi.setConfig({ testTimeout: 120_000, hookTimeout: 60_000 });

const folder = mkdtempSync(join(tmpdir(), "barrowmix-help-"));
afterAll(() => rmSync(folder, { recursive: true }));

async function run(...args: string[]) {
  const world = testWorld({ cwd: folder });
  const code = await main(args, world);
  return { code, ...world.written };
}

beforeAll(async () => {
  const begun = await run("init", "--recipe", "pepper", "--area", "1500 sq ft", "--plants", "240", "--yes");
  expect(begun.code, begun.stderr).toBe(0);
  copyFileSync(join(folder, "plan.yaml"), join(folder, "herbs.yaml"));
  const season = await run("solve", "plan.yaml", "--set", "planted=2027-05-20", "--save", "season.yaml");
  expect(season.code, season.stderr).toBe(0);
  for (const [list, price] of [
    ["list", 44],
    ["store-a", 41],
    ["store-b", 39],
  ])
    writeFileSync(join(folder, `${list}.csv`), `id,size,price\nfeather-meal,50 lb,${price}\n`);
});

/** Command lines of a help text: those that begin with the program's name, and what continues them. */
function examplesOf(help: string): string[] {
  return [...help.replace(/\\\n\s*/g, "").matchAll(/^ {2}barrowmix (.*)$/gm)]
    .map((found) => found[1]!.replace(/ {2,}\(.*\)$/, ""))
    .filter((line) => !/[|*]/.test(line));
}

/** The words of a command line, quotes taken off. */
const words = (line: string): string[] =>
  [...line.matchAll(/"([^"]*)"|'([^']*)'|(\S+)/g)].map((found) => found[1] ?? found[2] ?? found[3]!);

describe("examples of help", () => {
  const names = COMMANDS.map(({ name }) => name);
  it.each(
    seeds(
      names.filter((name) => name !== "sweep"),
      names,
    ),
  )("%s", async (name) => {
    const { stdout } = await run("help", name);
    for (const line of examplesOf(stdout)) {
      const { code, stderr } = await run(...words(line));
      expect([line, code], stderr).toEqual([line, 0]);
    }
  });

  it("are found", async () => {
    expect(examplesOf((await run("help", "solve")).stdout).length).toBeGreaterThan(1);
    expect(examplesOf((await run("help", "whatif")).stdout).length).toBeGreaterThan(3);
  });
});
