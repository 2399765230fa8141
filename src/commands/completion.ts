// biome-ignore-all lint/suspicious/noTemplateCurlyInString: the scripts are full of the shell's own ${...}
/** `completion`: scripts with which shells complete commands, flags, files and names of recipes. */
import { guess, ok, type Result } from "../problem.ts";
import { paragraph, type Report } from "../report/report.ts";
import { listed } from "../words/numbers.ts";
import {
  COMMON_FORMATS,
  type Command,
  type CommandOutput,
  type Context,
  EXIT,
  UsageError,
} from "./command.ts";
import { recorded } from "./recorded.ts";
import { shippedAmendments, shippedNames } from "./shipped.ts";

export const SHELLS = ["bash", "zsh", "fish"] as const;
type Shell = (typeof SHELLS)[number];

const HOW: Readonly<Record<Shell, string>> = {
  bash: "source <(barrowmix completion bash)",
  zsh: "source <(barrowmix completion zsh)",
  fish: "barrowmix completion fish | source",
};

export const command: Command = {
  name: "completion",
  describe: "print a script with which your shell completes",
  formats: ["text"],
  usual: "text",
  choices: SHELLS,

  configure(command) {
    command.argument("<shell>", listed(SHELLS, "or"));
    command.addHelpText(
      "after",
      [
        "",
        "To try it, and to keep it put the line into the file your shell starts with:",
        ...SHELLS.map((shell) => `  ${HOW[shell]}`),
      ].join("\n"),
    );
  },

  async run([shell], _options, context): Promise<Result<CommandOutput>> {
    const known = SHELLS.find((name) => name === shell);
    if (known === undefined)
      throw new UsageError(
        `there is no script for \`${String(shell)}\`; ${guess(String(shell), SHELLS, `there are ${listed(SHELLS)}`)}`,
      );
    const grammar = await grammarOf(context);
    const script = SCRIPTS[known](grammar);
    return ok({
      exitCode: EXIT.done,
      json: { schema: "barrowmix.completion/1", shell: known, script },
      text: () => script,
      report: (): Report => ({
        title: `Completion for ${known}`,
        summary: [paragraph(`It is made for the shell: ${HOW[known]}`)],
        sections: [],
        csv: { columns: [], rows: [] },
      }),
    });
  },
};

/** What may follow a flag or be an argument. */
type Values =
  | { readonly kind: "none" }
  | { readonly kind: "files" }
  | { readonly kind: "words"; readonly words: readonly string[] };

interface FlagOf {
  /** With its hyphens. */
  readonly name: string;
  readonly about: string;
  /** Null where it takes no value. */
  readonly values: Values | null;
}

interface CommandOf {
  readonly name: string;
  readonly about: string;
  readonly flags: readonly FlagOf[];
  readonly values: Values;
}

/** Everything that can be completed. */
interface Grammar {
  readonly commands: readonly CommandOf[];
}

const FILES: Values = { kind: "files" };
const NONE: Values = { kind: "none" };
const anyOf = (words: readonly string[]): Values => ({ kind: "words", words });

/** The flags that the command line itself adds to every command. */
export const SHARED_FLAGS: readonly (readonly [string, string])[] = [
  ["--json", "print JSON"],
  ["--format <name>", "how to print"],
  ["--out <file>", "write to a file"],
  ["--units <system>", "us or metric"],
  ["--all", "print everything, not only what fits one screen"],
  ["--no-color", "print plain text"],
  ["--quiet", "print no remarks"],
  ["--help", "print the help"],
];

