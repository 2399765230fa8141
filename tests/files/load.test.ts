import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { parse as parseYaml, stringify } from "yaml";
import {
  checkFiles,
  type FileReader,
  type LoadedPlan,
  loadAmendments,
  loadCases,
  loadMix,
  loadPlan,
  loadTarget,
  type Override,
  type PlanRequest,
  parsePath,
  readFlagValue,
} from "../../src/files/load.ts";
import { RELEASE_CLASSES } from "../../src/files/release-classes.ts";
import { jsonSchema } from "../../src/files/schema/json-schema.ts";
import { parseTree } from "../../src/files/yaml.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems, type Result } from "../../src/problem.ts";
import { diskReader, memoryReader } from "../helpers/files.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { ROOT } from "../helpers/world.ts";

const WHERE = { cwd: "/garden", recipesDir: "/shipped" };

// NIST SP 811 and Handbook 44 once more, typed here and not taken from the program.
const LB = 0.45359237;
const SQ_FT = 0.09290304;
const ACRE = 43_560 * SQ_FT;
const CUP_L = 0.2365882365;
// P2O5 from P by the atomic weights 30.974 and 15.999 (IUPAC 2021, Pure Appl. Chem. 94:573).
const P_TO_P2O5 = (2 * 30.974 + 5 * 15.999) / (2 * 30.974);

const AMENDMENTS = `
amendments:
  feather-meal:
    name: Feather meal
    analysis: {N: 13, S: 1.5}
    packs:
      - {size: 50 lb, price: 38.50}
      - {size: 5 lb, price: 9.25}
    supplier: farm-store
    release: {N: slow, other: at-once}
    density: 0.60 kg/L
    stock: 12 lb
    organic: listed
    kind: animal
  bone-meal:
    analysis: {N: 3, P: 6.5, Ca: 24%}
    bulk: {price: 0.90, per: lb}
    release: {at_once: 5%, later: 70%, half_life: 18 days}
    organic: restricted
    cce: 20%
    salt_index: 3.5
  pellets:
    analysis: {N: 4, P2O5: 3, K2O: 2}
    packs: [{size: 1 cu yd, price: 90}]
    density: 42 lb/cu ft
    release: {points: {0: 5%, 28: 45%, 84: 75%}, q10: 1.5, reference: 68 F}
  dust:
    analysis: {K2O: 5}
`;
const TARGET = `
target: Any fruit
season: 120 days
need:
  per: 1000 sq ft
  N: {min: 3 lb, max: 4 lb}
  P: 0.5 lb
applied_max: {per: 1000 sq ft, P2O5: 4 lb}
uptake:
  N: {30: 10%, 60: 45%, 90: 85%, 120: 100%}
ahead_max: {per: 1000 sq ft, N: 1.5 lb}
`;
const PLAN = `
plan: Back field
amendments: amendments.yaml
target: target.yaml
bed: {plants: 240, area: 1500 sq ft, rows: 6, row_length: 60 ft}
soil_temperature: {60: 20 C, 0: 57.2 F}
credits:
  - {from: compost, per: acre, N: 20 lb, P: 5 lb, release: slow, day: -20}
applications:
  - {name: later, day: 2 weeks, share: 30%}
  - {name: planting, day: 0, share: 40%}
  - {name: fruit set, day: day 45, share: 30%}
blend: one
batch: {volume: 6 cu ft}
scale: 0.25 lb
limits:
  pellets: {min_share: 25%, max: 40 lb}
  feather-meal: {max_share: 30%, min: 2 lb}
simple: {most: 5, least: 1 lb}
suppliers: {farm-store: {delivery: 35, free_over: 250}}
harvest: {first: day 75, touches_soil: no}
`;
const FILES = {
  "/garden/amendments.yaml": AMENDMENTS,
  "/garden/target.yaml": TARGET,
  "/garden/plan.yaml": PLAN,
  "/shipped/crops/pepper.yaml": TARGET.replace("Any fruit", "Pepper"),
  "/shipped/amendments/meals.yaml": "amendments: {soy-meal: {analysis: {N: 7}, stock: 3 lb}}",
};

function farm(changes: Readonly<Record<string, string>> = {}): FileReader {
  return memoryReader({ ...FILES, ...changes });
}
function load(
  changes: Readonly<Record<string, string>> = {},
  request: Partial<PlanRequest> = {},
): Result<LoadedPlan> {
  return loadPlan(farm(changes), { ...WHERE, planFile: "plan.yaml", ...request });
}
function loaded(changes: Readonly<Record<string, string>> = {}, request: Partial<PlanRequest> = {}): Plan {
  const result = load(changes, request);
  if (!result.ok) throw new Error(formatProblems(result.problems));
  return result.value.plan;
}
const withPlan = (from: string | RegExp, to: string): Record<string, string> => ({
  "/garden/plan.yaml": PLAN.replace(from, to),
});
const over = (path: string, value: unknown, flag = `--set ${path}`): Override => ({
  path: parsePath(path)!,
  value,
  flag,
});

describe("a plan that is no map", () => {
  const io = memoryReader({ "/garden/plan.yaml": "- 3\n" });
  it.each([
    ["by itself", []],
    ["with flags over it", [{ path: ["bed", "plants"], value: 240, flag: "--plants" }]],
  ] as [string, Override[]][])("is said to be none, and nothing is missed in it, %s", (_, overrides) => {
    const loaded = loadPlan(io, { ...WHERE, planFile: "plan.yaml", overrides });
    expect(!loaded.ok && loaded.problems.map(({ code }) => code)).toEqual(["type-wrong"]);
    expect(!loaded.ok && formatProblems(loaded.problems)).toMatch(/^plan\.yaml:1:1: found a list here/);
  });
});

