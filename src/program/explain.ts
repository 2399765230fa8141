/** Why nothing fits: a smallest set of rows that cannot all be kept. */
import type { Program, Row } from "./program.ts";
import { FEASIBLE, isHard, type Relaxation, relax } from "./solve.ts";

/** The program with only some of its demands; what is physical always stays. */
function keepOnly(program: Program, kept: ReadonlySet<number>): Program {
  const rows: Row[] = program.rows.filter((row, i) => isHard(row) || kept.has(i));
  return { columns: program.columns, rows };
}

/** Whether some of the demands, together with what is physical, have no answer. */
export function conflicts(program: Program, rows: Iterable<number>): boolean {
  const relaxation = relax(keepOnly(program, new Set(rows)));
  if (!relaxation) throw new Error("a relaxed program could not be verified");
  return relaxation.total > FEASIBLE;
}

/**
 * A smallest conflicting set: indices of rows that cannot all be kept, of which no proper subset conflicts.
 * Deletion filter (Chinneck and Dravnieks 1991, ORSA J. Computing 3:157-168), begun from the rows whose duals in the
 * relaxed program prove the conflict.
 */
export function smallestConflict(program: Program, relaxation: Relaxation): number[] {
  const largest = relaxation.y.reduce(
    (most, value, i) => Math.max(most, Math.abs(value * size(program, i))),
    0,
  );
  const support = program.rows.flatMap((row, i) =>
    !isHard(row) && Math.abs(relaxation.y[i]! * size(program, i)) > 1e-9 * largest ? [i] : [],
  );
  const all = program.rows.flatMap((row, i) => (isHard(row) ? [] : [i]));
  const kept = new Set(conflicts(program, support) ? support : all);
  for (const candidate of [...kept].reverse()) {
    kept.delete(candidate);
    if (!conflicts(program, kept)) kept.add(candidate);
  }
  return [...kept].sort((a, b) => a - b);
}

function size(program: Program, i: number): number {
  const row = program.rows[i]!;
  return row.value.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
}
