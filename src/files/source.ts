/**
 * YAML text to plain values, and the way back from a value to its line and column. The only door to the YAML packages.
 *
 * A `Tree` is what one file says, with any overrides from flags laid over it. Values are plain and own nothing of the
 * parser; the places of keys and values are looked up only when something has to be said about them.
 *
 * Two parsers share the work. The events of js-yaml give the values of an ordinary file in a third of the time and memory,
 * which a cold start feels. Whatever is not ordinary (a fault, an anchor, a tag, a key that stands twice) and every
 * question about a place goes to the yaml package, which knows how to say what is wrong and where.
 */
import { EVENT_ID, type Event, getScalarValue, parseEvents, SCALAR_STYLE } from "js-yaml";
import {
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseDocument,
  type YAMLMap,
} from "yaml";
import type { Place, Problem } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";

/** Keys and list indices that lead from the top of a file to a value. */
export type Path = readonly (string | number)[];

/** A value put over what the file says, and the flag that put it there. */
export interface Override {
  readonly path: Path;
  readonly value: unknown;
  /** As typed, for instance `--plants`. */
  readonly flag: string;
}

/** Where something stands: in a file, or on the command line. */
export interface Position {
  readonly place?: Place;
  readonly excerpt?: string;
  readonly flag?: string;
}

/** What one file says, as plain values: maps without prototype, arrays, text, numbers, booleans, null. */
export interface Tree {
  /** As shown to people; empty where there is no file. */
  readonly file: string;
  /** Absolute; empty where there is no file. */
  readonly path: string;
  readonly root: unknown;
  /** The nearest place to a path: of the key or of the value, or of whatever holds a path that is not there. */
  position(path: Path, at?: "key" | "value"): Position;
}

type Map_ = Record<string, unknown>;

/** Whether a value is a map of a `Tree`. */
export function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** The value at a path, or undefined. */
export function valueAt(root: unknown, path: Path): unknown {
  let value = root;
  for (const key of path) {
    if (Array.isArray(value)) value = value[Number(key)];
    else if (isRecord(value) && Object.hasOwn(value, String(key))) value = value[String(key)];
    else return undefined;
  }
  return value;
}

/** A problem at a path of a tree; one that a flag caused names the flag. */
export function problemAt(
  tree: Tree,
  path: Path,
  code: ProblemCode,
  message: string,
  hint?: string,
  at: "key" | "value" = "value",
): Problem {
  const { place, excerpt, flag } = tree.position(path, at);
  return {
    code,
    message: flag === undefined ? message : `${flag}: ${message}`,
    ...(hint === undefined ? {} : { hint }),
    ...(place === undefined ? {} : { place }),
    ...(excerpt === undefined ? {} : { excerpt }),
  };
}

/** Values in one file, counting each use of an anchor; enough for any real file, too few for a bomb. */
const MOST_VALUES = 200_000;
const DEEPEST = 60;

class Overgrown extends Error {}

const PLAIN_WORDS: Readonly<Record<string, readonly [string, string]>> = {
  BAD_INDENT: [
    "this line is indented in a way that fits nothing above it",
    "use spaces, and the same number for keys that belong together",
  ],
  TAB_AS_INDENT: ["this line is indented with a tab", "indent with spaces; tabs are not allowed in YAML"],
  MISSING_CHAR: [
    "something is missing here",
    "look for a bracket, quote, comma or `:` that is opened and not closed",
  ],
  BLOCK_AS_IMPLICIT_KEY: [
    "two `key: value` pairs on one line",
    "give each its own line, or put them in braces: `{a: 1, b: 2}`",
  ],
  UNEXPECTED_TOKEN: ["this was not expected here", "look for a stray bracket, brace, quote or comma"],
  BLOCK_IN_FLOW: [
    "an indented list or map inside brackets",
    "close the bracket first, or write it all inside brackets",
  ],
  BAD_SCALAR_START: ["text cannot begin with this sign", 'put it in quotes: "..."'],
  MULTILINE_IMPLICIT_KEY: [
    "a key runs over more than one line",
    "is a `:` missing after the key, or a quote not closed?",
  ],
  MULTIPLE_DOCS: ["a second document begins here (`---`)", "keep one document in a file"],
  BAD_ALIAS: [
    "an alias (`*name`) that leads nowhere",
    'put text that begins with `*` or `&` in quotes: "*..."',
  ],
  TAG_RESOLVE_FAILED: ["a tag (`!...`) that means nothing here", "leave the tag out"],
  NON_STRING_KEY: ["a key must be a plain word or number", "keys are words or numbers, not lists or maps"],
};

