/** A program under construction: columns and rows gathered one by one. */
import type { Column, Row, RowTag } from "./program.ts";

/** A column and its coefficient in a row. */
export type Entry = readonly [column: number, value: number];

export class Draft {
  readonly columns: Column[] = [];
  readonly rows: Row[] = [];

  /** Adds a column and returns its index. */
  column(label: string, cost: number, upper: number, integer = false): number {
    this.columns.push({ tag: { kind: "other", label }, cost, upper, ...(integer ? { integer: true } : {}) });
    return this.columns.length - 1;
  }

  /** Adds a row; entries of zero are left out. */
  row(tag: RowTag, entries: readonly Entry[], lower: number, upper: number): void {
    const used = entries.filter(([, value]) => value !== 0);
    this.rows.push({ tag, index: used.map(([j]) => j), value: used.map(([, v]) => v), lower, upper });
  }
}
