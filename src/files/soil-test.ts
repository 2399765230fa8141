/**
 * A soil test turned into a need, in the order in which it is believed:
 *
 * 1. the laboratory's own recommendation (`recommends`) takes the place of the need for what it names;
 * 2. a rating (`rating: {P: low}`) is looked up in the crop's published table of amounts;
 * 3. a reading (`P: 12 ppm` with its method) is rated by a published table for that method, and then as in 2.
 *
 * Tables hold for their own words and their own method only. Where they have no row, the need stays as the target has
 * it and a warning says so; nothing is interpolated or carried over.
 */
import type { Counts } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { guess } from "../problem.ts";
import type { Per } from "../units.ts";
import { type BedAt, bedKg, checkPer, rateText } from "./bed.ts";
import type { Cursor } from "./context.ts";
import { crossed } from "./faults.ts";
import type { Counting, Range } from "./schema/amounts.ts";
import { type Band, methodOf, type RatingTables, type SoilTest } from "./schema/soil-test.ts";

/** What is asked of one nutrient, in kg for the bed. */
export interface Need {
  readonly minKg: number;
  readonly maxKg: number | null;
  readonly counts: Counts;
  /** Share of what is available that the crop takes up, by which the need has still to be divided; absent: 1. */
  readonly efficiency?: number;
}

/**
 * A range as a need of the bed, counted by its own word, else by that of all needs beside it, else by `counts`.
 * @returns undefined where the bed does not say enough (reported).
 */
export function needOf(
  bed: BedAt,
  range: Range,
  factor: number,
  whole: Counting & { readonly per?: Per },
  otherwise: Counts,
): Need | undefined {
  const kg = (part: Range["min"]): number | null | undefined =>
    part === undefined ? null : bedKg(bed, part, factor, whole.per);
  const minKg = kg(range.min);
  const maxKg = kg(range.max);
  if (minKg === undefined || maxKg === undefined) return undefined;
  const counts = range.counts ?? whole.counts ?? otherwise;
  const efficiency = counts === "applied" ? undefined : (range.efficiency ?? whole.efficiency);
  return { minKg: minKg ?? 0, maxKg, counts, ...defined({ efficiency }) };
}

/**
 * How a published or recommended rate is counted where it does not say so: of nitrogen what is available to plants, of
 * everything else what is spread.
 */
function countsOfRate(nutrient: Nutrient): Counts {
  return nutrient === "N" ? "available" : "applied";
}

/** A soil test and where it is. */
export interface SoilTestAt {
  readonly test: SoilTest;
  readonly at: Cursor;
}

/** What a soil test works on. Maps are changed in place. */
export interface Asked {
  readonly needs: Map<Nutrient, Need>;
  /** Caps on what is applied, in kg for the bed. */
  readonly caps: Partial<Record<Nutrient, number>>;
  /** Whether the caps are a shipped recipe's, which give way; a grower's own do not. */
  readonly capsGiveWay: boolean;
  /** The plan itself rates the soil's phosphorus. */
  readonly pRated: boolean;
  readonly tables: RatingTables | undefined;
}

/**
 * The rating of a reading: the first whose bound holds.
 * @param value in the unit of the bounds (ppm).
 * @returns undefined where it lies above every bound.
 */
export function ratingOf(bands: readonly Band[], value: number): string | undefined {
  return bands.find(
    ({ below, to }) => (below === undefined || value < below) && (to === undefined || value <= to),
  )?.rating;
}

/**
 * Applies a soil test to needs; every change, and everything that has no answer, is said in a warning.
 * @returns how the test rates each nutrient that it rates, or that a table rates by its reading.
 */
export function applySoilTest(soil: SoilTestAt, asked: Asked, bed: BedAt): ReadonlyMap<Nutrient, string> {
  const applying = new Applying(soil.test, soil.at, asked, bed);
  applying.recommended();
  applying.rated();
  applying.read();
  return applying.ratings;
}

