/**
 * The rest of a season as a plan: what has been spread is given, what is in the shed is the stock, the rounds that are left
 * are its applications, each with its own mix. Caps and limits are those of the whole season, less what they already hold.
 */
import { dayOfDate, parseDate } from "../calendar.ts";
import type { Amounts } from "../field/delivery.ts";
import {
  type Kilograms,
  type LogLine,
  lineName,
  linesName,
  materialsOf,
  type NitrateLine,
  type PlannedRound,
  type SeasonFile,
  type SpreadLine,
  sumOf,
  type WaterLine,
} from "../files/season-model.ts";
import {
  type Amendment,
  type Application,
  type Bed,
  type Demand,
  type Given,
  type Limit,
  type Past,
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
import { cautionsOf } from "../words/cautions.ts";
import { listed, weight } from "../words/numbers.ts";

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
    const lacking: string[] = [];
    for (const [id, taken] of Object.entries(amounts)) {
      const left = (kg.get(id) ?? 0) - taken;
      if (left < -SMALL_KG) lacking.push(`${weight(-left, season.units)} of ${nameOf(id)}`);
      kg.set(id, left < SMALL_KG ? 0 : left);
    }
    if (lacking.length > 0)
      warnings.push({
        code: "spread-unbought",
        text: `${linesName([line])} takes more than there was in the shed and was bought by then: ${listed(lacking)}. The shed is counted as empty of it. Is a purchase missing?`,
      });
  };
  for (const line of season.log) {
    if (line.day > on) continue;
    if (line.kind === "bought") kg.set(line.id, (kg.get(line.id) ?? 0) + line.kg);
    else if (line.kind === "kept") {
      take(materialsOf(line.kg, season.mixes), line);
      for (const [mix, more] of Object.entries(line.kg)) kept.set(mix, (kept.get(mix) ?? 0) + more);
    } else if (line.kind === "spread")
      for (const got of line.beds)
        take(materialsOf(beside(got.gives, takenOf(got.gives, kept)), season.mixes), line);
    else if (line.kind === "left")
      for (const [id, weighed] of Object.entries(line.kg)) {
        const counted = kg.get(id) ?? 0;
        if (Math.abs(counted - weighed) > Math.max(SMALL_KG, 0.01 * weighed))
          warnings.push({
            code: "left-differs",
            text: `${linesName([line])} weighs ${weight(weighed, season.units)} of ${nameOf(id)} in the shed, and that counts; by what was bought and spread there would be ${weight(counted, season.units)}. What was spread and not logged is missing in all that follows: log it.`,
          });
        kg.set(id, weighed);
      }
  }
  return { kg, kept, warnings: [...warnings, ...otherStock(season)] };
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

/** A round with the kg of it, by mix, that are mixed and kept: they go first. */
export interface RestRound extends RoundState {
  readonly kept: Kilograms;
}

/** A bed with the rest of its season; days are counted from its own planting. */
export interface BedRest {
  readonly bed: Plan;
  readonly on: number;
  /** Nothing that is given now feeds the crop any more. */
  readonly over: boolean;
  readonly rounds: readonly RestRound[];
  readonly standing: Standing;
  /** Of what is left to give; what is kept of mixes is given already, each in the round that takes it. */
  readonly plan: Plan;
  /** The same with what is kept left where it is. */
  readonly withoutKept: Plan;
  /** What the old plan gives in the rounds that are left beside what is kept, kg by amendment and application of `plan`. */
  readonly oldPlan: Amounts;
  /** The one mix that it gives in all of them; null: there are several, or something alone. */
  readonly oldMix: string | null;
  readonly warnings: readonly Notice[];
}

/** The beds of a season with the rest of it, and what is in the shed. */
export interface SeasonRest {
  readonly shed: Shed;
  readonly beds: readonly BedRest[];
  /** The farm's limits on what all beds together get, less what they have got. */
  readonly heap: SeasonFile["heap"];
}

/** The day on which a season is looked at, where none is asked for: that of its last line, or of planting. */
export function lastDay(log: readonly LogLine[]): number {
  return Math.max(0, ...log.map(({ day }) => day));
}

/** How the rest of a season is looked for. */
export interface RestOptions {
  /** Whether something may be given on that day too, beside the rounds that are left. */
  readonly dressing?: boolean;
  /** Whether what is kept of mixes stays where it is; absent: the next rounds of a mix use it first. */
  readonly keep?: boolean;
}

