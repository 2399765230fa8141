/** The result of `shop`, and its JSON (schema barrowmix.shopping/1). SI throughout; money in the plan's currency. */
import type { Plan } from "../model.ts";
import type { Notice } from "../problem.ts";
import type {
  BedMix,
  Conflict,
  Purchase,
  Solution,
  SolutionAmendment,
  SolutionApplication,
  SolutionNutrient,
  Verification,
} from "./solution.ts";
import type { PurchaseSureness } from "./sure.ts";

/** One line of the purchase. A line with nothing to buy is there for what the mix takes out of the shed. */
export interface ShoppingLine extends Purchase {
  readonly name: string;
  /** Null where the amendments file names none. */
  readonly supplier: string | null;
  readonly stockKg: number;
  /** `leftKg` at the cheapest price by weight. */
  readonly leftWorth: number;
  /** How many more batches of this mix `leftKg` is enough for; null where the mix has none of it. */
  readonly leftBatches: number | null;
}

export interface SupplierOrder {
  /** Null: amendments without a supplier. */
  readonly id: string | null;
  readonly goods: number;
  readonly delivery: number;
  /** What more goods would have to be bought for free delivery; null where it is free already or never. */
  readonly freeFrom: number | null;
  /** There where the order is heavier than the supplier delivers. */
  readonly refused?: boolean;
}

/** The mix of one bed that the packs allow. */
export interface ShoppingMix {
  readonly plan: string;
  readonly amendments: readonly Omit<SolutionAmendment, "cost" | "stockKg">[];
  readonly nutrients: readonly Omit<SolutionNutrient, "shadowPricePerKg">[];
  readonly applications: readonly SolutionApplication[];
  readonly rounding: Solution["rounding"];
}

/** A change of the packs of one amendment, by solving again. */
export interface PackChange {
  readonly id: string;
  /** `fewer`: one pack less. `finer`: the amendment by weight, at its cheapest price by weight. */
  readonly kind: "fewer" | "finer";
  /** Of the pack left out; null for `finer`. */
  readonly sizeKg: number | null;
  /** Money, delivery included. */
  readonly saves: number;
  /** What the best mix then falls short of: the worst need, as a fraction of it; 0 where every need is met. */
  readonly shortfall: { readonly nutrient: string | null; readonly fraction: number };
}

/** Buying for one application at a time, against buying for the season at once. */
export interface TripComparison {
  readonly atOnce: number;
  readonly byApplication: readonly { readonly name: string; readonly total: number }[];
  readonly inAll: number;
}

/** A purchase that keeps to the budget and FALLS SHORT of the needs: it is not what the plans ask for. */
export interface ShortPurchase {
  /** `optimal`: no purchase within the budget is proven to fall less short. `stopped`: the best found in time. */
  readonly status: "optimal" | "stopped";
  readonly total: number;
  readonly goods: number;
  readonly delivery: number;
  readonly purchases: readonly ShoppingLine[];
  /** What the best mix on it falls short of on the average: the worst need, as a fraction of it. */
  readonly shortfall: PackChange["shortfall"];
  /** No purchase within the budget falls short of its worst need by less. */
  readonly leastShortfall: number;
}

export interface Shopping {
  readonly schema: "barrowmix.shopping/1";
  /** `stopped`: the best found in time; `gap` says how much cheaper another could be at most. */
  readonly status: "optimal" | "stopped" | "infeasible";
  readonly plan: string;
  /** Every bed that is bought for. */
  readonly plans: readonly string[];
  /** Bought for this application alone; null: the whole season. */
  readonly application: string | null;
  readonly currency: string;
  readonly units: "us" | "metric";
  readonly purchases: readonly ShoppingLine[];
  readonly suppliers: readonly SupplierOrder[];
  /** Goods, delivery and their sum; null where there is no purchase, as are the three below them. */
  readonly goods: number | null;
  readonly delivery: number | null;
  readonly total: number | null;
  readonly gap: number | null;
  readonly verification: Verification;
  /** What the least-cost mix costs where everything is sold by weight, without delivery. */
  readonly byWeight: number | null;
  /** Goods, less `byWeight`. */
  readonly wholePacksCost: number | null;
  readonly budget: number | null;
  /** Batches of the mix that the leftovers alone are enough for. */
  readonly moreBatches: number;
  /** Absent for several beds, and where no need is to be sure of. */
  readonly sure?: PurchaseSureness;
  /** Largest saving first. */
  readonly changes: readonly PackChange[];
  readonly trips: TripComparison | null;
  readonly mix: ShoppingMix | null;
  /** The mixes of the further beds. */
  readonly also: readonly ShoppingMix[];
  /** By bed, in the order of `inputs`; empty where there is no purchase. */
  readonly mixes: readonly BedMix[];
  /** Only with a budget that is too small: the best that the money buys. */
  readonly best?: ShortPurchase;
  readonly conflicts: readonly Conflict[];
  readonly cautions: readonly Notice[];
  readonly warnings: readonly Notice[];
  readonly inputs: readonly Plan[];
}
