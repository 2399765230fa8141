/** What is left of a season as an answer: the one that `now`, `solve`, `shop` and `card` print. */
import type { SeasonFile } from "../files/season-model.ts";
import type { AnswerOptions } from "../flow/answer.ts";
import { defined } from "../optional.ts";
import type { SeasonNow } from "../results/season.ts";
import type { Solution } from "../results/solution.ts";
import { type Context, type Options, UsageError, unwrap } from "./command.ts";
import { planOverrides, where } from "./plan-options.ts";
import { atLists, atPrices, warnedOf } from "./price-flags.ts";
import { dayAsked, OVER, seasonIn } from "./season.ts";

/** Where a season is on the day that `--on` names, and what to do, for every command that says it. */
export async function nowOf(
  season: SeasonFile,
  options: Options,
  context: Context,
  asked: AnswerOptions,
): Promise<SeasonNow> {
  const { seasonNow } = await import("../flow/now.ts");
  const on = dayAsked(options, season.beds[0]!.planted);
  return unwrap(
    await seasonNow(season, {
      ...asked,
      ...defined({ on }),
      changed: async (plan) => atPrices(warnedOf(await atLists(plan, options, context)), options),
    }),
  );
}

/**
 * The rest of a season as an answer like that for a plan.
 * @param next whether it is for the next round alone.
 */
export async function seasonAnswer(
  file: string,
  options: Options,
  context: Context,
  { next, ...asked }: AnswerOptions & { readonly next: boolean },
): Promise<Solution> {
  const overrides = await planOverrides(options, context);
  const season = await seasonIn(file, { ...where(context), overrides }, context);
  const { rest, warnings, beds } = await nowOf(season, options, context, asked);
  if (rest === null) throw new UsageError(`${file}: ${OVER}`);
  const { nextRound } = await import("../flow/now.ts");
  const said = { ...rest, warnings: [...warnings, ...rest.warnings] };
  return next && said.status !== "infeasible" ? nextRound(said, beds) : said;
}
