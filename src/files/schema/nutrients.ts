/** Maps by nutrient, in the names that people use, read into canonical terms. */
import * as z from "zod/mini";
import { NUTRIENT_NAMES, type NutrientForm, type NutrientName, readNutrient } from "../../nutrients.ts";
import * as s from "./base.ts";

/** One entry of a map by nutrient, in canonical terms: amounts are to be multiplied by `factor`. */
export interface ByNutrient<T> extends NutrientForm {
  /** As the file names it. */
  readonly name: string;
  readonly value: T;
}

/** What is by nutrient in a map that may have other keys too. */
export interface Nutrients<T> {
  readonly nutrients: readonly ByNutrient<T>[];
}

/** The keys of a map by nutrient; one schema serves all of them. */
export const nutrientKeys = <T>(value: s.Schema<T>) => {
  const entry = z.optional(value);
  return Object.fromEntries(NUTRIENT_NAMES.map((name) => [name, entry])) as unknown as Readonly<
    Record<NutrientName, s.Schema<T>>
  >;
};

/** A map from nutrient to value, and nothing else. */
export const nutrientMap = <T>(value: s.Schema<T>, expected: string) =>
  s.read(mapWithNutrients(nutrientKeys(value), expected), ({ nutrients }) => nutrients);

/** A map that has nutrients among its keys; what it gives of them is put together under `nutrients`. */
export const mapWithNutrients = <
  S extends s.Shape & Readonly<Record<NutrientName, s.Schema>>,
  R extends keyof S = never,
>(
  shape: S,
  expected: string,
  required: readonly R[] = [],
) =>
  s.read(
    s.bareMap(shape, expected, required),
    (input, ctx) => byNutrient(input, ctx) as Nutrients<z.output<S["N"]>> & Omit<s.Read<S, R>, NutrientName>,
  );

/** A map with what it has by nutrient put together; two names for one nutrient are reported. */
function byNutrient(input: Readonly<Record<string, unknown>>, ctx: s.Ctx): Nutrients<unknown> {
  const others: Record<string, unknown> = {};
  const nutrients: ByNutrient<unknown>[] = [];
  for (const [name, value] of Object.entries(input)) {
    const form = readNutrient(name);
    if (form === undefined) {
      others[name] = value;
      continue;
    }
    const twin = nutrients.findLast((entry) => entry.nutrient === form.nutrient);
    if (twin !== undefined)
      for (const [here, there] of [
        [twin.name, name],
        [name, twin.name],
      ] as const)
        s.report(ctx, {
          code: "nutrient-twice",
          path: [here],
          at: "key",
          given: here,
          wrong: `names the same nutrient as \`${there}\` in this map`,
          hint: `keep one of the two; tables show ${form.nutrient}`,
        });
    nutrients.push({ name, ...form, value });
  }
  return { ...others, nutrients };
}
