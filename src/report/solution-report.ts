/**
 * The answer of `solve` as a report: what to buy, what to weigh, what to give, what the crop gets of it, and what to
 * watch; or, where no mix fits, why.
 */
import type { Plan } from "../model.ts";
import type { Solution, SolutionApplication } from "../results/solution.ts";
import { csvWeight, type UnitSystem } from "../words/numbers.ts";
import { isoOf } from "../words/own-measures.ts";
import { noMixWords } from "../words/sure-words.ts";

import { batchBlocks } from "./batch-tables.ts";
import { cautionSections } from "./caution-sections.ts";
import { explainSections } from "./explain-report.ts";
import { batchSections, giveSections } from "./give-sections.ts";
import { headline, mixSections, roundingSections, worthSections } from "./mix-sections.ts";
import { nutrientSections } from "./nutrient-sections.ts";
import { answerTable, conflictTable } from "./outcome-table.ts";
import { purchaseSections, shortPurchaseSections } from "./purchase-sections.ts";
import {
  type ColumnOf,
  type Extent,
  extentOf,
  figures,
  type Level,
  type LongReport,
  levelled,
  paragraph,
  type Report,
  type Section,
  type Table,
  words,
} from "./report.ts";
import { chartSections } from "./season-charts.ts";
import { sensitivitySections } from "./sensitivity-report.ts";
import { type View, viewOf } from "./solution-view.ts";
import { splitSections } from "./split-report.ts";
import { sureDetails, sureLine, sureSections } from "./sure-sections.ts";

/** The sections of a solution, in the order of reading. One of yours is a line here. */
const PARTS: readonly (readonly [Level, (view: View) => Section[]])[] = [
  ["in-short", shortPurchaseSections],
  ["more", mixSections],
  ["essential", ({ solution }) => splitSections(solution)],
  ["essential", weighSections],
  ["essential", giveSections],
  ["more", batchSections],
  ["essential", ({ solution }) => chartSections(solution)],
  ["essential", ({ solution }) => sureSections(solution)],
  ["more", ({ solution }) => sureDetails(solution)],
  ["more", nutrientSections],
  ["more", purchaseSections],
  ["more", ({ solution }) => sensitivitySections(solution)],
  ["more", worthSections],
  ["more", roundingSections],
];
const REST = "the mix by weight, each nutrient by day, prices, rounding";

/** The report of a solution, in the units and the currency that it carries. */
export function solutionReport(solution: Solution, extent: Extent = "whole"): Report {
  return extentOf(
    solution.status === "optimal" ? optimalReport(solution) : infeasibleReport(solution),
    extent,
  );
}

function optimalReport(solution: Solution): LongReport {
  const view = viewOf(solution);
  return {
    title: solution.plan,
    summary: [...headline(view), ...sureLine(solution)],
    sections: [
      ...PARTS.flatMap(([level, part]) => levelled(level, part(view))),
      ...cautionSections(solution.cautions, solution.warnings),
    ],
    rest: REST,
    csv: batchCsv(view),
  };
}

function infeasibleReport(solution: Solution): LongReport {
  return {
    title: solution.plan,
    summary: [paragraph(`${noMixWords(solution.conflicts)}: there is nothing to weigh yet.`, "bad")],
    sections: [
      ...levelled("essential", explainSections(solution)),
      ...cautionSections(solution.cautions, solution.warnings),
    ],
    rest: "cautions and warnings with their codes",
    csv: conflictTable(batchColumns(viewOf(solution)), solution.conflicts),
  };
}

function weighSections(view: View): Section[] {
  const { solution } = view;
  return [
    {
      title: "What to weigh into each batch",
      blocks: batchBlocks({
        applications: solution.applications,
        amendments: view.order.map((id) => ({ id, name: view.name(id) })),
        scaleKg: solution.rounding.scaleKg,
        units: solution.units,
        scoops: solution.inputs.scoops,
      }),
    },
  ];
}

interface BatchRow {
  readonly application: SolutionApplication;
  readonly weight: { readonly id: string; readonly kg: number; readonly mL: number | null };
}

/** One row for each amendment of each application. */
function batchCsv(view: View): Table {
  const rows = view.fed.flatMap((application) =>
    view.order.flatMap((id): BatchRow[] =>
      application.batches.weights.filter((w) => w.id === id).map((weight) => ({ application, weight })),
    ),
  );
  return answerTable(rows, batchColumns(view));
}

function batchColumns({ solution, name }: View): ColumnOf<BatchRow>[] {
  return solutionColumns(solution.units, name, solution.inputs.planted);
}

/** The columns of a solution's CSV. */
export function solutionColumns(
  units: UnitSystem,
  name: (id: string) => string = (id) => id,
  planted?: Plan["planted"],
): ColumnOf<BatchRow>[] {
  const { unit: weightUnit, of: inUnit } = csvWeight(units);
  return [
    words("Application", "application", (r) => r.application.name),
    figures("Day", "day", (r) => r.application.day, String),
    figures("Batches", "batches", (r) => r.application.batches.count, String),
    words("Id", "id", (r) => r.weight.id),
    words("Amendment", "amendment", (r) => name(r.weight.id)),
    figures("Into each batch", `batch_${weightUnit}`, (r) => inUnit(r.weight.kg), String),
    figures(
      "In all",
      `all_batches_${weightUnit}`,
      (r) => inUnit(r.weight.kg) * r.application.batches.count,
      String,
    ),
    figures("Loose", "batch_ml", (r) => r.weight.mL, String),
    words("Date", "date", (r) => isoOf(r.application.day, planted)),
  ];
}
