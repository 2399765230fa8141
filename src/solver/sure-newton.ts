/**
 * The optimum with margins, sharpened from a point near it: which columns are used, which rows and cones hold it, and then
 * Newton's steps on what an optimum there must keep (Karush, Kuhn and Tucker). Where a step shows that another column, row
 * or cone has a part in it, or one of these none, the set is changed and it goes on. Cutting planes alone come near an
 * optimum between their corners by a constant factor at a time; this squares what is missing. Nothing is proven here.
 */

import { lengthOf, meanOf, spreadsAt } from "./margin.ts";
import type { Program } from "./program.ts";
import type { Factor, SureRow } from "./verify-sure.ts";

/** A point with the prices of rows and of margins. */
export interface Priced {
  readonly x: readonly number[];
  /** Change of cost per unit of each row's bound, without the margins. */
  readonly y: readonly number[];
  /** The same by margin: of the row that it is for. */
  readonly prices: readonly number[];
}

const MOST_STEPS = 12;
const MOST_CHANGES = 16;
/** A step of less than this share of the point is the last. */
const SETTLED = 1e-11;
/** What is missed by less than this share of its size is kept. */
const KEPT = 1e-9;
/** A pivot below this share of its column says that the point is not the only one. */
const SINGULAR = 1e-11;

/** An optimum. */
export interface Sharp extends Priced {
  /** How its weights move where the price of each column that is used moves; none where it is a corner. */
  readonly moves: readonly (readonly number[])[];
}

/** What holds the optimum: columns between their bounds, rows at one, margins. */
interface Held {
  readonly columns: Set<number>;
  /** The bound that a row is at. */
  readonly rows: Map<number, number>;
  readonly margins: Set<number>;
}

/**
 * The optimum near a point.
 * @returns null where none is found near it, or it is not the only one.
 */
export function sharpened(program: Program, sure: readonly SureRow[], near: Priced): Sharp | null {
  const held = heldAt(program, near);
  let from = near;
  for (let changes = 0; changes < MOST_CHANGES; changes++) {
    const at = stepped(program, sure, from, held);
    if (at === null) return null;
    const worst = worstFault(program, sure, at, held);
    if (worst === null) return at;
    worst();
    from = { ...at, x: at.x.map((amount, j) => Math.min(Math.max(amount, 0), program.columns[j]!.upper)) };
  }
  return null;
}

function heldAt({ columns, rows }: Program, { x, y, prices }: Priced): Held {
  const largest = Math.max(...x);
  const inside = columns.flatMap(({ upper }, j) =>
    x[j]! > KEPT * largest && x[j]! < upper - KEPT * largest ? [j] : [],
  );
  const tight = rows.flatMap(({ lower, upper }, i) =>
    lower === upper || y[i] !== 0 ? [[i, y[i]! < 0 ? upper : lower] as const] : [],
  );
  return {
    columns: new Set(inside),
    rows: new Map(tight.filter(([, bound]) => Number.isFinite(bound))),
    margins: new Set(prices.flatMap((price, s) => (price > 0 ? [s] : []))),
  };
}

/** Newton's steps with what holds the optimum kept as it is; null where they do not settle. */
function stepped(program: Program, sure: readonly SureRow[], from: Priced, held: Held): Sharp | null {
  const columns = [...held.columns];
  const rows = [...held.rows];
  const margins = [...held.margins];
  const n = columns.length;
  const size = n + rows.length + margins.length;
  const place = new Map(columns.map((j, k) => [j, k]));
  const x = [...from.x];
  let prices = margins.map((s) => from.prices[s]!);
  for (let step = 0; step < MOST_STEPS; step++) {
    const system = Array.from({ length: size }, () => new Float64Array(size + 1 + n));
    columns.forEach((j, k) => {
      system[k]![size] = program.columns[j]!.cost;
      system[k]![size + 1 + k] = 1;
    });
    // A row of what is kept: its gradient, and what is missing of it.
    const keep = (r: number, gradient: ReadonlyMap<number, number>, missing: number): void => {
      system[n + r]![size] = missing;
      for (const [j, value] of gradient) {
        const k = place.get(j);
        if (k !== undefined) system[n + r]![k] = system[k]![n + r] = value;
      }
    };
    rows.forEach(([i, bound], r) => {
      const { index, value } = program.rows[i]!;
      keep(r, new Map(index.map((j, k) => [j, value[k]!])), bound - sumOf(index, value, x));
    });
    margins.forEach((s, k) => {
      const { gradient, short, u, length } = marginAt(program, sure[s]!, x);
      keep(rows.length + k, gradient, short);
      bend(system, sure[s]!, place, u, (prices[k]! * sure[s]!.z) / length);
    });
    const [found, ...moves] = solved(system);
    if (found === undefined) return null;
    const largest = columns.reduce((most, j) => Math.max(most, Math.abs(x[j]!)), 0);
    let moved = 0;
    columns.forEach((j, k) => {
      x[j]! += found[k]!;
      moved = Math.max(moved, Math.abs(found[k]!));
    });
    prices = margins.map((_, k) => found[n + rows.length + k]!);
    if (!(moved <= 1e6 * largest)) return null;
    if (moved <= SETTLED * largest) {
      const y = program.rows.map(() => 0);
      rows.forEach(([i], r) => {
        y[i] = found[n + r]!;
      });
      const all = sure.map(() => 0);
      margins.forEach((s, k) => {
        all[s] = prices[k]!;
      });
      const corner = size >= 2 * n;
      const whole = (move: Float64Array): number[] => {
        const by = program.columns.map(() => 0);
        columns.forEach((j, k) => {
          by[j] = move[k]!;
        });
        return by;
      };
      return { x, y, prices: all, moves: corner ? [] : moves.map(whole) };
    }
  }
  return null;
}

