/**
 * The rest of a season as a plan: what has been spread is given, what is in the shed is the stock, the rounds that are left
 * are its applications, each with its own mix. Caps and limits are those of the whole season, less what they already hold.
 */
import { dayOfDate, parseDate } from "../calendar.ts";
import type { Amounts } from "../field/delivery.ts";
import {
  type Kilograms,
  type LogLine,
  materialsOf,
  type NitrateLine,
  type PlannedRound,
  type SeasonFile,
  type SpreadLine,
  type WaterLine,
} from "../files/season-model.ts";
import {
  type Amendment,
  type Application,
  type Bed,
  type Demand,
  type Given,
  type Limit,
  type Plan,
  wholeBed,
} from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import { layOutSeason, type Season, takenUpKg } from "../season/season.ts";
import { type Happened, STRIP_CV, type Standing, standingOn } from "../season/standing.ts";
import { gaveKg } from "../season/under-way.ts";
import { toSi } from "../units.ts";
import { weight } from "../words/numbers.ts";

/** Nitrate nitrogen in a soil: 1 ppm over 1 cm is 0.147 kg/ha, which is 4 lb/acre over 12 in. */
const KG_PER_M2_PPM_M = (0.147 / 10_000) * 100;
/** A sample no deeper than this says little of the roots' nitrogen, metres. */
const SHALLOW_M = toSi(10, "in") * (1 - 1e-9);
/** At or below this a test cannot tell nitrate from none, ppm. */
const LEAST_PPM = 2;
/** Within so many days after a spreading what was spread is not yet in the soil evenly. */
const SOON_DAYS = 7;
/** A gram: less is what rounding in the file leaves. */
const SMALL_KG = 1e-3;

/** What a round is called that no plan had. */
const DRESSING = "a dressing now";

/** What is in the shed. */
export interface Shed {
  readonly kg: ReadonlyMap<string, number>;
  /** kg of each mix that is mixed and not spread. */
  readonly kept: ReadonlyMap<string, number>;
  readonly warnings: readonly Notice[];
}

/** What is in the shed by a day: what there was, bought, used and kept, or what was weighed. */
function shedOn(season: SeasonFile, on: number): Shed {
  const kg = new Map(Object.entries(season.shed));
  const kept = new Map<string, number>();
  const warnings: Notice[] = [];
  const nameOf = (id: string): string => season.materials.find((one) => one.id === id)?.name ?? id;
  const take = (amounts: Kilograms, line: LogLine): void => {
    for (const [id, taken] of Object.entries(amounts)) {
      const left = (kg.get(id) ?? 0) - taken;
      if (left < -SMALL_KG)
        warnings.push({
          code: "spread-unbought",
          text: `Line ${line.line} of the season takes ${weight(-left, season.units)} more ${nameOf(id)} than there was in the shed and was bought by then; the shed is counted as empty of it. Is a purchase missing?`,
        });
      kg.set(id, left < SMALL_KG ? 0 : left);
    }
  };
  for (const line of season.log) {
    if (line.day > on) continue;
    if (line.kind === "bought") kg.set(line.id, (kg.get(line.id) ?? 0) + line.kg);
    else if (line.kind === "kept") {
      take(materialsOf(line.kg, season.mixes), line);
      for (const [mix, more] of Object.entries(line.kg)) kept.set(mix, (kept.get(mix) ?? 0) + more);
    } else if (line.kind === "spread")
      for (const got of line.beds) take(materialsOf(withoutKept(got.gives, kept), season.mixes), line);
    else if (line.kind === "left")
      for (const [id, weighed] of Object.entries(line.kg)) {
        const counted = kg.get(id) ?? 0;
        if (Math.abs(counted - weighed) > Math.max(SMALL_KG, 0.01 * weighed))
          warnings.push({
            code: "left-differs",
            text: `Line ${line.line} of the season weighs ${weight(weighed, season.units)} of ${nameOf(id)} in the shed; by what was bought and spread there would be ${weight(counted, season.units)}. What was weighed counts.`,
          });
        kg.set(id, weighed);
      }
  }
  return { kg, kept, warnings: [...warnings, ...otherStock(season)] };
}

/** What of mixes is mixed anew once what was kept is used. */
function withoutKept(gives: Kilograms, kept: Map<string, number>): Kilograms {
  return Object.fromEntries(
    Object.entries(gives).map(([mix, kg]) => {
      const used = Math.min(kg, kept.get(mix) ?? 0);
      if (used > 0) kept.set(mix, kept.get(mix)! - used);
      return [mix, kg - used];
    }),
  );
}

