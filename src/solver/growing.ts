/**
 * A program that rows are added to, or lifted from, after it has been solved, as a loop of cutting planes does: the
 * basis stays, and a few pivots mend what a new row breaks.
 */
import type { Program, Row, Tag } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { type Certified, certify } from "./solve.ts";

export class GrowingProgram<R extends Tag = Tag, C extends Tag = Tag> {
  private readonly kept: Row<R>[];
  private readonly simplex: Simplex;

  /**
   * @param start what is grown; its columns stay.
   * @param near a point to begin from, where one near the optimum is known.
   */
  constructor(
    private readonly start: Program<R, C>,
    near?: readonly number[],
  ) {
    this.kept = [...start.rows];
    this.simplex = new Simplex(start);
    if (near) this.simplex.crossOver(near);
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

  /** Lifts the bounds of a row; the row itself stays, so that the others keep their places. */
  liftRow(i: number): void {
    this.kept[i] = { ...this.kept[i]!, lower: -Infinity, upper: Infinity };
    this.simplex.setRowBounds(i, -Infinity, Infinity);
  }

  /**
   * Solves what there is now, from where the last solution left off.
   * @param tieBreaks costs, one list after the other, that choose among equal optima.
   * @returns a proven optimum, or proof that nothing is feasible; null where neither could be proven.
   */
  solve(tieBreaks: readonly (readonly number[])[] = []): Certified | null {
    return certify(this.program, this.simplex, tieBreaks);
  }
}
