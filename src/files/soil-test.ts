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
import { nearest } from "../problem.ts";
import { fromSi, type Per } from "../units.ts";
import { type BedAt, bedKg } from "./bed.ts";
import { complain, type Loading, warn } from "./context.ts";
import { type Counting, crossed, type Range } from "./schema/amounts.ts";
import type { Band, RatingTables, SoilTest } from "./schema/soil-test.ts";
import type { Path, Tree } from "./source.ts";

/** What is asked of one nutrient, in kg for the bed. */
export interface Need {
  readonly minKg: number;
  readonly maxKg: number | null;
  readonly counts: Counts;
  /** Share of what is available that the crop takes up, by which the need has still to be divided; absent: 1. */
  readonly efficiency?: number;
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
  readonly tree: Tree;
  readonly path: Path;
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

/** An amount for the bed as a rate that people know, in the plan's units. */
export function rateText(kg: number, at: BedAt, units: "us" | "metric"): string {
  const round = (value: number): string => String(Number(value.toPrecision(3)));
  const area = at.bed.areaM2;
  if (area === undefined)
    return units === "us" ? `${round(fromSi(kg, "lb"))} lb for the bed` : `${round(kg)} kg for the bed`;
  return units === "us"
    ? `${round(fromSi(kg / area, "lb/1000 sq ft"))} lb per 1000 sq ft`
    : `${round(fromSi(kg / area, "kg/ha"))} kg/ha`;
}

/**
 * Applies a soil test to needs; every change, and everything that has no answer, is said in a warning.
 * @returns how the test rates each nutrient that it rates, or that a table rates by its reading.
 */
export function applySoilTest(
  loading: Loading,
  soil: SoilTestAt,
  asked: Asked,
  at: BedAt,
  units: "us" | "metric",
): ReadonlyMap<Nutrient, string> {
  const applying = new Applying(loading, soil, asked, at, units);
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
    private readonly loading: Loading,
    private readonly soil: SoilTestAt,
    private readonly asked: Asked,
    private readonly at: BedAt,
    private readonly units: "us" | "metric",
  ) {}

  private shown(kg: number): string {
    return rateText(kg, this.at, this.units);
  }

  /** What the laboratory recommends. */
  recommended(): void {
    const { recommends } = this.soil.test;
    if (recommends && recommends.per === undefined) {
      if (recommends.nutrients.some((e) => e.value.min?.kind === "mass" || e.value.max?.kind === "mass"))
        complain(this.loading, this.soil.tree, {
          code: "key-missing",
          path: [...this.soil.path, "recommends"],
          at: "key",
          wrong: "these weights do not say what they are counted per",
          hint: "add `per`: `plant`, `bed`, or an area such as `1000 sq ft` or `acre`",
        });
    }
    for (const e of recommends?.nutrients ?? []) {
      const range = needOf(this.loading, e.value, e, recommends ?? {}, this.at);
      if (range === undefined) continue;
      if (range.maxKg !== null && range.minKg > range.maxKg) {
        complain(this.loading, this.soil.tree, {
          ...crossed(e.name),
          path: [...this.soil.path, "recommends", e.name, "max"],
        });
        continue;
      }
      this.replace(e.nutrient, range, "your laboratory's own recommendation");
    }
  }

