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

import { lengthOf, meanOf, spreadsAt } from "./margin.ts";
import { type Program, type Row, rowOf, type Tag, termsOf } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { certify, type Unverified } from "./solve.ts";
import type { Lifting } from "./sure-lifted.ts";
import { type Priced, type Sharp, sharpened } from "./sure-newton.ts";
import { provesInfeasible } from "./verify.ts";
import {
  type Cut,
  checkSure,
  isSureKept,
  isSureProven,
  type SureCertificate,
  type SureCheck,
  type SureRow,
} from "./verify-sure.ts";

export type { Cut, Factor, SureRow } from "./verify-sure.ts";

/** An answer whose margins hold, with all that proves it. */
export interface ProvenSure extends SureCertificate {
  readonly status: "optimal";
  /** The program with the cuts as rows, in which `x` is the optimum. A cut carries the tag of the row it is for. */
  readonly program: Program;
  readonly check: SureCheck;
  /** Linear programs solved. */
  readonly rounds: number;
}

/** No point has its margins: not even the cuts can all be kept. */
export interface SureInfeasible {
  readonly status: "infeasible";
  /** Multipliers of the rows of `program` that show it. */
  readonly certificate: readonly number[];
  /** The program with the cuts as rows, which has no feasible point. */
  readonly program: Program;
  readonly cuts: readonly Cut[];
}

export type SureAnswer = ProvenSure | SureInfeasible | Unverified;

/**
 * A margin missed by less than this share of its row's size counts as kept: near the simplex's own tolerance at first;
 * where many mixes are alike and that is not reached in so many rounds, more loosely, and never more than the proof allows.
 */
const KEPT: readonly (readonly [rounds: number, share: number])[] = [
  [25, 1e-9],
  [Infinity, 1e-8],
];
/** A cut that has been slack for so many rounds is lifted. */
const IDLE_ROUNDS = 6;
/** A cut that is off its bound by less than this share of it is tight. */
const SLACK = 1e-9;
/** What has not settled after so many rounds is solved with its cones taken apart, which many columns alike do not slow. */
const MOST_ROUNDS = 50;
/** Rounds of breaking ties; after these any of the equal mixes is as good. */
const MOST_TIE_ROUNDS = 25;
/** Margins missed by less than this share of their rows are kept, on the way to others. */
const ROUGHLY = 1e-7;
/** Cuts are set round an optimum where points miss so much, relative to the size of their row, looked for so far from it. */
const MISSED = 1e-10;
const FARTHER = 1e-3;
/** Points nearer than this, of the largest weight, are the same. */
const NEARBY = 1e-6;
/** Of a cone taken apart: a tenth of what the proof allows. */
const LIFTED_KEPT = 1e-7;
/** How often a point that misses margins is looked for anew with so much more asked. */
const MOST_REPAIRS = 4;

/** A cut with the row that it adds to a program; it has the tag of the row it is for. */
interface CutRow<R extends Tag = Tag> extends Cut {
  readonly row: Row<R>;
}

function withRow<R extends Tag>(program: Program<R>, sure: readonly SureRow[], cut: Cut): CutRow<R> {
  const { row: place, z, factors } = sure[cut.sure]!;
  const row = program.rows[place]!;
  const at = new Map<number, number>();
  row.index.forEach((j, k) => {
    at.set(j, row.value[k]!);
  });
  let lower = row.lower;
  factors.forEach(({ index, value, constant }, k) => {
    const weight = z * cut.u[k]!;
    if (weight === 0) return;
    lower += weight * constant;
    index.forEach((j, i) => {
      at.set(j, (at.get(j) ?? 0) - weight * value[i]!);
    });
  });
  const terms = termsOf([...at].sort(([a], [b]) => a - b));
  return { ...cut, row: rowOf(row.tag, terms, { lower }) };
}

/**
 * The cuts that touch the cones which a point misses, one for each.
 * @returns those whose miss, relative to the size of their row, is above `kept`.
 */
export function missedCuts<R extends Tag>(
  program: Program<R>,
  sure: readonly SureRow[],
  x: readonly number[],
  kept: number,
): CutRow<R>[] {
  return sure.flatMap((one, s) => (missOf(program, one, x) > kept ? touchingCuts(program, sure, s, x) : []));
}

/** By how much a point misses a margin, relative to the size of its row. */
function missOf(program: Program, one: SureRow, x: readonly number[]): number {
  const { mean, size } = meanOf(program, one, x);
  const spread = lengthOf(spreadsAt(one.factors, x));
  return (program.rows[one.row]!.lower - (mean - one.z * spread)) / size;
}

/** The cut that touches a cone where a point is; none where nothing varies there. */
function touchingCuts<R extends Tag>(
  program: Program<R>,
  sure: readonly SureRow[],
  s: number,
  x: readonly number[],
): CutRow<R>[] {
  const v = spreadsAt(sure[s]!.factors, x);
  const length = lengthOf(v);
  return length > 0 ? [withRow(program, sure, { sure: s, u: v.map((entry) => entry / length) })] : [];
}

