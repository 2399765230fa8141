/**
 * A purchase as a report: what to buy where, what it costs beyond the weight that is used, what is left over, and the
 * mix that the packs allow; and as a plain list, one item a line, to take along.
 */
import { chargesDelivery } from "../model.ts";
import { plainText } from "../plain-text.ts";
import type { PackChange, Shopping, ShoppingLine, ShoppingMix, SupplierOrder } from "../results/shopping.ts";
import {
  bagWeight,
  capital,
  counted,
  decimal,
  howMany,
  listed,
  percent,
  pricePerWeight,
} from "../words/numbers.ts";
import { batchSection, heaviestFirst } from "./batch-tables.ts";
import { cautionSections } from "./caution-sections.ts";
import { answerTable, conflictTable } from "./outcome-table.ts";
import { purchaseProof } from "./purchase-sections.ts";
import {
  type Block,
  blocksOf,
  bullets,
  type ColumnOf,
  type Extent,
  extentOf,
  figures,
  type Level,
  type Levelled,
  type LongReport,
  paragraph,
  type Report,
  type Section,
  section,
  table,
  words,
} from "./report.ts";
import { shopSureLine, shopSureSections } from "./sure-sections.ts";
import { sum, type Writer, writerOf } from "./writer.ts";

/** Below this part of a sum of money a difference is arithmetic. */
const NOTHING = 1e-6;
/** A need may fall short by so much before leaving out a pack stops being worth a thought. */
const BEARABLE = 0.05;

/** A purchase with the writers of its units and currency. */
interface View extends Writer {
  readonly shopping: Shopping;
}

/** The sections of a purchase, in the order of reading. One of yours is a line here. */
const PARTS: readonly (readonly [Level, (view: View) => Section[]])[] = [
  ["essential", orderSections],
  ["essential", shedSection],
  ["more", leftSection],
  ["more", costSection],
  ["more", tripSection],
  ["more", ({ shopping }) => shopSureSections(shopping)],
  ["more", mixSections],
  ["essential", weighSections],
];

/** The report of a purchase. */
export function shopReport(shopping: Shopping, extent: Extent = "whole"): Report {
  const view: View = { ...writerOf(shopping), shopping };
  const { status, application, conflicts, cautions, warnings } = shopping;
  const title = shopping.plans.join(" and ");
  const watch = cautionSections(cautions, warnings);
  const columns = shopColumns(view);
  const report: LongReport =
    status === "infeasible"
      ? {
          title,
          summary: [paragraph("There is no purchase that does what the plan asks.", "bad")],
          sections: [["essential", conflictSection(shopping)], ...watch],
          rest: "cautions and warnings with their codes",
          csv: conflictTable(columns, conflicts),
        }
      : {
          title: `To buy for ${title}${application === null ? "" : `: ${application}`}`,
          summary: [...headline(view), ...shopSureLine(shopping)],
          sections: [...PARTS.map(([level, part]): Levelled => [level, part(view)]), ...watch],
          rest: "what the leftovers are worth, other packs, the mix by weight",
          csv: answerTable(paidFor(shopping), columns, status),
        };
  return extentOf(report, extent);
}

function conflictSection({ conflicts }: Shopping): Section[] {
  return section(
    "What cannot hold together",
    conflicts.flatMap(({ text, demands }) => [
      paragraph(text),
      ...(demands.length > 1 ? [bullets(demands)] : []),
    ]),
  );
}

/** Why a purchase is empty. */
function whyNothing(purchases: readonly ShoppingLine[]): string {
  return purchases.some((line) => line.usedKg > 0)
    ? "the shed holds enough"
    : "what feeds the crop already is enough";
}

