/**
 * Solves a continuous program and proves the answer, or proves that there is none.
 *
 * An engine's word is a claim. Its point is taken over as a basis, the basis is taken to optimality where it is not
 * there yet, and rows, cost and dual bound are recomputed from the amounts alone. An engine whose claim does not
 * stand up gives way to the next.
 */
import { continuousEngine } from "./engine-continuous.ts";
import type { Column, Engine, Program, Row, Tag } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { type Check, checkAnswer, costOf, isProven, MAX_GAP } from "./verify.ts";

/** An answer that has been proven; only `solveProgram` makes one. */
export interface Proven {
  readonly status: "optimal";
  readonly x: readonly number[];
  /** Row duals of the optimal basis of the cost alone: change of cost per unit of the row's bound. */
  readonly y: readonly number[];
  readonly engine: string;
  readonly check: Check;
}

/** There is no point that keeps every row: the least total shortfall, relative to each row's scale, is above zero. */
export interface ProvenInfeasible {
  readonly status: "infeasible";
  readonly engine: string;
  readonly elastic: Relaxation;
}

/** No engine's answer could be verified. */
export interface Unverified {
  readonly status: "unverified";
  readonly reason: string;
}

export type Answer = Proven | ProvenInfeasible | Unverified;

/** The least total relaxation of a program's rows. */
export interface Relaxation {
  /** Sum of deviations, each relative to its row's scale. */
  readonly total: number;
  /** The closest point. */
  readonly x: readonly number[];
  /** By row: how much lower the lower bound, or higher the upper bound, would have to be; 0 where it holds. */
  readonly deviation: readonly number[];
  /** Duals of the rows in the relaxed program; rows that matter for the conflict are not zero. */
  readonly y: readonly number[];
  readonly check: Check;
}

/** The size by which a row's deviation is measured. */
export function rowScale(row: Row): number {
  const bounds = [row.lower, row.upper]
    .filter((bound) => Number.isFinite(bound) && bound !== 0)
    .map(Math.abs);
  if (bounds.length > 0) return Math.max(...bounds);
  return 1;
}

/** Whether a row states a fact, which cannot give way. */
export function isHard(row: Row): boolean {
  return row.fact === true;
}

/**
 * The program in which every demand may give way at a price of its own: same columns, then one per demand and side.
 * `weight(row)` is the price of one unit of deviation; null: the row may not give way.
 */
export function elasticProgram<R extends Tag>(
  program: Program<R>,
  weight: (row: Row<R>, i: number) => number | null,
): { program: Program; slackOf: readonly (readonly [row: number, side: 1 | -1])[] } {
  const columns: Column[] = program.columns.map((column) => ({ ...column, cost: 0 }));
  const slackOf: (readonly [number, 1 | -1])[] = [];
  const rows = program.rows.map((row, i): Row<R> => {
    const price = isHard(row) ? null : weight(row, i);
    if (price === null) return row;
    const index = [...row.index];
    const value = [...row.value];
    for (const side of [1, -1] as const) {
      if (!Number.isFinite(side === 1 ? row.lower : row.upper)) continue;
      columns.push({ tag: { kind: "other", label: "give way" }, cost: price, upper: Infinity });
      slackOf.push([i, side]);
      index.push(columns.length - 1);
      value.push(side);
    }
    return { ...row, index, value };
  });
  return { program: { columns, rows }, slackOf };
}

function proveFrom(
  program: Program,
  point: readonly number[] | null,
  tieBreaks: readonly (readonly number[])[],
): { x: number[]; y: number[]; check: Check } | null {
  const simplex = new Simplex(program);
  if (point) simplex.crossOver(point);
  if (simplex.optimise() !== "optimal") return null;
  const plain = simplex.point();
  const y = simplex.duals();
  const check = checkAnswer(program, plain, y);
  if (!isProven(check)) return null;
  let best = { x: plain, y, check };
  for (const costs of tieBreaks) {
    simplex.fixOptimalFace();
    simplex.setCosts(costs);
    if (simplex.optimise() !== "optimal") break;
    const x = simplex.point();
    const again = checkAnswer(program, x, y);
    if (!isProven(again)) break;
    best = { x, y, check: again };
  }
  return best;
}

/**
 * The least total relaxation, proven. `weight` as in `elasticProgram`; by default each row in units of its own scale.
 * @returns null where it could not be verified (our own bug or numbers beyond reason).
 */
export function relax<R extends Tag>(
  program: Program<R>,
  weight: (row: Row<R>, i: number) => number | null = (row) => 1 / rowScale(row),
  tieBreaks: readonly (readonly number[])[] = [],
): Relaxation | null {
  const elastic = elasticProgram(program, weight);
  const padding = elastic.slackOf.map(() => 0);
  const found = proveFrom(
    elastic.program,
    null,
    tieBreaks.map((costs) => [...costs, ...padding]),
  );
  if (!found) return null;
  const deviation = program.rows.map(() => 0);
  elastic.slackOf.forEach(([i], k) => {
    deviation[i]! += found.x[program.columns.length + k]!;
  });
  return {
    total: found.check.cost,
    x: found.x.slice(0, program.columns.length),
    deviation,
    y: found.y,
    check: found.check,
  };
}

/** Below this total relative deviation a program counts as feasible; verification allows the same. */
export const FEASIBLE = 1e-7;

/**
 * Solves and proves.
 * @param tieBreaks costs, one list after the other, that choose among equal optima.
 * @param engines asked in order; the default asks javascript-lp-solver, then HiGHS (loaded only then).
 */
export async function solveProgram(
  program: Program,
  tieBreaks: readonly (readonly number[])[] = [],
  engines: readonly (Engine | (() => Promise<Engine>))[] = DEFAULT_ENGINES,
): Promise<Answer> {
  if (!isFiniteProgram(program))
    return { status: "unverified", reason: "a coefficient of the program is not a finite number" };
  const reasons: string[] = [];
  for (const entry of engines) {
    const engine = typeof entry === "function" ? await entry() : entry;
    const outcome = await engine.solve(program);
    if (outcome.status === "optimal") {
      const found = proveFrom(program, outcome.x, tieBreaks);
      const claimed = costOf(program, outcome.x);
      if (found && Math.abs(claimed - found.check.cost) <= MAX_GAP * Math.max(1, Math.abs(found.check.cost)))
        return { status: "optimal", engine: engine.name, ...found };
      reasons.push(`${engine.name}: its optimum could not be proven`);
    } else if (outcome.status === "infeasible") {
      const elastic = relax(program);
      if (elastic && elastic.total > FEASIBLE) return { status: "infeasible", engine: engine.name, elastic };
      reasons.push(`${engine.name}: it says infeasible, which could not be proven`);
    } else {
      reasons.push(`${engine.name}: ${outcome.status === "failed" ? outcome.reason : outcome.status}`);
    }
  }
  return { status: "unverified", reason: reasons.join("; ") };
}

const DEFAULT_ENGINES: readonly (Engine | (() => Promise<Engine>))[] = [
  continuousEngine,
  async () => (await import("./engine-highs.ts")).highsEngine,
];

function isFiniteProgram(program: Program): boolean {
  return (
    program.columns.every((column) => Number.isFinite(column.cost) && column.upper >= 0) &&
    program.rows.every(
      (row) =>
        row.value.every(Number.isFinite) &&
        row.lower < Infinity &&
        row.upper > -Infinity &&
        row.lower <= row.upper,
    )
  );
}
