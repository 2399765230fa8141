/**
 * The command line: which commands there are, the flags they share, and where their output goes.
 *
 * `main` takes its arguments and its world and gives the exit code; it never touches the process. Each command is a
 * file of its own in `commands/`, loaded only when it is asked for.
 */
import { extname, resolve } from "node:path";
import { Command as Commander, CommanderError, Option } from "commander";
import {
  COMMON_FORMATS,
  type Command,
  type CommandEntry,
  type CommandOutput,
  EXIT,
  type ExitCode,
  exitCodeOf,
  type Format,
  failureOf,
  type GlobalFlags,
  messageOf,
  type Options,
  oneOf,
  problemsJson,
  SHARED_FLAGS,
  UsageError,
} from "./commands/command.ts";
import { filesOf, flagName } from "./commands/plan-options.ts";
import { BARE_FORMATS, HUMAN_FORMATS, RENDERERS, renderJson, renderLine } from "./commands/render.ts";
import { type PendingFile, sparing, type World } from "./commands/world.ts";
import { plainLines, plainText } from "./plain-text.ts";
import { BadInput, formatProblems } from "./problem.ts";
import { listed } from "./words/numbers.ts";

/** The commands, in the order and under the headings of help. A new one is a line here and a file in `commands/`. */
const GROUPS: Readonly<Record<string, Readonly<Record<string, readonly [string, CommandEntry["load"]]>>>> = {
  "Find a mix:": {
    solve: ["what to buy, mix and give for a plan, at least cost", () => import("./commands/solve.ts")],
    whatif: ["compare a plan with itself under changes", () => import("./commands/whatif.ts")],
    sweep: ["follow cost and mix along a price, a need or a cap", () => import("./commands/sweep.ts")],
    assay: ["analyse the mix you make today", () => import("./commands/assay.ts")],
  },
  "Buy:": {
    shop: ["the same answer as a list for the store", () => import("./commands/shop.ts")],
  },
  "In the shed and the field:": {
    card: ["the same answer as a sheet for the shed wall", () => import("./commands/card.ts")],
    now: ["where a season is, and the cheapest rest of it", () => import("./commands/now.ts")],
    log: ["add a line to a season: what was spread, bought, measured", () => import("./commands/log.ts")],
    record: ["what was spread, where, when, by whom, from which lot", () => import("./commands/record.ts")],
  },
  "Files and what ships:": {
    init: ["write starter files to edit", () => import("./commands/init.ts")],
    check: ["check files and solve nothing", () => import("./commands/check.ts")],
    list: ["show what ships with the program", () => import("./commands/list.ts")],
    schema: ["print the JSON Schema of a kind of file", () => import("./commands/schema.ts")],
  },
  "Help:": {
    completion: ["print a script with which your shell completes", () => import("./commands/completion.ts")],
  },
};

export const COMMANDS: readonly CommandEntry[] = Object.entries(GROUPS).flatMap(([group, commands]) =>
  Object.entries(commands).map(([name, [describe, load]]) => ({ name, describe, group, load })),
);

const EXAMPLES = [
  "",
  "Examples:",
  '  barrowmix init garden --recipe pepper --area "1500 sq ft" --plants 240 --yes',
  "  barrowmix solve garden/plan.yaml",
  "  barrowmix shop garden/plan.yaml --format list",
  "  barrowmix card garden/plan.yaml --out card.html",
  "",
  "Exit codes: 0 done; 1 a fault of the program; 2 bad input or usage; 3 no mix",
  "fits; 4 an answer that could not be verified.",
].join("\n");

const ENDINGS: Readonly<Record<string, Format>> = {
  json: "json",
  ndjson: "ndjson",
  csv: "csv",
  md: "md",
  html: "html",
  htm: "html",
  txt: "table",
};

const WIDEST = 80;
const NARROWEST = 60;

/**
 * Runs the command line.
 * @param argv what the user typed after the program's name.
 * @returns the exit code: 0 done, 1 unexpected, 2 bad input or usage, 3 no feasible mix, 4 not verified.
 */
export async function main(argv: readonly string[], world: World): Promise<ExitCode> {
  try {
    return await run(argv, world);
  } catch (error) {
    return report(error, argv, world);
  }
}

/** Whether a call asks for JSON, as far as can be told where it went wrong. */
function asksForJson(argv: readonly string[]): boolean {
  return argv.some(
    (arg, k) => arg === "--json" || arg === "--format=json" || (arg === "json" && argv[k - 1] === "--format"),
  );
}