/** A program with cuts that are added round by round, and its simplex. */
class Cutting {
  grown: Program;
  simplex: Simplex;
  cuts: readonly CutRow[] = [];
  /** By cut: for how many rounds it has been slack. */
  readonly #idle = new Map<CutRow, number>();
  /** What the cuts were set round. */
  #middle: readonly number[] | null = null;

  constructor(
    readonly program: Program,
    readonly sure: readonly SureRow[],
    start: Priced | undefined,
  ) {
    this.grown = program;
    this.simplex = new Simplex(program);
    const near = start && sharpened(program, sure, start);
    if (start) this.simplex.crossOver(start.x);
    if (near) this.surround(near);
  }

  /** Adds cuts that a point misses, and lifts those that have long been slack. */
  add(missed: readonly CutRow[], x: readonly number[]): void {
    const idle = this.#idle;
    for (const cut of this.cuts) idle.set(cut, isSlack(cut.row, x) ? (idle.get(cut) ?? 0) + 1 : 0);
    this.#take([...this.cuts.filter((cut) => idle.get(cut)! < IDLE_ROUNDS), ...missed]);
  }

  /**
   * Sets cuts closely round an optimum that is known, each where it would be if a price were a little different: the next
   * point is a corner between them.
   * @param astray a point that these cuts leave open, where they have been set already.
   */
  surround({ x, moves, prices }: Sharp, astray?: readonly number[]): void {
    const { program, sure } = this;
    const largest = Math.max(...x);
    const same = astray && this.#middle && distance(x, this.#middle) < NEARBY * largest;
    this.#middle = x;
    const ways = same
      ? [astray.map((amount, j) => amount - x[j]!)]
      : moves.flatMap((move) => {
          const long = (FARTHER * largest) / Math.max(...move.map(Math.abs), Number.MIN_VALUE);
          return [move.map((one) => -long * one), move.map((one) => long * one)];
        });
    // What is missed grows as the square of the way.
    const points = ways.map((way) => {
      const missed = Math.max(
        MISSED,
        ...sure.map((one) =>
          missOf(
            program,
            one,
            x.map((amount, j) => amount + way[j]!),
          ),
        ),
      );
      const part = Math.sqrt(MISSED / missed);
      return x.map((amount, j) => amount + part * way[j]!);
    });
    const cuts = [x, ...points].flatMap((point) =>
      sure.flatMap((_, s) => (prices[s]! > 0 ? touchingCuts(program, sure, s, point) : [])),
    );
    this.#take([...this.cuts.filter(({ row }) => !isSlack(row, x)), ...cuts]);
  }

  #take(cuts: readonly CutRow[]): void {
    const { grown, simplex, program } = this;
    this.cuts = cuts;
    this.grown = withRows(program, cuts);
    this.simplex = new Simplex(this.grown);
    const before = new Map(grown.rows.map((row, i) => [row, i]));
    this.simplex.takeBasis(
      simplex,
      this.grown.rows.map((row) => before.get(row) ?? -1),
    );
  }
}

function distance(a: readonly number[], b: readonly number[]): number {
  return a.reduce((most, one, j) => Math.max(most, Math.abs(one - b[j]!)), 0);
}

/** A point with duals of all rows, those of cuts as prices of their margins. */
export function pricedOf(
  sure: readonly SureRow[],
  cuts: readonly Cut[],
  { x, y }: Pick<ProvenSure, "x" | "y">,
): Priced {
  const own = y.length - cuts.length;
  const prices = sure.map(() => 0);
  cuts.forEach((cut, k) => {
    prices[cut.sure]! += Math.abs(y[own + k]!);
  });
  return { x, y: y.slice(0, own), prices };
}

/**
 * About the least cost at which every margin holds, for a search that goes on from there: not proven, and ties fall as
 * they will.
 * @returns `x` is null where nothing is found; the prices are then the part that each margin has in that.
 */
export function nearlySure(
  program: Program,
  sure: readonly SureRow[],
  start?: Priced,
): Priced | { readonly x: null; readonly prices: readonly number[] } {
  const near = start && sharpened(program, sure, start);
  if (near) return near;
  const cutting = new Cutting(program, sure, start);
  let last: Priced | null = null;
  for (let rounds = 1; rounds <= MOST_ROUNDS; rounds++) {
    const found = certify(cutting.grown, cutting.simplex);
    if (found === null) break;
    if (found.status === "infeasible") {
      const y = found.certificate;
      return { x: null, prices: pricedOf(sure, cutting.cuts, { x: [], y }).prices };
    }
    last = pricedOf(sure, cutting.cuts, found);
    const missed = missedCuts(program, sure, last.x, ROUGHLY);
    const sharp = missed.length > 0 && rounds > 1 ? sharpened(program, sure, last) : null;
    if (sharp || missed.length === 0) return sharp ?? last;
    cutting.add(missed, last.x);
  }
  return last ?? { x: null, prices: sure.map(() => 0) };
}

