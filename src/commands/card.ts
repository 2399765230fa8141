/** `card`: the answer as a sheet for the shed wall. */
import type { Solution } from "../results/solution.ts";
import { ANSWER_FLAGS, answered } from "./answer.ts";
import { type Command, type CommandOutput, UsageError } from "./command.ts";
import { PLAN_ALIASES, PLAN_FLAGS } from "./plan-options.ts";

export const command: Command = {
  usual: (options) => (options.html === true ? "html" : "md"),
  formats: ["ndjson"],
  aliases: PLAN_ALIASES,
  arguments: [["[plans...]", "plan files, which share one shed and one purchase; - reads standard input"]],
  flags: [
    ["--html", "one HTML page made for printing (also: --out card.html)"],
    ...ANSWER_FLAGS,
    ["--ndjson", "the same as --format ndjson: each plan apart, a line each, as soon as it is known"],
  ],
  groups: PLAN_FLAGS,
  notes: [
    "Prints Markdown; with --html a page to print:",
    "  barrowmix card plan.yaml --out card.html",
    "",
    "The weights are those of the purchase that `solve` and `shop` show.",
  ],

  run([plans], options, context): Promise<CommandOutput> {
    if (options.html === true && context.flags.format !== "html")
      throw new UsageError(`use either --html or --format ${context.flags.format}, not both`);
    const sheet = async (solution: Solution) => {
      const { cardJson, cardOf } = await import("../report/card-sheet.ts");
      const report = async () => (await import("../report/card-report.ts")).cardReport(solution);
      if (solution.status === "infeasible") return { report };
      return {
        json: cardJson(solution),
        report,
        html: async () => (await import("../render/card.ts")).renderCardHtml(cardOf(solution)),
      };
    };
    return answered(plans, options, context, [], sheet, true);
  },
};
