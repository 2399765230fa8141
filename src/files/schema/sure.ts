/** How sure needs are to be met, how much things vary between lots and seasons, and what a laboratory found. */
import * as z from "zod/mini";
import { MATERIAL_KINDS, type MaterialKind, type Varies } from "../../model.ts";
import type { Reading } from "../../numerals.ts";
import { defined } from "../../optional.ts";
import { analysisValue, fractionsOf } from "./amendments.ts";
import * as s from "./base.ts";
import { mapWithNutrients, type Nutrients, nutrientKeys } from "./nutrients.ts";
import * as v from "./values.ts";

/** How sure: of all that the soil does not keep, of each need, of single nutrients, or of all together. */
export interface SureSpec extends Nutrients<number> {
  readonly all?: number;
  readonly each?: number;
  readonly together?: number;
}

export const LEAST_SURE = 0.5;
/** Needs that each hold in half the seasons hold together in far fewer. */
export const LEAST_TOGETHER = 0.01;
export const MOST_SURE = 0.999;

/** A share of seasons that may be asked for, of single needs or of all together. */
const chance = (least = LEAST_SURE) =>
  v.quantity("share", v.ALL, "a share of seasons such as `90%`", (value, input) => [
    value < least - 1e-12 && {
      code: "number-range",
      given: input,
      ...(least === LEAST_SURE
        ? {
            wrong: "of seasons is less than every mix that meets the plan gives",
            hint: "a mix that just meets a need on average meets it in 5 seasons of 10; ask for 50% to 99.9%",
          }
        : { wrong: "of seasons is next to nothing", hint: "ask for 1% to 99.9%" }),
    },
    value > MOST_SURE + 1e-12 && {
      code: "number-range",
      wrong: `no mix can be promised for \`${input}\` of seasons`,
      hint: `nothing is known well enough for that; ask for ${100 * least}% to 99.9%`,
    },
  ]);

/** `sure: 90%`, `{N: 90%, K2O: 95%}`, `{each: 90%}` or `{together: 90%}`. */
export const sureSchema = s.lazy(() =>
  z.union(
    [
      s.read(chance(), (all): SureSpec => ({ all, nutrients: [] })),
      s.held<SureSpec>(
        mapWithNutrients(
          { each: chance(), together: chance(LEAST_TOGETHER), ...s.remarks(), ...nutrientKeys(chance()) },
          "a share of seasons, or a map such as `{N: 90%, K2O: 95%}`",
        ),
        ({ each, together, nutrients }) => [
          each === undefined &&
            together === undefined &&
            nutrients.length === 0 && {
              code: "key-missing",
              wrong: "`sure` does not say what to be sure of",
              hint: "for instance `{N: 90%, K2O: 95%}`, `{each: 90%}` or `{together: 90%}`",
            },
        ],
      ),
    ],
    { error: "a share of seasons such as `90%`, or a map such as `{N: 90%, K2O: 95%}`" },
  ),
);

/** A standard deviation as a share of its mean. */
export const spreadShare = () =>
  v.quantity("share", v.ALL, "how much it varies, for instance `8%`", (value, input) => [
    value >= 1 && {
      code: "number-range",
      wrong: `what varies by \`${input}\` may be anything from nothing to twice what it says`,
      hint: "less than 100%: two lots in three lie within this",
    },
  ]);

/** `varies:` of an amendment or a kind: one share, or one for each nutrient and `other`. */
export const variesSchema = s.lazy(() =>
  z.union(
    [
      s.read(spreadShare(), (other): Varies => ({ byNutrient: {}, other })),
      s.read(
        mapWithNutrients(
          { other: spreadShare(), ...s.remarks(), ...nutrientKeys(spreadShare()) },
          "a share such as `8%`, or a map such as `{N: 8%, other: 12%}`",
        ),
        // Shares do not change with the form that a nutrient is counted in.
        ({ nutrients, other }): Varies => ({
          byNutrient: Object.fromEntries(nutrients.map(({ nutrient, value }) => [nutrient, value])),
          ...defined({ other }),
        }),
      ),
    ],
    { error: "a share such as `8%`, or a map such as `{N: 8%, other: 12%}`" },
  ),
);

/** What a laboratory found in one lot, from how many separate samples. */
export const analysedSchema = s.lazy(() =>
  s.read(
    mapWithNutrients(
      {
        by: v.label("who analysed it"),
        lot: v.label("which lot was analysed"),
        samples: v.number("a number of samples", { least: 1, most: 1000, whole: true }),
        ...s.remarks(),
        ...nutrientKeys(analysisValue()),
      },
      "a map such as `{N: 4.4, by: county lab, samples: 1, lot: spring}`",
    ),
    ({ nutrients, samples = 1 }, ctx) => {
      if (nutrients.length === 0)
        s.report(ctx, {
          code: "key-missing",
          wrong: "`analysed` names no nutrient",
          hint: "for instance `{N: 4.4, samples: 1}`",
        });
      return { fractions: fractionsOf(nutrients), samples };
    },
  ),
);
export type AnalysedSpec = z.output<ReturnType<typeof analysedSchema>>;

/** `kinds:`, a file's own spreads by kind of material. */
export const kindsSchema = s.lazy(() =>
  s.bareMap(
    Object.fromEntries(
      MATERIAL_KINDS.map((kind) => [
        kind,
        s.map({ varies: variesSchema() }, "a map such as `{varies: {N: 20%}}`", ["varies"]),
      ]),
    ) as Record<MaterialKind, s.Schema<{ readonly varies: Varies }>>,
    "a map from kind to spread, for instance `{compost: {varies: 30%}}`",
  ),
);

/** A difference of temperatures; a degree F is five ninths of a degree C. */
function parseDegrees(input: string | number): Reading<number> {
  const found = /^\s*(\d+(?:\.\d+)?)\s*°?\s*([CF])\s*$/i.exec(String(input));
  const value = found ? Number(found[1]) * (found[2]!.toUpperCase() === "F" ? 5 / 9 : 1) : Number.NaN;
  if (value <= 10) return { ok: true, value };
  return {
    ok: false,
    code: found ? "number-range" : "unit-missing",
    given: input,
    wrong: "is not a difference between seasons",
    hint: "degrees between one season's mean and the usual one, for instance `1.2 C` or `2 F`, at most 10 C",
  };
}

/** `varies:` of a plan: what a whole season or bed shares. */
export const planVariesSchema = s.lazy(() =>
  s.map(
    {
      releases: spreadShare(),
      soil_temperature: s.parsed("a difference of temperature such as `1.2 C`", parseDegrees),
      spreading: spreadShare(),
    },
    "a map such as `{releases: 8%, soil_temperature: 1.2 C, spreading: 3%}`",
  ),
);
