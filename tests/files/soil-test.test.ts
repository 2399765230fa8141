/** From a yield goal, a soil test and what else feeds the crop to what a plan asks for. */
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { checkFiles, loadPlan, readFlagValue } from "../../src/files/load.ts";
import { ratingOf } from "../../src/files/soil-test.ts";
import type { Credit, Plan } from "../../src/model.ts";
import { formatProblems, type Problem, sentence } from "../../src/problem.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { diskReader, memoryReader } from "../helpers/files.ts";
import { slow } from "../helpers/seeds.ts";

const recipesDir = fileURLToPath(new URL("../../recipes", import.meta.url));
const where = { cwd: "/garden", recipesDir };

// NIST SP 811, Appendix B, and Handbook 44, Appendix C, typed here and not taken from the program.
const LB = 0.45359237;
const SQ_FT = 0.09290304;
const ACRE = 43_560 * SQ_FT;
const TON = 2000 * LB;
// Oxides by the atomic weights P 30.974, K 39.098, O 15.999 (IUPAC 2021, Pure Appl. Chem. 94:573).
const P2O5 = (2 * 30.974 + 5 * 15.999) / (2 * 30.974);
const K2O = (2 * 39.098 + 15.999) / (2 * 39.098);

function load(
  yaml: string,
  flags: Readonly<Record<string, string>> = {},
  files: Record<string, string> = {},
) {
  const memory = memoryReader({ "/garden/plan.yaml": yaml, ...files });
  return loadPlan(
    { read: (path) => memory.read(path) ?? diskReader.read(path), list: (f) => diskReader.list!(f) },
    {
      ...where,
      planFile: "plan.yaml",
      overrides: Object.entries(flags).map(([path, value]) => ({
        path: path.split("."),
        value: readFlagValue(value).value,
        flag: `--set ${path}`,
      })),
    },
  );
}
function planOf(...args: Parameters<typeof load>): Plan {
  const loaded = load(...args);
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.plan;
}
const problemsOf = (...args: Parameters<typeof load>): string[] => {
  const loaded = load(...args);
  return loaded.ok ? [] : loaded.problems.map(described);
};
const described = (p: Problem): string =>
  `${p.code} ${p.place ? `${p.place.line}:${p.place.column} ` : ""}${sentence(p)}`;
const minKg = (plan: Plan, nutrient: string): number | undefined =>
  plan.demands.find((d) => d.nutrient === nutrient)?.minKg;
const warningsOf = (plan: Plan, code: string): string[] =>
  plan.warnings.filter((w) => w.code === code).map((w) => w.text);

/** One amendment is enough where nothing is solved. */
const SHELF = "amendments: {meal: {analysis: {N: 13}, stock: 1 kg}}\n";
const SHOP = "amendments: [recipe: all]\n";
const HA = `${SHELF}bed: {area: 1 ha}\nunits: metric\n`;

