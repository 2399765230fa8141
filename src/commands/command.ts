/** What a command is to the shell around it: how it is called, and a value that says what came out. */
import type { FileReader } from "../files/load.ts";
import { NO_NUMBER, parseBare } from "../numerals.ts";
import { BadInput, faultText, guess, type Problem, type Result, sentence } from "../problem.ts";
import { type Extent, paragraph, type Report } from "../report/report.ts";
import type { Failure, ProblemJson } from "../results/listing.ts";
import { listed } from "../words/numbers.ts";
import type { World } from "./world.ts";

/** Each code means one thing. */
export const EXIT = {
  done: 0,
  unexpected: 1,
  badInput: 2,
  infeasible: 3,
  unverified: 4,
} as const;
export type ExitCode = (typeof EXIT)[keyof typeof EXIT];

export type Format = "table" | "json" | "csv" | "md" | "html" | "ndjson" | "text" | "list";
/** The formats that every command has. */
export const COMMON_FORMATS: readonly Format[] = ["table", "json", "csv", "md", "html"];

/** Flags that every command takes. */
export interface GlobalFlags {
  readonly format: Format;
  /** `--units`, where it was given. */
  readonly units: "us" | "metric" | undefined;
  readonly quiet: boolean;
  /** `--all`: reports say all there is. */
  readonly all: boolean;
}

/** Values of a command's own flags, by camel-case name. */
export type Options = Readonly<Record<string, unknown>>;

/** A command as the command line lists it, before it is loaded. */
export interface CommandEntry {
  readonly name: string;
  readonly describe: string;
  /** Heading under which help lists it. */
  readonly group: string;
  readonly load: () => Promise<{ readonly command: Command }>;
}

export interface Context {
  readonly world: World;
  /** The files of the world, each read once; `-` is standard input. */
  readonly files: FileReader;
  readonly flags: GlobalFlags;
  /** The words after the program's name. */
  readonly typed: readonly string[];
  /** Every command there is. */
  readonly commands: readonly CommandEntry[];
}

/** What a command found out. The shell turns it into the format asked for and writes it once. */
export interface CommandOutput {
  readonly exitCode: ExitCode;
  /** The report, of what fits a screen or of all there is; a command whose report is short gives the same for both. */
  readonly report: (extent: Extent) => Report | Promise<Report>;
  /** The value that `--json` prints. */
  readonly json: unknown;
  /** The values that `ndjson` prints, one a line. */
  readonly lines?: readonly unknown[];
  /**
   * Writes the lines of `ndjson` as they come, and gives the exit code; takes the place of `lines`, and of `exitCode`.
   * @throws what `write` throws, once nobody reads any more.
   */
  readonly stream?: (write: (line: object) => void, remark: (text: string) => void) => Promise<ExitCode>;
  /** What the format `text` prints. */
  readonly text?: () => string | Promise<string>;
  /** What the format `html` prints; absent: the report. */
  readonly html?: () => string | Promise<string>;
  /** Faults to show on stderr beside the output, where its format is for people (table, md, html, text). */
  readonly problems?: readonly Problem[];
  /** Remarks for stderr where the format has no room for them (csv, ndjson, text); silent with `--quiet`. */
  readonly remarks?: readonly string[];
}

/** An argument or a flag as help writes it, `[plan]` or `--target <file>`, and what it says of it. */
export type Written = readonly [written: string, about: string];
/** A flag; the values of one that is `repeated` are collected. */
export type Flag = readonly [...Written, repeated?: "repeated"];

/** The flags of every command: help, completion and the manual page say them. */
export const SHARED_FLAGS: readonly Written[] = [
  ["--json", "the same as --format json"],
  ["--format <name>", `how to print: ${listed(COMMON_FORMATS, "or")}`],
  ["-o, --out <file>", "write to a file, whole or not at all; - is the screen"],
  ["--keep-infeasible", "with --out: write the file also where there is no answer"],
  ["--units <system>", "us or metric"],
  ["--all", "print everything, not only what fits one screen"],
  ["--no-color", "print plain text"],
  ["-q, --quiet", "print no remarks"],
  ["-h, --help", "print this help"],
];

/** A command, in a file of its own that is loaded only when it is asked for. */
export interface Command {
  /** In order; their values are the first parameter of `run`. */
  readonly arguments: readonly Written[];
  readonly flags?: readonly Flag[];
  /** Further flags, by the heading under which help lists them. */
  readonly groups?: Readonly<Record<string, readonly Flag[]>>;
  /** What help says after the flags, line by line. */
  readonly notes?: readonly string[];
  /** Formats beyond the common ones. */
  readonly formats?: readonly Format[];
  /** The format where none is named, which the flags may decide; absent: `table`. */
  readonly usual?: Format | ((options: Options) => Format);
  /** Names that are taken in place of a flag's own, and not shown: name to name, without hyphens. */
  readonly aliases?: Readonly<Record<string, string>>;
  /** The words that its argument is one of, where it is; shells complete them. */
  readonly choices?: readonly string[];
  /**
   * @param args the arguments in their order; an absent one is undefined, a repeated one an array.
   * @throws UsageError for a call that cannot be meant, BadInput with all that is wrong with the input.
   */
  run(args: readonly unknown[], options: Options, context: Context): Promise<CommandOutput>;
}

