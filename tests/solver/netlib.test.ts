/**
 * Linear programs of the netlib collection against the optima that its index prints (tests/fixtures/netlib/README.md).
 * None is a blend; all are harder than one: earning columns, rows that are nearly parallel, coefficients over many decades.
 */
import { describe, expect, it } from "vitest";
import { solveWithHighs } from "../../src/solver/engine-highs.ts";
import { other, type Program } from "../../src/solver/program.ts";
import { Simplex } from "../../src/solver/simplex.ts";
import { certify, relax, solveProgram } from "../../src/solver/solve.ts";
import { costOf } from "../../src/solver/verify.ts";
import { OWN_ENGINE, solveWhole } from "../../src/solver/whole.ts";
import { readMpsFile } from "../helpers/mps.ts";

const PUBLISHED: readonly (readonly [name: string, optimum: number])[] = [
  ["afiro", -4.6475314286e2],
  ["adlittle", 2.2549496316e5],
  ["blend", -3.0812149846e1],
  ["boeing2", -3.1501872802e2],
  ["kb2", -1.7499001299e3],
  ["lotfi", -2.5264706062e1],
  ["recipe", -2.66616e2],
  ["sc105", -5.2202061212e1],
  ["sc50a", -6.4575077059e1],
  ["sc50b", -7e1],
  // The index has -2.3313892548E+06; HiGHS and solvers since find this.
  ["scagr7", -2.3313898243e6],
  ["share2b", -4.1573224074e2],
  ["stocfor1", -4.1131976219e4],
  ["vtp.base", 1.2983146246e5],
];

const WITHOUT_SOLUTION = ["galenet", "itest2", "itest6", "klein1", "klein2"];

/** Equal to the digits that were printed. */
const same = (a: number, b: number): boolean => Math.abs(a - b) <= 5e-9 * Math.abs(b);

/** The least total giving way as a program of its own, written again here: rows in units of their bounds. */
function givingWay({ columns, rows }: Program): Program {
  const more = columns.map((column) => ({ ...column, cost: 0 }));
  const soft = rows.map((row) => {
    const size = Math.max(...[row.lower, row.upper].filter(Number.isFinite).map(Math.abs)) || 1;
    const index = [...row.index];
    const value = row.value.map((v) => v / size);
    for (const [side, bound] of [
      [1, row.lower],
      [-1, row.upper],
    ] as const) {
      if (!Number.isFinite(bound)) continue;
      more.push({ tag: other("way"), cost: 1, upper: Infinity });
      index.push(more.length - 1);
      value.push(side);
    }
    return { ...row, index, value, lower: row.lower / size, upper: row.upper / size };
  });
  return { columns: more, rows: soft };
}

describe("the netlib collection", () => {
  it.each(PUBLISHED)("%s costs what its index prints, proven by the simplex alone", (name, optimum) => {
    const { program, constant } = readMpsFile(name);
    const found = certify(program, new Simplex(program));
    if (found?.status !== "optimal") throw new Error(`${name}: ${found?.status ?? "not proven"}`);
    expect(same(found.check.cost + constant, optimum), `${found.check.cost + constant}`).toBe(true);
  });

  it.each(PUBLISHED)(
    "%s is proven from what the engines say, and by the whole-number search",
    async (name, optimum) => {
      const { program, constant } = readMpsFile(name);
      const answer = await solveProgram(program);
      if (answer.status !== "optimal") throw new Error(`${name}: ${answer.status}`);
      expect(same(answer.check.cost + constant, optimum)).toBe(true);
      const whole = await solveWhole(program);
      if (whole.status !== "optimal") throw new Error(`${name}: ${whole.status}`);
      expect(same(whole.cost + constant, optimum)).toBe(true);
      expect(whole).toMatchObject({ engine: OWN_ENGINE, claimed: false });
    },
  );

  it.each(WITHOUT_SOLUTION)(
    "%s has no solution, and the least giving way is what HiGHS finds",
    async (name) => {
      const { program } = readMpsFile(name);
      const answer = await solveProgram(program);
      if (answer.status !== "infeasible") throw new Error(`${name}: ${answer.status}`);
      const soft = givingWay(program);
      const theirs = await solveWithHighs(soft);
      if (!theirs.x) throw new Error("HiGHS found nothing");
      expect(answer.elastic.total).toBeCloseTo(costOf(soft, theirs.x), 6);
      expect(relax(program)?.total).toBeCloseTo(answer.elastic.total, 9);
    },
  );
});
