/**
 * What given amounts deliver, and which demands of the plan they miss: computed from kilograms, analyses, release
 * and days alone, without the program that found the amounts.
 */
import type { Amendment, Demand, Plan } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { SHARE_ROUNDING } from "../program/build.ts";
import type { RowTag } from "../program/tags.ts";
import type { BedNutrient } from "../results/solution.ts";
import { countedShare, type Season, takenUpKg } from "../season/season.ts";

/** kg of each amendment (index into plan.amendments) in each application (index into plan.applications). */
export type Amounts = readonly (readonly number[])[];

/** kg of each amendment in all. */
export function totalsKg(amounts: Amounts): number[] {
  return amounts.map(sumKg);
}

export function sumKg(kg: readonly number[]): number {
  return kg.reduce((sum, one) => sum + one, 0);
}

/** kg of nitrogen that expected drainage has carried below the roots before `day`. */
export function lostKg(plan: Plan, { lost }: Season, amounts: Amounts, day: number): number {
  if (lost === undefined) return 0;
  return lost.days.reduce((sum, on, k) => {
    if (on >= day) return sum;
    let kg = lost.creditKg(k) - lost.sparedKg(k);
    plan.amendments.forEach((amendment, a) => {
      const content = amendment.analysis.N ?? 0;
      if (content === 0) return;
      plan.applications.forEach((application, t) => {
        const spread = amounts[a]![t]!;
        if (spread !== 0) kg += spread * content * lost.share(k, amendment, application.day, application);
      });
    });
    return sum + Math.max(0, kg);
  }, 0);
}

/** kg of a nutrient that the amounts and the credits have made available by `day`, less what drainage has carried away. */
export function suppliedKg(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  nutrient: Nutrient,
  day: number,
): number {
  let sum = season.creditKg(nutrient, day) - (nutrient === "N" ? lostKg(plan, season, amounts, day) : 0);
  plan.amendments.forEach((amendment, a) => {
    const content = amendment.analysis[nutrient] ?? 0;
    if (content === 0) return;
    plan.applications.forEach((application, t) => {
      const kg = amounts[a]![t]!;
      if (kg !== 0)
        sum += kg * content * season.available(amendment, nutrient, application.day, day, application);
    });
  });
  return sum;
}

/**
 * kg of a nutrient that the amounts contain, available or not.
 * @param share the part of each amendment's content that is counted; all of it where absent.
 */
export function appliedKg(
  plan: Plan,
  amounts: Amounts,
  nutrient: Nutrient,
  share: (amendment: Amendment, nutrient: Nutrient) => number = () => 1,
): number {
  let sum = 0;
  plan.amendments.forEach((amendment, a) => {
    const content = (amendment.analysis[nutrient] ?? 0) * share(amendment, nutrient);
    if (content !== 0) for (const kg of amounts[a]!) sum += kg * content;
  });
  return sum;
}

/**
 * kg of a nutrient that count towards its need by a day, the season's end where absent: what is available, or by the
 * season's end all that is spread, where the need counts that.
 */
export function countedKg(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  { nutrient, counts }: Pick<Demand, "nutrient" | "counts">,
  day = plan.seasonDays,
): number {
  return counts === "applied" && day === plan.seasonDays
    ? appliedKg(plan, amounts, nutrient, countedShare) + season.creditInAllKg(nutrient)
    : suppliedKg(plan, season, amounts, nutrient, day);
}

/** Delivered against needed, for every nutrient that is asked for, applied or credited; canonical order. */
export function deliver(
  plan: Plan,
  season: Season,
  amounts: Amounts,
): Omit<BedNutrient, "shadowPricePerKg">[] {
  const end = plan.seasonDays;
  return NUTRIENTS.flatMap((nutrient) => {
    const demand = plan.demands.find((d) => d.nutrient === nutrient);
    const applied = appliedKg(plan, amounts, nutrient);
    const credit = season.creditKg(nutrient, end);
    if (!demand && applied === 0 && credit === 0) return [];
    const available = suppliedKg(plan, season, amounts, nutrient, end);
    const needOn = (day: number): number => {
      // A need of what is spread says nothing of when it is available.
      if (!demand || demand.counts === "applied") return 0;
      if (day === end) return demand.minKg;
      return demand.uptake ? takenUpKg(demand, day) : 0;
    };
    const checked = demand?.uptake || !demand ? season.checkpoints : [end];
    return [
      {
        nutrient,
        minKg: demand?.minKg ?? 0,
        maxKg: demand?.maxKg ?? null,
        appliedMaxKg: demand?.appliedMaxKg ?? null,
        aheadMaxKg: demand?.aheadMaxKg ?? null,
        counts: demand?.counts ?? "available",
        efficiency: demand?.efficiency ?? 1,
        countedKg: demand ? countedKg(plan, season, amounts, demand) : available,
        availableKg: available,
        appliedKg: applied,
        creditKg: credit,
        creditInAllKg: season.creditInAllKg(nutrient),
        checkpoints: checked.map((day) => ({
          day,
          needKg: needOn(day),
          availableKg: suppliedKg(plan, season, amounts, nutrient, day),
        })),
      },
    ];
  });
}

