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
  csvWeight,
  decimal,
  howMany,
  listed,
  money,
  percent,
  pricePerWeight,
  weight,
} from "../words/numbers.ts";
import { batchBlocks } from "./batch-tables.ts";
import { cautionSections } from "./caution-sections.ts";
import { answerTable, conflictTable } from "./outcome-table.ts";
import { purchaseProof } from "./purchase-sections.ts";
import {
  type Block,
  bullets,
  type ColumnOf,
  cash,
  cell,
  type Extent,
  extentOf,
  figures,
  type Level,
  type LongReport,
  levelled,
  numberCell,
  paragraph,
  type Report,
  type Section,
  type Table,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { shopSureLine, shopSureSections } from "./sure-sections.ts";

/** Below this part of a sum of money a difference is arithmetic. */
const NOTHING = 1e-6;
/** A need may fall short by so much before leaving out a pack stops being worth a thought. */
const BEARABLE = 0.05;

/** The sections of a purchase, in the order of reading. One of yours is a line here. */
const PARTS: readonly (readonly [Level, (shopping: Shopping) => Section[]])[] = [
  ["essential", orderSections],
  ["essential", shedSection],
  ["more", leftSection],
  ["more", costSection],
  ["more", tripSection],
  ["more", shopSureSections],
  ["more", mixSections],
  ["essential", weighSections],
];

/** The report of a purchase. */
export function shopReport(shopping: Shopping, extent: Extent = "whole"): Report {
  return extentOf(longReport(shopping), extent);
}

function longReport(shopping: Shopping): LongReport {
  const title = shopping.plans.join(" and ");
  if (shopping.status === "infeasible") return infeasibleReport(shopping, title);
  return {
    title: `To buy for ${title}${shopping.application === null ? "" : `: ${shopping.application}`}`,
    summary: [...headline(shopping), ...shopSureLine(shopping)],
    sections: [
      ...PARTS.flatMap(([level, part]) => levelled(level, part(shopping))),
      ...cautionSections(shopping.cautions, shopping.warnings),
    ],
    rest: "what the leftovers are worth, other packs, the mix by weight",
    csv: shopCsv(shopping),
  };
}

function infeasibleReport(shopping: Shopping, title: string): LongReport {
  return {
    title,
    summary: [paragraph("There is no purchase that does what the plan asks.", "bad")],
    sections: [
      {
        level: "essential",
        title: "What cannot hold together",
        blocks: shopping.conflicts.flatMap(({ text, demands }) => [
          paragraph(text),
          ...(demands.length > 1 ? [bullets(demands)] : []),
        ]),
      },
      ...cautionSections(shopping.cautions, shopping.warnings),
    ],
    rest: "cautions and warnings with their codes",
    csv: conflictTable(shopColumns(shopping), shopping.conflicts),
  };
}

function packsIn(lines: readonly ShoppingLine[]): number {
  return lines.reduce((sum, line) => sum + line.packs.reduce((n, pack) => n + pack.count, 0), 0);
}

function isBought(line: ShoppingLine): boolean {
  return line.packs.length > 0 || line.bulkKg > 0;
}

/** Why a purchase is empty. */
function whyNothing(purchases: readonly ShoppingLine[]): string {
  return purchases.some((line) => line.usedKg > 0)
    ? "the shed holds enough"
    : "what feeds the crop already is enough";
}

type Sum = "goods" | "delivery" | "total" | "gap" | "byWeight" | "wholePacksCost";

/** A purchase that was found: all of its sums are there. */
function sumsOf(shopping: Shopping): Shopping & Readonly<Record<Sum, number>> {
  const { goods, delivery, total, gap, byWeight, wholePacksCost } = shopping;
  const sums = { goods, delivery, total, gap, byWeight, wholePacksCost };
  const known = (name: Sum): number => sums[name] ?? Number.NaN;
  return {
    ...shopping,
    goods: known("goods"),
    delivery: known("delivery"),
    total: known("total"),
    gap: known("gap"),
    byWeight: known("byWeight"),
    wholePacksCost: known("wholePacksCost"),
  };
}

function headline(shopping: Shopping): Block[] {
  const { purchases, currency, total, goods, delivery, gap, byWeight, wholePacksCost } = sumsOf(shopping);
  const asMoney = (amount: number) => money(amount, currency);
  if (!purchases.some(isBought))
    return [paragraph(`Nothing needs to be bought: ${whyNothing(purchases)}.`, "strong")];
  const packs = packsIn(purchases);
  const loose = purchases.filter((line) => line.bulkKg > 0).length;
  const what = [
    ...(packs > 0 ? [counted(packs, "pack")] : []),
    ...(loose > 0 ? [counted(loose, "loose amendment")] : []),
  ].join(" and ");
  const parts = delivery > 0 ? `: ${asMoney(goods)} of goods and ${asMoney(delivery)} for delivery` : "";
  const proven = purchaseProof(gap, shopping.inputs);
  const weighed =
    shopping.application === null
      ? "Sold by weight, the least-cost mix would be"
      : `By weight, what ${shopping.application} takes would be`;
  const above =
    wholePacksCost > NOTHING * Math.max(1, goods)
      ? [paragraph(`${weighed} ${asMoney(byWeight)}; whole packs add ${asMoney(wholePacksCost)} to that.`)]
      : [];
  return [
    paragraph(`Buy ${what} for ${asMoney(total)} in all${parts}.`, "strong"),
    ...above,
    paragraph(`Verified: every need holds; ${proven}.`, "good"),
  ];
}

/** One thing to put on the cart. */
interface Item {
  readonly line: ShoppingLine;
  readonly sizeKg: number | null;
  readonly count: number;
  readonly kg: number;
  readonly each: number;
  readonly cost: number;
  readonly supplier: string | null;
}

function itemsOf(line: ShoppingLine): Item[] {
  const packs = line.packs.map(({ sizeKg, count, price, supplier }) => ({
    line,
    sizeKg,
    count,
    kg: sizeKg * count,
    each: price,
    cost: price * count,
    supplier: supplier ?? line.supplier,
  }));
  if (line.bulkKg <= 0) return packs;
  const cost = line.cost - packs.reduce((sum, item) => sum + item.cost, 0);
  const loose = {
    line,
    sizeKg: null,
    count: 0,
    kg: line.bulkKg,
    each: cost / line.bulkKg,
    cost,
    supplier: line.supplier,
  };
  return [...packs, loose];
}

function itemsFrom(shopping: Shopping, id: string | null): Item[] {
  return shopping.purchases.flatMap(itemsOf).filter((item) => item.supplier === id);
}

function supplierName(id: string | null): string {
  return id ?? "no supplier named";
}

function packWords({ sizeKg, count, kg }: Item, units: Shopping["units"]): string {
  return sizeKg === null
    ? `${weight(kg, units)} loose`
    : `${decimal(count, 0)} x ${bagWeight(sizeKg, units)}`;
}

function orderSections(shopping: Shopping): Section[] {
  const { units, currency } = shopping;
  const { unit, of } = csvWeight(units);
  const all = shopping.suppliers.map((order) => itemsFrom(shopping, order.id));
  const first = (of: ShoppingLine) => all.flat().find(({ line }) => line === of);
  return shopping.suppliers.map((order, k): Section => {
    const items = all[k]!;
    /** What is left of an amendment is said once, beside the first of its packs. */
    const left = (item: Item) =>
      first(item.line) === item && item.line.leftKg > 0 ? item.line.leftKg : null;
    const table = tableOf(
      items,
      [
        words("Buy", "buy", (item) => packWords(item, units)),
        words("Amendment", "amendment", (item) => item.line.name),
        figures(
          "each",
          "each",
          (item) => item.each,
          (each, item) =>
            item.sizeKg === null ? pricePerWeight(each, currency, units) : money(each, currency),
        ),
        cash("Price", "price", (item) => item.cost, currency),
        figures(
          "Left over",
          `left_${unit}`,
          (item) => {
            const kg = left(item);
            return kg === null ? null : of(kg);
          },
          (_, item) => weight(left(item) ?? 0, units),
        ),
      ],
      items.length > 1
        ? { buy: cell("Goods"), price: numberCell(money(order.goods, currency), order.goods) }
        : undefined,
    );
    return {
      title: order.id === null ? "Where no supplier is named" : `From ${order.id}`,
      blocks: [tableBlock(table), ...deliveryLine(order, shopping)],
    };
  });
}

function deliveryLine(order: SupplierOrder, shopping: Shopping): Block[] {
  const { currency, inputs } = shopping;
  const charges = inputs.some((plan) =>
    plan.suppliers.some((supplier) => supplier.id === order.id && chargesDelivery(supplier)),
  );
  if (!charges) return [];
  if (order.delivery === 0) return [paragraph("Delivery is free for this order.")];
  const free =
    order.freeFrom === null ? "" : ` (free from ${money(order.goods + order.freeFrom, currency)} of goods)`;
  return [
    paragraph(
      `Delivery: ${money(order.delivery, currency)}${free}. With delivery ${money(order.goods + order.delivery, currency)}.`,
    ),
  ];
}

function shedSection(shopping: Shopping): Section[] {
  const fromShed = shopping.purchases.filter((line) => Math.min(line.stockKg, line.usedKg) > 0);
  if (fromShed.length === 0) return [];
  const parts = fromShed.map(
    (line) =>
      `${weight(Math.min(line.stockKg, line.usedKg), shopping.units)} of ${line.name} (of ${weight(line.stockKg, shopping.units)} there)`,
  );
  return [{ title: "From the shed", blocks: [paragraph(`${listed(parts)}.`)] }];
}

function leftSection(shopping: Shopping): Section[] {
  const { units, currency, moreBatches } = shopping;
  const left = shopping.purchases.filter((line) => line.leftKg > 0);
  if (left.length === 0)
    return shopping.purchases.length === 0
      ? []
      : [{ title: "What is left over", blocks: [paragraph("Nothing: every pack is used up.")] }];
  const { unit, of } = csvWeight(units);
  const table = tableOf(left, [
    words("Amendment", "amendment", (line) => line.name),
    figures(
      "Left",
      `left_${unit}`,
      (line) => of(line.leftKg),
      (_, line) => weight(line.leftKg, units),
    ),
    cash("Worth", "worth", (line) => line.leftWorth, currency),
    figures("More batches it makes", "more_batches", (line) => line.leftBatches, howMany),
  ]);
  const together =
    moreBatches >= 1
      ? `Together the leftovers make ${counted(moreBatches, "more batch", "more batches")} of this mix.`
      : "Together they are not enough for another whole batch: one of the amendments runs out first.";
  const title = shopping.application === null ? "What is left over" : "What is left for later";
  return [{ title, blocks: [tableBlock(table), paragraph(together)] }];
}

function costSection(shopping: Shopping): Section[] {
  const items = [fewerWords(shopping), finerWords(shopping)].flatMap((text) => (text === null ? [] : [text]));
  return items.length === 0 ? [] : [{ title: "What other packs would change", blocks: [bullets(items)] }];
}

function nameOf(shopping: Shopping, id: string): string {
  return shopping.purchases.find((line) => line.id === id)?.name ?? id;
}

function packOf(shopping: Shopping, change: PackChange): string {
  return `one ${bagWeight(change.sizeKg ?? 0, shopping.units)} pack of ${nameOf(shopping, change.id)}`;
}

function fewerWords(shopping: Shopping): string | null {
  const fewer = shopping.changes.filter((change) => change.kind === "fewer");
  if (fewer.length === 0) return null;
  const asMoney = (amount: number) => money(amount, shopping.currency);
  const bearable = fewer.find((change) => change.shortfall.fraction <= BEARABLE);
  const shortOf = ({ shortfall }: PackChange) =>
    shortfall.nutrient === null
      ? "no need falls short"
      : `${shortfall.nutrient} falls ${percent(shortfall.fraction)} short of its need at worst`;
  if (bearable)
    return `${capital(packOf(shopping, bearable))} less saves ${asMoney(bearable.saves)}; with the best mix of the rest, ${shortOf(bearable)}.`;
  const mildest = fewer.reduce((a, b) => (b.shortfall.fraction < a.shortfall.fraction ? b : a));
  return `No pack can be left out without a need falling short by more than ${percent(BEARABLE)}. The mildest: ${packOf(shopping, mildest)} less saves ${asMoney(mildest.saves)}, and ${shortOf(mildest)}.`;
}

function finerWords(shopping: Shopping): string | null {
  const finer = shopping.changes.find((change) => change.kind === "finer");
  if (!finer) return null;
  return `The pack size of ${nameOf(shopping, finer.id)} costs most: bought by weight at its best price, or shared with a neighbour, the purchase would cost ${money(finer.saves, shopping.currency)} less.`;
}

function tripSection({ trips, currency, application }: Shopping): Section[] {
  if (!trips || trips.atOnce === 0) return [];
  const asMoney = (amount: number) => money(amount, currency);
  const more = trips.inAll - trips.atOnce;
  if (application === null)
    return [
      {
        title: "One application at a time",
        blocks: [
          paragraph(
            more > NOTHING * Math.max(1, trips.inAll)
              ? `Bought before each application for that one alone, leftovers carried along, the same mix costs ${asMoney(trips.inAll)}: ${asMoney(more)} more.`
              : `Bought before each application for that one alone, leftovers carried along, the same mix costs no more: ${listed(trips.byApplication.map(({ name, total }) => `${asMoney(total)} for ${name}`))}.`,
          ),
        ],
      },
    ];
  const table = tableOf(
    trips.byApplication,
    [
      words("Before", "application", (trip) => trip.name),
      figures("Buy for", "price", (trip) => trip.total, asMoney),
    ],
    { application: cell("In all"), price: numberCell(asMoney(trips.inAll), trips.inAll) },
  );
  const verdict =
    more > NOTHING * Math.max(1, trips.inAll)
      ? `Everything at once costs ${asMoney(trips.atOnce)}: ${asMoney(more)} less than one application at a time.`
      : "Everything at once costs the same.";
  return [
    {
      title: "One application at a time, leftovers carried along",
      blocks: [tableBlock(table), paragraph(verdict)],
    },
  ];
}

/** The mixes of a purchase: of its plan and of those bought for beside it. */
function mixesOf(shopping: Shopping): ShoppingMix[] {
  return [...(shopping.mix ? [shopping.mix] : []), ...shopping.also].filter((mix) =>
    mix.applications.some((application) => application.batches.count > 0),
  );
}

function mixTitle(shopping: Shopping, mix: ShoppingMix, title: string): string {
  return shopping.also.length > 0 ? `${mix.plan}: ${title}` : title;
}

const heaviestFirst = (mix: ShoppingMix) =>
  [...mix.amendments].sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1));

