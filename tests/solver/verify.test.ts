import { describe, expect, it } from "vitest";
import { ConflictFinder, extremeShare } from "../../src/solver/conflict.ts";
import { continuousEngine } from "../../src/solver/engine-continuous.ts";
import { friendly, highsEngine } from "../../src/solver/engine-highs.ts";
import type { Engine, Program, Row } from "../../src/solver/program.ts";
import { OWN_SIMPLEX, solveProgram } from "../../src/solver/solve.ts";
import {
  boundWithin,
  checkAnswer,
  costOf,
  dualBound,
  impliedUpper,
  isProven,
  MAX_VIOLATION,
  provesInfeasible,
  shortfall,
  worstViolation,
} from "../../src/solver/verify.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;
const column = (cost: number, upper = Infinity) => ({ tag: label("x"), cost, upper });
const row = (
  index: number[],
  value: number[],
  lower: number,
  upper = Infinity,
  more: Partial<Row> = {},
): Row => ({
  tag: label("row"),
  index,
  value,
  lower,
  upper,
  ...more,
});

describe("proof that rows cannot be kept together", () => {
  // x + y >= 5, and x <= 2, y <= 2 by rows of their own: 1 too little, whatever they cost.
  const program: Program = {
    columns: [column(1), column(1)],
    rows: [row([0, 1], [1, 1], 5), row([0], [1], -Infinity, 2), row([1], [1], -Infinity, 2)],
  };

  it("is what the rows' sum asks for beyond what there is", () => {
    // Scales 5, 2, 2; the largest part in giving way is the need's: 1 / 5.
    expect(shortfall(program, [1, -1, -1])).toEqual({ amount: 0.2, rows: [0, 1, 2] });
    expect(shortfall(program, [10, -10, -10]).amount).toBeCloseTo(0.2, 12);
    expect(provesInfeasible(program, [-1, 1, 1])?.amount).toBeCloseTo(0.2, 12);
  });

  it("is refused where it has been spoiled", () => {
    expect(provesInfeasible(program, [1, -1, 0])).toBeNull();
    expect(provesInfeasible(program, [1, -1, -0.9])).toBeNull();
    expect(provesInfeasible(program, [0, 0, 0])).toBeNull();
    expect(provesInfeasible(program, [Number.NaN, -1, -1])).toBeNull();
    // A sign that asks for a bound the row does not have.
    expect(provesInfeasible(program, [1, 1, -1])).toBeNull();
  });

  it("is refused for a program that has a point", () => {
    const roomy = { ...program, rows: [row([0, 1], [1, 1], 4), ...program.rows.slice(1)] };
    expect(provesInfeasible(roomy, [1, -1, -1])).toBeNull();
    const nearly = { ...program, rows: [row([0, 1], [1, 1], 4 + 1e-8), ...program.rows.slice(1)] };
    expect(provesInfeasible(nearly, [1, -1, -1])).toBeNull();
    expect(provesInfeasible(nearly, [1, -1, -1], undefined, undefined, 1e-9)).not.toBeNull();
  });

  it("counts bounds of columns, and facts as what cannot give way", () => {
    const bounded: Program = { columns: [column(1, 2), column(1, 2)], rows: [row([0, 1], [1, 1], 5)] };
    expect(shortfall(bounded, [1]).amount).toBeCloseTo(0.2, 12);
    expect(shortfall(bounded, [1], [0, 0], [3, 3]).amount).toBe(0);
    const fact = { ...bounded, rows: [row([0, 1], [1, 1], 5, Infinity, { fact: true })] };
    expect(shortfall(fact, [1]).amount).toBe(Infinity);
  });
});

