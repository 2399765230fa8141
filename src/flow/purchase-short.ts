/** The purchase that a budget still buys where it is too small: whose mix falls least short, and how sure that is. */

import { type Amounts, countedKg, findMisses, suppliedKg } from "../field/delivery.ts";
import { linesOf, ordersOf, totalOf } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { ShopDemands, ShopProgram } from "../program/shop-program.ts";
import type { PlanProgram, PlanRow } from "../program/tags.ts";
import type { ShortPurchase } from "../results/shopping.ts";
import { type Season, takenUpKg } from "../season/season.ts";
import { solveWhole, type WholePoint } from "../solver/whole.ts";
import { bagWeight, money, percent, weight } from "../words/numbers.ts";
import { boughtIn, type Deadline, type Errand, prepare, type SolvedBed, secondsLeft } from "./purchase.ts";
import { needsOf } from "./purchase-advice.ts";

/** Shortfalls and money within this part of their size are the same. */
const SAME = 1e-6;
/** Floors that may be missed here: all other demands hold. */
const FLOORS = new Set(["season-min", "in-time"]);

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
  const needs = needsOf(errand, program);
  const loosened = withShortfall(program, needs);
  const point = await solveWhole(loosened, {
    seconds: secondsLeft(deadline),
    clock: deadline.clock,
    tieBreaks: [[...program.columns.map(({ cost }) => cost), 0]],
  });
  return "x" in point ? purchaseAt(errand, program, point, budget) : null;
}

/** The program of least shortfall: every floor may be missed by the same part of its need. */
function withShortfall(program: ShopProgram, needs: ReadonlyMap<PlanRow["tag"], number>): PlanProgram {
  const short = program.columns.length;
  return {
    columns: [
      ...program.columns.map((column) => ({ ...column, cost: 0 })),
      { tag: { kind: "other", label: "shortfall" }, cost: 1, upper: 1 },
    ],
    rows: program.rows.map((row): PlanRow => {
      const need = needs.get(row.tag);
      return need === undefined ? row : { ...row, index: [...row.index, short], value: [...row.value, need] };
    }),
  };
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
  const goods = orders.reduce((sum, order) => sum + order.goods, 0);
  const total = totalOf(orders);
  if (total > budget * (1 + 1e-9) || orders.some(({ refused }) => refused)) return null;
  const mixes = beds.map(
    ({ plan, program: blend }, p): Amounts =>
      plan.amendments.map((_, a) =>
        plan.applications.map(({ share }, t) => {
          const columns = program.use[p]![a]!;
          return plan.blend === "one"
            ? point.x[columns[0]!]! * share
            : point.x[columns[blend.blends.indexOf(t)]!]!;
        }),
      ),
  );
  const used = amendments.map(({ id }) =>
    beds.reduce((sum, { plan }, p) => {
      const a = plan.amendments.findIndex((amendment) => amendment.id === id);
      return a < 0 ? sum : sum + mixes[p]![a]!.reduce((kg, x) => kg + x, 0);
    }, 0),
  );
  const lines = linesOf(amendments, bought, used, 0);
  const within = lines.every(({ usedKg, stockKg, boughtKg }) => usedKg <= (stockKg + boughtKg) * (1 + SAME));
  const kept = beds.every(({ plan, season }, p) =>
    findMisses(plan, season, mixes[p]!).every(
      ({ tag, fraction }) => FLOORS.has(tag.kind) || fraction <= SAME,
    ),
  );
  const shortfall = worstOf(beds.map(({ plan, season }, p) => shortfallOn(plan, season, mixes[p]!)));
  if (!within || !kept || Math.abs(shortfall.fraction - point.cost) > SAME) return null;
  return {
    status: point.status,
    total,
    goods,
    delivery: total - goods,
    purchases: lines,
    shortfall,
    leastShortfall: Math.max(0, Math.min(point.bound, shortfall.fraction)),
  };
}

/** What amounts fall short of: the worst need on any day it is checked, as a fraction of it. */
function shortfallOn(plan: Plan, season: Season, amounts: Amounts): ShortPurchase["shortfall"] {
  return worstOf(
    plan.demands.flatMap((demand) => {
      const { nutrient, minKg } = demand;
      const days = demand.uptake ? season.checkpoints : [plan.seasonDays];
      return days.flatMap((day) => {
        const atEnd = day === plan.seasonDays;
        const need = atEnd ? minKg : takenUpKg(demand, day);
        if (need <= 0) return [];
        const has = atEnd
          ? countedKg(plan, season, amounts, demand)
          : suppliedKg(plan, season, amounts, nutrient, day);
        return [{ nutrient, fraction: Math.max(0, 1 - has / need) }];
      });
    }),
  );
}

function worstOf(shortfalls: readonly ShortPurchase["shortfall"][]): ShortPurchase["shortfall"] {
  return shortfalls.reduce((worst, one) => (one.fraction > worst.fraction + 1e-9 ? one : worst), {
    nutrient: null,
    fraction: 0,
  });
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
