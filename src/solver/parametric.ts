/** A program whose costs, `c + t r`, or bounds, `b + t r`, move with a parameter. */
import { other, type Program, type Tag } from "./program.ts";
import { Simplex } from "./simplex.ts";

/** What moves with the parameter `t`, in program units per unit of `t`. */
export type Move =
  /** By column: its cost. */
  | { readonly kind: "cost"; readonly rate: readonly number[] }
  /** By row: whichever of its bounds are finite. */
  | { readonly kind: "bounds"; readonly rate: readonly number[] };

/** A stretch on which the point, the duals and the cost are linear between its ends. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly xFrom: readonly number[];
  readonly xTo: readonly number[];
  readonly yFrom: readonly number[];
  readonly yTo: readonly number[];
}

/** The program with the parameter at `t`. */
export function movedProgram<R extends Tag, C extends Tag>(
  program: Program<R, C>,
  move: Move,
  t: number,
): Program<R, C> {
  const { kind, rate } = move;
  const columns = [...program.columns];
  const rows = [...program.rows];
  for (let k = 0; k < rate.length; k++) {
    if (rate[k] === 0) continue;
    const change = t * rate[k]!;
    if (kind === "cost") columns[k] = { ...columns[k]!, cost: shifted(columns[k]!.cost, change) };
    else {
      const { lower, upper } = rows[k]!;
      rows[k] = { ...rows[k]!, lower: shifted(lower, change), upper: shifted(upper, change) };
    }
  }
  return { columns, rows };
}

/** a + b, zero where only rounding is left of it: a price that has come down to nothing is nothing; infinity stays. */
function shifted(a: number, b: number): number {
  const value = a + b;
  if (!Number.isFinite(value)) return a;
  return Math.abs(value) <= 1e-14 * Math.abs(a) ? 0 : value;
}

/** Change of the cost of a point, or of the value of bounds, per unit of the parameter. */
export function slopeOf(move: Move, x: readonly number[], y: readonly number[]): number {
  const values = move.kind === "cost" ? x : y;
  let sum = 0;
  for (let k = 0; k < move.rate.length; k++) if (move.rate[k] !== 0) sum += move.rate[k]! * values[k]!;
  return sum;
}

/**
 * The parameters `0 <= t <= length` for which anything is feasible, whatever it costs. Where bounds move: one interval, found by taking
 * `t` as a column of its own. Null where there is none.
 */
export function feasibleRange(
  program: Program,
  move: Move,
  length: number,
): { readonly from: number; readonly to: number } | null {
  if (move.kind === "cost") {
    const free = { rows: program.rows, columns: program.columns.map((column) => ({ ...column, cost: 0 })) };
    return new Simplex(free).optimise() === "optimal" ? { from: 0, to: length } : null;
  }
  const t = program.columns.length;
  const rows = program.rows.map((row, i) =>
    move.rate[i] === 0
      ? row
      : { ...row, index: [...row.index, t], value: [...row.value, -move.rate[i]! * length] },
  );
  const ends = [1, -1].map((cost) => {
    const columns = [
      ...program.columns.map((column) => ({ ...column, cost: 0 })),
      { tag: other("parameter"), cost, upper: 1 },
    ];
    const simplex = new Simplex({ columns, rows });
    return simplex.optimise() === "optimal" ? simplex.point()[t]! * length : null;
  });
  const [from, to] = ends as [number | null, number | null];
  return from === null || to === null ? null : { from, to };
}
