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

/** The size by which a row's violation or giving way is measured: its largest finite bound or its `scale`; 1 where it has neither. */
export function rowScale(row: Row): number {
  let size = row.scale ?? 0;
  for (const bound of [row.lower, row.upper])
    if (Number.isFinite(bound)) size = Math.max(size, Math.abs(bound));
  return size > 0 ? size : 1;
}

/** Whether a row states a fact, which cannot give way. */
export function isHard(row: Row): boolean {
  return row.fact === true;
}
