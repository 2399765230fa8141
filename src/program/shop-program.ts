/**
 * Whole packs and the mix in one integer program: how many packs of each size to buy, how much to buy loose, from
 * which suppliers to order, and how much of each amendment goes into each blend of every bed that is served.
 */
import {
  type Amendment,
  chargesDelivery,
  type Kg,
  type Pack,
  type Plan,
  type Share,
  type Supplier,
} from "../model.ts";
import { Draft, type Entry, other } from "../solver/program.ts";
import type { BlendProgram } from "./build.ts";
import { addSimple, type Reach } from "./simple.ts";
import type { ColumnTag, PlanProgram, RowTag } from "./tags.ts";

/** A plan with its continuous program. */
export interface Bed {
  readonly plan: Plan;
  readonly program: BlendProgram;
  /** Where the plan asks for few amendments that can be weighed: how far its amounts can go. */
  readonly reach?: Reach;
}

/** What may be left over of an amendment that is bought: a weight, or a share of what is bought. */
export type MostLeft = { readonly kg: Kg } | { readonly share: Share };

export interface ShopDemands {
  /** Money that may be spent at most, delivery included. */
  readonly budget?: number;
  readonly mostLeft?: MostLeft;
  /** The amendments at the prices at which goods count towards free delivery; absent: those that are paid. */
  readonly valued?: readonly Amendment[];
  /** Needed beside what the beds use, kg by amendment of the merged list. */
  readonly fixedKg?: readonly number[];
  /** Bounds on what all beds together use of an amendment. */
  readonly heap?: readonly { readonly id: string; readonly minKg?: number; readonly maxKg?: number }[];
}

export interface ShopProgram extends PlanProgram {
  /** `use[bed][a][blend]`: column, with `a` an index into that bed's plan.amendments. */
  readonly use: readonly (readonly (readonly number[])[])[];
  /** By bed: where each column of its own program is, but those of what is bought. */
  readonly columnOf: readonly ReadonlyMap<number, number>[];
  /** `packs[a][k]`: column of the count of that size, of the amendments the program was built for. */
  readonly packs: readonly (readonly number[])[];
  /** Column of the kg bought loose; null where it is not sold so. */
  readonly bulk: readonly (number | null)[];
  /** By amendment: kg that no purchase worth looking at uses more of. */
  readonly mostKg: readonly number[];
  /** By supplier that charges. */
  readonly delivery: readonly DeliveryColumns[];
  /** Costs that choose among purchases of equal money: the weight bought (so that less is left over), then packs. */
  readonly tieBreaks: readonly (readonly number[])[];
}

/** Columns of a supplier that charges for delivery. */
interface DeliveryColumns {
  /** It delivers for its fixed charge. */
  readonly paid: number;
  /** It delivers for nothing; null where never. */
  readonly free: number | null;
  /** Money by weight and by value; null where it asks none. */
  readonly carriage: number | null;
  /** The step by weight that the order is in, one column each. */
  readonly steps: readonly number[];
}

/** Who sells a pack; null where nobody is named. */
export function supplierOf(amendment: Amendment, pack?: Pack): string | null {
  return pack?.supplier ?? amendment.supplier ?? null;
}

/** What several plans have in common: each thing once, by id, and the ids that do not mean the same in all of them. */
interface Merged<T> {
  readonly all: readonly T[];
  readonly differing: readonly string[];
}

function merged<T extends { readonly id: string }>(
  items: readonly T[],
  meaning: (item: T) => string,
): Merged<T> {
  const byId = new Map<string, T>();
  const differing = new Set<string>();
  for (const item of items) {
    const known = byId.get(item.id);
    if (!known) byId.set(item.id, item);
    else if (meaning(known) !== meaning(item)) differing.add(item.id);
  }
  const all = [...byId.values()].sort((a, b) => (a.id < b.id ? -1 : 1));
  return { all, differing: [...differing].sort() };
}

