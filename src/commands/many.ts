/** Several files in one run: a result for each, in order; a bad one does not stop the rest. */
import { BadInput, formatProblems, type Problem } from "../problem.ts";
import { type ColumnOf, cell, fullTableOf, type Report, table, words } from "../report/report.ts";
import type { Failure } from "../results/listing.ts";
import { counted } from "../words/numbers.ts";
import {
  type CommandOutput,
  EXIT,
  type ExitCode,
  exitCodeOf,
  type GlobalFlags,
  messageOf,
  problemsJson,
} from "./command.ts";
import type { Share, ShareDone, Threads } from "./world.ts";

/** What became of one file. */
interface Outcome {
  readonly file: string;
  readonly exitCode: ExitCode;
  /** What the command found; null where something was wrong. */
  readonly json: object | null;
  readonly problems: readonly Problem[];
}

/** Threads for the files of a command, and what one of them needs to be told. */
export interface Apart {
  readonly threads: Threads;
  readonly share: (files: readonly string[]) => Share;
}

/** Fewer files than this are not worth the start of a thread. */
const FILES_OF_A_THREAD = 50;

/**
 * Runs a command on each of its files. One file alone is the command's own affair, except as a line of `ndjson`.
 * @param files the argument of the command, which may be repeated.
 * @param one does a single file.
 * @param columns what the summary says of each result, read from its JSON.
 * @param apart where given, many files are shared out among threads, as lines of `ndjson`.
 * @returns as `ndjson`, a line each: the result with `file`, or `{file, status: "error", problems}`; as `json` the same
 *   in one list; otherwise a row each. The exit code is the highest of all.
 */
export async function runEach<T extends object>(
  files: unknown,
  flags: GlobalFlags,
  one: (file: string | undefined) => Promise<CommandOutput>,
  columns: readonly ColumnOf<T>[],
  apart?: Apart,
): Promise<CommandOutput> {
  const named = Array.isArray(files) ? files.map(String) : [];
  if (named.length === 0 || (named.length === 1 && flags.format !== "ndjson")) return one(named[0]);
  if (flags.format === "ndjson") return linesOutput(await sharedOut(named, one, apart));
  const outcomes: Outcome[] = [];
  for (const file of named) outcomes.push(await outcomeOf(file, one));
  return {
    exitCode: highest(outcomes),
    json: outcomes.map(lineOf),
    report: () => summary(outcomes, columns),
    problems: outcomes.flatMap(({ problems }) => problems),
    remarks: outcomes.flatMap(remarksOf),
  };
}

function lineOf({ file, json, problems }: Outcome): object | Failure {
  return json === null ? { file, status: "error", problems: problemsJson(problems) } : { file, ...json };
}

function remarksOf({ problems }: Outcome): string[] {
  // A remark is a line.
  return problems.length > 0 ? formatProblems(problems).trimEnd().split("\n") : [];
}

function highest(parts: readonly { readonly exitCode: ExitCode }[]): ExitCode {
  return Math.max(EXIT.done, ...parts.map(({ exitCode }) => exitCode)) as ExitCode;
}

function linesOutput(parts: readonly ShareDone[]): CommandOutput {
  const lineTexts = parts.flatMap((part) => part.lineTexts);
  return {
    exitCode: highest(parts),
    get json() {
      return lineTexts.map((text) => JSON.parse(text) as unknown);
    },
    lineTexts,
    report: () => {
      throw new Error("lines of JSON have no report");
    },
    problems: parts.flatMap(({ problems }) => problems),
    remarks: parts.flatMap(({ remarks }) => remarks),
  };
}

/** All files in order, a share of them in each thread and the first in this one; a thread that fails is done without. */
async function sharedOut(
  files: readonly string[],
  one: (file: string) => Promise<CommandOutput>,
  apart: Apart | undefined,
): Promise<ShareDone[]> {
  const count = apart ? Math.min(apart.threads.most, Math.floor(files.length / FILES_OF_A_THREAD)) : 1;
  if (apart === undefined || count < 2) return [await linesOf(files, one)];
  const size = Math.ceil(files.length / count);
  const shares = Array.from({ length: count }, (_, k) => files.slice(k * size, (k + 1) * size));
  const others = shares
    .slice(1)
    .map((share) => apart.threads.run(apart.share(share)).catch(() => linesOf(share, one)));
  const first = await linesOf(shares[0]!, one);
  return [first, ...(await Promise.all(others))];
}

/** The files one after the other. Each line is made at once: nothing else of a result is kept. */
async function linesOf(
  files: readonly string[],
  one: (file: string) => Promise<CommandOutput>,
): Promise<ShareDone> {
  const lineTexts: string[] = [];
  const problems: Problem[] = [];
  const remarks: string[] = [];
  let exitCode: ExitCode = EXIT.done;
  for (const file of files) {
    const outcome = await outcomeOf(file, one);
    exitCode = highest([{ exitCode }, outcome]);
    lineTexts.push(JSON.stringify(lineOf(outcome)));
    for (const problem of outcome.problems) problems.push(problem);
    remarks.push(...remarksOf(outcome));
  }
  return { exitCode, lineTexts, problems, remarks };
}

async function outcomeOf(file: string, one: (file: string) => Promise<CommandOutput>): Promise<Outcome> {
  try {
    const { exitCode, json } = await one(file);
    return { file, exitCode, json: json as object, problems: [] };
  } catch (error) {
    const exitCode = exitCodeOf(error);
    if (error instanceof BadInput) return { file, exitCode, json: null, problems: error.problems };
    const code =
      exitCode === EXIT.unverified ? "unverified" : exitCode === EXIT.badInput ? "usage" : "unexpected";
    return { file, exitCode, json: null, problems: [{ code, message: messageOf(error), about: file }] };
  }
}

const WORDS: Readonly<Record<ExitCode, string>> = {
  0: "ok",
  1: "fault of the program",
  2: "wrong input",
  3: "no mix fits",
  4: "not verified",
};

function summary<T extends object>(outcomes: readonly Outcome[], columns: readonly ColumnOf<T>[]): Report {
  const own = columns.map(
    (column): ColumnOf<Outcome> => ({
      ...column,
      fill: ({ json }) => (json === null ? null : column.fill(json as T)),
    }),
  );
  const all: readonly ColumnOf<Outcome>[] = [
    words("File", "file", ({ file }) => file),
    words("Outcome", "outcome", ({ exitCode }) =>
      cell(WORDS[exitCode], exitCode === EXIT.done ? "good" : "bad"),
    ),
    ...own,
  ];
  const bad = outcomes.filter(({ exitCode }) => exitCode !== EXIT.done).length;
  return {
    title: `${counted(outcomes.length, "file")}${bad === 0 ? "" : `, ${bad} without an answer`}`,
    summary: [table(outcomes, all)],
    sections: [],
    csv: fullTableOf(outcomes, all),
  };
}
