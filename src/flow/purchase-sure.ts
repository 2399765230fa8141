/** The cheapest purchase that worked seasons find as sure as its plans ask, and what other steps of sureness would cost. */

import type { Amounts } from "../field/delivery.ts";
import { SeasonWork } from "../field/sureness.ts";
import type { SureAsked } from "../model.ts";
import type { PlanProgram } from "../program/tags.ts";
import type { SureStep } from "../results/sure.ts";
import { OWN_SIMPLEX } from "../solver/solve.ts";
import { UnverifiedError, unlessUnverified } from "../solver/verify.ts";
import { type Deadline, type Errand, errandFor, type NotFound, type SolvedBed } from "./purchase.ts";
import { buyWithMargins, type Purchased, settle, spokenOf } from "./purchase-mix.ts";
import { solveSimple } from "./simple.ts";
import { solveBlend } from "./solve-blend.ts";
import { type Attained, beforeMargins, levelsOf, SureSearch, simpleAndSure, workAsked } from "./sure.ts";
import { type Goal, goalsOf, isSettled, nextAim, tried } from "./sure-aims.ts";

/** So many levels are tried at most. */
const MOST_AIMS = 12;
/** And so many more to have the best of the mixes on the cheapest purchase. */
const MOST_SETTLED = 3;
/** Totals nearer than this, in the currency, are the same. */
const SAME_TOTAL = 0.001;

/**
 * The best purchase whose mixes are as sure as their plans ask, in the worked seasons that are printed with it: first with
 * margins for what is asked, as the normal law has them. Where seasons worked on the mix of that purchase find less, more
 * is aimed at, and so much less again that they just find it; of needs together, where they find more, less. Of the
 * purchases on the way the cheapest is kept that is as sure as asked. A purchase with lower margins bounds those with
 * higher ones, so where it costs as much the search is over.
 * @param ties whether it matters which of several mixes of that total is found.
 * @throws UnverifiedError where no such purchase was found in time.
 */
export async function buySurely(errand: Errand, ties = true): Promise<Purchased | NotFound> {
  const aimed = errand.beds.map(aimedBed);
  if (aimed.every((bed) => bed === null)) return buyWithMargins(errand, ties);
  const best = await searchAims(errand, aimed);
  if (!("found" in best) || !ties) return best;
  const settled = await settle(best.errand, best.found, best.mixes);
  if (!fallsShort(settled, aimed)) return settled;
  return (await settledSurer(errand, aimed, best)) ?? { ...best, settled: false };
}

/** The cheapest purchase as sure as asked, whichever of its mixes; the goals have the aims that it was found at. */
async function searchAims(
  errand: Errand,
  aimed: readonly (AimedBed | null)[],
): Promise<Purchased | NotFound> {
  const goals = aimed.flatMap((bed) => bed?.goals ?? []);
  const fell: Fell[] = [];
  let best: Purchased | null = null;
  let held: readonly number[] = [];
  let missing: NotFound | null = null;
  for (let tries = 0; tries < MOST_AIMS; tries++) {
    const aims = goals.map(({ aim }) => aim);
    const beds = await bedsAt(errand, aimed);
    const bought: Purchased | NotFound | null =
      beds && (await boughtInTime({ ...errand, beds }, best !== null));
    if (bought && "found" in bought) {
      const { cost } = bought.found.point;
      if (fallsShort(bought, aimed)) fell.push({ aims, cost });
      else if (!best || cost < best.found.point.cost - SAME_TOTAL) [best, held] = [bought, aims];
    } else {
      missing = bought ?? missing;
      if (tries === 0) {
        // Margins by weight are no lower than those asked, but for needs together.
        if (bought && !goals.some(({ together }) => together)) return bought;
        break;
      }
      for (const goal of goals) if (goal.low) goal.high = { aim: goal.aim, met: null };
    }
    if (best && bounded(best.found.point.cost, fell, goals)) break;
    if (goals.every(isSettled) || errand.deadline.isPast()) break;
    for (const goal of goals) goal.aim = nextAim(goal);
  }
  if (!best) return atWeightLevels(errand, aimed, missing);
  goals.forEach((goal, g) => {
    goal.aim = held[g]!;
  });
  return best;
}

