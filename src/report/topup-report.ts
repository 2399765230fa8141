/** What a rain may have taken and what would replace it, as a report. */
import type { TopUp } from "../results/topup.ts";
import { fromSi } from "../units.ts";
import {
  counted,
  csvWeight,
  handGrams,
  listed,
  money,
  percent,
  plainNumber,
  scaleWeight,
  type UnitSystem,
  weight,
  weightBeside,
} from "../words/numbers.ts";
import { dateWords, dayWords } from "../words/own-measures.ts";
import { seasonsOf, seasonsWords } from "../words/sure-words.ts";
import { cautionSections } from "./caution-sections.ts";
import { dose, dosesThatGoFurther } from "./dose.ts";
import { answerTable } from "./outcome-table.ts";
import {
  type Block,
  bullets,
  type ColumnOf,
  cash,
  cell,
  type Extent,
  extentOf,
  figures,
  type LongReport,
  levelled,
  numberCell,
  paragraph,
  type Report,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** A depth of water or soil: inches, or millimetres. */
function depth(metres: number, units: TopUp["units"]): string {
  return units === "us"
    ? `${plainNumber(Number(fromSi(metres, "in").toPrecision(3)))} in`
    : `${plainNumber(Number((metres * 1000).toPrecision(3)))} mm`;
}

/** The report of a top-up. */
export function topUpReport(topUp: TopUp, scaleKg: number, extent: Extent = "whole"): Report {
  const report: LongReport = {
    title: `After the rain on ${dayWords(topUp.rain.day, topUp.planted)}: ${topUp.plan}`,
    summary: [verdict(topUp)],
    sections: [
      ...levelled("essential", [
        lossSection(topUp),
        ...(topUp.amendments.length > 0 ? [dressingSection(topUp, scaleKg)] : []),
        ...checkpointSections(topUp),
        ...(topUp.nitrogen.lostKg > 0 ? [doubtSection(topUp)] : []),
      ]),
      ...cautionSections(topUp.cautions, topUp.warnings),
    ],
    csv: answerTable(topUp.amendments, topUpColumns(topUp.units)),
    rest: "cautions with their codes",
  };
  return extentOf(report, extent);
}

/** The columns of a dressing's CSV, a row for each amendment. */
export function topUpColumns(units: UnitSystem): ColumnOf<TopUp["amendments"][number]>[] {
  const { unit, of } = csvWeight(units);
  return [
    words("Id", "id", (a) => a.id),
    words("Amendment", "amendment", (a) => a.name),
    figures("Weight", `weight_${unit}`, (a) => of(a.kg), String),
    figures("Cost", "cost", (a) => a.cost, String),
  ];
}

function verdict(topUp: TopUp): Block {
  const { units, currency, nitrogen, amendments, cost } = topUp;
  const kg = (value: number) => weight(value, units);
  const asSure = topUp.asked === undefined ? "" : ` in about ${seasonsWords(topUp.asked)}, as the plan asks`;
  switch (topUp.status) {
    case "nothing-lost":
      return paragraph(
        nitrogen.atRiskKg > 0
          ? "Nothing drained through, so no nitrate was carried away."
          : "The crop had taken up all the nitrogen that was available; there was nothing to carry away.",
        "good",
      );
    case "enough-left":
      return paragraph(
        `About ${kg(nitrogen.lostKg)} of nitrogen may be gone, and what is left still meets the need${asSure}. Nothing needs to be replaced.`,
        "good",
      );
    case "found":
      return paragraph(
        `About ${kg(nitrogen.lostKg)} of nitrogen may be gone. ${listed(amendments.map((a) => `${kg(a.kg)} of ${a.name}`))} would ${topUp.asked === undefined ? "make up for it" : `meet the need of nitrogen again${asSure}`}, for ${money(cost, currency)} by weight.`,
      );
    case "short":
      return paragraph(
        `About ${kg(nitrogen.lostKg)} of nitrogen may be gone, and these amendments cannot ${topUp.asked === undefined ? "replace it all" : `meet the need again${asSure}`} within the plan's caps and in time. The closest dressing is shown.`,
        "bad",
      );
  }
}

function lossSection({ rain, nitrogen, units, planted }: TopUp): Section {
  const kg = (value: number) => weight(value, units);
  const where =
    rain.mixedToM > 0
      ? `nitrate mixed evenly to ${depth(rain.mixedToM, units)}`
      : "nitrate that lay on the surface";
  return {
    title: "What the rain may have taken",
    blocks: [
      bullets([
        `${depth(rain.rainM, units)} of rain${rain.evaporationM > 0 ? ` less ${depth(rain.evaporationM, units)} of evaporation` : ""}: ${depth(rain.drainageM, units)} drains through.${nitrogen.lostShare > 0 ? ` Of ${where}, ${percent(nitrogen.lostShare)} goes below ${depth(rain.depthM, units)}.` : ""}`,
        `By ${dayWords(rain.day, planted)}, ${kg(nitrogen.availableKg)} of nitrogen had become available; the crop had taken up ${kg(nitrogen.takenUpKg)}. So ${kg(nitrogen.atRiskKg)} lay there${nitrogen.lostKg > 0 ? `, and about ${kg(nitrogen.lostKg)} of it may be gone` : ""}.`,
        `${kg(nitrogen.notReleasedKg)} more is applied and not released yet. Rain does not carry that away.`,
      ]),
    ],
  };
}

function dressingSection(topUp: TopUp, scaleKg: number): Section {
  const { units, currency, amendments, application, cost } = topUp;
  const { unit, of } = csvWeight(units);
  const kg = (value: number) => weight(value, units);
  const wholeKg = amendments.reduce((sum, a) => sum + a.kg, 0);
  const table = tableOf(
    amendments,
    [
      words("Amendment", "amendment", (a) => a.name),
      figures(
        "In all",
        `weight_${unit}`,
        (a) => of(a.kg),
        (_, a) => kg(a.kg),
      ),
      figures(
        "Into each batch",
        `batch_${unit}`,
        (a) => {
          const own = application?.batches.weights.find(({ id }) => id === a.id);
          return own ? of(own.kg) : null;
        },
        (_, a) =>
          scaleWeight(application?.batches.weights.find(({ id }) => id === a.id)?.kg ?? 0, scaleKg, units),
      ),
      cash("Cost", "cost", (a) => a.cost, currency),
    ],
    {
      amendment: cell("Total"),
      [`weight_${unit}`]: numberCell(kg(wholeKg), of(wholeKg)),
      cost: numberCell(money(cost, currency), cost),
    },
  );
  const lines: string[] = [];
  if (application) {
    const { batches, perPlant, coverage } = application;
    lines.push(
      `Make ${counted(batches.count, "batch", "batches")} of ${scaleWeight(batches.kgEach, scaleKg, units)}.`,
    );
    if (perPlant.g !== null)
      lines.push(
        `Each plant gets ${handGrams(perPlant.g)}${perPlant.mL === null ? "" : ` (${dose(application, perPlant.mL, coverage.plantsPerBatch, units).text} loose)`}.`,
      );
    lines.push(
      ...dosesThatGoFurther([application], units).map(
        ({ measure, plants }) => `By ${measure} each, a batch feeds ${plants} plants.`,
      ),
    );
    if (coverage.plantsPerBatch !== null && batches.count > 1)
      lines.push(`One batch must last ${plainNumber(Math.round(coverage.plantsPerBatch))} plants.`);
  }
  return {
    title: "What would replace it",
    blocks: [tableBlock(table), ...(lines.length > 0 ? [bullets(lines)] : [])],
  };
}

/** Worked seasons count a chance to less than this. */
const SURE_SLACK = 0.01;

function checkpointSections({ checkpoints, units, status, planted, asked }: TopUp): Section[] {
  if (checkpoints.length === 0 || status === "nothing-lost") return [];
  const beside = (value: number, p: (typeof checkpoints)[number]) =>
    weightBeside(value, Math.max(p.needKg, p.withKg), units);
  const { unit, of } = csvWeight(units);
  const mass = (head: string, csv: string, value: (p: (typeof checkpoints)[number]) => number) =>
    figures<(typeof checkpoints)[number]>(
      head,
      `${csv}_${unit}`,
      (p) => of(value(p)),
      (_, p) => beside(value(p), p),
    );
  const dressed = status === "found" || status === "short";
  const table = tableOf(checkpoints, [
    figures("By day", "day", (p) => p.day, plainNumber),
    words("Date", "date", (p) => dateWords(p.day, planted)),
    mass("Needed", "needed", (p) => p.needKg),
    mass("After the rain", "without", (p) => p.withoutKg),
    ...(dressed ? [mass("With the dressing", "with", (p) => p.withKg)] : []),
    ...(asked === undefined
      ? []
      : [words<(typeof checkpoints)[number]>("Met in", "met_in", (p) => seasonsOf(p.met?.withChecked ?? 0))]),
    words("Check", "check", (p) =>
      p.withKg < p.needKg * (1 - 1e-6) ||
      (asked !== undefined && (p.met?.withChecked ?? 0) < asked - SURE_SLACK)
        ? cell("SHORT", "bad")
        : cell("ok", "good"),
    ),
  ]);
  return [{ title: "Nitrogen from here to the season's end", blocks: [tableBlock(table)] }];
}

function doubtSection({ nitrogen, rain, units, asked }: TopUp): Section {
  const kg = (value: number) => weight(value, units);
  return {
    title: "How sure this is",
    blocks: [
      paragraph(
        `${asked === undefined ? "An estimate." : `An estimate, and in about ${seasonsWords(asked)} only as far as the spreads are right (\`list varies\`); the doubt about the soil's water is in it, that about the rain is not.`} With a soil that holds 5 points more or less water than ${percent(rain.soilWater)} the loss would be ${kg(nitrogen.lostLowKg)} to ${kg(nitrogen.lostHighKg)}. It takes all available nitrogen for nitrate and the crop's uptake from the plan; runoff and losses to the air are not counted. Sulfate, boron and, on sand, potash leach as well and are not counted here. A soil nitrate test of the root zone settles it: take one before you buy.`,
      ),
      paragraph(
        "Burns's leaching equation as in Scotter, White and Dyson 1993, Journal of Soil Science 44:25-33.",
        "faint",
      ),
    ],
  };
}
