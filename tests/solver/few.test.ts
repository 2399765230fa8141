import { describe, expect, it } from "vitest";
import { branchAndBound } from "../../src/solver/branch.ts";
import { solveWithHighs } from "../../src/solver/engine-highs.ts";
import { chooseFew } from "../../src/solver/few.ts";
import type { Program } from "../../src/solver/program.ts";
import { seeded } from "../helpers/random.ts";

const other = (label: string) => ({ kind: "other", label }) as const;

/** A least-cost blend of `n` columns that must reach three sums. */
function blend(seed: number, n: number): Program {
  const random = seeded(seed);
  return {
    columns: Array.from({ length: n }, (_, j) => ({
      tag: other(`x${j}`),
      cost: random.between(1, 9),
      upper: Infinity,
    })),
    rows: Array.from({ length: 3 }, (_, i) => {
      const index = Array.from({ length: n }, (_, j) => j).filter(() => random.chance(0.6));
      return {
        tag: other(`need ${i}`),
        index,
        value: index.map(() => random.between(0.5, 6)),
        lower: random.between(5, 20),
        upper: Infinity,
        scale: 10,
      };
    }),
  } as Program;
}

/** The same with a whole number for each column that is used, at most `most` of them; nothing above 100. */
function counted(program: Program, most: number, least: number): Program {
  const n = program.columns.length;
  const link = (values: readonly [number, number], j: number, lower: number, upper: number) => ({
    tag: other("link"),
    index: [j, n + j],
    value: [...values],
    lower,
    upper,
  });
  return {
    columns: [
      ...program.columns,
      ...program.columns.map((_, j) => ({ tag: other(`uses ${j}`), cost: 0, upper: 1, integer: true })),
    ],
    rows: [
      ...program.rows,
      ...program.columns.map((_, j) => link([1, -100], j, -Infinity, 0)),
      ...program.columns.map((_, j) => link([1, -least], j, 0, Infinity)),
      {
        tag: other("few"),
        index: program.columns.map((_, j) => n + j),
        value: program.columns.map(() => 1),
        lower: -Infinity,
        upper: most,
      },
    ],
  } as Program;
}

function few(program: Program, most: number, least: number, nodes = 10_000) {
  const n = program.columns.length;
  return chooseFew(program, {
    groups: [{ columns: program.columns.map((_, j) => j), most }],
    least: program.columns.map(() => least),
    dearest: 1e6,
    nodes,
    settle: (allowed) => {
      const whole = counted(program, most, least);
      const columns = whole.columns.map((column, j) => (allowed(j % n) ? column : { ...column, upper: 0 }));
      return branchAndBound({ ...whole, columns }, { nodes: 1000 });
    },
  });
}

describe("a search over which columns are used", () => {
  it.each(Array.from({ length: 25 }, (_, k) => k))(
    "finds what HiGHS finds with whole numbers (%i)",
    async (seed) => {
      const program = blend(seed, 8);
      const most = 1 + (seed % 3);
      const least = seed % 2 === 0 ? 0 : 1.5;
      const found = few(program, most, least);
      const reference = await solveWithHighs(counted(program, most, least), 20, null);
      expect(found.status).toBe("finished");
      if (reference.status === "infeasible") expect(found.x).toBeNull();
      else {
        const cost = reference.x!.reduce((sum, v, j) => sum + v * (program.columns[j]?.cost ?? 0), 0);
        expect(Math.abs(found.cost - cost)).toBeLessThanOrEqual(1e-5 * cost);
        expect(found.bound).toBeLessThanOrEqual(found.cost);
      }
    },
  );

  it("says what it has, and claims no more, where it is stopped", () => {
    const program = blend(3, 12);
    const whole = few(program, 2, 1.5);
    const part = few(program, 2, 1.5, 3);
    expect(part.status).toBe("stopped");
    expect(part.bound).toBeLessThanOrEqual(whole.cost * (1 + 1e-9));
    expect(part.cost).toBeGreaterThanOrEqual(whole.cost * (1 - 1e-9));
  });
});
