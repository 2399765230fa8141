/** The mix that comes nearest to needs that cannot all be met: the least worst relative shortfall, and then the cheapest. */
import type { Nutrient } from "../nutrients.ts";
import { activityOf, other, rowScale } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { certify, type Relaxation } from "../solver/solve.ts";
import { isNeed, type PlanProgram, type PlanRow } from "./tags.ts";

/** How much more may be short than the least, so that little is not bought dear: a hundredth of it. */
const ROOM = 0.01;
/** A shortfall below this part of a need is arithmetic. */
const NOTHING = 1e-9;

/**
 * Caps and limits are kept; needs fall short, none by a larger part of itself than it must. Among nutrients the one that
 * must fall furthest short is settled first, then the next, so that what can be met is met. Of the mixes that fall short by
 * at most a hundredth more than that, the cheapest.
 * @param ties costs that choose among mixes as cheap.
 * @returns null where caps and limits leave no mix at all, or where none could be proven.
 */
export function leastWorst(program: PlanProgram, ties: readonly (readonly number[])[]): Relaxation | null {
  const settled = new Map<Nutrient, number>();
  const needed = new Set(program.rows.flatMap(({ tag }) => (isNeed(tag) ? [tag.nutrient] : [])));
  const share = program.columns.length;
  const lowered = (row: PlanRow, by: number): PlanRow => ({ ...row, lower: row.lower - by * rowScale(row) });
  while (settled.size < needed.size) {
    const rows = program.rows.map((row): PlanRow => {
      if (!isNeed(row.tag)) return row;
      const by = settled.get(row.tag.nutrient);
      if (by !== undefined) return lowered(row, by);
      return { ...row, index: [...row.index, share], value: [...row.value, rowScale(row)] };
    });
    const columns = [
      ...program.columns.map((column) => ({ ...column, cost: 0 })),
      { tag: other("share by which needs fall short"), cost: 1, upper: Infinity },
    ];
    const worst = certify({ columns, rows }, new Simplex({ columns, rows }));
    if (worst?.status !== "optimal") return null;
    const by = worst.check.cost;
    const open = [...needed].filter((nutrient) => !settled.has(nutrient));
    if (by <= NOTHING) for (const nutrient of open) settled.set(nutrient, 0);
    else settled.set(mostBinding(rows, worst.y, open), by * (1 + ROOM));
  }
  const rows = program.rows.map((row) =>
    isNeed(row.tag) ? lowered(row, settled.get(row.tag.nutrient) ?? 0) : row,
  );
  const cheapest = { ...program, rows };
  const found = certify(cheapest, new Simplex(cheapest), ties);
  if (found?.status !== "optimal") return null;
  const { x, y, check } = found;
  const deviation = program.rows.map((row) => Math.max(0, row.lower - activityOf(row, x).sum));
  const total = deviation.reduce((sum, short, i) => sum + short / rowScale(program.rows[i]!), 0);
  return { total, x, deviation, y, check };
}

/** The nutrient whose needs hold the worst shortfall up, by the duals of their rows. */
function mostBinding(rows: readonly PlanRow[], y: readonly number[], open: readonly Nutrient[]): Nutrient {
  const pull = (nutrient: Nutrient): number =>
    rows.reduce(
      (sum, row, i) =>
        isNeed(row.tag) && row.tag.nutrient === nutrient ? sum + Math.abs(y[i]!) * rowScale(row) : sum,
      0,
    );
  return open.reduce((best, nutrient) => (pull(nutrient) > pull(best) ? nutrient : best));
}
