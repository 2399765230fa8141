/** The one answer: the purchase, ties at its total, beds that share it, and the prices at which it changes. */
import { afterAll, describe, expect, it, vi } from "vitest";
import { solvePlan, solvePlans } from "../../src/flow/answer.ts";
import { sweepPurchases } from "../../src/flow/sweep-purchase.ts";
import type { Plan } from "../../src/model.ts";
import { cheapestPricePerKg } from "../../src/program/build.ts";
import type { Solution } from "../../src/results/solution.ts";
import { planOf } from "../helpers/check-bags.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomShopSpec, type ShopSpec } from "../helpers/random-shop.ts";
import { highsLeast, highsTotal, specOf } from "../helpers/reference-shop.ts";
import { bestTie, jointModel } from "../helpers/reference-ties.ts";
import { ALL_ANSWERS, answerSeeds, seeds } from "../helpers/seeds.ts";
import { DEMO, LB, load } from "../helpers/shop.ts";

vi.setConfig({ testTimeout: ALL_ANSWERS ? 1_800_000 : 240_000 });

const idsIn = ({ mixes }: Solution) =>
  [...new Set(mixes.flatMap(({ materials }) => materials.map(({ id }) => id)))].sort();

function worthOf({ purchases }: Solution, plan: Plan): number {
  return purchases.reduce((sum, { id, usedKg }) => {
    const amendment = plan.amendments.find((one) => one.id === id)!;
    return sum + usedKg * (cheapestPricePerKg(amendment) ?? 0);
  }, 0);
}

describe("a share of at most 100 % less rounding", () => {
  // By hand: 2 lb of N from 10 % meal is 20 lb, at 0.80 a pound; the pack of 50 lb is 40.
  it.each([1, 1 - 2 ** -53, 1 - 1e-15, 1 - 1e-12])("is an answer, %d", async (maxShare) => {
    const packs = [{ size: "50 lb", price: 40 }];
    const plan = loadTree({
      plan: "One meal, or nearly",
      amendments: {
        meal: { name: "Meal", analysis: { N: 10 }, packs, release: "at-once" },
        salt: { name: "Salt", analysis: { K2O: 50 }, packs, release: "at-once" },
      },
      target: { target: "Crop", season: "60 days", need: { per: "bed", N: "2 lb" } },
      bed: { plants: 100 },
      limits: { meal: { max_share: "50%" } },
    });
    const limited = { ...plan, limits: plan.limits.map((limit) => ({ ...limit, maxShare })) };
    const weighed = await solvePlan(limited, { by: "weight", detail: "mix" });
    expect([weighed.status, weighed.cost.total]).toEqual(["optimal", expect.closeTo(16, 6)]);
    const bought = await solvePlan(limited, { detail: "mix" });
    expect([bought.status, bought.cost.total]).toEqual(["optimal", 40]);
  });
});

describe("the demo", () => {
  // By a separately written integer program in HiGHS (tests/flow/shop.test.ts): $184.00.
  it("is $184 of bags and needs no kelp", async () => {
    const solution = await solvePlan(load(DEMO), { detail: "mix" });
    expect(solution.cost).toMatchObject({ total: 184, goods: 129, delivery: 55 });
    expect(idsIn(solution)).toEqual(["feather-meal", "langbeinite", "turkey-litter-pellets"]);
    // $192.00 in 9 seasons of 10, and 72.9 % where the bags are used up: a separately run prototype.
    const page = await solvePlan(load(DEMO));
    expect(page.surer).toEqual([{ p: 0.9, cost: 192 }]);
    expect(page.beds[0]!.sure!.usedUp).toBeCloseTo(0.729, 2);
  });

  it("takes what its rounds take of equal batches", async () => {
    const { mixes, beds } = await solvePlan(load(DEMO), { detail: "mix" });
    const [{ kg, batches }] = mixes as [Solution["mixes"][0]];
    expect(batches.count).toBe(Math.ceil(kg / (50 * LB)));
    expect(batches.kgEach).toBeCloseTo(
      batches.weights.reduce((sum, weight) => sum + weight.kg, 0),
      12,
    );
    const { rounds } = beds[0]!;
    expect(rounds.reduce((sum, round) => sum + round.batchesTaken, 0)).toBeCloseTo(batches.count, 9);
    rounds.forEach((round, t) => {
      expect(round.kg).toBeCloseTo(kg * [0.4, 0.35, 0.25][t]!, 9);
    });
  });
});

