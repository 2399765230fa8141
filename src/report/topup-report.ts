/** What a rain may have taken and what would replace it, as a report. */
import type { TopUp } from "../results/topup.ts";
import { fromSi } from "../units.ts";
import {
  counted,
  csvWeight,
  handGrams,
  listed,
  percent,
  plainNumber,
  scaleWeight,
  type UnitSystem,
  weightBeside,
} from "../words/numbers.ts";
import { dateWords, dayWords } from "../words/own-measures.ts";
import { seasonsOf, seasonsWords } from "../words/sure-words.ts";
import { cautionSections } from "./caution-sections.ts";
import { dose, dosesThatGoFurther } from "./give-sections.ts";
import { answerTable } from "./outcome-table.ts";
import {
  type Block,
  bullets,
  type ColumnOf,
  cell,
  type Extent,
  extentOf,
  figures,
  paragraph,
  type Report,
  type Section,
  section,
  table,
  words,
} from "./report.ts";
import { sum, TOLERANCE, type Writer, writerOf } from "./writer.ts";

/** A top-up with the writers of its units and currency. */
interface View extends Writer {
  readonly topUp: TopUp;
}

/** A depth of water or soil: inches, or millimetres. */
function depth(metres: number, units: UnitSystem): string {
  const [value, unit] = units === "us" ? [fromSi(metres, "in"), "in"] : [metres * 1000, "mm"];
  return `${plainNumber(Number(value.toPrecision(3)))} ${unit}`;
}

/** The report of a top-up. */
export function topUpReport(topUp: TopUp, scaleKg: number, extent: Extent = "whole"): Report {
  const { rain, planted, plan, amendments, cautions, warnings } = topUp;
  const view: View = { ...writerOf(topUp), topUp };
  return extentOf(
    {
      title: `After the rain on ${dayWords(rain.day, planted)}: ${plan}`,
      summary: [verdict(view)],
      sections: [
        ["essential", section("What the rain may have taken", bullets(lossWords(view)))],
        ["essential", dressingSection(view, scaleKg)],
        ["essential", checkpointSection(view)],
        ["essential", doubtSection(view)],
        ...cautionSections(cautions, warnings),
      ],
      csv: answerTable(amendments, topUpColumns(topUp.units)),
      rest: "cautions with their codes",
    },
    extent,
  );
}

/** The columns of a dressing's CSV, a row for each amendment. */
export function topUpColumns(units: UnitSystem): ColumnOf<TopUp["amendments"][number]>[] {
  const { unit, of } = csvWeight(units);
  return [
    words("Id", "id", (a) => a.id),
    words("Amendment", "amendment", (a) => a.name),
    figures("Weight", `weight_${unit}`, (a) => of(a.kg)),
    figures("Cost", "cost", (a) => a.cost),
  ];
}

function verdict({ topUp, weight, money }: View): Block {
  const { nitrogen, amendments, cost, asked, status } = topUp;
  const asSure = asked === undefined ? "" : ` in about ${seasonsWords(asked)}, as the plan asks`;
  const gone = `About ${weight(nitrogen.lostKg)} of nitrogen may be gone`;
  switch (status) {
    case "nothing-lost":
      return paragraph(
        nitrogen.atRiskKg > 0
          ? "Nothing drained through, so no nitrate was carried away."
          : "The crop had taken up all the nitrogen that was available; there was nothing to carry away.",
        "good",
      );
    case "enough-left":
      return paragraph(
        `${gone}, and what is left still meets the need${asSure}. Nothing needs to be replaced.`,
        "good",
      );
    case "found":
      return paragraph(
        `${gone}. ${listed(amendments.map(({ kg, name }) => `${weight(kg)} of ${name}`))} would ${asked === undefined ? "make up for it" : `meet the need of nitrogen again${asSure}`}, for ${money(cost)} by weight.`,
      );
    case "short":
      return paragraph(
        `${gone}, and these amendments cannot ${asked === undefined ? "replace it all" : `meet the need again${asSure}`} within the plan's caps and in time. The closest dressing is shown.`,
        "bad",
      );
  }
}

function lossWords({ topUp: { rain, nitrogen, units, planted }, weight }: View): string[] {
  const { lostShare, lostKg } = nitrogen;
  const deep = (metres: number) => depth(metres, units);
  const where =
    rain.mixedToM > 0 ? `nitrate mixed evenly to ${deep(rain.mixedToM)}` : "nitrate that lay on the surface";
  return [
    `${deep(rain.rainM)} of rain${rain.evaporationM > 0 ? ` less ${deep(rain.evaporationM)} of evaporation` : ""}: ${deep(rain.drainageM)} drains through.${lostShare > 0 ? ` Of ${where}, ${percent(lostShare)} goes below ${deep(rain.depthM)}.` : ""}`,
    `By ${dayWords(rain.day, planted)}, ${weight(nitrogen.availableKg)} of nitrogen had become available; the crop had taken up ${weight(nitrogen.takenUpKg)}. So ${weight(nitrogen.atRiskKg)} lay there${lostKg > 0 ? `, and about ${weight(lostKg)} of it may be gone` : ""}.`,
    `${weight(nitrogen.notReleasedKg)} more is applied and not released yet. Rain does not carry that away.`,
  ];
}

