import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { chancesOf } from "../../src/field/chances.ts";
import { SeasonWork } from "../../src/field/sureness.ts";
import { loadPlan } from "../../src/files/load.ts";
import { Deadline, errandFor, solveBeds } from "../../src/flow/purchase.ts";
import { buySurely } from "../../src/flow/purchase-sure.ts";
import { amountsOf, solveBlend } from "../../src/flow/solve-blend.ts";
import { SureSearch } from "../../src/flow/sure.ts";
import { usedUpChances } from "../../src/flow/used-up.ts";
import type { Plan, SureAsked } from "../../src/model.ts";
import type { Nutrient } from "../../src/nutrients.ts";
import { formatProblems } from "../../src/problem.ts";
import { layOutSpread } from "../../src/season/spread.ts";
import { checkSure, isSureProven } from "../../src/solver/verify-sure.ts";
import { bought as shopPlans, weighed as solvePlan } from "../helpers/answers.ts";
import { projectReader } from "../helpers/files.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { faultOf, sureCase } from "../helpers/sure-plans.ts";
import { testWorld } from "../helpers/world.ts";

const ROOT = join(import.meta.dirname, "..", "..");

function demo(
  overrides: Record<string, unknown> = {},
  planFile = "examples/brassica-terraces/plan.yaml",
): Plan {
  const loaded = loadPlan(projectReader, {
    planFile,
    cwd: ROOT,
    recipesDir: join(ROOT, "recipes"),
    overrides: Object.entries(overrides).map(([key, value]) => ({
      path: key.split("."),
      value,
      flag: `--set ${key}`,
    })),
  });
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.plan;
}

const each = (p: number, ...nutrients: Nutrient[]): SureAsked => ({
  each: nutrients.map((nutrient) => ({ nutrient, p })),
});

/** What a search of its own finds on the demo, before any season is worked. */
async function costAt(p: number, nutrients: Nutrient[]): Promise<number> {
  const plan = demo();
  const plain = await solveBlend(plan);
  if (plain.answer.status !== "optimal") throw new Error("the demo has a mix");
  const search = new SureSearch(plan, plain, plain.answer.x);
  const reached = await search.at(new Map(nutrients.map((nutrient) => [nutrient, p])));
  if (!reached.found) throw new Error("no mix is that sure");
  const { rows, found } = reached;
  const { x, y, cuts } = found;
  const certificate = { x, y, cuts };
  expect(isSureProven(checkSure(plain.program, rows, certificate))).toBe(true);
  const longer = cuts.map((cut) => ({ ...cut, u: cut.u.map((entry) => 1.01 * entry) }));
  expect(isSureProven(checkSure(plain.program, rows, { ...certificate, cuts: longer }))).toBe(false);
  const dearer = y.map((dual) => 1.01 * dual);
  expect(isSureProven(checkSure(plain.program, rows, { ...certificate, y: dearer }))).toBe(false);
  return found.check.cost;
}

