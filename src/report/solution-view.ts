/** What the sections of a solution share: its units and currency put to use, and names. */
import type { Solution, SolutionApplication } from "../results/solution.ts";
import { type Writer, writerOf } from "./writer.ts";

/** A solution with the writers of its units and currency, and the name of every amendment. */
export interface View extends Writer {
  readonly solution: Solution;
  /** Money by weight. */
  readonly total: number;
  readonly name: (id: string) => string;
  /** Applications that get any. */
  readonly fed: readonly SolutionApplication[];
}

export function viewOf(solution: Solution): View {
  const names = new Map(solution.inputs.amendments.map((a) => [a.id, a.name]));
  return {
    ...writerOf(solution),
    solution,
    total: solution.cost.total ?? Number.NaN,
    name: (id) => names.get(id) ?? id,
    fed: solution.applications.filter((a) => a.batches.count > 0),
  };
}
