/**
 * What the library computes. The package holds the arguments of every function to their types (`guard.ts`); what a type
 * cannot say is looked over here: what cannot be meant is an `InputError` that says why, never a number that means nothing.
 */

import { readPlanValue } from "./files/load.ts";
import type { WeighedMix } from "./files/mix.ts";
import { type AnswerOptions, solvePlans } from "./flow/answer.ts";
import * as assay from "./flow/assay.ts";
import * as changes from "./flow/changes.ts";
import { farmAsked } from "./flow/farm-asked.ts";
import * as sweeps from "./flow/sweep.ts";
import { sweepPurchases } from "./flow/sweep-purchase.ts";
import * as whatif from "./flow/whatif.ts";
import type { Farm, Plan } from "./model.ts";
import { allOf, fail, formatProblems, guess, ok, type Problem, problemOf, type Result } from "./problem.ts";
import type { Assay } from "./results/assay.ts";
import type { Solution } from "./results/solution.ts";
import type { Sweep } from "./results/sweep.ts";
import { type PriceChange, parsePriceChange } from "./units.ts";

/** An argument that cannot be meant. */
export class InputError extends Error {
  override readonly name = "InputError";
  /** What is wrong with a plan, each with its path; empty for other arguments. */
  readonly problems: readonly Problem[];

  constructor(message: string, problems: readonly Problem[] = [], options?: ErrorOptions) {
    super(message, options);
    this.problems = problems;
  }
}

const MOST_STEPS = 100_000;

function refuse(holds: boolean, message: string): void {
  if (!holds) throw new InputError(message);
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
export async function solvePlan(plan: Plan, options: AnswerOptions = {}): Promise<Solution> {
  const found = await solvePlans([plan], options);
  if (!found.ok) throw new InputError(formatProblems(found.problems).trimEnd(), found.problems);
  return found.value;
}

/**
 * The answer for a farm: beds that share a shed, a purchase and few mixes.
 * @param farm as `loadFarmFile` gives it: kg, m2 and days; `mostMixes` absent: one mix for each bed.
 * @returns the answer with `mixes`, `beds` and what other numbers of mixes cost (`byMixes`, money); or what keeps the beds
 * from going together. One mix, and one for each bed, are proven; which beds share two or more is the best found, with the
 * bound that is proven by weight.
 * @throws InputError, UnverifiedError.
 */
export async function solveFarm(farm: Farm, options: AnswerOptions = {}): Promise<Result<Solution>> {
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
  const { handle, from, to, steps } = request;
  refuse(from < to, `a sweep goes upwards, not from ${from} to ${to}`);
  refuse(from >= 0, `a sweep begins at 0 or above, not at ${from}`);
  refuse(
    Number.isInteger(steps) && steps >= 1 && steps <= MOST_STEPS,
    `steps: a whole number from 1 to ${MOST_STEPS}, not ${steps}`,
  );
  if (handle.kind === "price") {
    const ids = plan.amendments.map(({ id }) => id);
    const known = guess(handle.id, ids, `there are ${ids.join(", ")}`);
    refuse(ids.includes(handle.id), `the plan has no amendment \`${handle.id}\`; ${known}`);
  }
  return options.by === "weight" ? sweeps.sweepPlan(plan, request) : sweepPurchases([plan], request, options);
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
  const read = Object.entries(prices).map(([id, price]): Result<[string, PriceChange]> => {
    if (typeof price !== "string") return ok([id, price]);
    const change = parsePriceChange(price);
    return change.ok ? ok([id, change.value]) : fail(problemOf(change, { about: `${name}: ${id}` }));
  });
  const changes = allOf(read);
  if (!changes.ok) return changes;
  return changePlan(plan, { price: Object.fromEntries(changes.value), exclude: [] }, name);
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
  for (const [id, price] of Object.entries(change.price))
    for (const one of [price].flat())
      refuse(changes.isPrice(one), `${name}: the price of \`${id}\` is not at least 0`);
  return changes.changePlan(plan, change, name);
}

/**
 * Analyses a mix, and holds it against a plan.
 * @throws InputError, UnverifiedError.
 */
export async function assayMix(mix: WeighedMix, against?: Plan): Promise<Result<Assay>> {
  refuse(mix.portions.length > 0, "mix.portions: a list of one portion or more");
  for (const [i, { kg }] of mix.portions.entries())
    refuse(kg >= 0, `mix.portions[${i}].kg: a weight in kg, at least 0`);
  const { perPlant: _, days: __, ...numbers } = mix.spread ?? { times: 1 };
  for (const [key, value] of Object.entries(numbers))
    refuse(value > 0, `mix.spread.${key}: a number above 0`);
  return assay.assayMix(mix, against);
}
