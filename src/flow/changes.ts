/** Changes to a plan, from plan to plan: other prices, amendments that cannot be had. */

import type { Amendment, LeftOut, Plan, Supplier } from "../model.ts";
import { defined } from "../optional.ts";
import { fail, guess, ok, type Problem, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { PackSize, PriceChange } from "../units.ts";
import { listed } from "../words/numbers.ts";
import { offersBut, offersFrom, sameSize, sellersOf, sellersOfSize, soldAs, together } from "./offers.ts";

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
  /** Those whose charges are known. */
  readonly suppliers?: readonly Supplier[];
}

/** Every id that a choice knows. */
export function knownIds({ amendments, leftOut }: Choice): string[] {
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
        const problem = change.kind === "packs" ? packForAll(name) : unknownSeller(choice, change.from, name);
        if (problem) problems.push(problem);
        else amendments = amendments.map((a) => (cheapestPricePerKg(a) === null ? a : pricedFrom(a, change)));
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
      const problem = unknownSeller(choice, change.from, name) ?? cannotPrice(amendment, change, name);
      if (problem) {
        problems.push(problem);
        continue;
      }
      notes.push(...notesOf(amendment, change));
      amendments = amendments.map((a) => (a.id === id ? pricedFrom(a, change) : a));
    }
  return problems.length > 0 ? fail(...problems) : ok({ amendments, notes });
}

/** A change of price, with packs of one supplier that are named one after the other together. */
type Step =
  | Exclude<PriceChange, { kind: "pack" }>
  | {
      readonly kind: "packs";
      readonly packs: readonly Extract<PriceChange, { kind: "pack" }>[];
      readonly from?: string;
    };

function inSteps(changes: readonly PriceChange[]): Step[] {
  const steps: Step[] = [];
  for (const change of changes) {
    const last = steps.at(-1);
    if (change.kind !== "pack") steps.push(change);
    else if (last?.kind === "packs" && last.from === change.from)
      steps[steps.length - 1] = { ...last, packs: [...last.packs, change] };
    else steps.push({ kind: "packs", packs: [change], ...defined({ from: change.from }) });
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
  if (change.from !== undefined) return notSoldBy(amendment, change, name);
  return change.kind === "packs" ? whosePack(amendment, change.packs, name) : null;
}

/** A supplier that nobody knows. */
function unknownSeller(choice: Choice, from: string | undefined, name: string): Problem | null {
  if (from === undefined) return null;
  const known = [
    ...new Set([
      ...(choice.suppliers ?? []).map(({ id }) => id),
      ...choice.amendments.flatMap((amendment) => sellersOf(amendment).flatMap((seller) => seller ?? [])),
    ]),
  ].sort();
  if (known.includes(from)) return null;
  const otherwise =
    known.length > 0
      ? `there are ${known.join(", ")}`
      : "name suppliers in the plan's `suppliers`, or leave `from` out";
  return {
    code: "supplier-unknown",
    message: `${name}: no supplier is called \`${from}\``,
    hint: guess(from, known, otherwise),
  };
}

/** A percentage, or a price by weight, of what a supplier does not sell. */
function notSoldBy(amendment: Amendment, { kind, from }: Step, name: string): Problem | null {
  const sellers = sellersOf(amendment);
  if (kind === "packs" || sellers.includes(from!)) return null;
  const others = sellers.flatMap((seller) => seller ?? []);
  return {
    code: "amendment-not-for-sale",
    message: `${name}: \`${from}\` does not sell \`${amendment.id}\``,
    hint:
      others.length > 0
        ? `it is sold by ${listed(others)}`
        : "give the price of a pack, for instance `48/50 lb`",
  };
}

/** A price of a pack that may be that of several suppliers. */
function whosePack(amendment: Amendment, packs: readonly NamedPack[], name: string): Problem | null {
  for (const pack of packs) {
    const same = sellersOfSize(amendment, kgOf(amendment, pack.size));
    const sellers = same.length > 0 ? same : sellersOf(amendment);
    if (sellers.length <= 1) continue;
    const names = sellers.map((seller) => seller ?? "a supplier without a name");
    return {
      code: "supplier-ambiguous",
      message: `${name}: \`${amendment.id}\` is sold by ${listed(names)}; the price does not say whose it is`,
      hint: `write the supplier behind it: \`48/50 lb from ${sellers.find((seller) => seller !== null)}\``,
    };
  }
  return null;
}

/** What a reader should know of a price of packs. */
function notesOf(amendment: Amendment, change: Step): string[] {
  const { from } = change;
  if (change.kind !== "packs") return [];
  const own = from === undefined ? amendment : offersFrom(amendment, from);
  if (change.packs.every((pack) => isOffered(own, pack))) return [];
  const others = from === undefined ? [] : sellersOf(amendment).filter((seller) => seller !== from);
  return [
    `${amendment.id} is sold as \`--price\` says, and in no other size${from === undefined ? "" : ` by ${from}`}${
      others.length > 0 ? "; what others sell stays as it is" : ""
    }.`,
  ];
}

/** An amendment with another price, of one supplier where the change names one. */
function pricedFrom(amendment: Amendment, change: Step): Amendment {
  const { from } = change;
  if (from === undefined) return priced(amendment, change);
  const own = offersFrom(amendment, from);
  if (change.kind !== "packs" && cheapestPricePerKg(own) === null) return amendment;
  return together(amendment, [priced({ ...own, supplier: from }, change), offersBut(amendment, from)]);
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
  for (const { id } of plan.limits) if (gone.has(id)) notes.push(`The limits on ${id} no longer apply.`);
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
          const now = packs.findLast((p) => sameSize(p.sizeKg, pack.sizeKg));
          return now ? { ...pack, price: now.price } : pack;
        }),
      };
    // The new sizes come from where the amendment came from: asked before, it is one place.
    const [seller = amendment.supplier ?? null] = sellersOf(amendment);
    return soldAs(
      amendment,
      packs.map((pack) => ({ ...pack, seller })),
      null,
    );
  }
  const now = cheapestPricePerKg(amendment);
  if (now !== null && now > 0) return scaled(amendment, change.pricePerKg / now);
  return { ...amendment, packs: [], bulkPricePerKg: change.pricePerKg };
}

type NamedPack = Extract<PriceChange, { kind: "pack" }>;

function kgOf(amendment: Amendment, size: PackSize): number {
  return "kg" in size ? size.kg : size.litres * amendment.densityKgPerL!;
}

function isOffered(amendment: Amendment, { size }: NamedPack): boolean {
  return sellersOfSize(amendment, kgOf(amendment, size)).length > 0;
}

function scaled(amendment: Amendment, factor: number): Amendment {
  const { bulkPricePerKg: bulk } = amendment;
  return {
    ...amendment,
    packs: amendment.packs.map((pack) => ({ ...pack, price: pack.price * factor })),
    ...(bulk === undefined ? {} : { bulkPricePerKg: bulk * factor }),
  };
}
