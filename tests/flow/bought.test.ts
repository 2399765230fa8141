import { join } from "node:path";
import { describe, expect, it, vi } from "vitest";
import { loadPlan } from "../../src/files/load.ts";
import { type BoughtMixes, boughtBy, boughtSolutions } from "../../src/flow/bought.ts";
import { shopPlans } from "../../src/flow/shop.ts";
import type { Plan } from "../../src/model.ts";
import type { Shopping } from "../../src/results/shopping.ts";
import type { Solution } from "../../src/results/solution.ts";
import { planOf } from "../helpers/check-bags.ts";
import { diskReader } from "../helpers/files.ts";
import { seeds } from "../helpers/seeds.ts";
import { ROOT } from "../helpers/world.ts";

// Forty purchases take their time on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

const RECIPES = join(ROOT, "recipes");

function demo(): Plan {
  const loaded = loadPlan(diskReader, {
    planFile: join(ROOT, "examples/brassica-terraces/plan.yaml"),
    cwd: ROOT,
    recipesDir: RECIPES,
  });
  if (!loaded.ok) throw new Error(loaded.problems.map((p) => p.message).join("; "));
  return loaded.value.plan;
}

async function shop(...plans: [Plan, ...Plan[]]): Promise<Shopping> {
  const result = await shopPlans(plans);
  if (!result.ok) throw new Error(result.problems.map((p) => p.message).join("; "));
  return result.value;
}

function mixed(bought: BoughtMixes): readonly Solution[] {
  const result = boughtSolutions(bought);
  if (!result.ok) throw new Error(result.problems.map((p) => p.message).join("; "));
  return result.value;
}

/** Ids that are to be weighed, and those that rounding to the scale took off the list. */
function weighed(solution: Solution): { ids: string[]; rounded: string[] } {
  const ids = new Set(solution.applications.flatMap(({ batches }) => batches.weights.map(({ id }) => id)));
  const rounded = solution.warnings
    .filter(({ code }) => code === "rounds-to-nothing")
    .flatMap(({ text }) => solution.amendments.filter(({ name }) => text.startsWith(`${name} `)))
    .map(({ id }) => id)
    .filter((id) => !ids.has(id));
  return { ids: [...ids].sort(), rounded };
}

/** What is weighed is what the mix takes of what was bought or in the shed, no more and no less. */
function expectSame(solution: Solution, shopping: Shopping): void {
  const { ids, rounded } = weighed(solution);
  const used = shopping.purchases.filter(({ usedKg }) => usedKg > 0).map(({ id }) => id);
  expect([...ids, ...rounded].sort(), solution.plan).toEqual(used.sort());
  for (const id of ids) {
    const line = shopping.purchases.find((one) => one.id === id)!;
    expect(line.boughtKg + line.stockKg).toBeGreaterThan(0);
  }
}

describe("the mix on what is bought", () => {
  it("has the ids that are bought or in the shed: the demo plan", async () => {
    const shopping = await shop(demo());
    const [solution] = mixed(boughtBy(shopping)!);
    expectSame(solution!, shopping);
    // The mix by weight is another: it takes potash that the purchase does without.
    expect(weighed(solution!).ids).toEqual([
      "feather-meal",
      "kelp-meal",
      "langbeinite",
      "turkey-litter-pellets",
    ]);
  });

  it("has the ids that are bought or in the shed: random plans", async () => {
    let compared = 0;
    for (let seed = 1; compared < seeds(10, 40); seed++) {
      const shopping = await shop(planOf(seed).plan);
      if (shopping.status === "infeasible") continue;
      expectSame(mixed(boughtBy(shopping)!)[0]!, shopping);
      compared++;
    }
  });

  it("is laid out as shop lays it out", async () => {
    const shopping = await shop(demo());
    const [solution] = mixed(boughtBy(shopping)!);
    expect(solution!.applications).toEqual(shopping.mix!.applications);
    expect(solution!.rounding).toEqual(shopping.mix!.rounding);
    expect(solution!.purchase).toMatchObject({ basis: "packs", total: shopping.total, gap: shopping.gap });
  });

  it("says how sure it is of what was asked, worked again over the fixed seasons", async () => {
    const each = [
      { nutrient: "N", p: 0.9 },
      { nutrient: "S", p: 0.9 },
    ] as const;
    const [{ sure }] = mixed(boughtBy(await shop({ ...demo(), sure: { each } }))!) as [Solution];
    expect(sure).toMatchObject({ asked: each, seasons: 4096 });
    const counted = sure!.needs.flatMap(({ nutrient, day, pChecked }) =>
      pChecked === null || day < 100 ? [] : [[nutrient, pChecked] as const],
    );
    expect(counted.map(([nutrient]) => nutrient)).toEqual(["N", "S"]);
    // The two counts are of different makings: the law of the bell curve, and 4,096 worked seasons.
    for (const [, met] of counted) expect(met).toBeGreaterThan(0.875);
    expect(sure!.together).toBeGreaterThan(0.875);
    expect(sure!.together).toBeLessThanOrEqual(Math.min(...counted.map(([, met]) => met)));
    // Nobody asked: nothing is worked.
    const [{ sure: plain }] = mixed(boughtBy(await shop(demo()))!) as [Solution];
    expect(plain).toMatchObject({ asked: [], together: null, seasons: 0 });
  });

  it("has one solution for each bed, of one purchase", async () => {
    const first = demo();
    const second: Plan = { ...first, name: "Lower terrace", batch: { kg: 20 } };
    const shopping = await shop(first, second);
    const solutions = mixed(boughtBy(shopping)!);
    expect(solutions.map(({ plan }) => plan)).toEqual([first.name, "Lower terrace"]);
    for (const solution of solutions) {
      expect(solution.purchase?.plans).toEqual([first.name, "Lower terrace"]);
      expect(solution.purchase?.total).toBe(shopping.total);
    }
    for (const line of shopping.purchases) {
      const kg = solutions.flatMap(({ amendments }) => amendments.filter(({ id }) => id === line.id));
      expect(kg.reduce((sum, one) => sum + one.kg, 0)).toBeCloseTo(line.usedKg, 6);
    }
  });

  it("has one application's weights where only that was bought", async () => {
    const plan = demo();
    const result = await shopPlans([plan], { application: plan.applications[1]!.name });
    if (!result.ok) throw new Error("no purchase");
    const [solution] = mixed(boughtBy(result.value)!);
    const given = solution!.applications.filter(({ batches }) => batches.count > 0);
    expect(given.map(({ name }) => name)).toEqual([plan.applications[1]!.name]);
    expect(given).toEqual(result.value.mix!.applications);
  });
});

