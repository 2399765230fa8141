// biome-ignore-all lint/suspicious/noTemplateCurlyInString: the scripts are full of the shell's own ${...}
/** `completion`: scripts with which shells complete commands, flags, files and names of recipes. */
import { NUTRIENTS } from "../nutrients.ts";
import { listed } from "../words/numbers.ts";
import {
  COMMON_FORMATS,
  type Command,
  type CommandOutput,
  type Context,
  flagsOf,
  oneOf,
  outputForPrograms,
  SHARED_FLAGS,
} from "./command.ts";
import { shippedAmendments, shippedNames } from "./shipped.ts";

export const SHELLS = ["bash", "zsh", "fish"] as const;
type Shell = (typeof SHELLS)[number];

const HOW: Readonly<Record<Shell, string>> = {
  bash: "source <(barrowmix completion bash)",
  zsh: "source <(barrowmix completion zsh)",
  fish: "barrowmix completion fish | source",
};

export const command: Command = {
  formats: ["text"],
  usual: "text",
  choices: SHELLS,
  arguments: [["<shell>", listed(SHELLS, "or")]],
  notes: [
    "To try it, and to keep it put the line into the file your shell starts with:",
    ...SHELLS.map((shell) => `  ${HOW[shell]}`),
  ],

  async run([shell], _options, context): Promise<CommandOutput> {
    const known = oneOf(SHELLS, shell, "there is no script for");
    const script = SCRIPTS[known](await grammarOf(context));
    const json = { schema: "barrowmix.completion/1", shell: known, script };
    const use = `It is made for the shell: ${HOW[known]}`;
    return outputForPrograms(json, script, `Completion for ${known}`, use);
  },
};

/** What may follow a flag or be an argument: one of some words, several with commas, a file, or what nobody can tell. */
type Values = readonly string[] | { readonly several: readonly string[] } | "file" | "anything";

interface CommandOf {
  readonly name: string;
  readonly about: string;
  readonly flags: readonly {
    /** With its hyphens. */
    readonly name: string;
    /** Its short form, where it has one: `-o`. */
    readonly short?: string | undefined;
    readonly about: string;
    /** Null where it takes no value. */
    readonly values: Values | null;
  }[];
  /** What its arguments may be. */
  readonly values: Values;
}

/** Everything that can be completed. */
async function grammarOf(context: Context): Promise<readonly CommandOf[]> {
  const crops = shippedNames(context, "crops");
  const ids = (await shippedAmendments(context)).map((amendment) => amendment.id);
  const known: Readonly<Record<string, Values>> = {
    "--recipe": crops,
    "--units": ["us", "metric"],
    "--blend": ["one", "each"],
    "--require": ["organic-listed"],
    "--by": ["weight", "purchase"],
    "--decimal": ["point", "comma"],
    "<file>": "file",
    "<plan>": "file",
    "<list>": "file",
    "<lists...>": "file",
    "<id>": ids,
    "<ids>": { several: ids },
    "<nutrient>": NUTRIENTS,
    "<nutrients>": { several: NUTRIENTS },
  };
  const commands: CommandOf[] = [];
  for (const { name, describe, load } of context.commands) {
    const { command } = await load();
    const formats = [...COMMON_FORMATS, ...(command.formats ?? [])];
    const flags = [...flagsOf(command), ...SHARED_FLAGS].map(([written, about]) => {
      const [, short, flag = "", value] = /^(?:(-\w), )?(--[\w-]+)(?: (.+))?$/.exec(written)!;
      const values = flag === "--format" ? formats : (known[flag] ?? known[value ?? ""] ?? "anything");
      return { name: flag, short, about, values: value === undefined ? null : values };
    });
    const values = command.choices ?? (command.arguments.length > 0 ? "file" : "anything");
    commands.push({ name, about: describe, flags, values });
  }
  const names = commands.map(({ name }) => name);
  return [...commands, { name: "help", about: "print the help of a command", flags: [], values: names }];
}

