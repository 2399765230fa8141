/** What to buy for the mix, in whole packs. */
import type { Plan } from "../model.ts";
import { plainText } from "../plain-text.ts";
import type { Purchase } from "../results/solution.ts";
import { bagWeight, listed, percent, type UnitSystem, weight } from "../words/numbers.ts";
import { thatSure } from "../words/sure-words.ts";
import {
  type Block,
  cell,
  figures,
  numberCell,
  paragraph,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { masses, sum, TOLERANCE, tidyZero, type View } from "./solution-view.ts";

/** What is proven of the price of a purchase for these plans, as a clause. */
export function purchaseProof(gap: number, plans: readonly Pick<Plan, "sure">[]): string {
  const which = plans.map(({ sure }) => thatSure(sure)).find((text) => text !== "") ?? "";
  return gap <= TOLERANCE
    ? `no other purchase${which} costs less in all`
    : `another purchase${which} could cost up to ${percent(gap)} less in all`;
}

/**
 * `2 x 50 lb + 12 lb loose`, largest first, or that nothing is bought. A pack of another supplier than the amendment's
 * own says whose it is.
 */
export function buyWords(purchase: Pick<Purchase, "packs" | "bulkKg">, units: UnitSystem): string {
  const packs = purchase.packs
    .filter((pack) => pack.count > 0)
    .sort((a, b) => b.sizeKg - a.sizeKg)
    .map(({ count, sizeKg, supplier }) => {
      const from = supplier === undefined ? "" : ` (${plainText(supplier)})`;
      return `${count} x ${bagWeight(sizeKg, units)}${from}`;
    });
  const loose = purchase.bulkKg > 0 ? [`${weight(purchase.bulkKg, units)} loose`] : [];
  return packs.length + loose.length > 0 ? [...packs, ...loose].join(" + ") : "nothing";
}

const BAGS = "What to buy, in whole bags";

/** Whether another mix may cost less once it is bought in bags. */
function isByWeight({ solution: { purchase } }: View): boolean {
  return purchase?.basis === "weight" && purchase.gap > TOLERANCE;
}

/** The heading of the page's table: it has room for what all the bags cost, and for what they are chosen by. */
function shortTitle(view: View): string {
  const { purchase } = view.solution;
  if (!purchase) return BAGS;
  const total = view.money(purchase.total);
  const delivered = purchase.delivery > 0;
  return isByWeight(view)
    ? `What to buy for the mix by weight: ${total} ${delivered ? "with delivery" : "in all"}; --bought may be less`
    : `${BAGS}: ${total}${delivered ? " with delivery" : ""}`;
}

/** What the bags cost in all, and that another purchase may cost less. */
function inAll(view: View): Block[] {
  const { purchase } = view.solution;
  if (!purchase) return [];
  const { delivery, total } = purchase;
  const texts = [
    ...(delivery > 0 ? [`With ${view.money(delivery)} for delivery: ${view.money(total)} in all.`] : []),
    ...(isByWeight(view)
      ? [
          "These bags are for the mix that costs least by weight; `--bought` finds the bags that cost least in all.",
        ]
      : []),
  ];
  return texts.length === 0 ? [] : [paragraph(texts.join(" "))];
}

/** The purchase on the page: what is bought, and what the shed gives. */
export function shortPurchaseSections(view: View): Section[] {
  const { solution, money, name } = view;
  const bought = solution.purchases.filter((p) => p.boughtKg > 0);
  const shed = solution.amendments.filter((a) => a.stockKg > 0);
  const fromShed =
    shed.length === 0
      ? []
      : [
          paragraph(
            `From the shed: ${listed(shed.map((a) => `${weight(a.stockKg, solution.units)} of ${a.name}`))}.`,
          ),
        ];
  if (bought.length === 0)
    return fromShed.length === 0 ? [] : [{ title: "What to buy: nothing", blocks: fromShed }];
  const cost = sum(bought.map((p) => p.cost));
  const table = tableOf(
    bought,
    [
      words("Buy", "buy", (p) => buyWords(p, view.solution.units)),
      words("Amendment", "amendment", (p) => p.name ?? name(p.id)),
      figures("Price", "price", (p) => p.cost, money),
      masses(view, "Left over", "left", (p) => tidyZero(p.leftKg, p.usedKg)),
    ],
    { buy: cell("Total"), price: numberCell(money(cost), cost) },
  );
  return [{ title: shortTitle(view), blocks: [tableBlock(table), ...fromShed] }];
}

/** The whole purchase: of every amendment what is bought, used and left. */
export function purchaseSections(view: View): Section[] {
  const { solution, money, name } = view;
  const { purchases } = solution;
  if (purchases.length === 0) return [];
  const cost = sum(purchases.map((p) => p.cost));
  const table = tableOf(
    purchases,
    [
      words("Amendment", "amendment", (p) => p.name ?? name(p.id)),
      words("Buy", "buy", (p) => buyWords(p, view.solution.units)),
      figures("Price", "price", (p) => p.cost, money),
      masses(view, "Use", "used", (p) => p.usedKg),
      masses(view, "Left over", "left", (p) => tidyZero(p.leftKg, p.usedKg)),
    ],
    { amendment: cell("Total"), price: numberCell(money(cost), cost) },
  );
  const above = tidyZero(cost - view.total, cost);
  const note =
    above > 0 ? [paragraph(`Whole bags cost ${money(above)} more than the weight that is used.`)] : [];
  return [{ title: BAGS, blocks: [tableBlock(table), ...inAll(view), ...note] }];
}
