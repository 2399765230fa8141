/** Cold starts of the built program against a floor script, and its peak memory against bare Node. */
import { alternate, type Benchmark, check, type Figure, runNode, type Timed } from "./measure.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";
const SEASON = "examples/brassica-terraces/season.yaml";
const ROUNDS = 15;

export const cold: Benchmark = {
  name: "cold start",
  async run(root) {
    const program = "bin/barrowmix.cjs";
    const json = async (...args: string[]) =>
      JSON.parse((await runNode([program, ...args, "--json"], root)).stdout);
    const weighed = await json("solve", PLAN, "--by", "weight");
    check(weighed.status === "optimal" && weighed.cost.gap <= 1e-6, "the demo by weight");
    const bought = await json("solve", PLAN);
    check(
      bought.status === "optimal" && bought.cost.total >= weighed.cost.total - 1e-6,
      "the demo by purchase",
    );
    const later = await json("now", SEASON);
    check(later.rest.status === "optimal", "the demo's season");
    const floorScript = ["tests/bench/floor.cjs", PLAN];
    check(JSON.parse((await runNode(floorScript, root)).stdout).feasible, "the floor solves its program");
    const [bare, floor, version, weight, purchase, now] = (await alternate(
      [
        ["-e", "0"],
        floorScript,
        [program, "--version"],
        [program, "solve", PLAN, "--by", "weight"],
        [program, "solve", PLAN],
        [program, "now", SEASON],
      ],
      ROUNDS,
      root,
    )) as [Timed, Timed, Timed, Timed, Timed, Timed];
    const times = (name: string, run: Timed, other: Timed, unit: string, most: number): Figure => {
      const [kind, a, b] =
        run.cpuMs !== null && other.cpuMs !== null
          ? ["processor time, means", run.cpuMs, other.cpuMs]
          : ["wall, medians", run.ms, other.ms];
      return {
        name,
        value: a / b,
        unit,
        goal: { at: "most", value: most },
        detail: `${a.toFixed(0)} ms against ${b.toFixed(0)} ms of ${kind} of ${ROUNDS}; wall ${(run.ms / other.ms).toFixed(2)} x`,
      };
    };
    const figures = [
      times("cold solve by weight", weight, floor, "x the floor", 1.6),
      times("cold solve, whole answer", purchase, floor, "x the floor", 2.5),
      times("--version", version, floor, "x the floor", 0.8),
      times("cold now, demo's season", now, purchase, "x cold solve", 2),
    ];
    if (bare.peakKb !== null && purchase.peakKb !== null)
      figures.push({
        name: "cold solve, peak memory",
        value: purchase.peakKb / bare.peakKb,
        unit: "x bare node",
        goal: { at: "most", value: 1.9 },
        detail: `${(purchase.peakKb / 1024).toFixed(0)} MiB against ${(bare.peakKb / 1024).toFixed(0)} MiB`,
      });
    return figures;
  },
};
