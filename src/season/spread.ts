/**
 * What is in doubt about a supply, and how far: the plan's analyses, releases, credits and rounds of spreading as
 * independent standard normal numbers, each of which moves the supply of a nutrient by a day in proportion.
 *
 *     own       p x sqrt(analysis^2 + release^2 - common^2)      one for each amendment and nutrient
 *     releases  common x what releases have given               one for all; what is there at once has none
 *     weather   1.2 C x how supply changes with soil temperature  one for the season
 *     spreading 3 % of what a round brings                      one for each round
 *     credit    35 % of a credit                                one for each
 *
 * with p what an amendment has made available. See `files/spread-defaults.ts` for the figures.
 */
import type { Amendment, Application, Counts, Demand, Move, Plan, Reading } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { countedShare, curveOf, layOutSeason, type Season, takenUpKg } from "./season.ts";
import { before, gaveKg, SLOPE_STEP_C, warmerBy } from "./under-way.ts";
import {
  analysisSpread,
  commonSpread,
  creditSpread,
  spreadingSpread,
  temperatureSpread,
  wholeLotSpread,
} from "./varies.ts";

/** One thing that may turn out otherwise, for all needs at once. */
export type Doubt =
  /** The lot of an amendment: what it holds of a nutrient, and how much of that it gives beside the common doubt. */
  | { readonly kind: "lot"; readonly id: string; readonly nutrient: Nutrient }
  | { readonly kind: "releases" }
  | { readonly kind: "soil-temperature" }
  /** What drainage carries away, by the water that the soil holds. */
  | { readonly kind: "soil-water" }
  /** A round of spreading; index into the plan's applications. */
  | { readonly kind: "spreading"; readonly application: number }
  /** A round that was spread before; index into `Past.given`. */
  | { readonly kind: "given"; readonly round: number }
  /** Index into the plan's credits: two of the same name vary apart. */
  | { readonly kind: "credit"; readonly from: string; readonly credit: number };

/** By how much a doubt moves a supply: kg for each kg spread, and kg whatever is spread. */
export interface Doubtful {
  readonly doubt: Doubt;
  readonly perKg: readonly {
    /** Index into the plan's amendments. */
    readonly amendment: number;
    /** Index into the plan's applications. */
    readonly application: number;
    readonly value: number;
  }[];
  readonly constantKg: number;
}

/** The season with soil a little warmer and a little colder. */
export interface Weather {
  readonly warmer: Season;
  readonly colder: Season;
  /** What one standard deviation changes is the difference between the two times this. */
  readonly deviations: number;
}

/** A season with what may change in it. */
export interface SpreadSeason {
  readonly season: Season;
  /** The same before anything was read: what is in doubt is in proportion to it. */
  readonly unread: Season;
  /** What a standard deviation of soil temperature changes; null where that makes no difference. */
  readonly weather: Weather | null;
  /** By credit of the plan: the season with that credit alone. */
  readonly credits: readonly Season[];
}

/** Lays out a plan's season and what may change in it. */
export function layOutSpread(given: Plan, season: Season): SpreadSeason {
  const plan = before(given);
  const unread = given.past ? layOutSeason(plan) : season;
  const degrees = temperatureSpread(plan);
  const credits = plan.credits.map((credit) => layOutSeason({ ...plan, credits: [credit] }));
  if (degrees === 0 || plan.soilTemperatureC === undefined) return { season, unread, credits, weather: null };
  const weather = {
    warmer: layOutSeason(warmerBy(plan, SLOPE_STEP_C)),
    colder: layOutSeason(warmerBy(plan, -SLOPE_STEP_C)),
    deviations: degrees / (2 * SLOPE_STEP_C),
  };
  return { season, unread, credits, weather };
}

/** A doubt that is the same for two needs has the same key. */
export function doubtKey(doubt: Doubt): string {
  switch (doubt.kind) {
    case "lot":
      return `lot ${doubt.id} ${doubt.nutrient}`;
    case "spreading":
      return `spreading ${doubt.application}`;
    case "credit":
      return `credit ${doubt.credit}`;
    case "given":
      return `given ${doubt.round}`;
    default:
      return doubt.kind;
  }
}

type PerKg = { amendment: number; application: number; value: number }[];

/**
 * Everything in doubt about the supply of a nutrient by a day.
 * @param counted of what is spread in all, only contents, credits and rounds are in doubt.
 * @param uses whether an amendment is spread at all; the others are left out.
 */
