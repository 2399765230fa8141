import { describe, expect, it } from "vitest";
import type { RowTag } from "../../src/program/tags.ts";
import type { DemandTag } from "../../src/results/solution.ts";
import { type OneBed, weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, type Spec, toTree, widerSpec } from "../helpers/random-plan.ts";
import { type Bound, referenceCost } from "../helpers/reference-model.ts";
import { seeds } from "../helpers/seeds.ts";

/** The name by which the reference model knows a demand. */
function keyOf(spec: Spec, demand: DemandTag): string {
  const tag = demand as RowTag;
  const where = (id: string, application: number | null) =>
    application === null ? id : `${id} ${spec.applications[application]!.name}`;
  switch (tag.kind) {
    case "in-time":
    case "ahead-max":
      return `${tag.kind} ${tag.nutrient} ${tag.day}`;
    case "season-min":
    case "season-max":
    case "applied-max":
      return `${tag.kind} ${tag.nutrient}`;
    case "share-min":
    case "share-max":
    case "amount-min":
    case "amount-max":
    case "not-in":
      return `${tag.kind} ${where(tag.id, tag.application)}`;
    default:
      throw new Error(`no demand: ${tag.kind}`);
  }
}

const fits = async (spec: Spec, bound: Bound) => (await referenceCost(spec, bound)) !== null;

/** A bound just beyond (or, with a negative part, just short of) where the solution says it suffices. */
function beyond(from: number, to: number, part: number): number {
  return to + (to - from) * part;
}
const A_LITTLE = 1e-4;

async function checkExplanation(spec: Spec, solution: OneBed): Promise<void> {
  const sets = solution.conflicts.map((conflict) => (conflict.tags ?? []).map((tag) => keyOf(spec, tag)));
  expect(sets.length).toBeGreaterThan(0);
  for (const [k, keys] of sets.entries()) {
    const alone = (dropped: string | null): Bound => {
      return (key, stated) => (keys.includes(key) && key !== dropped ? stated : null);
    };
    expect(await fits(spec, alone(null)), `all of ${keys} together`).toBe(false);
    for (const key of keys) expect(await fits(spec, alone(key)), `${keys} without ${key}`).toBe(true);

    const others = new Set(sets.flatMap((set, i) => (i === k ? [] : set)));
    for (const way of solution.conflicts[k]!.relaxations ?? []) {
      const own = keyOf(spec, way.tag);
      const at = (value: number): Bound => {
        return (key, stated) => (key === own ? value : others.has(key) ? null : stated);
      };
      const enough = beyond(way.from, way.to, A_LITTLE);
      expect(await fits(spec, at(enough)), `${own} at ${enough} is enough`).toBe(true);
      const less = beyond(way.from, way.to, -0.01);
      expect(await fits(spec, at(less)), `${own} at ${less} is not`).toBe(false);
    }
  }
  const ways = new Map((solution.leastRelaxation ?? []).map((way) => [keyOf(spec, way.tag), way]));
  const all = (part: number): Bound => {
    return (key, stated) => {
      const way = ways.get(key);
      return way ? beyond(way.from, way.to, part) : stated;
    };
  };
  expect(await fits(spec, all(A_LITTLE)), "the least relaxation is enough").toBe(true);
  // A share is measured by the weight that is missing from it, so that shrinking the share itself says nothing.
  if ([...ways.values()].every((way) => way.unit === "kg"))
    expect(await fits(spec, all(-0.01)), "less of it is not").toBe(false);
}

describe("infeasible plans, each explanation held against a separately written model solved by HiGHS", () => {
  const WANTED = seeds(10, 100);
  const GROUPS = 10;
  let found = 0;
  it.each(Array.from({ length: GROUPS }, (_, k) => k))(
    "plans %#",
    async (group) => {
      let here = 0;
      for (let seed = 5000 + group * 1000; here < WANTED / GROUPS; seed++) {
        const spec = widerSpec(seed);
        const solution = await solvePlan(loadTree(toTree(spec, seed)));
        if (solution.status !== "infeasible") continue;
        here++;
        found++;
        try {
          await checkExplanation(spec, solution);
        } catch (error) {
          throw new Error(`plan ${seed}: ${(error as Error).message}`);
        }
      }
      expect(here).toBe(WANTED / GROUPS);
    },
    60_000,
  );
  it("looked at as many as it should", () => {
    expect(found).toBe(WANTED);
  });
});

