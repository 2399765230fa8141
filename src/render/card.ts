/**
 * Batch cards as one self-contained page, a recipe to a sheet of Letter or A4: large enough to be read at arm's length,
 * black on white, with boxes to tick. All text is escaped.
 */
import { MOST_BOXES, NOTHING_TO_MIX } from "../report/card-report.ts";
import { type CardRound, type CardSheet, type CardSource, sheetsOf } from "../report/card-sheet.ts";
import { escapeHtml, textHtml } from "./escape.ts";
import { htmlPage } from "./html.ts";
import { CHART_STYLE, chartSvg } from "./svg-chart.ts";

/** Lines and rounds that fit a sheet in large type; with more of them the type is smaller. */
const ROOMY = 10;

const STYLE = `
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #000; font: 12pt/1.3 system-ui, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif; }
article { max-width: 7.6in; margin: 0.3in auto; padding: 0.35in 0.4in; border: 2.5px solid #000; border-radius: 10px; }
header { display: flex; justify-content: space-between; align-items: flex-end; gap: 1em; border-bottom: 3px solid #000; padding-bottom: 0.1in; }
h1 { font-size: 22pt; line-height: 1.05; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 13pt; margin: 0; }
.when { font-size: 13pt; margin: 0.05in 0 0; font-weight: 600; }
.crop { margin: 0; }
.crop, .grade span, .heads td, .give span { font-size: 10pt; }
.grade { text-align: right; white-space: nowrap; }
.grade b { display: block; font-size: 18pt; font-variant-numeric: tabular-nums; }
table { width: 100%; border-collapse: collapse; margin-top: 0.08in; }
td { padding: 0.05in 0.07in; border-bottom: 1px solid #000; vertical-align: middle; }
td.box { width: 0.42in; padding-left: 0; }
.tick { display: inline-block; width: 0.28in; height: 0.28in; border: 2.5px solid #000; border-radius: 4px; vertical-align: middle; }
td.weigh, td.loose { font-size: 20pt; font-weight: 700; line-height: 1.05; text-align: right; font-variant-numeric: tabular-nums; width: 1%; white-space: nowrap; }
td.weigh { padding-right: 0.2in; }
td.what { font-size: 15pt; line-height: 1.1; overflow-wrap: anywhere; }
td.what span { display: block; font-size: 11pt; }
.heads td { font-weight: 400; padding: 0 0.07in; border-bottom: 0; }
.heads td.weigh, .heads td.loose { font-size: 10pt; font-weight: 400; }
.heads td.weigh { padding-right: 0.2in; }
.whole td { border-bottom: 0; border-top: 2.5px solid #000; }
.give { display: flex; flex-wrap: wrap; gap: 0.1in; }
.give div { flex: 1 1 1.4in; border: 1.5px solid #000; border-radius: 7px; padding: 0.05in 0.1in; }
.give span { display: block; }
.give b { font-size: 14pt; line-height: 1.15; }
.made { display: flex; flex-wrap: wrap; align-items: center; gap: 0.06in 0.16in; margin: 0.14in 0 0.07in; }
.rounds { display: grid; grid-template-columns: repeat(auto-fit, minmax(3.5in, 1fr)); column-gap: 0.2in; }
.one { white-space: nowrap; }
.dense td { padding-top: 0.03in; padding-bottom: 0.03in; }
.dense td.weigh, .dense td.loose { font-size: 17pt; }
.dense .heads td.weigh, .dense .heads td.loose { font-size: 10pt; }
.dense td.what { font-size: 13pt; }
.dense .made { margin: 0.06in 0; }
.dense h2 { font-size: 11.5pt; }
.charts { display: flex; flex-wrap: wrap; gap: 0.12in; margin-top: 0.14in; break-inside: avoid; }
.charts .chart { flex: 1 1 2.1in; margin: 0; max-width: 3.4in; }
${CHART_STYLE}
.care { border: 1.5px solid #000; border-radius: 7px; padding: 0.06in 0.14in; margin-top: 0.16in; }
.care ul { margin: 0.03in 0 0; padding-left: 1.1em; font-size: 10pt; line-height: 1.25; }
footer { display: flex; gap: 0.25in; margin-top: 0.2in; }
footer span { display: flex; flex: 1; white-space: nowrap; }
footer .blank { flex: 1; border-bottom: 1px solid #000; min-width: 0.8in; margin-left: 0.08in; }
@media screen and (max-width: 6in) {
  article { margin: 0; padding: 0.15in; border-width: 0 0 3px; border-radius: 0; }
  header { display: block; }
  .grade { text-align: left; margin-top: 0.08in; }
  .grade b { display: inline; font-size: 14pt; margin-right: 0.4em; }
  h1 { font-size: 18pt; }
  td.weigh, td.loose { font-size: 14pt; }
  td.weigh { padding-right: 0.08in; }
  td.loose { white-space: normal; min-width: 0.9in; }
  td.what { font-size: 12pt; }
  td { padding: 0.05in 0.04in; }
  td.box { width: 0.34in; }
  footer { flex-wrap: wrap; }
}
@page { margin: 0.4in; }
@media print {
  article { margin: 0; max-width: none; border: 0; border-radius: 0; padding: 0 2pt; break-after: page; }
  article:last-child { break-after: auto; }
  tr, .give, .made, .care, footer { break-inside: avoid; }
}
`.trim();

