import { describe, expect, it } from "vitest";
import { feasibleRange, type Move, movedProgram } from "../../src/solver/parametric.ts";
import type { Program, Row } from "../../src/solver/program.ts";
import { ValueFunction } from "../../src/solver/value-function.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;
const row = (index: number[], value: number[], lower: number, upper = Infinity): Row => ({
  tag: label("row"),
  index,
  value,
  lower,
  upper,
});

/** `wanted` of a good: up to 2 of it cost 1 each, more costs 3 each. */
function wanting(wanted: number): Program {
  return {
    columns: [
      { tag: label("cheap"), cost: 1, upper: 2 },
      { tag: label("dear"), cost: 3, upper: Infinity },
      { tag: label("of no use"), cost: 0, upper: Infinity },
    ],
    rows: [row([0, 1], [1, 1], wanted), row([], [], -1, 1), row([2], [1], -Infinity, 5)],
  };
}
const more: Move = { kind: "bounds", rate: [1, 0, 0] };
const less: Move = { kind: "bounds", rate: [-1, 0, 0] };

function settled(program: Program, ties: number[][] = []): ValueFunction {
  return ValueFunction.of(program, ties)!;
}

describe("how far a slope reaches", () => {
  it("is up to the bend, on either side of the optimum", () => {
    const costs = settled(wanting(1.5));
    expect(costs.reach(more, 1)).toEqual({ slope: expect.closeTo(1, 9), until: expect.closeTo(0.5, 9) });
    expect(costs.reach(less, 1)).toEqual({ slope: expect.closeTo(-1, 9), until: expect.closeTo(1.5, 9) });
  });

  it("differs to the two sides at a degenerate corner, whichever basis stands there", () => {
    const costs = settled(wanting(2));
    expect(costs.reach(more, 1)).toEqual({ slope: expect.closeTo(3, 9), until: Infinity });
    expect(costs.reach(less, 1)).toEqual({ slope: expect.closeTo(-1, 9), until: expect.closeTo(2, 9) });
  });

  it("is nothing where nothing fits beyond", () => {
    const only = {
      ...wanting(2),
      columns: wanting(2).columns.map((c, j) => (j === 1 ? { ...c, upper: 0 } : c)),
    };
    const costs = settled(only);
    expect(costs.reach(more, 1)).toEqual({ slope: Infinity, until: 0 });
    expect(costs.reach(less, 1)!.slope).toBeCloseTo(-1, 9);
  });

  it("is without end for what bears on nothing", () => {
    const costs = settled(wanting(1));
    expect(costs.reach({ kind: "bounds", rate: [0, 0, 1] }, 1)).toEqual({ slope: 0, until: Infinity });
    expect(costs.reach({ kind: "cost", rate: [0, 0, 1] }, 1)).toEqual({ slope: 0, until: Infinity });
  });

  it("ends for a price where another good takes its place", () => {
    const costs = settled(wanting(1));
    expect(costs.reach({ kind: "cost", rate: [1, 0, 0] }, 1)).toEqual({
      slope: expect.closeTo(1, 9),
      until: expect.closeTo(2, 9),
    });
    // The dear one is not used until it is as cheap as the other.
    expect(costs.reach({ kind: "cost", rate: [0, -1, 0] }, 1, 3)).toEqual({
      slope: 0,
      until: expect.closeTo(2, 9),
    });
  });
});

describe("what fits", () => {
  it("ends where nothing does", () => {
    const capped = {
      ...wanting(0),
      columns: wanting(0).columns.map((c, j) => (j === 1 ? { ...c, upper: 1 } : c)),
    };
    expect(settled(capped).costAt(more, 2.5)).toBeCloseTo(3.5, 9);
    expect(settled(capped).costAt(more, 5)).toBeNull();
    expect(settled(capped).reach(more, 5)).toEqual({
      slope: expect.closeTo(1, 9),
      until: expect.closeTo(2, 9),
    });
    expect(feasibleRange(capped, more, 5)).toEqual({ from: 0, to: expect.closeTo(3, 9) });
    expect(feasibleRange(movedProgram(capped, more, 4), more, 5)).toBeNull();
    expect(feasibleRange(movedProgram(capped, more, 4), { kind: "cost", rate: [1, 0, 0] }, 5)).toBeNull();
  });

  it("ends a reach that has no bend before", () => {
    const cheapAlone = {
      ...wanting(1),
      columns: wanting(1).columns.map((c, j) => (j === 1 ? { ...c, upper: 0 } : c)),
    };
    expect(settled(cheapAlone).reach(more, 1)).toEqual({
      slope: expect.closeTo(1, 9),
      until: expect.closeTo(1, 9),
    });
  });
});

describe("ties", () => {
  // Two goods at the same price: the tie-break decides, and `worstOf` shows what it decided against.
  const equal: Program = {
    columns: [
      { tag: label("light"), cost: 2, upper: Infinity },
      { tag: label("heavy"), cost: 2, upper: Infinity },
    ],
    rows: [row([0, 1], [1, 1], 4)],
  };

  it("are broken by the costs given, and undone by their opposite", () => {
    const costs = settled(equal, [[1, 3]]);
    expect(costs.worstOf([-1, -3])).toEqual([4, 0]);
    expect(costs.worstOf([1, 3])).toEqual([0, 4]);
  });

  it("end a price's reach at once on one side only", () => {
    const costs = settled(equal, [[1, 3]]);
    expect(costs.reach({ kind: "cost", rate: [1, 0] }, 1)!.until).toBeCloseTo(0, 9);
    expect(costs.reach({ kind: "cost", rate: [-1, 0] }, 1, 2)!.until).toBeGreaterThan(1);
  });
});