/** What is left of a season on a day. */
export function seasonRest(season: SeasonFile, on: number, options: RestOptions = {}): SeasonRest {
  const shed = shedOn(season, on);
  const left = new Map(options.keep ? [] : shed.kept);
  const rounds = season.beds
    .flatMap((bed) =>
      on - daysOf(season, bed) < bed.seasonDays ? leftOf(roundsOf(season, bed.name, on)) : [],
    )
    .sort((a, b) => a.day - b.day);
  const kept = new Map(rounds.map((round) => [round, takenOf(round.gives, left)] as const));
  const beds = season.beds.map((bed) =>
    restOf(
      season,
      bed,
      on,
      shed,
      options.dressing === true,
      ({ bed: name, round }) => [...kept].find(([one]) => one.bed === name && one.round === round)?.[1] ?? {},
    ),
  );
  const given = beds.flatMap(({ plan }) => plan.past!.given);
  const heap = season.heap.map(({ id, minKg, maxKg }) => {
    const less = (kg: number | undefined) => (kg === undefined ? kg : Math.max(0, kg - gaveKg(given, id)));
    return { id, ...defined({ minKg: less(minKg), maxKg: less(maxKg) }) };
  });
  return { shed, beds, heap };
}

/** Takes what there is of mixes for what is given. */
function takenOf(gives: Kilograms, left: Map<string, number>): Kilograms {
  const taken = Object.entries(gives).flatMap(([mix, kg]) => {
    const used = Math.min(kg, left.get(mix) ?? 0);
    if (used > 0) left.set(mix, left.get(mix)! - used);
    return used > 0 ? [[mix, used] as const] : [];
  });
  return Object.fromEntries(taken);
}

/** What of `gives` is not in `taken`. */
function beside(gives: Kilograms, taken: Kilograms): Kilograms {
  return Object.fromEntries(Object.entries(gives).map(([name, kg]) => [name, kg - (taken[name] ?? 0)]));
}

/** The rounds that are still to be given. */
export const leftOf = <T extends RoundState>(rounds: readonly T[]): T[] =>
  rounds.filter(({ state }) => state === "next" || state === "late");

/** A bed's day of planting, counted from the season's. */
const daysOf = (season: SeasonFile, { planted }: Plan): number =>
  planted === undefined ? 0 : dayOfDate(parseDate(planted)!, season.planted);

/** A season with its days counted from the planting of one of its beds. */
function seenFrom(season: SeasonFile, bed: Plan): { readonly season: SeasonFile; readonly days: number } {
  const days = daysOf(season, bed);
  const moved = <T extends { readonly day: number }>(all: readonly T[]): T[] =>
    all.map((one) => ({ ...one, day: one.day - days }));
  return days === 0
    ? { season, days }
    : { season: { ...season, planned: moved(season.planned), log: moved(season.log) }, days };
}

/**
 * The rest of a bed's season from a day on.
 * @param keptFor kg by mix of what is kept that goes into a round.
 */
function restOf(
  whose: SeasonFile,
  bed: Plan,
  day: number,
  shed: Shed,
  dressing: boolean,
  keptFor: (round: RoundState) => Kilograms,
): BedRest {
  const { season, days } = seenFrom(whose, bed);
  const on = day - days;
  const lines = season.log.filter((line) => line.day <= on);
  const spread = lines.filter((line): line is SpreadLine => line.kind === "spread");
  const given = spread.flatMap((line) => givenBy(season, line, bed));
  const rounds = roundsOf(season, bed.name, on).map((round) => ({ ...round, kept: keptFor(round) }));
  const over = on >= bed.seasonDays;
  const left = over ? [] : leftOf(rounds);
  const fromKept = left
    .filter(({ kept }) => sumOf(kept) > 0)
    .map(({ kept, day: planned, ...round }) =>
      givenOf(season, bed, { ...round, gives: kept, day: Math.max(planned, on) }),
    );
  const whole = { ...bed, amendments: amendmentsOf(season, bed, [...given, ...fromKept], shed) };
  const { found, warnings } = readingsOf(bed, lines, spread);
  const standing = standingOn(whole, { given, water: waterOf(bed, lines), found }, on);
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
  const withoutKept = remaining(whole, standing.past, applications);
  const plan =
    fromKept.length === 0
      ? withoutKept
      : remaining(whole, { ...standing.past, given: [...standing.past.given, ...fromKept] }, applications);
  const planned = [
    ...now.map(() => ({})),
    ...left.map(({ gives, kept }) => materialsOf(beside(gives, kept), season.mixes)),
  ];
  const [oldMix, other] = new Set(left.flatMap(({ gives }) => Object.keys(gives)));
  return {
    bed,
    on,
    over,
    rounds,
    standing,
    plan,
    withoutKept,
    oldPlan: whole.amendments.map(({ id }) => planned.map((kg: Kilograms) => kg[id] ?? 0)),
    oldMix: other === undefined && season.mixes.some(({ name }) => name === oldMix) ? oldMix! : null,
    warnings: [
      ...warnings,
      ...overspread(season, bed, lines),
      ...passedCaps(whole, plan, standing.past.given),
    ],
  };
}

/** How soon a round of the plan is dug in. */
const dugIn = ({ applications }: Plan, round: string | undefined): number | undefined =>
  applications.find(({ name }) => name === round)?.dugInDays;

