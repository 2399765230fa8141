/**
 * The coefficients of a program, scaled and stored by columns and by rows.
 *
 * Scaling is by geometric means in three passes (rows, then columns), rounded to powers of two so that it loses no digit.
 */
import type { Column, Program } from "./program.ts";

/** The power of two nearest to a positive number; 1 for anything else. */
export function powerOfTwo(value: number): number {
  return value > 0 && Number.isFinite(value) ? 2 ** Math.round(Math.log2(value)) : 1;
}

/** The size of the largest of some numbers; 0 where there are none. */
export function largestOf(values: ArrayLike<number>): number {
  let largest = 0;
  for (let k = 0; k < values.length; k++) largest = Math.max(largest, Math.abs(values[k]!));
  return largest;
}

/** Entry (i, j) is `rowScale[i] * columnScale[j]` times the program's. */
export class ScaledMatrix {
  readonly n: number;
  readonly m: number;
  /** Column j: entries start[j] to start[j + 1] of rowOf and value. */
  readonly start: Int32Array;
  readonly rowOf: Int32Array;
  readonly value: Float64Array;
  /** Row i: entries rowStart[i] to rowStart[i + 1] of columnOf and rowValue. */
  readonly rowStart: Int32Array;
  readonly columnOf: Int32Array;
  readonly rowValue: Float64Array;
  readonly rowScale: Float64Array;
  readonly columnScale: Float64Array;

  /** @param keep columns that keep their unit, as whole numbers must outside this room. */
  constructor({ columns, rows }: Program, keep: (column: Column) => boolean = () => false) {
    this.n = columns.length;
    this.m = rows.length;
    this.rowStart = new Int32Array(this.m + 1);
    rows.forEach((row, i) => {
      this.rowStart[i + 1] = this.rowStart[i]! + row.index.length;
    });
    const entries = this.rowStart[this.m]!;
    this.columnOf = new Int32Array(entries);
    this.rowValue = new Float64Array(entries);
    rows.forEach((row, i) => {
      this.columnOf.set(row.index, this.rowStart[i]!);
      this.rowValue.set(row.value, this.rowStart[i]!);
    });
    this.rowScale = new Float64Array(this.m).fill(1);
    this.columnScale = new Float64Array(this.n).fill(1);
    this.scale(Uint8Array.from(columns, (column) => (keep(column) ? 1 : 0)));
    this.start = new Int32Array(this.n + 1);
    this.rowOf = new Int32Array(entries);
    this.value = new Float64Array(entries);
    this.storeByColumns();
  }

  private scale(kept: Uint8Array): void {
    const { n, m, rowStart, columnOf, rowValue, rowScale, columnScale } = this;
    const smallest = new Float64Array(n);
    const largest = new Float64Array(n);
    for (let pass = 0; pass < 3; pass++) {
      smallest.fill(Infinity);
      largest.fill(0);
      for (let i = 0; i < m; i++) {
        let low = Infinity;
        let high = 0;
        for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++) {
          const size = Math.abs(rowValue[k]!) * columnScale[columnOf[k]!]!;
          if (size < low) low = size;
          if (size > high) high = size;
        }
        rowScale[i] = high > 0 ? 1 / powerOfTwo(Math.sqrt(low * high)) : 1;
        for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++) {
          const j = columnOf[k]!;
          const size = Math.abs(rowValue[k]!) * rowScale[i]!;
          if (size < smallest[j]!) smallest[j] = size;
          if (size > largest[j]!) largest[j] = size;
        }
      }
      for (let j = 0; j < n; j++)
        columnScale[j] =
          largest[j]! > 0 && !kept[j] ? 1 / powerOfTwo(Math.sqrt(smallest[j]! * largest[j]!)) : 1;
    }
    for (let i = 0; i < m; i++)
      for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++)
        rowValue[k]! *= rowScale[i]! * columnScale[columnOf[k]!]!;
  }

  private storeByColumns(): void {
    const { n, m, start, rowOf, value, rowStart, columnOf, rowValue } = this;
    for (const j of columnOf) start[j + 1]!++;
    for (let j = 0; j < n; j++) start[j + 1]! += start[j]!;
    const next = start.slice(0, n);
    for (let i = 0; i < m; i++)
      for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++) {
        const at = next[columnOf[k]!]!++;
        rowOf[at] = i;
        value[at] = rowValue[k]!;
      }
  }
}
