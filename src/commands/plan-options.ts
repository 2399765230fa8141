/** The flags that say a plan, or change one: shared by every command that takes a plan. */
import { resolve } from "node:path";
import type { FileReader, Override, PlanRequest, Where } from "../files/load.ts";
import type { Path } from "../files/source.ts";
import type { AnswerOptions } from "../flow/answer.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { guess, ok, type Result } from "../problem.ts";
import type { Sharing } from "../results/solution.ts";
import { parseQuantity } from "../units.ts";
import type { AskedAgain } from "./asked-again.ts";
import {
  type Context,
  type Flag,
  type Options,
  textOption,
  textsOption,
  together,
  UsageError,
  unwrap,
  type Written,
} from "./command.ts";
import { atLists, extraPrices, PRICE_FLAGS, warnedOf } from "./price-flags.ts";
import type { World } from "./world.ts";

const ON_FLAG: Flag = [
  "--on <day>",
  "of a season: its state on a day or date, or `today` (usual: the last line's)",
];

/** Name of standard input where a file is expected. */
export const STDIN = "-";
/** The plan that is taken where none is named. */
export const USUAL_PLAN = "plan.yaml";

/** A flag that sets one field: what help says, where the value goes, and how its text is read where a file says it otherwise. */
export type FieldFlag = readonly [...Written, path: Path, read?: (text: string) => unknown];

const BED_FLAGS: readonly FieldFlag[] = [
  ["--target <file>", "what the crop needs: a target file", ["target"]],
  [
    "--recipe <name>",
    "what the crop needs: a shipped recipe (see `list crops`)",
    ["target"],
    (name) => ({ recipe: name }),
  ],
  ["--yield <rate>", 'yield to feed for, where the recipe states one: "25 t/ha"', ["yield"]],
  ["--plants <count>", "how many plants are in the bed", ["bed", "plants"], numberOrText],
  ["--area <area>", 'area of the bed: "1500 sq ft"', ["bed", "area"]],
  ["--rows <count>", "how many rows", ["bed", "rows"], numberOrText],
  ["--row-length <length>", 'length of one row: "60 ft"', ["bed", "row_length"]],
  ["--soil-temperature <temp>", 'mean over the season: "18 C"', ["soil_temperature"]],
];

const BLEND_FLAGS: readonly FieldFlag[] = [
  ["--blend <kind>", "one recipe for all applications, or each its own: one, each", ["blend"]],
  [
    "--batch <size>",
    'what one batch holds: "60 lb" or "6 cu ft"',
    ["batch"],
    // By weight or by volume, as its unit says.
    (size) => (parseQuantity(size, "volume").ok ? { volume: size } : { size }),
  ],
  ["--scale <weight>", 'what the scale shows: "0.25 lb"', ["scale"]],
  ["--most <count>", "at most so many amendments in a blend", ["simple", "most"], numberOrText],
  ["--least <weight>", 'no amendment below this in a batch: "1 lb"', ["simple", "least"]],
  ["--sure <share>", "meet N and S in so many seasons: 90%; or say of what: N=90%,K2O=95%", ["sure"], sureOf],
];

const CHOICE_FLAGS: readonly FieldFlag[] = [
  ["--require <status>", "leave out what does not have this status: organic-listed", ["require"]],
  ["--currency <code>", "currency of the prices: USD, EUR, ...", ["currency"]],
];

const FIELD_FLAGS = [...BED_FLAGS, ...BLEND_FLAGS, ...CHOICE_FLAGS];

/** `90%`, or what is before each `=` with its share. */
export function sureOf(text: string): unknown {
  if (!text.includes("=")) return text;
  const parts = text.split(",").map((part) => part.split("=").map((side) => side.trim()));
  const names = parts.map(([name = ""]) => name);
  const twice = names.find((name, i) => names.indexOf(name) < i);
  if (twice !== undefined)
    throw new UsageError(`--sure ${text}: \`${twice}\` is given twice; keep one of the two`);
  return Object.fromEntries(parts.map(([name = "", share = ""]) => [name, share]));
}

