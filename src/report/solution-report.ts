/**
 * The answer of `solve` as a report: what it costs, what to weigh, how much goes where, what the crop gets of it,
 * what to buy, and what to mind; or, where no mix fits, why.
 */
import type { Purchase, Solution, SolutionApplication, SolutionNutrient } from "../results/solution.ts";
import {
  area,
  areaStepM2,
  BLANK,
  bagWeight,
  counted,
  csvWeight,
  day,
  grams,
  howMany,
  length,
  money,
  percent,
  plainNumber,
  pricePerWeight,
  rowStepM,
  scaleWeight,
  scoop,
  volume,
  weight,
  weightBeside,
} from "../words/numbers.ts";
import { batchBlocks } from "./batch-tables.ts";
import { explainSections } from "./explain-report.ts";
import {
  type Block,
  bullets,
  type Cell,
  type ColumnOf,
  cell,
  figures,
  fullTableOf,
  noticeSections,
  numberCell,
  paragraph,
  type Report,
  type Section,
  type Table,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { sensitivitySections } from "./sensitivity-report.ts";
import { splitSections } from "./split-report.ts";

/** Relative slack within which a demand counts as met: the tolerance of the verification. */
const TOLERANCE = 1e-6;
/** A miss by rounding from which on it is said at the top of the answer; a judgement. */
const COARSE = 0.05;

/** The report of a solution, in the units and the currency that it carries. */
export function solutionReport(solution: Solution): Report {
  return solution.status === "optimal" ? optimalReport(solution) : infeasibleReport(solution);
}

function optimalReport(solution: Solution): Report {
  const view = viewOf(solution);
  return {
    title: solution.plan,
    summary: headline(view),
    sections: [
      ...mixSections(view),
      ...splitSections(solution),
      {
        title: "What to weigh into each batch",
        blocks: batchBlocks({
          applications: solution.applications,
          amendments: view.order.map((id) => ({ id, name: view.name(id) })),
          scaleKg: solution.rounding.scaleKg,
          units: solution.units,
        }),
      },
      ...spreadSections(view),
      ...nutrientSections(view),
      ...purchaseSections(view),
      ...(solution.sensitivity ? sensitivitySections(solution) : worthSections(view)),
      roundingSection(view),
      ...noticeSections("Cautions", solution.cautions),
      ...noticeSections("Warnings", solution.warnings),
    ],
    csv: batchCsv(view),
  };
}

function infeasibleReport(solution: Solution): Report {
  const rows = solution.conflicts.flatMap(({ text, demands }) =>
    (demands.length > 0 ? demands : [BLANK]).map((demand) => ({ text, demand })),
  );
  return {
    title: solution.plan,
    summary: [
      paragraph(
        "No mix of these amendments meets every demand of the plan: there is nothing to weigh yet.",
        "bad",
      ),
    ],
    sections: [
      ...explainSections(solution),
      ...noticeSections("Cautions", solution.cautions),
      ...noticeSections("Warnings", solution.warnings),
    ],
    csv: fullTableOf(rows, [
      words("Conflict", "conflict", (r) => r.text),
      words("Demand", "demand", (r) => r.demand),
    ]),
  };
}

/** A solution with the writers of its units and currency, and the name and place of every amendment. */
interface View {
  readonly solution: Solution;
  readonly weightUnit: "lb" | "kg";
  /** kg to the weight unit. */
  readonly inUnit: (kg: number) => number;
  readonly weight: (kg: number) => string;
  /** Weights that stand on the scale. */
  readonly scale: (kg: number) => string;
  readonly scoop: (mL: number) => string;
  readonly money: (amount: number) => string;
  readonly name: (id: string) => string;
  /** Ids, heaviest of the mix first. */
  readonly order: readonly string[];
  /** Applications that get any. */
  readonly fed: readonly SolutionApplication[];
}

function viewOf(solution: Solution): View {
  const { units, currency } = solution;
  const { unit, of } = csvWeight(units);
  const names = new Map(solution.inputs.amendments.map((a) => [a.id, a.name]));
  return {
    solution,
    weightUnit: unit,
    inUnit: of,
    weight: (kg) => weight(kg, units),
    scale: (kg) => scaleWeight(kg, solution.rounding.scaleKg, units),
    scoop: (mL) => scoop(mL, units),
    money: (amount) => money(amount, currency),
    name: (id) => names.get(id) ?? id,
    order: [...solution.amendments].sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1)).map((a) => a.id),
    fed: solution.applications.filter((a) => a.batches.count > 0),
  };
}

