/** Why no purchase keeps what was asked of it beside the plans, and what would do. */

import { linesOf, ordersOf, totalOf } from "../field/purchase.ts";
import { heaviestOrderKg } from "../model.ts";
import { defined } from "../optional.ts";
import type { ShopDemands } from "../program/shop-program.ts";
import type { PlanProgram, PlanRow } from "../program/tags.ts";
import type { ShortPurchase } from "../results/shopping.ts";
import type { Conflict } from "../results/solution.ts";
import { solveWhole } from "../solver/whole.ts";
import { counted, listed, money, percent, weight } from "../words/numbers.ts";
import { boughtIn, buy, type Deadline, type Errand, prepare, secondsLeft } from "./purchase.ts";
import { needsOf, shortNutrient } from "./purchase-advice.ts";

/**
 * The demands that no purchase keeps together, in words, with what each would have to give.
 * @param demands as they were asked for; `fixedKg` is kept.
 */
export async function explainNoPurchase(
  errand: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<Conflict> {
  const { budget, mostLeft, ...fixed } = demands;
  const { currency, units } = errand.plans[0]!;
  const asked: string[] = [];
  const ways: string[] = [];
  if (budget !== undefined) {
    asked.push(`at most ${money(budget, currency)} in all`);
    const within = await buy(errand, { ...(mostLeft ? { mostLeft } : {}), ...fixed }, deadline);
    if ("point" in within) {
      const sum = `${money(within.point.cost, currency)}, delivery included`;
      ways.push(within.point.status === "optimal" ? `the least that would do is ${sum}` : `${sum}, would do`);
    }
  }
  if (mostLeft) {
    const most =
      "kg" in mostLeft ? weight(mostLeft.kg, units) : `${percent(mostLeft.share)} of what is bought`;
    asked.push(`at most ${most} left over of any amendment`);
    const loose = await buy(errand, { ...defined({ budget }), ...fixed }, deadline);
    if ("point" in loose)
      ways.push(
        `${money(loose.point.cost, currency)} would do if more may be left over, or offer smaller packs in the amendments file`,
      );
  }
  for (const supplier of errand.suppliers) {
    const most = heaviestOrderKg(supplier);
    if (most < Infinity) asked.push(`at most ${weight(most, units)} in an order from ${supplier.id}`);
  }
  const why = `No purchase of whole packs keeps to ${listed(asked)}`;
  return { text: ways.length > 0 ? `${why}: ${ways.join("; or ")}.` : `${why}.`, demands: asked };
}

/**
 * The purchase within the budget whose mix falls least short of its worst need, the cheapest of those.
 * @returns null where a short search finds none.
 */
export async function bestWithin(
  errand: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<ShortPurchase | null> {
  if (demands.budget === undefined || errand.beds.length === 0) return null;
  const { program } = prepare(errand, demands, 1);
  const needs = needsOf(errand, program);
  const short = program.columns.length;
  const loosened: PlanProgram = {
    columns: [
      ...program.columns.map((column) => ({ ...column, cost: 0 })),
      { tag: { kind: "other", label: "shortfall" }, cost: 1, upper: 1 },
    ],
    rows: program.rows.map((row): PlanRow => {
      const need = needs.get(row.tag);
      return need === undefined ? row : { ...row, index: [...row.index, short], value: [...row.value, need] };
    }),
  };
  const point = await solveWhole(loosened, {
    seconds: secondsLeft(deadline),
    clock: deadline.clock,
    nodes: 2_000,
    alone: true,
    tieBreaks: [[...program.columns.map(({ cost }) => cost), 0]],
  });
  if (!("x" in point)) return null;
  const { amendments, suppliers, plans } = errand;
  const bought = boughtIn(program, point.x);
  const used = amendments.map(({ id }) =>
    plans.reduce((sum, plan, p) => {
      const a = plan.amendments.findIndex((amendment) => amendment.id === id);
      return a < 0 ? sum : program.use[p]![a]!.reduce((kg, j) => kg + point.x[j]!, sum);
    }, 0),
  );
  const orders = ordersOf(amendments, suppliers, bought);
  const goods = orders.reduce((sum, order) => sum + order.goods, 0);
  const total = totalOf(orders);
  if (total > demands.budget * (1 + 1e-9)) return null;
  return {
    total,
    goods,
    delivery: total - goods,
    purchases: linesOf(amendments, bought, used, 0),
    shortfall: { nutrient: shortNutrient(loosened, point.x, needs), fraction: point.x[short]! },
  };
}

/** What that purchase is, in a sentence that says that it is not enough. */
export function shortWords(best: ShortPurchase, currency: string): string {
  const packs = best.purchases.flatMap(({ name, packs }) => {
    const count = packs.reduce((sum, pack) => sum + pack.count, 0);
    return count > 0 ? [`${counted(count, "pack")} of ${name}`] : [];
  });
  const what = packs.length > 0 ? listed(packs) : "what is sold loose or in the shed";
  return `The best that the money buys FALLS SHORT of ${best.shortfall.nutrient ?? "a need"} by ${percent(best.shortfall.fraction)}: ${what}, ${money(best.total, currency)} with delivery.`;
}
