/** Suppliers that amendments name and a plan says nothing of. */

import type { Amendment, Supplier } from "../model.ts";
import { guess, type Notice } from "../problem.ts";

/**
 * One warning for each supplier that sells something in a plan and is not among those whose delivery it states. A plan that
 * states nobody's is taken at its word.
 */
export function strangeSuppliers(
  amendments: readonly Amendment[],
  suppliers: readonly Supplier[],
): readonly Notice[] {
  if (suppliers.length === 0) return [];
  const known = suppliers.map(({ id }) => id);
  const sells = new Map<string, string[]>();
  for (const { name, packs, bulkPricePerKg, supplier } of amendments) {
    const loose = bulkPricePerKg === undefined ? [] : [supplier];
    for (const seller of new Set([...loose, ...packs.map((pack) => pack.supplier ?? supplier)]))
      if (seller !== undefined && !known.includes(seller))
        sells.set(seller, [...(sells.get(seller) ?? []), name]);
  }
  return [...sells].map(([id, names]) => {
    const meant = guess(id, known, "");
    const more = names.length > 1 ? ` (and ${names.length - 1} more)` : "";
    const text = `${names[0]}${more} comes from \`${id}\`, which is not among the plan's \`suppliers\`: its delivery counts as free${meant && `; ${meant}`}.`;
    return { code: "supplier-unknown", text };
  });
}
