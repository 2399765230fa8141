/** What is aimed at so that worked seasons find what was asked: raised where they find less, by halving where aims lie close. */

import type { WorkedSeasons } from "../field/sureness.ts";
import type { SureAsked } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { normalCdf, normalQuantile } from "../solver/normal.ts";

/**
 * Worked seasons may find so much less than was asked before more is asked: 4,096 points of the lattice count a chance of
 * 80 to 98 % to about a quarter of a point (root mean square against the normal law, 14 doubts).
 */
export const CHECK_SLACK = 0.0025;
export const MOST_RAISES = 3;
/** What is aimed at is found to so much, from above. */
const AIM_WIDTH = 0.0025;
/** The same where a mix is at hand on one side alone. */
export const AIM_LEAST = 0.0002;
/** Nothing is aimed at beyond this, where worked seasons find less than was asked. */
const AIM_END = 1 - 1e-9;

/** What was aimed at, and in what share of the worked seasons that was met; null: no mix was found. */
interface Tried {
  readonly aim: number;
  readonly met: number | null;
}

/** One thing asked, and between which aims the least lies at which the worked seasons find it. */
export interface Goal {
  readonly nutrients: readonly Nutrient[];
  readonly together: boolean;
  readonly p: number;
  aim: number;
  /** The highest aim that fell short. */
  low: Tried | null;
  /** The lowest aim that did not, or at which there is no mix. */
  high: Tried | null;
}

export function goalsOf({ each, together }: SureAsked): Goal[] {
  const goal = (nutrients: readonly Nutrient[], p: number, all: boolean): Goal => ({
    nutrients,
    together: all,
    p,
    aim: p,
    low: null,
    high: null,
  });
  return [
    ...each.filter(({ p }) => p > 0.5).map(({ nutrient, p }) => goal([nutrient], p, false)),
    ...(together ? [goal(together.nutrients, together.p, true)] : []),
  ];
}

/** Notes what worked seasons say of a goal; returns whether they find less than was asked. */
export function tried(goal: Goal, worked: WorkedSeasons, all: number): boolean {
  const { aim, p, nutrients, together } = goal;
  const needs = worked.needs.filter(({ nutrient }) => nutrients.includes(nutrient));
  const met = together ? all : Math.min(1, ...needs.map((need) => need.met));
  const short = met < p - CHECK_SLACK;
  if (short) {
    goal.low = { aim, met };
    if (goal.high && goal.high.aim <= aim) goal.high = null;
  } else {
    goal.high = { aim, met };
    if (goal.low && goal.low.aim >= aim) goal.low = null;
  }
  return short;
}

export function isSettled({ together, p, low, high }: Goal): boolean {
  if (high === null) return false;
  if (high.met === null) return low !== null && high.aim - low.aim <= AIM_LEAST;
  if (low === null) return !together || high.met <= p + AIM_WIDTH || high.aim <= AIM_WIDTH;
  return high.met <= p || high.aim - low.aim <= Math.min(AIM_WIDTH, (1 - p) / 4);
}

/** What to aim at next, by how many deviations the worked seasons lie from what was asked. */
export function nextAim(goal: Goal): number {
  const { p, low, high } = goal;
  if (isSettled(goal)) return high!.aim;
  const wanted = normalQuantile(p - CHECK_SLACK / 2);
  const z = (share: number): number => normalQuantile(Math.min(1 - 1e-6, Math.max(1e-6, share)));
  if (low === null)
    return high === null ? p : Math.max(AIM_WIDTH, normalCdf(z(high.aim) + wanted - z(high.met!)));
  if (high === null)
    return Math.min(AIM_END, normalCdf(z(low.aim) + Math.max(0.02, 1.1 * (wanted - z(low.met!)))));
  if (high.met === null) return (low.aim + high.aim) / 2;
  const part = (wanted - z(low.met!)) / Math.max(1e-9, z(high.met) - z(low.met!));
  return low.aim + Math.min(0.9, Math.max(0.1, part)) * (high.aim - low.aim);
}