/** A soil test while it is applied. A nutrient that is settled is not looked at again. */
class Applying {
  readonly ratings = new Map<Nutrient, string>();
  private readonly settled = new Set<Nutrient>();

  constructor(
    private readonly test: SoilTest,
    private readonly at: Cursor,
    private readonly asked: Asked,
    private readonly bed: BedAt,
  ) {}

  /** What the laboratory recommends. */
  recommended(): void {
    const { recommends } = this.test;
    if (recommends === undefined) return;
    const at = this.at.at("recommends");
    checkPer(
      at,
      recommends.per,
      recommends.nutrients.flatMap((e) => [e.value.min, e.value.max]),
    );
    for (const { name, nutrient, factor, value } of recommends.nutrients) {
      const need = needOf(this.bed, value, factor, recommends, countsOfRate(nutrient));
      if (need === undefined) continue;
      if (need.maxKg !== null && need.minKg > need.maxKg)
        at.at(name, "max").complain(crossed(`\`max\` of ${name}`));
      else this.replace(nutrient, need, "your laboratory's own recommendation");
    }
  }

  /** What the test rates. */
  rated(): void {
    for (const { nutrient, value: rating } of this.test.ratings) this.ratings.set(nutrient, rating);
    for (const { name, nutrient, value: rating } of this.test.ratings) {
      if (this.settled.has(nutrient)) continue;
      const words = new Set(this.amountsOf(nutrient).flatMap(({ rows }) => rows.map((row) => row.rating)));
      if (words.size === 0 || words.has(rating)) {
        const how = `rated ${rating} by the soil test`;
        this.lookUp(nutrient, rating, how, `The soil test rates ${name} ${rating}`);
        continue;
      }
      this.settled.add(nutrient);
      this.at.at("rating", name).complain({
        code: "choice-unknown",
        wrong: `the recipe's table of amounts for ${nutrient} has no rating \`${rating}\``,
        hint: `${guess(rating, words, "")} its ratings are ${[...words].join(", ")}; or give your laboratory's own figure under \`recommends\``.trim(),
      });
    }
  }

  /** What the test reads, rated by the recipe's tables. */
  read(): void {
    for (const { name, nutrient, factor, value } of this.test.readings) {
      const method = methodOf(this.test.method, nutrient);
      if (this.settled.has(nutrient) || method === undefined) continue;
      const rule = value.perAcre ? " (lb/acre halved, for 2 million lb of soil per acre)" : "";
      const reading = `${Number(value.ppm.toPrecision(4))} ppm by ${method}${rule}`;
      const what = `The soil test reads ${name} ${reading}`;
      const tables = (this.asked.tables?.methods ?? []).filter((table) => table.nutrient === nutrient);
      const table = tables.find((t) => t.method === method);
      // A test may report the oxide where the table counts the element, or the other way round.
      const rating = table && ratingOf(table.bands, (value.ppm * factor) / table.factor);
      if (table === undefined || rating === undefined) {
        const known = tables.map((t) => t.method).join(" and ");
        const why = table
          ? "that is above every bound of the table of ratings"
          : known === ""
            ? `the recipe has no table of ratings for ${name}`
            : `the recipe rates ${name} by ${known} only`;
        this.unanswered(nutrient, what, why);
        continue;
      }
      this.ratings.set(nutrient, rating);
      const rated = `${rating} (${table.source === "" ? "the recipe's table of ratings" : table.source})`;
      this.lookUp(nutrient, rating, `${reading} is ${rated}`, `${what}, which is ${rated}`);
    }
  }

  /**
   * The recipe's amounts by rating for a nutrient, of each of its tables that names it. Where the test names no method,
   * only those of the first table's: `high` means another thing by each.
   */
  private amountsOf(nutrient: Nutrient) {
    const all = (this.asked.tables?.recommends ?? []).flatMap((table) =>
      table.nutrients
        .filter((e) => e.nutrient === nutrient)
        .map(({ factor, value: rows }) => ({ table, factor, rows })),
    );
    const named = methodOf(this.test.method, nutrient) !== undefined;
    return named ? all : all.filter(({ table }) => table.method === all[0]!.table.method);
  }