/** Every flag that a command has beside those of all commands. */
export function flagsOf({ flags = [], groups = {} }: Command): readonly Flag[] {
  return [...flags, ...Object.values(groups).flat()];
}

/** A call that cannot be meant: exit 2, with what would be right. */
export class UsageError extends Error {
  override readonly name = "UsageError";
}

/**
 * The word that was given, where it is one of those that there are.
 * @param refusal how a refusal begins: `there is no list of`.
 * @throws UsageError with what would be right.
 */
export function oneOf<T extends string>(words: readonly T[], given: unknown, refusal: string): T {
  const found = words.find((word) => word === given);
  if (found !== undefined) return found;
  const known = guess(String(given), words, `there are ${listed(words)}`);
  throw new UsageError(`${refusal} \`${String(given)}\`; ${known}`);
}

/**
 * The value of a result.
 * @throws BadInput with its problems, where it has none.
 */
export function unwrap<T>(result: Result<T>): T {
  if (!result.ok) throw new BadInput(result.problems);
  return result.value;
}

/**
 * The values of several, each waited for though another comes to nothing.
 * @throws BadInput with the problems of all together; another error of one of them as it is.
 */
export async function together<T extends readonly unknown[]>(
  promises: readonly [...{ [K in keyof T]: Promise<T[K]> }],
): Promise<T> {
  const settled = await Promise.allSettled(promises);
  const reasons = settled.flatMap((one) => (one.status === "rejected" ? [one.reason as unknown] : []));
  const bad = reasons.flatMap((reason) => (reason instanceof BadInput ? [reason] : []));
  if (bad.length < reasons.length) throw reasons.find((reason) => !(reason instanceof BadInput));
  if (bad.length > 0) throw new BadInput(bad.flatMap(({ problems }) => problems));
  return settled.map((one) => (one as PromiseFulfilledResult<unknown>).value) as unknown as T;
}

/** The exit code for an error; known by name, since the rooms that throw it may not be loaded. */
export function exitCodeOf(error: unknown): ExitCode {
  const name = error instanceof Error ? error.name : "";
  if (name === "UnverifiedError") return EXIT.unverified;
  return error instanceof BadInput || name === "UsageError" || name === "FileError"
    ? EXIT.badInput
    : EXIT.unexpected;
}

/** What an error says. */
export function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** Milliseconds, for searches that end after a time. */
export const clock = (): number => performance.now();

/** Text of an option, or undefined where it was not given. */
export function textOption(options: Options, name: string): string | undefined {
  const value = options[name];
  return typeof value === "string" ? value : undefined;
}

/** Texts of an option that may be repeated. */
export function textsOption(options: Options, name: string): readonly string[] {
  const value = options[name];
  return Array.isArray(value) ? value.filter((item): item is string => typeof item === "string") : [];
}

/**
 * The number, zero or more, that a flag gives, read as files are.
 * @param expected completes "... is needed here".
 * @throws UsageError with what would be right.
 */
export function numberOf(
  flag: string,
  text: string,
  expected: string,
  { most, example }: { readonly most?: number; readonly example: string },
): number {
  const read = parseBare(text, expected);
  if (!read.ok && read.wrong !== NO_NUMBER) throw new UsageError(`${flag}: ${faultText(read)}`);
  const wrong = read.ok && read.value > (most ?? Infinity) ? "is beyond reason; " : "";
  if (!read.ok || read.value < 0 || wrong !== "")
    throw new UsageError(`${flag} ${text}: ${wrong}this takes ${expected}, for instance ${flag} ${example}`);
  return read.value;
}

/** Output that is made for programs: `text` as it is, `json` beside it, and for people what to do with it. */
export function outputForPrograms(json: unknown, text: string, title: string, use: string): CommandOutput {
  return {
    exitCode: EXIT.done,
    json,
    text: () => text,
    report: () => ({ title, summary: [paragraph(use)], sections: [], csv: { columns: [], rows: [] } }),
  };
}

/** What a program reads where there is no answer. */
export function failureOf(problems: readonly ProblemJson[]): Failure {
  return { schema: "barrowmix.failure/1", status: "error", problems };
}

/** Problems as a JSON value: one object each, with the place spread out. */
export function problemsJson(problems: readonly Problem[]): ProblemJson[] {
  return problems.map((problem) => ({
    code: problem.code,
    message: sentence(problem),
    hint: problem.hint ?? null,
    file: problem.place?.file ?? null,
    line: problem.place?.line ?? null,
    column: problem.place?.column ?? null,
    path: problem.path ?? null,
  }));
}
