/**
 * Cards for the shed wall as data, in the grower's words: a sheet for each mix with what to weigh into each batch, and the
 * rounds in which it is given. The report, the page for print and the JSON of `card` are made from these.
 */
import type { CardJson, CardMix, CardRound } from "../results/card.ts";
import type { Mix, Solution } from "../results/solution.ts";
import { isForEveryMix } from "../words/caution-table.ts";
import { counted, scaleWeight } from "../words/numbers.ts";
import { loose } from "../words/own-measures.ts";
import { type BedView, bedLabel, type View, viewOf } from "./answer-view.ts";
import { alikeIn, alwaysWords, inShort, ranked } from "./caution-sections.ts";
import { alikeRounds, roundsGiven } from "./give-sections.ts";
import { gradeOf, isByEye, STIR, STIR_ALL, weighWords } from "./mix-sections.ts";
import { fedWords } from "./sure-sections.ts";

/** Warnings that are of use at the mixer: what rounding to the scale does, and what is mixed already. */
const AT_THE_MIXER: ReadonlySet<string> = new Set(["rounds-to-nothing", "rounds-far", "mix-kept-first"]);

/** What a card leaves to the plan: remarks on buying, selling and planning are of no use at the mixer. */
const NOT_ON_CARDS: ReadonlySet<string> = new Set([
  "not-for-sale",
  "organic-unknown",
  "organic-restricted",
  "threshold-raised",
  "phosphorus-above-need",
  "phosphorus-without-need",
  "sodium-nitrate-share",
  "nitrogen-ahead",
  "nitrogen-left",
  "heavy-rain",
  "applied-unavailable",
  "area-unknown",
]);

const MARKING = "To mark a cup or bucket: weigh the amount into it once, level, and draw a line there.";

/** So many cautions fit a card; the others are in the answer. */
const MOST_CAUTIONS = 4;

/** Rounds of one bed that give the same, one after another. */
export interface Given {
  readonly bed: string;
  /** `planting, May 15`; `day 24`. */
  readonly whens: readonly string[];
  /** `Each plant`. */
  readonly each: string;
  /** `1/4 cup (39 g)`. */
  readonly dose: string;
  /** Of the mix: `1 1/3 batches`; of what is given alone `4.5 lb of Feather meal, from its bag`. */
  readonly take: string;
}

/** What belongs to one mix: what to weigh, the beds that take of it, and what to mind there. */
export interface CardSheet {
  /** `Fallow Bridge, mix A`; of a single mix only the plan; of the mix of one bed among several `Kale, mix C`. */
  readonly name: string;
  /** `4 batches of 48.1 lb, all alike`. */
  readonly heading: string;
  readonly mix: CardMix;
  /** What one batch weighs, as the scale shows it; null where something is weighed once for all batches. */
  readonly whole: string | null;
  readonly given: readonly Given[];
  /** Whether a bed has to be named in each round. */
  readonly named: boolean;
  readonly takeCare: readonly string[];
}

/** The cards of an answer. */
export interface Card {
  readonly name: string;
  readonly sheets: readonly CardSheet[];
  readonly byWeight: boolean;
  /** What weights are written down in: `lb`. */
  readonly unit: "lb" | "kg";
}

export function cardOf(solution: Solution): Card {
  const view = viewOf(solution);
  const single = solution.mixes.length === 1;
  return {
    name: solution.name,
    byWeight: solution.by === "weight",
    unit: solution.units === "us" ? "lb" : "kg",
    sheets: solution.mixes.map((mix): CardSheet => {
      const { count, kgEach } = mix.batches;
      const whole = isByEye(mix) ? null : scaleWeight(kgEach, solution.rounding.scaleKg, solution.units);
      const batches = count === 1 ? "1 batch" : counted(count, "batch", "batches");
      const own = view.beds.filter((one) => isOn(one, mix, solution));
      const given = own.flatMap((one) => givenOf(one, mix, view));
      const named = own.length > 1;
      return {
        name: `${named ? solution.name : fedName(own[0]!)}${single ? "" : `, mix ${mix.name}`}`,
        heading: `${batches}${whole === null ? "" : ` of ${whole}`}${count === 1 ? "" : ", all alike"}`,
        mix: cardMix(view, mix),
        whole,
        given,
        named,
        takeCare: [
          ...(given.some(({ dose }) => dose.startsWith("mark")) ? [MARKING] : []),
          ...takeCare(view, own, count === 1 ? null : whole === null ? STIR_ALL : STIR),
        ],
      };
    }),
  };
}

