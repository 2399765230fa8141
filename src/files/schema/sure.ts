/** How sure needs are to be met, how much things vary between lots and seasons, and what a laboratory found. */
import * as z from "zod/mini";
import { MATERIAL_KINDS, type NutrientMap, type Varies } from "../../model.ts";
import type { Nutrient } from "../../nutrients.ts";
import { defined } from "../../optional.ts";
import { parseQuantity } from "../../units.ts";
import { analysisValue } from "./amendments.ts";
import { lazy, map, optional, read, remarks, report, taken, written } from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { ALL, label, number } from "./values.ts";

/** How sure: of all that the soil does not keep, of each need, of single nutrients, or of all together. */
export interface SureSpec {
  readonly all?: number;
  readonly each?: number;
  readonly nutrients: readonly ByNutrient<number>[];
  readonly together?: number;
}

export const LEAST_SURE = 0.5;
export const MOST_SURE = 0.999;

/** A share of seasons that may be asked for. */
const chance = () =>
  read(written("a share of seasons such as `90%`"), (input, ctx): number => {
    const value = taken(parseQuantity(input, "share", ALL), ctx);
    if (typeof value !== "number") return value;
    if (value < LEAST_SURE - 1e-12)
      report(ctx, {
        code: "number-range",
        given: input,
        wrong: "of seasons is less than every mix that meets the plan gives",
        hint: "a mix that just meets a need on average meets it in 5 seasons of 10; ask for 50% to 99.9%",
      });
    if (value > MOST_SURE + 1e-12)
      report(ctx, {
        code: "number-range",
        wrong: `no mix can be promised for \`${input}\` of seasons`,
        hint: "nothing is known well enough for that; ask for 50% to 99.9%",
      });
    return value;
  });

/** `sure: 90%`, `{N: 90%, K2O: 95%}`, `{each: 90%}` or `{together: 90%}`. */
export const sureSchema = lazy(() =>
  z.union(
    [
      read(chance(), (all): SureSpec => ({ all, nutrients: [] })),
      read(
        map(
          {
            each: z.optional(chance()),
            together: z.optional(chance()),
            ...optional(remarks()),
            ...nutrientKeys(chance()),
          },
          "a share of seasons, or a map such as `{N: 90%, K2O: 95%}`",
        ),
        (input, ctx): SureSpec => {
          const raw = input as Record<string, unknown> & { each?: number; together?: number };
          const nutrients = nutrientsOf<number>(raw, ctx);
          if (raw.each === undefined && raw.together === undefined && nutrients.length === 0)
            report(ctx, {
              code: "key-missing",
              wrong: "`sure` does not say what to be sure of",
              hint: "for instance `{N: 90%, K2O: 95%}`, `{each: 90%}` or `{together: 90%}`",
            });
          return { nutrients, ...defined({ each: raw.each, together: raw.together }) };
        },
      ),
    ],
    { error: "a share of seasons such as `90%`, or a map such as `{N: 90%, K2O: 95%}`" },
  ),
);

/** A standard deviation as a share of its mean. */
export const spreadShare = () =>
  read(written("how much it varies, for instance `8%`"), (input, ctx): number => {
    const value = taken(parseQuantity(input, "share", ALL), ctx);
    if (typeof value === "number" && value >= 1)
      report(ctx, {
        code: "number-range",
        wrong: `what varies by \`${input}\` may be anything from nothing to twice what it says`,
        hint: "less than 100%: two lots in three lie within this",
      });
    return value;
  });

