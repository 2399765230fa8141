/** `now`: where each bed of a season is, the cheapest rest of it, and what that is worth beside going on as planned. */
import { dateOfDay } from "../calendar.ts";
import { chancesOf } from "../field/chances.ts";
import { type Amounts, countedKg } from "../field/delivery.ts";
import { SeasonWork } from "../field/sureness.ts";
import type { LogLine, SeasonFile } from "../files/season-model.ts";
import type { Plan, SureAsked } from "../model.ts";
import { fail, type Notice, ok, type Result } from "../problem.ts";
import type { ChanceByNutrient, SeasonBed, SeasonNow } from "../results/season.ts";
import type { BedAnswer, Solution } from "../results/solution.ts";
import { demandOf, layOutSeason } from "../season/season.ts";
import { layOutSpread } from "../season/spread.ts";
import { type AnswerOptions, solvePlans } from "./answer.ts";
import { type BedRest, DRESSING, lateNeeds, neededBy, restOf, type Shed, shedOn } from "./season-rest.ts";

export interface NowOptions extends AnswerOptions {
  /** Day of the season; absent: that of the last line. */
  readonly on?: number;
  /** A plan at other prices, or asked otherwise. */
  readonly changed?: (plan: Plan) => Promise<Plan>;
}

/** The day on which a season is looked at, where none is asked for: that of its last line, or of planting. */
export function lastDay(log: readonly LogLine[]): number {
  return Math.max(0, ...log.map(({ day }) => day));
}

/** The beds of a season with the rest of it, and what is in the shed. */
export interface SeasonRest {
  readonly on: number;
  readonly shed: Shed;
  readonly beds: readonly BedRest[];
  /** Of beds whose season is not over. */
  readonly plans: readonly Plan[];
}

/** What is left of a season on a day. */
export function seasonRest(season: SeasonFile, on: number): SeasonRest {
  const shed = shedOn(season, on);
  const beds = season.beds.map((bed) => restOf(season, bed, on, shed));
  return { on, shed, beds, plans: beds.flatMap(({ plan }) => plan ?? []) };
}

/**
 * Where a season is and what to do.
 * @returns problems where its beds do not go together.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function seasonNow(season: SeasonFile, options: NowOptions = {}): Promise<Result<SeasonNow>> {
  const { on = lastDay(season.log), changed = async (plan: Plan) => plan, ...asked } = options;
  const { shed, beds } = seasonRest(season, on);
  const asPlanned = await Promise.all(
    beds.map(async (rest) => ({ ...rest, plan: rest.plan && (await changed(rest.plan)) })),
  );
  const found = await restFound(asPlanned, asked);
  if (found !== null && !found.ok) return fail(...found.problems);
  let [rests, rest]: [readonly BedRest[], Solution | null] = [asPlanned, found?.value ?? null];
  const sooner: Notice[] = [];
  if (
    rest?.status === "infeasible" &&
    asPlanned.some((one) => one.plan && one.plan.applications[0]!.day > on)
  ) {
    const today = asPlanned.map(withDressing);
    const mended = await restFound(today, asked);
    if (mended?.ok && mended.value.status !== "infeasible") {
      [rests, rest] = [today, mended.value];
      sooner.push({
        code: "dressing-added",
        text: "The rounds that are left come too late to mend this by themselves: a dressing now is added to them.",
      });
    }
  }
  const plans = rests.flatMap(({ plan }) => plan ?? []);
  const [first] = season.beds;
  const planted = first!.planted ?? null;
  const sure = plans[0]?.sure ?? first!.sure;
  return ok({
    schema: "barrowmix.season/1",
    season: season.file,
    currency: season.currency,
    units: plans[0]?.units ?? season.units,
    day: on,
    date: planted === null ? null : dateOfDay(on, planted),
    lastLine: options.on === undefined && season.log.length > 0,
    seasonDays: first!.seasonDays,
    planted,
    asked: askedShare(sure),
    beds: rests.map((one) => bedNow(one, answerFor(rest, one))),
    rest,
    goOn: await goOn(rests, asked),
    shed: [...shed.kg].flatMap(([id, kg]) => {
      const name = season.materials.find((one) => one.id === id)?.name ?? id;
      return kg > 1e-6 ? [{ id, name, kg }] : [];
    }),
    kept: [...shed.kept].flatMap(([mix, kg]) => (kg > 1e-6 ? [{ mix, kg }] : [])),
    late: rests.flatMap((one) => lateNeeds(one).map((need) => ({ bed: one.bed.name, ...need }))),
    warnings: distinct([
      ...sooner,
      ...season.warnings,
      ...laterLines(season.log, on),
      ...shed.warnings,
      ...keptWarnings(shed),
      ...rests.flatMap(({ warnings }) => warnings),
      ...defaultsSaid(season, on),
    ]),
  });
}

async function restFound(
  rests: readonly BedRest[],
  options: AnswerOptions,
): Promise<Result<Solution> | null> {
  const [first, ...others] = rests.flatMap(({ plan }) => plan ?? []);
  return first === undefined ? null : solvePlans([first, ...others], options);
}

/** The same rest with one more round, on the day asked about. */
function withDressing(rest: BedRest): BedRest {
  const { plan, oldPlan, standing } = rest;
  if (plan === null || plan.applications[0]!.day <= standing.past.on) return rest;
  const today = { name: DRESSING, day: standing.past.on, share: 0 };
  return {
    ...rest,
    plan: {
      ...plan,
      applications: [today, ...plan.applications],
      limits: plan.limits.map((limit) => ({ ...limit, notIn: limit.notIn.map((t) => t + 1) })),
    },
    oldPlan: oldPlan.map((row) => [0, ...row]),
  };
}

