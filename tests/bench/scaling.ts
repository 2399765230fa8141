/** How the time of a solve grows with amendments and with applications, and what an infeasible plan costs; all in process. */

import { solveBlend } from "../../src/flow/solve-blend.ts";
import { sweepPlan } from "../../src/flow/sweep.ts";
import type { Plan } from "../../src/model.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { largeTree } from "./large.ts";
import { type Benchmark, check, type Figure, median, spent } from "./measure.ts";

const AMENDMENTS = [25, 50, 100, 200, 400] as const;
const APPLICATIONS = [5, 10, 20, 40] as const;
const ROUNDS = 7;

/** Median processor times of several jobs run in turn, ms. */
async function times(jobs: readonly (() => Promise<unknown>)[]): Promise<number[]> {
  const runs: number[][] = jobs.map(() => []);
  for (let round = 0; round <= ROUNDS; round++)
    for (const [k, job] of jobs.entries()) {
      const begun = spent();
      await job();
      // The first round warms up.
      if (round > 0) runs[k]!.push(spent() - begun);
    }
  return runs.map(median);
}

/** The power by which times grow with sizes: the slope of a straight line through their logarithms. */
function exponent(sizes: readonly number[], measured: readonly number[]): number {
  const x = sizes.map(Math.log);
  const y = measured.map(Math.log);
  const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
  const [mx, my] = [mean(x), mean(y)];
  const up = x.reduce((sum, v, k) => sum + (v - mx) * (y[k]! - my), 0);
  return up / x.reduce((sum, v) => sum + (v - mx) ** 2, 0);
}

async function solves(plan: Plan): Promise<void> {
  const { answer } = await solveBlend(plan);
  check(
    answer.status === "optimal" && answer.check.gap <= 1e-6,
    `${plan.amendments.length} amendments are solved`,
  );
}

async function growth(
  name: string,
  sizes: readonly number[],
  planOf: (size: number) => Plan,
): Promise<Figure> {
  const plans = sizes.map(planOf);
  const measured = await times(plans.map((plan) => () => solves(plan)));
  return {
    name: `growth with ${name}`,
    value: exponent(sizes, measured),
    unit: "as a power",
    goal: { at: "most", value: 1.5 },
    detail: sizes.map((size, k) => `${size}: ${measured[k]!.toFixed(0)} ms`).join(", "),
  };
}

/** A plan whose cap on P2O5 is a tenth below what any mix can keep. */
async function capped(plan: Plan): Promise<Plan> {
  const cap = plan.demands.find(({ nutrient }) => nutrient === "P2O5")!.appliedMaxKg!;
  const { feasible } = await sweepPlan(plan, {
    handle: { kind: "applied-max", nutrient: "P2O5" },
    from: 0,
    to: cap,
    steps: 1,
    understood: "",
  });
  const most = 0.9 * feasible!.from;
  return {
    ...plan,
    demands: plan.demands.map((d) => (d.nutrient === "P2O5" ? { ...d, appliedMaxKg: most } : d)),
  };
}

export const scaling: Benchmark = {
  name: "scaling",
  async run() {
    const figures = [
      await growth("amendments, 10 applications", AMENDMENTS, (size) => loadTree(largeTree(size, 10))),
      await growth("applications, 20 amendments", APPLICATIONS, (size) => loadTree(largeTree(20, size))),
    ];
    const largest = loadTree(largeTree(200, 20));
    const feasible = loadTree(largeTree(20, 20));
    const infeasible = await capped(feasible);
    check((await solvePlan(infeasible)).status === "infeasible", "the capped plan is infeasible");
    const [most, good, bad] = await times([
      () => solves(largest),
      () => solvePlan(feasible),
      () => solvePlan(infeasible),
    ]);
    figures.push(
      {
        name: "200 x 20, in process",
        value: most!,
        unit: "ms of processor time",
        goal: { at: "most", value: 500 },
        detail: "proven, ties broken",
      },
      {
        name: "infeasible 20 x 20",
        value: bad! / good!,
        unit: "x the feasible plan",
        goal: { at: "most", value: 5 },
        detail: `${bad!.toFixed(0)} ms explained against ${good!.toFixed(0)} ms with sensitivity`,
      },
    );
    return figures;
  },
};