describe("a shed", () => {
  // A bag in the shed costs nothing, but it is not spread for nothing: what does as well is used less.
  it("is not burnt for nothing: a pound of nitrogen more than is needed buys nothing", async () => {
    const blood = load(DEMO);
    const stocked: Plan = {
      ...blood,
      amendments: blood.amendments.map((a) => (a.id === "feather-meal" ? { ...a, stockKg: 50 * LB } : a)),
    };
    const solution = await solvePlan(stocked, { detail: "mix" });
    const same = await bestTieOf(stocked, solution);
    expect(idsIn(solution)).toHaveLength(same.fewest);
    expect(worthOf(solution, stocked)).toBeCloseTo(same.worth, 4);
  });
});

async function bestTieOf(plan: Plan, { cost }: Solution) {
  return (await bestTie(specOf(plan), cost.total!))!;
}

/** What was compared, printed by the check: a case that the other program does not end in its time is none. */
const tally = {
  ties: 0,
  enumerated: 0,
  shared: 0,
  sharedImpossible: 0,
  sweeps: 0,
  freeOver: 0,
  prices: 0,
  beside: 0,
  breakpoints: 0,
};
afterAll(() => {
  if (ALL_ANSWERS) console.log("answers compared:", tally);
});

/** More sets than this are not tried one by one. */
const MOST_SETS = 500;

/** How many sets of `k` there are of `n`. */
const choose = (n: number, k: number): number => (k <= 0 ? 1 : (choose(n - 1, k - 1) * n) / k);

/** Every set of `size` of these. */
function* subsets<T>(all: readonly T[], size: number, from = 0): Generator<T[]> {
  if (size === 0) yield [];
  else
    for (let k = from; k <= all.length - size; k++)
      for (const rest of subsets(all, size - 1, k + 1)) yield [all[k]!, ...rest];
}

/** The sets of `size` materials that can be had for `total`, each tried by HiGHS with the others left out. */
async function setsWithin(spec: ShopSpec, size: number, total: number): Promise<string[][]> {
  const ids = spec.amendments.map(({ id }) => id);
  const found: string[][] = [];
  for (const kept of subsets(ids, size)) {
    const left = ids.filter((id) => !kept.includes(id));
    const limits = Object.fromEntries(left.map((id) => [id, { notIn: [], ...spec.limits[id], maxKg: 0 }]));
    const least = await highsTotal({ ...spec, limits: { ...spec.limits, ...limits } }, 10);
    if (least !== null && least !== undefined && least <= total + 1e-6 * Math.max(1, total)) found.push(kept);
  }
  return found;
}

