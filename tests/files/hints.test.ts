/**
 * Advice is taken: whatever a hint tells to write in place of a value is put there, and the program then has nothing
 * against that value. Every value of a plan that uses nearly all fields is written wrongly in each way that people do.
 */
import { describe, expect, it } from "vitest";
import { loadPlan, readFlagValue } from "../../src/files/load.ts";
import { type Problem, pathText } from "../../src/problem.ts";
import { memoryReader } from "../helpers/files.ts";
import { seeds, slow } from "../helpers/seeds.ts";

/** One in so many slips is tried; 1 tries all. */
const STRIDE = Number(process.env.HINTS_STRIDE ?? seeds(36, 6));
/** What is wrong between two values is not against either. */
const BETWEEN = [
  ...["points-falling", "range-crossed", "limit-conflict", "day-outside", "shares-sum", "shares-partial"],
  ...["name-twice", "amendment-unknown", "density-missing"],
];

type Path = readonly (string | number)[];

const PLAN = {
  plan: "bed by the shed",
  currency: "EUR",
  units: "us",
  planted: "2027-05-20",
  scoops: { barrow: "6 cu ft" },
  exclude: ["old-lime"],
  target: {
    target: "peppers",
    season: "120 days",
    efficiency: "90%",
    uptake: { N: { 0: "0%", 60: "40%", 120: "100%" } },
    need: {
      per: "1000 sq ft",
      N: { min: "1 lb", max: "4 lb", efficiency: "80%" },
      P2O5: { min: "0.3 lb", counts: "applied" },
      K2O: "0.5 lb",
    },
    applied_max: { per: "bed", P2O5: "3 lb" },
    ahead_max: { per: "acre", N: "90 lb" },
  },
  bed: { plants: 180, area: "600 sq ft", rows: 4, row_length: "50 ft" },
  soil: { pH: 6.4, organic_matter: "3%", P_rating: "low" },
  soil_temperature: { 0: "14 C", 60: "68 F" },
  cover: "tunnel",
  credits: [
    { from: "compost", per: "bed", N: "0.1 lb", day: -7, release: "slow", varies: "20%" },
    { from: "heap", spread: "1 in", analysis: { N: 1 }, density: "0.6 kg/L", release: "slow" },
    { from: "well", water: "12 in", nitrate_n: "8 mg/L", day: 0, until: 60 },
  ],
  applications: [
    { name: "planting", day: 0, share: "60%", placement: "band" },
    { name: "side-dress", day: 40, share: "40%" },
  ],
  check_days: [70],
  batch: "20 lb",
  scale: "1 oz",
  simple: { most: 4, least: "0.2 lb" },
  limits: { "blood-meal": { min_share: "1%", max_share: "60%", min: "0.1 lb", max: "20 lb" } },
  suppliers: { mill: { delivery: 20, free_over: 500, per: "0.05/lb", percent: "2%" } },
  harvest: { first: 70, touches_soil: false },
  sure: { N: "80%" },
  varies: { releases: "8%", soil_temperature: "1.2 C", spreading: "3%" },
  thresholds: { "heavy-rain": "100 lb/acre" },
  amendments: {
    "blood-meal": {
      analysis: { N: 13 },
      release: { other: "fast", N: { at_once: "20%", later: "70%", half_life: "12 days", q10: 2 } },
      packs: [{ size: "50 lb", price: 50, supplier: "mill" }],
      bulk: { price: 2.6, per: "lb" },
      density: "0.7 kg/L",
      stock: "1 lb",
      organic: "listed",
      kind: "animal",
      salt_index: 5,
      cce: "-20%",
      varies: { N: "8%", other: "12%" },
    },
    "palm-ash": {
      analysis: { K2O: 30, P2O5: 9 },
      release: { points: { 0: "10%", 30: "40%" } },
      packs: [{ size: "10 lb", price: 18 }],
    },
    "old-lime": { analysis: { CaO: 50 }, release: "slow", packs: [{ size: "10 lb", price: 5 }] },
  },
};

function problemsOf(tree: unknown): readonly Problem[] {
  const io = memoryReader({ "/plans/plan.yaml": JSON.stringify(tree) });
  const read = loadPlan(io, { planFile: "/plans/plan.yaml", cwd: "/plans", recipesDir: "/recipes" });
  return read.ok ? [] : read.problems;
}

/** Every value that is no map and no list, and every map, by its path. */
function places(value: unknown, path: Path = []): { readonly path: Path; readonly value: unknown }[] {
  if (typeof value !== "object" || value === null) return [{ path, value }];
  const isList = Array.isArray(value);
  const inside = Object.entries(value).flatMap(([key, one]) =>
    places(one, [...path, isList ? Number(key) : key]),
  );
  return isList ? inside : [{ path, value }, ...inside];
}

function changed(
  path: Path,
  change: (holder: Record<string | number, unknown>, key: string | number) => void,
) {
  const copy = structuredClone(PLAN) as Record<string | number, unknown>;
  let at = copy;
  for (const step of path.slice(0, -1)) at = at[step] as typeof at;
  change(at, path.at(-1)!);
  return copy;
}
const withValue = (path: Path, value: unknown) =>
  changed(path, (holder, key) => {
    holder[key] = value;
  });