/** Of margins a little higher, the best mix on a purchase of the same total that seasons find as sure as asked. */
async function settledSurer(
  errand: Errand,
  aimed: readonly (AimedBed | null)[],
  best: Purchased,
): Promise<Purchased | null> {
  for (let tries = 0; tries < MOST_SETTLED && !errand.deadline.isPast(); tries++) {
    for (const goal of aimed.flatMap((bed) => bed?.goals ?? [])) if (goal.low) goal.aim = nextAim(goal);
    const beds = await bedsAt(errand, aimed);
    const bought = beds && (await unlessUnverified(buyWithMargins({ ...errand, beds })));
    if (!bought || !("found" in bought) || bought.found.point.cost > best.found.point.cost + SAME_TOTAL)
      return null;
    if (!fallsShort(bought, aimed)) return bought;
  }
  return null;
}

/** A purchase that seasons find less sure than asked, by what was aimed at; none with higher aims costs less. */
interface Fell {
  readonly aims: readonly number[];
  readonly cost: number;
}

/** Whether some purchase that fell short costs as much, with aims no higher than any that are still to be tried. */
function bounded(cost: number, fell: readonly Fell[], goals: readonly Goal[]): boolean {
  return fell.some(
    (one) => one.cost >= cost - SAME_TOTAL && one.aims.every((aim, g) => aim <= leastLeft(goals[g]!)),
  );
}

/** The least aim that may still be tried. */
function leastLeft({ low, p, together }: Goal): number {
  return low?.aim ?? (together ? 0 : p);
}

/** A bed that is to be sure of needs, with what is aimed at in it. */
interface AimedBed {
  readonly asked: SureAsked;
  readonly goals: readonly Goal[];
  readonly search: SureSearch;
  readonly worker: SeasonWork;
}

/** @returns null for a bed whose margins are the same at any level: nothing is asked, or nothing varies. */
function aimedBed({ plan, season, sure }: SolvedBed): AimedBed | null {
  const asked = plan.sure;
  if (!asked || !sure) return null;
  const goals = goalsOf(asked);
  const search = new SureSearch(plan, { program: sure.base, season }, sure.plainX);
  if (goals.length === 0 || (search.rows(levelsOf(asked)).length === 0 && !asked.together)) return null;
  return { asked, goals, search, worker: SeasonWork.after(plan) };
}

/** The beds with margins for what is aimed at; null where one has no mix that sure. */
async function bedsAt(errand: Errand, aimed: readonly (AimedBed | null)[]): Promise<SolvedBed[] | null> {
  const beds: SolvedBed[] = [];
  for (const [p, bed] of errand.beds.entries()) {
    const aims = aimed[p]!;
    const at = aims === null ? bed : await unlessUnverified(bedAt(bed, aims, errand.deadline));
    if (at === null) return null;
    beds.push(at);
  }
  return beds;
}

async function bedAt(
  bed: SolvedBed,
  { goals, asked, search }: AimedBed,
  deadline: Deadline,
): Promise<SolvedBed | null> {
  const all = goals.find(({ together }) => together);
  const each = goals.flatMap((one) => (one.together ? [] : [[one.nutrients[0]!, one.aim] as const]));
  const levels = new Map([...levelsOf(asked, 0.5), ...each]);
  const reached = await search.aim(levels, all && { nutrients: all.nutrients, p: all.aim });
  if (reached.found === null) return null;
  const surely = withMargins(bed, reached);
  if (!bed.plan.simple) return surely;
  const limit = () => ({ clock: deadline.clock, seconds: deadline.secondsLeft() });
  const { answer, ...simple } = await simpleAndSure(surely, surely.sure, (blend, at) =>
    solveSimple(blend, at, limit()),
  );
  return answer.status === "optimal" ? { ...simple, answer } : null;
}

/** A bed with its mix by weight and its margins at some levels. */
function withMargins({ simplicity: _, ...bed }: SolvedBed, { found, levels, rows }: Attained) {
  const sure = { ...bed.sure!, levels, rows, proven: found };
  const program = { ...sure.base, rows: (found.program as PlanProgram).rows };
  const { x, y, check } = found;
  return { ...bed, program, sure, answer: { status: "optimal", engine: OWN_SIMPLEX, x, y, check } as const };
}

