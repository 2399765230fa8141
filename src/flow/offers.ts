/** What is on offer of an amendment, by who sells it. */

import type { Amendment, Pack } from "../model.ts";
import { defined } from "../optional.ts";
import { supplierOf } from "../program/shop-program.ts";

/** A pack with who sells it; null where nobody is named. */
export interface SoldPack {
  readonly sizeKg: number;
  readonly price: number;
  readonly seller: string | null;
}

/** Loose weight with who sells it. */
export interface SoldLoose {
  readonly pricePerKg: number;
  readonly seller: string | null;
}

/** Sizes within this part of each other are one size, written in two ways. */
const SAME_SIZE = 1e-3;

/** Whether two sizes, in kg, are one. */
export function sameSize(oneKg: number, otherKg: number): boolean {
  return Math.abs(oneKg - otherKg) <= SAME_SIZE * otherKg;
}

/** The packs of an amendment, each with its seller. */
export function packsOf(amendment: Amendment): SoldPack[] {
  return amendment.packs.map((pack) => ({
    sizeKg: pack.sizeKg,
    price: pack.price,
    seller: supplierOf(amendment, pack),
  }));
}

/** The loose weight of an amendment with its seller; null where it is not sold so. */
export function looseOf(amendment: Amendment): SoldLoose | null {
  const { bulkPricePerKg: pricePerKg } = amendment;
  return pricePerKg === undefined ? null : { pricePerKg, seller: supplierOf(amendment) };
}

/** Everyone who sells an amendment, once. */
export function sellersOf(amendment: Amendment): readonly (string | null)[] {
  const loose = looseOf(amendment);
  return distinct([...packsOf(amendment), ...(loose ? [loose] : [])]);
}

/** Everyone who sells packs of a size, once. */
export function sellersOfSize(amendment: Amendment, sizeKg: number): readonly (string | null)[] {
  return distinct(packsOf(amendment).filter((pack) => sameSize(sizeKg, pack.sizeKg)));
}

function distinct(offers: readonly { readonly seller: string | null }[]): readonly (string | null)[] {
  return [...new Set(offers.map(({ seller }) => seller))];
}

/** The amendment with these offers and no others: its supplier is who sells it all, or else who sells it loose. */
export function soldAs(amendment: Amendment, packs: readonly SoldPack[], loose: SoldLoose | null): Amendment {
  const { bulkPricePerKg: _, supplier: own, ...rest } = amendment;
  const sellers = distinct([...packs, ...(loose ? [loose] : [])]);
  const [only] = sellers;
  const supplier = (sellers.length === 1 ? only : loose ? loose.seller : own) ?? undefined;
  return {
    ...rest,
    packs: packs.map(
      ({ seller, sizeKg, price }): Pack => ({
        sizeKg,
        price,
        ...defined({ supplier: seller === null || seller === supplier ? undefined : seller }),
      }),
    ),
    ...defined({ supplier, bulkPricePerKg: loose?.pricePerKg }),
  };
}

/** The amendment with the offers of one seller alone. */
export function offersFrom(amendment: Amendment, seller: string): Amendment {
  return offersOf(amendment, (one) => one === seller);
}

/** The amendment with the offers of everyone but one seller. */
export function offersBut(amendment: Amendment, seller: string): Amendment {
  return offersOf(amendment, (one) => one !== seller);
}

function offersOf(amendment: Amendment, takes: (seller: string | null) => boolean): Amendment {
  const loose = looseOf(amendment);
  const packs = packsOf(amendment).filter(({ seller }) => takes(seller));
  return soldAs(amendment, packs, loose && takes(loose.seller) ? loose : null);
}

/** The amendment with every offer of several versions of it; loose weight from where it is cheapest. */
export function together(amendment: Amendment, versions: readonly Amendment[]): Amendment {
  const packs = versions.flatMap(packsOf);
  const fresh = packs.filter(
    (pack, i) =>
      packs.findIndex(
        (p) => p.sizeKg === pack.sizeKg && p.price === pack.price && p.seller === pack.seller,
      ) === i,
  );
  const loose = versions
    .flatMap((version) => looseOf(version) ?? [])
    .reduce<SoldLoose | null>(
      (least, one) => (least && least.pricePerKg <= one.pricePerKg ? least : one),
      null,
    );
  return soldAs(amendment, fresh, loose);
}