/** The flags of a plan, by the heading under which help lists them. */
export const PLAN_FLAGS: Readonly<Record<string, readonly Flag[]>> = {
  "What to choose from:": [
    ["--amendments <file>", "amendments to choose from; may be repeated", "repeated"],
    [
      "--have <id@price/size>",
      'without a plan file: a shipped amendment at this price, "blood-meal@60/50 lb"; may be repeated',
      "repeated",
    ],
    ["--only <ids>", "choose from these amendments alone: a,b", "repeated"],
    ["--exclude <ids>", "leave these amendments out: a,b", "repeated"],
    ...PRICE_FLAGS,
    ...asFlags(CHOICE_FLAGS),
  ],
  "Crop and bed:": asFlags(BED_FLAGS),
  "The mix:": asFlags(BLEND_FLAGS),
  "A season:": [ON_FLAG],
  "Any field of the plan:": [
    ["--set <path=value>", "for instance harvest.first=75; may be repeated", "repeated"],
  ],
};

/** Flags of fields as others. */
export function asFlags(fields: readonly FieldFlag[]): Flag[] {
  return fields.map(([written, about]) => [written, about]);
}

/** The flags of a plan without some of them, which a command describes itself. */
export function planFlagsBut(...own: readonly string[]): typeof PLAN_FLAGS {
  const others = (flags: readonly Flag[]) => flags.filter(([written]) => !own.includes(flagName(written)));
  return Object.fromEntries(Object.entries(PLAN_FLAGS).map(([heading, flags]) => [heading, others(flags)]));
}

/** `--target <file>` without its value: `--target`. */
export function flagName(written: string): string {
  return written.split(" ", 1)[0]!;
}

/** Old or likely names of plan flags: taken, and not shown. */
export const PLAN_ALIASES: Readonly<Record<string, string>> = {
  crop: "recipe",
  temperature: "soil-temperature",
};

/**
 * The fields of a plan that flags set, each with the flag that set it.
 * @throws UsageError for flags that cannot be read, or that set one field twice.
 */
export async function planOverrides(options: Options, context: Context): Promise<Override[]> {
  const overrides: Override[] = [];
  const put = (...more: readonly Override[]): void => {
    for (const one of more) {
      const twice = overrides.find(({ path }) => path.join("\n") === one.path.join("\n"));
      if (twice !== undefined)
        throw new UsageError(
          twice.flag === one.flag
            ? `${one.flag} is given twice; give it once`
            : `use either ${twice.flag} or ${one.flag}, not both: they set the same field`,
        );
      overrides.push(one);
    }
  };
  const amendments = textsOption(options, "amendments");
  const have = textsOption(options, "have");
  const only = options.only === undefined ? undefined : idsOption(options, "only");
  if (amendments.length > 0) put({ flag: "--amendments", path: ["amendments"], value: amendments });
  if (have.length > 0) {
    const had = await offered(have, only, context);
    put({ flag: "--have", path: ["amendments"], value: had.amendments });
    put({ flag: "--have", path: ["only"], value: had.only });
  } else if (only !== undefined) put({ flag: "--only", path: ["only"], value: only });
  put(...fieldsSet(FIELD_FLAGS, options));
  if (options.exclude !== undefined)
    put({ flag: "--exclude", path: ["exclude"], value: idsOption(options, "exclude") });
  put(...unitsOverride(context));
  const settings = textsOption(options, "set");
  if (settings.length > 0) {
    const { settingOf } = await import("./case-flags.ts");
    put(...settings.map((setting) => settingOf(setting)));
  }
  return overrides;
}

/** An offer of `--have`: a shipped amendment by id, at a price said on the command line. */
interface Offer {
  readonly id: string;
  readonly price: string;
  /** A pack such as `50 lb`, or a unit alone for loose goods: `lb`. */
  readonly size: string;
}

function parseOffer(text: string): Offer {
  const parts = /^\s*([^@\s]+)\s*@\s*([^/]+?)\s*\/\s*(.+?)\s*$/.exec(text);
  if (parts === null)
    throw new UsageError(
      `--have ${text}: write an id, \`@\`, a price, \`/\` and the size of the bag, for instance ` +
        '--have "blood-meal@60/50 lb" (or blood-meal@1.20/lb, loose)',
    );
  return { id: parts[1]!, price: parts[2]!, size: parts[3]! };
}

/**
 * What a plan would say under `amendments` and `only`: the shipped ones, with these offers in place of their placeholder
 * prices, and the ids to choose from.
 * @param only the ids of `--only`, where it was given.
 * @throws UsageError for an offer that cannot be read, an id that does not ship, or one of `--only` without an offer.
 */
