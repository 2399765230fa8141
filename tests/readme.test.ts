/**
 * The README's `console` blocks are run and compared: each `$ barrowmix ...` line, then what it prints, where a line
 * `...` means any lines. The blocks run in order in one scratch copy, so that a later one finds an earlier one's files.
 */
import { cpSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { main } from "../src/cli.ts";
import { ROOT, testWorld } from "./helpers/world.ts";

const folder = mkdtempSync(join(tmpdir(), "barrowmix-readme-"));
cpSync(join(ROOT, "examples"), join(folder, "examples"), { recursive: true });
afterAll(() => rmSync(folder, { recursive: true }));

const readme = readFileSync(join(ROOT, "README.md"), "utf8");
const commands = [...readme.matchAll(/^```console\n([\s\S]*?)^```$/gm)]
  .flatMap((block) => block[1]!.split(/^\$ /m).slice(1))
  .map((text) => {
    const [line, ...shown] = text.trimEnd().split("\n");
    return { line: line!, shown };
  });

/** The words of a command line, quotes taken off. */
function words(line: string): string[] {
  return [...line.matchAll(/"([^"]*)"|(\S+)/g)].map((match) => match[1] ?? match[2]!);
}

/** Whether printed lines are the shown ones, `...` standing for any number of lines. */
function matches(shown: readonly string[], printed: readonly string[]): string | null {
  let at = 0;
  let free = false;
  for (const line of shown) {
    if (line === "...") {
      free = true;
      continue;
    }
    const found = free ? printed.indexOf(line, at) : at;
    if (found < 0 || printed[found] !== line) return `not printed here: ${line}`;
    at = found + 1;
    free = false;
  }
  return free || printed.slice(at).every((line) => line === "") ? null : `more is printed: ${printed[at]}`;
}

describe("the README", () => {
  it("opens with one paragraph that states the job", () => {
    const [title, first, second] = readme.split("\n\n");
    expect(title).toBe("# barrowmix");
    expect(first).toMatch(/^barrowmix is /);
    expect(second).not.toMatch(/^[#|]/);
  });

  it("shows commands", () => {
    expect(commands.length).toBeGreaterThanOrEqual(8);
  });

  it.each(commands)("$line", async ({ line, shown }) => {
    const [program, ...args] = words(line);
    expect(program).toBe("barrowmix");
    const world = testWorld({ cwd: folder });
    const code = await main(args, world);
    expect(`${code} ${code === 0 ? "" : world.written.stderr}`).toBe("0 ");
    expect(matches(shown, world.written.stdout.split("\n"))).toBeNull();
  });

  it("names files that are there", () => {
    const targets = [...readme.matchAll(/\]\(([^)]+)\)/g)].map((match) => match[1]);
    expect(targets.length).toBeGreaterThan(0);
    for (const target of targets) expect(() => readFileSync(join(ROOT, target!))).not.toThrow();
  });
});
