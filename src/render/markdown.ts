/** A report as Markdown with pipe tables. Names are escaped, so that no text of the user's becomes markup. */
import type { Block, Report, Table } from "../report/report.ts";
import { withCommands } from "./escape.ts";
import { plainReport } from "./plain.ts";
import { chartLines } from "./text-chart.ts";

/** Signs of a chart in a line; mails are seldom wider. */
const CHART_WIDTH = 72;

/** Renders a report as one Markdown document, ending with a line break. */
export function renderMarkdown(raw: Report): string {
  const report = plainReport(raw);
  const parts = [`# ${escapeMarkdown(report.title)}`, ...(report.summary ?? []).map(renderBlock)];
  for (const section of report.sections)
    parts.push(`## ${escapeMarkdown(section.title)}`, ...section.blocks.map(renderBlock));
  parts.push(...(report.closing ?? []).map(renderBlock));
  return `${parts.join("\n\n")}\n`;
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
      return ["```text", block.chart.title, ...chartLines(block.chart, CHART_WIDTH, false), "```"]
        .map((line, k, all) => (k === 0 || k === all.length - 1 ? line : line.replaceAll("`", "'")))
        .join("\n");
    case "drawing":
      return ["```text", ...block.lines.map((line) => line.replaceAll("`", "'")), "```"].join("\n");
  }
}

function renderTable(table: Table): string {
  const line = (fields: readonly string[]) => `| ${fields.join(" | ")} |`;
  const lines = [
    line(table.columns.map((column) => escapeMarkdown(column.head))),
    line(table.columns.map((column) => (column.align === "right" ? "---:" : "---"))),
    ...table.rows.map((row) => line(table.columns.map((_, i) => escapeMarkdown(row[i]?.text ?? "")))),
  ];
  if (table.total)
    lines.push(
      line(
        table.columns.map((_, i) => {
          const text = escapeMarkdown(table.total?.[i]?.text ?? "");
          return text === "" ? "" : `**${text}**`;
        }),
      ),
    );
  return lines.join("\n");
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
