/**
 * What the library computes, with its arguments looked over at the door: what cannot be meant is an `InputError` that says
 * why, never a number that means nothing. Plans come checked from the loader; one that a program made or changed itself is
 * looked over again.
 */

import { readPlanValue } from "./files/load.ts";
import type { Mix } from "./files/mix.ts";
import * as answer from "./flow/answer.ts";
import * as assay from "./flow/assay.ts";
import * as changes from "./flow/changes.ts";
import { farmAsked } from "./flow/farm-asked.ts";
import * as sweeps from "./flow/sweep.ts";
import { sweepPurchases } from "./flow/sweep-purchase.ts";
import * as whatif from "./flow/whatif.ts";
import type { Farm, Plan } from "./model.ts";
import { NUTRIENTS } from "./nutrients.ts";
import { fail, formatProblems, guess, type Problem, problemOf, type Result } from "./problem.ts";
import type { Assay } from "./results/assay.ts";
import type { Solution } from "./results/solution.ts";
import type { Sweep } from "./results/sweep.ts";
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

/** An argument that is made of parts. */
function refuseUnlessMap(value: unknown, name: string): void {
  refuse(
    isRecord(value) && !Array.isArray(value),
    `${name}: an object, not ${JSON.stringify(value) ?? "nothing"}`,
  );
}

/** One plan or several. */
function checkPlans(plans: readonly Plan[]): void {
  refuse(Array.isArray(plans) && plans.length > 0, "plans: a list of one plan or more");
  plans.forEach(checkPlan);
}

const OPTIONS: Readonly<Record<keyof answer.AnswerOptions, true>> = {
  by: true,
  budget: true,
  mostLeft: true,
  application: true,
  sharing: true,
  detail: true,
  curves: true,
  name: true,
  seconds: true,
  clock: true,
  candidates: true,
};

