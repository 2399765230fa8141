/** `now`: where each bed of a season is, the cheapest rest of it, and what that is worth beside going on as planned. */
import { dateOfDay } from "../calendar.ts";
import { countedKg } from "../field/delivery.ts";
import { linesName, type SeasonFile, sumOf } from "../files/season-model.ts";
import type { Plan, SureAsked } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { fail, type Notice, ok, type Result } from "../problem.ts";
import type { ChanceByNutrient, SeasonBed, SeasonNow } from "../results/season.ts";
import type { BedAnswer, Solution } from "../results/solution.ts";
import type { Sureness } from "../results/sure.ts";
import { weight } from "../words/numbers.ts";
import { type AnswerOptions, solvePlans } from "./answer.ts";
import { asAnswer, isFed, nothingMore, type Way, wayOf } from "./go-on.ts";
import {
  type BedRest,
  contentKg,
  lastDay,
  lateNeeds,
  leftOf,
  type RestOptions,
  type SeasonRest,
  seasonRest,
} from "./season-rest.ts";

export interface NowOptions extends AnswerOptions {
  /** Day of the season; absent: that of the last line. */
  readonly on?: number;
  /** A plan at other prices, or asked otherwise. */
  readonly changed?: (plan: Plan) => Promise<Plan>;
}

/** A gram: less is what rounding in the file leaves. */
const SMALL_KG = 1e-3;

/**
 * Where a season is and what to do.
 * @returns problems where its beds do not go together.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function seasonNow(season: SeasonFile, options: NowOptions = {}): Promise<Result<SeasonNow>> {
  const { on = lastDay(season.log), changed = async (plan: Plan) => plan, ...asked } = options;
  const rested = async (how: RestOptions): Promise<SeasonRest> => {
    const { beds, ...left } = seasonRest(season, on, how);
    return {
      ...left,
      beds: await Promise.all(beds.map(async (one) => ({ ...one, plan: await changed(one.plan) }))),
    };
  };
  const tried = async (how: RestOptions): Promise<Tried> => {
    const left = await rested(how);
    const [first, ...others] = openOf(left.beds).map(({ plan }) => plan);
    const heap = left.heap.length === 0 ? {} : { heap: left.heap };
    const found = first === undefined ? null : await solvePlans([first, ...others], { ...asked, ...heap });
    return { ...left, found };
  };
  const isBegun = season.log.some(({ day }) => day <= on);
  const isFree = [asked.budget, asked.mostLeft, asked.application].every((one) => one === undefined);
  // Before anything has happened what was decided holds, and nothing else is looked for.
  const asDecided = isBegun || !isFree ? null : await goOn(await rested({}), asked);
  const idle = asDecided?.planned ? null : await idleIn(await rested({ keep: true }), asked);
  const chosen = asDecided?.planned
    ? { ...asDecided, found: null, warnings: [] }
    : (idle ?? (await bestTried(tried)));
  const { shed, beds, found } = chosen;
  if (found !== null && !found.ok) return fail(...found.problems);
  const cheapest = found?.value ?? null;
  const { ways, hasRounds, planned } = asDecided?.planned ? asDecided : await goOn(chosen, asked);
  const isCheap = (total: number): boolean => total <= (cheapest?.cost.total ?? -1) + SAME_TOTAL;
  const asPlanned =
    planned !== null &&
    isFree &&
    (!isBegun ||
      (idle === null &&
        ways.every(({ old }, p) => beds[p]!.over || isFed(old)) &&
        isCheap(planned.cost.total!)));
  const rest = asPlanned ? provenBy(cheapest, planned) : cheapest;
  const answerFor = (name: string): BedAnswer | undefined =>
    rest?.status === "infeasible" ? undefined : rest?.beds.find(({ bed }) => bed === name);
  const { plan } = beds.find(({ over }) => !over) ?? beds[0]!;
  return ok({
    schema: "barrowmix.season/1",
    season: season.file,
    currency: season.currency,
    units: plan.units,
    day: on,
    date: dateOf(on, season.planted),
    lastLine: options.on === undefined && season.log.length > 0,
    planted: season.planted === "" ? null : season.planted,
    asked: askedShare(plan.sure),
    beds: beds.map((one, p) => bedNow(one, ways[p]!, answerFor(one.bed.name))),
    rest,
    asPlanned,
    goOn: hasRounds ? { total: planned?.cost.total ?? null } : null,
    shed: [...shed.kg].flatMap(([id, kg]) => {
      const name = season.materials.find((one) => one.id === id)?.name ?? id;
      return kg > SMALL_KG ? [{ id, name, kg }] : [];
    }),
    kept: [...shed.kept].flatMap(([mix, kg]) => (kg > SMALL_KG ? [{ mix, kg }] : [])),
    late: beds.flatMap((one) => lateNeeds(one).map((need) => ({ bed: one.bed.name, ...need }))),
    warnings: distinct([
      ...chosen.warnings,
      ...season.warnings,
      ...shed.warnings,
      ...beds.flatMap(({ warnings }) => warnings),
      ...toKnow(season, on, { shed, beds }),
    ]),
  });
}

const dateOf = (day: number, planted: string | undefined): string | null =>
  planted ? dateOfDay(day, planted) : null;

/** A rest of the season as it was looked for, with the cheapest answer to it; null where the season of all beds is over. */
interface Tried extends SeasonRest {
  readonly found: Result<Solution> | null;
}

