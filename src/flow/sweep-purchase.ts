/**
 * A plan along a range of one number, by what is bought: at each step the best purchase in whole packs, with delivery.
 *
 * Such a cost moves in jumps and has no straight stretches to follow: each step is bought for by itself, and nothing is
 * claimed of what lies between two steps.
 */
import { lineOf } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import type { Shopping } from "../results/shopping.ts";
import type { Sweep, SweepPoint, SweepRun, SweptPurchase } from "../results/sweep.ts";
import { changePlan } from "./changes.ts";
import { type ShopOptions, shopPlans } from "./shop.ts";
import { type SweepRequest, stepValues, sweptNumber, withDemand } from "./sweep.ts";
import { purchaseSum } from "./whatif.ts";

/** How long each step may take. */
export type SweepPurchaseOptions = Pick<ShopOptions, "seconds" | "clock">;

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
  const bought: { readonly value: number; readonly shopping: Shopping }[] = [];
  for (const value of stepValues(request)) {
    const found = await shopPlans([planAt(plan, request, value)], { ...options, advice: false });
    if (!found.ok) throw new Error(found.problems.map(({ message }) => message).join("; "));
    bought.push({ value, shopping: found.value });
  }
  const points = bought.map(({ value, shopping }) => pointOf(value, shopping));
  const fit = points.filter(({ status }) => status !== "infeasible");
  const [first, last] = [fit[0], fit.at(-1)];
  const conflictsAt = (k: number): readonly string[] =>
    bought.at(k)!.shopping.conflicts.flatMap(({ demands }) => demands);
  const used = new Set(
    points.flatMap(({ amendments, purchase }) =>
      [...amendments, ...(purchase?.lines ?? [])].map((a) => a.id),
    ),
  );
  const proofs = bought.map(({ shopping }) => shopping.verification);
  return {
    ...sweptNumber(plan, request),
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
      maxViolation: Math.max(...proofs.map(({ maxViolation }) => maxViolation)),
      maxGap: Math.max(...proofs.map(({ gap }) => gap)),
    },
    names: Object.fromEntries(
      plan.amendments.filter(({ id }) => used.has(id)).map(({ id, name }) => [id, name]),
    ),
  };
}

function planAt(plan: Plan, { handle }: SweepRequest, value: number): Plan {
  if (handle.kind !== "price") return withDemand(plan, handle, value);
  const price = { [handle.id]: { kind: "price", pricePerKg: value } as const };
  const changed = changePlan(plan, { price, without: [] }, "the price of a step");
  if (!changed.ok) throw new Error(changed.problems.map(({ message }) => message).join("; "));
  return changed.value.plan;
}

function pointOf(value: number, shopping: Shopping): SweepPoint {
  const sum = purchaseSum(shopping);
  return {
    value,
    status: shopping.status,
    total: shopping.total,
    amendments: (shopping.mix?.amendments ?? []).map(({ id, kg }) => ({ id, kg })),
    byWeight: shopping.byWeight,
    purchase: sum && { ...sum, lines: shopping.purchases.map(lineOf) },
  };
}

/** Steps that buy the same, put together. */
function runsOf(points: readonly SweepPoint[]): SweepRun[] {
  const runs: SweepRun[] = [];
  let before: SweptPurchase | null = null;
  for (const { value, total, purchase = null } of points) {
    const last = runs.at(-1);
    if (purchase !== null && total !== null) {
      const { delivery, leftWorth, lines } = purchase;
      if (last && before && buysTheSame(before, purchase))
        runs[runs.length - 1] = {
          ...last,
          to: value,
          steps: last.steps + 1,
          totalTo: total,
          total: widened(last.total, total),
          delivery: widened(last.delivery, delivery),
          leftWorth: widened(last.leftWorth, leftWorth),
        };
      else
        runs.push({
          ...{ from: value, to: value, steps: 1, totalFrom: total, totalTo: total },
          total: [total, total],
          delivery: [delivery, delivery],
          leftWorth: [leftWorth, leftWorth],
          lines,
        });
    }
    before = purchase;
  }
  return runs;
}

function widened([least, most]: readonly [number, number], value: number): readonly [number, number] {
  return [Math.min(least, value), Math.max(most, value)];
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
