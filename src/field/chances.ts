/**
 * In how many seasons given amounts meet each need, in closed form: the supply is a sum of normal doubts, so
 * P(met) = Phi((expected - need) / spread).
 */
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { NeedSureness, OverMax } from "../results/sure.ts";
import {
  countedOf,
  type Doubtful,
  doubtKey,
  doubtsAbout,
  type NeedOn,
  needsOf,
  type SpreadSeason,
} from "../season/spread.ts";
import { normalCdf, orthantChance } from "../solver/normal.ts";
import { type Amounts, countedKg } from "./delivery.ts";

/** The supply of one nutrient by one day. */
interface Supply {
  readonly expectKg: number;
  /** What each doubt moves, in kg. */
  readonly moves: ReadonlyMap<string, number>;
  readonly spreadKg: number;
}

/** Below its need by less than this share of it, an expected supply counts as equal to it: it is rounding. */
const ROUNDING = 1e-9;

/** Standard deviations of the season that comes once in ten. */
const ONE_IN_TEN = 1.2815515655446004;

function supplyOf(
  plan: Plan,
  spread: SpreadSeason,
  amounts: Amounts,
  need: Pick<NeedOn, "nutrient" | "day" | "counted">,
): Supply {
  const { nutrient, day, counted } = need;
  const doubts = doubtsAbout(plan, spread, nutrient, day, counted, (a) => amounts[a]!.some((kg) => kg > 0));
  const moves = new Map(doubts.map((one) => [doubtKey(one.doubt), movedKg(one, amounts)]));
  return {
    expectKg: countedKg(plan, spread.season, amounts, { nutrient, counts: counted }, day),
    moves,
    spreadKg: Math.hypot(...moves.values()),
  };
}

/** By how many kg a doubt of one standard deviation moves what amounts supply. */
export function movedKg({ perKg, constantKg }: Doubtful, amounts: Amounts): number {
  return perKg.reduce(
    (sum, { amendment, application, value }) => sum + value * amounts[amendment]![application]!,
    constantKg,
  );
}

/** How many of its standard deviations a supply is expected above a need; infinite where nothing varies. */
export function roomOf(
  { expectKg, spreadKg }: Pick<Supply, "expectKg" | "spreadKg">,
  needKg: number,
): number {
  const above = expectKg - needKg;
  if (spreadKg > 0) return above / spreadKg;
  return above >= -ROUNDING * needKg ? Infinity : -Infinity;
}

/** How often each need is met, by nutrient and day. */
export function chancesOf(
  plan: Plan,
  spread: SpreadSeason,
  amounts: Amounts,
): Omit<NeedSureness, "pChecked">[] {
  return needsOf(plan, spread.season).map((need) => {
    const supply = supplyOf(plan, spread, amounts, need);
    const { nutrient, day, needKg } = need;
    return {
      nutrient,
      day,
      needKg,
      expectKg: supply.expectKg,
      oneInTenKg: supply.expectKg - ONE_IN_TEN * supply.spreadKg,
      p: normalCdf(roomOf(supply, needKg)),
    };
  });
}

/**
 * How often the needs of some nutrients are met in the same season, each on all its days, as a function: of how many more
 * of their own standard deviations the supplies of a nutrient were above their needs.
 * @param points of the lattice that the integral is taken over; absent: the usual number.
 */
export function togetherAt(
  plan: Plan,
  spread: SpreadSeason,
  amounts: Amounts,
  wanted: (need: NeedOn) => boolean,
  points?: number,
): (more?: ReadonlyMap<Nutrient, number>) => number {
  const supplies: { nutrient: Nutrient; room: number; supply: Supply }[] = [];
  for (const need of needsOf(plan, spread.season)) {
    if (!wanted(need)) continue;
    const supply = supplyOf(plan, spread, amounts, need);
    const room = roomOf(supply, need.needKg);
    if (room === -Infinity) return () => 0;
    if (room < Infinity) supplies.push({ nutrient: need.nutrient, room, supply });
  }
  const correlations = supplies.map(({ supply: a }) => supplies.map(({ supply: b }) => correlation(a, b)));
  return (more) =>
    orthantChance(
      supplies.map(({ nutrient, room }) => room + (more?.get(nutrient) ?? 0)),
      correlations,
      points,
    );
}

/** Points for a chance that is printed: with 65,536 it comes out the same to 0.0001, as 106 random plans showed. */
const PRINTED_POINTS = 1024;

/** How often all needs are met in the same season. */
export function chanceTogether(plan: Plan, spread: SpreadSeason, amounts: Amounts): number {
  return togetherAt(plan, spread, amounts, () => true, PRINTED_POINTS)();
}

function correlation(a: Supply, b: Supply): number {
  if (a === b) return 1;
  let sum = 0;
  for (const [key, kg] of a.moves) sum += kg * (b.moves.get(key) ?? 0);
  return Math.min(1, Math.max(-1, sum / (a.spreadKg * b.spreadKg)));
}

/** How often each maximum of the season is passed. */
export function overMaxChances(plan: Plan, spread: SpreadSeason, amounts: Amounts): OverMax[] {
  const day = plan.seasonDays;
  return plan.demands.flatMap((demand) => {
    if (demand.maxKg === null) return [];
    const { nutrient, maxKg } = demand;
    const supply = supplyOf(plan, spread, amounts, { nutrient, day, counted: countedOf(demand) });
    const above = supply.expectKg - maxKg;
    const surely = above > ROUNDING * maxKg ? 1 : 0;
    return [{ nutrient, day, maxKg, p: supply.spreadKg > 0 ? normalCdf(above / supply.spreadKg) : surely }];
  });
}
