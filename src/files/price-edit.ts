/**
 * Prices put into an amendments file (YAML) without touching anything else in it.
 *
 * The YAML is changed as text, at the places that the parser gives for the values, so that comments, order, quotes and
 * spacing stay as their owner wrote them. Nothing is written here: text goes in and text comes out.
 */
import {
  type Document,
  isMap,
  isPair,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseDocument,
  visit,
  type YAMLMap,
  type YAMLSeq,
} from "yaml";
import { parseNumber } from "../numerals.ts";
import { defined } from "../optional.ts";
import { type Fault, fail, nearest, ok, type Problem, problemOf, type Result } from "../problem.ts";
import type { OfferChange } from "../results/listing.ts";
import { parseQuantity } from "../units.ts";
import { type Measure, measureOf, type Offer, type PriceRow } from "./price-list.ts";
import { problemAt, type Tree } from "./source.ts";
import { parseTree } from "./yaml.ts";

const SAME_SIZE = 1e-9;
const sameSize = (a: Measure, b: Measure): boolean =>
  a.by === b.by && Math.abs(a.value - b.value) <= SAME_SIZE * Math.max(a.value, b.value);

export interface Priced {
  readonly text: string;
  readonly changes: readonly OfferChange[];
}

/** A list of prices as it is written, for places in it. */
interface ListText {
  readonly file: string;
  readonly text: string;
}

/** A change of text: what is from `from` up to `to` gives way to `text`. */
interface Edit {
  readonly from: number;
  readonly to: number;
  readonly text: string;
}

/** The shipped files mark their invented prices with these words in `note`. */
const PLACEHOLDER = "placeholder price";

/**
 * Puts prices into an amendments file. An offer of the same size gets the new price, another size is added, and sizes that the
 * list does not name are kept. An amendment all of whose prices come from the list loses the words `placeholder price`.
 * @param yaml the file; `file` its name for places.
 * @param elsewhere ids that files it includes define; prices for them become entries here, which override those.
 * @param list the name of the list, for places.
 * @returns the file as it would be, or what is in the way.
 */
export function putPrices(
  yaml: string,
  file: string,
  rows: readonly PriceRow[],
  elsewhere: ReadonlySet<string>,
  list: ListText,
): Result<Priced> {
  const { tree, problems, broken } = parseTree(yaml, file, file);
  if (broken || problems.length > 0) return { ok: false, problems };
  const document = parseDocument(yaml, { keepSourceTokens: true, logLevel: "error" });
  const top = document.contents;
  const held = isMap(top) ? (top.get("amendments", true) as Node | undefined) : undefined;
  const entries = isMap(held) ? held : undefined;
  if (!isMap(top) || !(top.has("include") || top.has("amendments")))
    return fail(problemAt(tree, { code: "file-kind", wrong: "this is no amendments file", hint: FILE_HINT }));

  const editor = new Editor(yaml, tree, document, list);
  const own = new Map((entries?.items ?? []).map((pair) => [keyOf(pair), pair] as const));
  const known = [...own.keys(), ...elsewhere];
  const byId = new Map<string, PriceRow[]>();
  for (const row of rows) {
    if (own.has(row.id) || elsewhere.has(row.id)) byId.set(row.id, [...(byId.get(row.id) ?? []), row]);
    else
      editor.refuseRow(row, "id", {
        code: "amendment-unknown",
        wrong: `\`${file}\` has no amendment \`${row.id}\``,
        near: nearest(row.id, known),
        hint: "add an entry for it first, with its analysis",
      });
  }
  if (editor.problems.length > 0) return { ok: false, problems: editor.problems };

  const changes: OfferChange[] = [];
  const fresh: (readonly [string, readonly PriceRow[]])[] = [];
  for (const [id, offers] of byId) {
    const pair = own.get(id);
    if (pair === undefined) {
      fresh.push([id, offers]);
      for (const { offer, price, supplier } of offers)
        changes.push({
          id,
          size: sizeText(offer),
          ...defined({ supplier }),
          ...{ before: null, after: price, what: "added" },
        });
    } else if (isMap(pair.value)) changes.push(...editor.price(id, pair.value, offers));
    else editor.refuse(id);
  }
  if (editor.problems.length > 0) return { ok: false, problems: editor.problems };
  if (fresh.length > 0) editor.addEntries(top, entries, fresh);
  return ok({ text: editor.text(), changes });
}

