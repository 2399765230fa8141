/** The kinds of files that have a schema, and their JSON Schemas for editors. */
import * as z from "zod/mini";
import { amendmentsFileShape } from "./amendments.ts";
import type { Schema, Shape } from "./base.ts";
import { casesShape } from "./cases.ts";
import { creditSourcesShape } from "./credits.ts";
import { mixShape } from "./mix.ts";
import { planShape } from "./plan.ts";
import { targetShape } from "./target.ts";

/** The kinds of files that have a schema. */
export const FILE_KINDS = ["plan", "amendments", "target", "mix", "cases", "credits"] as const;
export type FileKind = (typeof FILE_KINDS)[number];
/** A schema for a whole file, for JSON Schema. */
export function fileSchema(kind: FileKind): Schema {
  const shapes: Readonly<Record<FileKind, () => Shape>> = {
    amendments: amendmentsFileShape,
    target: targetShape,
    plan: planShape,
    mix: mixShape,
    cases: casesShape,
    credits: creditSourcesShape,
  };
  const required: Readonly<Record<FileKind, readonly string[]>> = {
    amendments: [],
    target: [],
    plan: [],
    mix: ["mix", "amendments"],
    cases: ["cases"],
    credits: ["credit_sources"],
  };
  const shape = shapes[kind]();
  return z.strictObject(
    Object.fromEntries(
      Object.entries(shape).map(([k, s]) => [k, required[kind].includes(k) ? s : z.optional(s)]),
    ),
  );
}

/** The JSON Schema (2020-12) of a file, as an editor needs it to help; what each value should be is as its description. */
export function jsonSchema(kind: FileKind): object {
  const { $schema, ...made } = z.toJSONSchema(fileSchema(kind), {
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
