/** What the crop gets: the season's balance of each nutrient, and the days before its end. */
import type { BedNutrient } from "../results/solution.ts";
import { countingNotes } from "../words/counting-words.ts";
import { plainNumber, type UnitSystem, weightBeside } from "../words/numbers.ts";
import { dateWords, dayWords } from "../words/own-measures.ts";
import { ofBed, type View } from "./answer-view.ts";
import {
  type Block,
  bullets,
  type Cell,
  cell,
  figures,
  type Section,
  section,
  table,
  words,
} from "./report.ts";
import { TOLERANCE, tidyZero, type Writer } from "./writer.ts";

/** Whose balance it is. */
interface Balance extends Pick<Writer, "masses"> {
  readonly nutrients: readonly Delivered[];
  readonly units: UnitSystem;
  readonly planted?: string | undefined;
  /** Of a given mix, which may be short of its needs: says by how much in place of what a mix made for them is due. */
  readonly given: boolean;
}
type Delivered = Omit<BedNutrient, "shadowPricePerKg">;

/** The season's balance of each nutrient, and the need on the days before its end. */
export function nutrientSections(view: View): Section[] {
  const { solution, masses } = view;
  return view.beds.flatMap((one) => {
    const { bed, plan } = one;
    const { units } = solution;
    const balance: Balance = { nutrients: bed.nutrients, units, masses, planted: plan.planted, given: false };
    return [
      ...section(
        ofBed(
          view,
          one,
          `What the crop gets by the season's end, ${dayWords(plan.seasonDays, plan.planted)}`,
        ),
        seasonTable(balance),
        bullets(countingNotes(bed, plan)),
      ),
      ...inTimeSections(balance),
    ];
  });
}

/** What each nutrient comes to by the season's end. */
export function seasonTable({ nutrients, units, masses, given }: Balance): Block {
  const beside = (kg: number, n: Delivered) => weightBeside(kg, Math.max(n.availableKg, n.minKg), units);
  const spread = !given && nutrients.some((n) => n.counts === "applied");
  const credited = !given && nutrients.some((n) => n.creditKg > 0);
  return table(nutrients, [
    words("Nutrient", "nutrient", (n) => n.nutrient),
    masses("Needed", "needed", (n) => (n.minKg > 0 ? n.minKg : null), beside),
    masses("at most", "most", (n) => n.maxKg, beside),
    words("counted as", "counts", (n) =>
      spread && (n.minKg > 0 || n.maxKg !== null) ? (n.counts === "applied" ? "spread" : "available") : null,
    ),
    masses("Available", "available", (n) => n.availableKg, beside),
    masses("of it from credits", "credit", (n) => (credited ? n.creditKg : null), beside),
    masses("Short or over", "difference", (n) => (given ? offBy(n) : null), beside),
    masses("Spread in all", "applied", (n) => n.appliedKg, beside),
    masses("at most", "applied_most", (n) => n.appliedMaxKg, beside),
    words("Check", "check", (n) => {
      if (n.minKg <= 0 && n.maxKg === null && n.appliedMaxKg === null) return null;
      const supply = check(n.countedKg, n.minKg, n.maxKg, "OVER");
      return supply.tone === "good" ? check(n.appliedKg, 0, n.appliedMaxKg, "OVER") : supply;
    }),
  ]);
}

/** The days before the season's end on which needs are checked. */
export function inTimeSections({ nutrients, units, masses, planted, given }: Balance): Section[] {
  const last = Math.max(...nutrients.flatMap((n) => n.checkpoints.map((point) => point.day)), 0);
  const points = nutrients
    .filter((n) => n.minKg > 0 || (!given && n.aheadMaxKg !== null))
    .flatMap(({ nutrient, aheadMaxKg, checkpoints }) =>
      checkpoints.map((point) => ({ ...point, nutrient, aheadMaxKg })),
    )
    .filter((point) => point.day < last)
    .sort((a, b) => a.day - b.day);
  type Point = (typeof points)[number];
  const beside = (kg: number, p: Point) => weightBeside(kg, Math.max(p.availableKg, p.needKg), units);
  const over = ({ availableKg, needKg }: Point) =>
    given ? availableKg - needKg : tidyZero(availableKg - needKg, availableKg);
  return section(
    "In time for the crop",
    table(points, [
      figures("Before day", "day", (p) => p.day, plainNumber),
      words("Date", "date", (p) => dateWords(p.day, planted)),
      words("Nutrient", "nutrient", (p) => p.nutrient),
      masses("Needed by then", "needed", (p) => p.needKg, beside),
      masses("Available", "available", (p) => p.availableKg, beside),
      masses(given ? "Short or over" : "Ahead of the crop", "difference", over, beside),
      masses("at most", "ahead_most", (p) => (given ? null : p.aheadMaxKg), beside),
      words("Check", "check", (p) =>
        check(
          p.availableKg,
          p.needKg,
          p.aheadMaxKg === null ? null : p.needKg + p.aheadMaxKg,
          given ? "OVER" : "AHEAD",
        ),
      ),
    ]),
  );
}

/** What counts less what is needed, or less the most where it is above that; null where neither is stated. */
function offBy({ countedKg, minKg, maxKg }: Delivered): number | null {
  if (maxKg !== null && countedKg > maxKg) return countedKg - maxKg;
  return minKg > 0 ? countedKg - minKg : null;
}

function check(value: number, least: number, most: number | null, above: string): Cell {
  if (value < least - TOLERANCE * Math.max(least, 1e-9)) return cell("SHORT", "bad");
  if (most !== null && value > most + TOLERANCE * Math.max(most, 1e-9)) return cell(above, "bad");
  return cell("ok", "good");
}
