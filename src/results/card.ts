/** The JSON of `card` (schema barrowmix.card/1). SI throughout. */

import type { Nutrient } from "../nutrients.ts";

export interface CardJson {
  readonly schema: "barrowmix.card/1";
  /** Names of the beds, joined by `and` where there are several. */
  readonly plan: string;
  /** Whether the mix is what bought packs allow. */
  readonly bought: boolean;
  /** One for each application that gets any, in order of days within a bed. */
  readonly cards: readonly CardOfApplication[];
}

export interface CardOfApplication {
  readonly plan: string;
  readonly application: string;
  readonly day: number;
  /** `2027-06-10`; null where the plan has no date of planting. */
  readonly date: string | null;
  /** How many batches. */
  readonly batches: number;
  readonly kgEach: number;
  /** N-P2O5-K2O in percent by weight. */
  readonly grade: string;
  /** Into each batch; `text` as the scale shows it, `loose` as a measure. */
  readonly weights: readonly {
    readonly id: string;
    readonly name: string;
    readonly kg: number;
    readonly text: string;
    readonly mL: number | null;
    readonly loose: string | null;
  }[];
  /** What each plant, length or area gets, in words. */
  readonly give: readonly { readonly what: string; readonly text: string }[];
  /** What the mix is made for: how often it meets the needs that are asked to be sure, or else each. */
  readonly sure: CardSureness | null;
  readonly cautions: readonly string[];
}

export interface CardSureness {
  /** `Made to meet N in about 9 seasons of 10.` */
  readonly text: string;
  /** Share of seasons that meet each need, on the day that is met least often. */
  readonly needs: readonly { readonly nutrient: Nutrient; readonly p: number }[];
}
