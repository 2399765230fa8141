/** Faults of sureness that were found by attack, each by its name. */
import { describe, expect, it } from "vitest";
import { Deadline, errandFor, solveBeds } from "../../src/flow/purchase.ts";
import { buySurely } from "../../src/flow/purchase-sure.ts";
import type { Plan, SureAsked } from "../../src/model.ts";
import { eachCase, togetherCase } from "../check/sure-attack.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { slow } from "../helpers/seeds.ts";
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
  it.each([0.01, 0.5, 0.8])(
    "`sure: {together: 50%}` is not read as the plain mix: asked %f, worked seasons find as much",
    async (p) => {
      const plan = shippedPlan(ROOT, "cucumber");
      const plain = await solvePlan(plan);
      const { sure, cost, status } = await solvePlan(togetherAt(plan, p));
      expect(status).toBe("optimal");
      expect(sure!.together!).toBeGreaterThanOrEqual(p - 0.0025);
      // The plain mix meets all in about 25 % of the seasons: what is met anyway costs nothing more.
      if (p < 0.1) expect(cost.total).toBeCloseTo(plain.cost.total!, 6);
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

describe("plans against a second model", () => {
  // The rest is in `npm run check -- sure-attack`.
  it.each([0, 4, 8])("single needs cost what cuts given to HiGHS cost, plan %d", async (seed) => {
    expect((await eachCase(seed)).wrong).toBeNull();
  });

  it.each([1003, 1008])("needs together are near the best of a dense search, plan %d", async (seed) => {
    const { wrong, above, renamed } = await togetherCase(seed, 6);
    expect(wrong).toBeNull();
    expect(above!).toBeLessThan(0.01);
    // By other names of the same materials.
    expect(renamed!).toBeLessThan(0.001);
  });
});

describe("names", () => {
  slow("change no cost: rows that only rounding tells apart keep their order", async () => {
    // 0.5 % before, where 0.07 points of chance cost as much.
    expect((await togetherCase(1005, 0)).renamed!).toBeLessThan(1e-6);
  });
});

describe("loose weight beside packs", () => {
  slow(
    "gets its margins before packs are looked for again: beets, all needs in 90 % of seasons",
    async () => {
      const solved = await solveBeds([togetherAt(shippedPlan(ROOT, "beet"), 0.9)]);
      if (!("beds" in solved)) throw new Error("there is a mix");
      // It ended unverified after 25 searches that each came a little nearer.
      const found = await buySurely(errandFor(solved.beds, {}, new Deadline(60, () => 0)), false);
      expect("found" in found).toBe(true);
    },
    180_000,
  );
});

describe("credits", () => {
  const acre = (credits: object[]) =>
    loadTree({
      plan: "An acre",
      bed: { area: "1 acre" },
      soil_temperature: "25 C",
      amendments: {
        salt: {
          name: "Salt",
          analysis: { N: 20 },
          bulk: { price: 0.5, per: "lb" },
          release: "at-once",
          varies: "0%",
        },
      },
      varies: { releases: "8%", soil_temperature: "0 C", spreading: "0%" },
      target: { target: "Crop", season: "100 days", need: { per: "acre", N: "100 lb" } },
      credits,
      sure: { N: "90%" },
    });
  const Z90 = 1.2815515655446004;
  const saltLb = async (credits: object[]): Promise<number> => {
    const { amendments } = await solvePlan(acre(credits));
    return (amendments[0]!.kg * 0.2) / 0.45359237;
  };

  it("with `until` have no doubt of release, only their own", async () => {
    const given = { from: "irrigation", per: "acre", N: "20 lb", day: 0, until: 80, varies: "10%" };
    expect(await saltLb([given])).toBeCloseTo(100 - 20 + Z90 * 0.1 * 20, 1);
  });

  it("of the same name vary apart", async () => {
    const half = { from: "manure", per: "acre", N: "20 lb", day: 0, until: 80, varies: "30%" };
    // Not 75.4 lb, as where one goes with the other; worked seasons may ask a little more than the law.
    expect(Math.abs((await saltLb([half, half])) - (60 + Z90 * 0.3 * 20 * Math.SQRT2))).toBeLessThan(1);
  });
});

describe("several conflicts", () => {
  it("are said to need mending each", async () => {
    const tree = equalDressings(2);
    const { conflicts } = await solvePlan(
      loadTree({
        ...tree,
        sure: undefined,
        limits: { "blood-meal": { max: "1 lb" }, gypsum: { max: "0.1 lb" } },
      }),
    );
    expect(conflicts.length).toBeGreaterThan(1);
    for (const { text } of conflicts) expect(text).toContain("each must be mended");
  });
});

describe("spreads of the shipped list", () => {
  // University of Georgia Extension B1270: layer manure N 2.26 (standard deviation 0.83), composted litter 2.80 (0.98).
  it.each([
    ["layer-manure", 0.83 / 2.26],
    ["composted-litter", 0.98 / 2.8],
  ])("`%s` varies as its farms did", (id, cv) => {
    const plan = shippedPlan(ROOT, "cucumber");
    const found = plan.amendments.find((one) => one.id === id)!;
    expect(found.varies!.byNutrient.N).toBeCloseTo(cv, 2);
  });

  it("a plan that is to be sure is told that plants differ", async () => {
    const { cautions } = await solvePlan(loadTree(equalDressings(3)));
    expect(cautions.map(({ code }) => code)).toContain("plants-differ");
  });
});

describe("dressings that are alike", () => {
  it.each([0, 1, 2, 3])("three to five of them end in a proven mix, case %d", async (seed) => {
    const { status, sure } = await solvePlan(loadTree(equalDressings(seed)));
    expect(status).toBe("optimal");
    expect(sure!.gap!).toBeLessThan(1e-6);
    for (const { nutrient, p } of sure!.asked)
      for (const need of sure!.needs)
        if (need.nutrient === nutrient) expect(need.p).toBeGreaterThan(p - 1e-6);
  });
});
