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
  FORMATS,
  type Format,
  type GlobalFlags,
  type Options,
  repeated,
  UsageError,
} from "./commands/command.ts";
import { camelCase, filesOf } from "./commands/plan-options.ts";
import { BARE_FORMATS, HUMAN_FORMATS, RENDERERS } from "./commands/render.ts";
import {
  FileError,
  type PendingFile,
  type Share,
  type ShareDone,
  sparing,
  type World,
} from "./commands/world.ts";
import { plainLines, plainText } from "./plain-text.ts";
import { formatProblems, guess, UnreadableInput } from "./problem.ts";
import { listed } from "./words/numbers.ts";

/** What a grower wants to do; help lists the commands under these. */
const GROUPS = {
  mix: "Find a mix:",
  buy: "Buy:",
  field: "In the shed and the field:",
  files: "Files and what ships:",
  help: "Help:",
} as const;

/** The commands, in the order that help lists them. A new one is one line here and one file in `commands/`. */
export const COMMANDS: readonly CommandEntry[] = [
  entry("mix", "solve", "find the least-cost mix for a plan", () => import("./commands/solve.ts")),
  entry("mix", "whatif", "compare a plan with itself under changes", () => import("./commands/whatif.ts")),
  entry(
    "mix",
    "sweep",
    "follow cost and mix along a price, a need or a cap",
    () => import("./commands/sweep.ts"),
  ),
  entry("mix", "assay", "analyse the mix you make today", () => import("./commands/assay.ts")),
  entry("buy", "shop", "choose the whole packs to buy for a plan", () => import("./commands/shop.ts")),
  entry("buy", "prices", "put a price list into an amendments file", () => import("./commands/prices.ts")),
  entry(
    "field",
    "card",
    "a batch card to print: what to weigh, tick and give",
    () => import("./commands/card.ts"),
  ),
  entry(
    "field",
    "topup",
    "what heavy rain may have taken, and what would replace it",
    () => import("./commands/topup.ts"),
  ),
  entry("files", "init", "write starter files to edit", () => import("./commands/init.ts")),
  entry("files", "check", "check files and solve nothing", () => import("./commands/check.ts")),
  entry("files", "list", "show what ships with the program", () => import("./commands/list.ts")),
  entry("files", "schema", "print the JSON Schema of a kind of file", () => import("./commands/schema.ts")),
  entry(
    "help",
    "completion",
    "print a script with which your shell completes",
    () => import("./commands/completion.ts"),
  ),
];

function entry(
  group: keyof typeof GROUPS,
  name: string,
  describe: string,
  load: CommandEntry["load"],
): CommandEntry {
  return { name, describe, group: GROUPS[group], load };
}

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

/** The format that a file's ending says, for `--out`. */
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
    return report(error, world);
  }
}

/** Runs a command on some of its files, in a thread of their own. */
export async function runShare(share: Share, world: World): Promise<ShareDone> {
  const { command } = await COMMANDS.find(({ name }) => name === share.command)!.load();
  const context = { world, files: filesOf(world), flags: share.flags, commands: COMMANDS };
  const result = await command.run([share.files], share.options, context);
  if (!result.ok) throw new Error(formatProblems(result.problems));
  const { exitCode, lineTexts, problems = [], remarks = [] } = result.value;
  if (lineTexts === undefined) throw new Error(`${share.command} gave no lines`);
  return { exitCode, lines: lineTexts, problems, remarks };
}

