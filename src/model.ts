/**
 * The validated model, in SI: kg, m2, m, L, days, degrees Celsius; shares and analyses are fractions of 1.
 * Read-only data, no logic. Everything after loading works on these types alone.
 */
import type { Nutrient } from "./nutrients.ts";
import { defined } from "./optional.ts";
import type { Notice } from "./problem.ts";

/*
 * What a figure is of. Each is a number or a text; what it may be is said once, by the name of its type, in
 * `files/schema/figures.ts`, which holds plans that are read back from JSON to it. A figure of a plan has one of these.
 */
export type Kg = number;
/** Above zero. */
export type SomeKg = number;
export type Litres = number;
export type Metres = number;
export type SquareMetres = number;
/** Of a harvest. */
export type KgPerM2 = number;
/** Counted from planting. */
export type Day = number;
export type Days = number;
/** Of the soil. */
export type Celsius = number;
/** A difference of temperatures. */
export type CelsiusApart = number;
export type KgPerL = number;
export type Money = number;
/** Of a search; above zero. */
export type Seconds = number;
export type MoneyPerKg = number;
/** From 0 to 1. */
export type Share = number;
/** Above 0, at most 1. */
export type SomeShare = number;
/** Of what a material holds; below zero it ties up. */
export type ReleasedShare = number;
/** Of the weight of a bag. */
export type Content = number;
/** Weight of a nutrient that is brought, or below zero tied up, which only nitrogen can be. */
export type BroughtKg = number;
/** A standard deviation as a fraction of its mean. */
export type Spread = number;
/** How far something moves, either way. */
export type MovedBy = number;
/** A share of seasons. */
export type Chance = number;
/** A share of seasons in which several needs are met together. */
export type ChanceTogether = number;
/** Calcium carbonate equivalent, as a fraction. */
export type LimeValue = number;
export type SaltIndex = number;
/** How much faster all goes for each 10 degrees. */
export type Q10 = number;
export type PH = number;
/** Of the soil's saturated paste, dS/m. */
export type Salinity = number;
/** From 1. */
export type Count = number;
/** Of a list, from 0. */
export type Index = number;
/** In the unit of what it is a threshold of. */
export type Threshold = number;
/** Small letters, digits and hyphens. */
export type Id = string;
/** `2027-05-20`. */
export type IsoDate = string;
/** ISO 4217. */
export type Currency = string;

/** Something for each nutrient, or for some of them. */
export type ByNutrient<T> = Readonly<Partial<Record<Nutrient, T>>>;

/** A number per nutrient; a nutrient that is absent is zero. */
export type NutrientMap = ByNutrient<number>;

/** Points `[x, y]` with x rising: linear between, constant after the last. */
export type Points = readonly (readonly [number, number])[];
/** Shares that are reached by a day, never falling. */
export type Totals = readonly (readonly [Day, Share])[];
export type Temperatures = readonly (readonly [Day, Celsius])[];

/**
 * How much of a material's nutrient has become available `tau` days (at the reference temperature) after it
 * was applied. `pool`: atOnce + later * (1 - 2^(-tau / halfLifeDays)). `points`: measured, 0 at day 0 unless given.
 * Shares below zero mean that the material ties up what the soil holds, as straw does nitrogen.
 */
export type ReleaseCurve =
  | {
      readonly kind: "pool";
      readonly atOnce: ReleasedShare;
      readonly later: ReleasedShare;
      readonly halfLifeDays: Days;
      readonly q10: Q10;
      readonly referenceC: Celsius;
    }
  | { readonly kind: "points"; readonly points: Totals; readonly q10: Q10; readonly referenceC: Celsius };

/** A curve for each nutrient named, and one for the rest. `label` is the word the file used, for display. */
export interface Release {
  readonly byNutrient: ByNutrient<NamedCurve>;
  readonly other: NamedCurve;
}
export interface NamedCurve {
  /** The class name (`slow`), or `inline` / `measured`. */
  readonly label: string;
  readonly curve: ReleaseCurve;
  /** Standard deviation of what it gives, as a fraction of that; absent: as usual for its label. */
  readonly varies?: Spread;
}

