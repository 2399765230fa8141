/** Price lists of suppliers, and what a plan is at their prices. */

import type { PriceRow } from "../files/price-list.ts";
import type { Amendment, Plan } from "../model.ts";
import { type Fault, fail, nearest, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { listed } from "../words/numbers.ts";
import { type ChangedPlan, type Choice, choosingFrom, knownIds } from "./changes.ts";
import { type Offer, sellersOf, sellersOfSize, soldAs, together } from "./offers.ts";

/** A supplier's price list, read. */
export interface PriceList {
  /** As shown to people. */
  readonly file: string;
  readonly rows: readonly PriceRow[];
}

/**
 * The plan with a price list in place of its own prices. What the list does not name keeps the plan's price, unless
 * `listedOnly`: then it can only come from stock.
 * @returns the plan, or the rows whose ids no amendment has, each with its place in the list.
 */
export function applyPriceList<C extends Choice>(
  plan: C,
  list: PriceList,
  listedOnly: boolean,
): Result<ChangedPlan<C>> {
  const read = offersOf(plan, list);
  if (!read.ok) return read;
  const offers = read.value;
  const notes = sellerNotes(plan, offers);
  const unlisted = plan.amendments.filter(({ id }) => !offers.has(id));
  const shed = listedOnly ? unlisted.filter(({ stockKg }) => stockKg > 0) : [];
  if (shed.length > 0)
    notes.push(`Not on the list, so that only the shed has them: ${listed(shed.map(({ id }) => id))}.`);
  const amendments = plan.amendments.flatMap((amendment): Amendment[] => {
    if (offers.has(amendment.id) || !listedOnly) return [offered(amendment, offers)];
    const { bulkPricePerKg: _, ...rest } = amendment;
    return amendment.stockKg > 0 ? [{ ...rest, packs: [] }] : [];
  });
  if (amendments.length === 0)
    return fail({
      code: "choice-empty",
      message: `${list.file} names none of the plan's amendments`,
      hint: "its first column holds the ids of the amendments file",
      place: { file: list.file, line: 1, column: 1 },
    });
  const changed = choosingFrom(plan, amendments);
  return ok({
    plan: changed.plan,
    notes: [...notes, ...changed.notes],
    unlisted: listedOnly ? [] : unlisted.map(({ id }) => id),
  });
}

/** The amendment as a price list sells it, where the list names it. */
function offered(amendment: Amendment, offers: Offers): Amendment {
  const own = offers.get(amendment.id);
  return own ? soldAs(amendment, own) : amendment;
}

/** What a price list offers, by id. */
type Offers = ReadonlyMap<string, readonly Offer[]>;

/** What a price list offers of a choice, or the rows whose ids are not known, each with its place in the list. */
function offersOf(choice: Choice, list: PriceList): Result<Offers> {
  const known = knownIds(choice);
  const problems: Problem[] = [];
  const complain = (row: PriceRow, column: "id" | "size", fault: Fault) =>
    problems.push(
      problemOf(fault, { place: { file: list.file, line: row.line, column: row.columns[column] } }),
    );
  const offers = new Map<string, Offer[]>();
  for (const row of list.rows) {
    if (!known.includes(row.id)) {
      complain(row, "id", {
        code: "amendment-unknown",
        wrong: `the plan has no amendment \`${row.id}\``,
        near: nearest(row.id, known),
        hint: `it has ${[...known].sort().join(", ")}`,
      });
      continue;
    }
    const amendment = choice.amendments.find(({ id }) => id === row.id);
    if (!amendment) continue;
    const own = offers.get(row.id) ?? [];
    offers.set(row.id, own);
    if (row.offer.kind === "bulk") {
      const loose = { sizeKg: null, price: row.price / row.offer.kg };
      // Of several rows for loose weight the last one holds.
      const packs = own.filter(({ sizeKg }) => sizeKg !== null);
      offers.set(row.id, [...packs, { ...loose, seller: row.supplier ?? amendment.supplier ?? null }]);
      continue;
    }
    const { by, value } = row.offer.measure;
    if (by === "litres" && amendment.densityKgPerL === undefined) {
      complain(row, "size", {
        code: "density-missing",
        given: row.offer.text,
        wrong: `is a volume, and ${row.id} has no density`,
        hint: "give the size as a weight, or the amendment a `density`",
      });
      continue;
    }
    const sizeKg = by === "kg" ? value : value * amendment.densityKgPerL!;
    const sellers = row.supplier === undefined ? sellersOfSize(amendment, sizeKg) : [row.supplier];
    if (sellers.length > 1)
      complain(row, "size", {
        code: "supplier-ambiguous",
        given: row.offer.text,
        wrong: `of ${row.id} is sold by ${listed(sellers.map((seller) => seller ?? "a supplier without a name"))}; the row does not say whose price it is`,
        hint: "name the supplier in a column `supplier`",
      });
    const [seller = amendment.supplier ?? null] = sellers;
    own.push({ sizeKg, price: row.price, seller });
  }
  return problems.length > 0 ? { ok: false, problems } : ok(offers);
}

/** Suppliers whose offers fall away with a list, and those that the list names and the plan knows nothing of. */
function sellerNotes(plan: Choice, offers: Offers): string[] {
  const notes: string[] = [];
  const named = new Set<string>();
  for (const amendment of plan.amendments) {
    if (!offers.has(amendment.id)) continue;
    const now = sellersOf(offered(amendment, offers));
    const gone = sellersOf(amendment).flatMap((seller) =>
      seller === null || now.includes(seller) ? [] : [seller],
    );
    if (gone.length > 0)
      notes.push(
        `${amendment.id} is sold as the list says, and no longer by ${listed(gone)}: the list does not have that offer.`,
      );
    for (const seller of now) if (seller !== null) named.add(seller);
  }
  const known = plan.suppliers.map(({ id }) => id);
  const strange = [...named].filter((id) => !known.includes(id)).sort();
  if (strange.length > 0 && known.length > 0)
    notes.push(`The plan does not say what ${listed(strange)} charges for delivery: it counts as nothing.`);
  return notes;
}

/** The plan with every offer of several price lists together, so that each amendment comes from where it is cheapest. */
export function cheapestOf(plan: Plan, lists: readonly ChangedPlan[]): ChangedPlan {
  const amendments = plan.amendments.flatMap((amendment): Amendment[] => {
    const offers = lists.flatMap((list) => list.plan.amendments.filter(({ id }) => id === amendment.id));
    return offers.length === 0 ? [] : [together(amendment, offers)];
  });
  const unlisted = amendments.filter((amendment) => {
    const own = plan.amendments.find(({ id }) => id === amendment.id)!;
    const dear = lists.some((list) => list.unlisted?.includes(amendment.id));
    return dear && cheapestPricePerKg(amendment) === cheapestPricePerKg(own);
  });
  return { ...choosingFrom(plan, amendments), notes: [], unlisted: unlisted.map(({ id }) => id) };
}
