/** How the weights and the money of a result are written, in the units and the currency that it carries. */
import type { Solution } from "../results/solution.ts";
import { csvWeight, money, moneyPerUnit, weight } from "../words/numbers.ts";
import { type ColumnOf, figures } from "./report.ts";

/** Relative slack within which a demand counts as met: the tolerance of the verification. */
export const TOLERANCE = 1e-6;

/** The writers of a result's units and currency, and the columns that use them. */
export interface Writer {
  readonly weightUnit: "lb" | "kg";
  /** kg to the weight unit. */
  readonly inUnit: (kg: number) => number;
  readonly weight: (kg: number) => string;
  readonly money: (amount: number) => string;
  /** Money for each weight unit. */
  readonly perUnit: (perKg: number) => string;
  /** A column of weights: kg in, the weight unit for CSV, `text` for the reader; absent: as `weight`. */
  readonly masses: <T>(
    head: string,
    name: string,
    kgOf: (item: T) => number | null,
    text?: (kg: number, item: T) => string,
  ) => ColumnOf<T>;
  /** A column of money. */
  readonly cash: <T>(head: string, name: string, amount: (item: T) => number | null) => ColumnOf<T>;
}

/** The writers of a result. */
export function writerOf({ units, currency }: Pick<Solution, "units" | "currency">): Writer {
  const { unit, of } = csvWeight(units);
  const asWeight = (kg: number) => weight(kg, units);
  const asMoney = (amount: number) => money(amount, currency);
  return {
    weightUnit: unit,
    inUnit: of,
    weight: asWeight,
    money: asMoney,
    perUnit: (perKg) => moneyPerUnit(perKg, currency, units),
    masses: (head, name, kgOf, text = asWeight) =>
      figures(
        head,
        `${name}_${unit}`,
        (item) => {
          const kg = kgOf(item);
          return kg === null ? null : of(kg);
        },
        (_, item) => text(kgOf(item)!, item),
      ),
    cash: (head, name, amount) => figures(head, name, amount, asMoney),
  };
}

/** The sum of what items have of something. */
export function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

/** Zero for what is only the rounding of the arithmetic. */
export function tidyZero(value: number, scale: number): number {
  return Math.abs(value) <= TOLERANCE * Math.abs(scale) ? 0 : value;
}
