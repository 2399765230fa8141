import { describe, expect, it } from "vitest";
import { loadMix } from "../../src/files/load.ts";
import { assayMix } from "../../src/flow/assay.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { assayReport } from "../../src/report/assay-report.ts";
import type { Assay } from "../../src/results/assay.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { memoryReader } from "../helpers/files.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, type Spec, toTree } from "../helpers/random-plan.ts";
import { highs, referenceText } from "../helpers/reference-model.ts";
import { seeds, slow } from "../helpers/seeds.ts";

const POUND = 0.45359237;

interface Material {
  analysis: Record<string, number>;
  [field: string]: unknown;
}

function mixOf(mix: Record<string, string>, materials: Record<string, Material>, more = {}) {
  const amendments = Object.fromEntries(
    Object.entries(materials).map(([id, fields]) => [
      id,
      { name: id, packs: [{ size: "1 lb", price: 1 }], release: "at-once", ...fields },
    ]),
  );
  const tree = { mix, name: "A mix", amendments, ...more };
  const read = loadMix(memoryReader({ "/m/mix.yaml": JSON.stringify(tree) }), "/m/mix.yaml", {
    cwd: "/m",
    recipesDir: "/r",
  });
  if (!read.ok) throw new Error(formatProblems(read.problems));
  return read.value.mix;
}
async function assayOf(
  mix: Record<string, string>,
  materials: Record<string, Material>,
  more = {},
  against?: Plan,
): Promise<Assay> {
  const result = await assayMix(mixOf(mix, materials, more), against);
  if (!result.ok) throw new Error(formatProblems(result.problems));
  return result.value;
}
const pounds = (assay: Assay, nutrient: keyof Assay["content"]) => (assay.content[nutrient] ?? 0) / POUND;