function otherStock({ beds, shed, units }: SeasonFile): Notice[] {
  const each = beds[0]!.amendments.flatMap(({ id, name, stockKg }) => {
    const ours = shed[id] ?? 0;
    const differ = Math.abs(stockKg - ours) > SMALL_KG;
    return differ ? [`${name} ${weight(stockKg, units)}, the season ${weight(ours, units)}`] : [];
  });
  const text = `The plan's stock is not what the season began with (the plan says ${each.join("; ")}). The season's shed and its log count.`;
  return each.length === 0 ? [] : [{ code: "stock-differs", text }];
}

/** A round of the plan as the season sees it. */
export interface RoundState extends PlannedRound {
  /** `late`: it is given on the day asked about. `dropped`: its day and the next round's have passed. */
  readonly state: "done" | "late" | "next" | "dropped";
}

/** What has become of a bed's rounds by a day. */
function roundsOf({ planned, log }: SeasonFile, bed: string, on: number): RoundState[] {
  const rounds = planned.filter((round) => round.bed === bed).sort((a, b) => a.day - b.day);
  const done = new Set(
    log.flatMap((line) =>
      line.kind === "spread" && line.day <= on && line.beds.some((got) => got.bed === bed)
        ? [line.round]
        : [],
    ),
  );
  return rounds.map((round, i) => {
    const next = rounds[i + 1]?.day ?? Infinity;
    const late = next <= on ? "dropped" : "late";
    return { ...round, state: done.has(round.round) ? "done" : round.day >= on ? "next" : late };
  });
}

/** A bed with the rest of its season; days are counted from its own planting. */
export interface BedRest {
  readonly bed: Plan;
  readonly on: number;
  /** Nothing that is given now feeds the crop any more. */
  readonly over: boolean;
  readonly rounds: readonly RoundState[];
  readonly standing: Standing;
  /** Of what is left to give. */
  readonly plan: Plan;
  /** What the old plan gives in the rounds that are left, kg by amendment and application of `plan`. */
  readonly oldPlan: Amounts;
  readonly warnings: readonly Notice[];
}

/** The beds of a season with the rest of it, and what is in the shed. */
export interface SeasonRest {
  readonly shed: Shed;
  readonly beds: readonly BedRest[];
}

/** The day on which a season is looked at, where none is asked for: that of its last line, or of planting. */
export function lastDay(log: readonly LogLine[]): number {
  return Math.max(0, ...log.map(({ day }) => day));
}

/**
 * What is left of a season on a day.
 * @param dressing whether something may be given on that day too, beside the rounds that are left.
 */
export function seasonRest(season: SeasonFile, on: number, dressing = false): SeasonRest {
  const shed = shedOn(season, on);
  return { shed, beds: season.beds.map((bed) => restOf(season, bed, on, shed, dressing)) };
}

/** A season with its days counted from the planting of one of its beds. */
function seenFrom(
  season: SeasonFile,
  { planted }: Plan,
): { readonly season: SeasonFile; readonly days: number } {
  const days = planted === undefined ? 0 : dayOfDate(parseDate(planted)!, season.planted);
  const moved = <T extends { readonly day: number }>(all: readonly T[]): T[] =>
    all.map((one) => ({ ...one, day: one.day - days }));
  return days === 0
    ? { season, days }
    : { season: { ...season, planned: moved(season.planned), log: moved(season.log) }, days };
}

/** The rest of a bed's season from a day on. */
function restOf(whose: SeasonFile, bed: Plan, day: number, shed: Shed, dressing: boolean): BedRest {
  const { season, days } = seenFrom(whose, bed);
  const on = day - days;
  const lines = season.log.filter((line) => line.day <= on);
  const spread = lines.filter((line): line is SpreadLine => line.kind === "spread");
  const given = spread.flatMap((line) => givenBy(season, line, bed));
  const whole = { ...bed, amendments: amendmentsOf(season, bed, given, shed) };
  const { found, warnings } = readingsOf(bed, lines, spread);
  const standing = standingOn(whole, { given, water: waterOf(bed, lines), found }, on);
  const rounds = roundsOf(season, bed.name, on);
  const over = on >= bed.seasonDays;
  const left = over ? [] : rounds.filter(({ state }) => state === "next" || state === "late");
  const first = Math.min(...left.map((round) => Math.max(round.day, on)));
  // With every round given, a dressing now is all that is left.
  const now = first === Infinity || (dressing && first > on) ? [{ name: DRESSING, day: on, share: 1 }] : [];
  const applications = [
    ...now,
    ...left.map(
      (round): Application => ({
        name: round.round,
        day: Math.max(round.day, on),
        share: 1,
        ...defined({ placement: round.placement, dugInDays: dugIn(bed, round.round) }),
      }),
    ),
  ];
  const plan = remaining(whole, standing, applications, given);
  const planned = [...now.map(() => ({})), ...left.map(({ gives }) => materialsOf(gives, season.mixes))];
  return {
    bed,
    on,
    over,
    rounds,
    standing,
    plan,
    oldPlan: whole.amendments.map(({ id }) => planned.map((kg: Kilograms) => kg[id] ?? 0)),
    warnings: [...warnings, ...passedCaps(whole, plan)],
  };
}

