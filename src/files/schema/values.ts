/** Single values as people write them: quantities, numbers, names, days, lists of ids, curves over days. */
import * as z from "zod/mini";
import type { Points } from "../../model.ts";
import { oddNumber, parseNumber, type QuantityFault } from "../../numerals.ts";
import { plainText } from "../../plain-text.ts";
import type { Fault } from "../../problem.ts";
import {
  DIMENSION_WORDS,
  type Dimension,
  isAbsurd,
  MAX_SI,
  parseDay,
  parsePer,
  parseQuantity,
  type QuantityRules,
} from "../../units.ts";
import type { ProblemCode } from "../codes.ts";
import { type Ctx, lazy, listed, parsed, type Reading, read, report, written } from "./base.ts";

export const withUnit = (dimension: Dimension): string =>
  `${DIMENSION_WORDS[dimension].noun} with its unit, for instance \`${DIMENSION_WORDS[dimension].example}\`,`;

export const quantity = (dimension: Dimension, rules: QuantityRules = {}) =>
  parsed(withUnit(dimension), (input) => parseQuantity(input, dimension, rules));

export const ALL: QuantityRules = { most: { value: 1, text: "`100%`" } };
export const share = (rules: QuantityRules = ALL) => quantity("share", rules);

/** A quantity that may be of several kinds, in SI. */
export interface OfKind<K extends string> {
  readonly kind: K;
  readonly value: number;
}
type Kinds<K extends string> = Readonly<Record<K, Dimension>>;

/** Reads a quantity as the first of several kinds that it is; else what is wrong with it as each of them. */
export function firstKind<K extends string>(
  kinds: Kinds<K>,
  rules: QuantityRules,
  input: string | number,
):
  | { readonly ok: true; readonly value: OfKind<K> }
  | { readonly ok: false; readonly faults: readonly QuantityFault[] } {
  const faults: QuantityFault[] = [];
  for (const [kind, dimension] of Object.entries(kinds) as [K, Dimension][]) {
    const reading = parseQuantity(input, dimension, rules);
    if (reading.ok) return { ok: true, value: { kind, value: reading.value } };
    faults.push(reading);
  }
  return { ok: false, faults };
}

const nounsOf = (kinds: Kinds<string>): string =>
  Object.values(kinds)
    .map((dimension) => DIMENSION_WORDS[dimension].noun)
    .join(" or ");
const examplesOf = (kinds: Kinds<string>): string =>
  Object.values(kinds)
    .map((dimension) => `\`${DIMENSION_WORDS[dimension].example}\``)
    .join(" or ");

/** Reads a quantity of either of two kinds. */
export function parseEither<K extends string>(
  kinds: Kinds<K>,
  rules: QuantityRules,
  input: string | number,
): Reading<OfKind<K>> {
  const reading = firstKind(kinds, rules, input);
  if (reading.ok) return reading;
  const [one, two] = reading.faults as [QuantityFault, QuantityFault];
  if (one.code === "unit-kind" && two.code !== "unit-kind") return two;
  if (one.code !== "unit-kind" && one.code !== "unit-missing") return one;
  const fitting =
    one.code === "unit-kind"
      ? examplesOf(kinds)
      : Object.values<Dimension>(kinds)
          .map((dimension) => `\`${String(input).trim()} ${DIMENSION_WORDS[dimension].unit}\``)
          .join(" or ");
  return { ...one, expected: nounsOf(kinds), hint: `for instance ${fitting}` };
}

/** A quantity of either of two kinds. */
export const either = <K extends string>(kinds: Kinds<K>, rules: QuantityRules = {}) =>
  parsed(`${nounsOf(kinds)}, for instance ${examplesOf(kinds)},`, (input) =>
    parseEither(kinds, rules, input),
  );

export type MassOrVolume = OfKind<"kg" | "litres">;
export const massOrVolume = (rules: QuantityRules = {}) => either({ kg: "mass", litres: "volume" }, rules);