describe("the demo", () => {
  // Worked out apart from this project: a second program in another language, with the release curves integrated by
  // Simpson's rule and the cuts added to scipy's linprog. An earlier prototype found 97.8500981116 for the second.
  it.each([
    [0.8, ["N", "S"], 92.86737273904768],
    [0.9, ["N", "S"], 97.8500981116],
    [0.95, ["N", "S"], 102.33245667752283],
    [0.9, ["K2O"], 85.92108135779131],
    [0.9, ["Mg"], 84.87713799432191],
    [0.9, ["P2O5"], 114.74606497133402],
    [0.9, ["N", "K2O", "Mg", "S"], 99.33827298274534],
    [0.9, ["N", "P2O5", "K2O", "Mg", "S"], 126.83321538437805],
    [0.95, ["N", "P2O5", "K2O", "Mg", "S"], 186.09240266944533],
  ] as [number, Nutrient[], number][])("at %f of %j costs %f", async (p, nutrients, cost) => {
    expect(Math.abs((await costAt(p, nutrients)) / cost - 1)).toBeLessThan(1e-8);
  });

  it("says why its nitrogen is in doubt, most first", async () => {
    const { sure } = await solvePlan({ ...demo(), sure: each(0.9, "N", "S") });
    const [nitrogen] = sure!.certificate;
    const all = nitrogen!.weakSeason.reduce((sum, { kg }) => sum + kg, 0);
    const parts = nitrogen!.weakSeason.map(({ what, kg }) => [what, Math.round((100 * kg) / all)]);
    expect(parts.slice(0, 4)).toEqual([
      ["releases", 46],
      ["feather-meal", 28],
      ["turkey-litter-pellets", 17],
      ["crimson clover turned in", 7],
    ]);
    expect(nitrogen!.price * 0.45359237).toBeCloseTo(12.48, 1);
    const expected = sure!.needs.find(({ nutrient, day }) => nutrient === "N" && day === 100)!;
    // In the weak season it has just what it needs.
    expect(expected.expectKg - all).toBeGreaterThan(expected.needKg * 0.998);
    expect(sure!.overMax.find(({ nutrient }) => nutrient === "N")!.p).toBeCloseTo(0.001, 3);
  });

  it("is met in 5 seasons of 10 where nobody asks, and all its needs together far less often", async () => {
    const { sure, ...plain } = await solvePlan(demo());
    expect(plain.cost.total).toBeCloseTo(84.65, 2);
    for (const { day, p } of sure!.needs) if (day === 100) expect(p).toBeCloseTo(0.5, 6);
    expect(sure!.asked).toEqual([]);
  });

  it("says how often all needs are met together where that is asked, as worked seasons find too", async () => {
    const plan = demo();
    const { sure } = await solvePlan(plan, undefined, undefined, { detail: "whole" });
    // By 100,000 draws of an earlier prototype: 7.6 %.
    expect(Math.abs(sure!.together! - 0.076)).toBeLessThan(0.005);
    // By the multivariate normal law of SciPy 1.17, with the covariances of a model written a second time, in Python.
    expect(Math.abs(sure!.together! - 0.079331)).toBeLessThan(0.0001);
    // What is multiplied out leans a little to the low side, and each need here lies on its mean.
    const { answer, program } = await solveBlend(plan);
    const amounts = amountsOf(plan, program, answer.status === "optimal" ? answer.x : []);
    expect(Math.abs(new SeasonWork(plan, 16384).work(amounts).together - sure!.together!)).toBeLessThan(
      0.015,
    );
  });

  it("counts by the season what the closed form says", async () => {
    const plan = { ...demo(), sure: each(0.9, "N", "K2O", "Mg", "S") };
    const { answer, program, season } = await solveBlend(plan);
    const amounts = amountsOf(plan, program, answer.status === "optimal" ? answer.x : []);
    const closed = chancesOf(plan, layOutSpread(plan, season), amounts);
    const worked = new SeasonWork(plan).work(amounts);
    worked.needs.forEach(({ nutrient, met }, k) => {
      expect(closed[k]!.nutrient).toBe(nutrient);
      // P2O5 lies on its mean, and what is multiplied out leans a little to the low side.
      expect(Math.abs(closed[k]!.p - met)).toBeLessThan(0.03);
    });
    expect(worked.together).toBeLessThan(0.5);
    expect(new SeasonWork(plan).work(amounts)).toEqual(worked);
  });

  it("asks for more where the worked seasons find less", async () => {
    const { sure, cost } = await solvePlan({ ...demo(), sure: each(0.8, "N") });
    const nitrogen = sure!.needs.find(({ nutrient, day }) => nutrient === "N" && day === 100)!;
    // Aimed at to a quarter of a point.
    expect(nitrogen.pChecked).toBeGreaterThanOrEqual(0.7975);
    expect(nitrogen.p).toBeGreaterThan(0.8 - 1e-9);
    expect(cost.total).toBeGreaterThan(92.8);
    expect(cost.total).toBeLessThan(93.3);
  });

  it("costs more the surer it is", async () => {
    let before = 0;
    for (const p of [0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99]) {
      const { cost } = await solvePlan({ ...demo(), sure: each(p, "N", "S") });
      expect(cost.total).toBeGreaterThan(before);
      before = cost.total!;
    }
  });

  slow("is what knowing better could save", async () => {
    const { sure, surer } = await solvePlan({ ...demo(), sure: each(0.9, "N", "S") }, undefined, undefined, {
      detail: "whole",
    });
    const saves = (what: string, id?: string) =>
      sure!.worth!.find((one) => one.what === what && one.id === id)!.saves;
    // A separately written prototype: 5.34, 20.31 (for a test without error) and 0.19.
    expect(saves("soil-p-k")).toBeCloseTo(5.34, 1);
    expect(saves("soil-nitrate")).toBeCloseTo(20.2, 0);
    expect(saves("analysis", "turkey-litter-pellets")).toBeCloseTo(0.19, 1);
    expect(surer!.map(({ p }) => p)).toEqual([0.5, 0.7, 0.8, 0.9, 0.95]);
  });

  it("shows the surest mix where none is as sure as asked, and what is in the way", async () => {
    const solution = await solvePlan({ ...demo(), sure: each(0.99, "P2O5") });
    expect(solution.status).toBe("infeasible");
    const [conflict] = solution.conflicts;
    expect(conflict!.demands).toContain("P2O5 met in 99% of seasons");
    expect(conflict!.demands.join()).toMatch(/at most 4\.13 lb of P2O5 applied/);
    // A separately written prototype: at most 95.8 %.
    expect(conflict!.relaxations![0]!.to).toBeCloseTo(0.958, 2);
    expect(solution.closest!.amendments.length).toBeGreaterThan(2);
  });

  // An earlier prototype, risk shared out: 96.00, 101.26 and 105.86; 101.77, 106.50 and 110.78 with one level for all.
  it.each([
    [0.8, 96.0],
    [0.9, 101.26],
    [0.95, 105.86],
  ])(
    "meets N, K2O, Mg and S in the same season in %f, the risk shared out to least cost",
    async (p, cost) => {
      const plan = demo();
      const plain = await solveBlend(plan);
      if (plain.answer.status !== "optimal") throw new Error("the demo has a mix");
      const nutrients: Nutrient[] = ["N", "K2O", "Mg", "S"];
      const search = new SureSearch(plan, plain, plain.answer.x);
      const { found } = await search.aim(new Map(), { nutrients, p });
      expect(found!.check.cost).toBeLessThan(cost + 0.005);
      expect(found!.check.cost).toBeGreaterThan(cost - 0.1);
      const worked = new SeasonWork(plan, 16384).work(search.amounts(found!), ({ nutrient }) =>
        nutrients.includes(nutrient),
      );
      expect(Math.abs(worked.together - p)).toBeLessThan(0.015);
    },
  );

  it("costs more the surer all needs together are to be, and never more than one level for all", async () => {
    const plan = demo();
    const plain = await solveBlend(plan);
    if (plain.answer.status !== "optimal") throw new Error("the demo has a mix");
    const nutrients: Nutrient[] = ["N", "P2O5", "K2O", "Mg", "S"];
    let before = 0;
    // With one level for all: 98.83 at 50 % and 174.48 at 80 %, by an earlier prototype; the most was 84.8 %.
    const most = new Map([
      [0.51, 99.2],
      [0.8, 174.48],
    ]);
    for (const p of seeds([0.51, 0.8], [0.51, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9])) {
      const { found } = await new SureSearch(plan, plain, plain.answer.x).aim(new Map(), { nutrients, p });
      expect(found!.check.cost).toBeGreaterThan(before);
      expect(found!.check.cost).toBeLessThan(most.get(p) ?? Infinity);
      before = found!.check.cost;
    }
  });

  it("finds mixes for needs together that one level for all would miss, and says how sure they are", async () => {
    const nutrients: Nutrient[] = ["N", "P2O5", "K2O", "Mg", "S"];
    // With one level for all needs 84.8 % is the most, by an earlier prototype.
    const { sure, status } = await solvePlan({
      ...demo(),
      sure: { each: [], together: { nutrients, p: 0.88 } },
    });
    expect(status).toBe("optimal");
    expect(sure!.together).toBeGreaterThan(0.88 - 0.0025);
    expect([sure!.bound, sure!.gap]).toEqual([null, null]);
    expect(sure!.notes!.join()).toContain("might cost a little less");
  });

  it("keeps to few amendments and stays as sure", async () => {
    const plan = { ...demo({ simple: { most: 5 } }), sure: each(0.9, "N") };
    const solution = await solvePlan(plan);
    expect(solution.amendments.length).toBeLessThanOrEqual(5);
    const nitrogen = solution.sure!.needs.filter(({ nutrient }) => nutrient === "N");
    for (const { p } of nitrogen) expect(p).toBeGreaterThanOrEqual(0.9 - 1e-6);
  });
});

