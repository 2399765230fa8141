/**
 * Ratio tests: how far a pivot may go, and which variable stops it. All in the scale of the simplex.
 *
 * Of variables that stop a step at nearly the same place, the one with the largest pivot is taken, where the others may
 * be off by no more than a tolerance (Harris 1973, Mathematical Programming 5:1-28). A small pivot is what makes rows
 * that are nearly parallel come apart in rounding.
 */

/** A pivot below this is none. */
export const PIVOT = 1e-9;
/** By how much a reduced cost may miss its sign for the sake of a larger pivot. */
const HARRIS = 1e-9;

/** Where among the first `left` candidates the one of least index is, of those with the least ratio (Bland's rule). */
export function firstOfLeast(candidates: Int32Array, ratio: Float64Array, left: number): number {
  let at = 0;
  for (let k = 1; k < left; k++) {
    const j = candidates[k]!;
    const best = candidates[at]!;
    const tie = Math.abs(ratio[j]! - ratio[best]!) <= 1e-12;
    if (tie ? j < best : ratio[j]! < ratio[best]!) at = k;
  }
  return at;
}

/**
 * Where among the first `left` candidates the largest pivot is, of those whose reduced costs allow nearly as long a step
 * as the least ratio.
 */
export function largestOfLeast(
  candidates: Int32Array,
  ratio: Float64Array,
  alpha: Float64Array,
  left: number,
): number {
  let longest = Infinity;
  for (let k = 0; k < left; k++) {
    const j = candidates[k]!;
    const reach = ratio[j]! + HARRIS / Math.abs(alpha[j]!);
    if (reach < longest) longest = reach;
  }
  let at = 0;
  let size = 0;
  for (let k = 0; k < left; k++) {
    const j = candidates[k]!;
    const pivot = Math.abs(alpha[j]!);
    if (ratio[j]! <= longest && pivot > size) {
      size = pivot;
      at = k;
    }
  }
  return at;
}

/** Variables with their bounds and values; `head`: those that are basic, by position. */
interface Variables {
  readonly head: Int32Array;
  readonly x: Float64Array;
  readonly lower: Float64Array;
  readonly upper: Float64Array;
  readonly tolerance: Float64Array;
}

/** A step of an entering variable: how far, the position that leaves (-1: none) and the bound that it stops at. */
interface Step {
  readonly step: number;
  readonly leaving: number;
  readonly bound: number;
}

/**
 * How far an entering variable may go.
 * @param column of it in the present basis.
 * @param most how far its own bounds let it go.
 * @param bland takes the variable of least index among those that stop it first.
 */
export function primalRatio(
  variables: Variables,
  column: Float64Array,
  direction: 1 | -1,
  most: number,
  bland: boolean,
): Step {
  const { head, x, lower, upper, tolerance } = variables;
  const m = head.length;
  let longest = most;
  let step = most;
  let leaving = -1;
  let stopsAt = 0;
  let size = 0;
  for (let pass = bland ? 1 : 0; pass < 2; pass++)
    for (let r = 0; r < m; r++) {
      const rate = -direction * column[r]!;
      if (rate < PIVOT && rate > -PIVOT) continue;
      const j = head[r]!;
      const bound = rate > 0 ? upper[j]! : lower[j]!;
      if (bound === Infinity || bound === -Infinity) continue;
      const t = Math.max(0, (bound - x[j]!) / rate);
      if (pass === 0) {
        const reach = t + (0.5 * tolerance[j]!) / Math.abs(rate);
        if (reach < longest) longest = reach;
        continue;
      }
      const better = bland
        ? t < step - 1e-14 || (t <= step + 1e-12 * (1 + step) && (leaving < 0 || j < head[leaving]!))
        : t <= longest && Math.abs(rate) > size;
      if (!better) continue;
      step = bland ? Math.min(t, step) : t;
      leaving = r;
      stopsAt = bound;
      size = Math.abs(rate);
    }
  return { step, leaving, bound: stopsAt };
}