/** Standard deviation of contents between lots, each as a fraction of its mean; absent: as usual for the kind. */
export interface Varies {
  readonly byNutrient: ByNutrient<Spread>;
  readonly other?: Spread;
}

/** One size that can be bought. */
export interface Pack {
  readonly sizeKg: SomeKg;
  readonly price: Money;
  /** Who sells this pack, where it is not the amendment's own supplier. */
  readonly supplier?: Id;
}

export type OrganicStatus = "listed" | "restricted" | "prohibited" | "unknown";
export const MATERIAL_KINDS = [
  "animal",
  "plant",
  "mineral",
  "manure-raw",
  "manure-processed",
  "compost",
  "salt",
] as const;
export type MaterialKind = (typeof MATERIAL_KINDS)[number];

/** A material the grower can buy or has in the shed. */
export interface Amendment {
  readonly id: Id;
  readonly name: string;
  /** Fraction by weight as sold, per canonical nutrient. */
  readonly analysis: ByNutrient<Content>;
  /** Sizes on offer, as listed. */
  readonly packs: readonly Pack[];
  /** Money per kg, where it is sold by weight. */
  readonly bulkPricePerKg?: MoneyPerKg;
  readonly supplier?: Id;
  /** Its prices are invented, so that a first plan runs: nobody asks them. Absent: they are real. */
  readonly placeholder?: boolean;
  readonly release: Release;
  /** Loose bulk density. */
  readonly densityKgPerL?: KgPerL;
  /** In the shed already; costs nothing. */
  readonly stockKg: Kg;
  readonly organic: OrganicStatus;
  readonly kind?: MaterialKind;
  /** Salt index, sodium nitrate = 100 by weight. */
  readonly saltIndex?: SaltIndex;
  /** As the bag says it, for the record alone. */
  readonly brand?: string;
  /** What its phosphorus is bound in, where the file says so. */
  readonly phosphate?: "rock" | "bone" | "soluble" | "organic";
  /** Calcium carbonate equivalent, fraction; below zero for what makes soil more acid. */
  readonly cce?: LimeValue;
  /** A raw manure whose nitrogen no release of its own governs (`season/manure.ts`). */
  readonly manure?: RawManure;
  /** Of `analysis`, from lot to lot. */
  readonly varies?: Varies;
  /**
   * Fraction by weight that counts as grade (available phosphate, soluble potash) where less than the whole analysis does;
   * never above the analysis. A need of what is spread counts it.
   */
  readonly grade?: ByNutrient<Content>;
  /**
   * Share of a nutrient's content that can feed a crop on this plan's soil at all (phosphate rock in limy soil feeds
   * none); absent: 1. It multiplies what becomes available, and what counts towards a need of what is spread.
   */
  readonly effective?: ByNutrient<Share>;
}

/**
 * How a need is counted: by what becomes available to plants in the season, or by what is spread (the whole content of
 * blend and credits, whatever becomes of it), which is how rates of phosphate and potash are published.
 */
export type Counts = "available" | "applied";

/** What the crop asks of one nutrient, for the whole bed. */
export interface Demand {
  readonly nutrient: Nutrient;
  /** Over the season, as `counts` says; already divided by `efficiency`. 0 where only a maximum is asked. */
  readonly minKg: Kg;
  /** Counted as `minKg` is. */
  readonly maxKg: Kg | null;
  /** Absent: `available`. With `applied` there is no uptake curve. */
  readonly counts?: Counts;
  /** Share of what is available that the crop takes up, by which the need has been divided; absent: 1. */
  readonly efficiency?: SomeShare;
  /** Cap on what is applied, available or not. */
  readonly appliedMaxKg: Kg | null;
  /** A cap on what is applied that gives way as far as the plain needs cannot be met otherwise; absent: none. */
  readonly appliedSoftMaxKg?: Kg;
  /** Cap on what is available and not yet taken up, at any checkpoint. */
  readonly aheadMaxKg: Kg | null;
  /** Share of `minKg` taken up by day; null: only the season's end is checked. */
  readonly uptake: Totals | null;
}

