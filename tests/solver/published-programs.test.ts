import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import type { Program, Row } from "../../src/solver/program.ts";
import { solveProgram } from "../../src/solver/solve.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;

/** A program from dense rows. */
function dense(cost: number[], rows: [number[], number, number][]): Program {
  return {
    columns: cost.map((c, j) => ({ tag: label(`x${j}`), cost: c, upper: Infinity })),
    rows: rows.map(
      ([values, lower, upper], i): Row => ({
        tag: label(`r${i}`),
        index: values.map((_, j) => j),
        value: values,
        lower,
        upper,
      }),
    ),
  };
}

async function optimum(program: Program) {
  const answer = await solveProgram(program);
  if (answer.status !== "optimal") throw new Error(answer.status);
  return answer;
}

describe("published linear programs", () => {
  // G. J. Stigler 1945, The Cost of Subsistence, J. Farm Economics 27(2):303-314: 77 foods, 9 nutrients, 1939 prices.
  it("finds the diet of Stigler's 77 foods", async () => {
    const lines = readFileSync(new URL("../data/stigler-1945.csv", import.meta.url), "utf8")
      .trim()
      .split("\n")
      .slice(1);
    const foods = lines.map((line) => line.split(","));
    expect(foods).toHaveLength(77);
    const floors = [3, 70, 0.8, 12, 5, 1.8, 2.7, 18, 75];
    const program = dense(
      foods.map(() => 1),
      floors.map((floor, n) => [foods.map((food) => Number(food[n + 3])), floor, Infinity]),
    );
    const answer = await optimum(program);
    // Derived by an independent solution of the same data: 0.1086622782 dollars a day, 39.66173 a year.
    expect(answer.check.cost).toBeCloseTo(0.1086622782, 9);
    expect(answer.check.cost * 365).toBeCloseTo(39.66173, 4);
    const bought = foods.flatMap((food, j) =>
      answer.x[j]! > 1e-9 ? [[food[0], answer.x[j]! * 365] as const] : [],
    );
    expect(bought.map(([name]) => name)).toEqual([
      "Wheat flour (enriched)",
      "Liver (beef)",
      "Cabbage",
      "Spinach",
      "Navy beans (dried)",
    ]);
    const perYear = [10.7745, 0.6908, 4.0933, 1.8278, 22.2754];
    bought.forEach(([, amount], k) => {
      expect(amount).toBeCloseTo(perYear[k]!, 3);
    });
    const duals = [0.00876515, 0, 0.03173771, 0, 0.00040023, 0, 0.01635803, 0, 0.00014412];
    answer.y.forEach((dual, n) => {
      expect(dual).toBeCloseTo(duals[n]!, 7);
    });
  });

  // SAS/OR documentation, OPTLP example, The Diet Problem.
  it("solves a diet with floors, ceilings and bounds", async () => {
    const program = dense(
      [2, 3.5, 8, 1.5, 11, 1],
      [
        [[90, 120, 106, 97, 130, 180], 300, Infinity],
        [[4, 8, 7, 1.3, 8, 9.2], -Infinity, 10],
        [[15, 11.7, 0.4, 22.6, 0, 17], 10, Infinity],
        [[1, 5, 9, 0.1, 7, 1], 8, Infinity],
        [[0, 0, 0, 0, 1, 0], 0.5, Infinity],
        [[0, 1, 0, 0, 0, 0], -Infinity, 1],
      ],
    );
    const answer = await optimum(program);
    expect(answer.check.cost).toBeCloseTo(12.0813378811, 9);
    const expected = [0, 0.05359877, 0.44949882, 1.86516776, 0.5, 0];
    answer.x.forEach((amount, j) => {
      expect(amount).toBeCloseTo(expected[j]!, 7);
    });
  });
});

describe("small blends with answers in closed form", () => {
  it("trades pellets against feather meal at a phosphorus cap", async () => {
    // N >= 3, P2O5 <= 1.5 from 4-3-2 at 0.30 and 13-0-0 at 1.00: P binds pellets at 50, feather meal 1/0.13.
    const answer = await optimum(
      dense(
        [0.3, 1],
        [
          [[0.04, 0.13], 3, Infinity],
          [[0.03, 0], -Infinity, 1.5],
        ],
      ),
    );
    expect(answer.x[0]).toBeCloseTo(50, 9);
    expect(answer.x[1]).toBeCloseTo(1 / 0.13, 9);
    expect(answer.check.cost).toBeCloseTo(22.692308, 6);
    expect(answer.y[0]).toBeCloseTo(1 / 0.13, 9);
    expect(answer.y[1]).toBeCloseTo((0.3 - 0.04 / 0.13) / 0.03, 9);
  });

  it("proves that a need above its cap cannot be met", async () => {
    const answer = await solveProgram(
      dense(
        [0.3],
        [
          [[0.04], 3, Infinity],
          [[0.03], -Infinity, 1],
        ],
      ),
    );
    expect(answer.status).toBe("infeasible");
  });

  it("chooses potash and magnesium sources", async () => {
    const answer = await optimum(
      dense(
        [0.6, 0.8, 0.7],
        [
          [[0.22, 0.5, 0], 3, Infinity],
          [[0.11, 0, 0.098], 0.5, Infinity],
        ],
      ),
    );
    expect(answer.x[0]).toBeCloseTo(0.5 / 0.11, 9);
    expect(answer.x[1]).toBeCloseTo(4, 9);
    expect(answer.x[2]).toBe(0);
    expect(answer.check.cost).toBeCloseTo(5.927273, 6);
    expect(answer.y[0]).toBeCloseTo(1.6, 9);
    expect(answer.y[1]).toBeCloseTo(2.254545, 6);
  });
});