describe("published worked examples", () => {
  // New Mexico State University, Guide H-119 (Flynn and Leinauer): what a 100 lb bag of 16-4-8 holds.
  it("finds what a bag of 16-4-8 holds", async () => {
    const assay = await assayOf({ bag: "100 lb" }, { bag: { analysis: { N: 16, P2O5: 4, K2O: 8 } } });
    expect(pounds(assay, "N")).toBeCloseTo(16, 9);
    expect(pounds(assay, "P2O5")).toBeCloseTo(4, 9);
    expect(pounds(assay, "K2O")).toBeCloseTo(8, 9);
    expect(assay.grade).toBe("16-4-8");
  });

  // Oregon State University Extension 2008 (on R. Penhallegon): "about 8 lb" of 12-11-2 hold a pound of nitrogen.
  it("finds a pound of nitrogen in about 8 lb of 12-11-2", async () => {
    const bag = { bag: { analysis: { N: 12, P2O5: 11, K2O: 2 } } };
    expect(pounds(await assayOf({ bag: "8.333333333 lb" }, bag), "N")).toBeCloseTo(1, 8);
  });

  // Garden article, author unknown: 1.8 lb of 11-55-0 with 13.3 lb of 21-0-0 for 3 lb N and 1 lb P2O5.
  it("adds what the first material carries of the second's nutrient", async () => {
    const assay = await assayOf(
      { first: `${1 / 0.55} lb`, second: `${2.8 / 0.21} lb` },
      { first: { analysis: { N: 11, P2O5: 55 } }, second: { analysis: { N: 21 } } },
    );
    expect(pounds(assay, "N")).toBeCloseTo(3, 9);
    expect(pounds(assay, "P2O5")).toBeCloseTo(1, 9);
  });

  // Master Gardener page: 2 oz of N per 100 sq ft from 40 oz of 5-10-10 (the page's 2 1/4 lb for it is wrong).
  it("finds 2 oz of nitrogen in 40 oz of 5-10-10", async () => {
    const bag = { bag: { analysis: { N: 5, P2O5: 10, K2O: 10 } } };
    const assay = await assayOf({ bag: "40 oz" }, bag);
    expect(pounds(assay, "N") * 16).toBeCloseTo(2, 9);
    expect(assay.kg / POUND).toBeCloseTo(2.5, 9);
  });

  // J. Symonds, Fertilizer Guide: 2.46 lb of 10-20-20 on 200 sq ft are 4.92 cups at 2 cups to the pound.
  it("turns pounds into cups at 2 cups to the pound, and back", async () => {
    const density = `${POUND / (2 * 0.2365882365)} kg/L`;
    const bag = { bag: { analysis: { N: 10, P2O5: 20, K2O: 20 }, density } };
    const byWeight = await assayOf({ bag: "2.46 lb" }, bag);
    expect(byWeight.litres! / 0.2365882365).toBeCloseTo(4.92, 6);
    expect(pounds(byWeight, "N")).toBeCloseTo(0.246, 9);
    expect(pounds(byWeight, "P2O5")).toBeCloseTo(0.492, 9);
    expect((await assayOf({ bag: "4.92 cups" }, bag)).kg / POUND).toBeCloseTo(2.46, 6);
  });

  // Kansas State University Research and Extension (W. Upham 2019/2020): sidedressings for 30 ft of row, any one of.
  it.each([
    ["sodium nitrate", "0.6666666667 lb", { N: 16 }, 0.1067],
    ["urea", "4 oz", { N: 46 }, 0.115],
    ["ammonium sulfate", "0.5 lb", { N: 21 }, 0.105],
    ["blood meal", "14 oz", { N: 12, P2O5: 1.5, K2O: 0.6 }, 0.105],
    ["a material of 30 % N", "0.3333333333 lb", { N: 30 }, 0.1],
  ])("finds the nitrogen in a sidedressing of %s", async (_, weight, analysis, nitrogen) => {
    expect(pounds(await assayOf({ bag: weight }, { bag: { analysis } }), "N")).toBeCloseTo(nitrogen, 4);
  });

  // The method of University of Georgia Circular 853 with numbers of our own: 20 lb of 5-10-15 per 1000 sq ft from
  // bone meal 3-15-0, blood meal 12-0-0 and potassium sulfate 0-0-50.
  const organic = {
    bone: { analysis: { N: 3, P2O5: 15 }, salt_index: 3.5 },
    blood: { analysis: { N: 12 }, salt_index: 3.5 },
    potash: { analysis: { K2O: 50 }, salt_index: 46.1 },
  };
  it("makes 20 lb of 5-10-15 out of bone meal, blood meal and potassium sulfate", async () => {
    const assay = await assayOf({ bone: `${40 / 3} lb`, blood: "5 lb", potash: "6 lb" }, organic);
    expect(pounds(assay, "N")).toBeCloseTo(1, 9);
    expect(pounds(assay, "P2O5")).toBeCloseTo(2, 9);
    expect(pounds(assay, "K2O")).toBeCloseTo(3, 9);
    expect(assay.analysis.N).toBeCloseTo(4.1096, 4);
    expect(assay.analysis.P2O5).toBeCloseTo(8.2192, 4);
    expect(assay.analysis.K2O).toBeCloseTo(12.3288, 4);
    expect(assay.grade).toBe("4.1-8.2-12.3");
    // Rader, White and Whittaker 1943, Soil Sci. 55:201-218, values from memory: (18.3333 x 3.5 + 6 x 46.1)/24.3333.
    expect(assay.saltIndex!.value).toBeCloseTo(14, 2);
    expect(assay.saltIndex!.knownShare).toBe(1);
    // What has no index counts as nothing, and the share that has one says so.
    const { salt_index: _, ...unknown } = organic.potash;
    const partly = await assayOf({ blood: "5 lb", potash: "5 lb" }, { ...organic, potash: unknown });
    expect(partly.saltIndex).toEqual({ value: 1.75, knownShare: 0.5 });
    expect(assay.densityKgPerL).toBeNull();
    expect(assay.warnings.map((warning) => warning.code)).toContain("density-missing");
  });

  // 150 lb N per acre of 4-3-2 are 3750 lb of pellets, which bring 112.5 lb P2O5 (arithmetic of the label).
  it("finds the phosphate that pellets bring with their nitrogen", async () => {
    const pellets = { pellets: { analysis: { N: 4, P2O5: 3, K2O: 2 } } };
    const assay = await assayOf({ pellets: "3750 lb" }, pellets);
    expect(pounds(assay, "N")).toBeCloseTo(150, 8);
    expect(pounds(assay, "P2O5")).toBeCloseTo(112.5, 8);
  });

  // FAO, Feed and feeding of fish and shrimp, Appendix XI: blood meal 0.61 g/mL, 3.14 cups per pound.
  it("finds the cups in a pound of blood meal", async () => {
    const assay = await assayOf({ blood: "1 lb" }, { blood: { analysis: { N: 12 }, density: "0.61 g/mL" } });
    expect(assay.litres! / 0.2365882365).toBeCloseTo(3.14, 2);
  });

  it("adds the volumes of the parts for the density of a blend", async () => {
    const assay = await assayOf(
      { light: "1 kg", heavy: "3 kg" },
      {
        light: { analysis: { N: 1 }, density: "0.5 kg/L" },
        heavy: { analysis: { N: 1 }, density: "1.5 kg/L" },
      },
    );
    // 1/0.5 + 3/1.5 = 4 L for 4 kg.
    expect(assay.densityKgPerL).toBeCloseTo(1, 12);
  });
});

