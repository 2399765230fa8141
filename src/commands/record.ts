/** `record`: what was spread, where, when, by whom and from which lot, for whoever inspects it. */
import { type Command, type CommandOutput, EXIT } from "./command.ts";
import { where } from "./plan-options.ts";
import { seasonIn } from "./season.ts";

export const command: Command = {
  arguments: [["<season>", "a season file"]],
  notes: [
    "A row for each spreading, bed and material; in CSV the purchases follow in the",
    "same table. What the season does not say is left empty and listed at the end.",
    "Your certifier decides what a record must hold.",
  ],

  async run([file], _options, context): Promise<CommandOutput> {
    const season = await seasonIn(String(file), where(context), context);
    const { recordOf } = await import("../flow/record.ts");
    const units = context.flags.units ?? season.units;
    const record = { ...recordOf(season), units };
    return {
      exitCode: EXIT.done,
      json: record,
      report: async (extent) =>
        (await import("../report/record-report.ts")).recordReport(
          record,
          context.flags.format === "table" ? extent : "whole",
        ),
      remarks: record.missing,
    };
  },
};
