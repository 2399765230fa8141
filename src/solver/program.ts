/**
 * A linear program as plain data: minimise cost over columns x >= 0, subject to rows lower <= a.x <= upper.
 * Rows and columns carry a tag that says what they mean to whoever built them; nothing in this room reads it.
 */

/** What a row or a column means to whoever built the program; a solver only hands it back. */
export interface Tag {
  readonly kind: string;
  readonly label?: string;
}

/** `lower <= sum value[k] * x[index[k]] <= upper`; absent sides are -Infinity and Infinity. */
export interface Row<T extends Tag = Tag> {
  readonly tag: T;
  readonly index: readonly number[];
  readonly value: readonly number[];
  readonly lower: number;
  readonly upper: number;
  /**
   * The size the row is stated in, where its bounds may be far smaller: a need of which credits leave a trace, or
   * nothing. Violations and giving way are measured by it. Absent: the bounds say it.
   */
  readonly scale?: number;
  /** States a fact (what the shed holds) rather than a demand that could give way. Absent: a demand. */
  readonly fact?: true;
}

/** The terms of a row: columns, and what is before each. */
export type Terms = Pick<Row, "index" | "value">;

/** A row; absent sides are none. */
export function rowOf<T extends Tag>(
  tag: T,
  { index, value }: Terms,
  options: Partial<Omit<Row, "tag" | keyof Terms>>,
): Row<T> {
  return { tag, index, value, lower: -Infinity, upper: Infinity, ...options };
}

/** A column and its coefficient in a row. */
export type Entry = readonly [column: number, value: number];

/** The terms that entries make; those of zero are left out. */
export function termsOf(entries: Iterable<Entry>): Terms {
  const index: number[] = [];
  const value: number[] = [];
  for (const [column, coefficient] of entries) {
    if (coefficient === 0) continue;
    index.push(column);
    value.push(coefficient);
  }
  return { index, value };
}

export interface Column<T extends Tag = Tag> {
  readonly tag: T;
  /** Money (or whatever is minimised) per unit of x; finite. */
  readonly cost: number;
  /** Infinity where there is none. */
  readonly upper: number;
  /** Whole numbers only. Absent: continuous. */
  readonly integer?: boolean;
}

export interface Program<R extends Tag = Tag, C extends Tag = Tag> {
  readonly columns: readonly Column<C>[];
  readonly rows: readonly Row<R>[];
}

/** A tag for what only the builder itself knows by name. */
export type OtherTag = { readonly kind: "other"; readonly label: string };

/** The tag of what only the builder itself knows by name. */
export function other(label: string): OtherTag {
  return { kind: "other", label };
}

/** A program under construction. @typeParam C tags of columns; those added here are `other`. */
export class Draft<R extends Tag = Tag, C extends Tag = Tag> {
  readonly columns: Column<C | OtherTag>[] = [];
  readonly rows: Row<R>[] = [];

  /** Adds a column and returns its index. */
  column(label: string, cost: number, upper: number, integer = false): number {
    this.columns.push({ tag: other(label), cost, upper, ...(integer ? { integer } : {}) });
    return this.columns.length - 1;
  }

  /** Adds a row. */
  row(tag: R, entries: Iterable<Entry>, options: Parameters<typeof rowOf>[2]): void {
    this.rows.push(rowOf(tag, termsOf(entries), options));
  }
}

/**
 * What a solver engine says. `optimal` is a claim, to be verified; `x` has one entry per column.
 * `y`, where an engine has duals, is one per row: the change of cost per unit of the row's bound.
 */
export type Outcome =
  | { readonly status: "optimal"; readonly x: readonly number[]; readonly y?: readonly number[] }
  | { readonly status: "infeasible" }
  | { readonly status: "unbounded" }
  | { readonly status: "failed"; readonly reason: string };

/** One solver behind one door. Engines never change the program they are given. */
export interface Engine {
  readonly name: string;
  solve(program: Program): Outcome | Promise<Outcome>;
}

/** What terms come to at a point, and the size of the largest of them. */
export function activityOf({ index, value }: Terms, x: readonly number[]): { sum: number; largest: number } {
  let sum = 0;
  let largest = 0;
  for (let k = 0; k < index.length; k++) {
    const term = value[k]! * x[index[k]!]!;
    sum += term;
    largest = Math.max(largest, Math.abs(term));
  }
  return { sum, largest };
}

/** Whether a point is at a bound of a row, within a share of the row's largest term; never where it has no terms. */
export function isAtBound(row: Row, x: readonly number[], within: number): boolean {
  const { sum, largest } = activityOf(row, x);
  const near = (bound: number): boolean => Math.abs(sum - bound) <= within * largest;
  return largest > 0 && (near(row.lower) || near(row.upper));
}

/** The size by which a row's violation or giving way is measured: its largest finite bound or its `scale`; 1 where it has neither. */
export function rowScale(row: Row): number {
  let size = row.scale ?? 0;
  for (const bound of [row.lower, row.upper])
    if (Number.isFinite(bound)) size = Math.max(size, Math.abs(bound));
  return size > 0 ? size : 1;
}
