/**
 * How much nitrate a rain carries below the roots.
 *
 * Burns's leaching equation as written by Scotter, White and Dyson 1993, J. Soil Sci. 44:25-33: of the nitrate that lay
 * on the surface, the part below depth z after net drainage I is X = exp(-z theta / I), theta being the volumetric
 * water content at field capacity.
 */

import type { Drainage, Rain } from "../results/topup.ts";

/**
 * The part (0..1) of the nitrate that is carried below `depthM`. Mixed nitrate starts that much lower: the mean of X
 * over the distances depthM - d, d from 0 to mixedToM, integrated exactly.
 */
export function leachedFraction({ drainageM, soilWater, depthM, mixedToM }: Drainage): number {
  if (!(drainageM > 0)) return 0;
  const perMetre = soilWater / drainageM;
  const nearest = Math.exp(-(depthM - mixedToM) * perMetre);
  const rise = mixedToM * perMetre;
  return rise < 1e-9 ? nearest : (nearest * -Math.expm1(-rise)) / rise;
}

/** Soil water at field capacity is hardly known better than this, either way. */
export const SOIL_WATER_DOUBT = 0.05;

/** Rain that drains through, metres. */
export function drainageOf(rain: Rain): number {
  return Math.max(0, rain.rainM - rain.evaporationM);
}

/** The part (0..1) of the nitrate that a rain carries away from a soil that holds so much more water than it says. */
export function leachedBy(rain: Rain, moreWater = 0): number {
  const soilWater = Math.max(0.01, rain.soilWater + moreWater);
  return leachedFraction({ ...rain, drainageM: drainageOf(rain), soilWater });
}
