/**
 * The batch card: what hangs on the wall of the shed while a mix is made. One card for each recipe, with a box to tick
 * for every weighing and every batch. As a report for the common formats, and as an HTML page made for paper.
 */
import type { Notice } from "../problem.ts";
import { escapeHtml, htmlPage } from "../render/html.ts";
import type { Solution, SolutionApplication } from "../results/solution.ts";
import {
  area,
  areaStepM2,
  counted,
  csvWeight,
  day,
  grams,
  howMany,
  length,
  listed,
  percent,
  rowStepM,
  scaleWeight,
  scoop,
  volume,
  weight,
} from "../words/numbers.ts";
import {
  type Block,
  bullets,
  cell,
  figures,
  fullTableOf,
  numberCell,
  paragraph,
  type Report,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** More boxes than this in a row are counted, not drawn. */
const MOST_BOXES = 24;
/** What a card leaves to the plan: remarks on buying and selling are of no use at the mixer. */
const NOT_ON_CARDS: ReadonlySet<string> = new Set([
  "not-for-sale",
  "organic-unknown",
  "organic-restricted",
  "threshold-raised",
]);

/** Applications that are mixed alike: the same weights in batches of the same size. */
interface Card {
  readonly applications: readonly SolutionApplication[];
  readonly lines: readonly CardLine[];
  readonly kgEach: number;
  readonly grade: string;
}
interface CardLine {
  readonly id: string;
  readonly name: string;
  readonly kg: number;
  readonly mL: number | null;
  /** Of the batch's weight. */
  readonly share: number;
}

/** The cards of a solution, in the order they are needed. */
function cardsOf(solution: Solution): Card[] {
  const kinds = new Map<string, SolutionApplication[]>();
  for (const application of solution.applications) {
    const { count, weights } = application.batches;
    if (count === 0) continue;
    // Weights that differ by rounding of the arithmetic alone are the same weights.
    const key = JSON.stringify(weights.map(({ id, kg }) => [id, Math.round(kg / solution.rounding.scaleKg)]));
    kinds.set(key, [...(kinds.get(key) ?? []), application]);
  }
  const materials = new Map(solution.inputs.amendments.map((a) => [a.id, a]));
  return [...kinds.values()].map((applications): Card => {
    const { weights, kgEach } = applications[0]!.batches;
    const percentOf = (nutrient: "N" | "P2O5" | "K2O") => {
      const kg = weights.reduce((sum, w) => sum + w.kg * (materials.get(w.id)?.analysis[nutrient] ?? 0), 0);
      return String(Number(((100 * kg) / kgEach).toFixed(1)));
    };
    return {
      applications,
      kgEach,
      lines: weights.map(({ id, kg, mL }) => ({
        id,
        name: materials.get(id)?.name ?? id,
        kg,
        mL,
        share: kg / kgEach,
      })),
      grade: [percentOf("N"), percentOf("P2O5"), percentOf("K2O")].join("-"),
    };
  });
}

/** What to mind while mixing. First what the card cannot show: amendments that the scale rounds away. */
function cautionsOf(solution: Solution): Notice[] {
  return [
    ...solution.warnings.filter((warning) => warning.code === "rounds-to-nothing"),
    ...solution.cautions.filter((caution) => !NOT_ON_CARDS.has(caution.code)),
  ];
}

/** How far a batch goes and what each plant and each foot gets, as a label and its amount. */
function measuresOf(solution: Solution, application: SolutionApplication): [string, string][] {
  const { units } = solution;
  const { perPlant, perRowMeter, coverage, batches } = application;
  const step = rowStepM(units);
  const both = (g: number, mL: number | null) =>
    mL === null ? grams(g) : `${scoop(mL, units)} (${grams(g)})`;
  const measures: [string, string][] = [];
  if (perPlant.g !== null) measures.push(["Each plant", both(perPlant.g, perPlant.mL)]);
  if (perRowMeter.g !== null)
    measures.push([
      units === "us" ? "Each foot of row" : "Each metre of row",
      both(perRowMeter.g * step, perRowMeter.mL === null ? null : perRowMeter.mL * step),
    ]);
  const { areaM2 } = solution.inputs.bed;
  const byArea = areaM2 !== undefined && perPlant.g === null && perRowMeter.g === null;
  if (byArea) {
    const share = areaStepM2(units) / areaM2;
    const heavy = weight(application.kg * share, units);
    measures.push([
      units === "us" ? "Each 100 sq ft" : "Each square metre",
      application.litres === null ? heavy : `${scoop(application.litres * 1000 * share, units)} (${heavy})`,
    ]);
  }
  const feeds = [
    ...(coverage.plantsPerBatch === null ? [] : [`${howMany(coverage.plantsPerBatch)} plants`]),
    ...(coverage.rowMetersPerBatch === null ? [] : [`${length(coverage.rowMetersPerBatch, units)} of row`]),
    ...(byArea ? [area(areaM2 / batches.count, units)] : []),
  ];
  if (feeds.length > 0) measures.push(["One batch feeds", feeds.join(", ")]);
  if (application.litres !== null)
    measures.push(["One batch fills", volume(application.litres / batches.count, units)]);
  return measures;
}

const batchWord = (count: number) => counted(count, "batch", "batches");
/** `planting, day 0`; of an application that is called by its day, the day alone. */
const whenWords = (application: SolutionApplication) =>
  application.name === day(application.day)
    ? application.name
    : `${application.name}, ${day(application.day)}`;

/** The cards as a report: for Markdown, and for the other formats. */
export function cardReport(solution: Solution): Report {
  const cards = cardsOf(solution);
  const { unit, of } = csvWeight(solution.units);
  const rows = cards.flatMap((card) =>
    card.applications.flatMap((application) => card.lines.map((line) => ({ application, line }))),
  );
  return {
    title: `Batch card: ${solution.plan}`,
    summary:
      cards.length === 0
        ? [paragraph("Nothing is to be mixed: the needs are met without it.")]
        : [paragraph(summaryWords(solution, cards))],
    sections: [...cards.map((card) => cardSection(solution, card)), ...cautionSection(solution)],
    csv: fullTableOf(rows, [
      words("Application", "application", (r) => r.application.name),
      figures("Day", "day", (r) => r.application.day, String),
      figures("Batches", "batches", (r) => r.application.batches.count, String),
      words("Id", "id", (r) => r.line.id),
      words("Amendment", "amendment", (r) => r.line.name),
      figures("Into each batch", `batch_${unit}`, (r) => of(r.line.kg), String),
      figures("Loose", "batch_ml", (r) => r.line.mL, String),
    ]),
  };
}

function summaryWords(solution: Solution, cards: readonly Card[]): string {
  const { plants } = solution.inputs.bed;
  const bed = plants === undefined ? "" : ` for ${counted(plants, "plant")}`;
  return `${solution.inputs.targetName}${bed}. ${counted(cards.length, "recipe")}; weights to ${scaleWeight(solution.rounding.scaleKg, solution.rounding.scaleKg, solution.units)}.`;
}

function titleOf(card: Card): string {
  return listed(card.applications.map(whenWords));
}

function cardSection(solution: Solution, card: Card): Section {
  const { units } = solution;
  const { unit, of } = csvWeight(units);
  const scale = (kg: number) => scaleWeight(kg, solution.rounding.scaleKg, units);
  const table = tableOf(
    card.lines,
    [
      words("Done", "done", () => "☐"),
      figures(
        "Weigh",
        `weight_${unit}`,
        (line) => of(line.kg),
        (_, line) => scale(line.kg),
      ),
      words("Amendment", "amendment", (line) => line.name),
      figures(
        "or, loose",
        "volume_ml",
        (line) => line.mL,
        (mL) => scoop(mL, units),
      ),
    ],
    {
      [`weight_${unit}`]: numberCell(scale(card.kgEach), of(card.kgEach)),
      amendment: cell("One batch weighs"),
    },
  );
  const blocks: Block[] = [tableBlock(table), paragraph(`Grade ${card.grade} (N-P2O5-K2O).`)];
  for (const application of card.applications) {
    const { count } = application.batches;
    blocks.push(
      paragraph(`${whenWords(application)}: ${batchWord(count)}. Made: ${boxesText(count)}`, "strong"),
      bullets(measuresOf(solution, application).map(([label, amount]) => `${label}: ${amount}`)),
    );
  }
  return { title: titleOf(card), blocks };
}

function boxesText(count: number): string {
  if (count > MOST_BOXES) return `____ of ${count}`;
  return Array.from({ length: count }, (_, k) => `☐ ${k + 1}`).join("  ");
}

function cautionSection(solution: Solution): Section[] {
  const cautions = cautionsOf(solution);
  return cautions.length === 0
    ? []
    : [{ title: "Take care", blocks: [bullets(cautions.map((caution) => caution.text))] }];
}

/** Shades and textures that stay apart on a black and white printer, darkest first. */
const BAR_FILLS = [
  "#1f3d2b",
  "repeating-linear-gradient(45deg, #3f6b4c 0 6px, #57855f 6px 12px)",
  "#7fa37c",
  "repeating-linear-gradient(90deg, #a9c29b 0 4px, #c3d6b3 4px 8px)",
  "#d9c48f",
  "repeating-linear-gradient(-45deg, #c9a95c 0 5px, #dcc07d 5px 10px)",
  "#b98a4a",
  "repeating-linear-gradient(0deg, #8a6236 0 4px, #a2773f 4px 8px)",
] as const;

const CARD_STYLE = `
:root { --ink: #1b1f1a; --line: #1b1f1a; --paper: #fffdf6; --care: #fff1cc; }
* { box-sizing: border-box; }
body { margin: 0; background: #e9e4d6; color: var(--ink); font: 12pt/1.35 system-ui, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif; }
article { background: var(--paper); max-width: 8in; margin: 0.3in auto; padding: 0.45in 0.5in; border: 3px solid var(--line); border-radius: 10px; }
header { display: flex; justify-content: space-between; align-items: flex-end; gap: 1em; border-bottom: 4px solid var(--line); padding-bottom: 0.15in; }
h1 { font-size: 25pt; line-height: 1.05; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 13pt; margin: 0.2in 0 0.06in; }
.when { font-size: 13pt; margin: 0.06in 0 0; }
.grade { text-align: right; white-space: nowrap; }
.grade b { display: block; font-size: 19pt; font-variant-numeric: tabular-nums; }
.grade span, .small { font-size: 9.5pt; color: #4c5348; }
.bar { display: flex; height: 0.3in; margin: 0.18in 0 0; border: 2px solid var(--line); border-radius: 5px; overflow: hidden; }
.bar i { display: block; border-right: 2px solid var(--paper); -webkit-print-color-adjust: exact; print-color-adjust: exact; }
.bar i:last-child { border-right: 0; }
table { width: 100%; border-collapse: collapse; margin-top: 0.1in; }
td { padding: 0.055in 0.08in; border-bottom: 1.5px solid #b9b39f; vertical-align: middle; }
td.box { width: 0.5in; padding-left: 0; }
.tick { display: inline-block; width: 0.3in; height: 0.3in; border: 3px solid var(--line); border-radius: 4px; vertical-align: middle; background: #fff; }
td.weigh { font-size: 27pt; font-weight: 800; line-height: 1; white-space: nowrap; text-align: right; font-variant-numeric: tabular-nums; width: 1%; padding-right: 0.22in; }
td.what { font-size: 15.5pt; font-weight: 600; line-height: 1.1; }
td.what div { display: flex; align-items: center; overflow-wrap: anywhere; }
td.what i { flex: none; width: 0.16in; height: 0.16in; border: 1.5px solid var(--line); border-radius: 3px; margin-right: 0.11in; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
td.loose { text-align: right; white-space: nowrap; font-size: 11pt; width: 1%; color: #3a4037; }
tr.heads td { font-size: 9.5pt; font-weight: 400; color: #4c5348; padding-top: 0; padding-bottom: 0; border-bottom: 0; }
tr.whole td { border-bottom: 0; border-top: 3px solid var(--line); }
.give { display: flex; flex-wrap: wrap; gap: 0.12in; margin: 0.06in 0 0; }
.give div { flex: 1 1 1.4in; border: 2px solid var(--line); border-radius: 7px; padding: 0.07in 0.12in; background: #fff; }
.give span { display: block; font-size: 10pt; color: #4c5348; }
.give b { font-size: 14.5pt; line-height: 1.15; }
.made { display: flex; flex-wrap: wrap; align-items: center; gap: 0.08in 0.16in; margin: 0.08in 0 0; font-size: 12pt; }
.made .one { white-space: nowrap; }
.care { background: var(--care); border: 2px solid var(--line); border-radius: 7px; padding: 0.08in 0.16in; margin-top: 0.2in; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
.care h2 { margin: 0; }
.care ul { margin: 0.04in 0 0; padding-left: 1.1em; font-size: 10.5pt; }
.care li { margin: 0.02in 0; }
footer { display: flex; justify-content: space-between; gap: 1em; margin-top: 0.2in; font-size: 11pt; }
footer .blank { flex: 1; border-bottom: 1.5px solid var(--line); min-width: 1in; margin-left: 0.08in; }
footer span { display: flex; flex: 1; }
@media screen and (max-width: 6in) {
  article { margin: 0; padding: 0.2in; border-width: 0 0 3px; border-radius: 0; }
  h1 { font-size: 19pt; }
  td.weigh { font-size: 20pt; padding-right: 0.12in; }
  td.what { font-size: 13pt; }
  td.loose { white-space: normal; }
}
@page { size: auto; margin: 0.4in; }
@media print {
  body { background: #fff; }
  article { margin: 0; max-width: none; border: 0; border-radius: 0; padding: 0; break-after: page; }
  article:last-child { break-after: auto; }
  tr, .give, .made, .care { break-inside: avoid; }
}
`.trim();

/** The cards as one self-contained page, a card to a sheet. All text is escaped. */
export function cardHtml(solution: Solution): string {
  const cards = cardsOf(solution);
  const articles =
    cards.length === 0
      ? [
          `<article><header><h1>${escapeHtml(solution.plan)}</h1></header><p>Nothing is to be mixed: the needs are met without it.</p></article>`,
        ]
      : cards.map((card) => articleOf(solution, card));
  return htmlPage(`Batch card: ${solution.plan}`, CARD_STYLE, articles);
}

function articleOf(solution: Solution, card: Card): string {
  const { units } = solution;
  const scale = (kg: number) => escapeHtml(scaleWeight(kg, solution.rounding.scaleKg, units));
  const fill = (k: number) => BAR_FILLS[k % BAR_FILLS.length]!;
  const bar = card.lines
    .map(
      (line, k) =>
        `<i style="width:${(line.share * 100).toFixed(3)}%;background:${fill(k)}" title="${escapeHtml(`${line.name} ${percent(line.share)}`)}"></i>`,
    )
    .join("");
  const rows = card.lines.map(
    (line, k) =>
      `<tr><td class="box"><span class="tick"></span></td><td class="weigh">${scale(line.kg)}</td><td class="what"><div><i style="background:${fill(k)}"></i><span>${escapeHtml(line.name)}</span></div></td><td class="loose">${line.mL === null ? "" : escapeHtml(scoop(line.mL, units))}</td></tr>`,
  );
  const { plants } = solution.inputs.bed;
  const bed = plants === undefined ? "" : `, ${counted(plants, "plant")}`;
  return [
    "<article>",
    `<header><div><h1>${escapeHtml(solution.plan)}</h1><p class="when">${escapeHtml(titleOf(card))}</p><p class="small" style="margin:0">${escapeHtml(`${solution.inputs.targetName}${bed}`)}</p></div><div class="grade"><b>${escapeHtml(card.grade)}</b><span>N-P2O5-K2O, %</span></div></header>`,
    `<div class="bar" role="img" aria-label="${escapeHtml(`Shares by weight: ${card.lines.map((line) => `${line.name} ${percent(line.share)}`).join(", ")}`)}">${bar}</div>`,
    '<table><tr class="heads"><td></td><td class="weigh">weigh</td><td></td><td class="loose">or, loose</td></tr>',
    ...rows,
    `<tr class="whole"><td class="box"></td><td class="weigh">${scale(card.kgEach)}</td><td class="what">in one batch</td><td class="loose"></td></tr>`,
    "</table>",
    ...card.applications.map((application) => applicationHtml(solution, application)),
    careHtml(solution),
    '<footer><span>Mixed on<i class="blank"></i></span><span>by<i class="blank"></i></span></footer>',
    "</article>",
  ].join("\n");
}

function applicationHtml(solution: Solution, application: SolutionApplication): string {
  const { count } = application.batches;
  const boxes =
    count > MOST_BOXES
      ? `<span class="one">____ of ${count}</span>`
      : Array.from(
          { length: count },
          (_, k) => `<span class="one"><span class="tick"></span> ${k + 1}</span>`,
        ).join("");
  const give = measuresOf(solution, application)
    .map(([label, amount]) => `<div><span>${escapeHtml(label)}</span><b>${escapeHtml(amount)}</b></div>`)
    .join("");
  return [
    `<h2>${escapeHtml(`${whenWords(application)}: make ${batchWord(count)}`)}</h2>`,
    `<div class="give">${give}</div>`,
    `<div class="made"><span>Made:</span>${boxes}</div>`,
  ].join("\n");
}

function careHtml(solution: Solution): string {
  const cautions = cautionsOf(solution);
  if (cautions.length === 0) return "";
  const items = cautions.map((caution) => `<li>${escapeHtml(caution.text)}</li>`).join("");
  return `<div class="care"><h2>Take care</h2><ul>${items}</ul></div>`;
}