/** The amendments of several plans. */
export function mergeAmendments(plans: readonly Plan[]): Merged<Amendment> {
  return merged(
    plans.flatMap(({ amendments }) => amendments),
    offer,
  );
}

/** The suppliers of several plans. */
export function mergeSuppliers(plans: readonly Plan[]): Merged<Supplier> {
  return merged(
    plans.flatMap(({ suppliers }) => suppliers),
    charges,
  );
}

function offer({ packs, bulkPricePerKg, stockKg, supplier }: Amendment): string {
  return JSON.stringify([packs, bulkPricePerKg ?? null, stockKg, supplier ?? null]);
}

function charges({ delivery, freeOver, perKg, percent, steps }: Supplier): string {
  return JSON.stringify([
    delivery,
    freeOver ?? null,
    perKg ?? 0,
    percent ?? 0,
    (steps ?? []).map(({ upToKg, price }) => [upToKg ?? null, price]),
  ]);
}

/**
 * Builds the program.
 * @param amendments everything that may be bought, by id: what `mergeAmendments` gives of the beds' plans.
 * @param mostSpent what some purchase that will do costs: nothing dearer needs to be considered.
 * @param most by amendment, kg that no purchase worth looking at uses more of: in one blend, and in all.
 */
export function buildShopProgram(
  beds: readonly Bed[],
  amendments: readonly Amendment[],
  suppliers: readonly Supplier[],
  demands: ShopDemands,
  mostSpent: number,
  most: readonly { readonly oneBlendKg: number; readonly inAllKg: number }[],
): ShopProgram {
  const draft = new Draft<RowTag, ColumnTag>();
  const place = new Map(amendments.map((amendment, a) => [amendment.id, a]));
  const columnOf: Map<number, number>[] = [];
  const use = beds.map(({ plan, program, reach }) => {
    const moved = new Map<number, number>();
    columnOf.push(moved);
    const own = program.use.map((columns, a) =>
      columns.map((j) => {
        const upper = most[place.get(plan.amendments[a]!.id)!]!.oneBlendKg;
        moved.set(j, draft.columns.length);
        return draft.columns.push({ tag: program.columns[j]!.tag, cost: 0, upper }) - 1;
      }),
    );
    program.columns.forEach((column, j) => {
      if (column.tag.kind === "other") moved.set(j, draft.columns.push(column) - 1);
    });
    for (const row of program.rows) {
      if (row.tag.kind === "stock") continue;
      draft.rows.push({ ...row, index: row.index.map((j) => moved.get(j)!) });
    }
    if (reach && plan.simple) addSimple(draft, plan, own, program.blends, reach);
    return own;
  });
  const charged = suppliers.filter(chargesDelivery);
  const thresholdOf = (amendment: Amendment, pack: Pack): number =>
    charged.find(({ id }) => id === supplierOf(amendment, pack))?.freeOver ?? 0;
  const packs = amendments.map((amendment, a) =>
    amendment.packs.map((pack, k) => {
      const forUse = Math.max(0, Math.ceil((most[a]!.inAllKg - amendment.stockKg) / pack.sizeKg - 1e-9));
      // More than the beds can use is only ever bought to pass the value from which delivery is free.
      const forValue = pack.price > 0 ? Math.ceil(thresholdOf(amendment, pack) / pack.price) : 0;
      const byMoney = pack.price > 0 ? Math.floor(mostSpent / pack.price + 1e-9) : Infinity;
      const upper = Math.min(forUse + forValue, byMoney);
      return draft.column(`packs ${amendment.id} ${k}`, pack.price, upper, true);
    }),
  );
  const bulk = amendments.map((amendment, a) =>
    amendment.bulkPricePerKg === undefined
      ? null
      : draft.column(
          `loose ${amendment.id}`,
          amendment.bulkPricePerKg,
          amendment.bulkPricePerKg > 0 ? mostSpent / amendment.bulkPricePerKg : most[a]!.inAllKg,
        ),
  );
  const delivery = charged.map((supplier) => addDelivery(draft, supplier, mostSpent));
  const usedOf = (id: string): Entry[] =>
    beds.flatMap(({ plan }, p) =>
      plan.amendments.flatMap((amendment, a) =>
        amendment.id === id ? use[p]![a]!.map((j): Entry => [j, 1]) : [],
      ),
    );
  const boughtOf = (a: number): Entry[] => {
    const entries = amendments[a]!.packs.map((pack, k): Entry => [packs[a]![k]!, pack.sizeKg]);
    const loose = bulk[a] ?? null;
    if (loose !== null) entries.push([loose, 1]);
    return entries;
  };
  amendments.forEach((amendment, a) => {
    const entries = [...usedOf(amendment.id), ...boughtOf(a).map(([j, v]): Entry => [j, -v])];
    const free = amendment.stockKg - (demands.fixedKg?.[a] ?? 0);
    draft.row({ kind: "stock", id: amendment.id }, entries, { upper: free, fact: true });
  });
  for (const { id, minKg = 0, maxKg = Infinity } of demands.heap ?? [])
    draft.row({ kind: minKg > 0 ? "amount-min" : "amount-max", id, application: null }, usedOf(id), {
      lower: minKg > 0 ? minKg : -Infinity,
      upper: maxKg,
    });
  charged.forEach((supplier, s) => {
    const goods = goodsFrom(supplier.id, amendments, packs, bulk);
    const valued = demands.valued ? goodsFrom(supplier.id, demands.valued, packs, bulk) : goods;
    addOrder(draft, supplier, delivery[s]!, goods, valued, mostSpent);
  });
  if (demands.mostLeft) addMostLeft(draft, amendments, demands.mostLeft, usedOf, boughtOf, demands.fixedKg);
  if (demands.budget !== undefined) {
    const entries = draft.columns.map((column, j): Entry => [j, column.cost]);
    draft.row(other("the budget"), entries, { upper: demands.budget });
  }
  const weights = draft.columns.map(() => 0);
  const counts = draft.columns.map(() => 0);
  amendments.forEach((_, a) => {
    for (const [j, v] of boughtOf(a)) weights[j] = v;
    for (const j of packs[a]!) counts[j] = 1;
  });
  return {
    columns: draft.columns,
    rows: draft.rows,
    use,
    columnOf,
    packs,
    bulk,
    mostKg: most.map(({ inAllKg }) => inAllKg),
    delivery,
    tieBreaks: [weights, counts],
  };
}

