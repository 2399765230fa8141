/** A store's price list (CSV) to rows, and what these rows offer of the amendments of a plan. */

import type { Amendment } from "../model.ts";
import { defined } from "../optional.ts";
import { type Fault, fail, nearest, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import { type CsvCell, linesOf, rowsOf, SEPARATORS, type Separator } from "./csv.ts";
import { type Offer, sellersOfSize } from "./offers.ts";
import { type DecimalSign, habitOf, type NumberHabit, readPrice, readSize } from "./price-cells.ts";
import { ID } from "./schema/values.ts";

/** What the columns of a list may be called. The first name is ours. */
const HEADS = {
  id: "id",
  name: "name, product, product name, item, item name, description, material, amendment, article",
  size: "size, pack, pack size, package, package size, bag, bag size, weight, net weight",
  unit: "unit, units, uom",
  price: "price, pack price, bag price, price each, list price, your price, retail, retail price, cost",
  supplier: "supplier, store, vendor, seller, dealer, shop",
} as const;
type Column = keyof typeof HEADS;
const COLUMNS = Object.keys(HEADS) as Column[];

/** One row of a price list; a cell that is blank is not there. */
export interface ListRow {
  readonly cells: Readonly<Partial<Record<Column, CsvCell>>>;
  /** Every cell of the row, for places. */
  readonly all: readonly CsvCell[];
  /** A cell beyond the columns of the head. */
  readonly extra: CsvCell | undefined;
}

/** A store's price list: its head understood, its rows not yet judged. */
export interface PriceList {
  /** As shown to people. */
  readonly file: string;
  readonly lines: readonly string[];
  readonly rows: readonly ListRow[];
  readonly habit: NumberHabit;
  /** What bare sizes count, where the head says so. */
  readonly unit: string | undefined;
}

/** What is asked of a list beside its rows. */
export interface ListUse {
  /** Who sells what rows without a supplier name; absent: who sells that size already. */
  readonly supplier?: string;
  /** The store's own names, each with the id it is for. */
  readonly names?: ReadonlyMap<string, string>;
  /** Of the plan; absent: any. */
  readonly currency?: string;
  /** Ids that are known though they are not among the amendments: rows of theirs are not strange. */
  readonly known?: ReadonlySet<string>;
}

/** What a list offers. */
export interface Listed {
  /** By id, in the order of the rows. */
  readonly offers: ReadonlyMap<string, readonly Offer[]>;
  readonly problems: readonly Problem[];
  /** What the rows are called that name none of the amendments. */
  readonly strange: readonly string[];
  /** Of these, one that is nearly an id, and that id. */
  readonly slip?: { readonly name: string; readonly id: string };
  /** Names given in `names` that are on no row. */
  readonly unused: readonly string[];
}

/** A head is looked for in so many rows: titles and addresses are above it. */
const HEAD_WITHIN = 12;

/** Names without case, to be compared. */
const folded = (name: string): string => name.trim().replace(/\s+/g, " ").toLowerCase();
/** A name as an id would be written. */
const slug = (name: string): string =>
  folded(name)
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "");

/**
 * Reads a price list: a row that names its columns (`id` or `name`, `size`, `price`, perhaps `supplier`, in any order, among
 * others), then one row a price. Commas, semicolons, tabs or bars part the cells.
 * @param file the name to show in places.
 * @param decimal the sign between whole and part, where the list is known to have one.
 */
