/** Several files in one run, each by itself: a result for each, in order; a bad one does not stop the rest. */
import { BadInput, formatProblems, type Problem } from "../problem.ts";
import { type ColumnOf, cell, fullTableOf, type Report, table, words } from "../report/report.ts";
import type { Failure } from "../results/listing.ts";
import { counted } from "../words/numbers.ts";
import {
  type CommandOutput,
  EXIT,
  type ExitCode,
  exitCodeOf,
  failureOf,
  type GlobalFlags,
  messageOf,
  problemsJson,
} from "./command.ts";

interface Outcome {
  readonly file: string;
  readonly exitCode: ExitCode;
  /** What the command found; null where something was wrong. */
  readonly json: object | null;
  readonly problems: readonly Problem[];
}

/**
 * Runs a command on each of its files. One file alone is the command's own affair, except as a line of `ndjson`.
 * @param files in order; none: what the command does without.
 * @param one does a single file, or none.
 * @param columns what the summary says of each result, read from its JSON.
 * @returns as `ndjson`, a line each, written as soon as it is known: the result with `file`, or
 *   `{schema, file, status: "error", problems}`; as `json` the same in one list; otherwise a row each. The exit code is the
 *   highest of all.
 */
export async function runEach<T extends object>(
  files: readonly string[],
  flags: GlobalFlags,
  one: (files: readonly string[]) => Promise<CommandOutput>,
  columns: readonly ColumnOf<T>[],
): Promise<CommandOutput> {
  const named = files.length === 0 && flags.format === "ndjson" ? [[]] : files.map((file) => [file]);
  if (named.length < 2 && flags.format !== "ndjson") return one(files);
  if (flags.format === "ndjson") return streamed(named, one);
  const outcomes: Outcome[] = [];
  for (const file of named) outcomes.push(await outcomeOf(file, one));
  return {
    exitCode: Math.max(...outcomes.map(({ exitCode }) => exitCode)) as ExitCode,
    json: outcomes.map(lineOf),
    report: () => summary(outcomes, columns),
    problems: outcomes.flatMap(({ problems }) => problems),
    remarks: outcomes.flatMap(remarksOf),
  };
}

function lineOf({ file, json, problems }: Outcome): object | Failure {
  if (json === null) return { ...failureOf(problemsJson(problems)), file };
  const { schema, ...rest } = json as { readonly schema?: string };
  return { schema, file, ...rest };
}

function remarksOf({ problems }: Outcome): string[] {
  // A remark is a line.
  return problems.length > 0 ? formatProblems(problems).trimEnd().split("\n") : [];
}

/** Lines of JSON, each written as soon as it is known: nothing else of a result is kept. */
function streamed(
  files: readonly (readonly string[])[],
  one: (files: readonly string[]) => Promise<CommandOutput>,
): CommandOutput {
  return {
    exitCode: EXIT.done,
    json: null,
    report: () => {
      throw new Error("lines of JSON have no report");
    },
    stream: async (write, remark) => {
      let exitCode: ExitCode = EXIT.done;
      for (const file of files) {
        const outcome = await outcomeOf(file, one);
        exitCode = Math.max(exitCode, outcome.exitCode) as ExitCode;
        write(lineOf(outcome));
        for (const text of remarksOf(outcome)) remark(text);
      }
      return exitCode;
    },
  };
}

async function outcomeOf(
  files: readonly string[],
  one: (files: readonly string[]) => Promise<CommandOutput>,
): Promise<Outcome> {
  const [file = ""] = files;
  try {
    const { exitCode, json } = await one(files);
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
