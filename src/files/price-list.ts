/** A supplier's price list (CSV) to rows with a size and a price each. */

import { resolve } from "node:path";
import { parseNumber } from "../numerals.ts";
import { defined } from "../optional.ts";
import { type Fault, fail, nearest, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import type { FileReader } from "./context.ts";
import { ID } from "./schema/values.ts";

/** What a row of the list sells: a pack, or any amount by weight. */
export type Offer =
  | { readonly kind: "pack"; readonly text: string; readonly measure: Measure }
  /** `text` is the unit of weight, `kg` what it weighs. */
  | { readonly kind: "bulk"; readonly text: string; readonly kg: number };
/** Size of a pack in kg or L. */
export interface Measure {
  readonly by: "kg" | "litres";
  readonly value: number;
}

/** One row of a price list. */
export interface PriceRow {
  readonly id: string;
  readonly offer: Offer;
  readonly price: number;
  /** As written, where that is also how YAML writes a number. */
  readonly priceText: string;
  readonly supplier?: string;
  /** Line in the list, from 1, and the columns of its cells. */
  readonly line: number;
  readonly columns: Readonly<Record<Column, number>>;
}

const COLUMNS = ["id", "size", "price", "supplier"] as const;
type Column = (typeof COLUMNS)[number];

interface Cell {
  readonly text: string;
  readonly line: number;
  readonly column: number;
}

/**
 * Splits CSV as RFC 4180 describes it: quotes around cells, doubled inside; rows end with LF or CRLF. Blank rows are dropped.
 * Lines and columns count from 1, columns in characters.
 */
function cellsOf(
  text: string,
  comma: string,
): { readonly rows: Cell[][]; readonly unclosed: Cell | undefined } {
  // What is in quotes, the closing one, what is not in quotes, and the sign that ends the cell.
  const cell = new RegExp(`(?:"([^"]*(?:""[^"]*)*)("?))?([^${comma}\\n]*)(${comma}|\\n|$)`, "y");
  const rows: Cell[][] = [];
  let row: Cell[] = [];
  let line = 1;
  let lineStart = 0;
  let unclosed: Cell | undefined;
  for (;;) {
    const start = cell.lastIndex;
    const [whole, quoted = "", closing, bare = "", end] = cell.exec(text)!;
    const found: Cell = {
      text: `${quoted.replaceAll('""', '"')}${bare}`.trim(),
      line,
      column: start - lineStart + 1,
    };
    if (closing === "") unclosed ??= found;
    row.push(found);
    if (whole.includes("\n")) {
      line += whole.split("\n").length - 1;
      lineStart = start + whole.lastIndexOf("\n") + 1;
    }
    if (end === comma) continue;
    if (row.some((one) => one.text !== "")) rows.push(row);
    if (end === "") return { rows, unclosed };
    row = [];
  }
}

/** How a list writes its numbers: `1,500.25` or `1.500,25`. */
export type DecimalSign = "point" | "comma";

/** One list while it is read. */
interface Reading {
  readonly file: string;
  readonly lines: readonly string[];
  readonly separator: "," | ";";
  /** As asked for; absent: a number that can be read in two ways is refused. */
  readonly decimal: DecimalSign | undefined;
  readonly problems: Problem[];
}

function complain(
  { file, lines, problems }: Reading,
  { line, column }: Omit<Cell, "text">,
  fault: Fault,
): undefined {
  problems.push(problemOf(fault, { place: { file, line, column }, excerpt: lines[line - 1] ?? "" }));
}

/** Reads the price list of a file, by its name from a folder. */
export function loadPriceList(
  io: FileReader,
  file: string,
  cwd: string,
  decimal?: DecimalSign,
): Result<readonly PriceRow[]> {
  const text = io.read(resolve(cwd, file));
  if (text !== null) return readPriceList(text, file, decimal);
  return fail({
    code: "file-unreadable",
    message: `the price list \`${file}\` is not there or cannot be read`,
    hint: "check the name and the folder",
  });
}

/**
 * Reads a price list: a first row with `id`, `size`, `price` and perhaps `supplier` in any order, then one row a price.
 * A size is that of a pack (`50 lb`), or `per lb` for what is sold by weight. Commas or semicolons part the cells.
 * @param file the name to show in places.
 * @param decimal the sign between whole and part, where the list is known to have one.
 */
export function readPriceList(
  content: string,
  file: string,
  decimal?: DecimalSign,
): Result<readonly PriceRow[]> {
  const text = content.replace(/^\uFEFF/, "");
  const lines = text.split(/\r?\n/);
  const first = lines[0] ?? "";
  const separator = first.includes(";") && !first.includes(",") ? ";" : ",";
  const reading: Reading = { file, lines, separator, decimal, problems: [] };
  const refuse = (at: Omit<Cell, "text">, fault: Fault): Result<never> => {
    complain(reading, at, fault);
    return { ok: false, problems: reading.problems };
  };
  const { rows, unclosed } = cellsOf(text, separator);
  const start = { line: 1, column: 1 };
  if (unclosed)
    return refuse(unclosed, {
      code: "csv-quote",
      wrong: "a quote is opened here and never closed",
      hint: 'end the cell with `"`',
    });
  const [header, ...below] = rows;
  if (header === undefined)
    return refuse(start, {
      code: "file-empty",
      wrong: "this list holds nothing",
      hint: "a first row `id,size,price`, then a row a price",
    });
  const places = columnsOf(reading, header);
  if (places === undefined) return { ok: false, problems: reading.problems };
  const read = withSuppliers(
    reading,
    below.flatMap((row) => rowOf(reading, row, places, header.length) ?? []),
  );
  checkTwins(reading, read);
  if (reading.problems.length > 0) return { ok: false, problems: reading.problems };
  if (read.length > 0) return ok(read);
  return refuse(start, {
    code: "file-empty",
    wrong: "this list has a first row and no prices",
    hint: "one row a price below it",
  });
}

/** Where each column is, from the first row; undefined where that row is wrong. */
function columnsOf(reading: Reading, header: readonly Cell[]): ReadonlyMap<Column, number> | undefined {
  const places = new Map<Column, number>();
  for (const [i, cell] of header.entries()) {
    const name = cell.text.toLowerCase();
    const column = COLUMNS.find((known) => known === name);
    if (column === undefined) {
      if (name === "") continue;
      complain(reading, cell, {
        code: "key-unknown",
        wrong: `the column \`${cell.text}\` means nothing here`,
        near: nearest(name, COLUMNS),
        hint: `columns are ${COLUMNS.join(", ")}`,
      });
    } else if (places.has(column))
      complain(reading, cell, {
        code: "key-duplicate",
        wrong: `the column \`${column}\` is given twice`,
        hint: "keep one of the two",
      });
    else places.set(column, i);
  }
  const missing = COLUMNS.slice(0, 3).filter((column) => !places.has(column));
  if (missing.length > 0)
    complain(reading, header[0]!, {
      code: "key-missing",
      wrong: `the first row names no column ${missing.map((name) => `\`${name}\``).join(" and no ")}`,
      hint: "it reads `id,size,price`, perhaps with `supplier`",
    });
  return reading.problems.length > 0 ? undefined : places;
}

/** One row; undefined where something in it is wrong. */
function rowOf(
  reading: Reading,
  row: readonly Cell[],
  places: ReadonlyMap<Column, number>,
  width: number,
): PriceRow | undefined {
  const cell = (column: Column): Cell =>
    row[places.get(column) ?? row.length] ?? { ...row.at(-1)!, text: "" };
  const before = reading.problems.length;
  const extra = row.slice(width).find((c) => c.text !== "");
  if (extra)
    complain(reading, extra, {
      code: "type-wrong",
      wrong: "this row has more cells than the first row has columns",
      hint: 'put a number with a comma in it in quotes: "1,500"',
    });
  const needed = (column: Column, example: string): Cell | undefined => {
    const found = cell(column);
    if (found.text !== "") return found;
    return complain(reading, found, {
      code: "key-missing",
      wrong: `this row has no ${column}`,
      hint: `for instance \`${example}\``,
    });
  };
  const id = needed("id", "feather-meal");
  const size = needed("size", "50 lb");
  const price = needed("price", "38.50");
  const offer = size && offerOf(reading, size);
  const amount = price && priceOf(reading, price);
  if (reading.problems.length > before || !id || !offer || amount === undefined) return undefined;
  const supplier = cell("supplier").text;
  return {
    id: id.text,
    offer,
    price: amount.value,
    priceText: /^\d+(\.\d+)?$/.test(amount.text) ? amount.text : String(amount.value),
    ...defined({ supplier: supplier === "" ? undefined : supplier }),
    line: id.line,
    columns: Object.fromEntries(
      COLUMNS.map((column) => [column, cell(column).column]),
    ) as PriceRow["columns"],
  };
}