export function readPriceList(content: string, file: string, decimal?: DecimalSign): Result<PriceList> {
  const lines = linesOf(content);
  const refuse = (fault: Fault, { line, column }: Omit<CsvCell, "text"> = { line: 1, column: 1 }) =>
    fail<PriceList>(problemOf(fault, { place: { file, line, column }, excerpt: lines[line - 1] ?? "" }));
  const empty = (wrong: string, hint: string, at?: CsvCell) =>
    refuse({ code: "file-empty", wrong, hint }, at);
  const nothing = () => empty("this list holds nothing", "a first row `id,size,price`, then a row a price");
  if (lines.every((line) => line.trim() === "")) return nothing();
  // The line with which spreadsheets say what parts the cells.
  const said = /^sep=(.)$/i.exec(lines[0]!.trim())?.[1];
  const body = said === undefined ? lines : ["", ...lines.slice(1)];
  const tried = SEPARATORS.filter((one) => said === undefined || one === said).map((separator) => {
    const read = rowsOf(body, separator);
    return { separator, ...read, head: headOf(read.rows) };
  });
  const score = ({ head, rows }: (typeof tried)[number]): number =>
    100 * Object.keys(head.columns).length + (rows[head.first]?.length ?? 0);
  const [best] = tried.sort((a, b) => score(b) - score(a));
  if (best === undefined || best.rows.length === 0) return nothing();
  const { separator, rows, head, unclosed } = best;
  if (unclosed)
    return refuse(
      { code: "csv-quote", wrong: "a quote is opened here and never closed", hint: 'end the cell with `"`' },
      unclosed,
    );
  const fault = headFault(head, rows);
  if (fault) return refuse(fault.fault, fault.at);
  const listed = rows.slice(head.last + 1).flatMap((row) => listRow(row, head) ?? []);
  if (listed.length === 0)
    return empty(
      "this list names its columns and has no prices",
      "one row a price below",
      rows[head.first]![0],
    );
  return ok({ file, lines, rows: listed, habit: listHabit(listed, separator, decimal), unit: head.unit });
}

function listHabit(rows: readonly ListRow[], separator: Separator, asked?: DecimalSign): NumberHabit {
  const texts = (column: Column): string[] => rows.map(({ cells }) => cells[column]?.text ?? "");
  const shown = habitOf(texts("price")) ?? habitOf(texts("size"));
  return { asked, shown, commas: separator === "," };
}

interface Head {
  /** The rows of the head: from `first` to `last`, which is another where heads are of two rows. */
  readonly first: number;
  readonly last: number;
  readonly width: number;
  readonly columns: Readonly<Partial<Record<Column, number>>>;
  /** Cells that name a column a second time, or nearly. */
  readonly doubtful: readonly { readonly cell: CsvCell; readonly column: Column; readonly twice: boolean }[];
  readonly money: CsvCell | undefined;
  readonly unit: string | undefined;
}

const isWhole = ({ columns }: Head): boolean =>
  columns.price !== undefined && columns.size !== undefined && (columns.id ?? columns.name) !== undefined;

/** The head of a list: the first row, or pair of rows, that names all that is needed; else the row that names most. */
function headOf(rows: readonly (readonly CsvCell[])[]): Head {
  const within = rows.slice(0, HEAD_WITHIN);
  const heads = within.flatMap((row, i) => {
    const next = rows[i + 1];
    const alone = headIn(row, i, i);
    if (next === undefined || isWhole(alone)) return [alone];
    // Merged cells: what is below a cell says more of it.
    const both = Array.from({ length: Math.max(row.length, next.length) }, (_, c) => {
      const [above, below] = [row[c], next[c]];
      const known = below && below.text !== "" && columnOf(below.text) !== undefined;
      return (known || above === undefined || above.text === "" ? below : above) ?? next.at(-1)!;
    });
    const pair = headIn(both, i, i + 1);
    return [alone, ...(isWhole(pair) ? [pair] : [])];
  });
  const size = ({ columns }: Head): number => Object.keys(columns).length;
  return (
    heads.find(isWhole) ??
    heads.reduce((best, head) => (size(head) > size(best) ? head : best), headIn(rows[0] ?? [], 0, 0))
  );
}

/** A column, how far down among its names it is called, and the money or unit that the head adds. */
interface Named {
  readonly column: Column;
  readonly rank: number;
  readonly extra?: string;
}

