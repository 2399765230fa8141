/** What a command that needs a mix says where a plan has none: the same as `solve`, with the same exit code. */
import { solvePlan } from "../flow/blend.ts";
import type { Plan } from "../model.ts";

import type { ColumnOf } from "../report/report.ts";
import { noMixWords } from "../words/sure-words.ts";

import { type CommandOutput, type Context, EXIT } from "./command.ts";
import { shippedAmendments } from "./shipped.ts";

/**
 * The explanation of an infeasible plan as the output of a command.
 * @param columns those of the command's own CSV, which stay blank.
 */
export async function infeasibleOutput<T>(
  plan: Plan,
  context: Context,
  columns: readonly ColumnOf<T>[],
): Promise<CommandOutput> {
  const solution = await solvePlan(plan, () => shippedAmendments(context), {
    clock: () => performance.now(),
  });
  return {
    exitCode: EXIT.infeasible,
    json: solution,
    report: async (extent) => {
      const { solutionReport } = await import("../report/solution-report.ts");
      const { conflictTable } = await import("../report/outcome-table.ts");
      return { ...solutionReport(solution, extent), csv: conflictTable(columns, solution.conflicts) };
    },
    remarks: [`${noMixWords(solution.conflicts)}.`],
  };
}
