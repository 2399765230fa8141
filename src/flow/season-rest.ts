/**
 * The rest of a season as a plan: what has been spread is given, what is in the shed is the stock, the rounds that are left
 * are its applications, each with its own mix. Caps and limits are those of the whole season, less what they already hold.
 */

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
import type { Amendment, Application, Demand, Given, Limit, Plan } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import { layOutSeason, takenUpKg } from "../season/season.ts";
import { type Happened, STRIP_CV, type Standing, standingOn } from "../season/standing.ts";
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
/** Less is arithmetic. */
const SMALL_KG = 1e-6;

/** What a round is called that no plan had. */
export const DRESSING = "a dressing now";

/** What is in the shed. */
export interface Shed {
  readonly kg: ReadonlyMap<string, number>;
  /** kg of each mix that is mixed and not spread. */
  readonly kept: ReadonlyMap<string, number>;
  readonly warnings: readonly Notice[];
}

/** What is in the shed by a day: what there was, bought, used and kept, or what was weighed. */
export function shedOn(season: SeasonFile, on: number): Shed {
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
      kg.set(id, Math.max(0, left));
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

function otherStock(season: SeasonFile): Notice[] {
  const [plan] = season.beds;
  const differ = plan!.amendments.filter(
    ({ id, stockKg }) => Math.abs(stockKg - (season.shed[id] ?? 0)) > SMALL_KG,
  );
  if (differ.length === 0) return [];
  const each = differ.map(
    ({ id, name, stockKg }) =>
      `${name} ${weight(stockKg, season.units)}, the season ${weight(season.shed[id] ?? 0, season.units)}`,
  );
  return [
    {
      code: "stock-differs",
      text: `The plan's stock is not what the season began with (the plan says ${each.join("; ")}). The season's shed and its log count.`,
    },
  ];
}

/** A round of the plan as the season sees it. */
export interface RoundState extends PlannedRound {
  /** `late`: it is given on the day asked about. `dropped`: its day and the next round's have passed. */
  readonly state: "done" | "late" | "next" | "dropped";
}

/** What has become of a bed's rounds by a day. */
export function roundsOf(season: SeasonFile, bed: string, on: number): RoundState[] {
  const rounds = season.planned.filter((round) => round.bed === bed).sort((a, b) => a.day - b.day);
  const done = new Set(
    season.log.flatMap((line) =>
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

/** A bed with the rest of its season. */
export interface BedRest {
  readonly bed: Plan;
  readonly rounds: readonly RoundState[];
  readonly standing: Standing;
  /** Null where the season is over. */
  readonly plan: Plan | null;
  /** What the old plan gives in the rounds that are left, kg by amendment and application of `plan`. */
  readonly oldPlan: Amounts;
  readonly spreadKg: number;
  readonly warnings: readonly Notice[];
}

/** The rest of a bed's season from a day on. */
export function restOf(season: SeasonFile, bed: Plan, on: number, shed: Shed): BedRest {
  const lines = season.log.filter((line) => line.day <= on);
  const spread = lines.filter((line): line is SpreadLine => line.kind === "spread");
  const given = spread.flatMap((line) => givenBy(season, line, bed));
  const amendments = amendmentsOf(season, bed, given, shed);
  const whole = { ...bed, amendments };
  const { found, warnings } = readingsOf(bed, lines, spread);
  const standing = standingOn(whole, { given, water: waterOf(bed, lines), found }, on);
  const rounds = roundsOf(season, bed.name, on);
  const left = rounds.filter(({ state }) => state === "next" || state === "late");
  const spreadKg = given.reduce((sum, one) => sum + one.kg.reduce((part, { kg }) => part + kg, 0), 0);
  const shared = { bed, rounds, standing, spreadKg };
  if (on >= bed.seasonDays) return { ...shared, plan: null, oldPlan: [], warnings };
  const applications = left.map(
    (round): Application => ({
      name: round.round,
      day: Math.max(round.day, on),
      share: 1 / left.length,
      ...defined({ placement: round.placement, dugInDays: dugIn(bed, round.round) }),
    }),
  );
  // With every round given, a dressing now is all that is left.
  const rest: readonly Application[] =
    applications.length > 0 ? applications : [{ name: DRESSING, day: on, share: 1 }];
  const plan = remaining(whole, standing, rest, given);
  const oldPlan = amendments.map(({ id }) =>
    rest.map((_, t) => (left[t] === undefined ? 0 : (materialsOf(left[t].gives, season.mixes)[id] ?? 0))),
  );
  return { ...shared, plan, oldPlan, warnings: [...warnings, ...passedCaps(whole, plan)] };
}

/** How soon a round of the plan is dug in. */
const dugIn = ({ applications }: Plan, round: string): number | undefined =>
  applications.find(({ name }) => name === round)?.dugInDays;

function givenBy(season: SeasonFile, line: SpreadLine, bed: Plan): Given[] {
  return line.beds.flatMap((got) => {
    if (got.bed !== bed.name) return [];
    const kg = Object.entries(materialsOf(got.gives, season.mixes)).map(([id, weighed]) => ({
      id,
      kg: weighed,
    }));
    const dugInDays = line.round === undefined ? undefined : dugIn(bed, line.round);
    return [{ day: line.day, kg, ...defined({ placement: got.placement, dugInDays }) }];
  });
}

/** What can be spread from here on, and what was spread and cannot be had any more; sorted by id. */
function amendmentsOf(season: SeasonFile, bed: Plan, given: readonly Given[], shed: Shed): Amendment[] {
  const used = new Set(given.flatMap(({ kg }) => kg.map(({ id }) => id)));
  const others = season.materials.filter(
    ({ id }) => used.has(id) && !bed.amendments.some((one) => one.id === id),
  );
  return [
    ...bed.amendments.map((one) => ({ ...one, stockKg: shed.kg.get(one.id) ?? 0 })),
    ...others.map((one) => {
      const { bulkPricePerKg: _, ...unsold } = one;
      return { ...unsold, packs: [], stockKg: 0 };
    }),
  ].sort((a, b) => (a.id < b.id ? -1 : 1));
}

const isSold = ({ packs, bulkPricePerKg }: Amendment): boolean =>
  packs.length > 0 || bulkPricePerKg !== undefined;

function remaining(
  whole: Plan,
  { past }: Standing,
  applications: readonly Application[],
  given: readonly Given[],
): Plan {
  const gave = (id: string): number =>
    given.reduce((sum, { kg }) => sum + (kg.find((one) => one.id === id)?.kg ?? 0), 0);
  const { simple: _, checkDays, drainage = [], ...kept } = whole;
  const expected = drainage.filter(({ day }) => day > past.on);
  const later = (checkDays ?? []).filter((day) => day > past.on);
  const plan: Plan = {
    ...kept,
    past,
    applications,
    blend: "each",
    limits: limitsLeft(whole, applications, gave),
    ...(later.length > 0 ? { checkDays: later } : {}),
    ...(expected.length > 0 ? { drainage: expected } : {}),
  };
  return { ...plan, demands: whole.demands.map((demand) => demandLeft(plan, demand, gave)) };
}

/** Limits on weights, less what was spread; what cannot be had is barred. Shares are of a blend that is not made any more. */
function limitsLeft(
  whole: Plan,
  applications: readonly Application[],
  gave: (id: string) => number,
): Limit[] {
  const stated = whole.limits.flatMap(({ id, minKg, maxKg, notIn }): Limit[] => {
    const names = notIn.map((t) => whole.applications[t]!.name);
    const barred = applications.flatMap(({ name }, t) => (names.includes(name) ? [t] : []));
    const one = whole.blend === "one";
    const less = (kg: number | undefined): number | undefined =>
      kg === undefined ? undefined : one ? Math.max(0, kg - gave(id)) : kg;
    const everywhere = one && notIn.length > 0 ? applications.map((_, t) => t) : barred;
    return [
      {
        id,
        notIn: everywhere,
        ...defined({ minKg: less(minKg), maxKg: less(maxKg) }),
        ...(one ? { together: true } : {}),
      },
    ];
  });
  const gone = whole.amendments.filter((one) => !isSold(one) && one.stockKg <= 0).map(({ id }) => id);
  return [
    ...stated.filter(({ id }) => !gone.includes(id)),
    ...gone.map((id): Limit => ({ id, maxKg: 0, together: true, notIn: [] })),
  ].sort((a, b) => (a.id < b.id ? -1 : 1));
}

/** Caps less what was spread; one that has been passed leaves room for nothing more. */
function demandLeft(plan: Plan, demand: Demand, gave: (id: string) => number): Demand {
  const { nutrient, maxKg, appliedMaxKg, appliedSoftMaxKg, aheadMaxKg } = demand;
  const season = layOutSeason(plan);
  const applied = plan.amendments.reduce(
    (sum, { id, analysis }) => sum + gave(id) * (analysis[nutrient] ?? 0),
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
function passedCaps(whole: Plan, plan: Plan): Notice[] {
  return whole.demands.flatMap((demand, i): Notice[] => {
    const { maxKg } = plan.demands[i]!;
    if (demand.maxKg === null || maxKg === null || maxKg <= demand.maxKg * (1 + 1e-9)) return [];
    return [
      {
        code: "max-passed",
        text: `What was spread already brings ${weight(maxKg, plan.units)} of ${demand.nutrient}; the plan allows ${weight(demand.maxKg, plan.units)} at most. It cannot be taken back.`,
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
function readingsOf(bed: Plan, lines: readonly LogLine[], spread: readonly SpreadLine[]) {
  const warnings: Notice[] = [];
  const say = (code: string, { line }: LogLine, text: string): void => {
    warnings.push({ code, text: `The reading on line ${line} of the season ${text}` });
  };
  const demand = bed.demands.find(({ nutrient }) => nutrient === "N");
  const found = lines.flatMap((line): Happened["found"] => {
    if (line.kind !== "nitrate" || !line.beds.includes(bed.name)) return [];
    const why = whyNotCounted(bed, demand, line);
    if (why !== null) {
      say("nitrate-recorded", line, `is kept and moves nothing: ${why}.`);
      return [];
    }
    const soon = spread.filter(
      (one) =>
        one.day <= line.day && line.day - one.day < SOON_DAYS && one.beds.some((got) => got.bed === bed.name),
    );
    if (soon.length > 0)
      say(
        "nitrate-soon",
        line,
        `was taken within a week after a spreading (line ${soon.at(-1)!.line}): what was spread is not even in the soil yet.`,
      );
    if (
      spread.some(
        (one) =>
          one.day <= line.day &&
          one.beds.some(
            ({ bed: name, placement }) => name === bed.name && (placement === "hole" || placement === "band"),
          ),
      )
    )
      say(
        "nitrate-band",
        line,
        "may read low: what goes into holes or bands is missed by cores beside them.",
      );
    const mineral = bed.credits.find(
      ({ contentKg, release: { curve } }) =>
        (contentKg.N ?? 0) > 0 && curve.kind === "pool" && curve.atOnce === 1,
    );
    if (mineral)
      say(
        "nitrate-credit",
        line,
        `holds what the credit ${mineral.from} brings too: do not enter it a second time.`,
      );
    const kg = (line.ppm * line.depthM * KG_PER_M2_PPM_M * bed.bed.areaM2!) / (line.holds ?? 1);
    return [{ day: line.day, kg, cv: line.accuracy ?? STRIP_CV, atMost: line.ppm <= LEAST_PPM }];
  });
  return { found, warnings };
}

function whyNotCounted(bed: Plan, demand: Demand | undefined, line: NitrateLine): string | null {
  if (bed.bed.areaM2 === undefined) return "the plan does not say how large the bed is";
  if (!demand || demand.minKg <= 0) return "the plan needs no nitrogen";
  if (demand.counts === "applied") return "the plan counts nitrogen as it is spread";
  if (line.depthM < SHALLOW_M && line.holds === undefined)
    return "a sample less than 10 in deep says little of what lies in reach of the roots; say what share of that it holds (`holds: 50%`)";
  return null;
}

/** Nutrients whose needs on days that have passed, or on days that no round left can change, are short. */
export function lateNeeds({
  bed,
  plan,
  standing,
}: BedRest): { nutrient: Nutrient; day: number; shortKg: number }[] {
  if (plan === null) return [];
  const first = plan.applications[0]!.day;
  const season = layOutSeason(plan);
  const days = [...bed.applications.map(({ day }) => day), ...(bed.checkDays ?? [])];
  const passed = [...new Set(days)].filter(
    (day) => day > bed.applications[0]!.day && day <= Math.max(first, standing.past.on),
  );
  return bed.demands.flatMap((demand) =>
    demand.uptake === null || demand.counts === "applied"
      ? []
      : passed
          .sort((a, b) => a - b)
          .flatMap((day) => {
            const shortKg = takenUpKg(demand, day) - season.creditKg(demand.nutrient, day);
            return shortKg > 1e-6 * demand.minKg ? [{ nutrient: demand.nutrient, day, shortKg }] : [];
          }),
  );
}

/** Nutrients that a bed needs, in canonical order. */
export function neededBy({ demands }: Plan): Nutrient[] {
  return NUTRIENTS.filter((nutrient) => demands.some((one) => one.nutrient === nutrient && one.minKg > 0));
}
