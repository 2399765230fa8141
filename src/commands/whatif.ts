/** `whatif`: the same plan under changes, compared. */
import { basename } from "node:path";
import type { CompareOptions, WhatIfCase } from "../flow/whatif.ts";
import { chargesDelivery, type Plan } from "../model.ts";
import { BadInput, type Problem } from "../problem.ts";
import { byFlags, comparedBy, searchOptions } from "./by-purchase.ts";
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
import { askedPlan, PLAN_ALIASES, planFlagsBut, where } from "./plan-options.ts";
import { priceListOf } from "./price-flags.ts";

export const command: Command = {
  formats: ["ndjson"],
  aliases: PLAN_ALIASES,
  arguments: [["[plan]", "a plan file; - reads standard input"]],
  flags: [
    [
      "--price <id=change>",
      'another price: bone-meal=+10%, bone-meal=1.20/lb, "bone-meal=48/50 lb"',
      "repeated",
    ],
    ["--without <ids>", "what cannot be had: a,b", "repeated"],
    ["--with <file>", "further amendments to choose from", "repeated"],
    ["--case <text>", '"name: --price id=+10% --without id2 --sure 90%"; may be repeated', "repeated"],
    ["--cases <file>", "a file of cases"],
    ["--compare <lists...>", "price lists (CSV: id,size,price), each a case"],
    ["--listed-only", "with --compare: what is not on a list cannot be bought"],
    ...byFlags("compare by weight (usual) or by purchase: whole packs and delivery"),
    ["--ndjson", "the same as --format ndjson: one case a line"],
  ],
  groups: planFlagsBut("--price"),
  notes: [
    "--price, --without, --with and --set beside each other make one case. `all`",
    "means every amendment that has a price. --sure is for the plan and every case;",
    "inside a --case it is for that case alone.",
    "  barrowmix whatif plan.yaml --price bone-meal=+15% --without feather-meal",
    "  barrowmix whatif plan.yaml --case 'dear: --price all=+10%' \\",
    "    --case 'no meal: --without feather-meal'",
    "  barrowmix whatif plan.yaml --sure 90% --case 'no meal: --without feather-meal'",
    "  barrowmix whatif plan.yaml --compare store-a.csv store-b.csv",
    "  barrowmix whatif plan.yaml --compare store-a.csv store-b.csv --by purchase",
  ],

  async run([planFile], options, context): Promise<CommandOutput> {
    const { set: _, ...planFlags } = options;
    // A `--price` makes a case; only lists change the plan that the cases are compared with.
    const asked = askedPlan(planFile, planFlags, context);
    const [{ plan, request }, flagged] = await together([asked, askedCases(options, context)]);
    const again = async (one: FlaggedCase): Promise<Plan> => {
      if (request === null)
        throw new UsageError(
          `${one.name}: --set, --sure and --with read the plan's files again, which a pipe does not carry; name the plan file here`,
        );
      const { loadPlan } = await import("../files/load.ts");
      const overrides = [...(request.overrides ?? []), ...one.set];
      const changed = loadPlan(context.files, { ...request, overrides, extraAmendments: one.with });
      return unwrap(changed).plan;
    };
    const cases = flagged.map((one) => made(one, plan, again));
    const lists = listCases(plan, options, context);
    const [of, listed] = await together([together(cases), lists]);
    const all = [...of, ...listed];
    if (all.length === 0)
      throw new UsageError(
        "say what changes: --price, --without, --with, --set, --case, --cases or --compare",
      );
    return compare(plan, all, { by: comparedBy(options), ...searchOptions(options) });
  },
};

async function compare(
  plan: Plan,
  cases: readonly WhatIfCase[],
  options: CompareOptions,
): Promise<CommandOutput> {
  const { comparePlans } = await import("../flow/whatif.ts");
  const { comparison, base } = await comparePlans(plan, cases, options);
  const infeasible = base.status === "infeasible";
  const nowhere = infeasible || comparison.cases.every((one) => one.status === "infeasible");
  return {
    exitCode: nowhere ? EXIT.infeasible : EXIT.done,
    json: comparison,
    lines: comparison.cases,
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
    without: textsOption(options, "without"),
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

/** A case made from the plan: loaded again where fields or amendments change, then changed. */
async function made(
  one: FlaggedCase,
  plan: Plan,
  again: (one: FlaggedCase) => Promise<Plan>,
): Promise<WhatIfCase> {
  const { changePlan } = await import("../flow/changes.ts");
  const named = (problem: Problem): Problem =>
    problem.place || problem.about !== undefined ? problem : { ...problem, about: one.name };
  const start =
    one.set.length === 0 && one.with.length === 0
      ? plan
      : await again(one).catch((error: unknown) => {
          throw error instanceof BadInput ? new BadInput(error.problems.map(named)) : error;
        });
  return { name: one.name, ...unwrap(changePlan(start, one, one.name)) };
}

/** One case for each price list, and one that takes every offer of all of them. */
async function listCases(plan: Plan, options: Options, context: Context): Promise<WhatIfCase[]> {
  const paths = textsOption(options, "compare");
  if (paths.length === 0) return [];
  const { applyPriceList, cheapestOf } = await import("../flow/price-lists.ts");
  const listedOnly = options.listedOnly === true;
  const byPurchase = comparedBy(options) === "purchase" && plan.suppliers.some(chargesDelivery);
  const cases = await together(
    paths.map(async (file): Promise<WhatIfCase> => {
      const list = await priceListOf(file, options, context);
      const { plan: at, notes, ...rest } = unwrap(applyPriceList(plan, list, listedOnly));
      const ownDelivery = byPurchase && list.rows.every(({ cells }) => cells.supplier === undefined);
      const note = "The list names no supplier, so that delivery is what the plan's own suppliers charge.";
      const name = basename(file).replace(/\.csv$/i, "");
      return { name, plan: at, notes: ownDelivery ? [...notes, note] : notes, ...rest };
    }),
  );
  return cases.length > 1 ? [...cases, { name: "cheapest of all", ...cheapestOf(plan, cases) }] : cases;
}
