/** What each plant, foot of row or stretch of ground gets, and how far a batch goes. */
import type { SolutionApplication } from "../results/solution.ts";
import { plainNumber } from "../words/numbers.ts";
import { dateWords, heap } from "../words/own-measures.ts";
import { dosesThatGoFurther, fedIn, givenTo } from "./dose.ts";
import { type ColumnOf, figures, paragraph, type Section, section, table, words } from "./report.ts";
import type { View } from "./solution-view.ts";

/** What each plant, foot of row or stretch of ground gets. */
export function giveSections({ solution, fed }: View): Section[] {
  const { inputs, units } = solution;
  if (fed.length === 0) return [];
  const amounts = fedIn(inputs).flatMap((kind): ColumnOf<SolutionApplication>[] => [
    figures(kind.each, `${kind.csv}_g`, (a) => givenTo(kind, a, units).g, kind.weigh),
    figures(
      "or, loose",
      `${kind.csv}_ml`,
      (a) => givenTo(kind, a, units).mL,
      (_, a) => givenTo(kind, a, units).measure!,
    ),
  ]);
  const known = fed.some((a) => amounts.some(({ fill }) => fill(a) !== null));
  return section(
    "What to give",
    table(fed, [
      words("Application", "application", (a) => a.name),
      figures("Day", "day", (a) => a.day, plainNumber),
      words("Date", "date", (a) => dateWords(a.day, inputs.planted)),
      ...amounts,
    ]),
    dosesThatGoFurther(fed, units).map(({ application, measure, plants }) =>
      paragraph(`In ${application.name}, a batch feeds ${plants} plants by ${measure} each.`),
    ),
    paragraph(
      known
        ? ""
        : "Give the number of plants, the length of row or the area of the bed to see what each of them gets.",
    ),
  );
}

/** How far a batch goes. */
export function batchSections({ solution, fed, masses }: View): Section[] {
  const { inputs, units } = solution;
  return section(
    "How far one batch goes",
    table(fed, [
      words("Application", "application", (a) => a.name),
      figures("Batches", "batches", (a) => a.batches.count, plainNumber),
      masses("One weighs", "batch", (a) => a.batches.kgEach),
      figures(
        "and fills",
        "batch_litres",
        (a) => (a.litres === null ? null : a.litres / a.batches.count),
        (litres) => heap(litres, units, inputs.scoops),
      ),
      ...fedIn(inputs).map(({ feeds, csv, perBatch, count }) =>
        figures<SolutionApplication>(feeds, `${csv}_per_batch`, perBatch, count),
      ),
    ]),
  );
}