describe("a purchase that was changed after it was written", () => {
  type Change = (bought: BoughtMixes) => BoughtMixes;
  const line = (
    bought: BoughtMixes,
    change: (p: BoughtMixes["purchases"][number]) => object,
  ): BoughtMixes => ({
    ...bought,
    purchases: bought.purchases.map((p, k) => (k === 0 ? { ...p, ...change(p) } : p)),
  });
  const mix = (
    bought: BoughtMixes,
    change: (a: { id: string; kg: readonly number[] }) => object,
  ): BoughtMixes => ({
    ...bought,
    mixes: [
      {
        ...bought.mixes[0]!,
        amounts: bought.mixes[0]!.amounts.map((a, k) => (k === 0 ? { ...a, ...change(a) } : a)),
      },
    ],
  });
  const changes: Record<string, [Change, RegExp]> = {
    "fewer packs": [
      (b) => line(b, (p) => ({ packs: p.packs.map((q) => ({ ...q, count: q.count - 1 })) })),
      /does not add up/,
    ],
    "half a pack": [
      (b) => line(b, (p) => ({ packs: p.packs.map((q) => ({ ...q, count: 0.5 })) })),
      /in a way that no plan in it offers/,
    ],
    "another size": [
      (b) => line(b, (p) => ({ packs: p.packs.map((q) => ({ ...q, sizeKg: q.sizeKg * 2 })) })),
      /in a way that no plan in it offers/,
    ],
    "an id of no plan": [(b) => line(b, () => ({ id: "constructor" })), /buys constructor in a way/],
    "another total": [
      (b) => ({ ...b, sum: { ...b.sum, total: b.sum.total - 5 } }),
      /\$179\.00 in all, and its lines come to \$184\.00/,
    ],
    "more in the mix": [
      (b) => mix(b, (a) => ({ kg: a.kg.map((kg) => kg * 5) })),
      /more .* than is bought and in the shed/,
    ],
    "less in the mix": [(b) => mix(b, (a) => ({ kg: a.kg.map((kg) => kg / 2) })), /does not keep a demand/],
    "weight below zero": [(b) => mix(b, (a) => ({ kg: a.kg.map((kg) => -kg) })), /none below 0/],
    "no number": [(b) => mix(b, (a) => ({ kg: a.kg.map(() => Number.NaN) })), /none below 0/],
    "a mix too few": [(b) => ({ ...b, mixes: [] }), /no mix for/],
    "an id twice": [
      (b) => ({
        ...b,
        mixes: [{ ...b.mixes[0]!, amounts: [b.mixes[0]!.amounts[0]!, ...b.mixes[0]!.amounts] }],
      }),
      /names .* twice/,
    ],
  };
  it.each(Object.keys(changes))("is refused: %s", async (name) => {
    const [change, message] = changes[name]!;
    const result = boughtSolutions(change(boughtBy(await shop(demo()))!));
    expect(result.ok).toBe(false);
    if (result.ok) return;
    expect(result.problems.map((p) => p.message).join("\n")).toMatch(message);
    for (const problem of result.problems) expect(problem.hint).toMatch(/\S/);
  });
});
