/** Amounts of nutrients by plant, bed or area, and by weight of harvest. */
import * as z from "zod/mini";
import type { Per } from "../../units.ts";
import { type Ctx, lazy, map, optional, read, remarks, report } from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { choice, type MassOrRate, massOrRate, massPer, per } from "./values.ts";

/** Amounts by nutrient with what they are counted per; `per` may be absent only where all amounts are rates. */
export interface Amounts<T> {
  readonly per?: Per;
  readonly nutrients: readonly ByNutrient<T>[];
}
export interface Range {
  readonly min?: MassOrRate;
  readonly max?: MassOrRate;
}

export function amountsOf<T>(input: Readonly<Record<string, unknown>>, ctx: Ctx): Amounts<T> {
  const nutrients = nutrientsOf<T>(input, ctx);
  return { nutrients, ...(input.per === undefined ? {} : { per: input.per as Per }) };
}

export const range = lazy(() =>
  z.union(
    [
      read(massOrRate(), (min): Range => ({ min })),
      read(
        map(
          { min: z.optional(massOrRate()), max: z.optional(massOrRate()), ...optional(remarks()) },
          "a weight or `{min, max}`",
        ),
        ({ min, max }, ctx): Range => {
          if (min === undefined && max === undefined)
            report(
              ctx,
              "key-missing",
              "neither `min` nor `max` is given",
              "for instance `{min: 3 lb, max: 4 lb}`",
            );
          return { ...(min ? { min } : {}), ...(max ? { max } : {}) };
        },
      ),
    ],
    { error: "a weight such as `3 lb`, or a map such as `{min: 3 lb, max: 4 lb}`," },
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
      return { perKg, ...(part === undefined ? {} : { part }), nutrients: nutrientsOf<Range>(input, ctx) };
    },
  ),
);

export const sourceText = (source: string | readonly string[] | undefined): string =>
  source === undefined ? "" : [source].flat().join("; ").replace(/\s+/g, " ").trim();
