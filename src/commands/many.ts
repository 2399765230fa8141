/** Several files in one run: a result for each, in order; a bad one does not stop the rest. */
import { formatProblems, ok, type Problem, type Result } from "../problem.ts";
import {
  type ColumnOf,
  cell,
  fullTableOf,
  type Report,
  tableBlock,
  tableOf,
  words,
} from "../report/report.ts";
import type { Failure } from "../results/listing.ts";
import { counted } from "../words/numbers.ts";
import { type CommandOutput, EXIT, type ExitCode, type GlobalFlags, problemsJson } from "./command.ts";

/** What became of one file. */
interface Outcome {
  readonly file: string;
  readonly exitCode: ExitCode;
  /** What the command found; null where something was wrong. */
  readonly json: object | null;
  readonly problems: readonly Problem[];
}

/**
 * Runs a command on each of its files. One file alone is the command's own affair, except as a line of `ndjson`.
 * @param files the argument of the command, which may be repeated.
 * @param one does a single file.
 * @param columns what the summary says of each result, read from its JSON.
 * @returns as `ndjson`, a line each: the result with `file`, or `{file, status: "error", problems}`; as `json` the same
 *   in one list; otherwise a row each. The exit code is the highest of all.
 */
export async function runEach<T extends object>(
  files: unknown,
  flags: GlobalFlags,
  one: (file: string | undefined) => Promise<Result<CommandOutput>>,
  columns: readonly ColumnOf<T>[],
): Promise<Result<CommandOutput>> {
  const named = Array.isArray(files) ? files.map(String) : [];
  if (named.length === 0 || (named.length === 1 && flags.format !== "ndjson")) return one(named[0]);
  const outcomes: Outcome[] = [];
  for (const file of named) outcomes.push(await outcomeOf(file, one));
  const lines = outcomes.map(({ file, json, problems }): object | Failure =>
    json === null ? { file, status: "error", problems: problemsJson(problems) } : { file, ...json },
  );
  return ok({
    exitCode: outcomes.map((outcome) => outcome.exitCode).sort((a, b) => b - a)[0]!,
    json: lines,
    lines,
    report: () => summary(outcomes, columns),
    problems: outcomes.flatMap(({ problems }) => problems),
    remarks: outcomes.flatMap(({ problems }) =>
      problems.length > 0 ? [formatProblems(problems).trimEnd()] : [],
    ),
  });
}

async function outcomeOf(
  file: string,
  one: (file: string) => Promise<Result<CommandOutput>>,
): Promise<Outcome> {
  try {
    const result = await one(file);
    return result.ok
      ? { file, exitCode: result.value.exitCode, json: result.value.json as object, problems: [] }
      : { file, exitCode: EXIT.badInput, json: null, problems: result.problems };
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    const name = error instanceof Error ? error.name : "";
    const [exitCode, code]: readonly [ExitCode, string] =
      name === "UnverifiedError"
        ? [EXIT.unverified, "unverified"]
        : name === "UsageError" || name === "FileError"
          ? [EXIT.badInput, "usage"]
          : [EXIT.unexpected, "unexpected"];
    return { file, exitCode, json: null, problems: [{ code, message, about: file }] };
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
    summary: [tableBlock(tableOf(outcomes, all))],
    sections: [],
    csv: fullTableOf(outcomes, all),
  };
}
