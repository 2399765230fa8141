import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { RELEASE_CLASS_NAMES, RELEASE_CLASSES } from "../../src/files/release-classes.ts";
import type { ReleaseCurve } from "../../src/model.ts";
import { RELEASE_DATA } from "./release-data.ts";

// This test has its own arithmetic for the curves on purpose: it holds the class parameters against the
// published figures, not against the program's release module.
function available(curve: ReleaseCurve, days: number, temperatureC: number): number {
  const warmDays = days * curve.q10 ** ((temperatureC - curve.referenceC) / 10);
  if (curve.kind === "pool")
    return curve.atOnce + curve.later * (1 - Math.exp((-Math.LN2 * warmDays) / curve.halfLifeDays));
  let before: readonly [number, number] = [0, 0];
  for (const point of curve.points) {
    if (warmDays <= point[0])
      return point[0] === before[0]
        ? point[1]
        : before[1] + ((point[1] - before[1]) * (warmDays - before[0])) / (point[0] - before[0]);
    before = point;
  }
  return before[1];
}

/** Half a percent of the content: the published figures are whole percents. */
const ROUNDING = 0.005;

describe("release classes against their data", () => {
  for (const name of RELEASE_CLASS_NAMES) {
    const { curve, source, summary } = RELEASE_CLASSES[name];
    const data = RELEASE_DATA[name];
    it.each(data.map((d) => [`${name}: ${d.what}`, d] as const))("%s", (_, datum) => {
      const share = available(curve, datum.days, datum.temperatureC);
      expect(share).toBeGreaterThanOrEqual(datum.low - ROUNDING);
      expect(share).toBeLessThanOrEqual(datum.high + ROUNDING);
    });
    it(`${name} has a source, a summary and data`, () => {
      expect(source.length).toBeGreaterThan(40);
      expect(summary).toMatch(/\.$/);
      expect(data.length).toBeGreaterThan(0);
    });
    it(`${name} never gives more than the label or takes any back`, () => {
      const grid = Array.from({ length: 200 }, (_, i) => available(curve, i * 5, 20));
      expect(Math.min(...grid)).toBeGreaterThanOrEqual(0);
      expect(Math.max(...grid)).toBeLessThanOrEqual(1);
      for (let i = 1; i < grid.length; i++) expect(grid[i]!).toBeGreaterThanOrEqual(grid[i - 1]!);
    });
  }
});

describe("fast against Hartz and Johnstone 2006, HortTechnology 16:39-42", () => {
  const fast = RELEASE_CLASSES.fast.curve;

  it("the mean of 10, 15, 20 and 25 C at 8 weeks lies among the materials' means, 60 to 66 %", () => {
    const mean = [10, 15, 20, 25].reduce((sum, t) => sum + available(fast, 56, t) / 4, 0);
    expect(mean).toBeGreaterThanOrEqual(0.6 - ROUNDING);
    expect(mean).toBeLessThanOrEqual(0.66 + ROUNDING);
  });

  it("the 8-week totals at 25 and 10 C differ by an apparent Q10 of (66/56)^(10/15) = 1.116", () => {
    const apparent = (available(fast, 56, 25) / available(fast, 56, 10)) ** (10 / 15);
    expect(apparent).toBeCloseTo((66 / 56) ** (10 / 15), 2);
  });

  it("one slow pool with a Q10 of 2 would fall short in cold soil, which is why the class is not one", () => {
    // 5 % at once, 70 % later, half-life 18 days: 14 days at 10 C must then give less than the 47 % seen.
    const pool: ReleaseCurve = {
      kind: "pool",
      atOnce: 0.05,
      later: 0.7,
      halfLifeDays: 18,
      q10: 2,
      referenceC: 25,
    };
    expect(available(pool, 14, 10)).toBeLessThan(0.47 - 0.1);
    expect(available(fast, 14, 10)).toBeGreaterThanOrEqual(0.47 - ROUNDING);
  });
});

it("the classes are in order of speed at every age from one week on", () => {
  for (const days of [7, 14, 28, 56, 112]) {
    const shares = RELEASE_CLASS_NAMES.map((name) => available(RELEASE_CLASSES[name].curve, days, 20));
    for (let i = 1; i < shares.length; i++) expect(shares[i]!).toBeLessThan(shares[i - 1]!);
  }
});

it("the chart in recipes/ is the one its script draws from these classes", () => {
  const root = fileURLToPath(new URL("../../", import.meta.url));
  const drawn = execFileSync(process.execPath, ["scripts/release-chart.mjs", "--stdout"], {
    cwd: root,
    encoding: "utf8",
  });
  expect(drawn).toMatch(/^<svg /);
  for (const datum of Object.values(RELEASE_DATA).slice(1).flat())
    expect(drawn).toContain(`<title>${datum.what}</title>`);
  expect(readFileSync(`${root}recipes/release-classes.svg`, "utf8")).toBe(drawn);
});
