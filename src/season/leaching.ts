/**
 * How much nitrate drainage carries below the roots: Burns's leaching equation, added up over several drainages and over
 * nitrogen that has lain there for different times. Pure functions in SI (metres, days, fractions of 1).
 *
 * Of the nitrate that lay on the surface, the part below depth z after net drainage I is X = exp(-z theta / I), theta being
 * the volumetric water content at field capacity (Scotter, White and Dyson 1993, J. Soil Sci. 44:25-33, for the equation of
 * Burns 1975, J. Agric. Sci. 85:443).
 *
 * Time between two drainages is one interval; what becomes available in it is one layer, which every later drainage meets.
 * A layer that has had drainage D since it came loses (X(D + I) - X(D)) / (1 - X(D)) of what is left of it to a further
 * drainage I, so that a rain written as several lines of one day takes what it would take as one. Uptake takes first what
 * has lain longest; since the amounts are not known yet where this is asked, that is the first layer.
 */
import type { Placement } from "../model.ts";

/** The soil that water drains through. */
export interface SoilWater {
  /** Volumetric water content at field capacity, 0..1. */
  readonly holds: number;
  /** Depth of the roots, metres. */
  readonly rootsM: number;
}

/** What a soil is taken to hold, and how deep roots are, where nobody says (a loam, 12 in; common practice, no source). */
export const SOIL_WATER: SoilWater = { holds: 0.25, rootsM: 0.3048 };

/** Soil water at field capacity is hardly known better than this, either way. */
export const SOIL_WATER_DOUBT = 0.05;

/** Soil water for which the share that a rain takes is worked out, in standard deviations from what was thought at first. */
export const WATER_STEPS: readonly number[] = Array.from({ length: 17 }, (_, k) => k / 2 - 4);

/** How deep an application is worked in, metres; common practice, no source. */
const MIXED_TO_M = { hole: 0.1, band: 0.05, broadcast: 0.15, surface: 0 } as const;

/** How deep the nitrate of an application lies mixed into the soil, metres; 0 where its placement is not named. */
export function mixedToM(placement: Placement | undefined): number {
  return placement === undefined ? 0 : MIXED_TO_M[placement];
}

/** Net drainage with what it meets. */
export interface DrainageThrough {
  readonly drainageM: number;
  /** Volumetric water content at field capacity, 0..1. */
  readonly soilWater: number;
  /** Depth of the roots, metres. */
  readonly depthM: number;
  /** Nitrate is mixed evenly down to this depth, metres. */
  readonly mixedToM: number;
}

/**
 * The part (0..1) of the nitrate that is carried below `depthM`. Mixed nitrate starts that much lower: the mean of X
 * over the distances depthM - d, d from 0 to mixedToM, integrated exactly.
 */
export function leachedFraction({ drainageM, soilWater, depthM, mixedToM }: DrainageThrough): number {
  if (!(drainageM > 0)) return 0;
  const perMetre = soilWater / drainageM;
  const nearest = Math.exp(-(depthM - mixedToM) * perMetre);
  const rise = mixedToM * perMetre;
  return rise < 1e-9 ? nearest : (nearest * -Math.expm1(-rise)) / rise;
}

/** X of a drainage in a soil; nitrate is never mixed deeper than the roots. */
function leachedIn({ holds, rootsM }: SoilWater, drainageM: number, mixedM: number): number {
  const mixed = Math.min(mixedM, rootsM);
  return leachedFraction({ drainageM, soilWater: Math.max(0.01, holds), depthM: rootsM, mixedToM: mixed });
}

/**
 * The part (0..1) of what is left of a layer that a further drainage carries away.
 * @param beforeM drainage that the layer has had already.
 */
export function leachedNext(water: SoilWater, beforeM: number, drainageM: number, mixedM: number): number {
  const before = leachedIn(water, beforeM, mixedM);
  const left = 1 - before;
  return left <= 1e-12 ? 0 : (leachedIn(water, beforeM + drainageM, mixedM) - before) / left;
}

/** Water that drains below the roots on a day: rain and irrigation less what evaporates and crops take up. */
export interface Drainage {
  readonly day: number;
  /** Metres. */
  readonly depthM: number;
}

/** What has come by a day, in any unit; never asked for days after the drainage that is worked out. */
type ByDay = (day: number) => number;

/** Several drainages and what each takes. */
export interface Leaching {
  /** By day, earliest first; drainages of one day are one. */
  readonly drainages: readonly Drainage[];
  readonly water: SoilWater;
  /**
   * Of a source that made so much available by a day: how much of it drainage `k` (index) carries away, if nothing is
   * taken up. Linear in what is available. Never more than there is over all drainages together.
   * @param mixedM how deep its nitrate lies, metres.
   */
  lostOf(k: number, availableBy: ByDay, mixedM: number): number;
  /**
   * How much less drainage `k` carries away because a crop has taken up so much by a day, from what has lain longest.
   * @param from day from which something lay in the soil: uptake before it is taken from that too.
   */
  sparedBy(k: number, takenUpBy: ByDay, mixedM: number, from: number): number;
}

/**
 * Lays out drainages over a soil.
 * @returns what each of them carries away; with no drainage, nothing.
 */
export function layOutLeaching(expected: readonly Drainage[], water: SoilWater): Leaching {
  const byDay = new Map<number, number>();
  for (const { day, depthM } of expected) if (depthM > 0) byDay.set(day, (byDay.get(day) ?? 0) + depthM);
  const drainages = [...byDay].map(([day, depthM]) => ({ day, depthM })).sort((a, b) => a.day - b.day);
  /** Drainage up to and with the line before `k`. */
  const before: number[] = [0];
  for (const { depthM } of drainages) before.push(before.at(-1)! + depthM);
  const x = (from: number, to: number, mixedM: number): number =>
    leachedIn(water, before[to]! - before[from]!, mixedM);
  /** Part of a whole layer of interval `j` that drainage `k` carries away, nothing taken up. */
  const share = (j: number, k: number, mixedM: number): number => x(j, k + 1, mixedM) - x(j, k, mixedM);
  const dayOf = (k: number): number => drainages[k]!.day;
  return {
    drainages,
    water,
    lostOf: (k, availableBy, mixedM) => {
      let lost = 0;
      let earlier = 0;
      for (let j = 0; j <= k; j++) {
        const by = availableBy(dayOf(j));
        if (by !== earlier) lost += share(j, k, mixedM) * (by - earlier);
        earlier = by;
      }
      return lost;
    },
    sparedBy: (k, takenUpBy, mixedM, from) => {
      const found = drainages.findIndex(({ day }) => day > from);
      const oldest = found < 0 ? drainages.length : found;
      if (oldest > k) return 0;
      let spared = 0;
      let earlier = 0;
      for (let i = oldest; i <= k; i++) {
        const by = takenUpBy(dayOf(i));
        const left = 1 - x(oldest, i, mixedM);
        if (left > 1e-12) spared += ((by - earlier) * share(oldest, k, mixedM)) / left;
        earlier = by;
      }
      return spared;
    },
  };
}
