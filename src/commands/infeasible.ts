/** What a command that needs a mix says where a plan has none: the same as `solve`, with the same exit code. */
import { solvePlan } from "../flow/blend.ts";
import type { Plan } from "../model.ts";
import { type CommandOutput, type Context, EXIT } from "./command.ts";
import { shippedAmendments } from "./shipped.ts";

/** The explanation of an infeasible plan as the output of a command. */
export async function infeasibleOutput(plan: Plan, context: Context): Promise<CommandOutput> {
  const solution = await solvePlan(plan, () => shippedAmendments(context), {
    clock: () => performance.now(),
  });
  return {
    exitCode: EXIT.infeasible,
    json: solution,
    report: async (extent) => (await import("../report/solution-report.ts")).solutionReport(solution, extent),
    remarks: ["No mix of these amendments meets every demand of the plan."],
  };
}
