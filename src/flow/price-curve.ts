/**
 * What is paid as one price moves: exact lines and breakpoints.
 *
 * With the purchases to choose from fixed, what is paid is the least of straight lines over them, concave in the price: it
 * is solved at both ends, the two lines are crossed, and it is solved at the crossing, until no purchase lies below one.
 * Free delivery moves that choice, since a dearer bag makes a dearer order. On a stretch of prices all orders may be free
 * that are so at its upper end; what that finds is a bound, and exact from the price on at which its own orders really are
 * free. Below that price the stretch is followed again, with that price as its upper end.
 */

import type { Bought } from "../field/purchase.ts";
import type { Amendment } from "../model.ts";
import { supplierOf } from "../program/shop-program.ts";
import { piecesBetween, type Tangent } from "../solver/value-function.ts";
import { UnverifiedError } from "../solver/verify.ts";
import type { Errand, Found } from "./purchase.ts";
import { buyWithMargins } from "./purchase-mix.ts";

/** A stretch of prices on which one purchase is the cheapest. */
export interface PriceStretch {
  readonly from: number;
  readonly to: number;
  readonly totalFrom: number;
  readonly totalTo: number;
  readonly bought: Bought;
}

export interface PriceCurve {
  /** Rising, one after the other; what is paid may fall where one ends and the next begins. Empty: nothing can be bought. */
  readonly stretches: readonly PriceStretch[];
  /** Whether every purchase on the way was proven to cost least. */
  readonly proven: boolean;
  readonly solved: number;
}

/** What moves: an errand at a price, and by offer its price for each unit of what moves; 0 where it stays. */
export interface MovingPrice {
  readonly at: (value: number) => Errand;
  /** `[a][k]` of pack `k` of amendment `a`. */
  readonly perPack: readonly (readonly number[])[];
  readonly perLooseKg: readonly number[];
}

/** A purchase as a line over prices. */
interface Line extends Tangent {
  readonly bought: Bought;
  /** The least price at which its orders are free as it says. */
  readonly holdsFrom: number;
}

const along = ({ t, cost, slope }: Line, value: number): number => cost + slope * (value - t);

/** Totals nearer than this part of them are the same. */
const SAME = 1e-7;
/** Prices nearer than this part of the range are the same. */
const STEP = 1e-9;
/** Stretches of one curve; more are not looked for. */
const MOST = 400;

/**
 * Follows what is paid from one price to a higher one.
 * @throws UnverifiedError where a purchase was not found in time.
 */
export async function priceCurve(moving: MovingPrice, from: number, to: number): Promise<PriceCurve> {
  return new Follower(moving, from, to).follow();
}

class Follower {
  private solved = 0;
  private proven = true;
  private readonly stretches: PriceStretch[] = [];
  private readonly step: number;

  constructor(
    private readonly moving: MovingPrice,
    private readonly from: number,
    private readonly to: number,
  ) {
    this.step = STEP * (to - from);
  }

  async follow(): Promise<PriceCurve> {
    await this.exact(this.from, this.to);
    this.stretches.sort((a, b) => a.from - b.from);
    return { stretches: merged(this.stretches), proven: this.proven, solved: this.solved };
  }

  /** Puts the true stretches between two prices into the list. */
  private async exact(from: number, to: number): Promise<void> {
    if (this.stretches.length > MOST) {
      this.proven = false;
      return;
    }
    const [first, last] = [await this.line(from, to), await this.line(to, to)];
    if (!first || !last) return;
    const size = SAME * Math.max(1, Math.abs(first.cost), Math.abs(last.cost));
    const pieces = await piecesBetween(first, last, (value) => this.line(value, to), size, this.step);
    for (const { line, from: a, to: b } of pieces ?? []) {
      const [start, end] = [a.t, b.t];
      const holds = Math.max(start, line.holdsFrom);
      if (holds <= end)
        this.stretches.push({
          from: holds,
          to: end,
          totalFrom: along(line, holds),
          totalTo: along(line, end),
          bought: line.bought,
        });
      // At its upper end the choice is as it really is, so that the rest is shorter by something.
      const rest = Math.min(end, line.holdsFrom) - this.step;
      if (line.holdsFrom > start + this.step && rest > start) await this.exact(start, rest);
    }
  }

