/** Cases files: changes to a plan, by name. */
import * as z from "zod/mini";
import { parsePriceChange } from "../../units.ts";
import { freeMap, lazy, map, parsed, remarks } from "./base.ts";
import { sureSchema } from "./sure.ts";
import { ids, paths } from "./values.ts";

/** One `cases:` entry: changes to a plan. */
export const caseSchema = lazy(() =>
  map(
    {
      price: freeMap(
        parsed("a change such as `+15%` or a price such as `1.20/lb`", parsePriceChange),
        "a map from id to change",
      ),
      exclude: ids(),
      with: paths(),
      sure: sureSchema(),
      set: freeMap(z.unknown(), "a map from field to value"),
    },
    "a map such as `{price: {bone-meal: +15%}, exclude: [feather-meal]}`",
  ),
);

/** The keys of a cases file. */
export const casesShape = lazy(() => ({
  cases: freeMap(caseSchema(), "a map from name to changes"),
  ...remarks(),
}));
