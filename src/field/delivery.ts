/**
 * What given amounts deliver, and which demands of the plan they miss: computed from kilograms, analyses, release
 * and days alone, without the program that found the amounts.
 */
import type { Amendment, Demand, Plan } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import type { RowTag } from "../program/tags.ts";
import type { SolutionNutrient } from "../results/solution.ts";
import { type Season, takenUpKg } from "../season/season.ts";

/** kg of each amendment (index into plan.amendments) in each application (index into plan.applications). */
export type Amounts = readonly (readonly number[])[];

/** kg of a nutrient that the amounts and the credits have made available by `day`. */
export function suppliedKg(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  nutrient: Nutrient,
  day: number,
): number {
  let sum = season.creditKg(nutrient, day);
  plan.amendments.forEach((amendment, a) => {
    const content = amendment.analysis[nutrient] ?? 0;
    if (content === 0) return;
    plan.applications.forEach((application, t) => {
      const kg = amounts[a]![t]!;
      if (kg !== 0)
        sum +=
          kg * content * season.available(amendment, nutrient, application.day, day, application.placement);
    });
  });
  return sum;
}

/** Share of an amendment's nutrient that can feed a crop on the plan's soil. */
export const effectiveShare = (amendment: Amendment, nutrient: Nutrient): number =>
  amendment.effective?.[nutrient] ?? 1;

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

/** kg of a nutrient that count towards its need: what is available by the season's end, or all that is spread. */
export function countedKg(plan: Plan, season: Season, amounts: Amounts, demand: Demand): number {
  const { nutrient, counts } = demand;
  return counts === "applied"
    ? appliedKg(plan, amounts, nutrient, effectiveShare) + season.creditInAllKg(nutrient)
    : suppliedKg(plan, season, amounts, nutrient, plan.seasonDays);
}

/** Delivered against needed, for every nutrient that is asked for, applied or credited; canonical order. */
export function deliver(
  plan: Plan,
  season: Season,
  amounts: Amounts,
): Omit<SolutionNutrient, "shadowPricePerKg">[] {
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

function missOf(tag: RowTag, value: number, lower: number, upper: number): Miss | null {
  const by = Math.max(lower - value, value - upper);
  if (!(by > 0)) return null;
  const bound = Math.abs(lower - value > value - upper ? lower : upper);
  return { tag, by, fraction: by / Math.max(bound, Math.abs(value), Number.MIN_VALUE) };
}

/** Every demand of the plan that the amounts miss, by however little, worst first. */
export function findMisses(plan: Plan, season: Season, amounts: Amounts): Miss[] {
  return missesInOrder(plan, season, amounts).sort((a, b) => b.fraction - a.fraction);
}

/** The same in the order of the plan's demands and days. */
export function missesInOrder(plan: Plan, season: Season, amounts: Amounts): Miss[] {
  const misses: Miss[] = [];
  const note = (tag: RowTag, value: number, lower: number, upper: number): void => {
    const miss = missOf(tag, value, lower, upper);
    if (miss) misses.push(miss);
  };
  for (const demand of plan.demands) {
    const { nutrient } = demand;
    for (const day of season.checkpoints) {
      const atEnd = day === plan.seasonDays;
      if (!demand.uptake && !atEnd) continue;
      const supplied = suppliedKg(plan, season, amounts, nutrient, day);
      const counted = atEnd ? countedKg(plan, season, amounts, demand) : supplied;
      const needed = atEnd ? demand.minKg : takenUpKg(demand, day);
      // A need of nothing is met, also where credits tie up more than is there.
      if (needed > 0)
        note({ kind: atEnd ? "season-min" : "in-time", nutrient, day }, counted, needed, Infinity);
      if (atEnd && demand.maxKg !== null)
        note({ kind: "season-max", nutrient, day }, counted, -Infinity, demand.maxKg);
      if (demand.aheadMaxKg !== null)
        note(
          { kind: "ahead-max", nutrient, day },
          supplied,
          -Infinity,
          demand.aheadMaxKg + takenUpKg(demand, day),
        );
    }
    if (demand.appliedMaxKg !== null)
      note(
        { kind: "applied-max", nutrient },
        appliedKg(plan, amounts, nutrient),
        -Infinity,
        demand.appliedMaxKg,
      );
  }
  noteLimits(plan, amounts, note);
  return misses;
}

function noteLimits(
  plan: Plan,
  amounts: Amounts,
  note: (tag: RowTag, value: number, lower: number, upper: number) => void,
): void {
  const everywhere = plan.applications.map((_, t) => t);
  const blends: { application: number | null; spread: readonly number[] }[] =
    plan.blend === "one"
      ? [{ application: null, spread: everywhere }]
      : everywhere.map((t) => ({ application: t, spread: [t] }));
  for (const limit of plan.limits) {
    const a = plan.amendments.findIndex((amendment) => amendment.id === limit.id);
    if (a < 0) continue;
    for (const { application, spread } of blends) {
      const sum = (i: number): number => spread.reduce((kg, t) => kg + amounts[i]![t]!, 0);
      const own = sum(a);
      const whole = plan.amendments.reduce((kg, _, i) => kg + sum(i), 0);
      const { id } = limit;
      const barred = spread.filter((t) => limit.notIn.includes(t));
      const inBarred = barred.reduce((kg, t) => kg + amounts[a]![t]!, 0);
      if (inBarred > 0) note({ kind: "not-in", id, application }, inBarred, -Infinity, 0);
      if (barred.length > 0 && application !== null) continue;
      if (limit.minKg !== undefined)
        note({ kind: "amount-min", id, application }, own, limit.minKg, Infinity);
      if (limit.maxKg !== undefined)
        note({ kind: "amount-max", id, application }, own, -Infinity, limit.maxKg);
      if (whole === 0) continue;
      const share = own / whole;
      if (limit.minShare !== undefined)
        note({ kind: "share-min", id, application }, share, limit.minShare, Infinity);
      if (limit.maxShare !== undefined)
        note({ kind: "share-max", id, application }, share, -Infinity, limit.maxShare);
    }
  }
}
