/**
 * A purchase of whole packs as it stands on the counter: lines, suppliers, delivery, money, and what is left over.
 * Pure arithmetic on counts; nothing here chooses anything. The JSON of `shop` (schema barrowmix.shopping/1), in SI.
 */
import type { Amendment, Plan, Supplier } from "../model.ts";
import type { Notice } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type {
  Conflict,
  Purchase,
  Solution,
  SolutionAmendment,
  SolutionApplication,
  SolutionNutrient,
  Verification,
} from "../solution.ts";

/** One line of the purchase. A line with nothing to buy is there for what the mix takes out of the shed. */
export interface ShoppingLine extends Purchase {
  readonly name: string;
  /** Null where the amendments file names none. */
  readonly supplier: string | null;
  readonly stockKg: number;
  /** `leftKg` at the cheapest price by weight. */
  readonly leftWorth: number;
  /** How many more batches of this mix `leftKg` is enough for; null where the mix has none of it. */
  readonly leftBatches: number | null;
}

export interface SupplierOrder {
  /** Null: amendments without a supplier. */
  readonly id: string | null;
  readonly goods: number;
  readonly delivery: number;
  /** What more goods would have to be bought for free delivery; null where it is free already or never. */
  readonly freeFrom: number | null;
}

/** The mix of one bed that the packs allow. */
export interface ShoppingMix {
  readonly plan: string;
  readonly amendments: readonly Omit<SolutionAmendment, "cost" | "stockKg">[];
  readonly nutrients: readonly Omit<SolutionNutrient, "shadowPricePerKg">[];
  readonly applications: readonly SolutionApplication[];
  readonly rounding: Solution["rounding"];
}

/** A change of the packs of one amendment, by solving again. */
export interface PackChange {
  readonly id: string;
  /** `fewer`: one pack less. `finer`: the amendment by weight, at its cheapest price by weight. */
  readonly kind: "fewer" | "finer";
  /** Of the pack left out; null for `finer`. */
  readonly sizeKg: number | null;
  /** Money, delivery included. */
  readonly saves: number;
  /** What the best mix then falls short of: the worst need, as a fraction of it; 0 where every need is met. */
  readonly shortfall: { readonly nutrient: string | null; readonly fraction: number };
}

/** Buying for one application at a time, against buying for the season at once. */
export interface TripComparison {
  readonly atOnce: number;
  readonly byApplication: readonly { readonly name: string; readonly total: number }[];
  readonly inAll: number;
}

export interface Shopping {
  readonly schema: "barrowmix.shopping/1";
  /** `stopped`: the best found in time; `gap` says how much cheaper another could be at most. */
  readonly status: "optimal" | "stopped" | "infeasible";
  readonly plan: string;
  /** Every bed that is bought for. */
  readonly plans: readonly string[];
  /** Bought for this application alone; null: the whole season. */
  readonly application: string | null;
  readonly currency: string;
  readonly units: "us" | "metric";
  readonly purchases: readonly ShoppingLine[];
  readonly suppliers: readonly SupplierOrder[];
  readonly goods: number;
  readonly delivery: number;
  readonly total: number;
  readonly gap: number;
  readonly verification: Verification;
  /** What the least-cost mix costs where everything is sold by weight, without delivery. */
  readonly byWeight: number;
  /** Goods, less `byWeight`. */
  readonly wholePacksCost: number;
  readonly budget: number | null;
  /** Batches of the mix that the leftovers alone are enough for. */
  readonly moreBatches: number;
  /** Largest saving first. */
  readonly changes: readonly PackChange[];
  readonly trips: TripComparison | null;
  readonly mix: ShoppingMix | null;
  /** The mixes of the further beds. */
  readonly also: readonly ShoppingMix[];
  readonly conflicts: readonly Conflict[];
  readonly cautions: readonly Notice[];
  readonly warnings: readonly Notice[];
  readonly inputs: readonly Plan[];
}

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
