/** What a plan is at the prices of a list, for comparisons of several. */

import { sellersOf, together, withoutPlaceholder } from "../files/offers.ts";
import { type ListedTogether, offered, offersOfLists } from "../files/plan-prices.ts";
import type { PriceList } from "../files/price-list.ts";
import type { Amendment, Plan } from "../model.ts";
import { fail, ok, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { listed } from "../words/numbers.ts";
import { type ChangedPlan, type Choice, choosingFrom } from "./changes.ts";

/**
 * The plan with a price list in place of its own prices. What the list does not name keeps the plan's price, unless
 * `listedOnly`: then it can only come from stock. Rows that name nothing of the plan are counted and said.
 * @returns the plan, or the rows that are wrong, each with its place in the list.
 */
export function applyPriceList(plan: Plan, list: PriceList, listedOnly: boolean): Result<ChangedPlan> {
  return applyPriceLists(plan, [list], listedOnly);
}

/** The same with several lists together: the same pack in two of them is two offers. */
export function applyPriceLists<C extends Choice>(
  plan: C,
  lists: readonly PriceList[],
  listedOnly = false,
): Result<ChangedPlan<C>> {
  const known = new Set(plan.leftOut.map(({ id }) => id));
  const uses = lists.map((list) => ({ list, use: { known } }));
  const { offers, problems, notices } = offersOfLists(uses, plan.amendments);
  if (problems.length > 0) return { ok: false, problems };
  const notes = [...notices.map(({ text }) => text), ...sellerNotes(plan, offers)];
  const unlisted = plan.amendments.filter(({ id }) => !offers.has(id));
  const shed = listedOnly ? unlisted.filter(({ stockKg }) => stockKg > 0) : [];
  if (shed.length > 0)
    notes.push(`Not on the list, so that only the shed has them: ${listed(shed.map(({ id }) => id))}.`);
  const amendments = plan.amendments.flatMap((amendment): Amendment[] => {
    if (offers.has(amendment.id) || !listedOnly) return [offered(amendment, offers)];
    const { bulkPricePerKg: _, ...rest } = withoutPlaceholder(amendment);
    return amendment.stockKg > 0 ? [{ ...rest, packs: [] }] : [];
  });
  if (amendments.length === 0)
    return fail({
      code: "choice-empty",
      message: `${lists.map(({ file }) => file).join(", ")} names none of the plan's amendments`,
      hint: "rows are found by the ids or the names of the amendments file",
      place: { file: lists[0]!.file, line: 1, column: 1 },
    });
  const changed = choosingFrom(plan, amendments);
  return ok({
    plan: changed.plan,
    notes: [...notes, ...changed.notes],
    unlisted: listedOnly ? [] : unlisted.map(({ id }) => id),
  });
}

/** Suppliers whose offers fall away with a list, and those that the list names and the plan knows nothing of. */
function sellerNotes(plan: Choice, offers: ListedTogether["offers"]): string[] {
  const notes: string[] = [];
  const named = new Set<string>();
  for (const amendment of plan.amendments) {
    if (!offers.has(amendment.id)) continue;
    const sellers = sellersOf(offered(amendment, offers));
    const gone = sellersOf(amendment).flatMap((seller) =>
      seller === null || sellers.includes(seller) ? [] : [seller],
    );
    if (gone.length > 0)
      notes.push(
        `${amendment.id} is sold as the list says, and no longer by ${listed(gone)}: the list does not have that offer.`,
      );
    for (const seller of sellers) if (seller !== null) named.add(seller);
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
