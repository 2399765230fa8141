/** Why nothing fits: smallest sets of rows that cannot all be kept, and by how much a row would have to give way. */

import { FEASIBLE, isHard, type Relaxation, relax } from "../solver/solve.ts";
import type { BlendProgram } from "./build.ts";
import type { PlanProgram, PlanRow } from "./tags.ts";

/** The program with only some of its demands; what is physical always stays. */
function keepOnly(program: PlanProgram, kept: ReadonlySet<number>): PlanProgram {
  const rows: PlanRow[] = program.rows.filter((row, i) => isHard(row) || kept.has(i));
  return { columns: program.columns, rows };
}

/** Whether some of the demands, together with what is physical, have no answer. */
export function conflicts(program: PlanProgram, rows: Iterable<number>): boolean {
  const relaxation = relax(keepOnly(program, new Set(rows)));
  if (!relaxation) throw new Error("a relaxed program could not be verified");
  return relaxation.total > FEASIBLE;
}

/**
 * A smallest conflicting set: indices of rows that cannot all be kept, of which no proper subset conflicts.
 * Deletion filter (Chinneck and Dravnieks 1991, ORSA J. Computing 3:157-168), begun from the rows whose duals in the
 * relaxed program prove the conflict.
 */
export function smallestConflict(program: PlanProgram, relaxation: Relaxation): number[] {
  const largest = relaxation.y.reduce(
    (most, value, i) => Math.max(most, Math.abs(value * size(program, i))),
    0,
  );
  const support = program.rows.flatMap((row, i) =>
    !isHard(row) && Math.abs(relaxation.y[i]! * size(program, i)) > 1e-9 * largest ? [i] : [],
  );
  return reduced(program, conflicts(program, support) ? support : demandRows(program));
}

/** A conflicting set without the rows that it can spare. */
function reduced(program: PlanProgram, rows: readonly number[]): number[] {
  const kept = new Set(rows);
  for (const candidate of [...kept].reverse()) {
    kept.delete(candidate);
    if (!conflicts(program, kept)) kept.add(candidate);
  }
  return [...kept].sort((a, b) => a - b);
}

function size(program: PlanProgram, i: number): number {
  const row = program.rows[i]!;
  return row.value.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
}

/** Indices of the rows that state a demand. */
export function demandRows(program: PlanProgram): number[] {
  return program.rows.flatMap((row, i) => (isHard(row) ? [] : [i]));
}

/** More conflicts than this are not looked for: whoever mends these will ask again. */
const MOST_CONFLICTS = 6;

/**
 * Smallest conflicting sets that share no row, found one after the other until what is left can be kept (or six are
 * named); each is minimal by itself.
 * @param plainest sets to be looked at first, those that a person would see at once; they need not conflict.
 */
export function disjointConflicts(
  program: PlanProgram,
  relaxation: Relaxation,
  plainest: readonly (readonly number[])[] = [],
): number[][] {
  const found = plainest.flatMap((rows) => (conflicts(program, rows) ? [reduced(program, rows)] : []));
  if (found.length === 0) found.push(smallestConflict(program, relaxation));
  const left = new Set(demandRows(program));
  for (const set of found) for (const i of set) left.delete(i);
  while (found.length < MOST_CONFLICTS) {
    const kept = [...left];
    const rest = keepOnly(program, left);
    const relaxed = relax(rest);
    if (!relaxed || relaxed.total <= FEASIBLE) break;
    const position = demandRows(rest);
    const conflict = smallestConflict(rest, relaxed).map((i) => kept[position.indexOf(i)]!);
    found.push(conflict);
    for (const i of conflict) left.delete(i);
  }
  return found;
}

/** How far bisection on a share goes: finer than any share a grower writes. */
const SHARE_STEPS = 40;

/** The same limit on a share, with another share in it. */
function shareRow(program: BlendProgram, row: PlanRow, share: number): PlanRow {
  const { tag } = row;
  if (tag.kind !== "share-min" && tag.kind !== "share-max") return row;
  const blend = program.blends.indexOf(tag.application);
  const columns = program.use.map((perBlend) => perBlend[blend]!);
  const own = columns.find((j) => {
    const column = program.columns[j]!.tag;
    return column.kind === "use" && column.id === tag.id;
  });
  const entries = columns
    .map((j) => [j, (j === own ? 1 : 0) - share] as const)
    .filter(([, value]) => value !== 0);
  return { ...row, index: entries.map(([j]) => j), value: entries.map(([, value]) => value) };
}

/**
 * The least by which one row must give way, by itself, for the rows `kept` to fit.
 * @param share of the limit, where the row is one on a share of the blend (its own bound is zero then).
 * @returns in the unit of the row's bound (kg), or of the share where `share` is given; null where no giving way of
 *   this row is enough.
 */
export function leastGivingWay(
  program: BlendProgram,
  row: number,
  kept: ReadonlySet<number>,
  share?: number,
): number | null {
  const others = new Set(kept);
  others.delete(row);
  if (conflicts(program, others)) return null;
  if (share === undefined) {
    const rows = program.rows.filter((r, i) => isHard(r) || others.has(i) || i === row);
    const own = rows.indexOf(program.rows[row]!);
    const scale = rowSize(program.rows[row]!);
    const relaxed = relax({ columns: program.columns, rows }, (_, i) => (i === own ? 1 / scale : null));
    return relaxed ? relaxed.deviation[own]! : null;
  }
  const fits = (value: number): boolean => {
    const rows = program.rows.map((r, i) => (i === row ? shareRow(program, r, value) : r));
    return !conflicts({ columns: program.columns, rows }, [...others, row]);
  };
  const loosest = program.rows[row]!.tag.kind === "share-min" ? 0 : 1;
  let good = loosest;
  let bad = share;
  for (let step = 0; step < SHARE_STEPS; step++) {
    const middle = (good + bad) / 2;
    if (fits(middle)) good = middle;
    else bad = middle;
  }
  return Math.abs(good - share);
}

function rowSize(row: PlanRow): number {
  const bound = Number.isFinite(row.lower) ? row.lower : row.upper;
  return Math.abs(bound) || 1;
}