/** How soon a round of the plan is dug in. */
const dugIn = ({ applications }: Plan, round: string | undefined): number | undefined =>
  applications.find(({ name }) => name === round)?.dugInDays;

function givenBy({ mixes }: SeasonFile, { beds, day, round }: SpreadLine, bed: Plan): Given[] {
  return beds
    .filter((got) => got.bed === bed.name)
    .map(({ gives, placement }) => ({
      day,
      kg: Object.entries(materialsOf(gives, mixes)).map(([id, kg]) => ({ id, kg })),
      ...defined({ placement, dugInDays: dugIn(bed, round) }),
    }));
}

/** What can be spread from here on, and what was spread and cannot be had any more; sorted by id. */
function amendmentsOf(season: SeasonFile, bed: Plan, given: readonly Given[], shed: Shed): Amendment[] {
  const others = season.materials.filter(
    ({ id }) => gaveKg(given, id) > 0 && !bed.amendments.some((one) => one.id === id),
  );
  return [
    ...bed.amendments.map((one) => ({ ...one, stockKg: shed.kg.get(one.id) ?? 0 })),
    ...others.map(({ bulkPricePerKg: _, ...one }) => ({ ...one, packs: [], stockKg: 0 })),
  ].sort((a, b) => (a.id < b.id ? -1 : 1));
}

function remaining(
  whole: Plan,
  { past }: Standing,
  applications: readonly Application[],
  given: readonly Given[],
): Plan {
  const { checkDays = [], drainage = [], ...kept } = whole;
  const plan: Plan = {
    ...kept,
    past,
    applications,
    blend: "each",
    limits: limitsLeft(whole, applications, given),
    checkDays: checkDays.filter((day) => day > past.on),
    drainage: drainage.filter(({ day }) => day > past.on),
  };
  const season = layOutSeason(plan);
  return { ...plan, demands: whole.demands.map((demand) => demandLeft(plan, season, demand, given)) };
}

/** Limits on weights, less what was spread; what cannot be had is barred. Shares are of a blend that is not made any more. */
function limitsLeft(
  { limits, amendments, applications: planned, blend }: Plan,
  applications: readonly Application[],
  given: readonly Given[],
): Limit[] {
  const together = blend === "one";
  const isGone = (id: string): boolean => {
    const { packs, bulkPricePerKg, stockKg } = amendments.find((one) => one.id === id)!;
    return packs.length === 0 && bulkPricePerKg === undefined && stockKg <= 0;
  };
  const stated = limits.map(({ id, minKg, maxKg, notIn }): Limit => {
    const less = (kg: number | undefined): number | undefined =>
      kg === undefined || !together ? kg : Math.max(0, kg - gaveKg(given, id));
    const names = notIn.map((t) => planned[t]!.name);
    const barred = applications.flatMap(({ name }, t) =>
      names.includes(name) || (together && names.length > 0) ? [t] : [],
    );
    return {
      id,
      notIn: barred,
      ...defined({ minKg: less(minKg), maxKg: less(maxKg) }),
      ...(together ? { together } : {}),
    };
  });
  const gone = amendments.filter(({ id }) => isGone(id));
  return [
    ...stated.filter(({ id }) => !isGone(id)),
    ...gone.map(({ id }): Limit => ({ id, maxKg: 0, together: true, notIn: [] })),
  ].sort((a, b) => (a.id < b.id ? -1 : 1));
}

/** Caps less what was spread; one that has been passed leaves room for nothing more. */
function demandLeft(plan: Plan, season: Season, demand: Demand, given: readonly Given[]): Demand {
  const { nutrient, maxKg, appliedMaxKg, appliedSoftMaxKg, aheadMaxKg } = demand;
  const applied = plan.amendments.reduce(
    (sum, { id, analysis }) => sum + gaveKg(given, id) * (analysis[nutrient] ?? 0),
    0,
  );
  const room = (cap: number): number => (cap - applied > 1e-9 * cap ? cap - applied : 0);
  const counted =
    demand.counts === "applied" ? season.creditInAllKg(nutrient) : season.creditKg(nutrient, plan.seasonDays);
  const ahead = Math.max(
    ...season.checkpoints.map((day) => season.creditKg(nutrient, day) - takenUpKg(demand, day)),
  );
  return {
    ...demand,
    maxKg: maxKg === null ? null : Math.max(maxKg, counted, demand.minKg),
    aheadMaxKg: aheadMaxKg === null ? null : Math.max(aheadMaxKg, ahead),
    appliedMaxKg: appliedMaxKg === null ? null : room(appliedMaxKg),
    ...(appliedSoftMaxKg === undefined ? {} : { appliedSoftMaxKg: room(appliedSoftMaxKg) }),
  };
}

