/**
 * Completion scripts, asked as the shells ask them, and typed into the shells themselves. A shell that is not installed is
 * skipped, but never in CI, which installs them all.
 */
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { SHARED_FLAGS } from "../../src/commands/command.ts";
import { SHELLS } from "../../src/commands/completion.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const TIMEOUT = 60_000;
const folder = mkdtempSync(join(tmpdir(), "barrowmix-completion-"));
afterAll(() => rmSync(folder, { recursive: true }));
const inCI = Boolean(process.env.CI);
const has = (shell: string): boolean => inCI || spawnSync(shell, ["-c", "true"]).status === 0;

async function printed(...argv: string[]): Promise<string> {
  const world = testWorld();
  expect(await main(argv, world)).toBe(0);
  return world.written.stdout;
}
const crops = readdirSync(join(ROOT, "recipes/crops")).map((name) => name.replace(".yaml", ""));
let commands: string[] = [];
let topics: string[] = [];

beforeAll(async () => {
  for (const shell of SHELLS)
    writeFileSync(join(folder, `completion.${shell}`), await printed("completion", shell));
  writeFileSync(join(folder, "my plan.yaml"), "");
  writeFileSync(join(folder, "prices.csv"), "");
  const help = await printed("--help");
  const listed = help.slice(help.indexOf("Find a mix:"), help.indexOf("Examples:"));
  commands = [...listed.matchAll(/^ {2}([a-z]+) /gm)].map((m) => m[1]!);
  // As the help of `list` puts it: "amendments, crops, releases or units".
  const argument = /^ {2}what +(.*)$/m.exec(await printed("list", "--help"))![1]!;
  topics = argument.split(/, | or /).sort();
});

/** What bash would offer for the words typed, of which the last is being completed. */
function offered(...words: string[]): string[] {
  const script = `source completion.bash
COMP_WORDS=("$@"); COMP_CWORD=$(($#-1)); _barrowmix
if [ \${#COMPREPLY[@]} -gt 0 ]; then printf '%s\\n' "\${COMPREPLY[@]}"; fi`;
  const out = execFileSync("bash", ["--norc", "-c", script, "bash", "barrowmix", ...words], {
    cwd: folder,
    encoding: "utf8",
  });
  return out.split("\n").filter(Boolean).sort();
}