/** `command flag` patterns of all flags that take the same values. */
function byValues(
  commands: readonly CommandOf[],
): readonly { readonly patterns: readonly string[]; readonly values: Values }[] {
  const groups = new Map<string, { patterns: string[]; values: Values }>();
  for (const { name, flags } of commands)
    for (const flag of flags) {
      if (flag.values === null) continue;
      const key = JSON.stringify(flag.values);
      const group = groups.get(key) ?? { patterns: [], values: flag.values };
      group.patterns.push(`${name} ${flag.name}`, ...(flag.short ? [`${name} ${flag.short}`] : []));
      groups.set(key, group);
    }
  return [...groups.values()];
}

const quoted = (text: string): string => `'${text.replaceAll("'", String.raw`'\''`)}'`;
const fishQuoted = (text: string): string => `'${text.replaceAll("\\", "\\\\").replaceAll("'", "\\'")}'`;

interface Offers {
  readonly file: string;
  readonly anything: string;
  readonly words: (words: string) => string;
  /** Words with commas between them, of which the last is typed. */
  readonly several: (words: string) => string;
}

function offer(values: Values, by: Offers): string {
  if (typeof values === "string") return by[values];
  return "several" in values ? by.several(values.several.join(" ")) : by.words(values.join(" "));
}

/** The branches of a `case` on `command flag`, which bash and zsh write alike. */
function flagBranches(commands: readonly CommandOf[], by: Offers): string[] {
  return byValues(commands).map(
    ({ patterns, values }) =>
      `    ${patterns.map((pattern) => `"${pattern}"`).join("|")}) ${offer(values, by)}; return ;;`,
  );
}

function bash(commands: readonly CommandOf[]): string {
  const by: Offers = {
    file: "_barrowmix_files",
    anything: ":",
    words: (words) => `_barrowmix_words ${quoted(words)}`,
    several: (words) => `_barrowmix_several ${quoted(words)}`,
  };
  return [
    "# bash completion for barrowmix. To load it: source <(barrowmix completion bash)",
    "_barrowmix_words() {",
    "  local IFS=$' \\t\\n'",
    '  COMPREPLY=($(compgen -W "$1" -- "$typed"))',
    "}",
    "_barrowmix_several() {",
    "  local IFS=$' \\t\\n' before=",
    "  if [[ $typed == *,* ]]; then before=${typed%,*},; fi",
    '  COMPREPLY=($(compgen -P "$before" -W "$1" -- "${typed##*,}"))',
    "}",
    "_barrowmix_files() {",
    "  local IFS=$'\\n'",
    "  compopt -o filenames 2>/dev/null",
    '  COMPREPLY=($(compgen -f -- "$typed"))',
    "}",
    "_barrowmix() {",
    "  local command= i typed=${COMP_WORDS[COMP_CWORD]} flag=${COMP_WORDS[COMP_CWORD-1]}",
    "  COMPREPLY=()",
    "  # `--flag=value` comes in three words.",
    "  if [[ $typed == = ]]; then typed=; elif [[ $flag == = ]]; then flag=${COMP_WORDS[COMP_CWORD-2]}; fi",
    "  for ((i = 1; i < COMP_CWORD; i++)); do",
    "    case ${COMP_WORDS[i]} in",
    `      ${commands.map(({ name }) => name).join("|")}) command=\${COMP_WORDS[i]}; break ;;`,
    "    esac",
    "  done",
    '  case "$command $flag" in',
    ...flagBranches(commands, by),
    "  esac",
    "  if [[ $typed == -* ]]; then",
    "    case $command in",
    ...commands.map(
      ({ name, flags }) => `      ${name}) _barrowmix_words ${quoted(flags.map((f) => f.name).join(" "))} ;;`,
    ),
    `      *) _barrowmix_words '--help --version' ;;`,
    "    esac",
    "    return",
    "  fi",
    "  case $command in",
    `    "") _barrowmix_words ${quoted(commands.map(({ name }) => name).join(" "))} ;;`,
    ...commands.map(({ name, values }) => `    ${name}) ${offer(values, by)} ;;`),
    "  esac",
    "}",
    "complete -F _barrowmix barrowmix",
    "",
  ].join("\n");
}

