/**
 * How much nitrate a rain carries below the roots.
 *
 * Burns's leaching equation as written by Scotter, White and Dyson 1993, J. Soil Sci. 44:25-33: of the nitrate that lay
 * on the surface, the part below depth z after net drainage I is X = exp(-z theta / I), theta being the volumetric
 * water content at field capacity.
 */

export interface Drainage {
  /** Rain less evaporation, metres of water; what drains through. */
  readonly drainageM: number;
  /** Water content at field capacity, volume fraction. */
  readonly soilWater: number;
  /** What lies deeper than this is lost to the crop. */
  readonly depthM: number;
  /** Nitrate is mixed evenly to here, at most `depthM`; 0: it lies on the surface. */
  readonly mixedToM: number;
}

/**
 * The part (0..1) of the nitrate that is carried below `depthM`. Mixed nitrate starts that much lower: the mean of X
 * over the distances depthM - d, d from 0 to mixedToM, integrated exactly.
 */
export function leachedFraction({ drainageM, soilWater, depthM, mixedToM }: Drainage): number {
  if (!(drainageM > 0)) return 0;
  const perMetre = soilWater / drainageM;
  const surface = Math.exp(-depthM * perMetre);
  const rise = mixedToM * perMetre;
  return rise < 1e-9 ? surface : (surface * Math.expm1(rise)) / rise;
}