function mixSections(shopping: Shopping): Section[] {
  const { units } = shopping;
  const { unit, of } = csvWeight(units);
  return mixesOf(shopping).map((mix): Section => {
    const whole = tableOf(heaviestFirst(mix), [
      words("Amendment", "amendment", (a) => a.name),
      figures(
        "Weight",
        `weight_${unit}`,
        (a) => of(a.kg),
        (_, a) => weight(a.kg, units),
      ),
      figures("Share", "share", (a) => a.share, percent),
    ]);
    return {
      title: mixTitle(shopping, mix, "The mix on these packs"),
      blocks: [tableBlock(whole), ...needLine(mix)],
    };
  });
}

function weighSections(shopping: Shopping): Section[] {
  return mixesOf(shopping).map(
    (mix): Section => ({
      title: mixTitle(shopping, mix, "What to weigh into each batch"),
      blocks: batchBlocks({
        applications: mix.applications,
        amendments: heaviestFirst(mix),
        scaleKg: mix.rounding.scaleKg,
        units: shopping.units,
        scoops: shopping.inputs[0]?.scoops,
      }),
    }),
  );
}

function needLine({ nutrients, rounding }: ShoppingMix): Block[] {
  const needed = nutrients.filter((n) => n.minKg > 0);
  if (needed.length === 0) return [];
  const most = needed.reduce((a, b) => (b.countedKg / b.minKg > a.countedKg / a.minKg ? b : a));
  const over = most.countedKg / most.minKg - 1;
  const surplus = over > 0.005 ? ` Most above its need: ${most.nutrient}, by ${percent(over)}.` : "";
  const { worstShortfall } = rounding;
  const missed =
    worstShortfall.nutrient === null
      ? ""
      : ` Rounded to the scale, ${worstShortfall.nutrient} misses its need by ${percent(worstShortfall.fraction)} at worst.`;
  return [
    paragraph(
      `It meets the need of ${listed(needed.map((n) => n.nutrient))}, on every day that is checked.${surplus}${missed}`,
    ),
  ];
}

