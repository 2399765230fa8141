/**
 * YAML text to plain values with their places. The one door to the js-yaml package.
 *
 * Values are plain and own nothing of the parser. Everything here takes time in proportion to the text: places are found
 * through the starts of lines, keys and aliases through tables that are made once. What is wrong with a text that is not
 * YAML is told by `yaml-faults.ts`.
 */
import {
  EVENT_ID,
  type Event,
  getScalarValue,
  parseEvents,
  SCALAR_STYLE,
  type ScalarEvent,
  YAMLException,
} from "js-yaml";
import { type Problem, thousands } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";
import type { Path, Position, Tree } from "./source.ts";
import { capped, DEEPEST, Lines, MOST_VALUES, overgrown, syntaxFault, syntaxFaults } from "./yaml-faults.ts";

type Map_ = Record<string, unknown>;

/** Characters in one file. A long list of amendments has twenty thousand; this is a thousand times an ordinary plan. */
const LARGEST = 1_000_000;

class Overgrown extends Error {
  readonly deep: boolean;

  constructor(deep: boolean) {
    super(deep ? "nested too deep" : "too many values");
    this.deep = deep;
  }
}

/** Something that the parser takes and a file here must not hold. */
class Refused extends Error {
  readonly code: string;
  readonly offset: number;

  constructor(code: string, offset: number) {
    super(code);
    this.code = code;
    this.offset = offset;
  }
}

/** A node of a document; `at` is the offset where it begins. */
type Node =
  | { readonly kind: "scalar"; readonly at: number; readonly text: string; readonly plain: boolean }
  | { readonly kind: "map"; readonly at: number; readonly pairs: Pair[]; byKey?: ReadonlyMap<string, Pair> }
  | { readonly kind: "list"; readonly at: number; readonly items: Node[] }
  /** `to` is absent for an alias without an anchor before it. */
  | { readonly kind: "alias"; readonly at: number; readonly to: Node | undefined };
type MapNode = Extract<Node, { kind: "map" }>;

interface Pair {
  readonly key: string;
  readonly keyAt: number;
  readonly value: Node;
}

interface ParsedText {
  readonly tree: Tree;
  readonly problems: readonly Problem[];
  readonly broken: boolean;
}

/**
 * Parses YAML 1.2 (core schema).
 * @param file the name to show in places; `path` the absolute one.
 * @returns the tree, and what is wrong with the text. With `broken`, the text is not YAML and the tree is empty;
 *   a duplicate key alone leaves the rest readable.
 */
export function parseTree(text: string, file: string, path: string): ParsedText {
  const lines = new Lines(text, file);
  const empty: Tree = { file, path, root: undefined, position: () => lines.at(0) };
  const broken = (...problems: readonly Problem[]): ParsedText => ({ tree: empty, problems, broken: true });
  const bad = unprintable(text, lines);
  if (bad !== undefined) return broken(bad);
  if (text.length > LARGEST) return broken(tooLong(text.length, lines.at(0)));

  const reading: Reading = { left: MOST_VALUES, lost: [], twice: [] };
  let top: Node | undefined;
  let root: unknown;
  try {
    top = documentOf(text);
    root = top === undefined ? null : toValue(top, 0, reading);
  } catch (error) {
    if (error instanceof Overgrown) return broken(overgrown(lines.at(0), error.deep));
    return broken(...faultsOf(error, text, lines));
  }
  if (reading.lost.length > 0)
    return broken(...capped(reading.lost.map((at) => syntaxFault("BAD_ALIAS", lines.at(at)))));
  const position = (wanted: Path, at: "key" | "value" = "value"): Position =>
    lines.at(offsetOf(top, wanted, at));
  return { tree: { file, path, root, position }, problems: duplicates(reading, lines), broken: false };
}

/** What stopped the reading, as problems. */
function faultsOf(error: unknown, text: string, lines: Lines): Problem[] {
  if (!(error instanceof RangeError || error instanceof Refused || error instanceof YAMLException))
    throw error;
  try {
    const found = error instanceof RangeError ? [] : syntaxFaults(text, lines);
    if (found.length > 0) return found;
  } catch (deeper) {
    if (!(deeper instanceof RangeError)) throw deeper;
    return [overgrown(lines.at(0), true)];
  }
  if (error instanceof Refused) return [syntaxFault(error.code, lines.at(error.offset))];
  if (error instanceof YAMLException) return [syntaxFault("", lines.at(error.mark?.position ?? 0))];
  return [overgrown(lines.at(0), true)];
}