async function offered(
  texts: readonly string[],
  only: readonly string[] | undefined,
  context: Context,
): Promise<{ readonly amendments: unknown; readonly only: readonly string[] }> {
  const offers = texts.map(parseOffer);
  const { amendmentIds } = await import("../files/load.ts");
  const at = where(context);
  const shipped = amendmentIds(context.files, resolve(at.recipesDir, "amendments", "all.yaml"), at);
  for (const { id } of offers)
    if (!shipped.has(id))
      throw new UsageError(
        `--have: no amendment called \`${id}\` ships; ${guess(id, shipped, "`barrowmix list amendments` shows them")}`,
      );
  const isLoose = (offer: Offer): boolean => !/\d/.test(offer.size);
  const ids = [...new Set(offers.map(({ id }) => id))];
  const entries = ids.map((id) => {
    const own = offers.filter((offer) => offer.id === id);
    const [loose, another] = own.filter(isLoose);
    if (another !== undefined) throw new UsageError(`--have: \`${id}\` has two loose prices; give one`);
    const packs = own
      .filter((offer) => !isLoose(offer))
      .map(({ size, price }) => ({ size, price: numberOrText(price) }));
    const bulk = loose && { bulk: { price: numberOrText(loose.price), per: loose.size } };
    return [id, { packs, ...bulk }] as const;
  });
  const absent = only?.find((id) => !ids.includes(id));
  if (absent !== undefined) throw new UsageError(`--only ${absent}: it is not among the ids of --have`);
  return { amendments: [{ recipe: "all" }, Object.fromEntries(entries)], only: only ?? ids };
}

/** What flags of fields set. */
export function fieldsSet(fields: readonly FieldFlag[], options: Options): Override[] {
  return fields.flatMap(([written, , path, read]) => {
    const flag = flagName(written);
    const text = textOption(options, camelCase(flag.slice(2)));
    return text === undefined ? [] : [{ path, value: read ? read(text) : text, flag }];
  });
}

export function camelCase(flag: string): string {
  return flag.replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());
}

/** Text that is a plain number becomes one; anything else is left for the checks of the plan to judge. */
export function numberOrText(value: string): unknown {
  return /^[+-]?\d+(\.\d+)?$/.test(value.trim()) ? Number(value) : value;
}

/** Ids of a flag, which may be repeated and may name several: `a,b`. `Blood meal` is the id `blood-meal`. */
export function idsOption(options: Options, name: string): string[] {
  return idsIn(textsOption(options, name), `--${name}`);
}

/**
 * Ids in texts that may name several.
 * @param flag for messages.
 * @throws UsageError for a text that names none.
 */
export function idsIn(texts: readonly string[], flag: string): string[] {
  const ids = texts.flatMap((text) => text.split(",")).map((id) => id.trim());
  if (texts.some((text) => /^[\s,]*$/.test(text)))
    throw new UsageError(
      `${flag} names no amendment: give ids, for instance ${flag} bone-meal,kelp-meal, or leave it out`,
    );
  return ids
    .filter((id) => id !== "")
    .map((id) => (/\s/.test(id) ? id.toLowerCase().replace(/\s+/g, "-") : id));
}

/** The override of `--units`, where it was given, for files that take no other flags. */
export function unitsOverride({ flags }: Context): Override[] {
  return flags.units ? [{ path: ["units"], value: flags.units, flag: "--units" }] : [];
}

/**
 * The files that the argument of a command names; where it names none, the one of the usual name that is at hand.
 * @throws UsageError where there is none.
 */
export function filesOrUsual(named: unknown, usual: string, { world }: Context): readonly string[] {
  const files = Array.isArray(named) ? named.map(String) : [];
  if (files.length > 0) return files;
  if (world.files.read(resolve(world.cwd, usual)) === null)
    throw new UsageError(`say which file (or work in a folder with a ${usual})`);
  return [usual];
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
  const at = { ...where(context), extraPrices: extraPrices(options) };
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
        "--amendments or --have, and --target or --recipe; `barrowmix init` writes a plan to begin with",
    );
  return { planFile: USUAL_PLAN, overrides, ...at };
}

/** A plan that the arguments of a command name. */
export interface GivenPlan {
  readonly plan: Plan;
  /** Loads the plan again with changes; null where it was read and checked before: from what the program printed. */
  readonly again: PlanAgain | null;
}

/** A plan loaded once more, with fields laid over its files and further amendments; of a farm, how its beds share. */
export type PlanAgain = (
  overrides: readonly Override[],
  extraAmendments?: readonly string[],
) => Result<{ readonly plan: Plan; readonly sharing?: Sharing }>;

/** The plans that the arguments of a command name, and what was asked of them before. */
export interface Given {
  readonly plans: readonly [GivenPlan, ...GivenPlan[]];
  readonly before: AnswerOptions;
}

