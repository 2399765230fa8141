/**
 * Cards as one self-contained page, a mix to a sheet of Letter or A4 across: large enough to be read two metres away, black
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
.tick { display: inline-block; width: 0.7em; height: 0.7em; border: 2.5px solid #000; vertical-align: baseline; }
.weights td, .whole td { font-size: var(--size); font-weight: 700; line-height: 1.08; }
.weights td.weigh, .whole td.weigh { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.weights td.loose { font-weight: 400; }
.weights td.box { width: 1em; }
.whole td { border-bottom: 0; border-top: 3px solid #000; }
.made { font-size: 24pt; margin: 0.04in 0; }
.made .one { white-space: nowrap; margin-right: 0.25in; }
.rounds td { font-size: 16pt; }
.rounds td.dose { font-size: 24pt; font-weight: 700; }
.blank { border-bottom: 1px solid #000; min-width: 2.2in; display: inline-block; }
.care { font-size: 12pt; margin: 0.06in 0 0; padding-left: 1.1em; }
.care li { break-inside: avoid; }
@media screen and (max-width: 6in) {
  article { margin: 0.1in; }
  h1, h2 { font-size: 18pt; }
  .weights td, .whole td { font-size: 15pt; }
  .rounds td, .rounds td.dose, .made { font-size: 13pt; }
  .blank { min-width: 0.8in; }
}
@page { size: landscape; margin: 0.4in; }
@media print {
  article { margin: 0; max-width: none; break-after: page; }
  article:last-child { break-after: auto; }
  tr { break-inside: avoid; }
}
`.trim();

/** Sizes of the weights by how many lines there are, points: as large as a sheet has room for. */
const SIZES: readonly (readonly [lines: number, points: number])[] = [
  [5, 40],
  [6, 34],
  [8, 28],
];
const SMALLEST = 24;

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
  const lines = mix.weights.length + Math.ceil(rounds.length / 2);
  const size = SIZES.find(([most]) => lines <= most)?.[1] ?? SMALLEST;
  const rows = mix.weights.map(
    ({ text, name, loose, once }) =>
      `<tr><td class="box"><span class="tick"></span></td><td class="weigh">${unbroken(text)}</td><td>${escapeHtml(name)}${once ? " (once for all batches)" : ""}</td><td class="loose">${loose === null ? "" : unbroken(loose)}</td></tr>`,
  );
  const given = rounds.map(
    ({ bed, when, dose, take }) =>
      `<tr><th scope="row">${escapeHtml(named ? `${bed}: ${when}` : when)}</th><td class="dose">${unbroken(dose)}</td><td>${unbroken(take)}</td><td><span class="blank"></span></td></tr>`,
  );
  const batches = mix.batches === 1 ? "make 1 batch" : `make ${mix.batches} batches, all alike`;
  return [
    `<article style="--size:${size}pt">`,
    `<h1>${escapeHtml(sheet.name)}</h1>`,
    card.byWeight ? '<p class="weight">BY WEIGHT: not the mix of whole bags that are bought.</p>' : "",
    `<h2>${escapeHtml(sheet.heading)}: ${batches}. Into each:</h2>`,
    '<table class="weights">',
    ...rows,
    `<tr class="whole"><td></td><td class="weigh">${unbroken(sheet.whole)}</td><td>one batch</td><td></td></tr>`,
    "</table>",
    `<p class="made">Made: ${boxes(mix.batches)}</p>`,
    `<table class="rounds"><tr><th scope="col">Give</th><th scope="col">${escapeHtml(rounds[0]?.each ?? "")}</th><th scope="col">Take</th><th scope="col">Spread on, by, lot</th></tr>`,
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
