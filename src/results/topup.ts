/** The result of `topup`, and its JSON (schema barrowmix.topup/1). SI throughout; money in the plan's currency. */
import type { OwnMeasure } from "../model.ts";
import type { Notice } from "../problem.ts";
import type { Caution, SolutionApplication, Verification } from "./solution.ts";

/** Water that drains through a soil with nitrate in it. */
export interface Drainage {
  /** Rain less evaporation, metres of water; what drains through. */
  readonly drainageM: number;
  /** Water content at field capacity, volume fraction. */
  readonly soilWater: number;
  /** What lies deeper than this is lost to the crop. */
  readonly depthM: number;
  /** Nitrate is mixed evenly to here, at most `depthM`; 0: it lies on the surface. */
  readonly mixedToM: number;
}

/** A rain on a day of the season. */
export interface Rain extends Omit<Drainage, "drainageM"> {
  readonly day: number;
  readonly rainM: number;
  /** Evaporation and what dry soil soaks up before it drains. */
  readonly evaporationM: number;
}

/** Shares of seasons in which a need is met after a rain. */
export interface ToppedUpSureness {
  /** Nothing replaced; by the normal law, as is the next. */
  readonly without: number;
  readonly with: number;
  /** With the dressing, counted over worked seasons. */
  readonly withChecked: number;
}

export interface TopUp {
  readonly schema: "barrowmix.topup/1";
  /**
   * `nothing-lost`: nothing lay there, or nothing drained. `enough-left`: the plan meets the need all the same.
   * `found`: the dressing replaces what is lacking. `short`: the dressing is the closest these amendments come.
   */
  readonly status: "nothing-lost" | "enough-left" | "found" | "short";
  readonly plan: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** Date of day 0; absent where the plan has none. */
  readonly planted?: string;
  /** The grower's own measures; absent: none. */
  readonly scoops?: readonly OwnMeasure[];
  readonly rain: Rain & { readonly drainageM: number };
  readonly nitrogen: {
    /** By the day of the rain, credits included. */
    readonly availableKg: number;
    readonly takenUpKg: number;
    /** Available and not taken up: what rain can carry away. */
    readonly atRiskKg: number;
    /** Applied and not available by then: rain does not carry it away. */
    readonly notReleasedKg: number;
    readonly lostShare: number;
    readonly lostKg: number;
    /** With the soil's water content higher and lower by `SOIL_WATER_DOUBT`. */
    readonly lostLowKg: number;
    readonly lostHighKg: number;
  };
  /** The days on which the plan's nitrogen is checked after the rain. */
  readonly checkpoints: readonly {
    readonly day: number;
    readonly needKg: number;
    /** After the rain, nothing replaced. */
    readonly withoutKg: number;
    readonly withKg: number;
    /** Only where the plan asks to be sure of nitrogen: how often the need is met. */
    readonly met?: ToppedUpSureness;
  }[];
  /** The share of seasons in which the plan asks to meet its nitrogen; absent: it does not ask. */
  readonly asked?: number;
  /** Empty where nothing is to be replaced. */
  readonly amendments: readonly {
    readonly id: string;
    readonly name: string;
    readonly kg: number;
    readonly cost: number;
  }[];
  readonly cost: number;
  /** The dressing in batches and measures; null where there is none. */
  readonly application: SolutionApplication | null;
  readonly verification: Verification | null;
  readonly cautions: readonly Caution[];
  readonly warnings: readonly Notice[];
}
