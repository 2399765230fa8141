/** What the commands that give an answer share: plans asked for, the answer to them, and how it is handed on. */
import type { AnswerOptions } from "../flow/answer.ts";
import type { Plan } from "../model.ts";
import type { Solution } from "../results/solution.ts";
import { noMixWords } from "../words/sure-words.ts";
import { answerOptions, sharingOption } from "./answer-flags.ts";
import { type CommandOutput, type Context, EXIT, type Options, together, unwrap } from "./command.ts";
import { givenPlans, STDIN } from "./plan-options.ts";
import { atPrices } from "./price-flags.ts";
import { shippedAmendments } from "./shipped.ts";

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
export async function askedAnswer(
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

/** Whether each of several plans is answered by itself: `--apart`, and `--ndjson`, which means it. */
export function isApart(options: Options, { flags }: Context): boolean {
  return options.apart === true || flags.format === "ndjson";
}

/** An answer, or why there is none, as the output of a command. */
export function answerOutput(
  solution: Solution,
  own: Pick<CommandOutput, "report"> & Partial<CommandOutput>,
): CommandOutput {
  const infeasible = solution.status === "infeasible";
  return {
    exitCode: infeasible ? EXIT.infeasible : EXIT.done,
    json: solution,
    remarks: [...(infeasible ? [`${noMixWords(solution.conflicts)}.`] : []), ...remarksOf(solution)],
    ...own,
  };
}

/** Cautions and warnings for stderr. */
export function remarksOf({ cautions, warnings }: Pick<Solution, "cautions" | "warnings">): string[] {
  return [...cautions, ...warnings].map(({ text }) => text);
}