/**
 * The text of a cell with a point for its decimal sign. In a list parted by semicolons a comma may be either, and so may
 * a point before three digits: unless the caller says which, such a number is refused.
 */
function pointed(reading: Reading, cell: Cell): string | undefined {
  const { decimal, separator } = reading;
  const number = /\d[\d.,]*/.exec(cell.text)?.[0] ?? "";
  const refuse = (wrong: string, hint: string): undefined =>
    complain(reading, cell, { code: "number-unreadable", given: number, wrong, hint });
  if (decimal === "comma")
    return number === "" || /^(?:\d+|\d{1,3}(?:\.\d{3})+)(?:,\d+)?$/.test(number)
      ? cell.text.replace(number, number.replaceAll(".", "").replace(",", "."))
      : refuse(
          "is no number in a list whose decimal sign is a comma",
          "points part thousands there: `1.500,25`",
        );
  if (decimal === "point" || separator === ",") return cell.text;
  if (/^\d{1,3}(?:,\d{3})+$|^\d{1,3}\.\d{3}$/.test(number))
    return refuse(
      "can be read in two ways in a list with semicolons: the sign may part thousands or be the decimal",
      "say which with --decimal comma or --decimal point, or write the number without it",
    );
  if (number.includes(",") && !number.includes("."))
    return refuse("has a comma for its decimal sign", "say so with --decimal comma, or write a point");
  return cell.text;
}