/** What is asked of an answer, and how long is looked for it. */
function checkOptions(options: answer.AnswerOptions): void {
  refuseUnlessMap(options, "options");
  for (const key of Object.keys(options))
    refuse(
      Object.hasOwn(OPTIONS, key),
      `options: there is no \`${key}\`; ${guess(key, Object.keys(OPTIONS), `there are ${Object.keys(OPTIONS).join(", ")}`)}`,
    );
  const { by = "purchase", seconds = 1, budget = 0, mostLeft, detail = "page" } = options;
  refuse(by === "weight" || by === "purchase", `by: "purchase" or "weight", not ${String(by)}`);
  refuse(
    ["mix", "page", "whole"].includes(detail),
    `detail: "mix", "page" or "whole", not ${String(detail)}`,
  );
  refuse(
    typeof seconds === "number" && seconds > 0 && Number.isFinite(seconds),
    "seconds: a finite number above 0",
  );
  refuse(typeof budget === "number" && budget >= 0, "budget: an amount of money, at least 0");
  if (mostLeft === undefined) return;
  refuseUnlessMap(mostLeft, "mostLeft");
  const most = "kg" in mostLeft ? mostLeft.kg : mostLeft.share;
  refuse(most >= 0 && (!("share" in mostLeft) || most <= 1), "mostLeft: at least 0 kg, or a share of 0 to 1");
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
 * The answer for one plan: what to buy, what to mix, what to give, how sure.
 * @returns the answer; for a plan without one, one with status `infeasible` that says why.
 * @throws InputError, UnverifiedError.
 */
export async function solvePlan(plan: Plan, options: answer.AnswerOptions = {}): Promise<Solution> {
  checkPlan(plan);
  checkOptions(options);
  return answer.solvePlan(plan, options);
}

/**
 * The answer for plans that share one shed and one purchase, each with its own mix.
 * @returns the answer, or what keeps the plans or the options from going together.
 * @throws InputError, UnverifiedError.
 */
export async function solvePlans(
  plans: readonly [Plan, ...Plan[]],
  options: answer.AnswerOptions = {},
): Promise<Result<Solution>> {
  checkPlans(plans);
  checkOptions(options);
  return answer.solvePlans(plans, options);
}

/**
 * The answer for a farm: beds that share a shed, a purchase and few mixes.
 * @param farm as `loadFarmFile` gives it: kg, m2 and days; `mostMixes` absent: one mix for each bed.
 * @returns the answer with `mixes`, `beds` and what other numbers of mixes cost (`byMixes`, money); or what keeps the beds
 * from going together. One mix, and one for each bed, are proven; which beds share two or more is the best found, with the
 * bound that is proven by weight.
 * @throws InputError, UnverifiedError.
 */
export async function solveFarm(farm: Farm, options: answer.AnswerOptions = {}): Promise<Result<Solution>> {
  const { plans, options: asked } = farmAsked(farm);
  return solvePlans(plans, { ...asked, ...options });
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
  checkOptions(options);
  refuseUnlessMap(request, "request");
  const { handle, from, to, steps } = request;
  refuseUnlessMap(handle, "handle");
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
  return options.by === "weight" ? sweeps.sweepPlan(plan, request) : sweepPurchases(plan, request, options);
}

/**
 * Answers plans and each case of them.
 * @throws InputError, UnverifiedError.
 */
export async function comparePlans(
  plans: whatif.Plans,
  cases: readonly whatif.WhatIfCase[],
  options: whatif.CompareOptions = {},
): ReturnType<typeof whatif.comparePlans> {
  checkPlans(plans);
  checkOptions(options);
  refuse(Array.isArray(cases), "cases: a list of cases");
  for (const one of cases) refuseUnlessMap(one, "a case");
  for (const one of cases) checkPlans(one.plans);
  const twice = cases.find(({ name }, i) => cases.findIndex((one) => one.name === name) < i);
  refuse(twice === undefined, `the case \`${twice?.name}\` is there twice`);
  return whatif.comparePlans(plans, cases, options);
}

/** Prices by id: `"+10%"`, `"1.20/lb"`, or a change that has been read; `all` is every amendment with a price. */
export type Prices = Readonly<Record<string, string | PriceChange>>;

/**
 * A plan at other prices.
 * @returns the changed plan, or what is wrong with the prices.
 */
export function changePrices(plan: Plan, prices: Prices, name = "prices"): Result<changes.ChangedPlan> {
  refuseUnlessMap(prices, name);
  const problems: Problem[] = [];
  const read = Object.entries(prices).flatMap(([id, price]): [string, PriceChange][] => {
    if (typeof price !== "string") return [[id, price]];
    const parsed = parsePriceChange(price);
    if (parsed.ok) return [[id, parsed.value]];
    problems.push(problemOf(parsed, { about: `${name}: ${id}` }));
    return [];
  });
  if (problems.length > 0) return fail(...problems);
  return changePlan(plan, { price: Object.fromEntries(read), exclude: [] }, name);
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
 * Analyses a mix, and holds it against a plan.
 * @throws InputError, UnverifiedError.
 */
export async function assayMix(mix: Mix, against?: Plan): Promise<Result<Assay>> {
  if (against !== undefined) checkPlan(against);
  refuseUnlessMap(mix, "mix");
  refuse(
    Array.isArray(mix.portions) && mix.portions.length > 0,
    "mix.portions: a list of one portion or more",
  );
  for (const [i, one] of mix.portions.entries()) {
    refuseUnlessMap(one, `mix.portions[${i}]`);
    refuseUnlessMap(one.amendment, `mix.portions[${i}].amendment`);
    refuse(typeof one.kg === "number" && one.kg >= 0, `mix.portions[${i}].kg: a weight in kg, at least 0`);
  }
  const spread = Object.entries(mix.spread ?? {}).filter(([key]) => key !== "perPlant" && key !== "days");
  for (const [key, value] of spread)
    refuse(
      value === undefined || (typeof value === "number" && value > 0),
      `mix.spread.${key}: a number above 0`,
    );
  const endless = endlessNumber({ ...mix, warnings: [] }, "mix");
  refuse(endless === undefined, `${endless} is not a finite number`);
  return assay.assayMix(mix, against);
}
