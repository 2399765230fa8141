/** Mix files: weights of a blend that is made already. */
import * as s from "./base.ts";
import { batch, currency, planShape } from "./plan.ts";
import * as v from "./values.ts";

/** One `mix:` entry: a weight, or a volume of an amendment with a density. */
export const portionSchema = s.lazy(() => v.massOrVolume());

const spread = s.lazy(() =>
  s.tied(
    s.map(
      {
        plants: v.number("a number of plants", { above: 0, whole: true }),
        area: v.quantity("area", { positive: true }),
        per_plant: v.massOrVolume({ positive: true }),
        batches: v.number("a number of batches", { above: 0 }),
        times: v.number("a number of times", { above: 0, whole: true }),
        days: s.list(v.day(), "a list of days"),
      },
      "a map such as `{plants: 180, per_plant: 0.5 cup, times: 3}`",
    ),
    { excludes: [["per_plant", ["batches"]]] },
  ),
);

/** The keys of a mix file. */
export const mixShape = s.lazy(() => ({
  mix: s.later(() => s.freeMap(portionSchema(), "a map from amendment to weight")),
  name: v.label("the name of the mix"),
  currency: currency(),
  units: v.choice(["us", "metric"]),
  amendments: planShape().amendments,
  releases: planShape().releases,
  batch: batch(),
  spread: spread(),
  scoops: planShape().scoops,
  ...s.remarks(),
}));
