/** The mixes that the packs of a purchase allow, and what they take of it. */

import { type Amounts, findMisses } from "../field/delivery.ts";
import { type Bought, boughtKg, ordersOf } from "../field/purchase.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { ColumnTag, PlanProgram, PlanRow, RowTag } from "../program/tags.ts";
import { Draft, type Entry } from "../solver/draft.ts";
import { solveProgram } from "../solver/solve.ts";
import { MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import { holdWhole } from "../solver/whole.ts";
import { demandWords } from "../words/demand-words.ts";
import type { Errand, Found } from "./purchase.ts";
import { isSimple } from "./simple.ts";

/**
 * The mixes, by bed, that use a purchase well. With the packs as they are, it is the choice that `solve` makes, from
 * what is at hand: the shed first, then the least worth (at the cheapest price by weight) of what was bought; the rest
 * stays.
 * @throws UnverifiedError where a mix does not keep its plan.
 */
export async function mixOn(errand: Errand, { program, point }: Found): Promise<Amounts[]> {
  const { program: held, kept } = holdWhole(program, point.x);
  const place = new Map(kept.map((j, k) => [j, k]));
  const { draft, weigh, order } = choiceAmong(errand, { program, point }, held, place);
  const fixed: PlanProgram = { columns: draft.columns, rows: draft.rows };
  const answer = await solveProgram(fixed, [weigh, order]);
  const x = answer.status === "optimal" ? answer.x : kept.map((j) => point.x[j]!);
  return errand.beds.map(({ plan, season, program: blend }, p) => {
    const amounts = plan.amendments.map((_, i) =>
      plan.applications.map((application, t) => {
        const columns = program.use[p]![i]!;
        return plan.blend === "one"
          ? x[place.get(columns[0]!)!]! * application.share
          : x[place.get(columns[blend.blends.indexOf(t)]!)!]!;
      }),
    );
    const worst = findMisses(plan, season, amounts)[0];
    if (worst && worst.fraction > MAX_VIOLATION)
      throw new UnverifiedError(
        `The mix on these packs does not keep a demand of ${plan.name} (${demandWords(plan, worst.tag)}); nothing is printed.`,
      );
    if (plan.simple && !isSimple(plan, amounts))
      throw new UnverifiedError(
        `The mix on these packs is not as simple as ${plan.name} asks; nothing is printed.`,
      );
    return amounts;
  });
}

/** The program of the mixes on packs that are held, with its tie-breaking costs. */
function choiceAmong(
  { amendments, plans }: Errand,
  { program, point }: Pick<Found, "program" | "point">,
  held: PlanProgram,
  place: ReadonlyMap<number, number>,
): { draft: Draft<RowTag, ColumnTag>; weigh: number[]; order: number[] } {
  const loose = new Map(program.bulk.flatMap((j) => (j === null ? [] : [[place.get(j)!, point.x[j]!]])));
  const draft = new Draft<RowTag, ColumnTag>();
  held.columns.forEach((column, k) => {
    draft.columns.push({ ...column, cost: 0, upper: loose.get(k) ?? column.upper });
  });
  draft.rows.push(...held.rows.map(widened));
  const weigh = held.columns.map(() => 0);
  const order = held.columns.map(() => 0);
  amendments.forEach((amendment, a) => {
    const uses = plans.flatMap((plan, p) => {
      const i = plan.amendments.findIndex(({ id }) => id === amendment.id);
      return i < 0 ? [] : program.use[p]![i]!.map((j) => place.get(j)!);
    });
    const price = cheapestPricePerKg(amendment) ?? 0;
    uses.forEach((k, b) => {
      weigh[k] = 1;
      order[k] = a + b / (uses.length + 1);
      if (amendment.stockKg <= 0) draft.columns[k] = { ...draft.columns[k]!, cost: price };
    });
    if (amendment.stockKg <= 0) return;
    const beyond = draft.column(`beyond the stock of ${amendment.id}`, price, Infinity);
    draft.row(
      { kind: "stock", id: amendment.id },
      [...uses.map((k): Entry => [k, 1]), [beyond, -1]],
      -Infinity,
      amendment.stockKg,
      true,
    );
    weigh.push(0);
    order.push(0);
  });
  return { draft, weigh, order };
}

/** A row for stock and packs, with room for the rounding of a mix that uses them up; other rows as they are. */
export function widened(row: PlanRow): PlanRow {
  if (row.tag.kind !== "stock") return row;
  return { ...row, upper: row.upper + 1e-9 * Math.max(Math.abs(row.upper), 1e-6) };
}

/** kg that the mixes of all beds take, by amendment on offer. */
export function usedKg({ amendments, plans }: Errand, mixes: readonly Amounts[]): number[] {
  const used = amendments.map(() => 0);
  plans.forEach((plan, p) => {
    plan.amendments.forEach((amendment, i) => {
      const a = amendments.findIndex(({ id }) => id === amendment.id);
      used[a]! += mixes[p]![i]!.reduce((sum, kg) => sum + kg, 0);
    });
  });
  return used;
}

/**
 * What is sold loose is bought to the gram: no more than the mixes take beyond packs and stock. More than that stays
 * bought only where it takes an order over the value from which delivery is free, and so saves money.
 */
export function trimmed({ amendments, suppliers }: Errand, bought: Bought, used: readonly number[]): Bought {
  const bulkKg = amendments.map((amendment, a) => {
    const inPacks = boughtKg(amendment, bought.counts[a]!, 0) + amendment.stockKg;
    return Math.min(bought.bulkKg[a]!, Math.max(0, used[a]! - inPacks));
  });
  const costs = (of: Bought) =>
    new Map(ordersOf(amendments, suppliers, of).map((order) => [order.id, order.goods + order.delivery]));
  const before = costs(bought);
  const dearer = new Set<string | null>();
  for (const [id, cost] of costs({ counts: bought.counts, bulkKg }))
    if (cost > (before.get(id) ?? Infinity)) dearer.add(id);
  return {
    counts: bought.counts,
    bulkKg: bulkKg.map((kg, a) => (dearer.has(amendments[a]!.supplier ?? null) ? bought.bulkKg[a]! : kg)),
  };
}