async function grammarOf(context: Context): Promise<Grammar> {
  const crops = shippedNames(context, "crops");
  const ids = (await shippedAmendments(context)).map((amendment) => amendment.id);
  const named: Readonly<Record<string, readonly string[]>> = {
    "--recipe": crops,
    "--crop": crops,
    "--units": ["us", "metric"],
    "--blend": ["one", "each"],
    "--require": ["organic-listed"],
    "--only": ids,
    "--exclude": ids,
    "--without": ids,
  };
  const commands: CommandOf[] = [];
  for (const entry of context.commands) {
    const { command } = await entry.load();
    const flags: FlagOf[] = [];
    const said = recorded((builder) => command.configure(builder));
    const shared = SHARED_FLAGS.map(([written, about]) => ({ written, about }));
    for (const { written, about } of [...said.groups.flatMap((group) => group.flags), ...shared]) {
      // The long name, and what means its value: `--target <file>`.
      const name = /--[a-z-]+/.exec(written)?.[0];
      const value = /[<[]([^>\]]+)[>\]]/.exec(written)?.[1];
      if (name === undefined) continue;
      let values: Values | null = null;
      if (name === "--format") values = anyOf([...COMMON_FORMATS, ...(command.formats ?? [])]);
      else if (value !== undefined)
        values = value.startsWith("file")
          ? FILES
          : value === "ids"
            ? anyOf(ids)
            : named[name] === undefined
              ? NONE
              : anyOf(named[name]);
      flags.push({ name, about, values });
    }
    const values = command.choices ? anyOf(command.choices) : said.arguments.length > 0 ? FILES : NONE;
    commands.push({ name: entry.name, about: entry.describe, flags, values });
  }
  const help: CommandOf = {
    name: "help",
    about: "print the help of a command",
    flags: [],
    values: anyOf(context.commands.map((entry) => entry.name)),
  };
  return { commands: [...commands, help] };
}

/** Flags of all commands, grouped by what may follow them: `command flag` patterns. */
function byValues(
  grammar: Grammar,
): readonly { readonly patterns: readonly string[]; readonly values: Values }[] {
  const groups = new Map<string, { patterns: string[]; values: Values }>();
  for (const { name, flags } of grammar.commands)
    for (const flag of flags) {
      if (flag.values === null) continue;
      const key = JSON.stringify(flag.values);
      const group = groups.get(key) ?? { patterns: [], values: flag.values };
      group.patterns.push(`${name} ${flag.name}`);
      groups.set(key, group);
    }
  return [...groups.values()];
}

/** Text in single quotes for a shell of the Bourne kind. */
const quoted = (text: string): string => `'${text.replaceAll("'", String.raw`'\''`)}'`;
/** Text in single quotes for fish. */
const fishQuoted = (text: string): string => `'${text.replaceAll("\\", "\\\\").replaceAll("'", "\\'")}'`;

function patternsOf(patterns: readonly string[]): string {
  return patterns.map((pattern) => `"${pattern}"`).join("|");
}

function bash({ commands }: Grammar): string {
  const reply = (values: Values): string =>
    values.kind === "files"
      ? "_barrowmix_files"
      : values.kind === "words"
        ? `_barrowmix_words ${quoted(values.words.join(" "))}`
        : ":";
  return [
    "# bash completion for barrowmix. To load it: source <(barrowmix completion bash)",
    "_barrowmix_words() {",
    "  local IFS=$' \\t\\n'",
    '  COMPREPLY=($(compgen -W "$1" -- "${COMP_WORDS[COMP_CWORD]}"))',
    "}",
    "_barrowmix_files() {",
    "  local IFS=$'\\n'",
    "  compopt -o filenames 2>/dev/null",
    '  COMPREPLY=($(compgen -f -- "${COMP_WORDS[COMP_CWORD]}"))',
    "}",
    "_barrowmix() {",
    "  local command= i",
    "  COMPREPLY=()",
    "  for ((i = 1; i < COMP_CWORD; i++)); do",
    "    case ${COMP_WORDS[i]} in",
    `      ${commands.map((c) => c.name).join("|")}) command=\${COMP_WORDS[i]}; break ;;`,
    "    esac",
    "  done",
    '  case "$command ${COMP_WORDS[COMP_CWORD-1]}" in',
    ...byValues({ commands }).map(
      ({ patterns, values }) => `    ${patternsOf(patterns)}) ${reply(values)}; return ;;`,
    ),
    "  esac",
    "  if [[ ${COMP_WORDS[COMP_CWORD]} == -* ]]; then",
    "    case $command in",
    ...commands.map(
      ({ name, flags }) => `      ${name}) _barrowmix_words ${quoted(flags.map((f) => f.name).join(" "))} ;;`,
    ),
    `      *) _barrowmix_words '--help --version' ;;`,
    "    esac",
    "    return",
    "  fi",
    "  case $command in",
    `    "") _barrowmix_words ${quoted(commands.map((c) => c.name).join(" "))} ;;`,
    ...commands.map(({ name, values }) => `    ${name}) ${reply(values)} ;;`),
    "  esac",
    "}",
    "complete -F _barrowmix barrowmix",
    "",
  ].join("\n");
}

