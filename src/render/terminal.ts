/**
 * A report as text for a terminal or a pipe: never wider than asked, long names wrapped inside their column.
 * The one place that knows cli-table3, chalk and string-width.
 */
import { Chalk } from "chalk";
import CliTable3 from "cli-table3";
import stringWidth from "string-width";
import { plainText } from "../plain-text.ts";
import { type Block, type Cell, partsOf, type Report, type Table, type Tone } from "../report/report.ts";
import { plainReport } from "./plain.ts";
import { chartLines } from "./text-chart.ts";

/** Of a screen: 40 or more. */
export type Columns = number;

export interface TerminalOptions {
  /** To fill at most. */
  readonly width: Columns;
  readonly colour: boolean;
  /** Draw charts in ASCII alone; absent: with shades and dots. */
  readonly ascii?: boolean;
}

const INDENT = "  ";
const GAP = 2;
/** A column of text is not squeezed below this before numbers are parted from their units. */
const LEAST_TEXT = 12;
const LEAST_ANY = 4;

/** Screen columns that a text takes; wide letters and emoji take two. */
function screenWidth(text: string): number {
  // Plain ASCII is the usual case, and the general answer is slow to start.
  return /^[\x20-\x7e]*$/.test(text) ? text.length : stringWidth(text);
}

