/** `shop`: whole packs to buy at least total money, for one plan or several. */
import type { ShopOptions } from "../flow/shop.ts";
import type { Plan } from "../model.ts";
import { fail, ok, type Problem, type Result } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  EXIT,
  type Options,
  repeated,
  textOption,
  textsOption,
  UsageError,
} from "./command.ts";
import { addPlanOptions, planOverrides, requestedPlan, STDIN, where } from "./plan-options.ts";

export const command: Command = {
  name: "shop",
  describe: "choose the whole packs to buy for a plan",
  formats: ["list", "html"],

  configure(command) {
    command.argument("[plan]", "a plan file; - reads a plan, or what `solve --json` printed");
    command.option("--also <plan>", "buy for this plan too, in one trip; may be repeated", repeated);
    command.option("--application <name>", "buy for this application alone: its name or day");
    command.option("--budget <money>", "spend at most this, delivery included");
    command.option("--max-leftover <amount>", 'leave at most this of any amendment: "5 lb" or 20%');
    command.option("--time-limit <seconds>", "stop looking after so long (10 unless given)");
    addPlanOptions(command);
    command.addHelpText(
      "after",
      [
        "",
        "--format list prints one item a line, to take along;",
        "--format html makes a page to print.",
        "",
        "Examples:",
        "  barrowmix shop plan.yaml --format list",
        "  barrowmix shop plan.yaml --also herbs.yaml --budget 250",
        "  barrowmix solve --json plan.yaml | barrowmix shop - --format csv",
        "",
        "Exit codes: 0 a purchase, proven or with its gap stated; 2 bad input;",
        "3 no purchase or no mix fits; 4 not verified.",
      ].join("\n"),
    );
  },

  async run([planFile], options, context): Promise<Result<CommandOutput>> {
    const settings = shopOptions(options);
    const requested = await plansOf(planFile, options, context);
    if (!requested.ok) return requested;
    const { shopPlans } = await import("../flow/shop.ts");
    const result = await shopPlans(requested.value, settings);
    if (!result.ok) return result;
    const shopping = result.value;
    const infeasible = shopping.status === "infeasible";
    return ok({
      exitCode: infeasible ? EXIT.infeasible : EXIT.done,
      json: shopping,
      report: async (extent) => (await import("../report/shop-report.ts")).shopReport(shopping, extent),
      text: async () => (await import("../report/shop-report.ts")).shopList(shopping),
      remarks: [
        ...(infeasible ? shopping.conflicts.map(({ text }) => text) : []),
        ...[...shopping.cautions, ...shopping.warnings].map(({ text, code }) => `${text} [${code}]`),
      ],
    });
  },
};

function shopOptions(options: Options): ShopOptions {
  const budget = textOption(options, "budget");
  const left = textOption(options, "maxLeftover");
  const seconds = textOption(options, "timeLimit");
  const application = textOption(options, "application");
  return {
    ...(budget === undefined ? {} : { budget: amountOfMoney(budget) }),
    ...(left === undefined ? {} : { mostLeft: mostLeftOf(left) }),
    ...(seconds === undefined ? {} : { seconds: secondsOf(seconds) }),
    ...(application === undefined ? {} : { application }),
    clock: () => performance.now(),
  };
}

function amountOfMoney(text: string): number {
  if (!/^\d[\d,]*(\.\d+)?$/.test(text.trim()))
    throw new UsageError(`--budget ${text}: this takes an amount of money, for instance --budget 250`);
  return Number(text.replaceAll(",", ""));
}

