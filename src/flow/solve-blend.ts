/** A plan's blend with all it asks for, `sure` and `simple` included. */
import type { Plan } from "../model.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { type SolvedBlend, solveFreely } from "./continuous.ts";

/**
 * Solves the blend of a plan and proves the answer.
 * @param limit how long the search for few amendments may take; absent: as many programs as it may look at.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveBlend(plan: Plan, limit?: TimeLimit): Promise<SolvedBlend> {
  const free = await solveFreely(plan);
  if (free.answer.status !== "optimal") return free;
  const sure = plan.sure && (await import("./sure.ts"));
  const solved = sure ? await sure.solveSurely(free, free.answer) : free;
  if (!plan.simple || solved.answer.status !== "optimal") return solved;
  const { solveSimple } = await import("./simple.ts");
  return sure && solved.sure
    ? sure.simpleAndSure(solved, solved.sure, (blend, answer) => solveSimple(blend, answer, limit))
    : solveSimple(solved, solved.answer, limit);
}
