/** Amounts in the measures of the shed: the grower's own scoops and barrows, and whole bags with the rest in pounds. */
import { shortDate } from "../calendar.ts";
import type { OwnMeasure } from "../model.ts";
import { scoop, volume } from "./measures.ts";
import { day, type UnitSystem } from "./numbers.ts";

/** A measure of one's own is used where so many quarters of it come this near to the amount. */
const NEAR = 0.03;
/** What is weighed too may be told by so rough a measure. */
const LOOSELY = 0.06;
/** More than so many of one measure are not counted out. */
const MOST = 40;
const QUARTERS = ["", " 1/4", " 1/2", " 3/4"] as const;

/**
 * `2 1/4 scoops` in the largest of one's own measures that fits; null where none does.
 * @param over how much more than the amount it may be, as a part of it.
 * @param near how far from it either way.
 */
export function inOwnMeasure(
  mL: number,
  own: readonly OwnMeasure[] | undefined,
  over = NEAR,
  near = NEAR,
): string | null {
  for (const { name, litres } of own ?? []) {
    const count = mL / (litres * 1000);
    const quarters = Math.round(count * 4);
    if (quarters < 1 || count > MOST || Math.abs(quarters / 4 - count) > near * count) continue;
    if (quarters / 4 - count > over * count + 1e-9) continue;
    const whole = Math.floor(quarters / 4);
    const text = `${whole === 0 ? "" : whole}${QUARTERS[quarters % 4]}`.trim();
    return `${text} ${quarters > 4 ? manyOf(name) : name}`;
  }
  return null;
}

function manyOf(name: string): string {
  return /(s|x|ch|sh)$/.test(name) ? `${name}es` : `${name}s`;
}

/** A loose amount as it is measured out: in a measure of one's own alone where one fits or comes near, else in cups and spoons. */
export function loose(mL: number, units: UnitSystem, own: readonly OwnMeasure[] | undefined): string {
  return inOwnMeasure(mL, own) ?? inOwnMeasure(mL, own, LOOSELY, LOOSELY) ?? scoop(mL, units);
}

/** A heap: in a measure of one's own where one fits, else in cubic feet or litres. */
export function heap(litres: number, units: UnitSystem, own: readonly OwnMeasure[] | undefined): string {
  const measure = inOwnMeasure(litres * 1000, own);
  return measure === null ? volume(litres, units) : `${measure}, ${volume(litres, units)}`;
}

/** `day 21`, and with a date of planting `day 21 (Jun 10)`. */
export function dayWords(value: number, planted: string | undefined): string {
  return planted === undefined ? day(value) : `${day(value)} (${shortDate(value, planted)})`;
}

/** The date of a day for a column, `Jun 10`; null where the plan has no date of planting. */
export function dateWords(value: number, planted: string | undefined): string | null {
  return planted === undefined ? null : shortDate(value, planted);
}