/** @param known whether a purchase as sure as asked is at hand; one that was not found in time is then no fault. */
async function boughtInTime(errand: Errand, known: boolean): Promise<Purchased | NotFound | null> {
  const bought = buyWithMargins(errand, false);
  return known ? unlessUnverified(bought) : bought;
}

/** Notes for every goal what seasons worked on a purchase find; returns whether any finds less than was asked. */
function fallsShort({ mixes }: Pick<Purchased, "mixes">, aimed: readonly (AimedBed | null)[]): boolean {
  return aimed
    .map((bed, p) => {
      if (bed === null) return false;
      const { needs, all } = workedOn(bed, mixes[p]!);
      return bed.goals.map((goal) => tried(goal, needs, all)).includes(true);
    })
    .includes(true);
}

function workedOn({ asked, worker }: AimedBed, amounts: Amounts) {
  const { each, together } = asked;
  const needs = workAsked(worker, amounts);
  const wider = together && each.some(({ nutrient }) => !together.nutrients.includes(nutrient));
  return { needs, all: (wider ? workAsked(worker, amounts, { each: [], together }) : needs).together };
}

/**
 * The purchase with the margins that the mixes by weight needed to be as sure as asked, where none was found by aims.
 * @param missing why there was none.
 */
async function atWeightLevels(
  errand: Errand,
  aimed: readonly (AimedBed | null)[],
  missing: NotFound | null,
): Promise<Purchased | NotFound> {
  const bought = await buyWithMargins(errand, false);
  if (!("found" in bought)) return bought;
  if (!fallsShort(bought, aimed)) return bought;
  if (missing) return missing;
  throw new UnverifiedError("A purchase that sure was not found in time; allow more with --time-limit.");
}

/**
 * What the purchase costs at steps of sureness, of the needs asked (else N and S) in every bed.
 * @param known steps whose cost is there already.
 */
export async function surerPurchases(
  { beds, demands, deadline }: Errand,
  steps: readonly number[],
  known: ReadonlyMap<number, number>,
): Promise<readonly SureStep[]> {
  const found: SureStep[] = [];
  for (const p of steps) {
    if (known.has(p)) found.push({ p, cost: known.get(p)! });
    else if (!deadline.isPast()) {
      const cost = await unlessUnverified(costAt(p, beds, { demands, deadline }));
      if (cost !== null) found.push({ p, ...cost });
    }
  }
  return found;
}

/** What the cheapest purchase costs; null: there is no such mix, or no purchase keeps the further demands. */
async function costAt(
  p: number,
  beds: readonly SolvedBed[],
  { demands, deadline }: Pick<Errand, "demands" | "deadline">,
): Promise<{ readonly cost: number | null }> {
  const asking: SolvedBed[] = [];
  for (const bed of beds) {
    const surely = await askingSurely(bed, p);
    if (!surely) return { cost: null };
    asking.push(surely);
  }
  const step = await buySurely(errandFor(asking, demands, deadline), false);
  return { cost: "found" in step ? step.found.point.cost : null };
}

/**
 * A bed whose plan asks to meet the needs that are spoken of so surely, each by itself, with the margins for that by the
 * normal law: what seasons find is for the packs to show.
 * @returns null where it has no mix so sure.
 */
async function askingSurely(bed: SolvedBed, p: number): Promise<SolvedBed | null> {
  const nutrients = spokenOf(bed.plan);
  const { sure: before, ...plain } = bed.plan;
  const isSure = p > 0.5 && nutrients.length > 0;
  const sure = { each: nutrients.map((nutrient) => ({ nutrient, p })) };
  const plan = isSure ? { ...plain, sure } : plain;
  if (!before && !isSure) return bed;
  const isSimple = plan.simple !== undefined;
  const weighed = before || isSimple ? await solveBlend(isSimple ? plan : plain) : bed;
  const { answer } = weighed;
  if (answer.status !== "optimal") return null;
  if (!isSure || isSimple) return { ...weighed, answer };
  const search = new SureSearch(plan, weighed, answer.x);
  const reached = await search.at(levelsOf(sure));
  const begun = { ...weighed, answer, plan, sure: beforeMargins(weighed, answer) };
  return reached.found && withMargins(begun, reached);
}
