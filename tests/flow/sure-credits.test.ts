/**
 * How sure a need is that a credit helps to meet, in closed form. By the model of normal chance constraints (Charnes and
 * Cooper 1959, Management Sci. 6:73) a need is met with chance p where the mean less z(p) standard deviations is the
 * need; z(90 %) = 1.281552 (any table of the normal law). What is spread here is not in doubt, so the deviation is that of
 * the credit alone: its own, and, of what a season releases, the part that all releases share, squared and added up.
 */
import { describe, expect, it } from "vitest";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

const LB = 0.45359237;
const Z90 = 1.2815515655446004;
/** Need of the acre, lb of nitrogen. */
const NEED = 100;

const acre = (credit: object) => ({
  plan: "An acre and its credit",
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
  target: { target: "Crop", season: "100 days", need: { per: "acre", N: `${NEED} lb` } },
  credits: [credit],
  sure: { N: "90%" },
});

/** Nitrogen of a ton of dry matter with 3.5 % is 35 lb, with 1 % -8.75 lb: Oregon State University PNW 636. */
const cases: [string, object, number, number][] = [
  ["a green manure", { dry_matter: "1 ton/acre", N: "3.5%", day: -14 }, 35, Math.hypot(0.35, 0.08)],
  [
    "a green manure that is known better",
    { dry_matter: "1 ton/acre", N: "3.5%", day: -14, varies: "10%" },
    35,
    Math.hypot(0.1, 0.08),
  ],
  [
    "a cereal that ties nitrogen up",
    { dry_matter: "2 ton/acre", N: "1%", day: -14, varies: "10%" },
    -17.5,
    Math.hypot(0.1, 0.08),
  ],
  [
    "organic matter of the soil",
    { organic_matter: "3%", n_per_percent: "10 lb/acre", varies: "15%" },
    // The rule's 30 lb by 120 days of 18 C soil; a Q10 of 2 by hand.
    (30 * 100 * 2 ** 0.7) / 120,
    Math.hypot(0.15, 0.08),
  ],
  // 20 ppm of nitrate nitrogen in 24 acre-inches is 109 lb (UC ANR Ventura); a tenth of that here. It is released already.
  ["nitrate in water", { nitrate_n: "20 mg/L", water: "2.4 in", varies: "10%" }, 10.877, 0.1],
];

describe("a need met with a credit", () => {
  it.each(cases)("is as sure as asked with %s", async (_, credit, pounds, cv) => {
    const solution = await solvePlan(loadTree(acre({ from: "the credit", ...credit })));
    const salt = solution.amendments[0]!.kg * 0.2;
    const short = NEED - pounds + Z90 * cv * Math.abs(pounds);
    expect(salt / LB / short).toBeCloseTo(1, 4);
    const [need] = solution.sure!.needs;
    expect(need!.p).toBeCloseTo(0.9, 6);
    // 4,096 worked seasons, in which the doubts are multiplied out.
    expect(Math.abs(need!.pChecked! - 0.9)).toBeLessThan(0.006);
  });
});
