/** Values and maps checked by a schema, and what is wrong with them in words. */
import * as z from "zod/mini";
import { nutrientMeant } from "../../nutrients.ts";
import { type Fault, nearest, type Problem } from "../../problem.ts";
import type { ProblemCode } from "../codes.ts";
import { isRecord, type Path, problemAt, type Tree, valueAt } from "../source.ts";
import { knownKeys, listed, type Read, type Schema, type Shape } from "./base.ts";

/** What soil reports list beside nutrients, and what becomes of it here. */
const NO_NUTRIENTS: Readonly<Record<string, string>> = {
  ph: "leave it out: it decides on lime, which your laboratory recommends by weight",
  om: "leave it out; nitrogen from organic matter is a credit: `{from: soil, organic_matter: 4%}`",
  organicmatter: "leave it out; nitrogen from organic matter is a credit: `{from: soil, organic_matter: 4%}`",
  cec: "leave it out: it describes the soil, and nothing is blended for it",
  ec: "leave it out: it tells of salts, which the cautions look at by themselves",
};

/** Says that a key means nothing here, and which known one is nearest. */
function unknownKey(tree: Tree, path: Path, key: string, known: readonly string[]): Problem {
  // `{area: 1,500 sq ft}`, `{price: 62,50}`: inside braces the comma ends the value.
  if (/^\d+(\D|$)/.test(key) && valueAt(tree.root, [...path, key]) === null)
    return problemAt(tree, {
      code: "key-unknown",
      path: [...path, key],
      at: "key",
      wrong: `inside braces a comma ends the value, so \`${key}\` is read as a key here`,
      hint: /^\d{3}(\D|$)/.test(key)
        ? "write the number without the comma, or put the value in quotes"
        : "write decimals with a point: `1.5`",
    });
  const measure = NO_NUTRIENTS[key.toLowerCase().replace(/[^a-z]/g, "")];
  if (measure !== undefined && known.includes("P2O5"))
    return problemAt(tree, {
      code: "nutrient-unknown",
      path: [...path, key],
      at: "key",
      given: key,
      wrong: "is not a nutrient",
      hint: measure,
    });
  const meant = nutrientMeant(key);
  const near = meant !== undefined && known.includes(meant) ? meant : nearest(key, known);
  const among = known.includes("N") && known.includes("P2O5") && /^[A-Z][A-Za-z0-9]{0,5}$/.test(key);
  return problemAt(tree, {
    code: among ? "nutrient-unknown" : "key-unknown",
    path: [...path, key],
    at: "key",
    wrong: among ? `\`${key}\` is no nutrient the program knows` : `the key \`${key}\` means nothing here`,
    near,
    hint: acceptedKeys(known),
  });
}

const accepted = new WeakMap<readonly string[], string>();

/** The known keys in words, made once for all wrong keys of a map. */
function acceptedKeys(known: readonly string[]): string {
  let text = accepted.get(known);
  if (text === undefined) {
    const keys = known.filter((k) => k !== "note" && k !== "source" && k !== "sources");
    text = `keys accepted here: ${keys.join(", ")}`;
    accepted.set(known, text);
  }
  return text;
}

/** Checks one value; problems go to `out`, and the value read comes back if there were none. */
export function readValue<T extends Schema>(
  schema: T,
  tree: Tree,
  path: Path,
  out: Problem[],
): z.output<T> | undefined {
  const value = valueAt(tree.root, path);
  const result = z.safeParse(schema, value);
  if (!result.success) {
    problemsOf(result.error.issues, tree, path, out);
    return undefined;
  }
  // zod leaves this one key out of a map with free keys without a word, and what is under it would be lost.
  const lost = hasKey("__proto__", value) ? pathsTo("__proto__", value, path) : [];
  for (const at of lost)
    out.push(
      problemAt(tree, {
        code: "id-malformed",
        path: at,
        at: "key",
        wrong: "`__proto__` cannot be a key here",
        hint: "use another name",
      }),
    );
  return lost.length === 0 ? result.data : undefined;
}

/** Whether a key is in a value, at any depth. */
function hasKey(key: string, value: unknown): boolean {
  if (typeof value !== "object" || value === null) return false;
  if (Array.isArray(value)) return value.some((item) => hasKey(key, item));
  if (Object.hasOwn(value, key)) return true;
  for (const k of Object.keys(value)) if (hasKey(key, (value as Record<string, unknown>)[k])) return true;
  return false;
}

/** Where a key is in a value, at any depth. */
function pathsTo(key: string, value: unknown, at: Path): readonly Path[] {
  if (Array.isArray(value)) return value.flatMap((item, i) => pathsTo(key, item, [...at, i]));
  if (!isRecord(value)) return [];
  return Object.keys(value).flatMap((k) => (k === key ? [[...at, k]] : pathsTo(key, value[k], [...at, k])));
}

