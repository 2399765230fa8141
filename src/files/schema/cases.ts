/** Cases files: changes to a plan, by name. */
import * as z from "zod/mini";
import { parsePriceChange } from "../../units.ts";
import { lazy, map, parsed, remarks } from "./base.ts";
import { sureSchema } from "./sure.ts";
import { ids, paths } from "./values.ts";

/** One `cases:` entry: changes to a plan. */
export const caseSchema = lazy(() =>
  map(
    {
      price: z.record(
        z.string(),
        parsed("a change such as `+15%` or a price such as `1.20/lb`", parsePriceChange),
        { error: "a map from id to change" },
      ),
      without: ids(),
      with: paths(),
      sure: sureSchema(),
      set: z.record(z.string(), z.unknown(), { error: "a map from field to value" }),
    },
    "a map such as `{price: {bone-meal: +15%}, without: [feather-meal]}`",
  ),
);

/** The keys of a cases file. */
export const casesShape = lazy(() => ({
  cases: z.record(z.string(), caseSchema(), { error: "a map from name to changes" }),
  ...remarks(),
}));
