/** Single values as people write them: quantities, numbers, names, days, lists of ids, curves over days. */
import * as z from "zod/mini";
import type { Points } from "../../model.ts";
import { oddNumber, parseNumber } from "../../numerals.ts";
import { plainText } from "../../plain-text.ts";
import {
  DIMENSION_WORDS,
  type Dimension,
  isAbsurd,
  type Per,
  parseDay,
  parsePer,
  parseQuantity,
  type QuantityRules,
} from "../../units.ts";
import { type Ctx, lazy, listed, read, report, taken, written } from "./base.ts";

export const quantity = (dimension: Dimension, rules: QuantityRules = {}) =>
  read(
    written(
      `${DIMENSION_WORDS[dimension].noun} with its unit, for instance \`${DIMENSION_WORDS[dimension].example}\`,`,
    ),
    (input, ctx): number => taken(parseQuantity(input, dimension, rules), ctx),
  );

export const ALL: QuantityRules = { most: { value: 1, text: "`100%`" } };
export const share = (rules: QuantityRules = ALL) => quantity("share", rules);

/** A quantity of either of two kinds. */
export function either<A extends string, B extends string>(
  first: { readonly name: A; readonly dimension: Dimension },
  second: { readonly name: B; readonly dimension: Dimension },
  rules: QuantityRules = {},
) {
  const { nouns, examples } = eitherWords(first.dimension, second.dimension);
  return read(written(`${nouns}, for instance ${examples},`), (input, ctx) =>
    readEither(first, second, rules, input, ctx),
  );
}

const eitherWords = (one: Dimension, two: Dimension) => ({
  nouns: `${DIMENSION_WORDS[one].noun} or ${DIMENSION_WORDS[two].noun}`,
  examples: `\`${DIMENSION_WORDS[one].example}\` or \`${DIMENSION_WORDS[two].example}\``,
});

/** Reads a quantity of either of two kinds. */
export function readEither<A extends string, B extends string>(
  first: { readonly name: A; readonly dimension: Dimension },
  second: { readonly name: B; readonly dimension: Dimension },
  rules: QuantityRules,
  input: string | number,
  ctx: Ctx,
): { readonly kind: A | B; readonly value: number } {
  const one = parseQuantity(input, first.dimension, rules);
  if (one.ok) return { kind: first.name, value: one.value };
  const two = parseQuantity(input, second.dimension, rules);
  if (two.ok) return { kind: second.name, value: two.value };
  if (one.code === "unit-kind" && two.code !== "unit-kind") return taken<never>(two, ctx);
  if (one.code === "unit-kind" || one.code === "unit-missing") {
    const { nouns, examples } = eitherWords(first.dimension, second.dimension);
    const amount = one.code === "unit-missing" ? String(input).trim() : undefined;
    const fitting =
      amount === undefined
        ? examples
        : [first, second].map((of) => `\`${amount} ${DIMENSION_WORDS[of.dimension].unit}\``).join(" or ");
    report(ctx, {
      code: one.code,
      given: one.given,
      wrong: one.wrong,
      expected: nouns,
      hint: `for instance ${fitting}`,
    });
    return z.NEVER;
  }
  return taken<never>(one, ctx);
}
export const MASS = { name: "mass", dimension: "mass" } as const;
export const RATE = { name: "rate", dimension: "rate" } as const;
export const massOrVolume = (rules: QuantityRules = {}) =>
  either({ name: "kg", dimension: "mass" }, { name: "litres", dimension: "volume" }, rules);
export const massOrRate = lazy(() => either(MASS, RATE));
export type MassOrVolume = { readonly kind: "kg" | "litres"; readonly value: number };
export type MassOrRate = { readonly kind: "mass" | "rate"; readonly value: number };

interface NumberRules {
  readonly least?: number;
  readonly above?: number;
  readonly most?: number;
  readonly whole?: boolean;
}
export const number = (expected: string, rules: NumberRules = {}) =>
  read(written(expected), (input, ctx): number => {
    const odd = typeof input === "string" ? oddNumber(input.trim()) : undefined;
    if (odd !== undefined) return taken<never>(odd, ctx);
    const value = typeof input === "number" ? input : parseNumber(input);
    if (value === undefined) {
      report(ctx, {
        code: "number-unreadable",
        given: input,
        wrong: "is not a number",
        hint: `${expected} is needed here, without a unit or sign`,
      });
      return z.NEVER;
    }
    const { least, above, most, whole } = rules;
    const wrong =
      isAbsurd(value) ||
      (least !== undefined && value < least) ||
      (above !== undefined && value <= above) ||
      (most !== undefined && value > most) ||
      (whole === true && !Number.isSafeInteger(value));
    if (wrong) {
      const bounds = [
        ...(whole ? ["a whole number"] : []),
        ...(least === undefined ? [] : [`${least} or more`]),
        ...(above === undefined ? [] : [`above ${above}`]),
        ...(most === undefined ? [] : [`at most ${most}`]),
      ];
      report(ctx, {
        code: "number-range",
        given: input,
        wrong: "is out of range",
        hint: `${expected}: ${bounds.join(", ") || "any ordinary number"}`,
      });
      return z.NEVER;
    }
    return value;
  });

export const money = (expected: string) => number(expected, { least: 0 });
export const text = (expected: string) =>
  read(z.string({ error: expected }), (input, ctx) => {
    const trimmed = input.trim();
    checkPrintable(trimmed, ctx);
    return trimmed;
  });

