/** A plan and its season as a linear program: kilograms for the whole bed, money in the plan's currency. */
import type { Amendment, Demand, Limit, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { type Season, takenUpKg } from "../season/season.ts";
import type { Column, Program, Row, RowTag } from "./program.ts";

/** Money per kg by the cheapest way of buying it; null where it can only come from stock. */
export function cheapestPricePerKg(amendment: Amendment): number | null {
  const prices = amendment.packs.map((pack) => pack.price / pack.sizeKg);
  if (amendment.bulkPricePerKg !== undefined) prices.push(amendment.bulkPricePerKg);
  return prices.length === 0 ? null : Math.min(...prices);
}

/** The applications that share one recipe: the whole blend (null), or each by itself. */
export function blendsOf(plan: Plan): readonly (number | null)[] {
  return plan.blend === "one" ? [null] : plan.applications.map((_, t) => t);
}

/** Share of a blend's weight that is spread in application `t`. */
function spreadShare(plan: Plan, blend: number | null, t: number): number {
  if (blend === null) return plan.applications[t]!.share;
  return blend === t ? 1 : 0;
}

/** kg of a nutrient available on `day` per kg of the amendment in a blend. */
export function availablePerKg(
  plan: Plan,
  season: Season,
  amendment: Amendment,
  nutrient: Nutrient,
  blend: number | null,
  day: number,
): number {
  const content = amendment.analysis[nutrient] ?? 0;
  if (content === 0) return 0;
  let share = 0;
  plan.applications.forEach((application, t) => {
    const part = spreadShare(plan, blend, t);
    if (part > 0) share += part * season.available(amendment, nutrient, application.day, day);
  });
  return content * share;
}

/** Where each amendment stands among the columns. */
export interface BlendProgram extends Program {
  /** `use[a][b]`: column of amendment `a` (index into plan.amendments) in blend `b` (index into `blends`). */
  readonly use: readonly (readonly number[])[];
  /** Column of what is bought of amendment `a` beyond its stock; null where its use column carries the price. */
  readonly buy: readonly (number | null)[];
  readonly blends: readonly (number | null)[];
}

/**
 * Builds the continuous program. Columns: kg of each amendment in each blend, then kg bought where there is stock.
 * Rows that hold by themselves (a zero need) are left out; every other demand of the plan is a row.
 */
export function buildProgram(plan: Plan, season: Season): BlendProgram {
  const blends = blendsOf(plan);
  const columns: Column[] = [];
  const rows: Row[] = [];
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

  const addRow = (
    tag: RowTag,
    entries: readonly (readonly [number, number])[],
    lower: number,
    upper: number,
  ): void => {
    const used = entries.filter(([, value]) => value !== 0);
    rows.push({ tag, index: used.map(([j]) => j), value: used.map(([, v]) => v), lower, upper });
  };
  const overBlend = (coefficient: (amendment: Amendment, blend: number | null) => number) =>
    plan.amendments.flatMap((amendment, a) =>
      blends.map((blend, b) => [use[a]![b]!, coefficient(amendment, blend)] as const),
    );

  for (const demand of plan.demands) {
    addDemandRows(plan, season, demand, overBlend, addRow);
  }
  for (const limit of plan.limits) {
    addLimitRows(plan, limit, blends, use, addRow);
  }
  plan.amendments.forEach((amendment, a) => {
    if (amendment.stockKg <= 0) return;
    const entries: [number, number][] = use[a]!.map((j) => [j, 1]);
    const bought = buy[a] ?? null;
    if (bought !== null) entries.push([bought, -1]);
    addRow({ kind: "stock", id: amendment.id }, entries, -Infinity, amendment.stockKg);
  });
  return { columns, rows, use, buy, blends };
}

type AddRow = (
  tag: RowTag,
  entries: readonly (readonly [number, number])[],
  lower: number,
  upper: number,
) => void;

function addDemandRows(
  plan: Plan,
  season: Season,
  demand: Demand,
  overBlend: (
    coefficient: (amendment: Amendment, blend: number | null) => number,
  ) => (readonly [number, number])[],
  addRow: AddRow,
): void {
  const { nutrient } = demand;
  const end = plan.seasonDays;
  const supplied = (day: number) =>
    overBlend((amendment, blend) => availablePerKg(plan, season, amendment, nutrient, blend, day));
  for (const day of season.checkpoints) {
    const atEnd = day === end;
    if (!demand.uptake && !atEnd) continue;
    const entries = supplied(day);
    const credit = season.creditKg(nutrient, day);
    const needKg = atEnd ? demand.minKg : takenUpKg(demand, day);
    if (needKg > 0)
      addRow({ kind: atEnd ? "season-min" : "in-time", nutrient, day }, entries, needKg - credit, Infinity);
    if (atEnd && demand.maxKg !== null)
      addRow({ kind: "season-max", nutrient, day }, entries, -Infinity, demand.maxKg - credit);
    if (demand.aheadMaxKg !== null) {
      const room = demand.aheadMaxKg + takenUpKg(demand, day) - credit;
      addRow({ kind: "ahead-max", nutrient, day }, entries, -Infinity, room);
    }
  }
  if (demand.appliedMaxKg !== null) {
    const entries = overBlend((amendment) => amendment.analysis[nutrient] ?? 0);
    addRow({ kind: "applied-max", nutrient }, entries, -Infinity, demand.appliedMaxKg);
  }
}

function addLimitRows(
  plan: Plan,
  limit: Limit,
  blends: readonly (number | null)[],
  use: readonly (readonly number[])[],
  addRow: AddRow,
): void {
  const a = plan.amendments.findIndex((amendment) => amendment.id === limit.id);
  if (a < 0) return;
  blends.forEach((application, b) => {
    const own = use[a]![b]!;
    const tagOf = <K extends "share-min" | "share-max" | "amount-min" | "amount-max" | "not-in">(
      kind: K,
    ) => ({
      kind,
      id: limit.id,
      application,
    });
    const barred =
      application === null
        ? limit.notIn.some((t) => plan.applications[t]!.share > 0)
        : limit.notIn.includes(application);
    if (barred) addRow(tagOf("not-in"), [[own, 1]], -Infinity, 0);
    if (barred && application !== null) return;
    const shareRow = (share: number) =>
      plan.amendments.map((_, i) => [use[i]![b]!, (i === a ? 1 : 0) - share] as const);
    if (limit.minShare !== undefined && limit.minShare > 0)
      addRow(tagOf("share-min"), shareRow(limit.minShare), 0, Infinity);
    if (limit.maxShare !== undefined && limit.maxShare < 1)
      addRow(tagOf("share-max"), shareRow(limit.maxShare), -Infinity, 0);
    if (limit.minKg !== undefined && limit.minKg > 0)
      addRow(tagOf("amount-min"), [[own, 1]], limit.minKg, Infinity);
    if (limit.maxKg !== undefined) addRow(tagOf("amount-max"), [[own, 1]], -Infinity, limit.maxKg);
  });
}