describe("a yield goal", () => {
  // Hegde 1997, FFTC Extension Bulletin 441, whole plant, kg per tonne of fresh fruit: tomato N 2.5-3, P 0.2-0.3, K 3-3.5;
  // chili and bell pepper N 3-3.5, K 5-6; its P from Knott's Handbook, 12 lb for 225 cwt (from memory). A range counts with its middle.
  it.each([
    ["tomato", 25, 2.75, 0.25, 3.25],
    ["tomato", 90, 2.75, 0.25, 3.25],
    ["pepper", 18, 3.25, 0.53, 5.5],
    ["pepper", 30, 3.25, 0.53, 5.5],
  ] as const)(
    "of %s at %d t/ha asks for the published uptake per tonne times the yield",
    (crop, t, n, p, k) => {
      const ways = [
        planOf(`${HA}recipe: ${crop}\nyield: ${t} t/ha\n`),
        planOf(`${HA}target: {recipe: ${crop}, yield: ${t} t/ha}\n`),
        planOf(
          `${HA}target: mine.yaml\n`,
          {},
          { "/garden/mine.yaml": `target: Mine\nrecipe: ${crop}\nyield: ${t} t/ha\n` },
        ),
        planOf(`${HA}recipe: ${crop}\n`, { yield: `${t} t/ha` }),
        planOf(`${HA}recipe: ${crop}\n`, { "target.yield": `${t} t/ha` }),
        planOf(`${HA}recipe: ${crop}\nyield: ${(t * 1000 * ACRE) / 10_000 / TON} ton/acre\n`),
      ];
      for (const plan of ways) {
        expect(minKg(plan, "N")).toBeCloseTo(n * t, 9);
        expect(minKg(plan, "P2O5")).toBeCloseTo(p * t * P2O5, 9);
        expect(minKg(plan, "K2O")).toBeCloseTo(k * t * K2O, 9);
      }
    },
  );

  it("works a need out where a target gives only uptake and yield, in any unit", () => {
    const target = (body: string): Plan =>
      planOf(`${HA}target:\n  target: Kale\n  season: 90 days\n  uptake_per_yield: ${body}\n`);
    // New England Vegetable Management Guide, Table 4: kale, 10 tons per acre, 125-30-110 lb/acre.
    const plan = target("{per: 10 ton, N: 125 lb, P2O5: 30 lb, K2O: 110 lb}\n  yield: 20 ton/acre");
    expect(minKg(plan, "N")).toBeCloseTo((250 * LB * 10_000) / ACRE, 9);
    expect(minKg(plan, "P2O5")).toBeCloseTo((60 * LB * 10_000) / ACRE, 9);
    expect(plan.demands.every((d) => d.maxKg === null && d.appliedMaxKg === null)).toBe(true);
    expect(minKg(target("{per: kg, N: {min: 2 g, max: 4 g}}\n  yield: 10 t/ha"), "N")).toBeCloseTo(30, 12);
  });

  it("moves caps with the need, and says what was done", () => {
    const plan = planOf(`${HA}recipe: tomato\nyield: 30 t/ha\n`);
    const usual = planOf(`${HA}recipe: tomato\n`);
    const cap = (p: Plan) => p.demands.find((d) => d.nutrient === "P2O5")!.appliedMaxKg!;
    expect(cap(plan)).toBeCloseTo(cap(usual) / 2, 9);
    expect(warningsOf(plan, "yield-goal")).toEqual([
      "Need and caps are counted for a yield of 30 t/ha: x 0.5 what the target states for 60 t/ha.",
    ]);
    expect(warningsOf(usual, "yield-goal")).toEqual([]);
    expect(warningsOf(planOf(`${HA}recipe: tomato\nyield: 200 t/ha\n`), "yield-goal")[0]).toMatch(/far from/);
  });

  it("leaves a target's own yield as what its need stands for, and says where the two do not agree", () => {
    const target = (need: string) =>
      `${HA}target:\n  target: X\n  season: 90 days\n  yield: 25 t/ha\n  uptake_per_yield: {per: t, N: 2 kg}\n  need: {per: ha, N: ${need}}\n`;
    expect(minKg(planOf(target("50 kg")), "N")).toBeCloseTo(50, 12);
    expect(warningsOf(planOf(target("50 kg")), "need-differs")).toEqual([]);
    expect(minKg(planOf(target("120 kg")), "N")).toBeCloseTo(120, 12);
    expect(warningsOf(planOf(target("120 kg")), "need-differs")[0]).toContain("N 120 kg/ha against 50 kg/ha");
  });

  it("is refused where nothing says what it is to be held against", () => {
    const own = "target: {target: X, season: 90 days, need: {per: ha, N: 50 kg}}\n";
    expect(problemsOf(`${HA}${own}yield: 25 t/ha\n`)).toEqual([
      "key-missing 5:1 a yield goal is given, and the target does not say which yield its `need` is for",
    ]);
    expect(
      problemsOf(`${HA}target: {target: X, season: 90 days, uptake_per_yield: {per: t, N: 2 kg}}\n`),
    ).toEqual([
      "key-missing 4:1 the target says what the crop takes up per weight of harvest, and not how much is to be harvested",
    ]);
    expect(problemsOf(`${HA}recipe: tomato\nyield: 25 t\n`)[0]).toMatch(/^unit-kind 5:8 /);
    expect(problemsOf(`${HA}recipe: tomato\n`, { yield: "25 t" })[0]).toMatch(/^unit-kind --set yield: /);
  });
});

describe("a target that begins from a shipped recipe", () => {
  it("keeps what it does not name, and takes its own keys whole", () => {
    const plan = planOf(
      `${HA}target: {recipe: tomato, target: Mine, season: 100 days, applied_max: {per: ha, P2O5: 50 kg}, uptake: {other: {50: 50%, 100: 100%}}}\n`,
    );
    expect(plan.targetName).toBe("Mine");
    expect(plan.seasonDays).toBe(100);
    expect(minKg(plan, "N")).toBeCloseTo(165, 9);
    expect(plan.demands.map((d) => d.appliedMaxKg)).toEqual([null, 50, null]);
    expect(plan.demands[0]!.uptake).toEqual([
      [0, 0],
      [50, 0.5],
      [100, 1],
    ]);
  });

  it("takes what a grower writes as it stands, whatever the yield goal", () => {
    const cap = planOf(
      `${HA}target: {recipe: tomato, yield: 30 t/ha, applied_max: {per: ha, P2O5: 60 kg}}\n`,
    );
    expect(cap.demands.map((d) => d.appliedMaxKg)).toEqual([null, 60, null]);
    expect(minKg(cap, "N")).toBeCloseTo(2.75 * 30, 9);
    const need = planOf(`${HA}target: {recipe: tomato, yield: 30 t/ha, need: {per: ha, N: 90 kg}}\n`);
    expect(minKg(need, "N")).toBeCloseTo(90, 12);
    const uptake = planOf(
      `${HA}target: {recipe: tomato, yield: 30 t/ha, uptake_per_yield: {per: t, N: 2 kg}}\n`,
    );
    expect(uptake.demands.map((d) => [d.nutrient, d.minKg])).toEqual([
      ["N", expect.closeTo(60, 9)],
      ["P2O5", 0],
    ]);
    const flag = planOf(`${HA}recipe: tomato\nyield: 30 t/ha\n`, {
      "target.applied_max": "{per: ha, P2O5: 60 kg}",
    });
    expect(flag.demands[1]!.appliedMaxKg).toBe(60);
  });

  it("reports a fault where it stands", () => {
    expect(problemsOf(`${HA}target:\n  recipe: tomato\n  season: 100\n`)[0]).toMatch(/^unit-missing 6:11 /);
    expect(problemsOf(`${HA}target:\n  recipe: tomatoe\n  season: 100 days\n`)[0]).toMatch(
      /^recipe-unknown 5:11 /,
    );
    const late = load(`${HA}target: {recipe: tomato, season: 100 days, uptake: {N: {0: 0%, 120: 100%}}}\n`);
    expect(late.ok ? [] : late.problems.map((p) => p.code)).toContain("day-outside");
  });

  it("is told apart from a plan by check", () => {
    const io = memoryReader({ "/garden/mine.yaml": "target: Mine\nrecipe: tomato\nyield: 25 t/ha\n" });
    const reader = { ...io, read: (path: string) => io.read(path) ?? diskReader.read(path) };
    expect(checkFiles(reader, ["mine.yaml"], where)[0]).toMatchObject({ kind: "target", problems: [] });
  });
});

