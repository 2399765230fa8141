/** `solve`: the least-cost mix of a plan. */
import type { BoughtMixes } from "../flow/bought.ts";
import type { Plan } from "../model.ts";
import { type Fault, fail, ok, problemOf, type Result } from "../problem.ts";
import { figures, PLAN_COLUMN, words } from "../report/report.ts";
import type { Solution, SplitFound } from "../results/solution.ts";
import { parseQuantity } from "../units.ts";
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

/** One step of the grid of shares, where `--best-split` names no least share. */
const DEFAULT_LEAST = 0.05;

/** The plan with the shares that cost least, and what was found on the way. */
export interface SplitPlan {
  readonly plan: Plan;
  readonly split: SplitFound;
}

/**
 * Searches the shares of a plan.
 * @param value of the flag: the least share of an application as text, or true where it is not given.
 * @returns the plan as it is where no split of the grid has a mix.
 */
export async function bestSplitOf(plan: Plan, value: unknown): Promise<Result<SplitPlan>> {
  const refused = (fault: Fault) => fail<SplitPlan>(problemOf(fault, { about: "--best-split" }));
  let least = DEFAULT_LEAST;
  if (typeof value === "string") {
    const read = parseQuantity(value, "share", { most: { value: 1, text: "100%" } });
    if (!read.ok) return refused(read);
    least = read.value;
  }
  const count = plan.applications.length;
  const refusals: readonly (readonly [when: boolean, code: string, wrong: string, hint: string])[] = [
    [
      plan.blend === "each",
      "key-conflict",
      "with `blend: each` every application has its own recipe, and there is nothing to split",
      "use it with `blend: one`",
    ],
    [
      plan.simple !== undefined,
      "key-conflict",
      "it does not go together with `simple`",
      "leave one of the two out",
    ],
    [
      plan.sure !== undefined,
      "key-conflict",
      "it counts needs on average, and does not go together with `sure`",
      "leave one of the two out; shares found without `sure` can then be solved with it",
    ],
    [count === 1, "shares-sum", "the plan has one application only", "give it two or more `applications`"],
    [
      Math.ceil(least * 20 - 1e-9) * count > 20,
      "shares-sum",
      `${count} applications of at least ${Number((least * 100).toPrecision(6))}% each are more than the whole`,
      `at most ${Math.floor(20 / count) * 5}% is possible in steps of 5%`,
    ],
  ];
  for (const [when, code, wrong, hint] of refusals) if (when) return refused({ code, wrong, hint });
  const { bestSplit, withShares } = await import("../flow/split.ts");
  const found = bestSplit(plan, least);
  const shares = found.best?.shares ?? found.today.shares;
  return ok({
    plan: withShares(plan, shares),
    split: {
      least,
      step: 0.05,
      applications: plan.applications.map(({ name }, t) => ({
        name,
        share: shares[t]!,
        today: found.today.shares[t]!,
        runnerUp: found.runnerUp?.shares[t] ?? null,
      })),
      found: found.best !== null,
      total: found.best?.total ?? null,
      today: found.today.total,
      runnerUp: found.runnerUp?.total ?? null,
      splits: found.splits,
      complete: found.complete,
      bound: Number.isFinite(found.bound) ? found.bound : null,
    },
  });
}