function columnOf(text: string): Named | undefined {
  const known = (name: string): Named | undefined =>
    COLUMNS.map((column) => ({ column, rank: HEADS[column].split(", ").indexOf(folded(name)) })).find(
      ({ rank }) => rank >= 0,
    );
  const whole = known(text);
  if (whole) return whole;
  const [, name, extra] =
    /^(.*?)[\s,]*[([]?\s*([A-Za-z]+|(?:US|CA|AU|NZ)?[$€£¥]|#)\s*[)\]]?$/.exec(text) ?? [];
  const part = name === undefined ? undefined : known(name);
  if (part?.column === "price" && /^[A-Z]{3}$|[$€£¥]$/.test(extra!)) return { ...part, extra: extra! };
  if (part?.column === "size" && (extra === "#" || parseQuantity(`1 ${extra}`, "mass").ok))
    return { ...part, extra: extra === "#" ? "lb" : extra! };
  return undefined;
}

function headIn(row: readonly CsvCell[], first: number, last: number): Head {
  const columns: Partial<Record<Column, number>> = {};
  const ranks: Partial<Record<Column, number>> = {};
  const doubtful: Head["doubtful"][number][] = [];
  let money: CsvCell | undefined;
  let unit: string | undefined;
  for (const [i, cell] of row.entries()) {
    const found = columnOf(cell.text);
    if (found === undefined) {
      const near = nearest(folded(cell.text), COLUMNS);
      if (near !== undefined) doubtful.push({ cell, column: near as Column, twice: false });
      continue;
    }
    const { column, rank, extra } = found;
    const before = ranks[column];
    // Our own name is the one that counts, and of several names of a product the plainest.
    if (before !== undefined && (before === 0) === (rank === 0) && column !== "name")
      doubtful.push({ cell, column, twice: true });
    if (before !== undefined && before <= rank) continue;
    columns[column] = i;
    ranks[column] = rank;
    if (column === "price") money = extra === undefined ? undefined : { ...cell, text: extra };
    if (column === "size") unit = extra;
  }
  // A list whose only word on sizes is its unit has the size there.
  const { unit: only, ...others } = columns;
  const settled = columns.size === undefined && only !== undefined ? { ...others, size: only } : columns;
  return { first, last, width: row.length, columns: settled, doubtful, money, unit };
}

function headFault(
  head: Head,
  rows: readonly (readonly CsvCell[])[],
): { readonly fault: Fault; readonly at: CsvCell } | undefined {
  const { columns, doubtful, first } = head;
  const missing = [
    ...(columns.id === undefined && columns.name === undefined ? ["id"] : []),
    ...(["size", "price"] as const).filter((column) => columns[column] === undefined),
  ];
  const near = doubtful.find(({ column, twice }) => !twice && columns[column] === undefined);
  if (near) {
    const wrong = `the column \`${near.cell.text}\` means nothing here`;
    return { at: near.cell, fault: { code: "key-unknown", wrong, near: near.column } };
  }
  if (missing.length > 0)
    return {
      at: rows[first]![0]!,
      fault: {
        code: "key-missing",
        wrong: `no row names a column ${missing.map((name) => `\`${name}\``).join(" and ")}`,
        hint: "the first row reads `id,size,price` (or `name,size,price`), perhaps with `supplier`",
      },
    };
  const twice = doubtful.find((one) => one.twice);
  return (
    twice && {
      at: twice.cell,
      fault: {
        code: "key-duplicate",
        wrong: `the column \`${twice.column}\` is given twice`,
        hint: `keep one of the two, or call it \`${twice.column}\``,
      },
    }
  );
}

