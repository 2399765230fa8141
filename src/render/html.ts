/**
 * A report as one self-contained HTML page: no script, no outside file, made to be printed. All text is escaped.
 */
import { plainText } from "../plain-text.ts";
import type { Block, Cell, Report, Table, Tone } from "../report/report.ts";

const STYLE = `
body { font: 11pt/1.4 system-ui, sans-serif; color: #111; background: #fff; max-width: 48em; margin: 1.5em auto; padding: 0 1em; }
h1 { font-size: 1.5em; margin: 0 0 0.5em; }
h2 { font-size: 1.15em; margin: 1.4em 0 0.4em; border-bottom: 1px solid #999; }
table { border-collapse: collapse; margin: 0.6em 0; width: 100%; }
th, td { padding: 0.25em 0.6em; text-align: left; vertical-align: top; border-bottom: 1px solid #ccc; overflow-wrap: break-word; }
th { border-bottom: 2px solid #333; vertical-align: bottom; }
tfoot td { border-top: 2px solid #333; border-bottom: 0; font-weight: bold; }
.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
th.number { white-space: normal; }
.strong, .bad { font-weight: bold; }
.bad { color: #a00; }
.good { color: #060; }
.faint { color: #555; }
@media print {
  body { margin: 0; max-width: none; font-size: 10pt; }
  table, li { break-inside: avoid; }
  h2 { break-after: avoid; }
  .bad, .good, .faint { color: #000; }
}
`.trim();

/** Renders a report as a whole HTML page. */
export function renderHtml(report: Report): string {
  const parts = [`<h1>${escapeHtml(report.title)}</h1>`, ...(report.summary ?? []).map(renderBlock)];
  for (const section of report.sections) {
    parts.push("<section>", `<h2>${escapeHtml(section.title)}</h2>`);
    parts.push(...section.blocks.map(renderBlock), "</section>");
  }
  parts.push(...(report.closing ?? []).map(renderBlock));
  return htmlPage(report.title, STYLE, parts);
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

/** Text as it may stand in an element or in a quoted attribute, on one line. */
export function escapeHtml(text: string): string {
  return plainText(text)
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll("'", "&#39;");
}

function renderBlock(block: Block): string {
  switch (block.kind) {
    case "text":
      return `<p${classes(block.tone)}>${escapeHtml(block.text)}</p>`;
    case "list":
      return [
        `<ul${classes(block.tone)}>`,
        ...block.items.map((item) => `<li>${escapeHtml(item)}</li>`),
        "</ul>",
      ].join("\n");
    case "table":
      return renderTable(block.table);
    case "drawing":
      return `<pre>${block.lines.map(escapeHtml).join("\n")}</pre>`;
  }
}

function classes(tone: Tone | undefined, number = false): string {
  const names = [number ? "number" : "", tone && tone !== "plain" ? tone : ""].filter((name) => name !== "");
  return names.length === 0 ? "" : ` class="${names.join(" ")}"`;
}

function renderTable(table: Table): string {
  const right = (i: number) => table.columns[i]!.align === "right";
  const row = (cells: readonly Cell[]) =>
    `<tr>${table.columns
      .map((_, i) => `<td${classes(cells[i]?.tone, right(i))}>${escapeHtml(cells[i]?.text ?? "")}</td>`)
      .join("")}</tr>`;
  const head = table.columns
    .map((column, i) => `<th scope="col"${classes(undefined, right(i))}>${escapeHtml(column.head)}</th>`)
    .join("");
  const lines = ["<table>", `<thead><tr>${head}</tr></thead>`, "<tbody>", ...table.rows.map(row), "</tbody>"];
  if (table.total) lines.push(`<tfoot>${row(table.total)}</tfoot>`);
  return [...lines, "</table>"].join("\n");
}