const isNone = ({ found }: Tried): boolean => found?.ok === true && found.value.status === "infeasible";
const usesKept = (beds: readonly BedRest[]): boolean =>
  beds.some(({ rounds }) => rounds.some(({ kept }) => sumOf(kept) > 0));
const openOf = (beds: readonly BedRest[]): BedRest[] => beds.filter(({ over }) => !over);

/** What was planned for the rounds that are left, as an answer; null where there are none, or what they take cannot be had. */
async function goOn(left: SeasonRest, asked: AnswerOptions) {
  const ways = left.beds.map((one) => ({ nothing: nothingMore(one), old: wayOf(one.plan, one.oldPlan) }));
  const open = openOf(left.beds);
  const hasRounds = open.some(({ rounds }) => leftOf(rounds).some(({ gives }) => sumOf(gives) > 0));
  const old = ways.flatMap((way, p) => (left.beds[p]!.over ? [] : [way.old]));
  const mixes = open.map(({ oldMix }) => oldMix);
  return { ...left, ways, hasRounds, planned: hasRounds ? await asAnswer(old, mixes, asked) : null };
}

/** The rest without anything more, where that feeds all beds; else null. */
async function idleIn(
  left: SeasonRest,
  asked: AnswerOptions,
): Promise<(Tried & { readonly warnings: readonly Notice[] }) | null> {
  const ways = openOf(left.beds).map(nothingMore);
  if (ways.length === 0 || !ways.every(isFed)) return null;
  const nothing = await asAnswer(
    ways,
    ways.map(() => null),
    asked,
  );
  return nothing && { ...left, found: ok(nothing), warnings: [] };
}

/**
 * The rest with the rounds that are left. What is kept of mixes goes first, unless it is in the way; where the rounds come too late to mend what is short, a dressing now is added to them.
 */
async function bestTried(
  tried: (how: RestOptions) => Promise<Tried>,
): Promise<Tried & { readonly warnings: readonly Notice[] }> {
  let best = await tried({});
  if (usesKept(best.beds)) {
    const without = await tried({ keep: true });
    if (isNone(best) && !isNone(without)) best = without;
  }
  if (isNone(best) && best.beds.some(({ plan, on }) => plan.applications[0]!.day > on)) {
    const today = await tried({ dressing: true });
    const text =
      "The rounds that are left come too late to mend this by themselves: a dressing now is added to them.";
    if (!isNone(today)) return { ...today, warnings: [{ code: "dressing-added", text }] };
  }
  return { ...best, warnings: [] };
}

/** Totals nearer than this, in the currency, are the same. */
const SAME_TOTAL = 0.005;

/** The old plan as an answer, with what is proven of the rest: that none costs less than the cheapest, if that is known. */
function provenBy(cheapest: Solution | null, planned: Solution): Solution {
  const total = planned.cost.total!;
  const bound = cheapest?.cost.bound ?? null;
  const gap = bound === null ? null : Math.max(0, total - bound) / Math.max(1, total);
  const status = gap !== null && total - bound! <= SAME_TOTAL ? planned.status : "found";
  return { ...planned, status, cost: { ...planned.cost, bound: bound && Math.min(total, bound), gap } };
}

/** What of an answer is for the next round of any bed, by the calendar. */
export function nextRound(rest: Solution, beds: readonly SeasonBed[]): Solution {
  const ahead = (bed: string, day: number): number => day - beds.find((one) => one.bed === bed)!.day;
  const days = rest.beds.flatMap(({ bed, rounds }) =>
    rounds.flatMap(({ kg, day }) => (kg > 0 ? [ahead(bed, day)] : [])),
  );
  const next = Math.min(...days);
  const own = rest.beds.map((one) => ({
    ...one,
    rounds: one.rounds.filter(({ day }) => ahead(one.bed, day) === next),
  }));
  const mixes = new Set(own.flatMap(({ rounds }) => rounds.map(({ mix }) => mix)));
  return { ...rest, beds: own, mixes: rest.mixes.filter(({ name }) => mixes.has(name)) };
}

function askedShare(sure: SureAsked | undefined): number | null {
  const nitrogen = sure?.each.find(({ nutrient }) => nutrient === "N") ?? sure?.each[0];
  return nitrogen?.p ?? sure?.together?.p ?? null;
}

