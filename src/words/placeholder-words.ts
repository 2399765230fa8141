/** What is said where money is spent at prices that nobody asks. */

import type { Amendment } from "../model.ts";
import type { Notice } from "../problem.ts";
import { listed } from "./numbers.ts";

const MOST_NAMED = 4;

/**
 * One notice, `placeholder-price`, where an answer spends money at placeholder prices; none otherwise.
 * @param amendments of the plans, which know whose prices are placeholders.
 * @param spent what is bought: ids, and money of the plan's currency; nothing is said of what costs nothing.
 */
export function placeholderNotice(
  amendments: readonly Amendment[],
  spent: readonly { readonly id: string; readonly cost: number }[],
): Notice[] {
  const paid = new Set(spent.flatMap(({ id, cost }) => (cost > 0 ? [id] : [])));
  const named = amendments.filter(({ id, placeholder }) => placeholder && paid.has(id));
  if (named.length === 0) return [];
  const ids = named.map(({ id }) => id);
  const shown =
    ids.length > MOST_NAMED + 1 ? [...ids.slice(0, MOST_NAMED), `${ids.length - MOST_NAMED} more`] : ids;
  const text = `The ${ids.length === 1 ? "price" : "prices"} of ${listed(shown)} ${ids.length === 1 ? "is a placeholder, invented" : "are placeholders, invented"} so that a first plan runs. Put in what you are asked, or a price list, before you trust the total.`;
  return [{ code: "placeholder-price", text }];
}
