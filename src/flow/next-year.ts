/** Next year's plan after a season: what the shed holds, what was paid, and what last year's spreadings still release. */
import { dateOfDay, dayOfDate, parseDate } from "../calendar.ts";
import type { SeasonFile } from "../files/season-model.ts";
import type { Amendment, Pack, ReleaseCurve } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
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
  const { units, materials } = season;
  const [bed] = season.beds;
  const { shed, beds } = seasonRest(season, lastDay(season.log));
  const { given } = beds[0]!.standing.past;
  const planted = yearLater(season.planted);
  const days = dayOfDate(parseDate(planted)!, season.planted);
  const unit = units === "us" ? "lb" : "kg";
  const text = (kg: number): string => `${Number(fromSi(kg, unit).toFixed(3))} ${unit}`;
  const amendments = materials.flatMap((one) => {
    const paid = packsPaid(season, one);
    const left = shed.kg.get(one.id) ?? 0;
    if (paid === null && left <= LEAST_KG && one.stockKg <= 0) return [];
    const packs = paid?.map(({ sizeKg, price, supplier }) => ({
      size: text(sizeKg),
      price,
      ...defined({ supplier }),
    }));
    return [[one.id, { stock: text(left), ...defined({ packs }) }] as const];
  });
  const spread = given.flatMap(({ day, kg }) =>
    kg.map((one) => ({ day, kg: one.kg, of: materials.find(({ id }) => id === one.id)! })),
  );
  const credits = spread.flatMap(({ day, kg, of: { analysis, release, name } }) =>
    CREDITED.flatMap((nutrient) => {
      const content = kg * (analysis[nutrient] ?? 0);
      const { curve } = release.byNutrient[nutrient] ?? release.other;
      const isGone = curve.kind === "pool" && curve.later === 0;
      if (content < LEAST_KG || isGone) return [];
      const from = `${name}, spread ${dateOfDay(day, season.planted)} (${nutrient})`;
      return [
        {
          from,
          per: "bed",
          [nutrient]: text(content / (bed!.bed.bedsAlike ?? 1)),
          release: released(curve),
          day: day - days,
        },
      ];
    }),
  );
  const notes = (["P2O5", "K2O"] as const).flatMap((nutrient) => {
    const brought = spread.reduce((sum, { kg, of }) => sum + kg * (of.analysis[nutrient] ?? 0), 0);
    const removed = bed!.removalKg?.[nutrient];
    const less =
      removed === undefined
        ? "; what the harvest carried off is not known"
        : `, less ${weight(removed, units)} that the harvest carries off`;
    return brought > 0
      ? [`${nutrient} spread: ${weight(brought, units)}${less}. A soil test counts it.`]
      : [];
  });
  const kept = [...shed.kept].flatMap(([mix, kg]) =>
    kg > LEAST_KG
      ? [
          `${weight(kg, units)} of mix ${mix} is mixed and kept; it is not in the stock: spread it, or take its nutrients for credits.`,
        ]
      : [],
  );
  return { planted, amendments: Object.fromEntries(amendments), credits, notes: [...notes, ...kept] };
}

/** The same day of the next year; of a 29th of February, the day before. */
function yearLater(planted: string): string {
  const { year, month, day } = parseDate(planted)!;
  const next = `${year! + 1}-${String(month).padStart(2, "0")}-`;
  const same = `${next}${String(day).padStart(2, "0")}`;
  return parseDate(same) === null ? `${next}${day - 1}` : same;
}

/** A release as a file writes it. */
function released(curve: ReleaseCurve): object {
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
function packsPaid({ log }: SeasonFile, { id, packs }: Amendment): readonly Pack[] | null {
  const paid = log.flatMap((line) =>
    line.kind === "bought" && line.id === id && line.packs && line.paid !== undefined
      ? [
          {
            sizeKg: line.packs.sizeKg,
            price: line.paid / line.packs.count,
            ...defined({ supplier: line.supplier }),
          },
        ]
      : [],
  );
  if (paid.length === 0) return null;
  const bySize = new Map(packs.map((pack) => [pack.sizeKg.toPrecision(6), pack]));
  for (const pack of paid) {
    const size = pack.sizeKg.toPrecision(6);
    const known = bySize.get(size);
    bySize.set(size, { ...known, ...pack });
  }
  return [...bySize.values()];
}