const FILE_HINT = "an amendments file begins with `amendments:`";

const keyOf = (pair: Pair): string => String(isScalar(pair.key) ? pair.key.value : pair.key);
const sizeText = (offer: Offer): string => (offer.kind === "bulk" ? `per ${offer.text}` : offer.text);
/** Text as a YAML scalar that may be in braces. */
const scalar = (text: string): string => (/^[A-Za-z0-9][\w ./-]*$/.test(text) ? text : JSON.stringify(text));
/** @param base who sells the amendment where a pack names nobody. */
const packText = ({ offer, priceText, supplier }: PriceRow, base: string | undefined): string =>
  `{size: ${scalar(offer.text)}, price: ${priceText}${supplier === undefined || supplier === base ? "" : `, supplier: ${supplier}`}}`;
/** Who sells an amendment of which only a list is known: who sells it loose, or all that names somebody. */
function baseOf(rows: readonly PriceRow[]): string | undefined {
  const loose = rows.find(({ offer }) => offer.kind === "bulk");
  if (loose) return loose.supplier;
  return rows.every(({ supplier }) => supplier === rows[0]?.supplier) ? rows[0]?.supplier : undefined;
}
const bulkText = (row: PriceRow): string => `{price: ${row.priceText}, per: ${scalar(row.offer.text)}}`;

const isFlow = (node: YAMLMap | YAMLSeq): boolean => node.flow === true;

/** Collects changes of one file's text. */
class Editor {
  readonly problems: Problem[] = [];
  private readonly edits: Edit[] = [];
  private readonly eol: string;
  /** Anchors that an alias somewhere repeats: a change there would reach further than asked. */
  private readonly aliased = new Set<string>();
  private readonly listLines: readonly string[];

  constructor(
    private readonly yaml: string,
    private readonly tree: Tree,
    document: Document,
    private readonly list: ListText,
  ) {
    visit(document, { Alias: (_, { source }) => void this.aliased.add(source) });
    this.eol = yaml.includes("\r\n") ? "\r\n" : "\n";
    this.listLines = list.text.replace(/^\uFEFF/, "").split(/\r?\n/);
  }

  text(): string {
    let result = this.yaml;
    const edits = this.edits
      .map((edit, i) => ({ ...edit, i }))
      .sort((a, b) => b.from - a.from || b.to - a.to || b.i - a.i);
    for (const { from, to, text } of edits) result = result.slice(0, from) + text + result.slice(to);
    return result;
  }

  /** Puts the offers of one amendment into its map. */
  price(id: string, entry: YAMLMap, offers: readonly PriceRow[]): OfferChange[] {
    const changes: OfferChange[] = [];
    const fresh: PriceRow[] = [];
    const packs = entry.get("packs", true) as Node | null | undefined;
    const listed = isSeq(packs) ? packs.items.filter(isMap) : [];
    const shared = [entry, packs, ...listed].some(
      (node) => (isMap(node) || isSeq(node)) && node.anchor !== undefined && this.aliased.has(node.anchor),
    );
    const other = packs && !isSeq(packs) && !(isScalar(packs) && packs.value === null);
    if (shared || other) this.refuse(id, "packs");
    const bulk = entry.get("bulk", true) as Node | null | undefined;
    const own = textAt(entry, "supplier");
    // An amendment without a supplier gets that of the list, unless its packs come from several.
    const named = listed.some((pack) => textAt(pack, "supplier") !== undefined);
    const base = own ?? (named ? undefined : baseOf(offers));
    if (base !== undefined && own === undefined) this.set(id, entry, "supplier", base);
    const touched = new Set<YAMLMap>();
    let bulkDone = false;
    for (const row of offers) {
      const { offer, supplier } = row;
      const known = { id, ...defined({ supplier }) };
      if (offer.kind === "bulk") {
        bulkDone = true;
        if (supplier !== undefined && supplier !== base) this.refuseLoose(row, base);
        else changes.push({ ...known, ...this.bulk(id, entry, bulk, row, offer) });
        continue;
      }
      const found = this.packFor(
        row,
        listed.filter((pack) => !touched.has(pack)),
        own,
      );
      if (found === undefined) {
        fresh.push(row);
        changes.push({ ...known, size: offer.text, before: null, after: row.price, what: "added" });
        continue;
      }
      touched.add(found);
      const before = numberAt(found, "price");
      if (before !== row.price) this.set(id, found, "price", row.priceText);
      if (supplier !== undefined && supplier !== (textAt(found, "supplier") ?? base))
        this.set(id, found, "supplier", supplier);
      changes.push({
        ...known,
        size: String(found.get("size")),
        before,
        after: row.price,
        what: before === row.price ? "same" : "changed",
      });
    }
    if (fresh.length > 0) this.addPacks(entry, packs ?? undefined, fresh, base);
    const kept = listed.filter((pack) => !touched.has(pack));
    for (const pack of kept)
      changes.push({
        id,
        size: String(pack.get("size")),
        ...defined({ supplier: textAt(pack, "supplier") }),
        before: numberAt(pack, "price"),
        after: null,
        what: "kept",
      });
    if (kept.length === 0 && (bulkDone || !isMap(bulk))) this.dropPlaceholder(entry);
    return changes;
  }

