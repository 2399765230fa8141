/** What the sections of a solution share: its units and currency put to use, names, and how zero is told from dust. */
import type { Solution, SolutionApplication } from "../results/solution.ts";
import { csvWeight, money, scaleWeight, weight } from "../words/numbers.ts";
import { loose } from "../words/own-measures.ts";
import { type ColumnOf, figures } from "./report.ts";

/** Relative slack within which a demand counts as met: the tolerance of the verification. */
export const TOLERANCE = 1e-6;

/** A solution with the writers of its units and currency, and the name and place of every amendment. */
export interface View {
  readonly solution: Solution;
  /** Money by weight. */
  readonly total: number;
  readonly weightUnit: "lb" | "kg";
  /** kg to the weight unit. */
  readonly inUnit: (kg: number) => number;
  readonly weight: (kg: number) => string;
  /** Weights that are on the scale. */
  readonly scale: (kg: number) => string;
  readonly scoop: (mL: number) => string;
  readonly money: (amount: number) => string;
  readonly name: (id: string) => string;
  /** Ids, heaviest of the mix first. */
  readonly order: readonly string[];
  /** Applications that get any. */
  readonly fed: readonly SolutionApplication[];
}

export function viewOf(solution: Solution): View {
  const { units, currency } = solution;
  const { unit, of } = csvWeight(units);
  const names = new Map(solution.inputs.amendments.map((a) => [a.id, a.name]));
  return {
    solution,
    total: solution.cost.total ?? Number.NaN,
    weightUnit: unit,
    inUnit: of,
    weight: (kg) => weight(kg, units),
    scale: (kg) => scaleWeight(kg, solution.rounding.scaleKg, units),
    scoop: (mL) => loose(mL, units, solution.inputs.scoops),
    money: (amount) => money(amount, currency),
    name: (id) => names.get(id) ?? id,
    order: [...solution.amendments].sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1)).map((a) => a.id),
    fed: solution.applications.filter((a) => a.batches.count > 0),
  };
}

/** A column of weights: kg in, the plan's unit for CSV, `text` for the reader. */
export function masses<T>(
  { inUnit, weightUnit, weight }: View,
  head: string,
  name: string,
  kgOf: (item: T) => number | null,
  text: (kg: number, item: T) => string = weight,
): ColumnOf<T> {
  return figures(
    head,
    `${name}_${weightUnit}`,
    (item) => {
      const kg = kgOf(item);
      return kg === null ? null : inUnit(kg);
    },
    (_, item) => text(kgOf(item) ?? 0, item),
  );
}

export function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

/** Zero for what is only the rounding of the arithmetic. */
export function tidyZero(value: number, scale: number): number {
  return Math.abs(value) <= TOLERANCE * Math.abs(scale) ? 0 : value;
}