export type MassOrRate = OfKind<"mass" | "rate">;
export const MASS_OR_RATE = { mass: "mass", rate: "rate" } as const;
export const massOrRate = lazy(() => either(MASS_OR_RATE));
/** What a number must satisfy, beside being one that a farm has. */
export interface Bounds {
  readonly least?: number;
  readonly above?: number;
  readonly most?: number;
  readonly whole?: boolean;
}

/** What is wrong with a number outside its bounds. */
export function outOfBounds(
  expected: string,
  value: number,
  { least, above, most = value > MAX_SI ? MAX_SI : undefined, whole }: Bounds,
  given: string | number = value,
): Fault<ProblemCode> | undefined {
  const sound =
    !isAbsurd(value) &&
    (least === undefined || value >= least) &&
    (above === undefined || value > above) &&
    (most === undefined || value <= most) &&
    (!whole || Number.isSafeInteger(value));
  if (sound) return undefined;
  const bounds = [
    ...(whole ? ["a whole number"] : []),
    ...(least === undefined ? [] : [`${least} or more`]),
    ...(above === undefined ? [] : [`above ${above}`]),
    ...(most === undefined ? [] : [`at most ${most}`]),
  ];
  return outOfRange(given, `${expected}: ${bounds.join(", ") || "any ordinary number"}`);
}

export const outOfRange = (given: string | number, hint: string) =>
  ({ code: "number-range", given, wrong: "is out of range", hint }) as const;

function parseBare(input: string | number, expected: string): Reading<number> {
  if (typeof input === "number") return { ok: true, value: input };
  const odd = oddNumber(input.trim());
  if (odd !== undefined) return odd;
  const value = parseNumber(input);
  return value === undefined
    ? {
        ok: false,
        code: "number-unreadable",
        given: input,
        wrong: "is not a number",
        hint: `${expected} is needed here, without a unit or sign`,
      }
    : { ok: true, value };
}

export const number = (expected: string, bounds: Bounds = {}) =>
  parsed(
    expected,
    (input) => parseBare(input, expected),
    (value, input) => outOfBounds(expected, value, bounds, input),
  );

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
  parsed(expected, (input) => {
    const shown = String(input).trim();
    const unit = parseQuantity(`1 ${input}`, "mass", { positive: true, shown });
    // A unit by itself is not a number that went wrong: what is wrong is that it is no weight.
    return unit.ok || /^\p{L}/u.test(shown) ? unit : parseQuantity(input, "mass", { positive: true });
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
  z.enum(choices, { error: `one of ${listed(choices)}` });

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

export const day = () => parsed("a day counted from planting", parseDay);
export const per = () =>
  parsed("what the amounts are counted per (`plant`, `bed`, or an area such as `acre`)", parsePer);

/** A list of texts, or a text that is one. */
const texts = (item: string, expected: string, parts: (text: string) => string[]) =>
  read(z.union([z.string(), z.array(z.string({ error: item }))], { error: expected }), (input) =>
    typeof input === "string" ? parts(input) : input.map((text) => text.trim()),
  );
export const ids = () =>
  texts("an id", "a list of ids", (text) => text.split(/[\s,]+/).filter((id) => id !== ""));
export const paths = () => texts("a path", "a path or a list of paths", (text) => [text]);

/** Days with shares: sorted, none before planting or twice, never falling. */
export const curve = () =>
  read(
    z.record(z.string(), share(), { error: "a map from day to share, for instance `{0: 0%, 28: 45%}`" }),
    (input, ctx): Points => {
      const points = byDay(input, ctx, "for instance `{0: 0%, 28: 45%, 84: 75%}`", 0);
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
  parsed(
    "a temperature such as `18 C`",
    (input) => parseQuantity(input, "temperature"),
    (value, input) =>
      (value < SOIL_C.least || value > SOIL_C.most) && {
        code: "number-range",
        given: input,
        wrong: "is no temperature of a soil that grows a crop",
        hint: /c/i.test(String(input))
          ? `did you mean \`${String(input).replace(/°?\s*c\w*$/i, " F")}\`?`
          : "between -10 C and 50 C",
      },
  );
