/**
 * Cards as one self-contained page, a mix to a sheet of Letter or A4 across: as large as the sheet has room for, black
 * on white, with boxes to tick and room to sign. All text is escaped.
 */
import { MOST_BOXES, NOTHING_TO_MIX } from "../report/card-report.ts";
import type { Card, CardSheet, Given } from "../report/card-sheet.ts";
import { escapeHtml, textHtml } from "./escape.ts";
import { htmlPage } from "./html.ts";
import { boldWidth } from "./letter-widths.ts";

const STYLE = `
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #000; font: 12pt/1.15 Arial, "Liberation Sans", Helvetica, sans-serif; }
article { max-width: 740pt; margin: 14pt auto; }
h1 { font-size: 24pt; line-height: 1.1; margin: 0; overflow-wrap: anywhere; }
.weight { font-size: 24pt; font-weight: 700; margin: 0; }
table { width: 100%; border-collapse: collapse; }
td, th { padding: 2pt 0; vertical-align: top; text-align: left; font-weight: 700; }
.weights tr { border-top: 1pt solid #000; }
.weights td { font-size: var(--size); line-height: 1.05; width: 1%; padding-right: 12pt; text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.weights th { font-size: var(--loose); line-height: 1.1; }
.name { font-size: var(--size); line-height: 1.05; }
.loose { font-weight: 400; white-space: nowrap; margin-right: 12pt; }
.boxes { display: inline-block; font-size: 24pt; line-height: 1; vertical-align: bottom; }
.box { display: inline-block; width: 24pt; height: 24pt; border: 2pt solid #000; margin: 2pt 6pt 2pt 0; font: 11pt/11pt Arial, sans-serif; padding: 1pt 2pt; vertical-align: top; }
.rounds { border-top: 3pt solid #000; font-size: var(--given); line-height: 1.1; }
.rounds thead th { font-size: 11pt; padding: 1pt 0 0; }
.rounds td, .rounds th { padding: 1pt 12pt 0 0; }
.rounds tbody { border-top: 1pt solid #000; break-inside: avoid; }
.signs { display: flex; flex-wrap: wrap; column-gap: 16pt; }
.sign { flex: 1 0 40%; white-space: nowrap; }
.lines { display: flex; gap: 6pt; height: var(--sign); }
.lines span { flex: 1; border-bottom: 1pt solid #000; font: 10pt/10pt Arial, sans-serif; padding-top: 3pt; }
.care { font-size: 12pt; margin: 4pt 0 0; padding: 3pt 0 0 14pt; border-top: 1pt solid #000; }
.hidden { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; white-space: nowrap; }
@media screen and (max-width: 740pt) {
  article { margin: 8pt; --size: 18pt !important; --loose: 14pt !important; }
  h1, .weight, .rounds { font-size: 16pt; }
  .rounds, .rounds tr, .rounds td, .rounds th, .rounds tbody { display: block; }
  .rounds thead { display: none; }
  .rounds [data-head]::before { content: attr(data-head) ": "; font-weight: 400; }
  .sign { flex: 1 0 100%; }
}
@page { size: landscape; margin: 25pt; }
@media print {
  article { margin: 0; max-width: none; break-after: page; }
  article:last-child { break-after: auto; }
}
`.trim();

/** Sizes of what is weighed and of its loose measure, points: the largest that leaves the sheet whole. */
const SIZES: readonly (readonly [size: number, loose: number])[] = [
  [40, 40],
  [40, 28],
  [40, 24],
  [36, 24],
  [32, 24],
  [28, 24],
  [24, 24],
];
/** What Letter and A4 across both have room for, points; a little is left to fonts that are wider. */
const SHEET = { width: 725, height: 530 };
/** So large are the heads of sheets, and what one bed is given; a table of beds is smaller. */
const HEAD = 24;
const LARGE = { size: 24, sign: 25 };
const SMALL = { size: 15, sign: 20 };
const RULE = 5;
const LINE = 1.1 * HEAD;
/** Heads of the table of what is given. */
const HEADS = 18;
/** Places to sign side by side. */
const SIGNS = 2;

