/** The season of a plan: when needs are checked, what of each material is available then, what credits bring. */
import type { Amendment, Demand, NamedCurve, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { interpolateFromZero } from "./curve.ts";
import { availableOn } from "./release.ts";

export interface Season {
  /** Days on which needs are checked: just before each later application, and the season's end. Rising. */
  readonly checkpoints: readonly number[];
  /** Share of an amendment's nutrient that is available on `day` when it was applied on `appliedDay`. */
  available(amendment: Amendment, nutrient: Nutrient, appliedDay: number, day: number): number;
  /** kg of a nutrient that credits have made available by `day`, for the whole bed. */
  creditKg(nutrient: Nutrient, day: number): number;
}

/** The curve that governs one nutrient of an amendment. */
export function curveOf(amendment: Amendment, nutrient: Nutrient): NamedCurve {
  return amendment.release.byNutrient[nutrient] ?? amendment.release.other;
}

/** kg of a demand's need that the crop has taken up by `day`; the whole need where no uptake is known. */
export function takenUpKg(demand: Demand, day: number): number {
  return demand.minKg * (demand.uptake ? interpolateFromZero(demand.uptake, day) : 1);
}

/** Lays out the season of a plan. Availabilities are computed once per curve and pair of days. */
export function layOutSeason(plan: Plan): Season {
  const first = plan.applications[0]!;
  const days = new Set(plan.applications.map((a) => a.day).filter((day) => day > first.day));
  days.delete(plan.seasonDays);
  const checkpoints = [...days].sort((a, b) => a - b);
  checkpoints.push(plan.seasonDays);

  const known = new Map<NamedCurve["curve"], Map<number, Map<number, number>>>();
  const share = (curve: NamedCurve["curve"], appliedDay: number, day: number): number => {
    const byApplied = getOrMake(known, curve);
    const byDay = getOrMake(byApplied, appliedDay);
    const value = byDay.get(day) ?? availableOn(curve, appliedDay, day, plan.soilTemperatureC);
    byDay.set(day, value);
    return value;
  };
  return {
    checkpoints,
    available: (amendment, nutrient, appliedDay, day) =>
      share(curveOf(amendment, nutrient).curve, appliedDay, day),
    creditKg: (nutrient, day) => {
      let sum = 0;
      for (const credit of plan.credits) {
        const content = credit.contentKg[nutrient];
        if (content !== undefined) sum += content * share(credit.release.curve, credit.day, day);
      }
      return sum;
    },
  };
}

function getOrMake<K, L, V>(maps: Map<K, Map<L, V>>, key: K): Map<L, V> {
  const found = maps.get(key);
  if (found) return found;
  const made = new Map<L, V>();
  maps.set(key, made);
  return made;
}
