/**
 * Solves a continuous program and proves the answer, or proves that there is none.
 *
 * An engine's word is a claim, and no more than a start: its point is taken over as a basis, the basis is taken to
 * optimality where it is not there yet, and rows, cost and dual bound are recomputed from the amounts alone. What is so
 * proven counts, whatever the engine said; it is named as the answer's engine where its claim was right. Where an
 * engine has no point to begin from, the simplex begins from nothing.
 */
import { continuousEngine } from "./engine-continuous.ts";
import {
  type Column,
  type Engine,
  type Outcome,
  other,
  type Program,
  type Row,
  rowScale,
  type Tag,
} from "./program.ts";
import { Simplex } from "./simplex.ts";
import {
  type Check,
  checkAnswer,
  costOf,
  FEASIBLE,
  isProven,
  MAX_GAP,
  provesInfeasible,
  shortfall,
} from "./verify.ts";

/** What proves an answer by itself, where no other engine had it right. */
export const OWN_SIMPLEX = "simplex";

/** An optimum that has been proven; only `certify` makes one. */
export interface CertifiedOptimum {
  readonly status: "optimal";
  readonly x: readonly number[];
  /** Row duals of the optimal basis of the cost alone: change of cost per unit of the row's bound. */
  readonly y: readonly number[];
  readonly check: Check;
}

/** Proof that no point keeps every row. */
interface CertifiedInfeasible {
  readonly status: "infeasible";
  /** Multipliers of the rows that show it; see `shortfall` in verify.ts. */
  readonly certificate: readonly number[];
  /** Rows that have a part in the proof. */
  readonly rows: readonly number[];
}

export type Certified = CertifiedOptimum | CertifiedInfeasible;

export interface Proven extends CertifiedOptimum {
  readonly engine: string;
}

