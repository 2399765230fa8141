/**
 * Cards for the shed wall as data, in the grower's words: a sheet for each mix with what to weigh into each batch, and the
 * rounds in which it is given. The report, the page for print and the JSON of `card` are made from these.
 */
import type { Notice } from "../problem.ts";
import type { CardJson, CardMix, CardRound } from "../results/card.ts";
import type { Mix, Solution } from "../results/solution.ts";
import { scaleWeight } from "../words/numbers.ts";
import { dayWords, loose } from "../words/own-measures.ts";
import { type BedView, type View, viewOf } from "./answer-view.ts";
import { alwaysWords, inShort, ranked } from "./caution-sections.ts";
import { fedIn, takenIn, vesselWords } from "./give-sections.ts";
import { gradeOf, weighWords } from "./mix-sections.ts";
import { fedWords } from "./sure-sections.ts";

/** Warnings that are of use at the mixer: what rounding to the scale does. */
const ROUNDING: ReadonlySet<string> = new Set(["rounds-to-nothing", "rounds-far"]);

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
  "nitrogen-ahead",
  "nitrogen-left",
  "heavy-rain",
  "applied-unavailable",
  "area-unknown",
]);

/** So many cautions fit a card; the others are in the answer. */
const MOST_CAUTIONS = 2;

/** One round of one bed, as it is given. */
export interface SheetRound extends CardRound {
  /** `planting, day 0`. */
  readonly when: string;
  /** `Each plant`. */
  readonly each: string;
  /** `1/4 cup (39 g)`. */
  readonly dose: string;
}

/** One sheet of paper: a mix, and the rounds that take of it. */
export interface CardSheet {
  /** Of the plan, the farm, or of all plans. */
  readonly name: string;
  /** `Mix A`; of a single mix `Mix`. */
  readonly heading: string;
  readonly mix: CardMix;
  /** What one batch weighs, as the scale shows it. */
  readonly whole: string;
  readonly rounds: readonly SheetRound[];
  /** Whether a bed has to be named in each round. */
  readonly named: boolean;
}

/** The cards of an answer. */
export interface Card {
  readonly name: string;
  readonly sheets: readonly CardSheet[];
  readonly takeCare: readonly string[];
  readonly byWeight: boolean;
}

export function cardOf(solution: Solution): Card {
  const view = viewOf(solution);
  const rounds = view.beds.flatMap((one) => roundsOf(view, one));
  const single = solution.mixes.length === 1;
  return {
    name: solution.name,
    byWeight: solution.by === "weight",
    sheets: solution.mixes.map(
      (mix): CardSheet => ({
        name: solution.name,
        heading: single ? "Mix" : `Mix ${mix.name}`,
        mix: cardMix(view, mix),
        whole: scaleWeight(mix.batches.kgEach, solution.rounding.scaleKg, solution.units),
        rounds: rounds.filter((round) => round.mix === mix.name),
        named: view.several,
      }),
    ),
    takeCare: takeCare(view),
  };
}

function cardMix(view: View, mix: Mix): CardMix {
  const { solution, name, beds } = view;
  const scoops = beds[0]?.plan.scoops;
  return {
    name: mix.name,
    batches: mix.batches.count,
    kgEach: mix.batches.kgEach,
    grade: gradeOf(mix),
    weights: mix.batches.weights.map((weight) => {
      const { id, kg, mL, once } = weight;
      return {
        id,
        name: name(id),
        kg,
        text: weighWords(weight, mix, view),
        mL,
        loose: mL === null ? null : loose(once ? mL * mix.batches.count : mL, solution.units, scoops),
        ...(once ? { once } : {}),
      };
    }),
  };
}

function roundsOf(view: View, one: BedView): SheetRound[] {
  const { bed, plan } = one;
  const kind = fedIn(plan);
  const taken = takenIn(one, view);
  return bed.rounds.flatMap((round, k): SheetRound[] => {
    if (round.kg <= 0) return [];
    const portion = kind.portion(round);
    const vessel = vesselWords(portion, plan, kind.weigh);
    const grams = portion.g === null ? null : kind.weigh(portion.g);
    const text =
      vessel !== null && grams !== null && !vessel.includes(grams) ? `${vessel} (${grams})` : vessel;
    const on = dayWords(round.day, plan.planted);
    return [
      {
        bed: bed.bed,
        name: round.name,
        day: round.day,
        date: round.date,
        mix: round.mix,
        batchesTaken: round.batchesTaken,
        take: taken[k] ?? "",
        perPlant: { g: round.perPlant.g, text },
        when: round.name.toLowerCase() === on ? on : `${round.name}, ${on}`,
        each: kind.each,
        dose: text ?? "",
      },
    ];
  });
}

/** What to mind at mixing and spreading: how sure, what the scale does, and the gravest cautions. */
function takeCare(view: View): string[] {
  const { cautions, warnings, by } = view.solution;
  const fed = fedWords(view);
  const own = ranked(cautions.filter(({ code }) => !NOT_ON_CARDS.has(code)));
  const always = alwaysWords(own);
  const isAlways = (caution: Notice): boolean =>
    alwaysWords([caution]) !== null || caution.code === "last-word";
  return [
    ...(by === "weight" ? ["By weight: this is NOT the mix of whole bags that `shop` buys."] : []),
    ...(fed === null ? [] : [`Feeds what the plan asks ${fed.each}.`]),
    ...warnings.filter(({ code }) => ROUNDING.has(code)).map(({ text }) => text),
    ...own
      .filter((caution) => !isAlways(caution))
      .slice(0, MOST_CAUTIONS)
      .map(inShort),
    ...(always === null
      ? []
      : [always.replace(/^Always: /, "")].map((text) => text[0]!.toUpperCase() + text.slice(1))),
  ];
}

/** The cards of an answer as JSON. */
export function cardJson(solution: Solution): CardJson {
  const { name, sheets, takeCare } = cardOf(solution);
  return {
    schema: "barrowmix.card/2",
    name,
    by: solution.by,
    mixes: sheets.map(({ mix }) => mix),
    rounds: sheets.flatMap(({ rounds }) =>
      rounds.map(({ when: _, each: __, dose: ___, ...round }): CardRound => round),
    ),
    takeCare,
  };
}
