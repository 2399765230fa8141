/** Changes to a plan, from plan to plan: other prices, amendments that cannot be had, the price list of a supplier. */

import type { PriceRow } from "../files/price-list.ts";
import type { Amendment, Pack, Plan } from "../model.ts";
import { fail, nearest, ok, type Problem, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { PriceChange } from "../units.ts";
import { listed } from "../words/numbers.ts";

/** What differs from a plan. */
export interface PlanChange {
  /** By id; `all` stands for every amendment that has a price. */
  readonly price: Readonly<Record<string, PriceChange>>;
  /** Ids that cannot be had. */
  readonly without: readonly string[];
}

/** A plan after a change, and what a reader should know about the change. */
export interface ChangedPlan {
  readonly plan: Plan;
  readonly notes: readonly string[];
  /** Ids that a price list does not name and that keep the plan's own prices. */
  readonly unlisted?: readonly string[];
}

/** The word that stands for every amendment. */
export const ALL = "all";

/**
 * Applies a change to a plan.
 * @param name of the change, for messages.
 * @returns the plan after it, or what is wrong with the change (an id that the plan does not know, and the like).
 */
export function changePlan(plan: Plan, change: PlanChange, name: string): Result<ChangedPlan> {
  const problems: Problem[] = [];
  const notes: string[] = [];
  const known = [...plan.amendments.map(({ id }) => id), ...plan.leftOut.map(({ id }) => id)];
  const check = (id: string): boolean => {
    if (known.includes(id)) return true;
    const near = nearest(id, known);
    problems.push({
      code: "amendment-unknown",
      message: `${name}: the plan has no amendment \`${id}\``,
      hint: near === undefined ? `it has ${[...known].sort().join(", ")}` : `did you mean \`${near}\`?`,
    });
    return false;
  };

  let amendments = plan.amendments;
  for (const [id, price] of Object.entries(change.price)) {
    if (id === ALL) {
      amendments = amendments.map((a) => (cheapestPricePerKg(a) === null ? a : priced(a, price)));
      continue;
    }
    if (!check(id)) continue;
    const left = plan.leftOut.find((l) => l.id === id);
    if (left) {
      notes.push(`${id} is left out of the plan (${left.why}), so its price changes nothing.`);
      continue;
    }
    const amendment = amendments.find((a) => a.id === id)!;
    if (price.kind === "factor" && cheapestPricePerKg(amendment) === null) {
      problems.push({
        code: "amendment-not-for-sale",
        message: `${name}: \`${id}\` has no price to change`,
        hint: "give it one, for instance `1.20/lb`",
      });
      continue;
    }
    amendments = amendments.map((a) => (a.id === id ? priced(a, price) : a));
  }

  const gone = new Set(change.without.filter(check));
  for (const { id } of plan.limits) if (gone.has(id)) notes.push(`The limits on ${id} fall away with it.`);
  amendments = amendments.filter(({ id }) => !gone.has(id));
  if (amendments.length === 0 && problems.length === 0)
    problems.push({
      code: "choice-empty",
      message: `${name}: no amendment is left to choose from`,
      hint: "leave some of them in",
    });
  if (problems.length > 0) return { ok: false, problems };
  return ok({
    plan: {
      ...plan,
      amendments,
      leftOut: [
        ...plan.leftOut,
        ...plan.amendments
          .filter(({ id }) => gone.has(id))
          .map(({ id }) => ({ id, why: "excluded" as const })),
      ],
      limits: plan.limits.filter(({ id }) => !gone.has(id)),
    },
    notes,
  });
}

/**
 * An amendment with another price. A factor changes every price it has. A price per weight becomes that of the cheapest
 * way of buying it, and other sizes keep their relation to that; where it was not sold, it is now, by weight.
 */
function priced(amendment: Amendment, change: PriceChange): Amendment {
  if (change.kind === "factor") return scaled(amendment, change.factor);
  const now = cheapestPricePerKg(amendment);
  if (now !== null && now > 0) return scaled(amendment, change.pricePerKg / now);
  return { ...amendment, packs: [], bulkPricePerKg: change.pricePerKg };
}

function scaled(amendment: Amendment, factor: number): Amendment {
  const { bulkPricePerKg: bulk } = amendment;
  return {
    ...amendment,
    packs: amendment.packs.map((pack) => ({ ...pack, price: pack.price * factor })),
    ...(bulk === undefined ? {} : { bulkPricePerKg: bulk * factor }),
  };
}

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
  const known = [...plan.amendments.map(({ id }) => id), ...plan.leftOut.map(({ id }) => id)];
  const problems: Problem[] = [];
  const complain = (row: PriceRow, column: "id" | "size", code: string, message: string, hint: string) =>
    problems.push({
      code,
      message,
      hint,
      place: { file: list.file, line: row.line, column: row.columns[column] },
    });
  const offers = new Map<string, { packs: Pack[]; bulkPricePerKg?: number }>();
  for (const row of list.rows) {
    if (!known.includes(row.id)) {
      const near = nearest(row.id, known);
      complain(
        row,
        "id",
        "amendment-unknown",
        `the plan has no amendment \`${row.id}\``,
        near === undefined ? `it has ${[...known].sort().join(", ")}` : `did you mean \`${near}\`?`,
      );
      continue;
    }
    const amendment = plan.amendments.find(({ id }) => id === row.id);
    if (!amendment) continue;
    const offer = offers.get(row.id) ?? { packs: [] };
    offers.set(row.id, offer);
    if (row.offer.kind === "bulk") {
      offer.bulkPricePerKg = row.price / row.offer.kg;
      continue;
    }
    const { by, value } = row.offer.measure;
    if (by === "litres" && amendment.densityKgPerL === undefined)
      complain(
        row,
        "size",
        "density-missing",
        `\`${row.offer.text}\` is a volume, and ${row.id} has no density`,
        "give the size as a weight, or the amendment a `density`",
      );
    else
      offer.packs.push({
        sizeKg: by === "kg" ? value : value * amendment.densityKgPerL!,
        price: row.price,
      });
  }
  if (problems.length > 0) return { ok: false, problems };
  const unlisted = plan.amendments.filter(({ id }) => !offers.has(id));
  const kept = unlisted.filter((a) => (listedOnly ? a.stockKg > 0 : true));
  const shed = kept.filter((a) => listedOnly && a.stockKg > 0).map(({ id }) => id);
  const notes =
    shed.length === 0 ? [] : [`Not on the list, so that only the shed has them: ${listed(shed)}.`];
  const amendments = plan.amendments
    .filter((a) => offers.has(a.id) || kept.includes(a))
    .map((a): Amendment => {
      const offer = offers.get(a.id);
      const { bulkPricePerKg: _, ...rest } = a;
      if (offer) return { ...rest, ...offer };
      return listedOnly ? { ...rest, packs: [] } : a;
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
  notes.push(...lost.map(({ id }) => `The limits on ${id} fall away with it.`));
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
    const bulk = offers.flatMap(({ bulkPricePerKg }) => bulkPricePerKg ?? []);
    const { bulkPricePerKg: _, ...rest } = amendment;
    const packs = offers.flatMap((offer) => offer.packs);
    const distinct = packs.filter(
      (pack, i) => packs.findIndex((p) => p.sizeKg === pack.sizeKg && p.price === pack.price) === i,
    );
    return [{ ...rest, packs: distinct, ...(bulk.length > 0 ? { bulkPricePerKg: Math.min(...bulk) } : {}) }];
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
