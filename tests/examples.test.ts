/**
 * The example scripts as a user would run them, by the shell and with the built program, against what they are said to
 * print. `npm run build && npx vitest run tests/examples.test.ts -u` writes `expected/` again, to be read in review.
 */
import { spawnSync } from "node:child_process";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { seeds } from "./helpers/seeds.ts";
import { ROOT } from "./helpers/world.ts";

const FOLDER = join(ROOT, "examples/scripts");
const scripts = readdirSync(FOLDER).filter((name) => name.endsWith(".sh"));

describe("example scripts", () => {
  it("are there, each with what it prints", () => {
    expect(scripts.length).toBeGreaterThanOrEqual(6);
    expect(readdirSync(join(FOLDER, "expected")).sort()).toEqual(
      scripts.map((name) => name.replace(/\.sh$/, ".txt")).sort(),
    );
  });

  // GNU parallel may be missing, but not in CI, which installs it.
  const hasParallel = Boolean(process.env.CI) || spawnSync("parallel", ["--version"]).status === 0;

  const here = scripts.filter((name) => hasParallel || name !== "many-plans.sh");
  it.each(seeds(["worth.sh"], here))(
    "%s",
    async (name) => {
      const { status, stdout, stderr } = spawnSync("sh", [join(FOLDER, name)], {
        encoding: "utf8",
        env: { ...process.env, BARROWMIX: `${process.execPath} ${join(ROOT, "bin/barrowmix.cjs")}` },
      });
      expect(stderr).toBe("");
      expect(status).toBe(0);
      expect(stdout).not.toBe("");
      await expect(stdout).toMatchFileSnapshot(join(FOLDER, "expected", name.replace(/\.sh$/, ".txt")));
      for (const line of stdout.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
    },
    120_000,
  );
});