/** What a margin comes to at a point: its gradient, what is missing of it, the direction and length of its spread. */
function marginAt(program: Program, margin: SureRow, x: readonly number[]) {
  const { index, value, lower } = program.rows[margin.row]!;
  const v = spreadsAt(margin.factors, x);
  const length = lengthOf(v);
  const u = v.map((entry) => entry / length);
  const gradient = new Map(index.map((j, k) => [j, value[k]!]));
  margin.factors.forEach((factor, f) => {
    factor.index.forEach((j, k) => {
      gradient.set(j, (gradient.get(j) ?? 0) - margin.z * u[f]! * factor.value[k]!);
    });
  });
  return { gradient, short: lower - (sumOf(index, value, x) - margin.z * length), u, length };
}

/** Adds how a margin's gradient bends, times a weight; with the sign that costs, on the other side, have. */
function bend(
  system: readonly Float64Array[],
  { factors }: SureRow,
  place: ReadonlyMap<number, number>,
  u: readonly number[],
  weight: number,
): void {
  const within = ({ index, value }: Factor): (readonly [number, number])[] =>
    index.flatMap((j, k) => {
      const at = place.get(j);
      return at === undefined ? [] : [[at, value[k]!] as const];
    });
  const along = new Map<number, number>();
  factors.forEach((factor, f) => {
    const terms = within(factor);
    for (const [a, value] of terms) {
      along.set(a, (along.get(a) ?? 0) + u[f]! * value);
      for (const [b, other] of terms) system[a]![b]! -= weight * value * other;
    }
  });
  for (const [a, value] of along) for (const [b, other] of along) system[a]![b]! += weight * value * other;
}

function sumOf(index: readonly number[], value: readonly number[], x: readonly number[]): number {
  let sum = 0;
  for (let k = 0; k < index.length; k++) sum += value[k]! * x[index[k]!]!;
  return sum;
}

/** The solutions of a system for each of its right sides (Gauss, partial pivoting); none where they are not the only ones. */
function solved(system: readonly Float64Array[]): Float64Array[] {
  const size = system.length;
  const rows = [...system];
  const width = rows[0]?.length ?? 0;
  for (const row of rows) {
    let largest = 0;
    for (let k = 0; k < size; k++) largest = Math.max(largest, Math.abs(row[k]!));
    if (!(largest > 0)) return [];
    for (let k = 0; k < width; k++) row[k]! /= largest;
  }
  for (let c = 0; c < size; c++) {
    let best = c;
    for (let r = c + 1; r < size; r++) if (Math.abs(rows[r]![c]!) > Math.abs(rows[best]![c]!)) best = r;
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    const pivot = rows[c]!;
    if (!(Math.abs(pivot[c]!) > SINGULAR)) return [];
    for (let r = 0; r < size; r++) {
      const row = rows[r]!;
      const factor = row[c]! / pivot[c]!;
      if (r !== c && factor !== 0) for (let k = c; k < width; k++) row[k]! -= factor * pivot[k]!;
    }
  }
  return Array.from({ length: width - size }, (_, side) =>
    Float64Array.from(rows, (row, c) => row[size + side]! / row[c]!),
  );
}

/** The worst of what an optimum must keep and this point does not: how to change what holds it; null where all is kept. */
function worstFault(
  program: Program,
  sure: readonly SureRow[],
  { x, y, prices }: Priced,
  held: Held,
): (() => void) | null {
  const { columns, rows, margins } = held;
  let worst = KEPT;
  let change: (() => void) | null = null;
  const fault = (size: number, mend: () => void): void => {
    if (size > worst) [worst, change] = [size, mend];
  };
  const largest = Math.max(...x, Number.MIN_VALUE);
  const costs = program.columns.map(({ cost }) => cost);
  const sizes = costs.map(Math.abs);
  const take = (gradient: Iterable<readonly [number, number]>, price: number): void => {
    for (const [j, value] of gradient) {
      costs[j]! -= price * value;
      sizes[j] = Math.max(sizes[j]!, Math.abs(price * value));
    }
  };
  program.rows.forEach(({ index, value, lower, upper }, i) => {
    if (y[i] !== 0)
      take(
        index.map((j, k) => [j, value[k]!] as const),
        y[i]!,
      );
    const sum = sumOf(index, value, x);
    const bound = rows.get(i);
    if (bound !== undefined) {
      const wrong = bound === lower ? -y[i]! : y[i]!;
      if (lower !== upper && wrong > 0) fault(1, () => rows.delete(i));
      return;
    }
    const size = index.reduce((most, j, k) => Math.max(most, Math.abs(value[k]! * x[j]!)), 1e-12);
    fault((lower - sum) / Math.max(size, Math.abs(lower)), () => rows.set(i, lower));
    fault((sum - upper) / Math.max(size, Math.abs(upper)), () => rows.set(i, upper));
  });
  sure.forEach((margin, s) => {
    if (margins.has(s)) {
      take(marginAt(program, margin, x).gradient, prices[s]!);
      if (prices[s]! <= 0) fault(1, () => margins.delete(s));
      return;
    }
    const { mean, size } = meanOf(program, margin, x);
    const short =
      program.rows[margin.row]!.lower - (mean - margin.z * lengthOf(spreadsAt(margin.factors, x)));
    fault(short / size, () => margins.add(s));
  });
  program.columns.forEach(({ upper }, j) => {
    if (columns.has(j)) {
      fault(-x[j]! / largest, () => columns.delete(j));
      fault((x[j]! - upper) / largest, () => columns.delete(j));
    } else {
      const gain = x[j]! > 0 ? costs[j]! : -costs[j]!;
      fault(gain / Math.max(sizes[j]!, Number.MIN_VALUE), () => columns.add(j));
    }
  });
  return change;
}