describe("published tables of ratings", () => {
  const file = parse(readFileSync(`${recipesDir}/crops/tomato.yaml`, "utf8"), { merge: true }) as {
    soil_test_ratings: {
      methods: {
        nutrient: string;
        method: string;
        ratings: Record<string, { below?: number; to?: number }>;
      }[];
    };
  };
  const bands = (nutrient: string, method: string) =>
    Object.entries(
      file.soil_test_ratings.methods.find((m) => m.nutrient === nutrient && m.method === method)!.ratings,
    ).map(([rating, band]) => ({ rating, ...band }));

  // University of California IPM guidelines, tomato, fertilization: Olsen P low < 15, medium 15-25, high > 25 ppm;
  // ammonium-acetate K < 130, 130-250, > 250 ppm; DTPA Zn < 0.5, 0.5-1, > 1 ppm.
  it.each([
    ["P", "olsen", [14.9, "low", 15, "medium", 25, "medium", 25.1, "high", 300, "high"]],
    ["K", "ammonium-acetate", [0, "low", 129, "low", 130, "medium", 250, "medium", 251, "high"]],
    ["Zn", "dtpa", [0.49, "low", 0.5, "medium", 1, "medium", 1.01, "high"]],
  ] as const)("%s by %s", (nutrient, method, row) => {
    for (let i = 0; i < row.length; i += 2)
      expect(ratingOf(bands(nutrient, method), row[i] as number), `${row[i]} ppm`).toBe(row[i + 1]);
  });

  // Rutgers FS719 and the Mid-Atlantic guide, from memory, Mehlich-3 in lb/acre: P very low to 24, low 25-45, medium 46-71,
  // optimum 72-137, above 138; K very low to 40, low 41-81, medium 82-145, optimum 146-277, above 278. Asserted at the
  // middle of each range, in ppm (half the lb/acre: NOFA soil manual, Appendix A).
  it.each([
    ["P", [12, "low", 35, "low", 58, "medium", 104, "optimum", 200, "very high"]],
    ["K", [20, "low", 61, "low", 113, "medium", 210, "optimum", 400, "very high"]],
  ] as const)("%s by Mehlich-3, from memory", (nutrient, row) => {
    for (let i = 0; i < row.length; i += 2)
      expect(ratingOf(bands(nutrient, "mehlich-3"), (row[i] as number) / 2), `${row[i]} lb/acre`).toBe(
        row[i + 1],
      );
  });

  // Mid-Atlantic commercial vegetable recommendations, fresh-market tomato on bare ground, from memory: P2O5 200/150/100/0
  // and K2O 300/200/100/0 lb/acre at low/medium/optimum/very high.
  it.each([
    ["low", 200, 300],
    ["medium", 150, 200],
    ["optimum", 25, 100], // phosphate: the harvest's removal
    ["very high", 0, 0],
  ] as const)("amounts at %s, from memory", (rating, p, k) => {
    const plan = planOf(
      `${HA}recipe: tomato\nsoil_test: {method: Mehlich 3, rating: {P: ${rating}, K: ${rating}}}\n`,
    );
    expect(minKg(plan, "P2O5")).toBeCloseTo((p * LB * 10_000) / ACRE, 9);
    expect(minKg(plan, "K2O")).toBeCloseTo((k * LB * 10_000) / ACRE, 9);
    expect(minKg(plan, "N")).toBeCloseTo(165, 9);
  });
});

describe("Olsen phosphorus and acetate potassium of a tomato soil", () => {
  // Ratings of the University of California; four harvests' removal, one, none, and the uptake, half, none: judgements.
  it.each([
    ["{method: olsen, P: 12 ppm}", "P2O5", 100],
    ["{method: olsen, P: 20 ppm}", "P2O5", 25],
    ["{method: olsen, P: 40 ppm}", "P2O5", 0],
    ["{method: ammonium-acetate, K: 100 ppm}", "K2O", 210],
    ["{method: ammonium-acetate, K: 200 ppm}", "K2O", 105],
    ["{method: ammonium-acetate, K: 300 ppm}", "K2O", 0],
  ] as const)("%s asks for %s %s lb per acre", (test, nutrient, rate) => {
    const plan = planOf(`${HA}recipe: tomato\nsoil_test: ${test}\n`);
    expect(minKg(plan, nutrient)).toBeCloseTo((rate * LB * 10_000) / ACRE, 9);
    expect(warningsOf(plan, "soil-test-need").join()).toContain("a judgement");
  });
});

