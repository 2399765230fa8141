/**
 * Credits that add up to a need. In binary numbers 0.1 + 0.3 is not 0.4, so a trace of the need is left, which no mix
 * has to meet: the plan costs nothing, as the sum in whole tenths says.
 */
import { describe, expect, it } from "vitest";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeds, slow } from "../helpers/seeds.ts";

const tenth = (tenths: number): string => `${(tenths / 10).toFixed(1)} lb`;

function tree(need: number, credits: readonly number[], area = "1000 sq ft"): Record<string, unknown> {
  return {
    plan: "Credits",
    amendments: {
      meal: {
        name: "Meal",
        analysis: { N: 12, K2O: 1 },
        packs: [{ size: "50 lb", price: 40 }],
        release: "at-once",
      },
    },
    target: { target: "Bed", season: "100 days", need: { per: "1000 sq ft", N: tenth(need) } },
    bed: { area },
    credits: credits.map((tenths, k) => ({ from: `c${k}`, per: "1000 sq ft", N: tenth(tenths) })),
  };
}

describe("credits that add up to a need", () => {
  const MOST = seeds(15, 40);
  const splits: [number, number][] = [];
  for (let need = 2; need <= MOST; need++)
    for (let first = 1; first < need; first++) splits.push([first, need]);

  slow(
    "leave nothing to be met, whichever way they are split",
    async () => {
      expect(splits).toHaveLength((MOST * (MOST - 1)) / 2);
      const failed: string[] = [];
      for (const [first, need] of splits) {
        const solution = await solvePlan(loadTree(tree(need, [first, need - first])));
        if (solution.status !== "optimal" || solution.cost.total !== 0)
          failed.push(`${tenth(first)} of ${tenth(need)}: ${solution.status}, ${solution.cost.total}`);
      }
      expect(failed).toEqual([]);
    },
    60_000,
  );

  it("that fall short by a tenth leave that tenth, on half a square metre too", async () => {
    for (const area of ["1000 sq ft", "0.5 m2"]) {
      const solution = await solvePlan(loadTree(tree(31, [10, 20], area)));
      // 0.1 lb of nitrogen at 12 percent, at 0.80 a pound.
      const beds = area === "0.5 m2" ? 0.5 / 92.90304 : 1;
      expect(solution.cost.total).toBeCloseTo(((0.1 * beds) / 0.12) * 0.8, 12);
    }
  });
});

describe("a credit that ties nitrogen up", () => {
  const straw = { from: "straw", material: "rye", dry_matter: "5 t/ha", N: "1%", day: -14 };
  const tied = (nitrogen: object): Record<string, unknown> => ({
    ...tree(1, []),
    target: {
      target: "Bed",
      season: "100 days",
      need: { per: "1000 sq ft", N: nitrogen, K2O: "0.1 lb" },
      uptake: { N: { 0: "0%", 100: "100%" } },
    },
    applications: [{ day: 0 }, { day: 30 }],
    credits: [straw],
  });

  it("leaves a mix for a plan that needs no nitrogen, though less than none is there", async () => {
    for (const nitrogen of [{ max: "9 lb" }, { min: "0 lb", max: "9 lb" }]) {
      const solution = await solvePlan(loadTree(tied(nitrogen)));
      expect(solution.status).toBe("optimal");
      expect(solution.nutrients.find(({ nutrient }) => nutrient === "N")!.creditKg).toBeLessThan(0);
    }
  });

  it("is made up for where nitrogen is needed", async () => {
    const { nutrients } = await solvePlan(loadTree(tied({ min: "1 lb" })));
    for (const { needKg, availableKg } of nutrients[0]!.checkpoints)
      expect(availableKg).toBeGreaterThanOrEqual(needKg * (1 - 1e-6));
  });
});
