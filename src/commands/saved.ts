/** What the program printed as JSON before, read again: the plan of a solution, or the mixes of a purchase. */
import type { BoughtMixes } from "../flow/bought.ts";
import type { Plan } from "../model.ts";
import { fail, ok, type Problem, type Result } from "../problem.ts";
import type { BedMix, Purchase, Verification } from "../results/solution.ts";

/** What a command can go on from. */
export type Saved =
  | { readonly kind: "plan"; readonly plan: Plan }
  | { readonly kind: "bought"; readonly bought: BoughtMixes };

/** A plan in JSON has one of these, what the program prints has none. */
const PLAN_KEYS = ["target", "recipe", "bed"];
const SHOPPING = "barrowmix.shopping/1";

const ALONE = "run the command before the pipe by itself to see what it says";

/**
 * Reads what `solve --json`, `shop --json` or `shop --save` wrote; every fault is named with its path.
 * @param file its name as shown to people; null: standard input.
 * @returns null where the text is not such JSON and may be a plan file (YAML, or JSON with a plan's keys).
 */
export async function readSaved(text: string, file: string | null): Promise<Result<Saved | null>> {
  const trimmed = text.trim();
  const name = file ?? "standard input";
  if (trimmed === "" && file === null)
    return fail({
      code: "stdin-empty",
      message: "nothing came in on standard input",
      hint: `the command before the pipe may have failed: ${ALONE}`,
    });
  // A plan may be written in braces too, but then without quotes round its keys.
  if (!/^\{\s*"/.test(trimmed)) return ok(null);
  const saved = parsed(trimmed);
  if (saved !== null && PLAN_KEYS.some((key) => Object.hasOwn(saved, key))) return ok(null);
  const { readPlanJson, readPlanValue } = await import("../files/load.ts");
  if (saved?.schema === SHOPPING) return savedPurchase(saved, name, readPlanValue);
  const plan = readPlanJson(trimmed, name);
  if (!plan.ok || !isRecord(saved?.purchase) || saved.purchase.basis !== "packs")
    return plan.ok ? ok({ kind: "plan", plan: plan.value }) : plan;
  return savedSolution(saved, plan.value, saved.purchase, name);
}

function parsed(json: string): Record<string, unknown> | null {
  try {
    const value: unknown = JSON.parse(json);
    return isRecord(value) ? value : null;
  } catch {
    return null;
  }
}

/** The same in other units. */
export function withUnits(saved: Saved, units: Plan["units"]): Saved {
  if (saved.kind === "plan") return { kind: "plan", plan: { ...saved.plan, units } };
  const plans = saved.bought.plans.map((plan) => ({ ...plan, units }));
  return { kind: "bought", bought: { ...saved.bought, plans } };
}

function savedSolution(
  saved: Record<string, unknown>,
  plan: Plan,
  purchase: Record<string, unknown>,
  name: string,
): Result<Saved> {
  const { purchases, verification, mix } = saved;
  if (!isPurchases(purchases) || !isVerification(verification) || !isSum(purchase) || !isMix(mix))
    return fail(broken(name, "barrowmix solve --bought --json"));
  if (purchase.plans.length !== 1)
    return fail({
      code: "saved-part",
      message: `${name} is one of several beds that were bought for together`,
      hint: "save the purchase with `barrowmix shop --save` and go on from that",
    });
  const sum = { ...purchase, basis: "packs" } as const;
  return ok({
    kind: "bought",
    bought: { plans: [plan], mixes: [mix], application: null, purchases, sum, verification },
  });
}

function savedPurchase(
  saved: Record<string, unknown>,
  name: string,
  readPlan: (value: unknown, at: readonly (string | number)[]) => Result<Plan>,
): Result<Saved> {
  const { inputs, mixes, purchases, verification, application, status, plans } = saved;
  if (status === "infeasible")
    return fail({
      code: "saved-nothing",
      message: `${name} holds no purchase: there was none that would do`,
      hint: "`barrowmix shop` says why",
    });
  const sum = { ...saved, basis: "packs", plans };
  if (
    !(Array.isArray(inputs) && inputs.length > 0) ||
    !(Array.isArray(mixes) && mixes.length === inputs.length && mixes.every(isMix)) ||
    !isPurchases(purchases) ||
    !isVerification(verification) ||
    !isSum(sum) ||
    !(application === null || typeof application === "string")
  )
    return fail(broken(name, "barrowmix shop --save"));
  const read = inputs.map((plan, p) => readPlan(plan, ["inputs", p]));
  const problems = read.flatMap((plan) => (plan.ok ? [] : plan.problems));
  if (problems.length > 0) return fail(...problems);
  const { total, goods, delivery, gap } = sum;
  return ok({
    kind: "bought",
    bought: {
      plans: read.flatMap((plan) => (plan.ok ? [plan.value] : [])),
      mixes,
      application,
      purchases,
      sum: { basis: "packs", total, goods, delivery, gap, plans: sum.plans },
      verification,
    },
  });
}

function broken(name: string, command: string): Problem {
  return {
    code: "saved-broken",
    message: `the purchase on ${name} is not whole: a field is not there or is of another kind`,
    hint: `use the JSON of \`${command}\` as it is written`,
  };
}

function isRecord(x: unknown): x is Record<string, unknown> {
  return typeof x === "object" && x !== null && !Array.isArray(x);
}

function isList(x: unknown, each: (item: Record<string, unknown>) => boolean): x is unknown[] {
  return Array.isArray(x) && x.every((item) => isRecord(item) && each(item));
}

function isNumber(x: unknown): x is number {
  return typeof x === "number" && Number.isFinite(x);
}

function isMix(x: unknown): x is BedMix {
  return (
    isRecord(x) &&
    typeof x.plan === "string" &&
    isList(x.amounts, (a) => typeof a.id === "string" && Array.isArray(a.kg) && a.kg.every(isNumber))
  );
}

function isPurchases(x: unknown): x is readonly Purchase[] {
  return isList(
    x,
    (line) =>
      typeof line.id === "string" &&
      isList(line.packs, (p) => isNumber(p.sizeKg) && isNumber(p.count) && isNumber(p.price)) &&
      ["bulkKg", "boughtKg", "usedKg", "leftKg", "cost"].every((field) => isNumber(line[field])),
  );
}

function isVerification(x: unknown): x is Verification {
  return (
    isRecord(x) &&
    typeof x.engine === "string" &&
    ["maxViolation", "dualBound", "gap"].every((field) => isNumber(x[field]))
  );
}

function isSum(x: Record<string, unknown>): x is Record<string, unknown> & BoughtMixes["sum"] {
  return (
    ["total", "goods", "delivery", "gap"].every((field) => isNumber(x[field])) &&
    Array.isArray(x.plans) &&
    x.plans.every((plan) => typeof plan === "string")
  );
}
