/** Season files: what was decided, what was bought, and a log of what has happened since. */
import * as z from "zod/mini";
import { PLACEMENTS } from "../../model.ts";
import { type Reading, readNumeral } from "../../numerals.ts";
import { parseQuantity } from "../../units.ts";
import { freeMap, later, lazy, list, map, parsed, remarks, written } from "./base.ts";
import { choice, label, money, number, quantity, share } from "./values.ts";

/** So much of something: a weight, so many batches of a mix, or a measure for each plant. */
export type SpreadAmount =
  | { readonly kg: number }
  | { readonly batches: number }
  | { readonly litres: number }
  | { readonly perPlant: { readonly kg: number } | { readonly litres: number } };

const AN_AMOUNT = "an amount such as `6 lb`, `1/2 batch` or `0.5 cup a plant`";

/** A weight or a loose volume. */
function massOrLitres(text: string): Reading<{ readonly kg: number } | { readonly litres: number }> {
  const kg = parseQuantity(text, "mass");
  if (kg.ok) return { ok: true, value: { kg: kg.value } };
  const litres = parseQuantity(text, "volume");
  return litres.ok ? { ok: true, value: { litres: litres.value } } : kg;
}

/** Reads `6 lb`, `1 3/4 batches`, `0.5 cup a plant`. */
export function parseSpreadAmount(input: string | number): Reading<SpreadAmount> {
  const text = String(input).trim();
  const batches = /^(.*?)\s*batch(?:es)?$/i.exec(text);
  if (batches) {
    const numeral = readNumeral(batches[1]!.trim() || "1", true);
    if (numeral && numeral.rest.trim() === "" && numeral.value >= 0)
      return { ok: true, value: { batches: numeral.value } };
  }
  const plant = /^(.*?)\s*(?:\/|\bper\b|\ba\b|\beach\b)\s*plant$/i.exec(text);
  if (!plant) return massOrLitres(text);
  const each = massOrLitres(plant[1]!);
  return each.ok ? { ok: true, value: { perPlant: each.value } } : each;
}

/** So many packs of a size, or a weight sold loose. */
export type BoughtAmount = {
  readonly count: number;
  readonly size: { readonly kg: number } | { readonly litres: number };
};

/** Reads `1 x 50 lb`; a bare size is one of them. */
export function parsePacks(input: string | number): Reading<BoughtAmount> {
  const text = String(input).trim();
  const times = /^(\d+)\s*[x×*]\s*(.+)$/i.exec(text);
  const size = massOrLitres(times ? times[2]! : text);
  if (!size.ok) return { ...size, hint: "write the packs as `1 x 50 lb`" };
  return { ok: true, value: { count: times ? Number(times[1]) : 1, size: size.value } };
}

const packs = () => parsed("packs such as `1 x 50 lb`", parsePacks);
const amount = () => parsed(AN_AMOUNT, parseSpreadAmount);
const day = () => written("a date such as `2027-09-10`, or a day of the season");
/** Rain in one line; a year's rain of most farms is less. */
const water = () => quantity("length", { most: { value: 80 * 0.0254, text: "`80 in`" } });
const beds = () =>
  z.union([label("the name of a bed"), list(label("the name of a bed"), "a list of beds")], {
    error: "the name of a bed, or a list of them",
  });

/** What a line may be of, each by the key that says so. */
export const LINE_KINDS = [
  "bought",
  "spread",
  "rain",
  "water",
  "soil_nitrate",
  "tissue",
  "left",
  "kept",
  "void",
] as const;
export type LineKind = (typeof LINE_KINDS)[number];

/** What each kind of line may say besides; `day`, `bed`, `who` and `note` any may. */
export const LINE_KEYS: Readonly<Record<LineKind, readonly string[]>> = {
  bought: ["packs", "weight", "supplier", "paid", "lot"],
  spread: ["part", "placement", "lots"],
  rain: ["evaporation"],
  water: ["evaporation"],
  soil_nitrate: ["depth", "as", "test", "accuracy", "holds"],
  tissue: ["test"],
  left: [],
  kept: [],
  void: ["because"],
};

