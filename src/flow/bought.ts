/**
 * The mixes on the packs of a purchase, laid out as `solve` lays out its own: what is bought is what is mixed. The
 * purchase may come from a file, so that everything it says is recomputed from the plans in it before it is believed.
 */

import { layOutBatches } from "../field/batches.ts";
import { type Amounts, findMisses } from "../field/delivery.ts";
import { boughtKg, goodsOf, ordersOf, totalOf, usedKg } from "../field/purchase.ts";
import type { Amendment, Plan } from "../model.ts";
import { fail, type Notice, ok, type Problem, type Result } from "../problem.ts";
import { mergeAmendments, mergeSuppliers } from "../program/shop-program.ts";
import type { Shopping } from "../results/shopping.ts";
import type { BedMix, Purchase, PurchaseSum, Solution, Verification } from "../results/solution.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import { MAX_VIOLATION } from "../solver/verify.ts";
import { demandWords } from "../words/demand-words.ts";
import { listed, money, weight } from "../words/numbers.ts";
import { layOutAmounts, planWarnings } from "./blend.ts";
import { isSimple } from "./simple.ts";
import { surenessFound } from "./sure.ts";

/** A purchase and the mixes it was made for, as `shop` or `solve --bought` gave it. */
export interface BoughtMixes {
  /** Each with the mix at the same place in `mixes`. */
  readonly plans: readonly Plan[];
  readonly mixes: readonly BedMix[];
  /** Name of the one application that was bought for; null: the season. */
  readonly application: string | null;
  readonly purchases: readonly Purchase[];
  readonly sum: PurchaseSum;
  readonly verification: Verification;
}

/** What `shop` found, as mixes to lay out; null where it found nothing. */
export function boughtBy(shopping: Shopping): BoughtMixes | null {
  const { total, goods, delivery, gap, plans } = shopping;
  if (total === null || goods === null || delivery === null || gap === null) return null;
  return {
    plans: shopping.inputs,
    mixes: shopping.mixes,
    application: shopping.application,
    purchases: shopping.purchases,
    sum: { basis: "packs", total, goods, delivery, gap, plans },
    verification: shopping.verification,
  };
}

/**
 * One solution for each bed of a purchase, in the order of its plans.
 * @returns problems where the purchase contradicts itself: a mix that does not keep its plan, or takes more than was
 *   bought, or money that does not add up.
 */
export function boughtSolutions(bought: BoughtMixes): Result<readonly Solution[]> {
  const amounts = bought.plans.map((plan, p) => amountsIn(plan, bought.mixes[p]));
  const problems = [
    ...amounts.flatMap((result) => (result.ok ? [] : result.problems)),
    ...moneyProblems(bought),
  ];
  const known = amounts.flatMap((result) => (result.ok ? [result.value] : []));
  if (problems.length === 0)
    problems.push(
      ...amountProblems(bought, known),
      ...bought.plans.flatMap((plan, p) => {
        // What one application takes is no season's mix.
        const broken = bought.application === null && brokenBy(plan, layOutSeason(plan), known[p]!);
        return broken ? [contradiction(`the mix ${broken}`)] : [];
      }),
    );
  if (problems.length > 0) return fail(...problems);
  const above = roundedAbove(bought, known);
  return ok(bought.plans.map((plan, p) => solutionOn(plan, known[p]!, bought, p === 0 ? above : [])));
}

/** kg by amendment and application that a purchase's mix gives a plan; all zero where it has none for it. */
export function spreadBy(plan: Plan, { mixes }: Pick<BoughtMixes, "mixes">): Amounts {
  const mix = mixes.find((one) => one.plan === plan.name);
  const none = plan.applications.map(() => 0);
  return plan.amendments.map(({ id }) => mix?.amounts.find((amount) => amount.id === id)?.kg ?? none);
}

/** The plan with what its mix takes and what a purchase leaves over in the shed, as if it had been there before. */
export function leftInShed(plan: Plan, { purchases }: BoughtMixes): Plan {
  return {
    ...plan,
    amendments: plan.amendments.map((amendment) => ({
      ...amendment,
      stockKg: amendment.stockKg + (purchases.find(({ id }) => id === amendment.id)?.boughtKg ?? 0),
    })),
  };
}

function solutionOn(plan: Plan, amounts: Amounts, bought: BoughtMixes, further: readonly Notice[]): Solution {
  const season = layOutSeason(plan);
  const { parts, warnings } = layOutAmounts(plan, season, amounts, { shadowPrice: () => null });
  return {
    ...parts,
    purchases: bought.purchases,
    purchase: bought.sum,
    mix: mixOf(plan, amounts),
    verification: bought.verification,
    sure: surenessFound(plan, season, amounts),
    warnings: [...planWarnings(plan), ...further, ...warnings],
  };
}

/** The amounts of a bed by the ids of its amendments. */
export function mixOf(plan: Plan, amounts: Amounts): BedMix {
  return {
    plan: plan.name,
    amounts: plan.amendments.flatMap(({ id }, a) =>
      amounts[a]!.some((kg) => kg > 0) ? [{ id, kg: amounts[a]! }] : [],
    ),
  };
}

function contradiction(message: string): Problem {
  return {
    code: "purchase-contradiction",
    message: `the purchase does not add up: ${message}`,
    hint: "buy again with `barrowmix shop --save`, and use the file as it is written",
  };
}

