/** `solve`: the least-cost mix of a plan. */
import { ok, type Result } from "../problem.ts";
import type { SplitFound } from "../results/solution.ts";
import { type Command, type CommandOutput, EXIT } from "./command.ts";
import { addPlanOptions, requestedPlan } from "./plan-options.ts";
import { shippedAmendments } from "./shipped.ts";

export const command: Command = {
  name: "solve",
  describe: "find the least-cost mix for a plan",

  configure(command) {
    command.argument("[plan]", "a plan file; - reads standard input");
    command.option(
      "--best-split [least]",
      "find the cheapest shares of the applications, each at least this",
    );
    addPlanOptions(command);
    command.addHelpText(
      "after",
      [
        "",
        "Without a plan file the flags say it all:",
        "  barrowmix solve --amendments amendments.yaml --recipe pepper --plants 240 \\",
        '    --area "1500 sq ft" --batch "60 lb"',
        "",
        "Exit codes: 0 a proven mix; 2 bad input; 3 no mix fits; 4 not verified.",
      ].join("\n"),
    );
  },

  async run([planFile], options, context): Promise<Result<CommandOutput>> {
    const requested = await requestedPlan(
      typeof planFile === "string" ? planFile : undefined,
      options,
      context,
    );
    if (!requested.ok) return requested;
    const { solvePlan } = await import("../flow/blend.ts");
    let plan = requested.value;
    let split: SplitFound | undefined;
    if (options.bestSplit !== undefined) {
      const { bestSplitOf } = await import("./best-split.ts");
      const found = await bestSplitOf(plan, options.bestSplit);
      if (!found.ok) return found;
      ({ plan, split } = found.value);
    }
    const solved = await solvePlan(plan, () => shippedAmendments(context));
    const solution = split ? { ...solved, split } : solved;
    const infeasible = solution.status === "infeasible";
    return ok({
      exitCode: infeasible ? EXIT.infeasible : EXIT.done,
      json: solution,
      report: async (extent) =>
        (await import("../report/solution-report.ts")).solutionReport(solution, extent),
      remarks: [
        ...(infeasible ? ["No mix of these amendments meets every demand of the plan."] : []),
        ...[...solution.cautions, ...solution.warnings].map((notice) => `${notice.text} [${notice.code}]`),
      ],
    });
  },
};
