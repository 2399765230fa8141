/** What cannot be meant is refused, with exit 2 and what would be right; each line was once taken. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { testWorld } from "../helpers/world.ts";

const DEMO = "examples/brassica-terraces/plan.yaml";

async function run(args: readonly string[], stdin?: string) {
  const world = testWorld(stdin === undefined ? {} : { stdin });
  const code = await main(args, world);
  return { code, ...world.written };
}

describe("a flag that cannot be meant", () => {
  it.each<[string[], string]>([
    [
      ["shop", DEMO, "--budget", "100,50"],
      "`100,50` has a comma that is not between thousands; write decimals with a point: `100.50`",
    ],
    [["shop", DEMO, "--budget", "1e30"], "is beyond reason; this takes an amount of money"],
    [["shop", DEMO, "--budget", "-5"], "this takes an amount of money, for instance --budget 250"],
    [["shop", DEMO, "--budget", "lots"], "this takes an amount of money"],
    [["shop", DEMO, "--time-limit", "1,5"], "write decimals with a point: `1.5`"],
    [
      ["sweep", DEMO, "--need", "N", "--from", "80 lb", "--to", "160 lb", "--steps", "1,0"],
      "write decimals with a point: `1.0`",
    ],
    [
      ["solve", DEMO, "--plants", "9,6"],
      "`9,6` has a comma that is not between thousands; a number of plants is needed",
    ],
    [["solve", DEMO, "--sure", "N=90%,N=95%"], "`N` is given twice; keep one of the two"],
    [["solve", DEMO, "--set", "soil_temperature={0: 18 C, 0: 20 C}"], "the key `0` is in this map twice"],
    [["solve", DEMO, "--set", "soil_temperature={0: 18 C, 0.0: 20 C}"], "day 0 is given twice"],
    [
      ["solve", DEMO, "--set", "amendments.feather-meal.release={points: {5: 10%, 5: 20%}}"],
      "the key `5` is in this map twice",
    ],
    [["solve", DEMO, "--exclude", ""], "--exclude names no amendment"],
    [["solve", DEMO, "--exclude", " , "], "--exclude names no amendment"],
    [["solve", DEMO, "--only", ""], "--only names no amendment"],
    [["whatif", DEMO, "--exclude", ""], "--exclude names no amendment"],
    [["whatif", DEMO, "--case", "none: --exclude ''"], "--exclude names no amendment"],
    [["solve", DEMO, "--price", "feather-meal=0/50 lb"], "write `free/50 lb` for what costs nothing"],
    [["solve", DEMO, "--price", "feather-meal=0/lb"], "write `free/lb` for what costs nothing"],
    [
      ["solve", "--have", "blood-meal@0/50 lb", "--recipe", "pepper", "--plants", "9"],
      "write `free` for what costs nothing",
    ],
    [["solve", DEMO, "--set", "harvest.first=-1"], "day -1 is not after planting"],
    [["solve", DEMO, "--set", "planted=0000-01-01"], "is not in any year that a plan is for"],
    [["solve", DEMO, "--set", "applications=[{day: 0, share: 0%}, {day: 9, share: 100%}]"], "`0%` is zero"],
    [["solve", DEMO, "--batch", "50 Mg"], "of 1000 kg, write `50 t`"],
    [
      ["solve", DEMO, "--batch", "0.001 lb"],
      "a batch of this size rounds to nothing on the scale; make it at least `0.1 lb`",
    ],
    [["solve", DEMO, "--scale", "100 lb"], "rounds to nothing on the scale"],
    [["solve", DEMO, "--set", "target.season=1000000000 days"], "a season of more than ten years"],
    [["solve", DEMO, "--set", "bed={area: 3,600 sq ft}"], "write `3600 sq ft`, or put it in quotes"],
  ])("%j", async (args, expected) => {
    const { code, stdout, stderr } = await run(args);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr.replaceAll(/\s*\[[a-z-]+\]\n\s*/g, "; ")).toContain(expected);
  });
});

describe("what is taken beside it", () => {
  it.each<string[]>([
    ["shop", DEMO, "--budget", "1,250.50"],
    ["shop", DEMO, "--time-limit", "10 s"],
    ["solve", DEMO, "--price", "feather-meal=free/50 lb"],
    ["solve", DEMO, "--price", "feather-meal=free/lb"],
    ["solve", DEMO, "--set", "soil_temperature={0: 18 C, 12 hours: 20 C}"],
    ["solve", DEMO, "--set", "harvest.first=1"],
  ])("%j", async (...args) => {
    expect((await run(args)).code).toBe(0);
  });
});

describe("what is no plan", () => {
  it.each<[string[], string]>([
    [["solve", "examples/brassica-terraces"], "name a file in it: `examples/brassica-terraces/plan.yaml`"],
    [["solve", "tests/bench"], "`barrowmix init` writes a plan into a folder"],
    [
      ["solve", "examples/brassica-terraces/amendments.yaml"],
      "`examples/brassica-terraces/amendments.yaml` is an amendments file, and nothing says what the crop needs",
    ],
    [["solve"], "`barrowmix init` writes a plan to begin with"],
  ])("%j is told what to do", async (args, expected) => {
    const { code, stderr } = await run(args);
    expect(code).toBe(2);
    expect(stderr).toContain(expected);
  });

  it("an amendments file and the rest in flags are a plan", async () => {
    const file = "examples/brassica-terraces/amendments.yaml";
    const { code, stderr } = await run(["solve", file, "--recipe", "pepper", "--area", "1500 sq ft"]);
    expect([code, stderr]).toEqual([0, expect.stringContaining("")]);
  });

  it.each([
    `{"schema": "barrowmix.solution/1", "inputs": ${"[".repeat(6000)}${"]".repeat(6000)}}`,
    `{"schema": "barrowmix.solution/1", "inputs": {"amendments": ${"[".repeat(6000)}${"]".repeat(6000)}}}`,
    `{"schema": "barrowmix.shopping/1", "inputs": ${"[".repeat(6000)}${"]".repeat(6000)}}`,
    `{"plan": "deep", "target": ${'{"a":'.repeat(6000)}1${"}".repeat(6000)}}`,
    `${"[".repeat(6000)}${"]".repeat(6000)}`,
    `${'{"a":'.repeat(6000)}1${"}".repeat(6000)}`,
  ])("JSON nested 6,000 deep is refused: %#", async (stdin) => {
    for (const command of ["solve", "shop", "card"]) {
      const { code, stdout, stderr } = await run([command, "-"], stdin);
      expect([code, stdout]).toEqual([2, ""]);
      expect(stderr).not.toMatch(/RangeError|at .*\.ts:/);
    }
  });
});
