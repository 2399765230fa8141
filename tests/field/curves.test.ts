/** Supply and need by day, against formulas written here and against what the solution itself was checked with. */
import { describe, expect, it } from "vitest";
import { seasonCurves } from "../../src/field/curves.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

const LB = 0.45359237;

/** One meal with a half-life of 20 days, half at planting and half on day 30, and a credit at once on day -10. */
const tree = {
  plan: "Curves",
  amendments: {
    meal: {
      name: "Meal",
      analysis: { N: 10, K2O: 2 },
      packs: [{ size: "50 lb", price: 40 }],
      release: { N: { at_once: "10%", later: "60%", half_life: "20 days", q10: 1 }, other: "at-once" },
    },
  },
  target: {
    target: "Crop",
    season: "90 days",
    need: { per: "bed", N: "3 lb", K2O: "0.4 lb" },
    uptake: { N: { 0: "0%", 45: "40%", 90: "100%" } },
  },
  bed: { plants: 100 },
  credits: [{ from: "clover", per: "bed", N: "0.2 lb", release: "at-once", day: -10 }],
  applications: [
    { name: "planting", day: 0, share: "50%" },
    { name: "later", day: 30, share: "50%" },
  ],
  scale: "0.001 lb",
};

describe("curves of the season", () => {
  const plan = loadTree(tree);
  const release = (days: number) => (days <= 0 ? 0 : 0.1 + 0.6 * (1 - 2 ** (-days / 20)));

  it("follow the release and the uptake, day by day", () => {
    const [n, k] = seasonCurves(plan, [[10 * LB, 10 * LB]]);
    expect(n!.days[0]).toBe(0);
    expect(n!.days.at(-1)).toBe(90);
    expect(n!.days).toHaveLength(91);
    n!.days.forEach((day, i) => {
      const supply = 0.2 + 10 * 0.1 * (release(day) + release(day - 30));
      expect(n!.supplyKg[i]! / LB, `day ${day}`).toBeCloseTo(supply, 9);
      const taken = 3 * (day <= 45 ? (0.4 * day) / 45 : 0.4 + (0.6 * (day - 45)) / 45);
      expect(n!.needKg![i]! / LB, `day ${day}`).toBeCloseTo(taken, 9);
    });
    expect(k!.nutrient).toBe("K2O");
    expect(k!.needKg).toBeNull();
    expect(k!.seasonNeedKg / LB).toBeCloseTo(0.4, 9);
    // At once: nothing on the day itself, all of it the day after.
    expect([0, 1, 30, 31].map((day) => Number((k!.supplyKg[day]! / LB).toFixed(6)))).toEqual([
      0, 0.2, 0.2, 0.4,
    ]);
  });

  it("pass through the checkpoints of the solution, and end at its supply", async () => {
    const solution = await solvePlan(plan, undefined, undefined, { curves: true });
    for (const curve of solution.curves!) {
      const own = solution.nutrients.find(({ nutrient }) => nutrient === curve.nutrient)!;
      for (const point of own.checkpoints) {
        const at = curve.days.indexOf(point.day);
        expect(at).toBeGreaterThanOrEqual(0);
        // Weights are rounded to a thousandth of a pound.
        expect(curve.supplyKg[at]! / point.availableKg).toBeCloseTo(1, 3);
        if (curve.needKg) expect(curve.needKg[at]).toBeCloseTo(point.needKg, 12);
      }
    }
  });

  it("are not drawn for a need that counts what is spread, which does not ask when it is available", () => {
    const spread = loadTree({
      ...tree,
      target: {
        target: "Crop",
        season: "90 days",
        need: { per: "bed", N: "3 lb", K2O: { min: "0.4 lb", counts: "applied" } },
      },
    });
    expect(spread.demands.map(({ nutrient, counts }) => [nutrient, counts ?? "available"])).toEqual([
      ["N", "available"],
      ["K2O", "applied"],
    ]);
    expect(seasonCurves(spread, [[10 * LB, 10 * LB]]).map(({ nutrient }) => nutrient)).toEqual(["N"]);
  });

  it("of a season of years keep to a few hundred points, the last at its end", () => {
    const long = { ...plan, seasonDays: 3000 };
    const [n] = seasonCurves(long, [[1, 1]]);
    expect(n!.days.length).toBeLessThanOrEqual(402);
    expect(n!.days.at(-1)).toBe(3000);
  });
});
