/** The cheapest whole packs of one amendment that cover a weight. */
import type { Amendment } from "../model.ts";
import type { Bought } from "./purchase.ts";

/** A weight within this relative distance of whole packs counts as covered by them. */
const SLACK = 1e-9;

/**
 * Whole packs (and loose weight, where it is sold loose) that cover `needKg` for the least money; at equal money less
 * left over, then fewer packs. Branch and bound over the counts of each size, cheapest per kg first.
 * @returns null where it cannot be bought.
 */
export function cheapestPacks(
  amendment: Amendment,
  needKg: number,
): { counts: number[]; bulkKg: number; cost: number } | null {
  const { packs, bulkPricePerKg: bulk } = amendment;
  if (needKg <= 0) return { counts: packs.map(() => 0), bulkKg: 0, cost: 0 };
  if (packs.length === 0)
    return bulk === undefined ? null : { counts: [], bulkKg: needKg, cost: needKg * bulk };
  const order = packs
    .map((pack, i) => ({ ...pack, i, perKg: pack.price / pack.sizeKg }))
    .sort((a, b) => a.perKg - b.perKg || b.sizeKg - a.sizeKg || a.i - b.i);
  const useful = order.map((pack, k) => (k === 0 ? Infinity : usefulCount(pack.sizeKg, order[0]!.sizeKg)));
  const room = order.map((_, k) =>
    order.slice(k + 1).reduce((sum, pack, i) => sum + pack.sizeKg * useful[k + 1 + i]!, 0),
  );
  const largest = order.map((_, k) => Math.max(...order.slice(k).map((pack) => pack.sizeKg)));
  type Choice = { counts: number[]; bulkKg: number; cost: number; boughtKg: number; packs: number };
  let best: Choice | null = null;
  const beats = (a: Choice, b: Choice | null): boolean => {
    if (!b) return true;
    const money = 1e-9 * Math.max(1, b.cost);
    if (Math.abs(a.cost - b.cost) > money) return a.cost < b.cost;
    const weight = 1e-9 * b.boughtKg;
    if (Math.abs(a.boughtKg - b.boughtKg) > weight) return a.boughtKg < b.boughtKg;
    return a.packs < b.packs;
  };
  const counts = packs.map(() => 0);
  const settle = (cost: number, boughtKg: number, number: number, left: number): void => {
    const bulkKg = Math.max(0, left);
    const choice: Choice = {
      counts: [...counts],
      bulkKg,
      cost: cost + (bulkKg > 0 ? bulkKg * bulk! : 0),
      boughtKg: boughtKg + bulkKg,
      packs: number,
    };
    if (beats(choice, best)) best = choice;
  };
  const visit = (k: number, cost: number, boughtKg: number, number: number): void => {
    const left = needKg - boughtKg;
    const pack = order[k];
    if (left <= needKg * SLACK) settle(cost, boughtKg, number, 0);
    else if (!pack && bulk !== undefined) settle(cost, boughtKg, number, left);
    if (left <= needKg * SLACK || !pack) return;
    const unit = Math.min(pack.perKg, bulk ?? Infinity);
    const fewest = bulk === undefined ? Math.ceil(left / largest[k]! - SLACK) : 0;
    const hope = { cost: cost + left * unit, boughtKg: needKg, packs: number + fewest };
    if (!beats({ ...hope, counts, bulkKg: 0 }, best)) return;
    const most = Math.min(useful[k]!, Math.ceil(left / pack.sizeKg - SLACK));
    for (let count = most; count >= 0; count--) {
      const beyond = left - count * pack.sizeKg;
      if (bulk === undefined && beyond > room[k]! + needKg * SLACK) break;
      counts[pack.i] = count;
      visit(k + 1, cost + count * pack.price, boughtKg + count * pack.sizeKg, number + count);
    }
    counts[pack.i] = 0;
  };
  visit(0, 0, 0, 0);
  return best;
}

/**
 * How many packs of a size can be in a best choice beside one that is no dearer per kg: as many of them as weigh
 * the same as some whole number of the cheaper could be swapped for those. Infinity where the sizes share no measure.
 */
function usefulCount(sizeKg: number, cheaperKg: number): number {
  for (let count = 1; count <= 1000; count++) {
    const ratio = (count * sizeKg) / cheaperKg;
    if (Math.abs(ratio - Math.round(ratio)) < 1e-9 * ratio) return count - 1;
  }
  return Infinity;
}

/**
 * The cheapest packs for amounts that are taken, each amendment by itself, the shed first; nothing where it is not sold.
 * @param margin what is bought at the least, as a part of what is lacking.
 */
export function packsFor(amendments: readonly Amendment[], usedKg: readonly number[], margin = 1): Bought {
  const choices = amendments.map((amendment, a) => {
    const short = usedKg[a]! - amendment.stockKg;
    return cheapestPacks(amendment, short > usedKg[a]! * SLACK ? short * margin : 0);
  });
  return {
    counts: amendments.map(({ packs }, a) => choices[a]?.counts ?? packs.map(() => 0)),
    bulkKg: choices.map((choice) => choice?.bulkKg ?? 0),
  };
}
