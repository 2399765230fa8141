/** What the values of a plan may be, by the names that their types have in `model.ts`; files are held to the same bounds. */
import { isoDate, parseDate } from "../../calendar.ts";
import type { ByNutrient, DeliverySteps, Demand, Points, ReleaseCurve } from "../../model.ts";
import { readNutrient } from "../../nutrients.ts";
import { parseDay, SOIL_C } from "../../units.ts";
import { crossed, strangeYear, TOLERANCE } from "../faults.ts";
import { CCE, DENSITY_KG_PER_L, LEAST_PERCENT, overfull } from "./amendments.ts";
import type { Faults } from "./base.ts";
import { currencyFaults, PH, SALINITY, unrising } from "./plan.ts";
import { tooMuch } from "./release.ts";
import type { Rule } from "./shape.ts";
import { LEAST_SURE, LEAST_TOGETHER, MOST_SURE } from "./sure.ts";
import { type Bounds, falling, malformed, nameFaults, outOfBounds, outOfRange } from "./values.ts";

const figure = (expected: string, bounds: Bounds): Rule => ({
  expected,
  faultsOf: (value: number) => [outOfBounds(expected, value, bounds)],
});
const amount = (expected: string) => figure(expected, { least: 0 });
const some = (expected: string) => figure(expected, { above: 0 });
const text = (expected: string, faultsOf: (value: string) => Faults): Rule => ({ expected, faultsOf });

const CONTENT: Bounds = { least: 0, most: readNutrient("K")!.factor + TOLERANCE };
const chance = (least: number): Rule =>
  figure("a share of seasons", { least: least - TOLERANCE, most: MOST_SURE + TOLERANCE });

const FIGURES: Readonly<Record<string, Rule>> = {
  Kg: amount("a weight in kg"),
  SomeKg: some("a weight in kg"),
  Litres: some("a volume in litres"),
  Metres: some("a length in m"),
  SquareMetres: some("an area in m2"),
  KgPerM2: some("a yield in kg/m2"),
  Day: {
    expected: "a day counted from planting",
    faultsOf: (days: number) => {
      const reading = parseDay(days);
      return [!reading.ok && reading];
    },
  },
  Days: some("a number of days"),
  Celsius: figure("a soil temperature in C", SOIL_C),
  CelsiusApart: figure("a difference of temperatures in C", { least: 0, most: 10 }),
  KgPerL: figure("a density in kg/L", DENSITY_KG_PER_L),
  Seconds: some("seconds"),
  Money: amount("an amount of money"),
  MoneyPerKg: amount("a price per kg"),
  Share: figure("a share", { least: 0, most: 1 + TOLERANCE }),
  SomeShare: figure("a share", { above: 0, most: 1 + TOLERANCE }),
  ReleasedShare: figure("a share", { least: -1 - TOLERANCE, most: 1 + TOLERANCE }),
  // None at all, or enough to be on a label. All potassium is more than a bag of K2O.
  Content: {
    expected: "a share of the bag",
    faultsOf: (share: number) => [
      outOfBounds("a share of the bag", share, CONTENT),
      share > 0 &&
        share < LEAST_PERCENT / 100 && {
          code: "number-range",
          given: share,
          wrong: "is too small to be on a label",
          hint: "a share of the bag from 0 to 1",
        },
    ],
  },
  BroughtKg: figure("a weight in kg", {}),
  MovedBy: figure("a number", {}),
  Spread: figure("a share below 1 (two lots in three lie within it)", { least: 0, below: 1 }),
  Chance: chance(LEAST_SURE),
  ChanceTogether: chance(LEAST_TOGETHER),
  LimeValue: figure("a share", CCE),
  SaltIndex: figure("a salt index", { least: 0, most: 400 }),
  Q10: figure("the factor of speed per 10 degrees", { above: 0, most: 10 }),
  PH: figure("a pH", PH),
  Salinity: figure("a salinity in dS/m", SALINITY),
  Count: figure("a number of things", { above: 0, whole: true }),
  Index: figure("the number of an application", { least: 0, whole: true }),
  Threshold: amount("a threshold"),
  number: figure("a number", {}),
};

const TEXTS: Readonly<Record<string, Rule>> = {
  Id: text("an id", (id) => [malformed(id)]),
  IsoDate: text("a date, for instance `2027-05-20`", (given) => {
    const date = parseDate(given);
    const sound = date !== null && date.year !== null && isoDate(date) === given;
    const wrong = { code: "date-unreadable", given, wrong: "is not a date" } as const;
    return [sound ? strangeYear(date.year, given) : { ...wrong, hint: "write it as `2027-05-20`" }];
  }),
  Currency: text("a currency such as `USD`", currencyFaults),
  string: text("text", nameFaults("text")),
};

/** Days go forward, and there is one. */
const rising = (points: Points): Faults => [
  points.length === 0 && {
    code: "key-missing",
    wrong: "no day is given",
    hint: "at least one pair `[day, value]`",
  },
  ...points.map(
    ([day], i): Faults[number] =>
      i > 0 &&
      day <= points[i - 1]![0] && {
        code: "points-falling",
        path: [i, 0],
        wrong: `day ${day} is not after the one before it`,
        hint: "days go forward",
      },
  ),
];

/** What holds between the parts of a map or a list. */
const WHOLES: Readonly<Record<string, Rule>> = {
  Totals: { faultsOf: (points: Points) => [...rising(points), ...falling(points, (i) => [i, 1])] },
  Temperatures: { faultsOf: rising },
  "ByNutrient<Content>": { closed: true, faultsOf: (parts: ByNutrient<number>) => [overfull(parts)] },
  "ByNutrient<BroughtKg>": {
    closed: true,
    faultsOf: (parts: ByNutrient<number>) =>
      Object.entries(parts).map(
        ([nutrient, kg]): Faults[number] =>
          nutrient !== "N" &&
          kg < 0 && { ...outOfRange(kg, "zero or more: only nitrogen can be tied up"), path: [nutrient] },
      ),
  },
  ReleaseCurve: {
    expected: "a release of kind `pool` or `points`",
    faultsOf: (curve: ReleaseCurve) => [
      curve.kind === "pool" && tooMuch({ atOnce: curve.atOnce, later: curve.later }, TOLERANCE),
    ],
  },
  DeliverySteps: { faultsOf: (steps: DeliverySteps) => unrising(steps, "upToKg") },
  Demand: {
    faultsOf: ({ minKg, maxKg }: Demand) => [
      maxKg !== null && minKg > maxKg && { ...crossed("`maxKg`", "`minKg`"), path: ["maxKg"] },
    ],
  },
  Batch: {
    expected: "a batch: either `kg` or `litres`",
    faultsOf: ({ kg, litres }: { readonly kg?: number; readonly litres?: number }) => [
      kg !== undefined &&
        litres !== undefined && {
          code: "key-conflict",
          wrong: "a batch has either `kg` or `litres`",
          hint: "keep the one that fills first",
        },
    ],
  },
};

/** What is asked of the values of a type, beside their shape. */
export function ruleOf(type: string | undefined): Rule | undefined {
  const rule = FIGURES[type ?? ""] ?? TEXTS[type ?? ""] ?? WHOLES[type ?? ""];
  return rule ?? (type?.startsWith("ByNutrient<") ? { closed: true } : undefined);
}
