/**
 * HiGHS (WebAssembly) behind the engine interface, for continuous programs on doubt and for integer programs.
 * Loaded when first asked for, and once. Columns and rows go by plain machine names in the LP text.
 */
import type { Engine, Outcome, Program } from "./program.ts";

interface HighsAnswer {
  readonly Status: string;
  readonly ObjectiveValue?: number;
  readonly Columns: Readonly<Record<string, { readonly Primal?: number }>>;
  readonly Rows: readonly { readonly Dual?: number }[];
}
interface Highs {
  solve(text: string, options: Record<string, unknown>): HighsAnswer;
}

let loaded: Promise<Highs> | undefined;

/** Loads the solver; later calls share the first. */
export function loadHighs(): Promise<Highs> {
  loaded ??= import("highs").then((module) => (module.default as unknown as () => Promise<Highs>)());
  return loaded;
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

async function solve(program: Program): Promise<Outcome> {
  const finite = program.columns.every((column) => Number.isFinite(column.cost));
  if (!finite) return { status: "failed", reason: "a cost is not a finite number" };
  const highs = await loadHighs();
  let answer: HighsAnswer;
  try {
    answer = highs.solve(lpText(program), { output_flag: false });
  } catch (error) {
    return { status: "failed", reason: error instanceof Error ? error.message : String(error) };
  }
  switch (answer.Status) {
    case "Optimal":
      return { status: "optimal", x: program.columns.map((_, j) => answer.Columns[`x${j}`]?.Primal ?? 0) };
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
