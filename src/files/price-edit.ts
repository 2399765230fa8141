/**
 * Prices put into an amendments file (YAML) without touching anything else in it.
 *
 * The YAML is changed as text, at the places that the parser gives for the values, so that comments, order, quotes and
 * spacing stay as their owner wrote them. Nothing is written here: text goes in and text comes out.
 */
import {
  type Document,
  isMap,
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
import { fail, guess, ok, type Problem, type Result } from "../problem.ts";
import type { OfferChange } from "../results/listing.ts";
import { parseQuantity } from "../units.ts";
import type { ProblemCode } from "./codes.ts";
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
  list: { readonly file: string; readonly text: string },
): Result<Priced> {
  const { tree, problems, broken } = parseTree(yaml, file, file);
  if (broken || problems.length > 0) return { ok: false, problems };
  const document = parseDocument(yaml, { keepSourceTokens: true, logLevel: "error" });
  const editor = new Editor(yaml, tree, document);
  const top = document.contents;
  if (!isMap(top))
    return fail(problemAt(tree, { code: "file-kind", wrong: "this is no amendments file", hint: FILE_HINT }));
  const held = top.get("amendments", true) as Node | undefined;
  const entries = isMap(held) ? held : undefined;
  if (entries === undefined && !top.has("include") && !top.has("amendments"))
    return fail(problemAt(tree, { code: "file-kind", wrong: "this is no amendments file", hint: FILE_HINT }));

  const own = new Map((entries?.items ?? []).map((pair) => [keyOf(pair), pair] as const));
  const known = [...own.keys(), ...elsewhere];
  const byId = new Map<string, PriceRow[]>();
  const faults: Problem[] = [];
  const excerpts = list.text.replace(/^\uFEFF/, "").split(/\r?\n/);
  for (const row of rows) {
    if (own.has(row.id) || elsewhere.has(row.id)) {
      byId.set(row.id, [...(byId.get(row.id) ?? []), row]);
      continue;
    }
    faults.push({
      code: "amendment-unknown" satisfies ProblemCode,
      message: `\`${file}\` has no amendment \`${row.id}\``,
      hint: guess(row.id, known, "add an entry for it first, with its analysis"),
      place: { file: list.file, line: row.line, column: row.columns.id },
      excerpt: excerpts[row.line - 1] ?? "",
    });
  }
  if (faults.length > 0) return { ok: false, problems: faults };

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
    } else if (isMap(pair.value)) changes.push(...editor.price(id, pair.value, offers, list.file));
    else
      faults.push(
        problemAt(tree, {
          code: "type-wrong",
          path: ["amendments", id],
          given: id,
          wrong: "is written in a way that prices cannot be put into",
          hint: BLOCK_HINT,
        }),
      );
  }
  for (const problem of editor.problems) {
    const { place } = problem;
    const inList = place !== undefined && place.file === list.file;
    faults.push(inList ? { ...problem, excerpt: excerpts[place.line - 1] ?? "" } : problem);
  }
  if (faults.length > 0) return { ok: false, problems: faults };
  if (fresh.length > 0) editor.addEntries(top, entries, fresh);
  return ok({ text: editor.text(), changes });
}

