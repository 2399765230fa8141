/** `card`: the batch card for the wall of the shed. */
import { ok, type Result } from "../problem.ts";
import { type Command, type CommandOutput, EXIT, UsageError } from "./command.ts";
import { infeasibleOutput } from "./infeasible.ts";
import { addPlanOptions, PLAN_ALIASES, requestedPlan } from "./plan-options.ts";

export const command: Command = {
  name: "card",
  describe: "a batch card to print: what to weigh, tick and give",
  usual: (options) => (options.html === true ? "html" : "md"),
  aliases: PLAN_ALIASES,

  configure(command) {
    command.argument("[plan]", "a plan file; - reads standard input");
    command.option("--html", "one HTML page made for printing (also: --out card.html)");
    addPlanOptions(command);
    command.addHelpText(
      "after",
      "\nPrints Markdown; with --html a page to print:\n  barrowmix card plan.yaml --out card.html",
    );
  },

  async run([planFile], options, context): Promise<Result<CommandOutput>> {
    if (options.html === true && context.flags.format !== "html")
      throw new UsageError(`use either --html or --format ${context.flags.format}, not both`);
    const requested = await requestedPlan(planFile, options, context);
    if (!requested.ok) return requested;
    const plan = requested.value;
    const { solvePlan } = await import("../flow/blend.ts");
    const solution = await solvePlan(plan);
    if (solution.status === "infeasible") return ok(await infeasibleOutput(plan, context));
    const { cardJson, sourceOf } = await import("../report/card-sheet.ts");
    const sources = [sourceOf(solution)];
    return ok({
      exitCode: EXIT.done,
      json: cardJson(sources),
      report: async () => (await import("../report/card-report.ts")).cardReport(sources),
      html: async () => {
        const { withCurves } = await import("../field/curves.ts");
        return (await import("../render/card.ts")).renderCardHtml(withCurves(sources));
      },
    });
  },
};
