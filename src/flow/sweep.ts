/**
 * A plan along a range of one number: a price, a need, or a cap on what is applied.
 *
 * The range is followed exactly by tangents: breakpoints are where the mix changes its kind. Each point asked for is then
 * proven by itself, from its amounts and duals alone, which takes far less than solving it; a point whose proof does not
 * hold is solved again.
 */

import type { Demand, Plan } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { type BlendProgram, buildProgram, cheapestPricePerKg } from "../program/build.ts";
import { smallestConflict } from "../program/explain.ts";
import { moveOf } from "../program/moves.ts";
import type { PlanProgram } from "../program/tags.ts";
import type { Amount } from "../results/comparison.ts";
import type { Breakpoint, Sweep, SweepPoint, SweepSegment } from "../results/sweep.ts";
import { demandOf, layOutSeason } from "../season/season.ts";
import { feasibleRange, type Move, movedProgram, type Stretch, slopeOf } from "../solver/parametric.ts";
import { isAtBound } from "../solver/program.ts";
import { type Proven, relax, solveProgram } from "../solver/solve.ts";
import { faultOf, traceByTangents } from "../solver/value-function.ts";
import { checkAnswer, costOf, FEASIBLE, isProven, UnverifiedError } from "../solver/verify.ts";
import { handleName, rowName } from "../words/demand-words.ts";
import { settleCaps, tieBreaks } from "./solve-blend.ts";

/** What is swept, in SI: money per kg, or kg for the whole bed. */
export interface SweepRequest {
  readonly handle:
    | { readonly kind: "price"; readonly id: string }
    | { readonly kind: "need" | "applied-max"; readonly nutrient: Nutrient };
  readonly from: number;
  /** Above `from`. */
  readonly to: number;
  /** Equal steps between the two ends; there is one point more than steps. */
  readonly steps: number;
  /** What was asked for, in a sentence that shows how it was understood. */
  readonly understood: string;
}

/** Amounts below this share of the largest are none. */
const NOTHING = 1e-9;
/** Slopes and amounts nearer than this, relative to their size, are the same. */
const SAME = 1e-7;

/** A point this near to the end of what is feasible, relative to the range, is left to its proof. */
const EDGE = 1e-9;

/** The plan with the swept number at its higher end, where every row that it is in is there. */
function planAtEnd(plan: Plan, { handle, to }: SweepRequest): Plan {
  if (handle.kind !== "price") return withDemand(plan, handle, to);
  return {
    ...plan,
    amendments: plan.amendments.map((amendment) =>
      amendment.id === handle.id ? { ...amendment, packs: [], bulkPricePerKg: to } : amendment,
    ),
  };
}

/** The plan with another need or cap of a nutrient, in kg for the whole bed. */
export function withDemand(
  plan: Plan,
  { kind, nutrient }: Exclude<SweepRequest["handle"], { kind: "price" }>,
  kg: number,
): Plan {
  const field = kind === "need" ? "minKg" : "appliedMaxKg";
  // A cap that is swept is one that holds.
  const { appliedSoftMaxKg, ...stated } = demandOf(plan, nutrient);
  const softly = kind === "need" ? defined({ appliedSoftMaxKg }) : {};
  const demand: Demand = { ...stated, ...softly, [field]: kg };
  const demands = [...plan.demands.filter((d) => d.nutrient !== nutrient), demand];
  demands.sort((a, b) => NUTRIENTS.indexOf(a.nutrient) - NUTRIENTS.indexOf(b.nutrient));
  return { ...plan, demands };
}

/** The program of a sweep at its lower end, and how it moves from there. */
export interface SweepProgram {
  readonly plan: Plan;
  readonly blend: BlendProgram;
  readonly program: PlanProgram;
  readonly move: Move;
  readonly ties: readonly (readonly number[])[];
}

/** Builds the program at `from`, with the move that takes it to `to`. */
export function sweepProgram(plan: Plan, request: SweepRequest): SweepProgram {
  const moved = planAtEnd(plan, request);
  const blend = buildProgram(moved, layOutSeason(moved));
  const move = moveOf(moved, blend, request.handle);
  const program = movedProgram(blend, move, request.from - request.to);
  return { plan: moved, blend, program, move, ties: tieBreaks(blend) };
}

/**
 * Sweeps a plan along a range.
 * @throws UnverifiedError where a point can neither be proven nor solved.
 */
