import { describe, expect, it } from "vitest";
import { type OneBed, weighed as solvePlan } from "./helpers/answers.ts";
import { loadTree } from "./helpers/load-tree.ts";
import { checkpointsOf, type Spec, toTree, widerSpec } from "./helpers/random-plan.ts";
import { available, credited, creditInAll, referenceCost } from "./helpers/reference-model.ts";
import { seeds } from "./helpers/seeds.ts";

const PLANS = seeds(80, 240);

/** What rounded batches really deliver, written out from the spec and the printed weights alone. */
function worstShortfall(spec: Spec, solution: OneBed): { nutrient: string | null; fraction: number } {
  let worst: { nutrient: string | null; fraction: number } = { nutrient: null, fraction: 0 };
  const checkpoints = checkpointsOf(spec);
  for (const [nutrient, demand] of Object.entries(spec.demands)) {
    for (const day of checkpoints) {
      const end = day === spec.season;
      const applied = demand.counts === "applied";
      if ((applied || !demand.uptake) && !end) continue;
      const reached = demand.uptake?.find(([d]) => d >= day);
      const before = demand.uptake?.findLast(([d]) => d < day) ?? [0, 0];
      const taken = !reached
        ? 1
        : before[1] + ((reached[1] - before[1]) * (day - before[0])) / (reached[0] - before[0]);
      const need = (demand.min / (applied ? 1 : (demand.efficiency ?? 1))) * (end ? 1 : taken);
      let supply = 0;
      for (const credit of spec.credits)
        supply += applied ? creditInAll(credit, nutrient) : credited(spec, credit, nutrient, day);
      for (const application of solution.rounds)
        for (const weight of solution.mixes.find(({ name }) => name === application.mix)?.batches.weights ??
          []) {
          const material = spec.amendments.find((a) => a.id === weight.id)!;
          supply +=
            weight.kg *
            application.batchesTaken *
            (material.analysis[nutrient] ?? 0) *
            (applied
              ? 1
              : available(
                  material.release.byNutrient[nutrient] ?? material.release.other,
                  application.day,
                  day,
                  spec.soil,
                ));
        }
      const fraction = (need - supply) / need;
      if (fraction > worst.fraction) worst = { nutrient, fraction };
    }
  }
  return worst;
}

describe(`${PLANS} random plans against a separately written model solved by HiGHS`, () => {
  const seen = { optimal: 0, found: 0, infeasible: 0 };
  it.each(Array.from({ length: PLANS / 20 }, (_, k) => k))(
    "plans %#",
    async (group) => {
      for (let seed = group * 20; seed < group * 20 + 20; seed++) {
        const spec = widerSpec(seed);
        const plan = loadTree(toTree(spec, seed));
        const solution = await solvePlan(plan);
        const cost = await referenceCost(spec);
        expect(`${seed} ${solution.status}`).toBe(`${seed} ${cost === null ? "infeasible" : "optimal"}`);
        seen[solution.status]++;
        if (cost === null) {
          expect(solution.conflicts.length).toBeGreaterThan(0);
          expect(solution.amendments).toEqual([]);
          continue;
        }
        expect(Math.abs(solution.cost.total! - cost), `cost of plan ${seed}`).toBeLessThanOrEqual(
          1e-6 * Math.max(1, cost),
        );
        const worst = worstShortfall(spec, solution);
        expect(solution.rounding.worstShortfall.fraction, `rounding of plan ${seed}`).toBeCloseTo(
          worst.fraction,
          6,
        );
        if (worst.fraction > 1e-9) expect(solution.rounding.worstShortfall.nutrient).toBe(worst.nutrient);
      }
    },
    60_000,
  );

  it("has met both kinds", () => {
    expect(seen.optimal + seen.infeasible).toBe(PLANS);
    expect(seen.optimal).toBeGreaterThan(PLANS / 3);
    expect(seen.infeasible).toBeGreaterThan(PLANS / 12);
  });
});
