/** Maps by nutrient, in the names that people use, read into canonical terms. */
import * as z from "zod/mini";
import { NUTRIENT_NAMES, type Nutrient, readNutrient } from "../../nutrients.ts";
import { type Ctx, report, type Schema } from "./base.ts";

/** One entry of a map by nutrient, in canonical terms: amounts are to be multiplied by `factor`. */
export interface ByNutrient<T> {
  /** As the file names it. */
  readonly name: string;
  readonly nutrient: Nutrient;
  readonly factor: number;
  readonly value: T;
}

export const nutrientKeys = <V extends Schema>(value: V): Record<string, z.ZodMiniOptional<V>> => {
  const entry = z.optional(value);
  return Object.fromEntries(NUTRIENT_NAMES.map((name) => [name, entry]));
};

export function nutrientsOf<T>(input: Readonly<Record<string, unknown>>, ctx: Ctx): ByNutrient<T>[] {
  const seen = new Map<Nutrient, string>();
  const entries: ByNutrient<T>[] = [];
  for (const [name, value] of Object.entries(input)) {
    const form = value === undefined ? undefined : readNutrient(name);
    if (form === undefined) continue;
    const before = seen.get(form.nutrient);
    if (before !== undefined)
      for (const [here, there] of [
        [before, name],
        [name, before],
      ] as const)
        report(ctx, {
          code: "nutrient-twice",
          path: [here],
          at: "key",
          given: here,
          wrong: `names the same nutrient as \`${there}\` in this map`,
          hint: `keep one of the two; tables show ${form.nutrient}`,
        });
    seen.set(form.nutrient, name);
    entries.push({ name, nutrient: form.nutrient, factor: form.factor, value: value as T });
  }
  return entries;
}
