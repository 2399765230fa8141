/**
 * Batch cards as data, in the grower's words: one for each recipe, with what to weigh, what to give and what to mind.
 * The report, the page for print and the JSON of `card` are made from these.
 */
import type { Amendment, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import type { CardJson, CardOfApplication, CardSureness } from "../results/card.ts";
import type { Shopping, ShoppingMix } from "../results/shopping.ts";
import type { NutrientCurve, Purchase, Solution, SolutionApplication } from "../results/solution.ts";
import type { Sureness } from "../results/sure.ts";
import {
  area,
  areaStepM2,
  counted,
  day,
  handGrams,
  handWeight,
  howMany,
  length,
  listed,
  rowStepM,
  scaleWeight,
} from "../words/numbers.ts";
import { dayWords, heap, inBags, isoOf, loose } from "../words/own-measures.ts";
import { ranked } from "./caution-sections.ts";
import { dose, dosesThatGoFurther } from "./dose.ts";
import type { Chart } from "./report.ts";
import { seasonCharts } from "./season-charts.ts";
import { chanceOf, madeLine, weakest } from "./sure-sections.ts";

/** Warnings that are of use at the mixer: what rounding to the scale does. */
const ROUNDING: ReadonlySet<string> = new Set(["rounds-to-nothing", "rounding-above-packs"]);

/** What a card leaves to the plan: remarks on buying, selling and planning are of no use at the mixer. */
const NOT_ON_CARDS: ReadonlySet<string> = new Set([
  "not-for-sale",
  "organic-unknown",
  "organic-restricted",
  "threshold-raised",
  "manure-process",
  "phosphorus-above-need",
  "phosphorus-without-need",
  "sodium-nitrate-share",
  "area-unknown",
]);
/** Cautions about seeds and young roots; off a card of which every application comes later than this. */
const AT_PLANTING: ReadonlySet<string> = new Set(["ammonia-injury", "salt-at-planting"]);
const LONG_PLANTED = 30;
/** A caution about growing plants; off a card of which every application comes before them. */
const ON_GROWING: ReadonlySet<string> = new Set(["keep-off-plants"]);

/** What a card has room to draw. */
const ON_THE_CARD: ReadonlySet<string> = new Set(["N", "P2O5", "K2O"]);

/** A card names so many applications in its heading; more are counted. */
const MOST_NAMED = 3;

/** The mix of one bed, whichever way it was found: what cards are made from. */
export interface CardSource {
  readonly plan: Plan;
  readonly applications: readonly SolutionApplication[];
  /** What is bought: its bags are on the card, and no others. */
  readonly purchases: readonly Purchase[];
  /** Weights are multiples of this. */
  readonly scaleKg: number;
  readonly cautions: readonly Notice[];
  readonly warnings: readonly Notice[];
  /** The mix is what bought packs allow. */
  readonly bought: boolean;
  /** Supply against need, for a picture; absent: none. */
  readonly curves?: readonly NutrientCurve[];
  /** How sure its needs are met; absent: not known. */
  readonly sure?: Pick<Sureness, "needs">;
}

export interface CardLine {
  readonly id: string;
  readonly name: string;
  readonly kg: number;
  /** `12.25 lb`, as the scale shows it. */
  readonly weigh: string;
  readonly mL: number | null;
  /** `3/4 cup`; null where no density is known. */
  readonly loose: string | null;
  /** `2 bags of 50 lb + 33.0 lb`; null below one bag. */
  readonly bags: string | null;
  /** Of the batch's weight. */
  readonly share: number;
}

/** One application of a card: how many batches, and what each plant, foot or stretch of ground gets. */
export interface CardRound {
  readonly application: SolutionApplication;
  /** `planting, day 0`; of an application that is called by its day, the day alone. */
  readonly when: string;
  /** `2 batches`. */
  readonly batches: string;
  readonly count: number;
  /** A label and its amount. */
  readonly give: readonly (readonly [label: string, amount: string])[];
}

/** One sheet of paper: applications that are mixed alike. */
export interface CardSheet {
  readonly plan: string;
  readonly crop: string;
  readonly when: string;
  /** `5.6-0-3.7`, N-P2O5-K2O in percent. */
  readonly grade: string;
  readonly lines: readonly CardLine[];
  readonly kgEach: number;
  /** What one batch weighs, as the scale shows it. */
  readonly whole: string;
  readonly rounds: readonly CardRound[];
  /** What is given is the same in every round. */
  readonly givesAlike: boolean;
  readonly cautions: readonly string[];
  readonly bought: boolean;
  /** What it is made for; null where that is not known. */
  readonly sure: CardSureness | null;
  /** Supply against need of N, P2O5 and K2O over the season, as lines. */
  readonly charts: readonly Chart[];
}

/** The mix of a solution. */
export function sourceOf(solution: Solution): CardSource {
  return {
    plan: solution.inputs,
    applications: solution.applications,
    purchases: solution.purchases,
    scaleKg: solution.rounding.scaleKg,
    cautions: solution.cautions,
    warnings: solution.warnings,
    bought: solution.purchase?.basis === "packs",
    ...defined({ sure: solution.sure }),
  };
}

/** The mixes that a purchase allows, one for each bed that it was made for. */
export function sourcesOf(shopping: Shopping): CardSource[] {
  const mixes: (ShoppingMix | null)[] = [shopping.mix, ...shopping.also];
  return mixes.flatMap((mix, k) => {
    const plan = shopping.inputs[k];
    if (mix === null || plan === undefined) return [];
    const { cautions, warnings, purchases } = shopping;
    const { applications, rounding } = mix;
    return [{ plan, applications, purchases, scaleKg: rounding.scaleKg, cautions, warnings, bought: true }];
  });
}

/** The sheets of a mix, in the order they are needed. */
export function sheetsOf(source: CardSource): CardSheet[] {
  const kinds = new Map<string, SolutionApplication[]>();
  for (const application of source.applications) {
    const { count, weights } = application.batches;
    if (count === 0) continue;
    // Weights that differ by rounding of the arithmetic alone are the same weights.
    const key = JSON.stringify(weights.map(({ id, kg }) => [id, Math.round(kg / source.scaleKg)]).sort());
    kinds.set(key, [...(kinds.get(key) ?? []), application]);
  }
  return [...kinds.values()].map((applications) => sheetOf(source, applications));
}

function sheetOf(source: CardSource, applications: readonly SolutionApplication[]): CardSheet {
  const { plan, scaleKg } = source;
  const { weights, kgEach } = applications[0]!.batches;
  const materials = new Map(plan.amendments.map((a) => [a.id, a]));
  const bought = new Map(source.purchases.map((one) => [one.id, one]));
  const weigh = (kg: number) => scaleWeight(kg, scaleKg, plan.units);
  const rounds = applications.map((application) => ({
    application,
    when: whenWords(application, plan.planted),
    batches: counted(application.batches.count, "batch", "batches"),
    count: application.batches.count,
    give: giveOf(source, application),
  }));
  const { plants } = plan.bed;
  return {
    plan: plan.name,
    crop: plants === undefined ? plan.targetName : `${plan.targetName}, ${counted(plants, "plant")}`,
    when:
      applications.length <= MOST_NAMED
        ? listed(applications.map((one) => whenWords(one, plan.planted)))
        : `${counted(applications.length, "application")}, ${dayWords(applications[0]!.day, plan.planted)} to ${dayWords(applications.at(-1)!.day, plan.planted)}`,
    grade: gradeOf(materials, applications[0]!),
    lines: weights.map(({ id, kg, mL }) => ({
      id,
      name: materials.get(id)?.name ?? id,
      kg,
      weigh: weigh(kg),
      mL,
      loose: mL === null ? null : loose(mL, plan.units, plan.scoops),
      bags: inBags(kg, bagOf(bought.get(id), kg), scaleKg, plan.units),
      share: kg / kgEach,
    })),
    kgEach,
    whole: weigh(kgEach),
    rounds,
    givesAlike: rounds.every(({ give }) => JSON.stringify(give) === JSON.stringify(rounds[0]!.give)),
    cautions: cautionsOf(source, applications),
    bought: source.bought,
    sure: surenessOf(source),
    charts: seasonCharts(
      plan,
      (source.curves ?? []).filter(({ nutrient }) => ON_THE_CARD.has(nutrient)),
      "lines",
    ),
  };
}

/** What a mix is made for: how sure it is of the needs that the plan asks about, or else of each. */
function surenessOf({ plan, sure }: CardSource): CardSureness | null {
  if (sure === undefined) return null;
  const asked = new Set([
    ...(plan.sure?.each ?? []).map(({ nutrient }) => nutrient),
    ...(plan.sure?.together?.nutrients ?? []),
  ]);
  const text = madeLine(sure, asked);
  const needs = weakest(sure.needs).map((need) => ({ nutrient: need.nutrient, p: chanceOf(need) }));
  return text === null ? null : { text, needs };
}

/** The largest bought pack that a weight empties; undefined where there is none. */
function bagOf(purchase: Purchase | undefined, kg: number): number | undefined {
  const sizes = (purchase?.packs ?? []).map(({ sizeKg }) => sizeKg).filter((size) => size <= kg * (1 + 1e-9));
  return sizes.length === 0 ? undefined : Math.max(...sizes);
}

/** Percent of N, P2O5 and K2O in a batch. */
function gradeOf(
  materials: ReadonlyMap<string, Amendment>,
  { batches: { weights, kgEach } }: SolutionApplication,
): string {
  const percentOf = (nutrient: "N" | "P2O5" | "K2O") => {
    const kg = weights.reduce((sum, w) => sum + w.kg * (materials.get(w.id)?.analysis[nutrient] ?? 0), 0);
    return String(Number(((100 * kg) / kgEach).toFixed(1)));
  };
  return [percentOf("N"), percentOf("P2O5"), percentOf("K2O")].join("-");
}

function whenWords({ name, day: on }: SolutionApplication, planted: string | undefined): string {
  return name === day(on) ? dayWords(on, planted) : `${name}, ${dayWords(on, planted)}`;
}

/** What to mind at this mixing. First what the scale does: what it rounds away, and what it takes beyond the packs. */
function cautionsOf(source: CardSource, applications: readonly SolutionApplication[]): string[] {
  const days = applications.map((application) => application.day);
  const belongs = ({ code }: Notice) =>
    !NOT_ON_CARDS.has(code) &&
    !(AT_PLANTING.has(code) && days.every((on) => on > LONG_PLANTED)) &&
    !(ON_GROWING.has(code) && days.every((on) => on <= 0));
  return [
    ...source.warnings.filter(({ code }) => ROUNDING.has(code)),
    ...ranked(source.cautions.filter(belongs)),
  ].map(({ text }) => text);
}

/** How far a batch goes and what each plant and each foot gets, as a label and its amount. */
function giveOf({ plan }: CardSource, application: SolutionApplication): [string, string][] {
  const { units } = plan;
  const us = units === "us";
  const { perPlant, perRowMeter, coverage, batches, litres } = application;
  const step = rowStepM(units);
  const both = (heavy: string, mL: number | null, perBatch: number | null) =>
    mL === null ? heavy : `${dose(application, mL, perBatch, units).text} (${heavy})`;
  const give: [string, string][] = [];
  if (perPlant.g !== null)
    give.push(["Each plant", both(handGrams(perPlant.g), perPlant.mL, coverage.plantsPerBatch)]);
  if (perRowMeter.g !== null)
    give.push([
      us ? "Each foot of row" : "Each metre of row",
      both(
        handGrams(perRowMeter.g * step),
        perRowMeter.mL === null ? null : perRowMeter.mL * step,
        coverage.rowMetersPerBatch === null ? null : coverage.rowMetersPerBatch / step,
      ),
    ]);
  const { areaM2 } = plan.bed;
  const byArea = areaM2 !== undefined && perPlant.g === null && perRowMeter.g === null;
  if (byArea) {
    const share = areaStepM2(units) / areaM2;
    give.push([
      us ? "Each 100 sq ft" : "Each square metre",
      both(
        handWeight(application.kg * share, units),
        litres === null ? null : litres * 1000 * share,
        1 / share / batches.count,
      ),
    ]);
  }
  const feeds = [
    ...(coverage.plantsPerBatch === null ? [] : [`${howMany(coverage.plantsPerBatch)} plants`]),
    ...(coverage.rowMetersPerBatch === null ? [] : [`${length(coverage.rowMetersPerBatch, units)} of row`]),
    ...(byArea ? [area(areaM2 / batches.count, units)] : []),
  ];
  if (feeds.length > 0) give.push(["One batch feeds", feeds.join(", ")]);
  for (const { measure, plants } of dosesThatGoFurther([application], units))
    give.push([`By ${measure} each`, `${plants} plants`]);
  if (litres !== null) give.push(["One batch fills", heap(litres / batches.count, units, plan.scoops)]);
  return give;
}

/** The cards of beds as JSON, one for each application. */
export function cardJson(sources: readonly CardSource[]): CardJson {
  return {
    schema: "barrowmix.card/1",
    plan: sources.map(({ plan }) => plan.name).join(" and "),
    bought: sources.some(({ bought }) => bought),
    cards: sources.flatMap((source) =>
      sheetsOf(source)
        .flatMap((sheet) =>
          sheet.rounds.map(
            ({ application, give }): CardOfApplication => ({
              plan: sheet.plan,
              application: application.name,
              day: application.day,
              date: isoOf(application.day, source.plan.planted),
              batches: application.batches.count,
              kgEach: sheet.kgEach,
              grade: sheet.grade,
              weights: sheet.lines.map(({ id, name, kg, weigh, mL, loose }) => ({
                id,
                name,
                kg,
                text: weigh,
                mL,
                loose,
              })),
              give: give.map(([what, text]) => ({ what, text })),
              sure: sheet.sure,
              cautions: sheet.cautions,
            }),
          ),
        )
        .sort((a, b) => a.day - b.day),
    ),
  };
}