describe("a whole plan", () => {
  const plan = loaded();

  it("keeps names and choices", () => {
    expect(plan).toMatchObject({
      name: "Back field",
      currency: "USD",
      units: "us",
      targetName: "Any fruit",
      seasonDays: 120,
      blend: "one",
    });
    expect(plan.bed).toEqual({ plants: 240, areaM2: 1500 * SQ_FT, rows: 6, rowLengthM: 60 * 0.3048 });
    expect(plan.scaleKg).toBeCloseTo(0.25 * LB, 12);
    expect(plan.batch).toEqual({ litres: expect.closeTo(6 * 28.316846592, 9) as number });
    expect(plan.simple).toEqual({ most: 5, leastKg: LB });
    expect(plan.suppliers).toEqual([{ id: "farm-store", delivery: 35, freeOver: 250 }]);
    expect(plan.harvest).toEqual({ firstDay: 75, touchesSoil: false });
    expect(plan.amendments.map((a) => a.id)).toEqual(["bone-meal", "feather-meal", "pellets"]);
    expect(plan.leftOut).toEqual([{ id: "dust", why: "not buyable" }]);
  });

  it("converts analyses, prices, packs and stock", () => {
    const [bone, feather, pellets] = plan.amendments;
    expect(bone?.analysis.P2O5).toBeCloseTo(0.065 * P_TO_P2O5, 12);
    expect(bone?.analysis.Ca).toBeCloseTo(0.24, 12);
    expect(bone?.bulkPricePerKg).toBeCloseTo(0.9 / LB, 12);
    expect(bone).toMatchObject({
      name: "bone meal",
      organic: "restricted",
      cce: 0.2,
      saltIndex: 3.5,
      stockKg: 0,
    });
    expect(feather?.packs).toEqual([
      { sizeKg: 50 * LB, price: 38.5 },
      { sizeKg: expect.closeTo(5 * LB, 12) as number, price: 9.25 },
    ]);
    expect(feather?.stockKg).toBeCloseTo(12 * LB, 12);
    // A cubic yard at 42 lb per cubic foot weighs 27 x 42 lb.
    expect(pellets?.packs[0]?.sizeKg).toBeCloseTo(27 * 42 * LB, 9);
  });

  it("gives every nutrient its curve", () => {
    const [bone, feather, pellets] = plan.amendments;
    expect(feather?.release.byNutrient.N).toEqual({ label: "slow", curve: RELEASE_CLASSES.slow.curve });
    expect(feather?.release.other).toEqual({ label: "at-once", curve: RELEASE_CLASSES["at-once"].curve });
    expect(bone?.release.other).toEqual({
      label: "inline",
      curve: { kind: "pool", atOnce: 0.05, later: 0.7, halfLifeDays: 18, q10: 2, referenceC: 25 },
    });
    expect(pellets?.release.other).toEqual({
      label: "measured",
      curve: {
        kind: "points",
        points: [
          [0, 0.05],
          [28, 0.45],
          [84, 0.75],
        ],
        q10: 1.5,
        referenceC: expect.closeTo(20, 9) as number,
      },
    });
  });

  it("counts needs for the bed, in canonical nutrients and order", () => {
    expect(plan.demands.map((d) => d.nutrient)).toEqual(["N", "P2O5"]);
    const [n, p] = plan.demands;
    expect(n?.minKg).toBeCloseTo(3 * 1.5 * LB, 12);
    expect(n?.maxKg).toBeCloseTo(4 * 1.5 * LB, 12);
    expect(n?.aheadMaxKg).toBeCloseTo(1.5 * 1.5 * LB, 12);
    expect(n?.appliedMaxKg).toBeNull();
    expect(n?.uptake).toEqual([
      [0, 0],
      [30, 0.1],
      [60, 0.45],
      [90, 0.85],
      [120, 1],
    ]);
    expect(p?.minKg).toBeCloseTo(0.5 * 1.5 * LB * P_TO_P2O5, 12);
    expect(p?.appliedMaxKg).toBeCloseTo(4 * 1.5 * LB, 12);
    expect(p?.uptake).toBeNull();
  });

  it("sorts applications and temperatures by day, and counts credits for the bed", () => {
    expect(plan.applications).toEqual([
      { name: "planting", day: 0, share: 0.4 },
      { name: "later", day: 14, share: 0.3 },
      { name: "fruit set", day: 45, share: 0.3 },
    ]);
    expect(plan.soilTemperatureC).toEqual([
      [0, expect.closeTo(14, 9)],
      [60, 20],
    ]);
    expect(plan.credits).toHaveLength(1);
    expect(plan.credits[0]).toMatchObject({ from: "compost", day: -20, release: { label: "slow" } });
    expect(plan.credits[0]?.contentKg.N).toBeCloseTo(((20 * LB) / ACRE) * 1500 * SQ_FT, 12);
    expect(plan.credits[0]?.contentKg.P2O5).toBeCloseTo(((5 * LB) / ACRE) * 1500 * SQ_FT * P_TO_P2O5, 12);
    expect(plan.limits).toEqual([
      { id: "feather-meal", maxShare: 0.3, minKg: expect.closeTo(2 * LB, 12) as number, notIn: [] },
      { id: "pellets", minShare: 0.25, maxKg: expect.closeTo(40 * LB, 12) as number, notIn: [] },
    ]);
  });

  it("names the files it read", () => {
    const result = load();
    expect(result.ok && result.value.files).toEqual(["plan.yaml", "amendments.yaml", "target.yaml"]);
  });
});