/**
 * A row for each thing paid for: packs of one size, loose weight, delivery. Their `cost` adds up to the total. Names,
 * which may hold commas, are last, so that tools that know no quotes keep the columns.
 */
function shopCsv(shopping: Shopping): Table {
  const rows = shopping.suppliers.flatMap((order): PaidFor[] => [
    ...itemsFrom(shopping, order.id).map((item) => ({ order, item })),
    ...(order.delivery > 0 ? [{ order, item: null }] : []),
  ]);
  return answerTable(
    rows,
    shopColumns(shopping),
    shopping.status === "infeasible" ? "optimal" : shopping.status,
  );
}

/** Something paid for: an item, or the delivery of an order. */
interface PaidFor {
  readonly order: SupplierOrder;
  readonly item: Item | null;
}

function shopColumns(shopping: Shopping): ColumnOf<PaidFor>[] {
  const { unit, of } = csvWeight(shopping.units);
  const kind = ({ item }: PaidFor) => (item === null ? "delivery" : item.sizeKg === null ? "loose" : "pack");
  return [
    words("Supplier", "supplier", (r) => r.order.id ?? ""),
    words("What", "what", kind),
    words("Id", "id", (r) => r.item?.line.id ?? "delivery"),
    figures("Count", "count", (r) => (r.item?.sizeKg == null ? null : r.item.count), String),
    figures("Size", `size_${unit}`, (r) => (r.item?.sizeKg == null ? null : of(r.item.sizeKg)), String),
    figures("Weight", `weight_${unit}`, (r) => (r.item ? of(r.item.kg) : null), String),
    figures("Each", "price_each", (r) => (r.item?.sizeKg == null ? null : r.item.each), String),
    figures("Cost", "cost", (r) => r.item?.cost ?? r.order.delivery, String),
    words("Amendment", "amendment", (r) => r.item?.line.name ?? "Delivery"),
  ];
}

/** The purchase as plain lines, one item each, to take along on a phone or on paper. */
export function shopList(shopping: Shopping): string {
  const { units, currency } = shopping;
  if (shopping.status === "infeasible")
    return shopping.conflicts.map(({ text }) => `${plainText(text)}\n`).join("");
  const asMoney = (amount: number) => money(amount, currency);
  const lines: string[] = [];
  for (const order of shopping.suppliers) {
    const named = shopping.suppliers.length > 1 || order.id !== null ? ` (${supplierName(order.id)})` : "";
    for (const item of itemsFrom(shopping, order.id))
      lines.push(`[ ] ${packWords(item, units)} ${item.line.name}, ${asMoney(item.cost)}${named}`);
    if (order.delivery > 0) lines.push(`[ ] delivery, ${asMoney(order.delivery)}${named}`);
  }
  if (lines.length === 0) lines.push(`Nothing to buy: ${whyNothing(shopping.purchases)}.`);
  else lines.push(`In all ${asMoney(sumsOf(shopping).total)}`);
  return lines.map((line) => `${plainText(line)}\n`).join("");
}