describe("random purchases", () => {
  it.each(
    answerSeeds(
      seeds([2, 4], [2, 4, 9]),
      Array.from({ length: 400 }, (_, k) => k + 400)
        .filter((seed) => randomShopSpec(seed).amendments.length <= 11)
        .slice(0, 62),
    ),
  )(
    "seed %i: no other mix of that total has fewer materials, or the same number and less worth",
    async (seed) => {
      const { plan, spec } = planOf(seed);
      const solution = await solvePlan(plan, { detail: "mix" });
      if (solution.status !== "optimal") return;
      const best = await bestTie(spec, solution.cost.total!);
      if (!best) return;
      expect(idsIn(solution).length).toBeGreaterThanOrEqual(best.fewest);
      if (solution.warnings.some(({ code }) => code === "tie-open")) return;
      expect(idsIn(solution)).toHaveLength(best.fewest);
      expect(worthOf(solution, plan)).toBeLessThanOrEqual(best.worth * (1 + 1e-4) + 1e-4);
      tally.ties += 1;
      const sets = choose(spec.amendments.length, best.fewest - 1);
      if (!ALL_ANSWERS || best.fewest === 0 || sets > MOST_SETS) return;
      expect(await setsWithin(spec, best.fewest - 1, solution.cost.total!)).toEqual([]);
      tally.enumerated += 1;
    },
  );

  it.each(
    answerSeeds(
      seeds([3], [3, 15]),
      Array.from({ length: 42 }, (_, k) => k + 100),
    ),
  )(
    "seed %i: beds that share a shed pay what a separate program says, and promise no bag twice",
    async (seed) => {
      const { plan, spec } = planOf(seed);
      const parts = seed % 2 === 0 ? [1, 0.6] : [1, 0.45, 0.3];
      const plans = parts.map((part, k) => scaledPlan(plan, part, k));
      const answer = await solvePlans(plans as [Plan, ...Plan[]], { detail: "mix" });
      if (!answer.ok) throw new Error(answer.problems[0]!.message);
      const { status, cost, purchases, mixes } = answer.value;
      const reference = await highsLeast(jointModel(parts.map((part) => scaledSpec(spec, part))), 60);
      if (reference === undefined || status === "found") return;
      if (reference === null) {
        expect(status).toBe("infeasible");
        tally.sharedImpossible += 1;
        return;
      }
      expect(status).toBe("optimal");
      expect(cost.total!).toBeCloseTo(reference, 2);
      for (const { id, usedKg, boughtKg } of purchases) {
        const { stockKg } = plan.amendments.find((one) => one.id === id)!;
        expect(usedKg).toBeLessThanOrEqual((boughtKg + stockKg) * (1 + 1e-6));
        const mixed = mixes.flatMap(({ materials }) => materials.filter((one) => one.id === id));
        expect(mixed.reduce((sum, { kg }) => sum + kg, 0)).toBeCloseTo(usedKg, 6);
      }
      tally.shared += 1;
    },
  );

  it.each(
    answerSeeds(
      seeds([], [5]),
      Array.from({ length: 400 }, (_, k) => k + 200)
        .filter((seed) => randomShopSpec(seed).amendments.length <= 12)
        .slice(0, 90),
    ),
  )(
    "seed %i: along a price, what is paid is what separate purchases say, and changes exactly where it is said to",
    async (seed) => {
      const { plan, spec } = planOf(seed);
      const base = await solvePlan(plan, { detail: "mix" });
      if (base.status !== "optimal") return;
      const line = base.purchases.filter(({ boughtKg }) => boughtKg > 0).sort((a, b) => b.cost - a.cost)[0];
      if (!line) return;
      const a = plan.amendments.findIndex(({ id }) => id === line.id);
      const today = cheapestPricePerKg(plan.amendments[a]!)!;
      const [from, to] = [today * 0.5, today * 2];
      const request = { handle: { kind: "price", id: line.id }, from, to, steps: 4, understood: "" } as const;
      const { segments } = await sweepPurchases([plan], request);
      if (segments.length === 0) return;
      expect(segments[0]!.from).toBeCloseTo(from, 9);
      expect(segments.at(-1)!.to).toBeCloseTo(to, 9);
      const priced = (value: number): ShopSpec => ({
        ...spec,
        amendments: spec.amendments.map((one) =>
          one.id === line.id
            ? {
                ...one,
                packs: one.packs.map((pack) => ({ ...pack, price: (pack.price * value) / today })),
                bulkPerKg: one.bulkPerKg === null ? null : (one.bulkPerKg * value) / today,
              }
            : one,
        ),
      });
      // Solved one by one, each price by itself.
      const count = answerSeeds(5, 200);
      for (let k = 0; k <= count; k++) {
        const value = from + ((to - from) * k) / count;
        const alone = await solvePlan(pricedPlan(plan, line.id, value / today), { detail: "mix" });
        const on = segments.find((one) => value >= one.from - 1e-12 && value <= one.to + 1e-12)!;
        const total = on.totalFrom + on.slope * (value - on.from);
        expect(Math.abs(total - alone.cost.total!), `${value}`).toBeLessThanOrEqual(0.001 + 1e-6 * total);
        tally.prices += 1;
      }
      // Inside every stretch, and just beside each breakpoint.
      const onHighs = async (value: number, one: (typeof segments)[number]) => {
        const reference = await highsTotal(priced(value), 60);
        if (reference === undefined) return null;
        const total = one.totalFrom + one.slope * (value - one.from);
        expect(Math.abs(total - reference!), `${value}`).toBeLessThanOrEqual(0.002 + 1e-6 * total);
        tally.beside += 1;
        return reference;
      };
      let before: { slope: number; at: (value: number) => number } | null = null;
      for (const one of segments) {
        const width = one.to - one.from;
        const edge = Math.min(1e-5 * to, width / 4);
        for (const value of [one.from + edge, one.to - edge]) await onHighs(value, one);
        const [low, high] = [one.from + width / 3, one.to - width / 3];
        const [first, second] = [await onHighs(low, one), await onHighs(high, one)];
        const slope = first === null || second === null ? Number.NaN : (second - first) / (high - low);
        const line = { slope, at: (value: number) => first! + slope * (value - low) };
        // Where the lines of the other program through two neighbours cross, that is the breakpoint.
        const apart = before ? line.at(one.from) - before.at(one.from) : Number.NaN;
        const bend = before ? before.slope - line.slope : Number.NaN;
        if (Math.abs(bend) > 1e-3 && Math.abs(apart) < 1e-3) {
          expect(Math.abs(apart / bend), `breakpoint ${one.from}`).toBeLessThanOrEqual(
            1e-6 * Math.max(1, to),
          );
          tally.breakpoints += 1;
        }
        before = line;
      }
      tally.sweeps += 1;
      if (Object.values(spec.suppliers).some(({ freeOver }) => freeOver !== null)) tally.freeOver += 1;
    },
  );
});

