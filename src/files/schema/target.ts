/** Targets: what a crop needs, when it takes it up, and what may be applied. */
import { seasonTooLong } from "../faults.ts";
import { amounts, cappedAmounts, needs, perYield } from "./amounts.ts";
import * as s from "./base.ts";
import { mapWithNutrients, nutrientKeys } from "./nutrients.ts";
import { ratingTables, soilTestSchema } from "./soil-test.ts";
import { sureSchema } from "./sure.ts";
import * as v from "./values.ts";

/** The keys of a target, in a file of its own or inside a plan. */
export const targetShape = s.lazy(() => ({
  target: v.label("the name of the target"),
  recipe: v.label("the name of a shipped recipe to begin from"),
  season: v.quantity("time", { positive: true }, undefined, (days) => [seasonTooLong(days)]),
  need: needs(),
  efficiency: v.share({ ...v.ALL, positive: true }),
  applied_max: cappedAmounts(),
  ahead_max: amounts(),
  uptake: mapWithNutrients(
    { ...s.remarks(), ...nutrientKeys(v.curve()), other: v.curve() },
    "a map from nutrient to curve, for instance `{N: {0: 0%, 60: 45%, 120: 100%}}`",
  ),
  yield: s.later(() => v.quantity("rate", { positive: true })),
  uptake_per_yield: s.later(perYield),
  removal_per_yield: s.later(perYield),
  spacing: s.later(() =>
    s.map(
      { in_row: v.quantity("length", { positive: true }), rows: v.quantity("length", { positive: true }) },
      "a map such as `{in_row: 18 in, rows: 5 ft}`",
    ),
  ),
  standing: s.later(() => v.standing("need", "most", "timing", "spacing")),
  soil_test: s.later(soilTestSchema),
  soil_test_ratings: s.later(ratingTables),
  sure: s.later(sureSchema),
  ...s.remarks(),
}));
