/** Cold starts of the built program against bare Node. */
import { alternate, type Benchmark, check, type Figure, runNode } from "./measure.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";
const ROUNDS = 21;
/** Node 22 and later keep what they compiled between runs, and start faster themselves. */
const GOAL = Number(process.versions.node.split(".")[0]) >= 22 ? 1.7 : 2.4;

export const cold: Benchmark = {
  name: "cold start",
  async run(root) {
    const program = "bin/barrowmix.cjs";
    const solved = JSON.parse((await runNode([program, "solve", PLAN, "--json"], root)).stdout);
    check(solved.status === "optimal" && solved.cost.gap! <= 1e-6, "solve of the demo plan");
    const shopped = JSON.parse((await runNode([program, "shop", PLAN, "--json"], root)).stdout);
    check(shopped.gap <= 1e-6 && shopped.total >= solved.cost.total - 1e-6, "shop of the demo plan");
    const [bare, solve, shop] = await alternate(
      [
        ["-e", "0"],
        [program, "solve", PLAN],
        [program, "shop", PLAN],
      ],
      ROUNDS,
      root,
    );
    const times = (run: { ms: number }, most: number, name: string): Figure => ({
      name,
      value: run.ms / bare!.ms,
      unit: "x bare node",
      goal: { at: "most", value: most },
      detail: `${run.ms.toFixed(0)} ms against ${bare!.ms.toFixed(0)} ms, medians of ${ROUNDS}`,
    });
    const figures = [times(solve!, GOAL, "cold solve, wall"), times(shop!, 4, "cold shop, wall")];
    if (bare!.peakKb !== null && solve!.peakKb !== null)
      figures.push({
        name: "cold solve, peak memory",
        value: solve!.peakKb / bare!.peakKb,
        unit: "x bare node",
        goal: { at: "most", value: 1.6 },
        detail: `${(solve!.peakKb / 1024).toFixed(0)} MiB against ${(bare!.peakKb / 1024).toFixed(0)} MiB`,
      });
    return figures;
  },
};
