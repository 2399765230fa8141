/**
 * The least cost along a move as a function: its exact breakpoints, and what must be true of it.
 *
 * Along bounds the least cost is convex and piecewise linear, along costs concave (Gal and Nedoma 1972, Management
 * Science 18:406-422). Tangents from proven optima are intersected until no cost lies off them (Eisner and Severance 1976,
 * Journal of the ACM 23:619-635). What is not so shaped, does not join, or is not proven at both ends of every stretch is
 * wrong somewhere.
 */
import { type Move, movedProgram, type Stretch, slopeOf } from "./parametric.ts";
import type { Program } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { type CertifiedOptimum, certify } from "./solve.ts";
import { boundWithin, checkAnswer, costOf, isProven, provesInfeasible } from "./verify.ts";

/** Differences of cost below this share of the largest cost are rounding. */
const SAME = 1e-7;
/** Tangents nearer than this to a cost, relative to the largest, pass through it. */
const TOUCHES = 1e-9;
/** Values nearer than this share of the way are the same. */
const SHORTEST = 1e-10;
/** Stretches of fewer steps than this are not halved for the sake of ties. */
const NARROW = 1000;
/** Programs solved at most. */
const MOST_SOLVED = 4000;

/** What is wrong with stretches as a least cost along a move; null where nothing is. */
export function faultOf(program: Program, move: Move, stretches: readonly Stretch[]): string | null {
  const sign = move.kind === "bounds" ? 1 : -1;
  const ends = stretches.map((s) => {
    const [first, last] = [movedProgram(program, move, s.from), movedProgram(program, move, s.to)];
    return {
      stretch: s,
      costs: [costOf(first, s.xFrom), costOf(last, s.xTo)] as const,
      slope: slopeOf(move, s.xFrom, s.yFrom),
      proven: isProven(checkAnswer(first, s.xFrom, s.yFrom)) && isProven(checkAnswer(last, s.xTo, s.yTo)),
    };
  });
  const scale = SAME * Math.max(0, ...ends.flatMap(({ costs }) => costs.map(Math.abs)));
  const length = stretches.length > 0 ? stretches.at(-1)!.to - stretches[0]!.from : 0;
  for (const [k, { stretch, costs, slope, proven }] of ends.entries()) {
    if (!proven) return "an end of a stretch is not proven";
    if (Math.abs(costs[1] - costs[0] - slope * (stretch.to - stretch.from)) > scale)
      return "the slope of a stretch is not that of its ends";
    const before = ends[k - 1];
    if (!before) continue;
    if (
      Math.abs(before.costs[1] - costs[0]) > scale ||
      Math.abs(before.stretch.to - stretch.from) > SHORTEST * length
    )
      return "stretches do not join";
    const shorter = Math.min(stretch.to - stretch.from, before.stretch.to - before.stretch.from);
    if (sign * (slope - before.slope) * shorter < -scale) return "the cost bends the wrong way";
  }
  return null;
}

/** Puts a simplex of a program where a move has it. */
function place(simplex: Simplex, { kind }: Move, { columns, rows }: Program): void {
  if (kind === "cost") simplex.setCosts(columns.map(({ cost }) => cost));
  else
    rows.forEach((row, i) => {
      simplex.setRowBounds(i, row.lower, row.upper);
    });
}

/** A cost at one value of the parameter, and how it changes there. */
interface Line {
  readonly cost: number;
  readonly slope: number;
}

/** The least cost at one value of the parameter, and how it changes there. */
export interface Tangent extends Line {
  readonly t: number;
  /** Costs that choose among equals, one after the other: each bends where those before it run straight. */
  readonly ties?: readonly Line[];
}

/** A stretch between two values on which the cost is that of one line. */
export interface Piece<T extends Tangent> {
  readonly line: T;
  readonly from: T;
  readonly to: T;
}

const linesOf = (at: Tangent): readonly Line[] => [at, ...(at.ties ?? [])];

/** Whether a cost of another value lies on the line at one: the least cost within `size`, one that breaks ties within its own. */
function liesOn(one: Tangent, other: Tangent, k: number, size: number): boolean {
  const [{ cost, slope }, there] = [linesOf(one)[k]!, linesOf(other)[k]!.cost];
  const within = k === 0 ? size : SAME * Math.max(Math.abs(cost), Math.abs(there));
  return Math.abs(cost + slope * (other.t - one.t) - there) <= within;
}

/**
 * The lines of a least cost between two values: where the lines at both ends meet it is looked up, until it lies on them.
 * @param at looks it up; null ends the search.
 * @param size costs nearer than this are the same; `step`: values.
 */
