/** What to give: each round, what a plant, a stretch of row or of ground gets, and how many batches that takes. */
import type { Plan } from "../model.ts";
import type { Measure, Mix, Round } from "../results/solution.ts";
import { vessel } from "../words/measures.ts";
import { areaStepM2, counted, day, handGrams, handWeight, rowStepM, scaleWeight } from "../words/numbers.ts";
import { dateWords, inOwnMeasure } from "../words/own-measures.ts";
import { type BedView, ofBed, type View } from "./answer-view.ts";
import { isByEye } from "./mix-sections.ts";
import { type ColumnOf, figures, paragraph, plain, type Section, section, table, words } from "./report.ts";

/** What is fed: a plant, a foot of row, a stretch of ground. */
interface Fed {
  /** `Each plant`. */
  readonly each: string;
  readonly csv: string;
  readonly portion: (round: Round) => Measure;
  /** So many portions in one bed. */
  readonly count: number;
  readonly weigh: (g: number) => string;
}

/** What is fed in a bed: plants, else its rows, else its ground. */
function fedIn({ bed: { plants, rowLengthM, rows = 1, areaM2 }, units }: Pick<Plan, "bed" | "units">): Fed {
  const us = units === "us";
  if (plants !== undefined)
    return {
      each: "Each plant",
      csv: "per_plant",
      portion: (r) => r.perPlant,
      count: plants,
      weigh: handGrams,
    };
  if (rowLengthM !== undefined)
    return {
      each: us ? "Each foot of row" : "Each metre of row",
      csv: us ? "per_row_foot" : "per_row_metre",
      portion: (r) => times(r.perRowMeter, rowStepM(units)),
      count: (rows * rowLengthM) / rowStepM(units),
      weigh: handGrams,
    };
  return {
    each: us ? "Each 100 sq ft" : "Each square metre",
    csv: us ? "per_100_sq_ft" : "per_m2",
    portion: (r) => times(r.perSquareMeter, areaStepM2(units)),
    count: areaM2 === undefined ? 0 : areaM2 / areaStepM2(units),
    weigh: (g) => handWeight(g / 1000, units),
  };
}

function times({ g, mL }: Measure, factor: number): Measure {
  return { g: g === null ? null : g * factor, mL: mL === null ? null : mL * factor };
}

/** What a large measuring cup holds. */
const LARGEST_CUP_ML = 1000;

/** One vessel, level, that gives a portion within 5 % of it and no more; else to mark a cup or a bucket. */
function vesselWords(
  { g, mL }: Measure,
  { units, scoops }: Plan,
  weigh: (g: number) => string,
): string | null {
  if (g === null) return null;
  if (mL === null) return `weigh ${weigh(g)}`;
  const marked = mL > LARGEST_CUP_ML ? "bucket" : "cup";
  return inOwnMeasure(mL, scoops, 0) ?? vessel(mL, units)?.text ?? `mark a ${marked} at ${weigh(g)}`;
}

const QUARTERS: readonly (readonly [number, string])[] = [
  [0, ""],
  [1 / 4, "1/4"],
  [1 / 3, "1/3"],
  [1 / 2, "1/2"],
  [2 / 3, "2/3"],
  [3 / 4, "3/4"],
];

/** A part of a batch off by more than this is weighed: what one round takes too much the next would lack. */
const OFF = 0.02;

/**
 * How many batches each of several rounds takes, as it is said: `1 3/4 batches`, in quarters or in thirds, or a weight
 * where a part would be off by over 2 %, or where the batches are not quite alike.
 */
function takenWords(rounds: readonly Round[], mix: Mix, view: View): string[] {
  const { kgEach } = mix.batches;
  const { units, rounding } = view.solution;
  return rounds.map(({ batchesTaken }) => {
    const isWhole = Math.abs(batchesTaken - Math.round(batchesTaken)) <= 1e-9;
    const sizes = isWhole || !isByEye(mix) ? [4, 3] : [];
    const parts = sizes.find(
      (parts) => Math.abs(Math.round(batchesTaken * parts) / parts - batchesTaken) <= OFF * batchesTaken,
    );
    if (parts !== undefined) return batchesText(Math.round(batchesTaken * parts) / parts);
    const kg = Math.floor((batchesTaken * kgEach) / rounding.scaleKg + 1e-6) * rounding.scaleKg;
    return scaleWeight(kg, rounding.scaleKg, units);
  });
}

function batchesText(batches: number): string {
  const whole = Math.floor(batches + 1e-9);
  const part = QUARTERS.find(([size]) => Math.abs(batches - whole - size) < 1e-6)?.[1] ?? "";
  if (part === "") return counted(whole, "batch", "batches");
  return whole === 0 ? `${part} batch` : `${whole} ${part} batches`;
}

