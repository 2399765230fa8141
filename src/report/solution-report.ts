/**
 * The answer as a report: what to buy, what to mix, what to give, what the crop gets of it, how sure, and what to watch; or
 * why there is none.
 */
import type { Nutrient } from "../nutrients.ts";
import type { BatchWeight, Mix, Solution } from "../results/solution.ts";
import type { SureStep } from "../results/sure.ts";
import { fromSi } from "../units.ts";
import {
  area,
  counted,
  csvWeight,
  decimal,
  listed,
  percent,
  plainNumber,
  scaleWeight,
  type UnitSystem,
} from "../words/numbers.ts";
import { chancePercent, noMixWords, seasonsOf, thatSure } from "../words/sure-words.ts";
import { again, type View, viewOf } from "./answer-view.ts";
import { bagsWords, buySections, purchaseSections } from "./buy-sections.ts";
import { cautionSections, inFewWords, moreWarnings } from "./caution-sections.ts";
import { explainSections } from "./explain-report.ts";
import { bedSections, isLarge, ladderSections } from "./farm-sections.ts";
import { giveSections } from "./give-sections.ts";
import { areMany, mixDetails, mixedKg, mixGrid, mixSections } from "./mix-sections.ts";
import { nutrientSections } from "./nutrient-sections.ts";
import { answerTable, conflictTable } from "./outcome-table.ts";
import {
  type Block,
  blocksOf,
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
import { fedWords, sureDetails, surerStep, sureSections, usedUpWords } from "./sure-sections.ts";
import { TOLERANCE } from "./writer.ts";

/** The sections of an answer, in the order of reading. One of yours is a line here. */
const PARTS: readonly (readonly [Level, (view: View) => Section[]])[] = [
  ["essential", buySections],
  ["essential", (view) => (areMany(view) ? [] : mixSections(view))],
  ["in-short", (view) => (areMany(view) ? mixGrid(view) : [])],
  ["more", (view) => (areMany(view) ? mixSections(view) : [])],
  ["essential", (view) => (view.several ? [] : giveSections(view))],
  ["essential", (view) => (view.several ? bedSections(view) : [])],
  ["essential", ladderSections],
  ["essential", chartSections],
  ["essential", sureSections],
  ["more", sureDetails],
  ["more", nutrientSections],
  ["more", purchaseSections],
  ["more", sensitivitySections],
  ["more", mixDetails],
  ["more", (view) => (view.several ? giveSections(view) : [])],
];

/** How often growers ask to be fed who ask for more. */
const ASKED_OFTEN = 0.9;

/** A command that is longer than a line of the page is not offered. */
const LINE = 76;

/** The report of an answer, in the units and the currency that it carries. */
export function solutionReport(
  solution: Solution,
  extent: Extent = "whole",
  typed: readonly string[] = [],
): Report {
  const view = viewOf(solution, typed);
  const { status, conflicts, units } = solution;
  const columns = solutionColumns(units);
  const short = inFewWords(view, isLarge(view));
  const watch = cautionSections(solution, short);
  const card = typed[0] === "solve" ? again(view, "card", "--out card.html") : null;
  const report: LongReport =
    status === "infeasible"
      ? {
          title: titleOf(view),
          summary: [paragraph(`${noMixWords(conflicts)}: there is nothing to weigh yet.`, "bad")],
          sections: [["essential", explainSections(view)], ...watch],
          rest: "every warning in full",
          csv: conflictTable(columns, conflicts),
        }
      : {
          title: titleOf(view),
          summary: headline(view),
          sections: [...PARTS.map(([level, part]): Levelled => [level, part(view)]), ...watch],
          rest: [
            isLarge(view) ? "each bed by itself" : "",
            areMany(view) ? "loose measures" : "",
            moreWarnings(short),
            "each nutrient, other bags, prices",
          ]
            .filter((words) => words !== "")
            .join(", "),
          ...(card === null || card.length > LINE ? {} : { next: card }),
          csv: answerTable(batchRows(view), columns, status),
        };
  return extentOf(report, extent);
}

/** `Kestrel Bank terraces: autumn brassicas, 960 plants`, `Tomato, field, 3,000 sq ft`; of several beds their names. */
export function titleOf({ solution, beds, several }: View): string {
  const [one] = beds;
  if (several || !one) return solution.name;
  const { plants, areaM2, bedsAlike } = one.bed;
  const crop = one.bed.target === solution.name ? "" : `: ${one.bed.target}`;
  const ground = areaM2 === null || bedsAlike > 1 ? "" : `, ${area(areaM2, solution.units)}`;
  return `${solution.name}${crop}${plants === null ? ground : `, ${counted(plants, "plant")}`}`;
}

/** What is paid, how often that feeds the crop, what being surer costs, and what is proven. */
export function headline(view: View): Block[] {
  return blocksOf(
    paragraph(priceLine(view), "strong"),
    paragraph(
      view.several && view.solution.inputs.sharing === undefined && !haveMixesInCommon(view) ? SHARED : "",
    ),
    paragraph(sureLines(view)),
    paragraph(proofLine(view), "good"),
    paragraph(placeholderLine(view), "bad"),
    paragraph(coarseScale(view.solution), "bad"),
  );
}

/** Whether a mix is spread on more than one bed, as a farm's season may have it. */
function haveMixesInCommon({ solution: { beds } }: View): boolean {
  const mixes = beds.flatMap(({ rounds }) => [...new Set(rounds.flatMap(({ mix }) => mix ?? []))]);
  return new Set(mixes).size < mixes.length;
}

const SHARED =
  "These plans share one shed and one purchase, each with its own mix. --apart answers each by itself.";

function priceLine(view: View): string {
  const { solution, money, weight } = view;
  const { by, cost } = solution;
  const kg = mixedKg(view);
  if (kg === 0) return "Nothing needs to be mixed: what feeds the crop already is enough.";
  const plants = cost.perPlant === null ? "" : `, ${smallMoney(cost.perPlant, view)} a plant`;
  if (by === "weight")
    return `BY WEIGHT, packs and delivery left out: ${weight(kg)} of mix worth ${money(cost.total!)}${plants}.`;
  const bags = bagsWords(view);
  if (bags === "") return `BUY NOTHING: all ${weight(kg)} of the mix are in the shed.`;
  const delivered = cost.delivery! > 0 ? " with delivery" : "";
  return `BUY ${bags.toUpperCase()}: ${money(cost.total!)}${delivered}${plants}.`;
}

/** `19 cents`; `$1.65`; in other currencies as money. */
function smallMoney(amount: number, { solution: { currency }, money }: View): string {
  const cents = Math.round(amount * 100);
  return currency === "USD" && cents >= 2 && cents < 100 ? `${cents} cents` : money(amount);
}

/** What is fed and where that is from, how often, what the same bags could do, and what being surer costs and asks to be typed. */
function sureLines(view: View): string {
  const { solution } = view;
  const fed = fedWords(view);
  if (fed === null) return "";
  const all = fed.together === null ? "" : ` (${fed.together})`;
  const step = surerStep(solution);
  const usedUp = usedUpWords(view);
  const same = usedUp === null ? "" : ` With these bags used up: ${usedUp}.`;
  const surer = step === null ? surerFarm(fed.p, view) : step.p <= fed.p ? "" : surerWords(step, view);
  return `Feeds ${askedWords(view)}, each need ${fed.each}${all}: bags and release vary.${same}${surer === "" ? "" : ` ${surer}`}`;
}

/** What to type for more, where beds share mixes: what it costs takes too long to say unasked. */
function surerFarm(p: number, view: View): string {
  const { sharing, plans } = view.solution.inputs;
  if (sharing === undefined || p >= ASKED_OFTEN || plans.some(({ sure }) => sure)) return "";
  const sure = `--sure ${chancePercent(ASKED_OFTEN)}`;
  const words = again(view, view.typed[0] ?? "solve", sure);
  return words === null ? "" : `For ${seasonsOf(ASKED_OFTEN)}, at more cost: ${words}.`;
}

function surerWords({ p, cost }: SureStep, view: View): string {
  if (cost === null) return `No mix does so in ${seasonsOf(p)}.`;
  const { solution, money, typed } = view;
  const price = cost === solution.cost.total ? "for the same money" : `for ${money(cost)} in all`;
  const sure = `--sure ${chancePercent(p)}`;
  const words = again(view, typed[0] ?? "solve", sure) ?? `type the same command with ${sure}`;
  return `Each in ${seasonsOf(p)} ${price}: ${words}.`;
}

/** Nutrients whose rates decide the money, as growers speak of them. */
const MAIN: readonly Nutrient[] = ["N", "P2O5", "K2O"];

/** What one bed is asked to be fed, and by what: `125 lb N, 30 lb P2O5 an acre (target.yaml)`. */
function askedWords({ beds, several, solution: { units }, weight, weightUnit }: View): string {
  const [one] = beds;
  if (several || !one) return "what each bed asks";
  const { nutrients, areaM2 } = one.bed;
  const [area, anArea] = units === "us" ? (["acre", "an acre"] as const) : (["ha", "a hectare"] as const);
  const scale = areaM2 === null ? 1 : 1 / fromSi(areaM2, area);
  const needs = nutrients
    .filter(({ nutrient, minKg }) => MAIN.includes(nutrient) && minKg > 0)
    .map(({ nutrient, minKg, efficiency }) => {
      const kg = minKg * efficiency * scale;
      return `${areaM2 === null ? weight(kg) : `${decimal(fromSi(kg, weightUnit), 0)} ${weightUnit}`} ${nutrient}`;
    });
  const { source, yieldKgPerM2 } = one.plan.needsFrom ?? {};
  const ton = units === "us" ? "ton" : "t";
  const harvest = yieldKgPerM2 === undefined ? 0 : fromSi(yieldKgPerM2, ton) / fromSi(1, area);
  const from = [
    ...(source === undefined ? [] : [source]),
    ...(harvest > 0
      ? [
          `for ${plainNumber(Number(harvest.toPrecision(3)))} ${ton}${ton === "ton" && harvest !== 1 ? "s" : ""}`,
        ]
      : []),
  ];
  if (needs.length === 0) return "what the plan asks";
  return `${needs.join(", ")} ${areaM2 === null ? "in all" : anArea}${from.length === 0 ? "" : ` (${from.join(", ")})`}`;
}

function proofLine({ solution }: View): string {
  const { by, cost, status, inputs } = solution;
  if (cost.gap === null)
    return "As it was decided; nothing has happened yet, and no other purchase was looked for.";
  const sure = thatSure(inputs.plans.find((plan) => plan.sure)?.sure);
  const what = by === "purchase" ? "purchase" : "mix";
  const whom = inputs.plans.length > 1 ? "these beds" : "this crop";
  return status === "optimal" && (cost.gap ?? 0) <= TOLERANCE
    ? `Checked: no cheaper ${what}${sure} feeds ${whom}.`
    : `Checked: it feeds ${whom}; another ${what}${sure} could cost up to ${percent(cost.gap ?? 0)} less.`;
}

function placeholderLine({ solution: { purchases } }: View): string {
  const bought = purchases.filter(({ boughtKg }) => boughtKg > 0);
  const names = purchases.filter(({ placeholder }) => placeholder).map(({ name }) => name);
  if (names.length === 0) return "";
  if (names.length === bought.length)
    return "All prices here are examples, invented: put in those of your stores.";
  return `${names.length === 1 ? "The price" : "The prices"} of ${listed(names)} ${names.length === 1 ? "is an example, invented" : "are examples, invented"}: put in your own.`;
}

/** A miss by rounding from which on it is said at the top of the answer; a judgement. */
const COARSE = 0.05;

/** A word at the top where what is weighed is far from what was checked. */
function coarseScale({ rounding: { scaleKg, worstShortfall }, units }: Solution): string {
  const { nutrient, fraction } = worstShortfall;
  return nutrient === null || fraction <= COARSE
    ? ""
    : `Rounded to ${scaleWeight(scaleKg, scaleKg, units)} this no longer holds: ${nutrient} falls ${percent(fraction)} below its need. Weigh on a finer scale, or make larger batches.`;
}

/** One weight of one batch, or of what is given alone, in one round of one bed, for CSV. */
interface BatchRow {
  readonly bed: string;
  readonly round: {
    readonly name: string;
    readonly day: number;
    readonly date: string | null;
    readonly batchesTaken: number;
  };
  readonly mix: Mix | null;
  readonly name: string;
  /** In one batch; of what is given alone, in the round. */
  readonly weight: Pick<BatchWeight, "id" | "kg"> & { readonly mL: number | null };
}

/** One row for each weight of each round of each bed. */
function batchRows({ beds, mix: mixNamed, name }: View): BatchRow[] {
  return beds.flatMap(({ bed }) =>
    bed.rounds.flatMap((round) => {
      const mix = mixNamed(round.mix);
      const ofBatch = (mix?.batches.weights ?? []).map((weight) => ({ mix: mix!, weight }));
      const alone = round.alone.map((weight) => ({ mix: null, weight: { ...weight, mL: null } }));
      return [...ofBatch, ...alone].map((one) => ({
        bed: bed.bed,
        round,
        name: name(one.weight.id),
        ...one,
      }));
    }),
  );
}

/** The columns of an answer's CSV. */
export function solutionColumns(units: UnitSystem): ColumnOf<BatchRow>[] {
  const { unit, of } = csvWeight(units);
  return [
    words("Bed", "bed", (r) => r.bed),
    words("Round", "round", (r) => r.round.name),
    figures("Day", "day", (r) => r.round.day),
    words("Mix", "mix", (r) => r.mix?.name ?? null),
    figures("Batches", "batches", (r) => r.mix?.batches.count ?? null),
    figures("Batches taken", "batches_taken", (r) => (r.mix ? r.round.batchesTaken : null)),
    words("Id", "id", (r) => r.weight.id),
    words("Material", "material", (r) => r.name),
    figures("Into each batch", `batch_${unit}`, (r) => (r.mix ? of(r.weight.kg) : null)),
    figures("This round", `round_${unit}`, (r) => of(r.weight.kg) * (r.mix ? r.round.batchesTaken : 1)),
    figures("Loose", "batch_ml", (r) => r.weight.mL),
    words("Date", "date", (r) => r.round.date),
  ];
}
