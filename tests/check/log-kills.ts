/** `log` killed at any moment, and run many times at once: nothing in the file is torn, and nothing that was said is lost. */
import { spawn } from "node:child_process";
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { seeded } from "../helpers/random.ts";

const HEAD = "# ours\nseason: plan.yaml\nplanted: 2027-08-01\nmixes: {A: {feather-meal: 10 lb}}\nlog:\n";
/** Runs are killed within so many times what one takes from start to end. */
const LONGEST = 1.4;

/** Kills `kills` runs, and lets `atOnce` runs write side by side, eight at a time; returns the exit code. */
export async function checkLogKills(
  print: (line: string) => void,
  root: string,
  kills = 100,
  atOnce = 80,
): Promise<number> {
  const folder = mkdtempSync(join(tmpdir(), "barrowmix-kills-"));
  cpSync(join(root, "examples/brassica-terraces"), folder, { recursive: true });
  const path = join(folder, "season.yaml");
  const added = (): string[] => {
    const text = readFileSync(path, "utf8");
    if (!text.startsWith(HEAD)) throw new Error("what was there has changed");
    return text.slice(HEAD.length).split("\n").slice(0, -1);
  };
  /** @returns the exit code; null where it was killed. */
  const log = (said: string, killAfter?: number): Promise<number | null> =>
    new Promise((resolve) => {
      const program = join(root, "bin/barrowmix.cjs");
      const child = spawn(process.execPath, [program, "log", "season.yaml", said], {
        cwd: folder,
        stdio: "ignore",
      });
      if (killAfter !== undefined) setTimeout(() => child.kill("SIGKILL"), killAfter);
      child.on("exit", resolve);
    });
  const line = (k: number): string => `  - {day: 2027-08-01, rain: 0.${String(k + 1).padStart(4, "0")} in}`;
  const said = (k: number): string => `day 0 rain 0.${String(k + 1).padStart(4, "0")} in`;
  const random = seeded(17);
  const expected = new Set<string>();
  let [killed, torn, lost] = [0, 0, 0];
  writeFileSync(path, HEAD);
  const begun = performance.now();
  await log("day 0 tissue the first");
  const whole = LONGEST * (performance.now() - begun);
  writeFileSync(path, HEAD);
  for (let k = 0; k < kills; k++) {
    const code = await log(said(k), random.between(0.2 * whole, whole));
    if (code === null) killed++;
    const lines = added();
    // One that ended well has written; one that was killed has written all of its line, or nothing.
    if (code === 0 || lines.includes(line(k))) expected.add(line(k));
    torn += lines.filter((one) => !expected.has(one)).length;
    lost += [...expected].filter((one) => !lines.includes(one)).length;
  }
  const survived = expected.size;
  let refused = 0;
  for (let k = 0; k < atOnce; k += 8) {
    const eight = Array.from({ length: Math.min(8, atOnce - k) }, (_, i) => kills + k + i);
    const codes = await Promise.all(eight.map((one) => log(said(one))));
    codes.forEach((code, i) => {
      if (code === 0) expected.add(line(eight[i]!));
      else refused++;
    });
  }
  const lines = added();
  torn += lines.filter((one) => !expected.has(one)).length;
  lost += [...expected].filter((one) => !lines.includes(one)).length;
  const left = readdirSync(folder).filter((name) => name.includes(".lock")).length;
  rmSync(folder, { recursive: true });
  print(
    `${kills} runs, ${killed} killed while they ran, ${survived} lines written; then ${atOnce} runs eight at a time, ${refused} refused; ${lines.length} lines in all, ${torn} torn, ${lost} lost, ${left} locks left`,
  );
  return torn + lost + refused + left === 0 ? 0 : 1;
}