/** A column of goods, with what one unit of it costs and weighs. */
interface Goods {
  readonly column: number;
  readonly price: number;
  readonly kg: number;
}

/** Everything that one supplier sells. */
function goodsFrom(
  id: string,
  amendments: readonly Amendment[],
  packs: readonly (readonly number[])[],
  bulk: readonly (number | null)[],
): Goods[] {
  return amendments.flatMap((amendment, a) => {
    const goods = amendment.packs.flatMap((pack, k): Goods[] =>
      supplierOf(amendment, pack) === id
        ? [{ column: packs[a]![k]!, price: pack.price, kg: pack.sizeKg }]
        : [],
    );
    const loose = bulk[a] ?? null;
    if (loose !== null && supplierOf(amendment) === id)
      goods.push({ column: loose, price: amendment.bulkPricePerKg!, kg: 1 });
    return goods;
  });
}

/** The columns of one supplier's charges. */
function addDelivery(
  draft: Draft<RowTag, ColumnTag>,
  { id, delivery, freeOver, perKg = 0, percent = 0, steps = [] }: Supplier,
  mostSpent: number,
): DeliveryColumns {
  return {
    paid: draft.column(`delivery ${id}`, delivery, 1, true),
    free: freeOver === undefined ? null : draft.column(`free delivery ${id}`, 0, 1, true),
    carriage: perKg > 0 || percent > 0 ? draft.column(`carriage ${id}`, 1, mostSpent) : null,
    steps: steps.map(({ price }, i) => draft.column(`delivery step ${id} ${i}`, price, 1, true)),
  };
}

