/** What `shop` and the commands that mix what is bought share: plans to buy for, and purchases that were saved. */
import type { BoughtMixes } from "../flow/bought.ts";
import type { Plan } from "../model.ts";
import { noticeText } from "../problem.ts";
import type { ColumnOf } from "../report/report.ts";
import type { Shopping } from "../results/shopping.ts";
import type { Solution } from "../results/solution.ts";
import { noMixWords } from "../words/sure-words.ts";
import {
  type CommandOutput,
  type Context,
  clock,
  EXIT,
  type Flag,
  type Options,
  textsOption,
  together,
  UsageError,
  unwrap,
} from "./command.ts";
import { givenPlans, unitsOverride, where } from "./plan-options.ts";
import { asksForPrices, atPrices, extraPrices } from "./price-flags.ts";
import { shippedAmendments } from "./shipped.ts";

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
export async function askedMix(planFile: unknown, options: Options, context: Context): Promise<Asked> {
  if (options.bought === true) {
    const plans = await plansToBuyFor(planFile, options, context);
    const { shopPlans } = await import("../flow/shop.ts");
    const shopping = unwrap(await shopPlans(plans, { clock }));
    const { boughtBy } = await import("../flow/bought.ts");
    const bought = boughtBy(shopping);
    return bought ? mixedFrom(bought) : { kind: "nothing", shopping };
  }
  if (textsOption(options, "also").length > 0)
    throw new UsageError("--also goes with --bought: both plans are then bought for in one trip");
  const { plans, bought } = await givenPlans(planFile, options, context);
  if (bought === null) return { kind: "plan", plan: await atPrices(plans[0]!, options) };
  if (asksForPrices(options))
    throw new UsageError(
      "--price and --prices change what is bought, and this is bought already; buy again with `barrowmix shop`",
    );
  return mixedFrom(bought);
}

async function mixedFrom(bought: BoughtMixes): Promise<Asked> {
  const { boughtSolutions } = await import("../flow/bought.ts");
  return { kind: "bought", bought, solutions: unwrap(boughtSolutions(bought)) };
}

/** The plans that the argument of a command and `--also` name, at the prices that the flags ask for. */
export async function plansToBuyFor(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<readonly [Plan, ...Plan[]]> {
  const { loadPlan } = await import("../files/load.ts");
  const overrides = unitsOverride(context);
  const more = { overrides, ...where(context), extraPrices: extraPrices(options) };
  const priced = (plan: Plan): Promise<Plan> => atPrices(plan, options);
  const plans = await together<(readonly Plan[])[]>([
    givenPlans(planFile, options, context).then((given) => together(given.plans.map(priced))),
    ...textsOption(options, "also").map(async (file) => [
      await priced(unwrap(loadPlan(context.files, { planFile: file, ...more })).plan),
    ]),
  ]);
  return plans.flat() as [Plan, ...Plan[]];
}

/** A purchase as the output of a command. */
export function purchaseOutput(shopping: Shopping): CommandOutput {
  const infeasible = shopping.status === "infeasible";
  return {
    exitCode: infeasible ? EXIT.infeasible : EXIT.done,
    json: shopping,
    report: async (extent) => (await import("../report/shop-report.ts")).shopReport(shopping, extent),
    text: async () => (await import("../report/shop-report.ts")).shopList(shopping),
    remarks: [...(infeasible ? shopping.conflicts.map(({ text }) => text) : []), ...remarksOf(shopping)],
  };
}

/** A mix of a plan, or why there is none, as the output of a command. */
export function solutionOutput(solution: Solution): CommandOutput {
  const infeasible = solution.status === "infeasible";
  return {
    exitCode: infeasible ? EXIT.infeasible : EXIT.done,
    json: solution,
    report: async (extent) => (await import("../report/solution-report.ts")).solutionReport(solution, extent),
    remarks: [...(infeasible ? [`${noMixWords(solution.conflicts)}.`] : []), ...remarksOf(solution)],
  };
}

/** Cautions and warnings for stderr. */
export function remarksOf({ cautions, warnings }: Pick<Solution, "cautions" | "warnings">): string[] {
  return [...cautions, ...warnings].map(noticeText);
}

/** The columns of a command's own CSV, for a plan in these units. */
type ColumnsFor<T> = (units: Plan["units"]) => Promise<readonly ColumnOf<T>[]>;

/** What `shop` says where there is no purchase, with CSV in the columns of another command, which stay blank. */
export function withoutPurchase<T>(shopping: Shopping, columns: ColumnsFor<T>): CommandOutput {
  return withoutAnswer(purchaseOutput(shopping), shopping, columns);
}

/** The mix of a plan, or why there is none, for a command that wants the mix alone. */
export async function solvedAlone(plan: Plan, context: Context): Promise<Solution> {
  const { solvePlan } = await import("../flow/blend.ts");
  return solvePlan(plan, () => shippedAmendments(context), { clock });
}

/** What `solve` says where a plan has no mix, with CSV in the columns of another command, which stay blank. */
export function withoutMix<T>(solution: Solution, columns: ColumnsFor<T>): CommandOutput {
  return withoutAnswer(solutionOutput(solution), solution, columns);
}

function withoutAnswer<T>(
  output: CommandOutput,
  { units, conflicts }: Pick<Shopping, "units" | "conflicts">,
  columns: ColumnsFor<T>,
): CommandOutput {
  return {
    ...output,
    report: async (extent) => {
      const { conflictTable } = await import("../report/outcome-table.ts");
      return { ...(await output.report(extent)), csv: conflictTable(await columns(units), conflicts) };
    },
  };
}