describe("what is measured by a row's scale", () => {
  it("is a violation, so that a trace of a need is nothing", () => {
    const trace = row([0], [0.1], 1e-16);
    const program: Program = { columns: [column(1)], rows: [trace] };
    expect(worstViolation(program, [0]).amount).toBe(1);
    const scaled = { ...program, rows: [{ ...trace, scale: 0.2 }] };
    expect(worstViolation(scaled, [0]).amount).toBeLessThan(1e-14);
  });

  it("is the gap below one unit of money", () => {
    // One microdollar of goods: an answer twice as dear is within 1e-6 dollars, and is not proven for that.
    const program: Program = { columns: [column(1e-6)], rows: [row([0], [1], 1)] };
    expect(isProven(checkAnswer(program, [1], [1e-6]))).toBe(true);
    const dear = checkAnswer(program, [2], [1e-6]);
    expect(dear.gap).toBeLessThan(1.1e-6);
    expect(isProven(dear)).toBe(false);
  });

  it("bounds cost within bounds of columns", () => {
    const program: Program = { columns: [column(3), column(2)], rows: [row([0, 1], [1, 1], 4)] };
    const into = new Float64Array(2);
    expect(boundWithin(program, [2], [0, 0], [9, 9], into)).toBe(8);
    expect([...into]).toEqual([1, 0]);
    expect(boundWithin(program, [2], [1, 0], [9, 9])).toBe(9);
    expect(boundWithin(program, [3], [0, 0], [9, 3])).toBe(9);
    expect(boundWithin(program, [3], [0, 0], [9, Infinity])).toBe(-Infinity);
  });
});

describe("a bound over columns of which one earns money", () => {
  // min x1 - 2 x2, x2 <= x1 <= 5: 5 of each, -5.
  const earning = (upper: number, more: readonly Row[]): Program => ({
    columns: [column(1, upper), column(-2)],
    rows: [row([0, 1], [-1, 1], -Infinity, 0), ...more],
  });

  it.each([
    ["a bound of the column", earning(5, [])],
    ["a row", earning(Infinity, [row([0], [1], -Infinity, 5)])],
  ])("proves -5 where %s says 5", async (_, program) => {
    expect(await solveProgram(program)).toMatchObject({ status: "optimal", x: [5, 5], check: { cost: -5 } });
  });

  it("does not take the point zero with duals of zero for an optimum", () => {
    const program = earning(5, []);
    expect(isProven(checkAnswer(program, [0, 0], [0]))).toBe(false);
    expect(dualBound(program, [0], 0)).toBeLessThanOrEqual(-5);
  });

  it("takes from the rows, and from the cost, how much of a column there can be", () => {
    expect([...impliedUpper(earning(5, []))]).toEqual([5, expect.closeTo(5, 9)]);
    expect([...impliedUpper(earning(Infinity, []))]).toEqual([Infinity, Infinity]);
    // No dearer than 3: x1 <= 3 + 2 x2, and x2 <= 4.
    const capped: Program = { columns: [column(1), column(-2, 4)], rows: [] };
    expect([...impliedUpper(capped, 3)]).toEqual([expect.closeTo(11, 9), 4]);
  });
});

describe("what is let pass", () => {
  it("is no amount below zero that is small only beside the largest", () => {
    const program: Program = { columns: [column(0), column(1)], rows: [row([0], [1], 1e6)] };
    expect(worstViolation(program, [1e6, -0.9]).amount).toBeGreaterThan(MAX_VIOLATION);
    expect(isProven(checkAnswer(program, [1e6, -0.9], [0]))).toBe(false);
    expect(worstViolation(program, [1e6, -1e-6]).amount).toBeLessThanOrEqual(MAX_VIOLATION);
  });

  it("is no miss of a bound that is small only beside the largest term", () => {
    const program: Program = { columns: [column(1), column(1)], rows: [row([0, 1], [1, -1], 3)] };
    expect(worstViolation(program, [1e6 + 2.1, 1e6]).amount).toBeGreaterThan(MAX_VIOLATION);
    expect(worstViolation(program, [1e6 + 3 - 1e-4, 1e6]).amount).toBeLessThanOrEqual(MAX_VIOLATION);
  });

  it("is no reduced cost of a column that has a bound, however small it is", () => {
    // 1 - 1 + 1e-13 left over on a column of up to 1e12: a tenth of a unit of money, which counts.
    const program: Program = { columns: [column(1, 1e12)], rows: [row([0], [1], 4)] };
    expect(boundWithin(program, [1 + 2e-13])).toBeCloseTo(4 - 0.2, 2);
  });
});