describe("what is left unsaid", () => {
  const SMALL = "amendments: amendments.yaml\ntarget: target.yaml\nbed: {area: 100 m2}\n";
  it("has the defaults that the formats promise", () => {
    const plan = loaded({ "/garden/plan.yaml": SMALL });
    expect(plan).toMatchObject({
      name: "plan",
      units: "us",
      currency: "USD",
      blend: "one",
      credits: [],
      limits: [],
    });
    expect(plan.applications).toEqual([{ name: "planting", day: 0, share: 1 }]);
    expect(plan.scaleKg).toBeCloseTo(0.01 * LB, 12);
    expect(plan.batch).toBeUndefined();
    expect(plan.soilTemperatureC).toBeUndefined();
    expect(loaded({ "/garden/plan.yaml": `${SMALL}units: metric\n` }).scaleKg).toBe(0.005);
  });
  it("divides equally where no application has a share", () => {
    const plan = loaded({
      "/garden/plan.yaml": `${SMALL}applications: [{day: 20}, {day: 0}, {day: 40}]\n`,
    });
    expect(plan.applications.map((a) => [a.name, a.day])).toEqual([
      ["day 0", 0],
      ["day 20", 20],
      ["day 40", 40],
    ]);
    for (const a of plan.applications) expect(a.share).toBeCloseTo(1 / 3, 15);
  });
  it("takes maps and lists that stand empty for absent", () => {
    const plan = loaded({ "/garden/plan.yaml": `${SMALL}limits:\ncredits:\nonly:\nexclude:\nsuppliers:\n` });
    expect(plan.limits).toEqual([]);
    expect(plan.amendments).toHaveLength(3);
  });
  it("takes a harvest that says nothing of soil for one that touches it", () => {
    expect(loaded({ "/garden/plan.yaml": `${SMALL}harvest: {first: 70}\n` }).harvest).toEqual({
      firstDay: 70,
      touchesSoil: true,
    });
  });
});

describe("warnings", () => {
  const codes = (plan: Plan): string[] => plan.warnings.map((w) => w.code);
  it("is silent on a sound plan", () => {
    expect(codes(loaded())).toEqual([]);
  });
  it("speaks of a slow material without a release, and only of those in the choice", () => {
    const meal = "amendments: {meal: {analysis: {N: 9}, kind: plant, stock: 90 lb}}";
    const changes = {
      ...withPlan("amendments: amendments.yaml", "amendments: [amendments.yaml, meal.yaml]"),
      "/garden/meal.yaml": meal,
    };
    expect(codes(loaded(changes))).toEqual(["release-assumed"]);
    expect(codes(loaded(changes, { overrides: [over("exclude", "meal")] }))).toEqual([]);
    expect(codes(loaded({ ...changes, "/garden/meal.yaml": meal.replace("plant", "mineral") }))).toEqual([]);
  });
  it("drops what is asked of an amendment that a flag leaves out, and refuses the same in a file", () => {
    const without = loaded({}, { overrides: [over("exclude", "pellets")] });
    expect(without.limits.map(({ id }) => id)).not.toContain("pellets");
    expect(codes(without)).toEqual(["limit-dropped"]);
    expect(() => loaded(withPlan("limits:", "exclude: pellets\nlimits:"))).toThrow("is asked for");
  });
  // Urea holds 2 x 14.007 / 60.056 = 46.65 percent nitrogen.
  it("doubts more nitrogen than urea holds", () => {
    const rich = (n: number) => ({ "/garden/amendments.yaml": AMENDMENTS.replace("N: 13", `N: ${n}`) });
    expect(codes(loaded(rich(46.5)))).toEqual([]);
    expect(codes(loaded(rich(60)))).toEqual(["analysis-high"]);
  });
  it("says what shares do with a recipe for each application", () => {
    expect(codes(loaded(withPlan("blend: one", "blend: each")))).toEqual(["shares-ignored"]);
  });
  it("says what not_in does with one blend", () => {
    expect(
      codes(loaded(withPlan("pellets: {min_share: 25%,", "bone-meal: {not_in: later}\n  pellets: {"))),
    ).toEqual(["not-in-one-blend"]);
  });
  it("says when a curve has nothing to do, stops early, or is missing", () => {
    const target = (from: string, to: string) => ({ "/garden/target.yaml": TARGET.replace(from, to) });
    expect(codes(loaded(target("  N: {30", "  K: {120: 100%}\n  N: {30")))).toEqual(["uptake-unused"]);
    expect(codes(loaded(target("120: 100%", "120: 96%")))).toEqual(["uptake-incomplete"]);
    expect(
      codes(loaded(target("ahead_max: {per: 1000 sq ft,", "ahead_max: {per: 1000 sq ft, P: 1 lb,"))),
    ).toEqual(["ahead-without-uptake"]);
  });
});

