/**
 * Checks an answer against the program alone: every row and bound recomputed from the amounts, and a lower bound on
 * the cost from duals. It shares no code with what found the answer.
 *
 * What it lets pass, and no more:
 *  - a row may miss its bound by 1e-6 of the bound (or of the size that the row is stated in), or by 1e-9 of its largest
 *    term where that is more; a row whose bound is zero, by 1e-6 of its largest term;
 *  - an amount may be above its bound by 1e-6 of it, and below zero or above by 1e-9 of the largest amount;
 *  - the cost may be above the proven bound by 1e-6 of the cost, and never by more than a millionth of a unit of money
 *    where the cost is below one;
 *  - what is left of a column when rows are added up counts as nothing within 1e-12 of the terms of that sum, and only
 *    where the rows say nothing of how much of the column there can be. Elsewhere it counts, times that most.
 */
import { type Program, rowScale } from "./program.ts";

/** An answer counts as optimal only within these. */
export const MAX_VIOLATION = 1e-6;
export const MAX_GAP = 1e-6;
/** Of the largest term of a row, or the largest amount, the share that counts as the size of what is off. */
const LEAST_TERM = 1e-3;
/** What is left of a column counts as rounding within this share of the terms that it is the sum of. */
const ROUNDED = 1e-12;
/** What is left of a column within this share counts by the most that the rows allow of it, where it has no bound. */
const NEARLY_NOTHING = 1e-9;
/** Rows count as impossible to keep together where all of them must give way by more than this, relative to their scales. */
export const FEASIBLE = 1e-7;

/** An answer could not be verified: nothing is printed. */
export class UnverifiedError extends Error {
  override readonly name = "UnverifiedError";
}

/** What is only advice beside a proven answer: null where it cannot be proven itself. */
export async function unlessUnverified<T>(advice: Promise<T>): Promise<T | null> {
  try {
    return await advice;
  } catch (error) {
    if (error instanceof UnverifiedError) return null;
    throw error;
  }
}

export interface Check {
  readonly cost: number;
  /** No mix can cost less than this; -Infinity where the duals prove nothing. */
  readonly dualBound: number;
  /** (cost - dualBound) / max(1, |cost|). */
  readonly gap: number;
  /** Worst violation of any row or bound, relative to the scale of the row. */
  readonly maxViolation: number;
  /** Row of the worst violation; -1 where none or a column's bound. */
  readonly worstRow: number;
  /** What the gap counts against where the cost is small: see `costScale`. */
  readonly costScale: number;
}

/** Of the dearest price times the largest amount, the share below which money counts as nothing. */
const LEAST_MONEY = 1e-3;

/**
 * The size by which differences of cost are judged: the cost itself, however small; where it is next to nothing, a
 * thousandth of what the largest amount would cost at the dearest price.
 */
export function costScale(program: Program, x: readonly number[], cost: number): number {
  let price = 0;
  let amount = 0;
  program.columns.forEach((column, j) => {
    price = Math.max(price, Math.abs(column.cost));
    amount = Math.max(amount, Math.abs(x[j]!));
  });
  return Math.max(Math.abs(cost), LEAST_MONEY * price * amount);
}

/** What a point costs. */
export function costOf(program: Program, x: readonly number[]): number {
  let sum = 0;
  for (let j = 0; j < program.columns.length; j++) sum += program.columns[j]!.cost * x[j]!;
  return sum;
}

/** The worst violation at a point: by how much, relative to what the head of this file says, and where. */
export function worstViolation(program: Program, x: readonly number[]): { amount: number; row: number } {
  let amount = 0;
  let worst = -1;
  for (let i = 0; i < program.rows.length; i++) {
    const row = program.rows[i]!;
    let sum = 0;
    let largest = 0;
    for (let k = 0; k < row.index.length; k++) {
      const term = row.value[k]! * x[row.index[k]!]!;
      sum += term;
      largest = Math.max(largest, Math.abs(term));
    }
    const low = row.lower - sum;
    const high = sum - row.upper;
    const off = Math.max(low, high);
    if (!(off <= 0)) {
      const stated = Math.max(Math.abs(low > high ? row.lower : row.upper), row.scale ?? 0);
      const terms = stated > 0 ? LEAST_TERM * largest : largest;
      const relative = off / Math.max(stated, terms, Number.MIN_VALUE);
      if (!(relative <= amount)) {
        amount = relative;
        worst = i;
      }
    }
  }
  const least = LEAST_TERM * x.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  for (let j = 0; j < program.columns.length; j++) {
    const { upper } = program.columns[j]!;
    const off = Math.max(-x[j]!, x[j]! - upper);
    const relative = off / (x[j]! > upper ? Math.max(upper, least) : least);
    if (!(off <= 0) && !(relative <= amount)) {
      amount = relative;
      worst = -1;
    }
  }
  return { amount, row: worst };
}

