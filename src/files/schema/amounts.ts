/** Amounts of nutrients by plant, bed or area, and by weight of harvest. */
import * as z from "zod/mini";
import { rangeEnds } from "../../numerals.ts";
import * as s from "./base.ts";
import { mapWithNutrients, type Nutrients, nutrientKeys } from "./nutrients.ts";
import * as v from "./values.ts";

/** Keys that say how amounts are counted; absent: as what states them says. */
export const counting = s.lazy(() => ({
  counts: v.choice(["available", "applied"]),
  /** Share of what is available that the crop takes up. */
  efficiency: v.share({ ...v.ALL, positive: true }),
}));
export type Counting = s.Read<ReturnType<typeof counting>>;

export interface Range extends Counting {
  readonly min?: v.MassOrRate;
  readonly max?: v.MassOrRate;
}

/** A least; whoever writes `3-4 lb` may have a most in mind. */
const leastOrRange = () =>
  s.parsed("a weight such as `3 lb`", (input) => {
    const reading = v.parseEither(v.MASS_OR_RATE, {}, input);
    const [from, to] = rangeEnds(String(input)) ?? [];
    if (reading.ok || from === undefined) return reading;
    return {
      ...reading,
      hint: `write the least alone, \`${from}\`, or both: \`{min: ${from}, max: ${to}}\``,
    };
  });

export const range = s.lazy(() =>
  z.union(
    [
      s.read(leastOrRange(), (min): Range => ({ min })),
      s.tied<Range>(
        s.map({ min: v.massOrRate(), max: v.massOrRate(), ...counting() }, "a weight or `{min, max}`"),
        {
          some: [["min", "max"], "for instance `{min: 3 lb, max: 4 lb}`"],
        },
      ),
    ],
    { error: "a weight such as `3 lb`, or a map such as `{min: 3 lb, max: 4 lb}`" },
  ),
);

const counted = () => ({ per: v.per() });
type Counted = s.Read<ReturnType<typeof counted>>;

/** Amounts by nutrient with what they are counted per. */
export type Amounts<T> = Counted & Nutrients<T>;

export const amounts = s.lazy(() =>
  mapWithNutrients(
    { ...counted(), ...s.remarks(), ...nutrientKeys(v.massOrRate()) },
    "a map such as `{per: 1000 sq ft, N: 3 lb}`",
  ),
);

/** Caps: amounts, and whether they give way as far as the plain needs cannot be met otherwise. */
export const cappedAmounts = s.lazy(() =>
  mapWithNutrients(
    { ...counted(), gives_way: v.yesNo(), ...s.remarks(), ...nutrientKeys(v.massOrRate()) },
    "a map such as `{per: 1000 sq ft, P2O5: 4 lb}`",
  ),
);

/** Needs: amounts with how all of them are counted. */
export type Needs = z.output<ReturnType<typeof needs>>;

export const needs = s.lazy(() =>
  mapWithNutrients(
    { ...counted(), ...counting(), ...s.remarks(), ...nutrientKeys(range()) },
    "a map such as `{per: 1000 sq ft, N: {min: 3 lb}}`",
  ),
);

/** Amounts per weight of harvest: the range of each nutrient's weight in `per` kg of fresh yield. */
export type PerYield = z.output<ReturnType<typeof perYield>>;

export const perYield = s.lazy(() =>
  mapWithNutrients(
    {
      per: v.massPer("a weight of harvest such as `t`"),
      part: v.choice(["whole-crop", "harvested-part"]),
      ...s.remarks(),
      ...nutrientKeys(range()),
    },
    "a map such as `{per: t, N: 2.75 kg}`",
    ["per"],
  ),
);

export const sourceText = (source: string | readonly string[] | undefined): string =>
  source === undefined ? "" : [source].flat().join("; ").replace(/\s+/g, " ").trim();
