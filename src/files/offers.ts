/** What is on offer of an amendment, by who sells it. */

import type { Amendment, Pack } from "../model.ts";
import { defined } from "../optional.ts";

/** A pack, or loose weight, with who sells it. */
export interface Offer {
  /** Null: loose, by weight. */
  readonly sizeKg: number | null;
  /** Of the pack; of loose weight for a kg. */
  readonly price: number;
  /** Null where nobody is named. */
  readonly seller: string | null;
}

/** Sizes within this part of each other are one size, written in two ways. */
const SAME_SIZE = 1e-3;

/** Whether two sizes, in kg, are one. */
export function sameSize(oneKg: number, otherKg: number): boolean {
  return Math.abs(oneKg - otherKg) <= SAME_SIZE * otherKg;
}

function offersOf({ packs, bulkPricePerKg: perKg, supplier }: Amendment): Offer[] {
  const own = supplier ?? null;
  return [
    ...packs.map((pack) => ({
      sizeKg: pack.sizeKg,
      price: pack.price,
      seller: pack.supplier ?? own,
    })),
    ...(perKg === undefined ? [] : [{ sizeKg: null, price: perKg, seller: own }]),
  ];
}

function sellersAmong(offers: readonly Offer[]): readonly (string | null)[] {
  return [...new Set(offers.map(({ seller }) => seller))];
}

/** Everyone who sells an amendment, once. */
export function sellersOf(amendment: Amendment): readonly (string | null)[] {
  return sellersAmong(offersOf(amendment));
}

/** Everyone who sells packs of a size, once. */
export function sellersOfSize(amendment: Amendment, kg: number): readonly (string | null)[] {
  return sellersAmong(offersOf(amendment).filter(({ sizeKg }) => sizeKg !== null && sameSize(kg, sizeKg)));
}

/**
 * The amendment with these offers and no others: its supplier is who sells it all, or else who sells it loose. Whether its
 * prices are placeholders stays as it is; `listedAs` is for real ones.
 * @param offers of several of loose weight the cheapest counts.
 */
export function soldAs(amendment: Amendment, offers: readonly Offer[]): Amendment {
  const { bulkPricePerKg: _, supplier: own, ...rest } = amendment;
  const [loose] = offers.filter(({ sizeKg }) => sizeKg === null).sort((x, y) => x.price - y.price);
  const sellers = sellersAmong(offers.filter((offer) => offer.sizeKg !== null || offer === loose));
  const supplier = (sellers.length === 1 ? sellers[0] : loose ? loose.seller : own) ?? undefined;
  const packs = offers.flatMap(({ sizeKg, price, seller }): Pack[] => {
    const other = seller === null || seller === supplier ? undefined : seller;
    return sizeKg === null ? [] : [{ sizeKg, price, ...defined({ supplier: other }) }];
  });
  return { ...rest, packs, ...defined({ supplier, bulkPricePerKg: loose?.price }) };
}

/** The amendment with the offers of some sellers alone. */
export function offeredBy(amendment: Amendment, sells: (seller: string | null) => boolean): Amendment {
  const offers = offersOf(amendment);
  return soldAs(
    amendment,
    offers.filter(({ seller }) => sells(seller)),
  );
}

/** The amendment with every offer of several versions of it, each once; loose weight from where it is cheapest. */
export function together(amendment: Amendment, versions: readonly Amendment[]): Amendment {
  const distinct = new Map(versions.flatMap(offersOf).map((offer) => [JSON.stringify(offer), offer]));
  const all = soldAs(amendment, [...distinct.values()]);
  return versions.every(({ placeholder }) => placeholder) ? all : withoutPlaceholder(all);
}

/** The amendment at real prices, which take the place of placeholders: the mark of these goes. */
export function withoutPlaceholder({ placeholder: _, ...amendment }: Amendment): Amendment {
  return amendment;
}

/** The amendment as price lists sell it, and no otherwise: of several offers of loose weight the cheapest. */
export function listedAs(amendment: Amendment, offers: readonly Offer[]): Amendment {
  return withoutPlaceholder(soldAs(amendment, offers));
}