/** A name is one line, and what it shows is what it is: it must not forge a line of a list or turn the order of letters. */
function checkPrintable(name: string, ctx: Ctx): void {
  if (plainText(name) !== name)
    report(ctx, {
      code: "name-unprintable",
      wrong: /[\n\r\u2028\u2029]/.test(name)
        ? "this name has a line break in it"
        : "this name has a sign in it that cannot be seen",
      hint: `write it on one line, without control signs: \`${plainText(name)}\``,
    });
}
/** What a price or a yield counts per: a unit of weight (`lb`) or a weight (`50 lb`), in kg. */
export const massPer = (expected: string) =>
  read(written(expected), (input, ctx): number => {
    const lone = parseQuantity(`1 ${input}`, "mass", { positive: true });
    if (lone.ok) return taken(lone, ctx);
    const shown = String(input).trim();
    if (!/^\p{L}/u.test(shown)) return taken(parseQuantity(input, "mass", { positive: true }), ctx);
    // A unit by itself is not a number that went wrong: what is wrong is that it is no weight.
    const wrong = parseQuantity(`1 ${input}`, "mass", { positive: true, shown });
    return taken(wrong, ctx);
  });
/** A name: text, or a bare number that means text. */
export const label = (expected: string) =>
  read(written(expected), (input, ctx): string => {
    const name = String(input).trim();
    if (name === "") report(ctx, { code: "key-missing", wrong: "nothing is written here", expected });
    checkPrintable(name, ctx);
    return name;
  });
export const choice = <const T extends readonly string[]>(choices: T) =>
  z.enum(choices as unknown as readonly [T[number], ...T[number][]], { error: `one of ${listed(choices)}` });

export const yesNo = () =>
  read(z.union([z.boolean(), z.string()], { error: "yes or no" }), (input, ctx): boolean => {
    if (typeof input === "boolean") return input;
    if (/^(yes|true|on)$/i.test(input)) return true;
    if (/^(no|false|off)$/i.test(input)) return false;
    report(ctx, {
      code: "choice-unknown",
      given: input,
      wrong: "is neither yes nor no",
      hint: "write `true` or `false`",
    });
    return z.NEVER;
  });

export const day = () =>
  read(written("a day counted from planting"), (input, ctx): number => taken(parseDay(input), ctx));
export const per = () =>
  read(
    written("what the amounts are counted per (`plant`, `bed`, or an area such as `acre`)"),
    (input, ctx): Per => taken<Per>(parsePer(input), ctx),
  );
export const ids = () =>
  read(
    z.union([z.string(), z.array(z.string({ error: "an id" }))], { error: "a list of ids" }),
    (input): string[] =>
      typeof input === "string"
        ? input.split(/[\s,]+/).filter((id) => id !== "")
        : input.map((id) => id.trim()),
  );
export const paths = () =>
  read(
    z.union([z.string(), z.array(z.string({ error: "a path" }))], { error: "a path or a list of paths" }),
    (input): string[] => (typeof input === "string" ? [input] : input),
  );

/** Days with shares: sorted, none twice, never falling. */
export const curve = (lowest: number) =>
  read(
    z.record(z.string(), share(), { error: "a map from day to share, for instance `{0: 0%, 28: 45%}`" }),
    (input, ctx): Points => {
      const points = byDay(input, ctx, "for instance `{0: 0%, 28: 45%, 84: 75%}`", lowest);
      for (const [i, p] of points.entries()) {
        const before = points[i - 1];
        if (before && p.y < before.y)
          report(ctx, {
            code: "points-falling",
            path: [p.key],
            wrong: `the share falls from ${percent(before.y)} on day ${before.x} to ${percent(p.y)} on day ${p.x}`,
            hint: "shares are totals up to the day, so each is at least the one before",
          });
      }
      return points.map((p) => [p.x, p.y] as const);
    },
  );

/** Days with numbers, sorted; a day that cannot be read, is too early or is given twice is reported, and so is none. */
export function byDay(
  input: Readonly<Record<string, number>>,
  ctx: Ctx,
  example: string,
  lowest = Number.NEGATIVE_INFINITY,
): { readonly x: number; readonly y: number; readonly key: string }[] {
  const points: { x: number; y: number; key: string }[] = [];
  for (const [key, y] of Object.entries(input)) {
    const read = parseDay(key);
    const at = { path: [key], at: "key" } as const;
    if (!read.ok) report(ctx, { ...read, ...at });
    else if (read.value < lowest)
      report(ctx, {
        code: "number-range",
        ...at,
        wrong: `day \`${key}\` is before day ${lowest}`,
        hint: "days count from here on",
      });
    else if (points.some((p) => p.x === read.value))
      report(ctx, {
        code: "key-duplicate",
        ...at,
        wrong: `day ${read.value} is given twice`,
        hint: "keep one of the two",
      });
    else points.push({ x: read.value, y, key });
  }
  if (Object.keys(input).length === 0)
    report(ctx, { code: "key-missing", wrong: "no day is given", hint: example });
  return points.sort((a, b) => a.x - b.x);
}

export const percent = (fraction: number): string => `${Number((fraction * 100).toPrecision(6))}%`;

/** A soil cannot be colder or hotter than this and grow a vegetable; outside, a unit was mistaken. */
export const SOIL_C = { least: -10, most: 50 } as const;

export const soilTemperature = () =>
  read(written("a temperature such as `18 C`"), (input, ctx): number => {
    const value = taken(parseQuantity(input, "temperature"), ctx);
    if (typeof value === "number" && (value < SOIL_C.least || value > SOIL_C.most)) {
      const other = /c/i.test(String(input))
        ? `did you mean \`${String(input).replace(/°?\s*c\w*$/i, " F")}\`?`
        : undefined;
      report(ctx, {
        code: "number-range",
        given: input,
        wrong: "is no temperature of a soil that grows a crop",
        hint: other ?? "between -10 C and 50 C",
      });
    }
    return value;
  });
