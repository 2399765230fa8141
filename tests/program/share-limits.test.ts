/** Limits on shares that are nearly all or nearly nothing: an answer, whatever rounding made of them. */
import { describe, expect, it } from "vitest";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { handPlan } from "../helpers/hand-plan.ts";

// By hand: 10 kg of N from 10-0-0 at 1 a kg is 100 kg, 100 in money; from 5-0-0 at 2 it is four times as dear.
const plan = (limits: Record<string, unknown>) =>
  handPlan(
    { cheap: { analysis: { N: 10 }, price: 1 }, dear: { analysis: { N: 5 }, price: 2 } },
    { need: { per: "bed", N: "10 kg" } },
    { limits },
  );

/** Cost where a share `s` of the dear one has to be in it: weight W with 0.1 (1 - s) W + 0.05 s W = 10. */
const costAt = (s: number): number => (10 / (0.1 - 0.05 * s)) * (1 + s);

describe("a share that is nearly", () => {
  const off = [1e-2, 1e-4, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-12, 1e-14];

  it.each(off)("everything, less %d, at most", async (less) => {
    const solution = await solvePlan(plan({ cheap: { max_share: `${100 * (1 - less)}%` } }));
    if (solution.status !== "optimal") throw new Error(solution.status);
    expect(solution.cost.total).toBeCloseTo(costAt(less), 5);
  });

  it.each(off)("everything, less %d, at least", async (less) => {
    const solution = await solvePlan(plan({ dear: { min_share: `${100 * (1 - less)}%` } }));
    if (solution.status !== "optimal") throw new Error(solution.status);
    expect(solution.cost.total! / costAt(1 - less)).toBeCloseTo(1, 6);
  });

  it.each(off)("nothing, %d, at least", async (share) => {
    const solution = await solvePlan(plan({ dear: { min_share: `${100 * share}%` } }));
    if (solution.status !== "optimal") throw new Error(solution.status);
    expect(solution.cost.total).toBeCloseTo(costAt(share), 5);
  });

  it.each(off)("nothing, %d, at most", async (share) => {
    const solution = await solvePlan(plan({ cheap: { max_share: `${100 * share}%` } }));
    if (solution.status !== "optimal") throw new Error(solution.status);
    expect(solution.cost.total! / costAt(1 - share)).toBeCloseTo(1, 6);
  });
});
