/** Single values as people write them: quantities, numbers, names, days, lists of ids, curves over days. */
import * as z from "zod/mini";
import type { Batch, Points } from "../../model.ts";
import { parseBare, type QuantityFault, type Reading } from "../../numerals.ts";
import { plainText } from "../../plain-text.ts";
import type { Path } from "../../problem.ts";
import * as units from "../../units.ts";
import type { FileFault } from "../codes.ts";
import * as s from "./base.ts";

type DimensionWords = (typeof units.DIMENSION_WORDS)[units.Dimension];
const withUnit = ({ noun, example }: DimensionWords): string =>
  `${noun} with its unit, for instance \`${example}\`,`;

/** @param faultsOf what else may be wrong with a value, as it was read and as it was written. */
export const quantity = (
  dimension: units.Dimension,
  rules: units.QuantityRules = {},
  expected = withUnit(units.DIMENSION_WORDS[dimension]),
  faultsOf?: (value: number, input: string | number) => s.Faults,
) => s.parsed(expected, (input) => units.parseQuantity(input, dimension, rules), faultsOf);

export const ALL: units.QuantityRules = { most: { value: 1, text: "`100%`" } };
export const share = (rules: units.QuantityRules = ALL) => quantity("share", rules);

/** A quantity that may be of several kinds, in SI. */
export interface OfKind<K extends string> {
  readonly kind: K;
  readonly value: number;
}
type Kinds<K extends string> = Readonly<Record<K, units.Dimension>>;

/** Reads a quantity as the first of several kinds that it is; else what is wrong with it as each of them. */
export function firstKind<K extends string>(
  kinds: Kinds<K>,
  rules: units.QuantityRules,
  input: string | number,
):
  | { readonly ok: true; readonly value: OfKind<K> }
  | { readonly ok: false; readonly faults: readonly QuantityFault[] } {
  const faults: QuantityFault[] = [];
  for (const [kind, dimension] of Object.entries(kinds) as [K, units.Dimension][]) {
    const reading = units.parseQuantity(input, dimension, rules);
    if (reading.ok) return { ok: true, value: { kind, value: reading.value } };
    faults.push(reading);
  }
  return { ok: false, faults };
}

const eachOf = (kinds: Kinds<string>, say: (words: DimensionWords) => string): string =>
  Object.values(kinds)
    .map((dimension) => say(units.DIMENSION_WORDS[dimension]))
    .join(" or ");
const nounsOf = (kinds: Kinds<string>): string => eachOf(kinds, ({ noun }) => noun);
const examplesOf = (kinds: Kinds<string>): string => eachOf(kinds, ({ example }) => `\`${example}\``);

/** Reads a quantity of either of two kinds. */
export function parseEither<K extends string>(
  kinds: Kinds<K>,
  rules: units.QuantityRules,
  input: string | number,
): Reading<OfKind<K>> {
  const reading = firstKind(kinds, rules, input);
  if (reading.ok) return reading;
  const [one, two] = reading.faults as [QuantityFault, QuantityFault];
  if (one.code === "unit-kind" && two.code !== "unit-kind") return two;
  if (one.code !== "unit-kind" && one.code !== "unit-missing") return one;
  const amount = String(input).trim();
  const fitting =
    one.code === "unit-kind" ? examplesOf(kinds) : eachOf(kinds, ({ unit }) => `\`${amount} ${unit}\``);
  return { ...one, expected: nounsOf(kinds), hint: `for instance ${fitting}` };
}

/** A quantity of either of two kinds. */
export const either = <K extends string>(kinds: Kinds<K>, rules: units.QuantityRules = {}) =>
  s.parsed(`${nounsOf(kinds)}, for instance ${examplesOf(kinds)},`, (input) =>
    parseEither(kinds, rules, input),
  );

export const massOrVolume = (rules: units.QuantityRules = {}) =>
  s.read(
    either({ kg: "mass", litres: "volume" }, rules),
    ({ kind, value }): Batch => (kind === "kg" ? { kg: value } : { litres: value }),
  );

export type MassOrRate = OfKind<"mass" | "rate">;
export const MASS_OR_RATE = { mass: "mass", rate: "rate" } as const;
export const massOrRate = s.lazy(() => either(MASS_OR_RATE));
/** What a number must satisfy, beside being one that a farm has. */
export interface Bounds {
  readonly least?: number;
  readonly above?: number;
  readonly most?: number;
  readonly below?: number;
  readonly whole?: boolean;
}