describe("engines", () => {
  const program: Program = {
    columns: [column(3), column(2)],
    rows: [row([0, 1], [1, 1], 4), row([0], [1], 1)],
  };
  const claiming = (outcome: ReturnType<Engine["solve"]>): Engine => ({
    name: "claimant",
    solve: () => outcome,
  });

  it("are named where they are right, and only begin a proof where they are wrong", async () => {
    const right = await solveProgram(program, [], [claiming({ status: "optimal", x: [1, 3] })]);
    expect(right).toMatchObject({ status: "optimal", engine: "claimant", check: { cost: 9 } });
    for (const outcome of [
      { status: "optimal", x: [3, 3] },
      { status: "infeasible" },
      { status: "unbounded" },
      { status: "failed", reason: "no wish" },
    ] as const)
      expect(await solveProgram(program, [], [claiming(outcome)])).toMatchObject({
        status: "optimal",
        engine: OWN_SIMPLEX,
        check: { cost: 9 },
      });
  });

  it("are not believed where nothing fits", async () => {
    const none = { ...program, rows: [...program.rows, row([0, 1], [1, 1], -Infinity, 3)] };
    expect(await solveProgram(none, [], [claiming({ status: "optimal", x: [1, 3] })])).toMatchObject({
      status: "infeasible",
      engine: OWN_SIMPLEX,
    });
    expect(await solveProgram(none)).toMatchObject({ status: "infeasible", engine: "javascript-lp-solver" });
  });

  it("leave javascript-lp-solver's own tableau as it came", async () => {
    const { default: solver } = await import("javascript-lp-solver");
    const { prototype } = (solver as unknown as { Tableau: { prototype: { pivot: { name: string } } } })
      .Tableau;
    continuousEngine.solve(program);
    expect(prototype.pivot.name).toBe("pivot");
  });

  it("get the same program in numbers near 1, and give back the same point", async () => {
    const small: Program = {
      columns: [column(8e-4), column(5e-4, 3e-5)],
      rows: [row([0, 1], [0.12, 0.05], 6e-6), row([0, 1], [0.01, 0.3], -Infinity, 4e-6)],
    };
    const { program: scaled, unit, costUnit } = friendly(small);
    const numbers = scaled.rows
      .flatMap(({ value, lower, upper }) => [...value, lower, upper])
      .filter(Number.isFinite);
    for (const v of numbers) expect(v === 0 || (Math.abs(v) > 1e-3 && Math.abs(v) < 1e3)).toBe(true);
    expect(costUnit).toBeGreaterThan(0);
    const other = await highsEngine.solve(small);
    if (other.status !== "optimal") throw new Error(other.status);
    const own = await solveProgram(small);
    if (own.status !== "optimal") throw new Error(own.status);
    expect(costOf(small, other.x) / own.check.cost).toBeCloseTo(1, 8);
    expect(unit).toHaveLength(2);
  });
});

describe("conflicts", () => {
  // Rows 0 and 1 conflict; row 2 is at peace with both.
  const program: Program = {
    columns: [column(1), column(1)],
    rows: [row([0, 1], [1, 1], 5), row([0, 1], [1, 1], -Infinity, 3), row([0], [1], 1)],
  };

  it("are found, made small, and undone by the least giving way", () => {
    const finder = new ConflictFinder(program);
    expect(finder.conflicts(new Set([0, 1, 2]))).toBe(true);
    expect(finder.conflicts(new Set([0, 2]))).toBe(false);
    expect(finder.conflicts(new Set([1, 2]))).toBe(false);
    expect(finder.reduced([0, 1, 2])).toEqual([0, 1]);
    expect(finder.leastGivingWay(0, new Set([0, 1, 2]))).toBeCloseTo(2, 12);
    expect(finder.leastGivingWay(1, new Set([0, 1, 2]))).toBeCloseTo(2, 12);
    expect(finder.leastGivingWay(2, new Set([0, 1, 2]))).toBeNull();
  });

  it("of shares are undone by the largest share there can be", () => {
    // 2 to 3 of x0 beside at least 6 of x1: at most a third.
    const shares: Program = {
      columns: [column(1), column(1)],
      rows: [row([0], [1], 2, 3), row([1], [1], 6)],
    };
    expect(extremeShare(shares, 0, [0, 1], 1)).toBeCloseTo(1 / 3, 12);
    expect(extremeShare(shares, 1, [0, 1], -1)).toBeCloseTo(2 / 3, 12);
  });
});
