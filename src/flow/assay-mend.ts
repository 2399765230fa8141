/**
 * What could be left out of a mix at no loss, what would have to be added to it at least money, and the smallest change
 * by which it meets the plan: three linear programs on the demands of the plan, each answer worked again from its weights
 * alone.
 */

import { type Amounts, findMisses, type Miss, sumKg, totalsKg } from "../field/delivery.ts";
import type { Amendment, Limit, Plan } from "../model.ts";
import { buildProgram, cheapestPricePerKg } from "../program/build.ts";
import type { PlanColumn, PlanProgram, PlanRow } from "../program/tags.ts";
import type { AgainstPlan, PortionAdded, PortionLess, SmallestChange } from "../results/assay.ts";
import type { Season } from "../season/season.ts";
import { activityOf } from "../solver/program.ts";
import { type Proven, solveProgram } from "../solver/solve.ts";
import { MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import { demandWords } from "../words/demand-words.ts";
import { amountsOf, pointOf, tieBreaks, verificationOf } from "./solve-blend.ts";

/** A mix on the bed of a plan: kg of each amendment (index into plan.amendments) over the season. */
export interface PlacedMix {
  readonly plan: Plan;
  readonly season: Season;
  readonly wholeKg: readonly number[];
  readonly amounts: Amounts;
  readonly misses: readonly Miss[];
}

/** Weights below this share of the mix are rounding. */
const ROUNDING = 1e-6;

/** Money for so much of an amendment beyond what the shed holds; null where that has no price. */
function priceOf(plan: Plan, a: number, kg: number): number | null {
  const amendment = plan.amendments[a]!;
  const bought = Math.max(0, kg - amendment.stockKg);
  if (bought === 0) return 0;
  const price = cheapestPricePerKg(amendment);
  return price === null ? null : bought * price;
}

/** Money for what the shed does not hold of a mix, kg by amendment; null where that has no price. */
export function costAsPlanned(plan: Plan, wholeKg: readonly number[]): number | null {
  const prices = wholeKg.map((kg, a) => priceOf(plan, a, kg));
  return prices.every((price) => price !== null) ? sumKg(prices) : null;
}

/** What more of an amendment costs than less of it; null where either has no price. */
function between(plan: Plan, a: number, lessKg: number, moreKg: number): number | null {
  const [less, more] = [priceOf(plan, a, lessKg), priceOf(plan, a, moreKg)];
  return less === null || more === null ? null : more - less;
}

/**
 * What can be left out so that every demand that is met stays met and none that is not gets any worse: of all ways the
 * one that saves most money, among equal ones the one that takes out most weight. Largest saving first.
 * @throws UnverifiedError
 */
export async function leaveOut(mix: PlacedMix): Promise<PortionLess[]> {
  const { plan, season, wholeKg, misses } = mix;
  const base = buildProgram({ ...plan, limits: loosened(mix) }, season);
  const now = pointOf(plan, base, mix.amounts);
  base.buy.forEach((j, a) => {
    if (j !== null) now[j] = Math.max(0, wholeKg[a]! - plan.amendments[a]!.stockKg);
  });
  const rows = base.rows.map((row): PlanRow => {
    const value = activityOf(row, now).sum;
    return { ...row, lower: Math.min(row.lower, value), upper: Math.max(row.upper, value) };
  });
  const columns = base.columns.map((column, j) =>
    column.tag.kind === "use" ? { ...column, upper: now[j]! } : column,
  );
  const answer = await solved({ columns, rows }, tieBreaks(base), "What can be left out");
  if (answer === null) return [];
  const amounts = amountsOf(plan, base, answer.x);
  for (const miss of findMisses(plan, season, amounts)) {
    const before = misses.find(({ tag }) => JSON.stringify(tag) === JSON.stringify(miss.tag));
    const allowed = Math.max(MAX_VIOLATION, (before?.fraction ?? 0) * (1 + MAX_VIOLATION));
    if (miss.fraction > allowed && !(before && miss.by <= before.by * (1 + MAX_VIOLATION)))
      throw new UnverifiedError(
        `What can be left out would worsen a demand of the plan (${demandWords(plan, miss.tag)}); none is printed.`,
      );
  }
  const keptKg = totalsKg(amounts);
  const least = ROUNDING * sumKg(wholeKg);
  return plan.amendments
    .flatMap(({ id, name }, a): PortionLess[] => {
      const kg = wholeKg[a]! - keptKg[a]!;
      return kg > least ? [{ id, name, kg, saves: between(plan, a, keptKg[a]!, wholeKg[a]!) }] : [];
    })
    .sort((p, q) => (q.saves ?? 0) - (p.saves ?? 0) || q.kg - p.kg);
}

/** Limits on shares as far as the mix keeps them: a share that is broken may stay as it is and get no worse. */
function loosened({ plan, wholeKg }: PlacedMix): Limit[] {
  const whole = sumKg(wholeKg);
  return plan.limits.map((limit): Limit => {
    const a = plan.amendments.findIndex(({ id }) => id === limit.id);
    if (a < 0 || whole === 0) return limit;
    const share = wholeKg[a]! / whole;
    return {
      ...limit,
      ...(limit.minShare === undefined ? {} : { minShare: Math.min(limit.minShare, share) }),
      ...(limit.maxShare === undefined ? {} : { maxShare: Math.max(limit.maxShare, share) }),
    };
  });
}

/**
 * The cheapest addition that makes the mix meet the plan; what is in the mix stays in. Nothing is added of what the plan
 * does not offer, has left out, or cannot be bought and is not in the shed.
 * @throws UnverifiedError
 */
export async function addAtLeastCost(
  mix: PlacedMix,
  original: Plan,
): Promise<Pick<AgainstPlan, "addStatus" | "add" | "addBlockedBy">> {
  const { plan, season, wholeKg, misses } = mix;
  if (misses.length === 0) return { addStatus: "none", add: [], addBlockedBy: [] };
  const offered = new Set(original.amendments.map(({ id }) => id));
  for (const { id } of original.leftOut) offered.delete(id);
  const base = buildProgram(plan, season);
  const rows = base.rows.map((row): PlanRow => {
    const { tag } = row;
    if (tag.kind !== "stock") return row;
    const a = plan.amendments.findIndex(({ id }) => id === tag.id);
    // What is in the mix already is there, whatever the shed holds now.
    return base.buy[a] === null ? { ...row, upper: Math.max(row.upper, wholeKg[a]!) } : row;
  });
  const columns = [...base.columns];
  plan.amendments.forEach((amendment, a) => {
    const own = base.use[a]![0]!;
    const addable = offered.has(amendment.id) && canBeHad(amendment);
    columns[own] = { ...columns[own]!, upper: addable ? Infinity : wholeKg[a]! };
    if (wholeKg[a]! > 0)
      rows.push({
        tag: { kind: "other", label: `the ${amendment.id} of the mix` },
        index: [own],
        value: [1],
        lower: wholeKg[a]!,
        upper: Infinity,
      });
  });
  const answer = await solved({ columns, rows }, tieBreaks(base), "What to add");
  if (answer === null)
    return {
      addStatus: "impossible",
      add: [],
      addBlockedBy: misses
        .filter(({ tag }) => ONLY_LESS.has(tag.kind))
        .map(({ tag }) => demandWords(plan, tag)),
    };
  const amounts = amountsOf(plan, base, answer.x);
  const thenKg = totalsKg(amounts);
  const least = ROUNDING * sumKg(thenKg);
  if (worstMiss(mix, amounts) || thenKg.some((kg, a) => kg < wholeKg[a]! - least))
    throw new UnverifiedError("What to add does not make the mix meet the plan; none is printed.");
  return {
    addStatus: "found",
    add: plan.amendments
      .flatMap(({ id, name }, a): PortionAdded[] => {
        const kg = thenKg[a]! - wholeKg[a]!;
        return kg > least ? [{ id, name, kg, cost: between(plan, a, wholeKg[a]!, thenKg[a]!) }] : [];
      })
      .sort((p, q) => q.kg - p.kg || (p.id < q.id ? -1 : 1)),
    addBlockedBy: [],
  };
}

/**
 * The change that moves the least weight: minimise what is added plus what is taken away, subject to the plan; among
 * equal ones the cheapest. Nothing is added of what the plan left out or of what cannot be bought.
 * @throws UnverifiedError
 */
export async function smallestChange(mix: PlacedMix, original: Plan): Promise<SmallestChange> {
  const { plan, season, wholeKg, misses } = mix;
  const nothing = (status: "none" | "impossible", cost: number | null): SmallestChange => ({
    status,
    kg: 0,
    amendments: [],
    cost,
    verification: null,
  });
  if (misses.length === 0) return nothing("none", costAsPlanned(plan, wholeKg));
  const base = buildProgram(plan, season);
  const barred = new Set(original.leftOut.map(({ id }) => id));
  const columns: PlanColumn[] = base.columns.map((column) => ({ ...column, cost: 0 }));
  const rows: PlanRow[] = [...base.rows];
  plan.amendments.forEach((amendment, a) => {
    const kg = wholeKg[a]!;
    const addable = !barred.has(amendment.id) && canBeHad(amendment);
    const labelled = (label: string) => ({ kind: "other", label: `${label} ${amendment.id}` }) as const;
    columns.push({ tag: labelled("more"), cost: 1, upper: addable ? Infinity : 0 });
    columns.push({ tag: labelled("less"), cost: 1, upper: kg });
    rows.push({
      tag: labelled("weight of"),
      index: [base.use[a]![0]!, columns.length - 2, columns.length - 1],
      value: [1, -1, 1],
      lower: kg,
      upper: kg,
    });
  });
  const padding = columns.slice(base.columns.length).map(() => 0);
  const money = base.columns.map(({ cost }) => cost);
  const ties = [money, ...tieBreaks(base)].map((costs) => [...costs, ...padding]);
  const answer = await solved({ columns, rows }, ties, "The smallest change");
  if (answer === null) return nothing("impossible", null);
  const amounts = amountsOf(plan, base, answer.x);
  const worst = worstMiss(mix, amounts);
  if (worst)
    throw new UnverifiedError(
      `The smallest change does not keep a demand of the plan (${demandWords(plan, worst.tag)}); none is printed.`,
    );
  const toKg = totalsKg(amounts);
  const least = 1e-9 * sumKg(toKg);
  return {
    status: "found",
    kg: answer.check.cost,
    amendments: plan.amendments
      .map(({ id, name, densityKgPerL: density }, a) => ({
        id,
        name,
        fromKg: wholeKg[a]!,
        toKg: toKg[a]!,
        mL: density === undefined ? null : (1000 * Math.abs(toKg[a]! - wholeKg[a]!)) / density,
      }))
      .filter(({ fromKg, toKg: to }) => Math.abs(to - fromKg) > least)
      .sort((p, q) => Math.abs(q.toKg - q.fromKg) - Math.abs(p.toKg - p.fromKg) || (p.id < q.id ? -1 : 1)),
    cost: costAsPlanned(plan, toKg),
    verification: verificationOf(answer),
  };
}

/** Demands that no addition can mend once they are broken. */
const ONLY_LESS: ReadonlySet<string> = new Set([
  "season-max",
  "applied-max",
  "ahead-max",
  "amount-max",
  "not-in",
]);

function canBeHad(amendment: Amendment): boolean {
  return cheapestPricePerKg(amendment) !== null || amendment.stockKg > 0;
}

/** The demand that amounts miss most, beyond rounding. */
function worstMiss({ plan, season }: PlacedMix, amounts: Amounts): Miss | undefined {
  const [worst] = findMisses(plan, season, amounts);
  return worst && worst.fraction > MAX_VIOLATION ? worst : undefined;
}

/** The proven optimum; null where there is none. */
async function solved(
  program: PlanProgram,
  ties: readonly (readonly number[])[],
  what: string,
): Promise<Proven | null> {
  const answer = await solveProgram(program, ties);
  if (answer.status === "unverified")
    throw new UnverifiedError(`${what} could not be verified (${answer.reason}); none is printed.`);
  return answer.status === "optimal" ? answer : null;
}
