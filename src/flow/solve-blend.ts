/** A plan's blend with all it asks for, `simple` included. */
import type { Plan } from "../model.ts";
import { type SolvedBlend, solveFreely } from "./continuous.ts";

/**
 * Solves the blend of a plan and proves the answer.
 * @throws UnverifiedError where no answer stands up.
 */
export async function solveBlend(plan: Plan): Promise<SolvedBlend> {
  const solved = await solveFreely(plan);
  return plan.simple && solved.answer.status === "optimal"
    ? (await import("./simple.ts")).solveSimple(solved, solved.answer)
    : solved;
}
