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

/** Entry (i, j) is `rowScale[i] * columnScale[j]` times the program's. */
export class ScaledMatrix {
  readonly n: number;
  /** Column j: entries start[j] to start[j + 1] of rowOf and value. */
  start: Int32Array;
  rowOf: Int32Array;
  value: Float64Array;
  /** Row i: entries rowStart[i] to rowStart[i + 1] of columnOf and rowValue. */
  rowStart: Int32Array;
  columnOf: Int32Array;
  rowValue: Float64Array;
  rowScale: Float64Array;
  readonly columnScale: Float64Array;

  /** @param keep columns that keep their unit, as whole numbers must outside this room. */
  constructor({ columns, rows }: Program, keep: (column: Column) => boolean = () => false) {
    this.n = columns.length;
    this.rowStart = new Int32Array(rows.length + 1);
    rows.forEach((row, i) => {
      this.rowStart[i + 1] = this.rowStart[i]! + row.index.length;
    });
    this.columnOf = new Int32Array(this.rowStart[rows.length]!);
    this.rowValue = new Float64Array(this.columnOf.length);
    rows.forEach((row, i) => {
      this.columnOf.set(row.index, this.rowStart[i]!);
      this.rowValue.set(row.value, this.rowStart[i]!);
    });
    this.rowScale = new Float64Array(rows.length).fill(1);
    this.columnScale = new Float64Array(this.n).fill(1);
    this.scale(Uint8Array.from(columns, (column) => (keep(column) ? 1 : 0)));
    this.start = new Int32Array(0);
    this.rowOf = new Int32Array(0);
    this.value = new Float64Array(0);
    this.storeByColumns();
  }

  /** Rows of the matrix. */
  get m(): number {
    return this.rowStart.length - 1;
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
    const { n, m, rowStart, columnOf, rowValue } = this;
    const start = new Int32Array(n + 1);
    for (const j of columnOf) start[j + 1]!++;
    for (let j = 0; j < n; j++) start[j + 1]! += start[j]!;
    const next = start.slice(0, n);
    this.start = start;
    this.rowOf = new Int32Array(columnOf.length);
    this.value = new Float64Array(columnOf.length);
    for (let i = 0; i < m; i++)
      for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++) {
        const at = next[columnOf[k]!]!++;
        this.rowOf[at] = i;
        this.value[at] = rowValue[k]!;
      }
  }

  /** Adds a row after the others, scaled to suit the columns as they are. */
  addRow(index: readonly number[], value: readonly number[]): void {
    let low = Infinity;
    let high = 0;
    index.forEach((j, k) => {
      const size = Math.abs(value[k]!) * this.columnScale[j]!;
      low = Math.min(low, size);
      high = Math.max(high, size);
    });
    const factor = high > 0 ? 1 / powerOfTwo(Math.sqrt(low * high)) : 1;
    const entries = this.columnOf.length;
    this.rowScale = Float64Array.from([...this.rowScale, factor]);
    this.rowStart = Int32Array.from([...this.rowStart, entries + index.length]);
    const columnOf = new Int32Array(entries + index.length);
    const rowValue = new Float64Array(entries + index.length);
    columnOf.set(this.columnOf);
    rowValue.set(this.rowValue);
    index.forEach((j, k) => {
      columnOf[entries + k] = j;
      rowValue[entries + k] = value[k]! * factor * this.columnScale[j]!;
    });
    this.columnOf = columnOf;
    this.rowValue = rowValue;
    this.storeByColumns();
  }
}
