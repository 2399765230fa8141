/**
 * The table of a report as CSV (RFC 4180): a header line, commas, CRLF, quotes doubled.
 *
 * A text cell that a spreadsheet would run as a formula (it begins with `=`, `+`, `-` or `@`, also in full width or after spaces) gets a leading apostrophe. Numbers are never touched.
 */

import { type Cell, partsOf, type Report, type Table } from "../report/report.ts";
import { plainNumber } from "../words/numbers.ts";
import { plainReport } from "./plain.ts";

/** Renders the CSV table of a report, else its first table; an empty text where there is none. */
export function renderCsv(report: Report): string {
  const plain = plainReport(report);
  const blocks = partsOf(plain).flatMap((part) => part.blocks);
  const table = plain.csv ?? blocks.find((block) => block.kind === "table")?.table;
  return table ? csvTable(table) : "";
}

function csvTable(table: Table): string {
  const lines = [
    table.columns.map((column) => csvText(column.csv)),
    ...table.rows.map((row) => table.columns.map((_, i) => csvCell(row[i]))),
  ];
  return lines.map((fields) => `${fields.join(",")}\r\n`).join("");
}

function csvCell(cell: Cell | undefined): string {
  if (cell === undefined) return "";
  return cell.raw === undefined ? csvText(cell.text) : plainNumber(cell.raw);
}

/** What a spreadsheet may run: the plain signs, and those that it reads as them. */
const FORMULA = /^[\s\u200b\ufeff]*[=+\-@＝＋－＠﹢﹣﹦﹫−]/;

function csvText(text: string): string {
  const safe = FORMULA.test(text) ? `'${text}` : text;
  return /[",]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