/** In how many lines words are set that may be parted, each of a width. */
function linesOf(widths: readonly number[], gap: number, room: number): number {
  let lines = 1;
  let used = 0;
  for (const width of widths) {
    if (used > 0 && used + gap + width > room) {
      lines++;
      used = 0;
    }
    used += (used > 0 ? gap : 0) + width;
  }
  return lines;
}

const textLines = (text: string, size: number): number =>
  linesOf(
    text.split(" ").map((word) => boldWidth(word, size)),
    boldWidth(" ", size),
    SHEET.width,
  );

/** How high what is weighed is at a size. */
function weightsHeight({ mix: { weights, batches } }: CardSheet, [size, loose]: readonly [number, number]) {
  const room = SHEET.width - 14 - Math.max(0, ...weights.map(({ text }) => boldWidth(text, size)));
  const boxes = batches > MOST_BOXES ? 4 * loose : batches * BOX.width;
  return weights.reduce((sum, { name, loose: about, once }) => {
    const words = name.split(" ").map((word) => boldWidth(word, size));
    const beside = [
      ...(about === null ? [] : [boldWidth(aboutWords(about), loose) + 12]),
      ...(once ? [...ONCE.split(" ").map((word) => boldWidth(word, loose)), BOX.width] : [boxes]),
    ];
    const named = linesOf(words, boldWidth(" ", size), room);
    const all = linesOf([...words, ...beside], boldWidth(" ", size), room);
    return sum + named * 1.08 * size + (all - named) * Math.max(1.1 * loose, BOX.height) + RULE;
  }, RULE);
}

/** A box to tick, with the room beside it. */
const BOX = { width: 30, height: 28 };
const ONCE = "once for all batches, shared out by eye";
const aboutWords = (loose: string): string => `about ${loose}`;

/** How high what is given is: a line, the names of its rounds where there are several, places to sign. */
function givenHeight({ whens }: Given, { size, sign }: typeof LARGE): number {
  const rows = Math.ceil(whens.length / SIGNS);
  return 1.1 * size + RULE + rows * (sign + (whens.length > 1 ? 1.1 * size : 0));
}

/** The cards of an answer as a whole HTML page. */
export function renderCardHtml(card: Card): string {
  const articles =
    card.sheets.length === 0
      ? [`<article><h1>${escapeHtml(card.name)}</h1><p>${NOTHING_TO_MIX}</p></article>`]
      : card.sheets.flatMap((sheet) => articlesOf(card, sheet));
  return htmlPage(`Batch card: ${card.name}`, STYLE, articles);
}

/** A mix on one sheet; where its rounds have no room there, they follow on sheets of their own. */
function articlesOf({ byWeight, unit }: Card, sheet: CardSheet): string[] {
  const { given, takeCare, named } = sheet;
  const sizes = named ? SMALL : LARGE;
  const title = `${sheet.name}: ${sheet.heading}`;
  const care = takeCare.reduce((sum, text) => sum + 14 * textLines(text, 11.5), 10);
  const head = textLines(title, HEAD) * LINE;
  const room = SHEET.height - head - care - (byWeight ? LINE : 0);
  const rounds = given.reduce((sum, one) => sum + givenHeight(one, sizes), HEADS);
  const fits = (height: number) => SIZES.find((weights) => weightsHeight(sheet, weights) <= height);
  const whole = fits(room - rounds);
  const [size, loose] = whole ?? fits(room) ?? SIZES.at(-1)!;
  const opening = [
    `<article style="--size:${size}pt;--loose:${loose}pt;${givenStyle(sizes)}">`,
    `<h1>${kept(title)}</h1>`,
    byWeight ? '<p class="weight">BY WEIGHT: not the mix of whole bags that are bought.</p>' : "",
    weightsTable(sheet),
  ];
  const closing = [careList(takeCare), "</article>"];
  if (whole) return [[...opening, roundsTable(given, sheet, unit), ...closing].join("\n")];
  return [
    [...opening, ...closing].join("\n"),
    ...sheetsOf(given, sizes).map((own) =>
      [
        `<article style="${givenStyle(sizes)}">`,
        `<h1>${kept(`${sheet.name}: give`)}</h1>`,
        roundsTable(own, sheet, unit),
        "</article>",
      ].join("\n"),
    ),
  ];
}

