/** Soil tests, and the published tables that turn a reading into a rating and a rating into an amount. */
import * as z from "zod/mini";
import { NUTRIENT_NAMES, type Nutrient, readNutrient } from "../../nutrients.ts";
import { parseSoilContent } from "../../units.ts";
import { counting, needs, range, sourceText } from "./amounts.ts";
import * as s from "./base.ts";
import { type ByNutrient, mapWithNutrients, nutrientKeys, nutrientMap } from "./nutrients.ts";
import * as v from "./values.ts";

/** A method of a laboratory, for comparison: small letters, with hyphens between words. */
const methodName = () =>
  s.read(v.label("the name of a method such as `mehlich-3` or `olsen`"), (name): string =>
    name
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, "-")
      .replace(/^(mehlich|m)-?(iii|3)$/, "mehlich-3")
      .replace(/^(mehlich|m)-?(i|1)$/, "mehlich-1"),
  );
/** A word of a laboratory or a table for comparison: small letters, with single spaces. */
const plainRating = (name: string): string => name.toLowerCase().replace(/[-_\s]+/g, " ");

/** By which methods readings were made: one for all that are not named. */
export interface Methods {
  readonly one?: string;
  readonly named: readonly ByNutrient<string>[];
}
const NO_METHOD: Methods = { named: [] };

/**
 * What a soil test says, in the order in which it is believed: `recommends` (of the laboratory), `ratings`, `readings` by
 * their `method`.
 */
export type SoilTest = z.output<ReturnType<typeof soilTestSchema>>;

export const soilTestSchema = s.lazy(() =>
  s.read(
    mapWithNutrients(
      {
        recommends: needs(),
        rating: nutrientMap(
          s.read(v.label("a rating such as `low`"), plainRating),
          "a map such as `{P: low, K: medium}`",
        ),
        method: z.union(
          [
            s.read(methodName(), (one): Methods => ({ one, named: [] })),
            s.read(
              nutrientMap(methodName(), "a method, or a map such as `{P: olsen}`"),
              (named): Methods => ({ named }),
            ),
          ],
          { error: "a method such as `mehlich-3`, or a map such as `{P: olsen, K: ammonium-acetate}`" },
        ),
        ...s.remarks(),
        ...nutrientKeys(s.parsed("a reading such as `12 ppm`", parseSoilContent)),
      },
      "a map such as `{recommends: {per: 1000 sq ft, N: 3 lb}}`",
    ),
    ({ recommends, rating: ratings = [], method = NO_METHOD, nutrients: readings }, ctx) => {
      if (recommends === undefined && ratings.length === 0 && readings.length === 0)
        s.report(ctx, {
          code: "key-missing",
          wrong: "this soil test says nothing",
          hint: "give `recommends`, `rating`, or readings such as `P: 12 ppm` with their `method`",
        });
      for (const { nutrient, name } of readings)
        if (methodOf(method, nutrient) === undefined)
          s.report(ctx, {
            code: "key-missing",
            path: [name],
            at: "key",
            wrong: `the reading of ${name} does not say by which method it was made`,
            hint: "add `method`, for instance `method: olsen`: a ppm means something else by every method",
          });
      return { recommends, ratings, readings, method };
    },
  ),
);

/** The method by which a nutrient was read, where the test says. */
export function methodOf({ one, named }: Methods, nutrient: Nutrient): string | undefined {
  return named.find((entry) => entry.nutrient === nutrient)?.value ?? one;
}

/** A rating and the readings it means: less than `below`, or up to and with `to`, or all the rest. */
export interface Band {
  readonly rating: string;
  readonly below?: number;
  readonly to?: number;
}

/** Published tables of a crop: from a reading to a rating, and from a rating to an amount. */
export type RatingTables = z.output<ReturnType<typeof ratingTables>>;

const bands = () =>
  s.read(
    s.freeMap(
      s.tied(
        s.bareMap(
          { below: v.number("an upper bound", { above: 0 }), to: v.number("an upper bound", { above: 0 }) },
          "a bound such as `{below: 15}`, `{to: 25}`, or `{}` for the rest",
        ),
        { excludes: [["below", ["to"]]] },
      ),
      "a map from rating to bound, for instance `{low: {below: 15}, medium: {to: 25}, high: {}}`",
    ),
    (input, ctx) => {
      const ratings = Object.entries(input);
      let above = 0;
      for (const [i, [rating, { below, to }]] of ratings.entries()) {
        const bound = below ?? to;
        if (bound === undefined && i < ratings.length - 1)
          s.report(ctx, {
            code: "range-crossed",
            path: [rating],
            at: "key",
            given: rating,
            wrong: "has no bound, and ratings follow it",
            hint: "ratings go from low to high; only the last has none",
          });
        if (bound !== undefined && bound <= above)
          s.report(ctx, {
            code: "range-crossed",
            path: [rating],
            wrong: `the bound of \`${rating}\` is not above the one before it`,
            hint: "ratings go from low to high",
          });
        above = bound ?? above;
      }
      return ratings.map(([rating, bounds]): Band => ({ rating: plainRating(rating), ...bounds }));
    },
  );

const methodTable = () =>
  s.read(
    s.map(
      {
        nutrient: z.string({ error: "a nutrient" }),
        method: methodName(),
        unit: v.choice(["ppm", "mg/kg"]),
        ratings: bands(),
      },
      "a table such as `{nutrient: P, method: olsen, ratings: {low: {below: 15}, high: {}}}`",
      ["nutrient", "method", "ratings"],
    ),
    ({ nutrient: name, method, ratings, source }, ctx) => {
      const form = readNutrient(name);
      if (form === undefined) {
        s.report(ctx, {
          code: "nutrient-unknown",
          path: ["nutrient"],
          given: name,
          wrong: "is no nutrient the program knows",
          hint: `one of ${NUTRIENT_NAMES.join(", ")}`,
        });
        return z.NEVER;
      }
      return { ...form, method, bands: ratings, source: sourceText(source) };
    },
  );

const amountsByRating = () =>
  s.read(
    s.freeMap(range(), "a map from rating to amount, for instance `{low: 200 lb, high: 0 lb}`"),
    (amounts) => Object.entries(amounts).map(([rating, amount]) => ({ rating: plainRating(rating), amount })),
  );

const amountTable = () =>
  s.read(
    mapWithNutrients(
      {
        per: v.per(),
        counts: counting().counts,
        method: methodName(),
        ...s.remarks(),
        ...nutrientKeys(amountsByRating()),
      },
      "a table such as `{per: acre, method: mehlich-3, P2O5: {low: 200 lb, high: 0 lb}}`",
      ["method"],
    ),
    (table) => ({ ...table, source: sourceText(table.source) }),
  );

export const ratingTables = s.lazy(() =>
  s.read(
    s.map(
      {
        methods: s.list(methodTable(), "a list of tables"),
        recommends: s.list(amountTable(), "a list of tables"),
      },
      "a map with `methods` and `recommends`",
    ),
    ({ methods = [], recommends = [] }) => ({ methods, recommends }),
  ),
);
