/**
 * Random plans to buy whole packs for: 6 to 25 amendments in 1 to 3 pack sizes at prices in cents, some of them in
 * the shed, some sold loose, 0 to 3 suppliers with delivery. As numbers, and as the tree of a plan file.
 */

import { seeded } from "./random.ts";
import { randomSpec, type Spec, type SpecAmendment, toTree } from "./random-plan.ts";

export interface ShopSpec extends Spec {
  suppliers: Record<
    string,
    {
      delivery: number;
      freeOver: number | null;
      /** Money per kg; fraction of the goods; charges up to kg (null: any weight). */
      perKg?: number;
      percent?: number;
      steps?: { upTo: number | null; price: number }[];
    }
  >;
  supplierOf: Record<string, string>;
  /** By amendment: the supplier of each pack that is not the amendment's own. */
  packSupplierOf: Record<string, (string | null)[]>;
}

const cents = (value: number): number => Math.round(value * 100) / 100;

export function randomShopSpec(seed: number): ShopSpec {
  const r = seeded(seed * 7919 + 13);
  const spec = randomSpec(seed);
  const wanted = r.whole(6, 25);
  const amendments: SpecAmendment[] = [];
  for (let k = 0; amendments.length < wanted; k++)
    amendments.push(...(k === 0 ? spec : randomSpec(seed * 1000 + k)).amendments);
  amendments.length = wanted;
  const named = amendments.map(
    (a, i): SpecAmendment => ({
      ...a,
      id: `material-${String.fromCharCode(97 + i)}`,
      packs: a.packs.map((p) => ({ kg: p.kg, price: cents(p.price) })),
      bulkPerKg: r.chance(0.1) ? a.bulkPerKg : null,
    }),
  );
  const suppliers: ShopSpec["suppliers"] = {};
  const count = r.whole(0, 3);
  for (let s = 0; s < count; s++)
    suppliers[`store-${s + 1}`] = {
      delivery: cents(r.between(5, 60)),
      freeOver: r.chance(0.6) ? cents(r.between(60, 400)) : null,
    };
  const supplierOf: Record<string, string> = {};
  const ids = Object.keys(suppliers);
  for (const a of named) if (ids.length > 0 && r.chance(0.85)) supplierOf[a.id] = r.pick(ids);
  // Drawn apart, so that the rest of a seed stays what it was.
  const q = seeded(seed * 104729 + 7);
  for (const id of ids) {
    const supplier = suppliers[id]!;
    if (q.chance(0.3)) supplier.perKg = cents(q.between(0.05, 0.6));
    if (q.chance(0.3)) supplier.percent = q.whole(2, 15) / 100;
    if (q.chance(0.4)) {
      const price = cents(q.between(5, 20));
      supplier.steps = [
        { upTo: q.whole(15, 60), price },
        { upTo: q.whole(80, 200), price: cents(price + 15) },
        ...(q.chance(0.7) ? [{ upTo: null, price: cents(price + 40) }] : []),
      ];
    }
  }
  const packSupplierOf: ShopSpec["packSupplierOf"] = {};
  for (const a of named)
    packSupplierOf[a.id] = a.packs.map(() => (ids.length > 0 && q.chance(0.6) ? q.pick(ids) : null));
  const limits = Object.fromEntries(
    Object.entries(spec.limits).filter(([id]) => named.some((a) => a.id === id)),
  );
  return { ...spec, amendments: named, limits, suppliers, supplierOf, packSupplierOf };
}

/** The tree of the plan file. */
export function shopTree(spec: ShopSpec, seed: number): Record<string, unknown> {
  const tree = toTree(spec, seed);
  const amendments = tree.amendments as Record<string, Record<string, unknown>>;
  for (const [id, supplier] of Object.entries(spec.supplierOf)) amendments[id]!.supplier = supplier;
  for (const [id, sellers] of Object.entries(spec.packSupplierOf)) {
    const packs = amendments[id]!.packs as Record<string, unknown>[] | undefined;
    packs?.forEach((pack, k) => {
      if (sellers[k] != null) pack.supplier = sellers[k];
    });
  }
  return {
    ...tree,
    ...(Object.keys(spec.suppliers).length === 0
      ? {}
      : {
          suppliers: Object.fromEntries(
            Object.entries(spec.suppliers).map(([id, s]) => [
              id,
              {
                delivery: s.delivery,
                ...(s.freeOver === null ? {} : { free_over: s.freeOver }),
                ...(s.perKg === undefined ? {} : { per: `${s.perKg}/kg` }),
                ...(s.percent === undefined ? {} : { percent: `${Math.round(s.percent * 100)}%` }),
                ...(s.steps === undefined
                  ? {}
                  : {
                      steps: s.steps.map(({ upTo, price }) => ({
                        ...(upTo === null ? {} : { up_to: `${upTo} kg` }),
                        price,
                      })),
                    }),
              },
            ]),
          ),
        }),
  };
}
