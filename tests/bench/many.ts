/** Many plans in one run against a run for each, with all files read and written as usual. */
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Benchmark, check, type Figure, median, runNode } from "./measure.ts";

const RUNS = 10;

/** Copies of a plan, each with another number of plants. */
function copies(root: string, folder: string, plan: string, count: number): string[] {
  const text = readFileSync(join(root, plan), "utf8").replace(
    /^(amendments|target): (\S+\.yaml)$/gm,
    (_, key: string, file: string) => `${key}: ${join(root, plan, "..", file)}`,
  );
  mkdirSync(folder, { recursive: true });
  return Array.from({ length: count }, (_, i) => {
    const file = join(folder, `plan-${i}.yaml`);
    writeFileSync(file, text.replace(/plants: \d+/, `plants: ${100 + i}`));
    return file;
  });
}

export const many: Benchmark = {
  name: "many plans",
  async run(root) {
    const folder = mkdtempSync(join(tmpdir(), "barrowmix-bench-"));
    const program = join(root, "bin/barrowmix.cjs");
    const figures: Figure[] = [];
    try {
      for (const [by, goal, count] of [
        ["weight", 200, 200],
        ["purchase", 80, 60],
      ] as const) {
        const [what, plan] = [`the demo by ${by}`, "examples/brassica-terraces/plan.yaml"];
        const files = copies(root, join(folder, what), plan, count);
        const together: number[] = [];
        for (let round = 0; round < 3; round++) {
          const run = await runNode([program, "solve", ...files, "--by", by, "--ndjson"], root);
          const lines = run.stdout.trimEnd().split("\n");
          check(
            run.code === 0 &&
              lines.length === count &&
              lines.every((line, i) => {
                const { file, status } = JSON.parse(line) as { file: string; status: string };
                return file === files[i] && status === "optimal";
              }),
            `${count} plans in one run`,
          );
          together.push(run.ms);
        }
        const alone: number[] = [];
        for (const file of files.slice(0, RUNS))
          alone.push((await runNode([program, "solve", file, "--by", by, "--json"], root)).ms);
        const ms = median(together);
        figures.push(
          {
            name: `many plans (${what})`,
            value: count / (ms / 1000),
            unit: "plans a second",
            goal: { at: "least", value: goal },
            detail: `${count} plans in one run, start and files included: ${ms.toFixed(0)} ms`,
          },
          {
            name: `a run each (${what})`,
            value: (median(alone) * count) / ms,
            unit: "x one run of all",
            detail: `${count} times ${median(alone).toFixed(0)} ms (median of ${RUNS}) against ${ms.toFixed(0)} ms`,
          },
        );
      }
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
    return figures;
  },
};