/** A bound as it is meant, without the room that it leaves for rounding. */
const rounded = (bound = 0): number => Number(bound.toPrecision(5));

/** What is wrong with a number outside its bounds. */
export function outOfBounds(
  expected: string,
  value: number,
  {
    least,
    above,
    below,
    most = below === undefined && value > units.MAX_SI ? units.MAX_SI : undefined,
    whole,
  }: Bounds,
  given: string | number = value,
): FileFault | false {
  const bounds: readonly (readonly [asked: unknown, holds: boolean, text: string])[] = [
    [whole, Number.isSafeInteger(value), "a whole number"],
    [least, value >= least!, `${rounded(least)} or more`],
    [above, value > above!, `above ${above}`],
    [most, value <= most!, `at most ${rounded(most)}`],
    [below, value < below!, `below ${below}`],
  ];
  const asked = bounds.filter(([bound]) => bound !== undefined);
  if (!units.isAbsurd(value) && asked.every(([, holds]) => holds)) return false;
  const texts = asked.map(([, , text]) => text);
  return outOfRange(given, `${expected}: ${texts.join(", ") || "any ordinary number"}`);
}

export const outOfRange = (given: string | number, hint: string) =>
  ({ code: "number-range", given, wrong: "is out of range", hint }) as const;

export const number = (expected: string, bounds: Bounds = {}) =>
  s.parsed(
    expected,
    (input) => parseBare(input, expected),
    (value, input) => [outOfBounds(expected, value, bounds, input)],
  );

export const money = (expected: string) => number(expected, { least: 0 });
export const text = (expected: string) =>
  s.held(
    s.read(z.string({ error: expected }), (input) => input.trim()),
    (name) => [unprintable(name)],
  );

/** A name is one line, and what it shows is what it is: it must not forge a line of a list or turn the order of letters. */
const unprintable = (name: string): FileFault | false =>
  plainText(name) !== name && {
    code: "name-unprintable",
    wrong: /[\n\r\u2028\u2029]/.test(name)
      ? "this name has a line break in it"
      : "this name has a sign in it that cannot be seen",
    hint: `write it on one line, without control signs: \`${plainText(name)}\``,
  };

/** What a price or a yield counts per: a unit of weight (`lb`) or a weight (`50 lb`), in kg. */
export const massPer = (expected: string) =>
  s.parsed(expected, (input) => {
    const shown = String(input).trim();
    const unit = units.parseQuantity(`1 ${input}`, "mass", { positive: true, shown });
    // A unit by itself is not a number that went wrong: what is wrong is that it is no weight.
    return unit.ok || /^\p{L}/u.test(shown) ? unit : units.parseQuantity(input, "mass", { positive: true });
  });

/** What is wrong with a name. */
export const nameFaults =
  (expected: string) =>
  (name: string): s.Faults => [
    name.trim() === "" && { code: "key-missing", wrong: "nothing is written here", expected },
    unprintable(name),
  ];

/** A name: text, or a bare number that means text. */
export const label = (expected: string) =>
  s.held(
    s.read(s.written(expected), (input) => String(input).trim()),
    nameFaults(expected),
  );

export const choice = <const T extends readonly string[]>(choices: T) =>
  z.enum(choices, { error: `one of ${s.listed(choices)}` });

/** How ids are written. */
export const ID = /^[a-z0-9]+(-[a-z0-9]+)*$/;

