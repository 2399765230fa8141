/**
 * What the library computes, with its arguments looked over at the door: what cannot be meant is an `InputError` that says
 * why, never a number that means nothing. Plans come checked from the loader; one that a program made or changed itself is
 * looked over again.
 */

import { readPlanValue } from "./files/load.ts";
import type { Mix } from "./files/mix.ts";
import * as assay from "./flow/assay.ts";
import * as blend from "./flow/blend.ts";
import * as changes from "./flow/changes.ts";
import * as shop from "./flow/shop.ts";
import * as splits from "./flow/split.ts";
import * as sweeps from "./flow/sweep.ts";
import { sweepPurchases } from "./flow/sweep-purchase.ts";
import * as topups from "./flow/topup.ts";
import * as whatif from "./flow/whatif.ts";
import type { Amendment, Plan } from "./model.ts";
import { NUTRIENTS } from "./nutrients.ts";
import { defined } from "./optional.ts";
import { fail, formatProblems, guess, type Problem, problemOf, type Result } from "./problem.ts";
import type { Assay } from "./results/assay.ts";
import type { Shopping } from "./results/shopping.ts";
import type { Solution } from "./results/solution.ts";
import type { Sweep } from "./results/sweep.ts";
import type { Rain, TopUp } from "./results/topup.ts";
import { type PriceChange, parsePriceChange } from "./units.ts";

/** An argument that cannot be meant. */
export class InputError extends Error {
  override readonly name = "InputError";
  /** What is wrong with a plan, each with its path; empty for other arguments. */
  readonly problems: readonly Problem[];

  constructor(message: string, problems: readonly Problem[] = []) {
    super(message);
    this.problems = problems;
  }
}

const MOST_STEPS = 100_000;

function refuse(holds: boolean, message: string): void {
  if (!holds) throw new InputError(message);
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null;
}

/** The path to the first number in a value that is none (NaN) or has no end. */
function endlessNumber(value: unknown, path: string): string | undefined {
  if (typeof value === "number") return Number.isFinite(value) ? undefined : path;
  if (!isRecord(value)) return undefined;
  for (const [key, item] of Object.entries(value)) {
    const found = endlessNumber(item, `${path}.${key}`);
    if (found !== undefined) return found;
  }
  return undefined;
}

/** What is bought for, and how long is looked for it. */
function checkSearch({ by = "weight", seconds = 1 }: whatif.CompareOptions): void {
  refuse(by === "weight" || by === "purchase", `by: "weight" or "purchase", not ${String(by)}`);
  refuse(seconds > 0 && Number.isFinite(seconds), "seconds: a finite number above 0");
}

/**
 * Looks a plan over, as strictly as a file: every number, id and reference.
 * @throws InputError that names what is no plan.
 */
export function checkPlan(plan: Plan): void {
  const read = readPlanValue(plan, ["plan"]);
  if (!read.ok) throw new InputError(formatProblems(read.problems).trimEnd(), read.problems);
}

/**
 * Finds the least-cost mix.
 * @param candidates amendments that might be added where the plan has no mix, such as the shipped ones.
 * @returns the solution; of a plan without a mix, one with status `infeasible` that says why.
 * @throws InputError, UnverifiedError.
 */
export async function solvePlan(
  plan: Plan,
  candidates?: () => readonly Amendment[] | Promise<readonly Amendment[]>,
): Promise<Solution> {
  checkPlan(plan);
  return blend.solvePlan(plan, candidates);
}

/**
 * Finds the whole packs to buy for one plan or several.
 * @throws InputError, UnverifiedError.
 */
export async function shopPlans(
  plans: readonly [Plan, ...Plan[]],
  options: shop.ShopOptions = {},
): Promise<Result<Shopping>> {
  plans.forEach(checkPlan);
  const { budget = 0, seconds, mostLeft } = options;
  refuse(budget >= 0, "budget: an amount of money, at least 0");
  checkSearch(defined({ seconds }));
  if (mostLeft !== undefined) {
    const most = "kg" in mostLeft ? mostLeft.kg : mostLeft.share;
    refuse(
      most >= 0 && (!("share" in mostLeft) || most <= 1),
      "mostLeft: at least 0 kg, or a share of 0 to 1",
    );
  }
  return shop.shopPlans(plans, options);
}

/**
 * Follows the cost and the mix along a range.
 * @throws InputError for a range that does not go upwards, for an id or a nutrient that the plan does not have.
 * @throws UnverifiedError where a point can neither be proven nor solved.
 */