/**
 * Finds and proves the least cost at which every margin holds.
 * @param sure rows that need a margin; those with `z` of zero are plain rows and are to be left out.
 * @param tieBreaks costs, one list after the other, that choose among equal optima.
 * @param start an optimum of the same rows with other margins, where one is known.
 */
export async function solveSure(
  program: Program,
  sure: readonly SureRow[],
  tieBreaks: readonly (readonly number[])[] = [],
  start?: Priced,
): Promise<SureAnswer> {
  const cutting = new Cutting(program, sure, start);
  // Ties are broken only once the cost is right; doing so can lead off a cone again, and then costs further cuts.
  let breaking = 0;
  let untied: SureAnswer | null = null;
  for (let rounds = 1; rounds <= MOST_ROUNDS + breaking; rounds++) {
    if (breaking > 0 && rounds - breaking > MOST_TIE_ROUNDS) break;
    const { grown, cuts } = cutting;
    const [, kept] = KEPT.find(([most]) => rounds - breaking <= most)!;
    const found = certify(grown, cutting.simplex, breaking > 0 ? tieBreaks : []);
    // Where the basis gets no further, cuts lie too close to each other.
    if (found === null) break;
    if (found.status === "infeasible") return { ...found, program: grown, cuts };
    const { x, y } = found;
    const missed = missedCuts(program, sure, x, kept);
    if (missed.length === 0) {
      const answer = proven(program, sure, { x, y, cuts, program: grown, rounds });
      if (answer.status === "unverified") break;
      if (breaking > 0 || tieBreaks.length === 0) return answer;
      untied = answer;
      breaking = rounds;
      continue;
    }
    const near = breaking === 0 && rounds > 1 ? sharpened(program, sure, pricedOf(sure, cuts, found)) : null;
    if (near) cutting.surround(near, x);
    else cutting.add(missed, x);
  }
  if (untied) return untied;
  const { Lifting } = await import("./sure-lifted.ts");
  return settleApart(program, sure, new Lifting(cutting.cuts));
}

/**
 * The least cost with every cone taken apart. A point that still misses a margin by more than the proof allows is
 * looked for again with so much more asked, and is then an answer with a gap.
 * @param lifting what was learned before of the same rows.
 */
function settleApart(program: Program, sure: readonly SureRow[], lifting: Lifting): SureAnswer {
  let asked = program;
  let bound: Pick<ProvenSure, "y" | "cuts" | "program"> | null = null;
  for (let repairs = 0; repairs <= MOST_REPAIRS; repairs++) {
    const found = lifting.solve(asked, sure, LIFTED_KEPT);
    if (found === null) break;
    const cuts = found.cuts.map((cut) => withRow(program, sure, cut));
    const grown = withRows(program, cuts);
    if (found.status === "infeasible") {
      const shown = provesInfeasible(grown, found.multipliers);
      if (bound === null && shown)
        return { status: "infeasible", certificate: shown.multipliers, program: grown, cuts };
      break;
    }
    const { x } = found;
    bound ??= { y: found.multipliers, cuts, program: grown };
    const answer = proven(program, sure, { x, ...bound, rounds: MOST_ROUNDS });
    if (answer.status === "optimal") return answer;
    asked = askingMore(asked, program, sure, x);
  }
  return { status: "unverified", reason: "no mix with all its margins was found in time" };
}

/** A program whose sure rows ask for as much more as a point misses of their margins. */
function askingMore(
  asked: Program,
  program: Program,
  sure: readonly SureRow[],
  x: readonly number[],
): Program {
  const rows = [...asked.rows];
  for (const one of sure) {
    const { lower } = program.rows[one.row]!;
    const miss = lower - (meanOf(program, one, x).mean - one.z * lengthOf(spreadsAt(one.factors, x)));
    const row = rows[one.row]!;
    if (miss > 0) rows[one.row] = { ...row, lower: row.lower + 1.5 * miss };
  }
  return { columns: asked.columns, rows };
}

function withRows(program: Program, cuts: readonly CutRow[]): Program {
  return { columns: program.columns, rows: [...program.rows, ...cuts.map(({ row }) => row)] };
}

function isSlack({ index, value, lower }: Row, x: readonly number[]): boolean {
  let sum = 0;
  for (let k = 0; k < index.length; k++) sum += value[k]! * x[index[k]!]!;
  return sum - lower > SLACK * Math.max(Math.abs(lower), Math.abs(sum));
}

/** An answer that has its margins, with the gap that is left; unverified where it has not. */
function proven(
  program: Program,
  sure: readonly SureRow[],
  found: Pick<ProvenSure, "x" | "y" | "cuts" | "program" | "rounds">,
): SureAnswer {
  const check = checkSure(program, sure, found);
  if (isSureProven(check)) return { status: "optimal", ...found, check };
  return isSureKept(check) && found.rounds >= MOST_ROUNDS
    ? { status: "optimal", ...found, check }
    : { status: "unverified", reason: "the margins of the mix could not be proven" };
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