const NOT_CLOSED = [
  "a bracket or brace opened above is not closed before this",
  "close it with `]` or `}`, and indent what stands inside more than its key",
] as const;

/**
 * Parses YAML 1.2 (core schema).
 * @param file the name to show in places; `path` the absolute one.
 * @returns the tree, and what is wrong with the text. With `broken`, the text is not YAML and the tree is empty;
 *   a duplicate key alone leaves the rest readable.
 */
export function parseTree(
  text: string,
  file: string,
  path: string,
): { readonly tree: Tree; readonly problems: readonly Problem[]; readonly broken: boolean } {
  const rows = (): string[] => text.split(/\r?\n/);
  const placeOf = (offset: number): { place: Place; excerpt: string } => {
    const before = text.slice(0, Math.max(0, offset));
    const line = before.split("\n").length;
    const column = before.length - before.lastIndexOf("\n");
    return { place: { file, line, column }, excerpt: rows()[line - 1] ?? "" };
  };
  const start = { place: { file, line: 1, column: 1 }, excerpt: rows()[0] ?? "" };
  const empty = (): Tree => ({
    file,
    path,
    root: undefined,
    position: () => start,
  });

  const plain = plainValues(text);
  if (plain !== undefined) {
    let placed: Document.Parsed | undefined;
    // Most questions are only whether a flag is behind a value, so the text is parsed again when a place is read.
    const position = (wanted: Path, at: "key" | "value" = "value"): Position => {
      const found = () => {
        placed ??= documentOf(text);
        return placeOf(offsetOf(placed, wanted, at));
      };
      return {
        get place() {
          return found().place;
        },
        get excerpt() {
          return found().excerpt;
        },
      };
    };
    return { tree: { file, path, root: plain.root, position }, problems: [], broken: false };
  }

  let document: Document.Parsed;
  try {
    document = documentOf(text);
  } catch (error) {
    return { tree: empty(), problems: [overgrown(start, error)], broken: true };
  }

  const problems: Problem[] = [];
  let broken = false;
  for (const fault of [...document.errors, ...document.warnings]) {
    const at = placeOf(fault.pos[0]);
    broken = true;
    if (fault.code === "RESOURCE_EXHAUSTION") {
      problems.push(overgrown(at, new Overgrown("deep")));
      continue;
    }
    const words = fault.message.startsWith("Flow") ? NOT_CLOSED : PLAIN_WORDS[fault.code];
    problems.push({
      code: "yaml-syntax" satisfies ProblemCode,
      message: words?.[0] ?? fault.message.split("\n")[0] ?? "",
      hint: words?.[1] ?? "this is not YAML as it stands",
      ...at,
    });
  }
  if (broken) return { tree: empty(), problems, broken };

  let root: unknown;
  try {
    const reading: Reading = { document, left: MOST_VALUES, lost: [], twice: [] };
    root = toValue(document.contents, 0, reading);
    for (const offset of reading.lost) {
      const [message, hint] = PLAIN_WORDS.BAD_ALIAS!;
      problems.push({ code: "yaml-syntax" satisfies ProblemCode, message, hint, ...placeOf(offset) });
    }
    if (reading.lost.length > 0) return { tree: empty(), problems, broken: true };
    for (const { key, first, second } of reading.twice)
      problems.push({
        code: "key-duplicate" satisfies ProblemCode,
        message: `the key \`${key}\` stands twice in this map, first on line ${placeOf(first).place.line}`,
        hint: "keep one of the two",
        ...placeOf(second),
      });
  } catch (error) {
    if (!(error instanceof Overgrown) && !(error instanceof RangeError)) throw error;
    return { tree: empty(), problems: [...problems, overgrown(start, error)], broken: true };
  }

  const position = (wanted: Path, at: "key" | "value" = "value"): Position =>
    placeOf(offsetOf(document, wanted, at));
  return { tree: { file, path, root, position }, problems, broken };
}

/** Plain scalars are told apart, and keys counted, in `toValue`: one pass instead of three. */
function documentOf(text: string): Document.Parsed {
  return parseDocument(text, {
    prettyErrors: false,
    logLevel: "error",
    schema: "failsafe",
    uniqueKeys: false,
  });
}

