/** Soil tests, and the published tables that turn a reading into a rating and a rating into an amount. */
import * as z from "zod/mini";
import type { Counts } from "../../model.ts";
import { NUTRIENT_NAMES, type Nutrient, readNutrient } from "../../nutrients.ts";
import { defined } from "../../optional.ts";
import { type Per, parseSoilContent, type SoilContent } from "../../units.ts";
import { countingOf, counts, type Needs, needs, type Range, range, sourceText } from "./amounts.ts";
import { lazy, map, optional, read, remarks, report, taken, written } from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { choice, label, number, per } from "./values.ts";

/** A method of a laboratory, for comparison: small letters, with hyphens between words. */
const methodName = () =>
  read(label("the name of a method such as `mehlich-3` or `olsen`"), (name): string =>
    name
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, "-")
      .replace(/^(mehlich|m)-?(iii|3)$/, "mehlich-3")
      .replace(/^(mehlich|m)-?(i|1)$/, "mehlich-1"),
  );
const ratingName = () =>
  read(label("a rating such as `low`"), (name): string => name.toLowerCase().replace(/[-_\s]+/g, " "));

/** What a soil test says, in the order in which it is believed: a recommendation, ratings, readings. */
export interface SoilTest {
  readonly recommends?: Needs;
  readonly ratings: readonly ByNutrient<string>[];
  readonly readings: readonly ByNutrient<SoilContent>[];
  /** The method of all nutrients that `methods` does not name. */
  readonly method?: string;
  readonly methods: readonly ByNutrient<string>[];
}

export const soilTestSchema = lazy(() =>
  read(
    map(
      {
        recommends: z.optional(needs()),
        rating: z.optional(
          read(map(nutrientKeys(ratingName()), "a map such as `{P: low, K: medium}`"), (input, ctx) =>
            nutrientsOf<string>(input, ctx),
          ),
        ),
        method: z.optional(
          z.union(
            [
              read(methodName(), (one) => ({ one, named: [] as ByNutrient<string>[] })),
              read(
                map(nutrientKeys(methodName()), "a method, or a map such as `{P: olsen}`"),
                (input, ctx) => ({ one: undefined, named: nutrientsOf<string>(input, ctx) }),
              ),
            ],
            { error: "a method such as `mehlich-3`, or a map such as `{P: olsen, K: ammonium-acetate}`" },
          ),
        ),
        ...optional(remarks()),
        ...nutrientKeys(
          read(
            written("a reading such as `12 ppm`"),
            (input, ctx): SoilContent => taken(parseSoilContent(input), ctx),
          ),
        ),
      },
      "a map such as `{recommends: {per: 1000 sq ft, N: 3 lb}}`",
    ),
    (input, ctx): SoilTest => {
      const { recommends, rating, method } = input as {
        recommends?: Needs;
        rating?: ByNutrient<string>[];
        method?: { one: string | undefined; named: ByNutrient<string>[] };
      };
      const readings = nutrientsOf<SoilContent>(input, ctx);
      const ratings = rating ?? [];
      if (recommends === undefined && ratings.length === 0 && readings.length === 0)
        report(ctx, {
          code: "key-missing",
          wrong: "this soil test says nothing",
          hint: "give `recommends`, `rating`, or readings such as `P: 12 ppm` with their `method`",
        });
      const methods = method?.named ?? [];
      for (const { nutrient, name } of readings)
        if (method?.one === undefined && !methods.some((m) => m.nutrient === nutrient))
          report(ctx, {
            code: "key-missing",
            path: [name],
            at: "key",
            wrong: `the reading of ${name} does not say by which method it was made`,
            hint: "add `method`, for instance `method: olsen`: a ppm means something else by every method",
          });
      return {
        ...(recommends ? { recommends } : {}),
        ratings,
        readings,
        ...(method?.one === undefined ? {} : { method: method.one }),
        methods,
      };
    },
  ),
);

/** A rating and the readings it means: less than `below`, or up to and with `to`, or all the rest. */
export interface Band {
  readonly rating: string;
  readonly below?: number;
  readonly to?: number;
}

/** Published tables of a crop: from a reading to a rating, and from a rating to an amount. */
export interface RatingTables {
  readonly methods: readonly {
    readonly name: string;
    readonly nutrient: Nutrient;
    readonly factor: number;
    readonly method: string;
    readonly bands: readonly Band[];
    readonly source: string;
  }[];
  readonly recommends: readonly {
    readonly method: string;
    readonly per?: Per;
    readonly counts?: Counts;
    readonly nutrients: readonly ByNutrient<readonly { readonly rating: string; readonly amount: Range }[]>[];
    readonly source: string;
  }[];
}

