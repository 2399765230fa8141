/** Faults of sureness that were found by attack, each by its name. */
import { describe, expect, it } from "vitest";
import type { Plan, SureAsked } from "../../src/model.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { shippedPlan } from "../helpers/shipped-plans.ts";
import { ROOT } from "../helpers/world.ts";

const togetherAt = (plan: Plan, p: number): Plan => {
  const nutrients = plan.demands.filter(({ minKg }) => minKg > 0).map(({ nutrient }) => nutrient);
  const sure: SureAsked = { each: [], together: { nutrients, p } };
  return { ...plan, sure };
};

/** Blood meal and gypsum in so many dressings that are alike, all there at once. */
function equalDressings(seed: number): Record<string, unknown> {
  const r = seeded(seed);
  const at = (price: number, analysis: object, kind: string) => ({
    analysis,
    packs: [{ size: "50 lb", price }],
    release: "at-once",
    kind,
  });
  return {
    plan: "Equal dressings",
    blend: "each",
    amendments: {
      "blood-meal": { name: "Blood meal", ...at(r.between(40, 80), { N: 12.5 }, "animal") },
      gypsum: { name: "Gypsum", ...at(r.between(8, 20), { Ca: 22, S: 17 }, "mineral") },
    },
    target: { target: "Any", season: "100 days", need: { per: "bed", N: "3 lb", S: "1 lb", Ca: "0.5 lb" } },
    bed: { area: "1000 sq ft" },
    applications: Array.from({ length: r.whole(3, 5) }, (_, k) => ({ name: `round ${k + 1}`, day: 12 * k })),
    sure: r.pick<unknown>([{ N: "60%" }, "80%", "90%", { each: "70%" }, { N: "95%" }]),
  };
}

describe("together", () => {
  it.each([0.01, 0.25, 0.5, 0.8, 0.9])(
    "`sure: {together: 50%}` is not read as the plain mix: asked %f, worked seasons find as much",
    async (p) => {
      const plan = shippedPlan(ROOT, "cucumber");
      const plain = await solvePlan(plan, undefined, undefined, { detail: "whole" });
      const { sure, cost, status } = await solvePlan(togetherAt(plan, p));
      expect(status).toBe("optimal");
      expect(sure!.together!).toBeGreaterThanOrEqual(p - 0.0025);
      // What is met in so many seasons anyway costs nothing more.
      if (p < plain.sure!.together! - 0.01) expect(cost.total).toBeCloseTo(plain.cost.total!, 6);
      else {
        expect(sure!.together!).toBeLessThan(p + 0.01);
        expect(cost.total!).toBeGreaterThan(plain.cost.total!);
      }
    },
  );

  it("is taken from files from 1 % on, and single needs from 50 %", () => {
    const tree = equalDressings(1);
    expect(loadTree({ ...tree, sure: { together: "1%" } }).sure!.together!.p).toBeCloseTo(0.01, 12);
    expect(() => loadTree({ ...tree, sure: { together: "0.5%" } })).toThrow(/ask for 1% to 99.9%/);
    expect(() => loadTree({ ...tree, sure: { N: "40%" } })).toThrow(/5 seasons of 10/);
    expect(() => loadTree({ ...tree, sure: { each: "40%" } })).toThrow(/5 seasons of 10/);
  });
});

describe("dressings that are alike", () => {
  it.each([0, 1, 2, 3, 4, 5, 6, 7])("three to five of them end in a proven mix, case %d", async (seed) => {
    const { status, sure } = await solvePlan(loadTree(equalDressings(seed)));
    expect(status).toBe("optimal");
    expect(sure!.gap!).toBeLessThan(1e-6);
    for (const { nutrient, p } of sure!.asked)
      for (const need of sure!.needs)
        if (need.nutrient === nutrient) expect(need.p).toBeGreaterThan(p - 1e-6);
  });
});
