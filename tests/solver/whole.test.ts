import { describe, expect, it } from "vitest";
import { branchAndBound, costStep, WholeSearch } from "../../src/solver/branch.ts";
import { solveWithHighs } from "../../src/solver/engine-highs.ts";
import type { Program, Row } from "../../src/solver/program.ts";
import { Simplex } from "../../src/solver/simplex.ts";
import { boundWithin, costOf, provesInfeasible, worstViolation } from "../../src/solver/verify.ts";
import { holdWhole, OWN_ENGINE, solveWhole } from "../../src/solver/whole.ts";
import { type Random, seeded } from "../helpers/random.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;

/** A program from dense rows; every column whole unless `continuous` names it. */
function dense(
  cost: number[],
  upper: number[],
  rows: [number[], number, number][],
  continuous: number[] = [],
): Program {
  return {
    columns: cost.map((c, j) => ({
      tag: label(`x${j}`),
      cost: c,
      upper: upper[j]!,
      ...(continuous.includes(j) ? {} : { integer: true }),
    })),
    rows: rows.map(
      ([values, lower, high], i): Row => ({
        tag: label(`r${i}`),
        index: values.map((_, j) => j),
        value: values,
        lower,
        upper: high,
      }),
    ),
  };
}

/** Least cost by trying every whole point within the bounds; null where none keeps the rows. */
function byTrying(program: Program): number | null {
  const x = program.columns.map(() => 0);
  let best: number | null = null;
  const visit = (j: number): void => {
    if (j === x.length) {
      const kept = program.rows.every((row) => {
        const value = row.index.reduce((sum, i, k) => sum + row.value[k]! * x[i]!, 0);
        return value >= row.lower - 1e-9 && value <= row.upper + 1e-9;
      });
      const cost = program.columns.reduce((sum, column, i) => sum + column.cost * x[i]!, 0);
      if (kept && (best === null || cost < best)) best = cost;
      return;
    }
    for (let value = 0; value <= program.columns[j]!.upper; value++) {
      x[j] = value;
      visit(j + 1);
    }
    x[j] = 0;
  };
  visit(0);
  return best;
}

function randomWhole(r: Random): Program {
  const n = r.whole(2, 5);
  const m = r.whole(1, 4);
  const cents = r.chance(0.5);
  return dense(
    Array.from({ length: n }, () => (cents ? r.whole(1, 900) / 100 : r.between(0, 9))),
    Array.from({ length: n }, () => r.whole(1, 5)),
    Array.from({ length: m }, (): [number[], number, number] => {
      const values = Array.from({ length: n }, () =>
        r.chance(0.8) ? r.between(r.chance(0.2) ? -3 : 0, 6) : 0,
      );
      const need = r.between(1, 25);
      return r.chance(0.75) ? [values, need, Infinity] : [values, -Infinity, need];
    }),
  );
}

