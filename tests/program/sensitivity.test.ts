import { describe, expect, it } from "vitest";
import { solveBlend, tieBreaks } from "../../src/flow/solve-blend.ts";
import type { Plan } from "../../src/model.ts";
import { analyse } from "../../src/program/sensitivity.ts";
import type { AmendmentSensitivity, DemandSensitivity } from "../../src/results/solution.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { handPlan } from "../helpers/hand-plan.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { type Spec, toTree, widerSpec } from "../helpers/random-plan.ts";
import { referenceCost } from "../helpers/reference-model.ts";
import { seeds } from "../helpers/seeds.ts";

/** Plans that have a mix; about one seed in two has. */
const PLANS = seeds(4, 100);
const GROUP = Math.min(PLANS, 10);

/** The least cost by the separately written model and HiGHS, when one price is another. */
function costAtPrice(spec: Spec, id: string, pricePerKg: number): Promise<number | null> {
  const amendments = spec.amendments.map((a) =>
    a.id === id ? { ...a, packs: [{ kg: 1, price: pricePerKg }], bulkPerKg: null } : a,
  );
  return referenceCost({ ...spec, amendments });
}

/** The same, when one demand or limit is another. */
function costAtDemand(spec: Spec, demand: DemandSensitivity, value: number): Promise<number | null> {
  const changed = structuredClone(spec);
  if (demand.nutrient !== undefined) {
    const field = { need: "min", "season-max": "max", "applied-max": "appliedMax", "ahead-max": "aheadMax" }[
      demand.kind as "need"
    ] as "min" | "max";
    const own = changed.demands[demand.nutrient]!;
    // A need is worth what it is worth after its efficiency; the spec has it before.
    const times =
      own.counts !== "applied" && (field === "min" || field === "max") ? (own.efficiency ?? 1) : 1;
    own[field] = value * times;
  } else {
    const field = { min: "minKg", max: "maxKg", "min-share": "minShare", "max-share": "maxShare" }[
      demand.kind as "min"
    ] as "minKg";
    changed.limits[demand.id!]![field] = value;
  }
  return referenceCost(changed);
}

interface Case {
  readonly seed: number;
  readonly spec: Spec;
  readonly plan: Plan;
  readonly cost: number;
  readonly bought: (id: string) => number;
  readonly found: NonNullable<ReturnType<typeof analyse>>;
}

async function casesFrom(first: number, count: number): Promise<{ cases: Case[]; next: number }> {
  const cases: Case[] = [];
  let seed = first;
  for (; cases.length < count; seed++) {
    const spec = widerSpec(seed);
    const plan = loadTree(toTree(spec, seed));
    const { program, answer } = await solveBlend(plan);
    if (answer.status !== "optimal") continue;
    const found = analyse(plan, program, answer.x, tieBreaks(program));
    if (!found) throw new Error(`plan ${seed} could not be analysed`);
    const bought = (id: string): number => {
      const a = plan.amendments.findIndex((amendment) => amendment.id === id);
      const column = program.buy[a];
      if (column !== null && column !== undefined) return answer.x[column]!;
      return program.use[a]!.reduce((sum, j) => sum + answer.x[j]!, 0);
    };
    cases.push({ seed, spec, plan, cost: answer.check.cost, bought, found });
  }
  return { cases, next: seed };
}

/** The cost as a straight line in the price, as it is while the mix stays. */
const line = (one: Case, price: AmendmentSensitivity, at: number): number =>
  one.cost + one.bought(price.id) * (at - price.pricePerKg!);

async function checkPrice(one: Case, price: AmendmentSensitivity): Promise<void> {
  const { spec, seed, cost } = one;
  const now = price.pricePerKg!;
  const unused = price.entersBelowPerKg !== undefined;
  const name = `plan ${seed}, ${price.id}`;
  const same = async (at: number): Promise<void> => {
    const found = (await costAtPrice(spec, price.id, at))!;
    const expected = line(one, price, at);
    expect(Math.abs(found - expected), `${name} at ${at}`).toBeLessThanOrEqual(
      1e-6 * Math.max(1, Math.abs(expected)),
    );
  };
  const cheaper = async (at: number): Promise<void> => {
    const found = (await costAtPrice(spec, price.id, at))!;
    expect(found, `${name} at ${at}`).toBeLessThan(line(one, price, at) - 1e-9 * Math.max(1, cost));
  };
  const from = unused ? price.entersBelowPerKg! : price.stableFromPerKg!;
  if (from === null) await same(1e-4 * now);
  else {
    await same(from + 0.01 * (now - from));
    await cheaper(from * 0.98);
  }
  if (unused) return;
  const to = price.stableToPerKg!;
  if (to === null) await same(100 * now);
  else {
    await same(to - 0.01 * (to - now));
    await cheaper(to * 1.02);
  }
}