describe("bash", { timeout: TIMEOUT }, () => {
  it("reads the script without complaint, and ties it to the program", () => {
    const out = spawnSync(
      "bash",
      ["--norc", "-c", "set -eu; source completion.bash; complete -p barrowmix"],
      {
        cwd: folder,
        encoding: "utf8",
      },
    );
    expect(out).toMatchObject({ status: 0, stderr: "", stdout: "complete -F _barrowmix barrowmix\n" });
  });

  it("offers every command that help lists", () => {
    expect(commands.length).toBeGreaterThan(6);
    expect(offered("")).toEqual([...commands].sort());
    expect(offered("so")).toEqual(["solve"]);
    expect(offered("--v")).toEqual(["--version"]);
  });

  it("offers exactly the flags that each command's help shows", async () => {
    for (const command of commands.filter((name) => name !== "help")) {
      const help = await printed(command, "--help");
      const flags = [...help.matchAll(/^ {2}(?:-\w, )?(--[a-z-]+)/gm)].map((m) => m[1]!);
      const shown = flags.filter((flag) => flag !== "--version");
      expect(offered(command, "--"), command).toEqual([...new Set(shown)].sort());
      for (const [flag] of SHARED_FLAGS) expect(shown, command).toContain(/--[\w-]+/.exec(flag)![0]);
    }
  });

  it("offers what a flag or an argument may be", () => {
    expect(offered("solve", "--recipe", "")).toEqual(crops.toSorted());
    expect(offered("solve", "plan.yaml", "--recipe", "pep")).toEqual(["pepper"]);
    expect(offered("solve", "--units", "")).toEqual(["metric", "us"]);
    expect(offered("solve", "--format", "")).toEqual([
      "csv",
      "html",
      "json",
      "list",
      "md",
      "ndjson",
      "table",
    ]);
    expect(offered("solve", "--only", "feather")).toEqual(["feather-meal"]);
    expect(offered("init", "--recipe", "tom")).toEqual(["tomato"]);
    expect(offered("list", "")).toEqual(topics);
    expect(topics).toContain("crops");
    expect(offered("schema", "t")).toEqual(["target"]);
    expect(offered("completion", "")).toEqual([...SHELLS].sort());
    expect(offered("help", "ch")).toEqual(["check"]);
    expect(offered("solve", "--plants", "")).toEqual([]);
  });

  it("offers files, with spaces in their names too", () => {
    expect(offered("solve", "my")).toEqual(["my plan.yaml"]);
    expect(offered("solve", "--target", "my")).toEqual(["my plan.yaml"]);
    expect(offered("solve", "my plan.yaml", "--prices", "pri")).toEqual(["prices.csv"]);
  });

  it("offers files wherever a flag takes one", () => {
    for (const words of [
      ["solve", "--prices"],
      ["solve", "-o"],
      ["solve", "my plan.yaml"],
      ["assay", "mix.yaml", "--against"],
      ["shop", "--also"],
      ["whatif", "plan.yaml", "--compare"],
      ["whatif", "plan.yaml", "--compare", "prices.csv"],
    ])
      expect(offered(...words, "pri"), words.join(" ")).toEqual(["prices.csv"]);
    expect(offered("solve", "--prices", "=", "pri")).toEqual(["prices.csv"]);
    expect(offered("solve", "--recipe", "=")).toEqual(crops.toSorted());
  });

  it("offers the last of several with commas", () => {
    expect(offered("solve", "--only", "greensand,feather")).toEqual(["greensand,feather-meal"]);
    expect(offered("sweep", "--sure", "N,Mg")).toEqual(["N,Mg"]);
    expect(offered("whatif", "--exclude", "a,b,feather")).toEqual(["a,b,feather-meal"]);
  });
});

/** A command line typed into a shell at a terminal, with tab keys in it: what the program is then called with. */
function typed(shell: string, line: string): string[] {
  const script = `zmodload zsh/zpty
zpty shell "$1"
zpty -w shell "cd '$3'; PS1=; PROMPT=; barrowmix() { printf '<%s>\\n' "'"$@"'" DO''NE; }; $4; echo REA''DY"
zpty -r -m shell seen '*READY*'
zpty -w -n shell "$2"$'\n'
zpty -r -m shell seen '*<DONE>*'
print -r -- "$seen"
zpty -d shell`;
  const starts = {
    bash: ["bash --norc --noprofile -i", "source completion.bash"],
    zsh: ["zsh -f -i", "autoload -Uz compinit; compinit -u -D; source completion.zsh"],
  };
  const [start, load] = starts[shell as keyof typeof starts];
  const out = execFileSync("zsh", ["-f", "-c", script, "zsh", start!, line, folder, load!], {
    encoding: "utf8",
    timeout: TIMEOUT / 2,
    env: { ...process.env, TERM: "dumb", HOME: folder, INPUTRC: "/dev/null" },
  });
  return [...out.matchAll(/^<(.*)>\r?$/gm)].map((m) => m[1]!).slice(0, -1);
}

describe.skipIf(!has("zsh"))("at a terminal", { timeout: TIMEOUT }, () => {
  it.each(["bash", "zsh"])("%s completes commands, flags, files and lists", (shell) => {
    expect(typed(shell, "barrowmix sol\tmy\t")).toEqual(["solve", "my plan.yaml"]);
    expect(typed(shell, "barrowmix solve --prices pri\t")).toEqual(["solve", "--prices", "prices.csv"]);
    expect(typed(shell, "barrowmix solve --prices=pri\t")).toEqual(["solve", "--prices=prices.csv"]);
    expect(typed(shell, "barrowmix assay --against my\t")).toEqual(["assay", "--against", "my plan.yaml"]);
    expect(typed(shell, "barrowmix whatif p --compare prices.csv my\t")).toEqual([
      ...["whatif", "p", "--compare", "prices.csv", "my plan.yaml"],
    ]);
    expect(typed(shell, "barrowmix solve --only greensand,feath\t")).toEqual([
      ...["solve", "--only", "greensand,feather-meal"],
    ]);
  });
});