/** The cards of one bed or several as a whole HTML page. */
export function renderCardHtml(sources: readonly CardSource[]): string {
  const title = sources.map(({ plan }) => plan.name).join(" and ");
  const sheets = sources.flatMap(sheetsOf);
  const articles =
    sheets.length === 0
      ? [`<article><header><h1>${escapeHtml(title)}</h1></header><p>${NOTHING_TO_MIX}</p></article>`]
      : sheets.map(articleOf);
  return htmlPage(`Batch card: ${title}`, STYLE, articles);
}

function articleOf(sheet: CardSheet): string {
  const rows = sheet.lines.map(
    ({ text, name, loose, bags }) =>
      `<tr><td class="box"><span class="tick"></span></td><td class="weigh">${escapeHtml(text)}</td><td class="what">${escapeHtml(name)}${bags === null ? "" : `<span>${escapeHtml(bags)}</span>`}</td><td class="loose">${unbroken(loose ?? "")}</td></tr>`,
  );
  const dense = sheet.lines.length + sheet.rounds.length > ROOMY;
  const someLoose = sheet.lines.some(({ loose }) => loose !== null);
  return [
    `<article${dense ? ' class="dense"' : ""}>`,
    `<header><div><h1>${escapeHtml(sheet.plan)}</h1><p class="when">${escapeHtml(sheet.when)}</p><p class="crop">${escapeHtml(sheet.crop)}${sheet.bought ? "; the mix on the packs that are bought" : ""}</p>${sheet.sure ? `<p class="crop">${escapeHtml(sheet.sure.text)}</p>` : ""}</div><div class="grade"><b>${escapeHtml(sheet.grade)}</b><span>N-P2O5-K2O, %</span></div></header>`,
    `<table><tr class="heads"><td></td><td class="weigh">weigh</td><td></td><td class="loose">${someLoose ? "or, loose" : ""}</td></tr>`,
    ...rows,
    `<tr class="whole"><td class="box"></td><td class="weigh">${escapeHtml(sheet.whole)}</td><td class="what">in one batch</td><td class="loose"></td></tr>`,
    "</table>",
    ...roundsOf(sheet),
    ...(dense || sheet.charts.length === 0
      ? []
      : ['<div class="charts">', ...sheet.charts.map(chartSvg), "</div>"]),
    ...careOf(sheet),
    '<footer><span>Mixed on<i class="blank"></i></span><span>by<i class="blank"></i></span><span>Spread on<i class="blank"></i></span></footer>',
    "</article>",
  ].join("\n");
}

function roundsOf({ rounds, givesAlike }: CardSheet): string[] {
  return givesAlike
    ? ['<div class="rounds">', ...rounds.map(makeOf), "</div>", giveOf(rounds[0]!)]
    : rounds.flatMap((round) => [makeOf(round), giveOf(round)]);
}

function giveOf({ give }: CardRound): string {
  const amounts = give
    .map(({ what, text }) => `<div><span>${escapeHtml(what)}</span><b>${unbroken(text)}</b></div>`)
    .join("");
  return `<div class="give">${amounts}</div>`;
}

/** An amount as HTML, broken only between its parts: `3 1/2 tbsp` and `(36 g)`. */
function unbroken(amount: string): string {
  return escapeHtml(amount).replace(/(?<![+,]) (?![(+])/g, "&nbsp;");
}

function makeOf({ when, batches, count }: CardRound): string {
  const boxes =
    count > MOST_BOXES
      ? `<span class="one">____ of ${count}</span>`
      : Array.from(
          { length: count },
          (_, k) => `<span class="one"><span class="tick"></span> ${k + 1}</span>`,
        ).join("");
  return `<div class="made"><h2>${escapeHtml(`${when}: make ${batches}`)}</h2>${boxes}</div>`;
}

function careOf({ cautions }: CardSheet): string[] {
  if (cautions.length === 0) return [];
  const items = cautions.map((text) => `<li>${textHtml(text)}</li>`).join("");
  return [`<div class="care"><h2>Take care</h2><ul>${items}</ul></div>`];
}
