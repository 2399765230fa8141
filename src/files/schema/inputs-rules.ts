/** What holds between the parts of a plan that is read back from JSON. */
import type { Plan } from "../../model.ts";
import type { Nutrient } from "../../nutrients.ts";
import type { Path } from "../source.ts";
import { type Ctx, report } from "./base.ts";
import { percent } from "./values.ts";

/** Shares that add up to a whole may miss it by what rounding does. */
export const TOLERANCE = 1e-6;

/** Reports what does not fit together. */
export function checkPlan(plan: Plan, ctx: Ctx): void {
  const { amendments, applications, limits } = plan;
  if (!/^[A-Z]{3}$/.test(plan.currency))
    report(ctx, {
      code: "choice-unknown",
      path: ["currency"],
      given: plan.currency,
      wrong: "is not a currency code",
      hint: "three capital letters (ISO 4217)",
    });
  if (amendments.length === 0)
    report(ctx, {
      code: "choice-empty",
      path: ["amendments"],
      wrong: "no amendment is left to make a blend from",
      expected: "at least one",
    });
  if (applications.length === 0)
    report(ctx, {
      code: "key-missing",
      path: ["applications"],
      wrong: "the list of applications is empty",
      expected: "at least one",
    });
  for (const [key, names] of [
    ["amendments", amendments.map((a) => a.id)],
    ["demands", plan.demands.map((d) => d.nutrient)],
    ["applications", applications.map((a) => a.name)],
    ["suppliers", plan.suppliers.map((s) => s.id)],
  ] as const)
    for (const [i, name] of names.entries())
      if (names.indexOf(name as never) < i)
        report(ctx, {
          code: "name-twice",
          path: [key, i],
          given: name,
          wrong: "is in this list twice",
          hint: "each is there once",
        });
  const total = applications.reduce((sum, a) => sum + a.share, 0);
  if (applications.length > 0 && Math.abs(total - 1) > TOLERANCE)
    report(ctx, {
      code: "shares-sum",
      path: ["applications"],
      wrong: `the shares add to ${percent(total)}`,
      hint: "they must add to 100%",
    });
  for (const [i, { day }] of applications.entries()) {
    if (day >= plan.seasonDays)
      report(ctx, {
        code: "day-outside",
        path: ["applications", i, "day"],
        wrong: `day ${day} is not before the season's end`,
        hint: `the season ends on day ${plan.seasonDays}`,
      });
    if (i > 0 && day < applications[i - 1]!.day)
      report(ctx, {
        code: "day-outside",
        path: ["applications", i, "day"],
        wrong: `day ${day} is before the one above it`,
        hint: "the earliest comes first",
      });
  }
  for (const [i, day] of (plan.checkDays ?? []).entries())
    if (day <= (applications[0]?.day ?? 0) || day >= plan.seasonDays)
      report(ctx, {
        code: "day-outside",
        path: ["checkDays", i],
        wrong: `day ${day} is not between the first application and the season's end`,
        hint: `give a day before day ${plan.seasonDays}`,
      });
  for (const [i, one] of limits.entries()) checkLimit(one, i, plan, ctx);
  const needed = (nutrient: Nutrient, path: Path): void => {
    if (!plan.demands.some((d) => d.nutrient === nutrient && d.minKg > 0))
      report(ctx, {
        code: "nutrient-unknown",
        path,
        wrong: `the plan needs no ${nutrient}`,
        hint: "be sure of what is needed",
      });
  };
  for (const [i, one] of (plan.sure?.each ?? []).entries())
    needed(one.nutrient, ["sure", "each", i, "nutrient"]);
  for (const [i, one] of (plan.sure?.together?.nutrients ?? []).entries())
    needed(one, ["sure", "together", "nutrients", i]);
}

function checkLimit(one: Plan["limits"][number], i: number, plan: Plan, ctx: Ctx): void {
  if (!plan.amendments.some((a) => a.id === one.id))
    report(ctx, {
      code: "amendment-unknown",
      path: ["limits", i, "id"],
      wrong: `no amendment is called \`${one.id}\``,
      hint: "a limit is on an amendment of the plan",
    });
  for (const [k, index] of one.notIn.entries())
    if (!Number.isInteger(index) || index >= plan.applications.length)
      report(ctx, {
        code: "application-unknown",
        path: ["limits", i, "notIn", k],
        wrong: `there is no application ${index}`,
        hint: "they are counted from 0",
      });
  for (const [least, most] of [
    ["minKg", "maxKg"],
    ["minShare", "maxShare"],
  ] as const)
    if ((one[least] ?? 0) > (one[most] ?? Number.POSITIVE_INFINITY))
      report(ctx, {
        code: "limit-conflict",
        path: ["limits", i, least],
        given: least,
        wrong: `is above \`${most}\``,
        hint: "the least is at most the most",
      });
}
