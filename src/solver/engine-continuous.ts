/**
 * javascript-lp-solver behind the engine interface, for continuous programs.
 *
 * Its answer is one flat object in which a variable may overwrite the verdict, zeros are left out and amounts are
 * rounded near 1e-8; so columns and rows go by plain machine names, rows are scaled to friendly numbers, and nothing
 * it says is believed before it is verified.
 */
import module from "javascript-lp-solver";
import { largestOf, powerOfTwo } from "./matrix.ts";
import type { Engine, Outcome, Program } from "./program.ts";

interface Tableau {
  pivot(row: number, column: number): void;
}
interface Model {
  tableau: Tableau;
  loadJson(model: object): Model;
}

/** The package's types describe its CommonJS form; its default export is the solver itself. */
const solver = module as unknown as {
  Solve(model: Model): Record<string, unknown>;
  readonly Model: new (precision?: number) => Model;
  readonly Tableau: new (precision?: number) => Tableau;
};

/** The solver has had all the work it may do. */
class OutOfWork extends Error {}

/**
 * The solver's own tableau with an end: its first phase may pivot in a circle for ever on a program that has an
 * optimum, and no option of its own stops it.
 */
class LimitedTableau extends solver.Tableau {
  left = 0;

  override pivot(row: number, column: number): void {
    if (this.left-- <= 0) throw new OutOfWork();
    super.pivot(row, column);
  }
}

/** Entries of a table beyond which it is not asked: each pivot goes over all of them. */
const LARGEST_TABLE = 20_000;

interface Bounds {
  min?: number;
  max?: number;
}

function solve(program: Program): Outcome {
  const height = program.rows.length + program.columns.filter((column) => column.upper < Infinity).length;
  if (height * program.columns.length > LARGEST_TABLE)
    return { status: "failed", reason: "the program is too large for it" };
  // Factors (powers of two) that bring the largest coefficient of each row near 1.
  const factors = program.rows.map((row) => 1 / powerOfTwo(largestOf(row.value)));
  const constraints: Record<string, Bounds> = {};
  const variables: Record<string, Record<string, number>> = {};
  program.columns.forEach((column, j) => {
    variables[`x${j}`] = { cost: column.cost };
    if (column.upper < Infinity) {
      constraints[`u${j}`] = { max: column.upper };
      variables[`x${j}`]![`u${j}`] = 1;
    }
  });
  for (const [i, row] of program.rows.entries()) {
    const bounds: Bounds = {};
    if (row.lower > -Infinity) bounds.min = row.lower * factors[i]!;
    if (row.upper < Infinity) bounds.max = row.upper * factors[i]!;
    if (row.index.length === 0) {
      if (row.lower > 0 || row.upper < 0) return { status: "infeasible" };
      continue;
    }
    constraints[`r${i}`] = bounds;
    row.index.forEach((j, k) => {
      variables[`x${j}`]![`r${i}`] = row.value[k]! * factors[i]!;
    });
  }
  let answer: Record<string, unknown>;
  try {
    const model = new solver.Model();
    const tableau = new LimitedTableau();
    // Ordinary programs take less than three pivots for each row and column.
    tableau.left = 1000 + 40 * (program.rows.length + program.columns.length);
    model.tableau = tableau;
    model.loadJson({ optimize: "cost", opType: "min", constraints, variables });
    answer = solver.Solve(model);
  } catch (error) {
    if (error instanceof OutOfWork) return { status: "failed", reason: "it went round in circles" };
    return { status: "failed", reason: error instanceof Error ? error.message : String(error) };
  }
  if (answer.feasible !== true) return { status: "infeasible" };
  if (answer.bounded === false) return { status: "unbounded" };
  const x = program.columns.map((_, j) => {
    const value = answer[`x${j}`];
    return typeof value === "number" ? value : 0;
  });
  if (!x.every(Number.isFinite)) return { status: "failed", reason: "an amount is not a finite number" };
  return { status: "optimal", x };
}

/** The first engine. */
export const continuousEngine: Engine = { name: "javascript-lp-solver", solve };
