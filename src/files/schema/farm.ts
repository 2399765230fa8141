/** Farms: the keys of a farm, of its fields and of its beds. Each may also hold what a plan does, but for some of it. */
import * as z from "zod/mini";
import * as s from "./base.ts";
import { bedShape, planShape } from "./plan.ts";
import * as v from "./values.ts";

/** What only a farm says, since all its beds have it in common. */
export const OF_THE_FARM = [
  "currency",
  "units",
  "amendments",
  "releases",
  "kinds",
  "suppliers",
  "prices",
  "batch",
  "scale",
  "scoops",
] as const;

/** A shape without some keys; what is left is read as a plan, so that its types do not matter. */
const without = (shape: s.Shape, keys: readonly string[]): object =>
  Object.fromEntries(Object.entries(shape).filter(([key]) => !keys.includes(key)));

/** Days of rounds of the same size, short for `applications`. */
const rounds = () => s.list(s.written("a day such as `28`"), "a list of days such as `[0, 28, 56]`");

const letter = () =>
  s.read(v.text("a letter such as `B`"), (name, ctx): string => {
    if (/^[A-Z]$/.test(name)) return name;
    const hint = /^[a-z]$/.test(name) ? `write \`${name.toUpperCase()}\`` : "mixes are `A`, `B` and so on";
    s.report(ctx, { code: "choice-unknown", given: name, wrong: "is not the letter of a mix", hint });
    return z.NEVER;
  });

/** What a field says: any fields of a plan but those of the farm. */
export const fieldShape = s.lazy(() => ({
  ...without(planShape(), [...OF_THE_FARM, "plan", "bed"]),
  rounds: rounds(),
}));

/** What a bed says: its measures, the field it lies in, and any fields of a plan but those of the farm. */
export const farmBedShape = s.lazy(() => ({
  bed: v.label("the name of the bed"),
  plan: v.label("a path of a plan"),
  field: v.label("the name of a field"),
  mix: letter(),
  ...bedShape(),
  ...fieldShape(),
}));

/** What a bed may say that is a plan as it stands. */
export const BESIDE_A_PLAN = ["bed", "plan", "mix", "note", "source", "sources"] as const;

/** The keys of a farm alone. */
export const farmOwnShape = s.lazy(() => ({
  farm: v.label("the name of the farm"),
  most_mixes: v.number("a number of mixes", { least: 1, whole: true }),
  alone: v.number("0 or 1", { least: 0, most: 1, whole: true }),
  fields: s.later(() =>
    s.freeMap(s.map(fieldShape(), "a map of fields of a plan"), "a map from field to what it says"),
  ),
  beds: s.later(() =>
    s.list(s.map(farmBedShape(), "a bed such as `{bed: tomatoes east, recipe: tomato}`"), "a list of beds"),
  ),
}));

/** All keys of a farm. */
export const farmShape = s.lazy(() => ({
  ...without(planShape(), ["plan", "bed"]),
  rounds: rounds(),
  ...farmOwnShape(),
}));