/** A row below the head; none where it sells nothing, as a heading between rows does, or repeats the head. */
function listRow(row: readonly CsvCell[], { columns, width, money }: Head): ListRow | undefined {
  const cells: Partial<Record<Column, CsvCell>> = {};
  for (const column of COLUMNS) {
    const cell = row[columns[column] ?? row.length];
    if (cell !== undefined && cell.text !== "") cells[column] = cell;
  }
  const { price, size } = cells;
  const alone = row.filter((cell) => cell.text !== "").length < 2;
  if (alone || (price === undefined && size === undefined)) return undefined;
  if (price && size && columnOf(price.text)?.column === "price" && columnOf(size.text)?.column === "size")
    return undefined;
  if (price && money && /^[\d.,'’ ]+$/.test(price.text))
    cells.price = { ...price, text: `${money.text} ${price.text}` };
  const extra = row.slice(width).find((cell) => cell.text !== "");
  return { cells, all: row, extra };
}

/**
 * What a list offers of some amendments. Rows are theirs by id, by name, or by the store's own names; other rows are counted
 * and not judged.
 * @param sold whether the price of an amendment matters; rows of one that does not are not judged.
 */
export function offersIn(
  list: PriceList,
  amendments: readonly Amendment[],
  use: ListUse = {},
  sold: (id: string) => boolean = () => true,
): Listed {
  const finder = new Finder(amendments, use.names ?? new Map());
  const problems: Problem[] = [];
  const offers = new Map<string, Offer[]>();
  const seen = new Map<string, { readonly line: number; readonly price: number }>();
  const strange: string[] = [];
  const sellers = sellersNamed(list, finder);
  let above: Amendment | undefined;
  for (const row of list.rows) {
    const complain = (fault: Fault, cell = row.all[0]!): undefined => {
      const { line, column } = cell;
      problems.push(
        problemOf(fault, { place: { file: list.file, line, column }, excerpt: list.lines[line - 1] ?? "" }),
      );
    };
    const called = row.cells.id ?? row.cells.name;
    if (called === undefined) {
      // Merged cells leave the name blank on the rows below the first: a guess whose price that is would be one.
      const wrong = "this row has a price and names nothing";
      const hint = `write the name on every row; the row above is \`${above?.id}\``;
      if (above !== undefined) complain({ code: "key-missing", wrong, hint });
      continue;
    }
    const amendment = finder.find(row);
    above = amendment;
    if (amendment === undefined) {
      if (!use.known?.has(slug(called.text))) strange.push(called.text);
    } else if (sold(amendment.id)) {
      const offer = judged({ list, row, amendment, use, sellers: sellers.get(amendment.id), complain });
      if (offer === undefined) continue;
      const key = JSON.stringify([amendment.id, folded(called.text), offer.sizeKg, offer.seller]);
      const twin = seen.get(key);
      seen.set(key, { line: called.line, price: offer.price });
      if (twin === undefined) offers.set(amendment.id, [...(offers.get(amendment.id) ?? []), offer]);
      else if (twin.price !== offer.price)
        complain(
          {
            code: "key-duplicate",
            given: called.text,
            wrong: `in this size is already on line ${twin.line}, at another price`,
            hint: "keep one of the two, or say whose each is in a column `supplier`",
          },
          row.cells.size,
        );
    }
  }
  return { offers, problems, strange, ...defined({ slip: finder.slip(strange) }), unused: finder.unused() };
}

class Finder {
  private readonly byId: ReadonlyMap<string, Amendment>;
  private readonly byName = new Map<string, Amendment>();
  private readonly own: ReadonlyMap<string, readonly [name: string, id: string]>;
  private readonly used = new Set<string>();

  constructor(amendments: readonly Amendment[], names: ReadonlyMap<string, string>) {
    this.byId = new Map(amendments.map((amendment) => [amendment.id, amendment]));
    const twice = new Set<string>();
    for (const amendment of amendments) {
      const name = folded(amendment.name);
      if (this.byName.has(name)) twice.add(name);
      this.byName.set(name, amendment);
    }
    // What two are called is the name of neither.
    for (const name of twice) this.byName.delete(name);
    this.own = new Map([...names].map(([name, id]) => [folded(name), [name, id]]));
  }

  find({ cells }: ListRow): Amendment | undefined {
    const texts = [cells.id, cells.name].flatMap((cell) => (cell ? [folded(cell.text)] : []));
    const own = texts.find((text) => this.own.has(text));
    if (own === undefined)
      return texts
        .map((text) => this.byId.get(text) ?? this.byName.get(text) ?? this.byId.get(slug(text)))
        .find((one) => one !== undefined);
    this.used.add(own);
    return this.byId.get(this.own.get(own)![1]);
  }

  /** The first of some names that is nearly an id, and that id. */
  slip(names: readonly string[]): { readonly name: string; readonly id: string } | undefined {
    for (const name of new Set(names)) {
      const id = nearest(slug(name), this.byId.keys());
      if (id !== undefined) return { name, id };
    }
    return undefined;
  }

  unused(): string[] {
    return [...this.own].flatMap(([text, [name]]) => (this.used.has(text) ? [] : [name]));
  }
}

function sellersNamed(list: PriceList, finder: Finder): ReadonlyMap<string, ReadonlySet<string>> {
  const named = new Map<string, Set<string>>();
  for (const row of list.rows) {
    const amendment = row.cells.supplier && finder.find(row);
    if (!amendment) continue;
    if (!named.has(amendment.id)) named.set(amendment.id, new Set());
    named.get(amendment.id)!.add(slug(row.cells.supplier!.text));
  }
  return named;
}

interface Judging {
  readonly list: PriceList;
  readonly row: ListRow;
  readonly amendment: Amendment;
  readonly use: ListUse;
  /** Suppliers that the list names for this amendment. */
  readonly sellers: ReadonlySet<string> | undefined;
  readonly complain: (fault: Fault, cell?: CsvCell) => undefined;
}

/** What a row offers; undefined where something in it is wrong (reported). */
function judged(judging: Judging): Offer | undefined {
  const { list, row, amendment, use, complain } = judging;
  const { size, price, unit } = row.cells;
  if (row.extra)
    complain(
      {
        code: "type-wrong",
        wrong: "this row has more cells than the head has columns",
        hint: 'put a number with a comma in it in quotes: "1,500"',
      },
      row.extra,
    );
  const lacking = (column: "size" | "price", example: string): void =>
    complain({
      code: "key-missing",
      wrong: `this row of \`${amendment.id}\` has no ${column}`,
      hint: `for instance \`${example}\`; take the row out where it is not for sale`,
    });
  if (size === undefined) lacking("size", "50 lb");
  if (price === undefined) lacking("price", "38.50");
  if (row.extra || !size || !price) return undefined;
  const sold = readSize(size.text, list.habit, unit && unit !== size ? unit.text : list.unit);
  const money = readPrice(price.text, list.habit, use.currency);
  if ("fault" in sold) complain(sold.fault, size);
  if ("fault" in money) complain(money.fault, price);
  if ("fault" in sold || "fault" in money) return undefined;
  let sizeKg: number | null = null;
  if (sold.value.kind === "pack") {
    const { kind: by, value } = sold.value.measure;
    const wrong = `is a volume, and ${amendment.id} has no density`;
    const hint = "give the size as a weight, or the amendment a `density`";
    if (by === "litres" && amendment.densityKgPerL === undefined)
      return complain({ code: "density-missing", given: size.text, wrong, hint }, size);
    sizeKg = by === "kg" ? value : value * amendment.densityKgPerL!;
  }
  const seller = sellerOf(judging, sizeKg);
  if (seller === undefined) return undefined;
  return { sizeKg, price: sold.value.kind === "loose" ? money.value / sold.value.kg : money.value, seller };
}

/**
 * Who sells what a row offers, null for nobody named: as the row says, as is said of the list, the only one whom the list
 * names for this amendment, or who sells that size already. Undefined where that may be several (reported).
 */
function sellerOf({ list, row, amendment, use, sellers, complain }: Judging, sizeKg: number | null) {
  const cell = row.cells.supplier;
  if (cell !== undefined) {
    const id = slug(cell.text);
    const isNumber = /^[\d.,]+$/.test(cell.text);
    if (ID.test(id) && !isNumber) return id;
    const [wrong, hint] = isNumber
      ? ["is a number, where a supplier should be", 'put a price with a comma in it in quotes: "38,50"']
      : ["is no name for a supplier", "a supplier has letters and digits, for instance `farm-store`"];
    return complain({ code: "id-malformed", given: cell.text, wrong, hint }, cell);
  }
  if (use.supplier !== undefined) return use.supplier;
  const size = row.cells.size!;
  const ambiguous = (names: readonly (string | null)[], where: string): undefined =>
    complain(
      {
        code: "supplier-ambiguous",
        given: size.text,
        wrong: `of ${amendment.id} is sold by ${names.map((name) => name ?? "a supplier without a name").join(" and ")}${where}; the row does not say whose price it is`,
        hint: "name the supplier in a column `supplier`",
      },
      size,
    );
  const named = [...(sellers ?? [])];
  if (named.length > 0) return named.length > 1 ? ambiguous(named, ` in ${list.file}`) : named[0]!;
  const known = sizeKg === null ? [] : sellersOfSize(amendment, sizeKg);
  return known.length > 1 ? ambiguous(known, "") : (known[0] ?? amendment.supplier ?? null);
}
