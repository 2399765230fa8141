/** Numbers as people write them: with commas, fractions and signs, and what is wrong with those that cannot be taken. */
import type { Fault } from "./problem.ts";

export type QuantityCode =
  | "unit-missing"
  | "unit-unknown"
  | "unit-kind"
  | "number-unreadable"
  | "number-range";

/** What is wrong with a text that should be a quantity. */
export interface QuantityFault extends Fault<QuantityCode> {
  readonly ok: false;
}

/** What a text says, or what is wrong with it. */
export type Reading<T> = { readonly ok: true; readonly value: T } | QuantityFault;

/** A fault of a quantity. */
export const fault = (fields: Fault<QuantityCode>): QuantityFault => ({ ok: false, ...fields });

/** A text that is no such number. */
export const unreadable = (given: string, wrong: string, hint: string): QuantityFault =>
  fault({ code: "number-unreadable", given, wrong, hint });

/** A number that is too much or too little. */
export const outOfRange = (given: string, wrong: string, hint: string): QuantityFault =>
  fault({ code: "number-range", given, wrong, hint });

const FRACTION_SIGNS: Readonly<Record<string, string>> = {
  "½": "1/2",
  "¼": "1/4",
  "¾": "3/4",
  "⅓": "1/3",
  "⅔": "2/3",
  "⅛": "1/8",
  "⅜": "3/8",
  "⅝": "5/8",
  "⅞": "7/8",
};

const DECIMAL = String.raw`(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+(?:[eE][+-]?\d+)?`;
const NUMBER = new RegExp(`^([+-]?)\\s*(${DECIMAL})`);
const FRACTION = /^([+-]?)\s*(?:(\d+)[ -])?\s*(\d+)\s*\/\s*(\d+)/;

/** A number at the beginning of a text. */
export interface Numeral {
  readonly value: number;
  /** As written. */
  readonly text: string;
  readonly rest: string;
}

/** The number that a text begins with; fractions are read where `1/2` cannot mean a price. */
export function readNumeral(text: string, fractions: boolean): Numeral | undefined {
  const fraction = fractions ? FRACTION.exec(text) : null;
  if (fraction && Number(fraction[4]) > 0) {
    const sign = fraction[1] === "-" ? -1 : 1;
    const value = sign * (Number(fraction[2] ?? 0) + Number(fraction[3]) / Number(fraction[4]));
    return { value, text: fraction[0].trim(), rest: text.slice(fraction[0].length) };
  }
  const match = NUMBER.exec(text);
  if (!match) return undefined;
  const value = Number(match[2]!.replaceAll(",", "")) * (match[1] === "-" ? -1 : 1);
  return { value, text: match[0].trim(), rest: text.slice(match[0].length) };
}

/** A text with the signs of fractions and of minus as a keyboard writes them. */
export const plain = (text: string): string =>
  text
    .trim()
    .replace(/\s*([½¼¾⅓⅔⅛⅜⅝⅞])/g, (_, sign: string) => ` ${FRACTION_SIGNS[sign]}`)
    .replace(/^([+-]?) /, "$1")
    .trim()
    .replace(/^−/, "-");

/**
 * Reads a number as people write it: `1,500`, `0.25`, `1/2`, `2 1/4`, `½`, `-3`.
 * @returns undefined where the text is not one number and nothing else.
 */
export function parseNumber(text: string): number | undefined {
  const numeral = readNumeral(plain(text), true);
  return numeral && numeral.rest.trim() === "" && Number.isFinite(numeral.value) ? numeral.value : undefined;
}

/** Longer text is not a quantity, and is not searched for one. */
const LONGEST_QUANTITY = 60;

/** Two numbers and what is between them, then perhaps a unit. */
const RANGE =
  /^(?!\d+-\d+\/\d+|[\d.]+-[\d.]+-)([\d.,/ ½¼¾]+?)\s*(?:to|-|–|—|\.\.)\s*([\d.,/ ½¼¾]+)\s*([^\d].*)?$/i;

const withUnit = (number: string, unit: string | undefined): string =>
  `${number.trim()}${unit === undefined ? "" : unit === "%" ? unit : ` ${unit}`}`;