/**
 * The plans that the arguments ask for; where one names (as a file, or on standard input) what `solve --json` printed, the
 * plans in it and what was asked of them.
 * @param files plan files; none: the usual plan, or a plan said by flags.
 */
export async function givenPlans(
  files: readonly string[],
  options: Options,
  context: Context,
): Promise<Given> {
  const named: readonly (string | undefined)[] = files.length === 0 ? [undefined] : files;
  const given = await together<Given[]>(named.map((file) => givenBy(file, options, context)));
  const plans = given.flatMap((one) => one.plans) as unknown as Given["plans"];
  if (given.length === 1) return { plans, before: given[0]!.before };
  if (given.some(({ before }) => before.sharing))
    throw new UsageError(
      "a farm is answered by itself: name it alone, or write the other plans into it as beds",
    );
  return { plans, before: {} };
}

async function givenBy(file: string | undefined, options: Options, context: Context): Promise<Given> {
  const solved = file === undefined ? null : await askedBefore(file, options, context);
  if (solved !== null) {
    // What is read from a file has its lists with it; what was printed takes those of the flags on top.
    const listed = solved.plans.map(async (plan) => warnedOf(await atLists(plan, options, context)));
    const [first, ...others] = (await together(listed)).map((plan): GivenPlan => ({ plan, again: null }));
    return { plans: [first!, ...others], before: solved.options };
  }
  if (file !== undefined && file !== STDIN) {
    const { isSeasonFile, seasonPlans } = await import("./season.ts");
    if (await isSeasonFile(file, context))
      return seasonPlans(
        file,
        { ...where(context), overrides: await planOverrides(options, context) },
        options,
        context,
      );
  }
  const request = await planRequest(file, options, context);
  const { isFarmFile, loadFarm, loadPlan } = await import("../files/load.ts");
  const { planFile } = request;
  const changed = (more: readonly Override[], extraAmendments: readonly string[]) => ({
    ...request,
    overrides: [...(request.overrides ?? []), ...more],
    extraAmendments,
  });
  if (
    planFile === undefined ||
    !isFarmFile(context.files, resolve(context.world.cwd, planFile), where(context))
  ) {
    const again: PlanAgain = (more, extra = []) => loadPlan(context.files, changed(more, extra));
    return { plans: [{ plan: unwrap(again([])).plan, again }], before: {} };
  }
  const { farmAsked } = await import("../flow/farm-asked.ts");
  const load = (more: readonly Override[] = [], extra: readonly string[] = []) =>
    loadFarm(context.files, { ...changed(more, extra), planFile });
  const { plans, options: before } = farmAsked(unwrap(load()).farm);
  const again =
    (p: number): PlanAgain =>
    (more, extra) => {
      const loaded = load(more, extra);
      if (!loaded.ok) return loaded;
      const { plans: changedPlans, options } = farmAsked(loaded.value.farm);
      if (changedPlans.length !== plans.length)
        throw new UsageError("a case changes beds and their fields; it neither adds a bed nor takes one out");
      return ok({ plan: changedPlans[p]!, ...defined({ sharing: options.sharing }) });
    };
  const [first, ...others] = plans.map((plan, p): GivenPlan => ({ plan, again: again(p) }));
  return { plans: [first!, ...others], before };
}

/** What the program printed before, where a file holds that; null where it is a plan file or cannot be read. */
async function askedBefore(file: string, options: Options, context: Context): Promise<AskedAgain | null> {
  const piped = file === STDIN;
  // A file that cannot be read is the loader's to complain of.
  const text = context.files.read(resolve(context.world.cwd, file));
  if (text === null || (!piped && !text.trimStart().startsWith("{"))) return null;
  const { askedAgain } = await import("./asked-again.ts");
  const again = unwrap(await askedAgain(text, piped ? null : file));
  if (again === null) return null;
  const { units } = context.flags;
  const [first] = await planOverrides(options, { ...context, flags: { ...context.flags, units: undefined } });
  if (first !== undefined)
    throw new UsageError(
      `${first.flag} changes the plan, and ${piped ? "what comes through the pipe" : file} is solved already; ` +
        `give it to the command before${piped ? " the pipe" : ""}, or name the plan file here`,
    );
  const plans = again.plans.map((plan) => (units ? { ...plan, units } : plan)) as unknown as [
    Plan,
    ...Plan[],
  ];
  return { ...again, plans };
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
