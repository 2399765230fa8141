/** The flags that say a plan, or change one: shared by every command that takes a plan. */
import { resolve } from "node:path";
import type { FileReader, Override, PlanRequest, Where } from "../files/load.ts";
import type { Path } from "../files/source.ts";
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
import { addPriceOptions, atPrices } from "./price-flags.ts";
import type { Saved } from "./saved.ts";
import type { World } from "./world.ts";

/** Name of standard input where a file is expected. */
export const STDIN = "-";
/** The plan that is taken where none is named. */
const USUAL_PLAN = "plan.yaml";

/** A flag that sets one field of a plan. */
interface FieldFlag {
  readonly name: string;
  /** Its value, as help shows it. */
  readonly takes: string;
  readonly about: string;
  readonly path: Path;
  /** Text of the flag to what a file would say; absent: the text itself. */
  readonly read?: (text: string) => unknown;
}

const BED_FLAGS: readonly FieldFlag[] = [
  {
    name: "target",
    takes: "<file>",
    about: "what the crop needs: a target file",
    path: ["target"],
  },
  {
    name: "recipe",
    takes: "<name>",
    about: "what the crop needs: a shipped recipe (see `list crops`)",
    path: ["target"],
    read: (name) => ({ recipe: name }),
  },
  {
    name: "yield",
    takes: "<rate>",
    about: 'yield to feed for, where the recipe states one: "25 t/ha"',
    path: ["yield"],
  },
  {
    name: "plants",
    takes: "<count>",
    about: "how many plants are in the bed",
    path: ["bed", "plants"],
    read: numberOrText,
  },
  { name: "area", takes: "<area>", about: 'area of the bed: "1500 sq ft"', path: ["bed", "area"] },
  { name: "rows", takes: "<count>", about: "how many rows", path: ["bed", "rows"], read: numberOrText },
  { name: "row-length", takes: "<length>", about: 'length of one row: "60 ft"', path: ["bed", "row_length"] },
  {
    name: "soil-temperature",
    takes: "<temp>",
    about: 'mean over the season: "18 C"',
    path: ["soil_temperature"],
  },
];

const BLEND_FLAGS: readonly FieldFlag[] = [
  {
    name: "blend",
    takes: "<kind>",
    about: "one recipe for all applications, or each its own: one, each",
    path: ["blend"],
  },
  {
    name: "batch",
    takes: "<size>",
    about: 'what one batch holds: "60 lb" or "6 cu ft"',
    path: ["batch"],
    // By weight or by volume, as its unit says.
    read: (size) => (parseQuantity(size, "volume").ok ? { volume: size } : { size }),
  },
  { name: "scale", takes: "<weight>", about: 'what the scale shows: "0.25 lb"', path: ["scale"] },
  {
    name: "most",
    takes: "<count>",
    about: "at most so many amendments in a blend",
    path: ["simple", "most"],
    read: numberOrText,
  },
  {
    name: "least",
    takes: "<weight>",
    about: 'no amendment below this in a batch: "1 lb"',
    path: ["simple", "least"],
  },
  {
    name: "sure",
    takes: "<share>",
    about: "meet N and S in so many seasons: 90%; or say of what: N=90%,K2O=95%",
    path: ["sure"],
    read: sureOf,
  },
];

const CHOICE_FLAGS: readonly FieldFlag[] = [
  {
    name: "require",
    takes: "<status>",
    about: "leave out what does not have this status: organic-listed",
    path: ["require"],
  },
  { name: "currency", takes: "<code>", about: "currency of the prices: USD, EUR, ...", path: ["currency"] },
];

const FIELD_FLAGS = [...BED_FLAGS, ...BLEND_FLAGS, ...CHOICE_FLAGS];

/** `90%`, or what is before each `=` with its share. */
export function sureOf(text: string): unknown {
  if (!text.includes("=")) return text;
  const parts = text.split(",").map((part) => part.split("=").map((side) => side.trim()));
  return Object.fromEntries(parts.map(([name = "", share = ""]) => [name, share]));
}

/**
 * Adds the flags of a plan to a command.
 * @param prices `list`: `--price` means something else to the command.
 * @param own flags that the command has described itself.
 */
