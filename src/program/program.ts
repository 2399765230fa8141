/**
 * A linear program as plain data: minimise cost over columns x >= 0, subject to rows lower <= a.x <= upper.
 * Every row remembers which demand of the plan it states, so that answers can be explained in the grower's words.
 */
import type { Nutrient } from "../nutrients.ts";

/** What a row of the program stands for. `application` is an index into the plan's; null: the whole blend. */
export type RowTag =
  | { readonly kind: "in-time"; readonly nutrient: Nutrient; readonly day: number }
  | { readonly kind: "season-min"; readonly nutrient: Nutrient; readonly day: number }
  | { readonly kind: "season-max"; readonly nutrient: Nutrient; readonly day: number }
  | { readonly kind: "applied-max"; readonly nutrient: Nutrient }
  | { readonly kind: "ahead-max"; readonly nutrient: Nutrient; readonly day: number }
  | { readonly kind: "share-min"; readonly id: string; readonly application: number | null }
  | { readonly kind: "share-max"; readonly id: string; readonly application: number | null }
  | { readonly kind: "amount-min"; readonly id: string; readonly application: number | null }
  | { readonly kind: "amount-max"; readonly id: string; readonly application: number | null }
  | { readonly kind: "not-in"; readonly id: string; readonly application: number | null }
  | { readonly kind: "stock"; readonly id: string }
  | { readonly kind: "other"; readonly label: string };

/** `lower <= sum value[k] * x[index[k]] <= upper`; absent sides are -Infinity and Infinity. */
export interface Row {
  readonly tag: RowTag;
  readonly index: readonly number[];
  readonly value: readonly number[];
  readonly lower: number;
  readonly upper: number;
}

/** What a column stands for: kg used in an application (null: the whole blend), kg bought, or something else. */
export type ColumnTag =
  | { readonly kind: "use"; readonly id: string; readonly application: number | null }
  | { readonly kind: "buy"; readonly id: string }
  | { readonly kind: "other"; readonly label: string };

export interface Column {
  readonly tag: ColumnTag;
  /** Money (or whatever is minimised) per unit of x; finite. */
  readonly cost: number;
  /** Infinity where there is none. */
  readonly upper: number;
  /** Whole numbers only. Absent: continuous. */
  readonly integer?: boolean;
}

export interface Program {
  readonly columns: readonly Column[];
  readonly rows: readonly Row[];
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
