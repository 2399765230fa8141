/** The result of `now`, and its JSON (schema barrowmix.season/1): where each bed is, and the cheapest rest of the season. */
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import type { Solution } from "./solution.ts";

/** How often needs are met by the season's end. */
export type ChanceByNutrient = Readonly<Partial<Record<Nutrient, number>>>;

/** What a bed has got of a nutrient, and what it will have by the season's end. */
export interface SeasonNutrient {
  readonly nutrient: Nutrient;
  readonly needKg: number;
  /** Content of what has been spread. */
  readonly spreadKg: number;
  /** By the season's end with nothing more given; as the need is counted. */
  readonly nothingKg: number;
  /** If the old plan goes on. */
  readonly oldPlanKg: number;
  /** By the rest that is proposed; null where there is none. */
  readonly newPlanKg: number | null;
}

/** A round as it was planned, and what has become of it. */
export interface SeasonRound {
  readonly name: string;
  readonly day: number;
  readonly date: string | null;
  /** `late`: given on the day asked about. `dropped`: the next round's day has come. */
  readonly state: "done" | "late" | "next" | "dropped";
  /** As planned: kg by name of a mix, or id of what is given alone. */
  readonly gives: Readonly<Record<string, number>>;
  /** kg of mixes that are mixed and kept: they are given first, beside what `rest` gives. */
  readonly kept: Readonly<Record<string, number>>;
}

export interface SeasonBed {
  readonly bed: string;
  /** The day asked about, counted from the bed's own planting, as all its days are. */
  readonly day: number;
  readonly planted: string | null;
  /** Nothing that is given now feeds the crop any more. */
  readonly over: boolean;
  /** All material, so far. */
  readonly spreadKg: number;
  /** The next four are of nitrogen. */
  readonly releasedKg: number;
  readonly takenUpKg: number;
  readonly lostKg: number;
  /** What a reading of the soil was expected to find, at the last one; null without one. */
  readonly expectedKg: number | null;
  readonly measuredKg: number | null;
  readonly measuredDay: number | null;
  /** Less was lost than the scale shows, or than 1 % of the need. */
  readonly littleLost: boolean;
  readonly rounds: readonly SeasonRound[];
  readonly nutrients: readonly SeasonNutrient[];
  readonly chance: {
    readonly nothing: ChanceByNutrient;
    readonly oldPlan: ChanceByNutrient;
    readonly newPlan: ChanceByNutrient;
  };
}

export interface SeasonNow {
  readonly schema: "barrowmix.season/1";
  readonly season: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** Of the season. */
  readonly day: number;
  readonly date: string | null;
  /** The day is that of the last line: none was asked for. */
  readonly lastLine: boolean;
  readonly planted: string | null;
  /** The share of seasons asked for of nitrogen, else of the first need asked; null: none is. */
  readonly asked: number | null;
  readonly beds: readonly SeasonBed[];
  /** The cheapest rest, or the old plan's; null where the season is over. */
  readonly rest: Solution | null;
  /** The old plan feeds the crop as surely as was asked, and no rest costs less: `rest` is what it gives. */
  readonly asPlanned: boolean;
  /** What the old plan's rounds still cost to buy; null where there are none, or what they take cannot be had. */
  readonly goOn: { readonly total: number | null } | null;
  readonly shed: readonly { readonly id: string; readonly name: string; readonly kg: number }[];
  /** Mixed and not spread. */
  readonly kept: readonly { readonly mix: string; readonly kg: number }[];
  /** Needs on days that have passed, or that no round left can change. */
  readonly late: readonly {
    readonly bed: string;
    readonly nutrient: Nutrient;
    readonly day: number;
    readonly shortKg: number;
  }[];
  readonly warnings: readonly Notice[];
}
