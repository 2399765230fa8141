/** What must hold for any plan, tried on seeded random ones. */
import { describe, expect, it } from "vitest";
import { type OneBed, weighed as solvePlan } from "./helpers/answers.ts";
import { loadTree } from "./helpers/load-tree.ts";
import { randomSpec, type Spec, toTree } from "./helpers/random-plan.ts";
import { seeds, slow } from "./helpers/seeds.ts";

const SEEDS = Array.from({ length: seeds(16, 40) }, (_, k) => 5000 + k);

async function solve(spec: Spec, seed = 0): Promise<OneBed> {
  return solvePlan(loadTree(toTree(spec, seed)));
}

async function feasible(): Promise<[Spec, OneBed][]> {
  const found: [Spec, OneBed][] = [];
  for (const seed of SEEDS) {
    const spec = randomSpec(seed);
    const solution = await solve(spec);
    if (solution.status === "optimal") found.push([spec, solution]);
  }
  expect(found.length).toBeGreaterThan(seeds(4, 12));
  return found;
}
const all = feasible();

const close = (a: number, b: number): void => {
  expect(Math.abs(a - b)).toBeLessThanOrEqual(1e-6 * Math.max(1, Math.abs(b)));
};

describe("any plan", { timeout: 60_000 }, () => {
  it("gives the same bytes twice, and whatever the order of its amendments", async () => {
    for (const [spec, solution] of await all) {
      expect(JSON.stringify(await solve(spec))).toBe(JSON.stringify(solution));
      const shuffled = { ...spec, amendments: [...spec.amendments].reverse() };
      const again = await solve(shuffled);
      close(again.cost.total!, solution.cost.total!);
      expect(again.amendments.map((a) => a.id)).toEqual(solution.amendments.map((a) => a.id));
      again.amendments.forEach((a, k) => {
        close(a.kg, solution.amendments[k]!.kg);
      });
    }
  });

  it("means the same in other units", async () => {
    for (const [spec, solution] of await all) {
      for (const seed of [1, 2, 3]) {
        const other = await solve(spec, seed);
        close(other.cost.total!, solution.cost.total!);
        expect(other.amendments.map((a) => a.id)).toEqual(solution.amendments.map((a) => a.id));
      }
    }
  });

  slow("costs no less with a tighter cap, a higher need, or an amendment taken away", async () => {
    for (const [spec, solution] of await all) {
      const used = solution.amendments[0]!;
      const capped = await solve({
        ...spec,
        limits: {
          ...spec.limits,
          [used.id]: { ...spec.limits[used.id], maxKg: used.kg * 0.7 },
        },
      });
      const [nutrient, demand] = Object.entries(spec.demands)[0]!;
      const more = {
        ...demand,
        min: demand.min * 1.1,
        max: demand.max === null ? null : demand.max * 1.1,
      };
      const raised = await solve({
        ...spec,
        demands: {
          ...spec.demands,
          [nutrient]: { ...more, appliedMax: null, aheadMax: null },
        },
      });
      const plain = await solve({
        ...spec,
        demands: {
          ...spec.demands,
          [nutrient]: {
            ...demand,
            max: more.max,
            appliedMax: null,
            aheadMax: null,
          },
        },
      });
      const without = await solve({
        ...spec,
        amendments: spec.amendments.filter((a) => a.id !== used.id),
        limits: Object.fromEntries(Object.entries(spec.limits).filter(([id]) => id !== used.id)),
      });
      const hasFloor =
        spec.limits[used.id]?.minKg !== undefined || spec.limits[used.id]?.minShare !== undefined;
      if (capped.status === "optimal")
        expect(capped.cost.total!).toBeGreaterThanOrEqual(solution.cost.total! - 1e-6);
      if (raised.status === "optimal")
        expect(raised.cost.total!).toBeGreaterThanOrEqual(plain.cost.total! - 1e-6);
      if (without.status === "optimal" && !hasFloor)
        expect(without.cost.total!).toBeGreaterThanOrEqual(solution.cost.total! - 1e-6);
    }
  });

  it("keeps its cost when an unused amendment without a limit goes", async () => {
    let tried = 0;
    for (const [spec, solution] of await all) {
      const used = new Set(solution.amendments.map((a) => a.id));
      const unused = spec.amendments.find((a) => !used.has(a.id) && !(a.id in spec.limits));
      if (!unused) continue;
      tried++;
      const less = await solve({
        ...spec,
        amendments: spec.amendments.filter((a) => a !== unused),
      });
      close(less.cost.total!, solution.cost.total!);
    }
    expect(tried).toBeGreaterThan(seeds(1, 5));
  });

  it("needs twice as much on twice the bed, with twice the stock and twice the fixed weights", async () => {
    let tried = 0;
    for (const [spec, solution] of await all) {
      tried++;
      const twice = (value: number | null) => (value === null ? null : value * 2);
      const larger = await solve({
        ...spec,
        areaM2: spec.areaM2 * 2,
        amendments: spec.amendments.map((a) => ({ ...a, stockKg: a.stockKg * 2 })),
        limits: Object.fromEntries(
          Object.entries(spec.limits).map(([id, l]) => [
            id,
            {
              ...l,
              ...(l.minKg === undefined ? {} : { minKg: l.minKg * 2 }),
              ...(l.maxKg === undefined ? {} : { maxKg: l.maxKg * 2 }),
            },
          ]),
        ),
        plants: spec.plants * 2,
        demands: Object.fromEntries(
          Object.entries(spec.demands).map(([n, d]) => [
            n,
            {
              ...d,
              min: d.min * 2,
              max: twice(d.max),
              appliedMax: twice(d.appliedMax),
              aheadMax: twice(d.aheadMax),
            },
          ]),
        ),
        credits: spec.credits.map((c) => ({
          ...c,
          content: Object.fromEntries(Object.entries(c.content).map(([n, kg]) => [n, kg * 2])),
        })),
      });
      close(larger.cost.total!, 2 * solution.cost.total!);
      larger.amendments.forEach((a, k) => {
        close(a.kg, 2 * solution.amendments[k]!.kg);
      });
    }
    expect(tried).toBeGreaterThan(2);
  });

  it("weighs batches that add up, with packs that cover them", async () => {
    for (const [, solution] of await all) {
      for (const { kg, batches } of solution.mixes) {
        const sum = batches.weights.reduce((all, w) => all + w.kg, 0);
        close(sum, batches.kgEach);
        // What is weighed once for the whole heap is rounded by itself.
        const once = batches.weights.filter((w) => w.once).length;
        // As is what would round to nothing, and was warned of.
        const gone = solution.warnings.filter(({ code }) => code === "rounds-to-nothing").length;
        // Where a cap leaves no room above, weights are rounded down: a whole step at most.
        const step = solution.rounding.scaleKg * (1 + once + gone);
        expect(Math.abs(batches.kgEach - kg / Math.max(1, batches.count))).toBeLessThanOrEqual(step + 1e-9);
      }
      const byRound = solution.rounds.reduce((kg, a) => kg + a.kg, 0);
      close(
        byRound,
        solution.amendments.reduce((kg, a) => kg + a.kg, 0),
      );
      for (const purchase of solution.purchases) {
        const stock = solution.plan.amendments.find((a) => a.id === purchase.id)!.stockKg;
        expect(stock + purchase.boughtKg).toBeGreaterThanOrEqual(purchase.usedKg * (1 - 1e-8));
      }
    }
  });
});