function bedNow(
  { bed, plan, on, over, rounds, standing }: BedRest,
  ways: { readonly nothing: Way; readonly old: Way },
  answer?: BedAnswer,
): SeasonBed {
  const { past, releasedKg, takenUpKg, lostKg, readings } = standing;
  const last = readings.at(-1);
  const needed = plan.demands.filter(({ minKg }) => minKg > 0);
  const nitrogenKg = needed.find(({ nutrient }) => nutrient === "N")?.minKg ?? 0;
  const atEnd = (sure: Sureness | undefined): ChanceByNutrient =>
    Object.fromEntries(
      (sure?.needs ?? []).flatMap(({ nutrient, day, p, pChecked }) =>
        day === plan.seasonDays ? [[nutrient, pChecked ?? p]] : [],
      ),
    );
  return {
    bed: bed.name,
    day: on,
    planted: bed.planted ?? null,
    over,
    spreadKg: past.given.reduce((sum, { kg }) => kg.reduce((part, one) => part + one.kg, sum), 0),
    releasedKg,
    takenUpKg,
    lostKg,
    expectedKg: last?.expectedKg ?? null,
    measuredKg: last?.measuredKg ?? null,
    measuredDay: last?.day ?? null,
    littleLost: lostKg > 0 && lostKg < Math.max(bed.scaleKg, 0.01 * nitrogenKg),
    rounds: rounds.map(({ round: name, day, state, gives, kept }) => ({
      name,
      day,
      date: dateOf(day, bed.planted),
      state,
      gives,
      kept,
    })),
    nutrients: needed.map((demand) => {
      const { nutrient, minKg: needKg } = demand;
      const by = ({ plan, season, amounts }: Way): number => countedKg(plan, season, amounts, demand);
      return {
        nutrient,
        needKg,
        spreadKg: contentKg(plan.amendments, past.given, nutrient),
        nothingKg: by(ways.nothing),
        oldPlanKg: by(ways.old),
        newPlanKg: answer ? countedOfAll(answer, nutrient) : null,
      };
    }),
    chance: {
      nothing: atEnd(ways.nothing.sure),
      oldPlan: atEnd(ways.old.sure),
      newPlan: atEnd(answer?.sure),
    },
  };
}

/** What an answer brings of a nutrient; its figures are of one bed, those of a season of all that are alike. */
function countedOfAll({ nutrients, bedsAlike }: BedAnswer, wanted: Nutrient): number | null {
  const found = nutrients.find(({ nutrient }) => nutrient === wanted);
  return found ? found.countedKg * bedsAlike : null;
}

function distinct(notices: readonly Notice[]): Notice[] {
  return notices.filter(({ text }, i) => notices.findIndex((other) => other.text === text) === i);
}

/** What is not counted, and what was worked out with where nobody said otherwise. */
function toKnow(
  { log, beds, units }: SeasonFile,
  on: number,
  { shed, beds: rests }: Pick<SeasonRest, "shed" | "beds">,
): Notice[] {
  const used = (mix: string): number =>
    rests.reduce((sum, { rounds }) => rounds.reduce((of, { kept }) => of + (kept[mix] ?? 0), sum), 0);
  const later = log.filter(({ day }) => day > on);
  const rains = log.filter(({ kind, day }) => (kind === "rain" || kind === "water") && day <= on);
  const dry = rains.filter((line) => line.kind === "rain" && line.evaporationM === undefined);
  const { holds, rootsM } = beds[0]!.soil ?? {};
  const say = (holdsTrue: boolean, code: string, text: string): Notice[] =>
    holdsTrue ? [{ code, text }] : [];
  return [
    ...say(
      later.length > 0,
      "lines-later",
      `${later.length === 0 ? "" : linesName(later)} ${later.length === 1 ? "is of a later day" : "are of later days"} and not counted.`,
    ),
    ...rests.flatMap(({ bed, rounds }) =>
      rounds.flatMap(({ round, kept }) =>
        Object.entries(kept).map(([mix, kg]) => ({
          code: "mix-kept-first",
          text: `${rests.length > 1 ? `${bed.name}, r` : "R"}ound ${round}: first spread the ${weight(kg, units)} of mix ${mix} that is mixed and kept; what is given here comes on top.`,
        })),
      ),
    ),
    ...[...shed.kept].flatMap(([mix, kg]) =>
      say(
        kg - used(mix) > SMALL_KG,
        "mix-kept",
        `${weight(kg - used(mix), units)} of mix ${mix} is mixed and kept, and nothing below takes it.`,
      ),
    ),
    ...say(
      rains.length > 0 && (holds === undefined || rootsM === undefined),
      "soil-assumed",
      "What drains is worked out for a loam (25% water at field capacity) with roots 12 in deep where the plan does not say: add `soil: {holds: 25%, roots: 12 in}`. Sand holds about 12%, clay 40% (common practice, no source).",
    ),
    ...say(
      dry.length > 0,
      "evaporation-none",
      `${dry.length === 0 ? "" : linesName(dry)} ${dry.length === 1 ? "says" : "say"} no evaporation: all of that rain is taken to drain. Dry soil soaks some up; add \`evaporation:\`.`,
    ),
  ];
}
