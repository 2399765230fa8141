/** A program under construction: columns and rows gathered one by one. */
import type { Column, Row, Tag } from "./program.ts";

/** A column and its coefficient in a row. */
export type Entry = readonly [column: number, value: number];

/** A tag for what only the builder itself knows by name. */
export interface OtherTag extends Tag {
  readonly kind: "other";
  readonly label: string;
}

/** @typeParam R tags of rows. @typeParam C tags of columns; those added here are `other`. */
export class Draft<R extends Tag = Tag, C extends Tag = Tag> {
  readonly columns: Column<C | OtherTag>[] = [];
  readonly rows: Row<R>[] = [];

  /** Adds a column and returns its index. */
  column(label: string, cost: number, upper: number, integer = false): number {
    this.columns.push({ tag: { kind: "other", label }, cost, upper, ...(integer ? { integer: true } : {}) });
    return this.columns.length - 1;
  }

  /** Adds a row; entries of zero are left out. `fact`: a row that states a fact, not a demand. */
  row(tag: R, entries: readonly Entry[], lower: number, upper: number, fact = false): void {
    const used = entries.filter(([, value]) => value !== 0);
    const row = { tag, index: used.map(([j]) => j), value: used.map(([, v]) => v), lower, upper };
    this.rows.push(fact ? { ...row, fact: true } : row);
  }
}
