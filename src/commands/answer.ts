/** What the commands that give an answer share: its flags, the plans asked for, the answer to them, and how it is handed on. */
import type { AnswerOptions, Detail } from "../flow/answer.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { ColumnOf } from "../report/report.ts";
import type { By, Solution } from "../results/solution.ts";
import { parseQuantity } from "../units.ts";
import { noMixWords } from "../words/sure-words.ts";
import {
  type CommandOutput,
  type Context,
  clock,
  EXIT,
  type Flag,
  numberOf,
  type Options,
  textOption,
  together,
  UsageError,
  unwrap,
} from "./command.ts";
import { runEach } from "./many.ts";
import { givenPlans, STDIN } from "./plan-options.ts";
import { atPrices } from "./price-flags.ts";
import { shippedAmendments } from "./shipped.ts";

export const BY_FLAG: Flag = [
  "--by <what>",
  "what is paid: purchase (whole packs and delivery; usual), or weight (packs and delivery left out)",
];
export const TIME_FLAG: Flag = ["--time-limit <seconds>", "stop looking after so long (10 unless given)"];
const APART_FLAG: Flag = ["--apart", "answer each of several plans by itself, as if it had the shed alone"];

/** The flags of `solve`, `shop` and `card`. */
export const ANSWER_FLAGS: readonly Flag[] = [
  BY_FLAG,
  APART_FLAG,
  ["--mixes <count>", "let beds share so many mixes at most (several plans, or a farm)"],
  ["--budget <money>", "spend at most this, delivery included"],
  ["--max-leftover <amount>", 'leave at most this of any amendment: "5 lb" or 20%'],
  ["--application <name>", "buy for this application alone: its name or day"],
  TIME_FLAG,
];

/** What `--by` says; undefined where it was not given. */
export function byOption(options: Options): By | undefined {
  const by = textOption(options, "by");
  if (by === undefined || by === "weight" || by === "purchase") return by;
  throw new UsageError(`--by ${by}: this takes \`purchase\` or \`weight\``);
}

/** How long to look for an answer, by a clock. */
export function searchOptions(options: Options): { readonly seconds?: number; readonly clock: () => number } {
  const text = textOption(options, "timeLimit");
  return { ...defined({ seconds: text === undefined ? undefined : secondsOf(text) }), clock };
}

function secondsOf(text: string): number {
  const number = text.replace(/\s*(s|secs?|seconds?)\s*$/i, "");
  const seconds = numberOf("--time-limit", number, "seconds", { most: 86_400, example: "10" });
  if (!(seconds > 0))
    throw new UsageError(`--time-limit ${text}: this takes seconds, for instance --time-limit 10`);
  return seconds;
}

/** How beds are to share mixes: what `--mixes` says over what the farm does. */
function sharingOption(options: Options, before: AnswerOptions): Pick<AnswerOptions, "sharing"> {
  const text = textOption(options, "mixes");
  if (text === undefined) return defined({ sharing: before.sharing });
  const mostMixes = Number(text);
  if (!/^\d+$/.test(text.trim()) || mostMixes < 1)
    throw new UsageError(`--mixes ${text}: this takes a number of mixes, for instance --mixes 2`);
  return { sharing: { ...before.sharing, mostMixes } };
}

/** What the flags ask of an answer. */
export function answerOptions(options: Options, { flags }: Context): AnswerOptions {
  const budget = textOption(options, "budget");
  const left = textOption(options, "maxLeftover");
  return {
    ...defined({
      by: byOption(options),
      budget: budget === undefined ? undefined : amountOfMoney(budget),
      mostLeft: left === undefined ? undefined : mostLeftOf(left),
      application: textOption(options, "application"),
    }),
    detail: detailOf(flags),
    curves: options.chart === true || flags.format === "html",
    ...searchOptions(options),
  };
}

/** What is worked out: all there is on request, and in a line of many the mix alone. */
function detailOf({ all, format }: Context["flags"]): Detail {
  if (all) return "whole";
  return format === "ndjson" || format === "csv" ? "mix" : "page";
}

/** No farm spends as much on a purchase of these. */
const MOST_MONEY = 1e8;

function amountOfMoney(text: string): number {
  return numberOf("--budget", text, "an amount of money", { most: MOST_MONEY, example: "250" });
}

function mostLeftOf(text: string): NonNullable<AnswerOptions["mostLeft"]> {
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

/** The plans that arguments name, at the prices that the flags ask for, and what was asked of them before. */
export async function askedPlans(
  files: readonly string[],
  options: Options,
  context: Context,
): Promise<{ readonly plans: readonly [Plan, ...Plan[]]; readonly before: AnswerOptions }> {
  const given = await givenPlans(files, options, context);
  const plans = await together(given.plans.map(({ plan }) => atPrices(plan, options)));
  return { plans: plans as unknown as [Plan, ...Plan[]], before: given.before };
}

/**
 * The one answer for the plans that arguments name.
 * @param next whether that for a season is for its next round alone.
 */
async function askedAnswer(
  files: readonly string[],
  options: Options,
  context: Context,
  next = false,
): Promise<Solution> {
  const [file, other] = files;
  if (file !== undefined && file !== STDIN && other === undefined) {
    const { isSeasonFile } = await import("./season.ts");
    const { seasonAnswer } = await import("./season-answer.ts");
    if (await isSeasonFile(file, context))
      return seasonAnswer(file, options, context, { next, ...answerOptions(options, context) });
  }
  const { plans, before } = await askedPlans(files, options, context);
  const { solvePlans } = await import("../flow/answer.ts");
  return unwrap(
    await solvePlans(plans, {
      ...before,
      ...answerOptions(options, context),
      ...sharingOption(options, before),
      candidates: () => shippedAmendments(context),
    }),
  );
}

/** The files that an argument which may be repeated names. */
export function filesIn(argument: unknown): readonly string[] {
  if (Array.isArray(argument)) return argument.map(String);
  return argument === undefined ? [] : [String(argument)];
}

/**
 * The output of a command that answers plans: all of them together, or each by itself with `--apart`, and as lines of JSON,
 * which mean it.
 * @param columns what a summary of several says of each.
 * @param own what the command makes of an answer.
 * @param next whether the answer for a season is for its next round alone.
 */
export async function answered(
  plans: unknown,
  options: Options,
  context: Context,
  columns: readonly ColumnOf<Solution>[],
  own: (
    solution: Solution,
    files: readonly string[],
  ) => Promise<Pick<CommandOutput, "report"> & Partial<CommandOutput>>,
  next = false,
): Promise<CommandOutput> {
  const one = async (files: readonly string[]): Promise<CommandOutput> => {
    const solution = await askedAnswer(files, options, context, next);
    const { status, conflicts, cautions, warnings } = solution;
    const infeasible = status === "infeasible";
    const remarks = [...cautions, ...warnings].map(({ text }) => text);
    return {
      exitCode: infeasible ? EXIT.infeasible : EXIT.done,
      json: solution,
      remarks: [...(infeasible ? [`${noMixWords(conflicts)}.`] : []), ...remarks],
      ...(await own(solution, files)),
    };
  };
  const files = filesIn(plans);
  const apart = options.apart === true || context.flags.format === "ndjson";
  return apart ? runEach(files, context.flags, one, columns) : one(files);
}