describe("amendments from several files", () => {
  it("lets later entries replace single fields, with a whole analysis as one field", () => {
    const plan = loaded({
      ...withPlan(
        "amendments: amendments.yaml",
        "amendments: [amendments.yaml, prices/new.yaml, {pellets: {stock: 5 lb}}]",
      ),
      "/garden/prices/new.yaml":
        "amendments: {feather-meal: {analysis: {N: 12}, packs: [{size: 40 lb, price: 30}]}}",
    });
    const feather = plan.amendments.find((a) => a.id === "feather-meal")!;
    expect(feather.analysis).toEqual({ N: 0.12 });
    expect(feather.packs).toEqual([{ sizeKg: expect.closeTo(40 * LB, 12) as number, price: 30 }]);
    expect(feather).toMatchObject({ name: "Feather meal", supplier: "farm-store", organic: "listed" });
    expect(plan.amendments.find((a) => a.id === "pellets")!.stockKg).toBeCloseTo(5 * LB, 12);
  });
  it("reads included files first, each path relative to its own file", () => {
    const plan = loaded({
      "/garden/amendments.yaml": `include: [lists/all.yaml]\n${AMENDMENTS.replace("amendments:", "amendments:")}`,
      "/garden/lists/all.yaml": "include: more.yaml\namendments: {dust: {stock: 4 lb}}",
      "/garden/lists/more.yaml":
        "amendments: {dust: {stock: 9 lb, density: 1 kg/L}, feather-meal: {name: Old name, salt_index: 4}}",
    });
    const dust = plan.amendments.find((a) => a.id === "dust")!;
    expect(dust.stockKg).toBeCloseTo(4 * LB, 12);
    expect(dust.densityKgPerL).toBe(1);
    expect(plan.amendments.find((a) => a.id === "feather-meal")).toMatchObject({
      name: "Feather meal",
      saltIndex: 4,
    });
  });
  it("reads a file once that is included along two ways", () => {
    const plan = loaded({
      "/garden/amendments.yaml": `include: [a.yaml, b.yaml]\n${AMENDMENTS}`,
      "/garden/a.yaml": "include: [c.yaml]\namendments: {}",
      "/garden/b.yaml": "include: [c.yaml]\namendments: {}",
      "/garden/c.yaml": "amendments: {dust: {stock: 1 kg}}",
    });
    expect(plan.amendments.find((a) => a.id === "dust")!.stockKg).toBe(1);
  });
  it("takes shipped amendments by name", () => {
    for (const shipped of ["{recipe: meals}", '"recipe: meals"'])
      expect(
        loaded(
          withPlan("amendments: amendments.yaml", `amendments: [amendments.yaml, ${shipped}]`),
        ).amendments.map((a) => a.id),
      ).toContain("soy-meal");
  });
  it("lays further files over the plan's", () => {
    const plan = loaded(
      { "/garden/extra.yaml": "amendments: {dust: {bulk: {price: 5, per: 50 lb}}}" },
      { extraAmendments: ["extra.yaml"] },
    );
    expect(plan.amendments.find((a) => a.id === "dust")!.bulkPricePerKg).toBeCloseTo(0.1 / LB, 12);
  });
  it("redefines classes, in an amendments file and above it in a plan", () => {
    const own = "releases: {slow: {at_once: 10%}, local: {later: 50%, half_life: 3 weeks}}\n";
    const fromFile = loaded({ "/garden/amendments.yaml": own + AMENDMENTS });
    const feather = (plan: Plan) =>
      plan.amendments.find((a) => a.id === "feather-meal")!.release.byNutrient.N;
    expect(feather(fromFile)).toEqual({
      label: "slow",
      curve: { kind: "pool", atOnce: 0.1, later: 0, halfLifeDays: 1, q10: 2, referenceC: 25 },
    });
    const fromPlan = loaded({
      "/garden/amendments.yaml": (own + AMENDMENTS).replace("release: {N: slow", "release: {N: local"),
      "/garden/plan.yaml": `${PLAN}releases: {local: {later: 60%, half_life: 4 weeks}}\n`,
    });
    expect(feather(fromPlan)).toMatchObject({ label: "local", curve: { later: 0.6, halfLifeDays: 28 } });
  });
});

describe("targets", () => {
  it.each([
    ["a path", "target: target.yaml", "Any fruit"],
    ["a shipped recipe by a key of its own", "recipe: pepper", "Pepper"],
    ["a shipped recipe as a map", "target: {recipe: pepper}", "Pepper"],
    ["a shipped recipe as text", 'target: "recipe: pepper"', "Pepper"],
    ["inline", "target: {target: Own, season: 130 days, need: {per: bed, N: 5 lb}}", "Own"],
  ])("come as %s", (_, line, name) => {
    expect(loaded(withPlan("target: target.yaml", line)).targetName).toBe(name);
  });

  it("count per plant, per bed, per area and by rate alike", () => {
    const n = (need: string): number =>
      loaded(withPlan("target: target.yaml", `target: {season: 130 days, need: ${need}}`)).demands[0]!.minKg;
    expect(n("{per: plant, N: 10 g}")).toBeCloseTo(2.4, 12);
    expect(n("{per: bed, N: 2 kg}")).toBe(2);
    expect(n("{per: acre, N: 100 lb}")).toBeCloseTo((100 * LB * 1500 * SQ_FT) / ACRE, 12);
    expect(n("{N: 100 lb/acre}")).toBeCloseTo((100 * LB * 1500 * SQ_FT) / ACRE, 12);
    expect(n("{per: ha, N: 120 kg}")).toBeCloseTo((120 / 10_000) * 1500 * SQ_FT, 12);
    expect(n("{per: 1500 sq ft, N: 7 lb}")).toBeCloseTo(7 * LB, 12);
  });

  it("use the other curve for what is needed and not named", () => {
    const plan = loaded({
      "/garden/target.yaml": TARGET.replace("uptake:\n", "uptake:\n  other: {0: 5%, 120: 100%}\n"),
    });
    expect(plan.demands[1]?.uptake).toEqual([
      [0, 0.05],
      [120, 1],
    ]);
    expect(plan.demands[0]?.uptake).toHaveLength(5);
  });

  it("are not said to need nothing where the bed does not say enough to count them", () => {
    const plan = "plan: X\namendments: {meal: {analysis: {N: 9}, stock: 9 lb}}\nsure: {N: 90%}\n";
    const target = "target: {season: 90 days, need: {per: plant, N: 1 g}}\n";
    const result = load({ "/garden/plan.yaml": plan + target });
    expect(result.ok ? [] : result.problems.map((p) => p.code)).toEqual(["bed-missing"]);
  });
  it("are not silent on a recipe that is a number", () => {
    const result = load(withPlan(/^target: .*$/m, "recipe: 5"));
    expect(result.ok ? [] : result.problems.map((p) => p.code)).toEqual(["recipe-unknown"]);
  });
  it("load without a bed for a check", () => {
    const result = loadTarget(farm(), "target.yaml", WHERE);
    expect(result.ok && result.value.target).toMatchObject({ name: "Any fruit", seasonDays: 120 });
  });
});

