/** What `shop` and the commands that mix what is bought share: plans to buy for, and purchases that were saved. */
import type { BoughtMixes } from "../flow/bought.ts";
import type { Plan } from "../model.ts";
import { fail, noticeText, ok, type Problem, type Result } from "../problem.ts";
import type { ColumnOf } from "../report/report.ts";
import type { Shopping } from "../results/shopping.ts";
import type { Solution } from "../results/solution.ts";
import {
  type CommandOutput,
  type Context,
  EXIT,
  type Flag,
  type Options,
  textsOption,
  UsageError,
} from "./command.ts";
import { givenSaved, requestedPlan, unitsOverride, where } from "./plan-options.ts";
import { asksForPrices, atPrices } from "./price-flags.ts";

/** The flags with which a command mixes what is bought, beside those of a plan. */
export const BOUGHT_FLAGS: readonly Flag[] = [
  ["--bought", "buy as `shop` does, and mix what is bought"],
  ["--also <plan>", "with --bought: buy for this plan too; may be repeated", "repeated"],
];

/** What a command that makes a mix is asked for. */
export type Asked =
  | { readonly kind: "plan"; readonly plan: Plan }
  | { readonly kind: "bought"; readonly bought: BoughtMixes; readonly solutions: readonly Solution[] }
  /** There is no purchase: what `shop` says of it. */
  | { readonly kind: "nothing"; readonly shopping: Shopping };

/** The plan to mix for, or the mixes on packs: of `--bought`, or of a purchase that was saved. */
export async function askedMix(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<Asked>> {
  if (options.bought !== true) {
    if (textsOption(options, "also").length > 0)
      throw new UsageError("--also goes with --bought: both plans are then bought for in one trip");
    const saved = await givenSaved(planFile, options, context);
    if (!saved.ok) return saved;
    if (saved.value?.kind === "bought") {
      if (asksForPrices(options))
        throw new UsageError(
          "--price and --prices change what is bought, and this is bought already; buy again with `barrowmix shop`",
        );
      return bought(saved.value.bought);
    }
    const plan = await requestedPlan(planFile, options, context);
    return plan.ok ? ok({ kind: "plan", plan: plan.value }) : plan;
  }
  const plans = await plansToBuyFor(planFile, options, context);
  if (!plans.ok) return plans;
  const { shopPlans } = await import("../flow/shop.ts");
  const result = await shopPlans(plans.value, { clock: () => performance.now() });
  if (!result.ok) return result;
  const { boughtBy } = await import("../flow/bought.ts");
  const found = boughtBy(result.value);
  return found ? bought(found) : ok({ kind: "nothing", shopping: result.value });
}

async function bought(bought: BoughtMixes): Promise<Result<Asked>> {
  const { boughtSolutions } = await import("../flow/bought.ts");
  const solutions = boughtSolutions(bought);
  return solutions.ok ? ok({ kind: "bought", bought, solutions: solutions.value }) : solutions;
}

/** A purchase as the output of a command. */
export function purchaseOutput(shopping: Shopping): CommandOutput {
  const infeasible = shopping.status === "infeasible";
  return {
    exitCode: infeasible ? EXIT.infeasible : EXIT.done,
    json: shopping,
    report: async (extent) => (await import("../report/shop-report.ts")).shopReport(shopping, extent),
    text: async () => (await import("../report/shop-report.ts")).shopList(shopping),
    remarks: [
      ...(infeasible ? shopping.conflicts.map(({ text }) => text) : []),
      ...[...shopping.cautions, ...shopping.warnings].map(noticeText),
    ],
  };
}

/** What `shop` says where there is no purchase, with CSV in the columns of another command, which stay blank. */
export function withoutPurchase<T>(shopping: Shopping, columns: readonly ColumnOf<T>[]): CommandOutput {
  return {
    ...purchaseOutput(shopping),
    report: async (extent) => {
      const { shopReport } = await import("../report/shop-report.ts");
      const { conflictTable } = await import("../report/outcome-table.ts");
      return { ...shopReport(shopping, extent), csv: conflictTable(columns, shopping.conflicts) };
    },
  };
}

/** The plan of a command and those of `--also`. */
export async function plansToBuyFor(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<readonly [Plan, ...Plan[]]>> {
  const given = await givenPlans(planFile, options, context);
  const problems: Problem[] = given.ok ? [] : [...given.problems];
  const plans: Plan[] = [];
  for (const file of textsOption(options, "also")) {
    const { loadPlan } = await import("../files/load.ts");
    const overrides = unitsOverride(context);
    const loaded = loadPlan(context.files, { planFile: file, overrides, ...where(context) });
    const priced = loaded.ok ? await atPrices(loaded.value.plan, options, context) : loaded;
    if (priced.ok) plans.push(priced.value);
    else problems.push(...priced.problems);
  }
  if (!given.ok || problems.length > 0) return fail(...problems);
  const [first, ...more] = given.value;
  return ok([first!, ...more, ...plans]);
}

/** The plans that the argument names: one, or those of a purchase that was saved. */
async function givenPlans(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<readonly Plan[]>> {
  const saved = await givenSaved(planFile, options, context);
  if (!saved.ok) return saved;
  if (saved.value?.kind === "bought") {
    const plans: Plan[] = [];
    for (const plan of saved.value.bought.plans) {
      const priced = await atPrices(plan, options, context);
      if (!priced.ok) return priced;
      plans.push(priced.value);
    }
    return ok(plans);
  }
  const plan = await requestedPlan(planFile, options, context);
  return plan.ok ? ok([plan.value]) : plan;
}