export async function piecesBetween<T extends Tangent>(
  a: T,
  b: T,
  at: (t: number) => T | null | Promise<T | null>,
  size: number,
  step: number,
): Promise<Piece<T>[] | null> {
  const straight = { line: liesOn(a, b, 0, size) ? a : b, from: a, to: b };
  const bend = linesOf(a).findIndex((_, k) => !liesOn(a, b, k, size) && !liesOn(b, a, k, size));
  if (bend < 0) return [straight];
  const [left, right] = [linesOf(a)[bend]!, linesOf(b)[bend]!];
  const gap = right.cost - right.slope * (b.t - a.t) - left.cost;
  let meet = a.t + gap / (left.slope - right.slope);
  if (!(meet > a.t + step && meet < b.t - step)) {
    if (bend === 0) return [meet >= b.t - step ? { ...straight, line: a } : straight];
    // At a bend of the cost itself, what breaks ties may be known to the other side alone.
    if (b.t - a.t < NARROW * step) return [straight];
    meet = (a.t + b.t) / 2;
  }
  const middle = await at(meet);
  if (!middle) return null;
  const before = await piecesBetween(a, middle, at, size, step);
  const after = before && (await piecesBetween(middle, b, at, size, step));
  return before && after && [...before, ...after];
}

/**
 * The stretches of the least cost from `from` to `to`, by tangents.
 * @returns null where an optimum on the way could not be proven.
 */
export async function traceByTangents(
  program: Program,
  tieBreaks: readonly (readonly number[])[],
  move: Move,
  from: number,
  to: number,
): Promise<Stretch[] | null> {
  const simplex = new Simplex(program);
  const costs = program.columns.map(({ cost }) => cost);
  let solved = 0;
  const solve = (t: number): (Tangent & CertifiedOptimum) | null => {
    if (solved++ > MOST_SOLVED) return null;
    const moved = movedProgram(program, move, t);
    if (move.kind === "bounds") simplex.setCosts(costs);
    place(simplex, move, moved);
    const answer = certify(moved, simplex, tieBreaks);
    if (answer?.status !== "optimal") return null;
    const { x, y, check } = answer;
    // Along a price, the mixes of equal cost stay the same from one bend to the next.
    const ties = (move.kind === "bounds" ? tieBreaks : []).map((liked) => {
      simplex.setCosts(liked);
      const cost = liked.reduce((sum, one, j) => sum + one * x[j]!, 0);
      return { cost, slope: slopeOf(move, [], simplex.duals()) };
    });
    return { ...answer, t, cost: check.cost, slope: slopeOf(move, x, y), ties };
  };
  const [first, last] = [solve(from), solve(to)];
  if (!first || !last) return null;
  const size = TOUCHES * Math.max(Math.abs(first.cost), Math.abs(last.cost), Number.MIN_VALUE);
  const pieces = await piecesBetween(first, last, solve, size, SHORTEST * (to - from));
  const joined: Piece<Tangent & CertifiedOptimum>[] = [];
  for (const piece of pieces ?? []) {
    const before = joined.at(-1);
    if (before && isStraight(before.from, piece.from, piece.to, size))
      joined[joined.length - 1] = { ...before, to: piece.to };
    else joined.push(piece);
  }
  const stretches = joined.map(({ line: { x, y }, from: a, to: b }) => ({
    from: a.t,
    to: b.t,
    ...(move.kind === "cost"
      ? { xFrom: x, xTo: x, yFrom: a.y, yTo: b.y }
      : { xFrom: a.x, xTo: b.x, yFrom: y, yTo: y }),
  }));
  return pieces && stretches;
}

/** Whether nothing bends at one value between two others. */
function isStraight(a: Tangent, between: Tangent, b: Tangent, size: number): boolean {
  const part = (between.t - a.t) / (b.t - a.t);
  return linesOf(between).every(({ cost }, k) => {
    const [start, end] = [linesOf(a)[k]!.cost, linesOf(b)[k]!.cost];
    const within = k === 0 ? size : SAME * Math.max(Math.abs(start), Math.abs(end));
    return Math.abs(start + part * (end - start) - cost) <= within;
  });
}

/** What lies further off than so many times a number of a plan is without end. */
const FAR = 1000;
/** Tangents on the way from far off to the first bend. */
const MOST_BENDS = 200;

/** The optimum of a program, and how its cost changes to each side of it when costs or bounds move. */
export class ValueFunction {
  readonly #program: Program;
  readonly #optimum: CertifiedOptimum;
  /** At the optimum, with the program's own bounds and costs. */
  readonly #home: Simplex;
  readonly #simplex: Simplex;

