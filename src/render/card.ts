/**
 * Cards as one self-contained page, a mix to a sheet of Letter or A4 across: as large as the sheet has room for, black
 * on white, with boxes to tick and room to sign. All text is escaped.
 */
import { MOST_BOXES, NOTHING_TO_MIX } from "../report/card-report.ts";
import type { Card, CardSheet } from "../report/card-sheet.ts";
import { escapeHtml, textHtml } from "./escape.ts";
import { htmlPage } from "./html.ts";

const STYLE = `
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #000; font: 14pt/1.2 system-ui, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif; }
article { max-width: 10in; margin: 0.2in auto; }
h1 { font-size: 24pt; line-height: 1.05; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 24pt; margin: 0.06in 0 0; }
.weight { font-size: 18pt; font-weight: 700; margin: 0.05in 0; }
table { width: 100%; border-collapse: collapse; }
td, th { padding: 0.02in 0.08in; border-bottom: 1px solid #000; vertical-align: middle; text-align: left; }
th { font-size: 12pt; font-weight: 600; }
.rounds th[scope="row"] { font-size: 13pt; line-height: 1.05; }
.tick { display: inline-block; width: 0.7em; height: 0.7em; border: 2.5px solid #000; vertical-align: baseline; }
.weights td, .whole td { font-size: var(--size); font-weight: 700; line-height: 1.08; }
.weights td.weigh, .whole td.weigh { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.weights td.loose { font-weight: 400; width: 1%; }
.weights td.box { width: 1em; }
.whole td { border-bottom: 0; border-top: 3px solid #000; }
.made { font-size: 24pt; margin: 0.04in 0; }
.made .one { white-space: nowrap; margin-right: 0.25in; }
.rounds td.dose { font-size: 24pt; font-weight: 700; }
.rounds td.sign { border-left: 1px solid #000; width: 0.8in; }
.rounds th[scope="row"] { min-width: 1.3in; }
.heads th { font-size: 9pt; padding-top: 0; padding-bottom: 0; }
.care { font-size: 12pt; margin: 0.06in 0 0; padding-left: 1.1em; }
.care li { break-inside: avoid; }
@media screen and (max-width: 6in) {
  article { margin: 0.1in; }
  h1, h2 { font-size: 18pt; }
  .weights td, .whole td { font-size: 15pt; }
  .rounds td.dose, .made { font-size: 13pt; }
  .rounds td.sign { width: 0.4in; }
}
@page { size: landscape; margin: 0.4in; }
@media print {
  article { margin: 0; max-width: none; break-after: page; }
  article:last-child { break-after: auto; }
  tr { break-inside: avoid; }
}
`.trim();

/** Sizes of what is weighed, points: the largest that leaves the sheet whole. */
const SIZES: readonly number[] = [40, 36, 32, 28];
const SMALLEST = 24;
/** What Letter and A4 across both leave inside their margins, points. */
const SHEET = { width: 715, height: 505 };
/** Widths of letters over their size, bold and plain, a little above the usual. */
const BOLD = 0.62;
const PLAIN = 0.56;

/** The size at which a sheet is about full. Widths are judged by counting letters. */
function sizeOf(
  { takeCare, byWeight }: Card,
  { mix: { weights }, rounds }: CardSheet,
  last: boolean,
): number {
  const most = (lengths: readonly number[]): number => Math.max(0, ...lengths);
  const weigh = most(weights.map(({ text }) => text.length));
  const vessels = weights.map(({ loose }) => (loose ?? "").split(/(?<= \+) /));
  const vessel = most(vessels.flat().map((part) => part.length));
  const care = last
    ? takeCare.reduce((sum, text) => sum + 15 * Math.ceil((text.length * 6) / SHEET.width), 8)
    : 0;
  const others = 62 + (byWeight ? 28 : 0) + 34 + 20 + 38 * rounds.length + care;
  const height = (size: number): number => {
    const left = SHEET.width - size * (1.4 + BOLD * weigh + PLAIN * vessel) - 48;
    const lines = weights.map(({ name, once }, k) =>
      most([
        vessels[k]!.length,
        Math.ceil(((name.length + (once ? 23 : 0)) * BOLD * size) / Math.max(left, size)),
      ]),
    );
    return lines.reduce((sum, count) => sum + count * size * 1.08 + 4, size * 1.08 + 8);
  };
  return SIZES.find((size) => height(size) + others <= SHEET.height) ?? SMALLEST;
}