describe("nothing asked, and nothing in doubt", () => {
  it("at 50 % is today's answer to the last digit", async () => {
    const { sure: _, inputs: __, plan: _p, verification: _v, surer: _s, ...plain } = await solvePlan(demo());
    const {
      sure: ___,
      inputs: ____,
      plan: _q,
      verification: _w,
      surer: _t,
      ...half
    } = await solvePlan({ ...demo(), sure: each(0.5, "N", "S") });
    // Whoever asks for sureness is told what it leaves out, and how sure each bed is; nothing else differs.
    const rest = (one: object): string =>
      JSON.stringify(one, (key, value: unknown) => {
        if (key === "sure") return undefined;
        if (!Array.isArray(value)) return value;
        return value.filter((item: { code?: string } | null) => item?.code !== "plants-differ");
      });
    expect(rest(half)).toBe(rest(plain));
  });

  it("without any spread is today's answer at any sureness", async () => {
    const certain = {
      varies: { releases: "0%", soil_temperature: "0 C", spreading: "0%" },
      kinds: Object.fromEntries(
        ["animal", "plant", "mineral", "manure-processed", "salt"].map((kind) => [kind, { varies: "0%" }]),
      ),
      releases: Object.fromEntries(
        ["fast", "medium", "slow", "very-slow"].map((name) => [name, { varies: "0%" }]),
      ),
      "credits.0.varies": "0%",
    };
    const plain = await solvePlan(demo());
    const sure = await solvePlan(demo({ ...certain, sure: "95%" }));
    expect(sure.cost.total).toBeCloseTo(plain.cost.total!, 9);
    expect(sure.amendments.map(({ id }) => id)).toEqual(plain.amendments.map(({ id }) => id));
    for (const { nutrient, p, pChecked } of sure.sure!.needs)
      expect([p, pChecked]).toEqual([1, nutrient === "N" || nutrient === "S" ? 1 : null]);
  });
});

