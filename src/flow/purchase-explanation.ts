/** Why no purchase keeps what was asked of it beside the plans, and what would do. */

import { heaviestOrderKg } from "../model.ts";
import { defined } from "../optional.ts";
import type { ShopDemands } from "../program/shop-program.ts";
import type { Conflict } from "../results/solution.ts";
import { listed, money, percent, weight } from "../words/numbers.ts";
import { buy, type Deadline, type Errand } from "./purchase.ts";

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
  // Where one of these ways helps, what suppliers deliver is not what is in the way.
  for (const supplier of ways.length > 0 ? [] : errand.suppliers) {
    const most = heaviestOrderKg(supplier);
    if (most < Infinity) asked.push(`at most ${weight(most, units)} in an order from ${supplier.id}`);
  }
  const why = `No purchase of whole packs keeps to ${listed(asked)}`;
  return { text: ways.length > 0 ? `${why}: ${ways.join("; or ")}.` : `${why}.`, demands: asked };
}