export function doubtsAbout(
  plan: Plan,
  spread: SpreadSeason,
  nutrient: Nutrient,
  day: number,
  counted: Counts = "available",
  uses: (amendment: number) => boolean = () => true,
): Doubtful[] {
  const { past } = plan;
  if (past === undefined) return doubtsAhead(plan, spread, nutrient, day, counted, uses);
  // What was spread before is a round like others, but how much it was is known.
  const rounds = plan.applications.length;
  const given = past.given.map(
    ({ day: on, placement, dugInDays }): Application => ({
      name: "",
      day: on,
      share: 0,
      ...defined({ placement, dugInDays }),
    }),
  );
  const gaveOf = (amendment: number, some = past.given): number =>
    gaveKg(some, plan.amendments[amendment]!.id);
  const all = { ...plan, applications: [...plan.applications, ...given] };
  const doubts = doubtsAhead(
    all,
    { ...spread, season: spread.unread },
    nutrient,
    day,
    counted,
    (a) => uses(a) || gaveOf(a) > 0,
  ).map(({ doubt, perKg, constantKg }): Doubtful => {
    const done = perKg.filter(({ application }) => application >= rounds);
    return {
      doubt:
        doubt.kind === "spreading" && doubt.application >= rounds
          ? { kind: "given", round: doubt.application - rounds }
          : doubt,
      perKg: perKg.filter(({ application }) => application < rounds),
      constantKg: done.reduce(
        (sum, { amendment, application, value }) =>
          sum + value * gaveOf(amendment, [past.given[application - rounds]!]),
        constantKg,
      ),
    };
  });
  const lost = nutrient === "N" && counted === "available" ? past.lossSpreads : [];
  const doubtNamed = (key: string): Doubt => doubtOf(plan, key);
  const read = past.readings.reduce<readonly Doubtful[]>(
    (known, reading) => asRead(known, reading, doubtNamed),
    doubts,
  );
  return withMoves(read, lost, -1, doubtNamed);
}

/** What is left of doubts once a reading has told of some of them: v - beta h (h.v) / (h.h). */
function asRead(
  doubts: readonly Doubtful[],
  { beta, spreads }: Reading,
  doubtNamed: (key: string) => Doubt,
): Doubtful[] {
  const h = new Map(spreads.map(({ doubt, by }) => [doubt, by]));
  const squared = spreads.reduce((sum, { by }) => sum + by * by, 0);
  const along = new Map<string, PerKg[number]>();
  let constantKg = 0;
  for (const one of doubts) {
    const by = h.get(doubtKey(one.doubt)) ?? 0;
    if (by === 0) continue;
    constantKg += by * one.constantKg;
    for (const { amendment, application, value } of one.perKg) {
      const key = `${amendment} ${application}`;
      along.set(key, { amendment, application, value: (along.get(key)?.value ?? 0) + by * value });
    }
  }
  const known = new Map(doubts.map((one) => [doubtKey(one.doubt), one]));
  const told = spreads.map(({ doubt, by }): Doubtful => {
    const one = known.get(doubt) ?? { doubt: doubtNamed(doubt), perKg: [], constantKg: 0 };
    const less = (beta * by) / squared;
    const perKg = new Map(one.perKg.map((term) => [`${term.amendment} ${term.application}`, term]));
    for (const [key, term] of along)
      perKg.set(key, { ...term, value: (perKg.get(key)?.value ?? 0) - less * term.value });
    return { doubt: one.doubt, perKg: [...perKg.values()], constantKg: one.constantKg - less * constantKg };
  });
  return [...doubts.filter((one) => !h.has(doubtKey(one.doubt))), ...told];
}

/** Doubts with what else they move, so many times. */
function withMoves(
  doubts: readonly Doubtful[],
  moves: readonly Move[],
  times: number,
  doubtNamed: (key: string) => Doubt,
): Doubtful[] {
  const more = new Map(moves.map(({ doubt, by }) => [doubt, times * by]));
  const moved = doubts.map((one) => ({
    ...one,
    constantKg: one.constantKg + (more.get(doubtKey(one.doubt)) ?? 0),
  }));
  const known = new Set(doubts.map((one) => doubtKey(one.doubt)));
  const others = [...more].filter(([key]) => !known.has(key));
  return [...moved, ...others.map(([key, by]) => ({ doubt: doubtNamed(key), perKg: [], constantKg: by }))];
}

/** The doubt of a key. */
function doubtOf({ credits }: Plan, key: string): Doubt {
  const [kind = "", ...rest] = key.split(" ");
  switch (kind) {
    case "lot":
      return { kind, id: rest[0]!, nutrient: rest[1] as Nutrient };
    case "spreading":
      return { kind, application: Number(rest[0]) };
    case "given":
      return { kind, round: Number(rest[0]) };
    case "credit":
      return { kind, from: credits[Number(rest[0])]!.from, credit: Number(rest[0]) };
    default:
      return { kind: kind as "releases" | "soil-temperature" | "soil-water" };
  }
}

