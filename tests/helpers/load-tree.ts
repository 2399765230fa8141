/** Loads a plan that exists only as a tree, through the same door as a file. */

import { loadPlan } from "../../src/files/load.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { diskReader, memoryReader } from "./files.ts";
import { ROOT } from "./world.ts";

/** The plan, which may name shipped recipes; throws with the problems' text where it does not load. */
export function loadTree(tree: Record<string, unknown>): Plan {
  const memory = memoryReader({ "/plans/plan.yaml": JSON.stringify(tree, null, 1) });
  const io = { ...memory, read: (path: string) => memory.read(path) ?? diskReader.read(path) };
  const result = loadPlan(io, { planFile: "/plans/plan.yaml", cwd: "/plans", recipesDir: `${ROOT}/recipes` });
  if (!result.ok) throw new Error(formatProblems(result.problems));
  return result.value.plan;
}