function zsh(commands: readonly CommandOf[]): string {
  const by: Offers = {
    file: "_files",
    anything: "_message value",
    words: (words) => `compadd -- ${words}`,
    several: (words) => `compset -P '*,'; compadd -- ${words}`,
  };
  const described = (name: string, about: string): string =>
    quoted(`${name.replaceAll(":", "\\:")}:${about}`);
  return [
    "#compdef barrowmix",
    "# zsh completion for barrowmix. To load it: source <(barrowmix completion zsh)",
    "_barrowmix() {",
    "  local -a commands flags",
    "  local command= flag=${words[CURRENT-1]} i",
    "  # `--flag=value` comes in one word.",
    "  if [[ ${words[CURRENT]} == --*=* ]]; then flag=${words[CURRENT]%%=*}; compset -P 1 '*='; fi",
    "  commands=(",
    ...commands.map(({ name, about }) => `    ${described(name, about)}`),
    "  )",
    "  for ((i = 2; i < CURRENT; i++)); do",
    "    case ${words[i]} in",
    `      ${commands.map(({ name }) => name).join("|")}) command=\${words[i]}; break ;;`,
    "    esac",
    "  done",
    '  case "$command $flag" in',
    ...flagBranches(commands, by),
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
    ...commands.map(({ name, values }) => `    ${name}) ${offer(values, by)} ;;`),
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

function fish(commands: readonly CommandOf[]): string {
  const list = (words: string): string => `-a ${fishQuoted(words)}`;
  const several = (words: string): string => `-a ${fishQuoted(`(__barrowmix_several ${words})`)}`;
  const ofFlag: Offers = {
    file: " -r -F",
    anything: " -x",
    words: (words) => ` -x ${list(words)}`,
    several: (words) => ` -x ${several(words)}`,
  };
  const line = (condition: string, rest: string): string =>
    `complete -c barrowmix -n ${fishQuoted(condition)} ${rest}`;
  const none = `not __fish_seen_subcommand_from ${commands.map(({ name }) => name).join(" ")}`;
  return [
    "# fish completion for barrowmix. To load it: barrowmix completion fish | source",
    "function __barrowmix_several",
    "  set -l typed (string replace -r '^--[^=]*=' '' -- (commandline -ct))",
    "  set -l before (string replace -r '[^,]*$' '' -- $typed)",
    "  printf '%s\\n' \"$before\"$argv",
    "end",
    "complete -c barrowmix -f",
    ...commands.map(({ name, about }) => line(none, `-a ${name} -d ${fishQuoted(about)}`)),
    line(none, `-l help -d ${fishQuoted("print the help")}`),
    line(none, `-s V -l version -d ${fishQuoted("print the version")}`),
    ...commands.flatMap(({ name, flags, values }) => {
      const after = `__fish_seen_subcommand_from ${name}`;
      return [
        ...(values === "anything"
          ? []
          : [line(after, offer(values, { file: "-F", anything: "", words: list, several }))]),
        ...flags.map((flag) => {
          const taken = flag.values === null ? "" : offer(flag.values, ofFlag);
          const short = flag.short ? `-s ${flag.short.slice(1)} ` : "";
          return line(after, `${short}-l ${flag.name.slice(2)}${taken} -d ${fishQuoted(flag.about)}`);
        }),
      ];
    }),
    "",
  ].join("\n");
}

const SCRIPTS: Readonly<Record<Shell, (commands: readonly CommandOf[]) => string>> = { bash, zsh, fish };