describe("what could be added, held against HiGHS", () => {
  it("is the cheapest single addition of all, or a group of which none can be spared", async () => {
    const seen = { single: 0, group: 0, none: 0 };
    let plans = 0;
    for (let seed = 20_000; plans < seeds(5, 25); seed++) {
      const spec = widerSpec(seed);
      const plan = loadTree(toTree(spec, seed));
      const others = randomSpec(seed + 500_000).amendments.map((a, i) => ({
        ...a,
        id: `other-${i}`,
        stockKg: 0,
      }));
      const shelf = loadTree(toTree({ ...spec, amendments: others, limits: {} }, seed)).amendments;
      const solution = await solvePlan(plan, () => shelf);
      if (solution.status !== "infeasible") continue;
      plans++;
      const costWith = (ids: readonly string[]) =>
        referenceCost({
          ...spec,
          amendments: [...spec.amendments, ...others.filter((a) => ids.includes(a.id))],
        });
      const singles: { id: string; cost: number }[] = [];
      for (const { id } of others) {
        const cost = await costWith([id]);
        if (cost !== null) singles.push({ id, cost });
      }
      singles.sort((a, b) => a.cost - b.cost);
      const remedies = solution.remedies!;
      if (singles.length > 0) {
        seen.single++;
        expect(
          remedies[0]!.add.map((a) => a.id),
          `plan ${seed}`,
        ).toEqual([singles[0]!.id]);
        expect(remedies).toHaveLength(Math.min(3, singles.length));
        remedies.forEach(({ cost }, k) => {
          expect(Math.abs(cost - singles[k]!.cost)).toBeLessThan(1e-5 * Math.max(1, cost));
        });
      } else if (remedies.length > 0) {
        seen.group++;
        const ids = remedies[0]!.add.map((a) => a.id);
        const cost = await costWith(ids);
        expect(cost, `plan ${seed}`).not.toBeNull();
        expect(Math.abs(cost! - remedies[0]!.cost)).toBeLessThan(1e-5 * Math.max(1, cost!));
        for (const id of ids) expect(await costWith(ids.filter((other) => other !== id))).toBeNull();
      } else {
        seen.none++;
        expect(await costWith(others.map((a) => a.id)), `plan ${seed}`).toBeNull();
      }
    }
    expect(seen.single).toBeGreaterThan(seeds(0, 5));
  }, 60_000);
});

/** A plan for a bed of 1000 sq ft with amounts for the whole bed. */
function plan(amendments: Record<string, unknown>, target: Record<string, unknown>, more = {}) {
  return loadTree({
    plan: "Small bed",
    amendments,
    target: { target: "Crop", season: "100 days", ...target },
    bed: { plants: 100, area: "1000 sq ft" },
    ...more,
  });
}
const POUND = 0.45359237;
const material = (name: string, analysis: Record<string, number>, price: number) => ({
  name,
  analysis,
  packs: [{ size: "1 lb", price }],
  release: "at-once",
});
const pellets = { pellets: material("Pellets", { N: 4, P2O5: 3, K2O: 2 }, 0.3) };