function report(error: unknown, argv: readonly string[], world: World): ExitCode {
  // Whoever read our output has seen enough.
  if (hasCode(error, "EPIPE")) return EXIT.done;
  const say = (text: string) => {
    try {
      world.stderr.write(text);
    } catch {
      // There is nobody left to tell.
    }
  };
  const problems = error instanceof BadInput ? error.problems : null;
  if (asksForJson(argv)) {
    const code = { 1: "unexpected", 4: "unverified" }[exitCodeOf(error) as number] ?? "usage";
    const failure = failureOf(problemsJson(problems ?? [{ code, message: messageOf(error) }]));
    try {
      world.stdout.write(renderJson(failure));
    } catch {
      // There is nobody left to tell.
    }
  }
  if (problems) {
    say(formatProblems(problems));
    return EXIT.badInput;
  }
  if (hasCode(error, "ENOSPC")) {
    say("barrowmix: the disk is full; the output is not complete.\n");
    return EXIT.unexpected;
  }
  const exitCode = exitCodeOf(error);
  const message = messageOf(error);
  say(`barrowmix: ${exitCode === EXIT.unexpected ? "the program failed: " : ""}${plainText(message)}\n`);
  if (exitCode !== EXIT.unexpected) return exitCode;
  if (world.env.BARROWMIX_DEBUG === "1") say(`${error instanceof Error ? error.stack : message}\n`);
  else say("This is a fault of the program. BARROWMIX_DEBUG=1 shows where it happened.\n");
  return exitCode;
}

function hasCode(error: unknown, code: string): boolean {
  return error instanceof Error && "code" in error && error.code === code;
}

const GONE: Readonly<Record<string, string>> = {
  topup:
    "`barrowmix now plan.yaml --rain ... --on ...` says what a rain took and what is cheapest from there",
  prices:
    "price lists are read, and nothing is written into your files; name them in the plan, `prices: [list.csv]`, or beside a command, `barrowmix shop plan.yaml --prices list.csv`",
  "--bought": "every answer is by purchase now; leave it out",
  "--also": "name the further plans beside the first: `barrowmix solve a.yaml b.yaml`",
  "--best-split": "with `blend: each` every round has its own mix, which costs least",
  "--without": "write --exclude",
};

/** @throws UsageError for a command or flag that is gone, with what takes its place. */
function refuseGone(argv: readonly string[]): void {
  const [command] = argv.filter((arg) => !arg.startsWith("-"));
  const flag = argv
    .map((arg) => arg.split("=", 1)[0]!)
    .find((arg) => arg.startsWith("--") && Object.hasOwn(GONE, arg));
  const gone = command !== undefined && Object.hasOwn(GONE, command) ? command : flag;
  if (gone !== undefined) throw new UsageError(`${gone} is gone: ${GONE[gone]}`);
}

async function run(argv: readonly string[], world: World): Promise<ExitCode> {
  refuseGone(argv);
  let exitCode: ExitCode = EXIT.done;
  const program = shell(argv, world);
  for (const { name, describe, group, load } of COMMANDS) {
    const sub = program.command(name).description(describe).helpGroup(group);
    // Only a command that is named is loaded, perhaps for its help; a file of the same name does no harm.
    if (!argv.includes(name)) continue;
    const { command } = await load();
    declare(sub, command);
    sub.showHelpAfterError(`\`barrowmix ${name} --help\` shows what it takes.`);
    sub.action(async () => {
      exitCode = await perform(name, command, sub.processedArgs, sub.optsWithGlobals(), world, argv);
    });
  }
  try {
    await program.parseAsync([...argv], { from: "user" });
  } catch (error) {
    if (!(error instanceof CommanderError)) throw error;
    return error.exitCode === 0 ? EXIT.done : EXIT.badInput;
  }
  return exitCode;
}

