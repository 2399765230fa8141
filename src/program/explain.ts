/** Why nothing fits: smallest sets of rows that cannot all be kept, and by how much a row would have to give way. */

import { ConflictFinder, extremeShare } from "../solver/conflict.ts";
import { largestOf } from "../solver/matrix.ts";
import { type Relaxation, relax } from "../solver/solve.ts";
import { FEASIBLE } from "../solver/verify.ts";
import type { BlendProgram } from "./build.ts";
import type { ColumnTag, PlanProgram, RowTag } from "./tags.ts";

/** Answers questions about one plan's program. */
export type PlanConflicts = ConflictFinder<RowTag, ColumnTag>;

/**
 * A smallest conflicting set: indices of rows that cannot all be kept, of which no proper subset conflicts. It is looked
 * for among the rows whose duals in the relaxed program prove the conflict, or else among all `demands`.
 */
export function smallestConflict(
  program: PlanProgram,
  relaxation: Pick<Relaxation, "y">,
  finder: PlanConflicts = new ConflictFinder(program),
  demands: readonly number[] = demandRows(program),
): number[] {
  const parts = program.rows.map((row, i) => Math.abs(relaxation.y[i]! * largestOf(row.value)));
  const least = 1e-9 * Math.max(0, ...parts);
  const support = demands.filter((i) => parts[i]! > least);
  return finder.reduced(finder.conflicts(new Set(support)) ? support : demands);
}

/** Indices of the rows that state a demand. */
export function demandRows(program: PlanProgram): number[] {
  return program.rows.flatMap((row, i) => (row.fact ? [] : [i]));
}

/** More conflicts than this are not looked for: whoever mends these will ask again. */
const MOST_CONFLICTS = 6;

/**
 * Smallest conflicting sets that share no row, found one after the other until what is left can be kept (or six are
 * named); each is minimal by itself.
 * @param plainest sets to be looked at first, those that a person would see at once; they need not conflict.
 */
export function disjointConflicts(
  finder: PlanConflicts,
  relaxation: Relaxation,
  plainest: readonly (readonly number[])[] = [],
): number[][] {
  const { program } = finder;
  const found = plainest.flatMap((rows) => (finder.conflicts(new Set(rows)) ? [finder.reduced(rows)] : []));
  if (found.length === 0) found.push(smallestConflict(program, relaxation, finder));
  const left = new Set(demandRows(program));
  for (const set of found) for (const i of set) left.delete(i);
  while (found.length < MOST_CONFLICTS && finder.conflicts(left)) {
    const relaxed = relax(finder.keeping(left));
    if (!relaxed || relaxed.total <= FEASIBLE) break;
    const conflict = smallestConflict(program, relaxed, finder, [...left]);
    found.push(conflict);
    for (const i of conflict) left.delete(i);
  }
  return found;
}

/**
 * The least by which one row must give way, by itself, for the rows `kept` to fit.
 * @param share of the limit, where the row is one on a share of the blend (its own bound is zero then).
 * @returns in the unit of the row's bound (kg), or of the share where `share` is given; null where no giving way of
 *   this row is enough.
 */
export function leastGivingWay(
  program: BlendProgram,
  finder: PlanConflicts,
  row: number,
  kept: ReadonlySet<number>,
  share?: number,
): number | null {
  if (share === undefined) return finder.leastGivingWay(row, kept);
  const { tag } = program.rows[row]!;
  if (tag.kind !== "share-min" && tag.kind !== "share-max") return null;
  const others = new Set(kept);
  others.delete(row);
  if (finder.conflicts(others)) return null;
  const blend = program.blends.indexOf(tag.application);
  const whole = program.use.map((columns) => columns[blend]!);
  const own = whole.find((j) => {
    const column = program.columns[j]!.tag;
    return column.kind === "use" && column.id === tag.id;
  });
  if (own === undefined) return null;
  const best = extremeShare(finder.keeping(others), own, whole, tag.kind === "share-min" ? 1 : -1);
  return best === null ? null : Math.abs(best - share);
}
