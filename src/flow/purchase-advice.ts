/** Questions beside a purchase: what it costs by weight, what other packs would change, whether to buy in one trip. */

import type { Amounts } from "../field/delivery.ts";
import { type Bought, boughtKg, goodsOf, ordersOf, totalOf } from "../field/purchase.ts";
import type { Amendment, Plan, Supplier } from "../model.ts";
import { defined } from "../optional.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { ShopDemands, ShopProgram } from "../program/shop-program.ts";
import { isNeed, type NeedTag, type PlanProgram, type PlanRow } from "../program/tags.ts";
import type { PackChange, TripComparison } from "../results/shopping.ts";
import { takenUpKg } from "../season/season.ts";
import { Simplex } from "../solver/simplex.ts";
import { MAX_VIOLATION, worstViolation } from "../solver/verify.ts";
import type { WholePoint } from "../solver/whole.ts";
import {
  buy,
  type Deadline,
  type Errand,
  type Found,
  type SearchLimits,
  type SolvedBed,
  withoutBeds,
} from "./purchase.ts";
import { onPacks } from "./purchase-mix.ts";

/** A side question is worth so many nodes at least, and no larger solver. */
const SIDE = { nodes: 200, alone: true } as const;
/** Most amendments whose pack size is looked at. */
const MOST_CHANGES = 12;

/** What the mixes cost where everything is sold by weight: of one plan what `solve` says, of several together. */
export async function costByWeight(
  errand: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<number> {
  const [bed] = errand.beds;
  if (errand.beds.length === 1) return bed!.answer.check.cost;
  const loose = errand.amendments.map((amendment): Amendment => {
    const price = cheapestPricePerKg(amendment);
    return { ...amendment, packs: [], ...(price === null ? {} : { bulkPricePerKg: price }) };
  });
  const limits = { nodes: 2_000, alone: true, ties: false } as const;
  const point = await soldAs(errand, loose, [], demands, deadline, limits);
  return point?.status === "optimal" ? point.cost : Number.NaN;
}

/** The best purchase with other offers, as far as a short search tells; null where it finds none. */
async function soldAs(
  errand: Errand,
  offers: readonly Amendment[],
  suppliers: readonly Supplier[],
  demands: ShopDemands,
  deadline: Deadline,
  limits: SearchLimits,
): Promise<WholePoint | null> {
  const byId = new Map(offers.map((amendment) => [amendment.id, amendment]));
  const beds = errand.beds.map((bed): SolvedBed => {
    const amendments = bed.plan.amendments.map(({ id }) => byId.get(id)!);
    return { ...bed, plan: { ...bed.plan, amendments } };
  });
  const plans = beds.map((bed) => bed.plan);
  const found = await buy({ plans, beds, amendments: offers, suppliers }, demands, deadline, limits);
  return "point" in found ? found.point : null;
}

/**
 * What one pack less, or packs of any size, would save; the largest saving first. All of it together takes no more nodes
 * than the proof of the purchase did, so that advice does not keep the answer waiting; the dearest lines come first.
 */
export async function packChanges(
  errand: Errand,
  found: Found,
  bought: Bought,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<PackChange[]> {
  const { amendments, suppliers } = errand;
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
    const point = await soldAs(errand, offers, suppliers, demands, deadline, limits);
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
  program.packs.forEach((columns, a) => {
    columns.forEach((j, k) => {
      x[j] = counts[a]![k]!;
    });
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
export function withShortfall({ beds }: Errand, program: ShopProgram): PlanProgram {
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
  for (const { tag, index, value, lower } of rows) {
    if (!isNeed(tag) || index.at(-1) !== columns.length - 1) continue;
    const met = index.reduce((sum, j, k) => sum + value[k]! * x[j]!, 0);
    const room = (met - lower) / value.at(-1)!;
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
  deadline: Deadline,
): Promise<TripComparison | null> {
  const { applications } = errand.plans[0]!;
  if (applications.length < 2) return null;
  let stock = errand.amendments.map((amendment) => amendment.stockKg);
  const byApplication: { name: string; total: number }[] = [];
  for (const [t, application] of applications.entries()) {
    const need = amounts.map((row) => row[t]!);
    const amendments = errand.amendments.map((amendment, a) => ({ ...amendment, stockKg: stock[a]! }));
    const trip = { ...withoutBeds(errand), amendments };
    const found = await buy(trip, { fixedKg: need }, deadline, SIDE);
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