function shell(argv: readonly string[], world: World): Commander {
  /** Says of a missing argument what it may be, as help does. */
  const lacking = (text: string): string | null => {
    const name = /^error: missing required argument '([\w-]+)'/.exec(text)?.[1];
    const command = program.commands.find((one) => argv.includes(one.name()));
    const argument = command?.registeredArguments.find((one) => one.name() === name);
    return argument ? `${command!.name()} needs <${name}>: ${argument.description}\n` : null;
  };
  const asksForVersion = argv.includes("--version") || argv.includes("-V");
  const program = new Commander("barrowmix");
  program
    .description("Least-cost blends of dry fertilizer: what to buy, what to weigh, what each plant gets.")
    .exitOverride()
    .configureOutput({
      writeOut: (text) => world.stdout.write(text),
      writeErr: (text) => world.stderr.write(text),
      outputError: (text, write) =>
        write(`barrowmix: ${plainLines(lacking(text) ?? text).replace(/^error: /, "")}`),
      getOutHelpWidth: () => WIDEST,
      getErrHelpWidth: () => WIDEST,
      getOutHasColors: () => false,
      getErrHasColors: () => false,
    })
    .configureHelp({
      showGlobalOptions: true,
      styleTitle: (title) => (title === "Global Options:" ? "Output:" : title),
    })
    .addHelpCommand(
      new Commander("help")
        .argument("[command]")
        .description("print the help of a command")
        .helpGroup("Help:"),
    )
    .addHelpText("after", EXAMPLES)
    .showHelpAfterError("`barrowmix --help` shows what there is.");
  for (const [written, about] of SHARED_FLAGS) {
    const option = new Option(written, about);
    if (option.long === "--help") program.helpOption(written, about);
    else program.addOption(option.long === "--units" ? option.choices(["us", "metric"]) : option);
    if (takesOneValue(option)) takeOnce(option);
  }
  return program.version(asksForVersion ? version(world) : "", "-V, --version", "print the version");
}

function declare(sub: Commander, command: Command): void {
  for (const [written, about] of command.arguments) sub.argument(written, about);
  const groups = Object.entries({ "Options:": command.flags ?? [], ...command.groups });
  const own = groups.flatMap(([, flags]) => flags.map(([written]) => flagName(written)));
  // A name that is a flag itself stays one.
  const aliases = Object.entries(command.aliases ?? {}).filter(([alias]) => !own.includes(`--${alias}`));
  for (const [heading, flags] of groups)
    for (const [written, about, repeated] of flags) {
      const flag = new Option(written, about).helpGroup(heading);
      const others = aliases
        .filter(([, name]) => name === flag.name())
        .map(([alias]) => otherName(flag, alias));
      if (repeated)
        for (const option of [flag, ...others])
          option.argParser((value, before: readonly string[] = []) => [...before, value]);
      else if (takesOneValue(flag)) takeOnce(flag, ...others);
      for (const option of [flag, ...others]) sub.addOption(option);
    }
  if (command.notes) sub.addHelpText("after", ["", ...command.notes].join("\n"));
}

/** A name that is taken in place of a flag's own, and not shown. */
function otherName(flag: Option, name: string): Option {
  const other = new Option(flag.flags.replace(flag.long!, `--${name}`)).hideHelp();
  other.attributeName = () => flag.attributeName();
  return other;
}

function takesOneValue({ required, optional, variadic }: Option): boolean {
  return (required || optional) && !variadic;
}

/** A flag that is given again, perhaps by another of its names, would drop its first value: it is refused. */
function takeOnce(flag: Option, ...others: readonly Option[]): void {
  let given: Option | undefined;
  for (const option of [flag, ...others]) {
    const { parseArg } = option;
    option.argParser((value: string, before: unknown) => {
      if (given === option) throw new UsageError(`${option.long} is given twice; give it once`);
      const alias = option === flag ? given : option;
      if (given !== undefined) throw new UsageError(`${alias!.long} is ${flag.long}; give it once`);
      given = option;
      return parseArg ? parseArg(value, before) : value;
    });
  }
}

function version(world: World): string {
  const text = world.files.read(resolve(world.packageDir, "package.json"))!;
  return (JSON.parse(text) as { readonly version: string }).version;
}

/** Runs a command and writes what came out of it, once. */
async function perform(
  name: string,
  command: Command,
  args: readonly unknown[],
  options: Options,
  world: World,
  typed: readonly string[],
): Promise<ExitCode> {
  const flags = globalFlags(name, command, options);
  const out = typeof options.out === "string" && options.out !== "-" ? resolve(world.cwd, options.out) : null;
  const file = out === null ? null : world.files.create(out);
  const spared = out === null ? world : sparing(world, out, "--out");
  const context = { world: spared, files: filesOf(spared), flags, typed, commands: COMMANDS };
  const output = await command.run(args, options, context);
  if (flags.format === "ndjson" && output.stream) return stream(output.stream, flags, file, options, world);
  if (file && output.exitCode === EXIT.infeasible && options.keepInfeasible !== true) {
    for (const remark of output.remarks ?? []) world.stderr.write(`${plainText(remark)}\n`);
    world.stderr.write(
      `Nothing was written to ${plainText(String(options.out))}: there is no answer. --keep-infeasible writes why there is none.\n`,
    );
    return output.exitCode;
  }
  await write(output, flags, file, options, world);
  return output.exitCode;
}

