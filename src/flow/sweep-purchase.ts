/**
 * A plan along a range of one number, by what is bought: at each step the best purchase in whole packs, with delivery.
 *
 * Such a cost moves in jumps and has no straight stretches to follow: each step is bought for by itself, and nothing is
 * claimed of what lies between two steps.
 */
import type { Plan } from "../model.ts";
import type { Solution } from "../results/solution.ts";
import type { Sweep, SweepPoint, SweepRun, SweptPurchase } from "../results/sweep.ts";
import { changePlan } from "./changes.ts";
import { numberSwept, type SweepRequest, stepValues, sweepOf, withDemand } from "./sweep.ts";
import { amountsIn, answered, type CompareOptions, purchaseSum } from "./whatif.ts";

/** How long each step may take. */
export type SweepPurchaseOptions = Pick<CompareOptions, "seconds" | "clock">;

/** Loose weights nearer than this, relative to their size, are the same. */
const SAME = 1e-7;

/**
 * Buys for a plan at each step of a range. A price is that of the amendment's cheapest offer by weight; its other
 * offers keep their relation to that one.
 * @throws UnverifiedError where the purchase of a step does not hold up.
 */
export async function sweepPurchases(
  plan: Plan,
  request: SweepRequest,
  options: SweepPurchaseOptions = {},
): Promise<Sweep> {
  const bought: { readonly value: number; readonly solution: Solution }[] = [];
  for (const value of stepValues(request))
    bought.push({ value, solution: await answered([planAt(plan, request, value)], options) });
  const points = bought.map(({ value, solution }) => pointOf(value, solution));
  const fit = points.filter(({ status }) => status !== "infeasible");
  const [first, last] = [fit[0], fit.at(-1)];
  const conflictsAt = (k: number): readonly string[] =>
    bought.at(k)!.solution.conflicts.flatMap(({ demands }) => demands);
  const proofs = bought.map(({ solution }) => solution);
  return sweepOf(plan, numberSwept(plan, request), {
    by: "purchase",
    feasible: first && last ? { from: first.value, to: last.value } : null,
    conflicts: { from: conflictsAt(0), to: conflictsAt(-1) },
    points,
    breakpoints: [],
    segments: [],
    runs: runsOf(points),
    verification: {
      points: points.length,
      solved: points.length,
      maxViolation: Math.max(...proofs.map(({ verification }) => verification.maxViolation)),
      maxGap: Math.max(...proofs.map(({ cost }) => cost.gap ?? 0)),
    },
  });
}

function planAt(plan: Plan, { handle }: SweepRequest, value: number): Plan {
  if (handle.kind !== "price") return withDemand(plan, handle, value);
  const price = { [handle.id]: { kind: "price", pricePerKg: value } as const };
  const changed = changePlan(plan, { price, exclude: [] }, "the price of a step");
  if (!changed.ok) throw new Error(changed.problems.map(({ message }) => message).join("; "));
  return changed.value.plan;
}

function pointOf(value: number, solution: Solution): SweepPoint {
  const sum = purchaseSum(solution);
  return {
    value,
    status: solution.status,
    total: solution.cost.total,
    amendments: amountsIn(solution),
    byWeight: solution.cost.byWeight,
    purchase: sum && { ...sum, lines: solution.purchases },
  };
}

/** A step at which something is bought. */
type Bought = SweepPoint & { readonly total: number; readonly purchase: SweptPurchase };

function isBought(point: SweepPoint | undefined): point is Bought {
  return point != null && point.total !== null && point.purchase != null;
}

/** Steps that buy the same, put together. */
function runsOf(points: readonly SweepPoint[]): SweepRun[] {
  const runs: Bought[][] = [];
  for (const [k, point] of points.entries()) {
    if (!isBought(point)) continue;
    const before = points[k - 1];
    if (isBought(before) && buysTheSame(before.purchase, point.purchase)) runs.at(-1)!.push(point);
    else runs.push([point]);
  }
  return runs.map((run) => {
    const [first, last] = [run[0]!, run.at(-1)!];
    const range = (of: (point: Bought) => number): readonly [number, number] => [
      Math.min(...run.map(of)),
      Math.max(...run.map(of)),
    ];
    return {
      from: first.value,
      to: last.value,
      steps: run.length,
      totalFrom: first.total,
      totalTo: last.total,
      total: range(({ total }) => total),
      delivery: range(({ purchase }) => purchase.delivery),
      leftWorth: range(({ purchase }) => purchase.leftWorth),
      lines: first.purchase.lines,
    };
  });
}

/** Whether two purchases are of the same packs, whatever they cost. */
function buysTheSame(one: SweptPurchase, other: SweptPurchase): boolean {
  const packs = ({ lines }: SweptPurchase): string =>
    JSON.stringify(
      lines.flatMap((line) =>
        line.packs.map(({ sizeKg, count, supplier }) => [line.id, sizeKg, count, supplier ?? null]),
      ),
    );
  const loose = ({ lines }: SweptPurchase, id: string): number =>
    lines.find((line) => line.id === id)?.bulkKg ?? 0;
  const ids = [...one.lines, ...other.lines].map(({ id }) => id);
  return (
    packs(one) === packs(other) &&
    ids.every((id) => {
      const [a, b] = [loose(one, id), loose(other, id)];
      return Math.abs(a - b) <= SAME * Math.max(a, b);
    })
  );
}