describe("release classes in a mix", () => {
  it("splits a nutrient by class and says how much is available when", async () => {
    const pool = { at_once: "5%", later: "70%", half_life: "18 days" };
    const assay = await assayOf(
      { quick: "1 kg", late: "3 kg" },
      { quick: { analysis: { N: 10 } }, late: { analysis: { N: 10 }, release: pool } },
    );
    const nitrogen = assay.release[0]!;
    expect(nitrogen.parts.map((part) => [part.release, Number(part.share.toFixed(12))])).toEqual([
      ["at-once", 0.25],
      ["inline", 0.75],
    ]);
    // 0.05 + 0.70 (1 - 2^(-28/18)) = 0.5119 after four weeks.
    expect(nitrogen.availableShare[1]!.days).toBe(28);
    expect(nitrogen.availableShare[1]!.share).toBeCloseTo(0.25 + 0.75 * 0.5119, 4);
  });
});

describe("how a mix is spread", () => {
  const blend = { blend: { analysis: { N: 6, P2O5: 3, K2O: 3 }, density: "0.65 kg/L" } };

  // About half a cup to a cup of a dry organic blend for a tomato plant: common practice, no source.
  it("makes one barrow of 60 lb for 180 plants half a cup to a cup each", async () => {
    const assay = await assayOf({ blend: "60 lb" }, blend, { spread: { batches: 1, plants: 180 } });
    const cups = assay.perPlant!.mL! / 236.5882365;
    expect(assay.perPlant!.g).toBeCloseTo((60 * POUND * 1000) / 180, 9);
    expect(cups).toBeGreaterThan(0.5);
    expect(cups).toBeLessThan(1);
    expect(assay.spread!.plantsPerBatch).toBe(180);
  });

  it("counts what is applied over all plants and times", async () => {
    const spread = { plants: 180, per_plant: "0.5 cup", times: 3 };
    const assay = await assayOf({ blend: "60 lb" }, blend, { spread });
    const kg = 0.65 * 0.5 * 0.2365882365 * 180 * 3;
    expect(assay.perPlant!.g).toBeCloseTo(0.65 * 118.29411825, 9);
    expect(assay.perPlant!.mL).toBeCloseTo(118.29411825, 9);
    expect(assay.applied!.N).toBeCloseTo(kg * 0.06, 9);
    expect(assay.spread!.batchesEachTime).toBeCloseTo(kg / 3 / (60 * POUND), 9);
  });

  it("fills a barrow of a given volume", async () => {
    const assay = await assayOf({ blend: "1 lb" }, blend, {
      batch: { volume: "3 cu ft" },
      spread: { batches: 2, plants: 100 },
    });
    expect(assay.spread!.eachTimeKg).toBeCloseTo(2 * 3 * 28.316846592 * 0.65, 9);
  });

  it("asks for a density where a volume needs one", async () => {
    const amendments = {
      a: { analysis: { N: 1 }, density: "0.5 kg/L" },
      b: { analysis: { N: 1 }, density: "0.5 kg/L" },
    };
    const mix = mixOf({ a: "1 lb", b: "1 lb" }, amendments, { spread: { plants: 10, per_plant: "1 cup" } });
    // A mix that does not come from a file, where this is found on loading.
    const portions = mix.portions.map(({ kg, amendment: { densityKgPerL, ...amendment } }) =>
      amendment.id === "b"
        ? { kg, amendment }
        : { kg, amendment: { ...amendment, densityKgPerL: densityKgPerL! } },
    );
    const result = await assayMix({ ...mix, portions });
    expect(result.ok).toBe(false);
    if (!result.ok) expect(formatProblems(result.problems)).toMatch(/density of b is not known/);
  });
});

