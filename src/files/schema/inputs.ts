/**
 * The plan that `solve --json` prints as `inputs`, read back: the model in SI, held to its own types and to what a file is
 * held to. A new field of `model.ts` is read as soon as its type says what it is of.
 */
import type { Plan } from "../../model.ts";
import type { Nutrient } from "../../nutrients.ts";
import { ok, type Path, pathText, problemOf, type Result } from "../../problem.ts";
import type { FileFault } from "../codes.ts";
import * as faults from "../faults.ts";
import { lazy } from "./base.ts";
import { ruleOf } from "./figures.ts";
import { planShapes } from "./plan-shape.ts";
import type { Complain } from "./read.ts";
import { Fitting } from "./shape.ts";

const shapes = lazy(planShapes);

/** What is wrong with a value as a plan, each with its path in it. */
export function planFaults(value: unknown): readonly FileFault[] {
  const found: FileFault[] = [];
  const complain: Complain = (fault) => found.push(fault);
  const fitting = new Fitting(shapes(), ruleOf, complain);
  if (fitting.fits(value, { $ref: "Plan" }, [])) checkPlan(value as Plan, complain);
  return found;
}

/** Checks a value as the plan of a solution; `at` is where it is in its JSON. */
export function readPlanValue(value: unknown, at: Path = []): Result<Plan> {
  const problems = planFaults(value).map(({ path = [], ...fault }) =>
    problemOf(fault, { path, about: pathText([...at, ...path]) }),
  );
  return problems.length > 0 ? { ok: false, problems } : ok(value as Plan);
}

type ComplainAt = (path: Path, fault: Omit<FileFault, "path"> | false) => void;

/** Reports what does not fit together between the parts of a plan. */
function checkPlan(plan: Plan, report: Complain): void {
  const { amendments, applications, demands, limits, seasonDays, suppliers, sure } = plan;
  const complain: ComplainAt = (path, fault) => {
    if (fault) report({ ...fault, path });
  };
  if (amendments.length === 0)
    complain(["amendments"], {
      code: "choice-empty",
      wrong: "no amendment is left to make a blend from",
      expected: "at least one",
    });
  if (applications.length === 0)
    complain(["applications"], {
      code: "key-missing",
      wrong: "the list of applications is empty",
      expected: "at least one",
    });
  else complain(["applications"], faults.sharesMiss(applications.reduce((sum, { share }) => sum + share, 0)));
  complain(["seasonDays"], faults.seasonTooLong(seasonDays));
  complain(
    ["harvest", "firstDay"],
    plan.harvest !== undefined && faults.harvestTooEarly(plan.harvest.firstDay),
  );
  const { batch, scaleKg } = plan;
  if (batch !== undefined && "kg" in batch)
    complain(["batch", "kg"], faults.batchTooSmall(batch.kg, scaleKg, `\`${scaleKg}\``));
  const names = {
    amendments: amendments.map(({ id }) => id),
    demands: demands.map(({ nutrient }) => nutrient),
    applications: applications.map(({ name }) => name),
    suppliers: suppliers.map(({ id }) => id),
  };
  for (const [key, list] of Object.entries<readonly string[]>(names))
    for (const [i, given] of list.entries())
      if (list.indexOf(given) < i)
        complain([key, i], {
          code: "name-twice",
          given,
          wrong: "is in this list twice",
          hint: "each is there once",
        });
  for (const [i, { day }] of applications.entries()) {
    const path = ["applications", i, "day"];
    complain(
      path,
      faults.notInSeason(day, seasonDays, "an application feeds the crop only before the end of uptake"),
    );
    if (i > 0 && day < applications[i - 1]!.day)
      complain(path, {
        code: "day-outside",
        wrong: `day ${day} is before the one above it`,
        hint: "the earliest comes first",
      });
  }
  for (const [i, day] of (plan.checkDays ?? []).entries())
    complain(["checkDays", i], faults.notBetween(day, applications[0]?.day ?? 0, seasonDays));
  for (const i of limits.keys()) checkLimit(i, plan, complain);
  const needed = (nutrient: Nutrient, path: Path): void => {
    if (!demands.some((demand) => demand.nutrient === nutrient && demand.minKg > 0))
      complain(path, {
        code: "nutrient-unknown",
        wrong: `the plan needs no ${nutrient}`,
        hint: "be sure of what is needed",
      });
  };
  for (const [i, one] of (sure?.each ?? []).entries()) needed(one.nutrient, ["sure", "each", i, "nutrient"]);
  for (const [i, one] of (sure?.together?.nutrients ?? []).entries())
    needed(one, ["sure", "together", "nutrients", i]);
}

function checkLimit(i: number, { amendments, applications, limits }: Plan, complain: ComplainAt): void {
  const limit = limits[i]!;
  const { id, notIn } = limit;
  if (!amendments.some((one) => one.id === id))
    complain(["limits", i, "id"], {
      code: "amendment-unknown",
      wrong: `no amendment is called \`${id}\``,
      hint: "a limit is on an amendment of the plan",
    });
  for (const [k, index] of notIn.entries())
    if (!Number.isInteger(index) || index >= applications.length)
      complain(["limits", i, "notIn", k], {
        code: "application-unknown",
        wrong: `there is no application ${index}`,
        hint: "they are counted from 0",
      });
  complain(["limits", i, "minKg"], faults.crossedLimit(id, limit, "minKg", "maxKg"));
  complain(["limits", i, "minShare"], faults.crossedLimit(id, limit, "minShare", "maxShare"));
}