/** Rows added up, each times a multiplier of its own. */
interface SumOfRows {
  /** What they ask for together. */
  readonly asked: number;
  /** Rows with a part in it. */
  readonly used: readonly number[];
  /** By column: what it began with, less what the rows take of it. */
  readonly rest: Float64Array;
  /** By column: the size of the terms of which `rest` is the sum, which says how far rounding may go. */
  readonly size: Float64Array;
}

/**
 * Adds up rows. A multiplier whose sign asks for a bound that its row does not have counts as zero.
 * @param rest what each column begins with; written to.
 */
function sumOfRows(program: Program, multipliers: readonly number[], rest: Float64Array): SumOfRows {
  const size = new Float64Array(rest.length);
  for (let j = 0; j < size.length; j++) size[j] = Math.abs(rest[j]!);
  const used: number[] = [];
  let asked = 0;
  for (let i = 0; i < program.rows.length; i++) {
    const w = multipliers[i]!;
    const { index, value, lower, upper } = program.rows[i]!;
    const side = w > 0 ? lower : upper;
    if (!(w > 0 || w < 0) || !Number.isFinite(side)) continue;
    used.push(i);
    asked += w * side;
    for (let k = 0; k < index.length; k++) {
      const term = w * value[k]!;
      rest[index[k]!]! -= term;
      size[index[k]!]! += Math.abs(term);
    }
  }
  return { asked, used, rest, size };
}

/** Passes over the rows for bounds that they imply. */
const PASSES = 6;
/** By how much an implied bound is widened, relative to the terms that it follows from. */
const OUTWARD = 1e-12;

/**
 * How much of each column there can be in any point that keeps every row and costs at most `cost`: its own bound, or
 * what a row leaves for it when every other column helps as much as it can. The cost is one more row, so a column that
 * earns money is counted there like any other.
 * @param lower bounds of the columns; absent: 0.
 * @param upper absent: the program's own.
 * @returns Infinity where nothing says so.
 */
export function impliedUpper(
  program: Program,
  cost = Infinity,
  lower?: ArrayLike<number>,
  upper?: ArrayLike<number>,
): Float64Array {
  const { columns, rows } = program;
  const most = Float64Array.from(columns, (column, j) => upper?.[j] ?? column.upper);
  /** Narrows by `sign * sum value[k] x[index[k]] <= bound`; column k is `index?.[k] ?? k`. */
  const narrow = (
    index: readonly number[] | null,
    valueAt: (k: number) => number,
    count: number,
    sign: 1 | -1,
    bound: number,
  ): boolean => {
    // The least that the terms come to, and how many of them have no least.
    let least = 0;
    let size = Math.abs(bound);
    let endless = 0;
    let open = -1;
    const leastOf = (k: number): number => {
      const a = sign * valueAt(k);
      const j = index ? index[k]! : k;
      return a === 0 ? 0 : a * (a > 0 ? (lower?.[j] ?? 0) : most[j]!);
    };
    for (let k = 0; k < count; k++) {
      const term = leastOf(k);
      if (term === -Infinity) {
        endless++;
        open = k;
      } else {
        least += term;
        size = Math.max(size, Math.abs(term));
      }
    }
    if (endless > 1) return false;
    let narrowed = false;
    for (let k = 0; k < count; k++) {
      const a = sign * valueAt(k);
      if (!(a > 0) || (endless === 1 && k !== open)) continue;
      const j = index ? index[k]! : k;
      if (most[j] !== Infinity) continue;
      const room = (bound - (least - leastOf(k)) + OUTWARD * size) / a;
      if (!(room < Infinity)) continue;
      most[j] = Math.max(lower?.[j] ?? 0, room);
      narrowed = true;
    }
    return narrowed;
  };
  for (let pass = 0; pass < PASSES && most.includes(Infinity); pass++) {
    let narrowed = false;
    if (cost < Infinity) narrowed = narrow(null, (k) => columns[k]!.cost, columns.length, 1, cost);
    for (const row of rows) {
      const { index, value } = row;
      const valueAt = (k: number): number => value[k]!;
      if (row.upper < Infinity && narrow(index, valueAt, index.length, 1, row.upper)) narrowed = true;
      if (row.lower > -Infinity && narrow(index, valueAt, index.length, -1, -row.lower)) narrowed = true;
    }
    if (!narrowed) break;
  }
  return most;
}

/**
 * The lower bound on cost that row duals prove. By weak duality any `y` gives a valid bound: entries whose sign asks
 * for a bound the row does not have count as zero, and a column with negative reduced cost contributes at the largest
 * amount it can have in a mix no dearer than `cost` (`impliedUpper`).
 */
export function dualBound(program: Program, y: readonly number[], cost: number): number {
  return boundWithin(program, y, undefined, undefined, undefined, cost);
}

/**
 * The lower bound on cost that row duals prove while every column keeps within bounds of its own, for points no dearer
 * than `cost`; -Infinity where they prove nothing.
 * @param lower absent: 0; `upper` absent: the program's own.
 * @param into filled with the reduced costs, where given.
 */
