import { describe, expect, it } from "vitest";
import { Basis } from "../../src/solver/basis.ts";
import { highsEngine } from "../../src/solver/engine-highs.ts";
import { ScaledMatrix } from "../../src/solver/matrix.ts";
import type { Program, Row } from "../../src/solver/program.ts";
import { Simplex } from "../../src/solver/simplex.ts";
import { type Certified, certify } from "../../src/solver/solve.ts";
import { checkAnswer, costOf, isProven, provesInfeasible } from "../../src/solver/verify.ts";
import { type Random, seeded } from "../helpers/random.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;

/** A program from dense rows. */
function dense(cost: number[], rows: [number[], number, number][], upper: number[] = []): Program {
  return {
    columns: cost.map((c, j) => ({ tag: label(`x${j}`), cost: c, upper: upper[j] ?? Infinity })),
    rows: rows.map(
      ([values, lower, high], i): Row => ({
        tag: label(`r${i}`),
        index: values.flatMap((v, j) => (v === 0 ? [] : [j])),
        value: values.filter((v) => v !== 0),
        lower,
        upper: high,
      }),
    ),
  };
}

/** A random program with whole coefficients; many have ties and degenerate corners. */
function random(r: Random): Program {
  const n = r.whole(2, 8);
  const m = r.whole(1, 8);
  const rows = Array.from({ length: m }, (): [number[], number, number] => {
    const values = Array.from({ length: n }, () => (r.chance(0.5) ? r.whole(-2, 5) : 0));
    const lower = r.chance(0.7) ? r.whole(-3, 8) : -Infinity;
    return [values, lower, r.chance(0.4) ? Math.max(lower, 0) + r.whole(0, 9) : Infinity];
  });
  return dense(
    Array.from({ length: n }, () => r.whole(r.chance(0.3) ? -2 : 0, 5)),
    rows,
    Array.from({ length: n }, () => (r.chance(0.4) ? r.whole(1, 6) : Infinity)),
  );
}

describe("the simplex", () => {
  it("finds the corner of a small program, its duals and its reduced costs", () => {
    // Chvatal's first example with bounds: 5x + 4y + 3z at most, written as costs.
    const program = dense(
      [-5, -4, -3],
      [
        [[2, 3, 1], -Infinity, 5],
        [[4, 1, 2], -Infinity, 11],
        [[3, 4, 2], -Infinity, 8],
      ],
    );
    const simplex = new Simplex(program);
    expect(simplex.optimise()).toBe("optimal");
    expect(simplex.point()).toEqual([expect.closeTo(2, 12), 0, expect.closeTo(1, 12)]);
    expect(simplex.objective()).toBeCloseTo(-13, 12);
    expect(simplex.duals().map((y) => y + 0)).toEqual([expect.closeTo(-1, 12), 0, expect.closeTo(-1, 12)]);
  });

  it("does not go round in circles where every pivot is degenerate", () => {
    // Beale's example (1955), on which the largest-coefficient rule cycles; its optimum is -1/20.
    const program = dense(
      [-0.75, 150, -0.02, 6],
      [
        [[0.25, -60, -0.04, 9], -Infinity, 0],
        [[0.5, -90, -0.02, 3], -Infinity, 0],
        [[0, 0, 1, 0], -Infinity, 1],
      ],
    );
    const simplex = new Simplex(program);
    expect(simplex.optimise()).toBe("optimal");
    expect(simplex.objective()).toBeCloseTo(-0.05, 12);
  });

  it("takes rows without entries, columns without rows and rows without bounds", () => {
    const program: Program = {
      columns: [
        { tag: label("used"), cost: 1, upper: Infinity },
        { tag: label("in no row"), cost: 1, upper: Infinity },
        { tag: label("free of charge, in no row"), cost: 0, upper: 4 },
      ],
      rows: [
        { tag: label("need"), index: [0], value: [2], lower: 3, upper: Infinity },
        { tag: label("empty"), index: [], value: [], lower: -1, upper: 1 },
        { tag: label("unbounded"), index: [0, 1], value: [1, 1], lower: -Infinity, upper: Infinity },
      ],
    };
    const found = certify(program, new Simplex(program));
    expect(found).toMatchObject({ status: "optimal", check: { cost: 1.5 } });
    const broken = { ...program, rows: [{ ...program.rows[1]!, lower: 1, upper: 2 }] };
    expect(certify(broken, new Simplex(broken))).toMatchObject({ status: "infeasible", rows: [0] });
  });

  it("says where nothing bounds the cost", () => {
    expect(new Simplex(dense([-1, 1], [[[1, -1], -Infinity, 3]])).optimise()).toBe("optimal");
    expect(new Simplex(dense([-2, 1], [[[1, -1], -Infinity, 3]])).optimise()).toBe("unbounded");
  });

  it("agrees with HiGHS on random programs, and proves what it says", async () => {
    const r = seeded(77);
    const seen = { optimal: 0, infeasible: 0, unbounded: 0 };
    for (let run = 0; run < 300; run++) {
      const program = random(r);
      const other = await highsEngine.solve(program);
      const simplex = new Simplex(program);
      const status = simplex.optimise();
      if (status === "infeasible") {
        seen.infeasible++;
        expect(provesInfeasible(program, simplex.ray()!), `run ${run}`).not.toBeNull();
        expect(["infeasible", "unbounded"], `run ${run}`).toContain(other.status);
      } else if (status === "unbounded") {
        seen.unbounded++;
        expect(other.status, `run ${run}`).toBe("unbounded");
      } else {
        expect(status, `run ${run}`).toBe("optimal");
        seen.optimal++;
        expect(other.status, `run ${run}`).toBe("optimal");
        if (other.status === "optimal")
          expect(simplex.objective(), `run ${run}`).toBeCloseTo(costOf(program, other.x), 6);
      }
    }
    expect(Math.min(seen.optimal, seen.infeasible, seen.unbounded)).toBeGreaterThan(10);
  }, 60_000);

  it("goes on from its basis when bounds, costs and rows change", () => {
    const r = seeded(78);
    let infeasible = 0;
    for (let run = 0; run < 150; run++) {
      const program = random(r);
      const costs = program.columns.map(() => r.whole(0, 6));
      const columns = program.columns.map((column, j) => ({ ...column, cost: costs[j]! }));
      const before = new Simplex({ columns: program.columns, rows: program.rows.slice(0, -1) });
      before.optimise();
      const simplex = new Simplex(program);
      simplex.takeBasis(
        before,
        [...program.rows.keys()].map((i) => (i < before.m ? i : -1)),
      );
      simplex.setCosts(costs);
      const rows = program.rows.map((row) => ({ ...row, lower: row.lower + 1, upper: row.upper + 1 }));
      rows.forEach((row, i) => {
        simplex.setRowBounds(i, row.lower, row.upper);
      });
      const warm = certify({ columns, rows }, simplex);
      const cold = certify({ columns, rows }, new Simplex({ columns, rows }));
      expect(warm?.status, `run ${run}`).toBe(cold?.status);
      if (warm?.status === "optimal" && cold?.status === "optimal")
        expect(warm.check.cost, `run ${run}`).toBeCloseTo(cold.check.cost, 9);
      else infeasible++;
    }
    expect(infeasible).toBeGreaterThan(10);
    expect(infeasible).toBeLessThan(120);
  });

  it("takes over a corner as it is, and any point near enough to go on from", () => {
    const program = dense(
      [3, 2],
      [
        [[1, 1], 4, Infinity],
        [[1, 0], 1, Infinity],
      ],
    );
    const simplex = new Simplex(program);
    simplex.crossOver([1, 3]);
    expect(simplex.point()).toEqual([1, 3]);
    simplex.crossOver([2.5, 2.5]);
    expect(simplex.optimise()).toBe("optimal");
    expect(simplex.point()).toEqual([1, 3]);
  });
});

