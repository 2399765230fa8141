/** `solve`: the least-cost mix of a plan. */
import { ok, type Result } from "../problem.ts";
import type { SplitFound } from "../results/solution.ts";
import { type Command, type CommandOutput, EXIT } from "./command.ts";
import { addPlanOptions, PLAN_ALIASES, requestedPlan } from "./plan-options.ts";
import { shippedAmendments } from "./shipped.ts";

export const command: Command = {
  name: "solve",
  describe: "find the least-cost mix for a plan",
  aliases: PLAN_ALIASES,

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
        "Where no plan is named, ./plan.yaml is taken. Without one the flags say it all:",
        "  barrowmix solve --amendments amendments.yaml --recipe pepper --plants 240 \\",
        '    --area "1500 sq ft" --batch "60 lb"',
        '  barrowmix solve --have "feather-meal@44/50 lb" --have "bone-meal@38/40 lb" \\',
        '    --have "potassium-sulfate@46/50 lb" --recipe pepper --area "1500 sq ft"',
        "",
        "Exit codes: 0 a proven mix; 2 bad input; 3 no mix fits; 4 not verified.",
      ].join("\n"),
    );
  },

  async run([planFile], options, context): Promise<Result<CommandOutput>> {
    const requested = await requestedPlan(planFile, options, context);
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