describe("one material, in closed form", () => {
  // need / (g (1 - z cv)): a meal of 13 % N that is all there at once and varies by 10 %, 3 lb of N needed. At 90 % with
  // z = 1.281552: 3 / (0.13 x 0.8718448) = 26.46907 lb; at 50 % 23.07692 lb.
  const meal = (sure?: string) =>
    loadTree({
      plan: "Bed",
      units: "us",
      varies: { spreading: "0%" },
      amendments: {
        meal: {
          name: "Meal",
          analysis: { N: 13 },
          packs: [{ size: "1 lb", price: 2 }],
          release: "at-once",
          varies: "10%",
        },
      },
      target: { target: "Any", season: "100 days", need: { per: "bed", N: "3 lb" } },
      bed: { area: "100 sq ft" },
      ...(sure === undefined ? {} : { sure }),
    });
  const POUND = 0.45359237;
  const needKg = 3 * POUND;
  /** By Abramowitz and Stegun, table 26.1 (from memory): the 80, 90, 95 and 99 % points of the normal law. */
  const Z: Readonly<Record<string, number>> = {
    "80%": 0.841621,
    "90%": 1.281552,
    "95%": 1.644854,
    "99%": 2.326348,
  };

  it.each(Object.entries(Z))("at %s weighs need / (g (1 - z cv))", async (sure, z) => {
    const plan = meal(sure);
    const plain = await solveBlend(meal());
    if (plain.answer.status !== "optimal") throw new Error("it has a mix");
    const search = new SureSearch(plan, plain, plain.answer.x);
    const { found } = await search.at(new Map([["N", Number.parseFloat(sure) / 100]]));
    expect(found!.x[0]! / POUND).toBeCloseTo(3 / (0.13 * (1 - 0.1 * z)), 4);
  });

  it("pays where too little costs as the newsvendor's rule says: p* = 1 - c / v", async () => {
    // c: what one more kg of assured need costs, the price of the meal's nitrogen and of its own doubt. Where a kg too
    // little costs v, the level that is best is the one at which what is said to pay is v.
    const { sure } = await solvePlan(meal("90%"));
    const { perKg } = sure!.paysAbovePerKg!;
    const c = 2 / POUND / (0.13 * (1 - 0.1 * Z["90%"]!));
    expect(1 - c / perKg).toBeCloseTo(0.9, 2);
    // The whole bill, spread cost and expected loss, by a grid over weights and the normal law integrated by hand: its
    // least is where the meal is as sure as that, the rule being exact but for the doubt that more meal brings itself.
    const bill = (kg: number): number => {
      let loss = 0;
      const steps = 4000;
      for (let k = 0; k < steps; k++) {
        const xi = -8 + (16 * (k + 0.5)) / steps;
        const density = Math.exp((-xi * xi) / 2) / Math.sqrt(2 * Math.PI);
        loss += Math.max(0, needKg - 0.13 * kg * (1 + 0.1 * xi)) * density * (16 / steps);
      }
      return (2 / POUND) * kg + perKg * loss;
    };
    const kgAt = (z: number): number => needKg / (0.13 * (1 - 0.1 * z));
    let best = 0;
    for (let z = 0; z <= 3; z += 0.01) if (bill(kgAt(z)) < bill(kgAt(best))) best = z;
    // The rule leaves out that more meal brings more doubt: the best is a little surer or as sure.
    expect(Math.abs(best - Z["90%"]!)).toBeLessThan(0.2);
    expect(bill(kgAt(Z["90%"]!)) - bill(kgAt(best))).toBeLessThan(0.01 * bill(kgAt(best)));
  });
});

