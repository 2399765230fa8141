/**
 * What the proven optimum says about prices, demands and stock: the price at which each amendment would enter or
 * change the mix, what one more or less of each demand costs, and what stock is worth.
 *
 * Each figure is the true change of cost to its side, whichever of several bases (degenerate corners, ties) is at hand: the
 * program is solved again with the number moved, and the tangents are followed back to the first bend.
 */
import type { Plan } from "../model.ts";
import type {
  AmendmentSensitivity,
  DemandSensitivity,
  Sensitivity,
  StockSensitivity,
} from "../results/solution.ts";
import type { Move } from "../solver/parametric.ts";
import { activityOf, rowScale } from "../solver/program.ts";
import { ValueFunction } from "../solver/value-function.ts";
import { type BlendProgram, cheapestPricePerKg } from "./build.ts";
import { type DemandHandle, demandHandles, moveOf, numberOf, priceColumns } from "./moves.ts";

/** Slopes nearer than this, relative to the larger, are the same. */
const SAME = 1e-6;

/**
 * Analyses an optimum that has been proven.
 * @param x the optimal point.
 * @param tieBreaks the costs that chose it among equals.
 * @returns null where the arithmetic did not hold up, which says nothing against the optimum itself.
 */
export function analyse(
  plan: Plan,
  program: BlendProgram,
  x: readonly number[],
  tieBreaks: readonly (readonly number[])[],
): Omit<Sensitivity, "notes"> | null {
  const costs = ValueFunction.of(program, tieBreaks, x);
  if (!costs) return null;
  try {
    const demands = demandHandles(plan).flatMap(
      (handle) => demandWorth(plan, program, costs, handle, x) ?? [],
    );
    return {
      amendments: plan.amendments.map((_, a) => priceRange(plan, program, costs, a, x)),
      demands,
      stock: stockWorth(plan, program, costs),
      tied: tiedAmendments(plan, program, costs, tieBreaks, x),
      degenerate: demands.some(
        ({ costOfMore: more, costOfLess: less }) =>
          more !== null &&
          less !== null &&
          Math.abs(more + less) > SAME * Math.max(Math.abs(more), Math.abs(less)),
      ),
    };
  } catch (error) {
    if (error instanceof Unreliable) return null;
    throw error;
  }
}

/** The arithmetic broke down. */
class Unreliable extends Error {}

function reach(costs: ValueFunction, ...asked: Parameters<ValueFunction["reach"]>) {
  const found = costs.reach(...asked);
  if (!found) throw new Unreliable();
  return found;
}

/** Whether bounds that move bear on the optimum: it is on one of them. Without that their first unit changes nothing. */
function bears({ rows }: BlendProgram, { rate }: Move, x: readonly number[]): boolean {
  return rows.some((row, i) => {
    if (rate[i] === 0) return false;
    const { sum, largest } = activityOf(row, x);
    return Math.min(sum - row.lower, row.upper - sum) <= 1e-9 * Math.max(rowScale(row), largest);
  });
}

function reversed(move: Move): Move {
  return { kind: move.kind, rate: move.rate.map((rate) => -rate) };
}

function priceRange(
  plan: Plan,
  program: BlendProgram,
  costs: ValueFunction,
  a: number,
  x: readonly number[],
): AmendmentSensitivity {
  const { id } = plan.amendments[a]!;
  const pricePerKg = cheapestPricePerKg(plan.amendments[a]!);
  const used = program.use[a]!.some((j) => x[j]! > 0);
  const range = (from: number | null, to: () => number | null): AmendmentSensitivity =>
    used
      ? { id, pricePerKg, stableFromPerKg: from, stableToPerKg: to() }
      : { id, pricePerKg, entersBelowPerKg: from };
  if (pricePerKg === null || priceColumns(plan, program, id).length === 0) return range(null, () => null);
  const rise = moveOf(plan, program, { kind: "price", id });
  const length = pricePerKg > 0 ? pricePerKg : meanPrice(plan);
  const below = pricePerKg > 0 ? pricePerKg - reach(costs, reversed(rise), length, length).until : 0;
  return range(below > 1e-9 * length ? below : null, () => {
    const { until } = reach(costs, rise, length);
    return until === Infinity ? null : pricePerKg + until;
  });
}

