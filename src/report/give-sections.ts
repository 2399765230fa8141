/** What each plant, foot of row or stretch of ground gets, what to scoop for it, and how far a batch goes. */
import type { Plan } from "../model.ts";
import type { SolutionApplication } from "../results/solution.ts";
import { CLOSE, doseMeasure, type Measure } from "../words/measures.ts";
import {
  area,
  areaStepM2,
  handGrams,
  handWeight,
  howMany,
  length,
  plainNumber,
  rowStepM,
  type UnitSystem,
} from "../words/numbers.ts";
import { dateWords, heap } from "../words/own-measures.ts";
import { type ColumnOf, figures, paragraph, type Section, section, table, words } from "./report.ts";
import type { View } from "./solution-view.ts";

/** One kind of what is fed: plants, row, or ground. */
export interface Fed {
  /** `Each foot of row`. */
  readonly each: string;
  /** The same for the column of a table. */
  readonly csv: string;
  /** `Row it feeds`, of a batch. */
  readonly feeds: string;
  /** How much `each` is: 1 plant, or m of row, or m2. */
  readonly step: number;
  /** What one plant, metre or square metre gets in an application; null: there is none of it, or no density is known. */
  readonly portion: (application: SolutionApplication) => {
    readonly g: number | null;
    readonly mL: number | null;
  };
  /** How many plants, metres or square metres a batch must last for; null: there is none of it. */
  readonly perBatch: (application: SolutionApplication) => number | null;
  readonly weigh: (g: number) => string;
  /** So many plants, metres or square metres: `240`, `30 ft`. */
  readonly count: (number: number) => string;
  /** What is said behind that count in a text: ` plants`. */
  readonly noun: string;
}

/** What is fed in a bed; one without plants and rows is fed by its area. */
export function fedIn({ bed: { plants, rowLengthM, areaM2 }, units }: Pick<Plan, "bed" | "units">): Fed[] {
  const us = units === "us";
  const kinds: Fed[] = [
    {
      each: "Each plant",
      csv: "per_plant",
      feeds: "Plants it feeds",
      step: 1,
      portion: ({ perPlant }) => perPlant,
      perBatch: ({ coverage }) => coverage.plantsPerBatch,
      weigh: handGrams,
      count: howMany,
      noun: " plants",
    },
    {
      each: us ? "Each foot of row" : "Each metre of row",
      csv: us ? "per_row_foot" : "per_row_metre",
      feeds: "Row it feeds",
      step: rowStepM(units),
      portion: ({ perRowMeter }) => perRowMeter,
      perBatch: ({ coverage }) => coverage.rowMetersPerBatch,
      weigh: handGrams,
      count: (m) => length(m, units),
      noun: " of row",
    },
  ];
  if (areaM2 !== undefined && plants === undefined && rowLengthM === undefined)
    kinds.push({
      each: us ? "Each 100 sq ft" : "Each square metre",
      csv: us ? "per_100_sq_ft" : "per_m2",
      feeds: "Ground it feeds",
      step: areaStepM2(units),
      portion: ({ kg, litres }) => ({
        g: (kg * 1000) / areaM2,
        mL: litres === null ? null : (litres * 1000) / areaM2,
      }),
      perBatch: ({ batches }) => areaM2 / batches.count,
      weigh: (g) => handWeight(g / 1000, units),
      count: (m2) => area(m2, units),
      noun: "",
    });
  return kinds;
}

/** What `each` of a kind gets in an application, in g and mL, and the measure for it; null: not known, or none. */
export function givenTo(
  { portion, perBatch, step }: Fed,
  application: SolutionApplication,
  units: UnitSystem,
): { readonly g: number | null; readonly mL: number | null; readonly measure: string | null } {
  const { g, mL } = portion(application);
  const lasts = perBatch(application);
  return {
    g: g === null ? null : g * step,
    mL: mL === null ? null : mL * step,
    measure:
      mL === null ? null : dose(application, mL * step, lasts === null ? null : lasts / step, units).text,
  };
}

/** The loose volume of one batch as it is weighed out, mL; null where a density is missing. */
function batchMilliliters({ batches }: SolutionApplication): number | null {
  const parts = batches.weights.map((weight) => weight.mL);
  return parts.some((mL) => mL === null) ? null : parts.reduce((sum: number, mL) => sum + (mL ?? 0), 0);
}

/**
 * The measure that gives each of `perBatch` receivers its share.
 * @param mL what each would get exactly.
 * @param perBatch how many receivers a batch must last for; null where that is not known.
 */
export function dose(
  application: SolutionApplication,
  mL: number,
  perBatch: number | null,
  units: UnitSystem,
): Measure {
  const batch = batchMilliliters(application);
  // What the scale rounded off a batch is not there to be scooped.
  const share = batch === null || perBatch === null ? mL : Math.min(mL, batch / perBatch);
  return doseMeasure(share, units);
}

/** Where no measure is close enough to what each plant should get: how far a batch goes by the one that is printed. */
export function dosesThatGoFurther(
  applications: readonly SolutionApplication[],
  units: UnitSystem,
): { readonly application: SolutionApplication; readonly measure: string; readonly plants: string }[] {
  return applications.flatMap((application) => {
    const { mL } = application.perPlant;
    const { plantsPerBatch } = application.coverage;
    if (mL === null || plantsPerBatch === null || mL <= 0) return [];
    const measure = dose(application, mL, plantsPerBatch, units);
    if (measure.mL >= mL * (1 - CLOSE)) return [];
    return [{ application, measure: measure.text, plants: howMany((plantsPerBatch * mL) / measure.mL) }];
  });
}

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
