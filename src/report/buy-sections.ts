/** What to buy: by supplier, with delivery, what is left over, and what comes out of the shed. */
import { plainText } from "../plain-text.ts";
import type { BoughtPack, OfferRange, PurchaseLine, SupplierOrder } from "../results/solution.ts";
import {
  bagWeight,
  counted,
  decimal,
  listed,
  percent,
  pricePerWeight,
  roughWeight,
  type UnitSystem,
  weight,
} from "../words/numbers.ts";
import type { View } from "./answer-view.ts";
import {
  type Block,
  bullets,
  type ColumnOf,
  cell,
  figures,
  paragraph,
  plain,
  type Section,
  section,
  table,
  words,
} from "./report.ts";
import { sum } from "./writer.ts";

/** One thing to put on the cart, or the delivery of an order. */
export interface PaidFor {
  readonly order: SupplierOrder;
  /** Null: delivery. */
  readonly line: PurchaseLine | null;
  /** Null: loose, or delivery. */
  readonly pack: BoughtPack | null;
  readonly kg: number;
  /** Of a pack, or of a kg that is loose. */
  readonly each: number;
  readonly cost: number;
}

/** Packs of one size, loose weight, delivery, by supplier: their costs add up to the total. */
export function paidFor({ solution: { suppliers, purchases } }: View): PaidFor[] {
  const nothing = { line: null, pack: null, kg: 0, each: 0 };
  return suppliers.flatMap((order) => [
    ...purchases.flatMap((line) => itemsOf(order, line)),
    ...(order.delivery > 0 ? [{ ...nothing, order, cost: order.delivery }] : []),
  ]);
}

function itemsOf(order: SupplierOrder, line: PurchaseLine): PaidFor[] {
  const packs = line.packs.toSorted((a, b) => b.sizeKg - a.sizeKg);
  const own = packs
    .filter(({ supplier = line.supplier }) => supplier === order.id)
    .map((pack) => ({
      order,
      line,
      pack,
      kg: pack.sizeKg * pack.count,
      each: pack.price,
      cost: pack.price * pack.count,
    }));
  if (line.bulkKg <= 0 || line.supplier !== order.id) return own;
  const cost = line.cost - sum(packs.map(({ price, count }) => price * count));
  return [...own, { order, line, pack: null, kg: line.bulkKg, each: cost / line.bulkKg, cost }];
}

/** `3 x 50 lb`, `12 lb loose`; nothing for delivery. */
export function packWords({ line, pack, kg }: PaidFor, { solution, weight }: View): string {
  if (!line) return "";
  return pack
    ? `${decimal(pack.count, 0)} x ${bagWeight(pack.sizeKg, solution.units)}`
    : `${weight(kg)} loose`;
}

/**
 * `2 x 50 lb + 12 lb loose`, largest first, or that nothing is bought. A pack of another supplier than the material's own
 * says whose it is.
 */
export function buyWords(
  { packs, bulkKg }: Pick<PurchaseLine, "packs" | "bulkKg">,
  units: UnitSystem,
): string {
  const bags = packs
    .toSorted((a, b) => b.sizeKg - a.sizeKg)
    .map(({ count, sizeKg, supplier }) => {
      const from = supplier === undefined ? "" : ` (${plainText(supplier)})`;
      return `${count} x ${bagWeight(sizeKg, units)}${from}`;
    });
  const loose = bulkKg > 0 ? [`${weight(bulkKg, units)} loose`] : [];
  return bags.length + loose.length > 0 ? [...bags, ...loose].join(" + ") : "nothing";
}

/** How many bags are bought, as words: `5 bags`; of what is sold loose, how many materials. */
export function bagsWords({ solution: { purchases } }: View): string {
  const bags = sum(purchases.flatMap((line) => line.packs.map(({ count }) => count)));
  const loose = purchases.filter((line) => line.bulkKg > 0).length;
  return listed([
    ...(bags > 0 ? [counted(bags, "bag")] : []),
    ...(loose > 0 ? [counted(loose, "loose material")] : []),
  ]);
}