const bands = () =>
  read(
    z.record(
      z.string(),
      map(
        {
          below: z.optional(number("an upper bound", { above: 0 })),
          to: z.optional(number("an upper bound", { above: 0 })),
        },
        "a bound such as `{below: 15}`, `{to: 25}`, or `{}` for the rest",
      ),
      { error: "a map from rating to bound, for instance `{low: {below: 15}, medium: {to: 25}, high: {}}`" },
    ),
    (input, ctx): Band[] => {
      const list = Object.entries(input);
      let above = 0;
      for (const [i, [rating, { below, to }]] of list.entries()) {
        const bound = below ?? to;
        if (below !== undefined && to !== undefined)
          report(ctx, {
            code: "key-conflict",
            path: [rating, "to"],
            at: "key",
            wrong: "a rating has both `below` and `to`",
            hint: "keep one",
          });
        if (bound === undefined && i < list.length - 1)
          report(ctx, {
            code: "range-crossed",
            path: [rating],
            at: "key",
            given: rating,
            wrong: "has no bound, and ratings follow it",
            hint: "ratings go from low to high; only the last has none",
          });
        if (bound !== undefined && bound <= above)
          report(ctx, {
            code: "range-crossed",
            path: [rating],
            wrong: `the bound of \`${rating}\` is not above the one before it`,
            hint: "ratings go from low to high",
          });
        above = bound ?? above;
      }
      return list.map(([rating, band]) => ({
        rating: rating.toLowerCase().replace(/[-_\s]+/g, " "),
        ...defined({ below: band.below, to: band.to }),
      }));
    },
  );

export const ratingTables = lazy(() =>
  read(
    map(
      {
        methods: z.optional(
          z.array(
            read(
              map(
                {
                  nutrient: z.string({ error: "a nutrient" }),
                  method: methodName(),
                  unit: z.optional(choice(["ppm", "mg/kg"])),
                  ratings: bands(),
                  ...optional(remarks()),
                },
                "a table such as `{nutrient: P, method: olsen, ratings: {low: {below: 15}, high: {}}}`",
              ),
              (input, ctx) => {
                const form = readNutrient(input.nutrient);
                if (form === undefined)
                  report(ctx, {
                    code: "nutrient-unknown",
                    path: ["nutrient"],
                    given: input.nutrient,
                    wrong: "is no nutrient the program knows",
                    hint: `one of ${NUTRIENT_NAMES.join(", ")}`,
                  });
                return {
                  name: input.nutrient,
                  nutrient: form?.nutrient ?? "N",
                  factor: form?.factor ?? 1,
                  method: input.method,
                  bands: input.ratings,
                  source: sourceText(input.source),
                };
              },
            ),
            { error: "a list of tables" },
          ),
        ),
        recommends: z.optional(
          z.array(
            read(
              map(
                {
                  per: z.optional(per()),
                  counts: z.optional(counts()),
                  method: methodName(),
                  ...optional(remarks()),
                  ...nutrientKeys(
                    z.record(z.string(), range(), {
                      error: "a map from rating to amount, for instance `{low: 200 lb, high: 0 lb}`",
                    }),
                  ),
                },
                "a table such as `{per: acre, method: mehlich-3, P2O5: {low: 200 lb, high: 0 lb}}`",
              ),
              (input, ctx) => {
                const raw = input as unknown as {
                  per?: Per;
                  method: string;
                  source?: string | string[];
                };
                return {
                  method: raw.method,
                  ...defined({ per: raw.per }),
                  ...countingOf(input),
                  source: sourceText(raw.source),
                  nutrients: nutrientsOf<Record<string, Range>>(input, ctx).map((e) => ({
                    ...e,
                    value: Object.entries(e.value).map(([rating, amount]) => ({
                      rating: rating.toLowerCase().replace(/[-_\s]+/g, " "),
                      amount,
                    })),
                  })),
                };
              },
            ),
            { error: "a list of tables" },
          ),
        ),
        ...optional(remarks()),
      },
      "a map with `methods` and `recommends`",
    ),
    (input): RatingTables => ({ methods: input.methods ?? [], recommends: input.recommends ?? [] }),
  ),
);
