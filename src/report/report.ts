/**
 * A report is data: sections of paragraphs, lists and tables with typed cells. Commands make it, renderers
 * (terminal, CSV, Markdown, HTML) turn it into text; digits and unit names are chosen in `numbers.ts` alone.
 *
 * To add a section to a report: write a function that gives sections, and name it with its level in the list of the
 * report (`solution-report.ts`, `shop-report.ts`, ...).
 */
/** A cell: text ready to read, with its unit; blank where there is no value. */
export interface Cell {
  readonly text: string;
  /** The exact number in the unit of the column's `csv` header; CSV prints it in place of `text`. */
  readonly raw?: number;
  readonly tone?: Tone;
}
export type Tone = "plain" | "strong" | "good" | "bad" | "faint";

export interface TableColumn {
  readonly head: string;
  readonly align: "left" | "right";
  /** Header for CSV: snake_case with the unit, for instance `weight_lb`. */
  readonly csv: string;
  /** On a screen the title of the section says what is below it: no head is shown there. */
  readonly plain?: true;
}

export interface Table {
  readonly columns: readonly TableColumn[];
  readonly rows: readonly (readonly Cell[])[];
  /** Printed below a rule, as a last row; left out of CSV. */
  readonly total?: readonly Cell[];
}

/** A picture of values over days or prices, told apart by shape: a shade at the back, lines before it. */
export interface Chart {
  readonly title: string;
  readonly x: Axis;
  readonly y: Axis;
  /** A shade first, where there is one. */
  readonly series: readonly {
    readonly kind: "shade" | "line" | "dashes";
    readonly name: string;
    /** Rising in x; linear between. */
    readonly points: readonly (readonly [x: number, y: number])[];
  }[];
  /** Marked on the floor. */
  readonly marks: readonly { readonly at: number }[];
  readonly markName?: string;
}
interface Axis {
  readonly from: number;
  readonly to: number;
  readonly ticks: readonly { readonly at: number; readonly text: string }[];
}

/** The height of a series at a value: linear between its points, null outside of them. */
export function heightAt(points: readonly (readonly [number, number])[], x: number): number | null {
  const first = points[0];
  const last = points.at(-1);
  if (first === undefined || last === undefined || x < first[0] - 1e-9 || x > last[0] + 1e-9) return null;
  for (let k = 1; k < points.length; k++) {
    const [x1, y1] = points[k]!;
    if (x > x1) continue;
    const [x0, y0] = points[k - 1]!;
    return x1 === x0 ? y1 : y0 + ((y1 - y0) * (x - x0)) / (x1 - x0);
  }
  return last[1];
}

export type Block =
  | { readonly kind: "text"; readonly text: string; readonly tone?: Tone }
  | { readonly kind: "list"; readonly items: readonly string[]; readonly tone?: Tone }
  | { readonly kind: "table"; readonly table: Table }
  | { readonly kind: "chart"; readonly chart: Chart };

export interface Section {
  readonly title: string;
  readonly blocks: readonly Block[];
}

/** How much a report says: what fits one screen, or all there is. */
export type Extent = "page" | "whole";

/**
 * Where a section belongs: `essential` to both, `more` to the whole report alone, `in-short` to the page alone,
 * because the whole report says the same at length.
 */
export type Level = "essential" | "more" | "in-short";
export type Levelled = readonly [level: Level, sections: readonly Section[]];

/** A report before it is settled how much of it is said. */
export interface LongReport extends Omit<Report, "sections"> {
  readonly sections: readonly Levelled[];
  /** What only the whole report says, as a short list of nouns, for the line that names `--all`. */
  readonly rest?: string;
  /** What the page says to type next. */
  readonly next?: string;
}

/** The report of an extent. A page that leaves something out says so in its last line. */
export function extentOf(report: LongReport, extent: Extent): Report {
  const { sections, rest = "the rest", next, ...others } = report;
  const leftOut: Level = extent === "page" ? "more" : "in-short";
  const more = extent === "page" && sections.some(([level, own]) => level === "more" && own.length > 0);
  return {
    ...others,
    sections: sections.flatMap(([level, own]) => (level === leftOut ? [] : own)),
    ...(more
      ? {
          closing: [
            paragraph(`With --all also: ${rest}.${next === undefined ? "" : ` Next: ${next}.`}`, "faint"),
          ],
        }
      : {}),
  };
}

export interface Report {
  readonly title: string;
  /** Under the title, before the first section. */
  readonly summary?: readonly Block[];
  readonly sections: readonly Section[];
  /** After the last section. */
  readonly closing?: readonly Block[];
  /** The one table that CSV prints, with a row for each thing a script counts. Absent: the first table of the report. */
  readonly csv?: Table;
}