const target = (need: Record<string, string>, cap: Record<string, string> = {}) => ({
  target: "Crop",
  season: "100 days",
  need: { per: "bed", ...need },
  ...(Object.keys(cap).length > 0 ? { applied_max: { per: "bed", ...cap } } : {}),
});
const shelf = {
  pellets: {
    name: "Pellets",
    analysis: { N: 4, P2O5: 3, K2O: 2 },
    packs: [{ size: "1 lb", price: 0.3 }],
    release: "at-once",
  },
  feather: {
    name: "Feather meal",
    analysis: { N: 13 },
    packs: [{ size: "1 lb", price: 1 }],
    release: "at-once",
  },
};
const planOf = (more = {}) =>
  loadTree({
    plan: "The bed",
    amendments: shelf,
    target: target({ N: "3 lb" }, { P2O5: "1.5 lb" }),
    bed: { plants: 100 },
    ...more,
  });

describe("a mix against a plan", () => {
  // 60 lb of 4-3-2 bring 1.8 lb P2O5, over the cap of 1.5: 10 lb less, then N needs 1/0.13 = 7.6923 lb of feather meal.
  it("finds the smallest change in closed form", async () => {
    const { against } = await assayOf({ pellets: "60 lb" }, shelf, {}, planOf());
    expect(against!.misses.map(({ demand, side }) => [demand, side])).toEqual([
      ["at least 3.00 lb of N available over the season", "short"],
      ["at most 1.50 lb of P2O5 applied in all", "over"],
    ]);
    expect(against!.change.status).toBe("found");
    expect(against!.change.kg / POUND).toBeCloseTo(10 + 1 / 0.13, 6);
    const changes = against!.change.amendments.map((a) => [a.id, (a.toKg - a.fromKg) / POUND] as const);
    expect(changes[0]![0]).toBe("pellets");
    expect(changes[0]![1]).toBeCloseTo(-10, 6);
    expect(changes[1]![1]).toBeCloseTo(7.692308, 5);
    // The cheapest mix of the plan is the very same one here: 50 lb and 7.692308 lb, 22.692308.
    expect(against!.cheapestCost).toBeCloseTo(22.692308, 5);
    expect(against!.change.cost).toBeCloseTo(22.692308, 5);
    expect(against!.cost).toBeCloseTo(18, 9);
  });

  it("leaves alone a mix that meets the plan, and says what it costs too much", async () => {
    const { against } = await assayOf({ feather: "30 lb" }, shelf, {}, planOf());
    expect(against!.misses).toEqual([]);
    expect(against!.change.status).toBe("none");
    expect(against!.difference).toBeCloseTo(30 - 22.692308, 5);
  });

  // 3 lb of N are in 3/0.13 = 23.076923 lb of feather meal: 6.923077 lb of 30 can go, at 1.00 a pound.
  it("finds what can be left out at no loss, and what that saves", async () => {
    const { against } = await assayOf({ feather: "30 lb" }, shelf, {}, planOf());
    expect(against!.leaveOut.map(({ id }) => id)).toEqual(["feather"]);
    expect(against!.leaveOut[0]!.kg / POUND).toBeCloseTo(30 - 3 / 0.13, 6);
    expect(against!.leaveOut[0]!.saves).toBeCloseTo(30 - 3 / 0.13, 6);
    expect([against!.addStatus, against!.add, against!.addBlockedBy]).toEqual(["none", [], []]);
  });

  // Nitrogen is short by 0.6 lb and would be shorter by any pound less; phosphate is over by 0.3 lb already.
  it("leaves out nothing that makes a shortage worse, and says which cap rules out adding", async () => {
    const { against } = await assayOf({ pellets: "60 lb" }, shelf, {}, planOf());
    expect(against!.leaveOut).toEqual([]);
    expect([against!.addStatus, against!.add]).toEqual(["impossible", []]);
    expect(against!.addBlockedBy).toEqual(["at most 1.50 lb of P2O5 applied in all"]);
  });

  // 40 lb of pellets lack 1.4 lb N. Pellets at 7.50 a pound of N go first, 10 lb up to the cap; then 1/0.13 lb of feather meal.
  it("adds the cheapest that makes the mix meet the plan", async () => {
    const { against } = await assayOf({ pellets: "40 lb" }, shelf, {}, planOf());
    expect(against!.addStatus).toBe("found");
    expect(against!.add.map(({ id }) => id)).toEqual(["pellets", "feather"]);
    expect(against!.add[0]!.kg / POUND).toBeCloseTo(10, 6);
    expect(against!.add[0]!.cost).toBeCloseTo(3, 6);
    expect(against!.add[1]!.kg / POUND).toBeCloseTo(1 / 0.13, 6);
    expect(against!.add[1]!.cost).toBeCloseTo(1 / 0.13, 6);
  });

  // Half and half where pellets may be 30 %: they stay at half, so both go down to 3/0.17 = 17.647059 lb.
  it("lets a share that is broken already get no worse", async () => {
    const plan = planOf({ limits: { pellets: { max_share: "30%" } } });
    const { against } = await assayOf({ pellets: "40 lb", feather: "40 lb" }, shelf, {}, plan);
    const out = against!.leaveOut.map(({ id, kg }) => [id, Number((kg / POUND).toFixed(5))]);
    expect(out).toEqual([
      ["feather", Number((40 - 3 / 0.17).toFixed(5))],
      ["pellets", Number((40 - 3 / 0.17).toFixed(5))],
    ]);
  });

  // Of 30 lb the shed holds 25: leaving out 6.923077 lb saves the price of the 5 that were to be bought.
  it("saves no money on what the shed holds", async () => {
    const plan = planOf({ amendments: { ...shelf, feather: { ...shelf.feather, stock: "25 lb" } } });
    const { against } = await assayOf({ feather: "30 lb" }, shelf, {}, plan);
    expect(against!.leaveOut[0]!.kg / POUND).toBeCloseTo(30 - 3 / 0.13, 6);
    expect(against!.leaveOut[0]!.saves).toBeCloseTo(5, 6);
  });

  // 50 plants at 200 g are 20 kg on the plan's 100 plants, of which 3 lb/0.13 = 10.467516 kg are needed.
  it("leaves out and adds on the scale of the plan, and says how much of each batch", async () => {
    const spread = { plants: 50, per_plant: "200 g", times: 1 };
    const assay = await assayOf({ feather: "10 lb" }, shelf, { spread }, planOf());
    expect(assay.against!.leaveOut[0]!.kg).toBeCloseTo(20 - (3 * POUND) / 0.13, 6);
    // Of each batch of 10 lb the same share: 10 x (1 - 10.467516/20) = 4.77 lb.
    expect(renderTerminal(assayReport(assay), { width: 200, colour: false })).toMatch(
      /21\.02 lb of Feather meal \(4\.77 lb of each batch, \$21\.02\)/,
    );
  });

  it("adds nothing of what the plan excludes", async () => {
    const plan = planOf({ exclude: ["feather"] });
    const { against } = await assayOf({ pellets: "60 lb" }, shelf, {}, plan);
    expect(against!.cheapestCost).toBeNull();
    expect(against!.change.status).toBe("impossible");
  });

  it("spreads a mix on the days it names, and gives each plant of a larger bed the same", async () => {
    const plan = planOf({
      target: { ...target({ N: "3 lb" }), uptake: { N: { 50: "50%", 100: "100%" } } },
      applications: [
        { name: "planting", day: 0, share: "50%" },
        { name: "later", day: 50, share: "50%" },
      ],
    });
    const spread = { plants: 50, per_plant: "200 g", times: 1 };
    const once = await assayOf({ pellets: "60 lb" }, shelf, { spread }, plan);
    expect(once.against!.scaledBy).toBe(2);
    expect(once.against!.applications).toEqual([{ name: "planting", day: 0, kg: 20 }]);
    expect(once.warnings.map((warning) => warning.code)).toContain("bed-differs");
    const late = await assayOf({ pellets: "60 lb" }, shelf, { spread: { ...spread, days: [60] } }, plan);
    const nitrogen = late.nutrients!.find((n) => n.nutrient === "N")!;
    expect(nitrogen.checkpoints.map((point) => point.day)).toEqual([50, 100]);
    expect(nitrogen.checkpoints[0]!.availableKg).toBe(0);
    expect(nitrogen.checkpoints[1]!.availableKg).toBeCloseTo(0.8, 9);
  });

  slow(
    "returns the nutrients of the solver's own answer, and finds nothing to change in it",
    async () => {
      let seen = 0;
      for (let seed = 700; seen < 20; seed++) {
        const spec = { ...randomSpec(seed), blend: "one" as const };
        const plan = loadTree(toTree(spec, seed));
        const solution = await solvePlan(plan);
        if (solution.status !== "optimal" || solution.amendments.length === 0) continue;
        seen++;
        const mix = {
          name: "The answer",
          currency: plan.currency,
          units: plan.units,
          portions: solution.amendments.map(({ id, kg }) => ({
            amendment: plan.amendments.find((a) => a.id === id)!,
            kg,
          })),
        };
        const result = await assayMix(mix, plan);
        if (!result.ok) throw new Error(formatProblems(result.problems));
        const { against, nutrients, content, sure } = result.value;
        expect(against!.addStatus, `plan ${seed}`).toBe("none");
        expect(against!.leaveOut.reduce((sum, { saves }) => sum + (saves ?? 0), 0)).toBeCloseTo(0, 6);
        expect(sure!.needs.map(({ nutrient, day }) => [nutrient, day])).toEqual(
          solution.sure!.needs.map(({ nutrient, day }) => [nutrient, day]),
        );
        sure!.needs.forEach(({ p }, i) => {
          expect(p, `plan ${seed}`).toBeCloseTo(solution.sure!.needs[i]!.p, 6);
        });
        expect(against!.change.status, `plan ${seed}`).toBe("none");
        expect(against!.difference!, `plan ${seed}`).toBeCloseTo(0, 6);
        for (const expected of solution.nutrients) {
          const found = nutrients!.find((n) => n.nutrient === expected.nutrient)!;
          expect(found.availableKg).toBeCloseTo(expected.availableKg, 9);
          expect(content[expected.nutrient] ?? 0).toBeCloseTo(expected.appliedKg, 9);
        }
      }
    },
    60_000,
  );

  slow(
    "proves the smallest change of random mixes, and each keeps the plan",
    async () => {
      let seen = 0;
      for (let seed = 900; seen < 20; seed++) {
        const spec = { ...randomSpec(seed), blend: "one" as const };
        const plan = loadTree(toTree(spec, seed));
        const portions = plan.amendments.slice(0, 2).map((amendment, i) => ({ amendment, kg: 5 + 7 * i }));
        const mix = { name: "Two", currency: "USD", units: plan.units, portions };
        const result = await assayMix(mix, plan);
        if (!result.ok) throw new Error(formatProblems(result.problems));
        const { change, misses } = result.value.against!;
        if (change.status !== "found") continue;
        seen++;
        expect(change.verification!.gap).toBeLessThan(1e-6);
        expect(misses.length).toBeGreaterThan(0);
        const moved = change.amendments.reduce((sum, a) => sum + Math.abs(a.toKg - a.fromKg), 0);
        expect(moved).toBeCloseTo(change.kg, 6);
        const toKg = new Map(portions.map(({ amendment, kg }) => [amendment.id, kg]));
        for (const { id, toKg: kg } of change.amendments) toKg.set(id, kg);
        const changed = plan.amendments.map((amendment) => ({
          amendment,
          kg: toKg.get(amendment.id) ?? 0,
        }));
        const again = await assayMix({ ...mix, portions: changed.filter(({ kg }) => kg > 0) }, plan);
        if (!again.ok) throw new Error(formatProblems(again.problems));
        expect(again.value.against!.misses, `plan ${seed}`).toEqual([]);
      }
    },
    60_000,
  );
});

