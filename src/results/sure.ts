/** How sure the needs of a plan are met; part of the results of several commands. SI. */
import type { Nutrient } from "../nutrients.ts";

/** One need by one day, over many seasons. */
export interface NeedSureness {
  readonly nutrient: Nutrient;
  readonly day: number;
  readonly needKg: number;
  /** Supply on the average. */
  readonly expectKg: number;
  /** In one season of ten it is at most this. */
  readonly oneInTenKg: number;
  /** Share of seasons in which the need is met, by the normal law. */
  readonly p: number;
  /** The same counted over worked seasons; null where it was not: seasons are worked for the needs asked for. */
  readonly pChecked: number | null;
}

/** The chance that a maximum is passed, though the mix keeps it on the average. */
export interface OverMax {
  readonly nutrient: Nutrient;
  readonly day: number;
  readonly maxKg: number;
  readonly p: number;
}

/** What falls short in the likeliest season that just meets a need. */
export interface Shortfall {
  /** Id of an amendment, `releases`, `soil temperature`, `spreading`, or what a credit is from. */
  readonly what: string;
  readonly kind: "amendment" | "releases" | "soil temperature" | "soil water" | "spreading" | "credit";
  /** Less than expected, in kg of the nutrient. */
  readonly kg: number;
}

/** Why a sure need costs what it costs. */
export interface SureCertificate {
  readonly nutrient: Nutrient;
  readonly day: number;
  /** Standard deviations that the expected supply keeps above the need. */
  readonly z: number;
  /** Change of cost per further kg of the need. */
  readonly price: number;
  readonly weakSeason: readonly Shortfall[];
}

/** What one step of certainty costs. */
export interface SureStep {
  /** Asked of every need that was asked for. */
  readonly p: number;
  /** Null: no mix is that sure. */
  readonly cost: number | null;
}

/** What knowing something better could save in a season, at the same sureness. */
export interface WorthKnowing {
  readonly what: "soil-nitrate" | "soil-p-k" | "releases" | "analysis";
  readonly id?: string;
  readonly nutrient?: Nutrient;
  readonly saves: number;
}

export interface Sureness {
  /** Empty: none was asked for, and each need is met as often as its supply is above it. */
  readonly asked: readonly { readonly nutrient: Nutrient; readonly p: number }[];
  readonly askedTogether?: { readonly nutrients: readonly Nutrient[]; readonly p: number };
  readonly needs: readonly NeedSureness[];
  /** The asked needs (all of them where none is asked for) in the same season; null where it was not worked out. */
  readonly together: number | null;
  /** Worked seasons behind `pChecked`; 0: none. */
  readonly seasons: number;
  readonly overMax: readonly OverMax[];
  readonly certificate: readonly SureCertificate[];
  /** No mix this sure can cost less; null where none was asked for, or needs together. */
  readonly bound: number | null;
  readonly gap: number | null;
  /** What the mix costs without sureness; only where some is asked for. */
  readonly plainCost?: number;
  /**
   * By purchase: the highest chance, for the needs asked (else N and S) and the least sure of them, of any mix from the
   * same bags, caps and limits kept; absent where it was not worked out.
   */
  readonly usedUp?: number;
  /** Money that one kg of need too little would have to cost for what was asked to pay. */
  readonly paysAbovePerKg?: { readonly nutrient: Nutrient; readonly perKg: number };
  readonly worth?: readonly WorthKnowing[];
  readonly notes?: readonly string[];
}
