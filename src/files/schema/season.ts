/** Season files: what was decided, what was bought, and a log of what has happened since. */
import * as z from "zod/mini";
import { PLACEMENTS } from "../../model.ts";
import { type Reading, readNumeral } from "../../numerals.ts";
import * as s from "./base.ts";
import { sureSchema } from "./sure.ts";
import * as v from "./values.ts";

/** So much of something: kg, litres, or so many batches of a mix; perhaps for each plant. */
export interface SpreadAmount extends v.OfKind<"kg" | "litres" | "batches"> {
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
  const read = v.parseEither(KG_OR_LITRES, {}, each ?? text);
  return read.ok ? { ok: true, value: { ...read.value, perPlant: each !== undefined } } : read;
}

/** So many packs of a size, in kg or litres, or a weight sold loose; `text` is as the file writes it. */
export interface BoughtAmount {
  readonly count: number;
  readonly size: v.OfKind<"kg" | "litres">;
  readonly text: string;
}

/** Reads `1 x 50 lb`; a bare size is one of them. */
function parsePacks(input: string | number): Reading<BoughtAmount> {
  const text = String(input).trim();
  const [, count = "1", size = text] = /^(\d+)\s*[x×*]\s*(.+)$/i.exec(text) ?? [];
  const read = v.parseEither(KG_OR_LITRES, {}, size);
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

const packs = () => s.parsed("packs such as `1 x 50 lb`", parsePacks);
const amount = () =>
  s.parsed("an amount such as `6 lb`, `1/2 batch` or `0.5 cup a plant`", parseSpreadAmount);
const weights = (example: string) => s.freeMap(v.quantity("mass"), `a map such as \`${example}\``);
const day = () => s.written("a date such as `2027-09-10`, or a day of the season");
/** Rain in one line; a year's rain of most farms is less. */
const water = () => v.quantity("length", { most: { value: 80 * 0.0254, text: "`80 in`" } });
const part = () => v.share({ most: { value: 1, text: "`100%`" }, positive: true });

/** What a line may be of, by the key that says so, with what else such a line may say. */
export const LINES = {
  bought: s.lazy(() => ({
    bought: v.label("the id of what was bought"),
    packs: packs(),
    weight: v.quantity("mass", { positive: true }),
    supplier: v.label("who sold it"),
    paid: v.money("what was paid for the whole line"),
    lot: v.label("the lot on the bag"),
  })),
  spread: s.lazy(() => ({
    spread: z.union(
      [v.label("the name of a round"), s.freeMap(amount(), "a map such as `{feather-meal: 6 lb}`")],
      {
        error: "the name of a round, or a map such as `{A: 1/2 batch}`",
      },
    ),
    part: v.share({ most: { value: 10, text: "`1000%`" } }),
    round: v.label("the name of a round"),
    placement: v.choice(PLACEMENTS),
    lots: s.freeMap(v.label("the lot on the bag"), "a map from material to lot"),
  })),
  rain: s.lazy(() => ({ rain: water(), evaporation: v.quantity("length") })),
  water: s.lazy(() => ({ water: water(), evaporation: v.quantity("length") })),
  soil_nitrate: s.lazy(() => ({
    soil_nitrate: s.parsed("a reading such as `14 ppm`", parsePpm),
    depth: v.quantity("length", { positive: true }),
    as: v.choice(["NO3-N", "NO3"]),
    test: v.label("which test: `strip` or `lab`"),
    accuracy: part(),
    holds: part(),
  })),
  tissue: s.lazy(() => ({
    tissue: v.label("what the test said"),
    test: v.label("which test: `strip` or `lab`"),
  })),
  left: s.lazy(() => ({ left: weights("{feather-meal: 12 lb}") })),
  kept: s.lazy(() => ({ kept: s.freeMap(amount(), "a map such as `{A: 1/4 batch}`") })),
  void: s.lazy(() => ({
    void: s.map(
      { line: v.number("which line of the log: 4 is the fourth", { least: 1, whole: true }), day: day() },
      "a map such as `{line: 4, day: 2027-08-26}`",
      ["line", "day"],
    ),
    because: v.label("why"),
  })),
};
export type LineKind = keyof typeof LINES;
export const LINE_KINDS = Object.keys(LINES) as LineKind[];

/** What any line may say. */
export const ofAnyLine = s.lazy(() => ({
  day: day(),
  bed: z.union([v.label("the name of a bed"), s.list(v.label("the name of a bed"), "a list of beds")], {
    error: "the name of a bed, or a list of them",
  }),
  who: v.label("who did it"),
  checked: v.yesNo(),
  ...s.remarks(),
}));

/** One line of the log, of whatever it is. */
export const lineShape = s.lazy(() => ({
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
export const plannedSchema = s.lazy(() =>
  s.openMap(
    { bed: v.label("the name of a bed"), round: v.label("the name of a round"), day: day() },
    amount(),
    "a round such as `{bed: .., round: planting, day: .., A: 83.4 lb}`",
  ),
);

/** What is to be bought of one material, the key besides these. */
export const toBuySchema = s.lazy(() =>
  s.openMap(
    { supplier: v.label("who sells it"), price: v.money("a price, for instance `43.50`") },
    packs(),
    "an item such as `{feather-meal: 1 x 50 lb}`",
  ),
);

/** The keys of a season file. */
export const seasonShape = s.lazy(() => ({
  season: v.label("the plan of this season, or the farm, for instance `plan.yaml`"),
  planted: v.label("the day of planting"),
  sure: s.later(sureSchema),
  people: s.freeMap(
    s.map(
      { name: v.label("a name"), address: v.label("an address") },
      "a map such as `{name: .., address: ..}`",
    ),
    "a map such as `{maria: {name: .., address: ..}}`",
  ),
  mixes: s.later(() =>
    s.freeMap(
      s.freeMap(v.quantity("mass", { positive: true }), "a map such as `{feather-meal: 43.2 lb}`"),
      "a map such as `{A: {feather-meal: 43.2 lb}}`",
    ),
  ),
  batches: s.freeMap(v.number("a number of batches", { above: 0 }), "a map such as `{A: 5}`"),
  planned: s.list(plannedSchema(), "a list of planned rounds"),
  shed: weights("{kelp-meal: 18 lb}"),
  to_buy: s.list(toBuySchema(), "a list of what to buy"),
  log: s.list(s.map(lineShape(), "a line such as `{day: 2027-08-01, spread: planting}`"), "a list of lines"),
  ...s.remarks(),
}));