/** `Kestrel Bank terraces, 960 plants (autumn brassicas)`, as far as it is known. */
function fedName({ bed: { bed, plants, target } }: BedView): string {
  const crop = bed.toLowerCase().includes(target.toLowerCase()) ? "" : ` (${target})`;
  return `${bed}${plants === null ? "" : `, ${counted(plants, "plant")}`}${crop}`;
}

/** What one bed gets of a mix, and straight from a bag. */
function givenOf(one: BedView, mix: Mix, view: View): Given[] {
  const own = roundsGiven(one, view).filter(({ alone, of }) => alone !== null || of === mix.name);
  return alikeRounds(own).map((rounds): Given => {
    const [{ kind, dose, take, of, alone }] = rounds;
    return {
      bed: bedLabel(one.bed),
      whens: rounds.map(({ when }) => when),
      each: kind.each,
      dose,
      take: alone === null ? take : `${take} of ${of}, from its bag`,
    };
  });
}

/** Whether a bed is on the sheet of a mix: it takes of it; one that takes of none is on the first. */
function isOn({ bed }: BedView, mix: Mix, { mixes }: Solution): boolean {
  const taken = bed.rounds.map((round) => round.mix).filter((name) => name !== null);
  return taken.length > 0 ? taken.includes(mix.name) : mix === mixes[0];
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

/** What to mind with the mix of some beds: how sure, how to make the batches, what the scale does, and the gravest cautions. */
function takeCare(view: View, beds: readonly BedView[], stir: string | null): string[] {
  const { warnings, by } = view.solution;
  const fed = fedWords({ ...view, beds });
  const cautions = alikeIn(beds.map(({ bed }) => bed)).filter(({ code }) => !NOT_ON_CARDS.has(code));
  const always = alwaysWords(cautions);
  return [
    ...(by === "weight" ? ["By weight: this is NOT the mix of whole bags that `shop` buys."] : []),
    ...(fed === null ? [] : [`Feeds what the plan asks ${fed.each}.`]),
    ...(stir === null ? [] : [stir]),
    ...warnings.filter(({ code }) => AT_THE_MIXER.has(code)).map(({ text }) => text),
    ...ranked(cautions)
      .filter((caution) => !isForEveryMix(caution.code))
      .slice(0, MOST_CAUTIONS)
      .map(inShort),
    ...(always === null
      ? []
      : [always.replace(/^Always: /, "")].map((text) => text[0]!.toUpperCase() + text.slice(1))),
  ];
}

/** The cards of an answer as JSON. */
export function cardJson(solution: Solution): CardJson {
  const view = viewOf(solution);
  const { name, sheets } = cardOf(solution);
  return {
    schema: "barrowmix.card/2",
    name,
    by: solution.by,
    mixes: sheets.map(({ mix }) => mix),
    rounds: view.beds.flatMap((one) =>
      roundsGiven(one, view).map(
        ({ round: { name, day, date, mix, batchesTaken }, alone, portion, kind, dose, take }): CardRound => ({
          bed: one.bed.bed,
          name,
          day,
          date,
          ...(alone === null ? { mix, batchesTaken } : { mix: null, alone, batchesTaken: 0 }),
          take,
          perPlant: {
            g: kind.csv === "per_plant" ? portion.g : null,
            text: dose === "" ? null : dose,
          },
        }),
      ),
    ),
    takeCare: [...new Set(sheets.flatMap(({ takeCare }) => takeCare))],
  };
}