const withKey = (path: Path, name: string) =>
  changed(path, (holder, key) => {
    holder[name] = holder[key];
    delete holder[key];
  });

/** A number in a text, and what follows it. */
const partsOf = (text: string) =>
  /^(-?)([\d.]+)(\s*)(.*)$/.exec(text)?.slice(1) as [string, string, string, string] | undefined;

/** What people write in place of a value. */
function slips(value: unknown): unknown[] {
  const text = String(value);
  const parts = typeof value === "boolean" ? undefined : partsOf(text);
  if (parts === undefined) return [`${text}x`, text.slice(1), text.toUpperCase(), "", 7, { a: 1 }, "maybe"];
  const [sign, number, blank, unit] = parts;
  const after = `${blank}${unit}`;
  return [
    number,
    Number(number),
    `${sign}${number}`,
    unit,
    `${sign}${number}${blank}${unit}s`,
    `${number}${blank}${unit.slice(1)}x`,
    `${number}-${Number(number) + 3}${after}`,
    `${number} to ${Number(number) + 3}${after}`,
    `${number},5${after}`,
    `1.2${number},5${after}`,
    `1O${after}`,
    `1 20${after}`,
    `1/0${after}`,
    `0${number}${after}`,
    `$${number}${after}`,
    `“${text}”`,
    `0x1f${after}`,
    `-${number}${after}`,
    `0${after}`,
    `1e30${after}`,
    `1e-30${after}`,
    `${number}°`,
    `${number} Mg`,
    `${number} T`,
    `${number} yd`,
    `${number} lb`,
    `${number} sq ft`,
    `${number} days`,
    `${number} C`,
    `900 C`,
    `${number}%`,
    `900%`,
    `${number} xyz`,
    `30 x 50 ft`,
    "13-0-0",
    "some",
    "",
    true,
    [1],
  ];
}

/** What a hint tells to write in place of the value. */
const CUE =
  /(?:write(?: [a-z ]+)?|for instance|such as|did you mean|or|or both|at least|at most|between|and|out|quotes):? `([^`]+)`/g;
function advised(hint: string): string[] {
  // What goes somewhere else, or stands for a whole family of ways to say it, is no value for this place.
  if (hint.startsWith("give ")) return [];
  const here = hint.replace(
    /(?:keys? accepted|units accepted|there are|the choices are|add|the only choice|one of) .*$/s,
    "",
  );
  return [...here.matchAll(CUE)]
    .map(([, text]) => text!)
    .filter((text) => !/^[a-z_A-Z0-9]+: |^--|^barrowmix|^\w+$(?<=_.*)/.test(text));
}

const isUnder = (path: Path | undefined, place: Path): boolean =>
  path !== undefined && place.every((step, i) => String(path[i]) === String(step));

describe("what hints advise", () => {
  it("begins from a plan that has nothing wrong", () => {
    expect(problemsOf(PLAN)).toEqual([]);
  });

  slow(
    "is taken in place of the value",
    () => {
      const refused: string[] = [];
      let followed = 0;
      for (const [i, { path, value }] of places(PLAN).entries()) {
        if (path.length === 0) continue;
        for (const [k, slip] of slips(typeof value === "object" ? "text" : value).entries()) {
          if ((i + k) % STRIDE > 0) continue;
          for (const { hint, path: at, message } of problemsOf(withValue(path, slip))) {
            if (hint === undefined || at === undefined || at.join() !== path.join()) continue;
            for (const advice of advised(hint)) {
              followed++;
              const still = problemsOf(withValue(path, readFlagValue(advice).value)).filter(
                (one) => isUnder(one.path, path) && !BETWEEN.includes(one.code),
              );
              if (still.length > 0)
                refused.push(
                  `${pathText(path)}: ${message}; ${hint}\n   ${advice}: ${still[0]!.message}; ${still[0]!.hint}`,
                );
            }
          }
        }
      }
      expect([...new Set(refused)].join("\n")).toBe("");
      expect(followed).toBeGreaterThan(2000 / STRIDE);
    },
    240_000,
  );

  slow(
    "is taken in place of a key",
    () => {
      const refused: string[] = [];
      let followed = 0;
      for (const [i, { path }] of places(PLAN).entries()) {
        const key = path.at(-1);
        if (typeof key !== "string" || key.length < 2 || i % seeds(4, 1) > 0) continue;
        for (const slip of [
          `${key}s`,
          key.slice(0, -1),
          key.toUpperCase(),
          key.replace("_", "-"),
          `${key} `,
        ]) {
          if (slip === key) continue;
          const [problem] = problemsOf(withKey(path, slip)).filter(({ path: at }) => at?.at(-1) === slip);
          const advice = /did you mean `([^`]+)`/.exec(problem?.hint ?? "")?.[1];
          if (advice === undefined) continue;
          followed++;
          const still = problemsOf(withKey(path, advice)).filter(
            (one) => one.path?.at(-1) === advice && one.code === "key-unknown",
          );
          if (still.length > 0) refused.push(`${pathText(path)} ${slip}: ${advice}: ${still[0]!.message}`);
        }
      }
      expect(refused).toEqual([]);
      expect(followed).toBeGreaterThan(60 / seeds(4, 1));
    },
    120_000,
  );
});
