/**
 * The plan that `solve --json` prints as `inputs`, read back: the model in SI, held to its own types and to what a file is
 * held to. A new field of `model.ts` is read as soon as its type says what it is of.
 */
import type { Plan } from "../../model.ts";
import { fail, ok, pathText, problemOf, type Result } from "../../problem.ts";
import type { FileFault } from "../codes.ts";
import { isRecord, type Path } from "../source.ts";
import { lazy } from "./base.ts";
import { ruleOf } from "./figures.ts";
import { checkPlan } from "./inputs-rules.ts";
import { planShapes } from "./plan-shape.ts";
import type { Complain } from "./read.ts";
import { Fitting } from "./shape.ts";

/** The JSON Schema's kinds of input that are no plan of this kind. */
const ALONE = "run the command before the pipe by itself to see what it says";
const WANTED = "`-` takes a plan, or what `barrowmix solve --json` prints (schema barrowmix.solution/1)";

/**
 * Reads the plan out of the text that `solve --json` prints.
 * @param source what the text comes from, for messages: `standard input`.
 * @returns the plan, or every fault with its path in the JSON.
 */
export function readPlanJson(text: string, source = "standard input"): Result<Plan> {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return fail({
      code: "stdin-json",
      message: `${source} is not whole JSON: it breaks off or is not what \`solve --json\` prints`,
      hint: `the command before the pipe may have been stopped: ${ALONE}`,
    });
  }
  const { schema, inputs } = isRecord(value) ? value : {};
  if (schema !== "barrowmix.solution/1")
    return fail({
      code: "stdin-schema",
      message:
        schema === undefined
          ? `${source} is JSON, but neither a plan nor what \`solve --json\` prints`
          : `${source} is JSON of another kind: schema ${JSON.stringify(schema)}`,
      hint: WANTED,
    });
  if (!isRecord(inputs) || !Array.isArray(inputs.amendments))
    return fail({
      code: "stdin-inputs",
      message: `the solution on ${source} does not carry its plan whole (\`inputs\`)`,
      hint: "use the JSON of `barrowmix solve --json` as it is printed",
    });
  return readPlanValue(inputs, ["inputs"]);
}

const shapes = lazy(planShapes);

/** What is wrong with a value as a plan, each with its path in it. */
export function planFaults(value: unknown): readonly FileFault[] {
  const faults: FileFault[] = [];
  const complain: Complain = (fault) => faults.push(fault);
  const fitting = new Fitting(shapes(), ruleOf, complain);
  if (fitting.fits(value, { $ref: "Plan" }, [])) checkPlan(value as Plan, complain);
  return faults;
}

/** Checks a value as the plan of a solution; `at` is where it is in its JSON. */
export function readPlanValue(value: unknown, at: Path = []): Result<Plan> {
  const problems = planFaults(value).map(({ path = [], ...fault }) =>
    problemOf(fault, { path, about: pathText([...at, ...path]) }),
  );
  return problems.length > 0 ? { ok: false, problems } : ok(value as Plan);
}