describe("small plans with answers in closed form", () => {
  // N of 3 lb from 4-3-2 alone brings 2.25 lb P2O5; with 1 lb of it N reaches 4/3 lb.
  it("says by how much nitrogen or the cap on phosphate has to give way", async () => {
    const solution = await solvePlan(
      plan(pellets, { need: { per: "bed", N: "3 lb" }, applied_max: { per: "bed", P2O5: "1 lb" } }),
    );
    expect(solution.status).toBe("infeasible");
    expect(solution.conflicts).toHaveLength(1);
    const [conflict] = solution.conflicts;
    expect(conflict!.text).toContain("every source of N in the plan brings P2O5. Add one without.");
    expect(conflict!.text).toContain("allow 2.25 lb of P2O5 applied in all (now 1.00 lb)");
    const [need, cap] = conflict!.relaxations!;
    expect(need!.to / POUND).toBeCloseTo(4 / 3, 6);
    expect(cap!.to / POUND).toBeCloseTo(2.25, 6);
    expect(solution.closest!.amendments).toHaveLength(1);
    // Short by 5/9 of 3 lb at the least; the cheapest within a hundredth of that shortfall is short by 1.01 times as much.
    expect(solution.closest!.amendments[0]!.kg / POUND).toBeCloseTo((3 - (3 * 5 * 1.01) / 9) / 0.04, 4);
    expect(solution.amendments).toEqual([]);
    expect(solution.mixes).toEqual([]);
    expect(solution.rounds).toEqual([]);
  });

  it("rounds what it advises so that the advice is enough", async () => {
    const target = (cap: string) => ({
      need: { per: "bed", N: "3.1 lb" },
      applied_max: { per: "bed", P2O5: cap },
    });
    const material437 = { pellets: material("Pellets", { N: 4.37, P2O5: 3.11 }, 0.3) };
    const solution = await solvePlan(plan(material437, target("1 lb")));
    const advice = solution.conflicts[0]!.relaxations!.find((way) => way.tag.kind === "applied-max")!;
    const figure = /allow ([\d.]+ lb)/.exec(advice.text)![1]!;
    expect((await solvePlan(plan(material437, target(figure)))).status).toBe("optimal");
  });

  it("says that nothing brings a nutrient, beside another conflict", async () => {
    const solution = await solvePlan(
      plan(pellets, {
        need: { per: "bed", N: "3 lb", Mg: "0.5 lb" },
        applied_max: { per: "bed", P2O5: "1 lb" },
      }),
    );
    expect(solution.conflicts).toHaveLength(2);
    expect(solution.conflicts[1]!.text).toContain("no amendment in the plan brings any Mg");
  });

  it("finds the share that a limit has to give way to", async () => {
    // a.N = 10 %, b.N = 2 %; one in two of a gives 6 % at most, so 0.5 lb of N in 5 lb of blend needs 100 % of a.
    const solution = await solvePlan(
      plan(
        { a: material("Rich", { N: 10, B: 0.1 }, 1), b: material("Poor", { N: 2, B: 0.1 }, 1) },
        { need: { per: "bed", N: "0.5 lb" }, applied_max: { per: "bed", B: "0.005 lb" } },
        { limits: { a: { max_share: "50%" } } },
      ),
    );
    const way = solution.conflicts[0]!.relaxations!.find((w) => w.tag.kind === "share-max")!;
    expect(way.unit).toBe("share");
    expect(way.to).toBeCloseTo(1, 6);
  });

  it("proposes the cheapest addition, and a pair where one is not enough", async () => {
    const shelf = plan(
      {
        feather: material("Feather meal", { N: 13 }, 1),
        blood: material("Blood meal", { N: 12 }, 2),
        epsom: material("Epsom salt", { Mg: 9.8, S: 12.9 }, 1),
        pellets: material("Other pellets", { N: 4, P2O5: 3 }, 0.1),
      },
      { need: { per: "bed", N: "1 lb" } },
    ).amendments;
    const capped = { applied_max: { per: "bed", P2O5: "1 lb" } };
    const one = await solvePlan(plan(pellets, { need: { per: "bed", N: "3 lb" }, ...capped }), () => shelf);
    expect(one.remedies!.map((remedy) => remedy.add.map((a) => a.id))).toEqual([["feather"], ["blood"]]);
    // 100/3 lb of pellets bring 4/3 lb of N for $10; the other 5/3 lb come from 12.82 lb of feather meal.
    expect(one.remedies![0]!.cost).toBeCloseTo(10 + 5 / 3 / 0.13, 4);
    const two = await solvePlan(
      plan(pellets, { need: { per: "bed", N: "3 lb", Mg: "0.5 lb" }, ...capped }),
      () => shelf,
    );
    expect(two.remedies!.map((remedy) => remedy.add.map((a) => a.id))).toEqual([["epsom", "feather"]]);
  });

  it("doubts a need of a ton of nitrogen", async () => {
    const solution = await solvePlan(plan(pellets, { need: { per: "1000 sq ft", N: "50 lb" } }));
    expect(solution.warnings.map((warning) => warning.code)).toContain("need-suspect");
    const plain = await solvePlan(plan(pellets, { need: { per: "1000 sq ft", N: "3 lb" } }));
    expect(plain.warnings.map((warning) => warning.code)).not.toContain("need-suspect");
  });
});

