/**
 * Batch cards as data, in the grower's words: one for each recipe, with what to weigh, what to give and what to mind.
 * The report, the page for print and the JSON of `card` are made from these.
 */
import type { Amendment, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import type { CardJson, CardOfApplication, CardSureness } from "../results/card.ts";
import type { Shopping } from "../results/shopping.ts";
import type { Purchase, Solution, SolutionApplication } from "../results/solution.ts";
import type { Sureness } from "../results/sure.ts";
import { counted, day, listed, scaleWeight } from "../words/numbers.ts";
import { dayWords, heap, inBags, isoOf, loose } from "../words/own-measures.ts";
import { batchesOf, mixedAlike } from "./batch-tables.ts";
import { ranked } from "./caution-sections.ts";
import { dosesThatGoFurther, fedIn, givenTo } from "./give-sections.ts";
import type { Chart } from "./report.ts";
import { seasonCharts } from "./season-charts.ts";
import { chanceOf, madeLine, weakest } from "./sure-sections.ts";
import { sum } from "./writer.ts";

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

/**
 * The mix of one bed, whichever way it was found: what cards are made from. The bags of `purchases` are on the card,
 * and no others; `curves` are for a picture.
 */
export interface CardSource
  extends Pick<Solution, "applications" | "purchases" | "cautions" | "warnings" | "curves"> {
  readonly plan: Plan;
  /** Weights are multiples of this. */
  readonly scaleKg: number;
  /** The mix is what bought packs allow. */
  readonly bought: boolean;
  /** How sure its needs are met; absent: not known. */
  readonly sure?: Pick<Sureness, "needs">;
}

/** What goes into a batch, and how many bought bags that empties: `2 bags of 50 lb + 33.0 lb`; null below one bag. */
type CardLine = CardOfApplication["weights"][number] & { readonly bags: string | null };

/** One application of a card: how many batches, and what each plant, foot or stretch of ground gets. */
export interface CardRound extends Pick<CardOfApplication, "give"> {
  readonly application: SolutionApplication;
  /** `planting, day 0`; of an application that is called by its day, the day alone. */
  readonly when: string;
  /** `2 batches`. */
  readonly batches: string;
  readonly count: number;
}

/** One sheet of paper: applications that are mixed alike. */
export interface CardSheet
  extends Pick<CardOfApplication, "plan" | "grade" | "kgEach" | "cautions" | "sure"> {
  readonly crop: string;
  readonly when: string;
  readonly lines: readonly CardLine[];
  /** What one batch weighs, as the scale shows it. */
  readonly whole: string;
  readonly rounds: readonly CardRound[];
  /** What is given is the same in every round. */
  readonly givesAlike: boolean;
  readonly bought: boolean;
  /** Supply against need of N, P2O5 and K2O over the season, as lines. */
  readonly charts: readonly Chart[];
}

/** The mix of a solution. */
export function sourceOf(solution: Solution): CardSource {
  const { inputs, applications, purchases, rounding, cautions, warnings, purchase, sure } = solution;
  return {
    plan: inputs,
    applications,
    purchases,
    scaleKg: rounding.scaleKg,
    cautions,
    warnings,
    bought: purchase?.basis === "packs",
    ...defined({ sure }),
  };
}

/** The mixes that a purchase allows, one for each bed that it was made for. */
export function sourcesOf({ mix, also, inputs, cautions, warnings, purchases }: Shopping): CardSource[] {
  return [mix, ...also].flatMap((mix, k) => {
    const plan = inputs[k];
    if (mix === null || plan === undefined) return [];
    const { applications, rounding } = mix;
    return [{ plan, applications, purchases, scaleKg: rounding.scaleKg, cautions, warnings, bought: true }];
  });
}

/** The sheets of a mix, in the order they are needed. */
export function sheetsOf(source: CardSource): CardSheet[] {
  return mixedAlike(source.applications, source.scaleKg).map((applications) => sheetOf(source, applications));
}

function sheetOf(source: CardSource, applications: readonly SolutionApplication[]): CardSheet {
  const { plan, scaleKg, bought, purchases, curves = [] } = source;
  const { name, targetName, amendments, planted, units, scoops } = plan;
  const { weights, kgEach } = applications[0]!.batches;
  const materials = new Map(amendments.map((a) => [a.id, a]));
  const rounds = applications.map(
    (application): CardRound => ({
      application,
      when: whenWords(application, planted),
      batches: batchesOf(application),
      count: application.batches.count,
      give: giveOf(plan, application),
    }),
  );
  const { plants } = plan.bed;
  return {
    plan: name,
    crop: plants === undefined ? targetName : `${targetName}, ${counted(plants, "plant")}`,
    when:
      rounds.length <= MOST_NAMED
        ? listed(rounds.map(({ when }) => when))
        : `${counted(rounds.length, "application")}, ${dayWords(applications[0]!.day, planted)} to ${dayWords(applications.at(-1)!.day, planted)}`,
    grade: gradeOf(materials, applications[0]!),
    lines: weights.map(({ id, kg, mL }) => ({
      id,
      name: materials.get(id)?.name ?? id,
      kg,
      text: scaleWeight(kg, scaleKg, units),
      mL,
      loose: mL === null ? null : loose(mL, units, scoops),
      bags: inBags(kg, bagOf(purchases, id, kg), scaleKg, units),
    })),
    kgEach,
    whole: scaleWeight(kgEach, scaleKg, units),
    rounds,
    givesAlike: rounds.every(({ give }) => JSON.stringify(give) === JSON.stringify(rounds[0]!.give)),
    cautions: cautionsOf(source, applications),
    bought,
    sure: surenessOf(source),
    charts: seasonCharts(
      plan,
      curves.filter(({ nutrient }) => ON_THE_CARD.has(nutrient)),
      "dashes",
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
function bagOf(purchases: readonly Purchase[], of: string, kg: number): number | undefined {
  return purchases
    .flatMap(({ id, packs }) => (id === of ? packs.map(({ sizeKg }) => sizeKg) : []))
    .filter((size) => size <= kg * (1 + 1e-9))
    .sort((a, b) => b - a)[0];
}

/** Percent of N, P2O5 and K2O in a batch. */
function gradeOf(
  materials: ReadonlyMap<string, Amendment>,
  { batches: { weights, kgEach } }: SolutionApplication,
): string {
  return (["N", "P2O5", "K2O"] as const)
    .map((nutrient) => sum(weights.map(({ id, kg }) => kg * (materials.get(id)?.analysis[nutrient] ?? 0))))
    .map((kg) => String(Number(((100 * kg) / kgEach).toFixed(1))))
    .join("-");
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
function giveOf(plan: Plan, application: SolutionApplication): CardRound["give"] {
  const { units, scoops } = plan;
  const { litres, batches } = application;
  const kinds = fedIn(plan);
  const each = kinds.flatMap((kind) => {
    const { g, measure } = givenTo(kind, application, units);
    if (g === null) return [];
    const weighed = kind.weigh(g);
    return [{ what: kind.each, text: measure === null ? weighed : `${measure} (${weighed})` }];
  });
  const feeds = kinds.flatMap(({ perBatch, count, noun }) => {
    const number = perBatch(application);
    return number === null ? [] : [`${count(number)}${noun}`];
  });
  return [
    ...each,
    ...(feeds.length > 0 ? [{ what: "One batch feeds", text: feeds.join(", ") }] : []),
    ...dosesThatGoFurther([application], units).map(({ measure, plants }) => ({
      what: `By ${measure} each`,
      text: `${plants} plants`,
    })),
    ...(litres === null
      ? []
      : [{ what: "One batch fills", text: heap(litres / batches.count, units, scoops) }]),
  ];
}

/** The cards of beds as JSON, one for each application. */
export function cardJson(sources: readonly CardSource[]): CardJson {
  const cardsOf = (source: CardSource) =>
    sheetsOf(source).flatMap(({ plan, kgEach, grade, lines, rounds, sure, cautions }) =>
      rounds.map(
        ({ application: { name, day, batches }, give }): CardOfApplication => ({
          plan,
          application: name,
          day,
          date: isoOf(day, source.plan.planted),
          batches: batches.count,
          kgEach,
          grade,
          weights: lines.map(({ bags, ...line }) => line),
          give,
          sure,
          cautions,
        }),
      ),
    );
  return {
    schema: "barrowmix.card/1",
    plan: sources.map(({ plan }) => plan.name).join(" and "),
    bought: sources.some(({ bought }) => bought),
    cards: sources.flatMap((source) => cardsOf(source).sort((a, b) => a.day - b.day)),
  };
}
