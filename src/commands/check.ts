/** `check`: looks files over, with everything they name, and solves nothing. */

import type { Checked } from "../files/load.ts";
import { distinctProblems, type Problem, sentence } from "../problem.ts";
import { bullets, cell, figures, fullTableOf, type Report, table, words } from "../report/report.ts";
import type { CheckResult } from "../results/listing.ts";
import { counted } from "../words/numbers.ts";
import { type Command, type CommandOutput, EXIT, problemsJson } from "./command.ts";
import { filesOrUsual, where } from "./plan-options.ts";

export const command: Command = {
  arguments: [["[files...]", "files of any kind that the program reads; - reads standard input"]],
  notes: [
    "Where no file is named, ./plan.yaml is checked.",
    "",
    "Exit codes: 0 nothing wrong; 2 something is wrong in a file.",
  ],

  async run([files], _options, context): Promise<CommandOutput> {
    const paths = filesOrUsual(files, "plan.yaml", context);
    const { checkFiles } = await import("../files/load.ts");
    const checked = checkFiles(context.files, paths, where(context));
    const problems = checked.flatMap((file) => file.problems);
    const json: CheckResult = {
      schema: "barrowmix.check/1",
      files: checked.map((file) => ({
        file: file.file,
        kind: file.kind,
        ok: file.problems.length === 0,
        problems: problemsJson(file.problems),
        warnings: file.warnings,
      })),
    };
    return {
      exitCode: problems.length > 0 ? EXIT.badInput : EXIT.done,
      json,
      report: () => checkReport(checked),
      problems: distinctProblems(problems),
    };
  },
};

function checkReport(checked: readonly Checked[]): Report {
  const bad = checked.filter((file) => file.problems.length > 0).length;
  const warnings = checked.flatMap((file) => file.warnings.map((w) => `${file.file}: ${w.text}`));
  const rows = checked.flatMap((file): { file: Checked; problem: Problem | null }[] =>
    file.problems.length > 0
      ? file.problems.map((problem) => ({ file, problem }))
      : [{ file, problem: null }],
  );
  return {
    title:
      bad === 0
        ? `${counted(checked.length, "file")}: nothing wrong`
        : `${counted(checked.length, "file")}: something is wrong in ${bad === 1 && checked.length === 1 ? "it" : String(bad)}`,
    sections: [
      {
        title: "Files",
        blocks: [
          table(checked, [
            words("File", "file", (c) => c.file),
            words("What it is", "kind", (c) => c.kind ?? "unknown"),
            words("Check", "check", (c) =>
              c.problems.length === 0
                ? cell("ok", "good")
                : cell(counted(c.problems.length, "problem"), "bad"),
            ),
          ]),
        ],
      },
      ...(warnings.length > 0 ? [{ title: "Warnings", blocks: [bullets(warnings)] }] : []),
    ],
    csv: fullTableOf(rows, [
      words("File", "file", (r) => r.file.file),
      words("Kind", "kind", (r) => r.file.kind),
      words("Ok", "ok", (r) => (r.problem === null ? "yes" : "no")),
      words("Code", "code", (r) => r.problem?.code ?? null),
      words("In file", "in_file", (r) => r.problem?.place?.file ?? null),
      figures("Line", "line", (r) => r.problem?.place?.line ?? null, String),
      figures("Column", "column", (r) => r.problem?.place?.column ?? null, String),
      words("Message", "message", (r) => (r.problem ? sentence(r.problem) : null)),
      words("Hint", "hint", (r) => r.problem?.hint ?? null),
    ]),
  };
}