/** Nutrients that reach the crop without the blend. */
export interface Credit {
  readonly from: string;
  readonly day: Day;
  readonly release: NamedCurve;
  /** Total content for the whole bed, before release. Below zero: nitrogen that is tied up while it rots. */
  readonly contentKg: ByNutrient<BroughtKg>;
  /** Standard deviation as a fraction of what it brings; absent: as usual. */
  readonly varies?: Spread;
  /** It goes on for as long as the season lasts: what it brings in all is what it has brought by the season's end. */
  readonly ongoing?: boolean;
}

export interface Application {
  readonly name: string;
  readonly day: Day;
  /** Share of the blend spread then, of 1; used with `blend: one`. */
  readonly share: SomeShare;
  /** Absent: `broadcast`. */
  readonly placement?: Placement;
  /** How soon it is dug in; absent: by its placement. */
  readonly dugInDays?: Days;
}

/** Where an application goes: into the planting hole, in a band, worked in over the bed, or left on its surface. */
export const PLACEMENTS = ["hole", "band", "broadcast", "surface"] as const;
export type Placement = (typeof PLACEMENTS)[number];

/** What is over the bed: nothing, plastic on the ground, or a tunnel; under cover no rain leaches. */
export const COVERS = ["open", "plastic", "tunnel"] as const;
export type Cover = (typeof COVERS)[number];

/** What the plan says of its soil. */
export interface Soil {
  readonly pH?: PH;
  /** Share of the soil's weight. */
  readonly organicMatter?: Share;
  /** Rating of phosphorus: the plan's own word, or that of its soil test. */
  readonly pRating?: string;
  /** Electrical conductivity of the saturated paste, dS/m: its salt. */
  readonly ec?: Salinity;
  /** Volumetric water content at field capacity; absent: a loam's. */
  readonly holds?: SomeShare;
  /** Depth of the roots; absent: 12 in. */
  readonly rootsM?: Metres;
}

/** Water that is expected to drain below the roots. */
export interface ExpectedDrainage {
  readonly day: Day;
  readonly depthM: Metres;
}

export const ANIMALS = ["cattle", "horse", "sheep", "swine", "poultry"] as const;
export type Animal = (typeof ANIMALS)[number];

/** What is known of a raw manure whose nitrogen is counted by its ammonium and by how soon it is dug in. */
export interface RawManure {
  /** Ammonium nitrogen, fraction by weight; absent: not tested. */
  readonly ammoniumN?: Content;
  readonly animal?: Animal;
  readonly dryMatter?: SomeShare;
}

/** Bounds on one amendment, per blend: on the whole with `blend: one`, on each application with `blend: each`. */
export interface Limit {
  readonly id: Id;
  readonly minShare?: Share;
  readonly maxShare?: Share;
  readonly minKg?: Kg;
  readonly maxKg?: Kg;
  /** Weights are of all applications together, also where each has its own amounts. */
  readonly together?: boolean;
  /** Indices into `Plan.applications`. */
  readonly notIn: readonly Index[];
}

/** A bed, or several alike: its measures are those of one. */
export interface Bed {
  readonly plants?: Count;
  readonly areaM2?: SquareMetres;
  readonly rows?: Count;
  readonly rowLengthM?: Metres;
  /** So many beds alike, which the plan's needs and amounts are for together; absent: one. */
  readonly bedsAlike?: Count;
}

/** The measures of all beds alike together, as amounts of a plan count them. */
export function wholeBed({ bedsAlike = 1, plants, areaM2, rows, rowLengthM }: Bed): Bed {
  return defined({
    plants: plants && plants * bedsAlike,
    areaM2: areaM2 && areaM2 * bedsAlike,
    // Rows of several beds are rows of their length; a length alone is that of all rows.
    rows: rows && rows * bedsAlike,
    rowLengthM: rowLengthM && (rows === undefined ? rowLengthM * bedsAlike : rowLengthM),
  });
}