/** What is wrong with an id: it has letters a to z, digits and single hyphens. */
export function malformed(id: string): FileFault | false {
  const better = id
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "");
  return (
    !ID.test(id) && {
      code: "id-malformed",
      given: id,
      wrong: "is not an id",
      hint: `an id has small letters, digits and hyphens only${better === "" ? "" : `, for instance \`${better}\``}`,
    }
  );
}

export const yesNo = () =>
  s.read(z.union([z.boolean(), z.string()], { error: "yes or no" }), (input, ctx): boolean => {
    const isYes = /^(yes|true|on)$/i.test(String(input));
    if (!isYes && !/^(no|false|off)$/i.test(String(input))) {
      const hint = "write `true` or `false`";
      s.report(ctx, { code: "choice-unknown", given: input, wrong: "is neither yes nor no", hint });
    }
    return isYes;
  });

export const day = () => s.parsed("a day counted from planting", units.parseDay);
export const per = () =>
  s.parsed("what the amounts are counted per (`plant`, `bed`, or an area such as `acre`)", units.parsePer);

/** A list of texts, or a text that is one. */
const texts = (item: string, expected: string, parts: (text: string) => string[]) =>
  s.read(z.union([z.string(), z.array(z.string({ error: item }))], { error: expected }), (input) =>
    typeof input === "string" ? parts(input) : input.map((text) => text.trim()),
  );
export const ids = () =>
  texts("an id", "a list of ids", (text) => text.split(/[\s,]+/).filter((id) => id !== ""));
export const paths = () => texts("a path", "a path or a list of paths", (text) => [text]);

/** Days with shares: sorted, none before planting or twice, never falling. */
export const curve = () =>
  s.read(
    s.freeMap(share(), "a map from day to share, for instance `{0: 0%, 28: 45%}`"),
    (input, ctx): Points => {
      const { points, keys } = byDay(input, ctx, "for instance `{0: 0%, 28: 45%, 84: 75%}`", 0);
      s.reportAll(
        ctx,
        falling(points, (i) => [keys[i]!]),
      );
      return points;
    },
  );

/** What is wrong with shares that are totals up to a day, where they fall. */
export const falling = (points: Points, pathOf: (i: number) => Path): FileFault[] =>
  points.flatMap(([day, share], i) => {
    const [dayBefore, before] = points[i - 1] ?? [day, share];
    if (share >= before) return [];
    return {
      code: "points-falling",
      path: pathOf(i),
      wrong: `the share falls from ${percent(before)} on day ${dayBefore} to ${percent(share)} on day ${day}`,
      hint: "shares are totals up to the day, so each is at least the one before",
    };
  });

/**
 * Days with numbers, sorted; a day that cannot be read, is too early or is given twice is reported, and so is none.
 * @returns the points, and the key of each.
 */
export function byDay(
  input: Readonly<Record<string, number>>,
  ctx: s.Ctx,
  example: string,
  lowest = Number.NEGATIVE_INFINITY,
): { readonly points: Points; readonly keys: readonly string[] } {
  const keys = new Map<number, string>();
  for (const key of Object.keys(input)) {
    const reading = units.parseDay(key);
    const refuse = (fault: FileFault): void => s.report(ctx, { ...fault, path: [key], at: "key" });
    const [early, twice] = [`day \`${key}\` is before day ${lowest}`, "keep one of the two"];
    if (!reading.ok) refuse(reading);
    else if (reading.value < lowest)
      refuse({ code: "number-range", wrong: early, hint: "days count from here on" });
    else if (keys.has(reading.value))
      refuse({ code: "key-duplicate", wrong: `day ${reading.value} is given twice`, hint: twice });
    else keys.set(reading.value, key);
  }
  if (Object.keys(input).length === 0)
    s.report(ctx, { code: "key-missing", wrong: "no day is given", hint: example });
  const days = [...keys].sort(([a], [b]) => a - b);
  return { points: days.map(([day, key]) => [day, input[key]!]), keys: days.map(([, key]) => key) };
}

export const percent = (fraction: number): string => `${Number((fraction * 100).toPrecision(6))}%`;

const isOfSoil = (celsius: number): boolean => celsius >= units.SOIL_C.least && celsius <= units.SOIL_C.most;

export const soilTemperature = () =>
  quantity("temperature", {}, "a temperature such as `18 C`", (value, input) => [
    !isOfSoil(value) && {
      code: "number-range",
      given: input,
      wrong: "is no temperature of a soil that grows a crop",
      hint:
        /c/i.test(String(input)) && isOfSoil(units.toSi(value, "F"))
          ? `did you mean \`${String(input).replace(/°?\s*c\w*$/i, " F")}\`?`
          : "between -10 C and 50 C",
    },
  ]);

/**
 * `seen`: in the text of the publication named in `source`. `computed`: worked out from such numbers. `judgement`: chosen between or
 * beyond them. `memory`: not looked up again.
 */
const STANDINGS = ["seen", "computed", "judgement", "memory"] as const;
export type Standing = (typeof STANDINGS)[number];

/** A map from what the numbers of an entry are about to how well they are known. */
export const standing = (...about: readonly string[]) =>
  s.bareMap(
    Object.fromEntries(about.map((key) => [key, choice(STANDINGS)])),
    `a map such as \`{${about[0]}: seen}\``,
  );