describe("a basis", () => {
  it("keeps its inverse through exchanges and fresh inversions", () => {
    const r = seeded(5);
    const program = random(r);
    const matrix = new ScaledMatrix(program);
    const basis = new Basis(matrix);
    const column = new Float64Array(basis.m);
    for (let j = 0; j < program.columns.length; j++) {
      basis.column(j, column);
      const free = [...column.keys()].find(
        (i) => Math.abs(column[i]!) > 1e-6 && basis.head[i]! >= program.columns.length,
      );
      if (free !== undefined) basis.exchange(free, j, column);
    }
    expect(basis.pivots).toBeGreaterThan(0);
    const isUnit = (): void => {
      const out = new Float64Array(basis.m);
      basis.head.forEach((j, position) => {
        basis.column(j, out);
        out.forEach((value, i) => {
          expect(value).toBeCloseTo(i === position ? 1 : 0, 10);
        });
      });
    };
    isUnit();
    expect(basis.factor()).toEqual([]);
    isUnit();
  });

  it("lets go of columns that depend on others", () => {
    const matrix = new ScaledMatrix(
      dense(
        [1, 1],
        [
          [[1, 2], 0, 1],
          [[2, 4], 0, 1],
        ],
      ),
    );
    const basis = new Basis(matrix);
    expect(basis.factor([0, 1])).toHaveLength(1);
    expect([...basis.head].filter((j) => j >= 2)).toHaveLength(1);
  });
});

describe("a program that rows are added to", () => {
  it("is mended by a few pivots for each row, and costs what a fresh one does", () => {
    // Tangents of y >= x^2 at 4 points push x + y = 2 to the curve at x = 1.
    let program = dense([0, 1], [[[1, 1], 2, 2]], [3, 9]);
    let simplex = new Simplex(program);
    const add = (row: Omit<Row, "tag" | "index" | "upper">, index = [0, 1]): Certified | null => {
      const rows = [...program.rows, { tag: label("cut"), index, upper: Infinity, ...row }];
      program = { columns: program.columns, rows };
      const next = new Simplex(program);
      next.takeBasis(simplex, [...Array(simplex.m).keys(), -1]);
      simplex = next;
      return certify(program, simplex);
    };
    let last = -1;
    for (const at of [0.5, 2, 1.2, 1]) {
      const found = add({ value: [-2 * at, 1], lower: -at * at });
      const fresh = certify(program, new Simplex(program));
      if (found?.status !== "optimal" || fresh?.status !== "optimal") throw new Error("no optimum");
      expect(found.check.cost).toBeCloseTo(fresh.check.cost, 12);
      expect(isProven(checkAnswer(program, found.x, found.y))).toBe(true);
      expect(found.check.cost).toBeGreaterThanOrEqual(last);
      last = found.check.cost;
    }
    expect(last).toBeCloseTo(1, 12);
    expect(add({ value: [1], lower: 2.5 }, [0])).toMatchObject({ status: "infeasible" });
  });
});
