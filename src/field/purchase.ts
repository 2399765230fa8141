/**
 * A purchase of whole packs as it is on the counter: lines, suppliers, delivery, money, and what is left over.
 * Pure arithmetic on counts; nothing here chooses anything.
 */
import type { Amendment, Plan, Supplier } from "../model.ts";
import { defined } from "../optional.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { supplierOf } from "../program/shop-program.ts";
import type { PurchaseLine, SupplierOrder } from "../results/solution.ts";
import { type Amounts, sumKg } from "./delivery.ts";

/** What is bought of each amendment: counts by pack size as listed, and kg loose. */
export interface Bought {
  readonly counts: readonly (readonly number[])[];
  readonly bulkKg: readonly number[];
}

/** kg of one amendment in a purchase. */
export function boughtKg(amendment: Amendment, counts: readonly number[], bulkKg: number): number {
  return amendment.packs.reduce((sum, pack, k) => sum + pack.sizeKg * counts[k]!, bulkKg);
}

/** Money for one amendment in a purchase. */
export function goodsOf(amendment: Amendment, counts: readonly number[], bulkKg: number): number {
  const loose = bulkKg > 0 ? bulkKg * (amendment.bulkPricePerKg ?? 0) : 0;
  return amendment.packs.reduce((sum, pack, k) => sum + pack.price * counts[k]!, loose);
}

/** Of a purchase, what one supplier sells; null: what nobody is named for. */
function boughtFrom(id: string | null, amendments: readonly Amendment[], bought: Bought): Bought {
  return {
    counts: amendments.map((amendment, a) =>
      amendment.packs.map((pack, k) => (supplierOf(amendment, pack) === id ? bought.counts[a]![k]! : 0)),
    ),
    bulkKg: amendments.map((amendment, a) => (supplierOf(amendment) === id ? bought.bulkKg[a]! : 0)),
  };
}

function sumOver(
  amendments: readonly Amendment[],
  { counts, bulkKg }: Bought,
  one: (amendment: Amendment, counts: readonly number[], bulkKg: number) => number,
): number {
  return amendments.reduce((sum, amendment, a) => sum + one(amendment, counts[a]!, bulkKg[a]!), 0);
}

/** A weight this near to a step of delivery, relative to it, is within it. */
const STEP_SLACK = 1e-6;

/**
 * What a supplier asks to deliver goods of a value and weight (kg), free delivery apart.
 * @returns `refused` where its steps end below that weight; the charge is then that of its last step.
 */
function chargeOf(
  { delivery, perKg = 0, percent = 0, steps = [] }: Supplier,
  value: number,
  kg: number,
): { readonly charge: number; readonly refused: boolean } {
  const step = steps.find(({ upToKg }) => upToKg === undefined || kg <= upToKg * (1 + STEP_SLACK));
  const byStep = (step ?? steps.at(-1))?.price ?? 0;
  return {
    charge: delivery + perKg * kg + percent * value + byStep,
    refused: steps.length > 0 && step === undefined,
  };
}

/** A value of goods that reaches free delivery but for rounding does reach it. */
const CENT_FRACTION = 1e-6;

/**
 * Orders by supplier, in the order of their ids, those without a supplier last; what is ordered for nothing is an order
 * too. `refused` is there where an order is too heavy for what the supplier delivers.
 */
export function ordersOf(
  amendments: readonly Amendment[],
  suppliers: readonly Supplier[],
  bought: Bought,
): SupplierOrder[] {
  const sellers = amendments.flatMap((amendment) => [
    supplierOf(amendment),
    ...amendment.packs.map((pack) => supplierOf(amendment, pack)),
  ]);
  const ids = [...new Set(sellers)].sort((x, y) =>
    x === null ? 1 : y === null ? -1 : x < y ? -1 : x > y ? 1 : 0,
  );
  return ids.flatMap((id) => {
    const own = boughtFrom(id, amendments, bought);
    if ([...own.counts.flat(), ...own.bulkKg].every((amount) => amount <= 0)) return [];
    const goods = sumOver(amendments, own, goodsOf);
    const supplier = suppliers.find((candidate) => candidate.id === id);
    const freeOver = supplier?.freeOver;
    const free = !supplier || (freeOver !== undefined && goods >= freeOver - CENT_FRACTION);
    const asked = supplier && chargeOf(supplier, goods, sumOver(amendments, own, boughtKg));
    const delivery = free ? 0 : asked!.charge;
    const freeFrom = delivery > 0 && freeOver !== undefined ? freeOver - goods : null;
    return [{ id, goods, delivery, freeFrom, ...(asked?.refused ? { refused: true } : {}) }];
  });
}

/** Money for a whole purchase, delivery included. */
export function totalOf(orders: readonly SupplierOrder[]): number {
  return orders.reduce((sum, order) => sum + order.goods + order.delivery, 0);
}

/** What orders cost in all, and for goods and delivery apart. */
export function moneyOf(orders: readonly SupplierOrder[]): {
  total: number;
  goods: number;
  delivery: number;
} {
  const total = totalOf(orders);
  const goods = orders.reduce((sum, order) => sum + order.goods, 0);
  return { total, goods, delivery: total - goods };
}

/** kg that the mixes of plans take of each amendment on offer. */
export function usedKg(
  { amendments, plans }: { readonly amendments: readonly Amendment[]; readonly plans: readonly Plan[] },
  mixes: readonly Amounts[],
): number[] {
  return amendments.map(({ id }) =>
    plans.reduce((used, plan, p) => {
      const a = plan.amendments.findIndex((amendment) => amendment.id === id);
      return a < 0 ? used : used + sumKg(mixes[p]![a]!);
    }, 0),
  );
}

/** What stays over below this part of a weight is arithmetic: demands are kept to within as much. */
const NOTHING = 1e-6;

/**
 * Lines of a purchase.
 * @param usedKg by amendment, in all beds.
 */
export function linesOf(
  amendments: readonly Amendment[],
  bought: Bought,
  usedKg: readonly number[],
): PurchaseLine[] {
  return amendments.flatMap((amendment, a): PurchaseLine[] => {
    const counts = bought.counts[a]!;
    const bulkKg = bought.bulkKg[a]!;
    const kg = boughtKg(amendment, counts, bulkKg);
    const used = usedKg[a]!;
    if (kg === 0 && used === 0) return [];
    // The shed goes first: what is bought is what stays over.
    const stockKg = Math.min(used, amendment.stockKg);
    const left = stockKg + kg - used;
    const leftKg = left <= NOTHING * (amendment.stockKg + kg) ? 0 : left;
    const cost = goodsOf(amendment, counts, bulkKg);
    return [
      {
        id: amendment.id,
        name: amendment.name,
        supplier: amendment.supplier ?? null,
        placeholder: cost > 0 && amendment.placeholder === true,
        packs: amendment.packs.flatMap(({ sizeKg, price, supplier }, k) =>
          counts[k]! > 0 ? [{ sizeKg, count: counts[k]!, price, ...defined({ supplier }) }] : [],
        ),
        bulkKg,
        boughtKg: kg,
        usedKg: used,
        stockKg,
        leftKg,
        leftWorth: leftKg * (cheapestPricePerKg(amendment) ?? 0),
        cost,
      },
    ];
  });
}