function pricedPlan(plan: Plan, id: string, factor: number): Plan {
  return {
    ...plan,
    amendments: plan.amendments.map((one) =>
      one.id === id
        ? {
            ...one,
            packs: one.packs.map((pack) => ({ ...pack, price: pack.price * factor })),
            ...(one.bulkPricePerKg === undefined ? {} : { bulkPricePerKg: one.bulkPricePerKg * factor }),
          }
        : one,
    ),
  };
}

function scaledPlan(plan: Plan, part: number, k: number): Plan {
  const times = <T extends number | null | undefined>(kg: T): T =>
    typeof kg === "number" ? ((kg * part) as T) : kg;
  return {
    ...plan,
    name: `${plan.name} ${k + 1}`,
    demands: plan.demands.map((demand) => ({
      ...demand,
      minKg: times(demand.minKg),
      maxKg: times(demand.maxKg),
      appliedMaxKg: times(demand.appliedMaxKg),
      aheadMaxKg: times(demand.aheadMaxKg),
    })),
    credits: plan.credits.map((credit) => ({
      ...credit,
      contentKg: Object.fromEntries(Object.entries(credit.contentKg).map(([n, kg]) => [n, kg! * part])),
    })),
    limits: plan.limits.map(({ minKg, maxKg, ...limit }) => ({
      ...limit,
      ...(minKg === undefined ? {} : { minKg: minKg * part }),
      ...(maxKg === undefined ? {} : { maxKg: maxKg * part }),
    })),
  };
}

function scaledSpec(spec: ShopSpec, part: number): ShopSpec {
  const times = (kg: number | null): number | null => (kg === null ? null : kg * part);
  return {
    ...spec,
    demands: Object.fromEntries(
      Object.entries(spec.demands).map(([n, d]) => [
        n,
        {
          ...d,
          min: d.min * part,
          max: times(d.max),
          appliedMax: times(d.appliedMax),
          aheadMax: times(d.aheadMax),
        },
      ]),
    ),
    credits: spec.credits.map((credit) => ({
      ...credit,
      content: Object.fromEntries(Object.entries(credit.content).map(([n, kg]) => [n, kg * part])),
      ...(credit.greenManure
        ? { greenManure: { ...credit.greenManure, dryMatterKg: credit.greenManure.dryMatterKg * part } }
        : {}),
    })),
    limits: Object.fromEntries(
      Object.entries(spec.limits).map(([id, { minKg, maxKg, ...limit }]) => [
        id,
        {
          ...limit,
          ...(minKg === undefined ? {} : { minKg: minKg * part }),
          ...(maxKg === undefined ? {} : { maxKg: maxKg * part }),
        },
      ]),
    ),
  };
}