describe("a soil test", () => {
  const tomato = (test: string): Plan => planOf(`${HA}recipe: tomato\nsoil_test: ${test}\n`);

  it("gives way to the laboratory's own recommendation first", () => {
    const plan = tomato(
      "{recommends: {per: 1000 sq ft, N: 3 lb, P2O5: {min: 1 lb, max: 2 lb}, Zn: 10 g}, rating: {P: low, K: medium}}",
    );
    const per = 10_000 / (1000 * SQ_FT);
    expect(minKg(plan, "N")).toBeCloseTo(3 * LB * per, 9);
    expect(plan.demands.find((d) => d.nutrient === "P2O5")).toMatchObject({
      minKg: expect.closeTo(LB * per, 9),
      maxKg: expect.closeTo(2 * LB * per, 9),
    });
    expect(minKg(plan, "Zn")).toBeCloseTo(0.01 * per, 9);
    // The rating of K is used, since the laboratory recommends none: 200 lb/acre (from memory).
    expect(minKg(plan, "K2O")).toBeCloseTo((200 * LB * 10_000) / ACRE, 9);
    expect(warningsOf(plan, "soil-test-need")[0]).toBe(
      "N need 146 kg/ha, in place of 165 kg/ha: your laboratory's own recommendation.",
    );
  });

  it("goes from a reading to a rating to an amount, all by one method", () => {
    // 30 ppm lies in medium (23-35), 100 ppm in optimum (73-138): Rutgers FS719, from memory.
    const plan = tomato("{method: mehlich-3, P: 30 ppm, K: 200 lb/acre}");
    expect(minKg(plan, "P2O5")).toBeCloseTo((150 * LB * 10_000) / ACRE, 9);
    expect(minKg(plan, "K2O")).toBeCloseTo((100 * LB * 10_000) / ACRE, 9);
    expect(warningsOf(plan, "soil-test-need").join("\n")).toMatch(
      /30 ppm by mehlich-3 is medium .*from memory/,
    );
    expect(warningsOf(plan, "soil-test-need").join("\n")).toMatch(/100 ppm .*lb\/acre halved.* is optimum/);
    // A laboratory may report P2O5: 30 ppm P is 68.7 ppm P2O5 by atomic weights.
    const oxide = tomato(`{method: mehlich-3, P2O5: ${30 * P2O5} ppm}`);
    expect(minKg(oxide, "P2O5")).toBeCloseTo(minKg(plan, "P2O5")!, 9);
  });

  it("drops a recipe's cap on poor soil, lets it grow with a laboratory's figure, and leaves a grower's own alone", () => {
    const usual = planOf(`${HA}recipe: tomato\n`).demands.find((d) => d.nutrient === "P2O5")!;
    const low = tomato("{rating: {P: low}}").demands.find((d) => d.nutrient === "P2O5")!;
    // Poor soil may be filled up; the cap of a recipe is for soil that has enough.
    expect(usual.appliedSoftMaxKg).toBeGreaterThan(0);
    expect(low.appliedMaxKg).toBeNull();
    expect(low.appliedSoftMaxKg).toBeUndefined();
    // A laboratory's figure without a rating takes the cap with it.
    const figure = tomato("{recommends: {per: acre, P2O5: 200 lb}}").demands.find(
      (d) => d.nutrient === "P2O5",
    )!;
    expect(figure.appliedSoftMaxKg! / usual.appliedSoftMaxKg!).toBeCloseTo(figure.minKg / usual.minKg, 9);
    const own = planOf(
      `${HA}target: {recipe: tomato, applied_max: {per: ha, P2O5: 300 kg}, soil_test: {rating: {P: low}}}\n`,
    ).demands.find((d) => d.nutrient === "P2O5")!;
    expect(own.minKg).toBeCloseTo(low.minKg, 9);
    expect(own.appliedMaxKg).toBeCloseTo(300, 9);
  });

  it("solves", async () => {
    const solution = await solvePlan(
      planOf(
        `${HA.replace(SHELF, SHOP)}recipe: tomato\nonly: [poultry-pellets, feather-meal, bone-meal, potassium-sulfate]\nsoil_test: {rating: {P: medium, K: medium}}\n`,
      ),
    );
    expect(solution.status).toBe("optimal");
    const got = Object.fromEntries(solution.nutrients.map((n) => [n.nutrient, n.countedKg]));
    expect(got.P2O5).toBeGreaterThanOrEqual(((150 * LB * 10_000) / ACRE) * (1 - 1e-6));
  });

  it.each([
    ["tomato", "{method: dtpa, rating: {P: low}}", /rates P low: .*mehlich-3 and olsen ratings/],
    ["pepper", "{method: olsen, P: 12 ppm}", /the recipe rates P by mehlich-3 only/],
    ["pepper", "{method: ammonium-acetate, K: 90 ppm}", /the recipe rates K by mehlich-3 only/],
    ["tomato", "{method: Morgan, P: 12 ppm}", /the recipe rates P by olsen and mehlich-3 only/],
    [
      "tomato",
      "{method: {Zn: dtpa}, Zn: 0.4 ppm}",
      /Zn 0\.4 ppm by dtpa, which is low .*no table of amounts for Zn.*Nothing is asked of Zn/,
    ],
    ["strawberry", "{method: mehlich-3, P: 12 ppm}", /the recipe has no table of ratings for P/],
    ["strawberry", "{rating: {K: low}}", /no table of amounts for K2O/],
  ])("says for %s with %s that there is no answer, and keeps the need", (crop, test, text) => {
    const plan = planOf(`${HA}recipe: ${crop}\nsoil_test: ${test}\n`);
    expect(warningsOf(plan, "soil-test-unanswered").join("\n")).toMatch(text);
    expect(warningsOf(plan, "soil-test-need")).toEqual([]);
    expect(plan.demands.map((d) => d.minKg)).toEqual(
      planOf(`${HA}recipe: ${crop}\n`).demands.map((d) => d.minKg),
    );
  });

  it.each([
    ["{rating: {K: high}}", "choice-unknown 5:25 the recipe's table of amounts for K2O has no rating `high`"],
    ["{P: 12 ppm}", "key-missing 5:13 the reading of P does not say by which method it was made"],
    ["{method: olsen, P: 12}", "unit-missing 5:31 `12` has no unit"],
    ["{method: olsen, P: 12 mg/L}", "unit-kind 5:31 `12 mg/L`: not how soil is reported here"],
    ["{recommends: {N: 3 lb}}", "key-missing 5:13 these weights do not say what they are counted per"],
    [
      "{recommends: {per: ha, N: {min: 3 kg, max: 2 kg}}}",
      "range-crossed 5:55 `max` of N is below its `min`",
    ],
    ["{method: olsen}", "key-missing 5:12 this soil test says nothing"],
    [
      "{rating: {P: low, P2O5: low}}",
      "nutrient-twice 5:22 `P` names the same nutrient as `P2O5` in this map",
    ],
    ["{ratings: {P: low}}", "key-unknown 5:13 the key `ratings` means nothing here"],
  ])("refuses %s", (test, message) => {
    expect(problemsOf(`${HA}recipe: tomato\nsoil_test: ${test}\n`)).toContain(message);
  });

  it("answers from tables that a grower's own target carries", () => {
    const target = `
target: Leek
season: 120 days
need: {per: ha, N: 100 kg, P: 20 kg}
soil_test_ratings:
  methods:
    - {nutrient: P, method: Olsen, ratings: {Low: {below: 15}, medium: {to: 25}, High: {}}}
  recommends:
    - {per: ha, method: olsen, P: {low: 40 kg, medium: {min: 20 kg, max: 30 kg}, high: 0 kg}, source: The county}
`;
    const at = (ppm: number) =>
      planOf(
        `${HA}target: leek.yaml\nsoil_test: {method: Olsen, P: ${ppm} ppm}\n`,
        {},
        { "/garden/leek.yaml": target },
      ).demands.find((d) => d.nutrient === "P2O5")!;
    expect(at(14.99).minKg).toBeCloseTo(40 * P2O5, 9);
    expect(at(25)).toMatchObject({
      minKg: expect.closeTo(20 * P2O5, 9),
      maxKg: expect.closeTo(30 * P2O5, 9),
    });
    expect(at(26).minKg).toBe(0);
  });

  it.each([
    ["{low: {}, high: {to: 5}}", "range-crossed"],
    ["{low: {to: 5}, high: {below: 5}}", "range-crossed"],
    ["{low: {to: 5, below: 6}}", "key-conflict"],
    ["{low: 5}", "type-wrong"],
  ])("refuses a table of ratings such as %s", (ratings, code) => {
    const target = `{target: X, season: 90 days, need: {per: ha, N: 1 kg}, soil_test_ratings: {methods: [{nutrient: P, method: olsen, ratings: ${ratings}}]}}`;
    expect(problemsOf(`${HA}target: ${target}\n`).map((text) => text.split(" ")[0])).toEqual([code]);
  });
});