describe("whole numbers", () => {
  // README of highs-js 1.15 (github.com/lovasoa/highs-js): 20 chairs and 10 tables, profit 1100.
  it("finds the workshop of chairs and tables", async () => {
    const program = dense(
      [-30, -50],
      [50, 40],
      [
        [[1, 2], -Infinity, 40],
        [[2, 1], -Infinity, 50],
      ],
    );
    const answer = await solveWhole(program);
    expect(answer).toMatchObject({ status: "optimal", cost: -1100, x: [20, 10], engine: OWN_ENGINE });
  });

  // Every whole point is tried.
  it("costs what trying every point finds, with a bound that proves it", async () => {
    const r = seeded(20260);
    let infeasible = 0;
    for (let run = 0; run < 300; run++) {
      const program = randomWhole(r);
      const expected = byTrying(program);
      const answer = await solveWhole(program);
      if (expected === null) {
        infeasible++;
        expect(answer.status, `run ${run}`).toBe("infeasible");
        continue;
      }
      if (answer.status !== "optimal") throw new Error(`run ${run}: ${answer.status}`);
      expect(answer.cost, `run ${run}`).toBeCloseTo(expected, 7);
      expect(answer.bound).toBeLessThanOrEqual(answer.cost + 1e-9);
      expect(answer.gap).toBeLessThanOrEqual(1e-6);
      expect(worstViolation(program, answer.x).amount).toBeLessThanOrEqual(1e-8);
    }
    expect(infeasible).toBeGreaterThan(20);
  });

  // Every whole point is tried; HiGHS answers where the first search is stopped at once.
  it("hands over what it leaves open, and gets the same answer", async () => {
    const r = seeded(77);
    let handed = 0;
    let claimed = 0;
    for (let run = 0; run < 60; run++) {
      const program = randomWhole(r);
      const expected = byTrying(program);
      const answer = await solveWhole(program, { nodes: 1 });
      if (expected === null) expect(answer.status).toBe("infeasible");
      else if (answer.status === "optimal") {
        expect(answer.cost).toBeCloseTo(expected, 7);
        if (answer.engine === "highs") handed++;
        else expect(answer.claimed).toBe(false);
        if (answer.claimed) claimed++;
      } else throw new Error(answer.status);
    }
    expect(handed).toBeGreaterThan(0);
    // One node is too little to prove again what HiGHS says, and the answer tells.
    expect(claimed).toBeGreaterThan(0);
    expect(claimed).toBeLessThanOrEqual(handed);
  });

  it("stops where it is told to, with a bound that holds and a gap that is stated", async () => {
    const r = seeded(5);
    let open = 0;
    for (let run = 0; run < 100; run++) {
      const program = randomWhole(r);
      const expected = byTrying(program);
      if (expected === null) continue;
      const result = branchAndBound(program, { nodes: 2 });
      expect(result.bound).toBeLessThanOrEqual(expected + 1e-7);
      if (result.x) expect(result.cost).toBeGreaterThanOrEqual(expected - 1e-7);
      if (result.status === "stopped") open++;
      const late = await solveWhole(program, { nodes: 2, alone: true });
      if ("x" in late) {
        expect(late.cost * (1 - late.gap)).toBeLessThanOrEqual(expected + 1e-6);
        expect(late.status).toBe(late.gap <= 1e-6 ? "optimal" : "stopped");
      }
    }
    expect(open).toBeGreaterThan(0);
  });

  /** Packs for many needs: enough nodes that a search can be stopped on its way. */
  function manyPacks(seed: number): Program {
    const r = seeded(seed);
    const n = 10;
    return dense(
      Array.from({ length: n }, () => r.whole(300, 4000) / 100),
      Array.from({ length: n }, () => 9),
      Array.from({ length: 5 }, (): [number[], number, number] => [
        Array.from({ length: n }, () => (r.chance(0.6) ? r.between(0.5, 6) : 0)),
        r.between(20, 60),
        Infinity,
      ]),
    );
  }

  it("keeps its tree while HiGHS has a turn, and goes on where it was", async () => {
    let stopped = 0;
    for (let seed = 1; seed <= 8; seed++) {
      const program = manyPacks(seed);
      const alone = await solveWhole(program, { alone: true, nodes: 20_000 });
      if (alone.status !== "optimal") throw new Error(alone.status);
      const part = Math.ceil(alone.nodes / 2);
      if (part >= alone.nodes) continue;
      const shared = await solveWhole(program, { nodes: part });
      if (shared.status !== "optimal") throw new Error(shared.status);
      stopped++;
      expect(shared.cost).toBeCloseTo(alone.cost, 6);
      expect(shared.claimed).toBe(false);
      // A search begun anew would take its first part twice.
      expect(shared.nodes).toBeLessThanOrEqual(alone.nodes + 2);
    }
    expect(stopped).toBeGreaterThan(4);
  });

  it("proves the same, stopped and run again as often as one likes, as in one run", () => {
    const program = manyPacks(3);
    const whole = branchAndBound(program, { nodes: 20_000 });
    expect(whole.status).toBe("finished");
    const search = new WholeSearch(program);
    let runs = 0;
    for (let result = search.run({ nodes: 0 }); result.status === "stopped"; runs++) {
      expect(result.bound).toBeLessThanOrEqual(whole.cost + 1e-7);
      // Stops after so many questions, most of them asked between the pivots of a node.
      let left = 20 + runs;
      result = search.run({ nodes: 20_000, stop: () => left-- <= 0 });
      if (result.status === "finished") expect(result.cost).toBeCloseTo(whole.cost, 7);
    }
    expect(runs).toBeGreaterThan(5);
  });

  it("keeps the time within a node too", () => {
    // One node alone takes far more pivots than are made between two looks at the clock.
    const r = seeded(9);
    const n = 120;
    const program = dense(
      Array.from({ length: n }, () => r.between(1, 9)),
      Array.from({ length: n }, () => 50),
      Array.from({ length: 80 }, (): [number[], number, number] => [
        Array.from({ length: n }, () => (r.chance(0.3) ? r.between(0.5, 6) : 0)),
        r.between(20, 60),
        Infinity,
      ]),
    );
    const simplex = new Simplex(program);
    let asked = 0;
    expect(simplex.optimise({ stop: () => ++asked > 2 })).toBe("late");
    const first = simplex.basis.pivots;
    expect(first).toBeLessThan(30);
    expect(simplex.optimise()).toBe("optimal");
    expect(simplex.basis.pivots).toBeGreaterThan(first + 10);
    let looks = 0;
    const early = branchAndBound(program, { nodes: 1000, stop: () => ++looks > 3 });
    expect(early).toMatchObject({ status: "stopped", x: null, nodes: 1 });
  });

  // By hand: 7.3 of x at 1 each ask for one b at 55, however little of b would do. HiGHS left to call 1e-7 of b none
  // says 7.3.
  it("takes no ten-millionth of a pack for none, nor does HiGHS", async () => {
    const program = dense(
      [1, 55, 9],
      [Infinity, 9, 9],
      [
        [[1, 0, 0.01], 7.3, Infinity],
        [[1, -1e8, 0.5], -Infinity, 0],
      ],
      [0],
    );
    expect(await solveWhole(program, { alone: true })).toMatchObject({ status: "optimal", cost: 62.3 });
    expect(await solveWhole(program, { nodes: 1 })).toMatchObject({ status: "optimal", cost: 62.3 });
    const theirs = await solveWithHighs(program);
    expect(costOf(program, theirs.x!)).toBeCloseTo(62.3, 6);
    expect(theirs.bound).toBeCloseTo(62.3, 6);
  });

  // HiGHS 1.15 calls 920.59 optimal here: the right whole numbers, and x7 at the wrong end of the first row.
  it("solves again for the whole numbers that HiGHS names, whatever it says of the rest", async () => {
    const costs = [
      41.91350603592582, 16.415928743313998, 34.323661415372044, 7.602581174112856, 25.650728445267305,
      9.106677181785926, 15.062213135650381, 12.792087425710633,
    ];
    const first = [
      0, 22.671231130603704, 0.885911593977362, 1.7534600529121236, 0.7238542411359958, 8.871678160410374,
      152.4205765989609, 979.6504091937095,
    ];
    const second = [
      0.0035247129130642862, 0, 9732.178670540452, 0, 4.833015255676583, 5.998991396953351, 284.5386470109225,
      0,
    ];
    const program = dense(
      costs,
      [1, 1, 1, 1, 198, 1, 102, 145],
      [
        [first, 15883.993877938237, 45339.13942610258],
        [second, 16137.150522748441, Infinity],
      ],
      [0, 1, 3, 6, 7],
    );
    const own = await solveWhole(program, { alone: true });
    const shared = await solveWhole(program, { nodes: 1 });
    if (own.status !== "optimal" || shared.status !== "optimal") throw new Error("not optimal");
    // By hand, with x2 = 1 and nothing of the others: x6 fills the second row, x7 the first.
    const x6 = (16137.150522748441 - second[2]!) / second[6]!;
    const x7 = (15883.993877938237 - first[2]! - first[6]! * x6) / first[7]!;
    const cost = costs[2]! + costs[6]! * x6 + costs[7]! * x7;
    expect(own.cost).toBeCloseTo(cost, 6);
    expect(shared.cost).toBeCloseTo(cost, 6);
  });

  it("ends at once when the time is over before it begins", async () => {
    let now = 0;
    const clock = () => {
      now += 1000;
      return now;
    };
    const answer = await solveWhole(dense([3, 2], [9, 9], [[[2, 1.5], 7, Infinity]]), {
      seconds: 0.001,
      clock,
    });
    expect(answer.status).toBe("nothing");
  });

  it("chooses among equal costs by the further costs, in their order", async () => {
    // Two packs of 10 at 10, or one of 20 at 20, or one of 25 at 20: same money, least weight, then fewest.
    const program = dense([10, 20, 20], [9, 9, 9], [[[10, 20, 25], 18, Infinity]]);
    const answer = await solveWhole(program, {
      tieBreaks: [
        [10, 20, 25],
        [1, 1, 1],
      ],
    });
    expect(answer).toMatchObject({ status: "optimal", cost: 20, x: [0, 1, 0] });
  });

  it("keeps continuous columns exact beside whole ones", async () => {
    // 2.5 loose at 3 each tops up one pack of 10 at 11; a second pack would cost more: 18.5.
    const program = dense([11, 3], [9, 100], [[[10, 1], 12.5, Infinity]], [1]);
    const answer = await solveWhole(program);
    if (answer.status !== "optimal") throw new Error(answer.status);
    expect(answer.cost).toBeCloseTo(18.5, 6);
    expect(answer.x[0]).toBe(1);
    expect(answer.x[1]).toBeCloseTo(2.5, 8);
    const held = holdWhole(program, answer.x);
    expect(held.kept).toEqual([1]);
    expect(held.program.rows[0]).toMatchObject({ index: [0], value: [1], lower: 2.5 });
  });

  it("knows the step between costs", () => {
    const rows: [number[], number, number][] = [[[1, 1], 1, Infinity]];
    expect(costStep(dense([38.5, 9.25], [9, 9], rows))).toBeCloseTo(0.25, 9);
    expect(costStep(dense([12, 0.01], [9, 9], rows))).toBeCloseTo(0.01, 9);
    expect(costStep(dense([Math.PI, Math.E], [9, 9], rows))).toBe(0);
    expect(costStep(dense([10, 3], [9, 9], rows, [1]))).toBe(0);
  });
});