/** Numbers as growers and machines write them that cannot be taken as they are, and what to write instead. */
const ODD_NUMBERS: readonly {
  readonly pattern: RegExp;
  readonly wrong: string;
  readonly hint: (match: RegExpExecArray) => string;
}[] = [
  {
    pattern: /^[$€£¥]\s*(.*)$/s,
    wrong: "begins with a currency sign",
    hint: ([, rest]) => `leave the sign out: \`${rest!.trim()}\`; the plan says its \`currency\` once`,
  },
  {
    pattern: /^[“”„‟‘’‚«»]/,
    wrong: "begins with a curved quote, which a word processor writes",
    hint: ({ input }) => `leave the quotes out: \`${input.replace(/[“”„‟‘’‚«»]/g, "").trim()}\``,
  },
  {
    pattern: /^[+-]?(0[xob][0-9a-f]+)(.*)$/is,
    wrong: "is not an ordinary decimal number",
    hint: ([, digits, rest]) =>
      Number.isNaN(Number(digits))
        ? "write an ordinary number"
        : `write \`${Number(digits)}${rest}\` if that is meant`,
  },
  {
    pattern: /^(?![+-]?0+$)([+-]?)0+(\d[\d.,]*)(.*)$/,
    wrong: "begins with a zero, which some programs read as another number",
    hint: ([, sign, digits, rest]) => `write \`${sign}${digits}${rest}\``,
  },
  {
    pattern: RANGE,
    wrong: "is a range",
    hint: ([, , to, rest]) => `write one number, such as \`${withUnit(to!, rest)}\``,
  },
  {
    pattern: /^([+-]?\d[\d.,]*[Oo][\dOo.,]*)(?=[\s%]|$)(.*)$/s,
    wrong: "has a letter O among its digits",
    hint: ([, digits, rest]) => `write \`${digits!.replaceAll(/o/gi, "0")}${rest}\``,
  },
  {
    pattern: /^[+-]?(?:\d+[ -])?\d+\s*\/\s*0+(?![\d.])/,
    wrong: "divides by zero",
    hint: () => "write an ordinary number",
  },
  {
    pattern: /^([+-]?)(\d+|\d{1,3}(?:\.\d{3})+),(\d{1,2}|\d{4,})(?![\d,.])(.*)$/s,
    wrong: "has a comma that is not between thousands",
    hint: ([, sign, whole, part, rest]) =>
      `write decimals with a point: \`${sign}${whole!.replaceAll(".", "")}.${part}${rest}\``,
  },
  {
    // `2 100 sq ft` is twice that unit.
    pattern: /^(?!.*\s100\s*s)([+-]?)(\d{1,3}(?:\s\d{2,3})+)(?![\d/.,])(.*)$/is,
    wrong: "has a space among its digits",
    hint: ([, sign, digits, rest]) => `write \`${sign}${digits!.replaceAll(/\s/g, "")}${rest}\``,
  },
];

/** `60-70 F` as its two ends, each with the unit; undefined where a text is no range. */
export function rangeEnds(shown: string): readonly [from: string, to: string] | undefined {
  const [, from, to, rest] = RANGE.exec(shown.trim()) ?? [];
  return from === undefined || to === undefined ? undefined : [withUnit(from, rest), withUnit(to, rest)];
}

/** What is wrong with a number that cannot be taken as it is written; undefined for any other text. */
export function oddNumber(shown: string): QuantityFault | undefined {
  if (shown.length > LONGEST_QUANTITY) return undefined;
  for (const { pattern, wrong, hint } of ODD_NUMBERS) {
    const match = pattern.exec(shown);
    if (match !== null) return unreadable(shown, wrong, hint(match));
  }
  return undefined;
}

/** What a hint tells to write in place of a value: in backticks after such words. */
const ADVICE =
  /(?:write(?: [a-z ]+)?|for instance|such as|did you mean|at least|at most|or both|or):? `([^`]+)`/g;

/**
 * A fault whose advice is good: each text that its hint tells to write would be taken.
 * @param takes whether a text would be taken in place of what is wrong.
 * @param otherwise the hint where one would not.
 */
export function soundAdvice<F extends Fault>(
  fault: F,
  takes: (text: string) => boolean,
  otherwise: string,
): F {
  const { near, hint = "" } = fault;
  const advised = near === undefined ? [...hint.matchAll(ADVICE)].map(([, text]) => text!) : [near];
  return advised.every(takes) ? fault : { ...fault, near: undefined, hint: otherwise };
}

/** What is said of a text that is no number at all. */
export const NO_NUMBER = "is not a number";

/**
 * Reads a number that has no unit, as files and flags have it.
 * @param expected completes "... is needed here".
 */
export function parseBare(input: string | number, expected: string): Reading<number> {
  if (typeof input === "number") return { ok: true, value: input };
  const odd = oddNumber(input.trim());
  if (odd !== undefined) return odd;
  const value = parseNumber(input);
  return value === undefined
    ? unreadable(input, NO_NUMBER, `${expected} is needed here, without a unit or sign`)
    : { ok: true, value };
}
