/** Least-cost problems with a published optimum, written as plans. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { ROOT } from "../helpers/world.ts";
import { type Check, LB } from "./check.ts";

/** Nutrients of the plan that mean those of a diet: what they are called does not matter to the arithmetic. */
const NAMES = ["N", "P2O5", "K2O", "Ca", "Mg", "S", "Fe", "Mn", "Zn"] as const;

/** Shares small enough that no food is more than all of itself. */
const SCALE = 10;

/**
 * Stigler's diet of 1945: 77 foods, nine daily allowances, nutrients per dollar of 1939. A kilogram of a food means a dollar of
 * it, and each nutrient is scaled so that its largest content is ten percent.
 */
function stigler(): object {
  const [, ...lines] = readFileSync(join(ROOT, "tests/data/stigler-1945.csv"), "utf8").trim().split("\n");
  const foods = lines.map((line) => line.split(",").slice(-9).map(Number));
  const largest = NAMES.map((_, j) => Math.max(...foods.map((food) => food[j]!)));
  const allowances = [3, 70, 0.8, 12, 5, 1.8, 2.7, 18, 75];
  return {
    plan: "The cost of subsistence",
    amendments: Object.fromEntries(
      foods.map((food, i) => [
        `food-${i}`,
        {
          name: `Food ${i}`,
          analysis: Object.fromEntries(
            NAMES.flatMap((name, j) => (food[j]! > 0 ? [[name, (SCALE * food[j]!) / largest[j]!]] : [])),
          ),
          bulk: { price: 1, per: "kg" },
          release: "at-once",
        },
      ]),
    ),
    target: {
      target: "A man of 154 pounds, one day",
      season: "1 day",
      need: {
        per: "bed",
        ...Object.fromEntries(
          NAMES.map((name, j) => [name, `${((SCALE / 100) * allowances[j]!) / largest[j]!} kg`]),
        ),
      },
    },
    bed: { area: "1 m2" },
  };
}

export const PROGRAMS: readonly Check[] = [
  {
    what: "Stigler's diet, dollars of 1939 a year",
    source:
      "Stigler 1945, The Cost of Subsistence, J. Farm Economics 27:303; 39.69 is quoted as the hand solution of 1947, from memory; his data as printed give 39.66 (HiGHS)",
    standing: "memory",
    args: ["solve", "-", "--by", "weight"],
    stdin: stigler(),
    got: (json) => json.cost.total * 365,
    unit: "dollars",
    expected: 39.66,
    within: 0.04,
  },
  {
    what: "the bread, milk, cheese and potato diet",
    source:
      "SAS/OR documentation, OPTLP procedure, example The Diet Problem; 12.081 is the optimum of its data",
    standing: "computed",
    args: ["solve", "-", "--by", "weight"],
    stdin: sasDiet(),
    got: (json) => json.cost.total,
    unit: "dollars",
    expected: 12.081,
    within: 0.0005,
  },
  {
    what: "12 % and 3 % mixed to 6 %, 100 lb: the stronger",
    source: "Pearson square, the two-component mix of feed handbooks (the method; figures computed)",
    standing: "computed",
    args: ["solve", "-", "--by", "weight"],
    stdin: pearson(12, 3, 6, 100),
    got: (json) => json.amendments.find((a: { id: string }) => a.id === "strong").kg / LB,
    unit: "lb",
    expected: 33.33,
    within: 0.005,
  },
  {
    what: "13 % and 4 % mixed to 7 %, 60 lb: the stronger",
    source: "Pearson square, the two-component mix of feed handbooks (the method; figures computed)",
    standing: "computed",
    args: ["solve", "-", "--by", "weight"],
    stdin: pearson(13, 4, 7, 60),
    got: (json) => json.amendments.find((a: { id: string }) => a.id === "strong").kg / LB,
    unit: "lb",
    expected: 20,
    within: 1e-6,
  },
];

/** Calories, protein, fat and carbohydrate of six foods; a kilogram means a portion, a gram of nutrient for a unit. */
function sasDiet(): object {
  const foods = [
    ["bread", 2, 4, 1, 15, 90],
    ["milk", 3.5, 8, 5, 11.7, 120],
    ["cheese", 8, 7, 9, 0.4, 106],
    ["potato", 1.5, 1.3, 0.1, 22.6, 97],
    ["fish", 11, 8, 7, 0, 130],
    ["yogurt", 1, 9.2, 1, 17, 180],
  ] as const;
  const percent = (units: number): number => units / 10;
  return {
    plan: "A diet",
    amendments: Object.fromEntries(
      foods.map(([id, price, protein, fat, carbohydrate, calories]) => [
        id,
        {
          name: id,
          analysis: Object.fromEntries(
            [
              ["N", protein],
              ["P2O5", fat],
              ["K2O", carbohydrate],
              ["Ca", calories],
            ].flatMap(([name, units]) => ((units as number) > 0 ? [[name, percent(units as number)]] : [])),
          ),
          bulk: { price, per: "kg" },
          release: "at-once",
        },
      ]),
    ),
    target: {
      target: "A day",
      season: "1 day",
      need: { per: "bed", N: { max: "10 g" }, P2O5: "8 g", K2O: "10 g", Ca: "300 g" },
    },
    limits: { fish: { min: "0.5 kg" }, milk: { max: "1 kg" } },
    bed: { area: "1 m2" },
  };
}

/** Two strengths to one between, with a filler nutrient that fixes the weight. */
function pearson(strong: number, weak: number, goal: number, weight: number): object {
  const exactly = (amount: number): object => ({ min: `${amount} lb`, max: `${amount} lb` });
  const material = (percent: number, price: number): object => ({
    name: `${percent} %`,
    analysis: { N: percent, Ca: 10 },
    bulk: { price, per: "lb" },
    release: "at-once",
  });
  return {
    plan: "Two strengths",
    amendments: { strong: material(strong, 1), weak: material(weak, 0.5) },
    target: {
      target: "Example",
      season: "60 days",
      need: { per: "bed", N: exactly((weight * goal) / 100), Ca: exactly(weight / 10) },
    },
    bed: { area: "1000 sq ft" },
  };
}
