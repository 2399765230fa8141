/** Why no purchase keeps what was asked of it beside the plans, and what would do. */

import { heaviestOrderKg } from "../model.ts";
import { defined } from "../optional.ts";
import type { ShopDemands } from "../program/shop-program.ts";
import type { Conflict } from "../results/solution.ts";
import { UnverifiedError } from "../solver/verify.ts";
import type { WholePoint } from "../solver/whole.ts";
import { listed, money, percent, weight } from "../words/numbers.ts";
import { buy, type Deadline, type Errand } from "./purchase.ts";
import { buySurely } from "./purchase-sure.ts";

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
    const within = await pointWith(errand, { ...defined({ mostLeft }), ...fixed }, deadline);
    if (within) {
      const sum = `${money(within.cost, currency)}, delivery included`;
      ways.push(within.status === "optimal" ? `the least that would do is ${sum}` : `${sum}, would do`);
    }
  }
  if (mostLeft) {
    const most =
      "kg" in mostLeft ? weight(mostLeft.kg, units) : `${percent(mostLeft.share)} of what is bought`;
    asked.push(`at most ${most} left over of any amendment`);
    const loose = await pointWith(errand, { ...defined({ budget }), ...fixed }, deadline);
    if (loose)
      ways.push(
        `${money(loose.cost, currency)} would do if more may be left over, or offer smaller packs in the amendments file`,
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

/** The best purchase with other demands, as sure as the plans ask; null where none was found. */
async function pointWith(
  errand: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<WholePoint | null> {
  if (!errand.beds.some(({ sure }) => sure)) {
    const found = await buy(errand, demands, deadline);
    return "point" in found ? found.point : null;
  }
  try {
    const purchased = await buySurely(errand, demands, deadline);
    return "found" in purchased ? purchased.found.point : null;
  } catch (error) {
    // What would do is advice: where it cannot be had in time, it is left out.
    if (error instanceof UnverifiedError) return null;
    throw error;
  }
}