describe("the choice of amendments", () => {
  it("says why each is left out", () => {
    expect(loaded({}, { overrides: [over("only", ["feather-meal", "pellets"])] }).leftOut).toEqual([
      { id: "bone-meal", why: "not in only" },
      { id: "dust", why: "not in only" },
    ]);
    expect(loaded({}, { overrides: [over("exclude", "bone-meal, dust")] }).leftOut).toEqual([
      { id: "bone-meal", why: "excluded" },
      { id: "dust", why: "excluded" },
    ]);
    const organic = loaded(withPlan(/ {2}pellets:.*\n/, ""), {
      overrides: [over("require", "organic-listed")],
    });
    expect(organic.amendments.map((a) => a.id)).toEqual(["feather-meal"]);
    expect(organic.leftOut.map((l) => l.why)).toEqual([
      "not listed organic",
      "not listed organic",
      "not listed organic",
    ]);
  });
});

describe("overrides", () => {
  it("make a plan where there is no file, with paths from the working folder", () => {
    const result = loadPlan(farm(), {
      ...WHERE,
      cwd: "/garden/deep",
      overrides: [
        { path: ["amendments"], value: ["../amendments.yaml"], flag: "--amendments" },
        { path: ["target"], value: "../target.yaml", flag: "--target" },
        { path: ["bed", "plants"], value: 240, flag: "--plants" },
        { path: ["bed", "area"], value: "1500 sq ft", flag: "--area" },
        { path: ["batch"], value: "60 lb", flag: "--batch" },
      ],
    });
    expect(result.ok && result.value.plan).toMatchObject({
      name: "Any fruit",
      bed: { plants: 240 },
      batch: { kg: 60 * LB },
    });
    expect(result.ok && result.value.files).toEqual(["../amendments.yaml", "../target.yaml"]);
  });
  it("resolve paths in a plan from the plan, and in a flag from the working folder", () => {
    const elsewhere = {
      "/garden/beds/plan.yaml": PLAN.replace("amendments.yaml", "../amendments.yaml").replace(
        "target.yaml",
        "../target.yaml",
      ),
    };
    expect(loaded(elsewhere, { planFile: "beds/plan.yaml" }).name).toBe("Back field");
    expect(
      loaded(elsewhere, { planFile: "beds/plan.yaml", overrides: [over("target", "target.yaml")] })
        .targetName,
    ).toBe("Any fruit");
  });
  it("replace single values, also inside lists and in files the plan only names", () => {
    const plan = loaded(
      {},
      {
        overrides: [
          over("applications.1.share", "50%"),
          over("applications.0.share", "20%"),
          over("amendments.feather-meal.packs.1.price", 8),
          over("amendments.dust.stock", "2 kg"),
          over("target.need.N.min", "3.5 lb"),
          over("bed.area", "2000 sq ft"),
        ],
      },
    );
    expect(plan.applications.map((a) => a.share)).toEqual([0.5, 0.2, 0.3]);
    const feather = plan.amendments.find((a) => a.id === "feather-meal")!;
    expect(feather.packs.map((p) => p.price)).toEqual([38.5, 8]);
    expect(feather.analysis.N).toBe(0.13);
    expect(plan.amendments.find((a) => a.id === "dust")!.stockKg).toBe(2);
    expect(plan.demands[0]!.minKg).toBeCloseTo(3.5 * 2 * LB, 12);
    expect(plan.demands[0]!.maxKg).toBeCloseTo(4 * 2 * LB, 12);
  });
  it("let a flag for a recipe replace a target, and the reverse", () => {
    expect(loaded({}, { overrides: [over("recipe", "pepper")] }).targetName).toBe("Pepper");
    expect(
      loaded(withPlan("target: target.yaml", "recipe: pepper"), {
        overrides: [over("target", "target.yaml")],
      }).targetName,
    ).toBe("Any fruit");
  });
  it("blame the flag, not a line of the file", () => {
    const result = load(
      {},
      {
        overrides: [
          over("bed.plants", "many", "--plants"),
          over("scael", "1 lb", "--set scael"),
          over("target.need.N.min", "3.5 lbb", "--set target.need.N.min"),
          over("amendments.fether-meal.stock", "1 lb", "--set amendments.fether-meal.stock"),
          over("exclude", ["pelets"], "--exclude"),
          over("target.season", "3 lb", "--set target.season"),
        ],
      },
    );
    expect(result.ok).toBe(false);
    if (result.ok) return;
    for (const p of result.problems) expect(p.place, p.message).toBeUndefined();
    const said = result.problems.map((p) => `${p.code} ${p.about}`).sort();
    expect(said).toEqual([
      "amendment-unknown --exclude",
      "amendment-unknown --set amendments.fether-meal.stock",
      "key-unknown --set scael",
      "number-unreadable --plants",
      "unit-kind --set target.season",
      "unit-unknown --set target.need.N.min",
    ]);
  });
  it("name what is missing where there is nothing at all", () => {
    const result = loadPlan(farm(), { ...WHERE, overrides: [] });
    expect(result.ok).toBe(false);
    if (!result.ok) expect(result.problems.map((p) => p.code)).toEqual(["key-missing", "key-missing"]);
  });
  it("leave the given tree as it was", () => {
    const { tree } = parseTree(PLAN, "plan.yaml", "/garden/plan.yaml");
    const before = JSON.stringify(tree.root);
    loaded({}, { overrides: [over("bed.area", "1 acre"), over("applications.0.day", 3)] });
    expect(JSON.stringify(tree.root)).toBe(before);
  });
  it("read values of flags as YAML", () => {
    expect(readFlagValue("3").value).toBe(3);
    expect(readFlagValue("60 lb").value).toBe("60 lb");
    expect(readFlagValue("30%").value).toBe("30%");
    expect(readFlagValue("[a, b]").value).toEqual(["a", "b"]);
    expect({ ...(readFlagValue("{size: 60 lb}").value as object) }).toEqual({ size: "60 lb" });
    expect(readFlagValue("[a").value).toBe("[a");
    expect(readFlagValue("").value).toBe("");
    expect(parsePath("batch.size")).toEqual(["batch", "size"]);
    expect(parsePath("applications.0.day")).toEqual(["applications", 0, "day"]);
    for (const no of ["", ".", "a.", ".a", "a..b"]) expect(parsePath(no)).toBeUndefined();
  });
});