describe("a target that has only what the laboratory says", () => {
  it("needs no need of its own, wherever the soil test stands", () => {
    const recommends = "soil_test: {recommends: {per: plant, N: 12 g, K2O: 20 g}}";
    const bed = `${SHELF}bed: {plants: 100}\n`;
    for (const yaml of [
      `${bed}target: {target: X, season: 90 days}\n${recommends}\n`,
      `${bed}target:\n  target: X\n  season: 90 days\n  ${recommends}\n`,
    ]) {
      const plan = planOf(yaml);
      expect(plan.demands.map((d) => [d.nutrient, d.minKg])).toEqual([
        ["N", expect.closeTo(1.2, 12)],
        ["K2O", expect.closeTo(2, 12)],
      ]);
      expect(warningsOf(plan, "soil-test-need")[0]).toMatch(/^N need 1\.2 kg|^N need 2\.65 lb for the bed/);
    }
    expect(problemsOf(`${bed}target: {target: X, season: 90 days}\nsoil_test: {rating: {P: low}}\n`)).toEqual(
      ["key-missing 3:1 the target has no `need`"],
    );
  });

  it("has a plan's soil test above the target's own", () => {
    const plan = planOf(
      `${HA}target: {recipe: tomato, soil_test: {recommends: {per: ha, N: 1 kg}}}\nsoil_test: {recommends: {per: ha, N: 2 kg}}\n`,
    );
    expect(minKg(plan, "N")).toBe(2);
    expect(warningsOf(plan, "soil-test-twice")).toHaveLength(1);
  });

  it("may ask for none", () => {
    const plan = planOf(`${HA}recipe: tomato\nsoil_test: {recommends: {per: ha, N: 0 kg}}\n`);
    expect(minKg(plan, "N")).toBe(0);
    expect(plan.warnings.map((w) => w.code)).toEqual(["soil-test-need"]);
  });
});