  /** What the test rates. */
  rated(): void {
    for (const { nutrient, value: rating } of this.soil.test.ratings) this.ratings.set(nutrient, rating);
    for (const { name, nutrient, value: rating } of this.soil.test.ratings) {
      if (this.settled.has(nutrient)) continue;
      const method = methodOf(this.soil.test, nutrient);
      const words = new Set(
        (this.asked.tables?.recommends ?? []).flatMap((table) =>
          table.nutrients.filter((e) => e.nutrient === nutrient).flatMap((e) => e.value.map((r) => r.rating)),
        ),
      );
      if (words.size > 0 && !words.has(rating)) {
        this.settled.add(nutrient);
        const near = nearest(rating, words);
        complain(this.loading, this.soil.tree, {
          code: "choice-unknown",
          path: [...this.soil.path, "rating", name],
          wrong: `the recipe's table of amounts for ${nutrient} has no rating \`${rating}\``,
          hint: `${near === undefined ? "" : `did you mean \`${near}\`? `}its ratings are ${[...words].join(", ")}; or give your laboratory's own figure under \`recommends\``,
        });
        continue;
      }
      const why = this.lookUp(nutrient, rating, method, `rated ${rating} by the soil test`);
      if (why !== null) this.unanswered(nutrient, `The soil test rates ${name} ${rating}`, why);
    }
  }

  /** What the test reads, rated by the recipe's tables. */
  read(): void {
    for (const { name, nutrient, factor, value } of this.soil.test.readings) {
      if (this.settled.has(nutrient)) continue;
      const method = methodOf(this.soil.test, nutrient);
      if (method === undefined) continue;
      const ppm = String(Number(value.ppm.toPrecision(4)));
      const rule = value.perAcre ? " (lb/acre halved, for 2 million lb of soil per acre)" : "";
      const what = `The soil test reads ${name} ${ppm} ppm by ${method}${rule}`;
      const tables = (this.asked.tables?.methods ?? []).filter((table) => table.nutrient === nutrient);
      const table = tables.find((t) => t.method === method);
      if (table === undefined) {
        const known = tables.map((t) => t.method);
        this.unanswered(
          nutrient,
          what,
          known.length === 0
            ? `the recipe has no table of ratings for ${name}`
            : `the recipe rates ${name} by ${known.join(" and ")} only`,
        );
        continue;
      }
      // A test may report the oxide where the table counts the element, or the other way round.
      const counted = (value.ppm * factor) / table.factor;
      const rating = ratingOf(table.bands, counted);
      if (rating === undefined) {
        this.unanswered(nutrient, what, "that is above every bound of the table of ratings");
        continue;
      }
      this.ratings.set(nutrient, rating);
      const by = table.source === "" ? "the recipe's table of ratings" : table.source;
      const why = this.lookUp(
        nutrient,
        rating,
        method,
        `${ppm} ppm by ${method}${rule} is ${rating} (${by})`,
      );
      if (why !== null) this.unanswered(nutrient, `${what}, which is ${rating} (${by})`, why);
    }
  }

  private replace(nutrient: Nutrient, range: Need, why: string): void {
    this.settled.add(nutrient);
    const before = this.asked.needs.get(nutrient);
    const { minKg } = range;
    const maxKg = range.maxKg ?? (before?.maxKg != null && before.maxKg >= minKg ? before.maxKg : null);
    this.asked.needs.set(nutrient, { ...range, maxKg });
    const cap = this.asked.caps[nutrient];
    let lifted = "";
    // The cap on phosphorus follows its rating, where there is one.
    const rated = nutrient === "P2O5" && (this.asked.pRated || this.ratings.has(nutrient));
    if (
      cap !== undefined &&
      this.asked.capsGiveWay &&
      !rated &&
      before &&
      before.minKg > 0 &&
      minKg > before.minKg
    ) {
      this.asked.caps[nutrient] = (cap * minKg) / before.minKg;
      lifted = ` The recipe's cap on what is applied grows with it, to ${this.shown(this.asked.caps[nutrient])}.`;
    }
    const instead = before ? `, in place of ${this.shown(before.minKg)}` : "";
    const counted =
      range.counts === "applied" && minKg > 0
        ? ` It is counted as it is spread, credits included; earlier versions took it for what becomes available (\`counts: available\` still does).`
        : "";
    warn(
      this.loading,
      "soil-test-need",
      `${nutrient} need ${this.shown(minKg)}${instead}: ${why}.${counted}${lifted}`,
    );
  }

  private unanswered(nutrient: Nutrient, what: string, why: string): void {
    this.settled.add(nutrient);
    const need = this.asked.needs.get(nutrient);
    const stays = need
      ? `The need stays at ${this.shown(need.minKg)}, which takes no account of the soil`
      : `Nothing is asked of ${nutrient}`;
    warn(
      this.loading,
      "soil-test-unanswered",
      `${what}: ${why}. ${stays}; your laboratory's own figure can go under \`soil_test.recommends\`.`,
    );
  }

  /** Looks an amount up by rating. @returns why there is none, or null. */
  private lookUp(nutrient: Nutrient, rating: string, method: string | undefined, how: string): string | null {
    const rows = (this.asked.tables?.recommends ?? []).flatMap((table) =>
      table.nutrients.filter((e) => e.nutrient === nutrient).map((e) => ({ table, e })),
    );
    if (rows.length === 0) return `the recipe has no table of amounts for ${nutrient} by rating`;
    const fitting = rows.filter(({ table }) => method === undefined || table.method === method);
    if (fitting.length === 0)
      return `the recipe's amounts for ${nutrient} are for ${rows.map(({ table }) => table.method).join(" and ")} ratings, and a rating holds for its own method only`;
    for (const { table, e } of fitting) {
      const row = e.value.find((r) => r.rating === rating);
      const range = row && needOf(this.loading, row.amount, e, table, this.at);
      if (range === undefined) continue;
      const assumed =
        method === undefined ? `, taken as a ${table.method} rating since the test names no method` : "";
      const source = table.source === "" ? "the recipe's table, which names no source" : table.source;
      this.replace(nutrient, range, `${how}${assumed}; ${source}`);
      return null;
    }
    const words = [...new Set(fitting.flatMap(({ e }) => e.value.map((r) => r.rating)))];
    return `the table of amounts has no row \`${rating}\`, only ${words.join(", ")}`;
  }
}

function methodOf(test: SoilTest, nutrient: Nutrient): string | undefined {
  return test.methods.find((m) => m.nutrient === nutrient)?.value ?? test.method;
}

function needOf(
  loading: Loading,
  range: Range,
  { nutrient, factor }: { readonly nutrient: Nutrient; readonly factor: number },
  whole: Counting & { readonly per?: Per },
  at: BedAt,
): Need | undefined {
  const kg = (part: Range["min"]): number | null | undefined =>
    part === undefined ? null : bedKg(loading, part, factor, whole.per, at);
  const min = kg(range.min);
  const max = kg(range.max);
  if (min === undefined || max === undefined) return undefined;
  const counts = range.counts ?? whole.counts ?? countsOfRate(nutrient);
  const efficiency = range.efficiency ?? whole.efficiency;
  return {
    minKg: min ?? 0,
    maxKg: max,
    counts,
    ...(efficiency === undefined || counts === "applied" ? {} : { efficiency }),
  };
}