/**
 * Checks a map key by key, so that a fault under one key does not hide those under the others.
 * @param skip keys that are known but read elsewhere.
 */
export function readMap<S extends Shape>(
  shape: S,
  tree: Tree,
  path: Path,
  out: Problem[],
  expected: string,
  skip: readonly string[] = [],
): Read<S> {
  const value = valueAt(tree.root, path);
  const read: Record<string, unknown> = {};
  if (!isRecord(value)) {
    out.push(wrongType(tree, path, value, expected));
    return read as Read<S>;
  }
  const known = Object.keys(shape);
  for (const key of Object.keys(value)) {
    if (!Object.hasOwn(shape, key)) out.push(unknownKey(tree, path, key, known));
    else if (!skip.includes(key)) {
      const got = readValue(shape[key]!, tree, [...path, key], out);
      if (got !== undefined) read[key] = got;
    }
  }
  return read as Read<S>;
}

/** The items of a list, or none where there is no list; something else in its place is reported. */
export function itemsOf(
  tree: Tree,
  path: Path,
  out: Problem[],
  expected: string,
): readonly unknown[] | undefined {
  const raw = valueAt(tree.root, path);
  if (raw === undefined || Array.isArray(raw)) return raw;
  out.push(wrongType(tree, path, raw, expected));
  return undefined;
}

const KINDS: readonly (readonly [(v: unknown) => boolean, string])[] = [
  [(v) => v === null, "nothing"],
  [(v) => Array.isArray(v), "a list"],
  [(v) => isRecord(v), "a map"],
  [(v) => typeof v === "boolean", "true or false"],
  [(v) => typeof v === "number", "a number"],
];

/** Says what is at a path and what should. */
export function wrongType(tree: Tree, path: Path, value: unknown, expected: string): Problem {
  const key = path.findLast((step) => typeof step === "string");
  if (value === undefined || value === null) {
    const name = path.length > 0 && typeof path.at(-1) === "string" ? `\`${path.at(-1)}\`` : "a value";
    return problemAt(tree, {
      code: "key-missing",
      path,
      wrong:
        value === null
          ? `nothing is given for ${path.at(-1) === key ? name : "this item"}`
          : `${name} is missing`,
      expected,
    });
  }
  if (typeof value === "number" && !Number.isFinite(value))
    return problemAt(tree, {
      code: "number-range",
      path,
      given: value,
      wrong: "is not a usable number",
      expected,
    });
  const found = KINDS.find(([is]) => is(value))?.[1] ?? `the text \`${String(value).slice(0, 40)}\``;
  return problemAt(tree, { code: "type-wrong", path, wrong: `found ${found} here`, expected });
}

type Issue = z.core.$ZodIssue;

/** Issues of zod as problems of ours. */
function problemsOf(issues: readonly Issue[], tree: Tree, base: Path, out: Problem[]): void {
  for (const issue of issues) {
    const path = [...base, ...(issue.path as (string | number)[])];
    const value = valueAt(tree.root, path);
    switch (issue.code) {
      case "custom": {
        const { fault } = issue.params as { readonly fault: Fault<ProblemCode> };
        out.push(problemAt(tree, { ...fault, path }));
        break;
      }
      case "unrecognized_keys":
        for (const key of issue.keys) out.push(unknownKey(tree, path, key, knownKeys(issue.keys)));
        break;
      case "invalid_union": {
        const branch = issue.errors.find((errors) => errors.length > 0 && !errors.every(isRootType));
        if (branch) problemsOf(branch, tree, path, out);
        else out.push(wrongType(tree, path, value, issue.message));
        break;
      }
      case "invalid_value": {
        const choices = issue.values.map(String);
        if (typeof value === "string") {
          const near = nearest(value, choices);
          out.push(
            problemAt(tree, {
              code: "choice-unknown",
              path,
              given: value,
              wrong: "is not among the choices",
              hint:
                near === undefined
                  ? choices.length === 1
                    ? `the only choice is ${listed(choices)}`
                    : `one of ${listed(choices)}`
                  : `did you mean \`${near}\`? the choices are ${listed(choices)}`,
            }),
          );
        } else out.push(wrongType(tree, path, value, issue.message));
        break;
      }
      default:
        out.push(wrongType(tree, path, value, issue.message));
    }
  }
}

const isRootType = (issue: Issue): boolean =>
  issue.path.length === 0 &&
  (issue.code === "invalid_type" ||
    (issue.code === "invalid_union" && issue.errors.every((e) => e.every(isRootType))));
