/** Changes to a plan, from plan to plan: other prices, amendments that cannot be had, the price list of a supplier. */

import type { PriceRow } from "../files/price-list.ts";
import type { Amendment, LeftOut, Pack, Plan } from "../model.ts";
import { type Fault, fail, guess, nearest, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { PackSize, PriceChange } from "../units.ts";
import { listed } from "../words/numbers.ts";

/** What differs from a plan. */
export interface PlanChange {
  /** By id; `all` means every amendment that has a price. Several of one amendment are made in their order. */
  readonly price: Readonly<Record<string, PriceChange | readonly PriceChange[]>>;
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

/** The word that means every amendment. */
const ALL = "all";

/** What amendments may be called by: those of the choice, and those that were left out of it. */
export interface Choice {
  readonly amendments: readonly Amendment[];
  readonly leftOut: readonly LeftOut[];
}

function knownIds({ amendments, leftOut }: Choice): string[] {
  return [...amendments.map(({ id }) => id), ...leftOut.map(({ id }) => id)];
}

function unknownId(id: string, known: readonly string[], name: string): Problem {
  return {
    code: "amendment-unknown",
    message: `${name}: the plan has no amendment \`${id}\``,
    hint: guess(id, known, `it has ${[...known].sort().join(", ")}`),
  };
}

/**
 * Changes prices of the amendments of a choice.
 * @param price by id; several changes of one amendment are made one after the other. `all` means every amendment
 *   that has a price.
 * @param name of the change, for messages.
 */
export function changePrices(
  choice: Choice,
  price: PlanChange["price"],
  name: string,
): Result<{ readonly amendments: readonly Amendment[]; readonly notes: readonly string[] }> {
  const problems: Problem[] = [];
  const notes: string[] = [];
  const known = knownIds(choice);
  let { amendments } = choice;
  for (const [id, changes] of Object.entries(price))
    for (const change of inSteps(Array.isArray(changes) ? changes : [changes])) {
      if (id === ALL) {
        if (change.kind === "packs") problems.push(packForAll(name));
        else amendments = amendments.map((a) => (cheapestPricePerKg(a) === null ? a : priced(a, change)));
        continue;
      }
      if (!known.includes(id)) {
        problems.push(unknownId(id, known, name));
        continue;
      }
      const left = choice.leftOut.find((l) => l.id === id);
      if (left) {
        notes.push(`${id} is left out of the plan (${left.why}), so its price changes nothing.`);
        continue;
      }
      const amendment = amendments.find((a) => a.id === id)!;
      const problem = cannotPrice(amendment, change, name);
      if (problem) problems.push(problem);
      else if (change.kind === "packs" && !change.packs.every((pack) => isOffered(amendment, pack)))
        notes.push(`${id} is sold as \`--price\` says, and in no other size.`);
      if (!problem) amendments = amendments.map((a) => (a.id === id ? priced(a, change) : a));
    }
  return problems.length > 0 ? fail(...problems) : ok({ amendments, notes });
}

/** A change of price, with packs that are named one after the other together. */
type Step =
  | Exclude<PriceChange, { kind: "pack" }>
  | { readonly kind: "packs"; readonly packs: readonly Extract<PriceChange, { kind: "pack" }>[] };

function inSteps(changes: readonly PriceChange[]): Step[] {
  const steps: Step[] = [];
  for (const change of changes) {
    const last = steps.at(-1);
    if (change.kind !== "pack") steps.push(change);
    else if (last?.kind === "packs") steps[steps.length - 1] = { ...last, packs: [...last.packs, change] };
    else steps.push({ kind: "packs", packs: [change] });
  }
  return steps;
}

function packForAll(name: string): Problem {
  return {
    code: "price-of-all",
    message: `${name}: \`${ALL}\` takes no price of a pack`,
    hint: `a change for every amendment is a percentage, for instance \`${ALL}=+10%\``,
  };
}

function cannotPrice(amendment: Amendment, change: Step, name: string): Problem | null {
  if (!isPrice(change))
    return {
      code: "number-range",
      message: `${name}: the new price of \`${amendment.id}\` is not a number from 0 up`,
      hint: "for instance `1.20/lb`, `48/50 lb` or `+10%`",
    };
  if (change.kind === "factor" && cheapestPricePerKg(amendment) === null)
    return {
      code: "amendment-not-for-sale",
      message: `${name}: \`${amendment.id}\` has no price to change`,
      hint: "give it one, for instance `1.20/lb`",
    };
  const byVolume = change.kind === "packs" && change.packs.some(({ size }) => "litres" in size);
  if (byVolume && amendment.densityKgPerL === undefined)
    return {
      code: "density-missing",
      message: `${name}: a pack of \`${amendment.id}\` is given by volume, and it has no density`,
      hint: "give the size as a weight, for instance `48/50 lb`, or the amendment a `density`",
    };
  return null;
}

/** Whether every number of a change can be a price. */
function isPrice(change: Step): boolean {
  const fine = (value: number, least = 0): boolean => value >= least && value < Infinity;
  if (change.kind === "factor") return fine(change.factor);
  if (change.kind === "price") return fine(change.pricePerKg);
  return change.packs.every(
    ({ price, size }) => fine(price) && fine("kg" in size ? size.kg : size.litres, Number.MIN_VALUE),
  );
}

/**
 * Applies a change to a plan.
 * @param name of the change, for messages.
 * @returns the plan after it, or what is wrong with the change (an id that the plan does not know, and the like).
 */
export function changePlan(plan: Plan, change: PlanChange, name: string): Result<ChangedPlan> {
  const priced = changePrices(plan, change.price, name);
  const problems: Problem[] = priced.ok ? [] : [...priced.problems];
  const notes: string[] = priced.ok ? [...priced.value.notes] : [];
  const known = knownIds(plan);
  for (const id of change.without) if (!known.includes(id)) problems.push(unknownId(id, known, name));

  const gone = new Set(change.without);
  for (const { id } of plan.limits) if (gone.has(id)) notes.push(`The limits on ${id} fall away with it.`);
  const amendments = (priced.ok ? priced.value.amendments : plan.amendments).filter(
    ({ id }) => !gone.has(id),
  );
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
 * way of buying it, and other sizes keep their relation to that; where it was not sold, it is now, by weight. Prices of
 * packs are those of their sizes alone; where one of these was not on offer, they are the whole offer from then on, since
 * an older size that is cheaper would hide the new price.
 */
function priced(amendment: Amendment, change: Step): Amendment {
  if (change.kind === "factor") return scaled(amendment, change.factor);
  if (change.kind === "packs") {
    const packs = change.packs.map((pack) => ({ sizeKg: kgOf(amendment, pack.size), price: pack.price }));
    if (change.packs.every((pack) => isOffered(amendment, pack)))
      return {
        ...amendment,
        packs: amendment.packs.map((pack) => {
          const now = packs.findLast((p) => sameSize(p, pack));
          return now ? { ...pack, price: now.price } : pack;
        }),
      };
    const { bulkPricePerKg: _, ...rest } = amendment;
    return { ...rest, packs };
  }
  const now = cheapestPricePerKg(amendment);
  if (now !== null && now > 0) return scaled(amendment, change.pricePerKg / now);
  return { ...amendment, packs: [], bulkPricePerKg: change.pricePerKg };
}

function kgOf(amendment: Amendment, size: PackSize): number {
  return "kg" in size ? size.kg : size.litres * amendment.densityKgPerL!;
}

/** Sizes within this part of each other are one size, written in two ways. */
const SAME_SIZE = 1e-3;

function sameSize(one: Pack, other: Pack): boolean {
  return Math.abs(one.sizeKg - other.sizeKg) <= SAME_SIZE * other.sizeKg;
}

function isOffered(amendment: Amendment, { size, price }: { size: PackSize; price: number }): boolean {
  const wanted = { sizeKg: kgOf(amendment, size), price };
  return amendment.packs.some((pack) => sameSize(wanted, pack));
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
  const offers = offersOf(plan, list);
  return offers.ok ? withOffers(plan, offers.value, list, listedOnly) : offers;
}

/** What a price list offers, by id. */
type Offers = ReadonlyMap<string, { readonly packs: readonly Pack[]; readonly bulkPricePerKg?: number }>;

/** What a price list offers of a choice, or the rows whose ids are not known, each with its place in the list. */
function offersOf(choice: Choice, list: PriceList): Result<Offers> {
  const known = knownIds(choice);
  const problems: Problem[] = [];
  const complain = (row: PriceRow, column: "id" | "size", fault: Fault) =>
    problems.push(
      problemOf(fault, { place: { file: list.file, line: row.line, column: row.columns[column] } }),
    );
  const offers = new Map<string, { packs: Pack[]; bulkPricePerKg?: number }>();
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
    const offer = offers.get(row.id) ?? { packs: [] };
    offers.set(row.id, offer);
    if (row.offer.kind === "bulk") {
      offer.bulkPricePerKg = row.price / row.offer.kg;
      continue;
    }
    const { by, value } = row.offer.measure;
    if (by === "litres" && amendment.densityKgPerL === undefined)
      complain(row, "size", {
        code: "density-missing",
        given: row.offer.text,
        wrong: `is a volume, and ${row.id} has no density`,
        hint: "give the size as a weight, or the amendment a `density`",
      });
    else
      offer.packs.push({
        sizeKg: by === "kg" ? value : value * amendment.densityKgPerL!,
        price: row.price,
      });
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
  const { bulkPricePerKg: _, ...rest } = amendment;
  return offer ? { ...rest, ...offer } : amendment;
}

function withOffers(plan: Plan, offers: Offers, list: PriceList, listedOnly: boolean): Result<ChangedPlan> {
  const notes: string[] = [];
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