function mostLeftOf(text: string): NonNullable<ShopOptions["mostLeft"]> {
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

function secondsOf(text: string): number {
  const value = /^(\d+(?:\.\d+)?)\s*(?:s|seconds?)?$/.exec(text.trim())?.[1];
  if (value === undefined || !(Number(value) > 0))
    throw new UsageError(`--time-limit ${text}: this takes seconds, for instance --time-limit 10`);
  return Number(value);
}

async function plansOf(
  planFile: unknown,
  options: Options,
  context: Context,
): Promise<Result<readonly [Plan, ...Plan[]]>> {
  const first = await firstPlan(typeof planFile === "string" ? planFile : undefined, options, context);
  const problems: Problem[] = first.ok ? [] : [...first.problems];
  const plans: Plan[] = [];
  for (const file of textsOption(options, "also")) {
    const { loadPlan } = await import("../files/load.ts");
    const loaded = loadPlan(context.world.files, {
      planFile: file,
      ...(context.flags.units
        ? { overrides: [{ path: ["units"], value: context.flags.units, flag: "--units" }] }
        : {}),
      ...where(context),
    });
    if (!loaded.ok) {
      problems.push(...loaded.problems);
      continue;
    }
    plans.push(loaded.value.plan);
  }
  if (!first.ok || problems.length > 0) return fail(...problems);
  return ok([first.value, ...plans]);
}

async function firstPlan(
  planFile: string | undefined,
  options: Options,
  context: Context,
): Promise<Result<Plan>> {
  if (planFile !== STDIN) return requestedPlan(planFile, options, context);
  const text = context.world.stdin.read();
  const piped = readPiped(text);
  if (!piped.ok) return piped;
  if (piped.value === null) {
    const world = { ...context.world, stdin: { isTTY: false, read: () => text } };
    return requestedPlan(STDIN, options, { ...context, world });
  }
  const overrides = await planOverrides(options, {
    ...context,
    flags: { ...context.flags, units: undefined },
  });
  const flag = overrides[0]?.flag;
  if (flag !== undefined)
    throw new UsageError(
      `${flag} changes the plan, and what comes through the pipe is solved already; give it to \`solve\`, or name the plan file here`,
    );
  const { units } = context.flags;
  return ok(units ? { ...piped.value, units } : piped.value);
}

/** A plan in JSON has one of these, what `solve` prints has none. */
const PLAN_KEYS = ["target", "recipe", "bed"];

const ALONE = "run the command before the pipe by itself to see what it says";

/** The plan in what `solve --json` printed; null where the text is not JSON and may be a plan file. */
function readPiped(text: string): Result<Plan | null> {
  const trimmed = text.trim();
  const problem = (code: string, message: string, hint: string) => fail<Plan | null>({ code, message, hint });
  if (trimmed === "")
    return problem(
      "stdin-empty",
      "nothing came in on standard input",
      `the command before the pipe may have failed: ${ALONE}`,
    );
  if (!trimmed.startsWith("{")) return ok(null);
  let value: unknown;
  try {
    value = JSON.parse(trimmed);
  } catch {
    // A plan may be written in braces too, but then without quotes round its keys.
    if (!/^\{\s*"/.test(trimmed)) return ok(null);
    return problem(
      "stdin-json",
      "standard input is not whole JSON: it breaks off or is not what `solve --json` prints",
      `the command before the pipe may have been stopped: ${ALONE}`,
    );
  }
  const solution = value as { schema?: unknown; inputs?: unknown };
  const keys = Object.keys(solution);
  if (PLAN_KEYS.some((key) => keys.includes(key))) return ok(null);
  if (solution.schema !== "barrowmix.solution/1")
    return problem(
      "stdin-schema",
      solution.schema === undefined
        ? "standard input is JSON, but neither a plan nor what `solve --json` prints"
        : `standard input is JSON of another kind: schema ${JSON.stringify(solution.schema)}`,
      "`shop -` goes on from `barrowmix solve --json` (schema barrowmix.solution/1)",
    );
  if (!isPlan(solution.inputs))
    return problem(
      "stdin-inputs",
      "the solution on standard input does not carry its plan whole (`inputs`)",
      "use the JSON of `barrowmix solve --json` as it is printed",
    );
  return ok(solution.inputs);
}

/** Whether a value has the shape of a checked plan, as far as buying relies on it. */
function isPlan(value: unknown): value is Plan {
  const isRecord = (x: unknown): x is Record<string, unknown> =>
    typeof x === "object" && x !== null && !Array.isArray(x);
  const isList = (x: unknown, each: (item: Record<string, unknown>) => boolean): boolean =>
    Array.isArray(x) && x.every((item) => isRecord(item) && each(item));
  const isNumber = (x: unknown): x is number => typeof x === "number" && Number.isFinite(x);
  if (!isRecord(value)) return false;
  return (
    typeof value.name === "string" &&
    typeof value.currency === "string" &&
    (value.units === "us" || value.units === "metric") &&
    (value.blend === "one" || value.blend === "each") &&
    isNumber(value.seasonDays) &&
    isNumber(value.scaleKg) &&
    isRecord(value.bed) &&
    isList(
      value.amendments,
      (a) =>
        typeof a.id === "string" &&
        typeof a.name === "string" &&
        isNumber(a.stockKg) &&
        isRecord(a.analysis) &&
        isRecord(a.release) &&
        isRecord(a.release.byNutrient) &&
        isRecord(a.release.other) &&
        isList(a.packs, (p) => isNumber(p.sizeKg) && p.sizeKg > 0 && isNumber(p.price)),
    ) &&
    isList(value.demands, (d) => typeof d.nutrient === "string" && isNumber(d.minKg)) &&
    isList(value.applications, (a) => typeof a.name === "string" && isNumber(a.day) && isNumber(a.share)) &&
    (value.applications as unknown[]).length > 0 &&
    isList(value.limits, (l) => typeof l.id === "string" && Array.isArray(l.notIn)) &&
    isList(value.suppliers, (s) => typeof s.id === "string" && isNumber(s.delivery)) &&
    isList(value.credits, (c) => isNumber(c.day) && isRecord(c.contentKg) && isRecord(c.release)) &&
    isList(value.leftOut, (l) => typeof l.id === "string") &&
    isList(value.warnings, (w) => typeof w.text === "string")
  );
}
