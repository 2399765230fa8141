/**
 * HiGHS (WebAssembly) behind the engine interface, for continuous programs on doubt and for integer programs.
 * Loaded when first asked for, and once.
 */
import type { Highs, ModelData } from "highs";
import { largestOf, powerOfTwo, ScaledMatrix } from "./matrix.ts";
import type { Engine, Program, Row } from "./program.ts";

let loaded: Promise<Highs> | undefined;

/** Loads the solver; later calls share the first. */
export function loadHighs(): Promise<Highs> {
  loaded ??= import("highs").then((module) => (module.default as unknown as () => Promise<Highs>)());
  return loaded;
}

/** A program in numbers near 1, and the way back. */
export interface Friendly {
  readonly program: Program;
  /** Amount of column j = amount in the scaled program times `unit[j]`. */
  readonly unit: readonly number[];
  /** Cost = cost in the scaled program times this. */
  readonly costUnit: number;
}

/**
 * The same program in numbers near 1, by powers of two: HiGHS measures what it may be off in absolute numbers, which on
 * a bed of half a square metre are as large as the bed's needs. Whole numbers keep their unit.
 */
export function friendly(program: Program): Friendly {
  const { columns, rows } = program;
  const matrix = new ScaledMatrix(program, (column) => column.integer === true);
  const mixed = rows.map((row) => row.index.some((j) => columns[j]!.integer));
  let largest = 0;
  rows.forEach((row, i) => {
    if (mixed[i]) return;
    for (const bound of [row.lower, row.upper, row.scale ?? 0])
      if (Number.isFinite(bound)) largest = Math.max(largest, Math.abs(bound) * matrix.rowScale[i]!);
  });
  const size = largest > 0 ? powerOfTwo(largest) : 1;
  const unit = columns.map((column, j) => (column.integer ? 1 : matrix.columnScale[j]! * size));
  const scaledRows = rows.map((row): Row => {
    const value = row.value.map((v, k) => v * unit[row.index[k]!]!);
    const factor = 1 / powerOfTwo(largestOf(value));
    return {
      ...row,
      value: value.map((v) => v * factor),
      lower: row.lower * factor,
      upper: row.upper * factor,
    };
  });
  const costs = columns.map((column, j) => column.cost * unit[j]!);
  const costUnit = powerOfTwo(largestOf(costs));
  return {
    program: {
      columns: columns.map((column, j) => ({
        ...column,
        cost: costs[j]! / costUnit,
        upper: column.upper / unit[j]!,
      })),
      rows: scaledRows,
    },
    unit,
    costUnit,
  };
}

/** What HiGHS says of a program. `bound` is its own proof: no point costs less. */
export interface HighsOutcome {
  readonly status: "optimal" | "infeasible" | "unbounded" | "stopped" | "failed";
  readonly x: readonly number[] | null;
  readonly bound: number;
  /** Where it failed. */
  readonly reason?: string;
}

/**
 * Minimises, for at most so many seconds of its own clock where they are given.
 * @param start a point that keeps every row, to begin from.
 */
export async function solveWithHighs(
  program: Program,
  seconds?: number,
  start: readonly number[] | null = null,
): Promise<HighsOutcome> {
  const highs = await loadHighs();
  try {
    const { program: scaled, unit, costUnit } = friendly(program);
    return highs.withModel(modelOf(scaled), (model): HighsOutcome => {
      model.options.set({
        output_flag: false,
        mip_rel_gap: 1e-7,
        mip_abs_gap: 1e-9,
        mip_feasibility_tolerance: 1e-9,
        primal_feasibility_tolerance: 1e-9,
        dual_feasibility_tolerance: 1e-9,
      });
      if (seconds !== undefined) model.options.set({ time_limit: seconds });
      if (start) model.setSolution({ colValue: Float64Array.from(start, (v, j) => v / unit[j]!) });
      model.run();
      const { modelStatus, solutionStatus } = highs.constants;
      const verdict = model.getModelStatus();
      if (verdict === modelStatus.infeasible) return { status: "infeasible", x: null, bound: Infinity };
      const found = Number(model.info.get("primal_solution_status")) === solutionStatus.feasible;
      const bound = Number(model.info.get("mip_dual_bound"));
      const statuses = {
        [modelStatus.optimal]: "optimal",
        [modelStatus.unbounded]: "unbounded",
        [modelStatus.unboundedOrInfeasible]: "unbounded",
        [modelStatus.timeLimit]: "stopped",
      } as const;
      return {
        status: statuses[verdict as keyof typeof statuses] ?? "failed",
        x: found ? Array.from(model.getSolution().colValue, (v, j) => v * unit[j]!) : null,
        bound: Number.isFinite(bound) ? bound * costUnit : -Infinity,
      };
    });
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    return { status: "failed", x: null, bound: -Infinity, reason };
  }
}

/** A program as HiGHS takes it. */
export function modelOf({ columns, rows }: Program): ModelData {
  const starts = [0];
  for (const row of rows) starts.push(starts.at(-1)! + row.index.length);
  return {
    numCols: columns.length,
    numRows: rows.length,
    colCost: columns.map(({ cost }) => cost),
    colLower: columns.map(() => 0),
    colUpper: columns.map(({ upper }) => upper),
    rowLower: rows.map(({ lower }) => lower),
    rowUpper: rows.map(({ upper }) => upper),
    integrality: columns.map(({ integer }) => (integer ? 1 : 0)),
    matrix: {
      format: "csr",
      numRows: rows.length,
      numCols: columns.length,
      starts,
      indices: rows.flatMap(({ index }) => index),
      values: rows.flatMap(({ value }) => value),
    },
  };
}

/** The second engine. */
export const highsEngine: Engine = {
  name: "highs",
  async solve(program) {
    const { status, x, reason = "it came to no answer" } = await solveWithHighs(program);
    if (status === "infeasible" || status === "unbounded") return { status };
    return status === "optimal" && x ? { status, x } : { status: "failed", reason };
  },
};