/** One line of the log. */
export const lineShape = lazy(() => ({
  day: day(),
  bought: label("the id of what was bought"),
  packs: packs(),
  weight: quantity("mass", { positive: true }),
  supplier: label("who sold it"),
  paid: money("what was paid for the whole line"),
  lot: label("the lot on the bag"),
  spread: z.union([label("the name of a round"), freeMap(amount(), "a map such as `{feather-meal: 6 lb}`")], {
    error: "the name of a round, or a map such as `{A: 1/2 batch}`",
  }),
  part: share({ most: { value: 10, text: "`1000%`" } }),
  placement: choice(PLACEMENTS),
  lots: freeMap(label("the lot on the bag"), "a map from material to lot"),
  rain: water(),
  water: water(),
  evaporation: quantity("length"),
  soil_nitrate: parsed("a reading such as `14 ppm`", parsePpm),
  depth: quantity("length", { positive: true }),
  as: choice(["NO3-N", "NO3"]),
  test: label("which test: `strip` or `lab`"),
  accuracy: share({ most: { value: 1, text: "`100%`" }, positive: true }),
  holds: share({ most: { value: 1, text: "`100%`" }, positive: true }),
  tissue: label("what the test said"),
  left: freeMap(quantity("mass"), "a map such as `{feather-meal: 12 lb}`"),
  kept: freeMap(amount(), "a map such as `{A: 1/4 batch}`"),
  void: map(
    { line: number("which line of the log: 4 is the fourth", { least: 1, whole: true }), day: day() },
    "a map such as `{line: 4, day: 2027-08-26}`",
    ["line", "day"],
  ),
  because: label("why"),
  bed: beds(),
  who: label("who did it"),
  ...remarks(),
}));

/** Reads `14 ppm` or `14 mg/kg`: parts in a million of dry soil. */
export function parsePpm(input: string | number): Reading<number> {
  const text = String(input).trim();
  const match = /^(.*?)\s*(?:ppm|mg\s*\/\s*kg)$/i.exec(text);
  const numeral = match ? readNumeral(match[1]!, false) : undefined;
  if (numeral && numeral.rest.trim() === "" && numeral.value >= 0 && numeral.value <= 1000)
    return { ok: true, value: numeral.value };
  return {
    ok: false,
    code: numeral ? "number-range" : "unit-unknown",
    wrong: numeral ? `\`${text}\` is no reading of a soil` : `\`${text}\` is no reading in ppm`,
    hint: "write the reading with its unit: `14 ppm`, which is the same as `14 mg/kg`",
  };
}

/** A planned round of a bed; keys besides these are mixes, or materials given alone. */
export const PLANNED_KEYS = ["bed", "round", "day"] as const;

/** The keys of a season file. */
export const seasonShape = lazy(() => ({
  season: label("the plan of this season, for instance `plan.yaml`"),
  planted: label("the day of planting"),
  people: freeMap(
    map({ name: label("a name"), address: label("an address") }, "a map such as `{name: .., address: ..}`"),
    "a map such as `{maria: {name: .., address: ..}}`",
  ),
  mixes: later(() =>
    freeMap(
      freeMap(quantity("mass", { positive: true }), "a map such as `{feather-meal: 43.2 lb}`"),
      "a map such as `{A: {feather-meal: 43.2 lb}}`",
    ),
  ),
  batches: freeMap(number("a number of batches", { above: 0 }), "a map such as `{A: 5}`"),
  planned: list(
    freeMap(written(AN_AMOUNT), "a round such as `{bed: .., round: planting, day: .., A: 83.4 lb}`"),
    "a list of planned rounds",
  ),
  shed: freeMap(quantity("mass"), "a map such as `{kelp-meal: 18 lb}`"),
  to_buy: list(
    freeMap(written("packs such as `1 x 50 lb`"), "an item such as `{feather-meal: 1 x 50 lb}`"),
    "a list of what to buy",
  ),
  log: list(map(lineShape(), "a line such as `{day: 2027-08-01, spread: planting}`"), "a list of lines"),
  ...remarks(),
}));
