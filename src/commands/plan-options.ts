/** The flags that say a plan, or change one: shared by every command that takes a plan. */
import { resolve } from "node:path";
import type { FileReader, Override, PlanRequest, Where } from "../files/load.ts";
import type { Plan } from "../model.ts";
import { ok, type Result } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import {
  type CommandBuilder,
  type Context,
  type Options,
  repeated,
  textOption,
  textsOption,
  UsageError,
} from "./command.ts";

/** Name of standard input where a file is expected. */
export const STDIN = "-";

/** Adds the flags of a plan to a command. */
export function addPlanOptions(command: CommandBuilder): void {
  command.option("--amendments <file>", "amendments to choose from; may be repeated", repeated);
  command.option("--target <file>", "what the crop needs: a target file");
  command.option("--recipe <name>", "what the crop needs: a shipped recipe (see `list crops`)");
  command.option("--yield <rate>", 'yield to feed for, where the recipe states one: "25 t/ha"');
  command.option("--plants <count>", "how many plants stand in the bed");
  command.option("--area <area>", 'area of the bed: "1500 sq ft"');
  command.option("--rows <count>", "how many rows");
  command.option("--row-length <length>", 'length of one row: "60 ft"');
  command.option("--batch <size>", 'what one batch holds: "60 lb" or "6 cu ft"');
  command.option("--scale <weight>", 'what the scale shows: "0.25 lb"');
  command.option("--blend <kind>", "one recipe for all applications, or each its own: one, each");
  command.option("--currency <code>", "currency of the prices: USD, EUR, ...");
  command.option("--soil-temperature <temp>", 'mean over the season: "18 C"');
  command.option("--only <ids>", "choose from these amendments alone: a,b");
  command.option("--exclude <ids>", "leave these amendments out: a,b");
  command.option("--require <status>", "leave out what is not so: organic-listed");
  command.option("--most <count>", "at most so many amendments in a blend");
  command.option("--least <weight>", 'no amendment below this in a batch: "1 lb"');
  command.option("--set <path=value>", "set any field of the plan: harvest.first=75", repeated);
}

const SET_HINT = 'for instance --set batch.size="60 lb" or --set limits.kelp-meal.max_share=10%';

/** The fields of a plan that flags set, each with the flag that set it. */
export async function planOverrides(options: Options, context: Context): Promise<Override[]> {
  const overrides: Override[] = [];
  const put = (flag: string, path: Override["path"], value: unknown) => {
    overrides.push({ path, value, flag: `--${flag}` });
  };
  const text = (
    flag: string,
    path: Override["path"],
    read: (value: string) => unknown = (value) => value,
  ) => {
    const value = textOption(options, camelCase(flag));
    if (value !== undefined) put(flag, path, read(value));
  };
  if (textOption(options, "target") !== undefined && textOption(options, "recipe") !== undefined)
    throw new UsageError("use either --target (a file) or --recipe (a shipped recipe), not both");
  const amendments = textsOption(options, "amendments");
  if (amendments.length > 0) put("amendments", ["amendments"], amendments);
  text("target", ["target"]);
  text("recipe", ["target"], (name) => ({ recipe: name }));
  text("yield", ["yield"]);
  text("plants", ["bed", "plants"], numberOrText);
  text("area", ["bed", "area"]);
  text("rows", ["bed", "rows"], numberOrText);
  text("row-length", ["bed", "row_length"]);
  text("batch", ["batch"], batchOf);
  text("scale", ["scale"]);
  text("blend", ["blend"]);
  text("currency", ["currency"]);
  text("soil-temperature", ["soil_temperature"]);
  text("only", ["only"], idList);
  text("exclude", ["exclude"], idList);
  text("require", ["require"]);
  text("most", ["simple", "most"], numberOrText);
  text("least", ["simple", "least"]);
  if (context.flags.units) put("units", ["units"], context.flags.units);
  const settings = textsOption(options, "set");
  if (settings.length > 0) {
    const { parseFlagValue, parsePath } = await import("../files/load.ts");
    for (const setting of settings) {
      const at = setting.indexOf("=");
      const field = setting.slice(0, Math.max(0, at));
      const path = parsePath(field);
      if (path === undefined)
        throw new UsageError(`--set ${setting}: this takes a field and a value, ${SET_HINT}`);
      overrides.push({ path, value: parseFlagValue(setting.slice(at + 1)), flag: `--set ${field}` });
    }
  }
  return overrides;
}

function camelCase(flag: string): string {
  return flag.replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());
}

/** Text that is a plain number becomes one; anything else is left for the checks of the plan to judge. */
function numberOrText(value: string): unknown {
  return /^[+-]?\d+(\.\d+)?$/.test(value.trim()) ? Number(value) : value;
}

function idList(value: string): string[] {
  return value
    .split(",")
    .map((id) => id.trim())
    .filter((id) => id !== "");
}

/** A batch by weight or by volume, as its unit says. */
function batchOf(value: string): unknown {
  return parseQuantity(value, "volume").ok ? { volume: value } : { size: value };
}

/**
 * What to load for the arguments of a command: a plan file, `-` for standard input, or flags alone.
 * @throws UsageError where nothing at all says a plan.
 */
export async function planRequest(
  planFile: string | undefined,
  options: Options,
  context: Context,
): Promise<PlanRequest> {
  const overrides = await planOverrides(options, context);
  if (planFile === undefined && !overrides.some((o) => o.path[0] === "target" || o.path[0] === "amendments"))
    throw new UsageError(
      "say which plan: give a plan file, or at least --amendments, and --target or --recipe",
    );
  return {
    ...(planFile === undefined ? {} : { planFile }),
    overrides,
    ...where(context),
  };
}

/** Loads the plan that the arguments ask for. */
export async function requestedPlan(
  planFile: string | undefined,
  options: Options,
  context: Context,
): Promise<Result<Plan>> {
  const request = await planRequest(planFile, options, context);
  const { loadPlan } = await import("../files/load.ts");
  const loaded = loadPlan(filesOf(context), request);
  return loaded.ok ? ok(loaded.value.plan) : loaded;
}

/** The files of the world, among which `-` is standard input, read once. */
export function filesOf({ world }: Context): FileReader {
  const stdin = resolve(world.cwd, STDIN);
  let input: string | undefined;
  return {
    list: (folder) => world.files.list(folder),
    read: (path) => {
      if (path !== stdin) return world.files.read(path);
      input ??= world.stdin.read();
      return input;
    },
  };
}

/** Where a command stands, and where the shipped recipes are. */
export function where({ world }: Context): Where {
  return { cwd: world.cwd, recipesDir: resolve(world.packageDir, "recipes") };
}
