/** A margin at a point: which way it leans, how long it is, what is there on average. */
import type { Program } from "./program.ts";
import type { Factor, SureRow } from "./verify-sure.ts";

/** How far each factor goes at a point. */
export function spreadsAt(factors: readonly Factor[], x: readonly number[]): number[] {
  return factors.map(({ index, value, constant }) => {
    let sum = constant;
    for (let k = 0; k < index.length; k++) sum += value[k]! * x[index[k]!]!;
    return sum;
  });
}

/** Length of a vector. */
export function lengthOf(v: readonly number[]): number {
  let sum = 0;
  for (const entry of v) sum += entry * entry;
  return Math.sqrt(sum);
}

/** What a sure row comes to on the average, and the size that its misses are judged by. */
export function meanOf(
  { rows }: Program,
  { row }: Pick<SureRow, "row">,
  x: readonly number[],
): { readonly mean: number; readonly size: number } {
  const { index, value, lower } = rows[row]!;
  let mean = 0;
  let size = Math.max(Math.abs(lower), Number.MIN_VALUE);
  for (let k = 0; k < index.length; k++) {
    const term = value[k]! * x[index[k]!]!;
    mean += term;
    size = Math.max(size, Math.abs(term));
  }
  return { mean, size };
}
