/** The same plans under changes: each case answered and proven by itself, and set beside the plans as they are. */

import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { ComparedBase, ComparedCase, ComparedPurchase, Comparison } from "../results/comparison.ts";
import type { Sharing, Solution } from "../results/solution.ts";
import { demandName } from "../words/demand-words.ts";
import { listed } from "../words/numbers.ts";
import { type AnswerOptions, solvePlans } from "./answer.ts";

/** Totals within this part of each other are the same. */
const SAME_MONEY = 1e-9;

/** One plan or more that share a shed. */
export type Plans = readonly [Plan, ...Plan[]];

/** A named change that has been made. */
export interface WhatIfCase {
  readonly name: string;
  readonly plans: Plans;
  /** What a reader should know about the change. */
  readonly notes: readonly string[];
  /** Ids that keep the plans' own prices because a price list does not name them. */
  readonly unlisted?: readonly string[];
  /** How beds share mixes, where the change says so. */
  readonly sharing?: Sharing;
}

/** A comparison, with the answer for the plans as they are. */
export interface Compared {
  readonly comparison: Comparison;
  readonly base: Solution;
}

/** How cases are compared. */
export type CompareOptions = Pick<
  AnswerOptions,
  "by" | "budget" | "mostLeft" | "name" | "seconds" | "clock" | "sharing"
>;

/**
 * Answers plans and every case of them.
 * @throws UnverifiedError where one of them has no answer that holds up.
 */
export async function comparePlans(
  plans: Plans,
  cases: readonly WhatIfCase[],
  options: CompareOptions = {},
): Promise<Compared> {
  const base = await answered(plans, options);
  const before = comparedBase(base);
  const names = new Map<string, string>();
  const outcomes: ComparedCase[] = [];
  for (const one of cases) {
    const solution = await answered(one.plans, { ...options, ...defined({ sharing: one.sharing }) });
    for (const { id, name } of one.plans.flatMap(({ amendments }) => amendments)) names.set(id, name);
    outcomes.push(compared(one, solution, before));
  }
  for (const { id, name } of plans.flatMap(({ amendments }) => amendments)) names.set(id, name);
  const used = new Set([before, ...outcomes].flatMap(({ amendments }) => amendments.map(({ id }) => id)));
  return {
    base,
    comparison: {
      schema: "barrowmix.comparison/2",
      plan: base.name,
      currency: base.currency,
      units: base.units,
      by: base.by,
      base: before,
      cases: outcomes,
      names: Object.fromEntries(
        [...names].filter(([id]) => used.has(id)).sort(([a], [b]) => (a < b ? -1 : 1)),
      ),
    },
  };
}

/** The answer for plans that go together. */
export async function answered(plans: Plans, options: AnswerOptions): Promise<Solution> {
  const { detail = options.by === "weight" ? "page" : "mix", ...others } = options;
  const result = await solvePlans(plans, { ...others, detail });
  if (result.ok) return result.value;
  throw new Error(result.problems.map(({ message }) => message).join("; "));
}

function comparedBase(solution: Solution): ComparedBase {
  const { cost, beds, sensitivity = null } = solution;
  const [bed] = beds;
  const [plan] = solution.inputs.plans;
  const sure = beds.length === 1 ? bed?.sure : undefined;
  return {
    total: cost.total,
    byWeight: cost.byWeight,
    purchase: purchaseSum(solution),
    perPlant: cost.perPlant,
    amendments: amountsIn(solution),
    // What a need costs at the margin is known of one mix by weight alone.
    binding: (sensitivity?.demands ?? []).map((demand) => ({ name: demandName(plan!, demand), ...demand })),
    sensitivity,
    sure: sure
      ? {
          asked: sure.asked,
          ...defined({ askedTogether: sure.askedTogether }),
          needs: sure.needs,
          together: sure.together,
        }
      : null,
  };
}

/** What an answer uses, by id, kg in all. */
export function amountsIn({ purchases }: Solution): ComparedBase["amendments"] {
  return purchases.flatMap(({ id, usedKg }) => (usedKg > 0 ? [{ id, kg: usedKg }] : []));
}

/** What a purchase comes to; null where there is none, and by weight. */
export function purchaseSum({ by, cost, purchases }: Solution): ComparedPurchase | null {
  const { goods, delivery, gap } = cost;
  if (by === "weight" || goods === null || delivery === null || gap === null) return null;
  return {
    goods,
    delivery,
    gap,
    packs: purchases.reduce((sum, { packs }) => sum + packs.reduce((n, { count }) => n + count, 0), 0),
    leftWorth: purchases.reduce((sum, { leftWorth }) => sum + leftWorth, 0),
  };
}

function compared(one: WhatIfCase, solution: Solution, before: ComparedBase): ComparedCase {
  const here = comparedBase(solution);
  const ids = ({ amendments }: ComparedBase): string[] => amendments.map(({ id }) => id);
  const kept = ids(here).filter((id) => one.unlisted?.includes(id));
  const unlisted = `In this mix at the plan's own prices, since the list does not have them: ${listed(kept)}.`;
  const both = here.total !== null && before.total !== null;
  return {
    name: one.name,
    status: solution.status,
    ...here,
    difference: differenceOf(here.total, before.total),
    entered: both ? ids(here).filter((id) => !ids(before).includes(id)) : [],
    left: both ? ids(before).filter((id) => !ids(here).includes(id)) : [],
    reason: here.total === null ? reasonOf(solution) : null,
    notes: kept.length === 0 ? one.notes : [...one.notes, unlisted],
  };
}

/** What one total is above another; null where either is missing. Below the precision of a proof it is nothing. */
function differenceOf(total: number | null, before: number | null): number | null {
  if (total === null || before === null) return null;
  const difference = total - before;
  return Math.abs(difference) <= SAME_MONEY * Math.max(1, before) ? 0 : difference;
}

function reasonOf({ conflicts }: Solution): string {
  const texts = conflicts.map(({ text }) => text);
  return texts.length > 0 ? texts.join(" ") : "No mix meets every demand.";
}
