/** What the cells of a price list say: numbers in either way of writing them, prices, sizes. */

import type { Fault } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import { firstKind, type OfKind } from "./schema/values.ts";

/** How a list writes its numbers: `1,500.25` or `1.500,25`. */
export type DecimalSign = "point" | "comma";

/** What a list says of its numbers. */
export interface NumberHabit {
  /** As asked for; absent: a number that can be read in two ways is read as the others of the list, or refused. */
  readonly asked: DecimalSign | undefined;
  /** What the other numbers show; null: nothing, or both. */
  readonly shown: DecimalSign | null;
  /** Whether commas part the cells; a program that does so writes decimals with a point. */
  readonly commas: boolean;
}

/** What a row of the list sells: a pack, or any amount by weight. */
export type Sold =
  | { readonly kind: "pack"; readonly measure: OfKind<"kg" | "litres"> }
  /** `kg`: what the price is for. */
  | { readonly kind: "loose"; readonly kg: number };

/** What was read, or what is wrong with it. */
export type CellReading<T> = { readonly value: T } | { readonly fault: Fault };

const refused = (given: string, wrong: string, hint: string): { readonly fault: Fault } => ({
  fault: { code: "number-unreadable", given, wrong, hint },
});

const WITH_SIGNS = /\d[\d.,'’ ]*[.,'’]\d+|\d{1,3}(?: \d{3})+(?![\d/])/;

/** Which sign a number shows to be its decimal: null where it has none, `either` where it may be any. */
export function signOf(text: string): DecimalSign | "either" | null {
  const number = WITH_SIGNS.exec(text)?.[0];
  if (number === undefined) return null;
  const points = number.split(".").length - 1;
  const commas = number.split(",").length - 1;
  if (points > 0 && commas > 0) return number.lastIndexOf(".") > number.lastIndexOf(",") ? "point" : "comma";
  if (points + commas === 0) return null;
  if (points > 1) return "comma";
  if (commas > 1) return "point";
  if (/^[1-9]\d{0,2}[.,]\d{3}$/.test(number)) return "either";
  return points > 0 ? "point" : "comma";
}

/** What the numbers of several texts show together. */
export function habitOf(texts: readonly string[]): DecimalSign | null {
  const signs = new Set(texts.map(signOf).filter((sign) => sign === "point" || sign === "comma"));
  return signs.size === 1 ? [...signs][0]! : null;
}

