/** The JSON of `card` (schema barrowmix.card/2). SI throughout. */

export interface CardJson {
  readonly schema: "barrowmix.card/2";
  /** Of the plan, the farm, or of all plans. */
  readonly name: string;
  /** Whether the mixes are those of a purchase, or of what materials are worth by weight. */
  readonly by: "purchase" | "weight";
  readonly mixes: readonly CardMix[];
  /** In order of days within a bed. */
  readonly rounds: readonly CardRound[];
  /** What the mixes are made for, how sure, and what to mind: a sentence each, the gravest first. */
  readonly takeCare: readonly string[];
}

/** One list of weights. */
export interface CardMix {
  readonly name: string;
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
    /** Weighed once for the whole heap: `text` says how much. */
    readonly once?: true;
  }[];
}

export interface CardRound {
  readonly bed: string;
  readonly name: string;
  readonly day: number;
  /** `2027-06-10`; null where the plan has no date of planting. */
  readonly date: string | null;
  readonly mix: string | null;
  /** Id of what is given straight from its bag, in place of a mix. */
  readonly alone?: string;
  readonly batchesTaken: number;
  /** `1 3/4 batches`, or a weight where a part of a batch would be off. */
  readonly take: string;
  readonly perPlant: { readonly g: number | null; readonly text: string | null };
}