  /** The cheapest purchase at a price, with orders free as they are at `until`; null where there is none. */
  private async line(value: number, until: number): Promise<Line | null> {
    this.solved++;
    const errand = this.moving.at(value);
    const valued = this.moving.at(until).amendments;
    const found = await buyWithMargins({ ...errand, demands: { ...errand.demands, valued } }, false);
    if (!("found" in found)) {
      if (found.status === "nothing") throw new UnverifiedError("A purchase was not found in time.");
      if (found.claimed) this.proven = false;
      return null;
    }
    const { point } = found.found;
    if (point.status === "stopped" || point.claimed) this.proven = false;
    return { t: value, ...lineOf(this.moving, errand, found.found) };
  }
}

/** How the cost of a purchase moves with the price, and from which price on its free orders are free. */
function lineOf(
  { perPack, perLooseKg }: MovingPrice,
  { amendments, suppliers }: Errand,
  { bought, point, program }: Found,
): Omit<Line, "t"> {
  let slope = 0;
  let holdsFrom = Number.NEGATIVE_INFINITY;
  const freeOf = new Map(
    suppliers
      .filter(
        ({ delivery, perKg = 0, percent = 0, steps = [] }) =>
          delivery > 0 || perKg > 0 || percent > 0 || steps.length > 0,
      )
      .map(({ id }, s) => [id, program.delivery[s]?.free ?? null] as const),
  );
  const isFree = (id: string | null): boolean => {
    const column = id === null ? null : (freeOf.get(id) ?? null);
    return column !== null && point.x[column]! > 0.5;
  };
  const sums = new Map<string | null, { moving: number; fixed: number }>();
  const add = (id: string | null, moving: number, fixed: number): void => {
    const sum = sums.get(id) ?? { moving: 0, fixed: 0 };
    sums.set(id, { moving: sum.moving + moving, fixed: sum.fixed + fixed });
  };
  amendments.forEach((amendment: Amendment, a) => {
    amendment.packs.forEach((pack, k) => {
      const count = bought.counts[a]![k]!;
      const rate = perPack[a]?.[k] ?? 0;
      add(supplierOf(amendment, pack), count * rate, rate > 0 ? 0 : count * pack.price);
    });
    const [loose, rate] = [bought.bulkKg[a]!, perLooseKg[a] ?? 0];
    add(supplierOf(amendment), loose * rate, rate > 0 ? 0 : loose * (amendment.bulkPricePerKg ?? 0));
  });
  for (const [id, { moving, fixed }] of sums) {
    const supplier = suppliers.find((one) => one.id === id);
    const free = isFree(id);
    slope += moving * (1 + (free ? 0 : (supplier?.percent ?? 0)));
    if (free && moving > 0 && supplier?.freeOver !== undefined)
      holdsFrom = Math.max(holdsFrom, (supplier.freeOver - fixed) / moving);
  }
  return { bought, cost: point.cost, slope, holdsFrom };
}

/** Stretches of the same purchase that touch, as one. */
function merged(stretches: readonly PriceStretch[]): PriceStretch[] {
  const joined: PriceStretch[] = [];
  for (const one of stretches) {
    const last = joined.at(-1);
    const same = last && JSON.stringify(last.bought.counts) === JSON.stringify(one.bought.counts);
    const near = last && Math.abs(last.totalTo - one.totalFrom) <= SAME * Math.max(1, last.totalTo);
    if (last && same && near) joined[joined.length - 1] = { ...last, to: one.to, totalTo: one.totalTo };
    else joined.push(one);
  }
  return joined;
}
