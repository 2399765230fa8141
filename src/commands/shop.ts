/** `shop`: whole packs to buy at least total money, for one plan or several. */
import { resolve } from "node:path";
import type { ShopOptions } from "../flow/shop.ts";
import { defined } from "../optional.ts";
import { figures } from "../report/report.ts";
import type { Shopping } from "../results/shopping.ts";
import { parseQuantity } from "../units.ts";
import { money, plainNumber } from "../words/numbers.ts";
import { plansToBuyFor, purchaseOutput } from "./buying.ts";
import { searchOptions } from "./by-purchase.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  type Options,
  textOption,
  UsageError,
  unwrap,
} from "./command.ts";
import { runEach } from "./many.ts";
import { filesOf, PLAN_ALIASES, PLAN_FLAGS, STDIN } from "./plan-options.ts";
import { renderJson } from "./render.ts";
import { sparing } from "./world.ts";

export const command: Command = {
  formats: ["list", "ndjson"],
  aliases: PLAN_ALIASES,
  arguments: [["[plans...]", "plan files; - reads a plan, or what `solve --json` printed"]],
  flags: [
    ["--ndjson", "the same as --format ndjson: one plan a line"],
    ["--also <plan>", "buy for this plan too, in one trip; may be repeated", "repeated"],
    ["--application <name>", "buy for this application alone: its name or day"],
    ["--budget <money>", "spend at most this, delivery included"],
    ["--max-leftover <amount>", 'leave at most this of any amendment: "5 lb" or 20%'],
    ["--time-limit <seconds>", "stop looking after so long (10 unless given)"],
    ["--save <file>", "also write the purchase as JSON, for `card` and `solve`"],
  ],
  groups: PLAN_FLAGS,
  notes: [
    "--format list prints one item a line, to take along;",
    "--format html makes a page to print.",
    "",
    "Examples:",
    "  barrowmix shop plan.yaml --format list",
    "  barrowmix shop plan.yaml --also herbs.yaml --budget 250",
    "  barrowmix solve --json plan.yaml | barrowmix shop - --format csv",
    "  barrowmix shop plan.yaml --save purchase.json",
    "  barrowmix card purchase.json --out card.html",
    "  barrowmix shop beds/*.yaml --ndjson      (each bed by itself)",
    "",
    "Exit codes: 0 a purchase, proven or with its gap stated; 2 bad input;",
    "3 no purchase or no mix fits; 4 not verified; of several plans the highest.",
  ],

  run([plans], options, context): Promise<CommandOutput> {
    if (Array.isArray(plans) && plans.length > 1 && options.save !== undefined)
      throw new UsageError(
        "--save is for one purchase; of several plans, name all but the first with --also",
      );
    return runEach<Shopping>(plans, context.flags, (plan) => shopOne(plan, options, context), [
      figures(
        "Total",
        "total",
        ({ total }) => total,
        (total, { currency }) => money(total, currency),
      ),
      figures("Packs", "packs", ({ purchases }) => packsIn(purchases), plainNumber),
    ]);
  },
};

function packsIn(purchases: Shopping["purchases"]): number {
  return purchases.reduce((sum, line) => sum + line.packs.reduce((n, pack) => n + pack.count, 0), 0);
}

async function shopOne(
  planFile: string | undefined,
  options: Options,
  context: Context,
): Promise<CommandOutput> {
  const settings = shopOptions(options);
  const save = savedTo(options, context);
  const file = save === null ? null : context.world.files.create(save.path);
  const plans = await plansToBuyFor(planFile, options, save === null ? context : save.context);
  const { shopPlans } = await import("../flow/shop.ts");
  const certainty = context.flags.all || context.flags.format === "json";
  const shopping = unwrap(await shopPlans(plans, { ...settings, certainty }));
  if (file && save && shopping.status !== "infeasible") {
    file.commit(renderJson(shopping));
    if (!context.flags.quiet) context.world.stderr.write(`Wrote ${save.name}.\n`);
  }
  return purchaseOutput(shopping);
}

/** Where `--save` writes to, and the context in which that file cannot be read. */
function savedTo(
  options: Options,
  context: Context,
): { path: string; name: string; context: Context } | null {
  const name = textOption(options, "save");
  if (name === undefined) return null;
  if (name === STDIN) throw new UsageError("--save takes the name of a file; --json prints the purchase");
  const path = resolve(context.world.cwd, name);
  const out = textOption(options, "out");
  if (out !== undefined && resolve(context.world.cwd, out) === path)
    throw new UsageError(`--save and --out both name ${name}; give each its own file`);
  const world = sparing(context.world, path, "--save");
  return { path, name, context: { ...context, world, files: filesOf(world) } };
}

function shopOptions(options: Options): ShopOptions {
  const budget = textOption(options, "budget");
  const left = textOption(options, "maxLeftover");
  const application = textOption(options, "application");
  return {
    ...defined({
      budget: budget === undefined ? undefined : amountOfMoney(budget),
      mostLeft: left === undefined ? undefined : mostLeftOf(left),
      application,
    }),
    ...searchOptions(options),
  };
}

function amountOfMoney(text: string): number {
  if (!/^\d[\d,]*(\.\d+)?$/.test(text.trim()))
    throw new UsageError(`--budget ${text}: this takes an amount of money, for instance --budget 250`);
  return Number(text.replaceAll(",", ""));
}

function mostLeftOf(text: string): NonNullable<ShopOptions["mostLeft"]> {
  const share = parseQuantity(text, "share");
  if (share.ok) {
    if (share.value >= 0 && share.value <= 1) return { share: share.value };
    throw new UsageError(`--max-leftover ${text}: a share of what is bought is 0% to 100%`);
  }
  const mass = parseQuantity(text, "mass");
  if (mass.ok && mass.value >= 0) return { kg: mass.value };
  throw new UsageError(
    `--max-leftover ${text}: this takes a weight or a share of what is bought, for instance "5 lb" or 20%`,
  );
}