describe("the simplex on relaxations", () => {
  // HiGHS on the same relaxation.
  it("agrees with HiGHS, and its duals and rays prove bounds and infeasibility from the rows alone", async () => {
    const r = seeded(31);
    let infeasible = 0;
    for (let run = 0; run < 80; run++) {
      const whole = randomWhole(r);
      const program = {
        ...whole,
        columns: whole.columns.map(({ tag, cost, upper }) => ({ tag, cost, upper })),
      };
      const other = await solveWithHighs(program, 5);
      const simplex = new Simplex(program);
      const status = simplex.optimise();
      const lower = program.columns.map(() => 0);
      const upper = program.columns.map((column) => column.upper);
      if (other.status === "infeasible") {
        infeasible++;
        expect(status).toBe("infeasible");
        expect(provesInfeasible(program, simplex.ray()!)).not.toBeNull();
        continue;
      }
      expect(status).toBe("optimal");
      const cost = program.columns.reduce((sum, column, j) => sum + column.cost * other.x![j]!, 0);
      expect(simplex.objective()).toBeCloseTo(cost, 5);
      expect(boundWithin(program, simplex.duals(), lower, upper)).toBeCloseTo(cost, 5);
      expect(simplex.ray()).toBeNull();
    }
    expect(infeasible).toBeGreaterThan(5);
  });
});