export async function sweepPlan(asked: Plan, request: SweepRequest): Promise<Sweep> {
  // Caps that give way have given way as far as today's needs make them, all along the sweep.
  const plan = await settleCaps(asked, layOutSeason(asked));
  const swept = sweepProgram(plan, request);
  const length = request.to - request.from;
  const range = feasibleRange(swept.program, swept.move, length);
  const stretches = range && range.to > range.from ? await stretchesOver(swept, range) : [];
  const { points, ...proofs } = await provePoints(swept, request, range, stretches);
  const segments = segmentsOf(swept, request, stretches);
  if (!onSegments(points, segments)) throw new UnverifiedError(BREAKPOINTS_LOST);
  const conflictAt = (t: number): string[] =>
    conflictNames(swept.plan, movedProgram(swept.program, swept.move, t));
  return sweepOf(plan, numberSwept(plan, request), {
    by: "weight",
    feasible: range && { from: request.from + range.from, to: request.from + range.to },
    conflicts: {
      from: !range || range.from > EDGE * length ? conflictAt(0) : [],
      to: !range || range.to < length - EDGE * length ? conflictAt(length) : [],
    },
    points,
    breakpoints: breakpointsOf(segments),
    segments,
    verification: { points: points.length, ...proofs },
  });
}

/** What a sweep is of. */
export type Swept = Pick<Sweep, "kind" | "of" | "name" | "unit" | "understood" | "today">;

/** A sweep from what was found along it. */
export function sweepOf(
  plan: Plan,
  swept: Swept,
  found: Pick<
    Sweep,
    "by" | "feasible" | "conflicts" | "points" | "breakpoints" | "segments" | "runs" | "verification"
  >,
): Sweep {
  const { points, segments } = found;
  const used = new Set<string>();
  for (const { amendments, purchase } of points)
    for (const { id } of [...amendments, ...(purchase?.lines ?? [])]) used.add(id);
  for (const { amendmentsFrom, amendmentsTo } of segments)
    for (const { id } of [...amendmentsFrom, ...amendmentsTo]) used.add(id);
  return {
    schema: "barrowmix.sweep/2",
    plan: plan.name,
    currency: plan.currency,
    units: plan.units,
    what: `${swept.kind} ${swept.of}`,
    ...swept,
    ...found,
    names: Object.fromEntries(
      plan.amendments.filter(({ id }) => used.has(id)).map(({ id, name }) => [id, name]),
    ),
  };
}

/** What a sweep of one number is of. */
export function numberSwept(plan: Plan, { handle, understood }: SweepRequest): Swept {
  const isPrice = handle.kind === "price";
  return {
    kind: handle.kind === "applied-max" ? "cap" : handle.kind,
    of: isPrice ? handle.id : handle.nutrient,
    name: handleName(plan, handle),
    unit: isPrice ? `${plan.currency} per kg` : "kg for the whole bed",
    understood,
    today: todayOf(plan, handle),
  };
}

/** In words, what of a program cannot all be kept; nothing where all can. */
function conflictNames(plan: Plan, program: PlanProgram): string[] {
  const relaxed = relax(program);
  if (!relaxed || relaxed.total <= FEASIBLE) return [];
  return smallestConflict(program, relaxed).map((i) => rowName(plan, program.rows[i]!.tag));
}

/** The values of a sweep's points: both ends, and equal steps between. */
export function stepValues({ from, to, steps }: Pick<SweepRequest, "from" | "to" | "steps">): number[] {
  return Array.from({ length: steps + 1 }, (_, k) => (k === steps ? to : from + ((to - from) * k) / steps));
}

function todayOf(plan: Plan, handle: SweepRequest["handle"]): number | null {
  if (handle.kind === "price") {
    const amendment = plan.amendments.find(({ id }) => id === handle.id);
    return amendment ? cheapestPricePerKg(amendment) : null;
  }
  const demand = plan.demands.find((d) => d.nutrient === handle.nutrient);
  const cap = demand?.appliedMaxKg ?? demand?.appliedSoftMaxKg;
  return (handle.kind === "need" ? demand?.minKg : cap) ?? null;
}

const BREAKPOINTS_LOST = "The breakpoints of this sweep could not be verified; nothing is printed.";

type Range = ReturnType<typeof feasibleRange>;

/**
 * The stretches of a range.
 * @throws UnverifiedError where they do not hold to what is known of such a cost.
 */
async function stretchesOver(
  { program, move, ties }: SweepProgram,
  { from, to }: NonNullable<Range>,
): Promise<Stretch[]> {
  const found = await traceByTangents(program, ties, move, from, to);
  if (!found || faultOf(program, move, found) !== null) throw new UnverifiedError(BREAKPOINTS_LOST);
  return found;
}

