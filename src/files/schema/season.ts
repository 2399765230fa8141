/** Season files: what was decided, what was bought, and a log of what has happened since. */
import * as z from "zod/mini";
import { PLACEMENTS } from "../../model.ts";
import { type Reading, readNumeral } from "../../numerals.ts";
import { freeMap, later, lazy, list, map, openMap, parsed, remarks, written } from "./base.ts";
import { choice, label, money, number, type OfKind, parseEither, quantity, share } from "./values.ts";

/** So much of something: kg, litres, or so many batches of a mix; perhaps for each plant. */
export interface SpreadAmount extends OfKind<"kg" | "litres" | "batches"> {
  readonly perPlant: boolean;
}

const KG_OR_LITRES = { kg: "mass", litres: "volume" } as const;

/** Reads `6 lb`, `1 3/4 batches`, `0.5 cup a plant`. */
function parseSpreadAmount(input: string | number): Reading<SpreadAmount> {
  const text = String(input).trim();
  const [, count] = /^(.*?)\s*batch(?:es)?$/i.exec(text) ?? [];
  const numeral = count === undefined ? undefined : readNumeral(count.trim() || "1", true);
  if (numeral && numeral.rest.trim() === "" && numeral.value >= 0)
    return { ok: true, value: { kind: "batches", value: numeral.value, perPlant: false } };
  const [, each] = /^(.*?)\s*(?:\/|\bper\b|\ba\b|\beach\b)\s*plant$/i.exec(text) ?? [];
  const read = parseEither(KG_OR_LITRES, {}, each ?? text);
  return read.ok ? { ok: true, value: { ...read.value, perPlant: each !== undefined } } : read;
}

/** So many packs of a size, in kg or litres, or a weight sold loose; `text` is as the file writes it. */
export interface BoughtAmount {
  readonly count: number;
  readonly size: OfKind<"kg" | "litres">;
  readonly text: string;
}

/** Reads `1 x 50 lb`; a bare size is one of them. */
function parsePacks(input: string | number): Reading<BoughtAmount> {
  const text = String(input).trim();
  const [, count = "1", size = text] = /^(\d+)\s*[x×*]\s*(.+)$/i.exec(text) ?? [];
  const read = parseEither(KG_OR_LITRES, {}, size);
  if (!read.ok) return { ...read, hint: "write the packs as `1 x 50 lb`" };
  return { ok: true, value: { count: Number(count), size: read.value, text } };
}

/** Reads `14 ppm` or `14 mg/kg`: parts in a million of dry soil. */
function parsePpm(input: string | number): Reading<number> {
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

const packs = () => parsed("packs such as `1 x 50 lb`", parsePacks);
const amount = () => parsed("an amount such as `6 lb`, `1/2 batch` or `0.5 cup a plant`", parseSpreadAmount);
const weights = (example: string) => freeMap(quantity("mass"), `a map such as \`${example}\``);
const day = () => written("a date such as `2027-09-10`, or a day of the season");
/** Rain in one line; a year's rain of most farms is less. */
const water = () => quantity("length", { most: { value: 80 * 0.0254, text: "`80 in`" } });
const part = () => share({ most: { value: 1, text: "`100%`" }, positive: true });

/** What a line may be of, by the key that says so, with what else such a line may say. */
export const LINES = {
  bought: lazy(() => ({
    bought: label("the id of what was bought"),
    packs: packs(),
    weight: quantity("mass", { positive: true }),
    supplier: label("who sold it"),
    paid: money("what was paid for the whole line"),
    lot: label("the lot on the bag"),
  })),
  spread: lazy(() => ({
    spread: z.union(
      [label("the name of a round"), freeMap(amount(), "a map such as `{feather-meal: 6 lb}`")],
      {
        error: "the name of a round, or a map such as `{A: 1/2 batch}`",
      },
    ),
    part: share({ most: { value: 10, text: "`1000%`" } }),
    placement: choice(PLACEMENTS),
    lots: freeMap(label("the lot on the bag"), "a map from material to lot"),
  })),
  rain: lazy(() => ({ rain: water(), evaporation: quantity("length") })),
  water: lazy(() => ({ water: water(), evaporation: quantity("length") })),
  soil_nitrate: lazy(() => ({
    soil_nitrate: parsed("a reading such as `14 ppm`", parsePpm),
    depth: quantity("length", { positive: true }),
    as: choice(["NO3-N", "NO3"]),
    test: label("which test: `strip` or `lab`"),
    accuracy: part(),
    holds: part(),
  })),
  tissue: lazy(() => ({
    tissue: label("what the test said"),
    test: label("which test: `strip` or `lab`"),
  })),
  left: lazy(() => ({ left: weights("{feather-meal: 12 lb}") })),
  kept: lazy(() => ({ kept: freeMap(amount(), "a map such as `{A: 1/4 batch}`") })),
  void: lazy(() => ({
    void: map(
      { line: number("which line of the log: 4 is the fourth", { least: 1, whole: true }), day: day() },
      "a map such as `{line: 4, day: 2027-08-26}`",
      ["line", "day"],
    ),
    because: label("why"),
  })),
};
export type LineKind = keyof typeof LINES;
export const LINE_KINDS = Object.keys(LINES) as LineKind[];

/** What any line may say. */
export const ofAnyLine = lazy(() => ({
  day: day(),
  bed: z.union([label("the name of a bed"), list(label("the name of a bed"), "a list of beds")], {
    error: "the name of a bed, or a list of them",
  }),
  who: label("who did it"),
  ...remarks(),
}));

/** One line of the log, of whatever it is. */
export const lineShape = lazy(() => ({
  ...LINES.bought(),
  ...LINES.spread(),
  ...LINES.rain(),
  ...LINES.water(),
  ...LINES.soil_nitrate(),
  ...LINES.tissue(),
  ...LINES.left(),
  ...LINES.kept(),
  ...LINES.void(),
  ...ofAnyLine(),
}));

/** A planned round of a bed; keys besides these are mixes, or materials given alone. */
export const plannedSchema = lazy(() =>
  openMap(
    { bed: label("the name of a bed"), round: label("the name of a round"), day: day() },
    amount(),
    "a round such as `{bed: .., round: planting, day: .., A: 83.4 lb}`",
  ),
);

/** What is to be bought of one material, the key besides these. */
export const toBuySchema = lazy(() =>
  openMap(
    { supplier: label("who sells it"), price: money("a price, for instance `43.50`") },
    packs(),
    "an item such as `{feather-meal: 1 x 50 lb}`",
  ),
);

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
  planned: list(plannedSchema(), "a list of planned rounds"),
  shed: weights("{kelp-meal: 18 lb}"),
  to_buy: list(toBuySchema(), "a list of what to buy"),
  log: list(map(lineShape(), "a line such as `{day: 2027-08-01, spread: planting}`"), "a list of lines"),
  ...remarks(),
}));