  private replace(nutrient: Nutrient, need: Need, why: string): void {
    this.settled.add(nutrient);
    const { needs, caps, capsGiveWay, pRated } = this.asked;
    const before = needs.get(nutrient);
    const { minKg } = need;
    const maxKg = need.maxKg ?? (before?.maxKg != null && before.maxKg >= minKg ? before.maxKg : null);
    needs.set(nutrient, { ...need, maxKg });
    const cap = caps[nutrient];
    let lifted = "";
    // The cap on phosphorus follows its rating, where there is one.
    const rated = nutrient === "P2O5" && (pRated || this.ratings.has(nutrient));
    if (cap !== undefined && capsGiveWay && !rated && before && before.minKg > 0 && minKg > before.minKg) {
      caps[nutrient] = (cap * minKg) / before.minKg;
      lifted = ` The recipe's cap on what is applied grows with it, to ${rateText(this.bed, caps[nutrient])}.`;
    }
    const instead = before ? `, in place of ${rateText(this.bed, before.minKg)}` : "";
    const counted =
      need.counts === "applied" && minKg > 0
        ? ` It is counted as it is spread, credits included. To count what becomes available instead, write \`counts: available\`.`
        : "";
    const text = `${nutrient} need ${rateText(this.bed, minKg)}${instead}: ${why}.${counted}${lifted}`;
    this.at.warn("soil-test-need", text);
  }

  private unanswered(nutrient: Nutrient, what: string, why: string): void {
    this.settled.add(nutrient);
    const need = this.asked.needs.get(nutrient);
    const stays = need
      ? `The need stays at ${rateText(this.bed, need.minKg)}, which takes no account of the soil`
      : `Nothing is asked of ${nutrient}`;
    const text = `${what}: ${why}. ${stays}; your laboratory's own figure can go under \`soil_test.recommends\`.`;
    this.at.warn("soil-test-unanswered", text);
  }

  /**
   * Looks an amount up by rating.
   * @param how the rating came to be, for a need that follows from it; `what` is the same as a sentence, for none.
   */
  private lookUp(nutrient: Nutrient, rating: string, how: string, what: string): void {
    const found = this.amountFor(nutrient, rating);
    if (typeof found === "string") this.unanswered(nutrient, what, found);
    else this.replace(nutrient, found.need, `${how}${found.from}`);
  }

  /** The tables' amount for a rating and where it comes from, or why there is none. */
  private amountFor(nutrient: Nutrient, rating: string): { need: Need; from: string } | string {
    const method = methodOf(this.test.method, nutrient);
    const all = this.amountsOf(nutrient);
    if (all.length === 0) return `the recipe has no table of amounts for ${nutrient} by rating`;
    const fitting = all.filter(({ table }) => method === undefined || table.method === method);
    if (fitting.length === 0)
      return `the recipe's amounts for ${nutrient} are for ${all.map(({ table }) => table.method).join(" and ")} ratings, and a rating holds for its own method only`;
    for (const { table, factor, rows } of fitting) {
      const row = rows.find((r) => r.rating === rating);
      const need = row && needOf(this.bed, row.amount, factor, table, countsOfRate(nutrient));
      if (need === undefined) continue;
      const assumed =
        method === undefined ? `, taken as a ${table.method} rating since the test names no method` : "";
      const source = table.source === "" ? "the recipe's table, which names no source" : table.source;
      return { need, from: `${assumed}; ${source}` };
    }
    const words = new Set(fitting.flatMap(({ rows }) => rows.map((r) => r.rating)));
    return `the table of amounts has no row \`${rating}\`, only ${[...words].join(", ")}`;
  }
}