describe("mixes", () => {
  const mix = (text: string) => loadMix(farm({ "/garden/mix.yaml": text }), "mix.yaml", WHERE);
  it("weighs volumes by their density", () => {
    const result = mix(
      "mix: {pellets: 40 lb, feather-meal: 2 quarts}\namendments: amendments.yaml\nspread: {plants: 180, per_plant: 0.5 cup, times: 3}\n",
    );
    if (!result.ok) throw new Error(formatProblems(result.problems));
    const { portions, spread, name } = result.value.mix;
    expect(name).toBe("mix");
    expect(portions.map((p) => p.amendment.id)).toEqual(["feather-meal", "pellets"]);
    expect(portions[0]?.litres).toBeCloseTo(8 * CUP_L, 12);
    expect(portions[0]?.kg).toBeCloseTo(8 * CUP_L * 0.6, 12);
    expect(portions[1]?.kg).toBeCloseTo(40 * LB, 12);
    expect(spread).toEqual({
      plants: 180,
      perPlant: { litres: expect.closeTo(CUP_L / 2, 12) as number },
      times: 3,
    });
  });
  it("takes one barrow for so many plants, and days", () => {
    const result = mix(
      "mix: {pellets: 40 lb}\nname: Barrow\namendments: amendments.yaml\nbatch: 6 cu ft\nspread: {batches: 1, plants: 180, days: [day 30, 0]}\n",
    );
    expect(result.ok && result.value.mix).toMatchObject({
      name: "Barrow",
      batch: { litres: 6 * 28.316846592 },
      spread: { batches: 1, plants: 180, times: 2, days: [0, 30] },
    });
  });
  it("knows what the program printed", () => {
    const result = mix('{"schema": "barrowmix.shopping/1", "plan": "Beds", "status": "optimal"}');
    expect(result.ok ? [] : result.problems.map(({ code, message }) => [code, message])).toEqual([
      ["file-kind", "`mix.yaml` is what the program printed (barrowmix.shopping/1); a mix is needed here"],
    ]);
  });
  it("does not blame the mix for amendments that it does not use", () => {
    expect(mix("mix: {pellets: 1 lb}\namendments: [amendments.yaml, {x: {analysis: {N: 1}}}]\n").ok).toBe(
      true,
    );
  });
});

describe("cases", () => {
  it("reads changes to a plan", () => {
    const result = loadCases(
      farm({
        "/garden/beds/cases.yaml":
          "cases:\n  dear: {price: {bone-meal: +15%, pellets: 0.30/lb}}\n  poor: {exclude: [pellets], with: extra.yaml, set: {batch.size: 80 lb}}\n",
      }),
      "beds/cases.yaml",
      WHERE,
    );
    if (!result.ok) throw new Error(formatProblems(result.problems));
    const [dear, poor] = result.value;
    expect(dear?.price["bone-meal"]).toEqual({ kind: "factor", factor: 1.15 });
    expect(dear?.price.pellets).toEqual({
      kind: "price",
      pricePerKg: expect.closeTo(0.3 / LB, 12) as number,
    });
    expect(poor).toMatchObject({
      name: "poor",
      exclude: ["pellets"],
      with: ["/garden/beds/extra.yaml"],
      set: [{ path: ["batch", "size"], value: "80 lb" }],
    });
  });
});

