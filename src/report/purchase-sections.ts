/** What to buy for the mix, in whole packs. */
import type { Plan } from "../model.ts";
import { plainText } from "../plain-text.ts";
import type { Purchase } from "../results/solution.ts";
import { bagWeight, listed, percent, type UnitSystem, weight } from "../words/numbers.ts";
import { thatSure } from "../words/sure-words.ts";
import { paragraph, type Section, section, table, words } from "./report.ts";
import type { View } from "./solution-view.ts";
import { sum, TOLERANCE, tidyZero } from "./writer.ts";

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

/** What a table of purchases says of each. */
function columnsOf({ solution, name, masses, cash }: View) {
  return {
    buy: words<Purchase>("Buy", "buy", (p) => buyWords(p, solution.units)),
    amendment: words<Purchase>("Amendment", "amendment", (p) => p.name ?? name(p.id)),
    price: cash<Purchase>("Price", "price", (p) => p.cost),
    use: masses<Purchase>("Use", "used", (p) => p.usedKg),
    left: masses<Purchase>("Left over", "left", (p) => tidyZero(p.leftKg, p.usedKg)),
  };
}

/** The purchase on the page: what is bought, and what the shed gives. */
export function shortPurchaseSections(view: View): Section[] {
  const { solution, money, weight } = view;
  const { buy, amendment, price, left } = columnsOf(view);
  const bought = solution.purchases.filter((p) => p.boughtKg > 0);
  const shed = solution.amendments.filter((a) => a.stockKg > 0);
  const fromShed = listed(shed.map((a) => `${weight(a.stockKg)} of ${a.name}`));
  return section(
    bought.length === 0 ? "What to buy: nothing" : shortTitle(view),
    table(bought, [buy, amendment, price, left], ["Total", "", money(sum(bought.map((p) => p.cost)))]),
    paragraph(shed.length === 0 ? "" : `From the shed: ${fromShed}.`),
  );
}

/** The whole purchase: of every amendment what is bought, used and left. */
export function purchaseSections(view: View): Section[] {
  const { solution, money } = view;
  const { purchases, purchase } = solution;
  if (purchases.length === 0) return [];
  const { amendment, buy, price, use, left } = columnsOf(view);
  const cost = sum(purchases.map((p) => p.cost));
  const above = tidyZero(cost - view.total, cost);
  const inAll = [
    purchase && purchase.delivery > 0
      ? `With ${money(purchase.delivery)} for delivery: ${money(purchase.total)} in all.`
      : "",
    isByWeight(view)
      ? "These bags are for the mix that costs least by weight; `--bought` finds the bags that cost least in all."
      : "",
  ];
  return section(
    BAGS,
    table(purchases, [amendment, buy, price, use, left], ["Total", "", money(cost)]),
    paragraph(inAll.join(" ").trim()),
    paragraph(above > 0 ? `Whole bags cost ${money(above)} more than the weight that is used.` : ""),
  );
}
