/** Changes to a plan, from plan to plan: other prices, amendments that cannot be had. */

import {
  offeredBy,
  sameSize,
  sellersOf,
  sellersOfSize,
  soldAs,
  together,
  withoutPlaceholder,
} from "../files/offers.ts";
import type { Amendment, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { fail, guess, ok, type Problem, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { PackSize, PriceChange } from "../units.ts";
import { listed } from "../words/numbers.ts";

/** What differs from a plan. */
export interface PlanChange {
  /** By id; `all` means every amendment that has a price. Several of one amendment are made in their order. */
  readonly price: Readonly<Record<string, PriceChange | readonly PriceChange[]>>;
  /** Ids that cannot be had. */
  readonly exclude: readonly string[];
}

/** What has prices: a plan, or amendments that no plan chooses among. */
export type Choice = Pick<Plan, "amendments" | "leftOut" | "limits" | "suppliers" | "past">;

/** A plan after a change, and what a reader should know about the change. */
export interface ChangedPlan<C extends Choice = Plan> {
  readonly plan: C;
  readonly notes: readonly string[];
  /** Ids that a price list does not name and that keep the plan's own prices. */
  readonly unlisted?: readonly string[];
}

/** The word that means every amendment. */
const ALL = "all";

/** Every id that a choice knows: those in it, and those that were left out of it. */
export function knownIds({ amendments, leftOut }: Choice): string[] {
  return [...amendments.map(({ id }) => id), ...leftOut.map(({ id }) => id)];
}

/** The plan with other amendments to choose from; limits on those that are gone go with them. */
export function choosingFrom<C extends Choice>(plan: C, amendments: readonly Amendment[]): ChangedPlan<C> {
  const ids = new Set(amendments.map(({ id }) => id));
  const lost = plan.limits.filter(({ id }) => !ids.has(id));
  return {
    plan: { ...plan, amendments, limits: plan.limits.filter(({ id }) => ids.has(id)) },
    notes: lost.map(({ id }) => `${id} is left out, and with it what the plan asks at least of it.`),
  };
}

/**
 * Applies a change to a plan.
 * @param name of the change, for messages.
 * @returns the plan after it, or what is wrong with the change (an id that the plan does not know, and the like).
 */
export function changePlan<C extends Choice>(
  plan: C,
  change: PlanChange,
  name: string,
): Result<ChangedPlan<C>> {
  const problems: Problem[] = [];
  const priceNotes: string[] = [];
  const priced = changePrices(plan, change.price, problems, priceNotes);
  const known = knownIds(plan);
  for (const id of change.exclude) if (!known.includes(id)) problems.push(unknownId(id, known));
  const gone = new Set(change.exclude);
  // What was spread before still feeds: it stays known, and is neither sold nor in the shed.
  const spread = new Set(plan.past?.given.flatMap(({ kg }) => kg.map(({ id }) => id)));
  const amendments = priced.flatMap((one): Amendment[] => {
    if (!gone.has(one.id)) return [one];
    const { bulkPricePerKg: _, ...rest } = one;
    return spread.has(one.id) ? [{ ...rest, packs: [], stockKg: 0 }] : [];
  });
  if (amendments.length === 0 && problems.length === 0)
    problems.push({
      code: "choice-empty",
      message: "no amendment is left to choose from",
      hint: "leave some of them in",
    });
  if (problems.length > 0)
    return fail(...problems.map((problem) => ({ ...problem, message: `${name}: ${problem.message}` })));
  const changed = choosingFrom(plan, amendments);
  const excluded = plan.amendments.filter(({ id }) => gone.has(id));
  const leftOut = [...plan.leftOut, ...excluded.map(({ id }) => ({ id, why: "excluded" as const }))];
  const unused = excluded.filter(({ stockKg }) => stockKg > 0).map(({ id }) => id);
  const stays = `What the shed holds of ${listed(unused)} is not used either. To use it up and buy no more, give it a price that nobody pays: \`--price ${unused[0]}=999/lb\`.`;
  const notes = [...priceNotes, ...changed.notes, ...(unused.length > 0 ? [stays] : [])];
  return ok({ plan: { ...changed.plan, leftOut }, notes });
}

/** The amendments of a choice at other prices; what is wrong with a change and what to know of it goes into the lists. */
function changePrices(
  choice: Choice,
  price: PlanChange["price"],
  problems: Problem[],
  notes: string[],
): readonly Amendment[] {
  const known = knownIds(choice);
  let { amendments } = choice;
  for (const [id, changes] of Object.entries(price))
    for (const change of inSteps([changes].flat())) {
      const own = id === ALL ? undefined : amendments.find((a) => a.id === id);
      const left = choice.leftOut.find((l) => l.id === id);
      const problem =
        id === ALL ? cannotPriceAll(choice, change) : own ? cannotPrice(choice, own, change) : null;
      if (problem) problems.push(problem);
      else if (id === ALL)
        amendments = amendments.map((a) => (cheapestPricePerKg(a) === null ? a : pricedFrom(a, change)));
      else if (own) {
        notes.push(...notesOf(own, change));
        amendments = amendments.map((a) => (a === own ? pricedFrom(a, change) : a));
      } else if (left)
        notes.push(`${id} is left out of the plan (${left.why}), so its price changes nothing.`);
      else problems.push(unknownId(id, known));
    }
  return amendments;
}

function unknownId(id: string, known: readonly string[]): Problem {
  return {
    code: "amendment-unknown",
    message: `the plan has no amendment \`${id}\``,
    hint: guess(id, known, `it has ${[...known].sort().join(", ")}`),
  };
}

type NamedPack = Extract<PriceChange, { kind: "pack" }>;

/** A change of price, with packs of one supplier that are named one after the other together. */
type Step =
  | Exclude<PriceChange, { kind: "pack" }>
  | {
      readonly kind: "packs";
      readonly packs: readonly NamedPack[];
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

function cannotPriceAll(choice: Choice, { kind, from }: Step): Problem | null {
  if (kind !== "packs") return unknownSeller(choice, from);
  return {
    code: "price-of-all",
    message: `\`${ALL}\` takes no price of a pack`,
    hint: `a change for every amendment is a percentage, for instance \`${ALL}=+10%\``,
  };
}

function cannotPrice(choice: Choice, amendment: Amendment, change: Step): Problem | null {
  const unknown = unknownSeller(choice, change.from);
  if (unknown) return unknown;
  if (!isPrice(change))
    return {
      code: "number-range",
      message: `the new price of \`${amendment.id}\` is not a number from 0 up`,
      hint: "for instance `1.20/lb`, `48/50 lb` or `+10%`",
    };
  if (change.kind === "factor" && cheapestPricePerKg(amendment) === null)
    return {
      code: "amendment-not-for-sale",
      message: `\`${amendment.id}\` has no price to change`,
      hint: "give it one, for instance `1.20/lb`",
    };
  const byVolume = change.kind === "packs" && change.packs.some(({ size }) => "litres" in size);
  if (byVolume && amendment.densityKgPerL === undefined)
    return {
      code: "density-missing",
      message: `a pack of \`${amendment.id}\` is given by volume, and it has no density`,
      hint: "give the size as a weight, for instance `48/50 lb`, or the amendment a `density`",
    };
  if (change.from !== undefined) return notSoldBy(amendment, change);
  return change.kind === "packs" ? whosePack(amendment, change.packs) : null;
}

/** A supplier that nobody knows. */
function unknownSeller(choice: Choice, from: string | undefined): Problem | null {
  if (from === undefined) return null;
  const known = [
    ...new Set([
      ...choice.suppliers.map(({ id }) => id),
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
    message: `no supplier is called \`${from}\``,
    hint: guess(from, known, otherwise),
  };
}

/** A percentage, or a price by weight, of what a supplier does not sell. */
function notSoldBy(amendment: Amendment, { kind, from }: Step): Problem | null {
  const sellers = sellersOf(amendment);
  if (kind === "packs" || sellers.includes(from!)) return null;
  const others = sellers.flatMap((seller) => seller ?? []);
  return {
    code: "amendment-not-for-sale",
    message: `\`${from}\` does not sell \`${amendment.id}\``,
    hint:
      others.length > 0
        ? `it is sold by ${listed(others)}`
        : "give the price of a pack, for instance `48/50 lb`",
  };
}

/** A price of a pack that may be that of several suppliers. */
function whosePack(amendment: Amendment, packs: readonly NamedPack[]): Problem | null {
  for (const pack of packs) {
    const same = sellersOfSize(amendment, kgOf(amendment, pack.size));
    const sellers = same.length > 0 ? same : sellersOf(amendment);
    if (sellers.length <= 1) continue;
    const names = sellers.map((seller) => seller ?? "a supplier without a name");
    return {
      code: "supplier-ambiguous",
      message: `\`${amendment.id}\` is sold by ${listed(names)}; the price does not say whose it is`,
      hint: `write the supplier behind it: \`48/50 lb from ${sellers.find((seller) => seller !== null)}\``,
    };
  }
  return null;
}

/** What a reader should know of a price of packs. */
function notesOf(amendment: Amendment, change: Step): string[] {
  const { from } = change;
  if (change.kind !== "packs") return [];
  const own = from === undefined ? amendment : offeredBy(amendment, (seller) => seller === from);
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
  const own = offeredBy(amendment, (seller) => seller === from);
  if (change.kind !== "packs" && cheapestPricePerKg(own) === null) return amendment;
  const others = offeredBy(amendment, (seller) => seller !== from);
  return together(amendment, [priced({ ...own, supplier: from }, change), others]);
}

/** Whether every number of a change can be a price. */
export function isPrice(change: PriceChange | Step): boolean {
  const fine = (value: number): boolean => value >= 0 && value < Infinity;
  switch (change.kind) {
    case "factor":
      return fine(change.factor);
    case "price":
      return fine(change.pricePerKg);
    case "packs":
      return change.packs.every(isPrice);
    case "pack": {
      const size = "kg" in change.size ? change.size.kg : change.size.litres;
      return fine(change.price) && fine(size) && size > 0;
    }
  }
}

/**
 * An amendment with another price. A factor changes every price it has. A price per weight becomes that of the cheapest
 * way of buying it, and other sizes keep their relation to that; where it was not sold, it is now, by weight. Prices of
 * packs are those of their sizes alone; where one of these was not on offer, they are the whole offer from then on, since
 * an older size that is cheaper would hide the new price.
 */
function priced(amendment: Amendment, change: Step): Amendment {
  if (change.kind === "factor") return scaled(amendment, change.factor);
  return withoutPlaceholder(stated(amendment, change));
}

/** An amendment at a price that is stated, in its place. */
function stated(amendment: Amendment, change: Exclude<Step, { readonly kind: "factor" }>): Amendment {
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
    );
  }
  const now = cheapestPricePerKg(amendment);
  if (now !== null && now > 0) return scaled(amendment, change.pricePerKg / now);
  return { ...amendment, packs: [], bulkPricePerKg: change.pricePerKg };
}

function kgOf(amendment: Amendment, size: PackSize): number {
  return "kg" in size ? size.kg : size.litres * amendment.densityKgPerL!;
}

function isOffered(amendment: Amendment, { size }: NamedPack): boolean {
  // A placeholder of another size is no offer, so that a real price is the whole offer.
  return amendment.placeholder !== true && sellersOfSize(amendment, kgOf(amendment, size)).length > 0;
}

function scaled(amendment: Amendment, factor: number): Amendment {
  const { bulkPricePerKg: bulk } = amendment;
  return {
    ...amendment,
    packs: amendment.packs.map((pack) => ({ ...pack, price: pack.price * factor })),
    ...(bulk === undefined ? {} : { bulkPricePerKg: bulk * factor }),
  };
}