function headline({ shopping, money }: View): Block[] {
  const { purchases, application, inputs, total, goods, delivery, gap, byWeight, wholePacksCost } = shopping;
  const packs = sum(purchases.flatMap((line) => line.packs.map(({ count }) => count)));
  const loose = purchases.filter((line) => line.bulkKg > 0).length;
  if (packs + loose === 0)
    return [paragraph(`Nothing needs to be bought: ${whyNothing(purchases)}.`, "strong")];
  const what = listed([
    ...(packs > 0 ? [counted(packs, "pack")] : []),
    ...(loose > 0 ? [counted(loose, "loose amendment")] : []),
  ]);
  // A purchase that was found has all of its sums.
  const parts = delivery! > 0 ? `: ${money(goods!)} of goods and ${money(delivery!)} for delivery` : "";
  const weighed =
    application === null
      ? "Sold by weight, the least-cost mix would be"
      : `By weight, what ${application} takes would be`;
  return blocksOf(
    paragraph(`Buy ${what} for ${money(total!)} in all${parts}.`, "strong"),
    paragraph(
      wholePacksCost! > NOTHING * Math.max(1, goods!)
        ? `${weighed} ${money(byWeight!)}; whole packs add ${money(wholePacksCost!)} to that.`
        : "",
    ),
    paragraph(`Verified: every need holds; ${purchaseProof(gap!, inputs)}.`, "good"),
  );
}

/** One thing to put on the cart. */
interface Item {
  readonly line: ShoppingLine;
  /** Null: loose. */
  readonly sizeKg: number | null;
  readonly count: number;
  readonly kg: number;
  /** Of a pack, or of a kg that is loose. */
  readonly each: number;
  readonly cost: number;
  readonly supplier: string | null;
}

function itemsOf(line: ShoppingLine): Item[] {
  const packs = line.packs.map(({ sizeKg, count, price, supplier = line.supplier }) => ({
    line,
    sizeKg,
    count,
    kg: sizeKg * count,
    each: price,
    cost: price * count,
    supplier,
  }));
  if (line.bulkKg <= 0) return packs;
  const { bulkKg: kg, supplier } = line;
  const cost = line.cost - sum(packs.map((item) => item.cost));
  return [...packs, { line, sizeKg: null, count: 0, kg, each: cost / kg, cost, supplier }];
}

function itemsFrom({ purchases }: Shopping, id: string | null): Item[] {
  return purchases.flatMap(itemsOf).filter((item) => item.supplier === id);
}

function packWords({ sizeKg, count, kg }: Item, { shopping, weight }: View): string {
  return sizeKg === null
    ? `${weight(kg)} loose`
    : `${decimal(count, 0)} x ${bagWeight(sizeKg, shopping.units)}`;
}

function orderSections(view: View): Section[] {
  const { shopping, money, masses, cash } = view;
  const { units, currency, suppliers } = shopping;
  const all = suppliers.map((order) => itemsFrom(shopping, order.id));
  const first = new Map(
    all
      .flat()
      .toReversed()
      .map((item) => [item.line, item]),
  );
  return suppliers.flatMap((order, k) =>
    section(
      order.id === null ? "Where no supplier is named" : `From ${order.id}`,
      table(
        all[k]!,
        [
          words("Buy", "buy", (item) => packWords(item, view)),
          words("Amendment", "amendment", (item) => item.line.name),
          figures(
            "Each",
            "each",
            (item) => item.each,
            (each, { sizeKg }) => (sizeKg === null ? pricePerWeight(each, currency, units) : money(each)),
          ),
          cash("Price", "price", (item) => item.cost),
          // What is left of an amendment is said once, beside the first of its packs.
          masses("Left over", "left", (item) =>
            first.get(item.line) === item && item.line.leftKg > 0 ? item.line.leftKg : null,
          ),
        ],
        all[k]!.length > 1 ? ["Goods", "", "", money(order.goods)] : undefined,
      ),
      paragraph(deliveryWords(order, view)),
    ),
  );
}

function deliveryWords({ id, goods, delivery, freeFrom }: SupplierOrder, { shopping, money }: View): string {
  const charges = shopping.inputs.some((plan) =>
    plan.suppliers.some((supplier) => supplier.id === id && chargesDelivery(supplier)),
  );
  if (!charges) return "";
  if (delivery === 0) return "Delivery is free for this order.";
  const free = freeFrom === null ? "" : ` (free from ${money(goods + freeFrom)} of goods)`;
  return `Delivery: ${money(delivery)}${free}. With delivery ${money(goods + delivery)}.`;
}

function shedSection({ shopping, weight }: View): Section[] {
  const parts = shopping.purchases
    .map(({ name, stockKg, usedKg }) => ({ name, stockKg, takenKg: Math.min(stockKg, usedKg) }))
    .filter(({ takenKg }) => takenKg > 0)
    .map(({ name, stockKg, takenKg }) => `${weight(takenKg)} of ${name} (of ${weight(stockKg)} there)`);
  return section("From the shed", paragraph(parts.length === 0 ? "" : `${listed(parts)}.`));
}

