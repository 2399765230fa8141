/** The JSON Schemas of the kinds of files, for editors. */
import * as z from "zod/mini";
import { amendmentsFileShape } from "./amendments.ts";
import { optionalBut, type Shape } from "./base.ts";
import { casesShape } from "./cases.ts";
import { creditSourcesShape } from "./credits.ts";
import { farmShape } from "./farm.ts";
import { mixShape } from "./mix.ts";
import { planShape } from "./plan.ts";
import { seasonShape } from "./season.ts";
import { targetShape } from "./target.ts";

const SHAPES = {
  plan: planShape,
  farm: farmShape,
  amendments: amendmentsFileShape,
  target: targetShape,
  mix: mixShape,
  season: seasonShape,
  cases: casesShape,
  credits: creditSourcesShape,
} as const satisfies Readonly<Record<string, () => Shape>>;

const REQUIRED: Readonly<Partial<Record<keyof typeof SHAPES, readonly string[]>>> = {
  farm: ["beds"],
  mix: ["mix", "amendments"],
  season: ["season"],
  cases: ["cases"],
  credits: ["credit_sources"],
};

/** The JSON Schema (2020-12) of a file, as an editor needs it to help; what each value should be is as its description. */
export function jsonSchema(kind: keyof typeof SHAPES): object {
  const file = z.strictObject(optionalBut(SHAPES[kind](), REQUIRED[kind] ?? []));
  const { $schema, ...made } = z.toJSONSchema(file, {
    io: "input",
    reused: "ref",
    override: ({ zodSchema, jsonSchema: made }) => {
      const { error } = zodSchema._zod.def as { error?: (issue: unknown) => unknown };
      const expected = error?.({ code: "invalid_type" });
      if (typeof expected === "string") made.description ??= expected;
    },
  });
  return { $schema, title: `barrowmix: ${kind}`, ...made };
}
