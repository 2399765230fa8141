/**
 * Price lists as spreadsheets write them, drawn at random: what the list offers is decided first, then how it is written.
 * Written apart from the reader; it knows what each cell means and where it is.
 */
import type { Random } from "./random.ts";

const LB = 0.45359237;

/** What is for sale: ids and names of a plan's amendments, and what the store calls them. */
export const GOODS = [
  { id: "feather-meal", name: "Feather meal", store: "Feather Meal 13-0-0" },
  { id: "kelp-meal", name: "Kelp meal", store: 'Kelp "Coastal", dried' },
  { id: "gypsum", name: "Gypsum", store: "Gypsum, pelletized" },
  { id: "wood-ash", name: "Wood ash", store: "ASH (hardwood)" },
] as const;
const FOREIGN = ["Hose 50 ft", "Gloves, L", "Drip tape", 'Sprinkler 3/4"', "Urea 46-0-0", "Twine"];

/** One offer: kg and price of a pack, or a price per kg for loose weight (null). */
export interface DrawnOffer {
  readonly id: string;
  readonly sizeKg: number | null;
  readonly price: number;
  readonly supplier: string | null;
}

export interface DrawnList {
  readonly text: string;
  readonly offers: readonly DrawnOffer[];
  /** Rows that name nothing of the plan. */
  readonly foreign: number;
  /** The cell that must be refused, from 1; null: the list is sound. */
  readonly fault: { readonly line: number; readonly column: number; readonly why: string } | null;
}

interface Style {
  readonly separator: string;
  readonly comma: boolean;
  readonly thousands: boolean;
  readonly money: "none" | "sign" | "code" | "behind" | "head";
  readonly quoteAll: boolean;
  readonly named: "id" | "name" | "store";
  readonly unit: "cell" | "column" | "head";
  readonly supplier: boolean;
}

/** How a number is written. */
function numeral(value: number, { comma, thousands }: Style, digits: number): string {
  const [whole = "", part] = value.toFixed(digits).split(".");
  const grouped = thousands ? whole.replace(/\B(?=(\d{3})+$)/g, comma ? "." : ",") : whole;
  return part === undefined ? grouped : `${grouped}${comma ? "," : "."}${part}`;
}

interface Row {
  readonly cells: Record<string, string>;
  readonly offer: DrawnOffer | null;
}

/** Draws one price; its last digit is never lost, so that it shows the decimal sign. */
const drawPrice = (random: Random): number => (100 + Math.floor(random.next() * 180_000)) / 100;

function drawRow(random: Random, style: Style, used: Set<string>): Row | null {
  const good = random.pick(GOODS);
  const loose = random.next() < 0.2;
  const metric = random.next() < 0.4;
  const size = random.pick(metric ? [25, 20, 22.7, 10, 2.5, 1000] : [50, 40, 25, 5, 0.5, 2000]);
  const unit = metric ? "kg" : "lb";
  const key = `${good.id} ${loose ? "loose" : size * (metric ? 1 : LB)}`;
  if (used.has(key) || (loose && style.unit === "head")) return null;
  used.add(key);
  const price = drawPrice(random);
  const number = numeral(size, style, Number.isInteger(size) ? 0 : 1);
  const written = loose
    ? random.pick([unit, `per ${unit}`, `/${unit}`, `bulk/${unit}`])
    : style.unit === "column"
      ? number
      : style.unit === "head"
        ? number
        : metric
          ? random.pick([`${number} kg`, `${number}kg`, `${number} kg sack`, `${number}-kg bag`])
          : random.pick([
              `${number} lb`,
              `${number}#`,
              `${number} LB BAG`,
              `${number} lbs`,
              `${number}-lb bag`,
            ]);
  if (style.unit === "head" && metric) return null;
  const money = numeral(price, style, 2);
  const supplier = style.supplier ? random.pick(["Valley Feed", "mill", "farm-store"]) : "";
  return {
    cells: {
      id: style.named === "id" ? good.id : "",
      name:
        style.named === "store"
          ? good.store
          : style.named === "name"
            ? random.pick([good.name, good.name.toUpperCase()])
            : "x",
      size: written,
      unit: style.unit === "column" && !loose ? unit : "",
      price:
        style.money === "sign"
          ? random.pick([`$${money}`, `$ ${money}`])
          : style.money === "code"
            ? `USD ${money}`
            : style.money === "behind"
              ? `${money} USD`
              : money,
      supplier,
    },
    offer: {
      id: good.id,
      sizeKg: loose ? null : size * (metric ? 1 : LB),
      price: loose ? price / (metric ? 1 : LB) : price,
      supplier: supplier === "" ? null : supplier.toLowerCase().replace(" ", "-"),
    },
  };
}

