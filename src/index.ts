/**
 * The library: load a plan, solve it, and turn the answer into a report.
 *
 * ```ts
 * const loaded = loadPlanFile("plan.yaml");
 * if (loaded.ok) console.log(renderMarkdown(solutionReport(await solvePlan(loaded.value.plan))));
 * else console.error(formatProblems(loaded.problems));
 * ```
 *
 * Everything but the functions that end in `File` works on values alone and touches no file, screen or clock. Wrong input
 * from files comes back as problems; an argument that cannot be meant is thrown as an `InputError`.
 */

export {
  diskReader,
  type FileOptions,
  loadAmendmentsFile,
  loadCasesFile,
  loadFarmFile,
  loadMixFile,
  loadPlanFile,
  loadPriceListFile,
  SHIPPED_RECIPES,
} from "./disk.ts";
export {
  type Checked,
  checkFiles,
  type FileReader,
  type LoadedFarm,
  type LoadedPlan,
  loadAmendments,
  loadCases,
  loadFarm,
  loadMix,
  loadPlan,
  loadTarget,
  type Override,
  type PlanRequest,
  type Where,
} from "./files/load.ts";
export type { WeighedMix } from "./files/mix.ts";
export type { ExtraPrices } from "./files/plan-prices.ts";
export { type ListUse, type PriceList, readPriceList } from "./files/price-list.ts";
export { type AnswerOptions, type Detail, solvePlans } from "./flow/answer.ts";
export type { ChangedPlan, PlanChange } from "./flow/changes.ts";
export { applyPriceList, cheapestOf } from "./flow/price-lists.ts";
export type { SweepRequest } from "./flow/sweep.ts";
export type { Compared, CompareOptions, WhatIfCase } from "./flow/whatif.ts";
export {
  assayMix,
  changePlan,
  changePrices,
  checkPlan,
  comparePlans,
  InputError,
  type Prices,
  solveFarm,
  solvePlan,
  sweepPlan,
} from "./library.ts";
export type * from "./model.ts";
export { NUTRIENTS, type Nutrient } from "./nutrients.ts";
export { formatProblems, type Notice, type Place, type Problem, type Result } from "./problem.ts";
export { renderCardHtml } from "./render/card.ts";
export { renderCsv } from "./render/csv.ts";
export { renderHtml } from "./render/html.ts";
export { renderMarkdown } from "./render/markdown.ts";
export { renderTerminal, type TerminalOptions } from "./render/terminal.ts";
export { assayReport } from "./report/assay-report.ts";
export { cardReport } from "./report/card-report.ts";
export { type Card, type CardSheet, cardJson, cardOf } from "./report/card-sheet.ts";
export type { Block, Cell, Report, Section, Table, TableColumn } from "./report/report.ts";
export { shopList, shopReport } from "./report/shop-report.ts";
export { solutionReport } from "./report/solution-report.ts";
export { sweepReport } from "./report/sweep-report.ts";
export { whatIfReport } from "./report/whatif-report.ts";
export type { AgainstPlan, Assay, SmallestChange } from "./results/assay.ts";
export type * from "./results/card.ts";
export type { ComparedBase, ComparedCase, Comparison as PlanComparison } from "./results/comparison.ts";
export type * from "./results/solution.ts";
export type {
  Breakpoint,
  Sweep,
  SweepPoint,
  SweepRun,
  SweepSegment,
  SweptPurchase,
} from "./results/sweep.ts";
export { UnverifiedError } from "./solver/verify.ts";
export {
  type Dimension,
  fromSi,
  type PriceChange,
  parsePriceChange,
  parseQuantity,
  type Quantity,
  toSi,
  UNITS,
  type Unit,
  type UnitId,
} from "./units.ts";