function givenBy(season: SeasonFile, { beds, day, round }: SpreadLine, bed: Plan): Given[] {
  return beds
    .filter((got) => got.bed === bed.name)
    .map((got) => givenOf(season, bed, { ...got, day, ...defined({ round }) }));
}

function givenOf(
  { mixes }: SeasonFile,
  bed: Plan,
  { gives, day, round, placement }: Pick<PlannedRound, "gives" | "day" | "placement"> & { round?: string },
): Given {
  return {
    day,
    kg: Object.entries(materialsOf(gives, mixes)).map(([id, kg]) => ({ id, kg })),
    ...defined({ placement, dugInDays: dugIn(bed, round) }),
  };
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

/** The plan of what is left after what has happened, and after what of `past` is given later. */
function remaining(whole: Plan, past: Past, applications: readonly Application[]): Plan {
  const { given } = past;
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
  const applied = contentKg(plan.amendments, given, nutrient);
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

/** A cap passed by less than this share of it is what rounding to the scale does. */
const PASSED = 0.005;

/** Caps that what was spread has passed already. */
function passedCaps({ demands, amendments, units }: Plan, left: Plan, given: readonly Given[]): Notice[] {
  return demands.flatMap(({ nutrient, maxKg, appliedMaxKg, appliedSoftMaxKg }, i): Notice[] => {
    const capKg = appliedMaxKg ?? appliedSoftMaxKg ?? null;
    const passed = (does: string, kg: number | null, allowed: number | null): Notice[] =>
      kg === null || allowed === null || kg <= allowed * (1 + PASSED)
        ? []
        : [
            {
              code: "max-passed",
              text: `What was spread ${does} ${weight(kg, units)} of ${nutrient}; the plan allows ${weight(allowed, units)} at most.`,
            },
          ];
    return [
      ...passed("already brings the crop", left.demands[i]!.maxKg, maxKg),
      ...passed("holds", contentKg(amendments, given, nutrient), capKg),
    ];
  });
}

/** What all that was given holds of a nutrient. */
export function contentKg(
  amendments: readonly Amendment[],
  given: readonly Given[],
  nutrient: Nutrient,
): number {
  return amendments.reduce((sum, { id, analysis }) => sum + gaveKg(given, id) * (analysis[nutrient] ?? 0), 0);
}

/** Rounds that got this many times what was planned got too much; less is what a scale and a hand do. */
const OVERSPREAD = 1.1;

/** Rounds that got far more than was planned, with what their salt can do. */
function overspread(season: SeasonFile, bed: Plan, lines: readonly LogLine[]): Notice[] {
  const spread = lines.filter((line): line is SpreadLine => line.kind === "spread");
  return season.planned.flatMap(({ bed: name, round, gives }): Notice[] => {
    const given = spread.flatMap((line) =>
      line.round === round && !line.own ? givenBy(season, line, bed) : [],
    );
    const kg = given.reduce((sum, one) => one.kg.reduce((of, { kg: part }) => of + part, sum), 0);
    const planned = sumOf(gives);
    if (name !== bed.name || planned === 0 || kg < OVERSPREAD * planned) return [];
    const where = season.beds.length > 1 ? `${name}: round` : "Round";
    const text = `${where} ${round} got ${weight(kg, season.units)}; ${weight(planned, season.units)} was planned.`;
    const [{ day, placement, dugInDays }] = given as [Given];
    const alone = {
      ...bed,
      applications: [{ name: round, day, share: 1, ...defined({ placement, dugInDays }) }],
    };
    const amounts = bed.amendments.map(({ id }) => [gaveKg(given, id)]);
    const burns = cautionsOf(alone, layOutSeason(alone), amounts).filter(({ code }) => BURNS.has(code));
    return [{ code: "spread-more", text: [text, ...burns.map((one) => one.text)].join(" ") }];
  });
}

/** What too much of a mix does to roots. */
const BURNS: ReadonlySet<string> = new Set(["salt-at-planting", "ammonia-injury"]);

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
      warnings.push({ code, text: `The reading on ${lineName(line)} ${text}` });
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
        `was taken within a week after a spreading (${lineName(soon)}): what was spread is not even in the soil yet.`,
      );
    if (before.some(({ placement }) => placement === "hole" || placement === "band"))
      say("nitrate-band", "may read low: what goes into holes or bands is missed by cores beside them.");
    if (mineral)
      say(
        "nitrate-credit",
        `holds what the credit ${mineral.from} brings too: do not enter it a second time.`,
      );
    const kg = (line.ppm * line.depthM * KG_PER_M2_PPM_M * whole.areaM2!) / (line.holds ?? 1);
    // Of several beds the first is the one that was tested.
    const elsewhere = line.beds[0] !== name;
    return [{ day: line.day, kg, cv: line.accuracy ?? STRIP_CV, atMost: line.ppm <= LEAST_PPM, elsewhere }];
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
