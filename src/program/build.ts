/** A plan and its season as a linear program: kilograms for the whole bed, money in the plan's currency. */
import type { Amendment, Application, Demand, Limit, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { type Season, takenUpKg } from "../season/season.ts";
import type { PlanColumn, PlanProgram, PlanRow, RowTag } from "./tags.ts";

/** Money per kg by the cheapest way of buying it; null where it can only come from stock. */
export function cheapestPricePerKg(amendment: Amendment): number | null {
  const prices = amendment.packs.map((pack) => pack.price / pack.sizeKg);
  if (amendment.bulkPricePerKg !== undefined) prices.push(amendment.bulkPricePerKg);
  return prices.length === 0 ? null : Math.min(...prices);
}

/** The applications that share one recipe: the whole blend (null), or each by itself. */
function blendsOf(plan: Plan): readonly (number | null)[] {
  return plan.blend === "one" ? [null] : plan.applications.map((_, t) => t);
}

/** kg of a nutrient available on `day` per kg of the amendment in a blend. */
function availablePerKg(
  plan: Plan,
  season: Season,
  amendment: Amendment,
  nutrient: Nutrient,
  blend: number | null,
  day: number,
): number {
  const content = amendment.analysis[nutrient] ?? 0;
  if (content === 0) return 0;
  const spreadIn = (application: Application): number =>
    season.available(amendment, nutrient, application.day, day, application.placement);
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
  readonly blends: readonly (number | null)[];
}

/**
 * Builds the continuous program. Columns: kg of each amendment in each blend, then kg bought where there is stock.
 * Rows that hold by themselves (a zero need) are left out; every other demand of the plan is a row.
 */
export function buildProgram(plan: Plan, season: Season): BlendProgram {
  const blends = blendsOf(plan);
  const columns: PlanColumn[] = [];
  const rows: PlanRow[] = [];
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

  const addRow: AddRow = (tag, entries, lower, upper, scale) => {
    rows.push({ tag, ...entries, lower, upper, ...(scale === undefined ? {} : { scale }) });
  };
  for (const demand of plan.demands) {
    const sources = plan.amendments.flatMap((amendment, a) =>
      amendment.analysis[demand.nutrient] ? [{ amendment, columns: use[a]! }] : [],
    );
    const overBlends: OverBlends = (coefficient) => {
      const entries: Entries = { index: [], value: [] };
      for (const { amendment, columns } of sources)
        for (let b = 0; b < blends.length; b++)
          addEntry(entries, columns[b]!, coefficient(amendment, blends[b]!));
      return entries;
    };
    addDemandRows(plan, season, demand, overBlends, addRow);
  }
  for (const limit of plan.limits) {
    addLimitRows(plan, limit, blends, use, addRow);
  }
  plan.amendments.forEach((amendment, a) => {
    if (amendment.stockKg <= 0) return;
    const entries: Entries = { index: [...use[a]!], value: use[a]!.map(() => 1) };
    const bought = buy[a] ?? null;
    if (bought !== null) addEntry(entries, bought, -1);
    rows.push({
      tag: { kind: "stock", id: amendment.id },
      ...entries,
      lower: -Infinity,
      upper: amendment.stockKg,
      fact: true,
    });
  });
  return { columns, rows, use, buy, blends };
}

/** The terms of a row: columns, and what is before each. */
interface Entries {
  readonly index: number[];
  readonly value: number[];
}

function addEntry(entries: Entries, column: number, value: number): void {
  if (value === 0) return;
  entries.index.push(column);
  entries.value.push(value);
}

/** The terms of what each amendment that holds a nutrient brings of it in each blend. */
type OverBlends = (coefficient: (amendment: Amendment, blend: number | null) => number) => Entries;

/** `scale`: the weight that a bound is a difference from, which says how exact the bound can be. */
type AddRow = (tag: RowTag, entries: Entries, lower: number, upper: number, scale?: number) => void;

/** What credits leave of a weight; nothing where only rounding is left. */
function less(kg: number, creditKg: number): number {
  const left = kg - creditKg;
  return Math.abs(left) <= 1e-12 * Math.max(Math.abs(kg), Math.abs(creditKg)) ? 0 : left;
}

function addDemandRows(
  plan: Plan,
  season: Season,
  demand: Demand,
  overBlends: OverBlends,
  addRow: AddRow,
): void {
  const { nutrient } = demand;
  const end = plan.seasonDays;
  const supplied = (day: number) =>
    overBlends((amendment, blend) => availablePerKg(plan, season, amendment, nutrient, blend, day));
  const applied = () => overBlends((amendment) => amendment.analysis[nutrient] ?? 0);
  const countable = () =>
    overBlends((amendment) => (amendment.analysis[nutrient] ?? 0) * (amendment.effective?.[nutrient] ?? 1));
  for (const day of season.checkpoints) {
    const atEnd = day === end;
    if (!demand.uptake && !atEnd) continue;
    const entries = supplied(day);
    const credit = season.creditKg(nutrient, day);
    const counted = demand.counts === "applied" ? countable() : entries;
    const countedCredit = demand.counts === "applied" ? season.creditInAllKg(nutrient) : credit;
    const needKg = atEnd ? demand.minKg : takenUpKg(demand, day);
    if (needKg > 0)
      addRow(
        { kind: atEnd ? "season-min" : "in-time", nutrient, day },
        counted,
        less(needKg, countedCredit),
        Infinity,
        needKg,
      );
    if (atEnd && demand.maxKg !== null)
      addRow(
        { kind: "season-max", nutrient, day },
        counted,
        -Infinity,
        less(demand.maxKg, countedCredit),
        demand.maxKg,
      );
    if (demand.aheadMaxKg !== null) {
      const mostKg = demand.aheadMaxKg + takenUpKg(demand, day);
      addRow({ kind: "ahead-max", nutrient, day }, entries, -Infinity, less(mostKg, credit), mostKg);
    }
  }
  if (demand.appliedMaxKg !== null)
    addRow({ kind: "applied-max", nutrient }, applied(), -Infinity, demand.appliedMaxKg);
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
    const alone: Entries = { index: [use[a]![b]!], value: [1] };
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
    if (barred) addRow(tagOf("not-in"), alone, -Infinity, 0);
    if (barred && application !== null) return;
    const shareRow = (share: number): Entries => {
      const entries: Entries = { index: [], value: [] };
      use.forEach((columns, i) => {
        addEntry(entries, columns[b]!, (i === a ? 1 : 0) - share);
      });
      return entries;
    };
    if (limit.minShare !== undefined && limit.minShare > 0)
      addRow(tagOf("share-min"), shareRow(limit.minShare), 0, Infinity);
    if (limit.maxShare !== undefined && limit.maxShare < 1)
      addRow(tagOf("share-max"), shareRow(limit.maxShare), -Infinity, 0);
    if (limit.minKg !== undefined && limit.minKg > 0)
      addRow(tagOf("amount-min"), alone, limit.minKg, Infinity);
    if (limit.maxKg !== undefined) addRow(tagOf("amount-max"), alone, -Infinity, limit.maxKg);
  });
}
