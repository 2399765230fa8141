/** A supplier's price list (CSV) to rows with a size and a price each. */
import { nearest, ok, type Problem, type Result } from "../problem.ts";
import { parseNumber, parseQuantity } from "../units.ts";

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
  const rows: Cell[][] = [];
  let row: Cell[] = [];
  let line = 1;
  let lineStart = 0;
  let i = 0;
  let unclosed: Cell | undefined;
  const endRow = () => {
    if (row.some((cell) => cell.text !== "")) rows.push(row);
    row = [];
  };
  for (;;) {
    const at = { line, column: i - lineStart + 1 };
    let value = "";
    if (text[i] === '"') {
      i++;
      for (;;) {
        if (i >= text.length) {
          unclosed ??= { text: value, ...at };
          break;
        }
        if (text[i] === '"') {
          if (text[i + 1] !== '"') break;
          i++;
        } else if (text[i] === "\n") {
          line++;
          lineStart = i + 1;
        }
        value += text[i++];
      }
      i++;
    }
    while (i < text.length && text[i] !== comma && text[i] !== "\n") value += text[i++];
    row.push({ text: value.trim(), ...at });
    if (text[i] === comma) {
      i++;
      continue;
    }
    endRow();
    if (i >= text.length) return { rows, unclosed };
    i++;
    line++;
    lineStart = i;
  }
}

/**
 * Reads a price list: a first row with `id`, `size`, `price` and perhaps `supplier` in any order, then one row a price.
 * A size is that of a pack (`50 lb`), or `per lb` for what is sold by weight. Commas or semicolons part the cells.
 * @param file the name to show in places.
 */
