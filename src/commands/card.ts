/** `card`: the batch card for the wall of the shed. */
import type { Solution } from "../results/solution.ts";
import { askedMix, BOUGHT_FLAGS, solvedAlone, withoutMix, withoutPurchase } from "./buying.ts";
import { type Command, type CommandOutput, EXIT, UsageError } from "./command.ts";
import { PLAN_ALIASES, PLAN_FLAGS } from "./plan-options.ts";

const columns = async (units: "us" | "metric") =>
  (await import("../report/card-report.ts")).cardColumns(units);

export const command: Command = {
  usual: (options) => (options.html === true ? "html" : "md"),
  aliases: PLAN_ALIASES,
  arguments: [["[plan]", "a plan file, or a purchase of `shop --save`; - reads standard input"]],
  flags: [["--html", "one HTML page made for printing (also: --out card.html)"], ...BOUGHT_FLAGS],
  groups: PLAN_FLAGS,
  notes: [
    "Prints Markdown; with --html a page to print:",
    "  barrowmix card plan.yaml --out card.html",
    "",
    "The mix of least cost by weight need not be the one on whole packs. For the",
    "mix on what is bought:",
    "  barrowmix card --bought plan.yaml",
    "  barrowmix shop plan.yaml --save purchase.json",
    "  barrowmix card purchase.json",
  ],

  async run([planFile], options, context): Promise<CommandOutput> {
    if (options.html === true && context.flags.format !== "html")
      throw new UsageError(`use either --html or --format ${context.flags.format}, not both`);
    const asked = await askedMix(planFile, options, context);
    if (asked.kind === "nothing") return withoutPurchase(asked.shopping, columns);
    let solutions: readonly Solution[];
    if (asked.kind === "bought") solutions = asked.solutions;
    else {
      const solution = await solvedAlone(asked.plan, context);
      if (solution.status === "infeasible") return withoutMix(solution, columns);
      solutions = [solution];
    }
    const { cardJson, sourceOf } = await import("../report/card-sheet.ts");
    const sources = solutions.map(sourceOf);
    return {
      exitCode: EXIT.done,
      json: cardJson(sources),
      report: async () => (await import("../report/card-report.ts")).cardReport(sources),
      html: async () => {
        const { withCurves } = await import("../field/curves.ts");
        return (await import("../render/card.ts")).renderCardHtml(withCurves(sources));
      },
    };
  },
};
