/**
 * Checks an answer with margins from its certificate alone: the point, the duals and the directions of its cuts.
 *
 * A direction of length at most 1 gives a row that every answer with the margin keeps, whatever the direction is. So the
 * rows are built again from the factors and the directions, the dual bound of the program with these rows is a bound on
 * the least cost with the margins, and whether the point has its margins is asked of the cones themselves. It shares no
 * code with what found the answer.
 */
import { type Program, type Row, rowOf, type Terms } from "./program.ts";
import { type Check, checkAnswer, isProven, MAX_VIOLATION } from "./verify.ts";

/** One source of doubt about a row: an independent standard normal number moves the row's sum by `value . x + constant`. */
export interface Factor extends Terms {
  readonly constant: number;
}

/** A row of a program that is to hold with a margin of `z` standard deviations. */
export interface SureRow {
  /** Index into the program's rows; that row has a finite lower bound. */
  readonly row: number;
  /** Above zero. */
  readonly z: number;
  readonly factors: readonly Factor[];
}

/** A direction in which a sure row's factors go wrong together, one entry per factor, of length at most 1. */
export interface Cut {
  /** Index into the sure rows. */
  readonly sure: number;
  readonly u: readonly number[];
}

/** What is claimed. */
export interface SureCertificate {
  readonly x: readonly number[];
  /** Duals: the program's rows, then the cuts. */
  readonly y: readonly number[];
  readonly cuts: readonly Cut[];
}

/** `Check` with the margins counted among the rows. */
export interface SureCheck extends Check {
  /** Worst miss of a margin, relative to the size of its row; 0 where all hold. */
  readonly worstMargin: number;
  /** Length of the longest direction. */
  readonly longest: number;
  /** Whether the certificate fits the program: as many duals as rows and cuts, a finite row for each cut. */
  readonly wellFormed: boolean;
}

/** Slack for the length of a direction that was divided by its own length. */
const LENGTH_ROUNDING = 1e-12;

/** Recomputes an answer with margins from its certificate alone. */
export function checkSure(
  program: Program,
  sure: readonly SureRow[],
  certificate: SureCertificate,
): SureCheck {
  const { x, y, cuts } = certificate;
  const wellFormed =
    x.length === program.columns.length &&
    y.length === program.rows.length + cuts.length &&
    cuts.every((cut) => {
      const margin = sure[cut.sure];
      return margin !== undefined && cut.u.length === margin.factors.length && cut.u.every(Number.isFinite);
    }) &&
    sure.every((margin) => margin.z >= 0 && Number.isFinite(program.rows[margin.row]?.lower));
  if (!wellFormed)
    return {
      cost: Number.NaN,
      dualBound: -Infinity,
      gap: Infinity,
      maxViolation: Infinity,
      worstRow: -1,
      costScale: Number.NaN,
      worstMargin: Infinity,
      longest: Infinity,
      wellFormed,
    };
  let longest = 0;
  const rows: Row[] = cuts.map(({ sure: s, u }) => {
    longest = Math.max(longest, Math.hypot(...u));
    const { row, z, factors } = sure[s]!;
    const base = program.rows[row]!;
    const coefficient = new Float64Array(program.columns.length);
    for (let k = 0; k < base.index.length; k++) coefficient[base.index[k]!]! += base.value[k]!;
    let lower = base.lower;
    factors.forEach((factor, f) => {
      for (let k = 0; k < factor.index.length; k++)
        coefficient[factor.index[k]!]! -= z * u[f]! * factor.value[k]!;
      lower += z * u[f]! * factor.constant;
    });
    const index = Array.from(coefficient.keys());
    return rowOf(base.tag, { index, value: Array.from(coefficient) }, { lower });
  });
  const plain = checkAnswer({ columns: program.columns, rows: [...program.rows, ...rows] }, x, y);
  const worstMargin = sure.reduce((worst, margin) => Math.max(worst, marginMissed(program, margin, x)), 0);
  return {
    ...plain,
    maxViolation: Math.max(plain.maxViolation, worstMargin),
    worstMargin,
    longest,
    wellFormed,
  };
}

/** By how much a margin is missed, relative to the size of its row; zero or less where it holds. */
function marginMissed(program: Program, { row, z, factors }: SureRow, x: readonly number[]): number {
  const base = program.rows[row]!;
  const terms = base.index.map((j, k) => base.value[k]! * x[j]!);
  const mean = terms.reduce((sum, term) => sum + term, 0);
  const spread = Math.hypot(
    ...factors.map((factor) =>
      factor.index.reduce((sum, j, k) => sum + factor.value[k]! * x[j]!, factor.constant),
    ),
  );
  const short = base.lower - (mean - z * spread);
  const size = Math.max(Math.abs(base.lower), ...terms.map(Math.abs), Number.MIN_VALUE);
  // What is not a number is no margin.
  return Number.isNaN(short) ? Infinity : short / size;
}

/** Whether an answer keeps every row and margin, and its bound is one, however far its cost is from that. */
export function isSureKept(check: SureCheck): boolean {
  return (
    check.wellFormed &&
    check.longest <= 1 + LENGTH_ROUNDING &&
    check.worstMargin <= MAX_VIOLATION &&
    check.maxViolation <= MAX_VIOLATION &&
    Number.isFinite(check.dualBound)
  );
}

/** Whether a check is good enough to call the answer optimal and its margins kept. */
export function isSureProven(check: SureCheck): boolean {
  return isSureKept(check) && isProven(check);
}