describe("fish", { timeout: TIMEOUT }, () => {
  const ask = (line: string): string[] =>
    execFileSync("fish", ["--no-config", "-c", `source completion.fish; complete -C '${line}'`], {
      cwd: folder,
      encoding: "utf8",
    })
      .split("\n")
      .map((text) => text.split("\t")[0]!)
      .filter(Boolean)
      .sort();

  it.skipIf(!has("fish"))("offers commands, flags, names and files", () => {
    expect(ask("barrowmix ")).toEqual([...commands].sort());
    expect(ask("barrowmix solve --rec")).toEqual(["--recipe"]);
    expect(ask("barrowmix solve --recipe ")).toEqual(crops.toSorted());
    expect(ask("barrowmix list ")).toEqual(topics);
    expect(ask("barrowmix solve my")).toEqual(["my plan.yaml"]);
    expect(ask("barrowmix solve my\\ plan.yaml pri")).toEqual(["prices.csv"]);
    for (const flag of [
      "solve --prices",
      "solve -o",
      "assay m --against",
      "whatif p --compare",
      "shop --also",
    ])
      expect(ask(`barrowmix ${flag} pri`), flag).toEqual(["prices.csv"]);
    expect(ask("barrowmix solve --only greensand,feather")).toEqual(["greensand,feather-meal"]);
    expect(ask("barrowmix solve --only=greensand,feather")).toEqual(["--only=greensand,feather-meal"]);
  });

  it("quotes what its script says", () => {
    const script = readFileSync(join(folder, "completion.fish"), "utf8");
    for (const line of script.slice(script.indexOf("\ncomplete ")).trim().split("\n")) {
      expect(line).toMatch(/^complete -c barrowmix /);
      // An even number of quotes that nothing escapes closes each of them.
      expect((line.replaceAll(/\\./g, "").match(/'/g) ?? []).length % 2, line).toBe(0);
    }
  });
});

describe("zsh", { timeout: TIMEOUT }, () => {
  /** Calls the function with the shell's own helpers replaced by ones that print what they are given. */
  const ask = (...words: string[]): string => {
    const script = `compdef() { tied="$*" }
source completion.zsh
[ "$tied" = "_barrowmix barrowmix" ] || print "not tied to the program"
compadd() { shift; print -rl -- "$@" }
compset() { true }
_describe() { print -rl -- "\${(@P)@[-1]%%:*}" }
_files() { print files }
_message() { print nothing }
words=("$@"); CURRENT=$#; _barrowmix`;
    return execFileSync("zsh", ["-f", "-c", script, "zsh", "barrowmix", ...words], {
      cwd: folder,
      encoding: "utf8",
    });
  };
  const lines = (text: string): string[] => text.split("\n").filter(Boolean).sort();

  it.skipIf(!has("zsh"))("offers commands, flags, names and files", () => {
    expect(lines(ask(""))).toEqual([...commands].sort());
    expect(lines(ask("solve", "--"))).toEqual(offered("solve", "--"));
    expect(lines(ask("solve", "--recipe", ""))).toEqual(crops.toSorted());
    expect(lines(ask("schema", ""))).toEqual(offered("schema", ""));
    expect(ask("solve", "")).toBe("files\n");
    expect(ask("solve", "--plants", "")).toBe("nothing\n");
  });

  it("says how it is loaded in its first lines", () => {
    expect(readFileSync(join(folder, "completion.zsh"), "utf8")).toMatch(
      /^#compdef barrowmix\n# zsh completion/,
    );
  });
});

describe("a shell that there is no script for", () => {
  it("is refused with those that there are", async () => {
    const world = testWorld();
    expect(await main(["completion", "fihs"], world)).toBe(2);
    expect(world.written.stderr).toContain("did you mean `fish`?");
  });
});
