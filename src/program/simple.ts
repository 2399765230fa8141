/**
 * Few amendments in a blend, and none too small to weigh: the whole numbers that say which amendments a blend uses and
 * how many batches an application takes, for `simple: {most, least}`.
 */
import type { Plan } from "../model.ts";
import { Draft, type Entry, other, rowOf, termsOf } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { boundWithin } from "../solver/verify.ts";
import type { BlendProgram } from "./build.ts";
import type { ColumnTag, PlanProgram, PlanRow, RowTag } from "./tags.ts";

/** More of anything than this many times the free mix's weight is not considered. */
const MOST_TIMES = 1000;

/** The largest amounts that a mix of a plan can have while it costs no more than a given sum. */
export interface Reach {
  /** kg of amendment `a` in blend `b`. */
  readonly useKg: readonly (readonly number[])[];
  /** Whole blends, in the unit of the batch (kg or litres); kg where no batch is given. */
  readonly blends: readonly number[];
}

/** Litres or kilograms of a batch per kg of each amendment; where no density is known it counts as no volume. */
function batchUnits(plan: Plan): number[] {
  const byVolume = plan.batch !== undefined && "litres" in plan.batch;
  return plan.amendments.map((amendment) =>
    byVolume ? (amendment.densityKgPerL === undefined ? 0 : 1 / amendment.densityKgPerL) : 1,
  );
}

function batchSize(plan: Plan): number {
  if (!plan.batch) return Infinity;
  return "kg" in plan.batch ? plan.batch.kg : plan.batch.litres;
}

/**
 * How far the amounts of a plan reach within a sum of money.
 * @param freeKg weight of the mix without the limits of `simple`.
 */
export function reachOf(plan: Plan, program: BlendProgram, mostSpent: number, freeKg: number): Reach {
  const all = program.columns.map((_, j) => j);
  const uses = program.use.flat();
  const rows: PlanRow[] = [...program.rows];
  const priced = all.map((j): Entry => [j, program.columns[j]!.cost]).filter(([, cost]) => cost !== 0);
  if (priced.length > 0) rows.push(rowOf(other("money"), termsOf(priced), { upper: mostSpent }));
  const mostKg = MOST_TIMES * Math.max(freeKg, 1e-3);
  rows.push(rowOf(other("weight"), termsOf(uses.map((j) => [j, 1])), { upper: mostKg }));
  const simplex = new Simplex({ columns: program.columns, rows });
  const dear = dearerBy(program, simplex, mostSpent);
  const largest = (weights: readonly number[]): number => {
    simplex.setCosts(weights.map((w) => -w));
    if (simplex.optimise() !== "optimal") return mostKg;
    const x = simplex.point();
    // A hair more, so that rounding never cuts off the amount itself.
    return weights.reduce((sum, w, j) => sum + w * x[j]!, 0) * (1 + 1e-7);
  };
  const units = batchUnits(plan);
  return {
    useKg: program.use.map((columns) =>
      columns.map((j) => dear[j] ?? largest(all.map((k) => (k === j ? 1 : 0)))),
    ),
    blends: program.blends.map((_, b) => {
      const weights = all.map(() => 0);
      program.use.forEach((columns, a) => {
        weights[columns[b]!] = units[a]!;
      });
      return largest(weights);
    }),
  };
}

/** By column: the most of it that a mix within the money can have, where its reduced cost in the free mix says so. */
function dearerBy(program: BlendProgram, simplex: Simplex, mostSpent: number): readonly (number | null)[] {
  const none = program.columns.map(() => null);
  if (simplex.optimise() !== "optimal") return none;
  const reduced = new Float64Array(program.columns.length);
  const lower = program.columns.map(() => 0);
  const upper = program.columns.map((column) => column.upper);
  const bound = boundWithin(program, simplex.duals().slice(0, program.rows.length), lower, upper, reduced);
  const room = mostSpent - bound;
  if (!(room >= 0) || room === Infinity) return none;
  const dearest = Math.max(...program.columns.map((column) => column.cost));
  return program.columns.map((_, j) =>
    reduced[j]! > 1e-3 * dearest ? (room / reduced[j]!) * (1 + 1e-7) : null,
  );
}

/**
 * Adds the limits of `plan.simple`.
 * @param use columns of kg by amendment and blend, already in the draft.
 */
export function addSimple(
  draft: Draft<RowTag, ColumnTag>,
  plan: Plan,
  use: readonly (readonly number[])[],
  blends: readonly (number | null)[],
  reach: Reach,
  limits: { readonly most?: number; readonly leastKg?: number } = plan.simple ?? {},
): void {
  const { most, leastKg } = limits;
  const few = other("few amendments in a blend");
  const weighable = other("nothing too small to weigh");
  // What cannot reach the least weight, or cannot be there at all, is left out.
  const never = (a: number, b: number): boolean =>
    reach.useKg[a]![b]! <= 0 || reach.useKg[a]![b]! < (leastKg ?? 0) * (1 - 1e-6);
  const uses = use.map((columns, a) =>
    columns.map((j, b) => {
      const unused = never(a, b);
      const uses = draft.column(`uses ${plan.amendments[a]!.id} ${b}`, 0, unused ? 0 : 1, true);
      if (unused) draft.columns[j] = { ...draft.columns[j]!, upper: 0 };
      else
        draft.row(
          few,
          [
            [j, 1],
            [uses, -reach.useKg[a]![b]!],
          ],
          { upper: 0 },
        );
      return uses;
    }),
  );
  if (most !== undefined && most < use.length)
    blends.forEach((_, b) => {
      draft.row(
        few,
        uses.map((columns): Entry => [columns[b]!, 1]),
        { upper: most },
      );
    });
  const size = batchSize(plan);
  const units = batchUnits(plan);
  if (leastKg === undefined) return;
  blends.forEach((blend, b) => {
    const count = size === Infinity ? 1 : Math.max(1, Math.ceil(reach.blends[b]! / size - 1e-9));
    const column = draft.column(`batches ${blend ?? "in all"}`, 0, count, true);
    draft.row(weighable, [[column, 1]], { lower: 1 });
    if (size < Infinity)
      draft.row(weighable, [...use.map((columns, a): Entry => [columns[b]!, units[a]!]), [column, -size]], {
        upper: 0,
      });
    use.forEach((columns, a) => {
      const chosen = uses[a]![b]!;
      if (draft.columns[chosen]!.upper === 0) return;
      draft.row(
        weighable,
        [
          [columns[b]!, 1],
          [chosen, -leastKg],
        ],
        { lower: 0 },
      );
      if (count > 1)
        draft.row(
          weighable,
          [
            [columns[b]!, 1],
            [column, -leastKg],
            [chosen, -leastKg * count],
          ],
          { lower: -leastKg * count },
        );
    });
  });
}

/** The mix of a plan by weight with the limits of `simple`, as an integer program: cost as in the blend program. */
export function simpleProgram(
  plan: Plan,
  program: BlendProgram,
  reach: Reach,
  limits: NonNullable<Plan["simple"]>,
): PlanProgram {
  const draft = new Draft<RowTag, ColumnTag>();
  draft.columns.push(...program.columns);
  draft.rows.push(...program.rows);
  addSimple(draft, plan, program.use, program.blends, reach, limits);
  return draft;
}
