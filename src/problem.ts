/**
 * What can be wrong with what a user wrote, as values.
 *
 * A fault of the user's is not thrown where it is found: it is collected, sorted by place and shown once, all of them
 * together. Only the commands, at the edge, throw what was collected. The code of a problem is stable; its prose is not.
 */
import { defined } from "./optional.ts";
import { plainText } from "./plain-text.ts";

/** Where something is in a file. Lines and columns count from 1, as editors do. */
export interface Place {
  readonly file: string;
  readonly line: number;
  readonly column: number;
}

/** One fault: what is wrong (`message`), and what would be right (`hint`). */
export interface Problem {
  /** Stable machine name, for instance `unit-unknown`. */
  readonly code: string;
  /** What was found, in one sentence without a final full stop. */
  readonly message: string;
  /** What would be right, or what to type next. */
  readonly hint?: string;
  /** Absent where the fault is not in a file (a flag names itself in the message). */
  readonly place?: Place;
  /** The line of the file at `place`, as written. */
  readonly excerpt?: string;
  /** Keys and indices that lead to the value in its file. */
  readonly path?: Path;
  /** What the fault is in, where that is no file: a flag, a case, a value of a JSON text. */
  readonly about?: string;
}

/** Keys and indices that lead from the top of a file to a value. */
export type Path = readonly (string | number)[];

/** A fault before its place is known: what is wrong, as fields. `problemOf` makes the sentences. */
export interface Fault<Code extends string = string> {
  readonly code: Code;
  /** From the value at hand to what is wrong; absent: the value itself. */
  readonly path?: Path;
  /** `key` where the key is wrong, or where what is wrong is missing under it. */
  readonly at?: "key" | "value";
  /** What was written. */
  readonly given?: unknown;
  /** What is wrong: of `given` where there is one (`is not a date`), else a clause of its own. */
  readonly wrong: string;
  /** What is needed: a noun (`a weight`). */
  readonly expected?: string;
  /** The known name that is nearest to `given`. */
  readonly near?: string | undefined;
  /** What to write instead, where nothing is near. */
  readonly hint?: string | undefined;
}

/** Where a fault is: in a file, or in what people would call it. */
export type Whereabouts = Pick<Problem, "place" | "excerpt" | "path" | "about">;

/** A fault in words: the only place where the sentences of a problem are made. */
export function problemOf(fault: Fault, where: Whereabouts = {}): Problem {
  const { code, given, wrong, expected, near } = fault;
  const needed = expected === undefined ? undefined : `${expected} is needed`;
  const remedy = near === undefined ? fault.hint : meant(near);
  const found = given === undefined ? wrong : `\`${String(given)}\` ${wrong}`;
  // What is needed is the remedy, or goes before a better one.
  const message = needed !== undefined && remedy !== undefined ? `${found}; ${needed} here` : found;
  return { code, message, ...defined({ hint: remedy ?? needed }), ...where };
}

const meant = (near: string): string => `did you mean \`${near}\`?`;

/** What to do about a name that is none of the known ones: the nearest of them, or else what is given. */
export function guess(name: string, known: Iterable<string>, otherwise: string): string {
  const near = nearest(name, known);
  return near === undefined ? otherwise : meant(near);
}

/** A fault as a flag shows it: what is wrong, and what would be right. */
export function faultText(fault: Fault): string {
  const { message, hint } = problemOf(fault);
  return hint === undefined ? message : `${message}; ${hint}`;
}

/** A problem as one sentence, without a final full stop: what it is about, and what is wrong. */
export function sentence({ about, message }: Problem): string {
  return about === undefined ? message : `${about}: ${message}`;
}

/** Keys and indices as one word: `amendments[0].packs[1].price`. */
export function pathText(path: Path): string {
  return path
    .map((step, i) => (typeof step === "number" ? `[${step}]` : i === 0 ? step : `.${step}`))
    .join("");
}

/** Either a value, or every problem that stood in its way (never empty). */
export type Result<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** Everything that is wrong with an input, as the commands throw it once it has been collected. */
export class BadInput extends Error {
  override readonly name: string = "BadInput";
  readonly problems: readonly Problem[];

  constructor(problems: readonly Problem[]) {
    super(problems.map(({ message }) => message).join("; "));
    this.problems = problems;
  }
}

/**
 * An input that could not be read as text, thrown by whoever reads for loading; it is caught where files are opened, and
 * becomes a problem like any other.
 */
export class UnreadableInput extends BadInput {
  override readonly name = "UnreadableInput";

  constructor(problem: Problem) {
    super([problem]);
  }
}

/** Wraps a value as a success. */
export function ok<T>(value: T): Result<T> {
  return { ok: true, value };
}

/** Wraps problems as a failure. */
export function fail<T>(...problems: readonly Problem[]): Result<T> {
  return { ok: false, problems };
}

/** Every value, or the problems of all that have none. */
export function allOf<T>(results: readonly Result<T>[]): Result<readonly T[]> {
  const problems = results.flatMap((one) => (one.ok ? [] : one.problems));
  return problems.length > 0
    ? { ok: false, problems }
    : ok(results.flatMap((one) => (one.ok ? [one.value] : [])));
}

/** A remark on an answer: a caution (harm) or a warning (attention). The code is stable. */
export interface Notice {
  readonly code: string;
  readonly text: string;
}