function dressingSection({ topUp, weight, money, masses, cash }: View, scaleKg: number): Section[] {
  const { units, amendments, application, cost } = topUp;
  const weights = new Map(application?.batches.weights.map(({ id, kg }) => [id, kg]));
  return section(
    "What would replace it",
    table(
      amendments,
      [
        words("Amendment", "amendment", (a) => a.name),
        masses("In all", "weight", (a) => a.kg),
        masses(
          "Into each batch",
          "batch",
          (a) => weights.get(a.id) ?? null,
          (kg) => scaleWeight(kg, scaleKg, units),
        ),
        cash("Cost", "cost", (a) => a.cost),
      ],
      ["Total", weight(sum(amendments.map((a) => a.kg))), "", money(cost)],
    ),
    bullets(amendments.length > 0 ? batchWords(topUp, scaleKg) : []),
  );
}

function batchWords({ application, units }: TopUp, scaleKg: number): string[] {
  if (!application) return [];
  const { batches, perPlant, coverage } = application;
  const { plantsPerBatch } = coverage;
  const scoops =
    perPlant.mL === null ? "" : ` (${dose(application, perPlant.mL, plantsPerBatch, units).text} loose)`;
  return [
    `Make ${counted(batches.count, "batch", "batches")} of ${scaleWeight(batches.kgEach, scaleKg, units)}.`,
    perPlant.g === null ? "" : `Each plant gets ${handGrams(perPlant.g)}${scoops}.`,
    ...dosesThatGoFurther([application], units).map(
      ({ measure, plants }) => `By ${measure} each, a batch feeds ${plants} plants.`,
    ),
    plantsPerBatch !== null && batches.count > 1
      ? `One batch must last ${plainNumber(Math.round(plantsPerBatch))} plants.`
      : "",
  ];
}

/** Worked seasons count a chance to less than this. */
const SURE_SLACK = 0.01;

function checkpointSection({ topUp, masses }: View): Section[] {
  const { checkpoints, units, status, planted, asked } = topUp;
  if (status === "nothing-lost") return [];
  type Point = TopUp["checkpoints"][number];
  const beside = (kg: number, p: Point) => weightBeside(kg, Math.max(p.needKg, p.withKg), units);
  const dressed = status === "found" || status === "short";
  const chance = ({ met }: Point) => met?.withChecked ?? 0;
  return section(
    "Nitrogen from here to the season's end",
    table(checkpoints, [
      figures("By day", "day", (p) => p.day, plainNumber),
      words("Date", "date", (p) => dateWords(p.day, planted)),
      masses("Needed", "needed", (p) => p.needKg, beside),
      masses("After the rain", "without", (p) => p.withoutKg, beside),
      masses("With the dressing", "with", (p) => (dressed ? p.withKg : null), beside),
      words("Met in", "met_in", (p) => (asked === undefined ? null : seasonsOf(chance(p)))),
      words("Check", "check", (p) =>
        p.withKg < p.needKg * (1 - TOLERANCE) || (asked !== undefined && chance(p) < asked - SURE_SLACK)
          ? cell("SHORT", "bad")
          : cell("ok", "good"),
      ),
    ]),
  );
}

function doubtSection({ topUp: { nitrogen, rain, asked }, weight }: View): Section[] {
  if (nitrogen.lostKg <= 0) return [];
  const estimate =
    asked === undefined
      ? "An estimate."
      : `An estimate, and in about ${seasonsWords(asked)} only as far as the spreads are right (\`list varies\`); the doubt about the soil's water is in it, that about the rain is not.`;
  return section(
    "How sure this is",
    paragraph(
      `${estimate} With a soil that holds 5 points more or less water than ${percent(rain.soilWater)} the loss would be ${weight(nitrogen.lostLowKg)} to ${weight(nitrogen.lostHighKg)}. It takes all available nitrogen for nitrate and the crop's uptake from the plan; runoff and losses to the air are not counted. Sulfate, boron and, on sand, potash leach as well and are not counted here. A soil nitrate test of the root zone settles it: take one before you buy.`,
    ),
    paragraph(
      "Burns's leaching equation as in Scotter, White and Dyson 1993, Journal of Soil Science 44:25-33.",
      "faint",
    ),
  );
}
