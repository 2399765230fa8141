/** `solve`: the least-cost mix of a plan. */
import type { BoughtMixes } from "../flow/bought.ts";
import { figures, PLAN_COLUMN, words } from "../report/report.ts";
import type { Solution, SplitFound } from "../results/solution.ts";
import { money, weight } from "../words/numbers.ts";
import { askedMix, BOUGHT_FLAGS, remarksOf, solutionOutput, withoutPurchase } from "./buying.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  clock,
  EXIT,
  type Options,
  UsageError,
  unwrap,
} from "./command.ts";
import { type Apart, runEach } from "./many.ts";
import { PLAN_ALIASES, PLAN_FLAGS, STDIN } from "./plan-options.ts";
import { shippedAmendments } from "./shipped.ts";

export const command: Command = {
  formats: ["ndjson"],
  aliases: PLAN_ALIASES,
  arguments: [["[plans...]", "plan files, or purchases of `shop --save`; - reads standard input"]],
  flags: [
    ["--ndjson", "the same as --format ndjson: one plan a line"],
    ["--best-split [least]", "find the cheapest shares of the applications, each at least this"],
    ["--chart", "draw supply against need over the season"],
    ...BOUGHT_FLAGS,
  ],
  groups: PLAN_FLAGS,
  notes: [
    "Where no plan is named, ./plan.yaml is used. Without a plan, use flags:",
    "  barrowmix solve --amendments amendments.yaml --recipe pepper --plants 240 \\",
    '    --area "1500 sq ft" --batch "60 lb"',
    '  barrowmix solve --recipe pepper --area "1500 sq ft" \\',
    '    --have "feather-meal@44/50 lb" --have "poultry-pellets@18/50 lb" \\',
    '    --have "potassium-sulfate@46/50 lb"',
    "Several plans in one run, one line of JSON each, a bad one among them or not:",
    "  barrowmix solve beds/*.yaml --ndjson",
    "",
    "Exit codes: 0 a proven mix; 2 bad input; 3 no mix fits; 4 not verified; of",
    "several plans the highest.",
  ],

  run([plans], options, context): Promise<CommandOutput> {
    return runEach<Solution>(
      plans,
      context.flags,
      (plan) => solveOne(plan, options, context),
      [
        words("Plan", "plan", ({ plan }) => plan),
        figures(
          "Cost",
          "cost",
          ({ cost }) => cost.total,
          (total, { currency }) => money(total, currency),
        ),
        figures(
          "Weight",
          "weight_kg",
          ({ amendments, status }) =>
            status === "optimal" ? amendments.reduce((sum, { kg }) => sum + kg, 0) : null,
          (kg, { inputs }) => weight(kg, inputs.units),
        ),
      ],
      apart(plans, options, context),
    );
  },
};

/** Many plans are shared out among threads, unless one of them comes through a pipe or a file is written. */
function apart(plans: unknown, options: Options, { world, flags }: Context): Apart | undefined {
  const { threads } = world;
  const alone = options.out !== undefined || (Array.isArray(plans) && plans.includes(STDIN));
  if (threads === undefined || alone) return undefined;
  return { threads, share: (files) => ({ command: "solve", files, options, flags }) };
}

/** The curves of supply and need, where a chart is asked for or the page has room for one. */
async function curvesFor(
  solved: Solution,
  options: Options,
  { flags }: Context,
): Promise<Pick<Solution, "curves">> {
  if (solved.status !== "optimal" || !(options.chart === true || flags.format === "html")) return {};
  const { seasonCurves, weighedAmounts } = await import("../field/curves.ts");
  return { curves: seasonCurves(solved.inputs, weighedAmounts(solved.inputs, solved.applications)) };
}

async function solveOne(
  planFile: string | undefined,
  options: Options,
  context: Context,
): Promise<CommandOutput> {
  const asked = await askedMix(planFile, options, context);
  if (asked.kind === "nothing")
    return withoutPurchase(asked.shopping, async (units) => {
      const own = (await import("../report/solution-report.ts")).solutionColumns(units);
      return asked.shopping.plans.length > 1 ? [PLAN_COLUMN, ...own] : own;
    });
  if (asked.kind === "bought") {
    if (options.bestSplit !== undefined)
      throw new UsageError("--best-split looks for the cheapest shares by weight; leave it out, or --bought");
    return boughtOutput(asked.solutions, asked.bought);
  }
  const { solvePlan } = await import("../flow/blend.ts");
  let { plan } = asked;
  let split: SplitFound | undefined;
  if (options.bestSplit !== undefined) {
    const { bestSplitOf } = await import("./best-split.ts");
    ({ plan, split } = unwrap(await bestSplitOf(plan, options.bestSplit)));
  }
  // What certainty costs step by step is said at length only: it takes many solutions more.
  const { all, format } = context.flags;
  const certainty = all || (format !== "table" && format !== "csv");
  const solved = await solvePlan(
    plan,
    () => shippedAmendments(context),
    { clock },
    { everyCounting: all, certainty, together: certainty },
  );
  const curves = await curvesFor(solved, options, context);
  return solutionOutput({ ...solved, ...(split ? { split } : {}), ...curves });
}

/** The mixes on packs that are bought: one plan as `solve` gives it, several as a list. */
function boughtOutput(solutions: readonly Solution[], { application }: BoughtMixes): CommandOutput {
  if (application !== null)
    throw new UsageError(
      `this purchase is for one application (${application}); \`barrowmix card\` prints what to weigh for it`,
    );
  return {
    exitCode: EXIT.done,
    json: solutions.length === 1 ? solutions[0] : solutions,
    lines: solutions,
    report: async (extent) => {
      const { solutionReport } = await import("../report/solution-report.ts");
      const { joinReports } = await import("../report/report.ts");
      return joinReports(
        "The mixes on what is bought",
        solutions.map((solution) => solutionReport(solution, extent)),
      );
    },
    remarks: solutions.flatMap(remarksOf),
  };
}