async function checkDemand(one: Case, demand: DemandSensitivity, sign: 1 | -1): Promise<void> {
  const { spec, seed, cost } = one;
  const name = `plan ${seed}, ${demand.kind} ${demand.nutrient ?? demand.id}, ${sign > 0 ? "more" : "less"}`;
  const slope = sign > 0 ? demand.costOfMore : demand.costOfLess;
  const to = sign > 0 ? demand.moreHoldsTo : demand.lessHoldsTo;
  const { value } = demand;
  if (slope === null) {
    expect(await costAtDemand(spec, demand, value * (1 + sign * 1e-3)), name).toBeNull();
    return;
  }
  if (demand.unit === "share") {
    // A share changes the coefficients of its row, so that the cost bends at once; a short step is nearly straight.
    const step = 1e-5;
    const moved = await costAtDemand(spec, demand, value + sign * step);
    if (moved === null) return;
    expect(Math.abs((moved - cost) / step - slope), name).toBeLessThan(
      0.01 * Math.abs(slope) + 1e-2 * Math.max(1, cost),
    );
    return;
  }
  const room = to === null ? value : Math.abs(to - value);
  expect(room, name).toBeGreaterThan(1e-7 * value);
  const step = Math.min(0.9 * room, 0.01 * value);
  const moved = await costAtDemand(spec, demand, value + sign * step);
  expect(moved, name).not.toBeNull();
  expect(Math.abs(moved! - cost - slope * step), name).toBeLessThanOrEqual(
    1e-7 * Math.max(1, cost) + 1e-4 * Math.abs(slope * step),
  );
  if (to === null) return;
  // Beyond its range the worth is another: the cost of a demand is convex, so it lies above the line.
  const over = 0.05 * value;
  // A need of less than nothing is none: where nitrogen is tied up, it asks for nothing at all from there on.
  if (demand.kind === "need" && to + sign * over < 0) return;
  const beyond = await costAtDemand(spec, demand, to + sign * over);
  if (beyond !== null)
    expect(beyond, `${name}, beyond`).toBeGreaterThan(
      cost + slope * (room + over) + 1e-9 * Math.max(1, cost),
    );
}

describe(`${PLANS} random plans: worths and price ranges against HiGHS solving the changed plan`, () => {
  let next = 1000;
  const seen = { enters: 0, range: 0, need: 0, cap: 0, limit: 0 };
  it.each(Array.from({ length: PLANS / GROUP }, (_, k) => k))(
    "plans %#",
    async () => {
      const batch = await casesFrom(next, GROUP);
      next = batch.next;
      for (const one of batch.cases) {
        for (const price of one.found.amendments) {
          if (price.pricePerKg === null) continue;
          await checkPrice(one, price);
          seen[price.entersBelowPerKg === undefined ? "range" : "enters"]++;
        }
        for (const demand of one.found.demands) {
          await checkDemand(one, demand, 1);
          await checkDemand(one, demand, -1);
          seen[demand.kind === "need" ? "need" : demand.nutrient ? "cap" : "limit"]++;
        }
        for (const stock of one.found.stock) {
          const withStock = (kg: number) =>
            referenceCost({
              ...one.spec,
              amendments: one.spec.amendments.map((a) => (a.id === stock.id ? { ...a, stockKg: kg } : a)),
            });
          const without = await withStock(0);
          const name = `plan ${one.seed}, ${stock.id} in the shed`;
          if (stock.stockSaves === null) expect(without, name).toBeNull();
          else expect(stock.stockSaves, name).toBeCloseTo(without! - one.cost, 5);
          const more = (await withStock(stock.stockKg + stock.packKg!))!;
          expect(stock.packSaves, name).toBeCloseTo(one.cost - more, 5);
        }
      }
    },
    60_000,
  );

  it("has met every kind", () => {
    expect(Object.entries(seen).filter(([, count]) => count < PLANS / 10)).toEqual([]);
  });
});