const SHAPES: Readonly<Record<DecimalSign, RegExp>> = {
  point: /^(?:\d{1,3}(?:[,'’ ]\d{3})+|\d+)(?:\.\d+)?$/,
  comma: /^(?:\d{1,3}(?:[.'’ ]\d{3})+|\d+)(?:,\d+)?$/,
};

/** The text with its number written with a point and no sign between thousands. */
function pointed(text: string, { asked, shown, commas }: NumberHabit): CellReading<string> {
  const number = WITH_SIGNS.exec(text)?.[0];
  if (number === undefined) return { value: text };
  const own = signOf(text);
  const sign = asked ?? (own === "either" ? (shown ?? (commas ? "point" : null)) : (own ?? "point"));
  if (sign === null)
    return refused(
      number,
      "can be read in two ways: the sign may part thousands or be the decimal",
      "say which with `decimal: comma` or `decimal: point` beside the file (or --decimal), or write the number without it",
    );
  if (!SHAPES[sign].test(number))
    return refused(
      number,
      asked === "comma" ? "is no number in a list whose decimal sign is a comma" : "is not a number",
      sign === "comma" ? "points part thousands there: `1.500,25`" : "for instance `1,500.25`",
    );
  const plain = number
    .replace(sign === "comma" ? /[.'’ ]/g : /[,'’ ]/g, "")
    .replace(sign === "comma" ? "," : ".", ".");
  return { value: text.replace(number, plain) };
}

const SIGNS: Readonly<Record<string, readonly string[]>> = {
  "€": ["EUR"],
  "£": ["GBP"],
  "¥": ["JPY", "CNY"],
  $: ["USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN"],
};
const CODE = /^(?:US|CA|AU|NZ)?[$€£¥]$|^[A-Z]{3}$/;

/** What is wrong with a sign or code of money in a list of a currency; false where it is right, or the currency not known. */
export function wrongMoney(sign: string, currency: string | undefined): Fault | false {
  if (currency === undefined || sign === currency) return false;
  if (
    SIGNS[sign.slice(-1)]?.includes(currency) &&
    (sign.length === 1 || currency.startsWith(sign.slice(0, 2)))
  )
    return false;
  return {
    code: "choice-unknown",
    given: sign,
    wrong: `is another currency than the plan's, ${currency}`,
    hint: "a plan has one currency: change the prices, or the plan's `currency`",
  };
}

/** No pack costs more than this in any currency; a larger number is a slip. */
const MOST_MONEY = 1e9;

/**
 * Reads a price: a number above zero, perhaps with a sign or code of money before or behind it.
 * @param currency of the plan; absent: any.
 */
export function readPrice(cell: string, habit: NumberHabit, currency?: string): CellReading<number> {
  const text = cell.replace(/^['’]/, "");
  const [, before = "", inside = "", behind = ""] =
    /^([^\d.,+(-]*)\s*(.*?)\s*((?:[$€£¥]|[A-Za-z]+)?)$/.exec(text) ?? [];
  const signs = [before.trim(), behind].filter((sign) => sign !== "");
  const strange = signs.find((sign) => !CODE.test(sign));
  const number = pointed(inside, habit);
  if ("fault" in number) return number;
  if (strange !== undefined || !/^[+-]?\d+(?:\.\d+)?$|^[+-]?\.\d+$/.test(number.value))
    return refused(cell, "is not a price", "write the price alone: `38.50`");
  for (const sign of signs) {
    const fault = wrongMoney(sign, currency);
    if (fault) return { fault };
  }
  const value = Number(number.value);
  if (value > 0 && value <= MOST_MONEY) return { value };
  const [wrong, hint] =
    value === 0
      ? [
          "is what a spreadsheet writes for a blank cell",
          "take the row out where it is not for sale; what is free is `stock` in the amendments",
        ]
      : [value < 0 ? "is below zero" : "is no price of a pack", "a price is above zero"];
  return { fault: { code: "number-range", given: cell, wrong, hint } };
}

/** What a pack is called; left out of its size. */
const PACK_WORDS = /[\s/]*\b(?:bag|sack|pail|bucket|box|tote|pack|package|carton|tub|jug|jar)s?\.?$/i;

/**
 * Reads a size: of a pack by weight or volume (`50 lb`, `50# bag`, `22,7 kg`), or a unit of weight alone for what is sold
 * loose (`lb`, `per lb`, `bulk/lb`).
 * @param unit what a bare number counts, where another cell or the head says so.
 */
export function readSize(cell: string, habit: NumberHabit, unit?: string): CellReading<Sold> {
  const number = pointed(cell.replace(/^['’]/, ""), habit);
  if ("fault" in number) return number;
  const bare = number.value === "" || /^[\d.]+$/.test(number.value);
  const text = (bare && unit !== undefined ? `${number.value} ${unit}` : number.value)
    .replace(/#/g, " lb")
    .replace(/(\d)-(?=[a-z])/gi, "$1 ")
    .replace(PACK_WORDS, "")
    .trim();
  const loose = /^(?:(?:bulk|loose)\b[\s,/]*)?(?:per\b|\/)?\s*([a-z].*)$/i.exec(text)?.[1];
  const by =
    /^(?:(?:bulk|loose)\b[\s,/]*)?(?:per\s+|\/\s*)(\d.*)$/i.exec(text)?.[1] ?? (loose && `1 ${loose}`);
  if (by !== undefined) {
    const kg = parseQuantity(by, "mass", { positive: true });
    if (kg.ok) return { value: { kind: "loose", kg: kg.value } };
    const hint = "for instance `50 lb`, or `lb` for what is sold by weight";
    return { fault: { ...kg, near: undefined, given: cell, hint } };
  }
  const size = firstKind({ kg: "mass", litres: "volume" }, { positive: true }, text === "" ? cell : text);
  return size.ok ? { value: { kind: "pack", measure: size.value } } : { fault: size.faults[0]! };
}
