/**
 * A purchase of whole packs as it is on the counter: lines, suppliers, delivery, money, and what is left over.
 * Pure arithmetic on counts; nothing here chooses anything.
 */
import type { Amendment, Supplier } from "../model.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { ShoppingLine, SupplierOrder } from "../results/shopping.ts";

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

/** A value of goods that reaches free delivery but for rounding does reach it. */
const CENT_FRACTION = 1e-6;

/** Orders by supplier, in the order of their ids; those without a supplier come last. */
export function ordersOf(
  amendments: readonly Amendment[],
  suppliers: readonly Supplier[],
  bought: Bought,
): SupplierOrder[] {
  const goods = new Map<string | null, number>();
  amendments.forEach((amendment, a) => {
    const counts = bought.counts[a]!;
    const bulkKg = bought.bulkKg[a]!;
    if (bulkKg <= 0 && counts.every((count) => count === 0)) return;
    const id = amendment.supplier ?? null;
    goods.set(id, (goods.get(id) ?? 0) + goodsOf(amendment, counts, bulkKg));
  });
  return ordersOfGoods(goods, suppliers);
}

/** Orders of goods whose value by supplier is known; what is ordered for nothing is an order too. */
export function ordersOfGoods(
  goods: ReadonlyMap<string | null, number>,
  suppliers: readonly Supplier[],
): SupplierOrder[] {
  const ids = [...goods.keys()].sort((x, y) =>
    x === null ? 1 : y === null ? -1 : x < y ? -1 : x > y ? 1 : 0,
  );
  return ids.map((id) => {
    const value = goods.get(id)!;
    const supplier = suppliers.find((candidate) => candidate.id === id);
    const freeOver = supplier?.freeOver;
    const free = !supplier || (freeOver !== undefined && value >= freeOver - CENT_FRACTION);
    const charge = free ? 0 : supplier.delivery;
    return {
      id,
      goods: value,
      delivery: charge,
      freeFrom: charge > 0 && freeOver !== undefined ? freeOver - value : null,
    };
  });
}

/** Money for a whole purchase, delivery included. */
export function totalOf(orders: readonly SupplierOrder[]): number {
  return orders.reduce((sum, order) => sum + order.goods + order.delivery, 0);
}

/** Amounts below this part of a weight are arithmetic. */
const NOTHING = 1e-9;

/**
 * Lines of a purchase.
 * @param usedKg by amendment, in all beds.
 * @param batches how many batches the mix is made in.
 */
export function linesOf(
  amendments: readonly Amendment[],
  bought: Bought,
  usedKg: readonly number[],
  batches: number,
): ShoppingLine[] {
  return amendments.flatMap((amendment, a): ShoppingLine[] => {
    const counts = bought.counts[a]!;
    const bulkKg = bought.bulkKg[a]!;
    const kg = boughtKg(amendment, counts, bulkKg);
    const used = usedKg[a]!;
    if (kg === 0 && used === 0) return [];
    const left = amendment.stockKg + kg - used;
    const leftKg = left <= NOTHING * (amendment.stockKg + kg) ? 0 : left;
    return [
      {
        id: amendment.id,
        name: amendment.name,
        supplier: amendment.supplier ?? null,
        packs: amendment.packs.flatMap((pack, k) =>
          counts[k]! > 0 ? [{ sizeKg: pack.sizeKg, count: counts[k]!, price: pack.price }] : [],
        ),
        bulkKg,
        boughtKg: kg,
        usedKg: used,
        stockKg: amendment.stockKg,
        leftKg,
        leftWorth: leftKg * (cheapestPricePerKg(amendment) ?? 0),
        leftBatches: used > 0 && batches > 0 ? leftKg / (used / batches) : null,
        cost: goodsOf(amendment, counts, bulkKg),
      },
    ];
  });
}
