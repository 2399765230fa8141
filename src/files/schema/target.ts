/** Targets: what a crop needs, when it takes it up, and what may be applied. */
import * as z from "zod/mini";
import type { Points } from "../../model.ts";
import { amounts, needs, perYield } from "./amounts.ts";
import { later, lazy, map, optional, read, remarks } from "./base.ts";
import { nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { ratingTables, soilTestSchema } from "./soil-test.ts";
import { standing, TARGET_STANDINGS } from "./standing.ts";
import { sureSchema } from "./sure.ts";
import { ALL, curve, label, quantity, share } from "./values.ts";

/** The keys of a target, in a file of its own or inside a plan. */
export const targetShape = lazy(() => ({
  target: label("the name of the target"),
  recipe: label("the name of a shipped recipe to begin from"),
  season: quantity("time", { positive: true }),
  need: needs(),
  efficiency: share({ ...ALL, positive: true }),
  applied_max: amounts(),
  ahead_max: amounts(),
  uptake: read(
    map(
      { ...optional(remarks()), ...nutrientKeys(curve(0)), other: z.optional(curve(0)) },
      "a map from nutrient to curve, for instance `{N: {0: 0%, 60: 45%, 120: 100%}}`",
    ),
    (input, ctx) => ({
      nutrients: nutrientsOf<Points>(input as Record<string, unknown>, ctx),
      ...((input as { other?: Points }).other === undefined
        ? {}
        : { other: (input as { other: Points }).other }),
    }),
  ),
  yield: later(() => quantity("rate", { positive: true })),
  uptake_per_yield: later(perYield),
  removal_per_yield: later(perYield),
  spacing: later(() =>
    map(
      {
        in_row: z.optional(quantity("length", { positive: true })),
        rows: z.optional(quantity("length", { positive: true })),
        ...optional(remarks()),
      },
      "a map such as `{in_row: 18 in, rows: 5 ft}`",
    ),
  ),
  standing: later(() => standing(TARGET_STANDINGS)),
  soil_test: later(soilTestSchema),
  soil_test_ratings: later(ratingTables),
  sure: later(sureSchema),
  ...remarks(),
}));