export async function sweepPlan(
  plan: Plan,
  request: sweeps.SweepRequest,
  options: whatif.CompareOptions = {},
): Promise<Sweep> {
  checkPlan(plan);
  checkSearch(options);
  const { handle, from, to, steps } = request;
  refuse(
    Number.isFinite(from) && Number.isFinite(to) && from < to,
    `a sweep goes upwards, not from ${from} to ${to}`,
  );
  refuse(from >= 0, `a sweep begins at 0 or above, not at ${from}`);
  refuse(
    Number.isInteger(steps) && steps >= 1 && steps <= MOST_STEPS,
    `steps: a whole number from 1 to ${MOST_STEPS}, not ${steps}`,
  );
  if (handle.kind === "price") {
    const ids = plan.amendments.map(({ id }) => id);
    const known = guess(handle.id, ids, `there are ${ids.join(", ")}`);
    refuse(ids.includes(handle.id), `the plan has no amendment \`${handle.id}\`; ${known}`);
  } else refuse(NUTRIENTS.includes(handle.nutrient), `\`${String(handle.nutrient)}\` is no nutrient`);
  return options.by === "purchase" ? sweepPurchases(plan, request, options) : sweeps.sweepPlan(plan, request);
}

/**
 * Solves a plan and each case of it.
 * @throws InputError, UnverifiedError.
 */
export async function comparePlans(
  plan: Plan,
  cases: readonly whatif.WhatIfCase[],
  options: whatif.CompareOptions = {},
): ReturnType<typeof whatif.comparePlans> {
  checkPlan(plan);
  checkSearch(options);
  for (const one of cases) checkPlan(one.plan);
  const twice = cases.find(({ name }, i) => cases.findIndex((one) => one.name === name) < i);
  refuse(twice === undefined, `the case \`${twice?.name}\` is there twice`);
  return whatif.comparePlans(plan, cases, options);
}

/** Prices by id: `"+10%"`, `"1.20/lb"`, or a change that has been read; `all` is every amendment with a price. */
export type Prices = Readonly<Record<string, string | PriceChange>>;

/**
 * A plan at other prices.
 * @returns the changed plan, or what is wrong with the prices.
 */
export function changePrices(plan: Plan, prices: Prices, name = "prices"): Result<changes.ChangedPlan> {
  const problems: Problem[] = [];
  const read = Object.entries(prices).flatMap(([id, price]): [string, PriceChange][] => {
    if (typeof price !== "string") return [[id, price]];
    const parsed = parsePriceChange(price);
    if (parsed.ok) return [[id, parsed.value]];
    problems.push(problemOf(parsed, { about: `${name}: ${id}` }));
    return [];
  });
  if (problems.length > 0) return fail(...problems);
  return changePlan(plan, { price: Object.fromEntries(read), without: [] }, name);
}

/**
 * Applies a change to a plan.
 * @returns the changed plan, or what is wrong with the change: an id that the plan does not have, and the like.
 * @throws InputError for a price or a factor below zero or without value.
 */
export function changePlan(
  plan: Plan,
  change: changes.PlanChange,
  name: string,
): Result<changes.ChangedPlan> {
  checkPlan(plan);
  for (const [id, price] of Object.entries(change.price))
    for (const one of [price].flat())
      refuse(changes.isPrice(one), `${name}: the price of \`${id}\` is not at least 0`);
  return changes.changePlan(plan, change, name);
}

/**
 * Searches the shares of the applications that cost least.
 * @param least the smallest share of an application, 0 to 1.
 * @throws InputError
 */
export function bestSplit(plan: Plan, least: number): splits.BestSplit {
  checkPlan(plan);
  refuse(plan.blend === "one", "a split is of one blend for all applications");
  refuse(
    least >= 0 && least * plan.applications.length <= 1,
    `least: a share that ${plan.applications.length} applications can all have, not ${least}`,
  );
  return splits.bestSplit(plan, least);
}

/**
 * What a heavy rain may have taken, and what would replace it; null where the plan has no mix.
 * @throws InputError for a rain that cannot be, UnverifiedError.
 */
export async function topUp(plan: Plan, rain: Rain): Promise<TopUp | null> {
  checkPlan(plan);
  const endless = endlessNumber(rain, "rain");
  refuse(endless === undefined, `${endless} is not a finite number`);
  refuse(
    rain.rainM >= 0 &&
      rain.evaporationM >= 0 &&
      rain.depthM > 0 &&
      rain.mixedToM >= 0 &&
      rain.mixedToM <= rain.depthM,
    "rain: depths are at least 0, and what is mixed in lies above the depth of the roots",
  );
  refuse(
    rain.soilWater > 0 && rain.soilWater < 1,
    "rain.soilWater: a fraction of the soil's volume, between 0 and 1",
  );
  refuse(
    rain.day > plan.applications[0]!.day && rain.day < plan.seasonDays,
    `rain.day: a day between the first application and the season's end, not ${rain.day}`,
  );
  return topups.topUp(plan, rain);
}

/**
 * Analyses a mix, and holds it against a plan.
 * @throws InputError, UnverifiedError.
 */
export async function assayMix(mix: Mix, against?: Plan): Promise<Result<Assay>> {
  if (against !== undefined) checkPlan(against);
  const endless = endlessNumber({ ...mix, warnings: [] }, "mix");
  refuse(endless === undefined, `${endless} is not a finite number`);
  return assay.assayMix(mix, against);
}
