/** The same plan under changes: each case solved and proven by itself, and set beside the plan as it is. */

import type { Plan } from "../model.ts";
import type { ComparedBase, ComparedCase, Comparison } from "../results/comparison.ts";
import type { Solution } from "../results/solution.ts";
import { listed } from "../words/numbers.ts";
import { demandName } from "../words/price-words.ts";
import { solvePlan } from "./blend.ts";

/** A named change that has been made. */
export interface WhatIfCase {
  readonly name: string;
  readonly plan: Plan;
  /** What a reader should know about the change. */
  readonly notes: readonly string[];
  /** Ids that keep the plan's own prices because a price list does not name them. */
  readonly unlisted?: readonly string[];
}

/** A comparison, with the solution of the plan as it is. */
export interface Compared {
  readonly comparison: Comparison;
  readonly base: Solution;
}

/**
 * Solves a plan and every case.
 * @throws UnverifiedError where one of them has no answer that stands up.
 */
export async function comparePlans(plan: Plan, cases: readonly WhatIfCase[]): Promise<Compared> {
  const base = await solvePlan(plan);
  const names = new Map(base.amendments.map(({ id, name }) => [id, name]));
  const outcomes: ComparedCase[] = [];
  for (const one of cases) {
    const solution = await solvePlan(one.plan);
    for (const { id, name } of solution.amendments) names.set(id, name);
    outcomes.push(compared(one, solution, base));
  }
  return {
    base,
    comparison: {
      schema: "barrowmix.comparison/1",
      plan: plan.name,
      currency: plan.currency,
      units: plan.units,
      base: standing(base, plan),
      cases: outcomes,
      names: Object.fromEntries([...names].sort(([a], [b]) => (a < b ? -1 : 1))),
    },
  };
}

function standing(solution: Solution, plan: Plan): ComparedBase {
  return {
    total: solution.cost.total,
    perPlant: solution.cost.perPlant,
    amendments: solution.amendments.map(({ id, kg }) => ({ id, kg })),
    binding: (solution.sensitivity?.demands ?? []).map((demand) => ({
      name: demandName(plan, demand),
      ...demand,
    })),
    sensitivity: solution.sensitivity ?? null,
  };
}

function compared(one: WhatIfCase, solution: Solution, base: Solution): ComparedCase {
  const { name, plan } = one;
  const kept = solution.amendments.map(({ id }) => id).filter((id) => one.unlisted?.includes(id));
  const notes =
    kept.length === 0
      ? one.notes
      : [...one.notes, `In this mix at the plan's own prices, since the list lacks them: ${listed(kept)}.`];
  const here = standing(solution, plan);
  const ids = (from: Solution): string[] => from.amendments.map(({ id }) => id);
  const both = solution.status === "optimal" && base.status === "optimal";
  const [total, before] = [solution.cost.total, base.cost.total];
  return {
    name,
    status: solution.status,
    ...here,
    difference: total === null || before === null ? null : total - before,
    entered: both ? ids(solution).filter((id) => !ids(base).includes(id)) : [],
    left: both ? ids(base).filter((id) => !ids(solution).includes(id)) : [],
    reason: solution.status === "optimal" ? null : reasonOf(solution),
    notes,
  };
}

function reasonOf(solution: Solution): string {
  const texts = solution.conflicts.map(({ text }) => text);
  return texts.length > 0 ? texts.join(" ") : "No mix meets every demand.";
}