describe("answers in closed form", () => {
  it("gives both sides of a corner where two needs bind at once", async () => {
    // 100 kg of 4-3-0 meet 4 kg of N and 3 kg of P2O5 exactly. More of either costs 1/0.04 or 1/0.03; less saves nothing.
    const plan = handPlan(
      { pellets: { analysis: { N: 4, P2O5: 3 }, price: 1 } },
      { need: { per: "bed", N: "4 kg", P2O5: "3 kg" } },
    );
    const { sensitivity, nutrients } = await solvePlan(plan);
    const [n, p] = sensitivity!.demands;
    expect(n).toMatchObject({ kind: "need", nutrient: "N", value: 4, moreHoldsTo: null });
    expect(n!.costOfMore).toBeCloseTo(25, 9);
    expect(n!.costOfLess).toBeCloseTo(0, 9);
    expect(p!.costOfMore).toBeCloseTo(100 / 3, 9);
    expect(p!.costOfLess).toBeCloseTo(0, 9);
    expect(sensitivity!.degenerate).toBe(true);
    expect(sensitivity!.notes.join(" ")).toContain("need of N and need of P2O5");
    expect(nutrients.map((nutrient) => nutrient.shadowPricePerKg)).toEqual([
      expect.closeTo(25, 9),
      expect.closeTo(100 / 3, 9),
    ]);
  });

  it("says that nothing fits beyond a need that stands at its cap", async () => {
    const plan = handPlan(
      { pellets: { analysis: { N: 4, P2O5: 3 }, price: 1 } },
      { need: { per: "bed", N: "4 kg" }, applied_max: { per: "bed", P2O5: "3 kg" } },
    );
    const { demands, notes } = (await solvePlan(plan)).sensitivity!;
    const need = demands.find(({ kind }) => kind === "need")!;
    expect(need.costOfMore).toBeNull();
    expect(need.moreHoldsTo).toBe(4);
    expect(need.costOfLess).toBeCloseTo(-25, 9);
    const cap = demands.find(({ kind }) => kind === "applied-max")!;
    expect(cap.costOfLess).toBeNull();
    expect(cap.costOfMore).toBeCloseTo(0, 9);
    expect(notes).toContain("No mix fits if this is any higher: need of N.");
    expect(notes).toContain("No mix fits if this is any lower: cap on P2O5 applied.");
  });

  it("names a tie, and puts both prices at its edge", async () => {
    const plan = handPlan(
      {
        "first-meal": { analysis: { N: 10 }, price: 2 },
        "second-meal": { analysis: { N: 10 }, price: 2 },
      },
      { need: { per: "bed", N: "4 kg" } },
    );
    const { amendments, sensitivity } = await solvePlan(plan);
    expect(amendments.map(({ id, kg }) => [id, kg])).toEqual([["first-meal", 40]]);
    expect(sensitivity!.tied).toEqual(["first-meal", "second-meal"]);
    expect(sensitivity!.amendments).toEqual([
      { id: "first-meal", pricePerKg: 2, stableFromPerKg: null, stableToPerKg: expect.closeTo(2, 12) },
      { id: "second-meal", pricePerKg: 2, entersBelowPerKg: expect.closeTo(2, 12) },
    ]);
  });

  it("trades two sources of N against a cap on P2O5", async () => {
    // Pellets 4-3 at 0.30 give N at 7.5 a kg, feather meal 13-0 at 1.00 at 7.69: pellets up to the cap, 50 kg.
    const plan = handPlan(
      { pellets: { analysis: { N: 4, P2O5: 3 }, price: 0.3 }, feathers: { analysis: { N: 13 }, price: 1 } },
      { need: { per: "bed", N: "3 kg" }, applied_max: { per: "bed", P2O5: "1.5 kg" } },
    );
    const { amendments, demands } = (await solvePlan(plan)).sensitivity!;
    // Feathers give way to nothing dearer, since pellets are at their cap; below 0.3 x 13/4 they take over.
    expect(amendments[0]).toMatchObject({ id: "feathers", stableToPerKg: null });
    expect(amendments[0]!.stableFromPerKg).toBeCloseTo((0.3 * 13) / 4, 9);
    expect(amendments[1]).toMatchObject({ id: "pellets", stableFromPerKg: null });
    expect(amendments[1]!.stableToPerKg).toBeCloseTo(4 / 13, 9);
    const cap = demands.find(({ kind }) => kind === "applied-max")!;
    expect(cap.costOfMore).toBeCloseTo((0.3 - 4 / 13) / 0.03, 9);
    // More room is used until pellets alone give all the N: 75 kg, 2.25 kg of P2O5.
    expect(cap.moreHoldsTo).toBeCloseTo(2.25, 9);
  });

  it("asks one price of an amendment that stands in several blends", async () => {
    // Two applications, each its own blend: the price moves in both at once, so the dearer use decides.
    const plan = handPlan(
      { slow: { analysis: { N: 5 }, price: 1 }, quick: { analysis: { N: 12 }, price: 3 } },
      { need: { per: "bed", N: "6 kg" }, uptake: { N: { 50: "50%", 100: "100%" } } },
      {
        blend: "each",
        applications: [
          { name: "planting", day: 0 },
          { name: "later", day: 50 },
        ],
      },
    );
    const { amendments } = (await solvePlan(plan)).sensitivity!;
    expect(amendments[0]).toMatchObject({ id: "quick" });
    expect(amendments[0]!.entersBelowPerKg).toBeCloseTo(12 / 5, 9);
  });

  it("gives a single amendment no price at which another takes over", async () => {
    const plan = handPlan({ meal: { analysis: { N: 10 }, price: 2 } }, { need: { per: "bed", N: "4 kg" } });
    const { amendments, demands, degenerate } = (await solvePlan(plan)).sensitivity!;
    expect(amendments).toEqual([{ id: "meal", pricePerKg: 2, stableFromPerKg: null, stableToPerKg: null }]);
    // 10 % N at 2 a kg: a kg of N costs 20, however much is needed.
    expect(demands).toHaveLength(1);
    expect(demands[0]!.costOfMore).toBeCloseTo(20, 9);
    expect(demands[0]!.costOfLess).toBeCloseTo(-20, 9);
    expect(demands[0]!.moreHoldsTo).toBeNull();
    expect(degenerate).toBe(false);
  });

  it("asks nothing for more of a need that a free amendment meets", async () => {
    const plan = handPlan(
      {
        free: { analysis: { N: 1 }, price: 0 },
        meal: { analysis: { N: 10 }, price: 2 },
      },
      { need: { per: "bed", N: "1 kg" } },
    );
    const { cost, sensitivity } = await solvePlan(plan);
    expect(cost.total).toBe(0);
    const [free, meal] = sensitivity!.amendments;
    // The free one stays until its N costs what the meal's does: 0.20 a kg of 1 % against 2 a kg of 10 %.
    expect(free).toMatchObject({ id: "free", pricePerKg: 0 });
    expect(free!.stableToPerKg).toBeCloseTo(0.2, 9);
    expect(meal).toMatchObject({ id: "meal" });
    expect(meal!.entersBelowPerKg).toBeCloseTo(0, 9);
    // What costs nothing, more or less of it, is not among the worths.
    expect(sensitivity!.demands).toEqual([]);
  });

  it("prices the cap of an amendment that is at it", async () => {
    // Pellets give N at 7.5 a kg and are held at 20 kg (0.8 of 2 kg of N); feathers, at 1/0.13 a kg of N, give the rest.
    const plan = handPlan(
      { pellets: { analysis: { N: 4 }, price: 0.3 }, feathers: { analysis: { N: 13 }, price: 1 } },
      { need: { per: "bed", N: "2 kg" } },
      { limits: { pellets: { max: "20 kg" } } },
    );
    const { amendments, demands } = (await solvePlan(plan)).sensitivity!;
    const cap = demands.find(({ kind }) => kind === "max")!;
    expect(cap).toMatchObject({ id: "pellets", value: 20 });
    // A kg more of pellets saves 0.04/0.13 kg of feathers and costs 0.3.
    expect(cap.costOfMore).toBeCloseTo(0.3 - 0.04 / 0.13, 9);
    expect(cap.costOfLess).toBeCloseTo(0.04 / 0.13 - 0.3, 9);
    expect(cap.moreHoldsTo).toBeCloseTo(50, 9);
    // At its cap a lower price of pellets changes nothing; a higher one than 0.13 x 4/13 lets feathers take all.
    const pellets = amendments.find(({ id }) => id === "pellets")!;
    expect(pellets.stableFromPerKg).toBeNull();
    expect(pellets.stableToPerKg).toBeCloseTo(4 / 13, 9);
  });
});
