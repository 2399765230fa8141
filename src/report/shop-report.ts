/** The answer as a list for the store: by supplier, with delivery and leftovers; and as plain lines to take along. */
import { plainText } from "../plain-text.ts";
import type { Solution, SupplierOrder } from "../results/solution.ts";
import { pricePerWeight } from "../words/numbers.ts";
import { noMixWords } from "../words/sure-words.ts";
import { type View, viewOf } from "./answer-view.ts";
import { leftAfter, leftWords, type PaidFor, packWords, paidFor, purchaseSections } from "./buy-sections.ts";
import { cautionSections, inFewWords, moreWarnings } from "./caution-sections.ts";
import { explainSections } from "./explain-report.ts";
import { isLarge } from "./farm-sections.ts";
import { mixSections } from "./mix-sections.ts";
import { answerTable, conflictTable } from "./outcome-table.ts";
import {
  bullets,
  type ColumnOf,
  type Extent,
  extentOf,
  figures,
  type LongReport,
  paragraph,
  type Report,
  type Section,
  section,
  table,
  words,
} from "./report.ts";
import { headline, titleOf } from "./solution-report.ts";
import { sureDetails } from "./sure-sections.ts";

/** The report of a purchase. */
export function shopReport(
  solution: Solution,
  extent: Extent = "whole",
  typed: readonly string[] = [],
): Report {
  const view = viewOf(solution, typed);
  const { status, conflicts, inputs } = solution;
  const short = inFewWords(view, isLarge(view));
  const watch = cautionSections(solution, short);
  const columns = shopColumns(view);
  const what = inputs.application === undefined ? "" : `: ${inputs.application}`;
  const report: LongReport =
    status === "infeasible"
      ? {
          title: titleOf(view),
          summary: [paragraph(`${noMixWords(conflicts)}: there is nothing to buy yet.`, "bad")],
          sections: [["essential", explainSections(view)], ...watch],
          rest: "every warning in full",
          csv: conflictTable(columns, conflicts),
        }
      : {
          title: `To buy for ${titleOf(view)}${what}`,
          summary: headline(view),
          sections: [
            ["essential", orderSections(view)],
            ["essential", shedSection(view)],
            ["more", purchaseSections(view)],
            ["more", sureDetails(view)],
            ["essential", mixSections(view)],
            ...watch,
          ],
          rest: [moreWarnings(short), "what stays over, other bags"]
            .filter((words) => words !== "")
            .join(", "),
          csv: answerTable(paidFor(view), columns, status),
        };
  return extentOf(report, extent);
}

function orderSections(view: View): Section[] {
  const { solution, money, cash } = view;
  const { suppliers, units, currency, by } = solution;
  const rows = paidFor(view).filter(({ line }) => line !== null);
  const said = new Set<unknown>();
  return suppliers.flatMap((order) => {
    const own = rows.filter((row) => row.order === order);
    return section(
      order.id === null ? (by === "weight" ? "By weight" : "Where no supplier is named") : `From ${order.id}`,
      table(
        own,
        [
          words("Buy", "buy", (r) => packWords(r, view)),
          words("Material", "material", (r) => r.line!.name),
          figures(
            "Each",
            "each",
            (r) => r.each,
            (each, { pack }) => (pack ? money(each) : pricePerWeight(each, currency, units)),
          ),
          cash("Price", "price", (r) => r.cost),
          // What is left of a material is said once, beside the first of its packs.
          figures(
            "Left over",
            "left",
            ({ line }) => (said.has(line) ? null : leftAfter(line!, view)),
            (kg, { line }) => {
              said.add(line);
              return leftWords(kg, units);
            },
          ),
        ],
        own.length > 1 ? ["Goods", "", "", money(order.goods)] : undefined,
      ),
      paragraph(deliveryWords(order, view)),
    );
  });
}

function deliveryWords({ goods, delivery, freeFrom }: SupplierOrder, { money }: View): string {
  if (delivery === 0) return "";
  const free = freeFrom === null ? "" : ` (free from ${money(goods + freeFrom)} of goods)`;
  return `Delivery: ${money(delivery)}${free}. With delivery ${money(goods + delivery)}.`;
}

function shedSection({ solution, weight }: View): Section[] {
  const taken = solution.purchases.filter(({ stockKg }) => stockKg > 0);
  return section("From the shed", bullets(taken.map(({ stockKg, name }) => `${weight(stockKg)} of ${name}`)));
}

/** The columns of CSV. Names, which may hold commas, are last, so that tools that know no quotes keep the columns. */
function shopColumns({ masses, cash }: View): ColumnOf<PaidFor>[] {
  return [
    words("Supplier", "supplier", (r) => r.order.id ?? ""),
    words("What", "what", ({ line, pack }) => (line === null ? "delivery" : pack ? "pack" : "loose")),
    words("Id", "id", (r) => r.line?.id ?? "delivery"),
    figures("Count", "count", (r) => r.pack?.count ?? null),
    masses("Size", "size", (r) => r.pack?.sizeKg ?? null),
    masses("Weight", "weight", (r) => (r.line ? r.kg : null)),
    cash("Each", "price_each", (r) => (r.pack ? r.each : null)),
    cash("Cost", "cost", (r) => r.cost),
    words("Material", "material", (r) => r.line?.name ?? "Delivery"),
  ];
}

/** The purchase as plain lines, one item each, to take along on a phone or on paper. */
export function shopList(solution: Solution): string {
  const { status, conflicts, suppliers, purchases, cost } = solution;
  const view = viewOf(solution);
  const { money } = view;
  const items = paidFor(view).map((row) => {
    const what = row.line ? `${packWords(row, view)} ${row.line.name}` : "delivery";
    const { id } = row.order;
    const named = suppliers.length > 1 || id !== null ? ` (${id ?? "no supplier named"})` : "";
    return `[ ] ${what}, ${money(row.cost)}${named}`;
  });
  const nothing = purchases.some(({ usedKg }) => usedKg > 0)
    ? "Nothing to buy: the shed holds enough."
    : "Nothing to buy: what feeds the crop already is enough.";
  const lines =
    status === "infeasible"
      ? conflicts.map(({ text }) => text)
      : items.length === 0
        ? [nothing]
        : [...items, `In all ${money(cost.total!)}`];
  return lines.map((line) => `${plainText(line)}\n`).join("");
}
