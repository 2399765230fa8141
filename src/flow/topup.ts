/**
 * After a heavy rain: how much available nitrogen may have gone below the roots, what the rest of the season then
 * lacks, and the cheapest dressing of the plan's own amendments that replaces it. Where a plan asks to be sure of its
 * nitrogen, what has been in doubt since planting still is; the rain took a share of what lay there, and that share is in
 * doubt as well.
 */

import { layOutBatches } from "../field/batches.ts";
import { movedKg, roomOf } from "../field/chances.ts";
import { type Amounts, appliedKg, countedKg, sumKg, suppliedKg } from "../field/delivery.ts";
import { drainageOf, leachedBy } from "../field/rain.ts";
import { SeasonWork } from "../field/sureness.ts";
import type { Counts, Demand, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { type Notice, noticesOf } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { isNeed, type PlanColumn, type PlanProgram, type PlanRow, type RowTag } from "../program/tags.ts";
import type { Verification } from "../results/solution.ts";
import type { Rain, ToppedUpSureness, TopUp } from "../results/topup.ts";
import { mixedToM, SOIL_WATER_DOUBT } from "../season/leaching.ts";
import { demandOf, layOutSeason, type Season, takenUpKg, wouldTakeUpKg } from "../season/season.ts";
import {
  countedOf,
  type Doubtful,
  doubtKey,
  doubtsAbout,
  layOutSpread,
  type SpreadSeason,
} from "../season/spread.ts";
import { normalCdf, normalQuantile } from "../solver/normal.ts";
import { rowScale } from "../solver/program.ts";
import { OWN_SIMPLEX, type Proven, relax, solveProgram } from "../solver/solve.ts";
import { type Factor, type SureRow, solveSure } from "../solver/sure.ts";
import { costOf, UnverifiedError } from "../solver/verify.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { cautionsOf } from "../words/cautions.ts";
import { amountsOf, solveBlend, verificationOf } from "./solve-blend.ts";
import { AIM_MOST, CHECK_SLACK, levelsOf, MOST_RAISES } from "./sure.ts";

/**
 * What a rain may have taken from a plan, and what would replace it.
 * @param spread what is given, kg by amendment and application; absent: the mix of least cost.
 * @returns null where the plan has no mix to begin with.
 * @throws UnverifiedError where an answer could not be verified.
 */
export async function topUp(
  plan: Plan,
  fallen: Rain,
  spread?: Amounts,
  limit?: TimeLimit,
): Promise<TopUp | null> {
  const rain = asPlaced(plan, fallen);
  const season = layOutSeason(plan);
  const amounts = spread ?? (await leastCostMix(plan, limit));
  if (amounts === null) return null;
  const nitrogen = atRisk(plan, season, amounts, rain);
  const shared = {
    schema: "barrowmix.topup/1",
    plan: plan.name,
    currency: plan.currency,
    units: plan.units,
    ...defined({ planted: plan.planted, scoops: plan.scoops }),
    rain: { ...rain, drainageM: drainageOf(rain) },
    nitrogen,
    warnings: rainWarnings(plan, fallen, rain),
    ...defined({ asked: askedOfNitrogen(plan) }),
  } as const;
  const left = checksAfter(plan, season, amounts, demandOf(plan, "N"), rain.day, nitrogen.lostKg);
  const { asked } = shared;
  const doubts =
    asked === undefined ? null : new RainySeasons(plan, season, { amounts, rain, nitrogen, left, asked });
  const pointsWith = (kg: readonly number[]): TopUp["checkpoints"] => {
    const points = left.map(({ day, needKg, reachedKg }) => ({
      day,
      needKg,
      withoutKg: reachedKg,
      withKg: reachedKg + fedKg(plan, season, kg, rain.day, day),
    }));
    const met = doubts?.met(points, kg);
    return points.map((point, k) => ({ ...point, ...defined({ met: met?.[k] }) }));
  };
  const nothing = {
    ...shared,
    checkpoints: pointsWith(plan.amendments.map(() => 0)),
    amendments: [],
    cost: 0,
    application: null,
    verification: null,
    cautions: [],
  };
  if (nitrogen.lostKg <= 0) return { ...nothing, status: "nothing-lost" };
  const lacking = nothing.checkpoints.some(
    ({ needKg, withoutKg, met }) =>
      withoutKg < needKg * (1 - ENOUGH) || (met !== undefined && met.without < asked! - SURE_ENOUGH),
  );
  if (!lacking) return { ...nothing, status: "enough-left" };

  const program = dressing(plan, season, amounts, rain, nitrogen.lostKg, doubts !== null);
  const { kg, cost, verification, complete } = await solveDressing(program, plan, doubts);
  const { warnings, ...field } = inTheField(plan, kg, rain.day);
  return {
    ...shared,
    status: complete ? "found" : "short",
    checkpoints: pointsWith(kg),
    amendments: plan.amendments
      .map(({ id, name }, a) => ({ id, name, kg: kg[a]!, cost: costOfMore(plan, amounts, a, kg[a]!) }))
      .filter((used) => used.kg > 0)
      .sort((p, q) => q.kg - p.kg || (p.id < q.id ? -1 : 1)),
    cost,
    verification,
    ...field,
    warnings: [...shared.warnings, ...shareWarnings(plan, kg), ...warnings],
  };
}

/** What a demand asks for on each of its days of check after the rain, and what is there of it without a dressing. */
function checksAfter(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  demand: Demand,
  rainDay: number,
  lostKg: number,
): Checked[] {
  const { nutrient, minKg, uptake } = demand;
  return season.checkpoints.flatMap((day) => {
    const atEnd = day === plan.seasonDays;
    if (day <= rainDay || !(uptake || atEnd)) return [];
    const availableKg = suppliedKg(plan, season, amounts, nutrient, day) - lostKg;
    return [
      {
        day,
        needKg: atEnd ? minKg : takenUpKg(demand, day),
        availableKg,
        reachedKg: countedKg(plan, season, amounts, demand, day) - lostKg,
      },
    ];
  });
}

/** The dressing as it is weighed and spread, and what to mind about it. */
function inTheField(plan: Plan, kg: readonly number[], day: number) {
  // Needs and credits were judged when the season was planned; here only the dressing itself is.
  const alone = { ...dressedAlone(plan, day), demands: [] };
  const given = kg.map((value) => [value]);
  const { applications, warnings } = layOutBatches(alone, given);
  return {
    application: applications[0] ?? null,
    cautions: cautionsOf(alone, layOutSeason(alone), given),
    warnings,
  };
}

async function leastCostMix(plan: Plan, limit?: TimeLimit): Promise<Amounts | null> {
  const { program, answer } = await solveBlend(plan, limit);
  return answer.status === "optimal" ? amountsOf(plan, program, answer.x) : null;
}

/**
 * The rain as it meets what was spread: nitrate lies as deep as the shallowest placement that the plan names, where the
 * rain does not say how deep; under cover nothing drains.
 */
function asPlaced(plan: Plan, rain: Rain): Rain {
  if (isCovered(plan)) return { ...rain, evaporationM: rain.rainM };
  const before = plan.applications.filter(({ day }) => day < rain.day);
  const depths = before.flatMap(({ placement }) => (placement === undefined ? [] : [mixedToM(placement)]));
  if (rain.mixedToM > 0 || depths.length === 0 || depths.length < before.length) return rain;
  return { ...rain, mixedToM: Math.min(rain.depthM, ...depths) };
}

/** Lacking less than this part of a need is arithmetic. */
const ENOUGH = 1e-6;
/** And lacking less than this part of the seasons. */
const SURE_ENOUGH = 1e-6;

function atRisk(plan: Plan, season: Season, amounts: Amounts, rain: Rain): TopUp["nitrogen"] {
  const availableKg = suppliedKg(plan, season, amounts, "N", rain.day);
  const takenUpSoFar = Math.min(wouldTakeUpKg(plan, demandOf(plan, "N"), rain.day), availableKg);
  const atRiskKg = availableKg - takenUpSoFar;
  const before = amounts.map((row) => row.map((kg, t) => (plan.applications[t]!.day < rain.day ? kg : 0)));
  const credited = plan.credits.reduce(
    (sum, credit) => (credit.day < rain.day ? sum + (credit.contentKg.N ?? 0) : sum),
    0,
  );
  const lostShare = leachedBy(rain);
  return {
    availableKg,
    takenUpKg: takenUpSoFar,
    atRiskKg,
    notReleasedKg: Math.max(0, appliedKg(plan, before, "N") + credited - availableKg),
    lostShare,
    lostKg: atRiskKg * lostShare,
    lostLowKg: atRiskKg * leachedBy(rain, SOIL_WATER_DOUBT),
    lostHighKg: atRiskKg * leachedBy(rain, -SOIL_WATER_DOUBT),
  };
}

function isCovered({ cover }: Plan): boolean {
  return cover !== undefined && cover !== "open";
}

function rainWarnings(plan: Plan, given: Rain, rain: Rain): Notice[] {
  const demand = demandOf(plan, "N");
  return noticesOf({
    "nitrogen-not-needed":
      demand.minKg <= 0 && "The plan states no need of nitrogen, so there is none to replace.",
    "uptake-assumed":
      demand.minKg > 0 &&
      !demand.uptake &&
      "The target has no uptake curve for nitrogen; the crop is assumed to take it up evenly.",
    "spread-that-day":
      plan.applications.some(({ day }) => day === rain.day) &&
      "What the plan spreads on the day of the rain is assumed to be spread after it.",
    "under-cover":
      isCovered(plan) &&
      `The bed is under ${plan.cover === "tunnel" ? "a tunnel" : "plastic"}: no rain drains through it, so nothing is lost.`,
    "mixed-by-placement":
      rain.mixedToM !== given.mixedToM &&
      `By the placement of what was spread, nitrate is assumed to be mixed in to ${Number((rain.mixedToM * 100).toPrecision(3))} cm; \`--mixed-to\` says otherwise.`,
  });
}

/** Limits on shares are of the season's blend; a dressing is no such blend. */
function shareWarnings(plan: Plan, kg: readonly number[]): Notice[] {
  const names = plan.amendments
    .filter(({ id }, a) => kg[a]! > 0 && plan.limits.some((l) => l.id === id && l.maxShare !== undefined))
    .map((amendment) => amendment.name);
  return noticesOf({
    "share-limit-not-kept":
      names.length > 0 &&
      `The plan limits the share of ${names.join(", ")} in its blend; a dressing after rain is not held to that.`,
  });
}

/** kg of nitrogen that a dressing on one day has made available by another. */
function fedKg(plan: Plan, season: Season, kg: readonly number[], spreadOn: number, day: number): number {
  return plan.amendments.reduce((sum, amendment, a) => {
    const content = amendment.analysis.N ?? 0;
    return content === 0 || kg[a] === 0
      ? sum
      : sum + kg[a]! * content * season.available(amendment, "N", spreadOn, day);
  }, 0);
}

/** What the season's mix leaves in the shed. */
const leftInShed = (plan: Plan, amounts: Amounts, a: number): number =>
  Math.max(0, plan.amendments[a]!.stockKg - sumKg(amounts[a]!));

function costOfMore(plan: Plan, amounts: Amounts, a: number, kg: number): number {
  const bought = Math.max(0, kg - leftInShed(plan, amounts, a));
  return bought * (cheapestPricePerKg(plan.amendments[a]!) ?? 0);
}

/** What a cap leaves; a rest that is only rounding is none. */
function roomBelow(cap: number, used: number): number {
  const room = cap - used;
  return room > 1e-9 * cap ? room : 0;
}

/**
 * The program of one dressing on the day of the rain: nitrogen as needed from then on, every cap of the plan with
 * what the season's mix already takes of it. Limits on shares are of the season's blend and do not bind a dressing.
 * @param surely whether needs are rows that what is left meets on the average, since they may need a margin.
 */
function dressing(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  rain: Rain,
  lostKg: number,
  surely: boolean,
): PlanProgram {
  const columns: PlanColumn[] = [];
  const rows: PlanRow[] = [];
  const use = plan.amendments.map((amendment, a) => {
    const price = cheapestPricePerKg(amendment);
    const shed = leftInShed(plan, amounts, a);
    const limit = plan.limits.find(({ id }) => id === amendment.id)?.maxKg;
    const room = limit === undefined ? Infinity : roomBelow(limit, sumKg(amounts[a]!));
    columns.push({
      tag: { kind: "use", id: amendment.id, application: null },
      cost: shed > 0 ? 0 : (price ?? 0),
      upper: price === null ? Math.min(room, shed) : room,
    });
    const own = columns.length - 1;
    if (shed > 0 && price !== null) {
      columns.push({ tag: { kind: "buy", id: amendment.id }, cost: price, upper: Infinity });
      rows.push({
        tag: { kind: "stock", id: amendment.id },
        index: [own, columns.length - 1],
        value: [1, -1],
        lower: -Infinity,
        upper: shed,
        fact: true,
      });
    }
    return own;
  });
  const add = (tag: RowTag, coefficient: (a: number) => number, lower: number, upper: number): void => {
    const entries = use.map((j, a) => [j, coefficient(a)] as const).filter(([, value]) => value !== 0);
    rows.push({ tag, index: entries.map(([j]) => j), value: entries.map(([, v]) => v), lower, upper });
  };
  for (const demand of plan.demands) {
    const { nutrient } = demand;
    const lost = nutrient === "N" ? lostKg : 0;
    const content = (a: number) => plan.amendments[a]!.analysis[nutrient] ?? 0;
    for (const check of checksAfter(plan, season, amounts, demand, rain.day, lost)) {
      const { day, needKg, availableKg, reachedKg } = check;
      const end = day === plan.seasonDays;
      const available = (a: number) =>
        content(a) === 0 ? 0 : content(a) * season.available(plan.amendments[a]!, nutrient, rain.day, day);
      const countable = (a: number) => content(a) * (plan.amendments[a]!.effective?.[nutrient] ?? 1);
      const counted = demand.counts === "applied" ? countable : available;
      if (nutrient === "N" && needKg > 0 && (surely || needKg > reachedKg))
        add({ kind: end ? "season-min" : "in-time", nutrient, day }, counted, needKg - reachedKg, Infinity);
      if (end && demand.maxKg !== null)
        add({ kind: "season-max", nutrient, day }, counted, -Infinity, roomBelow(demand.maxKg, reachedKg));
      if (demand.aheadMaxKg !== null) {
        const room = roomBelow(demand.aheadMaxKg + takenUpKg(demand, day), availableKg);
        add({ kind: "ahead-max", nutrient, day }, available, -Infinity, room);
      }
    }
    if (demand.appliedMaxKg !== null) {
      const room = roomBelow(demand.appliedMaxKg, appliedKg(plan, amounts, nutrient));
      add({ kind: "applied-max", nutrient }, content, -Infinity, room);
    }
  }
  return { columns, rows };
}

interface Dressed {
  readonly kg: number[];
  readonly cost: number;
  readonly verification: Verification;
  readonly complete: boolean;
}

/**
 * The cheapest dressing, or the nearest to one. Where worked seasons find it less sure than asked, more is asked and it is
 * looked for again.
 * @param doubts absent: needs are to be met on the average.
 */
async function solveDressing(base: PlanProgram, plan: Plan, doubts: RainySeasons | null): Promise<Dressed> {
  const weight = base.columns.map((column) => (column.tag.kind === "use" ? 1 : 0));
  const order = base.columns.map((column, j) => (column.tag.kind === "use" ? j : 0));
  const ties = [weight, order];
  const dressed = (
    { x, check }: Pick<Proven, "x" | "check">,
    engine: string,
    complete: boolean,
  ): Dressed => ({
    kg: x.filter((_, j) => base.columns[j]!.tag.kind === "use"),
    cost: costOf(base, x),
    verification: verificationOf({ engine, check }),
    complete,
  });
  let program = base;
  let best: Dressed | null = null;
  let aimed = doubts?.asked ?? 0;
  for (let raises = 0; raises <= MOST_RAISES; raises++) {
    const answer = await (doubts
      ? solveSure(base, doubts.rows(base, normalQuantile(aimed)), ties)
      : solveProgram(base, ties));
    if (answer.status === "unverified") throw unproven(plan);
    if (answer.status === "infeasible") {
      if ("program" in answer) program = answer.program as PlanProgram;
      break;
    }
    best = dressed(answer, "engine" in answer ? answer.engine : OWN_SIMPLEX, true);
    const met = doubts ? Math.min(...doubts.worked(best.kg)) : 1;
    if (!doubts || met >= doubts.asked - CHECK_SLACK) break;
    aimed = Math.min(AIM_MOST, aimed + doubts.asked - met);
  }
  if (best) return best;
  const floors = (row: PlanRow) => (row.lower > -Infinity ? 1 / rowScale(row) : null);
  const closest = relax(program, floors, [program.columns.map((column) => column.cost), ...ties]);
  if (!closest) throw unproven(plan);
  return dressed(closest, OWN_SIMPLEX, false);
}

function unproven(plan: Plan): UnverifiedError {
  return new UnverifiedError(`The dressing for ${plan.name} could not be verified; none is printed.`);
}

/** A day on which a nutrient is checked after the rain. */
interface Checked {
  readonly day: number;
  readonly needKg: number;
  /** On the average, after the rain, nothing replaced. */
  readonly availableKg: number;
  /** Of what counts towards the need. */
  readonly reachedKg: number;
}

/** In what share of seasons a plan asks to meet its nitrogen; undefined where it asks for no more than the average. */
function askedOfNitrogen({ sure }: Plan): number | undefined {
  const alone = levelsOf(sure).get("N") ?? 0;
  const together = sure?.together?.nutrients.includes("N") ? sure.together.p : 0;
  const p = Math.max(alone, together);
  return p > 0.5 ? p : undefined;
}

/** A plan from the rain on, with nothing to spread but the dressing. */
function dressedAlone(plan: Plan, day: number): Plan {
  const applications = [{ name: "the dressing", day, share: 1 }];
  return { ...plan, applications, blend: "one", limits: [], credits: [] };
}

/** What has happened to a plan by the end of the rain. */
interface Rained {
  /** What was spread. */
  readonly amounts: Amounts;
  readonly rain: Rain;
  readonly nitrogen: TopUp["nitrogen"];
  /** Of nitrogen. */
  readonly left: readonly Checked[];
  /** In what share of seasons it is to be met. */
  readonly asked: number;
}

/** The doubts of one plan, its mix and a rain. */
class RainySeasons {
  readonly asked: number;
  readonly #spread: SpreadSeason;
  readonly #dressed: Plan;
  readonly #dressedSpread: SpreadSeason;

  constructor(
    private readonly plan: Plan,
    season: Season,
    private readonly rained: Rained,
  ) {
    this.asked = rained.asked;
    this.#spread = layOutSpread(plan, season);
    this.#dressed = dressedAlone(plan, rained.rain.day);
    this.#dressedSpread = layOutSpread(this.#dressed, layOutSeason(this.#dressed));
  }

  #counted(day: number): Counts {
    return day === this.plan.seasonDays ? countedOf(demandOf(this.plan, "N")) : "available";
  }

  /** By how many kg each doubt moves what is there by a day, the rain's taking included. */
  #moves(day: number): Map<string, number> {
    const { plan } = this;
    const { amounts, rain, nitrogen } = this.rained;
    const uses = (a: number): boolean => amounts[a]!.some((kg) => kg > 0);
    const of = (on: number, counted: Counts): Doubtful[] =>
      doubtsAbout(plan, this.#spread, "N", on, counted, uses);
    const moves = new Map<string, number>();
    const add = (key: string, kg: number): void => {
      moves.set(key, (moves.get(key) ?? 0) + kg);
    };
    for (const one of of(day, this.#counted(day))) add(doubtKey(one.doubt), movedKg(one, amounts));
    // Where less had become available, less lay there to be carried away.
    if (nitrogen.atRiskKg > 0)
      for (const one of of(rain.day, "available"))
        add(doubtKey(one.doubt), -nitrogen.lostShare * movedKg(one, amounts));
    add("the rain", (nitrogen.lostHighKg - nitrogen.lostLowKg) / 2);
    return moves;
  }

  /** What a dressing adds to the doubts about a day, per kg of each amendment. */
  #dressing(day: number): Map<string, Doubtful> {
    const doubts = doubtsAbout(this.#dressed, this.#dressedSpread, "N", day, this.#counted(day));
    return new Map(
      doubts.map((one) => [one.doubt.kind === "spreading" ? "the dressing" : doubtKey(one.doubt), one]),
    );
  }

  /** The rows of a dressing's program that need a margin of `z` deviations. */
  rows(program: PlanProgram, z: number): SureRow[] {
    const columnOf = new Map(
      program.columns.flatMap(({ tag }, j) => (tag.kind === "use" ? [[tag.id, j] as const] : [])),
    );
    return program.rows.flatMap(({ tag }, row): SureRow[] => {
      if (!isNeed(tag) || tag.nutrient !== "N") return [];
      const moves = this.#moves(tag.day);
      const dressing = this.#dressing(tag.day);
      const keys = [...new Set([...moves.keys(), ...dressing.keys()])];
      const factors = keys.map((key): Factor => {
        const perKg = dressing.get(key)?.perKg ?? [];
        return {
          index: perKg.map(({ amendment }) => columnOf.get(this.plan.amendments[amendment]!.id)!),
          value: perKg.map(({ value }) => value),
          constant: moves.get(key) ?? 0,
        };
      });
      return [{ row, z, factors }];
    });
  }

  /** How often the need of each of some days is met, with a dressing and without. */
  met(points: TopUp["checkpoints"], kg: readonly number[]): ToppedUpSureness[] {
    const checked = this.worked(kg);
    const none = kg.map(() => 0);
    return points.map((point, k) => ({
      without: this.#chance(point, none, point.withoutKg),
      with: this.#chance(point, kg, point.withKg),
      withChecked: checked[k]!,
    }));
  }

  /** The chance that what is expected with a dressing meets a need, in closed form. */
  #chance({ day, needKg }: Pick<Checked, "day" | "needKg">, kg: readonly number[], expectKg: number): number {
    const moves = this.#moves(day);
    const given = kg.map((value) => [value]);
    for (const [key, one] of this.#dressing(day)) moves.set(key, (moves.get(key) ?? 0) + movedKg(one, given));
    return normalCdf(roomOf({ expectKg, spreadKg: Math.hypot(...moves.values()) }, needKg));
  }

  /** In what share of worked seasons of the full model a dressing meets each need. */
  worked(kg: readonly number[]): number[] {
    const { plan } = this;
    const { amounts, rain, left } = this.rained;
    const whole: Plan = {
      ...plan,
      applications: [...plan.applications, { name: "the dressing", day: rain.day, share: 0 }],
    };
    const spread = amounts.map((row, a) => [...row, kg[a]!]);
    const work = new SeasonWork(whole);
    const asked = [
      { nutrient: "N", day: rain.day, counted: "available" } as const,
      ...left.map(({ day }) => ({ nutrient: "N", day, counted: this.#counted(day) }) as const),
    ];
    const { kg: supplied, other } = work.supplies(spread, asked);
    const [lying, ...later] = supplied;
    const takenUpKg = wouldTakeUpKg(plan, demandOf(plan, "N"), rain.day);
    const lost = Float64Array.from(
      lying!,
      (availableKg, j) =>
        Math.max(0, availableKg - takenUpKg) * leachedBy(rain, -SOIL_WATER_DOUBT * other[j]!),
    );
    return left.map(({ needKg }, k) => {
      let met = 0;
      for (let j = 0; j < work.count; j++) if (later[k]![j]! - lost[j]! >= needKg * (1 - 1e-9)) met++;
      return met / work.count;
    });
  }
}
