/**
 * The result of `solve`, and its JSON (schema barrowmix.solution/1). SI throughout: kg, g, mL, m, days.
 * Fields may be added; none is ever renamed or given another meaning.
 */
import type { Counts, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import type { Sureness } from "./sure.ts";

export interface SolutionAmendment {
  readonly id: string;
  readonly name: string;
  /** Exact optimum for the whole bed and season. */
  readonly kg: number;
  /** What the part that is not in stock costs, by weight at the cheapest price. */
  readonly cost: number;
  /** Of the blend's weight, 0..1. */
  readonly share: number;
  /** Of `kg`, what comes out of the shed. */
  readonly stockKg: number;
}

export interface Checkpoint {
  readonly day: number;
  readonly needKg: number;
  /** Blend and credits together. */
  readonly availableKg: number;
}

export interface SolutionNutrient {
  readonly nutrient: Nutrient;
  readonly minKg: number;
  readonly maxKg: number | null;
  readonly appliedMaxKg: number | null;
  readonly aheadMaxKg: number | null;
  /** What `minKg` and `maxKg` are held against: what is available by the season's end, or all that is spread. */
  readonly counts: Counts;
  /** Share of what is available that the crop takes up; `minKg` has been divided by it. */
  readonly efficiency: number;
  /** What counts towards `minKg`: `availableKg`, or with `counts: applied` `appliedKg` (of what this soil can use) and `creditInAllKg`. */
  readonly countedKg: number;
  /** Plant-available by the season's end, credits included. */
  readonly availableKg: number;
  /** Total content of what the blend brings, credits not included. */
  readonly appliedKg: number;
  /** Of `availableKg`, what credits bring. */
  readonly creditKg: number;
  /** What credits bring in all, whenever it becomes available. */
  readonly creditInAllKg: number;
  readonly checkpoints: readonly Checkpoint[];
  /** Money per further kg of `minKg`; 0 where it does not bind; null where the mix is the one on packs that are bought. */
  readonly shadowPricePerKg: number | null;
}

export interface BatchWeights {
  readonly count: number;
  /** Rounded. */
  readonly kgEach: number;
  /** Rounded to the scale; largest first. */
  readonly weights: readonly { readonly id: string; readonly kg: number; readonly mL: number | null }[];
}

export interface SolutionApplication {
  readonly name: string;
  readonly day: number;
  readonly kg: number;
  /** Loose volume; null where a density is missing. */
  readonly litres: number | null;
  readonly batches: BatchWeights;
  readonly perPlant: { readonly g: number | null; readonly mL: number | null };
  /** Along the row; null without rows. */
  readonly perRowMeter: { readonly g: number | null; readonly mL: number | null };
  readonly coverage: { readonly plantsPerBatch: number | null; readonly rowMetersPerBatch: number | null };
}

export interface Purchase {
  readonly id: string;
  /** Where several beds are bought for, of which one may not know it. */
  readonly name?: string;
  readonly packs: readonly {
    readonly sizeKg: number;
    readonly count: number;
    readonly price: number;
    /** Where the pack names one; else the amendment's own sells it. */
    readonly supplier?: string;
  }[];
  /** Bought loose, by weight. */
  readonly bulkKg: number;
  readonly boughtKg: number;
  readonly usedKg: number;
  /** Stock plus bought, less used. */
  readonly leftKg: number;
  readonly cost: number;
}

/** What one bed takes of a purchase, exactly: what a card is made from. */
export interface BedMix {
  readonly plan: string;
  /** By amendment, kg in each application of the plan, in its order. */
  readonly amounts: readonly { readonly id: string; readonly kg: readonly number[] }[];
}

/** Money for the packs of `purchases`. */
export interface PurchaseSum {
  /** `packs`: the mix is the one that these packs allow. `weight`: they cover the mix of least cost by weight. */
  readonly basis: "packs" | "weight";
  /** Goods and delivery. */
  readonly total: number;
  readonly goods: number;
  readonly delivery: number;
  /** How much cheaper another purchase for these plans could be at most, as a part of `total`; 0: none is cheaper. */
  readonly gap: number;
  /** Every plan that is bought for, this one among them. */
  readonly plans: readonly string[];
}

export interface Verification {
  readonly engine: string;
  /** Worst violation over all rows, each relative to its bound's scale. */
  readonly maxViolation: number;
  readonly dualBound: number;
  readonly gap: number;
}

/** A demand of the plan for machines; which fields it has depends on its kind. */
export interface DemandTag {
  /** `in-time`, `season-min`, `season-max`, `applied-max`, `ahead-max`, `share-min`, `amount-max`, `not-in` and so on. */
  readonly kind: string;
  readonly nutrient?: Nutrient;
  readonly day?: number;
  /** Of the amendment a limit is on. */
  readonly id?: string;
  /** Index of the application a limit is on; null: the whole blend. */
  readonly application?: number | null;
}

export interface Conflict {
  /** The reason, and what would be enough by itself. */
  readonly text: string;
  /** What cannot be had together, and why. */
  readonly reason?: string;
  readonly demands: readonly string[];
  /** The same demands for machines, in the same order. */
  readonly tags?: readonly DemandTag[];
  /** What each of the demands alone would have to come to; those that cannot mend it alone are left out. */
  readonly relaxations?: readonly GivingWay[];
}

/** One demand giving way: the bound as the plan states it, and the bound that would do. */
export interface GivingWay {
  readonly demand: string;
  /** The same demand for machines. */
  readonly tag: DemandTag;
  readonly unit: "kg" | "share";
  readonly from: number;
  readonly to: number;
  /** What to change, rounded so that what it says is enough: `allow 5.3 lb of P2O5 applied in all (now 4 lb)`. */
  readonly text: string;
}

/** Amendments that are not in the choice and would make the plan work. */
export interface Remedy {
  readonly add: readonly { readonly id: string; readonly name: string }[];
  /** What the plan would then cost, at the price of the list the amendment comes from. */
  readonly cost: number;
  readonly text: string;
}

/** A demand that a mix does not keep; a number of amendments is a `count`. */
export type Miss = Omit<GivingWay, "unit"> & { readonly unit: GivingWay["unit"] | "count" };

/** The mix that comes nearest to an infeasible plan. It is not an answer to the plan. */
export interface ClosestMix {
  readonly text: string;
  readonly amendments: readonly { readonly id: string; readonly name: string; readonly kg: number }[];
  readonly nutrients: readonly Omit<SolutionNutrient, "shadowPricePerKg">[];
  readonly cost: number;
  /** What it does not keep; `to` is what it does instead. */
  readonly misses: readonly Miss[];
}

/** What could do harm, where that is written, and with whom the last word lies. */
export interface Caution extends Notice {
  /** 1: the gravest, what can hurt people; 5: what holds for every mix. */
  readonly rank?: number;
  readonly source?: string;
  readonly defersTo?: string;
}

/** What one amendment's price means for the mix. Money per kg. */
export interface AmendmentSensitivity {
  readonly id: string;
  /** By the cheapest way of buying it; null: it is not sold. */
  readonly pricePerKg: number | null;
  /** Unused: it enters the mix below this price; null: at no price. */
  readonly entersBelowPerKg?: number | null;
  /** Used: the mix stays the same between these prices; null: down to nothing, or without end. */
  readonly stableFromPerKg?: number | null;
  readonly stableToPerKg?: number | null;
}

/** What one number of the plan costs at the margin: a need, a cap or a limit. */
export interface DemandSensitivity {
  readonly kind:
    | "need"
    | "season-max"
    | "applied-max"
    | "ahead-max"
    | "min-share"
    | "max-share"
    | "min"
    | "max";
  readonly nutrient?: Nutrient;
  /** Of the amendment a limit is on. */
  readonly id?: string;
  /** kg for the whole bed, or a share of the blend's weight (1 = all of it). */
  readonly unit: "kg" | "share";
  readonly value: number;
  /** Change of cost per unit if the number rises (below zero: room that saves money); null: nothing is feasible then. */
  readonly costOfMore: number | null;
  /** Change of cost per unit if the number falls; null: nothing is feasible then. */
  readonly costOfLess: number | null;
  /** Up to which value `costOfMore` holds, and down to which `costOfLess` does; null: without end, or not known. */
  readonly moreHoldsTo: number | null;
  readonly lessHoldsTo: number | null;
}

/** What stock is worth to this plan. */
export interface StockSensitivity {
  readonly id: string;
  readonly stockKg: number;
  /** What one more kg in the shed would save, at the margin. */
  readonly perKg: number;
  /** The pack that costs least per weight, and what one more of it in the shed would save; null: not sold in packs. */
  readonly packKg: number | null;
  readonly packSaves: number | null;
  /** What the stock there is saves; null: there is no mix without it. */
  readonly stockSaves: number | null;
}

/** What prices, demands and stock mean for the mix: true rates of change of the least cost. */
export interface Sensitivity {
  /** Every amendment of the choice, by id. */
  readonly amendments: readonly AmendmentSensitivity[];
  /** Those demands and limits whose number matters for the cost. */
  readonly demands: readonly DemandSensitivity[];
  readonly stock: readonly StockSensitivity[];
  /** Ids whose amounts could be others at the same cost; empty: the mix of least cost is the only one. */
  readonly tied: readonly string[];
  /** Some demand is worth more on one side of its number than on the other. */
  readonly degenerate: boolean;
  /** What of this a reader should know, in sentences. */
  readonly notes: readonly string[];
}

/** What `solve --best-split` found; the solution is that of the best split. Shares are parts of 1. */
export interface SplitFound {
  /** The smallest share an application may have. */
  readonly least: number;
  /** Shares are multiples of this. */
  readonly step: number;
  readonly applications: readonly {
    readonly name: string;
    readonly share: number;
    /** As the plan has it. */
    readonly today: number;
    /** In the next best split; null where there is none. */
    readonly runnerUp: number | null;
  }[];
  /** Whether any split of the grid has a mix. */
  readonly found: boolean;
  /** Costs of the best, of the plan's own and of the next best split; null: no mix. */
  readonly total: number | null;
  readonly today: number | null;
  readonly runnerUp: number | null;
  /** How many splits the grid has. */
  readonly splits: number;
  /** Whether all of them were looked at or ruled out. */
  readonly complete: boolean;
  /** No split of the grid can cost less. */
  readonly bound: number | null;
}

/** Supply against need of one nutrient, day by day. */
export interface NutrientCurve {
  readonly nutrient: Nutrient;
  /** Rising, from planting (or an earlier application) to the season's end. */
  readonly days: readonly number[];
  /** Taken up by each day; null where no uptake is known and only the season's end counts. */
  readonly needKg: readonly number[] | null;
  readonly seasonNeedKg: number;
  /** Made available by each day, by the batches as they are weighed and by credits. */
  readonly supplyKg: readonly number[];
}

/** What the plan would cost with one need counted the other way. */
export interface OtherCounting {
  readonly nutrient: Nutrient;
  /** The other way, which the plan does not use. */
  readonly counts: Counts;
  /** null: no mix. */
  readonly total: number | null;
}

export interface Solution {
  readonly schema: "barrowmix.solution/1";
  readonly status: "optimal" | "infeasible";
  readonly plan: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** Null where there is no mix. */
  readonly cost: { readonly total: number | null; readonly perPlant: number | null };
  readonly amendments: readonly SolutionAmendment[];
  readonly nutrients: readonly SolutionNutrient[];
  readonly applications: readonly SolutionApplication[];
  readonly purchases: readonly Purchase[];
  readonly rounding: {
    readonly scaleKg: number;
    /** The worst miss of any need once weights are rounded: fraction of the need; nutrient null: none. */
    readonly worstShortfall: { readonly nutrient: Nutrient | null; readonly fraction: number };
    /** The worst breach of any cap or limit once weights are rounded, in words; null: none. */
    readonly worstBreach: { readonly demand: string; readonly fraction: number } | null;
  };
  readonly verification: Verification;
  /** What `purchases` cost. With basis `packs`, `cost` is what the mix is worth by weight, and `verification` that of the purchase. */
  readonly purchase?: PurchaseSum;
  /** With basis `packs` only. */
  readonly mix?: BedMix;
  /** Infeasible only. */
  readonly conflicts: readonly Conflict[];
  /** Lime and ash against sulfur: what the mix is worth in calcium carbonate, kg; below zero it makes soil more acid. */
  readonly limestoneKg?: number;
  /** Infeasible only: the least total giving way (each demand relative to its own size) that makes a mix possible. */
  readonly leastRelaxation?: readonly GivingWay[];
  /** Infeasible only: cheapest first. */
  readonly remedies?: readonly Remedy[];
  /** Infeasible only. */
  readonly closest?: ClosestMix;
  readonly cautions: readonly Caution[];
  readonly warnings: readonly Notice[];
  /** Only where the plan asks for few amendments that can be weighed: what the mix would cost without that. */
  readonly simple?: { readonly freeCost: number };
  /** Absent where nothing can be said: no mix, or whole numbers in the program. */
  readonly sensitivity?: Sensitivity;
  /** How often each need is met; absent where there is no mix. */
  readonly sure?: Sureness;
  /** Only where they were asked for. */
  readonly curves?: readonly NutrientCurve[];
  /** For needs counted as applied, and for all where that was asked for: what the other way of counting costs. */
  readonly countings?: readonly OtherCounting[];
  /** Only where a best split was asked for. */
  readonly split?: SplitFound;
  /** The plan as understood, in SI: lets a later command in a pipe go on from here. */
  readonly inputs: Plan;
}