/** Says what went wrong, in a sentence, and gives the exit code for it. */
function report(error: unknown, world: World): ExitCode {
  // Whoever read our output has seen enough.
  if (hasCode(error, "EPIPE")) return EXIT.done;
  const say = (text: string) => {
    try {
      world.stderr.write(text);
    } catch {
      // There is nobody left to tell.
    }
  };
  if (error instanceof UsageError || error instanceof FileError) {
    say(`barrowmix: ${plainText(error.message)}\n`);
    return EXIT.badInput;
  }
  if (error instanceof UnreadableInput) {
    say(formatProblems([error.problem]));
    return EXIT.badInput;
  }
  if (hasCode(error, "ENOSPC")) {
    say("barrowmix: the disk is full; the output is not complete.\n");
    return EXIT.unexpected;
  }
  const message = error instanceof Error ? error.message : String(error);
  if (error instanceof Error && error.name === "UnverifiedError") {
    say(`barrowmix: ${plainText(message)}\n`);
    return EXIT.unverified;
  }
  say(`barrowmix: the program failed: ${plainText(message)}\n`);
  if (world.env.BARROWMIX_DEBUG === "1") say(`${error instanceof Error ? error.stack : message}\n`);
  else say("This is a fault of the program. BARROWMIX_DEBUG=1 shows where it happened.\n");
  return EXIT.unexpected;
}

function hasCode(error: unknown, code: string): boolean {
  return error instanceof Error && "code" in error && error.code === code;
}

