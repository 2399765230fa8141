/**
 * A report as one self-contained HTML page: no script, no outside file, made to be printed. All text is escaped.
 */
import { type Block, type Cell, partsOf, type Report, type Table, type Tone } from "../report/report.ts";
import { escapeHtml, textHtml } from "./escape.ts";
import { CHART_STYLE, chartSvg } from "./svg-chart.ts";

const STYLE = `
body { font: 11pt/1.4 system-ui, sans-serif; color: #111; background: #fff; max-width: 48em; margin: 1.5em auto; padding: 0 1em; }
h1 { font-size: 1.5em; margin: 0 0 0.5em; }
h2 { font-size: 1.15em; margin: 1.4em 0 0.4em; border-bottom: 1px solid #999; }
table { border-collapse: collapse; margin: 0.6em 0; width: 100%; }
th, td { padding: 0.25em 0.6em; text-align: left; vertical-align: top; border-bottom: 1px solid #ccc; overflow-wrap: break-word; }
thead th { border-bottom: 2px solid #333; vertical-align: bottom; }
tbody th { font-weight: inherit; }
.whole { white-space: nowrap; }
tfoot td, tfoot th { border-top: 2px solid #333; border-bottom: 0; font-weight: bold; }
.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
th.number { white-space: normal; }
code { overflow-wrap: anywhere; }
.strong, .bad { font-weight: bold; }
.bad { color: #a00; }
.good { color: #060; }
.faint { color: #555; }
${CHART_STYLE}
.chart { display: inline-block; width: 49%; vertical-align: top; }
@media screen and (max-width: 600px) {
  body { margin: 0.8em auto; padding: 0 0.7em; display: flex; flex-direction: column; }
  section, section ~ p { order: 2; }
  .mix, .into, .give { order: 0; }
  .buy { order: 1; }
  .wide thead { display: none; }
  .wide, .wide tbody, .wide tfoot, .wide td, .wide th { display: block; width: auto; }
  .wide tr { display: flex; flex-direction: column; }
  .wide tr { border-bottom: 1px solid #999; padding: 0.3em 0; }
  .wide td { border: 0; padding: 0.05em 0; text-align: right; white-space: normal; }
  .wide th { border: 0; padding: 0.05em 0; order: -1; text-align: left; font-weight: bold; }
  .wide td[data-head]::before { content: attr(data-head); float: left; padding-right: 1em; font-weight: normal; color: #555; }
  .wide td:empty { display: none; }
  .wide tfoot tr { border-top: 2px solid #333; border-bottom: 0; }
  .chart { width: 100%; }
  pre { overflow-x: auto; font-size: min(1em, 2.4vw); }
}
@media print {
  body { margin: 0; max-width: none; font-size: 10pt; }
  table, li, section:has(.chart) { break-inside: avoid; }
  h2 { break-after: avoid; }
  .bad, .good, .faint { color: #000; }
}
`.trim();

/** What is done: on a phone, in the shed, what is mixed and given comes before what was bought. */
const KINDS = /^(Mix|Into|Give|Buy)\b/;

/** Columns that a phone shows side by side. */
const NARROW = 3;

/** Renders a report as a whole HTML page. */
export function renderHtml(report: Report): string {
  const parts = partsOf(report).flatMap(({ title, blocks }) => {
    const body = blocks.map(renderBlock);
    if (title === undefined) return body;
    const kind = KINDS.exec(title)?.[1]?.toLowerCase();
    return [
      kind === undefined ? "<section>" : `<section class="${kind}">`,
      `<h2>${escapeHtml(title)}</h2>`,
      ...body,
      "</section>",
    ];
  });
  return htmlPage(report.title, STYLE, [`<h1>${escapeHtml(report.title)}</h1>`, ...parts]);
}

/**
 * A whole page with its style inside it.
 * @param title plain text; `body` is HTML, escaped already.
 */
export function htmlPage(title: string, style: string, body: readonly string[]): string {
  return [
    "<!doctype html>",
    '<html lang="en">',
    "<head>",
    '<meta charset="utf-8">',
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${escapeHtml(title)}</title>`,
    `<style>\n${style}\n</style>`,
    "</head>",
    "<body>",
    ...body,
    "</body>",
    "</html>",
    "",
  ].join("\n");
}

function renderBlock(block: Block): string {
  switch (block.kind) {
    case "text":
      return `<p${classes(block.tone)}>${textHtml(block.text)}</p>`;
    case "list":
      return [
        `<ul${classes(block.tone)}>`,
        ...block.items.map((item) => `<li>${textHtml(item)}</li>`),
        "</ul>",
      ].join("\n");
    case "table":
      return renderTable(block.table);
    case "chart":
      return chartSvg(block.chart);
  }
}

function classes(tone: Tone | undefined, number = false): string {
  const names = [number ? "number" : "", tone && tone !== "plain" ? tone : ""].filter((name) => name !== "");
  return names.length === 0 ? "" : ` class="${names.join(" ")}"`;
}

function renderTable(table: Table): string {
  const right = (i: number) => table.columns[i]!.align === "right";
  const wide = table.columns.length > NARROW;
  const named = table.columns.findIndex(({ csv }) => csv === "material");
  /** The column that a row is called by: what it is of, else the first of text. */
  const caller = named >= 0 ? named : table.columns.findIndex(({ align }) => align === "left");
  /** On a narrow screen a wide table is read row by row, each cell with its head before it; a name needs none. */
  const head = (i: number) =>
    wide && i !== caller ? ` data-head="${escapeHtml(table.columns[i]!.head)}"` : "";
  const row = (cells: readonly Cell[]) =>
    `<tr>${table.columns
      .map((_, i) =>
        i === caller
          ? `<th scope="row"${classes(cells[i]?.tone, right(i))}>${escapeHtml(cells[i]?.text ?? "")}</th>`
          : `<td${classes(cells[i]?.tone, right(i))}${head(i)}>${escapeHtml(cells[i]?.text ?? "")}</td>`,
      )
      .join("")}</tr>`;
  const heads = table.columns
    .map((column, i) => `<th scope="col"${classes(undefined, right(i))}>${escapeHtml(column.head)}</th>`)
    .join("");
  const lines = [
    wide ? '<table class="wide">' : "<table>",
    `<thead><tr>${heads}</tr></thead>`,
    "<tbody>",
    ...table.rows.map(row),
    "</tbody>",
  ];
  if (table.total) lines.push(`<tfoot>${row(table.total)}</tfoot>`);
  return [...lines, "</table>"].join("\n");
}