function askedShare(sure: SureAsked | undefined): number | null {
  const nitrogen = sure?.each.find(({ nutrient }) => nutrient === "N") ?? sure?.each[0];
  return nitrogen?.p ?? sure?.together?.p ?? null;
}

const answerFor = (rest: Solution | null, { bed }: BedRest): BedAnswer | undefined =>
  rest === null || rest.status === "infeasible" ? undefined : rest.beds.find((one) => one.bed === bed.name);

function bedNow(one: BedRest, answer: BedAnswer | undefined): SeasonBed {
  const { bed, plan, rounds, standing, spreadKg, oldPlan } = one;
  const { past, releasedKg, takenUpKg, lostKg, readings } = standing;
  const last = readings.at(-1);
  // With the season over, what was given is all there is.
  const whole = plan ?? { ...bed, past, applications: [{ name: "", day: past.on, share: 1 }] };
  const nothing = whole.amendments.map(() => whole.applications.map(() => 0));
  const season = layOutSeason(whole);
  const old = plan === null ? nothing : oldPlan;
  const need = demandOf(bed, "N").minKg;
  const chance = chancesOn(whole);
  return {
    bed: bed.name,
    spreadKg,
    releasedKg,
    takenUpKg,
    lostKg,
    expectedKg: last?.expectedKg ?? null,
    measuredKg: last?.measuredKg ?? null,
    measuredDay: last?.day ?? null,
    littleLost: lostKg > 0 && lostKg < Math.max(bed.scaleKg, 0.01 * need),
    rounds: rounds.map(({ round: name, day, state }) => ({
      name,
      day,
      date: bed.planted === undefined ? null : dateOfDay(day, bed.planted),
      state,
    })),
    nutrients: neededBy(bed).map((nutrient) => {
      const demand = demandOf(whole, nutrient);
      const by = (amounts: Amounts): number => countedKg(whole, season, amounts, demand);
      return {
        nutrient,
        needKg: demand.minKg,
        spreadKg: past.given.reduce(
          (sum, { kg }) =>
            sum +
            kg.reduce((part, { id, kg: weighed }) => {
              const content =
                whole.amendments.find((material) => material.id === id)?.analysis[nutrient] ?? 0;
              return part + weighed * content;
            }, 0),
          0,
        ),
        nothingKg: by(nothing),
        oldPlanKg: by(old),
        newPlanKg: answer?.nutrients.find((found) => found.nutrient === nutrient)?.countedKg ?? null,
      };
    }),
    chance: {
      nothing: chance(nothing),
      oldPlan: chance(old),
      newPlan: Object.fromEntries(
        (answer?.sure?.needs ?? []).flatMap(({ nutrient, day, p, pChecked }) =>
          day === bed.seasonDays ? [[nutrient, pChecked ?? p]] : [],
        ),
      ),
    },
  };
}