function leftSection({ shopping, masses, cash }: View): Section[] {
  const { purchases, moreBatches, application } = shopping;
  const left = purchases.filter((line) => line.leftKg > 0);
  if (left.length === 0)
    return section(
      "What is left over",
      paragraph(purchases.length === 0 ? "" : "Nothing: every pack is used up."),
    );
  return section(
    application === null ? "What is left over" : "What is left for later",
    table(left, [
      words("Amendment", "amendment", (line) => line.name),
      masses("Left", "left", (line) => line.leftKg),
      cash("Worth", "worth", (line) => line.leftWorth),
      figures("More batches it makes", "more_batches", (line) => line.leftBatches, howMany),
    ]),
    paragraph(
      moreBatches >= 1
        ? `Together the leftovers make ${counted(moreBatches, "more batch", "more batches")} of this mix.`
        : "Together they are not enough for another whole batch: one of the amendments runs out first.",
    ),
  );
}

function costSection(view: View): Section[] {
  return section("What other packs would change", bullets([fewerWords(view), finerWords(view)]));
}

function nameOf({ purchases }: Shopping, id: string): string {
  return purchases.find((line) => line.id === id)?.name ?? id;
}

function fewerWords({ shopping, money }: View): string {
  const fewer = shopping.changes.filter((change) => change.kind === "fewer");
  if (fewer.length === 0) return "";
  const less = ({ id, sizeKg, saves }: PackChange) =>
    `one ${bagWeight(sizeKg ?? 0, shopping.units)} pack of ${nameOf(shopping, id)} less saves ${money(saves)}`;
  const shortOf = ({ shortfall: { nutrient, fraction } }: PackChange) =>
    nutrient === null
      ? "no need falls short"
      : `${nutrient} falls ${percent(fraction)} short of its need at worst`;
  const bearable = fewer.find(({ shortfall }) => shortfall.fraction <= BEARABLE);
  if (bearable) return `${capital(less(bearable))}; with the best mix of the rest, ${shortOf(bearable)}.`;
  const mildest = fewer.reduce((a, b) => (b.shortfall.fraction < a.shortfall.fraction ? b : a));
  return `No pack can be left out without a need falling short by more than ${percent(BEARABLE)}. The mildest: ${less(mildest)}, and ${shortOf(mildest)}.`;
}

function finerWords({ shopping, money }: View): string {
  const finer = shopping.changes.find((change) => change.kind === "finer");
  return finer
    ? `The pack size of ${nameOf(shopping, finer.id)} costs most: bought by weight at its best price, or shared with a neighbour, the purchase would cost ${money(finer.saves)} less.`
    : "";
}

function tripSection({ shopping: { trips, application }, money, cash }: View): Section[] {
  if (!trips || trips.atOnce === 0) return [];
  const { atOnce, inAll, byApplication } = trips;
  const more = inAll - atOnce;
  const dearer = more > NOTHING * Math.max(1, inAll);
  if (application === null)
    return section(
      "One application at a time",
      paragraph(
        `Bought before each application for that one alone, leftovers carried along, the same mix costs ${
          dearer
            ? `${money(inAll)}: ${money(more)} more`
            : `no more: ${listed(byApplication.map(({ name, total }) => `${money(total)} for ${name}`))}`
        }.`,
      ),
    );
  return section(
    "One application at a time, leftovers carried along",
    table(
      byApplication,
      [words("Before", "application", (trip) => trip.name), cash("Buy for", "price", (trip) => trip.total)],
      ["In all", money(inAll)],
    ),
    paragraph(
      dearer
        ? `Everything at once costs ${money(atOnce)}: ${money(more)} less than one application at a time.`
        : "Everything at once costs the same.",
    ),
  );
}

/** The mixes of a purchase: of its plan and of those bought for beside it. */
function mixesOf({ mix, also }: Shopping): ShoppingMix[] {
  return [...(mix ? [mix] : []), ...also].filter(({ applications }) =>
    applications.some(({ batches }) => batches.count > 0),
  );
}

