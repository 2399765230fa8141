/** Mix files: weights of a blend that is made already. */
import { freeMap, later, lazy, list, map, remarks, tied } from "./base.ts";
import { batch, currency, planShape } from "./plan.ts";
import { choice, day, label, massOrVolume, number, quantity } from "./values.ts";

/** One `mix:` entry: a weight, or a volume of an amendment with a density. */
export const portionSchema = lazy(() => massOrVolume());

const spread = lazy(() =>
  tied(
    map(
      {
        plants: number("a number of plants", { above: 0, whole: true }),
        area: quantity("area", { positive: true }),
        per_plant: massOrVolume({ positive: true }),
        batches: number("a number of batches", { above: 0 }),
        times: number("a number of times", { above: 0, whole: true }),
        days: list(day(), "a list of days"),
      },
      "a map such as `{plants: 180, per_plant: 0.5 cup, times: 3}`",
    ),
    { excludes: [["per_plant", ["batches"]]] },
  ),
);

/** The keys of a mix file. */
export const mixShape = lazy(() => ({
  mix: later(() => freeMap(portionSchema(), "a map from amendment to weight")),
  name: label("the name of the mix"),
  currency: currency(),
  units: choice(["us", "metric"]),
  amendments: planShape().amendments,
  releases: planShape().releases,
  batch: batch(),
  spread: spread(),
  scoops: planShape().scoops,
  ...remarks(),
}));