const foreignRow = (random: Random, style: Style): Row => ({
  cells: {
    id: style.named === "id" ? `sku-${Math.floor(random.next() * 1e4)}` : "",
    name: random.pick(FOREIGN),
    size: random.pick(["each", "", "100 ft", "dozen"]),
    unit: "",
    price: random.pick(["call", numeral(drawPrice(random), style, 2), "n/a"]),
    supplier: "",
  },
  offer: null,
});

/** Ways to spoil a cell of a row that is the plan's, each with the column that must be named. */
const SPOILERS: readonly {
  readonly why: string;
  readonly column: string;
  readonly text: (was: string) => string;
}[] = [
  { why: "zero for a blank", column: "price", text: () => "0" },
  { why: "zero with decimals", column: "price", text: (was) => was.replace(/[1-9]/g, "0") },
  { why: "words", column: "price", text: () => "call" },
  { why: "an error of the spreadsheet", column: "price", text: () => "#N/A" },
  { why: "below zero", column: "price", text: () => "-5" },
  { why: "another currency", column: "price", text: () => "€ 40" },
  { why: "two numbers", column: "price", text: () => "38-40" },
  { why: "accounting brackets", column: "price", text: () => "(38)" },
  { why: "a size without weight", column: "size", text: () => "each" },
  { why: "a length", column: "size", text: () => "50 ft" },
  { why: "nothing of it", column: "size", text: () => "0 lb" },
];

/** Draws one list. */
export function drawPriceList(random: Random): DrawnList {
  const separator = random.pick([",", ";", "\t", "|", ",", ";"]);
  const style: Style = {
    separator,
    comma: separator === "," ? random.next() < 0.15 : random.next() < 0.5,
    thousands: random.next() < 0.4,
    money: random.pick(["none", "none", "sign", "code", "behind", "head"]),
    quoteAll: random.next() < 0.3,
    named: random.pick(["id", "name", "store"]),
    unit: random.pick(["cell", "cell", "column", "head"]),
    supplier: random.next() < 0.4,
  };
  const used = new Set<string>();
  const rows: Row[] = [];
  for (let i = 0; i < 3 + Math.floor(random.next() * 10); i++) {
    const own = random.next() < 0.6 ? drawRow(random, style, used) : foreignRow(random, style);
    if (own) rows.push(own);
  }
  // One row at least whose numbers show how decimals are written.
  rows.push(drawRow(random, { ...style, unit: style.unit }, new Set([...used])) ?? foreignRow(random, style));
  const mine = rows.filter(({ offer }) => offer !== null);
  const spoiled = mine.length > 0 && random.next() < 0.3 ? random.pick(mine) : undefined;
  const spoiler = random.pick(SPOILERS);
  const columns = columnsOf(random, style);
  return write(random, style, rows, columns, spoiled && { row: spoiled, ...spoiler });
}