export type Batch = { readonly kg: SomeKg } | { readonly litres: Litres };

/** A measure that the grower has named: a scoop, a bucket, a barrow. */
export interface OwnMeasure {
  readonly name: string;
  readonly litres: Litres;
}

export interface Supplier {
  readonly id: Id;
  /** Charge for delivering any order. */
  readonly delivery: Money;
  /** Goods value from which delivery is free, all of its charges; absent: never. */
  readonly freeOver?: Money;
  /** Charge by the weight of the order, money per kg. */
  readonly perKg?: MoneyPerKg;
  /** Charge as a fraction of the value of the goods. */
  readonly percent?: Share;
  /** Charges by the weight of the order, lightest first, prices never falling: the first that reaches it counts. */
  readonly steps?: DeliverySteps;
}

/** Whether a supplier asks anything for delivery, or refuses what is too heavy. */
export function chargesDelivery({ delivery, perKg = 0, percent = 0, steps = [] }: Supplier): boolean {
  return delivery > 0 || perKg > 0 || percent > 0 || steps.length > 0;
}

/** The heaviest order that a supplier delivers, kg; Infinity where it delivers any. */
export function heaviestOrderKg({ steps = [] }: Supplier): number {
  return steps.length === 0 ? Infinity : (steps.at(-1)!.upToKg ?? Infinity);
}

export type DeliverySteps = readonly DeliveryStep[];

/** What delivery costs up to a weight. */
export interface DeliveryStep {
  /** Absent in a last step: whatever the weight. With none such, what is heavier is not delivered at all. */
  readonly upToKg?: SomeKg;
  readonly price: Money;
}

export interface Harvest {
  readonly firstDay: Day;
  readonly touchesSoil: boolean;
}

/** An amendment that the plan's own words left out of the choice. */
export interface LeftOut {
  readonly id: Id;
  readonly why: "not in only" | "excluded" | "not listed organic" | "not buyable";
}

/** How sure the needs are to be met: 0.9 is nine seasons of ten. */
export interface SureAsked {
  /** Those asked for by themselves, in canonical order; each at least 0.5. */
  readonly each: readonly { readonly nutrient: Nutrient; readonly p: Chance }[];
  /** Several needs to be met in the same season. */
  readonly together?: { readonly nutrients: readonly Nutrient[]; readonly p: ChanceTogether };
}

/** Materials that were spread on one day. */
export interface Given {
  readonly day: Day;
  readonly placement?: Placement;
  readonly dugInDays?: Days;
  readonly kg: readonly { readonly id: Id; readonly kg: Kg }[];
}

/** What one standard deviation of a doubt moves, by the doubt's key (`season/spread.ts`): kg, or of doubts themselves. */
export interface Move {
  readonly doubt: string;
  readonly by: MovedBy;
}

/** Nitrogen that water carried below the roots. */
export interface Loss {
  readonly day: Day;
  /** Expected. */
  readonly kg: Kg;
  /** Of what lay there, by the water that the soil holds (`WATER_STEPS` of `season/leaching.ts`), the driest first. */
  readonly shares: readonly MovedBy[];
  /** By the crop, up to that day. */
  readonly takenUpKg: Kg;
}

/** A reading of the soil's nitrate: each spread v of a later supply becomes v - beta h (h.v) / (h.h). */
export interface Reading {
  readonly beta: Share;
  /** h: the spreads of what was expected, kg. */
  readonly spreads: readonly Move[];
  readonly day: Day;
  /** Nitrogen that it found. */
  readonly kg: Kg;
  /** Of the test, over what lies there. */
  readonly cv: MovedBy;
  /** One standard deviation of what else parts it from what is worked out: uptake, and another bed. */
  readonly besideKg: Kg;
  readonly takenUpKg: Kg;
}

/**
 * What has happened in a season of which only the rest is planned: the plan's applications, needs, caps and stock are those
 * of the rest.
 */
