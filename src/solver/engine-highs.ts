/**
 * HiGHS (WebAssembly) behind the engine interface, for continuous programs on doubt and for integer programs.
 * Loaded when first asked for, and once. Columns and rows go by plain machine names in the LP text.
 */
import { powerOfTwo, ScaledMatrix } from "./matrix.ts";
import type { Engine, Outcome, Program, Row } from "./program.ts";

interface HighsAnswer {
  readonly Status: string;
  readonly ObjectiveValue?: number;
  readonly Columns: Readonly<Record<string, { readonly Primal?: number }>>;
  readonly Rows: readonly { readonly Dual?: number }[];
}
interface HighsModel {
  readonly options: { set(values: Record<string, unknown>): unknown };
  readonly info: { get(name: string): unknown };
  setSolution(solution: { colValue: Float64Array }): unknown;
  run(): unknown;
  getModelStatus(): number;
  getSolution(): { readonly colValue: ArrayLike<number> };
  dispose(): void;
}
interface Highs {
  readonly constants: {
    readonly modelStatus: Readonly<Record<"optimal" | "infeasible" | "timeLimit", number>>;
    readonly solutionStatus: { readonly feasible: number };
  };
  solve(text: string, options: Record<string, unknown>): HighsAnswer;
  createModel(model: object): HighsModel;
}

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
    const factor = 1 / powerOfTwo(value.reduce((most, v) => Math.max(most, Math.abs(v)), 0));
    return {
      ...row,
      value: value.map((v) => v * factor),
      lower: row.lower * factor,
      upper: row.upper * factor,
    };
  });
  const costs = columns.map((column, j) => column.cost * unit[j]!);
  const costUnit = powerOfTwo(costs.reduce((most, cost) => Math.max(most, Math.abs(cost)), 0));
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

function expression(index: readonly number[], value: readonly number[]): string {
  const terms: string[] = [];
  index.forEach((j, k) => {
    const v = value[k]!;
    if (v !== 0) terms.push(`${v < 0 ? "-" : "+"} ${Math.abs(v)} x${j}`);
  });
  return terms.length === 0 ? "0 x0" : terms.join("\n ");
}

/** The program in LP text format. */
export function lpText(program: Program): string {
  const rows: string[] = [];
  program.rows.forEach((row, i) => {
    const left = expression(row.index, row.value);
    if (row.lower === row.upper) rows.push(` r${i}: ${left} = ${row.lower}`);
    else {
      if (row.lower > -Infinity)
        rows.push(` r${i}${row.upper < Infinity ? "a" : ""}: ${left} >= ${row.lower}`);
      if (row.upper < Infinity)
        rows.push(` r${i}${row.lower > -Infinity ? "b" : ""}: ${left} <= ${row.upper}`);
    }
  });
  const bounds = program.columns.map((column, j) =>
    column.upper < Infinity ? ` 0 <= x${j} <= ${column.upper}` : ` x${j} >= 0`,
  );
  const whole = program.columns.flatMap((column, j) => (column.integer ? [` x${j}`] : []));
  const objective = expression(
    program.columns.map((_, j) => j),
    program.columns.map((column) => column.cost),
  );
  return [
    "Minimize",
    ` cost: ${objective}`,
    "Subject To",
    ...(rows.length > 0 ? rows : [" r0: 0 x0 >= 0"]),
    "Bounds",
    ...bounds,
    ...(whole.length > 0 ? ["Generals", ...whole] : []),
    "End",
    "",
  ].join("\n");
}

/** What HiGHS says of an integer program. `bound` is its own proof: no point costs less. */
export interface WholeOutcome {
  readonly status: "optimal" | "infeasible" | "stopped" | "failed";
  readonly x: readonly number[] | null;
  readonly bound: number;
}

/**
 * Minimises over whole numbers, for at most so many seconds of its own clock.
 * @param start a point that keeps every row, to begin from.
 */
export async function solveWholeWithHighs(
  program: Program,
  seconds: number,
  start: readonly number[] | null = null,
): Promise<WholeOutcome> {
  const highs = await loadHighs();
  let model: HighsModel | undefined;
  try {
    const { program: scaled, unit, costUnit } = friendly(program);
    model = highs.createModel(modelOf(scaled));
    model.options.set({
      output_flag: false,
      time_limit: seconds,
      mip_rel_gap: 1e-7,
      mip_abs_gap: 1e-9,
      mip_feasibility_tolerance: 1e-7,
      primal_feasibility_tolerance: 1e-9,
    });
    if (start) model.setSolution({ colValue: Float64Array.from(start, (v, j) => v / unit[j]!) });
    model.run();
    const { modelStatus, solutionStatus } = highs.constants;
    const verdict = model.getModelStatus();
    if (verdict === modelStatus.infeasible) return { status: "infeasible", x: null, bound: Infinity };
    const found = Number(model.info.get("primal_solution_status")) === solutionStatus.feasible;
    const bound = Number(model.info.get("mip_dual_bound"));
    return {
      status:
        verdict === modelStatus.optimal
          ? "optimal"
          : verdict === modelStatus.timeLimit
            ? "stopped"
            : "failed",
      x: found ? Array.from(model.getSolution().colValue, (v, j) => v * unit[j]!) : null,
      bound: Number.isFinite(bound) ? bound * costUnit : -Infinity,
    };
  } catch {
    return { status: "failed", x: null, bound: -Infinity };
  } finally {
    model?.dispose();
  }
}

/** A program as HiGHS takes it. */
function modelOf(program: Program): object {
  const rowStart = [0];
  for (const row of program.rows) rowStart.push(rowStart.at(-1)! + row.index.length);
  return {
    numCols: program.columns.length,
    numRows: program.rows.length,
    colCost: program.columns.map((column) => column.cost),
    colLower: program.columns.map(() => 0),
    colUpper: program.columns.map((column) => column.upper),
    rowLower: program.rows.map((row) => row.lower),
    rowUpper: program.rows.map((row) => row.upper),
    integrality: program.columns.map((column) => (column.integer ? 1 : 0)),
    matrix: {
      format: "csr",
      numRows: program.rows.length,
      numCols: program.columns.length,
      starts: rowStart,
      indices: program.rows.flatMap((row) => row.index),
      values: program.rows.flatMap((row) => row.value),
    },
  };
}

async function solve(program: Program): Promise<Outcome> {
  const finite = program.columns.every((column) => Number.isFinite(column.cost));
  if (!finite) return { status: "failed", reason: "a cost is not a finite number" };
  const highs = await loadHighs();
  const { program: scaled, unit } = friendly(program);
  let answer: HighsAnswer;
  try {
    answer = highs.solve(lpText(scaled), { output_flag: false });
  } catch (error) {
    return { status: "failed", reason: error instanceof Error ? error.message : String(error) };
  }
  switch (answer.Status) {
    case "Optimal":
      return { status: "optimal", x: unit.map((size, j) => (answer.Columns[`x${j}`]?.Primal ?? 0) * size) };
    case "Infeasible":
      return { status: "infeasible" };
    case "Unbounded":
    case "Primal infeasible or unbounded":
      return { status: "unbounded" };
    default:
      return { status: "failed", reason: answer.Status };
  }
}

/** The second engine. */
export const highsEngine: Engine = { name: "highs", solve };
