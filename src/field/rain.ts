/** How much nitrate one rain carries below the roots; `season/leaching.ts` has the equation. */
import type { Rain } from "../results/topup.ts";
import { leachedFraction } from "../season/leaching.ts";

/** Rain that drains through, metres. */
export function drainageOf(rain: Rain): number {
  return Math.max(0, rain.rainM - rain.evaporationM);
}

/** The part (0..1) of the nitrate that a rain carries away from a soil that holds so much more water than it says. */
export function leachedBy(rain: Rain, moreWater = 0): number {
  const soilWater = Math.max(0.01, rain.soilWater + moreWater);
  return leachedFraction({ ...rain, drainageM: drainageOf(rain), soilWater });
}
