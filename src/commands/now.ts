/** `now`: where a season is, and the cheapest rest of it. */
import { basename, dirname, resolve } from "node:path";
import { scalar } from "../files/season-log.ts";
import type { SeasonFile } from "../files/season-model.ts";
import { faultText } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import { answerOptions, askedPlans, BY_FLAG, TIME_FLAG } from "./answer.ts";
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
import { dayAsked, isSeasonFile, seasonIn } from "./season.ts";
import { nowOf } from "./season-answer.ts";

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
    const isThere = context.files.read(resolve(context.world.cwd, file)) !== null;
    if (!isSeason && rain === undefined && given !== undefined && isThere)
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
    const { curves: _, ...asked } = answerOptions(options, context);
    const now = await nowOf(season, options, context, asked);
    const infeasible = now.rest?.status === "infeasible";
    return {
      exitCode: infeasible ? EXIT.infeasible : EXIT.done,
      json: now,
      report: async (extent) => (await import("../report/now-report.ts")).nowReport(now, extent, isSeason),
      remarks: [...(now.rest?.cautions ?? []), ...now.warnings].map(({ text }) => text),
    };
  },
};

/** The day of planting of a plan that names none; it is never shown. */
const SOME_DAY = "2001-01-01";

/** A plan that has gone as planned, with all bought, and one rain. */
async function afterRain(
  file: string,
  rain: string,
  options: Options,
  context: Context,
): Promise<SeasonFile> {
  const { plans, before } = await askedPlans([file], options, context);
  const [{ planted, applications, seasonDays }] = plans;
  const on = dayAsked(options, planted);
  if (on === undefined) throw new UsageError("--rain needs the day on which it fell: --on 30");
  if (!(on > applications[0]!.day && on < seasonDays))
    throw new UsageError(
      `--on ${on}: the plan runs from day ${applications[0]!.day} to day ${seasonDays}; name a day between`,
    );
  const depth = (flag: string, text: string): string => {
    const read = parseQuantity(text, "length", { most: { value: 80 * 0.0254, text: "`80 in`" } });
    if (read.ok) return `${read.value} m`;
    const hint = "write a depth with its unit, for instance `4 in` or `100 mm`";
    throw new UsageError(`${flag}: ${faultText({ ...read, hint })}`);
  };
  const fallen = depth("--rain", rain);
  const evaporation = depth("--evaporation", textOption(options, "evaporation") ?? "0 in");
  const { solvePlans } = await import("../flow/answer.ts");
  const { seasonText } = await import("../flow/season-begin.ts");
  const solution = unwrap(
    await solvePlans(plans, { ...before, ...answerOptions(options, context), detail: "mix" }),
  );
  if (solution.status === "infeasible")
    throw new UsageError(`${file} has no mix to begin with; \`barrowmix solve ${file}\` says why`);
  const path = resolve(context.world.cwd, dirname(file), "now.yaml");
  const given = new Map(
    solution.beds.flatMap(({ rounds }) =>
      rounds.filter(({ day }) => day < on).map(({ name, day }) => [name, day]),
    ),
  );
  const log = [
    ...solution.purchases.flatMap(({ id, boughtKg }) =>
      boughtKg > 0 ? [`{day: -1, bought: ${scalar(id)}, weight: ${boughtKg} kg}`] : [],
    ),
    ...[...given].map(([name, day]) => `{day: ${day}, spread: ${scalar(name)}}`),
    `{day: ${on}, rain: ${fallen}, evaporation: ${evaporation}}`,
  ];
  const text = seasonText(solution, plans, basename(file), planted ?? SOME_DAY, log);
  const files = {
    ...context.files,
    read: (other: string) => (other === path ? text : context.files.read(other)),
  };
  const changes = { ...where(context), overrides: await planOverrides(options, context) };
  const season = await seasonIn(path, changes, { ...context, files });
  if (planted !== undefined) return { ...season, file };
  return { ...season, file, planted: "", beds: season.beds.map(({ planted: _, ...bed }) => bed) };
}
