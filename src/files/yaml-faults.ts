/**
 * What is wrong with a text that is not YAML, in plain words. The reader of values ends at the first fault; the yaml
 * package goes on, and so finds the others. It is loaded only when there is a fault.
 */
import { parseDocument } from "yaml";
import { type Place, type Problem, thousands } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";

/** Values in one file, counting each use of an anchor; enough for any real file, too few for a bomb. */
export const MOST_VALUES = 200_000;
export const DEEPEST = 60;
/** One stray bracket can make a parser stumble hundreds of times; the first few faults say enough. */
const MOST_SYNTAX_FAULTS = 4;

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

/** The text's lines, for places. */
export class Lines {
  private readonly starts: number[] = [0];
  private readonly text: string;
  private readonly file: string;

  constructor(text: string, file: string) {
    this.text = text;
    this.file = file;
    for (let at = text.indexOf("\n"); at >= 0; at = text.indexOf("\n", at + 1)) this.starts.push(at + 1);
  }

  /** The place of a character, and its line as written. */
  at(offset: number): { readonly place: Place; readonly excerpt: string } {
    const wanted = Math.max(0, Math.min(offset, this.text.length));
    let low = 0;
    let high = this.starts.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.starts[middle]! <= wanted) low = middle;
      else high = middle - 1;
    }
    const start = this.starts[low]!;
    const end = (this.starts[low + 1] ?? this.text.length + 1) - 1;
    const line = this.text.slice(start, end);
    return {
      place: { file: this.file, line: low + 1, column: wanted - start + 1 },
      excerpt: line.endsWith("\r") ? line.slice(0, -1) : line,
    };
  }
}

type At = ReturnType<Lines["at"]>;

/**
 * What the yaml package finds wrong: the first few faults, and how many follow.
 * @returns nothing where it finds no fault.
 */
export function syntaxFaults(text: string, lines: Lines): Problem[] {
  const document = parseDocument(text, {
    prettyErrors: false,
    logLevel: "error",
    schema: "failsafe",
    uniqueKeys: false,
  });
  const faults = [...document.errors, ...document.warnings].sort((a, b) => a.pos[0] - b.pos[0]);
  return capped(
    faults.slice(0, MOST_SYNTAX_FAULTS + 1).map((fault) => {
      const at = lines.at(fault.pos[0]);
      if (fault.code === "RESOURCE_EXHAUSTION") return overgrown(at, true);
      return syntaxFault(fault.message.startsWith("Flow") ? "NOT_CLOSED" : fault.code, at);
    }),
    faults.length,
  );
}

/** A fault of a kind, where it is. */
export function syntaxFault(code: string, at: At): Problem {
  const [message, hint] = PLAIN_WORDS[code] ?? [
    "this is not YAML",
    "look for a missing quote, bracket or `:`",
  ];
  return { code: "yaml-syntax" satisfies ProblemCode, message, hint, ...at };
}

/** The first few problems, and at the place of the next one how many follow. */
export function capped(problems: readonly Problem[], total = problems.length): Problem[] {
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

/** A text that would grow too large, or go too deep. */
export function overgrown(at: At, deep: boolean): Problem {
  return {
    code: "yaml-limits" satisfies ProblemCode,
    message: deep
      ? `this file is nested more than ${DEEPEST} levels deep`
      : `this file holds more than ${thousands(MOST_VALUES)} values, counting what aliases (\`*name\`) repeat`,
    hint: deep ? "write it out flat" : "divide it into several files, and write it out without aliases",
    ...at,
  };
}
