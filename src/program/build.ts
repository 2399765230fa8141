/** A plan and its season as a linear program: kilograms for the whole bed, money in the plan's currency. */
import type { Amendment, Application, Demand, Limit, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { countedShare, type Season, takenUpKg } from "../season/season.ts";
import { type Entry, rowOf, type Terms, termsOf } from "../solver/program.ts";
import type { PlanColumn, PlanProgram, PlanRow } from "./tags.ts";

/** Money per kg by the cheapest way of buying it; null where it can only come from stock. */
export function cheapestPricePerKg(amendment: Amendment): number | null {
  const prices = amendment.packs.map((pack) => pack.price / pack.sizeKg);
  if (amendment.bulkPricePerKg !== undefined) prices.push(amendment.bulkPricePerKg);
  return prices.length === 0 ? null : Math.min(...prices);
}

/** The amendment sold loose alone, at its cheapest price by weight. */
export function soldByWeight(amendment: Amendment): Amendment {
  const price = cheapestPricePerKg(amendment);
  return { ...amendment, packs: [], ...(price === null ? {} : { bulkPricePerKg: price }) };
}

/** The applications that share one recipe: the whole blend (null), or each by itself. */
function blendsOf(plan: Plan): readonly (number | null)[] {
  return plan.blend === "one" ? [null] : plan.applications.map((_, t) => t);
}

/**
 * kg of a nutrient available on `day` per kg of the amendment in a blend.
 * @param taken drainages (index) that are counted as taking what they would of what lies there.
 */
function availablePerKg(
  plan: Plan,
  season: Season,
  amendment: Amendment,
  nutrient: Nutrient,
  blend: number | null,
  day: number,
  taken: readonly number[] = [],
): number {
  const content = amendment.analysis[nutrient] ?? 0;
  if (content === 0) return 0;
  const spreadIn = (application: Application): number =>
    taken.reduce(
      (left, k) => left - season.lost!.share(k, amendment, application.day, application),
      season.available(amendment, nutrient, application.day, day, application),
    );
  if (blend !== null) return content * spreadIn(plan.applications[blend]!);
  let share = 0;
  for (const application of plan.applications)
    if (application.share > 0) share += application.share * spreadIn(application);
  return content * share;
}

/** Where each amendment is among the columns. */
export interface BlendProgram extends PlanProgram {
  /** `use[a][b]`: column of amendment `a` (index into plan.amendments) in blend `b` (index into `blends`). */
  readonly use: readonly (readonly number[])[];
  /** Column of what is bought of amendment `a` beyond its stock; null where its use column carries the price. */
  readonly buy: readonly (number | null)[];
  /** By column: what one kg used is worth, stock at what it costs to buy again; 0 for what is not used. */
  readonly worth: readonly number[];
  readonly blends: readonly (number | null)[];
}

/**
 * Builds the continuous program. Columns: kg of each amendment in each blend, then kg bought where there is stock.
 * Rows that hold by themselves (a zero need) are left out; every other demand of the plan is a row.
 */
export function buildProgram(plan: Plan, season: Season): BlendProgram {
  const blends = blendsOf(plan);
  const columns: PlanColumn[] = [];
  const use = plan.amendments.map((amendment) =>
    blends.map((application) => {
      const price = amendment.stockKg > 0 ? 0 : (cheapestPricePerKg(amendment) ?? 0);
      columns.push({ tag: { kind: "use", id: amendment.id, application }, cost: price, upper: Infinity });
      return columns.length - 1;
    }),
  );
  const buy = plan.amendments.map((amendment) => {
    const price = cheapestPricePerKg(amendment);
    if (amendment.stockKg <= 0 || price === null) return null;
    columns.push({ tag: { kind: "buy", id: amendment.id }, cost: price, upper: Infinity });
    return columns.length - 1;
  });

  const rows: PlanRow[] = plan.demands.flatMap((demand) => {
    const sources = plan.amendments.flatMap((amendment, a) =>
      amendment.analysis[demand.nutrient] ? [{ amendment, columns: use[a]! }] : [],
    );
    return demandRows(plan, season, demand, (coefficient) => {
      const terms = { index: [] as number[], value: [] as number[] };
      for (const { amendment, columns } of sources)
        for (let b = 0; b < blends.length; b++) {
          const value = coefficient(amendment, blends[b]!);
          if (value === 0) continue;
          terms.index.push(columns[b]!);
          terms.value.push(value);
        }
      return terms;
    });
  });
  for (const limit of plan.limits) rows.push(...limitRows(plan, limit, blends, use));
  plan.amendments.forEach((amendment, a) => {
    const { id, stockKg } = amendment;
    if (stockKg <= 0 && cheapestPricePerKg(amendment) !== null) return;
    const entries = use[a]!.map((j): Entry => [j, 1]);
    if (buy[a] !== null) entries.push([buy[a]!, -1]);
    rows.push(rowOf({ kind: "stock", id }, termsOf(entries), { upper: stockKg, fact: true }));
  });
  const worth = columns.map(() => 0);
  use.forEach((own, a) => {
    for (const j of own) worth[j] = cheapestPricePerKg(plan.amendments[a]!) ?? 0;
  });
  return { columns, rows, use, buy, worth, blends };
}

/** Every choice, but for none at all, of the drainages before a day. */
function drainagesBefore({ lost }: Season, day: number): number[][] {
  const before = (lost?.days ?? []).flatMap((on, k) => (on < day ? [k] : []));
  const some: number[][] = [[]];
  for (const k of before) some.push(...some.map((chosen) => [...chosen, k]));
  return some.slice(1);
}

/** What credits leave of a weight; nothing where only rounding is left. */
function less(kg: number, creditKg: number): number {
  const left = kg - creditKg;
  return Math.abs(left) <= 1e-12 * Math.max(Math.abs(kg), Math.abs(creditKg)) ? 0 : left;
}

/** A most that is so many times the need is none: no mix comes near it, and it would only spoil the scale of its row. */
const BEYOND = 1e6;

/** @param over the terms of what each amendment that holds the nutrient brings of it in each blend. */
function demandRows(
  plan: Plan,
  season: Season,
  demand: Demand,
  over: (coefficient: (amendment: Amendment, blend: number | null) => number) => Terms,
): PlanRow[] {
  const { nutrient, counts, minKg, maxKg, aheadMaxKg } = demand;
  // A cap that gives way holds as it is stated wherever it has not been settled.
  const appliedMaxKg = demand.appliedMaxKg ?? demand.appliedSoftMaxKg ?? null;
  const supplied = (day: number): Terms =>
    over((amendment, blend) => availablePerKg(plan, season, amendment, nutrient, blend, day));
  const inAll = counts === "applied";
  const rows: PlanRow[] = [];
  for (const day of season.checkpoints) {
    const atEnd = day === plan.seasonDays;
    if (!demand.uptake && !atEnd) continue;
    const counted = inAll
      ? over((amendment) => (amendment.analysis[nutrient] ?? 0) * countedShare(amendment, nutrient))
      : supplied(day);
    const credit = inAll ? season.creditInAllKg(nutrient) : season.creditKg(nutrient, day);
    // The scale of a row is the weight that its bound is a difference from, which says how exact the bound can be.
    const needKg = atEnd ? minKg : takenUpKg(demand, day);
    const tag = { kind: atEnd ? "season-min" : "in-time", nutrient, day } as const;
    if (needKg > 0) rows.push(rowOf(tag, counted, { lower: less(needKg, credit), scale: needKg }));
    // What drainage takes is the greater of nothing and what it would take: the need is met either way.
    if (needKg > 0 && !inAll && nutrient === "N")
      for (const taken of drainagesBefore(season, day)) {
        const left = over((amendment, blend) =>
          availablePerKg(plan, season, amendment, nutrient, blend, day, taken),
        );
        const gone = taken.reduce((kg, k) => kg + season.lost!.creditKg(k) - season.lost!.sparedKg(k), 0);
        rows.push(rowOf(tag, left, { lower: less(needKg, credit - gone), scale: needKg }));
      }
    if (atEnd && maxKg !== null && !(minKg > 0 && maxKg > BEYOND * minKg))
      rows.push(
        rowOf({ kind: "season-max", nutrient, day }, counted, {
          upper: less(maxKg, credit),
          scale: maxKg,
        }),
      );
    if (aheadMaxKg !== null) {
      const scale = aheadMaxKg + takenUpKg(demand, day);
      const upper = less(scale, season.creditKg(nutrient, day));
      rows.push(
        rowOf({ kind: "ahead-max", nutrient, day }, inAll ? supplied(day) : counted, { upper, scale }),
      );
    }
  }
  if (appliedMaxKg !== null) {
    const applied = over(({ analysis }) => analysis[nutrient] ?? 0);
    rows.push(rowOf({ kind: "applied-max", nutrient }, applied, { upper: appliedMaxKg }));
  }
  return rows;
}

/** A share this near to everything or to nothing is that: what is left of it is rounding of whoever wrote it. */
export const SHARE_ROUNDING = 1e-9;

function limitRows(
  plan: Plan,
  limit: Limit,
  blends: readonly (number | null)[],
  use: readonly (readonly number[])[],
): PlanRow[] {
  const { id, notIn, minShare = 0, maxShare = 1, minKg = 0, maxKg = Infinity } = limit;
  const a = plan.amendments.findIndex((amendment) => amendment.id === id);
  if (a < 0) return [];
  if (limit.together && blends.length > 1) {
    const everywhere = termsOf(use[a]!.map((column): Entry => [column, 1]));
    const of = { id, application: null };
    const { together: _, minKg: __, maxKg: ___, ...each } = limit;
    return [
      ...limitRows(plan, each, blends, use),
      ...(minKg > 0 ? [rowOf({ kind: "amount-min" as const, ...of }, everywhere, { lower: minKg })] : []),
      ...(maxKg < Infinity
        ? [rowOf({ kind: "amount-max" as const, ...of }, everywhere, { upper: maxKg })]
        : []),
    ];
  }
  return blends.flatMap((application, b) => {
    const alone = termsOf([[use[a]![b]!, 1]]);
    const share = (stated: number): Terms => {
      const part = stated > 1 - SHARE_ROUNDING ? 1 : stated;
      return termsOf(use.map((columns, i): Entry => [columns[b]!, (i === a ? 1 : 0) - part]));
    };
    const of = { id, application };
    const barred =
      application === null ? notIn.some((t) => plan.applications[t]!.share > 0) : notIn.includes(application);
    const rows: PlanRow[] = [];
    if (barred) rows.push(rowOf({ kind: "not-in", ...of }, alone, { upper: 0 }));
    if (barred && application !== null) return rows;
    if (minShare > SHARE_ROUNDING)
      rows.push(rowOf({ kind: "share-min", ...of }, share(minShare), { lower: 0 }));
    if (maxShare < 1 - SHARE_ROUNDING)
      rows.push(rowOf({ kind: "share-max", ...of }, share(maxShare), { upper: 0 }));
    if (minKg > 0) rows.push(rowOf({ kind: "amount-min", ...of }, alone, { lower: minKg }));
    if (maxKg < Infinity) rows.push(rowOf({ kind: "amount-max", ...of }, alone, { upper: maxKg }));
    return rows;
  });
}
