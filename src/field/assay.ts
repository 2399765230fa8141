/** What a mix that a grower already makes contains, costs and weighs, and what each plant gets of it. */
import type { Amendment, Batch, NutrientMap } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { Mix } from "../recipe/mix.ts";
import { availableAfter } from "../season/release.ts";
import { curveOf } from "../season/season.ts";
import type { Caution, SolutionNutrient, Verification } from "../solution.ts";
import { litresPerKg } from "./batches.ts";

/** The part of one nutrient that comes in one release class. */
export interface ReleasePart {
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

/** Two, four, eight and sixteen weeks. */
export const LOOK_AFTER_DAYS = [14, 28, 56, 112] as const;

const RELEASE_ORDER = ["at-once", "fast", "medium", "slow", "very-slow"];

function releaseOrder(a: string, b: string): number {
  const place = (label: string) => (RELEASE_ORDER.indexOf(label) + 1 || RELEASE_ORDER.length + 1) - 1;
  return place(a) - place(b) || (a < b ? -1 : a > b ? 1 : 0);
}

/** Analyses a mix. The salt index of a blend is the mean by weight of its parts (Mortvedt, Calculating Salt Index). */
export function analyse(mix: Mix): Composition {
  const kg = mix.portions.reduce((sum, portion) => sum + portion.kg, 0);
  const volumes = mix.portions.map(({ amendment, kg: own, litres }) => {
    if (litres !== undefined) return litres;
    const perKg = litresPerKg(amendment);
    return own === 0 ? 0 : perKg === null ? null : own * perKg;
  });
  const litres = volumes.every((volume): volume is number => volume !== null)
    ? volumes.reduce((sum, volume) => sum + volume, 0)
    : null;
  const parts = mix.portions
    .filter((portion) => portion.kg > 0)
    .map(({ amendment, kg: own }) => {
      const price = cheapestPricePerKg(amendment);
      return { amendment, kg: own, share: own / kg, cost: price === null ? null : own * price };
    });
  const cost = parts.every((part): part is typeof part & { cost: number } => part.cost !== null)
    ? parts.reduce((sum, part) => sum + part.cost, 0)
    : null;
  const known = parts.filter(({ amendment }) => amendment.saltIndex !== undefined);
  const knownKg = known.reduce((sum, part) => sum + part.kg, 0);
  const saltSum = known.reduce((sum, { amendment, kg: own }) => sum + own * (amendment.saltIndex ?? 0), 0);
  return {
    kg,
    litres,
    densityKgPerL: litres === null || litres === 0 ? null : kg / litres,
    nutrients: NUTRIENTS.flatMap((nutrient) => assayNutrient(parts, nutrient, kg)),
    cost,
    saltIndex: knownKg > 0 ? { value: saltSum / kg, knownShare: knownKg / kg } : null,
    parts: parts.sort((a, b) => b.kg - a.kg || (a.amendment.id < b.amendment.id ? -1 : 1)),
  };
}

function assayNutrient(
  parts: readonly { readonly amendment: Amendment; readonly kg: number }[],
  nutrient: Nutrient,
  wholeKg: number,
): AssayNutrient[] {
  const byClass = new Map<string, number>();
  const available = LOOK_AFTER_DAYS.map(() => 0);
  let kg = 0;
  for (const { amendment, kg: own } of parts) {
    const content = own * (amendment.analysis[nutrient] ?? 0);
    if (content === 0) continue;
    const { label, curve } = curveOf(amendment, nutrient);
    kg += content;
    byClass.set(label, (byClass.get(label) ?? 0) + content);
    LOOK_AFTER_DAYS.forEach((days, i) => {
      available[i]! += content * availableAfter(curve, days);
    });
  }
  if (kg === 0) return [];
  return [
    {
      nutrient,
      kg,
      fraction: kg / wholeKg,
      parts: [...byClass]
        .map(([label, part]) => ({ label, kg: part }))
        .sort((a, b) => releaseOrder(a.label, b.label)),
      availableShare: available.map((amount) => amount / kg),
    },
  ];
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

const kgOf = (size: Batch, densityKgPerL: number | null): number | null =>
  "kg" in size ? size.kg : densityKgPerL === null ? null : size.litres * densityKgPerL;

/**
 * What a mix comes to on the bed: a rate per plant gives the whole, a number of batches gives the rate per plant.
 * @returns undefined where the file says nothing of spreading; null where a volume needs a density that is not known.
 */
export function layOutSpread(mix: Mix, composition: Composition): SpreadPlan | null | undefined {
  const { spread, batch } = mix;
  if (!spread) return undefined;
  const { densityKgPerL } = composition;
  const batchKg = batch ? kgOf(batch, densityKgPerL) : composition.kg;
  if (batchKg === null) return null;
  const { plants, times } = spread;
  let eachTimeKg: number;
  if (spread.perPlant) {
    const perPlant = kgOf(spread.perPlant, densityKgPerL);
    if (perPlant === null) return null;
    eachTimeKg = perPlant * (plants ?? 0);
  } else eachTimeKg = (spread.batches ?? 0) * batchKg;
  const batchesEachTime = eachTimeKg / batchKg;
  return {
    batchKg,
    times,
    eachTimeKg,
    totalKg: eachTimeKg * times,
    batchesEachTime,
    perPlantKg: plants === undefined ? null : eachTimeKg / plants,
    plantsPerBatch: plants === undefined || batchesEachTime === 0 ? null : plants / batchesEachTime,
  };
}

/** kg of each nutrient in so many kg of the mix. */
export function contentOf(composition: Composition, kg: number): NutrientMap {
  return Object.fromEntries(composition.nutrients.map(({ nutrient, fraction }) => [nutrient, fraction * kg]));
}

/** The grade of a label, N-P2O5-K2O in percent, to a tenth: `4.1-8.2-12.3`. */
export function grade(composition: Composition): string {
  const percent = (nutrient: Nutrient) => {
    const fraction = composition.nutrients.find((n) => n.nutrient === nutrient)?.fraction ?? 0;
    return String(Number((fraction * 100).toFixed(1)));
  };
  return [percent("N"), percent("P2O5"), percent("K2O")].join("-");
}

/** What one amendment of the mix would have to become. */
export interface PortionChange {
  readonly id: string;
  readonly name: string;
  readonly fromKg: number;
  readonly toKg: number;
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

/** A mix held against a plan. */
export interface Comparison {
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
  /** With `--against` only. */
  readonly nutrients?: readonly Omit<SolutionNutrient, "shadowPricePerKg">[];
  readonly against?: Comparison;
  readonly cautions: readonly Caution[];
  readonly warnings: readonly Notice[];
}