describe("checking files", () => {
  it("tells the kinds apart by their keys", () => {
    const io = farm({
      "/garden/mix.yaml": "mix: {pellets: 1 lb}\namendments: amendments.yaml\n",
      "/garden/cases.yaml": "cases: {a: {exclude: [pellets]}}\n",
      "/garden/classes.yaml": "releases: {local: {at_once: 5%}}\n",
      "/garden/nameless.yaml": PLAN.replace(/plan: .*\n/, ""),
    });
    const files = ["plan", "nameless", "mix", "cases", "amendments", "target", "classes"].map(
      (f) => `${f}.yaml`,
    );
    const checked = checkFiles(io, files, WHERE);
    expect(checked.map((c) => [c.kind, c.problems.length])).toEqual([
      ["plan", 0],
      ["plan", 0],
      ["mix", 0],
      ["cases", 0],
      ["amendments", 0],
      ["target", 0],
      ["releases", 0],
    ]);
  });
  it("names a file that is not there", () => {
    const [checked] = checkFiles(farm(), ["plam.yaml"], WHERE);
    expect(checked?.problems[0]).toMatchObject({
      code: "file-unreadable",
      hint: "did you mean `plan.yaml`?",
    });
    expect(load({}, { planFile: "nowhere/plan.yaml" }).ok).toBe(false);
    expect(checkFiles(farm(), ["plan"], WHERE)[0]?.problems[0]?.hint).toBe("did you mean `plan.yaml`?");
  });
  it("names the plan in a folder that is given in its place", () => {
    const [checked] = checkFiles(diskReader, ["examples/brassica-terraces"], { ...WHERE, cwd: ROOT });
    expect(checked?.problems[0]).toMatchObject({
      code: "file-unreadable",
      message: expect.stringContaining("is a folder"),
      hint: "name a file in it: `examples/brassica-terraces/plan.yaml`",
    });
  });
  it("lists amendments and classes", () => {
    const result = loadAmendments(farm(), "amendments.yaml", WHERE);
    if (!result.ok) throw new Error(formatProblems(result.problems));
    expect(result.value.amendments.map((a) => a.id)).toEqual([
      "bone-meal",
      "dust",
      "feather-meal",
      "pellets",
    ]);
    expect(Object.keys(result.value.releases)).toEqual(Object.keys(RELEASE_CLASSES));
  });
  it("reads CRLF line ends and a byte order mark", () => {
    const windows = `\uFEFF${PLAN.replaceAll("\n", "\r\n")}`;
    expect(loaded({ "/garden/plan.yaml": windows })).toEqual(loaded());
    const result = load({ "/garden/plan.yaml": windows.replace("0.25 lb", "0.25 lbb") });
    if (result.ok) throw new Error("the slip was not seen");
    expect(result.problems[0]?.place).toMatchObject({
      line: PLAN.split("\n").findIndex((l) => l.startsWith("scale")) + 1,
      column: 8,
    });
    expect(result.problems[0]?.excerpt).toBe("scale: 0.25 lbb");
  });
});

describe("JSON Schemas", () => {
  it.each(["amendments", "target", "plan", "mix", "cases"] as const)(
    "can be made for a file of kind %s",
    (kind) => {
      const schema = jsonSchema(kind) as {
        type?: string;
        properties?: Record<string, unknown>;
        additionalProperties?: unknown;
      };
      expect(schema.type).toBe("object");
      expect(schema.additionalProperties).toBe(false);
      expect(Object.keys(schema.properties ?? {}).length).toBeGreaterThan(1);
      expect(JSON.stringify(schema).length).toBeGreaterThan(500);
    },
  );
});