export function boundWithin(
  program: Program,
  y: readonly number[],
  lower?: ArrayLike<number>,
  upper?: ArrayLike<number>,
  into?: Float64Array,
  cost = Infinity,
): number {
  const { columns } = program;
  const reduced = into ?? new Float64Array(columns.length);
  for (let j = 0; j < columns.length; j++) reduced[j] = columns[j]!.cost;
  const { asked, size } = sumOfRows(program, y, reduced);
  let bound = asked;
  let implied: Float64Array | undefined;
  for (let j = 0; j < columns.length; j++) {
    const d = reduced[j]!;
    if (d === 0) continue;
    let side = d > 0 ? (lower?.[j] ?? 0) : (upper?.[j] ?? columns[j]!.upper);
    if (d < 0 && side === Infinity) {
      implied ??= impliedUpper(program, cost, lower, upper);
      side = implied[j]!;
    }
    if (Number.isFinite(side)) bound += d * side;
    else if (!(d >= -ROUNDED * size[j]!)) return -Infinity;
  }
  return bound;
}

/** A sum of rows, and what it shows. */
export interface Shortfall {
  /** The least by which the rows together must give way, relative to their scales; 0 where nothing is shown. */
  readonly amount: number;
  /** Rows that have a part in it. */
  readonly rows: readonly number[];
}

/**
 * What multipliers of the rows show about whether all of them can be kept (Farkas): the rows, so multiplied and added
 * up, ask for more than any point within the bounds of the columns has. A multiplier whose sign asks for a bound that
 * its row does not have counts as zero, and so does what is left of a column within the rounding of its own sum.
 * @param lower bounds of the columns; absent: 0.
 * @param upper absent: the program's own.
 */
export function shortfall(
  program: Program,
  multipliers: readonly number[],
  lower?: ArrayLike<number>,
  upper?: ArrayLike<number>,
): Shortfall {
  const { columns, rows } = program;
  const { asked, used, rest, size } = sumOfRows(program, multipliers, new Float64Array(columns.length));
  let magnitude = 0;
  let givingWay = 0;
  for (const i of used) {
    const row = rows[i]!;
    const w = multipliers[i]!;
    magnitude += Math.abs(w) * Math.max(Math.abs(w > 0 ? row.lower : row.upper), row.scale ?? 0);
    if (!row.fact) givingWay = Math.max(givingWay, Math.abs(w) * rowScale(row));
  }
  let most = 0;
  let implied: Float64Array | undefined;
  for (let j = 0; j < columns.length; j++) {
    const c = -rest[j]!;
    if (c === 0) continue;
    let bound = c > 0 ? (upper?.[j] ?? columns[j]!.upper) : (lower?.[j] ?? 0);
    if (bound === Infinity && c <= NEARLY_NOTHING * size[j]!) {
      // Next to nothing of a column counts as much as there can be of it in a point that keeps the rows.
      implied ??= impliedUpper(program, Infinity, lower, upper);
      bound = implied[j]!;
    }
    if (!Number.isFinite(bound) && Math.abs(c) <= ROUNDED * size[j]!) continue;
    most += c * bound;
    magnitude += Math.abs(c * bound);
  }
  const over = asked - most;
  if (!(over > 1e-11 * magnitude)) return { amount: 0, rows: [] };
  return { amount: givingWay > 0 ? over / givingWay : Infinity, rows: used };
}

/**
 * Whether multipliers, or their opposite, show that a program's rows cannot all be kept.
 * @param lower bounds of the columns, and `upper`, as in `shortfall`.
 * @param least by how much rows may give way and still count as kept.
 * @returns what is shown, with the multipliers in the sense that shows it.
 */
export function provesInfeasible(
  program: Program,
  multipliers: readonly number[],
  lower?: ArrayLike<number>,
  upper?: ArrayLike<number>,
  least = FEASIBLE,
): (Shortfall & { readonly multipliers: readonly number[] }) | null {
  for (const either of [multipliers, multipliers.map((w) => -w)]) {
    const shown = shortfall(program, either, lower, upper);
    if (shown.amount > least) return { ...shown, multipliers: either };
  }
  return null;
}

/** Recomputes an answer from its amounts and duals alone. */
export function checkAnswer(program: Program, x: readonly number[], y: readonly number[]): Check {
  const cost = costOf(program, x);
  const violation = worstViolation(program, x);
  const bound = dualBound(program, y, cost);
  const gap = (cost - bound) / Math.max(1, Math.abs(cost));
  return {
    cost,
    dualBound: bound,
    gap,
    maxViolation: violation.amount,
    worstRow: violation.row,
    costScale: costScale(program, x, cost),
  };
}

/** Whether a check is good enough to call the answer optimal: the gap is nothing, also against a cost below one unit of money. */
export function isProven(check: Check): boolean {
  return (
    check.maxViolation <= MAX_VIOLATION &&
    Math.abs(check.gap) <= MAX_GAP &&
    Math.abs(check.cost - check.dualBound) <= MAX_GAP * check.costScale
  );
}
