/** Values and maps checked by a schema, and what is wrong with them in words. */
import * as z from "zod/mini";
import { nutrientMeant } from "../../nutrients.ts";
import { nearest } from "../../problem.ts";
import type { FileFault } from "../codes.ts";
import { isRecord, type Path, valueAt } from "../source.ts";
import { listed, type Read, remarks, type Schema, type Shape } from "./base.ts";

/** Takes what is wrong, with its path from the top of the file. */
export type Complain = (fault: FileFault) => void;

/** What soil reports list beside nutrients, and what becomes of it here. */
const NO_NUTRIENTS: ReadonlyMap<string, string> = new Map([
  ["ph", "leave it out: it decides on lime, which your laboratory recommends by weight"],
  ["om", "leave it out; nitrogen from organic matter is a credit: `{from: soil, organic_matter: 4%}`"],
  [
    "organicmatter",
    "leave it out; nitrogen from organic matter is a credit: `{from: soil, organic_matter: 4%}`",
  ],
  ["cec", "leave it out: it describes the soil, and nothing is blended for it"],
  ["ec", "leave it out: it tells of salts, which the cautions look at by themselves"],
]);

/** A key that means nothing in the map at `path`, and which of the known ones is nearest. */
export function unknownKey(map: unknown, path: Path, key: string, known: readonly string[]): FileFault {
  const here = { path: [...path, key], at: "key" } as const;
  // `{area: 1,500 sq ft}`, `{price: 62,50}`: inside braces the comma ends the value.
  if (/^\d+(\D|$)/.test(key) && valueAt(map, [key]) === null)
    return {
      code: "key-unknown",
      ...here,
      wrong: `inside braces a comma ends the value, so \`${key}\` is read as a key here`,
      hint: /^\d{3}(\D|$)/.test(key)
        ? "write the number without the comma, or put the value in quotes"
        : "write decimals with a point: `1.5`",
    };
  const byNutrient = known.includes("N") && known.includes("P2O5");
  const measure = byNutrient ? NO_NUTRIENTS.get(key.toLowerCase().replace(/[^a-z]/g, "")) : undefined;
  if (measure !== undefined)
    return { code: "nutrient-unknown", ...here, given: key, wrong: "is not a nutrient", hint: measure };
  const meant = nutrientMeant(key);
  const among = byNutrient && /^[A-Z][A-Za-z0-9]{0,5}$/.test(key);
  return {
    code: among ? "nutrient-unknown" : "key-unknown",
    ...here,
    wrong: among ? `\`${key}\` is no nutrient the program knows` : `the key \`${key}\` means nothing here`,
    near: meant !== undefined && known.includes(meant) ? meant : nearest(key, known),
    hint: `keys accepted here: ${known.filter((name) => !Object.hasOwn(remarks(), name)).join(", ")}`,
  };
}

/** Checks the value at a path; the value read comes back if there were no faults. */
export function readValue<T extends Schema>(
  schema: T,
  value: unknown,
  path: Path,
  complain: Complain,
): z.output<T> | undefined {
  const result = z.safeParse(schema, value);
  if (!result.success) {
    complainOf(result.error.issues, value, path, complain);
    return undefined;
  }
  // zod leaves this one key out of a map with free keys without a word, and what is under it would be lost.
  const lost = pathsTo("__proto__", value);
  for (const steps of lost) complain(protoKey([...path, ...steps]));
  return lost.length === 0 ? result.data : undefined;
}

/** A key that means something else to JavaScript. */
export const protoKey = (path: Path): FileFault => ({
  code: "id-malformed",
  path,
  at: "key",
  wrong: "`__proto__` cannot be a key here",
  hint: "use another name",
});

function pathsTo(key: string, value: unknown): readonly Path[] {
  if (typeof value !== "object" || value === null) return [];
  return Object.entries(value).flatMap(([name, inside]): readonly Path[] => {
    const step = Array.isArray(value) ? Number(name) : name;
    return step === key ? [[step]] : pathsTo(key, inside).map((steps) => [step, ...steps]);
  });
}

/**
 * Checks a map key by key, so that a fault under one key does not hide those under the others.
 * @param skip keys that are known but read elsewhere.
 */