export interface Past {
  /** The rest begins on this day. */
  readonly on: Day;
  /** By day. */
  readonly given: readonly Given[];
  /** By day. */
  readonly losses: readonly Loss[];
  /** Spreads of all losses together, kg. */
  readonly lossSpreads: readonly Move[];
  /** By day. */
  readonly readings: readonly Reading[];
  /** Where the readings put each doubt, in its standard deviations. */
  readonly shifts: readonly Move[];
}

/** A plan, complete and checked. */
export interface Plan {
  readonly name: string;
  readonly currency: Currency;
  readonly units: "us" | "metric";
  /** The choice the blend is made from, sorted by id; never empty. */
  readonly amendments: readonly Amendment[];
  readonly leftOut: readonly LeftOut[];
  readonly targetName: string;
  /** What says its rates, in words: a file, a shipped recipe, a soil test; and the yield they feed. Absent: not known. */
  readonly needsFrom?: { readonly source: string; readonly yieldKgPerM2?: KgPerM2 };
  /** Date of day 0. */
  readonly planted?: IsoDate;
  /** Largest first; absent: none. */
  readonly scoops?: readonly OwnMeasure[];
  /** Planting to the end of uptake. */
  readonly seasonDays: Days;
  /** In canonical nutrient order. */
  readonly demands: readonly Demand[];
  readonly bed: Bed;
  /** Soil temperature by day; absent: releases run at their reference. One point for a constant. */
  readonly soilTemperatureC?: Temperatures;
  readonly soil?: Soil;
  /** What leaves with the harvest, kg for the bed, where the target says so; absent: not known. */
  readonly removalKg?: ByNutrient<Kg>;
  /** Absent: `open`. */
  readonly cover?: Cover;
  readonly credits: readonly Credit[];
  /** Water expected to drain below the roots, by day; absent: none. */
  readonly drainage?: readonly ExpectedDrainage[];
  /** By day, earliest first; at least one. */
  readonly applications: readonly Application[];
  readonly blend: "one" | "each";
  /** Absent: each application is one batch. */
  readonly batch?: Batch;
  /** Weights are rounded to this. */
  readonly scaleKg: SomeKg;
  readonly limits: readonly Limit[];
  /** Few amendments, none too small to weigh. */
  readonly simple?: { readonly most?: Count; readonly leastKg?: Kg };
  readonly suppliers: readonly Supplier[];
  readonly harvest?: Harvest;
  /** Days on which needs are checked besides those before each application; rising. Absent: none. */
  readonly checkDays?: readonly Day[];
  /** Absent: each need as often as not. */
  readonly sure?: SureAsked;
  /** What the whole season or bed shares: fractions, and degrees Celsius; absent ones are as usual. */
  readonly varies?: {
    readonly releases?: Spread;
    readonly soilTemperatureC?: CelsiusApart;
    readonly spreading?: Spread;
  };
  /** Absent: nothing has happened yet. */
  readonly past?: Past;
  /** Thresholds of cautions that the plan sets for itself, by code; SI as in `files/caution-thresholds.ts`. */
  readonly thresholds?: Readonly<Partial<Record<string, Threshold>>>;
  /** What loading noticed and the user should read. */
  readonly warnings: readonly Notice[];
}

/** A bed of a farm: a plan of its own, with the farm's shelf, money, batch and scale. */
export interface FarmBedPlan {
  /** Also the name of its plan. */
  readonly name: string;
  readonly plan: Plan;
  /** The letter of the mix that it is to get; absent: any. */
  readonly mix?: string;
}

/** Many beds and one shed. */
export interface Farm {
  readonly name: string;
  /** In the file's order; at least one, each name once. */
  readonly beds: readonly FarmBedPlan[];
  /** So many mixes at most; absent: one for each bed. */
  readonly mostMixes?: number;
  /** Besides its mix, a bed may get so many materials straight from their bags. */
  readonly alone: 0 | 1;
  /** Bounds on what all beds together use of an amendment. */
  readonly heap: readonly { readonly id: string; readonly minKg?: number; readonly maxKg?: number }[];
  /** What loading noticed of the farm itself. */
  readonly warnings: readonly Notice[];
}