function mixTitle({ also }: Shopping, { plan }: ShoppingMix, title: string): string {
  return also.length > 0 ? `${plan}: ${title}` : title;
}

function mixSections({ shopping, masses }: View): Section[] {
  return mixesOf(shopping).flatMap((mix) =>
    section(
      mixTitle(shopping, mix, "The mix on these packs"),
      table(heaviestFirst(mix.amendments), [
        words("Amendment", "amendment", (a) => a.name),
        masses("Weight", "weight", (a) => a.kg),
        figures("Share", "share", (a) => a.share, percent),
      ]),
      paragraph(needWords(mix)),
    ),
  );
}

function weighSections({ shopping }: View): Section[] {
  const { units, inputs } = shopping;
  return mixesOf(shopping).flatMap((mix) =>
    batchSection(mixTitle(shopping, mix, "What to weigh into each batch"), mix, { ...inputs[0]!, units }),
  );
}

function needWords({ nutrients, rounding: { worstShortfall } }: ShoppingMix): string {
  const needed = nutrients
    .filter((n) => n.minKg > 0)
    .map(({ nutrient, countedKg, minKg }) => ({ nutrient, over: countedKg / minKg - 1 }));
  if (needed.length === 0) return "";
  const most = needed.reduce((a, b) => (b.over > a.over ? b : a));
  const surplus =
    most.over > 0.005 ? ` Most above its need: ${most.nutrient}, by ${percent(most.over)}.` : "";
  const missed =
    worstShortfall.nutrient === null
      ? ""
      : ` Rounded to the scale, ${worstShortfall.nutrient} misses its need by ${percent(worstShortfall.fraction)} at worst.`;
  return `It meets the need of ${listed(needed.map((n) => n.nutrient))}, on every day that is checked.${surplus}${missed}`;
}

/** Something paid for: an item, or the delivery of an order. */
interface PaidFor {
  readonly order: SupplierOrder;
  readonly item: Item | null;
}

/** Packs of one size, loose weight, delivery: their costs add up to the total. */
function paidFor(shopping: Shopping): PaidFor[] {
  return shopping.suppliers.flatMap((order) => [
    ...itemsFrom(shopping, order.id).map((item) => ({ order, item })),
    ...(order.delivery > 0 ? [{ order, item: null }] : []),
  ]);
}

/** The columns of CSV. Names, which may hold commas, are last, so that tools that know no quotes keep the columns. */
function shopColumns({ masses, cash }: View): ColumnOf<PaidFor>[] {
  const packOf = ({ item }: PaidFor) => (item?.sizeKg == null ? null : item);
  return [
    words("Supplier", "supplier", (r) => r.order.id ?? ""),
    words("What", "what", ({ item }) =>
      item === null ? "delivery" : item.sizeKg === null ? "loose" : "pack",
    ),
    words("Id", "id", (r) => r.item?.line.id ?? "delivery"),
    figures("Count", "count", (r) => packOf(r)?.count ?? null),
    masses("Size", "size", (r) => packOf(r)?.sizeKg ?? null),
    masses("Weight", "weight", (r) => r.item?.kg ?? null),
    cash("Each", "price_each", (r) => packOf(r)?.each ?? null),
    cash("Cost", "cost", (r) => r.item?.cost ?? r.order.delivery),
    words("Amendment", "amendment", (r) => r.item?.line.name ?? "Delivery"),
  ];
}

/** The purchase as plain lines, one item each, to take along on a phone or on paper. */
export function shopList(shopping: Shopping): string {
  const { status, conflicts, suppliers, purchases, total } = shopping;
  const view: View = { ...writerOf(shopping), shopping };
  const { money } = view;
  const items = paidFor(shopping).map(({ order: { id, delivery }, item }) => {
    const what = item ? `${packWords(item, view)} ${item.line.name}` : "delivery";
    const named = suppliers.length > 1 || id !== null ? ` (${id ?? "no supplier named"})` : "";
    return `[ ] ${what}, ${money(item?.cost ?? delivery)}${named}`;
  });
  const lines =
    status === "infeasible"
      ? conflicts.map(({ text }) => text)
      : items.length === 0
        ? [`Nothing to buy: ${whyNothing(purchases)}.`]
        : [...items, `In all ${money(total!)}`];
  return lines.map((line) => `${plainText(line)}\n`).join("");
}