/** A column of weights: kg in, the plan's unit for CSV, `text` for the reader. */
function masses<T>(
  { inUnit, weightUnit, weight }: View,
  head: string,
  name: string,
  kgOf: (item: T) => number | null,
  text: (kg: number, item: T) => string = weight,
): ColumnOf<T> {
  return figures(
    head,
    `${name}_${weightUnit}`,
    (item) => {
      const kg = kgOf(item);
      return kg === null ? null : inUnit(kg);
    },
    (_, item) => text(kgOf(item) ?? 0, item),
  );
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

function headline({ solution, money, weight }: View): Block[] {
  const { cost, verification, inputs } = solution;
  const plants = inputs.bed.plants;
  const each =
    cost.perPlant === null || plants === undefined
      ? ""
      : `, ${money(cost.perPlant)} for each of ${counted(plants, "plant")}`;
  const kg = sum(solution.amendments.map((a) => a.kg));
  const inShed = sum(solution.amendments.map((a) => a.stockKg)) >= kg * (1 - TOLERANCE);
  const price =
    kg === 0
      ? "Nothing needs to be mixed: what feeds the crop already is enough."
      : `The least-cost mix costs ${money(cost.total)} by weight${each}${inShed ? "; all of it is in the shed" : ""}.`;
  const proven =
    verification.gap <= TOLERANCE
      ? `no other mix ${solution.simple ? "within the limits of `simple`" : "of these amendments"} costs less`
      : `the cheapest possible mix costs at most ${percent(verification.gap)} less`;
  return [
    paragraph(price, "strong"),
    paragraph(
      `Crop: ${inputs.targetName}, ${counted(inputs.seasonDays, "day")}. ` +
        `The mix weighs ${weight(kg)}, in ${counted(solution.applications.length, "application")}.`,
    ),
    paragraph(`Verified: every demand was worked out again from these weights and holds; ${proven}.`, "good"),
    ...coarseScale(solution),
  ];
}

/** A word at the top where what is weighed is far from what was verified. */
function coarseScale({ rounding, units }: Solution): Block[] {
  const { nutrient, fraction } = rounding.worstShortfall;
  if (nutrient === null || fraction <= COARSE) return [];
  const scale = scaleWeight(rounding.scaleKg, rounding.scaleKg, units);
  return [
    paragraph(
      `Rounded to ${scale} this no longer holds: ${nutrient} falls ${percent(fraction)} below its need. Weigh on a finer scale, or make larger batches.`,
      "bad",
    ),
  ];
}

function mixSections(view: View): Section[] {
  if (view.order.length === 0) return [];
  const { solution, inUnit, weight, money, weightUnit } = view;
  const used = view.order.map((id) => solution.amendments.find((a) => a.id === id)!);
  const kgCell = (kg: number) => numberCell(weight(kg), inUnit(kg));
  const share = sum(used.map((a) => a.share));
  const shed = used.some((a) => a.stockKg > 0);
  const table = tableOf(
    used,
    [
      words("Amendment", "amendment", (a) => a.name),
      masses(view, "Weight", "weight", (a) => a.kg),
      figures("Share", "share", (a) => a.share, percent),
      figures("Cost", "cost", (a) => a.cost, money),
      masses(view, "From the shed", "stock", (a) => (a.stockKg > 0 ? a.stockKg : null)),
    ],
    {
      amendment: cell("Total"),
      [`weight_${weightUnit}`]: kgCell(sum(used.map((a) => a.kg))),
      share: numberCell(percent(share), share),
      cost: numberCell(money(solution.cost.total), solution.cost.total),
      ...(shed ? { [`stock_${weightUnit}`]: kgCell(sum(used.map((a) => a.stockKg))) } : {}),
    },
  );
  return [{ title: "The mix, for the whole season", blocks: [tableBlock(table)] }];
}

/** What a plant and a length of row get, and how far a batch goes. */
function spreadSections(view: View): Section[] {
  const { solution, fed, scoop } = view;
  if (fed.length === 0) return [];
  const us = solution.units === "us";
  const step = rowStepM(solution.units);
  const along = (perMetre: number | null) => (perMetre === null ? null : perMetre * step);
  const one = us ? "foot" : "metre";
  const { areaM2 } = solution.inputs.bed;
  /** A bed without plants and rows is fed by its area. */
  const byArea = areaM2 !== undefined && fed.every((a) => a.perPlant.g === null && a.perRowMeter.g === null);
  const ground = us ? "100 sq ft" : "square metre";
  const onGround = (whole: number | null) =>
    !byArea || whole === null ? null : (whole / areaM2) * areaStepM2(solution.units);
  const give = tableOf(fed, [
    words("Application", "application", (a) => a.name),
    figures("Day", "day", (a) => a.day, plainNumber),
    figures("Each plant", "per_plant_g", (a) => a.perPlant.g, grams),
    figures("or, loose", "per_plant_ml", (a) => a.perPlant.mL, scoop),
    figures(`Each ${one} of row`, `per_row_${one}_g`, (a) => along(a.perRowMeter.g), grams),
    figures("or, loose", `per_row_${one}_ml`, (a) => along(a.perRowMeter.mL), scoop),
    figures(
      `Each ${ground}`,
      us ? "per_100_sq_ft_kg" : "per_m2_kg",
      (a) => onGround(a.kg),
      (kg) => weight(kg, solution.units),
    ),
    figures("or, loose", us ? "per_100_sq_ft_ml" : "per_m2_ml", (a) => onGround(millilitres(a)), scoop),
  ]);
  const lasts = tableOf(fed, [
    words("Application", "application", (a) => a.name),
    figures("Batches", "batches", (a) => a.batches.count, plainNumber),
    masses(view, "One weighs", "batch", (a) => a.batches.kgEach),
    figures(
      "and fills",
      "batch_litres",
      (a) => (a.litres === null ? null : a.litres / a.batches.count),
      (litres) => volume(litres, solution.units),
    ),
    figures("Plants it feeds", "plants_per_batch", (a) => a.coverage.plantsPerBatch, howMany),
    figures(
      "Row it feeds",
      "row_m_per_batch",
      (a) => a.coverage.rowMetersPerBatch,
      (m) => length(m, solution.units),
    ),
    figures(
      "Ground it feeds",
      "m2_per_batch",
      (a) => (byArea ? areaM2 / a.batches.count : null),
      (m2) => area(m2, solution.units),
    ),
  ]);
  const unknown =
    give.columns.length === 2
      ? [
          paragraph(
            "Say how many plants, how much row or how much ground the bed has, and this will say what each of them gets.",
          ),
        ]
      : [];
  return [
    { title: "How much to give", blocks: [tableBlock(give), ...unknown] },
    { title: "How far one batch goes", blocks: [tableBlock(lasts)] },
  ];
}

/** The loose volume of an application, mL. */
function millilitres({ litres }: SolutionApplication): number | null {
  return litres === null ? null : litres * 1000;
}

/** The season's balance of each nutrient, and the need on the days before its end. */
function nutrientSections(view: View): Section[] {
  const { solution } = view;
  const { units } = solution;
  const beside = (kg: number, n: SolutionNutrient) =>
    weightBeside(kg, Math.max(n.availableKg, n.minKg), units);
  const credited = solution.nutrients.some((n) => n.creditKg > 0);
  const season = tableOf(solution.nutrients, [
    words("Nutrient", "nutrient", (n) => n.nutrient),
    masses(view, "Needed", "needed", (n) => (n.minKg > 0 ? n.minKg : null), beside),
    masses(view, "at most", "most", (n) => n.maxKg, beside),
    masses(view, "Available", "available", (n) => n.availableKg, beside),
    masses(view, "of it from credits", "credit", (n) => (credited ? n.creditKg : null), beside),
    masses(view, "Spread in all", "applied", (n) => n.appliedKg, beside),
    masses(view, "at most", "applied_most", (n) => n.appliedMaxKg, beside),
    words("Check", "check", seasonCheck),
  ]);
  const sections: Section[] = [
    {
      title: `What the crop gets by the season's end, ${day(solution.inputs.seasonDays)}`,
      blocks: [tableBlock(season)],
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

/** Zero for what is only the rounding of the arithmetic. */
function tidyZero(value: number, scale: number): number {
  return Math.abs(value) <= TOLERANCE * Math.abs(scale) ? 0 : value;
}

function seasonCheck(n: SolutionNutrient): Cell | null {
  if (n.minKg <= 0 && n.maxKg === null && n.appliedMaxKg === null) return null;
  const supply = check(n.availableKg, n.minKg, n.maxKg, "OVER");
  return supply.tone === "good" ? check(n.appliedKg, 0, n.appliedMaxKg, "OVER") : supply;
}

function check(value: number, least: number, most: number | null, above: string): Cell {
  if (value < least - TOLERANCE * Math.max(least, 1e-9)) return cell("SHORT", "bad");
  if (most !== null && value > most + TOLERANCE * Math.max(most, 1e-9)) return cell(above, "bad");
  return cell("ok", "good");
}

function purchaseSections(view: View): Section[] {
  const { solution, weight, money, name } = view;
  const { purchases, units } = solution;
  if (purchases.length === 0) return [];
  const cost = sum(purchases.map((p) => p.cost));
  const buy = (p: Purchase) => {
    const packs = p.packs
      .filter((pack) => pack.count > 0)
      .map((pack) => `${pack.count} x ${bagWeight(pack.sizeKg, units)}`);
    const loose = p.bulkKg > 0 ? [`${weight(p.bulkKg)} loose`] : [];
    return packs.length + loose.length > 0 ? [...packs, ...loose].join(" + ") : "nothing";
  };
  const table = tableOf(
    purchases,
    [
      words("Amendment", "amendment", (p) => name(p.id)),
      words("Buy", "buy", buy),
      figures("Price", "price", (p) => p.cost, money),
      masses(view, "Use", "used", (p) => p.usedKg),
      masses(view, "Left over", "left", (p) => tidyZero(p.leftKg, p.usedKg)),
    ],
    { amendment: cell("Total"), price: numberCell(money(cost), cost) },
  );
  const above = tidyZero(cost - solution.cost.total, cost);
  const note =
    above > 0 ? [paragraph(`Whole bags cost ${money(above)} more than the weight that is used.`)] : [];
  return [{ title: "What to buy, in whole bags", blocks: [tableBlock(table), ...note] }];
}

/** What one more pound or kilogram of each binding need would cost. */
function worthSections(view: View): Section[] {
  const { solution } = view;
  const unit = solution.units === "us" ? "lb" : "kg";
  const items = solution.nutrients
    .filter((n) => n.shadowPricePerKg > 0)
    .map(
      (n) =>
        `One more ${unit} of ${n.nutrient} needed would cost ${pricePerWeight(n.shadowPricePerKg, solution.currency, solution.units).replace(/ per .*/, "")}.`,
    );
  return items.length === 0 ? [] : [{ title: "What the needs cost at the margin", blocks: [bullets(items)] }];
}

function roundingSection({ solution }: View): Section {
  const { scaleKg, worstShortfall, worstBreach } = solution.rounding;
  const items = [
    worstShortfall.nutrient === null || worstShortfall.fraction <= TOLERANCE
      ? "No need is missed."
      : `The worst miss is ${worstShortfall.nutrient}, ${percent(worstShortfall.fraction)} below its need.`,
    ...(worstBreach === null || worstBreach.fraction <= TOLERANCE
      ? []
      : [`The worst excess: ${worstBreach.demand}, ${percent(worstBreach.fraction)} over.`]),
  ];
  return {
    title: `After rounding the weights to ${scaleWeight(scaleKg, scaleKg, solution.units)}`,
    blocks: [bullets(items)],
  };
}

/** One row for each amendment of each application. */
function batchCsv({ fed, order, name, inUnit, weightUnit }: View): Table {
  const rows = fed.flatMap((application) =>
    order.flatMap((id) =>
      application.batches.weights.filter((w) => w.id === id).map((weight) => ({ application, weight })),
    ),
  );
  return fullTableOf(rows, [
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
  ]);
}
