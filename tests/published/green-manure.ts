/** What is turned in, and what a soil test asks to be spread. */
import { bag, type Check, type Json, LB, nutrient } from "./check.ts";

const PNW =
  "Oregon State University PNW 636, Sullivan and Andrews 2012: none at 1.5 % N in the dry matter, about 35 lb per ton at 3.5 %, straight between";

const turnedIn = (percent: number): object => ({
  plan: "A cover crop turned in",
  amendments: { bag: bag({ N: 46 }) },
  target: { target: "Example", season: "240 days", need: { per: "acre", N: "100 lb" } },
  bed: { area: "1 acre" },
  credits: [{ from: "cover crop", dry_matter: "1 ton/acre", N: `${percent}%`, day: -14 }],
});

const line: readonly Check[] = (
  [
    [1, -8.75, "computed"],
    [1.5, 0, "seen"],
    [2, 8.75, "computed"],
    [2.5, 17.5, "computed"],
    [3, 26.25, "computed"],
    [3.5, 35, "seen"],
  ] as const
).map(([percent, expected, standing]) => ({
  what: `nitrogen of a ton of cover crop with ${percent} % N`,
  source: PNW,
  standing,
  args: ["solve", "-", "--by", "weight"],
  stdin: turnedIn(percent),
  got: nutrient("N", "creditKg"),
  unit: "lb",
  expected,
  within: 0.01,
}));

const rye: Check = {
  what: "nitrogen to spread for 100 lb after a ton of rye with 1 % N",
  source: `${PNW}; cereals tie nitrogen up, 8.75 lb by the line`,
  standing: "computed",
  args: ["solve", "-", "--by", "weight"],
  stdin: turnedIn(1),
  got: nutrient("N", "appliedKg"),
  unit: "lb",
  expected: 108.75,
  within: 0.01,
};

/** Phosphate that the mix for a tomato bed spreads at a Mehlich-3 reading. */
const spread = (ppm: number, expected: number): Check => ({
  what: `P2O5 spread on tomatoes at ${ppm} ppm of Mehlich-3 P`,
  source:
    "Rutgers NJAES, Relative levels of nutrients; the rates of the Mid-Atlantic guide from memory: low 200, very high 0 lb per acre; at optimum the harvest's removal, 0.207 kg P/t x 60 t/ha, to the nearest 5 lb",
  standing: "memory",
  args: ["solve", "-", "--by", "weight"],
  stdin: {
    plan: "A tomato bed",
    amendments: { recipe: "all" },
    only: ["poultry-pellets", "feather-meal", "potassium-sulfate", "bone-meal-steamed", "blood-meal"],
    recipe: "tomato",
    bed: { area: "1 acre", plants: 4000 },
    soil_temperature: "18 C",
    soil: { pH: 6.4 },
    soil_test: { method: "mehlich-3", P: `${ppm} ppm` },
  },
  got: (json) => json.nutrients.find((n: Json) => n.nutrient === "P2O5").appliedKg / LB,
  unit: "lb/acre",
  expected,
  within: expected === 0 ? 1e-6 : 2,
});

export const GREEN_MANURES: readonly Check[] = [...line, rye];
export const TOMATO_BED: readonly Check[] = [spread(15, 200), spread(60, 25), spread(200, 0)];