/** Writes lines as they come; to a file all of them at the end. */
async function stream(
  lines: NonNullable<CommandOutput["stream"]>,
  { quiet }: GlobalFlags,
  file: PendingFile | null,
  options: Options,
  { stdout, stderr }: World,
): Promise<ExitCode> {
  const kept: string[] = [];
  const exitCode = await lines(
    (line) => {
      const text = renderLine(line);
      if (file) kept.push(text);
      else stdout.write(text);
    },
    (remark) => {
      if (!quiet) stderr.write(`${plainText(remark)}\n`);
    },
  );
  if (!file) return exitCode;
  file.commit(kept.join(""));
  if (!quiet) stderr.write(`Wrote ${plainText(String(options.out))}.\n`);
  return exitCode;
}

async function write(
  output: CommandOutput,
  flags: GlobalFlags,
  file: PendingFile | null,
  options: Options,
  world: World,
): Promise<void> {
  const { stdout, stderr, env } = world;
  const screen = file === null && stdout.isTTY;
  const text = await RENDERERS[flags.format](output, {
    width: Math.max(NARROWEST, Math.min(WIDEST, stdout.columns ?? WIDEST)),
    extent: flags.all ? "whole" : "page",
    ascii: !unicodeTerminal(env),
    colour: screen && options.color !== false && !env.NO_COLOR && env.TERM !== "dumb",
  });
  if (file) file.commit(text);
  else stdout.write(text);
  if (HUMAN_FORMATS.has(flags.format)) stderr.write(formatProblems(output.problems ?? []));
  if (flags.quiet) return;
  if (BARE_FORMATS.has(flags.format))
    for (const remark of output.remarks ?? []) stderr.write(`${plainText(remark)}\n`);
  if (file) stderr.write(`Wrote ${plainText(String(options.out))}.\n`);
}

/** Whether the words that say which letters the terminal shows speak of UTF-8, or nothing says. */
function unicodeTerminal({ LC_ALL, LC_CTYPE, LANG, TERM }: World["env"]): boolean {
  const letters = LC_ALL || LC_CTYPE || LANG;
  return TERM !== "dumb" && (!letters || /utf-?8/i.test(letters));
}

function globalFlags(name: string, command: Command, options: Options): GlobalFlags {
  const formats = [...COMMON_FORMATS, ...(command.formats ?? [])];
  const named = options.format;
  const short = (["json", "ndjson"] as const).filter((flag) => options[flag] === true);
  if (short.length > 1) throw new UsageError("use either --json or --ndjson, not both");
  if (short[0] !== undefined && named !== undefined && named !== short[0])
    throw new UsageError(`use either --${short[0]} or --format ${String(named)}, not both`);
  const usual = typeof command.usual === "function" ? command.usual(options) : command.usual;
  const format = short[0] ?? named ?? formatOfFile(options.out, formats, usual) ?? usual ?? "table";
  return {
    format: oneOf(formats, format, `${name} has no format`),
    units: options.units as GlobalFlags["units"],
    quiet: options.quiet === true,
    all: options.all === true,
  };
}

/**
 * The format that the name of a file asks for; undefined for the screen, and for a name without an ending.
 * @throws UsageError for an ending that no format of the command goes with.
 */
function formatOfFile(
  out: unknown,
  formats: readonly Format[],
  usual: Format | undefined,
): Format | undefined {
  if (typeof out !== "string" || out === "-") return undefined;
  const ending = extname(out).slice(1).toLowerCase();
  // Text that is the command's own, such as a script, may have any ending.
  if (ending === "" || (usual === "text" && !Object.hasOwn(ENDINGS, ending))) return undefined;
  const format = Object.hasOwn(ENDINGS, ending) ? ENDINGS[ending]! : undefined;
  if (format !== undefined && formats.includes(format)) return format;
  const known = Object.keys(ENDINGS).filter((name) => formats.includes(ENDINGS[name]!));
  throw new UsageError(
    `--out ${out}: no format here goes with the ending .${ending}; end it in ${listed(
      known.map((name) => `.${name}`),
      "or",
    )}, or say which with --format`,
  );
}