/** There is no point that keeps every row. */
export interface ProvenInfeasible extends CertifiedInfeasible {
  readonly engine: string;
  /** The least total shortfall, relative to each row's scale. */
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

/**
 * The program in which every demand may give way at a price of its own: same columns, then one per demand and side.
 * `slackOf` says which row each of these is for. `weight(row)` is the price of one unit of deviation; null: the row may not give way.
 */
function elasticProgram<R extends Tag>(
  program: Program<R>,
  weight: (row: Row<R>, i: number) => number | null,
): { program: Program; slackOf: readonly number[] } {
  const columns: Column[] = program.columns.map((column) => ({ ...column, cost: 0 }));
  const slackOf: number[] = [];
  const rows = program.rows.map((row, i): Row<R> => {
    const price = row.fact ? null : weight(row, i);
    if (price === null) return row;
    const index = [...row.index];
    const value = [...row.value];
    for (const side of [1, -1] as const) {
      if (!Number.isFinite(side === 1 ? row.lower : row.upper)) continue;
      columns.push({ tag: other("give way"), cost: price, upper: Infinity });
      slackOf.push(i);
      index.push(columns.length - 1);
      value.push(side);
    }
    return { ...row, index, value };
  });
  return { program: { columns, rows }, slackOf };
}

/**
 * Takes a simplex of a program from where it is to an optimum and proves it, or proves that nothing is feasible; where
 * it gets stuck, once more from nothing. The simplex keeps its bounds and costs.
 * @returns null where neither could be proven.
 */
export function certify(
  program: Program,
  simplex: Simplex,
  tieBreaks: readonly (readonly number[])[] = [],
): Certified | null {
  const found = certifyFromHere(program, simplex, tieBreaks);
  if (found) return found;
  simplex.startFromLogicals();
  return certifyFromHere(program, simplex, tieBreaks);
}

function certifyFromHere(
  program: Program,
  simplex: Simplex,
  tieBreaks: readonly (readonly number[])[],
): Certified | null {
  let status = simplex.optimise();
  if (status === "infeasible") {
    const proof = certifiedInfeasible(program, simplex.ray());
    if (proof) return proof;
    simplex.refactor();
    status = simplex.optimise();
    if (status === "infeasible") return certifiedInfeasible(program, simplex.ray());
  }
  if (status !== "optimal") return null;
  const plain = simplex.point();
  const y = simplex.duals();
  const check = checkAnswer(program, plain, y);
  if (!isProven(check)) return null;
  let best: CertifiedOptimum = { status: "optimal", x: plain, y, check };
  if (tieBreaks.length === 0) return best;
  const bounds = [simplex.lower.slice(), simplex.upper.slice()] as const;
  for (const costs of tieBreaks) {
    simplex.fixOptimalFace();
    simplex.setCosts(costs);
    if (simplex.optimise() !== "optimal") break;
    const x = simplex.point();
    const again = checkAnswer(program, x, y);
    if (!isProven(again)) break;
    best = { status: "optimal", x, y, check: again };
  }
  simplex.lower.set(bounds[0]);
  simplex.upper.set(bounds[1]);
  simplex.setCosts(program.columns.map((column) => column.cost));
  return best;
}

function certifiedInfeasible(program: Program, ray: readonly number[] | null): CertifiedInfeasible | null {
  const shown = ray && provesInfeasible(program, ray);
  return shown && { status: "infeasible", certificate: shown.multipliers, rows: shown.rows };
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
  const found = certify(
    elastic.program,
    new Simplex(elastic.program),
    tieBreaks.map((costs) => [...costs, ...padding]),
  );
  if (found?.status !== "optimal") return null;
  const { x, y, check } = found;
  const n = program.columns.length;
  const deviation = program.rows.map(() => 0);
  elastic.slackOf.forEach((i, k) => {
    deviation[i]! += x[n + k]!;
  });
  return { total: check.cost, x: x.slice(0, n), deviation, y, check };
}

/** A relaxation where nothing better is known than that a program is infeasible: no amounts at all. */
function nothingAtAll(program: Program, certificate: readonly number[]): Relaxation {
  const x = program.columns.map(() => 0);
  const deviation = program.rows.map((row) => Math.max(0, row.lower, -row.upper));
  const total = deviation.reduce((sum, by, i) => sum + by / rowScale(program.rows[i]!), 0);
  const dualBound = shortfall(program, certificate).amount;
  const gap = (total - dualBound) / Math.max(1, total);
  return {
    total,
    x,
    deviation,
    y: certificate,
    check: { cost: total, dualBound, gap, maxViolation: 0, worstRow: -1, costScale: total },
  };
}

/**
 * Solves and proves.
 * @param tieBreaks costs, one list after the other, that choose among equal optima.
 * @param engines asked in order; the default asks javascript-lp-solver, then HiGHS (loaded only then).
 */
export async function solveProgram(
  program: Program,
  tieBreaks: readonly (readonly number[])[] = [],
  engines: readonly Engine[] = DEFAULT_ENGINES,
): Promise<Answer> {
  if (!isFiniteProgram(program))
    return { status: "unverified", reason: "a coefficient of the program is not a finite number" };
  const reasons: string[] = [];
  let tried = false;
  for (const engine of engines) {
    const outcome = await engine.solve(program);
    // From nothing the simplex gets no further a second time.
    if (outcome.status === "optimal" || !tried) {
      const found = proveOutcome(program, outcome, tieBreaks);
      if (found) return withEngine(program, found, outcome, engine.name);
      tried ||= outcome.status !== "optimal";
    }
    reasons.push(`${engine.name}: ${complaint(outcome)}`);
  }
  return { status: "unverified", reason: reasons.join("; ") };
}

/** Proof of a program's optimum, or of there being none, from what an engine says of it. */
function proveOutcome(
  program: Program,
  outcome: Outcome,
  tieBreaks: readonly (readonly number[])[],
): Certified | null {
  const simplex = new Simplex(program);
  if (outcome.status === "optimal") simplex.crossOver(outcome.x);
  return certify(program, simplex, tieBreaks) ?? nearlyFeasible(program, tieBreaks);
}

/**
 * Rows that only rounding keeps from fitting together count as fitting: their optimum is found with as much room as
 * that takes, and proven against the program itself. Where more is missing, the duals of the relaxed program prove it.
 */
function nearlyFeasible(program: Program, tieBreaks: readonly (readonly number[])[]): Certified | null {
  const relaxed = relax(program);
  if (!relaxed) return null;
  if (relaxed.total > FEASIBLE) return certifiedInfeasible(program, relaxed.y);
  const rows = program.rows.map((row, i) => {
    const room = 2 * relaxed.deviation[i]!;
    return room > 0 ? { ...row, lower: row.lower - room, upper: row.upper + room } : row;
  });
  const roomy = { columns: program.columns, rows };
  const found = certify(roomy, new Simplex(roomy), tieBreaks);
  if (found?.status !== "optimal") return null;
  const check = checkAnswer(program, found.x, found.y);
  return isProven(check) ? { ...found, check } : null;
}

function withEngine(program: Program, found: Certified, outcome: Outcome, name: string): Answer {
  if (found.status === "optimal") {
    const agrees =
      outcome.status === "optimal" &&
      Math.abs(costOf(program, outcome.x) - found.check.cost) <= MAX_GAP * found.check.costScale;
    return { ...found, engine: agrees ? name : OWN_SIMPLEX };
  }
  const engine = outcome.status === "infeasible" ? name : OWN_SIMPLEX;
  return { ...found, engine, elastic: relax(program) ?? nothingAtAll(program, found.certificate) };
}

function complaint(outcome: Outcome): string {
  switch (outcome.status) {
    case "optimal":
      return "its optimum could not be proven";
    case "infeasible":
      return "it says infeasible, which could not be proven";
    case "failed":
      return outcome.reason;
    case "unbounded":
      return "unbounded";
  }
}

const DEFAULT_ENGINES: readonly Engine[] = [
  continuousEngine,
  { name: "highs", solve: async (program) => (await import("./engine-highs.ts")).highsEngine.solve(program) },
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