export function readPriceList(content: string, file: string): Result<readonly PriceRow[]> {
  const text = content.replace(/^\uFEFF/, "");
  const lines = text.split(/\r?\n/);
  const problems: Problem[] = [];
  const complain = (code: string, cell: Cell, message: string, hint: string): void => {
    const excerpt = lines[cell.line - 1] ?? "";
    problems.push({ code, message, hint, place: { file, line: cell.line, column: cell.column }, excerpt });
  };
  const first = lines[0] ?? "";
  const { rows, unclosed } = cellsOf(text, first.includes(";") && !first.includes(",") ? ";" : ",");
  const start: Cell = { text: "", line: 1, column: 1 };
  if (unclosed) {
    complain("csv-quote", unclosed, "a quote is opened here and never closed", 'end the cell with `"`');
    return { ok: false, problems };
  }
  const header = rows[0];
  if (header === undefined) {
    complain(
      "file-empty",
      start,
      "this list holds nothing",
      "a first row `id,size,price`, then a row a price",
    );
    return { ok: false, problems };
  }
  const places = new Map<Column, number>();
  for (const [i, cell] of header.entries()) {
    const name = cell.text.toLowerCase();
    const column = COLUMNS.find((known) => known === name);
    if (column === undefined) {
      if (name === "") continue;
      const near = nearest(name, COLUMNS);
      complain(
        "key-unknown",
        cell,
        `the column \`${cell.text}\` means nothing here`,
        near === undefined ? `columns are ${COLUMNS.join(", ")}` : `did you mean \`${near}\`?`,
      );
    } else if (places.has(column))
      complain("key-duplicate", cell, `the column \`${column}\` stands twice`, "keep one of the two");
    else places.set(column, i);
  }
  const missing = COLUMNS.slice(0, 3).filter((column) => !places.has(column));
  if (missing.length > 0)
    complain(
      "key-missing",
      header[0] ?? start,
      `the first row names no column ${missing.map((name) => `\`${name}\``).join(" and no ")}`,
      "it reads `id,size,price`, perhaps with `supplier`",
    );
  if (problems.length > 0) return { ok: false, problems };

  const read: PriceRow[] = [];
  for (const row of rows.slice(1)) {
    const cell = (column: Column): Cell => {
      const at = places.get(column);
      const last = row.at(-1)!;
      return (at === undefined ? undefined : row[at]) ?? { ...last, text: "" };
    };
    const before = problems.length;
    const extra = row.slice(header.length).find((c) => c.text !== "");
    if (extra)
      complain(
        "type-wrong",
        extra,
        "this row has more cells than the first row has columns",
        'put a number with a comma in it in quotes: "1,500"',
      );
    const needed = (column: Column, example: string): Cell | undefined => {
      const found = cell(column);
      if (found.text !== "") return found;
      complain("key-missing", found, `this row has no ${column}`, `for instance \`${example}\``);
      return undefined;
    };
    const id = needed("id", "feather-meal");
    const size = needed("size", "50 lb");
    const price = needed("price", "38.50");
    const offer = size && offerOf(size, complain);
    const amount = price && parseNumber(price.text);
    if (price && amount === undefined)
      complain(
        "number-unreadable",
        price,
        `\`${price.text}\` is not a price`,
        /^[$€£¥]|[A-Z]{3}/.test(price.text)
          ? "write the number alone, without a currency"
          : "write a number with a point for the decimal: `38.50`",
      );
    if (price && amount !== undefined && amount < 0)
      complain("number-range", price, `\`${price.text}\` is below zero`, "a price is zero or more");
    if (problems.length > before || !id || !offer || !price || amount === undefined) continue;
    const supplier = cell("supplier").text;
    read.push({
      id: id.text,
      offer,
      price: amount,
      priceText: /^\d+(\.\d+)?$/.test(price.text) ? price.text : String(amount),
      ...(supplier === "" ? {} : { supplier }),
      line: id.line,
      columns: {
        id: id.column,
        size: cell("size").column,
        price: price.column,
        supplier: cell("supplier").column,
      },
    });
  }
  const seen = new Map<string, PriceRow>();
  const suppliers = new Map<string, PriceRow>();
  for (const row of read) {
    const at = (column: Column): Cell => ({ text: "", line: row.line, column: row.columns[column] });
    const key = JSON.stringify([row.id, row.offer.kind, row.offer.kind === "pack" ? row.offer.measure : 0]);
    const twin = seen.get(key);
    if (twin)
      complain(
        "key-duplicate",
        at("size"),
        `\`${row.id}\` in this size stands already on line ${twin.line}`,
        "keep one of the two",
      );
    seen.set(key, row);
    if (row.supplier === undefined) continue;
    if (!/^[a-z0-9]+(-[a-z0-9]+)*$/.test(row.supplier))
      complain(
        "id-malformed",
        at("supplier"),
        `\`${row.supplier}\` is not an id`,
        "an id has small letters, digits and hyphens only, for instance `farm-store`",
      );
    const other = suppliers.get(row.id);
    if (other && other.supplier !== row.supplier)
      complain(
        "key-conflict",
        at("supplier"),
        `\`${row.id}\` comes from \`${other.supplier}\` on line ${other.line} and from \`${row.supplier}\` here`,
        "an amendment has one supplier; give the other offer an id of its own",
      );
    suppliers.set(row.id, other ?? row);
  }
  if (read.length === 0 && problems.length === 0)
    complain("file-empty", start, "this list has a first row and no prices", "one row a price below it");
  return problems.length > 0 ? { ok: false, problems } : ok(read);
}

function offerOf(
  cell: Cell,
  complain: (code: string, cell: Cell, message: string, hint: string) => void,
): Offer | undefined {
  const by = /^(?:bulk\s+)?(?:per\s+|\/\s*)(\D.*)$/i.exec(cell.text)?.[1];
  if (by !== undefined) {
    const kg = parseQuantity(`1 ${by}`, "mass");
    if (kg.ok) return { kind: "bulk", text: by.trim(), kg: kg.value };
    complain(kg.code, cell, kg.message, "for instance `per lb`");
    return undefined;
  }
  const measure = measureOf(cell.text);
  if (measure) return { kind: "pack", text: cell.text, measure };
  const fault = parseQuantity(cell.text, "mass", { positive: true });
  if (!fault.ok) complain(fault.code, cell, fault.message, fault.hint);
  return undefined;
}

/** A size as a pack states it, by weight or by volume. */
export function measureOf(text: unknown): Measure | undefined {
  if (typeof text !== "string" && typeof text !== "number") return undefined;
  const kg = parseQuantity(text, "mass", { positive: true });
  if (kg.ok) return { by: "kg", value: kg.value };
  const litres = parseQuantity(text, "volume", { positive: true });
  return litres.ok ? { by: "litres", value: litres.value } : undefined;
}
