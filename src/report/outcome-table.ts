/**
 * CSV with the same columns for every run of a command: its own, then `status`, `conflict` and `demand`. With an answer
 * the last two are blank; without one there is a row for each demand of each conflict, and the command's own are blank.
 */
import type { Conflict } from "../results/solution.ts";
import { type ColumnOf, fullTableOf, type Table, words } from "./report.ts";

/** The table of an answer. */
export function answerTable<T>(
  items: readonly T[],
  columns: readonly ColumnOf<T>[],
  status: "optimal" | "found" = "optimal",
): Table {
  return fullTableOf(items, [
    ...columns,
    words("Status", "status", () => status),
    words("Conflict", "conflict", () => null),
    words("Demand", "demand", () => null),
  ]);
}

/** The table where there is no answer, under the same columns. */
export function conflictTable<T>(columns: readonly ColumnOf<T>[], conflicts: readonly Conflict[]): Table {
  const rows = conflicts.flatMap(({ text, demands }) =>
    (demands.length > 0 ? demands : [""]).map((demand) => ({ text, demand })),
  );
  return fullTableOf(rows, [
    ...columns.map((column): ColumnOf<{ text: string; demand: string }> => ({ ...column, fill: () => null })),
    words("Status", "status", () => "infeasible"),
    words("Conflict", "conflict", (r) => r.text),
    words("Demand", "demand", (r) => r.demand),
  ]);
}