/** Less than this is nothing to speak of. */
const NOTHING_LEFT_KG = 0.02;

/** The table of what to buy; by weight, what each material is worth. */
export function buySections(view: View): Section[] {
  const { solution, money, weight } = view;
  const { by, purchases, cost } = solution;
  const rows = withFree(paidFor(view), view);
  const first = firstOfLine(rows);
  const shed = purchases.filter(({ stockKg }) => stockKg > 0);
  const fromShed = listed(shed.map(({ stockKg, name }) => `${weight(stockKg)} of ${name}`));
  const { units, currency } = solution;
  const named = rows.some(({ order }) => order.id !== null);
  const columns: ColumnOf<PaidFor>[] = [
    plain(words("Bags", "buy", (r) => packWords(r, view))),
    plain(words("Material", "material", (r) => r.line?.name ?? "Delivery")),
    words("From", "supplier", (r) => (named ? (r.order.id ?? "") : null)),
    figures(
      "Each",
      "each",
      (r) => (r.line ? r.each : null),
      (each, { pack }) => (pack ? money(each) : pricePerWeight(each, currency, units)),
    ),
    figures(
      "Price",
      "price",
      (r) => r.cost,
      (cost, { line }) => (cost > 0 || line ? money(cost) : "free"),
    ),
    figures(
      "Left over",
      "left",
      (r) => (r.line && first.get(r.line) === r && by === "purchase" ? leftAfter(r.line, view) : null),
      (kg) => leftWords(kg, units),
    ),
  ];
  return section(
    by === "weight" ? "What it is worth by weight" : "Buy",
    rows.length === 0
      ? paragraph(
          purchases.some((line) => line.usedKg > 0)
            ? "Nothing: the shed holds enough."
            : "Nothing: what feeds the crop already is enough.",
        )
      : table(rows, columns, ["", "Total", "", "", money(cost.total!)].slice(0, 5)),
    paragraph(shed.length === 0 ? "" : `From the shed: ${fromShed}.`),
  );
}

/** The same with the deliveries that are free for so large an order. */
function withFree(rows: readonly PaidFor[], { solution: { by, inputs, suppliers } }: View): PaidFor[] {
  const asked = inputs.plans[0]?.suppliers ?? [];
  // By weight delivery is left out, not free.
  const isFree = ({ id, delivery }: SupplierOrder): boolean =>
    by === "purchase" && delivery === 0 && asked.some((one) => one.id === id && one.freeOver !== undefined);
  return suppliers.flatMap((order) => [
    ...rows.filter((row) => row.order === order),
    ...(isFree(order) ? [{ line: null, pack: null, kg: 0, each: 0, order, cost: 0 }] : []),
  ]);
}

/** What is left of a material is said once, beside the first of its packs. */
function firstOfLine(rows: readonly PaidFor[]): Map<PurchaseLine | null, PaidFor> {
  return new Map(rows.toReversed().flatMap((row) => (row.line ? [[row.line, row] as const] : [])));
}

/** `12 lb`, `none`. */
export const leftWords = (kg: number, units: UnitSystem): string =>
  kg >= NOTHING_LEFT_KG ? roughWeight(kg, units) : "none";

/** What stays in the bags when all batches are weighed, and what is given alone, kg: less than the mix leaves, by rounding. */
export function leftAfter({ id, boughtKg, stockKg }: PurchaseLine, { solution }: View): number {
  const batches = solution.mixes.flatMap(({ batches: { count, weights } }) =>
    weights.filter((weight) => weight.id === id).map(({ kg }) => kg * count),
  );
  const alone = solution.beds.flatMap(({ rounds, bedsAlike }) =>
    rounds.flatMap((round) =>
      round.alone.filter((one) => one.id === id).map(({ weighedKg }) => weighedKg * bedsAlike),
    ),
  );
  return Math.max(0, boughtKg + stockKg - sum([...batches, ...alone]));
}

