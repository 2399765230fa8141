/**
 * The plan that `solve --json` prints as `inputs`, read back: the model in SI, held to its own types and to what a file is
 * held to. A new field of `model.ts` is read as soon as its type says what it is of.
 */
import type { Plan } from "../../model.ts";
import { ok, pathText, problemOf, type Result } from "../../problem.ts";
import type { FileFault } from "../codes.ts";
import type { Path } from "../source.ts";
import { lazy } from "./base.ts";
import { ruleOf } from "./figures.ts";
import { checkPlan } from "./inputs-rules.ts";
import { planShapes } from "./plan-shape.ts";
import type { Complain } from "./read.ts";
import { Fitting } from "./shape.ts";

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
