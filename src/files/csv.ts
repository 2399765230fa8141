/** CSV as spreadsheets write it, to cells with their places. */

/** One cell: what it says without the blanks around it, and where it begins. Lines and columns count from 1. */
export interface CsvCell {
  readonly text: string;
  readonly line: number;
  readonly column: number;
}

/** What may part the cells of a row. */
export const SEPARATORS = [",", ";", "\t", "|"] as const;
export type Separator = (typeof SEPARATORS)[number];

/** The rows of a list. */
export interface Rows {
  /** Without rows that are blank. */
  readonly rows: readonly (readonly CsvCell[])[];
  /** The first cell with a quote that is never closed. */
  readonly unclosed: CsvCell | undefined;
}

/** The lines of a text, however they end, without the mark that some programs put at the front. */
export function linesOf(content: string): readonly string[] {
  return content.replace(/^\uFEFF/, "").split(/\r\n|\r|\n/);
}

/**
 * Splits CSV as RFC 4180 describes it: quotes around cells, doubled inside; rows end with a line. Blank rows are dropped.
 * @param lines of the text; columns count in characters of these.
 */
export function rowsOf(lines: readonly string[], separator: Separator): Rows {
  const text = lines.join("\n");
  const end = separator === "|" ? "\\|" : separator;
  // What is in quotes, the closing one, what is not in quotes, and the sign that ends the cell.
  const cell = new RegExp(`(?: *"([^"]*(?:""[^"]*)*)("?))?([^${end}\\n]*)(${end}|\\n|$)`, "y");
  const rows: CsvCell[][] = [];
  let row: CsvCell[] = [];
  let line = 1;
  let lineStart = 0;
  let unclosed: CsvCell | undefined;
  for (;;) {
    const start = cell.lastIndex;
    const [whole, quoted = "", closing, bare = "", after] = cell.exec(text)!;
    const found: CsvCell = {
      text: trimmed(`${quoted.replaceAll('""', '"')}${bare}`),
      line,
      column: start - lineStart + 1,
    };
    if (closing === "") unclosed ??= found;
    row.push(found);
    if (whole.includes("\n")) {
      line += whole.split("\n").length - 1;
      lineStart = start + whole.lastIndexOf("\n") + 1;
    }
    if (after === separator) continue;
    if (row.some((one) => one.text !== "")) rows.push(row);
    if (after === "") return { rows, unclosed };
    row = [];
  }
}

/** A text without blanks around it, and with plain ones inside: spreadsheets write some that do not break. */
function trimmed(text: string): string {
  return text.replace(/\s+/g, " ").trim();
}