/** At length: of every material what is bought, used and left, what other packs would change, and several trips. */
export function purchaseSections(view: View): Section[] {
  const { solution, masses, cash } = view;
  const { purchases, by } = solution;
  if (by === "weight" || purchases.length === 0) return [];
  return [
    ...section(
      "What is used and what stays over",
      table(purchases, [
        words("Material", "material", (p) => p.name),
        masses("Bought", "bought", (p) => (p.boughtKg > 0 ? p.boughtKg : null)),
        masses("From the shed", "stock", (p) => (p.stockKg > 0 ? p.stockKg : null)),
        masses("Used", "used", (p) => p.usedKg),
        masses("Left over", "left", (p) => (p.leftKg > 0 ? p.leftKg : null)),
        cash("worth", "worth", (p) => (p.leftKg > 0 ? p.leftWorth : null)),
      ]),
    ),
    ...section(
      "What other bags would change",
      bullets([...fewerWords(view), ...finerWords(view), ...tripWords(view)]),
    ),
    ...section("At which price each bag leaves or enters", offerTable(view)),
  ];
}

/** A need may fall short by so much before leaving out a bag stops being worth a thought. */
const BEARABLE = 0.05;

function fewerWords({ solution, money, name }: View): string[] {
  const fewer = (solution.changes ?? []).filter(({ kind }) => kind === "fewer");
  if (fewer.length === 0) return [];
  const mildest = fewer.reduce((a, b) => (b.shortfall.fraction < a.shortfall.fraction ? b : a));
  const bearable = fewer.find(({ shortfall }) => shortfall.fraction <= BEARABLE);
  const { id, sizeKg, saves, shortfall } = bearable ?? mildest;
  const less = `one ${bagWeight(sizeKg ?? 0, solution.units)} bag of ${name(id)} less saves ${money(saves)}`;
  const short =
    shortfall.nutrient === null
      ? "no need falls short"
      : `${shortfall.nutrient} falls ${percent(shortfall.fraction)} short of its need at worst`;
  return bearable
    ? [`With ${less}, and with the best mix of the rest ${short}.`]
    : [`No bag can be left out: ${less}, but ${short}.`];
}

function finerWords({ solution, money, name }: View): string[] {
  const finer = (solution.changes ?? []).find(({ kind }) => kind === "finer");
  return finer
    ? [
        `The bag size of ${name(finer.id)} costs most: bought by weight at its best price, or shared with a neighbour, the purchase would cost ${money(finer.saves)} less.`,
      ]
    : [];
}

function tripWords({ solution: { trips }, money }: View): string[] {
  if (!trips || trips.atOnce === 0) return [];
  const more = trips.inAll - trips.atOnce;
  return [
    more > 1e-6 * Math.max(1, trips.inAll)
      ? `Bought before each round for that one alone, the same mix costs ${money(trips.inAll)}: ${money(more)} more.`
      : `Bought before each round for that one alone, it costs no more: ${listed(trips.byApplication.map(({ name, total }) => `${money(total)} for ${name}`))}.`,
  ];
}

function offerTable({ solution, money, name }: View): Block {
  const { offers = [], units, currency } = solution;
  const price = (value: number, { sizeKg }: OfferRange) =>
    sizeKg === null ? pricePerWeight(value, currency, units) : money(value);
  return table(offers, [
    words(
      "Offer",
      "offer",
      (o) => `${o.sizeKg === null ? "loose" : bagWeight(o.sizeKg, units)} ${name(o.id)}`,
    ),
    words("From", "supplier", (o) => o.supplier),
    figures("Price", "price", (o) => o.price, price),
    figures(
      "Fewer above",
      "leaves_above",
      (o) => (o.count > 0 ? o.leavesAbove : null),
      price,
      (o) => (o.count > 0 ? cell("at no price", "faint") : null),
    ),
    figures(
      "Worth buying below",
      "enters_below",
      (o) => (o.count > 0 ? null : o.entersBelow),
      price,
      (o) => (o.count > 0 ? null : cell("at no price", "faint")),
    ),
  ]);
}
