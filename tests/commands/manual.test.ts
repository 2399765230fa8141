/** The manual page is what the commands say of themselves; `npx vitest run tests/commands/manual.test.ts -u` writes it. */
import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { manual } from "../../scripts/manual.ts";
import { COMMANDS } from "../../src/cli.ts";
import { flagsOf } from "../../src/commands/command.ts";
import { ROOT } from "../helpers/world.ts";

const PAGE = join(ROOT, "man/barrowmix.1");
const { version } = JSON.parse(readFileSync(join(ROOT, "package.json"), "utf8")) as { version: string };

describe("man/barrowmix.1", () => {
  it("is up to date", async () => {
    await expect(await manual(COMMANDS, version)).toMatchFileSnapshot(PAGE);
  });

  it("names every command and flag", async () => {
    const text = readFileSync(PAGE, "utf8").replaceAll("\\-", "-");
    for (const { name, load } of COMMANDS) {
      expect(text).toContain(`barrowmix ${name}`);
      const { command } = await load();
      for (const [written] of [...command.arguments, ...flagsOf(command)])
        expect(text).toContain(written.replaceAll('"', "\\(dq"));
      for (const [written] of flagsOf(command)) expect(text).toContain(`.B ${written}`);
    }
  });

  const can = spawnSync("groff", ["--version"]).status === 0;
  it.skipIf(!can)("is laid out by groff without a complaint, in 80 columns", () => {
    const { status, stdout, stderr } = spawnSync(
      "groff",
      ["-man", "-ww", "-Tascii", "-P-cbou", "-rLL=78n", PAGE],
      { encoding: "utf8" },
    );
    expect([status, stderr]).toEqual([0, ""]);
    for (const word of ["NAME", "SYNOPSIS", "COMMANDS", "EXIT STATUS", "--have <id@price/size>"])
      expect(stdout).toContain(word);
    expect(stdout.split("\n").filter((line) => line.length > 90)).toEqual([]);
  });
});

it("ships", () => {
  const { man, files } = JSON.parse(readFileSync(join(ROOT, "package.json"), "utf8")) as {
    man: string[];
    files: string[];
  };
  // npm 11 links no page from a string.
  expect(man.map((page) => join(ROOT, page))).toEqual([PAGE]);
  expect(files).toContain("man");
});
