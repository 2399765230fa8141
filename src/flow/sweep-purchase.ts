/**
 * A plan along a range of one number, step by step: by what is bought, the best purchase in whole packs, with delivery; along
 * sureness also by weight.
 *
 * A price is followed exactly from one purchase to the next (`price-curve.ts`). Along a need or a cap such a cost moves in
 * jumps: each step is bought for by itself, and nothing is claimed of what lies between two steps.
 */
import { linesOf } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { mergeAmendments } from "../program/shop-program.ts";
import type { Solution } from "../results/solution.ts";
import type {
  Breakpoint,
  Sweep,
  SweepPoint,
  SweepRun,
  SweepSegment,
  SweptPurchase,
} from "../results/sweep.ts";
import { normalQuantile } from "../solver/normal.ts";
import { UnverifiedError } from "../solver/verify.ts";
import { TIME_LIMIT } from "../solver/whole.ts";
import { listed } from "../words/numbers.ts";
import { changePlan } from "./changes.ts";
import { priceCurve } from "./price-curve.ts";
import { Deadline, errandFor, solveBeds } from "./purchase.ts";
import { buySurely } from "./purchase-sure.ts";
import {
  noMix,
  numberSwept,
  type SweepRequest,
  stepValues,
  sweepOf,
  withDemand,
  withoutTraces,
} from "./sweep.ts";
import { amountsIn, answered, type CompareOptions, type Plans, purchaseSum } from "./whatif.ts";

/** How long each step may take, and how several plans share mixes. */
export type SweepPurchaseOptions = Pick<CompareOptions, "seconds" | "clock" | "sharing" | "name">;

/** Loose weights nearer than this, relative to their size, are the same. */
const SAME = 1e-7;

/**
 * Buys for plans at each step of a range; a price is also followed exactly between the steps, unless mixes are shared. A price
 * is that of the amendment's cheapest offer by weight; its other offers keep their relation to that one.
 * @param plans where a need or a cap is swept, one.
 * @throws UnverifiedError where the purchase of a step does not hold up.
 */
export async function sweepPurchases(
  plans: Plans,
  request: SweepRequest,
  options: SweepPurchaseOptions = {},
): Promise<Sweep> {
  const steps = await boughtAt(stepValues(request), (value) => plansAt(plans, request, value), options);
  const isCurve = request.handle.kind === "price" && options.sharing === undefined;
  const segments = isCurve ? await pricesBetween(plans, request, steps.points, options) : [];
  const { name = listed(plans.map((plan) => plan.name)) } = options;
  const plan: Plan = { ...plans[0], name, amendments: mergeAmendments(plans).all };
  return sweepOf(plan, numberSwept(plan, request), {
    ...steps,
    breakpoints: breaksBetween(segments),
    segments,
  });
}

/** Of what the sureness is swept, as shares of seasons. */
export interface SureSweepRequest extends Omit<SweepRequest, "handle"> {
  /** Needs of the plan. */
  readonly nutrients: readonly Nutrient[];
}

/**
 * Answers a plan at each step of sureness of some needs, the others as the plan asks: by purchase, or by weight without
 * `simple`, as far as any mix is that sure.
 * @throws UnverifiedError where the answer of a step does not hold up.
 */
export async function sweepSureness(
  plan: Plan,
  request: SureSweepRequest,
  options: SweepPurchaseOptions & Pick<CompareOptions, "by"> = {},
): Promise<Sweep> {
  const { nutrients, understood } = request;
  const { simple, sure, ...bare } = plan;
  const byWeight = options.by === "weight";
  const others = (sure?.each ?? []).filter(({ nutrient }) => !nutrients.includes(nutrient));
  const sureAt = (p: number): Plans => [
    {
      ...bare,
      ...(byWeight ? {} : defined({ simple })),
      sure: { ...sure, each: [...others, ...nutrients.map((nutrient) => ({ nutrient, p }))] },
    },
  ];
  const steps = await (byWeight ? mixedAt : boughtAt)(stepValues(request), sureAt, options, nutrients);
  const levels = nutrients.map((nutrient) => sure?.each.find((one) => one.nutrient === nutrient)?.p);
  const swept = {
    kind: "sure",
    of: nutrients.join(","),
    name: `share of seasons that meet ${listed(nutrients)}`,
    unit: "share of seasons",
    understood,
    today: levels.every((level) => level === levels[0]) ? (levels[0] ?? null) : null,
  } as const;
  return sweepOf(plan, swept, { ...steps, breakpoints: [], segments: [] });
}

