/** `init --after season.yaml`: next year's plan and amendments, from a season and its plan. Never overwrites. */
import { basename, dirname, join, relative, resolve } from "node:path";
import { bullets, fullTableOf, type Report, words } from "../report/report.ts";
import type { NextYearResult } from "../results/listing.ts";
import { type CommandOutput, type Context, EXIT, UsageError, unwrap } from "./command.ts";
import { where } from "./plan-options.ts";

/** Keys of a plan that are of one year alone, or that are written anew. */
const OF_ONE_YEAR = ["planted", "credits", "amendments", "target", "prices", "soil_test"];

export async function initAfter(dir: unknown, season: string, context: Context): Promise<CommandOutput> {
  const { world } = context;
  const { loadSeason, planFileOf } = await import("../files/load.ts");
  const loaded = unwrap(loadSeason(context.files, season, where(context))).season;
  const plan = planFileOf(context.files, season, where(context))!;
  if (Object.hasOwn(plan.root, "beds"))
    throw new UsageError(
      "--after: a farm's next year is not written by this version; its season tells what is left (`now --all`) and what each bed got (`record`)",
    );
  const folder = resolve(world.cwd, typeof dir === "string" ? dir : ".");
  const shown = relative(world.cwd, folder) || ".";
  const names = ["plan.yaml", "amendments.yaml"];
  const there = names.filter((name) => world.files.list(folder).includes(name));
  if (there.length > 0)
    throw new UsageError(
      `${there.map((name) => join(shown, name)).join(" and ")} there already, and nothing is overwritten; name another folder`,
    );
  const { nextYear } = await import("../flow/next-year.ts");
  const next = nextYear(loaded);
  /** A path of the old plan, seen from the new folder. */
  const moved = (path: string): string => relative(folder, resolve(dirname(plan.path), path));
  const { amendments, target } = plan.root;
  const line = (key: string, value: unknown): string => `${key}: ${JSON.stringify(value)}`;
  const list = (key: string, items: readonly string[]): string[] =>
    items.length === 0 ? [] : [`${key}:`, ...items];
  const ownTarget = typeof target === "string" && !/^recipe:/.test(target) ? moved(target) : target;
  const files = {
    "plan.yaml": [
      `# The year after ${basename(season)}. Check every line: the crop may be another, and credits are of last year's spreadings.`,
      ...next.notes.map((note) => `# ${note}`),
      ...(plan.root.prices === undefined
        ? []
        : ["# Last year's price lists are left out: name this year's under `prices`."]),
      ...Object.entries(plan.root).flatMap(([key, value]) =>
        OF_ONE_YEAR.includes(key) ? [] : [line(key, value)],
      ),
      line("planted", next.planted),
      line("amendments", "amendments.yaml"),
      ...(target === undefined ? [] : [line("target", ownTarget)]),
      ...list(
        "credits",
        next.credits.map((credit) => `  - ${JSON.stringify(credit)}`),
      ),
    ],
    "amendments.yaml": [
      `# What the shed holds after ${basename(season)}, and the prices that were paid. Other prices are as before.`,
      line("include", filesOf(amendments).map(moved)),
      ...list(
        "amendments",
        Object.entries(next.amendments).map(([id, entry]) => `  ${line(id, entry)}`),
      ),
    ],
  };
  world.files.makeNew(
    new Map(Object.entries(files).map(([name, lines]) => [join(folder, name), `${lines.join("\n")}\n`])),
  );
  const written = names.map((name) => join(shown, name));
  return {
    exitCode: EXIT.done,
    json: {
      schema: "barrowmix.init/1",
      folder: shown,
      files: written,
      after: season,
    } satisfies NextYearResult,
    report: (): Report => ({
      title: `Next year's plan in ${shown}`,
      summary: [bullets([...written, ...next.notes, `Planted is set to ${next.planted}: put in your day.`])],
      sections: [],
      csv: fullTableOf(written, [words("File", "file", (file) => file)]),
    }),
    remarks: next.notes,
  };
}

function filesOf(amendments: unknown): string[] {
  const list = typeof amendments === "string" ? [amendments] : amendments;
  if (Array.isArray(list) && list.every((one) => typeof one === "string")) return list;
  throw new UsageError(
    "--after: the plan holds its amendments itself; put them into a file of their own first",
  );
}
