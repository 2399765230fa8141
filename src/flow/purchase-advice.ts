/**
 * Questions beside a purchase: what it costs by weight, what other packs would change, whether to buy in one trip; and where
 * there is none, why, what would do, and the best that the budget still buys.
 */

import { type Amounts, missesInOrder } from "../field/delivery.ts";
import {
  type Bought,
  boughtKg,
  goodsOf,
  linesOf,
  moneyOf,
  ordersOf,
  totalOf,
  usedKg,
} from "../field/purchase.ts";
import { type Amendment, heaviestOrderKg, type Plan, type Supplier } from "../model.ts";
import { defined } from "../optional.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { ShopProgram } from "../program/shop-program.ts";
import { isNeed, type NeedTag, type PlanProgram, type PlanRow } from "../program/tags.ts";
import type { Conflict, PackChange, ShortPurchase, TripComparison } from "../results/solution.ts";
import { takenUpKg } from "../season/season.ts";
import { activityOf } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { MAX_VIOLATION, unlessUnverified, worstViolation } from "../solver/verify.ts";
import { solveWhole, type WholePoint } from "../solver/whole.ts";
import { bagWeight, listed, money, percent, weight } from "../words/numbers.ts";
import {
  boughtIn,
  buy,
  type Errand,
  errandOf,
  type Found,
  prepare,
  type SearchLimits,
  type SolvedBed,
} from "./purchase.ts";
import { onPacks } from "./purchase-mix.ts";
import { buySurely } from "./purchase-sure.ts";
import { amountsOf } from "./solve-blend.ts";

/** A side question is worth so many nodes at least, and no larger solver. */
const SIDE = { nodes: 200, alone: true } as const;
/** Most amendments whose pack size is looked at. */
const MOST_CHANGES = 12;

/** The best purchase with other offers, as far as a short search tells; null where it finds none. */
async function soldAs(
  errand: Errand,
  offers: readonly Amendment[],
  suppliers: readonly Supplier[],
  limits: SearchLimits,
): Promise<WholePoint | null> {
  const byId = new Map(offers.map((amendment) => [amendment.id, amendment]));
  const beds = errand.beds.map((bed): SolvedBed => {
    const amendments = bed.plan.amendments.map(({ id }) => byId.get(id)!);
    return { ...bed, plan: { ...bed.plan, amendments } };
  });
  const plans = beds.map((bed) => bed.plan);
  const found = await buy({ ...errand, plans, beds, amendments: offers, suppliers }, limits);
  return "point" in found ? found.point : null;
}

/**
 * What one pack less, or packs of any size, would save; the largest saving first. All of it together takes no more nodes
 * than the proof of the purchase did, so that advice does not keep the answer waiting; the dearest lines come first.
 */
export async function packChanges(errand: Errand, found: Found, bought: Bought): Promise<PackChange[]> {
  const { amendments, suppliers, deadline } = errand;
  const changes: PackChange[] = [];
  const total = found.point.cost;
  const lines = amendments
    .map((amendment, a) => ({
      amendment,
      a,
      packs: bought.counts[a]!.reduce((sum, n) => sum + n, 0),
      cost: goodsOf(amendment, bought.counts[a]!, 0),
    }))
    .filter(({ packs }) => packs > 0)
    .sort((x, y) => y.cost - x.cost)
    .slice(0, MOST_CHANGES);
  let nodes = Math.max(SIDE.nodes, found.point.nodes);
  for (const { amendment, a } of lines) {
    for (const [k, pack] of amendment.packs.entries()) {
      if (bought.counts[a]![k]! === 0 || deadline.isPast()) continue;
      const counts = bought.counts.map((row, i) =>
        i === a ? row.map((n, c) => (c === k ? n - 1 : n)) : row,
      );
      const saves = total - totalOf(ordersOf(amendments, suppliers, { counts, bulkKg: bought.bulkKg }));
      const shortfall = saves > 0 ? shortfallOf(errand, found, counts) : null;
      if (shortfall) changes.push({ id: amendment.id, kind: "fewer", sizeKg: pack.sizeKg, saves, shortfall });
    }
    const price = cheapestPricePerKg(amendment);
    if (price === null || amendment.bulkPricePerKg === price || nodes <= 0 || deadline.isPast()) continue;
    const offers = amendments.map((other) => (other.id === amendment.id ? byWeight(other, price) : other));
    const limits = { nodes, alone: true, ties: false, within: total * (1 + 1e-9) } as const;
    const point = await soldAs(errand, offers, suppliers, limits);
    nodes -= point?.nodes ?? 1;
    const saves = point?.status === "optimal" ? total - point.cost : 0;
    if (saves > 1e-6 * Math.max(1, total))
      changes.push({
        id: amendment.id,
        kind: "finer",
        sizeKg: null,
        saves,
        shortfall: { nutrient: null, fraction: 0 },
      });
  }
  return changes.sort((x, y) => y.saves - x.saves || (x.id < y.id ? -1 : 1));
}

/** The amendment sold loose at a price per kg, by whoever sells the pack of that price. */
function byWeight(amendment: Amendment, price: number): Amendment {
  const cheapest = amendment.packs.find((pack) => pack.price / pack.sizeKg === price);
  if (cheapest?.supplier === undefined) return { ...amendment, bulkPricePerKg: price };
  const packs = amendment.packs.map((pack) => ({
    ...pack,
    ...defined({ supplier: pack.supplier ?? amendment.supplier }),
  }));
  return { ...amendment, packs, bulkPricePerKg: price, supplier: cheapest.supplier };
}

