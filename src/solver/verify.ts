/**
 * Checks an answer against the program alone: every row and bound recomputed from the amounts, and a lower bound on
 * the cost from duals. It shares no code with what found the answer.
 */
import { type Program, rowScale } from "./program.ts";

/** An answer counts as optimal only within these. */
export const MAX_VIOLATION = 1e-6;
export const MAX_GAP = 1e-6;
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

/** The worst violation at a point: by how much, relative to the row's scale or its largest term, and where. */
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
      const bound = Math.abs(low > high ? row.lower : row.upper);
      const relative = off / Math.max(bound, row.scale ?? 0, largest, Number.MIN_VALUE);
      if (!(relative <= amount)) {
        amount = relative;
        worst = i;
      }
    }
  }
  const size = x.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  for (let j = 0; j < program.columns.length; j++) {
    const off = Math.max(-x[j]!, x[j]! - program.columns[j]!.upper);
    if (!(off <= 0) && !(off / size <= amount)) {
      amount = off / size;
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

/**
 * The lower bound on cost that row duals prove. By weak duality any `y` gives a valid bound: entries whose sign asks
 * for a bound the row does not have count as zero, and a column with negative reduced cost contributes at the largest
 * amount it can have in a mix no dearer than `cost` (its own bound, or cost / price). A reduced cost within the
 * rounding error of its own sum counts as zero.
 */
export function dualBound(program: Program, y: readonly number[], cost: number): number {
  const costs = new Float64Array(program.columns.length);
  for (let j = 0; j < costs.length; j++) costs[j] = program.columns[j]!.cost;
  const { asked, rest, size } = sumOfRows(program, y, costs);
  let bound = asked;
  for (let j = 0; j < rest.length; j++) {
    if (rest[j]! >= -1e-12 * size[j]!) continue;
    const most = mostOf(program, j, cost);
    if (most === Infinity) return -Infinity;
    bound += rest[j]! * most;
  }
  return bound;
}

/** The largest amount a column can have in a mix no dearer than `cost`; Infinity where nothing says so. */
function mostOf(program: Program, j: number, cost: number): number {
  const byCost = (k: number): number => {
    const column = program.columns[k]!;
    return Math.min(column.upper, column.cost > 0 ? Math.max(0, cost) / column.cost : Infinity);
  };
  let most = byCost(j);
  if (most < Infinity) return most;
  // What costs nothing may still be held by a row, as stock is: what is used, less what is bought, is at most the stock.
  for (const row of program.rows) {
    if (!Number.isFinite(row.upper)) continue;
    const own = row.index.indexOf(j);
    if (own < 0 || !(row.value[own]! > 0)) continue;
    let room = row.upper;
    row.index.forEach((k, at) => {
      if (row.value[at]! < 0) room -= row.value[at]! * byCost(k);
    });
    most = Math.min(most, room / row.value[own]!);
  }
  return most;
}

/**
 * The lower bound on cost that row duals prove while every column keeps within bounds of its own; -Infinity where they
 * prove nothing.
 * @param into filled with the reduced costs, where given.
 */
export function boundWithin(
  program: Program,
  y: readonly number[],
  lower: ArrayLike<number>,
  upper: ArrayLike<number>,
  into?: Float64Array,
): number {
  const { columns } = program;
  const reduced = into ?? new Float64Array(columns.length);
  for (let j = 0; j < columns.length; j++) reduced[j] = columns[j]!.cost;
  let bound = sumOfRows(program, y, reduced).asked;
  for (let j = 0; j < columns.length; j++) {
    const d = reduced[j]!;
    if (d === 0) continue;
    const side = d > 0 ? lower[j]! : upper[j]!;
    if (Number.isFinite(side)) bound += d * side;
    else if (!(d >= -1e-11 * (1 + Math.abs(columns[j]!.cost)))) return -Infinity;
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
  for (let j = 0; j < columns.length; j++) {
    const c = -rest[j]!;
    if (Math.abs(c) <= 1e-12 * size[j]!) continue;
    const bound = c > 0 ? (upper?.[j] ?? columns[j]!.upper) : (lower?.[j] ?? 0);
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
