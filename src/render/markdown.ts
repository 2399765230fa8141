/** A report as Markdown with pipe tables. Names are escaped, so that no text of the user's becomes markup. */
import { type Block, type Cell, partsOf, type Report, type Table } from "../report/report.ts";
import { withCommands } from "./escape.ts";
import { plainReport } from "./plain.ts";
import { chartLines } from "./text-chart.ts";

/** Signs of a chart in a line; mails are seldom wider. */
const CHART_WIDTH = 72;

/** Renders a report as one Markdown document, ending with a line break. */
export function renderMarkdown(raw: Report): string {
  const report = plainReport(raw);
  const parts = partsOf(report).flatMap(({ title, blocks }) => [
    ...(title === undefined ? [] : [`## ${escapeMarkdown(title)}`]),
    ...blocks.map(renderBlock),
  ]);
  return `${[`# ${escapeMarkdown(report.title)}`, ...parts].join("\n\n")}\n`;
}

function renderBlock(block: Block): string {
  switch (block.kind) {
    case "text": {
      const text = escapeStart(markdownText(block.text));
      return block.tone === "strong" || block.tone === "bad" ? `**${text}**` : text;
    }
    case "list":
      return block.items.map((item) => `- ${escapeStart(markdownText(item))}`).join("\n");
    case "table":
      return renderTable(block.table);
    case "chart":
      return drawn([block.chart.title, ...chartLines(block.chart, CHART_WIDTH, false)]);
  }
}

/** Lines in which every sign keeps its place. */
function drawn(lines: readonly string[]): string {
  return ["```text", ...lines.map((line) => line.replaceAll("`", "'")), "```"].join("\n");
}

function renderTable({ columns, rows, total = [] }: Table): string {
  const line = (fields: readonly string[]) => `| ${fields.join(" | ")} |`;
  const texts = (cells: readonly Cell[]) => columns.map((_, i) => escapeMarkdown(cells[i]?.text ?? ""));
  const lines = [
    columns.map(({ head }) => escapeMarkdown(head)),
    columns.map(({ align }) => (align === "right" ? "---:" : "---")),
    ...rows.map(texts),
    ...(total.length > 0 ? [texts(total).map((text) => (text === "" ? "" : `**${text}**`))] : []),
  ];
  return lines.map(line).join("\n");
}

/** Marks that Markdown would act upon anywhere in a line get a backslash. */
function escapeMarkdown(text: string): string {
  return escapeInside(text.trim());
}

/** The same for a part of a line: the spaces about it are kept. */
function escapeInside(text: string): string {
  return text
    .replace(/[\\`*_[\]|~]/g, "\\$&")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;");
}

/** Text of a paragraph, in which commands are code. */
function markdownText(text: string): string {
  return withCommands(text.trim(), escapeInside, (command) => `\`${command}\``);
}

/** Marks that Markdown acts upon at the start of a paragraph: headings, lists, numbered lists. */
function escapeStart(text: string): string {
  return text.replace(/^([#+-]+)(?=\s|$)/, "\\$1").replace(/^(\d+)([.)])(?=\s|$)/, "$1\\$2");
}
