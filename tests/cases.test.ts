/**
 * Command lines with everything they print, as files: `tests/cases/<name>/command` holds the arguments (one a line), and
 * `expected` what came out. `npx vitest run tests/cases.test.ts -u` writes the expected files again, to be read in review.
 */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { main } from "../src/cli.ts";
import { seeds } from "./helpers/seeds.ts";
import { ROOT, testWorld } from "./helpers/world.ts";

const CASES = join(ROOT, "tests/cases");
const names = readdirSync(CASES).filter((name) => existsSync(join(CASES, name, "command")));

/** Cautions and warnings have tests of their own; here their headings show that they are printed. */
function withoutNotices(stdout: string): string {
  return stdout
    .replace(/^((?:## )?What to watch)\n[\s\S]*?(?=^ *With --all|$(?![\s\S]))/m, "$1 ...\n\n")
    .replace(/^((?:## )?(?:Cautions|Warnings))\n[\s\S]*/m, "$1 ...\n");
}

describe("command lines and what they print", () => {
  it("are there", () => {
    expect(names.length).toBeGreaterThanOrEqual(12);
  });

  it.each(names.filter((name) => seeds(name !== "farm", true)))("%s", async (name) => {
    const folder = join(CASES, name);
    const args = readFileSync(join(folder, "command"), "utf8").split("\n").filter(Boolean);
    const stdin = join(folder, "stdin");
    const world = testWorld({
      cwd: folder,
      ...(existsSync(stdin) ? { stdin: readFileSync(stdin, "utf8") } : {}),
    });
    const code = await main(args, world);
    const { stdout, stderr } = world.written;
    const shown = [
      `exit ${code}`,
      "",
      "--- stdout",
      withoutNotices(stdout).replaceAll("\r\n", "\\r\n"),
      ...(stderr === "" ? [] : ["--- stderr", stderr]),
    ].join("\n");
    await expect(shown).toMatchFileSnapshot(join(folder, "expected"));
    // A screen of the common width shows every line whole; CSV is for programs.
    if (!args.includes("csv") && !args.includes("md") && !args.includes("--json"))
      for (const line of stdout.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
  });
});
