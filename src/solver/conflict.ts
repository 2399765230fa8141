/**
 * Which rows of a program conflict, asked again and again: one simplex goes from question to question, and only a
 * certificate that verify.ts accepts counts as a conflict.
 */
import { other, type Program, type Row, rowOf, type Tag, type Terms, termsOf } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { certify, relax } from "./solve.ts";
import { FEASIBLE, provesInfeasible } from "./verify.ts";

export class ConflictFinder<R extends Tag = Tag, C extends Tag = Tag> {
  private readonly simplex: Simplex;
  private readonly noCosts: readonly number[];

  constructor(readonly program: Program<R, C>) {
    this.simplex = new Simplex(program);
    this.noCosts = program.columns.map(() => 0);
  }

  /** The program with only some of its demands; facts always stay. Rows keep their places. */
  keeping(kept: ReadonlySet<number>): Program<R, C> {
    const rows = this.program.rows.map(
      (row, i): Row<R> => (row.fact || kept.has(i) ? row : { ...row, lower: -Infinity, upper: Infinity }),
    );
    rows.forEach((row, i) => {
      this.simplex.setRowBounds(i, row.lower, row.upper);
    });
    return { columns: this.program.columns, rows };
  }

  /** Whether some of the demands, together with the facts, have no answer: so far as that can be proven. */
  conflicts(kept: ReadonlySet<number>): boolean {
    const program = this.keeping(kept);
    this.simplex.setCosts(this.noCosts);
    const status = this.simplex.optimise();
    if (status === "optimal") return false;
    const ray = status === "infeasible" ? this.simplex.ray() : null;
    if (ray && provesInfeasible(program, ray)) return true;
    this.simplex.startFromLogicals();
    const relaxed = relax(program);
    return relaxed !== null && relaxed.total > FEASIBLE;
  }

  /** A conflicting set without the rows that it can spare (deletion filter; Chinneck and Dravnieks 1991, ORSA J. Computing 3:157-168). */
  reduced(rows: readonly number[]): number[] {
    const kept = new Set(rows);
    for (const candidate of [...kept].reverse()) {
      kept.delete(candidate);
      if (!this.conflicts(kept)) kept.add(candidate);
    }
    return [...kept].sort((a, b) => a - b);
  }

  /**
   * How far a row's bound would have to move for the rows `kept` to fit with it.
   * @returns null where that could not be proven, or the others conflict without it.
   */
  leastGivingWay(row: number, kept: ReadonlySet<number>): number | null {
    const together = this.keeping(new Set([...kept, row]));
    const relaxed = relax(together, (_, i) => (i === row ? 1 : null));
    return relaxed && relaxed.total > 0 ? relaxed.total : null;
  }
}

/**
 * The largest or least share that columns have of a sum of columns, over all points of a program where the sum is not
 * zero: a fraction of two linear forms, as one linear program (Charnes and Cooper 1962, Naval Research Logistics
 * Quarterly 9:181-186).
 * @returns null where it could not be proven, or the sum is zero everywhere.
 */
export function extremeShare(
  program: Program,
  own: number,
  whole: readonly number[],
  sign: 1 | -1,
): number | null {
  const t = program.columns.length;
  const columns = [
    ...program.columns.map((column, j) => ({ ...column, cost: j === own ? -sign : 0, upper: Infinity })),
    { tag: other("one over the whole"), cost: 0, upper: Infinity },
  ];
  const rows = [rowOf<Tag>(other("whole"), termsOf(whole.map((j) => [j, 1])), { lower: 1, upper: 1 })];
  for (const { tag, index, value, lower, upper } of program.rows) {
    const beyond = (bound: number): Terms =>
      bound === 0 ? { index, value } : { index: [...index, t], value: [...value, -bound] };
    if (lower > -Infinity) rows.push(rowOf(tag, beyond(lower), { lower: 0 }));
    if (upper < Infinity) rows.push(rowOf(tag, beyond(upper), { upper: 0 }));
  }
  program.columns.forEach(({ tag, upper }, j) => {
    if (upper < Infinity) rows.push(rowOf(tag, { index: [j, t], value: [1, -upper] }, { upper: 0 }));
  });
  const homogeneous = { columns, rows };
  const found = certify(homogeneous, new Simplex(homogeneous));
  return found?.status === "optimal" ? found.x[own]! : null;
}
