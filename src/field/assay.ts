/** What a mix that a grower already makes contains, costs and weighs, and what each plant gets of it. */

import type { WeighedMix } from "../files/mix.ts";
import type { Amendment, Batch, NutrientMap } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { AssayNutrient, Composition, SpreadPlan } from "../results/assay.ts";
import { availableAfter } from "../season/release.ts";
import { curveOf } from "../season/season.ts";
import { litresOf, sumKnown } from "./batches.ts";

/** Two, four, eight and sixteen weeks. */
export const LOOK_AFTER_DAYS = [14, 28, 56, 112] as const;

/** Slowest first. Parts are listed the other way round, and what is no class last of all. */
const RELEASE_ORDER = ["very-slow", "slow", "medium", "fast", "at-once"];

function releaseOrder(a: string, b: string): number {
  return RELEASE_ORDER.indexOf(b) - RELEASE_ORDER.indexOf(a) || (a < b ? -1 : 1);
}

/** Analyses a mix. The salt index of a blend is the mean by weight of its parts (Mortvedt, Calculating Salt Index). */
export function analyse(mix: WeighedMix): Composition {
  const kg = mix.portions.reduce((sum, portion) => sum + portion.kg, 0);
  const volumes = mix.portions.map((portion) => portion.litres ?? litresOf(portion.amendment, portion.kg));
  const litres = sumKnown(volumes);
  const parts = mix.portions
    .filter((portion) => portion.kg > 0)
    .map(({ amendment, kg: own }) => {
      const price = cheapestPricePerKg(amendment);
      return { amendment, kg: own, share: own / kg, cost: price === null ? null : own * price };
    });
  const known = parts.filter(({ amendment }) => amendment.saltIndex !== undefined);
  const knownKg = known.reduce((sum, part) => sum + part.kg, 0);
  const saltSum = known.reduce((sum, { amendment, kg: own }) => sum + own * (amendment.saltIndex ?? 0), 0);
  return {
    kg,
    litres,
    densityKgPerL: litres === null || litres === 0 ? null : kg / litres,
    nutrients: NUTRIENTS.flatMap((nutrient) => assayNutrient(parts, nutrient, kg)),
    cost: sumKnown(parts.map((part) => part.cost)),
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

const kgOf = (size: Batch, densityKgPerL: number | null): number | null =>
  "kg" in size ? size.kg : densityKgPerL === null ? null : size.litres * densityKgPerL;

/**
 * What a mix comes to on the bed: a rate per plant gives the whole, a number of batches gives the rate per plant.
 * @returns undefined where the file says nothing of spreading; null where a volume needs a density that is not known.
 */
export function layOutSpread(mix: WeighedMix, composition: Composition): SpreadPlan | null | undefined {
  const { spread, batch } = mix;
  if (!spread) return undefined;
  const { densityKgPerL } = composition;
  const batchKg = batch ? kgOf(batch, densityKgPerL) : composition.kg;
  if (batchKg === null) return null;
  const { plants, times } = spread;
  const doseKg = spread.perPlant && kgOf(spread.perPlant, densityKgPerL);
  if (doseKg === null) return null;
  const eachTimeKg = doseKg === undefined ? (spread.batches ?? 0) * batchKg : doseKg * (plants ?? 0);
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
