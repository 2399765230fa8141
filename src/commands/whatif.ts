/** `whatif`: the same plan under changes, compared. */
import { basename } from "node:path";
import type { ChangedPlan } from "../flow/changes.ts";
import type { CompareOptions, Plans, WhatIfCase } from "../flow/whatif.ts";
import { chargesDelivery, type Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { Problem } from "../problem.ts";
import type { Sharing } from "../results/solution.ts";
import { BY_FLAG, byOption, filesIn, searchOptions, TIME_FLAG } from "./answer.ts";
import type { FlaggedCase } from "./case-flags.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  EXIT,
  type Options,
  textOption,
  textsOption,
  together,
  UsageError,
  unwrap,
} from "./command.ts";
import {
  type GivenPlan,
  givenPlans,
  PLAN_ALIASES,
  type PlanAgain,
  planFlagsBut,
  where,
} from "./plan-options.ts";
import { priceListOf } from "./price-flags.ts";

export const command: Command = {
  formats: ["ndjson"],
  aliases: PLAN_ALIASES,
  arguments: [["[plans...]", "plan files, which share one shed and one purchase; - reads standard input"]],
  flags: [
    [
      "--price <id=change>",
      'another price: bone-meal=+10%, bone-meal=1.20/lb, "bone-meal=48/50 lb"',
      "repeated",
    ],
    ["--exclude <ids>", "what cannot be had: a,b", "repeated"],
    ["--with <file>", "further amendments to choose from", "repeated"],
    ["--case <text>", '"name: --price id=+10% --exclude id2 --sure 90%"; may be repeated', "repeated"],
    ["--cases <file>", "a file of cases"],
    ["--compare <lists...>", "price lists (CSV: id,size,price), each a case"],
    ["--listed-only", "with --compare: what is not on a list cannot be bought"],
    BY_FLAG,
    TIME_FLAG,
    ["--ndjson", "the same as --format ndjson: one case a line"],
  ],
  groups: planFlagsBut("--price", "--exclude"),
  notes: [
    "--price, --exclude, --with and --set beside each other make one case. `all`",
    "means every amendment that has a price. --sure is for the plan and every case;",
    "inside a --case it is for that case alone.",
    "  barrowmix whatif plan.yaml --price bone-meal=+15% --exclude feather-meal",
    "  barrowmix whatif plan.yaml --case 'dear: --price all=+10%' \\",
    "    --case 'no meal: --exclude feather-meal'",
    "  barrowmix whatif plan.yaml --sure 90% --case 'no meal: --exclude feather-meal'",
    "  barrowmix whatif plan.yaml --compare store-a.csv store-b.csv",
  ],

  async run([named], options, context): Promise<CommandOutput> {
    const { set: _, exclude: __, ...planFlags } = options;
    // A `--price` makes a case; only lists change the plans that the cases are compared with.
    const asked = givenPlans(filesIn(named), planFlags, context);
    const [{ plans, before }, flagged] = await together([asked, askedCases(options, context)]);
    const cases = flagged.map((one) => made(one, plans));
    const [of, listed] = await together([
      together(cases),
      listCases(
        plans.map(({ plan }) => plan),
        options,
        context,
      ),
    ]);
    const all = [...of, ...listed];
    if (all.length === 0)
      throw new UsageError(
        "say what changes: --price, --exclude, --with, --set, --case, --cases or --compare",
      );
    const by = byOption(options);
    return compare(plansOf(plans), all, { ...before, ...defined({ by }), ...searchOptions(options) });
  },
};

const plansOf = (given: readonly { readonly plan: Plan }[]): Plans =>
  given.map(({ plan }) => plan) as unknown as Plans;

async function compare(
  plans: Plans,
  cases: readonly WhatIfCase[],
  options: CompareOptions,
): Promise<CommandOutput> {
  const { comparePlans } = await import("../flow/whatif.ts");
  const { comparison, base } = await comparePlans(plans, cases, options);
  const infeasible = base.status === "infeasible";
  const nowhere = infeasible || comparison.cases.every((one) => one.status === "infeasible");
  const { schema, by } = comparison;
  return {
    exitCode: nowhere ? EXIT.infeasible : EXIT.done,
    json: comparison,
    lines: comparison.cases.map(({ name, ...one }) => ({
      schema,
      case: name,
      by,
      baseTotal: comparison.base.total,
      name,
      ...one,
    })),
    report: async () => (await import("../report/whatif-report.ts")).whatIfReport(comparison, base),
    remarks: infeasible
      ? ["The plan itself has no mix; `barrowmix solve` says why."]
      : nowhere
        ? ["None of the cases has a mix."]
        : [],
  };
}