/** The cards of an answer as a whole HTML page. */
export function renderCardHtml(card: Card): string {
  const articles =
    card.sheets.length === 0
      ? [`<article><h1>${escapeHtml(card.name)}</h1><p>${NOTHING_TO_MIX}</p></article>`]
      : card.sheets.map((sheet, k) => articleOf(card, sheet, k === card.sheets.length - 1));
  return htmlPage(`Batch card: ${card.name}`, STYLE, articles);
}

function articleOf(card: Card, sheet: CardSheet, last: boolean): string {
  const { mix, rounds, named } = sheet;
  const size = sizeOf(card, sheet, last);
  const rows = mix.weights.map(
    ({ text, name, loose, once }) =>
      `<tr><td class="box"><span class="tick"></span></td><td class="weigh">${unbroken(text)}</td><td>${escapeHtml(name)}${once ? " (once for all batches)" : ""}</td><td class="loose">${loose === null ? "" : unbroken(loose)}</td></tr>`,
  );
  const given = rounds.map(
    ({ bed, when, dose, take }) =>
      `<tr><th scope="row">${escapeHtml(named ? `${bed}: ${when}` : when)}</th><td class="dose">${unbroken(dose)}</td><td class="dose">${unbroken(take)}</td><td class="sign"></td><td class="sign"></td><td class="sign"></td></tr>`,
  );
  const batches = mix.batches === 1 ? "make 1 batch" : `make ${mix.batches} batches, all alike`;
  return [
    `<article style="--size:${size}pt">`,
    `<h1>${escapeHtml(sheet.name)}</h1>`,
    card.byWeight ? '<p class="weight">BY WEIGHT: not the mix of whole bags that are bought.</p>' : "",
    `<h2>${escapeHtml(sheet.heading)}: ${batches}. Into each:</h2>`,
    '<table class="weights">',
    '<tr class="heads"><th scope="col">Done</th><th scope="col">Weight</th><th scope="col">Material</th><th scope="col">Loose, about</th></tr>',
    ...rows,
    `<tr class="whole"><td></td><td class="weigh">${unbroken(sheet.whole)}</td><td>one batch</td><td></td></tr>`,
    "</table>",
    `<p class="made">Made: ${boxes(mix.batches)}</p>`,
    `<table class="rounds"><tr><th scope="col">Give</th><th scope="col">${escapeHtml(rounds[0]?.each ?? "")}</th><th scope="col">Take</th><th scope="col">Spread: date, amount</th><th scope="col">By</th><th scope="col">Lot</th></tr>`,
    ...given,
    "</table>",
    ...(last ? [careOf(card)] : []),
    "</article>",
  ]
    .filter((line) => line !== "")
    .join("\n");
}

function boxes(count: number): string {
  return count > MOST_BOXES
    ? `<span class="one">____ of ${count}</span>`
    : Array.from(
        { length: count },
        (_, k) => `<span class="one"><span class="tick"></span> ${k + 1}</span>`,
      ).join(" ");
}

/** An amount as HTML, broken only between its parts: `3 1/2 tbsp` and `(36 g)`. */
function unbroken(amount: string): string {
  return escapeHtml(amount).replace(/(?<![+,]) (?![(+])/g, "&nbsp;");
}

function careOf({ takeCare }: Card): string {
  return takeCare.length === 0
    ? ""
    : `<ul class="care">${takeCare.map((text) => `<li>${textHtml(text)}</li>`).join("")}</ul>`;
}