function priceOf(
  reading: Reading,
  cell: Cell,
): { readonly value: number; readonly text: string } | undefined {
  const text = pointed(reading, cell);
  if (text === undefined) return undefined;
  const value = parseNumber(text);
  if (value === undefined)
    return complain(reading, cell, {
      code: "number-unreadable",
      given: cell.text,
      wrong: "is not a price",
      hint: /^[$€£¥]|[A-Z]{3}/.test(cell.text)
        ? "write the number alone, without a currency"
        : "write a number with a point for the decimal: `38.50`",
    });
  if (value >= 0 && value <= MOST_MONEY) return { value, text };
  return complain(reading, cell, {
    code: "number-range",
    given: cell.text,
    wrong: value < 0 ? "is below zero" : "is no price of a pack",
    hint: "a price is zero or more",
  });
}

/** No pack costs more than this in any currency; a larger number is a slip. */
const MOST_MONEY = 1e9;

/** The same offer twice: one size of one supplier, or loose weight, which an amendment has from one supplier alone. */
function checkTwins(reading: Reading, rows: readonly PriceRow[]): void {
  const seen = new Map<string, PriceRow>();
  for (const row of rows) {
    const { id, offer, supplier } = row;
    const key = JSON.stringify(offer.kind === "pack" ? [id, offer.measure, supplier ?? null] : [id, "loose"]);
    const twin = seen.get(key);
    if (twin && twin.supplier !== supplier)
      complain(reading, cellAt(row, "supplier"), {
        code: "key-conflict",
        given: id,
        wrong: `is sold by weight by \`${twin.supplier}\` on line ${twin.line} and by \`${supplier}\` here`,
        hint: "one supplier may sell it by weight; give the other's price for a pack, for instance `50 lb`",
      });
    else if (twin)
      complain(reading, cellAt(row, "size"), {
        code: "key-duplicate",
        given: id,
        wrong: `in this size is already on line ${twin.line}`,
        hint: "keep one of the two, or say whose each is in a column `supplier`",
      });
    seen.set(key, twin ?? row);
  }
}

/**
 * Rows with who sells what they offer: a row that names nobody is of the one supplier that the list names for its
 * amendment. Where the list names several, it does not say whose price that is.
 */
function withSuppliers(reading: Reading, rows: readonly PriceRow[]): PriceRow[] {
  const named = new Map<string, PriceRow[]>();
  for (const row of rows) {
    if (row.supplier === undefined) continue;
    if (!ID.test(row.supplier))
      complain(reading, cellAt(row, "supplier"), {
        code: "id-malformed",
        given: row.supplier,
        wrong: "is not an id",
        hint: "an id has small letters, digits and hyphens only, for instance `farm-store`",
      });
    const own = named.get(row.id) ?? [];
    if (!own.some(({ supplier }) => supplier === row.supplier)) named.set(row.id, [...own, row]);
  }
  return rows.map((row) => {
    const sellers = named.get(row.id);
    if (row.supplier !== undefined || sellers === undefined) return row;
    const list = sellers.map(({ supplier, line }) => `\`${supplier}\` on line ${line}`).join(", ");
    if (sellers.length > 1)
      complain(reading, cellAt(row, "supplier"), {
        code: "supplier-ambiguous",
        given: row.id,
        wrong: `has prices of several suppliers in this list, and this row does not say whose it is (${list})`,
        hint: "name its supplier",
      });
    return { ...row, supplier: sellers[0]!.supplier! };
  });
}

const cellAt = ({ line, columns }: PriceRow, column: Column) => ({ line, column: columns[column] });

function offerOf(reading: Reading, cell: Cell): Offer | undefined {
  const text = pointed(reading, cell);
  if (text === undefined) return undefined;
  const by = /^(?:bulk\s+)?(?:per\s+|\/\s*)(\D.*)$/i.exec(text)?.[1];
  if (by !== undefined) {
    const kg = parseQuantity(`1 ${by}`, "mass");
    if (kg.ok) return { kind: "bulk", text: by.trim(), kg: kg.value };
    return complain(reading, cell, { ...kg, near: undefined, hint: "for instance `per lb`" });
  }
  const measure = measureOf(text);
  if (measure) return { kind: "pack", text, measure };
  const fault = parseQuantity(text, "mass", { positive: true });
  return fault.ok ? undefined : complain(reading, cell, fault);
}

/** A size as a pack states it, by weight or by volume. */
export function measureOf(text: unknown): Measure | undefined {
  if (typeof text !== "string" && typeof text !== "number") return undefined;
  const kg = parseQuantity(text, "mass", { positive: true });
  if (kg.ok) return { by: "kg", value: kg.value };
  const litres = parseQuantity(text, "volume", { positive: true });
  return litres.ok ? { by: "litres", value: litres.value } : undefined;
}