export function addPlanOptions(
  command: CommandBuilder,
  prices: "both" | "list" = "both",
  own: readonly string[] = [],
): void {
  const add = (flags: readonly FieldFlag[]): void => {
    for (const { name, takes, about } of flags)
      if (!own.includes(name)) command.option(`--${name} ${takes}`, about);
  };
  command.optionsGroup("What to choose from:");
  command.option("--amendments <file>", "amendments to choose from; may be repeated", repeated);
  command.option(
    "--have <id@price/size>",
    'without a plan file: a shipped amendment at this price, "blood-meal@60/50 lb"; may be repeated',
    repeated,
  );
  command.option("--only <ids>", "choose from these amendments alone: a,b", repeated);
  command.option("--exclude <ids>", "leave these amendments out: a,b", repeated);
  addPriceOptions(command, prices);
  add(CHOICE_FLAGS);
  command.optionsGroup("Crop and bed:");
  add(BED_FLAGS);
  command.optionsGroup("The mix:");
  add(BLEND_FLAGS);
  command.optionsGroup("Any field of the plan:");
  command.option("--set <path=value>", "for instance harvest.first=75; may be repeated", repeated);
}

/** Old or likely names of plan flags: taken, and not shown. */
export const PLAN_ALIASES: Readonly<Record<string, string>> = {
  crop: "recipe",
  temperature: "soil-temperature",
  without: "exclude",
};

const SET_HINT = 'for instance --set batch.size="60 lb" or --set limits.kelp-meal.max_share=10%';

/**
 * The fields of a plan that flags set, each with the flag that set it.
 * @throws UsageError for flags that cannot be read, or that set one field twice.
 */
async function planOverrides(options: Options, context: Context): Promise<Override[]> {
  const overrides: Override[] = [];
  const put = (flag: string, path: Path, value: unknown): void => {
    const twice = overrides.find((o) => o.path.join("\n") === path.join("\n"));
    if (twice !== undefined)
      throw new UsageError(
        twice.flag === flag
          ? `${flag} is given twice; give it once`
          : `use either ${twice.flag} or ${flag}, not both: they set the same field`,
      );
    overrides.push({ path, value, flag });
  };
  const amendments = textsOption(options, "amendments");
  const have = textsOption(options, "have");
  if (amendments.length > 0) put("--amendments", ["amendments"], amendments);
  if (have.length > 0) {
    const { offersOf } = await import("./have.ts");
    put("--have", ["amendments"], await offersOf(have, context));
  }
  for (const { name, path, read } of FIELD_FLAGS) {
    const value = textOption(options, camelCase(name));
    if (value !== undefined) put(`--${name}`, path, read ? read(value) : value);
  }
  const only = options.only === undefined ? undefined : idsOption(options, "only");
  if (have.length > 0) {
    const { hadIds } = await import("./have.ts");
    put("--have", ["only"], hadIds(have, only));
  } else if (only !== undefined) put("--only", ["only"], only);
  if (options.exclude !== undefined) put("--exclude", ["exclude"], idsOption(options, "exclude"));
  if (context.flags.units) put("--units", ["units"], context.flags.units);
  const settings = textsOption(options, "set");
  if (settings.length > 0) {
    const { parseFlagValue, parsePath } = await import("../files/load.ts");
    for (const setting of settings) {
      const at = setting.indexOf("=");
      const field = setting.slice(0, Math.max(0, at));
      const path = parsePath(field);
      if (path === undefined)
        throw new UsageError(`--set ${setting}: this takes a field and a value, ${SET_HINT}`);
      put(`--set ${field}`, path, parseFlagValue(setting.slice(at + 1)));
    }
  }
  return overrides;
}

export function camelCase(flag: string): string {
  return flag.replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());
}

/** Text that is a plain number becomes one; anything else is left for the checks of the plan to judge. */
export function numberOrText(value: string): unknown {
  return /^[+-]?\d+(\.\d+)?$/.test(value.trim()) ? Number(value) : value;
}

/** Ids of a flag, which may be repeated and may name several: `a,b`. */
export function idsOption(options: Options, name: string): string[] {
  return textsOption(options, name)
    .flatMap((text) => text.split(/[\s,]+/))
    .filter((id) => id !== "");
}

/** The override of `--units`, where it was given, for files that take no other flags. */
export function unitsOverride({ flags }: Context): Override[] {
  return flags.units ? [{ path: ["units"], value: flags.units, flag: "--units" }] : [];
}

