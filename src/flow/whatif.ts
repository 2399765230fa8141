/** The same plan under changes: each case solved and proven by itself, and set beside the plan as it is. */

import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { Result } from "../problem.ts";
import type {
  ComparedBase,
  ComparedBy,
  ComparedCase,
  ComparedPurchase,
  ComparedSureness,
  Comparison,
} from "../results/comparison.ts";
import type { Shopping } from "../results/shopping.ts";
import type { Solution } from "../results/solution.ts";
import type { Sureness } from "../results/sure.ts";
import { layOutSeason } from "../season/season.ts";
import { demandName } from "../words/demand-words.ts";
import { listed } from "../words/numbers.ts";
import { solvePlan } from "./blend.ts";
import { spreadBy } from "./bought.ts";
import { plainSureness } from "./sure.ts";

/** Totals within this part of each other are the same. */
const SAME_MONEY = 1e-9;

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

/** How cases are compared. */
export interface CompareOptions {
  /** Absent: by weight. */
  readonly by?: ComparedBy;
  /** By purchase: for each case. */
  readonly seconds?: number;
  /** Milliseconds, rising. */
  readonly clock?: () => number;
}

/** A plan solved by weight, and what is bought for it where that is what counts. */
interface Solved {
  readonly solution: Solution;
  readonly shopping: Shopping | null;
}

/**
 * Solves a plan and every case.
 * @throws UnverifiedError where one of them has no answer that holds up.
 */
export async function comparePlans(
  plan: Plan,
  cases: readonly WhatIfCase[],
  options: CompareOptions = {},
): Promise<Compared> {
  const base = await solvedBy(plan, options);
  const standingBase = standing(base, plan);
  const names = new Map(base.solution.amendments.map(({ id, name }) => [id, name]));
  const outcomes: ComparedCase[] = [];
  for (const one of cases) {
    const solved = await solvedBy(one.plan, options);
    for (const amendment of one.plan.amendments) names.set(amendment.id, amendment.name);
    outcomes.push(compared(one, solved, standingBase));
  }
  const standings = [standingBase, ...outcomes];
  const used = new Set(standings.flatMap(({ amendments }) => amendments.map(({ id }) => id)));
  for (const { id, name } of plan.amendments) names.set(id, name);
  return {
    base: base.solution,
    comparison: {
      schema: "barrowmix.comparison/1",
      plan: plan.name,
      currency: plan.currency,
      units: plan.units,
      by: options.by ?? "weight",
      base: standingBase,
      cases: outcomes,
      names: Object.fromEntries(
        [...names].filter(([id]) => used.has(id)).sort(([a], [b]) => (a < b ? -1 : 1)),
      ),
    },
  };
}

async function solvedBy(plan: Plan, options: CompareOptions): Promise<Solved> {
  const { by, seconds, clock } = options;
  const solution = await solvePlan(plan, undefined, clock && { clock });
  const buys = by === "purchase" && solution.status === "optimal";
  return { solution, shopping: buys ? await buyFor(plan, defined({ seconds, clock })) : null };
}

/** What is bought for one plan, with no advice beside it. */
export async function buyFor(
  plan: Plan,
  options: Pick<CompareOptions, "seconds" | "clock">,
): Promise<Shopping> {
  const { shopPlans } = await import("./shop.ts");
  return fitting(await shopPlans([plan], { ...options, advice: false }));
}

/** What comes of input that was made here and has nothing wrong with it. */
export function fitting<T>(result: Result<T>): T {
  if (result.ok) return result.value;
  throw new Error(result.problems.map(({ message }) => message).join("; "));
}

function standing({ solution, shopping }: Solved, plan: Plan): ComparedBase {
  const amounts = (list: readonly { readonly id: string; readonly kg: number }[]) =>
    list.map(({ id, kg }) => ({ id, kg }));
  const { plants } = plan.bed;
  const { total, perPlant } = solution.cost;
  const byWeight = {
    total,
    perPlant,
    amendments: amounts(solution.amendments),
    binding: (solution.sensitivity?.demands ?? []).map((demand) => ({
      name: demandName(plan, demand),
      ...demand,
    })),
    sensitivity: solution.sensitivity ?? null,
    sure: solution.sure ? comparedSureness(solution.sure) : null,
  };
  if (shopping === null) return byWeight;
  return {
    ...byWeight,
    total: shopping.total,
    byWeight: total,
    perPlant: shopping.total === null || plants === undefined ? null : shopping.total / plants,
    purchase: purchaseSum(shopping),
    amendments: amounts(shopping.mix?.amendments ?? []),
    // What a need costs at the margin is known of the mix by weight alone.
    binding: [],
    sensitivity: null,
    sure: shopping.total === null ? null : surenessOn(plan, shopping),
  };
}

function comparedSureness({ asked, askedTogether, needs, together }: Sureness): ComparedSureness {
  return { asked, ...defined({ askedTogether }), needs, together };
}

/** How sure the mix on a purchase is, in closed form. */
function surenessOn(plan: Plan, shopping: Shopping): ComparedSureness {
  const plain = plainSureness(plan, layOutSeason(plan), spreadBy(plan, shopping));
  const { each = [], together: askedTogether } = plan.sure ?? {};
  return comparedSureness({ ...plain, asked: each, ...defined({ askedTogether }) });
}

/** What a purchase comes to; null where there is none. */
export function purchaseSum({ goods, delivery, gap, purchases }: Shopping): ComparedPurchase | null {
  if (goods === null || delivery === null || gap === null) return null;
  return {
    goods,
    delivery,
    gap,
    packs: purchases.reduce((sum, { packs }) => sum + packs.reduce((n, { count }) => n + count, 0), 0),
    leftWorth: purchases.reduce((sum, { leftWorth }) => sum + leftWorth, 0),
  };
}

function compared(one: WhatIfCase, solved: Solved, before: ComparedBase): ComparedCase {
  const here = standing(solved, one.plan);
  const ids = ({ amendments }: ComparedBase): string[] => amendments.map(({ id }) => id);
  const kept = ids(here).filter((id) => one.unlisted?.includes(id));
  const unlisted = `In this mix at the plan's own prices, since the list does not have them: ${listed(kept)}.`;
  const both = here.total !== null && before.total !== null;
  return {
    name: one.name,
    status: solved.shopping?.status ?? (here.total === null ? "infeasible" : "optimal"),
    ...here,
    difference: differenceOf(here.total, before.total),
    entered: both ? ids(here).filter((id) => !ids(before).includes(id)) : [],
    left: both ? ids(before).filter((id) => !ids(here).includes(id)) : [],
    reason: here.total === null ? reasonOf(solved.shopping ?? solved.solution) : null,
    notes: kept.length === 0 ? one.notes : [...one.notes, unlisted],
  };
}

/** What one total is above another; null where either is missing. Below the precision of a proof it is nothing. */
function differenceOf(total: number | null, before: number | null): number | null {
  if (total === null || before === null) return null;
  const difference = total - before;
  return Math.abs(difference) <= SAME_MONEY * Math.max(1, before) ? 0 : difference;
}

function reasonOf({ conflicts }: Pick<Solution, "conflicts">): string {
  const texts = conflicts.map(({ text }) => text);
  return texts.length > 0 ? texts.join(" ") : "No mix meets every demand.";
}
