/** The result of `assay`, and its JSON (schema barrowmix.assay/1). SI throughout; money in the plan's currency. */
import type { Amendment, NutrientMap, OwnMeasure } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import type { BedNutrient, Caution, Verification } from "./solution.ts";
import type { Sureness } from "./sure.ts";

/** The part of one nutrient that comes in one release class. */
interface ReleasePart {
  /** As the files call it: `fast`, or `inline`, `measured`. */
  readonly label: string;
  readonly kg: number;
}

/** One nutrient of a mix. */
export interface AssayNutrient {
  readonly nutrient: Nutrient;
  readonly kg: number;
  /** Of the weight of the mix, 0..1. */
  readonly fraction: number;
  /** By release class, in order of the label's first appearance among `RELEASE_ORDER`, then by name. */
  readonly parts: readonly ReleasePart[];
  /** Share of the content (0..1) available after each of `LOOK_AFTER_DAYS`, at the releases' reference temperature. */
  readonly availableShare: readonly number[];
}

/** A mix by itself, for the weights its file lists. */
export interface Composition {
  readonly kg: number;
  /** Loose, the sum of each material's own volume; null where a density is missing. */
  readonly litres: number | null;
  readonly densityKgPerL: number | null;
  readonly nutrients: readonly AssayNutrient[];
  /** By weight at the cheapest price of each; null where one has no price. */
  readonly cost: number | null;
  /**
   * Mean by weight, what has no index counted as 0, and what share of the weight has one: below 1 the value is a least.
   * Null where nothing has one.
   */
  readonly saltIndex: { readonly value: number; readonly knownShare: number } | null;
  readonly parts: readonly {
    readonly amendment: Amendment;
    readonly kg: number;
    readonly share: number;
    readonly cost: number | null;
  }[];
}

/** How a mix is spread, in weights. */
export interface SpreadPlan {
  /** What one batch weighs. */
  readonly batchKg: number;
  readonly times: number;
  /** Over the whole bed, each time. */
  readonly eachTimeKg: number;
  readonly totalKg: number;
  readonly batchesEachTime: number;
  /** Each time; null without plants. */
  readonly perPlantKg: number | null;
  readonly plantsPerBatch: number | null;
}

/** What one amendment of the mix would have to become. */
interface PortionChange {
  readonly id: string;
  readonly name: string;
  readonly fromKg: number;
  readonly toKg: number;
  /** Loose volume of the change, above zero; null where no density is known. */
  readonly mL: number | null;
}

/** The smallest change of a mix, by weight added and taken away, that makes it meet a plan. */
export interface SmallestChange {
  /** `none`: it meets the plan as it is. `impossible`: no weights of these amendments do. */
  readonly status: "none" | "found" | "impossible";
  /** Added plus taken away, for the whole bed and season. */
  readonly kg: number;
  /** What changes, largest change first; weights are of the whole bed and season. */
  readonly amendments: readonly PortionChange[];
  /** What the changed mix costs, counted as the plan counts; null where something has no price. */
  readonly cost: number | null;
  readonly verification: Verification | null;
}

/** What can be taken out of a mix, for the whole bed and season, with no demand of the plan the worse for it. */
export interface PortionLess {
  readonly id: string;
  readonly name: string;
  readonly kg: number;
  /** Money; what comes out of the shed saves nothing. Null where it has no price. */
  readonly saves: number | null;
}

/** What has to be added to a mix, for the whole bed and season. */
export interface PortionAdded {
  readonly id: string;
  readonly name: string;
  readonly kg: number;
  /** Money; what comes out of the shed is free. Null where it has no price. */
  readonly cost: number | null;
}

/** `none`: the mix meets the plan as it is. `impossible`: no addition makes it. */
export type AddStatus = "none" | "found" | "impossible";

/** A mix held against a plan. */
export interface AgainstPlan {
  readonly plan: string;
  readonly target: string;
  /** Amounts of the mix are multiplied by this, from its own bed to the plan's. */
  readonly scaledBy: number;
  /** How the mix was taken to be spread. */
  readonly applications: readonly { readonly name: string; readonly day: number; readonly kg: number }[];
  /** Demands that the mix does not keep, worst first. `by` is kg, or a share for a share; `fraction` is of the demand. */
  readonly misses: readonly {
    readonly demand: string;
    readonly side: "short" | "over";
    readonly unit: "kg" | "share";
    readonly by: number;
    readonly fraction: number;
  }[];
  /** Of the season's mix; stock counts as free, as it does in the plan. Null where something has no price. */
  readonly cost: number | null;
  /** Of the cheapest mix that meets the plan; null where there is none. */
  readonly cheapestCost: number | null;
  readonly difference: number | null;
  /** At no loss: demands that are met stay met, the others get no worse. Largest saving first. */
  readonly leaveOut: readonly PortionLess[];
  readonly addStatus: AddStatus;
  /** The cheapest addition by which the mix, kept whole, meets the plan. Heaviest first. */
  readonly add: readonly PortionAdded[];
  /** Where adding is impossible: broken demands that no addition mends; may be empty. */
  readonly addBlockedBy: readonly string[];
  readonly change: SmallestChange;
}

/** The result of `assay`, schema barrowmix.assay/1. */
export interface Assay {
  readonly schema: "barrowmix.assay/1";
  readonly mix: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  readonly kg: number;
  readonly litres: number | null;
  readonly densityKgPerL: number | null;
  /** N-P2O5-K2O in percent. */
  readonly grade: string;
  /** Percent by nutrient. */
  readonly analysis: NutrientMap;
  /** kg by nutrient, in the weights the file lists. */
  readonly content: NutrientMap;
  readonly release: readonly {
    readonly nutrient: string;
    readonly parts: readonly { readonly release: string; readonly kg: number; readonly share: number }[];
    readonly availableShare: readonly { readonly days: number; readonly share: number }[];
  }[];
  readonly cost: number | null;
  readonly costPerKg: number | null;
  readonly saltIndex: Composition["saltIndex"];
  readonly amendments: readonly {
    readonly id: string;
    readonly name: string;
    readonly kg: number;
    readonly share: number;
    readonly cost: number | null;
  }[];
  /** With `spread` only. */
  readonly spread?: SpreadPlan & { readonly plants: number | null; readonly areaM2: number | null };
  /** Each time. */
  readonly perPlant?: { readonly g: number | null; readonly mL: number | null };
  /** kg by nutrient over all times. */
  readonly applied?: NutrientMap;
  /** The measures of the mix file, largest first; absent: none. */
  readonly scoops?: readonly OwnMeasure[];
  /** With `--against` only. */
  readonly nutrients?: readonly Omit<BedNutrient, "shadowPricePerKg">[];
  readonly against?: AgainstPlan;
  /** How often each need of the plan is met by the mix. */
  readonly sure?: Sureness;
  readonly cautions: readonly Caution[];
  readonly warnings: readonly Notice[];
}