describe("purchases as sure as asked", () => {
  slow("are of packs whose mix holds the margin, and cost no less the surer they are", async () => {
    let before = 0;
    for (const p of [0.5, 0.8, 0.9, 0.95]) {
      const plan = { ...demo(), sure: each(p, "N", "S") };
      const found = await shopPlans([plan], { detail: "page" });
      if (!found.ok) throw new Error("a purchase is found");
      const { mixes, total, sure, purchases } = found.value;
      const amounts = plan.amendments.map(({ id }) => {
        const kg = mixes[0]!.materials.find((one) => one.id === id)?.kg ?? 0;
        return plan.applications.map(({ share }) => kg * share);
      });
      // By worked seasons, which the search for the packs knows nothing of.
      const worked = new SeasonWork(plan).work(amounts, ({ nutrient }) => "NS".includes(nutrient));
      for (const { met } of worked.needs) expect(met).toBeGreaterThan(p - (p > 0.5 ? 0.01 : 0.03));
      const chances = sure!.needs.filter(({ nutrient }) => "NS".includes(nutrient)).map((need) => need.p);
      expect(Math.min(...chances)).toBeGreaterThan(p - 1e-4);
      expect(sure!.usedUp!).toBeGreaterThanOrEqual(Math.min(...chances));
      // No more is mixed than is bought and in the shed.
      for (const { id, boughtKg } of purchases) {
        const a = plan.amendments.findIndex((one) => one.id === id);
        const usedKg = amounts[a]!.reduce((sum, kg) => sum + kg, 0);
        expect(usedKg).toBeLessThanOrEqual(boughtKg + plan.amendments[a]!.stockKg + 1e-6);
      }
      expect(total!).toBeGreaterThanOrEqual(before - 1e-6);
      before = total!;
    }
  });
});

