/**
 * Needs met in the same season: the risk of missing any of them shared out so that the mix costs least.
 *
 * Each need n has a margin of z_n deviations of its own. A step trades margins by what they cost and what they bring, both
 * known where the mix is: the cost of a little more z_n is the price of the need times the deviation of its supply, and
 * what it brings is how the chance of all together (Genz's integral) changes. At the best mix the two are in one
 * proportion for every need that is not at its least. A step is kept where the chance, worked out again at the mix that
 * comes of it, is as asked and the cost is less.
 */
import { togetherAt } from "../field/chances.ts";
import type { SureAsked } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { normalCdf, normalQuantile } from "../solver/normal.ts";
import { lengthOf, mergedCuts, type ProvenSure, spreadsAt } from "../solver/sure.ts";
import type { Attained, Levels, Reached, SureSearch } from "./sure.ts";

type Margins = ReadonlyMap<Nutrient, number>;

/** A mix on the way, with its margins and the chance that it meets all. */
interface Stage {
  readonly reached: Attained;
  readonly z: Margins;
  readonly p: number;
}

/** On the way to what is sure enough a margin may be raised by so much at once. */
const FIRST_STEP = 2;
/** Margins move by so much at most in one step, and by so little at last. */
const WIDEST = 0.6;
const NARROWEST = 0.01;
const MOST_STEPS = 40;
const MOST_REPAIRS = 4;
/** Deviations by which a margin is moved to see what the chance does. */
const NUDGE = 0.02;
/** No margin is more than this: 9,999 seasons of 10,000. */
const MOST_MARGIN = normalQuantile(0.9999);
const CHEAPER = 1e-7;
/** Looking ahead in a straight line falls a little short of a chance that levels off. */
const OVERSHOOT = 1.05;
/** Points of the lattice for slopes; the chance itself takes all. */
const SLOPE_POINTS = 1024;

/**
 * The least cost at which some needs hold together in a share of the seasons, each of `each` at its own level besides.
 * @param cheapest whether to look for the least cost; otherwise the first mix that is as sure is enough.
 * @returns without a mix where none was found.
 */
export async function shareOut(
  search: SureSearch,
  each: Levels,
  together: NonNullable<SureAsked["together"]>,
  cheapest: boolean,
): Promise<Reached> {
  const { nutrients, p } = together;
  // Each alone must be as sure as all.
  const least: Margins = new Map(nutrients.map((n) => [n, normalQuantile(Math.max(p, each.get(n) ?? 0.5))]));
  const at = async (z: Margins): Promise<Stage | Reached> => {
    const levels = new Map([...each, ...[...z].map(([n, margin]) => [n, normalCdf(margin)] as const)]);
    const reached = await search.at(levels);
    return reached.found === null ? reached : { reached, z, p: chanceAt(search, reached.found, nutrients)() };
  };
  const first = await at(least);
  if (!("z" in first)) return first;
  const look = (from: Stage, step: number, raiseOnly: boolean): Margins =>
    stepFrom(from, slopesAt(search, from, nutrients), { least: raiseOnly ? from.z : least, step, p });
  let now = first;
  // Surer of all, the cheapest needs first, until that is enough.
  for (let k = 0, step = FIRST_STEP; k < MOST_STEPS && step > NARROWEST && now.p < p; k++) {
    const next = await at(look(now, step, true));
    if ("z" in next && next.p > now.p) now = next;
    else step /= 2;
  }
  // Then cheaper: margins are traded for each other, and what that lacks is made up for.
  const enough = now !== first && now.p >= p;
  for (let k = 0, step = WIDEST; enough && cheapest && k < MOST_STEPS && step > NARROWEST; k++) {
    let next = await at(look(now, step, false));
    for (let repairs = 0; repairs < MOST_REPAIRS && "z" in next && next.p < p; repairs++)
      next = await at(look(next, step, true));
    if ("z" in next && isCheaper(next, now, p)) now = next;
    else step /= 2;
  }
  if (now.p >= p) return now.reached;
  // That sure of each is enough by Bonferroni's inequality; where that is too much, it shows what is in the way.
  const rows = search.rows(new Map(nutrients.map((n) => [n, p]))).length;
  const bonferroni = normalQuantile(1 - (1 - p) / Math.max(1, rows));
  const last = await at(new Map([...least].map(([n, z]) => [n, Math.max(z, bonferroni)])));
  return "z" in last ? last.reached : last;
}

/** Whether a mix is as sure as asked and costs less. */
function isCheaper(next: Stage, now: Stage, p: number): boolean {
  return next.p >= p && next.reached.found.check.cost < now.reached.found.check.cost * (1 - CHEAPER);
}

/** The chance of all together at a mix, each need of a nutrient having so many deviations more. */
function chanceAt(
  search: SureSearch,
  found: ProvenSure,
  nutrients: readonly Nutrient[],
  points?: number,
): (more?: Margins) => number {
  const wanted = ({ nutrient }: { nutrient: Nutrient }): boolean => nutrients.includes(nutrient);
  return togetherAt(search.plan, search.spread, search.amounts(found), wanted, points);
}

/** By nutrient: what a little more margin costs, and what it adds to the chance of all together. */
interface Slopes {
  readonly cost: Margins;
  readonly gain: Margins;
}

function slopesAt(search: SureSearch, { reached }: Stage, nutrients: readonly Nutrient[]): Slopes {
  const { rows, found } = reached;
  const cost = new Map(nutrients.map((n) => [n, 0]));
  mergedCuts(rows, found).forEach(({ price }, r) => {
    const { nutrient, factors } = rows[r]!;
    const before = cost.get(nutrient);
    if (before !== undefined) cost.set(nutrient, before + price * lengthOf(spreadsAt(factors, found.x)));
  });
  const chance = chanceAt(search, found, nutrients, SLOPE_POINTS);
  const here = chance();
  const gain = new Map(
    nutrients.map((n) => [n, Math.max(0, (chance(new Map([[n, NUDGE]])) - here) / NUDGE)]),
  );
  return { cost, gain };
}

/** The margins that a straight look ahead finds cheapest for the chance that is asked, none moved by more than a step. */
function stepFrom(
  { z, p: now }: Stage,
  { cost, gain }: Slopes,
  { least, step, p }: { readonly least: Margins; readonly step: number; readonly p: number },
): Margins {
  const next = new Map<Nutrient, number>();
  let lacking = now < p ? OVERSHOOT * (p - now) + 1e-4 : p - now;
  for (const [n, margin] of z) {
    const low = Math.max(least.get(n)!, margin - step);
    next.set(n, low);
    lacking -= gain.get(n)! * (low - margin);
  }
  const worth = [...z.keys()]
    .filter((n) => gain.get(n)! > 0)
    .sort((a, b) => cost.get(a)! / gain.get(a)! - cost.get(b)! / gain.get(b)!);
  for (const n of worth) {
    if (lacking <= 0) break;
    const room = Math.max(0, Math.min(MOST_MARGIN, z.get(n)! + step) - next.get(n)!);
    const taken = Math.min(room, lacking / gain.get(n)!);
    next.set(n, next.get(n)! + taken);
    lacking -= taken * gain.get(n)!;
  }
  return next;
}
