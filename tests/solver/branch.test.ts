/** Branch and bound by itself: the step between costs, whole numbers made exact, and what a search that was stopped still proves. */
import { describe, expect, it } from "vitest";
import { branchAndBound, costStep, settle } from "../../src/solver/branch.ts";
import type { Program } from "../../src/solver/program.ts";
import { worstViolation } from "../../src/solver/verify.ts";
import { seeded } from "../helpers/random.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;

/** Bags of given sizes and costs, whole, that must weigh at least so much; and what is bought loose beside them. */
function bags(sizes: number[], costs: number[], least: number, loose?: number): Program {
  const columns: Program["columns"][number][] = costs.map((cost, j) => ({
    tag: label(`bag ${j}`),
    cost,
    upper: 50,
    integer: true,
  }));
  if (loose !== undefined) columns.push({ tag: label("loose"), cost: loose, upper: 1000 });
  const value = loose === undefined ? sizes : [...sizes, 1];
  const rows = [
    { tag: label("weight"), index: value.map((_, j) => j), value, lower: least, upper: Infinity },
  ];
  return { columns, rows };
}

describe("the step between costs", () => {
  it("is what all prices are whole multiples of", () => {
    expect(costStep(bags([1, 1, 1], [7.5, 12.5, 20], 1))).toBeCloseTo(2.5, 9);
    expect(costStep(bags([1], [38.5], 1))).toBeCloseTo(38.5, 9);
    expect(costStep(bags([1, 1], [0, 4], 1))).toBeCloseTo(4, 9);
  });

  it("is none where something is bought by weight, or where prices have no common step", () => {
    expect(costStep(bags([1, 1], [7.5, 12.5], 1, 0.4))).toBe(0);
    expect(costStep(bags([1, 1], [1, Math.SQRT2], 1))).toBe(0);
  });
});

describe("whole numbers within a tolerance", () => {
  it("are made exact, and the rest is solved again", () => {
    // Three bags of 20 and 40 loose make 100.
    const program = bags([20], [10], 100, 1);
    const x = settle(program, [2.9999999, 40.000002])!;
    expect(x[0]).toBe(3);
    expect(x[1]).toBeCloseTo(40, 9);
    expect(worstViolation(program, x).amount).toBeLessThan(1e-9);
  });

  it("are refused where they do not keep the rows", () => {
    expect(settle(bags([20], [10], 100), [4.4])).toBeNull();
    expect(settle(bags([20], [10], 100), [5.2])).toEqual([5]);
  });
});

describe("a search", () => {
  it("finds the cheapest bags: 7 of 15 for 11 beat 5 of 20 for 16 where 100 are needed", () => {
    // 15-kg bags at 11 (0.733/kg), 20-kg bags at 16 (0.8/kg). By hand: six small (90) leave 10: 7 small cost 77;
    // 4 small and 2 large (100) cost 76; no mixture of 100 and more is cheaper.
    const found = branchAndBound(bags([15, 20], [11, 16], 100), { nodes: 1000 });
    expect(found).toMatchObject({ status: "finished", x: [4, 2], cost: 76 });
    expect(found.bound).toBeCloseTo(76, 6);
  });

  it("says that there is nothing, with a bound without end", () => {
    const found = branchAndBound(bags([15], [11], 15 * 51), { nodes: 1000 });
    expect(found).toMatchObject({ status: "finished", x: null, bound: Infinity });
  });

  it("keeps a bound that holds when it is stopped, and a point that was given", () => {
    const random = seeded(3);
    let stopped = 0;
    for (let k = 0; k < 40; k++) {
      const sizes = Array.from({ length: 6 }, () => random.whole(5, 40));
      const costs = sizes.map((size) => size * random.between(0.8, 1.2));
      const program = bags(sizes, costs, random.whole(150, 400) + 0.5);
      const whole = branchAndBound(program, { nodes: 100_000 });
      expect(whole.status).toBe("finished");
      const start = sizes.map((_, j) => (j === 0 ? 50 : j === 1 ? 50 : 0));
      const cut = branchAndBound(
        program,
        { nodes: 2 },
        worstViolation(program, start).amount <= 0 ? start : null,
      );
      if (cut.status === "stopped") stopped++;
      expect(cut.bound).toBeLessThanOrEqual(whole.cost + 1e-6);
      if (cut.x) {
        expect(worstViolation(program, cut.x).amount).toBeLessThanOrEqual(1e-8);
        expect(cut.cost).toBeGreaterThanOrEqual(whole.cost - 1e-6);
      }
    }
    expect(stopped).toBeGreaterThan(5);
  });
});
