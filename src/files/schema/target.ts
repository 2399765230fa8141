/** Targets: what a crop needs, when it takes it up, and what may be applied. */
import { seasonTooLong } from "../faults.ts";
import { amounts, cappedAmounts, needs, perYield } from "./amounts.ts";
import { later, lazy, map, remarks } from "./base.ts";
import { mapWithNutrients, nutrientKeys } from "./nutrients.ts";
import { ratingTables, soilTestSchema } from "./soil-test.ts";
import { sureSchema } from "./sure.ts";
import { ALL, curve, label, quantity, share, standing } from "./values.ts";

/** The keys of a target, in a file of its own or inside a plan. */
export const targetShape = lazy(() => ({
  target: label("the name of the target"),
  recipe: label("the name of a shipped recipe to begin from"),
  season: quantity("time", { positive: true }, undefined, (days) => [seasonTooLong(days)]),
  need: needs(),
  efficiency: share({ ...ALL, positive: true }),
  applied_max: cappedAmounts(),
  ahead_max: amounts(),
  uptake: mapWithNutrients(
    { ...remarks(), ...nutrientKeys(curve()), other: curve() },
    "a map from nutrient to curve, for instance `{N: {0: 0%, 60: 45%, 120: 100%}}`",
  ),
  yield: later(() => quantity("rate", { positive: true })),
  uptake_per_yield: later(perYield),
  removal_per_yield: later(perYield),
  spacing: later(() =>
    map(
      { in_row: quantity("length", { positive: true }), rows: quantity("length", { positive: true }) },
      "a map such as `{in_row: 18 in, rows: 5 ft}`",
    ),
  ),
  standing: later(() => standing("need", "most", "timing", "spacing")),
  soil_test: later(soilTestSchema),
  soil_test_ratings: later(ratingTables),
  sure: later(sureSchema),
  ...remarks(),
}));
