/** Amounts of nutrients by plant, bed or area, and by weight of harvest. */
import * as z from "zod/mini";
import type { Counts } from "../../model.ts";
import { defined } from "../../optional.ts";
import type { Per } from "../../units.ts";
import { type Ctx, lazy, map, optional, read, remarks, report } from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { ALL, choice, type MassOrRate, massOrRate, massPer, per, share } from "./values.ts";

/** Amounts by nutrient with what they are counted per; `per` may be absent only where all amounts are rates. */
export interface Amounts<T> {
  readonly per?: Per;
  readonly nutrients: readonly ByNutrient<T>[];
}

/** How amounts are counted; absent: as what states them says. */
export interface Counting {
  readonly counts?: Counts;
  /** Share of what is available that the crop takes up. */
  readonly efficiency?: number;
}
/** Needs: amounts with how all of them are counted. */
export interface Needs extends Amounts<Range>, Counting {}
export interface Range extends Counting {
  readonly min?: MassOrRate;
  readonly max?: MassOrRate;
}

export function amountsOf<T>(input: Readonly<Record<string, unknown>>, ctx: Ctx): Amounts<T> {
  const nutrients = nutrientsOf<T>(input, ctx);
  return { nutrients, ...(input.per === undefined ? {} : { per: input.per as Per }) };
}

export const counts = lazy(() => choice(["available", "applied"]));

/** Keys that say how amounts are counted. */
const counting = lazy(() => ({
  counts: z.optional(counts()),
  efficiency: z.optional(share({ ...ALL, positive: true })),
}));

export function countingOf(input: Readonly<Record<string, unknown>>): Counting {
  return {
    ...(input.counts === undefined ? {} : { counts: input.counts as Counts }),
    ...(input.efficiency === undefined ? {} : { efficiency: input.efficiency as number }),
  };
}

export const needs = lazy(() =>
  read(
    map(
      { per: z.optional(per()), ...counting(), ...optional(remarks()), ...nutrientKeys(range()) },
      "a map such as `{per: 1000 sq ft, N: {min: 3 lb}}`",
    ),
    (input, ctx): Needs => ({ ...amountsOf<Range>(input, ctx), ...countingOf(input) }),
  ),
);

export const range = lazy(() =>
  z.union(
    [
      read(massOrRate(), (min): Range => ({ min })),
      read(
        map(
          {
            min: z.optional(massOrRate()),
            max: z.optional(massOrRate()),
            ...counting(),
            ...optional(remarks()),
          },
          "a weight or `{min, max}`",
        ),
        ({ min, max, ...rest }, ctx): Range => {
          if (min === undefined && max === undefined)
            report(ctx, {
              code: "key-missing",
              wrong: "neither `min` nor `max` is given",
              hint: "for instance `{min: 3 lb, max: 4 lb}`",
            });
          return { ...(min ? { min } : {}), ...(max ? { max } : {}), ...countingOf(rest) };
        },
      ),
    ],
    { error: "a weight such as `3 lb`, or a map such as `{min: 3 lb, max: 4 lb}`" },
  ),
);

export const amounts = lazy(() =>
  read(
    map(
      { per: z.optional(per()), ...optional(remarks()), ...nutrientKeys(massOrRate()) },
      "a map such as `{per: 1000 sq ft, N: 3 lb}`",
    ),
    (input, ctx): Amounts<MassOrRate> => amountsOf(input, ctx),
  ),
);

/** Amounts per weight of harvest: the range of each nutrient's weight in `perKg` of fresh yield. */
export interface PerYield {
  readonly perKg: number;
  readonly part?: "whole-crop" | "harvested-part";
  readonly nutrients: readonly ByNutrient<Range>[];
}

export const perYield = lazy(() =>
  read(
    map(
      {
        per: massPer("a weight of harvest such as `t`"),
        part: z.optional(choice(["whole-crop", "harvested-part"])),
        ...optional(remarks()),
        ...nutrientKeys(range()),
      },
      "a map such as `{per: t, N: 2.75 kg}`",
    ),
    (input, ctx): PerYield => {
      const { per: perKg, part } = input as unknown as {
        per: number;
        part?: "whole-crop" | "harvested-part";
      };
      return { perKg, ...defined({ part }), nutrients: nutrientsOf<Range>(input, ctx) };
    },
  ),
);

export const sourceText = (source: string | readonly string[] | undefined): string =>
  source === undefined ? "" : [source].flat().join("; ").replace(/\s+/g, " ").trim();

/** What is wrong with a most below its least. */
export const crossed = (name: string) =>
  ({
    code: "range-crossed",
    wrong: `\`max\` of ${name} is below its \`min\``,
    hint: "the most is at least the least",
  }) as const;