describe("whatever stands under the new keys", () => {
  slow("is read or refused with a remedy, and never thrown at", () => {
    const words = [
      "P",
      "K2O",
      "rating",
      "recommends",
      "method",
      "per",
      "low",
      "1 lb",
      "12 ppm",
      "bed",
      "olsen",
      "spread",
    ];
    const more = [
      "from",
      "nitrate_n",
      "water",
      "8 mg/L",
      "12 in",
      "organic_matter",
      "3%",
      "until",
      "ratings",
      "methods",
    ];
    const word = fc.constantFrom(
      ...words,
      ...more,
      "25 t/ha",
      "nutrient",
      "t",
      "min",
      "max",
      "analysis",
      "N",
    );
    const { value } = fc.letrec<{ value: unknown }>((tie) => ({
      value: fc.oneof(
        { maxDepth: 4 },
        word,
        fc.integer({ min: -5, max: 500 }),
        fc.constant(null),
        fc.array(tie("value"), { maxLength: 3 }),
        fc.dictionary(word, tie("value"), { maxKeys: 4 }),
      ),
    }));
    const keys = ["yield", "soil_test", "credits", "soil_test_ratings", "uptake_per_yield"] as const;
    fc.assert(
      fc.property(fc.constantFrom(...keys), fc.boolean(), value, (key, inside, given) => {
        const target = { target: "X", season: "90 days", need: { per: "ha", N: "1 kg" } };
        const tree = {
          amendments: { meal: { analysis: { N: 13 }, stock: "1 kg" } },
          bed: { area: "1 ha" },
          target:
            inside || key.includes("_per_") || key.endsWith("ratings") ? { ...target, [key]: given } : target,
          ...(inside ? {} : { [key]: given }),
        };
        const loaded = load(JSON.stringify(tree));
        for (const problem of loaded.ok ? [] : loaded.problems) {
          expect(problem.hint, problem.message).toMatch(/\S/);
          expect(problem.message).not.toMatch(/undefined|\[object|NaN/);
        }
      }),
      { seed: 20_260_102, numRuns: 400 },
    );
  });
});

describe("credits that are worked out", () => {
  const BED = `${SHELF}recipe: tomato\nbed: {area: 1000 sq ft}\n`;
  const creditsOf = (...credits: string[]): readonly Credit[] =>
    planOf(`${BED}credits:\n${credits.map((c) => `  - ${c}\n`).join("")}`).credits;
  const available = (credit: Credit, day: number): number => {
    const { curve } = credit.release;
    if (curve.kind !== "points") throw new Error("not by points");
    const [[x0, y0], [x1, y1]] = curve.points as unknown as [[number, number], [number, number]];
    return y0 + ((y1 - y0) * (day - credit.day - x0)) / (x1 - x0);
  };

  it("nitrate in the water: depth x area x concentration", () => {
    const [credit] = creditsOf("{from: well, nitrate_n: 8 mg/L, water: 12 in}");
    // 12 in on 1000 sq ft is 1000 cu ft, 28 316.846592 L (NIST Handbook 44); at 8 mg/L.
    expect(credit!.contentKg.N).toBeCloseTo(28_316.846592 * 8e-6, 12);
    // Evenly over the season of 120 days.
    expect(available(credit!, 60)).toBeCloseTo(0.5, 12);
    expect(credit!.release.curve.q10).toBe(1);
    // Common practice, from memory: 2.7 lb of nitrogen per acre-foot for each ppm.
    const acre = planOf(
      `${SHELF}recipe: tomato\nbed: {area: 1 acre}\ncredits: [{from: w, nitrate_n: 1 ppm, water: 1 ft}]\n`,
    ).credits[0]!;
    expect(acre.contentKg.N! / LB).toBeCloseTo(2.72, 2);
    // N to NO3 by atomic weights: 62.004 / 14.007.
    const [nitrate] = creditsOf("{from: well, nitrate: 35.4127 mg/L, water: 12 in}");
    expect(nitrate!.contentKg.N! / credit!.contentKg.N!).toBeCloseTo((35.4127 * 14.007) / 62.004 / 8, 9);
    const [tank] = creditsOf("{from: tank, nitrate_n: 10 mg/L, water: 500 gal, day: 20, until: 50}");
    // 231 cubic inches to the gallon (NIST Handbook 44).
    expect(tank!.contentKg.N).toBeCloseTo(500 * 3.785411784 * 1e-5, 12);
    expect([available(tank!, 20), available(tank!, 35), available(tank!, 50)]).toEqual([0, 0.5, 1]);
  });

  it("organic matter of the soil: percent x nitrogen per percent, by the low end of the shipped range", () => {
    const [shipped, own] = creditsOf(
      "{from: soil, organic_matter: 3%}",
      "{from: soil, organic_matter: 3%, n_per_percent: 20 lb/acre}",
    );
    // 10 to 20 lb per acre and percent in a season: typical, from memory; 43.56 thousand sq ft to the acre (NIST SP 811).
    expect(shipped!.contentKg.N).toBeCloseTo((3 * 10 * LB) / 43.56, 12);
    expect(own!.contentKg.N).toBeCloseTo((3 * 20 * LB) / 43.56, 12);
    const plan = planOf(`${BED}credits: [{from: soil, organic_matter: 3%}]\n`);
    expect(warningsOf(plan, "credit-range")[0]).toMatch(/0\.23 lb .*to 0\.459 lb .*low end.*from memory/);
  });

  it("what was spread: weight x analysis, whatever it is measured by", () => {
    const credits = creditsOf(
      "{from: a, spread: 200 lb, per: 1000 sq ft, analysis: {N: 1.5, P: 0.5}, release: very-slow, day: -20}",
      "{from: b, spread: 10 t/ha, analysis: {N: 1.5}}",
      "{from: c, spread: 1 cu yd, density: 1000 lb/cu yd, analysis: {N: 1.5}}",
      "{from: d, spread: 0.5 in, density: 0.6 kg/L, analysis: {N: 1.5}}",
      "{from: e, spread: 50 lb, per: bed, analysis: {N: 2}, until: 60}",
    );
    const n = credits.map((credit) => credit.contentKg.N!);
    expect(n[0]).toBeCloseTo(200 * LB * 0.015, 12);
    expect(credits[0]!.contentKg.P2O5).toBeCloseTo(200 * LB * 0.005 * P2O5, 12);
    expect(credits[0]).toMatchObject({ day: -20, release: { label: "very-slow" } });
    expect(n[1]).toBeCloseTo(1 * 1000 * SQ_FT * 0.015, 12); // 10 t/ha is 1 kg/m2
    expect(n[2]).toBeCloseTo(1000 * LB * 0.015, 9);
    expect(n[3]).toBeCloseTo(0.0127 * 1000 * SQ_FT * 1000 * 0.6 * 0.015, 9);
    expect(n[4]).toBeCloseTo(50 * LB * 0.02, 12);
    expect(available(credits[4]!, 30)).toBeCloseTo(0.5, 12);
  });

  it("a shipped material: its numbers, each nutrient at its own speed", () => {
    const credits = creditsOf("{from: heap, material: compost, spread: 100 lb, per: 1000 sq ft}");
    // Soil Control Lab for CalRecycle 2013, over 1600 composts: 1.53-1.34-1.36 % of the dry matter; here with 40 % water.
    const total = (nutrient: "N" | "P2O5" | "K2O") =>
      credits.reduce((sum, credit) => sum + (credit.contentKg[nutrient] ?? 0), 0);
    expect(total("N")).toBeCloseTo(0.6 * 1.53 * LB, 2);
    expect(total("P2O5")).toBeCloseTo(0.6 * 1.34 * LB, 2);
    expect(total("K2O")).toBeCloseTo(0.6 * 1.36 * LB, 2);
    expect(credits.map((c) => c.from)).toEqual(["heap", "heap", "heap"]);
    // NOFA soil manual, Appendix A: a cubic yard of compost is 1000 lb (0.593 kg/L), a bushel 50 lb (0.644); taken between.
    const yard = creditsOf("{from: heap, material: compost, spread: 1 cu yd}");
    const pounds = yard.reduce((sum, c) => sum + (c.contentKg.N ?? 0), 0) / LB;
    expect(pounds).toBeGreaterThan(0.0092 * 1000);
    expect(pounds).toBeLessThan(0.0092 * 50 * 21.7);
    // Oregon State University Extension: crimson clover 2-0.2-2.
    const clover = creditsOf("{from: clover, material: crimson-clover, spread: 3 t/ha}");
    expect(clover.reduce((sum, c) => sum + (c.contentKg.N ?? 0), 0)).toBeCloseTo(
      0.3 * 1000 * SQ_FT * 0.02,
      9,
    );
  });

  it("credits come off what the blend has to bring", async () => {
    const cost = async (credits: string): Promise<number> => {
      const solution = await solvePlan(
        planOf(
          `${BED.replace(SHELF, SHOP)}only: [poultry-pellets, feather-meal, potassium-sulfate]\ncredits: [${credits}]\n`,
        ),
      );
      expect(solution.status).toBe("optimal");
      return solution.cost.total!;
    };
    const bare = await cost("");
    expect(await cost("{from: well, nitrate_n: 8 mg/L, water: 12 in}")).toBeLessThan(bare - 0.1);
    expect(await cost("{from: heap, material: compost, spread: 200 lb, per: 1000 sq ft}")).toBeLessThan(
      bare - 0.1,
    );
  });

  it.each([
    ["{from: x}", "key-missing 5:5 this credit names no nutrient"],
    ["{from: x, water: 12 in}", "key-missing 5:5 this credit does not say what the water holds"],
    ["{from: x, nitrate_n: 8 mg/L}", "key-missing 5:15 `nitrate_n` is given without `water`"],
    [
      "{from: x, N: 1 lb, per: bed, organic_matter: 3%}",
      "key-conflict 5:34 this credit is given in two ways, by `N` and by `organic_matter`",
    ],
    ["{from: x, spread: 2 t/ha}", "key-missing 5:15 `spread` is given without `analysis` or `material`"],
    [
      "{from: x, spread: 200 lb, analysis: {N: 1}}",
      "key-missing 5:5 these weights do not say what they are counted per",
    ],
    [
      "{from: x, spread: 2 cu yd, analysis: {N: 1}}",
      "density-missing 5:23 what is spread is given by volume, and no density is known",
    ],
    [
      "{from: x, spread: 2 cu yd, material: alfalfa}",
      "density-missing 5:23 a volume of `alfalfa`, whose density is not known",
    ],
    [
      "{from: x, spread: 2 t/ha, material: compots}",
      "choice-unknown 5:41 the shipped list of credits has no `compots`",
    ],
    [
      "{from: x, spread: 2 days, analysis: {N: 1}}",
      "unit-kind 5:23 `2 days` is not an amount that is spread",
    ],
    [
      "{from: x, nitrate_n: 8 mg/L, water: 12 in, day: 30, until: 20}",
      "range-crossed 5:64 `until` is not after day 30",
    ],
    [
      "{from: x, nitrate_n: 8 mg/L, water: 12 in, until: 200}",
      "day-outside 5:55 day 200 lies after the season's end on day 120",
    ],
    [
      "{from: x, per: bed, N: 1 lb, until: 20, release: slow}",
      "key-conflict 5:34 `release` is given together with `until`",
    ],
    [
      "{from: x, nitrate_n: 8 kg, water: 12 in}",
      "unit-kind 5:26 `8 kg` is a weight; a density (weight per volume) is needed here",
    ],
  ])("refuses %s", (credit, message) => {
    expect(problemsOf(`${BED}credits:\n  - ${credit}\n`)).toContain(message);
  });
});

describe("the shipped list of credits", () => {
  const list = parse(readFileSync(`${recipesDir}/credits.yaml`, "utf8")) as {
    credit_sources: Record<string, { source?: string }>;
    soil_organic_matter: { source?: string };
  };

  it("loads, and has a source for each entry", () => {
    expect(checkFiles(diskReader, [`${recipesDir}/credits.yaml`], where)[0]).toMatchObject({
      kind: "credits",
      problems: [],
    });
    const entries = Object.values(list.credit_sources);
    expect(entries.length).toBeGreaterThanOrEqual(5);
    for (const { source } of [...entries, list.soil_organic_matter])
      expect(source).toMatch(/Extension|CalRecycle|from memory|seen in part/);
  });

  it.each(Object.keys(list.credit_sources))("%s can be used", (material) => {
    const plan = planOf(`${HA}recipe: tomato\ncredits: [{from: x, material: ${material}, spread: 5 t/ha}]\n`);
    expect(plan.credits.length).toBeGreaterThan(0);
  });
});

describe("the examples in recipes/README.md", () => {
  const text = readFileSync(`${recipesDir}/README.md`, "utf8");
  const blocks = [...text.matchAll(/```yaml\n([\s\S]*?)```/g)].map((m) => m[1]!);
  const block = (start: string): string => {
    const found = blocks.filter((b) => b.startsWith(start));
    expect(found).toHaveLength(1);
    return found[0]!;
  };

  it("soil_test gives what its notes say", () => {
    const plan = planOf(`${SHELF}bed: {area: 1000 sq ft}\nrecipe: tomato\n${block("soil_test:")}`);
    expect(minKg(plan, "N")).toBeCloseTo(3 * LB, 12);
    // 200 lb/acre at medium (Mid-Atlantic table, from memory) and the harvest's removal at optimum (60 ppm).
    expect(minKg(plan, "K2O")).toBeCloseTo((200 * LB) / 43.56, 9);
    expect(minKg(plan, "P2O5")).toBeCloseTo((25 * LB) / 43.56, 9);
    expect(plan.warnings.map((w) => w.code)).toEqual(Array(3).fill("soil-test-need"));
  });

  it("credits load, each with something to give", () => {
    const plan = planOf(`${SHELF}bed: {area: 1000 sq ft}\nrecipe: tomato\n${block("credits:")}`);
    expect(new Set(plan.credits.map((c) => c.from)).size).toBe(8);
    for (const credit of plan.credits)
      expect(
        Object.values(credit.contentKg).reduce((a, b) => a + b, 0),
        credit.from,
      ).toBeGreaterThan(0);
  });

  it("a target begins from a shipped recipe", () => {
    const plan = planOf(`${HA}target: mine.yaml\n`, {}, { "/garden/mine.yaml": block("recipe:") });
    expect(plan.targetName).toBe("Tomatoes behind the barn");
    expect(minKg(plan, "N")).toBeCloseTo(2.75 * 35, 9);
    expect(plan.demands[1]!.appliedMaxKg).toBe(60);
  });

  it("the table of ratings is that of the tomato recipe", () => {
    const rows = [...text.matchAll(/^\| (Olsen|ammonium-acetate|DTPA|Mehlich-3) (\w+), ppm \| (.*?) \|/gm)];
    expect(rows).toHaveLength(5);
    const recipe = readFileSync(`${recipesDir}/crops/tomato.yaml`, "utf8");
    const tables = (
      parse(recipe) as {
        soil_test_ratings: {
          methods: { nutrient: string; method: string; ratings: { low: { below?: number; to?: number } } }[];
        };
      }
    ).soil_test_ratings.methods;
    for (const [, method, nutrient, low] of rows) {
      const { below, to } = tables.find((t) => t.method === method!.toLowerCase() && t.nutrient === nutrient)!
        .ratings.low;
      expect(low).toBe(below === undefined ? `to ${to}` : `below ${below}`);
    }
  });
});
