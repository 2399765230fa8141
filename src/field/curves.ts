/** Supply against need, day by day: what amounts have made available, and what the crop has taken up by then. */
import type { Plan } from "../model.ts";
import type { NutrientCurve } from "../results/solution.ts";
import { layOutSeason, takenUpKg } from "../season/season.ts";
import { type Amounts, suppliedKg } from "./delivery.ts";

/** Points of a curve at most, so that a season of years does not fill a page. */
const MOST_POINTS = 400;

/**
 * A curve for every nutrient that is needed, in canonical order, from the first application or planting to the season's
 * end. A need that counts what is spread has none: it does not ask when that becomes available.
 */
export function seasonCurves(plan: Plan, amounts: Amounts): NutrientCurve[] {
  const season = layOutSeason(plan);
  const from = Math.min(0, plan.applications[0]!.day);
  const step = Math.max(1, Math.ceil((plan.seasonDays - from) / MOST_POINTS));
  const days: number[] = [];
  for (let day = from; day < plan.seasonDays; day += step) days.push(day);
  days.push(plan.seasonDays);
  return plan.demands
    .filter((demand) => demand.minKg > 0 && demand.counts !== "applied")
    .map((demand) => ({
      nutrient: demand.nutrient,
      days,
      needKg: demand.uptake
        ? days.map((day) => (day === plan.seasonDays ? demand.minKg : takenUpKg(demand, day)))
        : null,
      seasonNeedKg: demand.minKg,
      supplyKg: days.map((day) => suppliedKg(plan, season, amounts, demand.nutrient, day)),
    }));
}
