/** Cases files: changes to a plan, by name. */
import * as z from "zod/mini";
import { type PriceChange, parsePriceChange } from "../../units.ts";
import { lazy, map, optional, read, remarks, report, written } from "./base.ts";
import { sureSchema } from "./sure.ts";
import { ids, paths } from "./values.ts";

/** One `cases:` entry: changes to a plan. */
export const caseSchema = lazy(() =>
  map(
    {
      price: z.optional(
        read(
          z.record(z.string(), written("a change such as `+15%` or a price such as `1.20/lb`"), {
            error: "a map from id to change",
          }),
          (input, ctx) => {
            const changes: Record<string, PriceChange> = {};
            for (const [id, change] of Object.entries(input)) {
              const read = parsePriceChange(change);
              if (read.ok) changes[id] = read.value;
              else report(ctx, { ...read, path: [id] });
            }
            return changes;
          },
        ),
      ),
      without: z.optional(ids()),
      with: z.optional(paths()),
      sure: z.optional(sureSchema()),
      set: z.optional(z.record(z.string(), z.unknown(), { error: "a map from field to value" })),
      ...optional(remarks()),
    },
    "a map such as `{price: {bone-meal: +15%}, without: [feather-meal]}`",
  ),
);

/** The keys of a cases file. */
export const casesShape = lazy(() => ({
  cases: z.record(z.string(), caseSchema(), { error: "a map from name to changes" }),
  ...remarks(),
}));