/** The keys that are twice in one map. */
function duplicates(reading: Reading, lines: Lines): Problem[] {
  return reading.twice.map(({ key, first, second }) => ({
    code: "key-duplicate" satisfies ProblemCode,
    message: `the key \`${key}\` is in this map twice, first on line ${lines.at(first).place.line}`,
    hint: "keep one of the two",
    ...lines.at(second),
  }));
}

/** Characters that YAML 1.2.2 does not allow in a text (section 5.1): control characters other than tab and line ends. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is looked for
const UNPRINTABLE = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u0084\u0086-\u009f\ufffe\uffff]/;

function unprintable(text: string, lines: Lines): Problem | undefined {
  const found = UNPRINTABLE.exec(text);
  if (found === null) return undefined;
  const number = found[0].charCodeAt(0).toString(16).toUpperCase().padStart(4, "0");
  return {
    code: "yaml-syntax" satisfies ProblemCode,
    message: `a control character (U+${number}) is in the text here`,
    hint: "delete it; if the whole file looks odd, save it again as plain text",
    ...lines.at(found.index),
  };
}

function tooLong(length: number, at: ReturnType<Lines["at"]>): Problem {
  return {
    code: "yaml-limits" satisfies ProblemCode,
    message: `this file has ${thousands(length)} characters; at most ${thousands(LARGEST)} are read`,
    hint: "divide it into several files",
    ...at,
  };
}

/** The nodes of a text, which holds one document; undefined where it holds nothing. */
function documentOf(text: string): Node | undefined {
  // How deep is too deep is decided on the values, where aliases count.
  const events = parseEvents(text, { maxDepth: Number.POSITIVE_INFINITY });
  const anchors = new Map<string, Node>();
  let next = 0;
  /** Where the last thing that has a place ended. */
  let last = 0;

  const read = (): Node => {
    const event = events[next++]!;
    if (event.type === EVENT_ID.ALIAS) {
      last = event.anchorEnd;
      // An alias means the last node before it that has the anchor of its name (YAML 1.2.2, section 7.1).
      const to = anchors.get(text.slice(event.anchorStart, event.anchorEnd));
      return { kind: "alias", at: event.anchorStart - 1, to };
    }
    const node = opened(event);
    if ("anchorStart" in event && event.anchorStart >= 0)
      anchors.set(text.slice(event.anchorStart, event.anchorEnd), node);
    if (node.kind === "map") {
      while (events[next]!.type !== EVENT_ID.POP) {
        const key = read();
        node.pairs.push({ key: keyText(key), keyAt: key.at, value: read() });
      }
      next++;
    } else if (node.kind === "list") {
      while (events[next]!.type !== EVENT_ID.POP) node.items.push(read());
      next++;
    }
    return node;
  };

  const opened = (event: Event): Node => {
    if (
      "tagStart" in event &&
      event.tagStart >= 0 &&
      !KNOWN_TAGS.has(text.slice(event.tagStart, event.tagEnd))
    )
      throw new Refused("TAG_RESOLVE_FAILED", event.tagStart);
    if (event.type === EVENT_ID.SCALAR) {
      const at = beginning(text, event, last);
      if (event.valueStart >= 0) last = event.valueEnd;
      const plain = event.style === SCALAR_STYLE.PLAIN && event.tagStart < 0;
      return { kind: "scalar", at, text: getScalarValue(text, event), plain };
    }
    if (event.type !== EVENT_ID.MAPPING && event.type !== EVENT_ID.SEQUENCE)
      throw new Error("an event of the YAML parser that begins no node");
    last = event.start;
    return event.type === EVENT_ID.MAPPING
      ? { kind: "map", at: event.start, pairs: [] }
      : { kind: "list", at: event.start, items: [] };
  };

  if (events.length === 0) return undefined;
  next = 1;
  const top = read();
  // What follows the end of this document would be another one.
  if (events.length > next + 1) throw new Refused("MULTIPLE_DOCS", last);
  return top;
}

/** Tags that say nothing but what is there. */
const KNOWN_TAGS: ReadonlySet<string> = new Set(["!", "!!str", "!!map", "!!seq"]);

