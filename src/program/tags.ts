/** What rows and columns of a plan's program mean, so that answers can be explained in the grower's words. */
import type { Nutrient } from "../nutrients.ts";
import type { Column, OtherTag, Program, Row } from "../solver/program.ts";

/** Of a row that states a need: on a day of check, or at the season's end. */
export interface NeedTag {
  readonly kind: "in-time" | "season-min";
  readonly nutrient: Nutrient;
  readonly day: number;
}

/** What a row of the program means. `application` is an index into the plan's; null: the whole blend. */
export type RowTag =
  | NeedTag
  | { readonly kind: "season-max" | "ahead-max"; readonly nutrient: Nutrient; readonly day: number }
  | { readonly kind: "applied-max"; readonly nutrient: Nutrient }
  | {
      readonly kind: "share-min" | "share-max" | "amount-min" | "amount-max" | "not-in";
      readonly id: string;
      readonly application: number | null;
    }
  | { readonly kind: "stock"; readonly id: string }
  | OtherTag;

/** What a column means: kg used in an application (null: the whole blend), kg bought, or something else. */
export type ColumnTag =
  | { readonly kind: "use"; readonly id: string; readonly application: number | null }
  | { readonly kind: "buy"; readonly id: string }
  | OtherTag;

/** A row of a plan's program. */
export type PlanRow = Row<RowTag>;
/** A column of a plan's program. */
export type PlanColumn = Column<ColumnTag>;
/** A program whose rows state demands of a plan. */
export type PlanProgram = Program<RowTag, ColumnTag>;

export function isNeed(tag: RowTag): tag is NeedTag {
  return tag.kind === "in-time" || tag.kind === "season-min";
}
