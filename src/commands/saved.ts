/** What the program printed as JSON before, read again: the plan of a solution, or the mixes of a purchase. */
import { isRecord } from "../files/source.ts";
import type { BoughtMixes } from "../flow/bought.ts";
import type { Plan } from "../model.ts";
import { allOf, fail, ok, type Problem, type Result } from "../problem.ts";

/** What a command can go on from. */
export interface Saved {
  /** One at least; more than one only of a purchase. */
  readonly plans: readonly Plan[];
  /** The purchase that the plans are of; null: a plan alone. */
  readonly bought: BoughtMixes | null;
}

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
  if (saved?.schema === SHOPPING) return savedPurchase(saved, name);
  const { readPlanJson } = await import("../files/load.ts");
  const read = readPlanJson(trimmed, name);
  if (!read.ok) return read;
  const plans = [read.value];
  if (!isRecord(saved?.purchase) || saved.purchase.basis !== "packs") return ok({ plans, bought: null });
  const { mix, purchase, purchases, verification } = saved;
  const parts = { mixes: [mix], application: null, purchases, sum: purchase, verification };
  if (!isBought(parts)) return fail(broken(name, "barrowmix solve --bought --json"));
  if (parts.sum.plans.length !== 1)
    return fail({
      code: "saved-part",
      message: `${name} is one of several beds that were bought for together`,
      hint: "save the purchase with `barrowmix shop --save` and go on from that",
    });
  return ok({ plans, bought: { ...parts, plans } });
}

function parsed(json: string): JsonObject | null {
  try {
    const value: unknown = JSON.parse(json);
    return isRecord(value) ? value : null;
  } catch {
    return null;
  }
}

/** The same in other units. */
export function withUnits({ plans, bought }: Saved, units: Plan["units"]): Saved {
  const shown = plans.map((plan) => ({ ...plan, units }));
  return { plans: shown, bought: bought && { ...bought, plans: shown } };
}

async function savedPurchase(saved: JsonObject, name: string): Promise<Result<Saved>> {
  if (saved.status === "infeasible")
    return fail({
      code: "saved-nothing",
      message: `${name} holds no purchase: there was none that would do`,
      hint: "`barrowmix shop` says why",
    });
  const { inputs, mixes, application, purchases, verification } = saved;
  const { total, goods, delivery, gap, plans: names } = saved;
  const sum = { basis: "packs", total, goods, delivery, gap, plans: names };
  const parts = { mixes, application, purchases, sum, verification };
  if (!isBought(parts) || !Array.isArray(inputs) || inputs.length !== parts.mixes.length)
    return fail(broken(name, "barrowmix shop --save"));
  const { readPlanValue } = await import("../files/load.ts");
  const plans = allOf(inputs.map((plan, p) => readPlanValue(plan, ["inputs", p])));
  return plans.ok ? ok({ plans: plans.value, bought: { ...parts, plans: plans.value } }) : plans;
}

function broken(name: string, command: string): Problem {
  return {
    code: "saved-broken",
    message: `the purchase on ${name} is not whole: a field is not there or is of another kind`,
    hint: `use the JSON of \`${command}\` as it is written`,
  };
}

type JsonObject = Readonly<Record<string, unknown>>;

/** Whether a value is a list of objects that are all as they should be. */
function isList(value: unknown, each: (item: JsonObject) => boolean): boolean {
  return Array.isArray(value) && value.every((item) => isRecord(item) && each(item));
}

function areNumbers(item: JsonObject, ...fields: readonly string[]): boolean {
  return fields.every((field) => Number.isFinite(item[field]));
}

/** Whether the parts of a purchase are all there and of their kinds. */
function isBought(parts: JsonObject): parts is JsonObject & Omit<BoughtMixes, "plans"> {
  const { mixes, application, purchases, sum, verification } = parts;
  return (
    isList(
      mixes,
      ({ plan, amounts }) =>
        typeof plan === "string" &&
        isList(
          amounts,
          ({ id, kg }) => typeof id === "string" && Array.isArray(kg) && kg.every(Number.isFinite),
        ),
    ) &&
    (mixes as readonly unknown[]).length > 0 &&
    (application === null || typeof application === "string") &&
    isList(
      purchases,
      (line) =>
        typeof line.id === "string" &&
        isList(line.packs, (pack) => areNumbers(pack, "sizeKg", "count", "price")) &&
        areNumbers(line, "bulkKg", "boughtKg", "usedKg", "leftKg", "cost"),
    ) &&
    isRecord(sum) &&
    areNumbers(sum, "total", "goods", "delivery", "gap") &&
    Array.isArray(sum.plans) &&
    sum.plans.every((plan) => typeof plan === "string") &&
    isRecord(verification) &&
    typeof verification.engine === "string" &&
    areNumbers(verification, "maxViolation", "dualBound", "gap")
  );
}