function amountsIn(plan: Plan, mix: BedMix | undefined): Result<Amounts> {
  if (!mix || mix.plan !== plan.name) return fail(contradiction(`it has no mix for ${plan.name}`));
  const wrong = mix.amounts.flatMap(({ id, kg }, k): string[] => {
    if (mix.amounts.findIndex((one) => one.id === id) < k) return [`names ${id} twice`];
    if (!plan.amendments.some((amendment) => amendment.id === id))
      return [`has ${id}, and the plan has no such amendment`];
    const weights = kg.length === plan.applications.length && kg.every((x) => x >= 0 && x < Infinity);
    return weights ? [] : [`needs one weight of ${id} for each application, none below 0`];
  });
  return wrong.length > 0
    ? fail(...wrong.map((what) => contradiction(`the mix of ${plan.name} ${what}`)))
    : ok(spreadBy(plan, { mixes: [mix] }));
}

/** Counts and loose weight by pack of each amendment on offer; null where a line buys what is not on offer. */
function countsOf(amendment: Amendment, line: Purchase): number[] | null {
  const counts = amendment.packs.map(() => 0);
  for (const pack of line.packs) {
    const k = amendment.packs.findIndex(
      ({ sizeKg, price, supplier }) =>
        sizeKg === pack.sizeKg && price === pack.price && supplier === pack.supplier,
    );
    if (k < 0 || !(Number.isInteger(pack.count) && pack.count >= 0)) return null;
    counts[k]! += pack.count;
  }
  return line.bulkKg > 0 && amendment.bulkPricePerKg === undefined ? null : counts;
}

function near(x: number, y: number): boolean {
  return Math.abs(x - y) <= 1e-6 * Math.max(1, Math.abs(x), Math.abs(y));
}

function moneyProblems({ plans, purchases, sum }: BoughtMixes): Problem[] {
  const amendments = mergeAmendments(plans).all;
  const lines = amendments.map(({ id }) => purchases.find((line) => line.id === id));
  const stray = purchases.filter(({ id }) => !amendments.some((amendment) => amendment.id === id));
  const counts = amendments.map((amendment, a) => {
    const line = lines[a];
    return line ? countsOf(amendment, line) : amendment.packs.map(() => 0);
  });
  const wrong = amendments.filter((_, a) => counts[a] === null);
  if (stray.length > 0 || wrong.length > 0)
    return [...stray, ...wrong].map(({ id }) =>
      contradiction(`it buys ${id} in a way that no plan in it offers`),
    );
  const bought = { counts: counts.map((row) => row!), bulkKg: lines.map((line) => line?.bulkKg ?? 0) };
  const problems = amendments.flatMap((amendment, a) => {
    const line = lines[a];
    if (!line) return [];
    const [counts, bulkKg] = [bought.counts[a]!, bought.bulkKg[a]!];
    const kept =
      near(boughtKg(amendment, counts, bulkKg), line.boughtKg) &&
      near(goodsOf(amendment, counts, bulkKg), line.cost);
    return kept ? [] : [contradiction(`the weight or the money for ${amendment.name} does not add up`)];
  });
  const total = totalOf(ordersOf(amendments, mergeSuppliers(plans).all, bought));
  if (near(total, sum.total) && near(sum.goods + sum.delivery, sum.total)) return problems;
  const [said, found] = [sum.total, total].map((amount) => money(amount, plans[0]!.currency));
  return [...problems, contradiction(`it says ${said} in all, and its lines come to ${found}`)];
}

/** By amendment of any plan: how much the mixes take beyond what is bought and in the shed. */
function beyondBought(
  { plans, purchases }: Pick<BoughtMixes, "plans" | "purchases">,
  mixes: readonly Amounts[],
): { amendment: Amendment; loose: boolean; availableKg: number; beyondKg: number }[] {
  const amendments = mergeAmendments(plans).all;
  const used = usedKg({ amendments, plans }, mixes);
  return amendments.map((amendment, a) => {
    const line = purchases.find(({ id }) => id === amendment.id);
    const availableKg = amendment.stockKg + (line?.boughtKg ?? 0);
    return { amendment, loose: (line?.bulkKg ?? 0) > 0, availableKg, beyondKg: used[a]! - availableKg };
  });
}

function amountProblems(bought: BoughtMixes, mixes: readonly Amounts[]): Problem[] {
  return beyondBought(bought, mixes).flatMap(({ amendment, availableKg, beyondKg }) =>
    beyondKg > MAX_VIOLATION * Math.max(availableKg, 1e-6)
      ? [contradiction(`the mixes take more ${amendment.name} than is bought and in the shed`)]
      : [],
  );
}

/** What the batches, rounded to the scale, take beyond what there is. */
export function roundedAbove(
  bought: Pick<BoughtMixes, "plans" | "purchases">,
  mixes: readonly Amounts[],
): Notice[] {
  const rounded = bought.plans.map((plan, p) => layOutBatches(plan, mixes[p]!).rounded);
  // Loose weight is bought as the scale shows it.
  const beyond = beyondBought(bought, rounded).filter(
    ({ loose, availableKg, beyondKg }) => beyondKg > 1e-6 * availableKg && !loose,
  );
  if (beyond.length === 0) return [];
  const more = beyond.map(
    ({ amendment, beyondKg }) => `${weight(beyondKg, bought.plans[0]!.units)} more ${amendment.name}`,
  );
  return [
    {
      code: "rounding-above-packs",
      text: `Rounded to the scale, the batches take ${listed(more)} than there is: put that much less into the last one.`,
    },
  ];
}

/** Which demand of its plan a mix does not keep, after its name; null where it keeps all of them. */
export function brokenBy(plan: Plan, season: Season, amounts: Amounts): string | null {
  const worst = findMisses(plan, season, amounts)[0];
  if (worst && worst.fraction > MAX_VIOLATION)
    return `does not keep a demand of ${plan.name} (${demandWords(plan, worst.tag)})`;
  return plan.simple && !isSimple(plan, amounts) ? `is not as simple as ${plan.name} asks` : null;
}