/** The cases that the flags and the cases file ask for. */
async function askedCases(options: Options, context: Context): Promise<FlaggedCase[]> {
  const { caseOf, parseCase } = await import("./case-flags.ts");
  const flags = {
    price: textsOption(options, "price"),
    exclude: textsOption(options, "exclude"),
    with: textsOption(options, "with"),
    set: textsOption(options, "set"),
  };
  const words = Object.entries(flags).flatMap(([flag, values]) =>
    values.map((value) => (flag === "price" ? value.replace("=", " ") : `${flag} ${value}`)),
  );
  const cases: FlaggedCase[] = words.length > 0 ? [caseOf(words.join(", "), flags)] : [];
  cases.push(...textsOption(options, "case").map(parseCase));
  const file = textOption(options, "cases");
  if (file !== undefined) {
    const { loadCases } = await import("../files/load.ts");
    cases.push(...unwrap(loadCases(context.files, file, where(context))));
  }
  const twice = cases.find((one, i) => cases.findIndex(({ name }) => name === one.name) < i);
  if (twice) throw new UsageError(`two cases are called \`${twice.name}\`; give each its own name`);
  return cases;
}

/** A case made from the plans: each loaded again where fields or amendments change, then changed. */
async function made(one: FlaggedCase, given: readonly GivenPlan[]): Promise<WhatIfCase> {
  const { changePlan, knownIds } = await import("../flow/changes.ts");
  const named = (problem: Problem): Problem =>
    problem.place || problem.about !== undefined ? problem : { ...problem, about: one.name };
  const reload = async ({ again }: GivenPlan): Promise<ReturnType<PlanAgain>> => {
    if (again !== null) return again(one.set, one.with);
    throw new UsageError(
      `${one.name}: --set, --sure and --with read the plan's files again, which a pipe does not carry and a season has as it began; name a plan file here`,
    );
  };
  const loaded = await together(
    given.map(async (each): Promise<{ readonly plan: Plan; readonly sharing?: Sharing }> => {
      if (one.set.length === 0 && one.with.length === 0) return each;
      const result = await reload(each);
      return unwrap(result.ok ? result : { ok: false, problems: result.problems.map(named) });
    }),
  );
  const starts = loaded.map(({ plan }) => plan);
  // What one plan does not have may be another's; what none has is refused by all of them.
  const anywhere = new Set(starts.flatMap((plan) => knownIds(plan)));
  const changed = starts.map((plan) => {
    const own = new Set(knownIds(plan));
    const here = (id: string): boolean => own.has(id) || !anywhere.has(id);
    return unwrap(
      changePlan(
        plan,
        {
          price: Object.fromEntries(Object.entries(one.price).filter(([id]) => id === "all" || here(id))),
          exclude: one.exclude.filter(here),
        },
        one.name,
      ),
    );
  });
  return { name: one.name, ...joined(changed), ...defined({ sharing: loaded[0]?.sharing }) };
}

function joined(changed: readonly ChangedPlan[]): Omit<WhatIfCase, "name"> {
  return {
    plans: plansOf(changed),
    notes: [...new Set(changed.flatMap(({ notes }) => notes))],
    unlisted: [...new Set(changed.flatMap(({ unlisted = [] }) => unlisted))],
  };
}

/** One case for each price list, and one that takes every offer of all of them. */
async function listCases(plans: readonly Plan[], options: Options, context: Context): Promise<WhatIfCase[]> {
  const paths = textsOption(options, "compare");
  if (paths.length === 0) return [];
  const { applyPriceList, cheapestOf } = await import("../flow/price-lists.ts");
  const listedOnly = options.listedOnly === true;
  const byPurchase =
    byOption(options) !== "weight" && plans.some(({ suppliers }) => suppliers.some(chargesDelivery));
  const cases = await together(
    paths.map(async (file): Promise<WhatIfCase> => {
      const list = await priceListOf(file, options, context);
      const at = joined(plans.map((plan) => unwrap(applyPriceList(plan, list, listedOnly))));
      const ownDelivery = byPurchase && list.rows.every(({ cells }) => cells.supplier === undefined);
      const note = "The list names no supplier, so that delivery is what the plan's own suppliers charge.";
      const name = basename(file).replace(/\.csv$/i, "");
      return { name, ...at, notes: ownDelivery ? [...at.notes, note] : at.notes };
    }),
  );
  if (cases.length < 2) return cases;
  const all = plans.map((plan, p) =>
    cheapestOf(
      plan,
      cases.map((one) => ({ ...one, plan: one.plans[p]! })),
    ),
  );
  return [...cases, { name: "cheapest of all", ...joined(all) }];
}
