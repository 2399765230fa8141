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

/** Numbers as growers and machines write them that cannot be taken as they are; undefined for any other text. */
export function oddNumber(shown: string): QuantityFault | undefined {
  if (shown.length > LONGEST_QUANTITY) return undefined;
  const sign = /^[$€£¥]\s*/.exec(shown);
  if (sign !== null)
    return fault({
      code: "number-unreadable",
      given: shown,
      wrong: "begins with a currency sign",
      hint: `leave the sign out: \`${shown.slice(sign[0].length).trim()}\`; the plan says its \`currency\` once`,
    });
  if (/^[“”„‟‘’‚«»]/.test(shown))
    return fault({
      code: "number-unreadable",
      given: shown,
      wrong: "begins with a curved quote, which a word processor writes",
      hint: `leave the quotes out: \`${shown.replace(/[“”„‟‘’‚«»]/g, "").trim()}\``,
    });
  const radix = /^[+-]?(0[xob][0-9a-f]+)/i.exec(shown);
  if (radix !== null) {
    const value = Number(radix[1]);
    return fault({
      code: "number-unreadable",
      given: shown,
      wrong: "is not an ordinary decimal number",
      hint: Number.isNaN(value) ? "write an ordinary number" : `write \`${value}\` if that is meant`,
    });
  }
  const zero = /^([+-]?)0+(\d[\d.,]*)(.*)$/.exec(shown);
  if (zero !== null && !/^[+-]?0+$/.test(shown))
    return fault({
      code: "number-unreadable",
      given: shown,
      wrong: "begins with a zero, which some programs read as another number",
      hint: `write \`${zero[1]}${zero[2]}${zero[3]}\``,
    });
  const range = /^([\d.,/ ½¼¾]+?)\s*(?:to|-|–|—|\.\.)\s*([\d.,/ ½¼¾]+)\s*([^\d].*)?$/i.exec(shown);
  if (range !== null && !/^\d+-\d+\/\d+/.test(shown)) {
    const unit = range[3] === undefined ? "" : ` ${range[3]}`;
    return fault({
      code: "number-unreadable",
      given: shown,
      wrong: "is a range",
      hint: `write one number, such as \`${range[2]!.trim()}${unit}\`; where the file has a least and a most, \`{min: ${range[1]!.trim()}${unit}, max: ${range[2]!.trim()}${unit}}\``,
    });
  }
  return undefined;
}

/** A fault of a quantity. */
export const fault = (fields: Fault<QuantityCode>): QuantityFault => ({ ok: false, ...fields });
