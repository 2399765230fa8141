/** What the crop gets: the season's balance of each nutrient, and the days before its end. */
import type { SolutionNutrient } from "../results/solution.ts";
import { countingNotes } from "../words/counting-words.ts";
import { plainNumber, weightBeside } from "../words/numbers.ts";
import { dateWords, dayWords } from "../words/own-measures.ts";
import { bullets, type Cell, cell, figures, type Section, tableBlock, tableOf, words } from "./report.ts";
import { masses, TOLERANCE, tidyZero, type View } from "./solution-view.ts";

/** The season's balance of each nutrient, and the need on the days before its end. */
export function nutrientSections(view: View): Section[] {
  const { solution } = view;
  const { units } = solution;
  const { planted } = solution.inputs;
  const beside = (kg: number, n: SolutionNutrient) =>
    weightBeside(kg, Math.max(n.availableKg, n.minKg), units);
  const spread = solution.nutrients.some((n) => n.counts === "applied");
  const credited = solution.nutrients.some((n) => n.creditKg > 0);
  const season = tableOf(solution.nutrients, [
    words("Nutrient", "nutrient", (n) => n.nutrient),
    masses(view, "Needed", "needed", (n) => (n.minKg > 0 ? n.minKg : null), beside),
    masses(view, "at most", "most", (n) => n.maxKg, beside),
    words("counted as", "counts", (n) =>
      spread && (n.minKg > 0 || n.maxKg !== null) ? (n.counts === "applied" ? "spread" : "available") : null,
    ),
    masses(view, "Available", "available", (n) => n.availableKg, beside),
    masses(view, "of it from credits", "credit", (n) => (credited ? n.creditKg : null), beside),
    masses(view, "Spread in all", "applied", (n) => n.appliedKg, beside),
    masses(view, "at most", "applied_most", (n) => n.appliedMaxKg, beside),
    words("Check", "check", seasonCheck),
  ]);
  const notes = countingNotes(solution);
  const sections: Section[] = [
    {
      title: `What the crop gets by the season's end, ${dayWords(solution.inputs.seasonDays, planted)}`,
      blocks: [tableBlock(season), ...(notes.length > 0 ? [bullets(notes)] : [])],
    },
  ];
  const points = solution.nutrients
    .filter((n) => n.minKg > 0 || n.aheadMaxKg !== null)
    .flatMap((n) =>
      n.checkpoints.map((point) => ({
        ...point,
        n,
        aheadKg: tidyZero(point.availableKg - point.needKg, point.availableKg),
      })),
    )
    .filter((point) => point.day < solution.inputs.seasonDays)
    .sort((a, b) => a.day - b.day);
  if (points.length > 0) {
    const alike = (kg: number, p: (typeof points)[number]) =>
      weightBeside(kg, Math.max(p.availableKg, p.needKg), units);
    const inTime = tableOf(points, [
      figures("Before day", "day", (p) => p.day, plainNumber),
      words("Date", "date", (p) => dateWords(p.day, planted)),
      words("Nutrient", "nutrient", (p) => p.n.nutrient),
      masses(view, "Needed by then", "needed", (p) => p.needKg, alike),
      masses(view, "Available", "available", (p) => p.availableKg, alike),
      masses(view, "Ahead of the crop", "ahead", (p) => p.aheadKg, alike),
      masses(view, "at most", "ahead_most", (p) => p.n.aheadMaxKg, alike),
      words("Check", "check", (p) =>
        check(p.availableKg, p.needKg, p.n.aheadMaxKg === null ? null : p.needKg + p.n.aheadMaxKg, "AHEAD"),
      ),
    ]);
    sections.push({ title: "In time for the crop", blocks: [tableBlock(inTime)] });
  }
  return sections;
}

function seasonCheck(n: SolutionNutrient): Cell | null {
  if (n.minKg <= 0 && n.maxKg === null && n.appliedMaxKg === null) return null;
  const supply = check(n.countedKg, n.minKg, n.maxKg, "OVER");
  return supply.tone === "good" ? check(n.appliedKg, 0, n.appliedMaxKg, "OVER") : supply;
}

function check(value: number, least: number, most: number | null, above: string): Cell {
  if (value < least - TOLERANCE * Math.max(least, 1e-9)) return cell("SHORT", "bad");
  if (most !== null && value > most + TOLERANCE * Math.max(most, 1e-9)) return cell(above, "bad");
  return cell("ok", "good");
}
