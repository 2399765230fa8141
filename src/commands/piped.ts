/** A plan that comes through a pipe inside what `solve --json` printed. */
import type { Plan } from "../model.ts";
import { fail, ok, type Result } from "../problem.ts";

/** A plan in JSON has one of these, what `solve` prints has none. */
const PLAN_KEYS = ["target", "recipe", "bed"];

const ALONE = "run the command before the pipe by itself to see what it says";

/** The plan in what `solve --json` printed; null where the text may be a plan file (YAML, or JSON with a plan's keys). */
export async function pipedPlan(text: string): Promise<Result<Plan | null>> {
  const trimmed = text.trim();
  if (trimmed === "")
    return fail({
      code: "stdin-empty",
      message: "nothing came in on standard input",
      hint: `the command before the pipe may have failed: ${ALONE}`,
    });
  // A plan may be written in braces too, but then without quotes round its keys.
  if (!/^\{\s*"/.test(trimmed) || isPlanFile(trimmed)) return ok(null);
  const { readPlanJson } = await import("../files/load.ts");
  return readPlanJson(trimmed);
}

function isPlanFile(json: string): boolean {
  try {
    const keys = Object.keys(JSON.parse(json) as object);
    return PLAN_KEYS.some((key) => keys.includes(key));
  } catch {
    return false;
  }
}