/** A demand that amounts do not keep. */
export interface Miss {
  readonly tag: RowTag;
  /** kg (or share of weight, for shares) below a floor or above a ceiling. */
  readonly by: number;
  /** `by` relative to the demand itself. */
  readonly fraction: number;
}

/** Notes a demand that is missed: a value below its least or above its most. Without a bound there is none to miss. */
type Note = (tag: RowTag, value: number, side: "least" | "most", bound: number | null | undefined) => void;

/**
 * Every demand of the plan that the amounts miss, by however little, worst first.
 * @param alone what of the amounts is given beside the mix, which is no part of any share of it.
 */
export function findMisses(plan: Plan, season: Season, amounts: Amounts, alone?: Amounts): Miss[] {
  return missesInOrder(plan, season, amounts, alone).sort((a, b) => b.fraction - a.fraction);
}

/** The same in the order of the plan's demands and days. */
export function missesInOrder(plan: Plan, season: Season, amounts: Amounts, alone?: Amounts): Miss[] {
  const misses: Miss[] = [];
  const note: Note = (tag, value, side, bound) => {
    if (bound === null || bound === undefined) return;
    const by = side === "least" ? bound - value : value - bound;
    if (by > 0)
      misses.push({ tag, by, fraction: by / Math.max(Math.abs(bound), Math.abs(value), Number.MIN_VALUE) });
  };
  for (const demand of plan.demands) {
    const { nutrient, minKg, maxKg, appliedMaxKg, aheadMaxKg } = demand;
    for (const day of season.checkpoints) {
      const atEnd = day === plan.seasonDays;
      if (!demand.uptake && !atEnd) continue;
      const counted = countedKg(plan, season, amounts, demand, day);
      const needed = atEnd ? minKg : takenUpKg(demand, day);
      // A need of nothing is met, also where credits tie up more than is there.
      if (needed > 0)
        note({ kind: atEnd ? "season-min" : "in-time", nutrient, day }, counted, "least", needed);
      if (atEnd) note({ kind: "season-max", nutrient, day }, counted, "most", maxKg);
      if (aheadMaxKg === null) continue;
      const supplied = suppliedKg(plan, season, amounts, nutrient, day);
      note({ kind: "ahead-max", nutrient, day }, supplied, "most", aheadMaxKg + takenUpKg(demand, day));
    }
    note({ kind: "applied-max", nutrient }, appliedKg(plan, amounts, nutrient), "most", appliedMaxKg);
  }
  noteLimits(plan, amounts, alone, note);
  return misses;
}

function noteLimits(plan: Plan, amounts: Amounts, alone: Amounts | undefined, note: Note): void {
  const everywhere = plan.applications.map((_, t) => t);
  const blends: { application: number | null; spread: readonly number[] }[] =
    plan.blend === "one"
      ? [{ application: null, spread: everywhere }]
      : everywhere.map((t) => ({ application: t, spread: [t] }));
  for (const { id, notIn, minKg, maxKg, minShare, maxShare, together } of plan.limits) {
    const a = plan.amendments.findIndex((amendment) => amendment.id === id);
    if (a < 0) continue;
    if (together) {
      const all = sumKg(amounts[a]!);
      note({ kind: "amount-min", id, application: null }, all, "least", minKg);
      note({ kind: "amount-max", id, application: null }, all, "most", maxKg);
    }
    for (const { application, spread } of blends) {
      const sum = (i: number): number => spread.reduce((kg, t) => kg + amounts[i]![t]!, 0);
      const own = sum(a);
      const stirred = (i: number): number =>
        sum(i) - spread.reduce((kg, t) => kg + (alone?.[i]?.[t] ?? 0), 0);
      const whole = plan.amendments.reduce((kg, _, i) => kg + stirred(i), 0);
      const barred = spread.filter((t) => notIn.includes(t));
      const inBarred = barred.reduce((kg, t) => kg + amounts[a]![t]!, 0);
      note({ kind: "not-in", id, application }, inBarred, "most", 0);
      if ((barred.length > 0 && application !== null) || together) continue;
      note({ kind: "amount-min", id, application }, own, "least", minKg);
      note({ kind: "amount-max", id, application }, own, "most", maxKg);
      if (whole <= 0) continue;
      const share = stirred(a) / whole;
      if (minShare !== undefined && minShare > SHARE_ROUNDING)
        note({ kind: "share-min", id, application }, share, "least", minShare);
      note({ kind: "share-max", id, application }, share, "most", maxShare);
    }
  }
}