const givenStyle = ({ size, sign }: typeof LARGE): string => `--given:${size}pt;--sign:${sign}pt`;

/** What is given, as much of it on a sheet as has room. */
function sheetsOf(given: readonly Given[], sizes: typeof LARGE): Given[][] {
  const sheets: Given[][] = [];
  let left = 0;
  for (const one of given) {
    const height = givenHeight(one, sizes);
    if (height > left) {
      sheets.push([]);
      left = SHEET.height - LINE - HEADS;
    }
    sheets.at(-1)!.push(one);
    left -= height;
  }
  return sheets;
}

function weightsTable({ mix: { weights, batches } }: CardSheet): string {
  return [
    '<table class="weights">',
    '<thead class="hidden"><tr><th scope="col">Into each batch</th><th scope="col">Material, about how much of it loose, a box for each batch</th></tr></thead>',
    ...weights.map(({ text, name, loose, once }) => {
      const about = loose === null ? "" : `<span class="loose">${escapeHtml(aboutWords(loose))}</span> `;
      const boxes = once ? `${ONCE} ${boxesOf(1)}` : boxesOf(batches);
      return `<tr><td>${unbroken(text)}</td><th scope="row"><span class="name">${escapeHtml(name)}</span> ${about}${boxes}</th></tr>`;
    }),
    "</table>",
  ].join("\n");
}

function boxesOf(count: number): string {
  if (count > MOST_BOXES) return `____ of ${count}`;
  const boxes = Array.from(
    { length: count },
    (_, k) => `<span class="box">${count === 1 ? "" : k + 1}</span>`,
  );
  return `<span class="boxes">${boxes.join("")}</span>`;
}

function roundsTable(given: readonly Given[], { named }: CardSheet, unit: Card["unit"]): string {
  return [
    '<table class="rounds">',
    `<thead><tr><th scope="col">${named ? "Bed" : "Give"}</th><th scope="col">${escapeHtml(given[0]?.each ?? "")}</th><th scope="col">Take of the mix, each time</th></tr></thead>`,
    ...given.map(({ bed, whens, dose, take, each }) => {
      const [when] = whens;
      const several = whens.length > 1;
      const label = [...(named ? [bed] : []), ...(several ? (named ? [] : ["each time"]) : [when!])].join(
        ", ",
      );
      const other = each === given[0]!.each ? "" : `${each}: `.toLowerCase();
      const signs = whens.map(
        (day) =>
          `<div class="sign">${several ? unbroken(day) : ""}<div class="lines"><span>spread on</span><span>${unit} spread</span><span>by</span><span>bag lots</span></div></div>`,
      );
      return `<tbody><tr><th scope="row">${kept(label)}</th><td data-head="${escapeHtml(each)}">${unbroken(other + dose)}</td><td data-head="Take">${unbroken(take)}</td></tr><tr><td colspan="3"><div class="signs">${signs.join("")}</div></td></tr></tbody>`;
    }),
    "</table>",
  ].join("\n");
}

/** An amount as HTML, broken only between its parts: `3 1/2 tbsp` and `(36 g)`. */
function unbroken(amount: string): string {
  return escapeHtml(amount).replace(/(?<![+,]) (?![(+])/g, "&nbsp;");
}

/** Text as HTML in which `May 15`, `day 24` and `48.1 lb` stay on one line. */
function kept(text: string): string {
  return escapeHtml(text).replace(/(?<=\bday|\b[A-Z][a-z]{2}) (?=\d)|(?<=\d) (?=[a-zA-Z]{1,2}\b)/g, "&nbsp;");
}

function careList(takeCare: readonly string[]): string {
  return takeCare.length === 0
    ? ""
    : `<ul class="care">${takeCare.map((text) => `<li>${textHtml(text)}</li>`).join("")}</ul>`;
}