/** Everything in doubt about a supply of which nothing has happened yet. */
function doubtsAhead(
  plan: Plan,
  spread: Pick<SpreadSeason, "season" | "weather" | "credits">,
  nutrient: Nutrient,
  day: number,
  counted: Counts,
  uses: (amendment: number) => boolean,
): Doubtful[] {
  const { season, weather } = spread;
  const found: Doubtful[] = [];
  const releases: PerKg = [];
  const warmth: PerKg = [];
  const rounds: PerKg[] = plan.applications.map(() => []);
  const spreading = spreadingSpread(plan);
  const released = counted === "available";
  plan.amendments.forEach((amendment, a) => {
    const content = amendment.analysis[nutrient] ?? 0;
    if (content === 0 || !uses(a)) return;
    const curve = curveOf(amendment, nutrient);
    const common = released ? commonSpread(plan, curve) : 0;
    const own = released ? wholeLotSpread(plan, amendment, nutrient) : analysisSpread(amendment, nutrient);
    const lot: PerKg = [];
    plan.applications.forEach((application, t) => {
      const share = (when: Season): number =>
        released
          ? when.available(amendment, nutrient, application.day, day, application) -
            (nutrient === "N" ? leachedShare(when, amendment, application, day) : 0)
          : countedShare(amendment, nutrient);
      const given = content * share(season);
      const put = (into: PerKg, value: number): void => {
        if (value !== 0) into.push({ amendment: a, application: t, value });
      };
      put(lot, own * given);
      put(releases, common * given);
      put(rounds[t]!, spreading * given);
      if (weather)
        put(warmth, content * (share(weather.warmer) - share(weather.colder)) * weather.deviations);
    });
    if (lot.length > 0)
      found.push({ doubt: { kind: "lot", id: amendment.id, nutrient }, perKg: lot, constantKg: 0 });
  });
  const credits = creditDoubts(plan, spread, nutrient, day, released);
  found.push({ doubt: { kind: "releases" }, perKg: releases, constantKg: credits.releasesKg });
  found.push({ doubt: { kind: "soil-temperature" }, perKg: warmth, constantKg: credits.weatherKg });
  rounds.forEach((perKg, application) => {
    found.push({ doubt: { kind: "spreading", application }, perKg, constantKg: 0 });
  });
  if (released && nutrient === "N") found.push(...soilWaterDoubt(plan, season, day, uses));
  for (const [credit, constantKg] of credits.ownKg)
    found.push({
      doubt: { kind: "credit", from: plan.credits[credit]!.from, credit },
      perKg: [],
      constantKg,
    });
  return found.filter(({ perKg, constantKg }) => perKg.length > 0 || constantKg !== 0);
}

/** Share of an amendment's nitrogen that drainages before a day would carry away. */
function leachedShare({ lost }: Season, amendment: Amendment, how: Application, day: number): number {
  return (lost?.days ?? []).reduce(
    (sum, on, k) => (on < day ? sum + lost!.share(k, amendment, how.day, how) : sum),
    0,
  );
}

/** What drainages before a day take is in doubt with the water that the soil holds. */
function soilWaterDoubt(
  plan: Plan,
  { lost }: Season,
  day: number,
  uses: (amendment: number) => boolean,
): Doubtful[] {
  if (lost === undefined) return [];
  const perKg: PerKg = [];
  let constantKg = 0;
  lost.days.forEach((on, k) => {
    if (on >= day) return;
    constantKg -= lost.doubt * (lost.creditKg(k) - lost.sparedKg(k));
    plan.amendments.forEach((amendment, a) => {
      const content = amendment.analysis.N ?? 0;
      if (content === 0 || !uses(a)) return;
      plan.applications.forEach((how, t) => {
        const value = -lost.doubt * content * lost.share(k, amendment, how.day, how);
        if (value !== 0) perKg.push({ amendment: a, application: t, value });
      });
    });
  });
  return [{ doubt: { kind: "soil-water" }, perKg, constantKg }];
}

function creditDoubts(
  plan: Plan,
  { credits, weather }: Pick<SpreadSeason, "credits" | "weather">,
  nutrient: Nutrient,
  day: number,
  released: boolean,
): { ownKg: Map<number, number>; releasesKg: number; weatherKg: number } {
  const ownKg = new Map<number, number>();
  let releasesKg = 0;
  plan.credits.forEach((credit, c) => {
    const kg = released ? credits[c]!.creditKg(nutrient, day) : credits[c]!.creditInAllKg(nutrient);
    if (kg === 0) return;
    ownKg.set(c, creditSpread(credit) * kg);
    if (released) releasesKg += commonSpread(plan, credit.release) * kg;
  });
  const weatherKg =
    released && weather
      ? (weather.warmer.creditKg(nutrient, day) - weather.colder.creditKg(nutrient, day)) * weather.deviations
      : 0;
  return { ownKg, releasesKg, weatherKg };
}

/** A need by a day: what must have been supplied by then. */
export interface NeedOn {
  readonly nutrient: Nutrient;
  readonly day: number;
  readonly needKg: number;
  readonly counted: Counts;
  /** Of the season's end, or of a day before it. */
  readonly kind: "season-min" | "in-time";
}

/** Every need that a plan checks, by nutrient and day; those of nothing are left out. */
export function needsOf(plan: Plan, season: Season): NeedOn[] {
  return plan.demands.flatMap((demand) =>
    season.checkpoints.flatMap((day): NeedOn[] => {
      const atEnd = day === plan.seasonDays;
      if (!demand.uptake && !atEnd) return [];
      const needKg = atEnd ? demand.minKg : takenUpKg(demand, day);
      if (!(needKg > 0)) return [];
      const { nutrient } = demand;
      return [{ nutrient, day, needKg, counted: countedOf(demand), kind: atEnd ? "season-min" : "in-time" }];
    }),
  );
}

/** How a demand is counted. */
export function countedOf(demand: Demand): Counts {
  return demand.counts ?? "available";
}