/** Whether every point lies on its segment. */
function onSegments(points: readonly SweepPoint[], segments: readonly SweepSegment[]): boolean {
  if (segments.length === 0) return true;
  const scale = Math.max(...segments.flatMap(({ totalFrom, totalTo }) => [totalFrom, totalTo]));
  let k = 0;
  return points.every(({ value, total }) => {
    if (total === null) return true;
    while (k < segments.length - 1 && value > segments[k]!.to) k++;
    const { from, to, totalFrom, totalTo } = segments[k]!;
    const part = to > from ? Math.min(1, Math.max(0, (value - from) / (to - from))) : 0;
    return Math.abs(total - totalFrom - part * (totalTo - totalFrom)) <= SAME * scale;
  });
}

interface ProvenPoints {
  readonly points: readonly SweepPoint[];
  readonly solved: number;
  readonly maxViolation: number;
  readonly maxGap: number;
}

/** The points of a sweep, each proven. */
async function provePoints(
  swept: SweepProgram,
  request: SweepRequest,
  range: Range,
  stretches: readonly Stretch[],
): Promise<ProvenPoints> {
  const { plan, blend, move, ties } = swept;
  const length = request.to - request.from;
  const points: SweepPoint[] = [];
  let solved = 0;
  let maxViolation = 0;
  let maxGap = 0;
  let next = 0;
  for (let k = 0; k <= request.steps; k++) {
    const t = k === request.steps ? length : (length * k) / request.steps;
    const value = request.from + t;
    let found: Pick<Proven, "x" | "check"> | null = null;
    if (range && t >= range.from - EDGE * length && t <= range.to + EDGE * length) {
      const program = movedProgram(swept.program, move, t);
      while (next < stretches.length - 1 && t > stretches[next]!.to) next++;
      found = provenOn(program, lighter(move, blend, stretches[next], stretches[next + 1], t), t);
      if (!found) {
        solved++;
        const answer = await solveProgram(program, ties);
        if (answer.status === "unverified")
          throw new UnverifiedError(`A point of the sweep could not be verified (${answer.reason}).`);
        if (answer.status === "optimal") found = answer;
      }
    }
    if (!found) {
      points.push(noMix(value));
      continue;
    }
    const { x, check } = found;
    maxViolation = Math.max(maxViolation, check.maxViolation);
    maxGap = Math.max(maxGap, Math.abs(check.gap));
    points.push({ value, status: "optimal", total: check.cost, amendments: amountsAt(plan, blend, x) });
  }
  return { points, solved, maxViolation, maxGap };
}

/** A step that no mix reaches. */
export function noMix(value: number): SweepPoint {
  return { value, status: "infeasible", total: null, amendments: [] };
}

/** The point of a stretch, where it is proven. */
function provenOn(
  program: PlanProgram,
  stretch: Stretch | undefined,
  t: number,
): Pick<Proven, "x" | "check"> | null {
  if (!stretch) return null;
  const x = along(stretch, t, "x");
  const check = checkAnswer(program, x, along(stretch, t, "y"));
  return isProven(check) ? { x, check } : null;
}

/** Exactly at a price where two mixes cost the same, the one that weighs less. */
function lighter(
  move: Move,
  blend: BlendProgram,
  stretch: Stretch | undefined,
  after: Stretch | undefined,
  t: number,
): Stretch | undefined {
  if (!stretch || !after || move.kind !== "cost" || Math.abs(t - after.from) > 1e-12 * Math.abs(t))
    return stretch;
  const kg = ({ xFrom }: Stretch): number => blend.use.flat().reduce((sum, j) => sum + xFrom[j]!, 0);
  return kg(after) < kg(stretch) * (1 - NOTHING) ? after : stretch;
}

/** The point or the duals of a stretch at `t`. */
function along(stretch: Stretch, t: number, what: "x" | "y"): readonly number[] {
  const start = what === "x" ? stretch.xFrom : stretch.yFrom;
  const end = what === "x" ? stretch.xTo : stretch.yTo;
  if (start === end) return start;
  const span = stretch.to - stretch.from;
  const part = span > 0 ? Math.min(1, Math.max(0, (t - stretch.from) / span)) : 0;
  const values = new Array<number>(start.length);
  for (let k = 0; k < start.length; k++) values[k] = start[k]! + part * (end[k]! - start[k]!);
  return values;
}

