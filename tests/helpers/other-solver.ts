/** An integer program as a model of javascript-lp-solver. It may never return on one: run it only in a child process. */
import type { Program } from "../../src/solver/program.ts";

export function otherModel(program: Program): object {
  const constraints: Record<string, { min?: number; max?: number }> = {};
  const variables: Record<string, Record<string, number>> = {};
  const ints: Record<string, 1> = {};
  program.columns.forEach((column, j) => {
    variables[`x${j}`] = { cost: column.cost };
    if (column.integer) ints[`x${j}`] = 1;
    if (column.upper < Infinity) {
      constraints[`u${j}`] = { max: column.upper };
      variables[`x${j}`]![`u${j}`] = 1;
    }
  });
  program.rows.forEach((row, i) => {
    constraints[`r${i}`] = {
      ...(row.lower > -Infinity ? { min: row.lower } : {}),
      ...(row.upper < Infinity ? { max: row.upper } : {}),
    };
    row.index.forEach((j, k) => {
      variables[`x${j}`]![`r${i}`] = row.value[k]!;
    });
  });
  return { optimize: "cost", opType: "min", constraints, variables, ints };
}