/** What to take for each round of a bed, in the order of its rounds. */
function takenIn({ bed }: BedView, view: View): (string | null)[] {
  const taken = new Map<Round, string>();
  for (const mix of view.solution.mixes) {
    const own = bed.rounds.filter((round) => round.mix === mix.name);
    takenWords(own, mix, view).forEach((text, k) => {
      taken.set(own[k]!, text);
    });
  }
  return bed.rounds.map((round) => taken.get(round) ?? null);
}

/** What a round gives of a mix, or of one material straight from its bag, as it is said. */
export interface GivenRound {
  readonly round: Round;
  /** The mix, or the material. */
  readonly of: string;
  /** Id of the material that is given alone; null: it is of the mix. */
  readonly alone: string | null;
  /** `planting, May 15`; `day 24`. */
  readonly when: string;
  readonly kind: Fed;
  /** `1/4 cup`, `mark a cup at 36 g`; null where there is nothing to divide by. */
  readonly vessel: string | null;
  /** `1/4 cup (39 g)`; empty likewise. */
  readonly dose: string;
  /** Of the mix: `1 1/3 batches`. */
  readonly take: string;
  readonly portion: Measure;
}

export function roundsGiven(one: BedView, view: View): GivenRound[] {
  const { bed, plan } = one;
  const kind = fedIn(plan);
  const taken = takenIn(one, view);
  const { rounding, units } = view.solution;
  return bed.rounds.flatMap((round, k): GivenRound[] => {
    const on = dateWords(round.day, plan.planted) ?? day(round.day);
    const when = round.name.toLowerCase() === day(round.day) ? on : `${round.name}, ${on}`;
    const given = (of: string, portion: Measure, take: string, alone: string | null): GivenRound => {
      const vessel = vesselWords(portion, plan, kind.weigh);
      const grams = portion.g === null ? null : kind.weigh(portion.g);
      const dose =
        vessel === null || grams === null || vessel.includes(grams) ? vessel : `${vessel} (${grams})`;
      return { round, of, alone, when, kind, vessel, dose: dose ?? "", take, portion };
    };
    const beside = round.alone.map(({ id, weighedKg, litres }) =>
      given(
        view.name(id),
        portionOf(weighedKg, litres, kind),
        scaleWeight(weighedKg, rounding.scaleKg, units),
        id,
      ),
    );
    if (round.kg <= 0) return beside;
    return [given(round.mix ?? "", kind.portion(round), taken[k] ?? "", null), ...beside];
  });
}

/** What each plant, or stretch of ground, gets of a material that is given alone. */
function portionOf(kg: number, litres: number | null, { count }: Fed): Measure {
  if (count === 0) return { g: null, mL: null };
  return { g: (kg * 1000) / count, mL: litres === null ? null : (litres * 1000) / count };
}

/** Rounds in their order, those together that give and take the same of one mix; then what is given alone. */
export function alikeRounds(rounds: readonly GivenRound[]): [GivenRound, ...GivenRound[]][] {
  const found: [GivenRound, ...GivenRound[]][] = [];
  for (const one of [...rounds].sort((a, b) => Number(a.alone !== null) - Number(b.alone !== null))) {
    const before = found.at(-1);
    const [first] = before ?? [];
    if (first && first.dose === one.dose && first.take === one.take && first.of === one.of) before!.push(one);
    else found.push([one]);
  }
  return found;
}

/** The rounds of each bed. */
export function giveSections(view: View): Section[] {
  const { several, solution } = view;
  return view.beds.flatMap((one) => {
    const { bed, plan } = one;
    const kind = fedIn(plan);
    const isNamed = several || solution.mixes.length > 1;
    const columns: ColumnOf<GivenRound>[] = [
      plain(words("Round", "round", ({ round }) => round.name)),
      plain(
        words("Day", "day", ({ round: { name, day: on } }) =>
          name.toLowerCase() === day(on) ? null : day(on),
        ),
      ),
      plain(words("Date", "date", ({ round }) => dateWords(round.day, plan.planted))),
      words(kind.each, kind.csv, ({ vessel }) => vessel),
      figures("Weight", `${kind.csv}_g`, ({ portion }) => portion.g, kind.weigh),
      words("Take", "take", ({ take }) => take),
      words("of", "mix", ({ of, alone }) => (isNamed || alone !== null ? of : null)),
    ];
    const alike = bed.bedsAlike > 1 ? `Figures a bed hold for each of the ${bed.bedsAlike} beds alike.` : "";
    return section(ofBed(view, one, "Give, level"), table(roundsGiven(one, view), columns), paragraph(alike));
  });
}