function meanPrice(plan: Plan): number {
  const prices = plan.amendments.map((amendment) => cheapestPricePerKg(amendment) ?? 0);
  return prices.reduce((sum, price) => sum + price, 0) / prices.length || 1;
}

function demandWorth(
  plan: Plan,
  program: BlendProgram,
  costs: ValueFunction,
  handle: DemandHandle,
  x: readonly number[],
): DemandSensitivity | null {
  const value = numberOf(plan, handle);
  if (value === null) return null;
  const move = moveOf(plan, program, handle, x);
  if (!bears(program, move, x)) return null;
  const length = value > 0 ? value : 1;
  const up = reach(costs, move, length);
  const down = reach(costs, reversed(move), length, length);
  if (up.slope === 0 && down.slope === 0) return null;
  const share = handle.kind === "min-share" || handle.kind === "max-share";
  const to = (sign: 1 | -1, until: number): number | null =>
    share || until === Infinity || (sign === -1 && until >= value * (1 - 1e-9)) ? null : value + sign * until;
  return {
    kind: handle.kind,
    ...("nutrient" in handle ? { nutrient: handle.nutrient } : { id: handle.id }),
    unit: share ? "share" : "kg",
    value,
    costOfMore: Number.isFinite(up.slope) ? up.slope : null,
    costOfLess: Number.isFinite(down.slope) ? down.slope : null,
    moreHoldsTo: Number.isFinite(up.slope) ? to(1, up.until) : value,
    lessHoldsTo: Number.isFinite(down.slope) ? to(-1, down.until) : value,
  };
}

function stockWorth(plan: Plan, program: BlendProgram, costs: ValueFunction): StockSensitivity[] {
  return plan.amendments.flatMap((amendment): StockSensitivity[] => {
    const { id, stockKg, packs } = amendment;
    if (stockKg <= 0) return [];
    const move = moveOf(plan, program, { kind: "stock", id });
    const cheapest = [...packs].sort((p, q) => p.price / p.sizeKg - q.price / q.sizeKg)[0];
    const saved = (direction: Move, kg: number): number | null => {
      const cost = costs.costAt(direction, kg);
      return cost === null ? null : costs.costAt(direction, 0)! - cost;
    };
    const without = saved(reversed(move), stockKg);
    return [
      {
        id,
        stockKg,
        perKg: tidy(-reach(costs, move, stockKg).slope),
        packKg: cheapest?.sizeKg ?? null,
        packSaves: cheapest ? tidy(saved(move, cheapest.sizeKg) ?? 0) : null,
        stockSaves: without === null ? null : tidy(-without),
      },
    ];
  });
}

/** Stock never costs anything; rounding may say so. */
function tidy(saving: number): number {
  return saving > 1e-12 ? saving : 0;
}

/** Ids whose amounts differ between the mixes of least cost that the tie-breaks like best and least. */
function tiedAmendments(
  plan: Plan,
  program: BlendProgram,
  costs: ValueFunction,
  tieBreaks: readonly (readonly number[])[],
  x: readonly number[],
): string[] {
  const largest = Math.max(...x, 0);
  const differs = new Set<string>();
  for (const liked of tieBreaks) {
    const other = costs.worstOf(liked);
    if (!other) continue;
    plan.amendments.forEach(({ id }, a) => {
      if (program.use[a]!.some((j) => Math.abs(other[j]! - x[j]!) > 1e-7 * largest)) differs.add(id);
    });
  }
  return plan.amendments.map(({ id }) => id).filter((id) => differs.has(id));
}
