/** Where no purchase keeps what was asked of it: why, what would do, and the best that the budget still buys. */

import { missesInOrder } from "../field/delivery.ts";
import { linesOf, moneyOf, ordersOf, usedKg } from "../field/purchase.ts";
import { heaviestOrderKg, type Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { ShopDemands, ShopProgram } from "../program/shop-program.ts";
import { isNeed } from "../program/tags.ts";
import type { ShortPurchase } from "../results/shopping.ts";
import type { Conflict } from "../results/solution.ts";
import { unlessUnverified } from "../solver/verify.ts";
import { solveWhole, type WholePoint } from "../solver/whole.ts";
import { bagWeight, listed, money, percent, weight } from "../words/numbers.ts";
import { amountsOf } from "./continuous.ts";
import { boughtIn, type Deadline, type Errand, prepare, type SolvedBed } from "./purchase.ts";
import { withShortfall } from "./purchase-advice.ts";
import { buySurely } from "./purchase-mix.ts";

/** Shortfalls and money within this part of their size are the same. */
const SAME = 1e-6;

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

/** The best purchase with other demands, as sure as the plans ask; null where none was found in time. */
async function pointWith(
  errand: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<WholePoint | null> {
  const purchased = await unlessUnverified(buySurely(errand, demands, deadline));
  return purchased && "found" in purchased ? purchased.found.point : null;
}

/** The errand without the margins of how sure its mixes are: needs count on the average. */
function onAverage(errand: Errand): Errand {
  const beds = errand.beds.map((bed): SolvedBed => {
    const { sure, simplicity } = bed;
    if (!sure) return bed;
    const program = sure.base;
    return { ...bed, program, ...defined({ simplicity: simplicity && { ...simplicity, free: program } }) };
  });
  return { ...errand, beds };
}

/**
 * The purchase within the budget whose mix falls least short of its worst need, and the cheapest of those that the
 * search meets.
 * @returns null where the search finds none, or none that holds up when it is worked out again.
 */
export async function bestWithin(
  asked: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<ShortPurchase | null> {
  const { budget } = demands;
  if (budget === undefined || asked.beds.length === 0) return null;
  const errand = onAverage(asked);
  // Whatever another purchase costs, what the budget allows is looked at.
  const { program } = prepare(errand, demands, Infinity);
  const point = await solveWhole(withShortfall(errand, program), {
    seconds: deadline.secondsLeft(),
    clock: deadline.clock,
    tieBreaks: [[...program.columns.map(({ cost }) => cost), 0]],
  });
  return "x" in point ? purchaseAt(errand, program, point, budget) : null;
}

/** The purchase of a point, worked out again from its counts and amounts; null where that does not agree. */
function purchaseAt(
  errand: Errand,
  program: ShopProgram,
  point: WholePoint,
  budget: number,
): ShortPurchase | null {
  const { amendments, suppliers, beds } = errand;
  const bought = boughtIn(program, point.x);
  const orders = ordersOf(amendments, suppliers, bought);
  const sums = moneyOf(orders);
  if (sums.total > budget * (1 + 1e-9) || orders.some(({ refused }) => refused)) return null;
  const mixes = beds.map(({ plan }, p) => amountsOf(plan, { use: program.use[p]! }, point.x));
  const purchases = linesOf(amendments, bought, usedKg(errand, mixes), 0);
  const within = purchases.every((line) => line.usedKg <= (line.stockKg + line.boughtKg) * (1 + SAME));
  const misses = beds.flatMap(({ plan, season }, p) => missesInOrder(plan, season, mixes[p]!));
  const kept = misses.every(({ tag, fraction }) => isNeed(tag) || fraction <= SAME);
  const shortfall = misses.reduce<ShortPurchase["shortfall"]>(
    (worst, { tag, fraction }) =>
      isNeed(tag) && fraction > worst.fraction + 1e-9 ? { nutrient: tag.nutrient, fraction } : worst,
    { nutrient: null, fraction: 0 },
  );
  if (!within || !kept || Math.abs(shortfall.fraction - point.cost) > SAME) return null;
  return {
    status: point.status,
    ...sums,
    purchases,
    shortfall,
    leastShortfall: Math.max(0, Math.min(point.bound, shortfall.fraction)),
  };
}

/** What that purchase is, in a sentence that says that it is not enough. */
export function shortWords(
  best: ShortPurchase,
  { currency, units }: Pick<Plan, "currency" | "units">,
): string {
  const lines = best.purchases.flatMap(({ name, packs, bulkKg }) => {
    const sizes = packs.map(
      ({ count, sizeKg, supplier }) =>
        `${count} x ${bagWeight(sizeKg, units)}${supplier === undefined ? "" : ` (${supplier})`}`,
    );
    const loose = bulkKg > 0 ? [`${weight(bulkKg, units)} loose`] : [];
    return sizes.length + loose.length > 0 ? [`${[...sizes, ...loose].join(" + ")} of ${name}`] : [];
  });
  const what = lines.length > 0 ? lines.join("; ") : "nothing beside the shed";
  const { fraction } = best.shortfall;
  const short = `FALLS SHORT of ${best.shortfall.nutrient ?? "a need"} by ${percent(fraction)}`;
  const how =
    fraction <= SAME
      ? "What the money buys meets each need on the average, NOT as surely as asked"
      : best.status === "optimal"
        ? `The best that the money buys ${short}`
        : `The best found in time for the money ${short} (none falls short by less than ${percent(best.leastShortfall)})`;
  return `${how}: ${what}. That is ${money(best.total, currency)} with delivery.`;
}