export function readMap<S extends Shape>(
  shape: S,
  value: unknown,
  path: Path,
  complain: Complain,
  expected: string,
  skip: readonly string[] = [],
): Read<S> {
  const read: Record<string, unknown> = {};
  if (!isRecord(value)) {
    complain(wrongType(value, path, expected));
    return read as Read<S>;
  }
  for (const [key, inside] of Object.entries(value)) {
    if (!Object.hasOwn(shape, key)) complain(unknownKey(value, path, key, Object.keys(shape)));
    else if (!skip.includes(key)) {
      const got = readValue(shape[key]!, inside, [...path, key], complain);
      if (got !== undefined) read[key] = got;
    }
  }
  return read as Read<S>;
}

/** What a value is called, by its type; other than these it is text. */
const KINDS: Readonly<Record<string, string>> = {
  object: "a map",
  boolean: "true or false",
  number: "a number",
};

/** `13-0-0` as a map; undefined for what is no grade. */
function gradeMeant(value: unknown): string | undefined {
  const parts = typeof value === "string" ? value.trim().split("-") : [];
  if (parts.length !== 3 || !parts.every((part) => /^\d+(\.\d+)?$/.test(part))) return undefined;
  return `{N: ${parts[0]}, P2O5: ${parts[1]}, K2O: ${parts[2]}}`;
}

/** Says what is at a path and what should. */
export function wrongType(value: unknown, path: Path, expected: string): FileFault {
  const step = path.at(-1);
  const name = typeof step === "string" ? `\`${step}\`` : "a value";
  if (value === undefined) return { code: "key-missing", path, wrong: `${name} is missing`, expected };
  if (value === null) {
    const what = typeof step === "number" ? "this item" : name;
    return { code: "key-missing", path, wrong: `nothing is given for ${what}`, expected };
  }
  if (typeof value === "number" && !Number.isFinite(value))
    return { code: "number-range", path, given: value, wrong: "is not a usable number", expected };
  const grade = step === "analysis" ? gradeMeant(value) : undefined;
  if (grade !== undefined)
    return {
      code: "type-wrong",
      path,
      given: value,
      wrong: "is a grade, and an analysis is a map",
      hint: `write \`${grade}\``,
    };
  const found = Array.isArray(value)
    ? "a list"
    : (KINDS[typeof value] ?? `the text \`${String(value).slice(0, 40)}\``);
  return { code: "type-wrong", path, wrong: `found ${found} here`, expected };
}

type Issue = z.core.$ZodIssue;

/** Issues of zod with the value at a path, as faults of ours. */
function complainOf(issues: readonly Issue[], value: unknown, base: Path, complain: Complain): void {
  for (const issue of issues) {
    const steps = issue.path as (string | number)[];
    const path = [...base, ...steps];
    const found = valueAt(value, steps);
    if (issue.code === "custom") complain({ ...(issue.params as { fault: FileFault }).fault, path });
    else if (issue.code === "unrecognized_keys")
      for (const key of issue.keys) complain(unknownKey(found, path, key, issue.message.split(" ")));
    else if (issue.code === "invalid_value" && typeof found === "string")
      complain({ ...notAmong(found, issue.values.map(String)), path });
    else {
      const branches = issue.code === "invalid_union" ? issue.errors : [];
      const branch = branches.find((errors) => errors.length > 0 && !errors.every(isRootType));
      if (branch) complainOf(branch, found, path, complain);
      else complain(wrongType(found, path, issue.message));
    }
  }
}

export function notAmong(given: string, choices: readonly string[]): FileFault {
  const near = nearest(given, choices);
  const otherwise = choices.length === 1 ? "the only choice is" : "one of";
  return {
    code: "choice-unknown",
    given,
    wrong: "is not among the choices",
    hint: `${near === undefined ? otherwise : `did you mean \`${near}\`? the choices are`} ${listed(choices)}`,
  };
}

const isRootType = (issue: Issue): boolean =>
  issue.path.length === 0 &&
  (issue.code === "invalid_type" ||
    (issue.code === "invalid_union" && issue.errors.every((e) => e.every(isRootType))));