/** How often needs are met at the season's end; where the plan asks to be sure of one, in the worked seasons. */
function chancesOn(plan: Plan): (amounts: Amounts) => ChanceByNutrient {
  const spread = layOutSpread(plan, layOutSeason(plan));
  const asked = new Set(plan.sure?.each.map(({ nutrient }) => nutrient) ?? []);
  const work = asked.size > 0 ? new SeasonWork(plan) : null;
  return (amounts) => {
    const worked = work?.work(amounts, ({ nutrient }) => asked.has(nutrient)).needs ?? [];
    const all = [
      ...chancesOf(plan, spread, amounts),
      ...worked.map(({ met, ...need }) => ({ ...need, p: met })),
    ];
    return Object.fromEntries(
      all.flatMap(({ nutrient, day, p }) => (day === plan.seasonDays ? [[nutrient, p]] : [])),
    );
  };
}

/** What the rounds of the old plan that are left cost to buy, by the same purchase. */
async function goOn(rests: readonly BedRest[], options: AnswerOptions): Promise<SeasonNow["goOn"]> {
  const plans = rests.flatMap(({ plan, oldPlan }): Plan[] => {
    const kg = oldPlan.map((row) => row.reduce((sum, one) => sum + one, 0));
    if (plan === null || !kg.some((one) => one > 0)) return [];
    const { sure: _, past: __, ...bare } = plan;
    const limits = plan.amendments.map(({ id }, a) => ({ id, minKg: kg[a]!, maxKg: kg[a]!, notIn: [] }));
    return [
      {
        ...bare,
        demands: [],
        credits: [],
        blend: "one",
        applications: [{ ...plan.applications[0]!, share: 1 }],
        limits,
      },
    ];
  });
  const [first, ...others] = plans;
  if (first === undefined) return null;
  const { by, clock, seconds } = options;
  const found = await solvePlans([first, ...others], {
    detail: "mix",
    ...(by ? { by } : {}),
    ...(clock ? { clock } : {}),
    ...(seconds ? { seconds } : {}),
  });
  return { total: found.ok ? found.value.cost.total : null };
}

function distinct(notices: readonly Notice[]): Notice[] {
  return notices.filter(({ text }, i) => notices.findIndex((other) => other.text === text) === i);
}

function laterLines(log: readonly LogLine[], on: number): Notice[] {
  const later = log.filter(({ day }) => day > on).map(({ line }) => line);
  if (later.length === 0) return [];
  return [
    {
      code: "lines-later",
      text: `${later.length === 1 ? `Line ${later[0]} of the season is` : `Lines ${later.join(", ")} of the season are`} of later days and not counted.`,
    },
  ];
}

function keptWarnings({ kept }: Shed): Notice[] {
  return [...kept].flatMap(([mix, kg]) =>
    kg > 1e-6
      ? [
          {
            code: "mix-kept",
            text: `Some of mix ${mix} is mixed and kept. The rest below is planned without it; where you give that mix again, use it first.`,
          },
        ]
      : [],
  );
}

/** What a loss was worked out with where nobody said otherwise. */
function defaultsSaid(season: SeasonFile, on: number): Notice[] {
  const rains = season.log.filter(
    (line) => (line.kind === "rain" || line.kind === "water") && line.day <= on,
  );
  if (rains.length === 0) return [];
  const { holds, rootsM } = season.beds[0]!.soil ?? {};
  const notices: Notice[] = [];
  if (holds === undefined || rootsM === undefined)
    notices.push({
      code: "soil-assumed",
      text: "What drains is worked out for a loam (25% water at field capacity) with roots 12 in deep where the plan does not say: add `soil: {holds: 25%, roots: 12 in}`. Sand holds about 12%, clay 40% (common practice, no source).",
    });
  const dry = rains.filter((line) => line.kind === "rain" && line.evaporationM === undefined);
  if (dry.length > 0)
    notices.push({
      code: "evaporation-none",
      text: `${dry.length === 1 ? `Line ${dry[0]!.line} of the season says` : `Lines ${dry.map(({ line }) => line).join(", ")} of the season say`} no evaporation: all of that rain is taken to drain. Dry soil soaks some up; add \`evaporation:\`.`,
    });
  return notices;
}
