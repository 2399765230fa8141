/**
 * The answer of `solve`, `shop`, `card` and of farms, and its JSON (schema barrowmix.solution/2). SI throughout: kg, g,
 * mL, m, days; shares are fractions of 1, money is in the plans' currency.
 * Fields may be added; none is ever renamed or given another meaning.
 */
import type { Counts, NutrientMap, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import type { Sureness, SureStep } from "./sure.ts";

/** What is paid: whole packs with delivery, or the worth of the weight alone. */
export type By = "purchase" | "weight";

/** One material of a mix, for the whole season and everyone who shares the mix. */
export interface MixMaterial {
  readonly id: string;
  readonly name: string;
  /** Exact. */
  readonly kg: number;
  /** Of the weight of the mix, 0..1. */
  readonly share: number;
  /** Of `kg`, what comes out of the shed. */
  readonly stockKg: number;
}

/** What to weigh into one batch. */
export interface BatchWeight {
  readonly id: string;
  /** Rounded to the scale, but for what is weighed once. */
  readonly kg: number;
  /** Loose; null where no density is known. */
  readonly mL: number | null;
  /** So little of it goes in a batch that it is weighed once for the whole heap; `kg` is its part of one batch. */
  readonly once?: true;
}

/** Equal batches of a mix: one list of weights for all of them. */
export interface Batches {
  readonly count: number;
  /** The sum of `weights`. */
  readonly kgEach: number;
  /** Loose; null where a density is missing. */
  readonly litresEach: number | null;
  /** Heaviest first. */
  readonly weights: readonly BatchWeight[];
}

/** What is stirred together: for the whole season, or with `blend: each` for one round. */
export interface Mix {
  /** A, B, ..; with `blend: each` the name of its round. */
  readonly name: string;
  /** Exact weight of the heap. */
  readonly kg: number;
  /** Fractions of the weight, by nutrient. */
  readonly analysis: NutrientMap;
  /** Heaviest first. */
  readonly materials: readonly MixMaterial[];
  readonly batches: Batches;
}

/** Grams, and millilitres where densities are known; null where there is nothing to divide by. */
export interface Measure {
  readonly g: number | null;
  readonly mL: number | null;
}

/** One round of spreading on one bed. */
export interface Round {
  readonly name: string;
  /** Of the season. */
  readonly day: number;
  /** `2027-06-10`; null where the plan has no date of planting. */
  readonly date: string | null;
  /** Name of the mix that is spread; null: none is. */
  readonly mix: string | null;
  /** Exact weight of the mix. */
  readonly kg: number;
  /** Exactly, of the mix's batches. */
  readonly batchesTaken: number;
  /** Loose volume of `kg`; null where a density is missing. */
  readonly litres: number | null;
  /** Materials given straight from the bag, beside the mix. */
  readonly alone: readonly {
    readonly id: string;
    readonly kg: number;
    /** As the scale shows it, and its loose volume; null where the density is missing. */
    readonly weighedKg: number;
    readonly litres: number | null;
  }[];
  readonly perPlant: Measure;
  readonly perRowMeter: Measure;
  readonly perSquareMeter: Measure;
}

export interface Checkpoint {
  readonly day: number;
  readonly needKg: number;
  /** Mix and credits together. */
  readonly availableKg: number;
}

/** A need of a bed, and what the answer brings for it. */
export interface BedNutrient {
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
  /** Total content of what is spread, credits not included. */
  readonly appliedKg: number;
  /** Of `availableKg`, what credits bring. */
  readonly creditKg: number;
  /** What credits bring in all, whenever it becomes available. */
  readonly creditInAllKg: number;
  readonly checkpoints: readonly Checkpoint[];
  /** Money per further kg of `minKg`; 0 where it does not bind; null by purchase. */
  readonly shadowPricePerKg: number | null;
}

/** What one bed gets. All figures are for one bed, where several are alike. */
export interface BedAnswer {
  readonly bed: string;
  /** What the plan calls its crop. */
  readonly target: string;
  readonly plants: number | null;
  readonly areaM2: number | null;
  readonly bedsAlike: number;
  /** The worth of what the bed gets, by weight; stock at what it costs to buy again. Null where there is no answer. */
  readonly cost: number | null;
  readonly rounds: readonly Round[];
  readonly nutrients: readonly BedNutrient[];
  /** Names of the needs, caps and limits that are at their bound. */
  readonly binding: readonly string[];
  /** How often each need is met; absent where there is no answer. */
  readonly sure?: Sureness;
  /** Lime and ash against sulfur: the worth in calcium carbonate, kg; below zero the soil becomes more acid. Absent: 0. */
  readonly limestoneKg?: number;
  /** Only where the plan asks for few amendments that can be weighed: what its mix by weight would cost without that. */
  readonly simple?: { readonly freeCost: number };
  /** Only where they were asked for. */
  readonly curves?: readonly NutrientCurve[];
  /** For needs counted as applied, and for all where that was asked for: what the other way of counting costs by weight. */
  readonly countings?: readonly OtherCounting[];
  /** Why the bed has no mix of its own; empty where it has one. */
  readonly conflicts: readonly Conflict[];
  /** With conflicts: the least total giving way (each demand relative to its own size) that makes a mix possible. */
  readonly leastRelaxation?: readonly GivingWay[];
  /** With conflicts: cheapest first. */
  readonly remedies?: readonly Remedy[];
  /** With conflicts. */
  readonly closest?: ClosestMix;
  readonly cautions: readonly Caution[];
  /** What concerns this bed alone. */
  readonly warnings: readonly Notice[];
}

/** One size of pack that is bought. */
export interface BoughtPack {
  readonly sizeKg: number;
  readonly count: number;
  /** Of one. */
  readonly price: number;
  /** Where the pack names one; else the line's `supplier` sells it. */
  readonly supplier?: string;
}

/** One material of the purchase. A line with nothing to buy is there for what the mixes take out of the shed. */
export interface PurchaseLine {
  readonly id: string;
  readonly name: string;
  /** Null where the amendments file names none. */
  readonly supplier: string | null;
  /** Money is spent on it at a shipped price that is only an example. */
  readonly placeholder: boolean;
  readonly packs: readonly BoughtPack[];
  /** Bought loose, by weight. */
  readonly bulkKg: number;
  readonly boughtKg: number;
  readonly usedKg: number;
  /** Taken from the shed. */
  readonly stockKg: number;
  /** boughtKg + stockKg - usedKg. */
  readonly leftKg: number;
  /** `leftKg` at the cheapest price by weight. */
  readonly leftWorth: number;
  /** Money for what is bought. */
  readonly cost: number;
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

/** Of a need that whole packs would not meet: its nutrient (null: none is missed), and by what part of it. */
export interface NeedShort {
  readonly nutrient: string | null;
  readonly fraction: number;
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
  readonly shortfall: NeedShort;
}

/** Buying for one application at a time, against buying for the season at once. */
export interface TripComparison {
  readonly atOnce: number;
  readonly byApplication: readonly { readonly name: string; readonly total: number }[];
  readonly inAll: number;
}

/** A purchase that keeps to the budget and FALLS SHORT of the needs: it is not what the plans ask for. */
export interface ShortPurchase {
  /** `optimal`: no purchase within the budget is proven to fall less short. `found`: the best found in time. */
  readonly status: "optimal" | "found";
  readonly total: number;
  readonly goods: number;
  readonly delivery: number;
  readonly purchases: readonly PurchaseLine[];
  /** What the best mix on it falls short of on the average: the worst need, as a fraction of it. */
  readonly shortfall: NeedShort;
  /** No purchase within the budget falls short of its worst need by less. */
  readonly leastShortfall: number;
}

/** At which prices of one offer the purchase changes. Prices are of one pack, or of one kg of what is sold loose. */
export interface OfferRange {
  readonly id: string;
  /** Null: sold loose. */
  readonly sizeKg: number | null;
  readonly supplier: string | null;
  readonly price: number;
  /** How many are bought; kg where it is sold loose. */
  readonly count: number;
  /** Bought: fewer are bought above this price; null: at no price that was looked at. */
  readonly leavesAbove: number | null;
  /** Not bought: some are bought below this price; null: at no price. */
  readonly entersBelow: number | null;
}

/** What another number of mixes costs. */
export interface MixCount {
  /** Null: one for each bed. */
  readonly mixes: number | null;
  /** Null: no plan with so few mixes. */
  readonly total: number | null;
  /** No plan with so many mixes costs less. */
  readonly bound: number | null;
  readonly gap: number | null;
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
  /** kg in the cheapest mix with all of them. */
  readonly add: readonly { readonly id: string; readonly name: string; readonly kg: number }[];
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
  readonly nutrients: readonly Omit<BedNutrient, "shadowPricePerKg">[];
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
  /** By weight; null: no mix. */
  readonly total: number | null;
  /** By weight, counted as the plan counts it. */
  readonly asAsked: number;
}

/** What was asked, complete and in SI: lets a later command in a pipe ask the same again. */
export interface Asked {
  readonly by: By;
  /** One for each bed; how sure is asked in each. */
  readonly plans: readonly Plan[];
  readonly budget?: number;
  /** Of what is bought, the most that may be left over of any amendment. */
  readonly mostLeft?: { readonly kg: number } | { readonly share: number };
  /** Name of the one application that is bought for. */
  readonly application?: string;
  /** Beds that share mixes; absent: each has its own. */
  readonly sharing?: Sharing;
}

/** How beds may share mixes. */
export interface Sharing {
  /** So many mixes at most; absent: one for each bed, but for those that are pinned together. */
  readonly mostMixes?: number;
  /** By bed: the letter of the mix that it is to get; null: any. */
  readonly pins?: readonly (string | null)[];
  /** Whether each bed may get one material alone beside its mix, straight from its bag; absent: not. */
  readonly alone?: boolean;
  /** Bounds on what all beds together use of an amendment. */
  readonly heap?: readonly { readonly id: string; readonly minKg?: number; readonly maxKg?: number }[];
}

export interface Solution {
  readonly schema: "barrowmix.solution/2";
  /** `found`: the best found in time, with a gap that is left. */
  readonly status: "optimal" | "found" | "infeasible";
  /** Of the plan, the farm, or of all plans. */
  readonly name: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  readonly by: By;
  /** Null where there is no answer. */
  readonly cost: {
    /** What is paid. */
    readonly total: number | null;
    readonly goods: number | null;
    readonly delivery: number | null;
    /** The worth of the mixes by weight, after stock. */
    readonly byWeight: number | null;
    /** Null where a bed says no plants. */
    readonly perPlant: number | null;
    /** No answer costs less; null where nothing is proven of that. */
    readonly bound: number | null;
    /** (total - bound) / max(1, total). */
    readonly gap: number | null;
  };
  readonly mixes: readonly Mix[];
  /** In the order of the plans. */
  readonly beds: readonly BedAnswer[];
  readonly purchases: readonly PurchaseLine[];
  readonly suppliers: readonly SupplierOrder[];
  /** Farms: what other numbers of mixes cost. */
  readonly byMixes?: readonly MixCount[];
  /** What whole packs, or the weight, cost at each step of sureness of the needs asked (else N and S); cheapest first. */
  readonly surer?: readonly SureStep[];
  readonly rounding: {
    readonly scaleKg: number;
    /** The worst miss of any need once weights are rounded: fraction of the need; nutrient null: none. */
    readonly worstShortfall: { readonly nutrient: Nutrient | null; readonly fraction: number };
    /** The worst breach of any cap or limit once weights are rounded, in words; null: none. */
    readonly worstBreach: { readonly demand: string; readonly fraction: number } | null;
  };
  readonly verification: Omit<Verification, "gap">;
  /** By weight: what prices, needs and stock mean. Absent where nothing can be said: no mix, or whole numbers in the program. */
  readonly sensitivity?: Sensitivity;
  /** By purchase, only where it was asked for: at which price each offer leaves or enters the purchase. */
  readonly offers?: readonly OfferRange[];
  /** By purchase, only where it was asked for. Largest saving first. */
  readonly changes?: readonly PackChange[];
  readonly trips?: TripComparison | null;
  /** Only with a budget that is too small: the best that the money buys. */
  readonly best?: ShortPurchase;
  /** Why there is no answer: what no purchase or no mix can keep together. */
  readonly conflicts: readonly Conflict[];
  /** Of all beds, the gravest first; what one bed alone calls for names it where there are several. */
  readonly cautions: readonly Caution[];
  readonly warnings: readonly Notice[];
  readonly inputs: Asked;
}