/**
 * What to load for the arguments of a command: a plan file, `-` for standard input, flags alone, or the `plan.yaml` that
 * is at hand.
 * @throws UsageError where nothing at all says a plan.
 */
async function planRequest(
  planFile: string | undefined,
  options: Options,
  context: Context,
): Promise<PlanRequest> {
  const overrides = await planOverrides(options, context);
  const at = where(context);
  if (planFile !== undefined) {
    if (overrides.some((o) => o.flag === "--have"))
      throw new UsageError(
        "--have is for a plan without a file; with a plan file, put the offer into its amendments or use --amendments",
      );
    return { planFile, overrides, ...at };
  }
  if (overrides.some((o) => o.path[0] === "target" || o.path[0] === "amendments"))
    return { overrides, ...at };
  if (context.world.files.read(resolve(at.cwd, USUAL_PLAN)) === null)
    throw new UsageError(
      `say which plan: give a plan file (or work in a folder with a ${USUAL_PLAN}), or say it with flags: ` +
        "--amendments or --have, and --target or --recipe",
    );
  return { planFile: USUAL_PLAN, overrides, ...at };
}

/** A plan that a command was asked about. */
export interface AskedPlan {
  readonly plan: Plan;
  /** How to load it again with changes; null where it came through a pipe, read and checked already. */
  readonly request: PlanRequest | null;
}

/**
 * What `solve --json` printed or `shop --save` wrote, where the argument names that (a file, or standard input); null
 * where it names a plan file or nothing.
 */
export async function givenSaved(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<Saved | null>> {
  if (typeof planFile !== "string") return ok(null);
  const piped = planFile === STDIN;
  // A file that cannot be read is the loader's to complain of.
  const text = context.files.read(resolve(context.world.cwd, planFile));
  if (text === null || (!piped && !text.trimStart().startsWith("{"))) return ok(null);
  const { readSaved, withUnits } = await import("./saved.ts");
  const saved = await readSaved(text, piped ? null : planFile);
  if (!saved.ok || saved.value === null) return saved;
  const { units } = context.flags;
  const [first] = await planOverrides(options, { ...context, flags: { ...context.flags, units: undefined } });
  if (first !== undefined)
    throw new UsageError(
      `${first.flag} changes the plan, and ${piped ? "what comes through the pipe" : planFile} is solved already; ` +
        `give it to the command before${piped ? " the pipe" : ""}, or name the plan file here`,
    );
  return ok(units ? withUnits(saved.value, units) : saved.value);
}

/** Loads the plan that the arguments ask for; `-` or a file may also be what `solve --json` printed. */
export async function askedPlan(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<AskedPlan>> {
  const saved = await givenSaved(planFile, options, context);
  if (!saved.ok) return saved;
  if (saved.value !== null) {
    const [plan, other] = saved.value.kind === "plan" ? [saved.value.plan] : saved.value.bought.plans;
    if (other !== undefined)
      throw new UsageError("this purchase is for several plans; name the plan file of one of them");
    return ok({ plan: plan!, request: null });
  }
  const request = await planRequest(typeof planFile === "string" ? planFile : undefined, options, context);
  const { loadPlan } = await import("../files/load.ts");
  const loaded = loadPlan(context.files, request);
  return loaded.ok ? ok({ plan: loaded.value.plan, request }) : loaded;
}

/** The plan that the arguments ask for, at the prices that they ask for, where a command needs no more of it. */
export async function requestedPlan(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<Plan>> {
  const asked = await askedPlan(planFile, options, context);
  return asked.ok ? atPrices(asked.value.plan, options, context) : asked;
}

/** Where a command runs, and where the shipped recipes are. */
export function where({ world }: Pick<Context, "world">): Where {
  return { cwd: world.cwd, recipesDir: resolve(world.packageDir, "recipes") };
}

/** The files of the world, among which `-` is standard input. A text is read once, so that all of a run see the same. */
export function filesOf(world: World): FileReader {
  const stdin = resolve(world.cwd, STDIN);
  const texts = new Map<string, string | null>();
  return {
    list: (folder) => world.files.list(folder),
    parsed: new Map(),
    read: (path) => {
      let text = texts.get(path);
      if (text === undefined) {
        text = path === stdin ? world.stdin.read() : world.files.read(path);
        texts.set(path, text);
      }
      return text;
    },
  };
}
