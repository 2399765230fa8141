/**
 * A basis and its dense inverse, for programs of at most a few hundred rows.
 *
 * Row i of the program reads a_i.x - s_i = 0: variables 0..n-1 are its columns, n..n+m-1 the logicals s_i, whose column
 * is minus the unit vector.
 */
import type { ScaledMatrix } from "./matrix.ts";

/** Pivots smaller than this are not taken when a basis is inverted again. */
const SINGULAR = 1e-9;

export class Basis {
  readonly m: number;
  /** Variable in each position. */
  readonly head: Int32Array;
  /** Position of a variable, -1 where it is nonbasic. */
  readonly position: Int32Array;
  /** By rows: row r holds what position r takes of each row of the program. */
  readonly inverse: Float64Array;
  /** Exchanges since the inverse was worked out again. */
  sinceFactor = 0;
  /** Exchanges so far, for benchmarks. */
  pivots = 0;
  private readonly filled: Int32Array;
  /** Entries of a column in rows whose logical is not basic. */
  private readonly tight: Int32Array;
  private readonly matrix: ScaledMatrix;

  constructor(matrix: ScaledMatrix) {
    this.matrix = matrix;
    const { n, m } = matrix;
    this.m = m;
    this.head = new Int32Array(m);
    this.position = new Int32Array(n + m);
    this.inverse = new Float64Array(m * m);
    this.filled = new Int32Array(m);
    this.tight = new Int32Array(m);
    this.takeLogicals();
  }

  /** Makes the logicals the basis. */
  takeLogicals(): void {
    const { m } = this;
    const { n } = this.matrix;
    this.position.fill(-1);
    this.inverse.fill(0);
    for (let i = 0; i < m; i++) {
      this.head[i] = n + i;
      this.position[n + i] = i;
      this.inverse[i * m + i] = -1;
    }
    this.sinceFactor = 0;
  }

  /** Takes over the state of a basis of the same matrix. */
  copyFrom(other: Basis): void {
    this.head.set(other.head);
    this.position.set(other.position);
    this.inverse.set(other.inverse);
    this.sinceFactor = other.sinceFactor;
  }

  /**
   * out = inverse times the column of variable j. Where the logical of a row is basic, the row's column of the inverse is
   * minus a unit vector, exactly: such entries matter in one position each, and most entries are such.
   */
  column(j: number, out: Float64Array): void {
    const { m, inverse, position, tight } = this;
    const { n, start, rowOf, value } = this.matrix;
    if (j >= n) {
      const i = j - n;
      for (let r = 0; r < m; r++) out[r] = -inverse[r * m + i]!;
      return;
    }
    const from = start[j]!;
    const to = start[j + 1]!;
    let count = 0;
    for (let k = from; k < to; k++) if (position[n + rowOf[k]!]! < 0) tight[count++] = k;
    for (let r = 0; r < m; r++) {
      const base = r * m;
      let sum = 0;
      for (let c = 0; c < count; c++) {
        const k = tight[c]!;
        sum += inverse[base + rowOf[k]!]! * value[k]!;
      }
      out[r] = sum;
    }
    for (let own = from; own < to; own++) {
      const r = position[n + rowOf[own]!]!;
      if (r < 0) continue;
      // Summed in the order of the rows, as everywhere.
      let sum = 0;
      for (let k = from; k < to; k++) sum += inverse[r * m + rowOf[k]!]! * value[k]!;
      out[r] = sum;
    }
  }

  /** out[j] = entry of every variable in row r of inverse times (columns, logicals). */
  row(r: number, out: Float64Array): void {
    const { m, inverse } = this;
    const { n, rowStart, columnOf, rowValue } = this.matrix;
    out.fill(0);
    for (let i = 0; i < m; i++) {
      const factor = inverse[r * m + i]!;
      if (factor === 0) continue;
      out[n + i] = -factor;
      for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++) out[columnOf[k]!]! += factor * rowValue[k]!;
    }
  }

  /** Puts `entering` into position r, given its column in the present basis. */
  exchange(r: number, entering: number, column: Float64Array): void {
    const { m, inverse, filled } = this;
    const base = r * m;
    const pivot = column[r]!;
    let count = 0;
    for (let k = 0; k < m; k++) {
      const value = inverse[base + k]!;
      if (value === 0) continue;
      inverse[base + k] = value / pivot;
      filled[count++] = k;
    }
    for (let i = 0; i < m; i++) {
      const factor = column[i]!;
      if (i === r || factor === 0) continue;
      const row = i * m;
      for (let c = 0; c < count; c++) {
        const k = filled[c]!;
        inverse[row + k]! -= factor * inverse[base + k]!;
      }
    }
    this.position[this.head[r]!] = -1;
    this.head[r] = entering;
    this.position[entering] = r;
    this.sinceFactor++;
    this.pivots++;
  }

  /**
   * Inverts a basis from nothing (Gauss-Jordan, partial pivoting).
   * @param variables of the basis, in any order.
   * @returns variables that had to leave because their columns depend on the others; logicals take their place.
   */
  factor(variables: Iterable<number> = this.head): number[] {
    const { m } = this;
    const { n } = this.matrix;
    // Sparse columns first: less fills in.
    const { start } = this.matrix;
    const entries = (j: number): number => (j < n ? start[j + 1]! - start[j]! : 1);
    const wanted = Array.from(variables).sort((i, j) => entries(i) - entries(j) || i - j);
    const before = this.pivots;
    this.takeLogicals();
    const free = new Uint8Array(m).fill(1);
    for (const j of wanted) if (j >= n) free[j - n] = 0;
    const column = new Float64Array(m);
    const dropped: number[] = [];
    for (const j of wanted) {
      if (j >= n) continue;
      this.column(j, column);
      let best = -1;
      let size = SINGULAR;
      for (let i = 0; i < m; i++)
        if (free[i]! && Math.abs(column[i]!) > size) {
          size = Math.abs(column[i]!);
          best = i;
        }
      if (best < 0) {
        dropped.push(j);
        continue;
      }
      free[best] = 0;
      this.exchange(best, j, column);
    }
    this.pivots = before;
    this.sinceFactor = 0;
    return dropped;
  }

  /** y = costs of the basic variables times the inverse. */
  duals(costs: Float64Array, y: Float64Array): void {
    const { m, inverse, head } = this;
    y.fill(0);
    for (let r = 0; r < m; r++) {
      const c = costs[head[r]!]!;
      if (c === 0) continue;
      const base = r * m;
      for (let k = 0; k < m; k++) y[k]! += c * inverse[base + k]!;
    }
  }

  /** Works out the basic entries of x from the nonbasic ones; rates of change where x holds rates. */
  basics(x: Float64Array): void {
    const { m, inverse, head, position } = this;
    const { n, start, rowOf, value } = this.matrix;
    const rhs = new Float64Array(m);
    for (let j = 0; j < n; j++) {
      const amount = x[j]!;
      if (amount === 0 || position[j]! >= 0) continue;
      for (let k = start[j]!; k < start[j + 1]!; k++) rhs[rowOf[k]!]! -= value[k]! * amount;
    }
    for (let i = 0; i < m; i++) if (position[n + i]! < 0) rhs[i]! += x[n + i]!;
    const used: number[] = [];
    for (let k = 0; k < m; k++) if (rhs[k] !== 0) used.push(k);
    for (let r = 0; r < m; r++) {
      const base = r * m;
      let sum = 0;
      for (const k of used) sum += inverse[base + k]! * rhs[k]!;
      x[head[r]!] = sum;
    }
  }
}