describe("advice beside a purchase", () => {
  it("comes in time where a most is so large that no mix comes near it", async () => {
    const { demands, ...plan } = demo({}, "tests/cases/two-meals/plan.yaml");
    // Such a most spoilt the scale of its row: the search for bags and for the surest mix on them took 73 s.
    const endless = demands.map((one) => (one.nutrient === "N" ? { ...one, maxKg: 9.9e9 } : one));
    const bare = demands.map((one) => (one.nutrient === "N" ? { ...one, maxKg: null } : one));
    const [found, without] = [
      await shopPlans([{ ...plan, demands: endless }], { detail: "page" }),
      await shopPlans([{ ...plan, demands: bare }], { detail: "page" }),
    ];
    if (!found.ok || !without.ok) throw new Error("a purchase is found");
    expect(found.value.total).toBe(without.value.total);
    expect(found.value.sure!.usedUp).toBe(without.value.sure!.usedUp);
  });

  it("is left out once its time is over", async () => {
    const solved = await solveBeds([demo({}, "tests/cases/two-meals/plan.yaml")]);
    if (!("beds" in solved)) throw new Error("the plan has a mix");
    const purchased = await buySurely(errandFor(solved.beds, {}, new Deadline(60, () => 0)));
    if (!("found" in purchased)) throw new Error("a purchase is found");
    const { errand, found, mixes } = purchased;
    const [inTime] = await usedUpChances(purchased, found.bought);
    expect(inTime).toBeGreaterThanOrEqual(0.5);
    // Every question of the time finds another hour gone.
    let hours = 0;
    const late = { ...errand, deadline: new Deadline(1, () => 3_600_000 * hours++) };
    expect(await usedUpChances({ errand: late, mixes }, found.bought)).toEqual([undefined]);
  });
});

describe("random plans, by seasons drawn from a model written a second time", () => {
  it.each(seeds([1], [0, 1, 2, 3]))("are as sure as asked, group %d", async (group) => {
    let binding = 0;
    for (let seed = 20 * group; seed < 20 * group + 20; seed++) {
      const one = await sureCase(seed, 8000);
      if (one.binds) binding++;
      expect(`${seed} ${faultOf(one, 0.03)}`).toBe(`${seed} null`);
    }
    expect(binding).toBeGreaterThan(1);
  });

  slow("cost no less than the plain mix, and are the plain mix at 50 %", async () => {
    for (let seed = 100; seed < seeds(110, 130); seed++) {
      const plan = loadTree(toTree(randomSpec(seed), seed));
      const plain = await solvePlan(plan);
      const half = await solvePlan({ ...plan, sure: each(0.5, "N") });
      expect(half.cost).toEqual(plain.cost);
      expect(half.amendments).toEqual(plain.amendments);
    }
  });
});

