/** A plan that comes through a pipe inside what `solve --json` printed. */
import type { Plan } from "../model.ts";
import { fail, ok, type Result } from "../problem.ts";

/** A plan in JSON has one of these, what `solve` prints has none. */
const PLAN_KEYS = ["target", "recipe", "bed"];

const ALONE = "run the command before the pipe by itself to see what it says";

/** The plan in what `solve --json` printed; null where the text is not JSON and may be a plan file. */
export function pipedPlan(text: string): Result<Plan | null> {
  const trimmed = text.trim();
  const problem = (code: string, message: string, hint: string) => fail<Plan | null>({ code, message, hint });
  if (trimmed === "")
    return problem(
      "stdin-empty",
      "nothing came in on standard input",
      `the command before the pipe may have failed: ${ALONE}`,
    );
  if (!trimmed.startsWith("{")) return ok(null);
  let value: unknown;
  try {
    value = JSON.parse(trimmed);
  } catch {
    // A plan may be written in braces too, but then without quotes round its keys.
    if (!/^\{\s*"/.test(trimmed)) return ok(null);
    return problem(
      "stdin-json",
      "standard input is not whole JSON: it breaks off or is not what `solve --json` prints",
      `the command before the pipe may have been stopped: ${ALONE}`,
    );
  }
  const solution = value as { schema?: unknown; inputs?: unknown };
  const keys = Object.keys(solution);
  if (PLAN_KEYS.some((key) => keys.includes(key))) return ok(null);
  if (solution.schema !== "barrowmix.solution/1")
    return problem(
      "stdin-schema",
      solution.schema === undefined
        ? "standard input is JSON, but neither a plan nor what `solve --json` prints"
        : `standard input is JSON of another kind: schema ${JSON.stringify(solution.schema)}`,
      "`-` takes a plan, or what `barrowmix solve --json` prints (schema barrowmix.solution/1)",
    );
  if (!isPlan(solution.inputs))
    return problem(
      "stdin-inputs",
      "the solution on standard input does not carry its plan whole (`inputs`)",
      "use the JSON of `barrowmix solve --json` as it is printed",
    );
  return ok(solution.inputs);
}

/** Whether a value has the shape of a checked plan, as far as buying relies on it. */
function isPlan(value: unknown): value is Plan {
  const isRecord = (x: unknown): x is Record<string, unknown> =>
    typeof x === "object" && x !== null && !Array.isArray(x);
  const isList = (x: unknown, each: (item: Record<string, unknown>) => boolean): boolean =>
    Array.isArray(x) && x.every((item) => isRecord(item) && each(item));
  const isNumber = (x: unknown): x is number => typeof x === "number" && Number.isFinite(x);
  if (!isRecord(value)) return false;
  return (
    typeof value.name === "string" &&
    typeof value.currency === "string" &&
    (value.units === "us" || value.units === "metric") &&
    (value.blend === "one" || value.blend === "each") &&
    isNumber(value.seasonDays) &&
    isNumber(value.scaleKg) &&
    isRecord(value.bed) &&
    isList(
      value.amendments,
      (a) =>
        typeof a.id === "string" &&
        typeof a.name === "string" &&
        isNumber(a.stockKg) &&
        isRecord(a.analysis) &&
        isRecord(a.release) &&
        isRecord(a.release.byNutrient) &&
        isRecord(a.release.other) &&
        isList(a.packs, (p) => isNumber(p.sizeKg) && p.sizeKg > 0 && isNumber(p.price)),
    ) &&
    isList(value.demands, (d) => typeof d.nutrient === "string" && isNumber(d.minKg)) &&
    isList(value.applications, (a) => typeof a.name === "string" && isNumber(a.day) && isNumber(a.share)) &&
    (value.applications as unknown[]).length > 0 &&
    isList(value.limits, (l) => typeof l.id === "string" && Array.isArray(l.notIn)) &&
    isList(value.suppliers, (s) => typeof s.id === "string" && isNumber(s.delivery)) &&
    isList(value.credits, (c) => isNumber(c.day) && isRecord(c.contentKg) && isRecord(c.release)) &&
    isList(value.leftOut, (l) => typeof l.id === "string") &&
    isList(value.warnings, (w) => typeof w.text === "string")
  );
}