/** Where a scalar begins, with its quote or its `|`; where nothing is written, what follows the gap after `last`. */
function beginning(text: string, event: ScalarEvent, last: number): number {
  const { valueStart, style } = event;
  if (valueStart < 0) {
    const gap = /(?:[\s,[{]|#.*)*/y;
    gap.lastIndex = last;
    return last + gap.exec(text)![0].length;
  }
  if (style === SCALAR_STYLE.PLAIN) return valueStart;
  if (style === SCALAR_STYLE.LITERAL_BLOCK) return text.lastIndexOf("|", valueStart);
  return style === SCALAR_STYLE.FOLDED_BLOCK ? text.lastIndexOf(">", valueStart) : valueStart - 1;
}

function keyText(key: Node): string {
  if (key.kind === "alias" && key.to !== undefined) return keyText(key.to);
  if (key.kind !== "scalar") throw new Refused("NON_STRING_KEY", key.at);
  return key.text;
}

/** The pairs of a map by key; the first of two with one key counts. */
function pairsOf(map: MapNode): ReadonlyMap<string, Pair> {
  if (map.byKey === undefined) {
    const pairs = new Map<string, Pair>();
    for (const pair of map.pairs) if (!pairs.has(pair.key)) pairs.set(pair.key, pair);
    map.byKey = pairs;
  }
  return map.byKey;
}

/** Where the key or the value at a path begins, or what is nearest to it. */
function offsetOf(top: Node | undefined, wanted: Path, at: "key" | "value"): number {
  let node = top;
  let keyAt: number | undefined;
  let whole = true;
  for (const step of wanted) {
    const holder: Node | undefined = node?.kind === "alias" ? node.to : node;
    const pair: Pair | undefined = holder?.kind === "map" ? pairsOf(holder).get(String(step)) : undefined;
    const item: Node | undefined = holder?.kind === "list" ? holder.items[Number(step)] : undefined;
    if (pair === undefined && item === undefined) {
      whole = false;
      break;
    }
    keyAt = pair?.keyAt;
    node = pair?.value ?? item;
  }
  const blank = node?.kind === "scalar" && node.plain && node.text === "";
  return (at === "key" || !whole || blank ? keyAt : undefined) ?? node?.at ?? keyAt ?? 0;
}

interface Reading {
  /** How many more values may come. */
  left: number;
  /** Offsets of aliases without an anchor. */
  readonly lost: number[];
  readonly twice: { readonly key: string; readonly first: number; readonly second: number }[];
}

function toValue(node: Node, depth: number, reading: Reading): unknown {
  if (depth > DEEPEST) throw new Overgrown(true);
  reading.left -= 1;
  if (reading.left < 0) throw new Overgrown(false);
  switch (node.kind) {
    case "alias":
      if (node.to !== undefined) return toValue(node.to, depth + 1, reading);
      reading.lost.push(node.at);
      return null;
    case "map": {
      const map: Map_ = Object.create(null) as Map_;
      for (const { key, keyAt, value } of node.pairs) {
        // The first of two counts, as it does for places.
        if (Object.hasOwn(map, key))
          reading.twice.push({ key, first: pairsOf(node).get(key)!.keyAt, second: keyAt });
        else map[key] = toValue(value, depth + 1, reading);
      }
      return map;
    }
    case "list":
      return node.items.map((item) => toValue(item, depth + 1, reading));
    default:
      return node.plain ? plainScalar(node.text) : node.text;
  }
}

const INTEGER = /^[-+]?(?:0|[1-9][0-9]*)$/;
const FLOAT = /^[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$/;
const WORDS: ReadonlyMap<string, unknown> = new Map<string, unknown>([
  ...["", "~", "null", "Null", "NULL"].map((w) => [w, null] as const),
  ...["true", "True", "TRUE"].map((w) => [w, true] as const),
  ...["false", "False", "FALSE"].map((w) => [w, false] as const),
  ...[".inf", ".Inf", ".INF", "+.inf", "+.Inf", "+.INF"].map((w) => [w, Number.POSITIVE_INFINITY] as const),
  ...["-.inf", "-.Inf", "-.INF"].map((w) => [w, Number.NEGATIVE_INFINITY] as const),
  ...[".nan", ".NaN", ".NAN"].map((w) => [w, Number.NaN] as const),
]);

/**
 * An unquoted scalar by the core schema of YAML 1.2.2, section 10.3.2, but for the numbers that people read in two ways:
 * `0o17`, `0x1F` and `012` stay text, which is then refused where a number is needed.
 */
function plainScalar(text: string): unknown {
  if (WORDS.has(text)) return WORDS.get(text);
  if (!/^[-+.0-9]/.test(text)) return text;
  return INTEGER.test(text) || FLOAT.test(text) ? Number(text) : text;
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