/** Text in a cell. */
export function cell(text: string, tone?: Tone): Cell {
  return { text, ...toned(tone) };
}

function toned(tone: Tone | undefined): { readonly tone?: Tone } {
  return tone === undefined ? {} : { tone };
}

function asCell(text: string | Cell): Cell {
  return typeof text === "string" ? cell(text) : text;
}

/** A column together with how each item of a list fills it; null: the item has no such value. */
export interface ColumnOf<T> extends TableColumn {
  readonly fill: (item: T) => Cell | null;
}

/** A column of text, read from the left. */
export function words<T>(head: string, csv: string, text: (item: T) => string | Cell | null): ColumnOf<T> {
  const fill = (item: T) => {
    const value = text(item);
    return value === null ? null : asCell(value);
  };
  return { head, align: "left", csv, fill };
}

/**
 * A column of numbers: the exact value in the unit of `csv`, and how to show it; absent: as it is, for CSV alone.
 * @param otherwise what an item without a value shows; absent: nothing.
 */
export function figures<T>(
  head: string,
  csv: string,
  value: (item: T) => number | null,
  text: (value: number, item: T) => string = String,
  otherwise: (item: T) => Cell | null = () => null,
): ColumnOf<T> {
  const fill = (item: T) => {
    const raw = value(item);
    return raw === null ? otherwise(item) : { text: text(raw, item), raw };
  };
  return { head, align: "right", csv, fill };
}

/**
 * A table with one row for each item. A column that no item fills is left out.
 * @param total the last row, column by column; what is left out at its end is blank.
 */
export function table<T>(
  items: readonly T[],
  columns: readonly ColumnOf<T>[],
  total?: readonly (string | Cell)[],
): Block {
  const whole = fullTableOf(items, columns);
  const isShown = columns.map(({ fill }) => items.length === 0 || items.some((item) => fill(item) !== null));
  const shown = <C>(cells: readonly C[]): C[] => cells.filter((_, i) => isShown[i]);
  return {
    kind: "table",
    table: {
      columns: shown(whole.columns),
      rows: whole.rows.map(shown),
      ...(total ? { total: shown(columns.map((_, i) => asCell(total[i] ?? ""))) } : {}),
    },
  };
}

/** A table with one row for each item and every column, filled or not: the headers that a script can rely on. */
export function fullTableOf<T>(items: readonly T[], columns: readonly ColumnOf<T>[]): Table {
  return {
    columns: columns.map(({ fill: _, ...column }) => column),
    rows: items.map((item) => columns.map((column) => column.fill(item) ?? { text: "" })),
  };
}

/** A paragraph. */
export function paragraph(text: string, tone?: Tone): Block {
  return { kind: "text", text, ...toned(tone) };
}

/** A list with one point a line; points without a text are left out. */
export function bullets(items: readonly string[], tone?: Tone): Block {
  return { kind: "list", items: items.filter((item) => item !== ""), ...toned(tone) };
}

/** What a section is made of. */
type Contents = readonly (Block | readonly Block[])[];

/** Blocks in their order, without those that say nothing. */
export function blocksOf(...contents: Contents): Block[] {
  return contents.flat().filter((block) => !isEmpty(block));
}

/** Whether a block says nothing: no text, no items, no rows, no lines. */
function isEmpty(block: Block): boolean {
  switch (block.kind) {
    case "text":
      return block.text === "";
    case "list":
      return block.items.length === 0;
    case "table":
      return block.table.rows.length === 0;
    case "chart":
      return false;
  }
}

/** A section of those blocks that say something; none where no block does. */
export function section(title: string, ...contents: Contents): Section[] {
  const blocks = blocksOf(...contents);
  return blocks.length === 0 ? [] : [{ title, blocks }];
}

/** A column that needs no head on a screen, under the title of its section. */
export function plain<T>(column: ColumnOf<T>): ColumnOf<T> {
  return { ...column, plain: true };
}

/** Things of which so many fit beside one another, in groups. */
export function sideBySide<T>(items: readonly T[], most: number): T[][] {
  return Array.from({ length: Math.ceil(items.length / most) }, (_, k) =>
    items.slice(k * most, (k + 1) * most),
  );
}

/** A section, or what stands before and after the sections without a title. */
type Part = Omit<Section, "title"> & Partial<Section>;

/** The parts of a report in reading order. */
export function partsOf({ summary = [], sections, closing = [] }: Report): Part[] {
  const untitled = (blocks: readonly Block[]): Part[] => (blocks.length === 0 ? [] : [{ blocks }]);
  return [...untitled(summary), ...sections, ...untitled(closing)];
}
