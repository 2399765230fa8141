/** `card`: the answer as a sheet for the shed wall. */
import { answerOutput, askedAnswer, filesIn } from "./answer.ts";
import { ANSWER_FLAGS } from "./answer-flags.ts";
import { type Command, type CommandOutput, UsageError } from "./command.ts";
import { runEach } from "./many.ts";
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
    const one = async (files: readonly string[]): Promise<CommandOutput> => {
      const solution = await askedAnswer(files, options, context, true);
      const { cardJson, cardOf } = await import("../report/card-sheet.ts");
      const report = async () => (await import("../report/card-report.ts")).cardReport(solution);
      if (solution.status === "infeasible") return answerOutput(solution, { report });
      return answerOutput(solution, {
        json: cardJson(solution),
        report,
        html: async () => (await import("../render/card.ts")).renderCardHtml(cardOf(solution)),
      });
    };
    const files = filesIn(plans);
    const apart = options.apart === true || context.flags.format === "ndjson";
    return apart ? runEach(files, context.flags, one, []) : one(files);
  },
};