  /**
   * The pack that a row prices: that of its size and supplier, or one of its size that names nobody. Undefined where the
   * file has no such offer yet.
   * @param own who sells the packs that name nobody.
   */
  private packFor(row: PriceRow, packs: readonly YAMLMap[], own: string | undefined): YAMLMap | undefined {
    const { offer, supplier } = row;
    if (offer.kind === "bulk") return undefined;
    const same = packs.filter((pack) => {
      const size = measureOf(pack.get("size"));
      return size !== undefined && sameSize(size, offer.measure);
    });
    const sellers = same.map((pack) => textAt(pack, "supplier") ?? own);
    if (supplier !== undefined) return same[sellers.indexOf(supplier)] ?? same[sellers.indexOf(undefined)];
    const distinct = [...new Set(sellers)];
    if (distinct.length > 1)
      this.refuseRow(row, "size", {
        code: "supplier-ambiguous",
        wrong: `${offer.text} of \`${row.id}\` is sold by ${distinct.map((name) => name ?? "a supplier without a name").join(" and ")}; the row does not say whose price it is`,
        hint: "name the supplier in a column `supplier`",
      });
    return same[0];
  }

  private bulk(
    id: string,
    entry: YAMLMap,
    bulk: Node | null | undefined,
    row: PriceRow,
    offer: Offer & { readonly kind: "bulk" },
  ): OfferChange {
    const change = { id, size: `per ${offer.text}`, after: row.price };
    if (!isMap(bulk)) {
      if (bulk !== undefined && bulk !== null) this.refuse(id, "bulk");
      else this.addPair(entry, "bulk", bulkText(row));
      return { ...change, before: null, what: "added" };
    }
    const per = String(bulk.get("per"));
    const kg = parseQuantity(`1 ${per}`, "mass");
    const counted = kg.ok ? kg : parseQuantity(per, "mass");
    const price = numberAt(bulk, "price");
    // The price as it was, counted for the weight that the list names.
    const before = price === null || !counted.ok ? price : (price / counted.value) * offer.kg;
    const same = counted.ok && Math.abs(counted.value - offer.kg) <= SAME_SIZE * offer.kg;
    if (same && price === row.price) return { ...change, before, what: "same" };
    this.set(id, bulk, "price", row.priceText);
    if (!same) this.set(id, bulk, "per", scalar(offer.text));
    return { ...change, before: same ? price : before, what: "changed" };
  }

  /** Reports a row of the list, at one of its columns. */
  refuseRow({ line, columns }: PriceRow, column: keyof PriceRow["columns"], fault: Fault): void {
    const place = { file: this.list.file, line, column: columns[column] };
    this.problems.push(problemOf(fault, { place, excerpt: this.listLines[line - 1] ?? "" }));
  }