/** So much above what can be reached it is asked what is in the way, as a share of seasons. */
const JUST_ABOVE = 0.0005;

type Steps = Pick<Sweep, "by" | "feasible" | "conflicts" | "points" | "runs" | "verification">;

/** The mix at each step of sureness; what cannot be reached at one step cannot at any surer one. */
async function mixedAt(
  values: readonly number[],
  at: (value: number) => Plans,
  options: SweepPurchaseOptions,
  nutrients: readonly Nutrient[],
): Promise<Steps> {
  const reached: { readonly value: number; readonly solution: Solution }[] = [];
  const answerAt = (value: number) => answered(at(value), { ...options, by: "weight", detail: "mix" });
  let beyond: Solution | null = null;
  let surest: number | undefined;
  for (const value of values) {
    const solution = await answerAt(value);
    if (solution.status !== "infeasible") {
      reached.push({ value, solution });
      continue;
    }
    surest = solution.conflicts[0]?.relaxations?.find(({ tag }) => tag.kind === "sure")?.to;
    // What is in the way is said of just above the surest that there is.
    const above = await answerAt(Math.min(value, (surest ?? value) + JUST_ABOVE));
    beyond = above.status === "infeasible" ? above : solution;
    break;
  }
  const found = reached.map(({ value, solution }): SweepPoint => {
    const { status, cost } = solution;
    const amendments = withoutTraces(amountsIn(solution));
    return { value, status, total: cost.total, amendments, met: metIn(solution, nutrients) };
  });
  const without = values.slice(found.length).map((value): SweepPoint => ({ ...noMix(value), met: null }));
  const last = values[found.length - 1];
  const conflict = (beyond?.conflicts ?? []).flatMap(({ demands }) => demands);
  return {
    by: "weight",
    feasible:
      last === undefined ? null : { from: values[0]!, to: beyond ? Math.max(last, surest ?? last) : last },
    conflicts: { from: found.length > 0 ? [] : conflict, to: conflict },
    points: [...found, ...without],
    verification: {
      points: found.length,
      solved: reached.filter(({ value, solution }) => isRaised(solution, value, nutrients)).length,
      maxViolation: Math.max(0, ...reached.map(({ solution }) => solution.verification.maxViolation)),
      maxGap: Math.max(0, ...reached.map(({ solution }) => Math.abs(solution.cost.gap ?? 0))),
    },
  };
}

/** Whether more had to be aimed at than was asked, because the worked seasons found less. */
function isRaised({ beds }: Solution, p: number, nutrients: readonly Nutrient[]): boolean {
  const certificate = beds[0]?.sure?.certificate ?? [];
  return certificate.some(({ nutrient, z }) => nutrients.includes(nutrient) && z > normalQuantile(p) + 1e-9);
}

