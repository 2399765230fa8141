/** `now`: where each bed of a season is, the cheapest rest of it, and what that is worth beside going on as planned. */
import { dateOfDay } from "../calendar.ts";
import { type Amounts, countedKg } from "../field/delivery.ts";
import type { SeasonFile } from "../files/season-model.ts";
import { linesWords } from "../files/season-remarks.ts";
import type { Plan, SureAsked } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { fail, type Notice, ok, type Result } from "../problem.ts";
import type { ChanceByNutrient, SeasonBed, SeasonNow } from "../results/season.ts";
import type { BedAnswer, Solution } from "../results/solution.ts";
import type { Sureness } from "../results/sure.ts";
import { layOutSeason } from "../season/season.ts";
import { gaveKg } from "../season/under-way.ts";
import { type AnswerOptions, solvePlans } from "./answer.ts";
import { type BedRest, lastDay, lateNeeds, type SeasonRest, type Shed, seasonRest } from "./season-rest.ts";
import { surenessFound } from "./sure.ts";

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
  const leftOf = async (dressing: boolean): Promise<SeasonRest> => {
    const { shed, beds } = seasonRest(season, on, dressing);
    return {
      shed,
      beds: await Promise.all(beds.map(async (one) => ({ ...one, plan: await changed(one.plan) }))),
    };
  };
  let { shed, beds } = await leftOf(false);
  let found = await solved(beds, asked);
  if (found !== null && !found.ok) return fail(...found.problems);
  const sooner: Notice[] = [];
  if (
    found?.value.status === "infeasible" &&
    beds.some(({ plan, on: day }) => plan.applications[0]!.day > day)
  ) {
    const today = (await leftOf(true)).beds;
    const mended = await solved(today, asked);
    if (mended?.ok && mended.value.status !== "infeasible") {
      [beds, found] = [today, mended];
      const text =
        "The rounds that are left come too late to mend this by themselves: a dressing now is added to them.";
      sooner.push({ code: "dressing-added", text });
    }
  }
  const rest = found?.value ?? null;
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
    beds: beds.map((one) => bedNow(one, answerFor(one.bed.name))),
    rest,
    goOn: await goOn(beds, asked),
    shed: [...shed.kg].flatMap(([id, kg]) => {
      const name = season.materials.find((one) => one.id === id)?.name ?? id;
      return kg > SMALL_KG ? [{ id, name, kg }] : [];
    }),
    kept: [...shed.kept].flatMap(([mix, kg]) => (kg > SMALL_KG ? [{ mix, kg }] : [])),
    late: beds.flatMap((one) => lateNeeds(one).map((need) => ({ bed: one.bed.name, ...need }))),
    warnings: distinct([
      ...sooner,
      ...season.warnings,
      ...shed.warnings,
      ...beds.flatMap(({ warnings }) => warnings),
      ...toKnow(season, on, shed),
    ]),
  });
}

const dateOf = (day: number, planted: string | undefined): string | null =>
  planted ? dateOfDay(day, planted) : null;

/** The cheapest rest of the beds whose season is not over; null where all are. */
async function solved(beds: readonly BedRest[], options: AnswerOptions): Promise<Result<Solution> | null> {
  const [first, ...others] = beds.filter(({ over }) => !over).map(({ plan }) => plan);
  return first === undefined ? null : solvePlans([first, ...others], options);
}

function askedShare(sure: SureAsked | undefined): number | null {
  const nitrogen = sure?.each.find(({ nutrient }) => nutrient === "N") ?? sure?.each[0];
  return nitrogen?.p ?? sure?.together?.p ?? null;
}

function bedNow({ bed, plan, on, over, rounds, standing, oldPlan }: BedRest, answer?: BedAnswer): SeasonBed {
  const { past, releasedKg, takenUpKg, lostKg, readings } = standing;
  const last = readings.at(-1);
  const nothing = oldPlan.map((row) => row.map(() => 0));
  const season = layOutSeason(plan);
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
    rounds: rounds.map(({ round: name, day, state, gives }) => ({
      name,
      day,
      date: dateOf(day, bed.planted),
      state,
      gives,
    })),
    nutrients: needed.map((demand) => {
      const { nutrient, minKg: needKg } = demand;
      const by = (amounts: Amounts): number => countedKg(plan, season, amounts, demand);
      return {
        nutrient,
        needKg,
        spreadKg: plan.amendments.reduce(
          (sum, { id, analysis }) => sum + gaveKg(past.given, id) * (analysis[nutrient] ?? 0),
          0,
        ),
        nothingKg: by(nothing),
        oldPlanKg: by(oldPlan),
        newPlanKg: answer ? countedOfAll(answer, nutrient) : null,
      };
    }),
    chance: {
      nothing: atEnd(surenessFound(plan, season, nothing)),
      oldPlan: atEnd(surenessFound(plan, season, oldPlan)),
      newPlan: atEnd(answer?.sure),
    },
  };
}

/** What an answer brings of a nutrient; its figures are of one bed, those of a season of all that are alike. */
function countedOfAll({ nutrients, bedsAlike }: BedAnswer, wanted: Nutrient): number | null {
  const found = nutrients.find(({ nutrient }) => nutrient === wanted);
  return found ? found.countedKg * bedsAlike : null;
}

/** What the rounds of the old plan that are left cost to buy, by the same purchase. */
async function goOn(
  rests: readonly BedRest[],
  { by = "purchase", clock = () => 0, seconds = Infinity }: AnswerOptions,
): Promise<SeasonNow["goOn"]> {
  const plans = rests.flatMap(({ plan, oldPlan }): Plan[] => {
    const kg = oldPlan.map((row) => row.reduce((sum, one) => sum + one, 0));
    if (!kg.some((one) => one > 0)) return [];
    const { sure: _, past: __, simple: ___, ...bare } = plan;
    const limits = plan.amendments.map(({ id }, a) => ({ id, minKg: kg[a]!, maxKg: kg[a]!, notIn: [] }));
    const applications = [{ ...plan.applications[0]!, share: 1 }];
    return [{ ...bare, demands: [], credits: [], blend: "one", applications, limits }];
  });
  const [first, ...others] = plans;
  if (first === undefined) return null;
  const found = await solvePlans([first, ...others], { detail: "mix", by, clock, seconds });
  return { total: found.ok ? found.value.cost.total : null };
}

function distinct(notices: readonly Notice[]): Notice[] {
  return notices.filter(({ text }, i) => notices.findIndex((other) => other.text === text) === i);
}

/** What is not counted, and what was worked out with where nobody said otherwise. */
function toKnow({ log, beds }: SeasonFile, on: number, { kept }: Shed): Notice[] {
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
      `${linesWords(later)} of the season ${later.length === 1 ? "is of a later day" : "are of later days"} and not counted.`,
    ),
    ...[...kept].flatMap(([mix, kg]) =>
      say(
        kg > SMALL_KG,
        "mix-kept",
        `Some of mix ${mix} is mixed and kept. The rest below is planned without it; where you give that mix again, use it first.`,
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
      `${linesWords(dry)} of the season ${dry.length === 1 ? "says" : "say"} no evaporation: all of that rain is taken to drain. Dry soil soaks some up; add \`evaporation:\`.`,
    ),
  ];
}