  /** Reports a price by weight of another supplier than the amendment's own, which a file has no place for. */
  private refuseLoose(row: PriceRow, own: string | undefined): void {
    this.refuseRow(row, "supplier", {
      code: "key-conflict",
      wrong: `\`${row.id}\` comes from ${own === undefined ? "several suppliers" : `\`${own}\``} in the file, and what is sold by weight comes from the amendment's own supplier, not from \`${row.supplier}\``,
      hint: `give the amendment \`supplier: ${row.supplier}\` and each of its packs its own, or the price of a pack in the list`,
    });
  }

  /** Reports an amendment, or what it says under a key, that is not written out. */
  refuse(id: string, key?: string): void {
    const wrong = "is written in a way that prices cannot be put into";
    this.problems.push(
      problemAt(this.tree, {
        code: "type-wrong",
        path: key === undefined ? ["amendments", id] : ["amendments", id, key],
        given: key ?? id,
        wrong: key === undefined ? wrong : `of \`${id}\` ${wrong}`,
        hint: "write it out as a map with `packs:`, without an alias (`*name`)",
      }),
    );
  }

  /** Sets a scalar of a map, or adds it. */
  private set(id: string, map: YAMLMap, key: string, value: string): void {
    const node = map.get(key, true) as Node | null | undefined;
    if (node === undefined) this.addPair(map, key, value);
    else if (isScalar(node) && node.range) this.replaceScalar(node.range, value);
    else this.refuse(id, key);
  }

  private addPacks(
    entry: YAMLMap,
    packs: Node | undefined,
    rows: readonly PriceRow[],
    base: string | undefined,
  ): void {
    const items = rows.map((row) => packText(row, base));
    if (isSeq(packs)) this.append(packs, packs.items.at(-1) as Node | undefined, items);
    else if (isScalar(packs) && packs.range) this.replaceScalar(packs.range, `[${items.join(", ")}]`);
    else if (isFlow(entry)) this.addPair(entry, "packs", `[${items.join(", ")}]`);
    else {
      const inner = `${this.eol}${" ".repeat(indentOf(entry) + 2)}- `;
      this.addPair(entry, "packs", items.map((item) => inner + item).join(""));
    }
  }

  /** Adds a key after what says what the material is, or at the end. */
  private addPair(map: YAMLMap, key: string, value: string): void {
    const after =
      map.items.find((pair) => keyOf(pair) === "packs") ??
      map.items.find((pair) => keyOf(pair) === "analysis") ??
      map.items.at(-1);
    this.append(map, after, [`${key}${value.startsWith(this.eol) ? ":" : ": "}${value}`]);
  }

  /** Puts items into a list or keys into a map, after what is there already or at its beginning, in its own style. */
  private append(into: YAMLMap | YAMLSeq, after: Pair | Node | undefined, items: readonly string[]): void {
    const inline = items.join(", ");
    if (!after) this.insert(into.range![0] + 1, inline);
    else if (isFlow(into)) this.insert(endOf(after), `, ${inline}`);
    else this.insertLines(endOf(after), items, indentOf(into), isSeq(into) ? "- " : "");
  }

  /** Puts lines below the one on which `offset` is. */
  private insertLines(offset: number, lines: readonly string[], indent: number, sign = ""): void {
    const start = `${this.eol}${" ".repeat(indent)}${sign}`;
    this.insert(this.lineEnd(offset), lines.map((line) => start + line).join(""));
  }

  /** Entries for amendments that an included file defines. */
  addEntries(
    top: YAMLMap,
    entries: YAMLMap | undefined,
    fresh: readonly (readonly [string, readonly PriceRow[]])[],
  ): void {
    const items = fresh.map(([id, rows]) => `${id}: {${fieldsOf(rows).join(", ")}}`);
    const blank = top.items.find((pair) => keyOf(pair) === "amendments");
    if (entries) this.append(entries, entries.items.at(-1), items);
    else if (blank) this.insertLines((blank.key as Node).range![1], items, 2);
    else {
      const lines = ["amendments:", ...items.map((item) => `  ${item}`)];
      this.insert(this.yaml.trimEnd().length, lines.map((line) => this.eol + line).join(""));
    }
  }

  /** Takes the words `placeholder price` out of a note, and the note with them where nothing else is in it. */
  private dropPlaceholder(entry: YAMLMap): void {
    const at = entry.items.findIndex((pair) => keyOf(pair) === "note");
    const pair = entry.items[at];
    const note = pair?.value;
    if (!pair || !isScalar(note) || !note.range || typeof note.value !== "string") return;
    if (!note.value.startsWith(PLACEHOLDER)) return;
    const [from, to] = note.range;
    if (note.value.trim() !== PLACEHOLDER) {
      const found = /placeholder price(?:[;,.]\s*)?/.exec(this.yaml.slice(from, to));
      if (found)
        this.edits.push({ from: from + found.index, to: from + found.index + found[0].length, text: "" });
      return;
    }
    const start = (pair.key as Node).range![0];
    if (isFlow(entry)) {
      const before = entry.items[at - 1];
      const next = entry.items[at + 1];
      if (before) this.edits.push({ from: endOf(before), to, text: "" });
      else this.edits.push({ from: start, to: next ? (next.key as Node).range![0] : to, text: "" });
      return;
    }
    const lineStart = this.yaml.lastIndexOf("\n", start - 1) + 1;
    // The first key of a map in a list shares its line with the dash; such a note stays.
    if (this.yaml.slice(lineStart, start).trim() !== "") return;
    const remark = this.yaml.indexOf("#", to);
    const end = this.lineEnd(to);
    if (remark >= 0 && remark < end) this.edits.push({ from: start, to: remark, text: "" });
    else
      this.edits.push({ from: lineStart, to: Math.min(this.yaml.length, end + this.eol.length), text: "" });
  }

  /** Puts a value in the place of a scalar, also of one that is empty: between its key and a remark, or at the line's end. */
  private replaceScalar(range: readonly number[], value: string): void {
    const [from = 0, to = from] = range;
    const ahead = /\s/.test(this.yaml[from - 1] ?? " ") ? "" : " ";
    const after = this.yaml[to] === "#" ? " " : "";
    this.edits.push({ from, to, text: `${ahead}${value}${after}` });
  }

  private insert(at: number, text: string): void {
    this.edits.push({ from: at, to: at, text });
  }

  /** Where the line ends on which the text before `offset` is, comment included. */
  private lineEnd(offset: number): number {
    let end = offset;
    while (end > 0 && /\s/.test(this.yaml[end - 1]!)) end--;
    const found = this.yaml.indexOf("\n", end);
    if (found < 0) return this.yaml.length;
    return this.yaml[found - 1] === "\r" ? found - 1 : found;
  }
}

