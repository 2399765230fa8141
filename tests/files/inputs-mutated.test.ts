/** Every value of the plan that `solve --json` prints, put out of shape one at a time: none gets through. */
import { describe, expect, it } from "vitest";
import { readPlanValue } from "../../src/files/load.ts";
import type { Plan } from "../../src/model.ts";
import { pathText, sentence } from "../../src/problem.ts";
import { examplePlan } from "../helpers/files.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeds, slow } from "../helpers/seeds.ts";

type Path = readonly (string | number)[];

/** A plan in which every field of the model has a value. */
const RICH = {
  plan: "bed by the shed",
  currency: "EUR",
  units: "metric",
  planted: "2027-05-20",
  scoops: { barrow: "6 cu ft", scoop: "1 quart" },
  exclude: ["old-lime"],
  target: {
    target: "peppers",
    season: "120 days",
    uptake: { N: { 0: "0%", 60: "40%", 120: "100%" } },
    need: {
      per: "bed",
      N: { min: "1 kg", max: "4 kg", efficiency: "80%" },
      P2O5: { min: "0.3 kg", counts: "applied" },
      K2O: "0.5 kg",
    },
    applied_max: { per: "bed", P2O5: "3 kg" },
    ahead_max: { per: "bed", N: "2 kg" },
  },
  bed: { plants: 180, area: "60 m2", rows: 4, row_length: "15 m" },
  soil: { pH: 6.4, organic_matter: "3%", P_rating: "low" },
  soil_temperature: { 0: "14 C", 60: "20 C" },
  cover: "tunnel",
  credits: [
    {
      from: "compost",
      per: "bed",
      N: "0.1 kg",
      day: -7,
      release: { class: "slow", varies: "30%" },
      varies: "20%",
    },
    { from: "rye", material: "rye", dry_matter: "0.3 kg/m2", N: "1.2%", day: -14 },
  ],
  applications: [
    { name: "planting", day: 0, share: "60%", placement: "band" },
    { name: "side-dress", day: 40, share: "40%" },
  ],
  check_days: [70],
  batch: "20 kg",
  scale: "10 g",
  simple: { most: 4, least: "0.2 kg" },
  limits: { "blood-meal": { min_share: "1%", max_share: "60%", min: "0.1 kg", max: "20 kg" } },
  suppliers: {
    mill: { delivery: 20, free_over: 500, per: "0.05/kg", percent: "2%" },
    store: { steps: [{ up_to: "50 kg", price: 10 }, { price: 30 }] },
  },
  harvest: { first: 70, touches_soil: false },
  sure: { N: "80%" },
  varies: { releases: "8%", soil_temperature: "1.2 C", spreading: "3%" },
  thresholds: { "heavy-rain": "100 kg/ha" },
  amendments: {
    "blood-meal": {
      analysis: { N: 13 },
      release: { other: "fast", N: { at_once: "20%", later: "70%", half_life: "12 days", varies: "9%" } },
      packs: [{ size: "20 kg", price: 50, supplier: "mill" }],
      bulk: { price: 2.6, per: "kg" },
      supplier: "mill",
      density: "0.7 kg/L",
      stock: "1 kg",
      organic: "listed",
      kind: "animal",
      salt_index: 5,
      cce: "-20%",
      varies: { N: "8%", other: "12%" },
    },
    "bone-meal": {
      analysis: { N: 3, P2O5: 15 },
      release: { points: { 0: "10%", 30: "40%", 90: "70%" } },
      packs: [{ size: "10 kg", price: 22 }],
      phosphate: "bone",
    },
    "palm-ash": { analysis: { K2O: 30 }, release: "fast", packs: [{ size: "10 kg", price: 18 }] },
    "old-lime": { analysis: { CaO: 50 }, release: "slow", packs: [{ size: "10 kg", price: 5 }] },
  },
};

/** Numbers that may well be below zero, or that nothing bounds but a day or a temperature of the earth. */
const MAY_BE_NEGATIVE =
  /\.day$|firstDay|checkDays|\.points\[\d+\]\[0\]|uptake\[\d+\]\[0\]|referenceC|atOnce|later|cce|contentKg\.N$|soilTemperatureC\[\d+\]/;

function leaves(value: unknown, path: Path = []): { readonly path: Path; readonly value: unknown }[] {
  const inside =
    typeof value === "object" && value !== null
      ? Object.entries(value).flatMap(([key, one]) =>
          leaves(one, [...path, Array.isArray(value) ? Number(key) : key]),
        )
      : [];
  return [{ path, value }, ...inside];
}

function put(plan: unknown, path: Path, value: unknown): unknown {
  const copy = structuredClone(plan) as Record<string | number, unknown>;
  let at = copy;
  for (const step of path.slice(0, -1)) at = at[step] as typeof at;
  at[path.at(-1)!] = value;
  return copy;
}

/** What is put in place of a value: every other type, and numbers out of range. */
function mutants(path: Path, value: unknown): unknown[] {
  const types = ["text", 7, true, [], {}, null].filter(
    (other) =>
      typeof other !== typeof value || Array.isArray(other) !== Array.isArray(value) || other === null,
  );
  // A bound that is absent is null; text of one's own may be any text, and an empty map or list may say that there is none.
  const fine = types.filter((other) => !(value === null && typeof other === "number"));
  const isNumber = typeof value === "number";
  return [
    ...fine.filter(
      (other) => !(other === null && /maxKg|appliedMaxKg|aheadMaxKg|uptake$/.test(String(path.at(-1)))),
    ),
    ...(isNumber && !MAY_BE_NEGATIVE.test(pathText(path)) ? [-1] : []),
    ...(isNumber ? [1e300, 1e-300] : []),
    ...(typeof value === "string" ? [""] : []),
  ];
}

/** What gets through of every value of the plan, or of every so many. */
function survivors(plan: Plan, every = 1): string[] {
  const printed: unknown = JSON.parse(JSON.stringify(plan));
  expect(readPlanValue(printed)).toEqual({ ok: true, value: printed });
  return leaves(printed).flatMap(({ path, value }, k) =>
    path.length === 0 || k % every !== 0
      ? []
      : mutants(path, value).flatMap((mutant) => {
          const read = readPlanValue(put(printed, path, mutant), ["inputs"]);
          const where = pathText(["inputs", ...path]);
          const told = !read.ok && read.problems.some((p) => sentence(p).startsWith(where));
          return told
            ? []
            : [
                `${where} = ${JSON.stringify(mutant)}${read.ok ? "" : `: ${read.problems.map(sentence).join("; ")}`}`,
              ];
        }),
  );
}

describe("a plan in JSON with one value out of shape", () => {
  slow("is refused at its place: a plan that uses every field", () => {
    const loaded = loadTree(RICH);
    // What only a shipped recipe, `--require` and what the loader works out by itself would give.
    const plan: Plan = {
      ...loaded,
      removalKg: { N: 1 },
      demands: loaded.demands.map((demand) => ({ ...demand, appliedSoftMaxKg: 50 })),
      amendments: loaded.amendments.map((one) => ({ ...one, effective: { P2O5: 0.5 } })),
      sure: { ...loaded.sure!, together: { nutrients: ["N"], p: 0.9 } },
      limits: loaded.limits.map((limit) => ({ ...limit, notIn: [1] })),
    };
    for (const key of ["planted", "scoops", "soil", "cover", "sure", "varies", "checkDays", "thresholds"])
      expect(plan).toHaveProperty(key);
    expect(survivors(plan)).toEqual([]);
  });

  it("is refused at its place: the example", () => {
    expect(survivors(examplePlan(), seeds(7, 1))).toEqual([]);
  });
});