/** Room for the rounding of packs that fill a step of delivery to the pound. */
const STEP_SLACK = 1e-9;

/** What an order from one supplier costs beside its goods. */
function addOrder(
  draft: Draft<RowTag, ColumnTag>,
  { id, freeOver, perKg = 0, percent = 0, steps = [] }: Supplier,
  { paid, free, carriage, steps: stepColumns }: DeliveryColumns,
  goods: readonly Goods[],
  valued: readonly Goods[],
  mostSpent: number,
): void {
  const order = other(`an order from ${id}`);
  const orders = free === null ? [paid] : [paid, free];
  const values = goods.map(({ column, price }): Entry => [column, price]);
  const mostOf = ({ column }: Goods): number => draft.columns[column]!.upper;
  for (const one of goods) {
    if (one.price !== 0) continue;
    draft.row(order, [[one.column, 1], ...orders.map((i): Entry => [i, -mostOf(one)])], { upper: 0 });
  }
  draft.row(order, [...values, ...orders.map((i): Entry => [i, -mostSpent])], { upper: 0 });
  if (free !== null)
    draft.row(
      other(`free delivery from ${id}`),
      [...valued.map(({ column, price }): Entry => [column, price]), [free, -freeOver!]],
      { lower: 0 },
    );
  const mostKg = goods.reduce((sum, one) => sum + one.kg * mostOf(one), 0);
  if (carriage !== null) {
    const rates = goods.map(({ column, price, kg }): Entry => [column, -(perKg * kg + percent * price)]);
    const waived: Entry[] = free === null ? [] : [[free, perKg * mostKg + percent * mostSpent]];
    draft.row(order, [[carriage, 1], ...rates, ...waived], { lower: 0 });
  }
  if (steps.length === 0) return;
  // The charge falls away where delivery is free; an order that is too heavy is refused all the same.
  const reach = steps.map(({ upToKg }) =>
    upToKg === undefined ? mostKg : Math.min(mostKg, upToKg * (1 + STEP_SLACK)),
  );
  const within = stepColumns.map((column, i): Entry => [column, -reach[i]!]);
  if (free !== null) within.push([free, -reach.at(-1)!]);
  draft.row(order, [...goods.map(({ column, kg }): Entry => [column, kg]), ...within], { upper: 0 });
  const one = [...stepColumns, ...(free === null ? [] : [free])];
  draft.row(
    order,
    one.map((column): Entry => [column, 1]),
    { upper: 1 },
  );
}

/** Of what is bought, no more than a given weight or share stays over; stock is used first. */
function addMostLeft(
  draft: Draft<RowTag, ColumnTag>,
  amendments: readonly Amendment[],
  most: MostLeft,
  usedOf: (id: string) => Entry[],
  boughtOf: (a: number) => Entry[],
  fixedKg: readonly number[] | undefined,
): void {
  amendments.forEach((amendment, a) => {
    const bought = boughtOf(a);
    if (bought.length === 0) return;
    const used = usedOf(amendment.id).map(([j, v]): Entry => [j, -v]);
    const tag = other(`what may be left of ${amendment.id}`);
    const [share, kg] = "kg" in most ? [0, most.kg] : [most.share, 0];
    const entries = [...bought.map(([j, v]): Entry => [j, v * (1 - share)]), ...used];
    const stock = amendment.stockKg - (fixedKg?.[a] ?? 0);
    if (stock <= kg) {
      draft.row(tag, entries, { upper: kg - stock });
      return;
    }
    // With stock, the row only counts where any is bought.
    const buys = draft.column(`buys ${amendment.id}`, 0, 1, true);
    const largest = bought.reduce((sum, [j, v]) => sum + v * draft.columns[j]!.upper, 0);
    draft.row(tag, [...bought, [buys, -largest]], { upper: 0 });
    draft.row(tag, [...entries, [buys, stock - kg]], { upper: 0 });
  });
}