/** Remarks by their codes, without those that do not hold. */
export function noticesOf(texts: Readonly<Record<string, string | false>>): Notice[] {
  return Object.entries(texts).flatMap(([code, text]) => (text === false ? [] : [{ code, text }]));
}

/** Problems in reading order: by file as first met, then line, then column; those without a place come first. */
export function sortProblems(problems: readonly Problem[]): Problem[] {
  const files = new Map<string, number>();
  for (const p of problems) if (p.place && !files.has(p.place.file)) files.set(p.place.file, files.size);
  const key = (p: Problem): readonly [number, number, number] =>
    p.place ? [files.get(p.place.file) ?? 0, p.place.line, p.place.column] : [-1, 0, 0];
  return [...problems].sort((a, b) => {
    const [fa, la, ca] = key(a);
    const [fb, lb, cb] = key(b);
    return fa - fb || la - lb || ca - cb;
  });
}

/** Each problem once, in the order first met: a fault in a file that two others include is one fault. */
export function distinctProblems(problems: readonly Problem[]): Problem[] {
  const seen = new Set<string>();
  return problems.filter(({ code, message, place, about }) => {
    const key = [code, message, about, place?.file, place?.line, place?.column].join("\0");
    const first = !seen.has(key);
    seen.add(key);
    return first;
  });
}

/**
 * Problems as text for a person: `file:line:column: message`, the line itself with a caret, then the remedy;
 * a long remedy that holds for several is said once.
 * @returns lines joined by `\n`, with a final newline; an empty string for no problems.
 */
export function formatProblems(problems: readonly Problem[]): string {
  const sorted = sortProblems(problems);
  const said = new Set<string>();
  const blocks = sorted.slice(0, MOST_SHOWN).map((p) => {
    const where = p.place ? `${plainText(p.place.file)}:${p.place.line}:${p.place.column}: ` : "";
    const lines = [`${where}${plainText(sentence(p))} [${p.code}]`];
    if (p.place && p.excerpt !== undefined) {
      const number = String(p.place.line);
      const { text, column } = around(p.excerpt, p.place.column);
      const before = plainCells(text.slice(0, column - 1)).replace(/[^\t]/g, " ");
      lines.push(`  ${number} | ${plainCells(text)}`, `  ${" ".repeat(number.length)} | ${before}^`);
    }
    if (p.hint && !said.has(p.hint)) lines.push(`  ${plainText(p.hint)}`);
    if (p.hint && p.hint.length > LONG_HINT) said.add(p.hint);
    return lines.join("\n");
  });
  const more = sorted.length - blocks.length;
  if (more > 0) blocks.push(`... and ${thousands(more)} more ${more === 1 ? "fault" : "faults"}`);
  return blocks.length === 0 ? "" : `${blocks.join("\n")}\n`;
}

/** A count with commas between thousands. */
export function thousands(count: number): string {
  return String(count).replace(/\B(?=(\d{3})+$)/g, ",");
}

/** A remedy longer than this, such as a list of all known keys, is said once. */
const LONG_HINT = 80;

/** Faults that are printed; nobody reads further before mending some of them. JSON has them all. */
const MOST_SHOWN = 40;

/** A line of a file as it is shown: plain, but for its tabs. */
function plainCells(line: string): string {
  return line.split("\t").map(plainText).join("\t");
}

/** Signs of a line that are shown; a longer line is cut on both sides of its column. */
const LONGEST_EXCERPT = 200;

function around(line: string, column: number): { readonly text: string; readonly column: number } {
  if (line.length <= LONGEST_EXCERPT) return { text: line, column };
  const from = Math.max(0, Math.min(column - 1 - LONGEST_EXCERPT / 2, line.length - LONGEST_EXCERPT));
  const to = from + LONGEST_EXCERPT;
  const [ahead, after] = [from > 0 ? "..." : "", to < line.length ? "..." : ""];
  return { text: `${ahead}${line.slice(from, to)}${after}`, column: column - from + ahead.length };
}

/**
 * The known name nearest to a mistyped one, by edit distance (Damerau-Levenshtein, restricted), or undefined
 * where none is within a third of its length.
 */
export function nearest(name: string, known: Iterable<string>): string | undefined {
  let best: string | undefined;
  let bestDistance = Math.max(1, Math.floor(name.length / 3)) + 0.5;
  for (const candidate of known) {
    if (Math.abs(name.length - candidate.length) >= bestDistance) continue;
    const distance = editDistance(name.toLowerCase(), candidate.toLowerCase());
    if (distance < bestDistance) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}

function editDistance(a: string, b: string): number {
  const rows: number[][] = [];
  for (let i = 0; i <= a.length; i++) rows.push([i]);
  for (let j = 1; j <= b.length; j++) rows[0]![j] = j;
  for (let i = 1; i <= a.length; i++) {
    for (let j = 1; j <= b.length; j++) {
      const cost = a[i - 1] === b[j - 1] ? 0 : 1;
      let d = Math.min(rows[i - 1]![j]! + 1, rows[i]![j - 1]! + 1, rows[i - 1]![j - 1]! + cost);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
        d = Math.min(d, rows[i - 2]![j - 2]! + 1);
      rows[i]![j] = d;
    }
  }
  return rows[a.length]![b.length]!;
}