function fieldsOf(rows: readonly PriceRow[]): string[] {
  const supplier = baseOf(rows);
  const packs = rows.filter((row) => row.offer.kind === "pack").map((row) => packText(row, supplier));
  const bulk = rows.find((row) => row.offer.kind === "bulk");
  return [
    ...(packs.length > 0 ? [`packs: [${packs.join(", ")}]`] : []),
    ...(bulk ? [`bulk: ${bulkText(bulk)}`] : []),
    ...(supplier === undefined ? [] : [`supplier: ${supplier}`]),
  ];
}

/** The text of a field, or undefined where there is none. */
function textAt(map: YAMLMap, key: string): string | undefined {
  const value = map.get(key);
  return typeof value === "string" ? value : undefined;
}

/** A price as it is, or null where there is none to read. */
function numberAt(map: YAMLMap, key: string): number | null {
  const value = map.get(key);
  if (typeof value === "number") return value;
  return typeof value === "string" ? (parseNumber(value) ?? null) : null;
}

function indentOf(node: YAMLMap | YAMLSeq): number {
  return (node.srcToken as { readonly indent?: number } | undefined)?.indent ?? 0;
}

/** Where the last value inside a key with its value, or inside a node, ends. */
function endOf(node: Node | Pair): number {
  if (isPair(node)) {
    const key = (node.key as Node).range![1];
    return node.value ? Math.max(key, endOf(node.value as Node)) : key;
  }
  const last = (isMap(node) || isSeq(node)) && !isFlow(node) ? (node.items.at(-1) as Node | Pair) : undefined;
  return last ? endOf(last) : (node.range?.[1] ?? 0);
}
