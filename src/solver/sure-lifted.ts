/**
 * The same program with margins, each cone taken apart: where many factors or many columns are alike, cuts of the whole
 * cone (`sure.ts`) come ever closer to each other and do not settle. Here every factor k of a margin has a column t_k of
 * its own, and their sum a column s for the spread:
 *
 *     mean(x) - z s >= lower,    s >= sum t_k,    t_k >= v_k(x)^2 / s
 *
 * and the last is held by tangents t_k >= 2 u v_k(x) - u^2 s, with one number u each. Where a cut of a cone is right for
 * one direction, these are right for every combination of theirs (Vielma, Dunning, Huchette and Lubin 2017, Math. Prog.
 * Computation 9:369, from memory).
 *
 * With duals l of a factor's tangents and y of the margin, u_k = 2 sum(l u) / (z y) is one cut of the whole cone with the
 * same bound: its length is at most 1 by the duals' own conditions. So whatever is found here is handed back as cuts of
 * cones, and proven as those are.
 */

import { lengthOf, meanOf, spreadsAt } from "./margin.ts";
import { type Column, other, type Program, type Row, rowOf, termsOf } from "./program.ts";
import { Simplex, type SimplexStatus } from "./simplex.ts";
import type { Cut, SureRow } from "./verify-sure.ts";

/** A tangent of one factor of one margin. */
interface Tangent {
  readonly sure: number;
  readonly factor: number;
  readonly u: number;
}

/** A claim: a point with duals, or multipliers of rows that cannot all be kept; and a cut for each margin with a part in it. */
export interface Lifted {
  readonly status: "optimal" | "infeasible";
  /** Of the program's own columns; of no meaning where infeasible. */
  readonly x: readonly number[];
  /** Of the program's rows, then of the cuts. */
  readonly multipliers: readonly number[];
  readonly cuts: readonly Cut[];
}

const MOST_ROUNDS = 80;
/** Tangents nearer than this say the same: what lies between them is a square of it. */
const SAME = 1e-4;
/** A tangent that has been slack for so many rounds is lifted. */
const IDLE_ROUNDS = 2;
/** A cut that is off its bound by less than this share of it is tight. */
const SLACK = 1e-9;

/**
 * Solves programs with the same columns, each cone taken apart; margins and bounds may differ from one to the next, for a
 * tangent holds whatever they are. Nothing is proven here.
 */
export class Lifting {
  #tangents: Tangent[] = [];
  /** For how many rounds each has been slack. */
  readonly #idle = new Map<Tangent, number>();
  #last: { readonly simplex: Simplex; readonly tangents: readonly Tangent[] } | null = null;

