/** Amendments files: what is in a bag, what it costs, how it behaves. */
import * as z from "zod/mini";
import { ANIMALS, MATERIAL_KINDS, type NutrientMap } from "../../model.ts";
import { parseBare, parseNumber } from "../../numerals.ts";
import { readNutrient } from "../../nutrients.ts";
import { parseQuantity } from "../../units.ts";
import type { FileFault } from "../codes.ts";
import { freeMap, held, later, lazy, list, map, parsed, read, remarks, report, taken } from "./base.ts";
import { type ByNutrient, nutrientMap } from "./nutrients.ts";
import { releaseClassSchema, releaseSchema, SUM_TOLERANCE } from "./release.ts";
import { analysedSchema, kindsSchema, variesSchema } from "./sure.ts";
import {
  ALL,
  choice,
  label,
  massOrVolume,
  massPer,
  number,
  outOfBounds,
  paths,
  percent,
  quantity,
  share,
  standing,
  yesNo,
} from "./values.ts";

/** Less than a part in a billion is no content, and past what a solver can tell apart. */
export const LEAST_PERCENT = 1e-7;

export const analysisValue = () =>
  read(z.union([z.number(), z.string()], { error: "a number of percent" }), (input, ctx): number => {
    const value = typeof input === "number" ? input : (parseNumber(input) ?? Number.NaN);
    if (Number.isNaN(value)) return taken(parseQuantity(input, "share", ALL), ctx);
    if (value !== 0 && (value < LEAST_PERCENT || value > 100))
      report(ctx, {
        code: "number-range",
        given: input,
        wrong: value > 0 && value < LEAST_PERCENT ? "is too small to be on a label" : "is not a percentage",
        hint: "an analysis is a number of percent from 0 to 100",
      });
    return value / 100;
  });

/** Entries by nutrient as fractions of the canonical nutrients. */
export const fractionsOf = (named: readonly ByNutrient<number>[]): NutrientMap =>
  Object.fromEntries(named.map(({ nutrient, value, factor }) => [nutrient, value * factor]));

/**
 * What is wrong with an analysis whose parts surely weigh more than the bag. A part counts as the element, since potash and
 * lime are counted as oxides by custom only (potassium chloride holds 63 percent "K2O" and 48 percent Cl). Phosphorus does
 * come with its oxygen, as phosphate.
 */
export function overfull({ K2O: potash = 0, ...others }: NutrientMap): FileFault | false {
  const total = Object.values(others).reduce((sum, part) => sum + part, potash / readNutrient("K")!.factor);
  return (
    total > 1 + SUM_TOLERANCE && {
      code: "analysis-sum",
      wrong: `what this analysis names weighs ${percent(total)} of the bag`,
      hint: "the parts of a bag cannot weigh more than the bag",
    }
  );
}

/** An analysis in canonical terms. */
export const analysis = lazy(() =>
  held(
    read(nutrientMap(analysisValue(), "a map of percentages, for instance `{N: 13, S: 1.5}`"), fractionsOf),
    (fractions) => [overfull(fractions)],
  ),
);

/** What costs nothing is said in a word: a price of 0 is what is left where a spreadsheet has a blank. */
const price = () =>
  parsed(
    "a price",
    (input) =>
      String(input).trim().toLowerCase() === "free" ? { ok: true, value: 0 } : parseBare(input, "a price"),
    (value, input) => [
      outOfBounds("a price", value, { least: 0 }, input),
      value === 0 &&
        typeof input === "number" && {
          code: "number-range",
          given: input,
          wrong: "is no price: where a blank became 0, write the price",
          hint: "write `free` for what costs nothing",
        },
    ],
  );

const pack = lazy(() =>
  map(
    {
      size: massOrVolume({ positive: true }),
      price: price(),
      supplier: label("the id of a supplier"),
    },
    "a pack such as `{size: 50 lb, price: 38.50}`",
    ["size", "price"],
  ),
);

/** Loose densities outside this are a slip of unit: the lightest peat is above, iron powder below. */
export const DENSITY_KG_PER_L = { least: 0.03, most: 5 } as const;

export const density = () =>
  quantity(
    "density",
    { positive: true },
    "a density, for instance `0.6 kg/L` or `38 lb/cu ft`",
    (value, input) => [
      (value < DENSITY_KG_PER_L.least || value > DENSITY_KG_PER_L.most) && {
        code: "number-range",
        wrong: `no loose amendment weighs \`${input}\``,
        hint: `that is ${Number(value.toPrecision(3))} kg/L; most lie between 0.2 and 1.6 kg/L (12 to 100 lb/cu ft)`,
      },
    ],
  );

/** What phosphorus may be bound in. */
export const PHOSPHATES = ["rock", "bone", "soluble", "organic"] as const;
export const ORGANIC_WORDS = ["listed", "restricted", "prohibited", "unknown"] as const;

/** Pure sulfur neutralises 312 % of its weight in limestone (100.09 / 32.06); nothing sold makes soil more acid. */
export const CCE = { least: -3.2, most: 2.5 } as const;

const cce = () =>
  held(share({ most: { value: CCE.most, text: "`250%`" }, negative: true }), (value) => [
    value < CCE.least && {
      code: "number-range",
      wrong: `${percent(value)} is too much`,
      hint: "at least `-320%`; pure sulfur has -312%",
    },
  ]);

/** The keys of one amendment. */
export const amendmentShape = lazy(() => ({
  name: label("a name"),
  analysis: analysis(),
  /** What of the analysis counts as grade: available phosphate, soluble potash. */
  grade: later(() =>
    read(nutrientMap(analysisValue(), "a map of percentages, for instance `{P2O5: 3}`"), fractionsOf),
  ),
  packs: list(pack(), "a list of packs, for instance `- {size: 50 lb, price: 38.50}`"),
  bulk: later(() =>
    z.nullable(
      read(
        map(
          { price: price(), per: massPer("a weight, for instance `lb`") },
          "a map such as `{price: 0.12, per: lb}`",
          ["price", "per"],
        ),
        (input): number => input.price / input.per,
      ),
    ),
  ),
  placeholder: yesNo(),
  supplier: label("the id of a supplier"),
  release: releaseSchema(),
  density: density(),
  stock: massOrVolume(),
  organic: choice(ORGANIC_WORDS),
  kind: choice(MATERIAL_KINDS),
  salt_index: number("a salt index (sodium nitrate is 100)", { least: 0, most: 400 }),
  cce: later(cce),
  phosphate: choice(PHOSPHATES),
  /** Of a raw manure. */
  ammonium_n: later(analysisValue),
  animal: choice(ANIMALS),
  dry_matter: share({ ...ALL, positive: true }),
  brand: label("the brand on the bag"),
  standing: later(() => standing("analysis", "release", "density", "salt_index")),
  varies: later(variesSchema),
  analysed: later(analysedSchema),
  ...remarks(),
}));

/** The top of an amendments file. */
export const amendmentsFileShape = lazy(() => ({
  include: later(paths),
  amendments: later(() => freeMap(map(amendmentShape(), "a map of fields"), "a map from id to amendment")),
  releases: later(() => freeMap(releaseClassSchema(), "a map from class to release")),
  kinds: later(kindsSchema),
  ...remarks(),
}));