describe("plans that contradict themselves", () => {
  it("says first that a need is above its own cap", async () => {
    const solution = await solvePlan(
      plan(pellets, {
        need: { per: "bed", N: "3 lb", P2O5: "2 lb" },
        applied_max: { per: "bed", P2O5: "1 lb" },
      }),
    );
    expect(solution.conflicts[0]!.text).toContain(
      "needs 2.00 lb of P2O5 over the season and allows only 1.00 lb of it to be applied",
    );
  });

  it("says so where a source is too slow for a cap", async () => {
    const slow = { bone: { ...material("Bone meal", { P2O5: 15 }, 1), release: "slow" } };
    const solution = await solvePlan(
      plan(slow, { need: { per: "bed", P2O5: "1 lb" }, applied_max: { per: "bed", P2O5: "2 lb" } }),
    );
    expect(solution.conflicts[0]!.text).toContain("too little of what is applied becomes available in time");
  });

  it("says so where what is credited is too much already", async () => {
    const solution = await solvePlan(
      plan(
        pellets,
        { need: { per: "bed", N: { min: "1 lb", max: "2 lb" } } },
        { credits: [{ from: "compost", per: "bed", N: "3 lb", day: -5 }] },
      ),
    );
    expect(solution.conflicts[0]!.text).toContain("what the plan credits brings more than that already");
  });

  it("says so where nothing becomes available by the day it is needed", async () => {
    const late = {
      meal: { ...material("Late meal", { N: 10 }, 1), release: { points: { 40: "0%", 60: "50%" } } },
    };
    const solution = await solvePlan(
      plan(
        late,
        { need: { per: "bed", N: "1 lb" }, uptake: { N: { 30: "20%", 100: "100%" } } },
        {
          applications: [
            { name: "planting", day: 0 },
            { name: "later", day: 30 },
          ],
        },
      ),
    );
    expect(solution.conflicts[0]!.text).toContain(
      "The plan needs 3.20 oz of N by day 30, and what brings N (Late meal) is not available by then",
    );
  });

  it("says so where the shed holds too little and nothing is for sale", async () => {
    const shed = { meal: { name: "Old meal", analysis: { N: 10 }, stock: "5 lb", release: "at-once" } };
    const solution = await solvePlan(plan(shed, { need: { per: "bed", N: "1 lb" } }));
    expect(solution.conflicts[0]!.text).toContain("the shed holds too little and there is no price");
    // 5 lb of 10 %: half a pound.
    expect(solution.conflicts[0]!.relaxations![0]!.to / POUND).toBeCloseTo(0.5, 6);
  });

  describe("a plan simpler than any mix", () => {
    // Each brings one nutrient alone at 10 %, so a pound of each takes 10 lb of each of the three: 10 + 20 + 30 in money.
    const three = {
      n: material("Nitrate", { N: 10 }, 1),
      p: material("Phosphate", { P2O5: 10 }, 2),
      s: material("Potash", { K2O: 10 }, 3),
    };
    const need = { per: "bed", N: "1 lb", P2O5: "1 lb", K2O: { min: "1 lb", max: "1.5 lb" } };
    const pounds = ({ closest }: OneBed) =>
      closest!.amendments.map(({ id, kg }) => [id, Math.round((kg / POUND) * 1e6) / 1e6]);

    it("shows the mix of the fewest amendments as the closest", async () => {
      const solution = await solvePlan(plan(three, { need }, { simple: { most: 2 } }));
      expect(solution.status).toBe("infeasible");
      expect(solution.amendments).toEqual([]);
      expect(pounds(solution)).toEqual([
        ["n", 10],
        ["p", 10],
        ["s", 10],
      ]);
      expect(solution.closest!.cost).toBeCloseTo(60, 6);
      expect(solution.closest!.misses).toMatchObject([{ unit: "count", from: 2, to: 3 }]);
      expect(solution.closest!.text).toContain("no answer to the plan");
      expect(solution.closest!.text).toContain("3 amendments instead of at most 2 amendments in a blend");
    });

    it("shows the mix of smaller weights where the weights are the reason", async () => {
      // At most 15 lb of potash fits under its cap of 1.5 lb, so 20 lb in the one batch cannot be.
      const solution = await solvePlan(plan(three, { need }, { simple: { least: "20 lb" } }));
      expect(solution.status).toBe("infeasible");
      expect(pounds(solution).map(([, lb]) => lb)).toEqual([10, 10, 10]);
      const [miss, ...others] = solution.closest!.misses;
      expect(others).toEqual([]);
      expect(miss!.unit).toBe("kg");
      expect(miss!.from / POUND).toBeCloseTo(20, 6);
      expect(miss!.to / POUND).toBeCloseTo(10, 6);
    });
  });
});