/** The least worst shortfall of any need on packs with one left out; null where the limits leave no mix. */
function shortfallOf(
  errand: Errand,
  { program, point }: Found,
  counts: readonly (readonly number[])[],
): PackChange["shortfall"] | null {
  const x = [...point.x];
  const left = counts.flat();
  program.packs.flat().forEach((j, k) => {
    x[j] = left[k]!;
  });
  const { program: held } = onPacks(withShortfall(errand, program), program.bulk, x);
  const simplex = new Simplex(held);
  if (simplex.optimise() !== "optimal") return null;
  const at = simplex.point();
  if (worstViolation(held, at).amount > MAX_VIOLATION) return null;
  const fraction = at.at(-1)! <= 1e-9 ? 0 : at.at(-1)!;
  return { nutrient: fraction === 0 ? null : shortNutrient(held, at), fraction };
}

/** The program of least shortfall: every need may be missed by the same part of itself, which is the last column. */
function withShortfall({ beds }: Errand, program: ShopProgram): PlanProgram {
  const owner = new Map(beds.flatMap(({ plan }, p) => program.use[p]!.flat().map((j) => [j, plan] as const)));
  const short = program.columns.length;
  return {
    columns: [
      ...program.columns.map((column) => ({ ...column, cost: 0 })),
      { tag: { kind: "other", label: "shortfall" }, cost: 1, upper: 1 },
    ],
    rows: program.rows.map((row): PlanRow => {
      const need = isNeed(row.tag) ? needOf(owner.get(row.index[0] ?? -1), row.tag) : undefined;
      return need === undefined ? row : { ...row, index: [...row.index, short], value: [...row.value, need] };
    }),
  };
}

/** The size of the need behind a row, kg. */
function needOf(plan: Plan | undefined, { kind, nutrient, day }: NeedTag): number | undefined {
  const demand = plan?.demands.find((one) => one.nutrient === nutrient);
  return demand && (kind === "season-min" ? demand.minKg : takenUpKg(demand, day));
}

/** The need with the least room at a point of a program of least shortfall. */
function shortNutrient({ columns, rows }: PlanProgram, x: readonly number[]): string | null {
  let tightest: string | null = null;
  let least = Infinity;
  for (const row of rows) {
    const { tag, index, value, lower } = row;
    if (!isNeed(tag) || index.at(-1) !== columns.length - 1) continue;
    const room = (activityOf(row, x).sum - lower) / value.at(-1)!;
    if (room < least - 1e-9) {
      least = room;
      tightest = tag.nutrient;
    }
  }
  return tightest;
}

/** Buying before each application for that one alone, leftovers carried along, against everything at once. */
export async function compareTrips(
  errand: Errand,
  amounts: Amounts,
  atOnce: number,
): Promise<TripComparison | null> {
  const { applications } = errand.plans[0]!;
  if (applications.length < 2) return null;
  const alone = { ...errand, demands: {}, deadline: errand.deadline.again() };
  let stock = errand.amendments.map((amendment) => amendment.stockKg);
  const byApplication: { name: string; total: number }[] = [];
  for (const [t, application] of applications.entries()) {
    const need = amounts.map((row) => row[t]!);
    const amendments = errand.amendments.map((amendment, a) => ({ ...amendment, stockKg: stock[a]! }));
    const trip = { ...errandOf(need, alone), amendments };
    const found = await buy(trip, SIDE);
    if (!("point" in found)) return null;
    byApplication.push({ name: application.name, total: found.point.cost });
    stock = amendments.map((amendment, a) =>
      Math.max(
        0,
        amendment.stockKg + boughtKg(amendment, found.bought.counts[a]!, found.bought.bulkKg[a]!) - need[a]!,
      ),
    );
  }
  const inAll = byApplication.reduce((sum, { total }) => sum + total, 0);
  return { atOnce, byApplication, inAll };
}

/** Shortfalls and money within this part of their size are the same. */
const SAME = 1e-6;

/** The demands that no purchase keeps together, in words, with what each would have to give. */
export async function explainNoPurchase(within: Errand): Promise<Conflict> {
  const errand = { ...within, deadline: within.deadline.again() };
  const { budget, mostLeft, ...fixed } = errand.demands;
  const { currency, units } = errand.plans[0]!;
  const asked: string[] = [];
  const ways: string[] = [];
  if (budget !== undefined) {
    asked.push(`at most ${money(budget, currency)} in all`);
    const within = await pointOf({ ...errand, demands: { ...defined({ mostLeft }), ...fixed } });
    if (within) {
      const sum = `${money(within.cost, currency)}, delivery included`;
      ways.push(within.status === "optimal" ? `the least that would do is ${sum}` : `${sum}, would do`);
    }
  }
  if (mostLeft) {
    const most =
      "kg" in mostLeft ? weight(mostLeft.kg, units) : `${percent(mostLeft.share)} of what is bought`;
    asked.push(`at most ${most} left over of any amendment`);
    const loose = await pointOf({ ...errand, demands: { ...defined({ budget }), ...fixed } });
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

/** The best purchase, as sure as the plans ask; null where none was found in time. */
async function pointOf(errand: Errand): Promise<WholePoint | null> {
  const purchased = await unlessUnverified(buySurely(errand));
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
export async function bestWithin(asked: Errand): Promise<ShortPurchase | null> {
  const { budget } = asked.demands;
  if (budget === undefined || asked.beds.length === 0) return null;
  const errand = onAverage(asked);
  const deadline = errand.deadline.again();
  // Whatever another purchase costs, what the budget allows is looked at.
  const { program } = prepare(errand, Infinity);
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
  const purchases = linesOf(amendments, bought, usedKg(errand, mixes));
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
    status: point.status === "optimal" ? "optimal" : "found",
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
