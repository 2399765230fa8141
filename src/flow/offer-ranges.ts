/** At which price each offer leaves the purchase or enters it, all else as it is. */
import type { Bought } from "../field/purchase.ts";
import type { Amendment } from "../model.ts";
import { supplierOf } from "../program/shop-program.ts";
import type { OfferRange } from "../results/solution.ts";
import { unlessUnverified } from "../solver/verify.ts";
import { priceCurve } from "./price-curve.ts";
import type { Errand } from "./purchase.ts";

/** Prices are looked at from this part of today's to so many times it. */
const LOWEST = 0.01;
const HIGHEST = 4;
/** A count or a weight that falls by less than this is the same. */
const SAME = 1e-6;

/** One offer: a pack of an amendment, or what is sold loose of it. */
interface Offer {
  readonly a: number;
  /** Null: loose. */
  readonly k: number | null;
  readonly price: number;
}

/**
 * The range of every offer that has a price, in the order of the amendments.
 * @param bought the purchase at today's prices.
 */
export async function offerRanges(errand: Errand, bought: Bought): Promise<OfferRange[]> {
  const offers = errand.amendments.flatMap((amendment, a): Offer[] => [
    ...amendment.packs.map(({ price }, k) => ({ a, k, price })),
    ...(amendment.bulkPricePerKg === undefined ? [] : [{ a, k: null, price: amendment.bulkPricePerKg }]),
  ]);
  const ranges: OfferRange[] = [];
  for (const offer of offers) {
    if (offer.price <= 0 || errand.deadline.isPast()) continue;
    const range = await unlessUnverified(rangeOf(errand, offer, bought));
    if (range) ranges.push(range);
  }
  return ranges;
}

async function rangeOf(errand: Errand, offer: Offer, bought: Bought): Promise<OfferRange | null> {
  const { a, k, price } = offer;
  const countIn = (of: Bought): number => (k === null ? of.bulkKg[a]! : of.counts[a]![k]!);
  const count = countIn(bought);
  const [from, to] = count > 0 ? [price, price * HIGHEST] : [price * LOWEST, price];
  const { amendments } = errand;
  const curve = await priceCurve(
    {
      at: (value) => ({ ...errand, amendments: pricedAt(amendments, offer, value) }),
      perPack: amendments.map(({ packs }, i) => packs.map((_, j) => (i === a && j === k ? 1 : 0))),
      perLooseKg: amendments.map((_, i) => (i === a && k === null ? 1 : 0)),
    },
    from,
    to,
  );
  if (!curve.proven) return null;
  const fewer = curve.stretches.find((one) => countIn(one.bought) < count * (1 - SAME));
  const some = curve.stretches.filter((one) => countIn(one.bought) > SAME).at(-1);
  const amendment = amendments[a]!;
  const pack = k === null ? undefined : amendment.packs[k];
  return {
    id: amendment.id,
    sizeKg: pack?.sizeKg ?? null,
    supplier: supplierOf(amendment, pack),
    price,
    count,
    leavesAbove: count > 0 ? (fewer?.from ?? null) : null,
    entersBelow: count > 0 ? null : (some?.to ?? null),
  };
}

function pricedAt(amendments: readonly Amendment[], { a, k }: Offer, value: number): Amendment[] {
  return amendments.map((amendment, i) => {
    if (i !== a) return amendment;
    if (k === null) return { ...amendment, bulkPricePerKg: value };
    return {
      ...amendment,
      packs: amendment.packs.map((pack, j) => (j === k ? { ...pack, price: value } : pack)),
    };
  });
}
