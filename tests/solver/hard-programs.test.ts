import { describe, expect, it } from "vitest";
import { solveBlend } from "../../src/flow/solve-blend.ts";
import { sweepPlan } from "../../src/flow/sweep.ts";
import { continuousEngine } from "../../src/solver/engine-continuous.ts";
import { dualBound } from "../../src/solver/verify.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";
import { referenceCost } from "../helpers/reference-model.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;

describe("programs that engines trip over", () => {
  it("ends where javascript-lp-solver pivots in a circle, and solves by the simplex from nothing", async () => {
    const spec = randomSpec(20364);
    const { program, answer } = await solveBlend(loadTree(toTree(spec, 20364)));
    expect(continuousEngine.solve(program)).toEqual({ status: "failed", reason: "it went round in circles" });
    expect(answer).toMatchObject({ status: "optimal", engine: "simplex" });
    if (answer.status === "optimal") expect(answer.check.cost).toBeCloseTo((await referenceCost(spec))!, 6);
  });

  it("proves an optimum whose free columns have reduced costs a rounding error below zero", async () => {
    const sweep = await sweepPlan(loadTree(toTree(randomSpec(20096), 20096)), {
      handle: { kind: "applied-max", nutrient: "P2O5" },
      from: 0,
      to: 9.147065200274152,
      steps: 7,
      understood: "",
    });
    expect(sweep.points.map(({ status }) => status)).toEqual([
      "infeasible",
      "infeasible",
      ...Array.from({ length: 6 }, () => "optimal"),
    ]);
  });
});

describe("a dual bound over columns that cost nothing", () => {
  // Use what is in the shed (free) or buy at 2: use - bought <= 3, and 5 are wanted. The optimum costs 4.
  const program = {
    columns: [
      { tag: label("use"), cost: 0, upper: Infinity },
      { tag: label("bought"), cost: 2, upper: Infinity },
    ],
    rows: [
      { tag: label("need"), index: [0], value: [1], lower: 5, upper: Infinity },
      { tag: label("stock"), index: [0, 1], value: [1, -1], lower: -Infinity, upper: 3 },
    ],
  };

  it("is the optimum for the right duals", () => {
    expect(dualBound(program, [2, -2], 4)).toBe(4);
  });

  it("is a little lower, not lost, for duals that are a little off", () => {
    // Reduced cost of use: 0 - 2.001 + 2 = -0.001; at most 3 in the shed and 4 / 2 bought can be used.
    expect(dualBound(program, [2.001, -2], 4)).toBeCloseTo(2.001 * 5 - 2 * 3 - 0.001 * 5, 12);
  });

  it("proves nothing where no row holds the column", () => {
    expect(dualBound({ ...program, rows: [program.rows[0]!] }, [2], 4)).toBe(-Infinity);
  });
});
