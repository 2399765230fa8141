/** `now`: where a season is, and the cheapest rest of it. */
import type { LogLine, SeasonFile } from "../files/season-model.ts";
import { faultText } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import { askedPlans } from "./answer.ts";
import { answerOptions, BY_FLAG, TIME_FLAG } from "./answer-flags.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  EXIT,
  type Options,
  textOption,
  UsageError,
  unwrap,
} from "./command.ts";
import { PLAN_ALIASES, PLAN_FLAGS, planOverrides, where } from "./plan-options.ts";
import { atLists, atPrices, warnedOf } from "./price-flags.ts";
import { dayAsked, isSeasonFile, seasonIn } from "./season.ts";

/** The season that is taken where none is named. */
const USUAL_SEASON = "season.yaml";

export const command: Command = {
  aliases: PLAN_ALIASES,
  arguments: [["[season]", "a season file, or with --rain a plan (usual: season.yaml)"]],
  flags: [
    BY_FLAG,
    TIME_FLAG,
    ["--rain <depth>", 'of a plan that went as planned so far, one rain on the day of --on: "4 in"'],
    ["--evaporation <depth>", "of that rain, what did not drain"],
  ],
  groups: PLAN_FLAGS,
  notes: [
    "Says whether the crop is short, what to give next and when, what to weigh from",
    "which bags, what to buy, and what going on as planned would do. Examples:",
    "  barrowmix now season.yaml",
    "  barrowmix now season.yaml --on 2027-06-20 --sure 80%",
    '  barrowmix now plan.yaml --rain "4 in" --on 30    (no season file: one rain)',
    "",
    "Exit codes: 0 there is a rest, or the season is over; 2 bad input;",
    "3 nothing mends it fully; 4 not verified.",
  ],

  async run([given], options, context): Promise<CommandOutput> {
    const file = given === undefined ? USUAL_SEASON : String(given);
    const isSeason = await isSeasonFile(file, context);
    const rain = textOption(options, "rain");
    if (isSeason && rain !== undefined)
      throw new UsageError(
        `--rain: a season has its rain in the log; add it with \`barrowmix log ${file} "DATE rain ${rain}"\``,
      );
    if (!isSeason && rain === undefined && given !== undefined && !(await isMissing(file, context)))
      throw new UsageError(
        `${file} is not a season; begin one with \`barrowmix solve ${file} --save season.yaml\`, or ask about one rain: --rain "4 in" --on 30`,
      );
    const season =
      rain === undefined
        ? await seasonIn(
            file,
            { ...where(context), overrides: await planOverrides(options, context) },
            context,
          )
        : await afterRain(file, rain, options, context);
    const { seasonNow } = await import("../flow/now.ts");
    const on = dayAsked(options, season.beds[0]!.planted);
    const { curves: _, ...asked } = answerOptions(options, context);
    const now = unwrap(
      await seasonNow(season, {
        ...asked,
        ...(on === undefined ? {} : { on }),
        changed: async (plan) => atPrices(warnedOf(await atLists(plan, options, context)), options),
      }),
    );
    const infeasible = now.rest?.status === "infeasible";
    return {
      exitCode: infeasible ? EXIT.infeasible : EXIT.done,
      json: now,
      report: async (extent) => (await import("../report/now-report.ts")).nowReport(now, extent),
      remarks: [...(now.rest?.cautions ?? []), ...now.warnings].map(({ text }) => text),
    };
  },
};

async function isMissing(file: string, { files, world }: Context): Promise<boolean> {
  const { resolve } = await import("node:path");
  return files.read(resolve(world.cwd, file)) === null;
}

/** A plan that has gone as planned, and one rain. */
async function afterRain(
  file: string,
  rain: string,
  options: Options,
  context: Context,
): Promise<SeasonFile> {
  const { plans, before } = await askedPlans([file], options, context);
  const [plan] = plans;
  const on = dayAsked(options, plan.planted);
  if (on === undefined) throw new UsageError("--rain needs the day on which it fell: --on 30");
  if (!(on > plan.applications[0]!.day && on < plan.seasonDays))
    throw new UsageError(
      `--on ${on}: the plan runs from day ${plan.applications[0]!.day} to day ${plan.seasonDays}; name a day between`,
    );
  const depth = (flag: string, text: string): number => {
    const read = parseQuantity(text, "length", { most: { value: 80 * 0.0254, text: "`80 in`" } });
    if (!read.ok)
      throw new UsageError(
        `${flag}: ${faultText({ ...read, hint: "write a depth with its unit, for instance `4 in` or `100 mm`" })}`,
      );
    return read.value;
  };
  const evaporation = textOption(options, "evaporation");
  const { solvePlans } = await import("../flow/answer.ts");
  const { asPlannedUntil, begun } = await import("../flow/season-begin.ts");
  const solution = unwrap(
    await solvePlans(plans, { ...before, ...answerOptions(options, context), detail: "mix" }),
  );
  if (solution.status === "infeasible")
    throw new UsageError(`${file} has no mix to begin with; \`barrowmix solve ${file}\` says why`);
  const fallen: LogLine = {
    kind: "rain",
    number: 0,
    line: 0,
    day: on,
    beds: plans.map(({ name }) => name),
    fallenM: depth("--rain", rain),
    ...(evaporation === undefined
      ? { evaporationM: 0 }
      : { evaporationM: depth("--evaporation", evaporation) }),
  };
  return asPlannedUntil(begun(solution, plans, file), on, [fallen]);
}