/** Where the key or the value at a path begins, or what is nearest to it. */
function offsetOf(document: Document, wanted: Path, at: "key" | "value"): number {
  let node: Node | null | undefined = document.contents;
  let key: Node | undefined;
  let whole = true;
  for (const step of wanted) {
    const holder: Node | null | undefined = isAlias(node) ? node.resolve(document) : node;
    if (isMap(holder)) {
      const pair = holder.items.find((p) => keyText(p.key) === String(step));
      if (pair === undefined) {
        whole = false;
        break;
      }
      key = pair.key as Node;
      node = pair.value as Node | null;
    } else if (isSeq(holder) && holder.items[Number(step)] !== undefined) {
      key = undefined;
      node = holder.items[Number(step)] as Node;
    } else {
      whole = false;
      break;
    }
  }
  const blank = isScalar(node) && (node.value === null || node.source === "");
  const chosen =
    key !== undefined && (at === "key" || !whole || node === null || blank) ? key : (node ?? key);
  return chosen?.range?.[0] ?? 0;
}

/** A map or list that is being filled while the events of js-yaml go by. */
type Holder = { readonly list: unknown[] } | { readonly map: Map_; key: string | undefined };

/** Marks of documents, and keys set off by `?`: the parsers do not agree on all that may follow. */
const UNUSUAL = /^(?:---|\.\.\.|%)|(?:^|[\s,[{-])\?(?:\s|$)/m;

/**
 * The values of an ordinary file: one document without anchors, aliases, tags or directives, whose maps have each key
 * once. Undefined for any other, and for what is not YAML.
 */
function plainValues(text: string): { readonly root: unknown } | undefined {
  if (UNUSUAL.test(text)) return undefined;
  let events: Event[];
  try {
    events = parseEvents(text, { maxDepth: DEEPEST });
  } catch {
    return undefined;
  }
  if (events.length > MOST_VALUES) return undefined;
  let root: unknown = null;
  let documents = 0;
  const open: Holder[] = [];
  /** Puts a value where it belongs; false where it cannot stand. */
  const put = (value: unknown): boolean => {
    const holder = open.at(-1);
    if (holder === undefined) root = value;
    else if ("list" in holder) holder.list.push(value);
    else if (holder.key === undefined) return false;
    else {
      holder.map[holder.key] = value;
      holder.key = undefined;
    }
    return true;
  };
  for (const event of events) {
    switch (event.type) {
      case EVENT_ID.DOCUMENT:
        documents += 1;
        if (documents > 1 || event.directives.length > 0) return undefined;
        open.length = 0;
        break;
      case EVENT_ID.SCALAR: {
        if (event.anchorStart >= 0 || event.tagStart >= 0) return undefined;
        const value = getScalarValue(text, event);
        const holder = open.at(-1);
        if (holder !== undefined && "map" in holder && holder.key === undefined) {
          if (value === "" || Object.hasOwn(holder.map, value)) return undefined;
          holder.key = value;
        } else put(event.style === SCALAR_STYLE.PLAIN ? plainScalar(value) : value);
        break;
      }
      case EVENT_ID.MAPPING:
      case EVENT_ID.SEQUENCE: {
        if (event.anchorStart >= 0 || event.tagStart >= 0) return undefined;
        const list: unknown[] = [];
        const map = Object.create(null) as Map_;
        const isList = event.type === EVENT_ID.SEQUENCE;
        if (!put(isList ? list : map)) return undefined;
        open.push(isList ? { list } : { map, key: undefined });
        break;
      }
      case EVENT_ID.POP:
        open.pop();
        break;
      default:
        return undefined;
    }
  }
  return { root };
}

function overgrown(at: { place: Place; excerpt: string }, error: unknown): Problem {
  const deep = error instanceof RangeError || (error instanceof Overgrown && error.message === "deep");
  return {
    code: "yaml-limits" satisfies ProblemCode,
    message: deep
      ? `this file is nested more than ${DEEPEST} levels deep`
      : `this file holds more than ${MOST_VALUES} values, counting what aliases (\`*name\`) repeat`,
    hint: deep ? "write it out flat" : "divide it into several files, and write it out without aliases",
    ...at,
  };
}

function keyText(key: unknown): string {
  if (!isScalar(key)) return String(key);
  return typeof key.value === "string" ? key.value : String(key.source ?? key.value ?? "");
}

interface Reading {
  readonly document: Document;
  /** How many more values may come. */
  left: number;
  /** Offsets of aliases without an anchor. */
  readonly lost: number[];
  readonly twice: { readonly key: string; readonly first: number; readonly second: number }[];
}

function toValue(node: unknown, depth: number, reading: Reading): unknown {
  if (depth > DEEPEST) throw new Overgrown("deep");
  reading.left -= 1;
  if (reading.left < 0) throw new Overgrown("large");
  if (isAlias(node)) {
    const anchored = node.resolve(reading.document);
    if (anchored === undefined) reading.lost.push(node.range?.[0] ?? 0);
    return toValue(anchored, depth + 1, reading);
  }
  if (isMap(node)) {
    const map: Map_ = Object.create(null) as Map_;
    for (const pair of node.items) {
      const key = keyText(pair.key);
      // The first of two counts, as it does for places.
      if (Object.hasOwn(map, key)) reading.twice.push(twins(node, key, pair));
      else map[key] = toValue(pair.value, depth + 1, reading);
    }
    return map;
  }
  if (isSeq(node)) return node.items.map((item) => toValue(item, depth + 1, reading));
  if (!isScalar(node)) return null;
  return node.type === "PLAIN" ? plainScalar(String(node.source ?? node.value ?? "")) : (node.value ?? null);
}

function twins(map: YAMLMap, key: string, second: Pair): Reading["twice"][number] {
  const offset = (pair: Pair | undefined): number => (pair?.key as Node | undefined)?.range?.[0] ?? 0;
  return { key, first: offset(map.items.find((p) => keyText(p.key) === key)), second: offset(second) };
}

const INTEGER = /^[-+]?[0-9]+$/;
const OCTAL = /^0o[0-7]+$/;
const HEX = /^0x[0-9a-fA-F]+$/;
const FLOAT = /^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$/;
const WORDS: ReadonlyMap<string, unknown> = new Map<string, unknown>([
  ...["", "~", "null", "Null", "NULL"].map((w) => [w, null] as const),
  ...["true", "True", "TRUE"].map((w) => [w, true] as const),
  ...["false", "False", "FALSE"].map((w) => [w, false] as const),
  ...[".inf", ".Inf", ".INF", "+.inf", "+.Inf", "+.INF"].map((w) => [w, Number.POSITIVE_INFINITY] as const),
  ...["-.inf", "-.Inf", "-.INF"].map((w) => [w, Number.NEGATIVE_INFINITY] as const),
  ...[".nan", ".NaN", ".NAN"].map((w) => [w, Number.NaN] as const),
]);

/** An unquoted scalar by the core schema of YAML 1.2.2, section 10.3.2. */
function plainScalar(text: string): unknown {
  if (WORDS.has(text)) return WORDS.get(text);
  if (!/^[-+.0-9]/.test(text)) return text;
  return INTEGER.test(text) || FLOAT.test(text) || OCTAL.test(text) || HEX.test(text) ? Number(text) : text;
}

/** A tree for values that come from no file, such as flags alone. */
export function bareTree(root: unknown): Tree {
  return { file: "", path: "", root, position: () => ({}) };
}

/**
 * Lays overrides over a tree: each sets one value, making the maps on the way. A place inside an overridden value is its flag.
 * The given tree is not changed.
 */
export function withOverrides(tree: Tree, overrides: readonly Override[]): Tree {
  if (overrides.length === 0) return tree;
  let root = tree.root;
  for (const { path, value } of overrides) root = replaced(root, path, value);
  const position = (wanted: Path, at: "key" | "value" = "value"): Position => {
    const over = overrides.findLast((o) => o.path.every((step, i) => String(wanted[i]) === String(step)));
    if (over) return { flag: over.flag };
    const made = overrides.find(
      (o) =>
        wanted.length > 0 &&
        wanted.every((step, i) => String(o.path[i]) === String(step)) &&
        valueAt(tree.root, wanted) === undefined,
    );
    return made ? { flag: made.flag } : tree.position(wanted, at);
  };
  return { ...tree, root, position };
}

function replaced(root: unknown, path: Path, value: unknown): unknown {
  const [step, ...rest] = path;
  if (step === undefined) return value;
  if (Array.isArray(root) && /^\d+$/.test(String(step)) && Number(step) <= root.length) {
    const list: unknown[] = [...(root as unknown[])];
    list[Number(step)] = replaced(list[Number(step)], rest, value);
    return list;
  }
  const map: Map_ = Object.assign(Object.create(null) as Map_, isRecord(root) ? root : {});
  map[String(step)] = replaced(map[String(step)], rest, value);
  return map;
}

/**
 * Reads the value of a flag such as `--set batch.size="60 lb"` as YAML: `30%` is text, `3` a number, `[a, b]` a list.
 * @returns the text itself where it is not YAML.
 */
export function parseFlagValue(text: string): unknown {
  if (text.trim() === "") return "";
  const { tree, broken } = parseTree(text, "", "");
  return broken || tree.root === undefined ? text : tree.root;
}
