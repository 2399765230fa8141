/** Needs so large that a unit was probably mistaken. */
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import { fromSi, toSi } from "../units.ts";
import { grams, grouped, weight } from "./numbers.ts";

/**
 * Season needs that no vegetable crop has, lb/acre: several times the largest removals and recommendations in print
 * (tomato 200 N, 225 K2O, University of Florida CV236; broccoli, whole crop, 210 K2O, New England Vegetable Management
 * Guide). The round numbers themselves are common practice, no source.
 */
const BEYOND_REASON_LB_PER_ACRE: Readonly<Partial<Record<Nutrient, number>>> = {
  N: 400,
  P2O5: 400,
  K2O: 700,
  Ca: 2000,
  Mg: 300,
  S: 300,
  Fe: 60,
  Mn: 60,
  Zn: 40,
  Cu: 40,
  B: 10,
  Mo: 3,
};

/** A vegetable plant has at most about this much ground; used where a bed gives plants and no area. */
const GROUND_PER_PLANT_M2 = 2;

/** A warning for each need beyond reason; the plan is solved all the same. */
export function suspectNeeds(plan: Plan): Notice[] {
  const { areaM2, plants } = plan.bed;
  const ground = areaM2 ?? (plants === undefined ? undefined : plants * GROUND_PER_PLANT_M2);
  if (ground === undefined) return [];
  return plan.demands.flatMap(({ nutrient, minKg }): Notice[] => {
    const limit = BEYOND_REASON_LB_PER_ACRE[nutrient];
    const rate = fromSi(minKg / ground, "lb/acre");
    if (limit === undefined || rate <= limit) return [];
    const unit = plan.units === "us" ? "lb/acre" : "kg/ha";
    const figures = (kgPerM2: number, digits: number): string =>
      areaM2 === undefined
        ? grams(kgPerM2 * GROUND_PER_PLANT_M2 * 1000)
        : grouped(Number(fromSi(kgPerM2, unit).toPrecision(digits)));
    const per = areaM2 === undefined ? " per plant" : ` ${unit}`;
    return [
      {
        code: "need-suspect",
        text: `A need of ${weight(minKg, plan.units)} of ${nutrient} on this bed is ${figures(minKg / ground, 3)}${per}; no vegetable crop needs more than about ${figures(toSi(limit, "lb/acre"), 2)}. Check the unit of the need, what it is \`per\`, and the size of the bed.`,
      },
    ];
  });
}
