/** Amendments files: what is in a bag, what it costs, how it behaves. */
import * as z from "zod/mini";
import { MATERIAL_KINDS, type NutrientMap } from "../../model.ts";
import { parseNumber } from "../../numerals.ts";
import { type Nutrient, readNutrient } from "../../nutrients.ts";
import { parseQuantity } from "../../units.ts";
import { type Ctx, later, lazy, map, optional, read, remarks, report, taken, written } from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { releaseClassSchema, releaseSchema, SUM_TOLERANCE } from "./release.ts";
import { AMENDMENT_STANDINGS, standing } from "./standing.ts";
import { analysedSchema, kindsSchema, variesSchema } from "./sure.ts";
import {
  ALL,
  choice,
  label,
  type MassOrVolume,
  massOrVolume,
  massPer,
  money,
  number,
  paths,
  percent,
  share,
} from "./values.ts";

/** Less than a part in a billion is no content, and past what a solver can tell apart. */
export const LEAST_PERCENT = 1e-7;

export const analysisValue = () =>
  read(z.union([z.number(), z.string()], { error: "a number of percent" }), (input, ctx): number => {
    const value = typeof input === "number" ? input : (parseNumber(input) ?? Number.NaN);
    const read = Number.isNaN(value) ? parseQuantity(input, "share", ALL) : undefined;
    if (read !== undefined) return taken(read, ctx);
    const sound = value === 0 || (value >= LEAST_PERCENT && value <= 100);
    if (sound) return value / 100;
    report(ctx, {
      code: "number-range",
      given: input,
      wrong: value > 0 && value < LEAST_PERCENT ? "is too small to be on a label" : "is not a percentage",
      hint: "an analysis is a number of percent from 0 to 100",
    });
    return z.NEVER;
  });

/** An analysis in canonical terms, and what the label says before conversion. */
export interface AnalysisSpec {
  readonly fractions: NutrientMap;
  readonly named: readonly ByNutrient<number>[];
}

/**
 * What a part of an analysis surely weighs in the bag: the element, since potash and lime are counted as oxides by custom
 * only (potassium chloride holds 63 percent "K2O" and 48 percent Cl). Phosphorus does come with its oxygen, as phosphate.
 */
function labelWeight(part: ByNutrient<number>): number {
  const amount = part.value * part.factor;
  return part.nutrient === "K2O" ? amount / readNutrient("K")!.factor : amount;
}

/** Reports an analysis whose parts weigh more than the bag. */
export function checkBag(total: number, ctx: Ctx): void {
  if (total > 1 + SUM_TOLERANCE)
    report(ctx, {
      code: "analysis-sum",
      wrong: `what this analysis names weighs ${percent(total)} of the bag`,
      hint: "the parts of a bag cannot weigh more than the bag",
    });
}

export const analysis = lazy(() =>
  read(
    map(nutrientKeys(analysisValue()), "a map of percentages, for instance `{N: 13, S: 1.5}`"),
    (input, ctx): AnalysisSpec => {
      const named = nutrientsOf<number>(input, ctx);
      const total = named.reduce((sum, e) => sum + labelWeight(e), 0);
      checkBag(total, ctx);
      const fractions: Partial<Record<Nutrient, number>> = {};
      for (const e of named) fractions[e.nutrient] = e.value * e.factor;
      return { fractions, named };
    },
  ),
);

const pack = lazy(() =>
  map(
    {
      size: massOrVolume({ positive: true }),
      price: money("a price"),
      supplier: z.optional(label("the id of a supplier")),
      ...optional(remarks()),
    },
    "a pack such as `{size: 50 lb, price: 38.50}`",
  ),
);
export interface PackSpec {
  readonly size: MassOrVolume;
  readonly price: number;
  readonly supplier?: string | undefined;
}

/** Loose densities outside this are a slip of unit: the lightest peat is above, iron powder below. */
export const DENSITY_KG_PER_L = { least: 0.03, most: 5 } as const;

export const density = () =>
  read(written("a density, for instance `0.6 kg/L` or `38 lb/cu ft`"), (input, ctx): number => {
    const value = taken(parseQuantity(input, "density", { positive: true }), ctx);
    if (typeof value === "number" && (value < DENSITY_KG_PER_L.least || value > DENSITY_KG_PER_L.most))
      report(ctx, {
        code: "number-range",
        wrong: `no loose amendment weighs \`${input}\``,
        hint: `that is ${Number(value.toPrecision(3))} kg/L; most lie between 0.2 and 1.6 kg/L (12 to 100 lb/cu ft)`,
      });
    return value;
  });

/** What phosphorus may be bound in. */
export const PHOSPHATES = ["rock", "bone", "soluble", "organic"] as const;
export const ORGANIC_WORDS = ["listed", "restricted", "prohibited", "unknown"] as const;

/** Pure sulfur neutralises 312 % of its weight in limestone (100.09 / 32.06); nothing sold makes soil more acid. */
function acidityInReach(cce: number, ctx: Ctx): number {
  if (cce < -3.2)
    report(ctx, {
      code: "number-range",
      wrong: `${percent(cce)} is too much`,
      hint: "at least `-320%`; pure sulfur has -312%",
    });
  return cce;
}

/** The keys of one amendment. */
export const amendmentShape = lazy(() => ({
  name: label("a name"),
  analysis: analysis(),
  packs: z.array(pack(), { error: "a list of packs, for instance `- {size: 50 lb, price: 38.50}`" }),
  bulk: later(() =>
    read(
      map(
        { price: money("a price"), per: massPer("a weight, for instance `lb`"), ...optional(remarks()) },
        "a map such as `{price: 0.12, per: lb}`",
      ),
      (input): number => input.price / input.per,
    ),
  ),
  supplier: label("the id of a supplier"),
  release: releaseSchema(),
  density: density(),
  stock: massOrVolume(),
  organic: choice(ORGANIC_WORDS),
  kind: choice(MATERIAL_KINDS),
  salt_index: number("a salt index (sodium nitrate is 100)", { least: 0, most: 400 }),
  cce: later(() => read(share({ most: { value: 2.5, text: "`250%`" }, negative: true }), acidityInReach)),
  phosphate: choice(PHOSPHATES),
  standing: later(() => standing(AMENDMENT_STANDINGS)),
  varies: later(variesSchema),
  analysed: later(analysedSchema),
  ...remarks(),
}));

/** The top of an amendments file. */
export const amendmentsFileShape = lazy(() => ({
  include: later(paths),
  amendments: later(() =>
    z.record(z.string(), map(optional(amendmentShape()), "a map of fields"), {
      error: "a map from id to amendment",
    }),
  ),
  releases: later(() => z.record(z.string(), releaseClassSchema(), { error: "a map from class to release" })),
  kinds: later(kindsSchema),
  ...remarks(),
}));
