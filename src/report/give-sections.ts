/** What each plant, foot of row or stretch of ground gets, and how far a batch goes. */
import type { SolutionApplication } from "../results/solution.ts";
import {
  area,
  areaStepM2,
  handGrams,
  handWeight,
  howMany,
  length,
  plainNumber,
  rowStepM,
} from "../words/numbers.ts";
import { dateWords, heap } from "../words/own-measures.ts";
import { dose, dosesThatGoFurther } from "./dose.ts";
import {
  type Block,
  type ColumnOf,
  figures,
  paragraph,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { masses, type View } from "./solution-view.ts";

/** A bed without plants and rows is fed by its area. */
function areaFed({ solution, fed }: View): number | null {
  const { areaM2 } = solution.inputs.bed;
  return areaM2 !== undefined && fed.every((a) => a.perPlant.g === null && a.perRowMeter.g === null)
    ? areaM2
    : null;
}

/** What each plant, foot of row or stretch of ground gets. */
function giveColumns(view: View): ColumnOf<SolutionApplication>[] {
  const { units } = view.solution;
  const us = units === "us";
  const step = rowStepM(units);
  const along = (perMetre: number | null) => (perMetre === null ? null : perMetre * step);
  const one = us ? "foot" : "metre";
  const rowSteps = ({ coverage }: SolutionApplication) =>
    coverage.rowMetersPerBatch === null ? null : coverage.rowMetersPerBatch / step;
  const areaM2 = areaFed(view);
  const ground = us ? "100 sq ft" : "square metre";
  const onGround = (whole: number | null) =>
    areaM2 === null || whole === null ? null : (whole / areaM2) * areaStepM2(units);
  return [
    figures("Each plant", "per_plant_g", (a) => a.perPlant.g, handGrams),
    figures(
      "or, loose",
      "per_plant_ml",
      (a) => a.perPlant.mL,
      (mL, a) => dose(a, mL, a.coverage.plantsPerBatch, units).text,
    ),
    figures(`Each ${one} of row`, `per_row_${one}_g`, (a) => along(a.perRowMeter.g), handGrams),
    figures(
      "or, loose",
      `per_row_${one}_ml`,
      (a) => along(a.perRowMeter.mL),
      (mL, a) => dose(a, mL, rowSteps(a), units).text,
    ),
    figures(
      `Each ${ground}`,
      us ? "per_100_sq_ft_kg" : "per_m2_kg",
      (a) => onGround(a.kg),
      (kg) => handWeight(kg, units),
    ),
    figures(
      "or, loose",
      us ? "per_100_sq_ft_ml" : "per_m2_ml",
      (a) => onGround(millilitres(a)),
      (mL, a) =>
        dose(a, mL, areaM2 === null ? null : areaM2 / a.batches.count / areaStepM2(units), units).text,
    ),
  ];
}

/** How much plant, row or ground a batch must last for. */
function lastColumns(view: View): ColumnOf<SolutionApplication>[] {
  const { units } = view.solution;
  const areaM2 = areaFed(view);
  return [
    figures("Plants it feeds", "plants_per_batch", (a) => a.coverage.plantsPerBatch, howMany),
    figures(
      "Row it feeds",
      "row_m_per_batch",
      (a) => a.coverage.rowMetersPerBatch,
      (m) => length(m, units),
    ),
    figures(
      "Ground it feeds",
      "m2_per_batch",
      (a) => (areaM2 === null ? null : areaM2 / a.batches.count),
      (m2) => area(m2, units),
    ),
  ];
}

function whenColumns({ solution }: View): ColumnOf<SolutionApplication>[] {
  const { planted } = solution.inputs;
  return [
    words("Application", "application", (a) => a.name),
    figures("Day", "day", (a) => a.day, plainNumber),
    words("Date", "date", (a) => dateWords(a.day, planted)),
  ];
}

function giveBlocks(view: View): Block[] {
  const amounts = giveColumns(view);
  const give = tableOf(view.fed, [...whenColumns(view), ...amounts]);
  const unknown = give.columns.every(({ csv }) => !amounts.some((column) => column.csv === csv))
    ? [
        paragraph(
          "Give the number of plants, the length of row or the area of the bed to see what each of them gets.",
        ),
      ]
    : [];
  const further = dosesThatGoFurther(view.fed, view.solution.units).map(({ application, measure, plants }) =>
    paragraph(`In ${application.name}, a batch feeds ${plants} plants by ${measure} each.`),
  );
  return [tableBlock(give), ...further, ...unknown];
}

/** What a plant and a length of row get. */
export function giveSections(view: View): Section[] {
  return view.fed.length === 0 ? [] : [{ title: "What to give", blocks: giveBlocks(view) }];
}

/** How far a batch goes. */
export function batchSections(view: View): Section[] {
  const { solution, fed } = view;
  if (fed.length === 0) return [];
  const lasts = tableOf(fed, [
    words("Application", "application", (a) => a.name),
    figures("Batches", "batches", (a) => a.batches.count, plainNumber),
    masses(view, "One weighs", "batch", (a) => a.batches.kgEach),
    figures(
      "and fills",
      "batch_litres",
      (a) => (a.litres === null ? null : a.litres / a.batches.count),
      (litres) => heap(litres, solution.units, solution.inputs.scoops),
    ),
    ...lastColumns(view),
  ]);
  return [{ title: "How far one batch goes", blocks: [tableBlock(lasts)] }];
}

/** The loose volume of an application, mL. */
function millilitres({ litres }: SolutionApplication): number | null {
  return litres === null ? null : litres * 1000;
}
