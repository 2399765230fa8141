/** How the numbers of a sweep are written: its values as prices or weights, its costs as money. */

import type { Sweep } from "../results/sweep.ts";
import { fromSi } from "../units.ts";
import { money, plainNumber, weight } from "../words/numbers.ts";

/** A sweep with the writers of its values. */
export interface SweepView {
  readonly sweep: Sweep;
  readonly show: (value: number) => string;
  /** The value in the grower's unit, for CSV, and that unit. */
  readonly inUnit: (value: number) => number;
  readonly unit: string;
  readonly money: (amount: number) => string;
  readonly name: (id: string) => string;
}

/** The view of a sweep, in the units and the currency that it carries. */
export function viewOf(sweep: Sweep): SweepView {
  const us = sweep.units === "us";
  const price = sweep.kind === "price";
  const pound = fromSi(1, "lb");
  const cash = (amount: number): string => money(amount, sweep.currency);
  const weightUnit = us ? "lb" : "kg";
  const name = (id: string): string => sweep.names[id] ?? id;
  if (sweep.kind === "sure") {
    const inUnit = (value: number): number => Number((100 * value).toFixed(6));
    const unit = `sure_${sweep.of.replaceAll(",", "_")}_percent`;
    const show = (value: number): string => `${Number((100 * value).toFixed(2))}%`;
    return { sweep, show, inUnit, unit, money: cash, name };
  }
  return {
    sweep,
    show: distinct(
      sweep,
      price
        ? (value) => `${cash(us ? value / pound : value)}/${weightUnit}`
        : (value) => weight(value, sweep.units),
      (value) => {
        const shown = plainNumber(
          Number((us ? (price ? value / pound : value * pound) : value).toPrecision(6)),
        );
        return price ? `${shown}/${weightUnit}` : `${shown} ${weightUnit}`;
      },
    ),
    inUnit: price ? (value) => (us ? value / pound : value) : (value) => (us ? value * pound : value),
    unit: price ? `price_per_${weightUnit}` : `${sweep.kind}_${sweep.of}_${weightUnit}`,
    money: cash,
    name,
  };
}

/** A writer of values: the usual one, or a finer one where it would write neighbouring breakpoints alike. */
function distinct(
  { segments }: Sweep,
  usual: (value: number) => string,
  fine: (value: number) => string,
): (value: number) => string {
  const ends = segments.map(({ to }) => to);
  const start = segments[0]?.from;
  const texts = [...(start === undefined ? [] : [start]), ...ends].map(usual);
  return texts.some((text, i) => i > 0 && text === texts[i - 1]) ? fine : usual;
}