  private constructor(program: Program, home: Simplex, optimum: CertifiedOptimum) {
    this.#program = program;
    this.#home = home;
    this.#optimum = optimum;
    this.#simplex = new Simplex(program);
  }

  /**
   * @param x an optimal point to begin from, if one is known.
   * @returns null where the optimum could not be proven.
   */
  static of(
    program: Program,
    tieBreaks: readonly (readonly number[])[] = [],
    x?: readonly number[],
  ): ValueFunction | null {
    const home = new Simplex(program);
    if (x) home.crossOver(x);
    const optimum = certify(program, home, tieBreaks);
    return optimum?.status === "optimal" ? new ValueFunction(program, home, optimum) : null;
  }

  /** The least cost with a move made so far; null where nothing fits, or the arithmetic did not hold up. */
  costAt(move: Move, t: number): number | null {
    return this.#at(move, t)?.cost ?? null;
  }

  #at(move: Move, t: number): Tangent | null {
    const simplex = this.#simplex;
    const moved = movedProgram(this.#program, move, t);
    simplex.copyFrom(this.#home);
    place(simplex, move, moved);
    if (simplex.optimise() !== "optimal") return null;
    const x = simplex.point();
    return { t, cost: costOf(moved, x), slope: slopeOf(move, x, simplex.duals()) };
  }

  /**
   * The farthest point up to `end` at which anything fits: what the rows that rule one out ask for beyond what there is falls
   * with the move, to nothing where the next is tried. Null where the arithmetic did not hold up.
   */
  #farthest(move: Move, end: number): Tangent | null {
    let t = end;
    for (let bend = 0; bend < MOST_BENDS; bend++) {
      const here = this.#at(move, t);
      const ray = this.#simplex.ray();
      if (here || !ray || move.kind === "cost") return here;
      const moved = movedProgram(this.#program, move, t);
      const shown = provesInfeasible(moved, ray);
      const free = { ...moved, columns: moved.columns.map((column) => ({ ...column, cost: 0 })) };
      let speed = 0;
      for (const i of shown?.rows ?? []) speed += shown!.multipliers[i]! * move.rate[i]!;
      const less = shown && speed > 0 ? boundWithin(free, shown.multipliers) / speed : 0;
      t = Math.min(t - less, t * (1 - TOUCHES));
      if (t <= 0) return { t: 0, cost: this.#optimum.check.cost, slope: Infinity };
    }
    return null;
  }

  /**
   * How far a move can go before the cost stops changing at its first rate: for costs the rate at the optimum as it is, for
   * bounds the true one to that side. It is looked for from far off: where the tangent there meets the first line, the next
   * one is taken, until the cost lies on the first line (Newton's method, which ends on a cost of straight pieces).
   * @param length the parameter's own size.
   * @param end where to stop looking; absent: far off.
   * @returns the rate (Infinity: nothing is feasible any further) and where it ends (Infinity: not before `end`). Null where
   *   the arithmetic did not hold up.
   */
  reach(
    move: Move,
    length: number,
    end = FAR * length,
  ): { readonly slope: number; readonly until: number } | null {
    const { x, y, check } = this.#optimum;
    const { cost } = check;
    const size = TOUCHES * Math.max(Math.abs(cost), check.costScale);
    let slope = slopeOf(move, x, y);
    let far = this.#farthest(move, end);
    if (far && far.t <= TOUCHES * length) return { slope: Infinity, until: 0 };
    let until = far && far.t < end ? far.t : Infinity;
    let beyond: Tangent | null = null;
    for (let bend = 0; far && bend < MOST_BENDS; bend++) {
      const lost = 1e-13 * Math.abs(far.cost);
      if (Math.abs(far.cost - cost - slope * far.t) <= size + lost) return { slope, until };
      const start = far.cost - far.slope * far.t;
      // At a corner the first line of moving bounds is steeper than what the duals there say.
      if (move.kind === "bounds" && Math.abs(start - cost) <= size + lost) {
        slope = far.slope;
        if (!beyond) return { slope, until };
      } else beyond = far;
      until = (beyond.cost - beyond.slope * beyond.t - cost) / (slope - beyond.slope);
      if (!(until > TOUCHES * length)) return { slope, until: 0 };
      far = this.#at(move, until);
    }
    return null;
  }

  /** The optimal point at which a cost that breaks ties is greatest; null where it has no end among the optimal points. */
  worstOf(costs: readonly number[]): number[] | null {
    const simplex = this.#simplex;
    simplex.copyFrom(this.#home);
    simplex.fixOptimalFace();
    simplex.setCosts(costs.map((cost) => -cost));
    return simplex.optimise() === "optimal" ? simplex.point() : null;
  }
}