/** What is bought at each step, and what that shows. */
async function boughtAt(
  values: readonly number[],
  at: (value: number) => Plans,
  options: SweepPurchaseOptions,
  sure?: readonly Nutrient[],
): Promise<Steps> {
  const bought: { readonly value: number; readonly solution: Solution }[] = [];
  for (const value of values) bought.push({ value, solution: await answered(at(value), options) });
  const points = bought.map(({ value, solution }) => pointOf(value, solution, sure));
  const fit = points.filter(({ status }) => status !== "infeasible");
  const [first, last] = [fit[0], fit.at(-1)];
  const conflictsAt = (k: number): readonly string[] =>
    bought.at(k)!.solution.conflicts.flatMap(({ demands }) => demands);
  return {
    by: "purchase",
    feasible: first && last ? { from: first.value, to: last.value } : null,
    conflicts: { from: conflictsAt(0), to: conflictsAt(-1) },
    points,
    runs: runsOf(points),
    verification: {
      points: points.length,
      solved: points.length,
      maxViolation: Math.max(...bought.map(({ solution }) => solution.verification.maxViolation)),
      maxGap: Math.max(...bought.map(({ solution }) => solution.cost.gap ?? 0)),
    },
  };
}

/** Totals nearer than this part of them are the same. */
const SAME_TOTAL = 1e-6;

/**
 * What is bought between which prices; nothing where that could not be proven.
 * @throws UnverifiedError where a step does not lie on what was found.
 */
async function pricesBetween(
  plans: Plans,
  request: SweepRequest,
  points: readonly SweepPoint[],
  { seconds = TIME_LIMIT, clock = () => 0 }: SweepPurchaseOptions,
): Promise<SweepSegment[]> {
  const solved = await solveBeds(plans);
  if (!("beds" in solved)) return [];
  const asked = errandFor(solved.beds, {}, new Deadline(seconds * 10, clock));
  // Margins stay what they are at today's price.
  const isSure = plans.some(({ sure }) => sure);
  const today = isSure ? await buySurely(asked, false) : null;
  if (today && !("found" in today)) return [];
  const errand = today?.errand ?? asked;
  const offersAt = (value: number) => mergeAmendments(plansAt(plans, request, value)).all;
  const unit = offersAt(1);
  const moves = unit.map(({ id }) => request.handle.kind === "price" && id === request.handle.id);
  const curve = await priceCurve(
    {
      at: (value) => ({ ...errand, amendments: offersAt(value) }),
      perPack: unit.map(({ packs }, a) => packs.map(({ price }) => (moves[a] ? price : 0))),
      perLooseKg: unit.map(({ bulkPricePerKg = 0 }, a) => (moves[a] ? bulkPricePerKg : 0)),
    },
    request.from,
    request.to,
  );
  if (!curve.proven) return [];
  for (const { value, total } of points) {
    const on = curve.stretches.filter(({ from, to }) => value >= from - 1e-9 * to && value <= to + 1e-9 * to);
    const near = on.some(
      ({ from, to, totalFrom, totalTo }) =>
        Math.abs(
          totalFrom + (to > from ? ((value - from) / (to - from)) * (totalTo - totalFrom) : 0) - (total ?? 0),
        ) <=
        0.002 + SAME_TOTAL * (total ?? 0),
    );
    // What worked seasons take to be as sure as asked changes a little with the purchase.
    if (total !== null && on.length > 0 && !near && isSure) return [];
    if (total !== null && on.length > 0 && !near)
      throw new UnverifiedError("The prices at which the purchase changes could not be verified.");
  }
  return curve.stretches.map(({ from, to, totalFrom, totalTo, bought }): SweepSegment => {
    const buys = linesOf(
      errand.amendments,
      bought,
      errand.amendments.map(() => 0),
    ).map(({ id, name, packs, bulkKg }) => ({ id, name, packs, bulkKg }));
    const slope = to > from ? (totalTo - totalFrom) / (to - from) : 0;
    return { from, to, totalFrom, totalTo, slope, amendmentsFrom: [], amendmentsTo: [], binding: [], buys };
  });
}

/** The prices at which the purchase changes. */
function breaksBetween(segments: readonly SweepSegment[]): Breakpoint[] {
  const ids = ({ buys = [] }: SweepSegment) => buys.map(({ id }) => id);
  return segments.slice(1).map((after, k): Breakpoint => {
    const before = segments[k]!;
    return {
      value: after.from,
      total: after.totalFrom,
      entered: ids(after).filter((id) => !ids(before).includes(id)),
      left: ids(before).filter((id) => !ids(after).includes(id)),
      binds: [],
      frees: [],
    };
  });
}