/** Caps that what was spread has passed already. */
function passedCaps(whole: Plan, { demands, units }: Plan): Notice[] {
  return whole.demands.flatMap(({ nutrient, maxKg: allowed }, i): Notice[] => {
    const { maxKg } = demands[i]!;
    if (allowed === null || maxKg === null || maxKg <= allowed * (1 + 1e-9)) return [];
    return [
      {
        code: "max-passed",
        text: `What was spread already brings ${weight(maxKg, units)} of ${nutrient}; the plan allows ${weight(allowed, units)} at most. It cannot be taken back.`,
      },
    ];
  });
}

function waterOf(bed: Plan, lines: readonly LogLine[]): Happened["water"] {
  return lines
    .filter((line): line is WaterLine => line.kind === "rain" || line.kind === "water")
    .filter(({ beds }) => beds.includes(bed.name))
    .map(({ day, fallenM, evaporationM = 0 }) => ({ day, drainageM: Math.max(0, fallenM - evaporationM) }));
}

/** Readings that count, and what is to be said of those that do not. */
function readingsOf(
  { name, bed, credits, demands }: Plan,
  lines: readonly LogLine[],
  spread: readonly SpreadLine[],
) {
  const warnings: Notice[] = [];
  const whole = wholeBed(bed);
  const demand = demands.find(({ nutrient }) => nutrient === "N");
  const mineral = credits.find(
    ({ contentKg, release: { curve } }) =>
      (contentKg.N ?? 0) > 0 && curve.kind === "pool" && curve.atOnce === 1,
  );
  const found = lines.flatMap((line): Happened["found"] => {
    if (line.kind !== "nitrate" || !line.beds.includes(name)) return [];
    const say = (code: string, text: string): void => {
      warnings.push({ code, text: `The reading on line ${line.line} of the season ${text}` });
    };
    const why = whyNotCounted(whole, demand, line);
    if (why !== null) {
      say("nitrate-recorded", `is kept and moves nothing: ${why}.`);
      return [];
    }
    const before = spread.flatMap(({ beds, ...one }) =>
      one.day <= line.day ? beds.filter((got) => got.bed === name).map((got) => ({ ...one, ...got })) : [],
    );
    const soon = before.findLast(({ day }) => line.day - day < SOON_DAYS);
    if (soon)
      say(
        "nitrate-soon",
        `was taken within a week after a spreading (line ${soon.line}): what was spread is not even in the soil yet.`,
      );
    if (before.some(({ placement }) => placement === "hole" || placement === "band"))
      say("nitrate-band", "may read low: what goes into holes or bands is missed by cores beside them.");
    if (mineral)
      say(
        "nitrate-credit",
        `holds what the credit ${mineral.from} brings too: do not enter it a second time.`,
      );
    const kg = (line.ppm * line.depthM * KG_PER_M2_PPM_M * whole.areaM2!) / (line.holds ?? 1);
    return [{ day: line.day, kg, cv: line.accuracy ?? STRIP_CV, atMost: line.ppm <= LEAST_PPM }];
  });
  return { found, warnings };
}

function whyNotCounted(
  { areaM2 }: Bed,
  demand: Demand | undefined,
  { depthM, holds }: NitrateLine,
): string | null {
  if (areaM2 === undefined) return "the plan does not say how large the bed is";
  if (!demand || demand.minKg <= 0) return "the plan needs no nitrogen";
  if (demand.counts === "applied") return "the plan counts nitrogen as it is spread";
  if (depthM < SHALLOW_M && holds === undefined)
    return "a sample less than 10 in deep says little of what lies in reach of the roots; say what share of that it holds (`holds: 50%`)";
  return null;
}

/** Nutrients whose needs on days that have passed, or on days that no round left can change, are short. */
export function lateNeeds({
  bed,
  plan,
  on,
  over,
}: BedRest): { nutrient: Nutrient; day: number; shortKg: number }[] {
  if (over) return [];
  const first = plan.applications[0]!.day;
  const season = layOutSeason(plan);
  const days = [...bed.applications.map(({ day }) => day), ...(bed.checkDays ?? [])];
  const passed = [...new Set(days)]
    .filter((day) => day > bed.applications[0]!.day && day <= Math.max(first, on))
    .sort((a, b) => a - b);
  return bed.demands
    .filter(({ uptake, counts }) => uptake !== null && counts !== "applied")
    .flatMap((demand) =>
      passed.flatMap((day) => {
        const shortKg = takenUpKg(demand, day) - season.creditKg(demand.nutrient, day);
        return shortKg > 1e-6 * demand.minKg ? [{ nutrient: demand.nutrient, day, shortKg }] : [];
      }),
    );
}