function zsh({ commands }: Grammar): string {
  const described = (name: string, about: string): string =>
    quoted(`${name.replaceAll(":", "\\:")}:${about}`);
  const reply = (values: Values): string =>
    values.kind === "files"
      ? "_files"
      : values.kind === "words"
        ? `compadd -- ${values.words.join(" ")}`
        : "_message value";
  return [
    "#compdef barrowmix",
    "# zsh completion for barrowmix. To load it: source <(barrowmix completion zsh)",
    "_barrowmix() {",
    "  local -a commands flags",
    "  local command= i",
    "  commands=(",
    ...commands.map(({ name, about }) => `    ${described(name, about)}`),
    "  )",
    "  for ((i = 2; i < CURRENT; i++)); do",
    "    case ${words[i]} in",
    `      ${commands.map((c) => c.name).join("|")}) command=\${words[i]}; break ;;`,
    "    esac",
    "  done",
    '  case "$command ${words[CURRENT-1]}" in',
    ...byValues({ commands }).map(
      ({ patterns, values }) => `    ${patternsOf(patterns)}) ${reply(values)}; return ;;`,
    ),
    "  esac",
    "  if [[ ${words[CURRENT]} == -* ]]; then",
    "    case $command in",
    ...commands.map(
      ({ name, flags }) =>
        `      ${name}) flags=(${flags.map((f) => described(f.name, f.about)).join(" ")}) ;;`,
    ),
    `      *) flags=('--help:print the help' '--version:print the version') ;;`,
    "    esac",
    "    _describe -o flag flags",
    "    return",
    "  fi",
    "  case $command in",
    "    '') _describe command commands ;;",
    ...commands.map(({ name, values }) => `    ${name}) ${reply(values)} ;;`),
    "  esac",
    "}",
    'if [ "$funcstack[1]" = "_barrowmix" ]; then',
    '  _barrowmix "$@"',
    "else",
    "  compdef _barrowmix barrowmix",
    "fi",
    "",
  ].join("\n");
}

function fish({ commands }: Grammar): string {
  const names = commands.map((c) => c.name).join(" ");
  const none = `not __fish_seen_subcommand_from ${names}`;
  const after = (name: string): string => `__fish_seen_subcommand_from ${name}`;
  const line = (condition: string, rest: string): string =>
    `complete -c barrowmix -n ${fishQuoted(condition)} ${rest}`;
  const valuesOf = (values: Values | null): string =>
    values === null
      ? ""
      : values.kind === "files"
        ? " -r -F"
        : values.kind === "words"
          ? ` -x -a ${fishQuoted(values.words.join(" "))}`
          : " -x";
  return [
    "# fish completion for barrowmix. To load it: barrowmix completion fish | source",
    "complete -c barrowmix -f",
    ...commands.map(({ name, about }) => line(none, `-a ${name} -d ${fishQuoted(about)}`)),
    line(none, `-l help -d ${fishQuoted("print the help")}`),
    line(none, `-l version -d ${fishQuoted("print the version")}`),
    ...commands.flatMap(({ name, flags, values }) => [
      ...(values.kind === "files" ? [line(after(name), "-F")] : []),
      ...(values.kind === "words" ? [line(after(name), `-a ${fishQuoted(values.words.join(" "))}`)] : []),
      ...flags.map((flag) =>
        line(after(name), `-l ${flag.name.slice(2)}${valuesOf(flag.values)} -d ${fishQuoted(flag.about)}`),
      ),
    ]),
    "",
  ].join("\n");
}

const SCRIPTS: Readonly<Record<Shell, (grammar: Grammar) => string>> = { bash, zsh, fish };