/**
 * The least weight to add and take away, by HiGHS on the model that is written apart from the project: the same
 * rows, and for each amendment what it gains and loses against the mix.
 */
async function referenceChange(spec: Spec, mixKg: readonly number[]): Promise<number | null> {
  const text = referenceText(spec);
  const rows = mixKg.map((kg, i) => {
    const spread = spec.applications.map((_, t) => `+ 1 x_${i}_${t}`).join(" ");
    return ` change_${i}: ${spread} - 1 more_${i} + 1 less_${i} = ${kg}`;
  });
  const goal = mixKg.map((_, i) => `+ 1 more_${i} + 1 less_${i}`).join(" ");
  const changed = text
    .replace(/Minimize\n.*\n/, `Minimize\n weight: ${goal}\n`)
    .replace("\nBounds\n", `\n${rows.join("\n")}\nBounds\n`);
  const answer = (await highs()).solve(changed, { output_flag: false });
  if (answer.Status === "Infeasible") return null;
  if (answer.Status !== "Optimal") throw new Error(answer.Status);
  return answer.ObjectiveValue;
}

describe("what a mix is held against", () => {
  // 30 lb of feather meal, of which 3 lb / 0.13 = 23.076923 are needed; the mix paid 1.00 a pound and the plan pays 2.00.
  it("is at the plan's prices, and says so where the mix has others", async () => {
    const dear = { ...shelf, feather: { ...shelf.feather, packs: [{ size: "1 lb", price: 2 }] } };
    const plan = planOf({ amendments: dear });
    const { against, cost, warnings } = await assayOf({ feather: "30 lb" }, shelf, {}, plan);
    expect(cost).toBeCloseTo(30, 9);
    expect(against!.cost).toBeCloseTo(60, 9);
    expect(against!.leaveOut[0]!.saves).toBeCloseTo(2 * (30 - 3 / 0.13), 6);
    expect(warnings.find(({ code }) => code === "prices-differ")?.text).toBe(
      "The mix and the plan have different prices for Feather meal; what is held against the plan is at the plan's prices.",
    );
    const same = await assayOf({ feather: "30 lb" }, shelf, {}, planOf());
    expect(same.warnings.map(({ code }) => code)).not.toContain("prices-differ");
  });

  it("keeps its own price where the plan cannot buy it", async () => {
    const plan = planOf({
      amendments: { pellets: shelf.pellets, feather: { ...shelf.feather, packs: [], stock: "10 lb" } },
    });
    const { against } = await assayOf({ feather: "30 lb" }, shelf, {}, plan);
    // 10 of 30 lb are in the shed.
    expect(against!.cost).toBeCloseTo(20, 9);
  });

  // A soft cap of phosphate that no mix keeps: pellets alone bring N, 3 lb of it with 2.25 lb P2O5 where 1 lb was asked.
  it("is a soft cap as `solve` settles it", async () => {
    const plan = planOf({ amendments: { pellets: shelf.pellets }, target: target({ N: "3 lb" }) });
    const soft = {
      ...plan,
      demands: [
        ...plan.demands,
        {
          ...plan.demands[0]!,
          nutrient: "P2O5" as const,
          minKg: 0,
          maxKg: null,
          appliedSoftMaxKg: POUND,
        },
      ],
    };
    const { against, warnings } = await assayOf({ pellets: "75 lb" }, shelf, {}, soft);
    expect(against!.misses).toEqual([]);
    expect(warnings.map(({ code }) => code)).toContain("phosphorus-unavoidable");
    // One percent above what cannot be avoided is the cap: 80 lb with 2.4 lb of P2O5 is over 2.2725 lb.
    const more = await assayOf({ pellets: "80 lb" }, shelf, {}, soft);
    expect(more.against!.misses.map(({ side }) => side)).toEqual(["over"]);
  });
});