/** `varies:` of an amendment or a kind: one share, or one for each nutrient and `other`. */
export const variesSchema = lazy(() =>
  z.union(
    [
      read(spreadShare(), (other): Varies => ({ byNutrient: {}, other })),
      read(
        map(
          { other: z.optional(spreadShare()), ...optional(remarks()), ...nutrientKeys(spreadShare()) },
          "a share such as `8%`, or a map such as `{N: 8%, other: 12%}`",
        ),
        (input, ctx): Varies => {
          const raw = input as Record<string, unknown> & { other?: number };
          const byNutrient = byCanonical(nutrientsOf<number>(raw, ctx));
          return { byNutrient, ...defined({ other: raw.other }) };
        },
      ),
    ],
    { error: "a share such as `8%`, or a map such as `{N: 8%, other: 12%}`" },
  ),
);

/** Shares do not change with the form that a nutrient is counted in. */
function byCanonical(named: readonly ByNutrient<number>[]): NutrientMap {
  const shares: Partial<Record<Nutrient, number>> = {};
  for (const { nutrient, value } of named) shares[nutrient] = value;
  return shares;
}

/** What a laboratory found in one lot. */
export interface AnalysedSpec {
  readonly fractions: NutrientMap;
  /** Separate samples that were analysed. */
  readonly samples: number;
  readonly by?: string;
  readonly lot?: string;
}

export const analysedSchema = lazy(() =>
  read(
    map(
      {
        by: z.optional(label("who analysed it")),
        lot: z.optional(label("which lot was analysed")),
        samples: z.optional(number("a number of samples", { least: 1, most: 1000, whole: true })),
        ...optional(remarks()),
        ...nutrientKeys(analysisValue()),
      },
      "a map such as `{N: 4.4, by: county lab, samples: 1, lot: spring}`",
    ),
    (input, ctx): AnalysedSpec => {
      const raw = input as Record<string, unknown> & { by?: string; lot?: string; samples?: number };
      const named = nutrientsOf<number>(raw, ctx);
      if (named.length === 0)
        report(ctx, {
          code: "key-missing",
          wrong: "`analysed` names no nutrient",
          hint: "for instance `{N: 4.4, samples: 1}`",
        });
      const fractions: Partial<Record<Nutrient, number>> = {};
      for (const { nutrient, value, factor } of named) fractions[nutrient] = value * factor;
      return { fractions, samples: raw.samples ?? 1, ...defined({ by: raw.by, lot: raw.lot }) };
    },
  ),
);

const kindEntry = () =>
  map({ varies: variesSchema(), ...optional(remarks()) }, "a map such as `{varies: {N: 20%}}`");

/** `kinds:`, a file's own spreads by kind of material. */
export const kindsSchema = lazy(() =>
  map(
    optional(
      Object.fromEntries(MATERIAL_KINDS.map((kind) => [kind, kindEntry()])) as Record<
        (typeof MATERIAL_KINDS)[number],
        ReturnType<typeof kindEntry>
      >,
    ),
    "a map from kind to spread, for instance `{compost: {varies: 30%}}`",
  ),
);
/** A difference of temperatures; a degree F is five ninths of a degree C. */
const degrees = () =>
  read(written("a difference of temperature such as `1.2 C`"), (input, ctx): number => {
    const found = /^\s*(\d+(?:\.\d+)?)\s*°?\s*([CF])\s*$/i.exec(String(input));
    const value = found ? Number(found[1]) * (found[2]!.toUpperCase() === "F" ? 5 / 9 : 1) : Number.NaN;
    if (!(value <= 10)) {
      report(ctx, {
        code: found ? "number-range" : "unit-missing",
        given: input,
        wrong: "is not a difference between seasons",
        hint: "degrees between one season's mean and the usual one, for instance `1.2 C` or `2 F`, at most 10 C",
      });
      return z.NEVER;
    }
    return value;
  });

/** `varies:` of a plan: what a whole season or bed shares. */
export const planVariesSchema = lazy(() =>
  map(
    {
      releases: z.optional(spreadShare()),
      soil_temperature: z.optional(degrees()),
      spreading: z.optional(spreadShare()),
      ...optional(remarks()),
    },
    "a map such as `{releases: 8%, soil_temperature: 1.2 C, spreading: 3%}`",
  ),
);
