/** `log`: one more line in a season. It is written whole or not at all, and what is there stays as it is. */
import { resolve } from "node:path";
import type { FileReader } from "../files/load.ts";
import { LOG_GRAMMAR, logLines, withLines } from "../files/season-log.ts";
import { BadInput, type Problem } from "../problem.ts";
import { bullets, fullTableOf, paragraph, words } from "../report/report.ts";
import type { LogResult } from "../results/listing.ts";
import { counted } from "../words/numbers.ts";
import { type Command, type CommandOutput, EXIT, unwrap } from "./command.ts";
import { where } from "./plan-options.ts";

export const command: Command = {
  arguments: [
    ["<season>", "a season file"],
    ["<line>", 'what happened: "2027-09-10 rain 2.5 in"'],
  ],
  notes: [
    "A line begins with its day (2027-09-10, September 10, day 40), and then says",
    ...Object.values(LOG_GRAMMAR).flatMap((grammar) => grammar.split(" | ").map((one) => `  ${one}`)),
    "Each may end with: bed NAME, by NAME, note WHAT IS TO BE KEPT IN MIND; and",
    "checked yes, where an odd line is right.",
    "A line is written whole or not at all; comments stay. None is deleted: `void`",
    "takes one back. Lines are counted in the order of the file.",
  ],

  async run([file, said], _options, context): Promise<CommandOutput> {
    const { world } = context;
    const name = String(file);
    const path = resolve(world.cwd, name);
    const { loadSeason } = await import("../files/load.ts");
    const seasonIn = (text: string) => {
      const reader: FileReader = {
        ...world.files,
        read: (other) => (other === path ? text : world.files.read(other)),
      };
      return unwrap(loadSeason(reader, name, where(context))).season;
    };
    let lines: readonly string[] = [];
    let remarks: readonly string[] = [];
    world.files.update(path, (text) => {
      if (text === null) throw new BadInput([unreadable(name)]);
      const before = seasonIn(text);
      lines = unwrap(logLines(String(said), before));
      const after = withLines(text, lines);
      if (after === null) throw new BadInput([notLast(name)]);
      const season = seasonIn(after);
      const more = season.log.length - before.log.length;
      // A void takes a line back, and every other line adds itself; else it went somewhere else than into the log.
      if (more !== lines.length && !lines.some((line) => line.includes(", void: ")))
        throw new BadInput([notLast(name)]);
      const known = new Set(before.warnings.map(({ text: said }) => said));
      remarks = season.warnings.filter((one) => !known.has(one.text)).map(({ text }) => text);
      return after;
    });
    const json: LogResult = { schema: "barrowmix.log/1", file: name, lines, remarks };
    return {
      exitCode: EXIT.done,
      json,
      report: () => ({
        title: `${counted(lines.length, "line")} added to ${name}`,
        summary: [bullets(lines.map((line) => line.slice(2))), ...remarks.map((one) => paragraph(one))],
        sections: [],
        csv: fullTableOf(lines, [words("Line", "line", (line) => line.slice(2))]),
      }),
      remarks,
    };
  },
};

function unreadable(file: string): Problem {
  return {
    code: "file-unreadable",
    message: `the file \`${file}\` is not there or cannot be read`,
    hint: "`barrowmix solve plan.yaml --save season.yaml` begins a season",
  };
}

function notLast(file: string): Problem {
  return {
    code: "log-not-last",
    about: file,
    message:
      "nothing was written: a line can be added only where `log` is the last key, with one line for each item",
    hint: "move `log:` to the end of the file, and write its lines as `- {day: 2027-08-01, spread: planting}`",
  };
}
