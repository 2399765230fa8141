/** Cases files: changes to a plan, by name. */
import * as z from "zod/mini";
import { parsePriceChange } from "../../units.ts";
import * as s from "./base.ts";
import { sureSchema } from "./sure.ts";
import * as v from "./values.ts";

/** One `cases:` entry: changes to a plan. */
export const caseSchema = s.lazy(() =>
  s.map(
    {
      price: s.freeMap(
        s.parsed("a change such as `+15%` or a price such as `1.20/lb`", parsePriceChange),
        "a map from id to change",
      ),
      exclude: v.ids(),
      with: v.paths(),
      sure: sureSchema(),
      set: s.freeMap(z.unknown(), "a map from field to value"),
    },
    "a map such as `{price: {bone-meal: +15%}, exclude: [feather-meal]}`",
  ),
);

/** The keys of a cases file. */
export const casesShape = s.lazy(() => ({
  cases: s.freeMap(caseSchema(), "a map from name to changes"),
  ...s.remarks(),
}));
