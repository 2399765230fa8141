/** How far each thing varies, as a share of its mean (standard deviation / mean): as files say, else `files/spread-defaults.ts`. */
import { lotSpread, RELEASE_SPREADS, SEASON_SPREADS } from "../files/spread-defaults.ts";
import type { Amendment, Credit, NamedCurve, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { curveOf } from "./manure.ts";

/** Standard deviation of the season's mean soil temperature. */
export function temperatureSpread(plan: Plan): number {
  return plan.varies?.soilTemperatureC ?? SEASON_SPREADS.soilTemperatureC.sd;
}

/** Variation of what an amendment holds of a nutrient, from lot to lot. */
export function analysisSpread(amendment: Amendment, nutrient: Nutrient): number {
  return lotSpread(amendment.varies, amendment.kind, nutrient);
}

/** Whether a curve gives everything on the day it is spread, so that its release cannot be in doubt. */
function isAtOnce({ curve }: NamedCurve): boolean {
  return curve.kind === "pool" && curve.later === 0;
}

/** Variation of what a release gives, the common part included; 0 where everything is there at once. */
function releaseSpread(named: NamedCurve): number {
  if (isAtOnce(named)) return 0;
  if (named.varies !== undefined) return named.varies;
  const { label } = named;
  return Object.hasOwn(RELEASE_SPREADS, label)
    ? RELEASE_SPREADS[label as keyof typeof RELEASE_SPREADS].cv
    : RELEASE_SPREADS.inline.cv;
}

/** The part of a release's variation that all releases share; never more than the release's own. */
export function commonSpread(plan: Plan, named: NamedCurve): number {
  return Math.min(plan.varies?.releases ?? SEASON_SPREADS.releases.cv, releaseSpread(named));
}

/** The part that only the lot has. */
export function ownReleaseSpread(plan: Plan, named: NamedCurve): number {
  const whole = releaseSpread(named);
  const common = commonSpread(plan, named);
  return Math.sqrt(Math.max(0, whole * whole - common * common));
}

/** Variation of what a round of spreading brings to the bed. */
export function spreadingSpread(plan: Plan): number {
  return plan.varies?.spreading ?? SEASON_SPREADS.spreading.cv;
}

/** Variation of a credit. */
export function creditSpread(credit: Credit): number {
  return credit.varies ?? SEASON_SPREADS.credit.cv;
}

/** Variation of a lot: what it holds, and how much of that it gives beside what is common to all releases. */
export function wholeLotSpread(plan: Plan, amendment: Amendment, nutrient: Nutrient): number {
  return Math.hypot(
    analysisSpread(amendment, nutrient),
    ownReleaseSpread(plan, curveOf(amendment, nutrient)),
  );
}
