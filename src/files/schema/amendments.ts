/** Amendments files: what is in a bag, what it costs, how it behaves. */
import * as z from "zod/mini";
import { ANIMALS, MATERIAL_KINDS, type NutrientMap } from "../../model.ts";
import { parseBare, parseNumber } from "../../numerals.ts";
import { readNutrient } from "../../nutrients.ts";
import { parseQuantity } from "../../units.ts";
import type { FileFault } from "../codes.ts";
import * as s from "./base.ts";
import { type ByNutrient, nutrientMap } from "./nutrients.ts";
import { releaseClassSchema, releaseSchema, SUM_TOLERANCE } from "./release.ts";
import { analysedSchema, kindsSchema, variesSchema } from "./sure.ts";
import * as v from "./values.ts";

/** Less than a part in a billion is no content, and past what a solver can tell apart. */
export const LEAST_PERCENT = 1e-7;

export const analysisValue = () =>
  s.read(z.union([z.number(), z.string()], { error: "a number of percent" }), (input, ctx): number => {
    const value = typeof input === "number" ? input : (parseNumber(input) ?? Number.NaN);
    if (Number.isNaN(value)) return s.taken(parseQuantity(input, "share", v.ALL), ctx);
    if (value !== 0 && (value < LEAST_PERCENT || value > 100))
      s.report(ctx, {
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
      wrong: `what this analysis names weighs ${v.percent(total)} of the bag`,
      hint: "the parts of a bag cannot weigh more than the bag",
    }
  );
}

/** An analysis in canonical terms. */
export const analysis = s.lazy(() =>
  s.held(
    s.read(nutrientMap(analysisValue(), "a map of percentages, for instance `{N: 13, S: 1.5}`"), fractionsOf),
    (fractions) => [overfull(fractions)],
  ),
);

/** What costs nothing is said in a word: a price of 0 is what is left where a spreadsheet has a blank. */
const price = () =>
  s.parsed(
    "a price",
    (input) =>
      String(input).trim().toLowerCase() === "free" ? { ok: true, value: 0 } : parseBare(input, "a price"),
    (value, input) => [
      v.outOfBounds("a price", value, { least: 0 }, input),
      value === 0 &&
        typeof input === "number" && {
          code: "number-range",
          given: input,
          wrong: "is no price: where a blank became 0, write the price",
          hint: "write `free` for what costs nothing",
        },
    ],
  );

const pack = s.lazy(() =>
  s.map(
    {
      size: v.massOrVolume({ positive: true }),
      price: price(),
      supplier: v.label("the id of a supplier"),
    },
    "a pack such as `{size: 50 lb, price: 38.50}`",
    ["size", "price"],
  ),
);

/** Loose densities outside this are a slip of unit: the lightest peat is above, iron powder below. */
export const DENSITY_KG_PER_L = { least: 0.03, most: 5 } as const;

export const density = () =>
  v.quantity(
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
  s.held(v.share({ most: { value: CCE.most, text: "`250%`" }, negative: true }), (value) => [
    value < CCE.least && {
      code: "number-range",
      wrong: `${v.percent(value)} is too much`,
      hint: "at least `-320%`; pure sulfur has -312%",
    },
  ]);

/** The keys of one amendment. */
export const amendmentShape = s.lazy(() => ({
  name: v.label("a name"),
  analysis: analysis(),
  /** What of the analysis counts as grade: available phosphate, soluble potash. */
  grade: s.later(() =>
    s.read(nutrientMap(analysisValue(), "a map of percentages, for instance `{P2O5: 3}`"), fractionsOf),
  ),
  packs: s.list(pack(), "a list of packs, for instance `- {size: 50 lb, price: 38.50}`"),
  bulk: s.later(() =>
    z.nullable(
      s.read(
        s.map(
          { price: price(), per: v.massPer("a weight, for instance `lb`") },
          "a map such as `{price: 0.12, per: lb}`",
          ["price", "per"],
        ),
        (input): number => input.price / input.per,
      ),
    ),
  ),
  placeholder: v.yesNo(),
  supplier: v.label("the id of a supplier"),
  release: releaseSchema(),
  density: density(),
  stock: v.massOrVolume(),
  organic: v.choice(ORGANIC_WORDS),
  kind: v.choice(MATERIAL_KINDS),
  salt_index: v.number("a salt index (sodium nitrate is 100)", { least: 0, most: 400 }),
  cce: s.later(cce),
  phosphate: v.choice(PHOSPHATES),
  /** Of a raw manure. */
  ammonium_n: s.later(analysisValue),
  animal: v.choice(ANIMALS),
  dry_matter: v.share({ ...v.ALL, positive: true }),
  brand: v.label("the brand on the bag"),
  standing: s.later(() => v.standing("analysis", "release", "density", "salt_index")),
  varies: s.later(variesSchema),
  analysed: s.later(analysedSchema),
  ...s.remarks(),
}));

/** The top of an amendments file. */
export const amendmentsFileShape = s.lazy(() => ({
  include: s.later(v.paths),
  amendments: s.later(() =>
    s.freeMap(s.map(amendmentShape(), "a map of fields"), "a map from id to amendment"),
  ),
  releases: s.later(() => s.freeMap(releaseClassSchema(), "a map from class to release")),
  kinds: s.later(kindsSchema),
  ...s.remarks(),
}));
