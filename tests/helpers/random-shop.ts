/**
 * Random plans to buy whole packs for: 6 to 25 amendments in 1 to 3 pack sizes at prices in cents, some of them in
 * the shed, some sold loose, 0 to 3 suppliers with delivery. As numbers, and as the tree of a plan file.
 */

import { seeded } from "./random.ts";
import { randomSpec, type Spec, type SpecAmendment, toTree } from "./random-plan.ts";

export interface ShopSpec extends Spec {
  suppliers: Record<string, { delivery: number; freeOver: number | null }>;
  supplierOf: Record<string, string>;
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
  const limits = Object.fromEntries(
    Object.entries(spec.limits).filter(([id]) => named.some((a) => a.id === id)),
  );
  return { ...spec, amendments: named, limits, suppliers, supplierOf };
}

/** The tree of the plan file. */
export function shopTree(spec: ShopSpec, seed: number): Record<string, unknown> {
  const tree = toTree(spec, seed);
  const amendments = tree.amendments as Record<string, Record<string, unknown>>;
  for (const [id, supplier] of Object.entries(spec.supplierOf)) amendments[id]!.supplier = supplier;
  return {
    ...tree,
    ...(Object.keys(spec.suppliers).length === 0
      ? {}
      : {
          suppliers: Object.fromEntries(
            Object.entries(spec.suppliers).map(([id, s]) => [
              id,
              { delivery: s.delivery, ...(s.freeOver === null ? {} : { free_over: s.freeOver }) },
            ]),
          ),
        }),
  };
}
