/** `whatif`: the same plan under changes, compared. */
import { basename } from "node:path";
import type { Override, PlanRequest } from "../files/load.ts";
import type { ChangedPlan } from "../flow/changes.ts";
import type { CompareOptions, WhatIfCase } from "../flow/whatif.ts";
import { chargesDelivery, type Plan } from "../model.ts";
import { ok, type Problem, type Result } from "../problem.ts";
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
  UsageError,
} from "./command.ts";
import { askedPlan, PLAN_ALIASES, planFlagsBut, where } from "./plan-options.ts";
import { atPrices, priceListOf } from "./price-flags.ts";

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

  async run([planFile], options, context): Promise<Result<CommandOutput>> {
    const { set: _, ...planFlags } = options;
    const loaded = await askedPlan(planFile, planFlags, context);
    const asked = await askedCases(options, context);
    // A `--price` makes a case; only the list changes the plan that the cases are compared with.
    const prices = { prices: options.prices };
    const base = loaded.ok ? await atPrices(loaded.value.plan, prices, context) : loaded;
    if (!loaded.ok || !base.ok || !asked.ok)
      return { ok: false, problems: [base, asked].flatMap((r) => (r.ok ? [] : r.problems)) };
    const plan = base.value;
    const { request } = loaded.value;
    const again = async (changes: Partial<PlanRequest>): Promise<Result<Plan> | null> => {
      if (request === null) return null;
      const { loadPlan } = await import("../files/load.ts");
      const changed = loadPlan(context.files, { ...request, ...changes });
      return changed.ok ? atPrices(changed.value.plan, prices, context) : changed;
    };
    const overrides = request?.overrides ?? [];
    const cases = await Promise.all(asked.value.map((one) => made(one, plan, overrides, again)));
    const lists = await listCases(plan, options, context);
    const problems = [...cases, lists].flatMap((result) => (result.ok ? [] : result.problems));
    if (problems.length > 0 || !lists.ok) return { ok: false, problems };
    const all = [...cases.flatMap((one) => (one.ok ? [one.value] : [])), ...lists.value];
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
): Promise<Result<CommandOutput>> {
  const { comparePlans } = await import("../flow/whatif.ts");
  const { comparison, base } = await comparePlans(plan, cases, options);
  const infeasible = base.status === "infeasible";
  const nowhere = infeasible || comparison.cases.every((one) => one.status === "infeasible");
  return ok({
    exitCode: nowhere ? EXIT.infeasible : EXIT.done,
    json: comparison,
    lines: comparison.cases,
    report: async () => (await import("../report/whatif-report.ts")).whatIfReport(comparison, base),
    remarks: infeasible
      ? ["The plan itself has no mix; `barrowmix solve` says why."]
      : nowhere
        ? ["None of the cases has a mix."]
        : [],
  });
}

/** The cases that the flags and the cases file ask for. */
async function askedCases(options: Options, context: Context): Promise<Result<FlaggedCase[]>> {
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
    const loaded = loadCases(context.files, file, where(context));
    if (!loaded.ok) return loaded;
    cases.push(...loaded.value);
  }
  const twice = cases.find((one, i) => cases.findIndex(({ name }) => name === one.name) < i);
  if (twice) throw new UsageError(`two cases are called \`${twice.name}\`; give each its own name`);
  return ok(cases);
}

/** A case made from the plan: loaded again where fields or amendments change, then changed. */
async function made(
  one: FlaggedCase,
  plan: Plan,
  overrides: readonly Override[],
  again: (changes: Partial<PlanRequest>) => Promise<Result<Plan> | null>,
): Promise<Result<WhatIfCase>> {
  const { changePlan } = await import("../flow/changes.ts");
  const named = (problem: Problem): Problem =>
    problem.place || problem.about !== undefined ? problem : { ...problem, about: one.name };
  let start = plan;
  if (one.set.length > 0 || one.with.length > 0) {
    const changed = await again({ overrides: [...overrides, ...one.set], extraAmendments: one.with });
    if (changed === null)
      throw new UsageError(
        `${one.name}: --set, --sure and --with read the plan's files again, which a pipe does not carry; name the plan file here`,
      );
    if (!changed.ok) return { ok: false, problems: changed.problems.map(named) };
    start = changed.value;
  }
  const changed = changePlan(start, one, one.name);
  return changed.ok ? ok({ name: one.name, ...changed.value }) : changed;
}

/** One case for each price list, and one that takes every offer of all of them. */
async function listCases(plan: Plan, options: Options, context: Context): Promise<Result<WhatIfCase[]>> {
  const paths = textsOption(options, "compare");
  if (paths.length === 0) return ok([]);
  const { applyPriceList, cheapestOf } = await import("../flow/price-lists.ts");
  const listedOnly = options.listedOnly === true;
  const byPurchase = comparedBy(options) === "purchase" && plan.suppliers.some(chargesDelivery);
  const problems: Problem[] = [];
  const cases: WhatIfCase[] = [];
  for (const file of paths) {
    const read = await priceListOf(file, options, context);
    if (!read.ok) {
      for (const problem of read.problems) problems.push(problem);
      continue;
    }
    const applied: Result<ChangedPlan> = applyPriceList(plan, read.value, listedOnly);
    if (applied.ok) {
      const { plan: at, notes, ...rest } = applied.value;
      const ownDelivery = byPurchase && read.value.rows.every(({ supplier }) => supplier === undefined);
      const note = "The list names no supplier, so that delivery is what the plan's own suppliers charge.";
      const name = basename(file).replace(/\.csv$/i, "");
      cases.push({ name, plan: at, notes: ownDelivery ? [...notes, note] : notes, ...rest });
    } else for (const problem of applied.problems) problems.push(problem);
  }
  if (problems.length > 0) return { ok: false, problems };
  if (cases.length > 1) cases.push({ name: "cheapest of all", ...cheapestOf(plan, cases) });
  return ok(cases);
}
