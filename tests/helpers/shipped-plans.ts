/** Plans for the shipped crops, from all shipped amendments. */
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { loadPlan } from "../../src/files/load.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { projectReader } from "./files.ts";

export const shippedCrops = (root: string): string[] =>
  readdirSync(join(root, "recipes/crops")).map((file) => file.replace(".yaml", ""));

/** Two hundred plants on 1,000 sq ft, fed on days 0 and 30. */
export function shippedPlan(root: string, crop: string, more: Record<string, unknown> = {}): Plan {
  const tree = {
    plan: `Some ${crop}`,
    amendments: "recipes/amendments/all.yaml",
    recipe: crop,
    bed: { plants: 200, area: "1000 sq ft" },
    applications: [{ day: 0 }, { day: 30 }],
    ...more,
  };
  const where = { cwd: root, recipesDir: join(root, "recipes"), planFile: "plan.yaml" };
  const loaded = loadPlan(projectReader, { ...where, planText: JSON.stringify(tree) });
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.plan;
}
