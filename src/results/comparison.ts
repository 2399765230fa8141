/** The result of `whatif`, and its JSON (schema barrowmix.comparison/2). SI throughout; money in the plan's currency. */
import type { By, DemandSensitivity, Sensitivity } from "./solution.ts";
import type { Sureness } from "./sure.ts";

/** What a mix has of an amendment. */
export interface Amount {
  readonly id: string;
  readonly kg: number;
}

/** A demand that binds, and what it costs at the margin. */
interface BindingDemand extends DemandSensitivity {
  /** In words. */
  readonly name: string;
}

/** What the packs of a case come to, where cases are compared by their purchases. */
export interface ComparedPurchase {
  readonly goods: number;
  readonly delivery: number;
  /** (total - proven bound) / max(1, total). */
  readonly gap: number;
  readonly packs: number;
  /** What stays over, at the cheapest price by weight. */
  readonly leftWorth: number;
}

/** How sure a mix is: what was asked, and how often each need is met. */
export type ComparedSureness = Pick<Sureness, "asked" | "askedTogether" | "needs" | "together">;

export interface ComparedBase {
  /** What is paid, as `by` says; null where there is no answer. */
  readonly total: number | null;
  /** What the mixes are worth by weight, after stock. */
  readonly byWeight: number | null;
  /** Null by weight, and where there is no purchase. */
  readonly purchase: ComparedPurchase | null;
  readonly perPlant: number | null;
  readonly amendments: readonly Amount[];
  /** Demands whose number matters for the cost. */
  readonly binding: readonly BindingDemand[];
  /** Null where nothing can be said: no mix, or whole numbers in the program. */
  readonly sensitivity: Sensitivity | null;
  /** How often the mix meets each need; null where there is no mix. */
  readonly sure: ComparedSureness | null;
}

export interface ComparedCase extends ComparedBase {
  readonly name: string;
  /** `found`: the best found in time; the purchase's `gap` says how much cheaper another could be. */
  readonly status: "optimal" | "found" | "infeasible";
  /** Cost less that of the base; null where either has no mix. */
  readonly difference: number | null;
  /** Ids in this mix and not in the base's. */
  readonly entered: readonly string[];
  /** Ids in the base's mix and not in this one. */
  readonly left: readonly string[];
  /** Why there is no mix; null where there is one. */
  readonly reason: string | null;
  readonly notes: readonly string[];
}

/** The answer of `whatif`, and its JSON. */
export interface Comparison {
  readonly schema: "barrowmix.comparison/2";
  /** Name of the plan, of the farm, or of all plans. */
  readonly plan: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** What the totals are of: purchases in whole packs with delivery, or mixes by weight. */
  readonly by: By;
  readonly base: ComparedBase;
  readonly cases: readonly ComparedCase[];
  /** Of every id in any of the mixes. */
  readonly names: Readonly<Record<string, string>>;
}
