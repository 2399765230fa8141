/** Price lists of suppliers, and what a plan is at their prices. */

import type { PriceRow } from "../files/price-list.ts";
import type { Amendment, Plan } from "../model.ts";
import { type Fault, fail, nearest, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { listed } from "../words/numbers.ts";
import { type ChangedPlan, type Choice, knownIds } from "./changes.ts";
import { type SoldLoose, type SoldPack, sellersOf, sellersOfSize, soldAs, together } from "./offers.ts";

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
export function applyPriceList(plan: Plan, list: PriceList, listedOnly: boolean): Result<ChangedPlan> {
  const offers = offersOf(plan, list);
  return offers.ok ? withOffers(plan, offers.value, list, listedOnly) : offers;
}

/** What a price list offers of one amendment. */
interface Offer {
  readonly packs: readonly SoldPack[];
  readonly loose: SoldLoose | null;
}
/** By id. */
type Offers = ReadonlyMap<string, Offer>;

/** What a price list offers of a choice, or the rows whose ids are not known, each with its place in the list. */
function offersOf(choice: Choice, list: PriceList): Result<Offers> {
  const known = knownIds(choice);
  const problems: Problem[] = [];
  const complain = (row: PriceRow, column: "id" | "size", fault: Fault) =>
    problems.push(
      problemOf(fault, { place: { file: list.file, line: row.line, column: row.columns[column] } }),
    );
  const offers = new Map<string, { packs: SoldPack[]; loose: SoldLoose | null }>();
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
    const offer = offers.get(row.id) ?? { packs: [], loose: null };
    offers.set(row.id, offer);
    if (row.offer.kind === "bulk") {
      const seller = row.supplier ?? amendment.supplier ?? null;
      offer.loose = { pricePerKg: row.price / row.offer.kg, seller };
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
    offer.packs.push({ sizeKg, price: row.price, seller });
  }
  return problems.length > 0 ? { ok: false, problems } : ok(offers);
}

/** The amendments of a choice with a price list in place of their own prices where it names them. */
export function listPrices(choice: Choice, list: PriceList): Result<readonly Amendment[]> {
  const offers = offersOf(choice, list);
  return offers.ok ? ok(choice.amendments.map((amendment) => offered(amendment, offers.value))) : offers;
}

function offered(amendment: Amendment, offers: Offers): Amendment {
  const offer = offers.get(amendment.id);
  return offer ? soldAs(amendment, offer.packs, offer.loose) : amendment;
}

/** Suppliers whose offers fall away with a list, and those that the list names and the plan knows nothing of. */
function sellerNotes(plan: Plan, offers: Offers): string[] {
  const notes: string[] = [];
  const named = new Set<string>();
  for (const amendment of plan.amendments) {
    const offer = offers.get(amendment.id);
    if (!offer) continue;
    const now = sellersOf(soldAs(amendment, offer.packs, offer.loose));
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

function withOffers(plan: Plan, offers: Offers, list: PriceList, listedOnly: boolean): Result<ChangedPlan> {
  const notes = sellerNotes(plan, offers);
  const unlisted = plan.amendments.filter(({ id }) => !offers.has(id));
  const kept = unlisted.filter((a) => (listedOnly ? a.stockKg > 0 : true));
  const shed = kept.filter((a) => listedOnly && a.stockKg > 0).map(({ id }) => id);
  if (shed.length > 0) notes.push(`Not on the list, so that only the shed has them: ${listed(shed)}.`);
  const amendments = plan.amendments
    .filter((a) => offers.has(a.id) || kept.includes(a))
    .map((a): Amendment => {
      if (offers.has(a.id) || !listedOnly) return offered(a, offers);
      const { bulkPricePerKg: _, ...rest } = a;
      return { ...rest, packs: [] };
    });
  if (amendments.length === 0)
    return fail({
      code: "choice-empty",
      message: `${list.file} names none of the plan's amendments`,
      hint: "its first column holds the ids of the amendments file",
      place: { file: list.file, line: 1, column: 1 },
    });
  const present = new Set(amendments.map(({ id }) => id));
  const lost = plan.limits.filter(({ id }) => !present.has(id));
  notes.push(...lost.map(({ id }) => `The limits on ${id} no longer apply.`));
  return ok({
    plan: { ...plan, amendments, limits: plan.limits.filter(({ id }) => present.has(id)) },
    notes,
    unlisted: listedOnly ? [] : unlisted.map(({ id }) => id),
  });
}

/** The plan with every offer of several price lists together, so that each amendment comes from where it is cheapest. */
export function cheapestOf(plan: Plan, lists: readonly ChangedPlan[]): ChangedPlan {
  const offersOf = (id: string): Amendment[] =>
    lists.flatMap((list) => list.plan.amendments.filter((amendment) => amendment.id === id));
  const amendments = plan.amendments.flatMap((amendment): Amendment[] => {
    const offers = offersOf(amendment.id);
    if (offers.length === 0) return [];
    return [together(amendment, offers)];
  });
  const present = new Set(amendments.map(({ id }) => id));
  const unlisted = amendments.filter((amendment) => {
    const own = plan.amendments.find(({ id }) => id === amendment.id)!;
    const dear = lists.some((list) => list.unlisted?.includes(amendment.id));
    return dear && cheapestPricePerKg(amendment) === cheapestPricePerKg(own);
  });
  return {
    plan: { ...plan, amendments, limits: plan.limits.filter(({ id }) => present.has(id)) },
    notes: [],
    unlisted: unlisted.map(({ id }) => id),
  };
}
