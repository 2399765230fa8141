/** Season files on the command line: read, and as the plan of what is left of them. */
import { resolve } from "node:path";
import { dayOfDate, looksLikeDate, parseDate } from "../calendar.ts";
import type { Override, Where } from "../files/load.ts";
import type { SeasonFile } from "../files/season-model.ts";
import type { AnswerOptions } from "../flow/answer.ts";
import type { Plan } from "../model.ts";
import { faultText } from "../problem.ts";
import { parseDay } from "../units.ts";
import { type Context, type Options, textOption, together, UsageError, unwrap } from "./command.ts";
import { atLists, warnedOf } from "./price-flags.ts";

/** Whether a file is a season; one that cannot be read is for its loader to complain of. */
export async function isSeasonFile(file: string, { files, world }: Context): Promise<boolean> {
  const text = files.read(resolve(world.cwd, file));
  // Only what may be one is parsed for it.
  if (text === null || !/^(season|log|mixes)\s*:/m.test(text)) return false;
  const { kindOfText } = await import("../files/load.ts");
  const kind = kindOfText(text);
  return kind === "season" || (kind === null && /^season\s*:/m.test(text));
}

type PlanChanges = Where & { readonly overrides?: readonly Override[] };
/** A plan of what is left; nothing loads it again. */
interface Left {
  readonly plan: Plan;
  readonly again: null;
}

/** The season of a file, its plan changed as the flags of a plan say. */
export async function seasonIn(file: string, changes: PlanChanges, { files }: Context): Promise<SeasonFile> {
  const { loadSeason } = await import("../files/load.ts");
  return unwrap(loadSeason(files, file, changes)).season;
}

/** What is said where nothing is left of a season. */
export const OVER = "the season is over on that day, and nothing is left to plan";

/** The plans of what is left of a season, to be compared. */
export async function seasonPlans(
  file: string,
  changes: PlanChanges,
  options: Options,
  context: Context,
): Promise<{ readonly plans: readonly [Left, ...Left[]]; readonly before: AnswerOptions }> {
  const season = await seasonIn(file, changes, context);
  const { lastDay, seasonRest } = await import("../flow/season-rest.ts");
  const on = dayAsked(options, season.beds[0]!.planted) ?? lastDay(season.log);
  const { beds, shed, heap } = seasonRest(season, on);
  const plans = beds.filter(({ over }) => !over).map(({ plan }) => plan);
  const listed = await together(plans.map(async (plan) => warnedOf(await atLists(plan, options, context))));
  const [first, ...others] = listed.map((plan) => ({
    plan: { ...plan, warnings: [...plan.warnings, ...season.warnings, ...shed.warnings] },
    again: null,
  }));
  if (first === undefined) throw new UsageError(`${file}: ${OVER}`);
  return { plans: [first, ...others], before: heap.length > 0 ? { heap } : {} };
}

/** The day that `--on` names; undefined where it was not given. */
export function dayAsked(options: Options, planted: string | undefined): number | undefined {
  const text = textOption(options, "on")?.trim();
  if (text === undefined) return undefined;
  const date = text === "today" ? today() : parseDate(text);
  if (date === null && looksLikeDate(text))
    throw new UsageError(`--on: \`${text}\` is not a date; write \`2027-06-12\` or \`June 12\``);
  const read = date === null ? parseDay(text) : null;
  if (read?.ok) return read.value;
  if (read) throw new UsageError(`--on: ${faultText(read)}`);
  if (planted) return dayOfDate(date!, planted);
  throw new UsageError(
    "--on: a date needs a plan that says when the crop was planted: add `planted: 2027-05-20`, or count days from planting",
  );
}

/** The one reading of the clock that the program makes of its own. */
function today() {
  const now = new Date(Date.now());
  return { year: now.getFullYear(), month: now.getMonth() + 1, day: now.getDate() };
}
