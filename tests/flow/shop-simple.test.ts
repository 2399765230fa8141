import { describe, expect, it, vi } from "vitest";
import type { Plan } from "../../src/model.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { planOf } from "../helpers/check-bags.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { DEMO, LB, load, set, shop } from "../helpers/shop.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

describe("few amendments that can be weighed", () => {
  const ids = load(DEMO).amendments.map(({ id }) => id);

  function subsets(most: number, from = 0): string[][] {
    if (most === 0) return [[]];
    const found: string[][] = [[]];
    for (let k = from; k < ids.length; k++)
      for (const rest of subsets(most - 1, k + 1)) found.push([ids[k]!, ...rest]);
    return found;
  }

  // Every choice of so many amendments is solved by itself, without whole numbers.
  it.each(seeds([3], [3, 4]))("at most %i cost what the best choice of so many costs", async (most) => {
    const solution = await solvePlan(load(DEMO, [set("simple.most", most)]));
    expect(solution.status).toBe("optimal");
    expect(solution.amendments.length).toBeLessThanOrEqual(most);
    const plan = load(DEMO, []);
    let best = Infinity;
    for (const choice of subsets(most)) {
      // The plan asks for pellets in every mix.
      if (choice.length !== most || !choice.includes("turkey-litter-pellets")) continue;
      const only = {
        ...plan,
        amendments: plan.amendments.filter(({ id }) => choice.includes(id)),
        limits: plan.limits.filter(({ id }) => choice.includes(id)),
      };
      const cost = await continuousCost(only);
      if (cost !== null) best = Math.min(best, cost);
    }
    expect(solution.cost.total).toBeCloseTo(best, 5);
    expect(solution.simple!.freeCost).toBeLessThan(solution.cost.total!);
  });

  it("names the fewest that would do", async () => {
    const solution = await solvePlan(load(DEMO, [set("simple.most", 2)]));
    expect(solution.status).toBe("infeasible");
    expect(solution.conflicts[0]!.text).toContain("allow 3 amendments");
  });

  it("puts nothing into a batch that is too small to weigh", async () => {
    for (const least of [0.5, 1, 3]) {
      const plan = load(DEMO, [set("simple.least", `${least} lb`)]);
      const solution = await solvePlan(plan);
      expect(solution.status).toBe("optimal");
      for (const { batches } of solution.mixes)
        for (const { kg } of batches.weights) expect(kg).toBeGreaterThanOrEqual((least - 0.1) * LB);
      expect(solution.cost.total).toBeGreaterThanOrEqual(solution.simple!.freeCost - 1e-9);
      const shopping = await shop(plan);
      expect(shopping.status).toBe("optimal");
      for (const { materials, batches } of shopping.mixes)
        for (const { kg } of materials)
          expect(kg / batches.count).toBeGreaterThanOrEqual(least * LB * (1 - 1e-6));
    }
  });

  it("costs nothing more where the mix is simple anyway", async () => {
    const free = await solvePlan(load(DEMO));
    const solution = await solvePlan(load(DEMO, [set("simple.most", 9)]));
    expect(solution.cost.total!).toBeCloseTo(free.cost.total!, 9);
    expect(solution.warnings.find(({ code }) => code === "simple-cost")?.text).toContain(
      "costs nothing more",
    );
  });

  it("keeps to them in a purchase too", async () => {
    const plan = load(DEMO, [set("simple.most", 3)]);
    const shopping = await shop(plan);
    expect(shopping.status).toBe("optimal");
    expect(shopping.amendments.length).toBeLessThanOrEqual(3);
  });
});

async function continuousCost(plan: Plan): Promise<number | null> {
  const solution = await solvePlan(plan);
  return solution.status === "optimal" ? solution.cost.total : null;
}

describe("few amendments that are to meet needs surely", () => {
  slow("are bought again where no mix on the first packs is as sure as asked", async () => {
    const plan = planOf(18, { most: 5 }).plan;
    const asked = plan.demands.flatMap(({ nutrient, minKg }) => (minKg > 0 ? [nutrient] : []));
    const each = asked.map((nutrient) => ({ nutrient, p: 0.95 }));
    const bought = await shop({ ...plan, sure: { each } }, { detail: "mix" });
    expect(bought.status).toBe("optimal");
    expect(bought.amendments.length).toBeLessThanOrEqual(5);
    for (const { nutrient, p } of bought.sure!.needs)
      if (asked.includes(nutrient)) expect(p, nutrient).toBeGreaterThanOrEqual(0.95 - 1e-6);
  });
});
