/**
 * Least cost where some rows must hold with a margin for what varies: a normal chance constraint for each such row.
 *
 *     mean(x) - z |F x + f| >= lower          (Charnes and Cooper 1959; van de Panne and Popp 1963)
 *
 * For any direction u with |u| <= 1, u.v <= |v|, so `mean(x) - z u.(F x + f) >= lower` holds wherever the above does:
 * a plain row, a cut. The loop solves the linear program, adds for every margin that its point misses the cut that
 * touches the cone there, and goes on until none is missed (Kelley 1960, cutting planes). Every program on the way is a
 * lower bound. What comes out is proven by `verify-sure.ts`, which shares no code with this file.
 */
import type { Program, Row, Tag } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { type ProvenInfeasible, solveProgram, type Unverified } from "./solve.ts";
import { checkSure, isSureProven, type SureCheck } from "./verify-sure.ts";

/** One source of doubt about a row: an independent standard normal number moves the row's sum by `value . x + constant`. */
export interface Factor {
  readonly index: readonly number[];
  readonly value: readonly number[];
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

/** An answer whose margins hold, with all that proves it. */
export interface ProvenSure {
  readonly status: "optimal";
  readonly x: readonly number[];
  /** Duals: the program's rows, then the cuts. */
  readonly y: readonly number[];
  readonly cuts: readonly Cut[];
  /** The program with the cuts as rows, in which `x` is the optimum. A cut carries the tag of the row it is for. */
  readonly program: Program;
  readonly engine: string;
  readonly check: SureCheck;
  /** Linear programs solved. */
  readonly rounds: number;
}

export type SureAnswer = ProvenSure | ProvenInfeasible | Unverified;

/**
 * A margin missed by less than this share of its row's size counts as kept: near the simplex's own tolerance at first,
 * and ten times what the proof needs where that is not reached.
 */
const KEPT = 1e-9;
const KEPT_LATE = 1e-7;
const LATE_ROUNDS = 100;
/** A cut without a dual for so many rounds is dropped. */
const IDLE_ROUNDS = 6;
const MOST_ROUNDS = 400;

interface LiveCut extends Cut {
  idle: number;
}

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

/** The row that a cut adds to a program. */
export function cutRow<R extends Tag>(row: Row<R>, sure: SureRow, u: readonly number[]): Row<R> {
  const at = new Map<number, number>();
  row.index.forEach((j, k) => {
    at.set(j, row.value[k]!);
  });
  let lower = row.lower;
  sure.factors.forEach(({ index, value, constant }, k) => {
    const weight = sure.z * u[k]!;
    if (weight === 0) return;
    lower += weight * constant;
    index.forEach((j, i) => {
      at.set(j, (at.get(j) ?? 0) - weight * value[i]!);
    });
  });
  const entries = [...at].filter(([, value]) => value !== 0).sort(([a], [b]) => a - b);
  return {
    tag: row.tag,
    index: entries.map(([j]) => j),
    value: entries.map(([, value]) => value),
    lower,
    upper: Infinity,
  };
}

/** A program with cuts added as rows. */
export function withCuts<R extends Tag, C extends Tag>(
  program: Program<R, C>,
  sure: readonly SureRow[],
  cuts: readonly Cut[],
): Program<R, C> {
  if (cuts.length === 0) return program;
  const rows = cuts.map((cut) => cutRow(program.rows[sure[cut.sure]!.row]!, sure[cut.sure]!, cut.u));
  return { columns: program.columns, rows: [...program.rows, ...rows] };
}

/**
 * The cuts that touch the cones which a point misses, one for each.
 * @returns those whose miss, relative to the size of their row, is above `kept`.
 */
export function missedCuts(
  program: Program,
  sure: readonly SureRow[],
  x: readonly number[],
  kept: number = KEPT,
): Cut[] {
  return sure.flatMap((one, s) => {
    const row = program.rows[one.row]!;
    const v = spreadsAt(one.factors, x);
    const length = lengthOf(v);
    let mean = 0;
    let size = Math.abs(row.lower);
    for (let k = 0; k < row.index.length; k++) {
      const term = row.value[k]! * x[row.index[k]!]!;
      mean += term;
      size = Math.max(size, Math.abs(term));
    }
    const miss = row.lower - (mean - one.z * length);
    return length > 0 && miss > kept * Math.max(size, Number.MIN_VALUE)
      ? [{ sure: s, u: v.map((entry) => entry / length) }]
      : [];
  });
}

/** One linear program, from a point that is near its optimum. The only place where this file touches the simplex. */
function solveFrom(
  program: Program,
  near: readonly number[] | null,
  tieBreaks: readonly (readonly number[])[],
): { status: "optimal"; x: number[]; y: number[] } | { status: "infeasible" | "failed" } {
  const simplex = new Simplex(program);
  if (near) simplex.crossOver(near);
  const status = simplex.optimise();
  if (status !== "optimal") return { status: status === "infeasible" ? "infeasible" : "failed" };
  const y = simplex.duals();
  let x = simplex.point();
  for (const costs of tieBreaks) {
    simplex.fixOptimalFace();
    simplex.setCosts(costs);
    if (simplex.optimise() !== "optimal") break;
    x = simplex.point();
  }
  return { status: "optimal", x, y };
}

/** What a search may start from: an earlier answer's point and cuts, which are valid for any other `z > 0` of the same sign. */
export interface SureStart {
  readonly x?: readonly number[];
  readonly cuts?: readonly Cut[];
}

/**
 * Finds and proves the least cost at which every margin holds.
 * @param sure rows that need a margin; those with `z` of zero are plain rows and are to be left out.
 * @param tieBreaks costs, one list after the other, that choose among equal optima.
 * @param start where a neighbouring answer is known.
 */
export async function solveSure(
  program: Program,
  sure: readonly SureRow[],
  tieBreaks: readonly (readonly number[])[] = [],
  start: SureStart = {},
): Promise<SureAnswer> {
  let cuts: LiveCut[] = (start.cuts ?? []).map((cut) => ({ ...cut, idle: 0 }));
  let near = start.x ?? null;
  // Ties are broken only once the cost is right; doing so can lead off a cone again, and then costs further cuts.
  let breaking = false;
  for (let rounds = 1; rounds <= MOST_ROUNDS; rounds++) {
    const cutProgram = withCuts(program, sure, cuts);
    let found = solveFrom(cutProgram, near, breaking ? tieBreaks : []);
    let engine = "simplex";
    if (found.status !== "optimal") {
      // Where the simplex alone did not finish, or says there is no answer, that is proven as for any program.
      const answer = await solveProgram(cutProgram);
      if (answer.status !== "optimal") return answer;
      found = { status: "optimal", x: [...answer.x], y: [...answer.y] };
      engine = answer.engine;
    }
    const missed = missedCuts(program, sure, found.x, rounds > LATE_ROUNDS ? KEPT_LATE : KEPT);
    near = found.x;
    if (missed.length === 0 && !breaking && tieBreaks.length > 0) {
      breaking = true;
      continue;
    }
    if (missed.length === 0) return proven(program, sure, cuts, cutProgram, found, engine, rounds);
    const duals = found.y.slice(program.rows.length);
    cuts.forEach((cut, k) => {
      cut.idle = duals[k] === 0 ? cut.idle + 1 : 0;
    });
    cuts = cuts.filter((cut) => cut.idle < IDLE_ROUNDS);
    for (const cut of missed) cuts.push({ ...cut, idle: 0 });
  }
  return { status: "unverified", reason: `the margins did not settle in ${MOST_ROUNDS} rounds` };
}

function proven(
  program: Program,
  sure: readonly SureRow[],
  cuts: readonly Cut[],
  cutProgram: Program,
  found: { x: number[]; y: number[] },
  engine: string,
  rounds: number,
): SureAnswer {
  const plain = cuts.map(({ sure: s, u }): Cut => ({ sure: s, u }));
  const check = checkSure(program, sure, { x: found.x, y: found.y, cuts: plain });
  if (!isSureProven(check))
    return { status: "unverified", reason: "the margins of the mix could not be proven" };
  return {
    status: "optimal",
    x: found.x,
    y: found.y,
    cuts: plain,
    program: cutProgram,
    engine,
    check,
    rounds,
  };
}

/** A sure row's cuts as one: the direction in which its factors go wrong in the likeliest bad case, and its price. */
export interface MergedCut {
  readonly u: readonly number[];
  /** Change of cost per unit of the row's bound. */
  readonly price: number;
}

/** The cuts of each sure row weighed by their duals; where none has a dual, the direction at the point itself. */
export function mergedCuts(sure: readonly SureRow[], answer: ProvenSure): MergedCut[] {
  const rows = answer.program.rows.length - answer.cuts.length;
  return sure.map((one, s) => {
    let price = 0;
    const u = one.factors.map(() => 0);
    answer.cuts.forEach((cut, k) => {
      if (cut.sure !== s) return;
      const dual = answer.y[rows + k]!;
      price += dual;
      cut.u.forEach((entry, f) => {
        u[f]! += dual * entry;
      });
    });
    if (price > 0) return { u: u.map((entry) => entry / price), price };
    const v = spreadsAt(one.factors, answer.x);
    const length = lengthOf(v);
    return { u: length > 0 ? v.map((entry) => entry / length) : v, price: 0 };
  });
}
