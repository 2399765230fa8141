/**
 * How much of a material's nutrient has become available by a given day.
 *
 * A first-order pool (Stanford and Smith 1972, SSSAJ 36:465, write N mineralised as N0 (1 - e^(-k t)); from memory)
 * with a share that is available at once, and soil temperature entering as a factor on time, Q10^((T - Tref) / 10).
 */
import type { Points, ReleaseCurve } from "../model.ts";
import { interpolate, interpolateFromZero } from "./curve.ts";

/**
 * Days at the reference temperature that the days `from`..`to` are worth:
 * the integral of q10^((T(s) - referenceC) / 10), exact for a temperature that is linear between its points.
 * Without a temperature a day counts as a day.
 */
export function effectiveDays(
  from: number,
  to: number,
  curve: { readonly q10: number; readonly referenceC: number },
  soilTemperatureC?: Points,
): number {
  if (to <= from) return 0;
  const rate = Math.log(curve.q10) / 10;
  if (!soilTemperatureC || rate === 0) return to - from;
  const stops = [from, ...soilTemperatureC.map(([day]) => day).filter((day) => day > from && day < to), to];
  let total = 0;
  for (let k = 1; k < stops.length; k++) {
    const start = stops[k - 1]!;
    const end = stops[k]!;
    const startC = interpolate(soilTemperatureC, start);
    const rise = rate * (interpolate(soilTemperatureC, end) - startC);
    const meanFactor = Math.abs(rise) < 1e-12 ? 1 : Math.expm1(rise) / rise;
    total += (end - start) * Math.exp(rate * (startC - curve.referenceC)) * meanFactor;
  }
  return total;
}

/** Share of the content (at most 1; below zero where it is tied up) available after `tau` days at the reference temperature. */
export function availableAfter(curve: ReleaseCurve, tau: number): number {
  if (curve.kind === "points") return interpolateFromZero(curve.points, tau);
  return curve.atOnce + curve.later * -Math.expm1((-Math.LN2 * tau) / curve.halfLifeDays);
}

/**
 * Share of the content (at most 1; below zero where it is tied up) available on `day` of what was applied on `appliedDay`.
 * Nothing is available on the day of application itself or before.
 */
export function availableOn(
  curve: ReleaseCurve,
  appliedDay: number,
  day: number,
  soilTemperatureC?: Points,
): number {
  if (day <= appliedDay) return 0;
  return availableAfter(curve, effectiveDays(appliedDay, day, curve, soilTemperatureC));
}