/** Where a line may break: at blanks, but not within `May 15`, `day 24` or `--sure 90%`. */
const BREAK = /(?<!\b[A-Z][a-z]{2}|\bday|--[a-z-]+) | (?!\d)/;
/** Nor within what is quoted to be typed. */
const OUTSIDE = / (?=(?:[^`]*`[^`]*`)*[^`]*$)/;

/** The parts of a text that keep together on lines of a width. */
function unbroken(text: string, width: number): string[] {
  const parts = text.includes("`") ? text.split(OUTSIDE) : [text];
  return parts
    .flatMap((part) => (part.startsWith("`") && screenWidth(part) <= width ? [part] : part.split(BREAK)))
    .filter((part) => part !== "");
}

/** Lines of at most `width` screen columns, broken between words, inside a word only where it does not fit alone. */
export function wrap(text: string, width: number): string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of unbroken(plainText(text), width)) {
    const joined = line === "" ? word : `${line} ${word}`;
    if (screenWidth(joined) <= width) {
      line = joined;
      continue;
    }
    if (line !== "") lines.push(line);
    const pieces = splitWord(word, width);
    lines.push(...pieces.slice(0, -1));
    line = pieces.at(-1) ?? "";
  }
  if (line !== "" || lines.length === 0) lines.push(line);
  return lines;
}

function splitWord(word: string, width: number): string[] {
  if (screenWidth(word) <= width) return [word];
  const pieces: string[] = [];
  let piece = "";
  for (const letter of word) {
    if (piece !== "" && screenWidth(piece + letter) > width) {
      pieces.push(piece);
      piece = "";
    }
    piece += letter;
  }
  return [...pieces, piece];
}

/** Renders a report as lines of at most `options.width` screen columns, ending with a line break. */
export function renderTerminal(raw: Report, options: TerminalOptions): string {
  const report = plainReport(raw);
  const paint = painter(options.colour);
  const heading = (text: string) => wrap(text, options.width).map((line) => paint(line, "strong"));
  const lines = heading(report.title);
  for (const { title, blocks } of partsOf(report)) {
    const titled = title === undefined ? null : underTitle(title, blocks[0], options.width, paint);
    lines.push("", ...(titled ?? (title === undefined ? [] : heading(title))));
    blocks.forEach((block, index) => {
      if (index === 0 && titled) return;
      if (index > 0 && (block.kind === "table" || blocks[index - 1]!.kind === "table")) lines.push("");
      for (const line of renderBlock(block, options.width - INDENT.length, paint, options.ascii === true))
        lines.push(line === "" ? "" : INDENT + line);
    });
  }
  return `${lines.join("\n")}\n`;
}

/**
 * A table whose first columns need no head, with the title of its section where their heads would be, and no rules; null
 * where the title is too long for that.
 */
function underTitle(title: string, block: Block | undefined, width: number, paint: Paint): string[] | null {
  if (block?.kind !== "table" || !block.table.columns[0]?.plain) return null;
  const [heads, ...rows] = renderTable(block.table, width - INDENT.length, painter(false), true);
  const lead = /^ */.exec(heads!)![0].length;
  const room = heads!.trim() === "" ? width : lead + INDENT.length - 1;
  if (screenWidth(title) > room) return null;
  const head = `${title}${" ".repeat(Math.max(0, lead + INDENT.length - screenWidth(title)))}${heads!.trim()}`;
  const total = block.table.total ? rows.length - 1 : -1;
  return [
    paint(head.trimEnd(), "strong"),
    ...rows.map((line, k) => paint(INDENT + line, k === total ? "strong" : undefined)),
  ];
}

type Paint = (text: string, tone?: Tone) => string;

function painter(colour: boolean): Paint {
  const chalk = new Chalk({ level: colour ? 1 : 0 });
  const styles: Readonly<Record<Tone, (text: string) => string>> = {
    plain: (text) => text,
    strong: chalk.bold,
    good: chalk.green,
    bad: chalk.red.bold,
    faint: chalk.dim,
  };
  return (text, tone = "plain") => styles[tone](text);
}

function renderBlock(block: Block, width: number, paint: Paint, ascii: boolean): string[] {
  switch (block.kind) {
    case "text":
      return wrap(block.text, width).map((line) => paint(line, block.tone));
    case "list":
      return block.items.flatMap((item) =>
        wrap(item, width - 2).map((line, index) => paint(`${index === 0 ? "- " : "  "}${line}`, block.tone)),
      );
    case "table":
      return renderTable(block.table, width, paint);
    case "chart":
      return ["", paint(block.chart.title, "strong"), ...chartLines(block.chart, width, ascii)];
  }
}

/**
 * Screen columns between two of the table's, and the widths of these: what the cells need; too wide, headers are wrapped
 * first, then texts between words, the wide ones before the narrow, then texts, then anything.
 */
function layOut({ columns, rows, total }: Table, width: number) {
  const all = [...rows, total ?? []];
  const longestWord = (text: string) => Math.max(0, ...text.split(BREAK).map(screenWidth));
  /** The most that a text of each column takes. */
  const most = (measure: (text: string) => number) =>
    columns.map((_, i) => Math.max(0, ...all.map((row) => measure(row[i]?.text ?? ""))));
  const body = most(screenWidth);
  const unbroken = most(longestWord).map((word, i) => Math.max(word, longestWord(columns[i]!.head)));
  const gaps = columns.length - 1;
  const gap = sum(unbroken) + GAP * gaps <= width ? GAP : 1;
  const widths = columns.map(({ head }, i) => Math.max(body[i]!, screenWidth(head), 1));
  /** The least width of a column of text; other columns keep theirs. */
  const ofText = (least: (i: number) => number) => (i: number) =>
    columns[i]!.align === "left" ? least(i) : widths[i]!;
  const floors: readonly ((i: number) => number)[] = [
    (i) => Math.max(body[i]!, longestWord(columns[i]!.head)),
    ofText((i) => Math.max(LEAST_TEXT, unbroken[i]!)),
    ofText((i) => unbroken[i]!),
    ofText(() => LEAST_TEXT),
    (i) => unbroken[i]!,
    () => LEAST_ANY,
  ];
  for (const floor of floors) {
    for (let over = sum(widths) + gap * gaps - width; over > 0; over--) {
      let widest = -1;
      widths.forEach((w, i) => {
        if (w > floor(i) && (widest < 0 || w > widths[widest]!)) widest = i;
      });
      if (widest < 0) break;
      widths[widest]!--;
    }
  }
  return { gap, widths };
}

function sum(values: readonly number[]): number {
  return values.reduce((all, value) => all + value, 0);
}

/** No lines at all: columns are parted by the gap, and a rule is a row of its own. */
const NO_BORDER = Object.fromEntries(
  "top top-mid top-left top-right bottom bottom-mid bottom-left bottom-right left left-mid mid mid-mid right right-mid"
    .split(" ")
    .map((name) => [name, ""]),
);

function renderTable(table: Table, width: number, paint: Paint, bare = false): string[] {
  const { gap, widths } = layOut(
    bare ? { ...table, columns: table.columns.map((c) => (c.plain ? { ...c, head: "" } : c)) } : table,
    width,
  );
  /** One row: every cell wrapped to its column. Cells keep to the top of a row, headers to its bottom. */
  const row = (cells: readonly Cell[], tone?: Tone, vAlign: "top" | "bottom" = "top") =>
    widths.map((w, i) => {
      const lines = wrap(cells[i]?.text ?? "", w);
      return { content: lines.map((line) => paint(line, cells[i]?.tone ?? tone)).join("\n"), vAlign };
    });
  const rule = widths.map((w) => "-".repeat(w));
  const heads = table.columns.map(
    (column): Cell => ({ text: bare && column.plain ? "" : column.head, tone: "strong" }),
  );
  const drawn = new CliTable3({
    chars: { ...NO_BORDER, middle: " ".repeat(gap) },
    colWidths: [...widths],
    colAligns: table.columns.map((column) => column.align),
    style: { "padding-left": 0, "padding-right": 0, head: [], border: [] },
  });
  const rules = bare ? [] : [rule];
  drawn.push(row(heads, undefined, "bottom"), ...rules, ...table.rows.map((cells) => row(cells)));
  if (table.total) drawn.push(...rules, row(table.total, "strong"));
  return drawn
    .toString()
    .split("\n")
    .map((line) => line.trimEnd());
}
