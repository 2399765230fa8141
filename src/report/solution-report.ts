/**
 * The answer of `solve` as a report: what to buy, what to weigh, what to give, what the crop gets of it, and what to
 * watch; or, where no mix fits, why.
 */
import type { Plan } from "../model.ts";
import type { Solution } from "../results/solution.ts";
import { csvWeight, type UnitSystem } from "../words/numbers.ts";
import { isoOf } from "../words/own-measures.ts";
import { noMixWords } from "../words/sure-words.ts";

import { type BatchRow, batchColumns, batchSection, heaviestFirst } from "./batch-tables.ts";
import { cautionSections } from "./caution-sections.ts";
import { explainSections } from "./explain-report.ts";
import { batchSections, giveSections } from "./give-sections.ts";
import { headline, mixSections, roundingSections, splitSections, worthSections } from "./mix-sections.ts";
import { nutrientSections } from "./nutrient-sections.ts";
import { answerTable, conflictTable } from "./outcome-table.ts";
import { purchaseSections, shortPurchaseSections } from "./purchase-sections.ts";
import {
  type ColumnOf,
  type Extent,
  extentOf,
  figures,
  type Level,
  type Levelled,
  type LongReport,
  paragraph,
  type Report,
  type Section,
  words,
} from "./report.ts";
import { chartSections } from "./season-charts.ts";
import { sensitivitySections } from "./sensitivity-report.ts";
import { type View, viewOf } from "./solution-view.ts";
import { sureDetails, sureLine, sureSections } from "./sure-sections.ts";

/** The sections of a solution, in the order of reading. One of yours is a line here. */
const PARTS: readonly (readonly [Level, (view: View) => Section[]])[] = [
  ["in-short", shortPurchaseSections],
  ["more", mixSections],
  ["essential", splitSections],
  ["essential", ({ solution }) => batchSection("What to weigh into each batch", solution, solution.inputs)],
  ["essential", giveSections],
  ["more", batchSections],
  ["essential", ({ solution }) => chartSections(solution)],
  ["essential", sureSections],
  ["more", sureDetails],
  ["more", nutrientSections],
  ["more", purchaseSections],
  ["more", sensitivitySections],
  ["more", worthSections],
  ["more", roundingSections],
];

/** The report of a solution, in the units and the currency that it carries. */
export function solutionReport(solution: Solution, extent: Extent = "whole"): Report {
  const { plan, status, conflicts, cautions, warnings, units, inputs } = solution;
  const view = viewOf(solution);
  const columns = solutionColumns(units, inputs.planted);
  const watch = cautionSections(cautions, warnings);
  const report: LongReport =
    status === "infeasible"
      ? {
          title: plan,
          summary: [paragraph(`${noMixWords(conflicts)}: there is nothing to weigh yet.`, "bad")],
          sections: [["essential", explainSections(solution)], ...watch],
          rest: "cautions and warnings with their codes",
          csv: conflictTable(columns, conflicts),
        }
      : {
          title: plan,
          summary: [...headline(view), ...sureLine(view)],
          sections: [...PARTS.map(([level, part]): Levelled => [level, part(view)]), ...watch],
          rest: "the mix by weight, each nutrient by day, prices, rounding",
          csv: answerTable(batchRows(view), columns),
        };
  return extentOf(report, extent);
}

/** One row for each amendment of each application. */
function batchRows({ solution, fed }: View): BatchRow[] {
  return fed.flatMap((application) =>
    heaviestFirst(solution.amendments).flatMap(({ id, name }) =>
      application.batches.weights
        .filter((weight) => weight.id === id)
        .map((weight) => ({ application, line: { ...weight, name } })),
    ),
  );
}

/** The columns of a solution's CSV. */
export function solutionColumns(units: UnitSystem, planted?: Plan["planted"]): ColumnOf<BatchRow>[] {
  const { unit, of } = csvWeight(units);
  return [
    ...batchColumns(units),
    figures("In all", `all_batches_${unit}`, (r) => of(r.line.kg) * r.application.batches.count),
    figures("Loose", "batch_ml", (r) => r.line.mL),
    words("Date", "date", (r) => isoOf(r.application.day, planted)),
  ];
}