async function run(argv: readonly string[], world: World): Promise<ExitCode> {
  let exitCode: ExitCode = EXIT.done;
  const program = shell(argv, world);
  for (const { name, describe, group, load } of COMMANDS) {
    const sub = program.command(name).description(describe).helpGroup(group);
    // Only a command that is named is loaded, perhaps for its help; a file of the same name does no harm.
    if (!argv.includes(name)) continue;
    const { command } = await load();
    command.configure(sub);
    const aliases = addAliases(sub, command.aliases ?? {});
    refuseRepeats([...program.options, ...sub.options]);
    sub.showHelpAfterError(`\`barrowmix ${name} --help\` shows what it takes.`);
    sub.action(async (...called: unknown[]) => {
      // Commander passes the arguments, then the options, then the command itself.
      const options = withoutAliases(sub.optsWithGlobals(), aliases);
      exitCode = await perform(command, called.slice(0, -2), options, world);
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

/** The program with the flags that every command has. */
function shell(argv: readonly string[], world: World): Commander {
  /** Says of a missing argument what it may be, as help does. */
  const lacking = (text: string): string | null => {
    const name = /^error: missing required argument '([\w-]+)'/.exec(text)?.[1];
    const command = program.commands.find((one) => argv.includes(one.name()));
    const argument = command?.registeredArguments.find((one) => one.name() === name);
    return argument ? `${command!.name()} needs <${name}>: ${argument.description}\n` : null;
  };
  const program = new Commander("barrowmix");
  return program
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
    .option("--json", "the same as --format json")
    .addOption(new Option("--format <name>", `how to print: ${listed(COMMON_FORMATS, "or")}`))
    .option("--out <file>", "write to a file, whole or not at all; - is the screen")
    .addOption(new Option("--units <system>", "us or metric").choices(["us", "metric"]))
    .option("--all", "print everything, not only what fits one screen")
    .option("--no-color", "print plain text")
    .option("--quiet", "print no remarks")
    .version(argv.includes("--version") ? version(world) : "", "--version", "print the version")
    .helpOption("-h, --help", "print this help")
    .addHelpCommand(
      new Commander("help")
        .argument("[command]")
        .description("print the help of a command")
        .helpGroup(GROUPS.help),
    )
    .addHelpText("after", EXAMPLES)
    .showHelpAfterError("`barrowmix --help` shows what there is.");
}

/** Adds the names that are taken in place of a flag's own, hidden from help; a name that is a flag itself stays one. */
function addAliases(
  sub: Commander,
  aliases: Readonly<Record<string, string>>,
): readonly (readonly [alias: string, name: string])[] {
  const added: [string, string][] = [];
  for (const [alias, name] of Object.entries(aliases)) {
    const meant = sub.options.find((option) => option.long === `--${name}`);
    if (meant === undefined || sub.options.some((option) => option.long === `--${alias}`)) continue;
    const takes = meant.required ? " <value>" : meant.optional ? " [value]" : "";
    const hidden = new Option(`--${alias}${takes}`).hideHelp();
    if (meant.parseArg) hidden.argParser(meant.parseArg);
    sub.addOption(hidden);
    added.push([alias, name]);
  }
  return added;
}

/** Values under their flags' own names. */
function withoutAliases(
  options: Options,
  aliases: readonly (readonly [alias: string, name: string])[],
): Options {
  const named: Record<string, unknown> = { ...options };
  for (const [alias, name] of aliases) {
    const value = named[camelCase(alias)];
    const own = named[camelCase(name)];
    if (value === undefined) continue;
    if (own === undefined) named[camelCase(name)] = value;
    else if (Array.isArray(value) && Array.isArray(own)) named[camelCase(name)] = [...own, ...value];
    else throw new UsageError(`--${alias} is --${name}; give it once`);
  }
  return named;
}

/** A flag that is not made to be repeated, and is, would drop its first value: it is refused. */
function refuseRepeats(options: readonly Option[]): void {
  for (const option of options) {
    const { parseArg } = option;
    if (!(option.required || option.optional) || option.variadic || parseArg === repeated) continue;
    let given = false;
    option.argParser((value: string, previous: unknown) => {
      if (given) throw new UsageError(`${option.long} is given twice; give it once`);
      given = true;
      return parseArg ? parseArg(value, previous) : value;
    });
  }
}

/** The version that is in `package.json`. */
function version(world: World): string {
  const text = world.files.read(resolve(world.packageDir, "package.json"));
  const found: unknown = text === null ? null : JSON.parse(text);
  return typeof found === "object" && found !== null && "version" in found
    ? String(found.version)
    : "unknown";
}

/** Runs a command and writes what came out of it, once. */
async function perform(
  command: Command,
  args: readonly unknown[],
  options: Options,
  world: World,
): Promise<ExitCode> {
  const flags = globalFlags(command, options);
  const out = typeof options.out === "string" && options.out !== "-" ? resolve(world.cwd, options.out) : null;
  const file = out === null ? null : world.files.create(out);
  const spared = readingOnce(out === null ? world : sparing(world, out, "--out"));
  const context = { world: spared, files: filesOf(spared), flags, commands: COMMANDS };
  const result = await command.run(args, options, context);
  if (!result.ok) {
    world.stderr.write(formatProblems(result.problems));
    return EXIT.badInput;
  }
  const output = result.value;
  await write(output, flags, file, options, world);
  return output.exitCode;
}

/** The world, in which standard input gives the same text to all that ask. */
function readingOnce(world: World): World {
  const { stdin } = world;
  let text: string | undefined;
  return {
    ...world,
    stdin: {
      get isTTY() {
        return stdin.isTTY;
      },
      read: () => {
        text ??= stdin.read();
        return text;
      },
    },
  };
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

function globalFlags(command: Command, options: Options): GlobalFlags {
  const formats = [...COMMON_FORMATS, ...(command.formats ?? [])];
  const named = options.format;
  const short = (["json", "ndjson"] as const).filter((name) => options[name] === true);
  if (short.length > 1) throw new UsageError("use either --json or --ndjson, not both");
  if (short[0] !== undefined && named !== undefined && named !== short[0])
    throw new UsageError(`use either --${short[0]} or --format ${String(named)}, not both`);
  const usual = typeof command.usual === "function" ? command.usual(options) : command.usual;
  const format = short[0] ?? named ?? formatOfFile(options.out, formats, usual) ?? usual ?? "table";
  const known = FORMATS.find((name) => name === format);
  if (known === undefined || !formats.includes(known))
    throw new UsageError(
      `${command.name} has no format \`${String(format)}\`; ${guess(String(format), formats, `there are ${listed(formats)}`)}`,
    );
  return {
    format: known,
    units: options.units === "us" || options.units === "metric" ? options.units : undefined,
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