function plansAt(plans: Plans, request: SweepRequest, value: number): Plans {
  const [first, ...others] = plans.map((plan) => planAt(plan, request, value));
  return [first!, ...others];
}

function planAt(plan: Plan, { handle }: SweepRequest, value: number): Plan {
  if (handle.kind !== "price") return withDemand(plan, handle, value);
  if (!plan.amendments.some(({ id }) => id === handle.id)) return plan;
  const price = { [handle.id]: { kind: "price", pricePerKg: value } as const };
  const changed = changePlan(plan, { price, exclude: [] }, "the price of a step");
  if (!changed.ok) throw new Error(changed.problems.map(({ message }) => message).join("; "));
  return changed.value.plan;
}

/** @param sure the needs whose sureness is swept: says in how many seasons the least sure of them is met. */
function pointOf(value: number, solution: Solution, sure?: readonly Nutrient[]): SweepPoint {
  const sum = purchaseSum(solution);
  return {
    value,
    status: solution.status,
    total: solution.cost.total,
    amendments: amountsIn(solution),
    byWeight: solution.cost.byWeight,
    purchase: sum && { ...sum, lines: solution.purchases },
    ...(sure ? { met: metIn(solution, sure) } : {}),
  };
}

function metIn({ beds }: Solution, nutrients: readonly Nutrient[]): number | null {
  const needs = (beds[0]?.sure?.needs ?? []).filter(({ nutrient }) => nutrients.includes(nutrient));
  return needs.length === 0 ? null : Math.min(...needs.map(({ p, pChecked }) => pChecked ?? p));
}

/** A step at which something is bought. */
type Bought = SweepPoint & { readonly total: number; readonly purchase: SweptPurchase };

function isBought(point: SweepPoint | undefined): point is Bought {
  return point != null && point.total !== null && point.purchase != null;
}

/** Steps that buy the same, put together. */
function runsOf(points: readonly SweepPoint[]): SweepRun[] {
  const runs: Bought[][] = [];
  for (const [k, point] of points.entries()) {
    if (!isBought(point)) continue;
    const before = points[k - 1];
    if (isBought(before) && buysTheSame(before.purchase, point.purchase)) runs.at(-1)!.push(point);
    else runs.push([point]);
  }
  return runs.map((run) => {
    const [first, last] = [run[0]!, run.at(-1)!];
    const range = (of: (point: Bought) => number): readonly [number, number] => [
      Math.min(...run.map(of)),
      Math.max(...run.map(of)),
    ];
    return {
      from: first.value,
      to: last.value,
      steps: run.length,
      totalFrom: first.total,
      totalTo: last.total,
      total: range(({ total }) => total),
      delivery: range(({ purchase }) => purchase.delivery),
      leftWorth: range(({ purchase }) => purchase.leftWorth),
      lines: first.purchase.lines,
    };
  });
}

/** Whether two purchases are of the same packs, whatever they cost. */
function buysTheSame(one: SweptPurchase, other: SweptPurchase): boolean {
  const packs = ({ lines }: SweptPurchase): string =>
    JSON.stringify(
      lines.flatMap((line) =>
        line.packs.map(({ sizeKg, count, supplier }) => [line.id, sizeKg, count, supplier ?? null]),
      ),
    );
  const loose = ({ lines }: SweptPurchase, id: string): number =>
    lines.find((line) => line.id === id)?.bulkKg ?? 0;
  const ids = [...one.lines, ...other.lines].map(({ id }) => id);
  return (
    packs(one) === packs(other) &&
    ids.every((id) => {
      const [a, b] = [loose(one, id), loose(other, id)];
      return Math.abs(a - b) <= SAME * Math.max(a, b);
    })
  );
}