  /** @param first directions to begin with. */
  constructor(first: readonly Cut[] = []) {
    for (const one of first.flatMap(tangentsOf)) if (isNew(one, this.#tangents)) this.#tangents.push(one);
  }

  /**
   * @param sure the same rows with the same factors each time.
   * @param kept a margin missed by less than this share of its row counts as kept.
   * @returns the last program that was solved, whose point may miss margins by more than `kept` if it did not settle; null
   *   where the simplex came to nothing at all.
   */
  solve(program: Program, sure: readonly SureRow[], kept: number): Lifted | null {
    const frame = frameOf(program, sure);
    const base = program.rows.length + 2 * sure.length;
    const idle = this.#idle;
    let last: Lifted | null = null;
    for (let rounds = 1; rounds <= MOST_ROUNDS; rounds++) {
      const simplex = this.#simplexOf(withTangents(program, sure, frame, this.#tangents), base);
      const status = optimised(simplex);
      if (status === "unbounded") return last;
      if (status === "infeasible")
        return merged(program, sure, this.#tangents, { status, x: [], multipliers: simplex.ray()! });
      const x = simplex.point();
      last = merged(program, sure, this.#tangents, { status: "optimal", x, multipliers: simplex.duals() });
      const added = missing(program, sure, x, kept).filter((one) => isNew(one, this.#tangents));
      if (added.length === 0) return last;
      for (const one of this.#tangents)
        idle.set(one, slackOf(sure, frame, one, x) > SLACK ? (idle.get(one) ?? 0) + 1 : 0);
      const stay = this.#tangents.filter((one) => idle.get(one)! < IDLE_ROUNDS);
      this.#tangents = [...stay, ...added];
    }
    return last;
  }

  /** A simplex of a program, from the basis of the one before. */
  #simplexOf(program: Program, base: number): Simplex {
    const simplex = new Simplex(program);
    const before = this.#last;
    if (before) {
      const place = new Map(before.tangents.map((one, k) => [one, base + k]));
      simplex.takeBasis(
        before.simplex,
        program.rows.map((_, i) => (i < base ? i : (place.get(this.#tangents[i - base]!) ?? -1))),
      );
    }
    this.#last = { simplex, tangents: this.#tangents };
    return simplex;
  }
}

/** Takes a simplex as far as it goes: where it gets stuck, once more from nothing. */
function optimised(simplex: Simplex): SimplexStatus {
  const status = simplex.optimise();
  if (status === "optimal") return status;
  if (status === "infeasible") {
    // A basis that has drifted says so at times.
    simplex.refactor();
    return simplex.optimise();
  }
  simplex.startFromLogicals();
  return simplex.optimise();
}

/** Tangents at a point for the margins that it misses. */
function missing(program: Program, sure: readonly SureRow[], x: readonly number[], kept: number): Tangent[] {
  return sure.flatMap((margin, s): Tangent[] => {
    const v = spreadsAt(margin.factors, x);
    const length = lengthOf(v);
    const { mean, size } = meanOf(program, margin, x);
    const miss = program.rows[margin.row]!.lower - (mean - margin.z * length);
    if (!(length > 0) || !(miss > kept * size)) return [];
    return tangentsOf({ sure: s, u: v.map((entry) => entry / length) });
  });
}

function tangentsOf({ sure, u }: Cut): Tangent[] {
  return u.flatMap((entry, factor) => (entry === 0 ? [] : [{ sure, factor, u: entry }]));
}

function isNew({ sure, factor, u }: Tangent, among: readonly Tangent[]): boolean {
  return !among.some((one) => one.sure === sure && one.factor === factor && Math.abs(one.u - u) < SAME);
}

/** Where the columns of the spreads and of the factors are. */
interface Frame {
  readonly columns: readonly Column[];
  readonly spread: readonly number[];
  readonly factors: readonly (readonly number[])[];
}

function frameOf(program: Program, sure: readonly SureRow[]): Frame {
  const columns: Column[] = [...program.columns];
  const add = (label: string): number => columns.push({ tag: other(label), cost: 0, upper: Infinity }) - 1;
  const spread = sure.map(() => add("spread"));
  const factors = sure.map((margin) => margin.factors.map(() => add("factor")));
  return { columns, spread, factors };
}

function withTangents(
  program: Program,
  sure: readonly SureRow[],
  { columns, spread, factors }: Frame,
  tangents: readonly Tangent[],
): Program {
  const rows: Row[] = [...program.rows];
  sure.forEach((margin, s) => {
    const { tag, index, value, lower } = program.rows[margin.row]!;
    rows.push(
      rowOf(
        tag,
        { index: [...index, spread[s]!], value: [...value, -margin.z] },
        { lower, scale: scaleOf(program, margin) },
      ),
    );
  });
  sure.forEach((_, s) => {
    const terms = termsOf([[spread[s]!, 1], ...factors[s]!.map((t) => [t, -1] as const)]);
    rows.push(rowOf(other("sum of squares"), terms, { lower: 0 }));
  });
  for (const { sure: s, factor, u } of tangents) {
    const { index, value, constant } = sure[s]!.factors[factor]!;
    const terms = termsOf([
      ...index.map((j, k) => [j, -2 * u * value[k]!] as const),
      [spread[s]!, u * u],
      [factors[s]![factor]!, 1],
    ]);
    rows.push(rowOf(other("tangent"), terms, { lower: 2 * u * constant }));
  }
  return { columns, rows };
}

function scaleOf(program: Program, { row }: SureRow): number {
  const { lower, scale = 0 } = program.rows[row]!;
  return Math.max(Math.abs(lower), scale);
}

function slackOf(
  sure: readonly SureRow[],
  { spread, factors }: Frame,
  { sure: s, factor, u }: Tangent,
  x: readonly number[],
): number {
  const [v] = spreadsAt([sure[s]!.factors[factor]!], x);
  const length = x[spread[s]!]!;
  return (x[factors[s]![factor]!]! - 2 * u * v! + u * u * length) / Math.max(length, Number.MIN_VALUE);
}

/** A claim about the program taken apart as one about the program with a cut for each margin. */
function merged(
  program: Program,
  sure: readonly SureRow[],
  tangents: readonly Tangent[],
  { status, x, multipliers }: Omit<Lifted, "cuts">,
): Lifted {
  const own = program.rows.length;
  const base = own + 2 * sure.length;
  // Multipliers of rows that cannot all be kept may come with either sign.
  const sign =
    multipliers.slice(own, own + sure.length).some((y) => y < 0) && status === "infeasible" ? -1 : 1;
  const cuts: Cut[] = [];
  const prices: number[] = [];
  sure.forEach((margin, s) => {
    const y = sign * multipliers[own + s]!;
    if (!(y > 0)) return;
    const u = margin.factors.map(() => 0);
    tangents.forEach((one, k) => {
      const price = Math.max(0, sign * multipliers[base + k]!);
      if (one.sure === s) u[one.factor]! += (2 * price * one.u) / (margin.z * y);
    });
    const length = lengthOf(u);
    cuts.push({ sure: s, u: length > 1 ? u.map((entry) => entry / length) : u });
    prices.push(y);
  });
  const plain = multipliers.slice(0, own).map((y) => sign * y);
  return { status, x: x.slice(0, program.columns.length), multipliers: [...plain, ...prices], cuts };
}
