/**
 * A program that rows are added to after it has been solved, as a loop of cutting planes does: the basis stays, and a
 * few dual pivots mend what a new row breaks.
 */
import type { Program, Row, Tag } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { type Certified, certify } from "./solve.ts";

export class GrowingProgram<R extends Tag = Tag, C extends Tag = Tag> {
  private readonly kept: Row<R>[];
  private readonly simplex: Simplex;

  /**
   * @param start what is grown; its columns stay.
   * @param tieBreaks costs, one list after the other, that choose among equal optima.
   */
  constructor(
    private readonly start: Program<R, C>,
    private readonly tieBreaks: readonly (readonly number[])[] = [],
  ) {
    this.kept = [...start.rows];
    this.simplex = new Simplex(start);
  }

  /** The program as it is now. */
  get program(): Program<R, C> {
    return { columns: this.start.columns, rows: this.kept };
  }

  /** Adds a row after the others. */
  addRow(row: Row<R>): void {
    this.kept.push(row);
    this.simplex.addRow(row);
  }

  /**
   * Solves what there is now, from where the last solution left off.
   * @returns a proven optimum, or proof that nothing is feasible; null where neither could be proven.
   */
  solve(): Certified | null {
    return certify(this.program, this.simplex, this.tieBreaks);
  }
}