/** kg by id, used ones only. */
function amountsAt(plan: Plan, blend: BlendProgram, x: readonly number[]): readonly Amount[] {
  const amounts: Amount[] = [];
  for (let a = 0; a < blend.use.length; a++) {
    let kg = 0;
    for (const j of blend.use[a]!) kg += x[j]!;
    if (kg > 0) amounts.push({ id: plan.amendments[a]!.id, kg });
  }
  return withoutTraces(amounts);
}

/** Amounts without what arithmetic leaves of nothing. */
export function withoutTraces(amounts: readonly Amount[]): readonly Amount[] {
  let largest = 0;
  for (const { kg } of amounts) largest = Math.max(largest, kg);
  const least = NOTHING * largest;
  return amounts.some(({ kg }) => kg <= least) ? amounts.filter(({ kg }) => kg > least) : amounts;
}

/** Stretches put together where nothing a grower would see changes between them. */
function segmentsOf(
  swept: SweepProgram,
  request: SweepRequest,
  stretches: readonly Stretch[],
): SweepSegment[] {
  const { plan, blend, program, move } = swept;
  const use = blend.use.flat();
  const merged: Stretch[] = [];
  for (const stretch of stretches) {
    const last = merged.at(-1);
    const { to, xTo, yTo } = stretch;
    if (last && continues(last, stretch, move, use)) merged[merged.length - 1] = { ...last, to, xTo, yTo };
    else merged.push(stretch);
  }
  return merged.map((stretch) => {
    const { from, to, xFrom, xTo, yFrom } = stretch;
    return {
      from: request.from + from,
      to: request.from + to,
      totalFrom: costOf(movedProgram(program, move, from), xFrom),
      totalTo: costOf(movedProgram(program, move, to), xTo),
      slope: slopeOf(move, xFrom, yFrom),
      amendmentsFrom: amountsAt(plan, blend, xFrom),
      amendmentsTo: amountsAt(plan, blend, xTo),
      binding: bindingRows(swept, stretch),
    };
  });
}

function continues(last: Stretch, next: Stretch, move: Move, use: readonly number[]): boolean {
  const size = use.reduce((most, j) => Math.max(most, last.xTo[j]!, next.xTo[j]!), 0);
  const near = (a: number, b: number, scale: number): boolean => Math.abs(a - b) <= SAME * scale;
  if (move.kind === "cost") return use.every((j) => near(last.xFrom[j]!, next.xFrom[j]!, size));
  const slopes = [last, next].map((s) => slopeOf(move, s.xFrom, s.yFrom)) as [number, number];
  if (!near(slopes[0], slopes[1], Math.max(Math.abs(slopes[0]), Math.abs(slopes[1])))) return false;
  const rate = (s: Stretch, j: number): number => (s.xTo[j]! - s.xFrom[j]!) / (s.to - s.from);
  const rates = use.map((j) => [rate(last, j), rate(next, j)] as const);
  const fastest = rates.reduce((most, [a, b]) => Math.max(most, Math.abs(a), Math.abs(b)), 0);
  // What moves by less than arithmetic leaves of nothing stands still.
  const still = (NOTHING * size) / Math.min(last.to - last.from, next.to - next.from);
  return rates.every(([a, b]) => Math.abs(a - b) <= Math.max(SAME * fastest, still));
}

/** Names of the demands that are at their bound inside a stretch. */
function bindingRows({ plan, program, move }: SweepProgram, stretch: Stretch): string[] {
  const t = (stretch.from + stretch.to) / 2;
  const x = along(stretch, t, "x");
  return movedProgram(program, move, t).rows.flatMap((row) =>
    isAtBound(row, x, NOTHING) ? [rowName(plan, row.tag)] : [],
  );
}

function breakpointsOf(segments: readonly SweepSegment[]): Breakpoint[] {
  const without = (list: readonly string[], others: readonly string[]): string[] =>
    list.filter((item) => !others.includes(item));
  return segments.slice(1).map((after, k): Breakpoint => {
    const before = segments[k]!;
    const ids = [before, after].map(inside) as [string[], string[]];
    return {
      value: after.from,
      total: after.totalFrom,
      entered: without(ids[1], ids[0]),
      left: without(ids[0], ids[1]),
      binds: without(after.binding, before.binding),
      frees: without(before.binding, after.binding),
    };
  });
}

/** Ids in the mix inside a segment. */
function inside({ amendmentsFrom, amendmentsTo }: SweepSegment): string[] {
  return [...new Set([...amendmentsFrom, ...amendmentsTo].map(({ id }) => id))].sort();
}
