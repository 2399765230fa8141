/**
 * YAML text to plain values with their places. The only door to the yaml package.
 *
 * Values are plain and own nothing of the parser. Everything here takes time in proportion to the text: places are found
 * through the starts of lines, keys and aliases through tables that are made once.
 */
import {
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  LineCounter,
  type Node,
  type Pair,
  parseDocument,
  visit,
  type YAMLMap,
} from "yaml";
import { defined } from "../optional.ts";
import { type Place, type Problem, thousands } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";
import type { Path, Position, Tree } from "./source.ts";

type Map_ = Record<string, unknown>;

/** Characters in one file. A long list of amendments has twenty thousand; this is a thousand times an ordinary plan. */
const LARGEST = 1_000_000;
/** Values in one file, counting each use of an anchor; enough for any real file, too few for a bomb. */
const MOST_VALUES = 200_000;
const DEEPEST = 60;
/** One stray bracket can make a parser stumble hundreds of times; the first few faults say enough. */
const MOST_SYNTAX_FAULTS = 4;

/** Thrown where a file holds too many values; one that is too deep ends in the engine's own `RangeError`, or in this. */
class TooMany extends Error {}

const PLAIN_WORDS: Readonly<Record<string, readonly [string, string]>> = {
  NOT_CLOSED: [
    "a bracket or brace opened above is not closed before this",
    "close it with `]` or `}`, and indent what is inside it more than its key",
  ],
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

class Lines {
  private readonly counter = new LineCounter();

  constructor(
    private readonly text: string,
    private readonly file: string,
  ) {}

  /** The place of a character, and its line as written. */
  at(offset: number): { readonly place: Place; readonly excerpt: string } {
    const { text, file, counter } = this;
    const { lineStarts } = counter;
    // Lines are counted when the first place is asked for, which is seldom.
    if (lineStarts.length === 0) {
      counter.addNewLine(0);
      for (const { index } of text.matchAll(/\n/g)) counter.addNewLine(index + 1);
    }
    const { line, col: column } = counter.linePos(Math.max(0, Math.min(offset, text.length)));
    const excerpt = text.slice(lineStarts[line - 1], lineStarts[line]).replace(/\r?\n?$/, "");
    return { place: { file, line, column }, excerpt };
  }
}

/** A parsed document, with tables of what would otherwise be searched for again and again. */
interface Parsed {
  readonly document: Document.Parsed;
  /** What each alias means; absent for an alias without an anchor before it. */
  readonly anchored: ReadonlyMap<unknown, Node>;
  readonly keys: WeakMap<YAMLMap, ReadonlyMap<string, Pair>>;
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
  const bad = unprintable(text, lines) ?? tooLong(text, lines);
  if (bad !== undefined) return broken(bad);
  try {
    const parsed = documentOf(text);
    const faults = syntaxFaults(parsed.document, lines);
    if (faults.length > 0) return broken(...faults);
    const reading: Reading = { parsed, lines, left: MOST_VALUES, lost: [], problems: [] };
    const root = toValue(parsed.document.contents, 0, reading);
    if (reading.lost.length > 0) return broken(...capped(reading.lost));
    const position = (wanted: Path, at: "key" | "value" = "value"): Position =>
      lines.at(offsetOf(parsed, wanted, at));
    return { tree: { file, path, root, position }, problems: reading.problems, broken: false };
  } catch (error) {
    // The parser, too, goes down one call a level.
    if (!(error instanceof TooMany) && !(error instanceof RangeError)) throw error;
    return broken(overgrown(lines.at(0), error instanceof RangeError));
  }
}

type At = ReturnType<Lines["at"]>;

const problem = (code: ProblemCode, at: At, message: string, hint: string): Problem => ({
  code,
  message,
  hint,
  ...at,
});

/** Characters that YAML 1.2.2 does not allow in a text (section 5.1): control characters other than tab and line ends. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is looked for
const UNPRINTABLE = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u0084\u0086-\u009f\ufffe\uffff]/;

function unprintable(text: string, lines: Lines): Problem | undefined {
  const found = UNPRINTABLE.exec(text);
  if (found === null) return undefined;
  const number = found[0].charCodeAt(0).toString(16).toUpperCase().padStart(4, "0");
  const message = `a control character (U+${number}) is in the text here`;
  const hint = "delete it; if the whole file looks odd, save it again as plain text";
  return problem("yaml-syntax", lines.at(found.index), message, hint);
}

function tooLong({ length }: string, lines: Lines): Problem | undefined {
  if (length <= LARGEST) return undefined;
  const message = `this file has ${thousands(length)} characters; at most ${thousands(LARGEST)} are read`;
  return problem("yaml-limits", lines.at(0), message, "divide it into several files");
}

function syntaxFaults(document: Document.Parsed, lines: Lines): Problem[] {
  const faults = [...document.errors, ...document.warnings].sort((a, b) => a.pos[0] - b.pos[0]);
  return capped(
    faults.slice(0, MOST_SYNTAX_FAULTS + 1).map((fault) => {
      const at = lines.at(fault.pos[0]);
      if (fault.code === "RESOURCE_EXHAUSTION") return overgrown(at, true);
      const quote = fault.message.endsWith("quote") ? openedQuote(document, fault.pos[0]) : undefined;
      if (quote !== undefined)
        return problem(
          "yaml-syntax",
          lines.at(quote),
          "the quote that opens here is not closed",
          "close it at the end of the text that it holds; an apostrophe goes into double quotes",
        );
      return syntaxFault(fault.message.startsWith("Flow") ? "NOT_CLOSED" : fault.code, at);
    }),
    faults.length,
  );
}

function openedQuote(document: Document.Parsed, place: number): number | undefined {
  let found: number | undefined;
  visit(document, {
    Scalar: (_, { type, range }) => {
      const quoted = type === "QUOTE_DOUBLE" || type === "QUOTE_SINGLE";
      if (quoted && range && range[0] < place) found = Math.max(found ?? 0, range[0]);
    },
  });
  return found;
}

/** Text with an apostrophe in single quotes, which end at it: `'Ann's tomatoes'`. */
const APOSTROPHE = /(?:[:,{[]\s*|-\s+|^\s*)'(\p{L}[^'"]*'\p{L}[^'"]*?)'?\s*(?:#.*)?$/u;

/** A key whose colon touches its value, `recipe:pepper`; a web address is none. */
const TOUCHING = /^\s*(?:- +)?([A-Za-z_][\w-]*):([^\s/].*)$/;

function syntaxFault(code: string, at: At): Problem {
  const touching = code === "BAD_ALIAS" ? null : TOUCHING.exec(at.excerpt);
  const apostrophe = code === "UNEXPECTED_TOKEN" ? APOSTROPHE.exec(at.excerpt) : null;
  const [message, hint] =
    apostrophe !== null
      ? ["the apostrophe ends the quote", `use double quotes: \`"${apostrophe[1]}"\``]
      : touching !== null
        ? [
            "there is no space after the colon",
            `write \`${touching[1]}: ${touching[2]!.replace(/\s+#.*$/, "")}\``,
          ]
        : (PLAIN_WORDS[code] ?? ["this is not YAML", "look for a missing quote, bracket or `:`"]);
  return problem("yaml-syntax", at, message, hint);
}

/** The first few problems, and at the place of the next one how many follow. */
function capped(problems: readonly Problem[], total = problems.length): Problem[] {
  if (total <= MOST_SYNTAX_FAULTS + 1) return [...problems];
  const next = problems[MOST_SYNTAX_FAULTS]!;
  return [
    ...problems.slice(0, MOST_SYNTAX_FAULTS),
    {
      ...next,
      message: `${thousands(total - MOST_SYNTAX_FAULTS)} more faults of this kind follow from here`,
      hint: "mend the first one and check again: the others may come from it",
    },
  ];
}

/** Plain scalars are told apart, and keys counted, in `toValue`: one pass instead of three. */
function documentOf(text: string): Parsed {
  const document = parseDocument(text, {
    prettyErrors: false,
    logLevel: "error",
    schema: "failsafe",
    uniqueKeys: false,
  });
  const anchored = new Map<unknown, Node>();
  const parsed = { document, anchored, keys: new WeakMap() };
  if (!text.includes("*")) return parsed;
  const named = new Map<string, Node>();
  // An alias means the last node before it that has the anchor of its name (YAML 1.2.2, section 7.1).
  visit(document, {
    Node: (_, node) => {
      if (isAlias(node)) {
        const found = named.get(node.source);
        if (found !== undefined) anchored.set(node, found);
      } else if ("anchor" in node && typeof node.anchor === "string") named.set(node.anchor, node as Node);
    },
  });
  return parsed;
}

/** The pairs of a map by key; the first of two with one key counts. */
function pairsOf(map: YAMLMap, { keys }: Parsed): ReadonlyMap<string, Pair> {
  const known = keys.get(map);
  if (known !== undefined) return known;
  const pairs = new Map<string, Pair>();
  for (const pair of map.items) {
    const key = keyText(pair.key);
    if (!pairs.has(key)) pairs.set(key, pair);
  }
  keys.set(map, pairs);
  return pairs;
}

/** Where the key or the value at a path begins, or what is nearest to it. */
function offsetOf(parsed: Parsed, wanted: Path, at: "key" | "value"): number {
  let node: Node | null | undefined = parsed.document.contents;
  let key: Node | undefined;
  let whole = true;
  for (const step of wanted) {
    const holder: Node | null | undefined = isAlias(node) ? parsed.anchored.get(node) : node;
    const pair: Pair | undefined = isMap(holder) ? pairsOf(holder, parsed).get(String(step)) : undefined;
    if (pair !== undefined) {
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

function overgrown(at: At, deep: boolean): Problem {
  const [message, hint] = deep
    ? [`this file is nested more than ${DEEPEST} levels deep`, "write it out flat"]
    : [
        `this file holds more than ${thousands(MOST_VALUES)} values, counting what aliases (\`*name\`) repeat`,
        "divide it into several files, and write it out without aliases",
      ];
  return problem("yaml-limits", at, message!, hint!);
}

function keyText(key: unknown): string {
  if (!isScalar(key)) return String(key);
  return typeof key.value === "string" ? key.value : String(key.source ?? key.value ?? "");
}

interface Reading {
  readonly parsed: Parsed;
  readonly lines: Lines;
  /** How many more values may come. */
  left: number;
  /** Aliases without an anchor. */
  readonly lost: Problem[];
  /** What is wrong and leaves the rest readable. */
  readonly problems: Problem[];
}

const offsetOfNode = (node: unknown): number => (node as Node | undefined)?.range?.[0] ?? 0;

function toValue(node: unknown, depth: number, reading: Reading): unknown {
  if (depth > DEEPEST) throw new RangeError("nested too deep");
  reading.left -= 1;
  if (reading.left < 0) throw new TooMany("too many values");
  const { parsed, lines, lost } = reading;
  if (isAlias(node)) {
    const anchored = parsed.anchored.get(node);
    if (anchored === undefined) lost.push(syntaxFault("BAD_ALIAS", lines.at(offsetOfNode(node))));
    return toValue(anchored, depth + 1, reading);
  }
  if (isMap(node)) return mapOf(node, depth, reading);
  if (isSeq(node)) return node.items.map((item) => toValue(item, depth + 1, reading));
  if (!isScalar(node)) return null;
  return node.type === "PLAIN" ? plainScalar(String(node.source ?? node.value ?? "")) : (node.value ?? null);
}

function mapOf(node: YAMLMap, depth: number, reading: Reading): Map_ {
  const map: Map_ = Object.create(null) as Map_;
  const { parsed, lines, problems } = reading;
  for (const [i, pair] of node.items.entries()) {
    const key = keyText(pair.key);
    const before = node.items[i - 1];
    const parted = node.flow && before ? partedBefore(before, pair) : undefined;
    if (parted !== undefined) {
      map[keyText(before!.key)] = plainScalar(parted.meant);
      const [wrong, hint] = parted.said;
      problems.push(problem("key-unknown", lines.at(offsetOfNode(before!.value)), wrong, hint));
    } else if (Object.hasOwn(map, key)) {
      // The first of two counts, as it does for places.
      const first = lines.at(offsetOfNode(pairsOf(node, parsed).get(key)?.key)).place.line;
      const message = `the key \`${key}\` is in this map twice, first on line ${first}`;
      problems.push(
        problem("key-duplicate", lines.at(offsetOfNode(pair.key)), message, "keep one of the two"),
      );
    } else map[key] = toValue(pair.value, depth + 1, reading);
  }
  return map;
}

/** `{area: 3,600 sq ft}`: the number that a comma in braces has cut in two, where nothing but the comma is between its parts. */
function partedBefore({ value: start }: Pair, { key, value }: Pair) {
  const isEmpty = !isScalar(value) ? value === null : (value.source ?? "") === "";
  if (!isEmpty || !isScalar(start) || start.type !== "PLAIN" || !isScalar(key) || key.type !== "PLAIN")
    return undefined;
  const [first, second] = [String(start.source), String(key.source)];
  const together = start.range![1] + 1 === key.range![0];
  if (!together || !/^[-+]?\d+$/.test(first) || !/^\d+(\D|$)/.test(second)) return undefined;
  const isThousands = /^\d{3}(\D|$)/.test(second);
  const text = `${first},${second}`;
  const meant = `${first}${isThousands ? "" : "."}${second}`;
  const wrong = `inside braces a comma ends the value, so \`${text}\` is read as \`${first}\` and a key \`${second}\``;
  return {
    meant,
    said: [wrong, `write \`${meant}\`${isThousands ? `, or put it in quotes: \`"${text}"\`` : ""}`] as const,
  };
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
 * @returns the value, the text itself where it is not YAML, with what is wrong with it, such as a key that is there twice.
 */
export function readFlagValue(text: string): {
  readonly value: unknown;
  readonly faults: readonly Problem[];
} {
  const { tree, problems, broken } = parseTree(text, "", "");
  if (text.trim() === "" || broken || tree.root === undefined)
    return { value: text.trim() && text, faults: [] };
  const faults = problems.map(({ code, message, hint }) => ({ code, message, ...defined({ hint }) }));
  return { value: tree.root, faults };
}
