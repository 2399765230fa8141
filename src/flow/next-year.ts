/** Next year's plan after a season: what the shed holds, what was paid, and what last year's spreadings still release. */
import { dateOfDay, dayOfDate, parseDate } from "../calendar.ts";
import type { SeasonFile } from "../files/season-model.ts";
import type { Amendment, NamedCurve, Pack } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { fromSi } from "../units.ts";
import { weight } from "../words/numbers.ts";
import { lastDay, seasonRest } from "./season-rest.ts";

/** What the files of a next plan say, as plain values. */
export interface NextYear {
  /** A year after the season's own. */
  readonly planted: string;
  /** By id: stock, and packs at the prices paid where any was. */
  readonly amendments: Readonly<Record<string, object>>;
  readonly credits: readonly object[];
  /** What the soil is left with, in sentences. */
  readonly notes: readonly string[];
}

/** Nutrients that are credited as they are released; others stay in the soil and show in its test. */
const CREDITED: readonly Nutrient[] = ["N", "S"];
/** Less is not worth a line. */
const LEAST_KG = 0.005;

/** What a season of one bed leaves to the next. */
export function nextYear(season: SeasonFile): NextYear {
  const [bed] = season.beds;
  const { shed, beds } = seasonRest(season, lastDay(season.log));
  const { standing } = beds[0]!;
  const planted = yearLater(season.planted);
  const days = dayOfDate(parseDate(planted)!, season.planted);
  const unit = season.units === "us" ? "lb" : "kg";
  const text = (kg: number): string => `${Number(fromSi(kg, unit).toFixed(3))} ${unit}`;
  const stocked = season.materials.filter((one) => (shed.kg.get(one.id) ?? 0) > LEAST_KG || one.stockKg > 0);
  const paid = season.materials.filter((one) => packsPaid(season, one) !== null);
  const amendments = Object.fromEntries(
    [...new Set([...stocked, ...paid])].map((one) => {
      const packs = packsPaid(season, one);
      const stock = text(shed.kg.get(one.id) ?? 0);
      return [
        one.id,
        {
          stock,
          ...(packs
            ? {
                packs: packs.map(({ sizeKg, price, supplier }) => ({
                  size: text(sizeKg),
                  price,
                  ...(supplier ? { supplier } : {}),
                })),
              }
            : {}),
        },
      ];
    }),
  );
  const byMaterial = (id: string): Amendment => season.materials.find((one) => one.id === id)!;
  const credits = standing.past.given.flatMap(({ day, kg }) =>
    kg.flatMap(({ id, kg: weighed }) =>
      CREDITED.flatMap((nutrient) => {
        const { analysis, release, name } = byMaterial(id);
        const content = weighed * (analysis[nutrient] ?? 0);
        const curve = release.byNutrient[nutrient] ?? release.other;
        if (content < LEAST_KG || isGone(curve)) return [];
        const from = `${name}, spread ${dateOfDay(day, season.planted)} (${nutrient})`;
        return [{ from, per: "bed", [nutrient]: text(content), release: released(curve), day: day - days }];
      }),
    ),
  );
  const notes = (["P2O5", "K2O"] as const).flatMap((nutrient) => {
    const spread = standing.past.given.reduce(
      (sum, { kg }) =>
        sum + kg.reduce((part, one) => part + one.kg * (byMaterial(one.id).analysis[nutrient] ?? 0), 0),
      0,
    );
    const removed = bed!.removalKg?.[nutrient];
    const less =
      removed === undefined
        ? "; what the harvest carried off is not known"
        : `, less ${weight(removed, season.units)} that the harvest carries off`;
    return spread > 0
      ? [`${nutrient} spread: ${weight(spread, season.units)}${less}. A soil test counts it.`]
      : [];
  });
  return { planted, amendments, credits, notes };
}

/** The same day of the next year; of a 29th of February, the day before. */
function yearLater(planted: string): string {
  const { year, month, day } = parseDate(planted)!;
  const next = `${year! + 1}-${String(month).padStart(2, "0")}-`;
  const same = `${next}${String(day).padStart(2, "0")}`;
  return parseDate(same) === null ? `${next}${day - 1}` : same;
}

const isGone = ({ curve }: NamedCurve): boolean => curve.kind === "pool" && curve.later === 0;

/** A release as a file writes it. */
function released({ curve }: NamedCurve): object {
  const percent = (share: number): string => `${Number((100 * share).toPrecision(6))}%`;
  if (curve.kind === "points")
    return {
      points: Object.fromEntries(curve.points.map(([day, share]) => [day, percent(share)])),
      q10: curve.q10,
      reference: `${curve.referenceC} C`,
    };
  const { atOnce, later, halfLifeDays, q10, referenceC } = curve;
  return {
    at_once: percent(atOnce),
    later: percent(later),
    half_life: `${halfLifeDays} days`,
    q10,
    reference: `${referenceC} C`,
  };
}

/** The packs of a material with what was paid last for a size; null where nothing was paid for any. */
function packsPaid(season: SeasonFile, { id, packs }: Amendment): readonly Pack[] | null {
  const bought = season.log.flatMap((line) =>
    line.kind === "bought" && line.id === id && line.packs && line.paid !== undefined
      ? [{ sizeKg: line.packs.sizeKg, price: line.paid / line.packs.count, supplier: line.supplier }]
      : [],
  );
  if (bought.length === 0) return null;
  const same = (a: number, b: number): boolean => Math.abs(a - b) <= 1e-6 * b;
  const latest = (pack: Pack) => bought.findLast(({ sizeKg }) => same(sizeKg, pack.sizeKg));
  const others = bought.filter(
    ({ sizeKg }, i) =>
      !packs.some((pack) => same(sizeKg, pack.sizeKg)) &&
      bought.findLastIndex((one) => same(one.sizeKg, sizeKg)) === i,
  );
  return [
    ...packs.map((pack) => ({ ...pack, price: latest(pack)?.price ?? pack.price })),
    ...others.map(({ supplier, ...pack }) => ({ ...pack, ...(supplier === undefined ? {} : { supplier }) })),
  ];
}