/** The columns in their order, with what each is called; `""` is one that means nothing. */
function columnsOf(random: Random, { named, money, unit, supplier }: Style): [string, string][] {
  const all: [string, string][] = [
    named === "id"
      ? ["id", random.pick(["id", "ID"])]
      : ["name", random.pick(["name", "Product", "Description", "ITEM"])],
    [
      "size",
      `${random.pick(["size", "Size", "Pack size"])}${unit === "head" ? random.pick([" (lb)", " lb", " (#)"]) : ""}`,
    ],
    [
      "price",
      `${random.pick(["price", "Price", "Your price"])}${money === "head" ? random.pick([" (USD)", " USD", " $"]) : ""}`,
    ],
  ];
  if (unit === "column") all.push(["unit", random.pick(["unit", "Unit"])]);
  if (supplier) all.push(["supplier", random.pick(["supplier", "Store"])]);
  if (random.next() < 0.4) all.push(["", random.pick(["SKU", "In stock", "Remarks", "Bin"])]);
  return all
    .map((column) => ({ column, at: random.next() }))
    .sort((a, b) => a.at - b.at)
    .map(({ column }) => column);
}

function write(
  random: Random,

  style: Style,
  rows: readonly Row[],
  columns: readonly [string, string][],
  spoiled: { row: Row; why: string; column: string; text: (was: string) => string } | undefined,
): DrawnList {
  const { separator, quoteAll } = style;
  const end = random.pick(["\n", "\r\n", "\r\n", "\n", "\r"]);
  let text = random.next() < 0.3 ? "\uFEFF" : "";
  let line = 1;
  let column = 1;
  let fault: DrawnList["fault"] = null;
  const put = (cell: string): void => {
    text += cell;
    for (const part of cell.split(/\r\n|\r|\n/).slice(1)) {
      line += 1;
      column = part.length + 1;
    }
    if (!/[\r\n]/.test(cell)) column += cell.length;
  };
  const cellText = (cell: string): string => {
    const needed = cell.includes(separator) || /["\r\n]/.test(cell);
    return needed || quoteAll ? `"${cell.replaceAll('"', '""')}"` : cell;
  };
  const putRow = (cells: readonly string[], mark?: number): void => {
    for (const [i, cell] of cells.entries()) {
      if (i > 0) put(separator);
      if (i === mark) fault = { line, column, why: spoiled!.why };
      put(cellText(cell));
    }
    put(end);
  };
  const blank = (): void => {
    if (random.next() < 0.15) put(`${random.pick(["", separator.repeat(columns.length - 1), " "])}${end}`);
  };
  const heads = columns.map(([, head]) => head);
  if (random.next() < 0.15 && separator !== "\t") put(`sep=${separator}${end}`);
  if (random.next() < 0.3) {
    putRow(["Spring list", ...columns.slice(1).map(() => "")]);
    blank();
  }
  if (random.next() < 0.2) {
    // Merged heads: the group above, the column below; the price is named above alone.
    putRow(heads.map((head, i) => (columns[i]![0] === "price" ? head : i === 0 ? "Goods" : "")));
    putRow(heads.map((head, i) => (columns[i]![0] === "price" ? random.pick(["", "each bag"]) : head)));
  } else putRow(heads);
  for (const row of rows) {
    blank();
    if (random.next() < 0.08) putRow([random.pick(["MEALS", "Minerals"]), ...columns.slice(1).map(() => "")]);
    const wrong = spoiled?.row === row ? spoiled.column : undefined;
    const cells = columns.map(([key]) => {
      if (key === "") return random.pick(["", "12", "yes", 'a "good" one', "two\nlines"]);
      const own = row.cells[key]!;
      return key === wrong ? spoiled!.text(own) : own;
    });
    putRow(cells, wrong === undefined ? undefined : columns.findIndex(([key]) => key === wrong));
  }
  if (random.next() < 0.3) text = text.slice(0, text.length - end.length);
  return {
    text,
    offers: rows.flatMap(({ offer }) => offer ?? []),
    foreign: rows.filter(({ offer }) => offer === null).length,
    fault,
  };
}