// Hundreds of files are read for each; slow machines may take their time.
describe("properties", { timeout: 120_000 }, () => {
  const SEEDED = { seed: 20_260_101 } as const;

  it("reads the same model whatever the units are spelled in", () => {
    const spellings: readonly (readonly [string, readonly string[]])[] = [
      ["1500 sq ft", ['"1,500 sqft"', "1500 ft2", "1500 Square Feet", "1500 sq. ft.", "1500ft²"]],
      ["60 ft", ["60'", "60 feet", "20 yd"]],
      ["6 cu ft", ["6 ft3", "6 cubic feet"]],
      ["0.25 lb", ["1/4 lb", "¼ lb", ".25 pounds", "4 oz"]],
      ["40 lb", ["40 LBS", "40lb.", "640 oz"]],
      ["2 weeks", ["14", "14 days", "day 14"]],
    ];
    const base = loaded();
    fc.assert(
      fc.property(fc.tuple(...spellings.map(([, others]) => fc.nat(others.length - 1))), (picks) => {
        let text = PLAN;
        spellings.forEach(([from, others], i) => {
          text = text.replace(from, others[picks[i]!]!);
        });
        expectClose(loaded({ "/garden/plan.yaml": text }), base);
      }),
      { ...SEEDED, numRuns: seeds(15, 40) },
    );
  });

  it("does not depend on the order of keys", () => {
    const base = loaded();
    fc.assert(
      fc.property(fc.shuffledSubarray(Object.keys(parseYaml(PLAN) as object), { minLength: 14 }), (keys) => {
        const raw = parseYaml(PLAN) as Record<string, unknown>;
        fc.pre(keys.length === Object.keys(raw).length);
        const shuffled = Object.fromEntries(keys.map((k) => [k, raw[k]]));
        expect(loaded({ "/garden/plan.yaml": stringify(shuffled) })).toEqual(base);
      }),
      { ...SEEDED, numRuns: seeds(10, 30) },
    );
  });

  it("reads scalars as the core schema of YAML does", () => {
    const scalar = fc.oneof(
      fc.constantFrom(
        "",
        "~",
        "null",
        "Null",
        "true",
        "TRUE",
        "false",
        "yes",
        "no",
        ".inf",
        "-.inf",
        "+.INF",
        ".nan",
      ),
      fc.constantFrom(
        "0o17",
        "0x1F",
        "012",
        "1_000",
        "1e3",
        "-1.5E-2",
        ".5",
        "5.",
        "+3",
        "-",
        "+",
        ".",
        "1.2.3",
        "0b1",
      ),
      fc.double({ noNaN: true }).map(String),
      fc.integer().map(String),
      fc.stringMatching(/^[a-z0-9.+-]{1,8}$/),
    );
    fc.assert(
      fc.property(scalar, fc.boolean(), (text, quoted) => {
        const source = `v: ${quoted ? JSON.stringify(text) : text}\n`;
        let expected: unknown;
        try {
          expected = (parseYaml(source) as { v: unknown }).v;
        } catch {
          return;
        }
        const { tree, broken } = parseTree(source, "f", "/f");
        expect(broken).toBe(false);
        // Octal, hexadecimal and a leading zero are no numbers here: they stay text, and are refused where one is needed.
        const oddNumber = !quoted && /^(?:0o|0x|[-+]?0\d)/.test(text);
        expect((tree.root as { v: unknown }).v).toEqual(oddNumber ? text : expected);
      }),
      { ...SEEDED, numRuns: 500 },
    );
  });

  slow("never throws, whatever the text", () => {
    fc.assert(
      fc.property(fc.string({ maxLength: 200, unit: "binary" }), (text) =>
        expectAnswers({ "/garden/plan.yaml": text }),
      ),
      { ...SEEDED, numRuns: seeds(100, 300) },
    );
  });

  slow("never throws, whatever is done to a sound file", () => {
    const file = fc.constantFrom(
      "/garden/plan.yaml",
      "/garden/amendments.yaml",
      "/garden/target.yaml",
    ) as fc.Arbitrary<keyof typeof FILES>;
    const edit = fc.record({
      at: fc.nat(10_000),
      cut: fc.nat(12),
      put: fc.oneof(
        fc.constant(""),
        fc.constantFrom(
          "{",
          "}",
          "[",
          "]",
          ":",
          "- ",
          "\n",
          "\t",
          '"',
          "'",
          "#",
          "&a ",
          "*a ",
          "!!x ",
          "? ",
          "| ",
          "%",
          "null",
        ),
        fc.constantFrom(
          "-1",
          "1e999",
          ".nan",
          "0",
          "50 lbb",
          "99%",
          "__proto__",
          "constructor",
          "other",
          "per",
          "<<",
        ),
        fc.string({ maxLength: 4, unit: "binary" }),
      ),
    });
    fc.assert(
      fc.property(file, fc.array(edit, { minLength: 1, maxLength: 4 }), (name, edits) => {
        let text: string = FILES[name];
        for (const { at, cut, put } of edits) {
          const i = at % text.length;
          text = text.slice(0, i) + put + text.slice(i + cut);
          if (text.length === 0) text = " ";
        }
        expectAnswers({ [name]: text });
      }),
      { ...SEEDED, numRuns: seeds(60, 250) },
    );
  });

  slow("never throws, whatever values stand under the known keys", () => {
    const odd = fc.oneof(
      { depthSize: "small" },
      fc.constantFrom(
        null,
        true,
        0,
        -1,
        1e308,
        "",
        "x",
        "50 lb",
        "30%",
        "2 weeks",
        "per",
        "recipe: pepper",
        "amendments.yaml",
      ),
      fc.double(),
      fc.string({ maxLength: 6 }),
      fc.array(fc.constantFrom<unknown>(null, 1, "a", {}, []), { maxLength: 3 }),
      fc.dictionary(
        fc.constantFrom(
          "N",
          "P",
          "P2O5",
          "per",
          "min",
          "max",
          "size",
          "volume",
          "day",
          "share",
          "0",
          "x",
          "__proto__",
          "recipe",
        ),
        fc.constantFrom<unknown>(null, 1, "3 lb", "plant", "30%", {}, [], { min: "2 lb", max: "1 lb" }),
        { maxKeys: 4 },
      ),
    );
    const kinds = [
      ["/garden/plan.yaml", PLAN],
      ["/garden/amendments.yaml", AMENDMENTS],
      ["/garden/target.yaml", TARGET],
    ] as const;
    fc.assert(
      fc.property(
        fc.constantFrom(...kinds),
        fc.nat(40),
        fc.nat(40),
        odd,
        ([name, text], first, second, value) => {
          const raw = parseYaml(text) as Record<string, unknown>;
          const keys = Object.keys(raw);
          const key = keys[first % keys.length]!;
          const inner = raw[key];
          if (typeof inner === "object" && inner !== null && second % 2 === 0) {
            const names = Object.keys(inner);
            (inner as Record<string, unknown>)[names[second % names.length] ?? "x"] = value;
          } else raw[key] = value;
          expectAnswers({ [name]: stringify(raw) });
        },
      ),
      { ...SEEDED, numRuns: seeds(60, 250) },
    );
  });
});

/** Whatever the files hold: a sound plan, or problems with a remedy and a place that exists. */
function expectAnswers(changes: Readonly<Record<string, string>>): void {
  const files: Record<string, string> = { ...FILES, ...changes };
  const results = [load(changes), ...checkFiles(farm(changes), Object.keys(changes), WHERE)];
  for (const result of results) {
    const problems = "problems" in result ? result.problems : [];
    if ("ok" in result && !result.ok) expect(problems.length).toBeGreaterThan(0);
    for (const p of problems) {
      expect(p.hint ?? "", p.message).toMatch(/\S/);
      expect(p.message).not.toMatch(/undefined|\[object|NaN\b(?!`)/);
      if (!p.place) continue;
      const text = files[`/garden/${p.place.file}`];
      if (text === undefined) continue;
      const line = text.split(/\r?\n/)[p.place.line - 1];
      expect(line, `${p.message}: line ${p.place.line}`).toBeDefined();
      expect(p.excerpt).toBe(line);
      expect(p.place.column).toBeLessThanOrEqual(line!.length + 1);
    }
    if ("ok" in result && result.ok)
      expect(JSON.stringify(result.value)).not.toMatch(/null,null|NaN|Infinity/);
  }
}

/** Equal but for the last digits of numbers. */
function expectClose(a: unknown, b: unknown, path = ""): void {
  if (typeof a === "number" && typeof b === "number") {
    expect(Math.abs(a - b), path).toBeLessThanOrEqual(1e-12 * Math.max(1, Math.abs(b)));
  } else if (typeof a === "object" && a !== null && typeof b === "object" && b !== null) {
    expect(Object.keys(a), path).toEqual(Object.keys(b));
    for (const key of Object.keys(a))
      expectClose((a as Record<string, unknown>)[key], (b as Record<string, unknown>)[key], `${path}.${key}`);
  } else expect(a, path).toEqual(b);
}