const FILE_HINT = "an amendments file begins with `amendments:`";
const BLOCK_HINT = "write it out as a map with `packs:`, without an alias (`*name`)";

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
  private readonly yaml: string;
  private readonly tree: Tree;

  /** Anchors that an alias somewhere repeats: a change there would reach further than asked. */
  private readonly aliased = new Set<string>();

  constructor(yaml: string, tree: Tree, document: Document) {
    this.yaml = yaml;
    visit(document, { Alias: (_, { source }) => void this.aliased.add(source) });
    this.tree = tree;
    this.eol = yaml.includes("\r\n") ? "\r\n" : "\n";
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
  price(id: string, entry: YAMLMap, offers: readonly PriceRow[], list: string): OfferChange[] {
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
        if (supplier !== undefined && supplier !== base) this.problems.push(looseOfOther(row, list, base));
        else changes.push({ ...known, ...this.bulk(id, entry, bulk, row, offer) });
        continue;
      }
      const found = this.packFor(row, listed, { own, base, touched, list });
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
   */
  private packFor(
    row: PriceRow,
    listed: readonly YAMLMap[],
    at: {
      readonly own: string | undefined;
      readonly base: string | undefined;
      readonly touched: ReadonlySet<YAMLMap>;
      readonly list: string;
    },
  ): YAMLMap | undefined {
    const { offer, supplier } = row;
    if (offer.kind === "bulk") return undefined;
    const same = listed.filter((pack) => {
      const size = measureOf(pack.get("size"));
      return size !== undefined && sameSize(size, offer.measure) && !at.touched.has(pack);
    });
    const sellers = same.map((pack) => textAt(pack, "supplier") ?? at.own);
    if (supplier !== undefined) return same[sellers.indexOf(supplier)] ?? same[sellers.indexOf(undefined)];
    const distinct = [...new Set(sellers)];
    if (distinct.length > 1)
      this.problems.push({
        code: "supplier-ambiguous",
        message: `${offer.text} of \`${row.id}\` is sold by ${distinct.map((name) => name ?? "a supplier without a name").join(" and ")}; the row does not say whose price it is`,
        hint: "name the supplier in a column `supplier`",
        place: { file: at.list, line: row.line, column: row.columns.size },
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

  private refuse(id: string, key: string): void {
    this.problems.push(
      problemAt(this.tree, {
        code: "type-wrong",
        path: ["amendments", id, key],
        given: key,
        wrong: `of \`${id}\` is written in a way that prices cannot be put into`,
        hint: BLOCK_HINT,
      }),
    );
  }

  /** Sets a scalar of a map, or adds it. */
  private set(id: string, map: YAMLMap, key: string, value: string): void {
    const node = map.get(key, true) as Node | null | undefined;
    if (node === undefined) this.addPair(map, key, value);
    else if (isScalar(node) && node.range) {
      this.replaceScalar(node.range, value);
    } else this.refuse(id, key);
  }

  private addPacks(
    entry: YAMLMap,
    packs: Node | undefined,
    rows: readonly PriceRow[],
    base: string | undefined,
  ): void {
    const items = rows.map((row) => packText(row, base));
    if (isSeq(packs)) {
      const last = packs.items.at(-1) as Node | undefined;
      if (isFlow(packs)) {
        const at = last?.range?.[1] ?? packs.range![0] + 1;
        this.insert(at, `${last ? ", " : ""}${items.join(", ")}`);
      } else {
        const indent = " ".repeat(indentOf(packs) ?? 0);
        this.insert(
          this.lineEnd(endOf(last!)),
          items.map((item) => `${this.eol}${indent}- ${item}`).join(""),
        );
      }
    } else if (isScalar(packs) && packs.range) {
      this.replaceScalar(packs.range, `[${items.join(", ")}]`);
    } else if (isFlow(entry)) this.addPair(entry, "packs", `[${items.join(", ")}]`);
    else {
      const inner = `${" ".repeat((indentOf(entry) ?? 0) + 2)}- `;
      this.addPair(entry, "packs", items.map((item) => `${this.eol}${inner}${item}`).join(""));
    }
  }

  /** Adds a key after what says what the material is, or at the end. */
  private addPair(map: YAMLMap, key: string, value: string): void {
    const separator = value.startsWith(this.eol) ? ":" : ": ";
    const after =
      map.items.find((pair) => keyOf(pair) === "packs") ??
      map.items.find((pair) => keyOf(pair) === "analysis") ??
      map.items.at(-1);
    if (isFlow(map)) {
      const at = after ? pairEnd(after) : map.range![0] + 1;
      this.insert(at, `${after ? ", " : ""}${key}${separator}${value}`);
    } else {
      const indent = " ".repeat(indentOf(map) ?? 0);
      this.insert(this.lineEnd(pairEnd(after!)), `${this.eol}${indent}${key}${separator}${value}`);
    }
  }

  /** Entries for amendments that an included file defines. */
  addEntries(
    top: YAMLMap,
    entries: YAMLMap | undefined,
    fresh: readonly (readonly [string, readonly PriceRow[]])[],
  ): void {
    if (entries && isFlow(entries)) {
      const last = entries.items.at(-1);
      const text = fresh.map(([id, rows]) => `${id}: {${fieldsOf(rows).join(", ")}}`).join(", ");
      this.insert(last ? pairEnd(last) : entries.range![0] + 1, `${last ? ", " : ""}${text}`);
      return;
    }
    const indent = " ".repeat(entries ? (indentOf(entries) ?? 2) : 2);
    const text = fresh
      .map(([id, rows]) => `${this.eol}${indent}${id}: {${fieldsOf(rows).join(", ")}}`)
      .join("");
    const last = entries?.items.at(-1);
    const blank = top.items.find((pair) => keyOf(pair) === "amendments");
    if (last) this.insert(this.lineEnd(pairEnd(last)), text);
    else if (blank) this.insert(this.lineEnd((blank.key as Node).range![1]), text);
    else this.insert(this.yaml.trimEnd().length, `${this.eol}amendments:${text}`);
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
      if (before) this.edits.push({ from: pairEnd(before), to, text: "" });
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

/** A price by weight of another supplier than the amendment's own, which a file has no place for. */
function looseOfOther(row: PriceRow, file: string, own: string | undefined): Problem {
  return {
    code: "key-conflict" satisfies ProblemCode,
    message: `\`${row.id}\` comes from ${own === undefined ? "several suppliers" : `\`${own}\``} in the file, and what is sold by weight comes from the amendment's own supplier, not from \`${row.supplier}\``,
    hint: `give the amendment \`supplier: ${row.supplier}\` and each of its packs its own, or the price of a pack in the list`,
    place: { file, line: row.line, column: row.columns.supplier },
  };
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

function indentOf(node: YAMLMap | YAMLSeq): number | undefined {
  const token = node.srcToken as { readonly indent?: number } | undefined;
  return token?.indent;
}

/** Where the last value inside a node ends. */
function endOf(node: Node): number {
  if ((isMap(node) || isSeq(node)) && !isFlow(node)) {
    const last: unknown = node.items.at(-1);
    if (isMap(node) && last !== undefined) return pairEnd(last as Pair);
    if (last !== undefined) return endOf(last as Node);
  }
  return node.range?.[1] ?? 0;
}

function pairEnd(pair: Pair): number {
  const value = pair.value as Node | null;
  const key = (pair.key as Node).range![1];
  return value ? Math.max(key, endOf(value)) : key;
}