describe("the smallest change against a separately written model solved by HiGHS", () => {
  slow(
    "moves the same weight on random plans",
    async () => {
      const seen = { none: 0, found: 0, impossible: 0 };
      for (let seed = 1300; seed < 1300 + seeds(12, 40); seed++) {
        const spec = { ...randomSpec(seed), blend: "one" as const };
        const plan = loadTree(toTree(spec, seed));
        const mixKg = spec.amendments.map((_, i) => (i < 3 ? 4 + 9 * i : 0));
        const portions = plan.amendments.map((amendment) => ({
          amendment,
          kg: mixKg[spec.amendments.findIndex((a) => a.id === amendment.id)]!,
        }));
        const mix = { name: "Three", currency: "USD", units: plan.units, portions };
        const result = await assayMix(mix, plan);
        if (!result.ok) throw new Error(formatProblems(result.problems));
        const { change } = result.value.against!;
        seen[change.status]++;
        const expected = await referenceChange(spec, mixKg);
        expect(change.status === "impossible", `plan ${seed}`).toBe(expected === null);
        if (expected !== null)
          expect(Math.abs(change.kg - expected), `plan ${seed}`).toBeLessThan(1e-5 * Math.max(1, expected));
      }
      expect(seen.found).toBeGreaterThan(seeds(2, 10));
      expect(seen.impossible).toBeGreaterThan(seeds(-1, 0));
    },
    60_000,
  );
});

describe("the report of an assay", () => {
  it("fits 80 columns and holds no stray values", async () => {
    const assay = await assayOf(
      { pellets: "40 lb", feather: "10 lb" },
      shelf,
      { spread: { plants: 100, per_plant: "100 g", times: 2 } },
      planOf(),
    );
    const text = renderTerminal(assayReport(assay), { width: 80, colour: false });
    for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    expect(text).not.toMatch(/NaN|undefined|null|Infinity/);
    expect(text).toContain("The smallest change that would meet the plan");
  });
});