describe("files", () => {
  const tree = (more: Record<string, unknown>) => ({
    plan: "Bed",
    amendments: {
      pellets: {
        name: "Pellets",
        analysis: { N: 4, P2O5: 3 },
        packs: [{ size: "50 lb", price: 15 }],
        release: { N: { class: "medium", varies: "10%" }, other: "at-once" },
        varies: { N: "8%", other: "20%" },
        analysed: { N: 4.4, samples: 1, by: "county lab" },
      },
    },
    target: { target: "Any", season: "100 days", need: { per: "bed", N: "1 lb", P2O5: "0.5 lb" } },
    bed: { area: "100 sq ft" },
    ...more,
  });

  it("weigh a laboratory's result with the label by precision", () => {
    const [pellets] = loadTree(tree({})).amendments;
    expect(100 * pellets!.analysis.N!).toBeCloseTo(4.29, 2);
    expect(100 * pellets!.varies!.byNutrient.N!).toBeCloseTo(4.24, 2);
    expect(pellets!.varies!.other).toBe(0.2);
    expect(pellets!.release.byNutrient.N).toMatchObject({ label: "medium", varies: 0.1 });
  });

  it("say what to be sure of in the plan or the target", () => {
    expect(loadTree(tree({ sure: "90%" })).sure).toEqual({ each: [{ nutrient: "N", p: 0.9 }] });
    expect(loadTree(tree({ sure: { P: "80%", N: "95%" } })).sure!.each).toEqual([
      { nutrient: "N", p: 0.95 },
      { nutrient: "P2O5", p: 0.8 },
    ]);
    expect(loadTree(tree({ sure: { each: "70%" } })).sure!.each).toHaveLength(2);
    expect(loadTree(tree({ sure: { together: "70%" } })).sure).toEqual({
      each: [],
      together: { nutrients: ["N", "P2O5"], p: 0.7 },
    });
    const { target, ...others } = tree({});
    expect(loadTree({ ...others, target: { ...target, sure: { N: "85%" } } }).sure!.each[0]!.p).toBe(0.85);
  });

  it("let a class vary without another curve, and a kind by its own", () => {
    const plan = loadTree(
      tree({ releases: { medium: { varies: "30%" } }, varies: { soil_temperature: "2 F", releases: "5%" } }),
    );
    expect(plan.amendments[0]!.release.byNutrient.N!.varies).toBe(0.1);
    expect(plan.varies!.soilTemperatureC).toBeCloseTo(1.111, 3);
    expect(plan.varies!.releases).toBe(0.05);
  });
});

describe("check", () => {
  const file = (pellets: string) =>
    `amendments:\n  heap:\n    name: Heap\n    analysis: {N: 2, P2O5: 2}\n    bulk: {price: 30, per: 1 ton}\n    release: slow\n    density: 0.5 kg/L\n    ${pellets}\n`;
  async function warned(line: string): Promise<string> {
    const world = testWorld({
      cwd: "/beds",
      files: { read: (path) => (path === "/beds/a.yaml" ? file(line) : null) },
    });
    expect([await main(["check", "a.yaml"], world), world.written.stderr]).toEqual([0, ""]);
    return world.written.stdout.replace(/\s+/g, " ");
  }

  it("warns of a usual spread that stands in for what has no label", async () => {
    // The usual figures, as `list varies` has them: raw manure N 20, P2O5 30, K2O 28, others 30 %.
    expect(await warned("kind: manure-raw")).toContain(
      "the usual for manure-raw is taken (N 20%, P2O5 30%, K2O 28%, others 30%)",
    );
    expect(await warned("kind: compost")).toContain("the usual for compost");
    expect(await warned("organic: unknown")).toContain("the usual for a material of no kind");
    for (const known of [
      "kind: mineral",
      "{kind: compost, varies: 25%}",
      "{kind: compost, analysed: {N: 2.1}}",
    ])
      expect(await warned(known.replace(/^\{(.*)\}$/, "$1").replace(", ", "\n    "))).not.toContain(
        "the usual for",
      );
  });
});
