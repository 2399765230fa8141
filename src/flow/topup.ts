/**
 * After a heavy rain: how much available nitrogen may have gone below the roots, what the rest of the season then
 * lacks, and the cheapest dressing of the plan's own amendments that replaces it.
 */

import { layOutBatches } from "../field/batches.ts";
import { type Amounts, appliedKg, countedKg, suppliedKg } from "../field/delivery.ts";
import { drainageOf, leachedFraction, SOIL_WATER_DOUBT } from "../field/rain.ts";
import type { Demand, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { PlanColumn, PlanProgram, PlanRow, RowTag } from "../program/tags.ts";
import type { Verification } from "../results/solution.ts";
import type { Rain, TopUp } from "../results/topup.ts";
import { layOutSeason, type Season, takenUpKg } from "../season/season.ts";
import { normalQuantile } from "../solver/normal.ts";
import { rowScale } from "../solver/program.ts";
import { OWN_SIMPLEX, type Proven, relax, solveProgram } from "../solver/solve.ts";
import { type SureRow, solveSure } from "../solver/sure.ts";
import { UnverifiedError } from "../solver/verify.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { cautionsOf } from "../words/cautions.ts";
import { amountsOf, solveBlend } from "./solve-blend.ts";
import { AIM_MOST, CHECK_SLACK, MOST_RAISES } from "./sure.ts";
import { askedOfNitrogen, RainySeasons } from "./topup-sure.ts";

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
    warnings: [...rainWarnings(plan, rain), ...placedWarnings(plan, fallen, rain)],
  } as const;
  const demand = plan.demands.find((d) => d.nutrient === "N");
  const left = pointsAfter(plan, season, amounts, demand, rain.day, nitrogen.lostKg);
  const level = askedOfNitrogen(plan);
  const doubts = level === null ? null : new RainySeasons(plan, season, amounts, rain, nitrogen);
  const none = plan.amendments.map(() => 0);
  const takenUp = demand ? takenUpBy(plan, demand, rain.day) : 0;
  const pointsWith = (kg: readonly number[]): TopUp["checkpoints"] => {
    const worked = doubts?.worked(left, kg, takenUp);
    return left.map((point, k) => {
      const addedKg = fed(plan, season, kg, "N", rain.day, point.day);
      return {
        ...point,
        withKg: point.withoutKg + addedKg,
        ...(doubts && worked
          ? {
              met: {
                without: doubts.met(point, none, 0),
                with: doubts.met(point, kg, addedKg),
                withChecked: worked[k]!,
              },
            }
          : {}),
      };
    });
  };
  const nothing = {
    ...shared,
    ...defined({ asked: level ?? undefined }),
    checkpoints: pointsWith(none),
    amendments: [],
    cost: 0,
    application: null,
    verification: null,
    cautions: [],
  };
  if (nitrogen.lostKg <= 0) return { ...nothing, status: "nothing-lost" };
  const lacking = nothing.checkpoints.some(
    ({ needKg, withoutKg, met }) =>
      withoutKg < needKg * (1 - ENOUGH) || (met !== undefined && met.without < level! - SURE_ENOUGH),
  );
  if (!lacking) return { ...nothing, status: "enough-left" };

  const { kg, cost, verification, complete } = await solveDressing(
    dressing(plan, season, amounts, rain, nitrogen.lostKg, doubts !== null),
    plan,
    doubts === null || level === null
      ? null
      : {
          level,
          rows: (program, z) => doubts.rows(program, z),
          worked: (found) => doubts.worked(left, found, takenUp),
        },
  );
  const { warnings, ...field } = inTheField(plan, kg, rain.day);
  return {
    ...shared,
    ...defined({ asked: level ?? undefined }),
    status: complete ? "found" : "short",
    checkpoints: pointsWith(kg),
    amendments: plan.amendments
      .map((amendment, a) => ({
        id: amendment.id,
        name: amendment.name,
        kg: kg[a]!,
        cost: costOfMore(plan, amounts, a, kg[a]!),
      }))
      .filter((used) => used.kg > 0)
      .sort((p, q) => q.kg - p.kg || (p.id < q.id ? -1 : 1)),
    cost,
    verification,
    ...field,
    warnings: [...shared.warnings, ...shareWarnings(plan, kg), ...warnings],
  };
}

/** What is needed of nitrogen on each day of check after the rain, and what is there on it without a dressing. */
function pointsAfter(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  demand: Demand | undefined,
  rainDay: number,
  lostKg: number,
) {
  const days = season.checkpoints.filter(
    (day) => day > rainDay && (demand?.uptake != null || day === plan.seasonDays),
  );
  const needOn = (day: number): number => {
    if (!demand) return 0;
    return day === plan.seasonDays ? demand.minKg : takenUpKg(demand, day);
  };
  const suppliedOn = (day: number): number =>
    demand ? countedKg(plan, season, amounts, demand, day) : suppliedKg(plan, season, amounts, "N", day);
  return days.map((day) => ({ day, needKg: needOn(day), withoutKg: suppliedOn(day) - lostKg }));
}

/** The dressing as it is weighed and spread, and what to mind about it. */
function inTheField(plan: Plan, kg: readonly number[], day: number) {
  const after: Plan = {
    ...plan,
    applications: [{ name: "the dressing", day, share: 1 }],
    blend: "one",
    limits: [],
  };
  const given = kg.map((value) => [value]);
  const { applications, warnings } = layOutBatches(after, given);
  // Needs and credits were judged when the season was planned; here only the dressing itself is.
  const alone = { ...after, demands: [], credits: [] };
  return {
    application: applications[0] ?? null,
    cautions: cautionsOf(alone, layOutSeason(after), given),
    warnings,
  };
}

async function leastCostMix(plan: Plan, limit?: TimeLimit): Promise<Amounts | null> {
  const { program, answer } = await solveBlend(plan, limit);
  return answer.status === "optimal" ? amountsOf(plan, program, answer.x) : null;
}

/** How deep an application is worked in, metres; common practice, no source. */
const WORKED_IN_M = { hole: 0.1, band: 0.05, broadcast: 0.15, surface: 0 } as const;

/**
 * The rain as it meets what was spread: nitrate lies as deep as the shallowest placement that the plan names, where the
 * rain does not say how deep; under cover nothing drains.
 */
function asPlaced(plan: Plan, rain: Rain): Rain {
  const covered = plan.cover !== undefined && plan.cover !== "open";
  if (covered) return { ...rain, evaporationM: rain.rainM };
  const before = plan.applications.filter(({ day }) => day < rain.day);
  const depths = before.flatMap(({ placement }) => (placement === undefined ? [] : [WORKED_IN_M[placement]]));
  if (rain.mixedToM > 0 || depths.length === 0 || depths.length < before.length) return rain;
  return { ...rain, mixedToM: Math.min(rain.depthM, ...depths) };
}

/** Lacking less than this part of a need is arithmetic. */
const ENOUGH = 1e-6;
/** And lacking less than this part of the seasons. */
const SURE_ENOUGH = 1e-6;

function atRisk(plan: Plan, season: Season, amounts: Amounts, rain: Rain): TopUp["nitrogen"] {
  const demand = plan.demands.find((d) => d.nutrient === "N");
  const availableKg = suppliedKg(plan, season, amounts, "N", rain.day);
  const takenUp = demand ? takenUpBy(plan, demand, rain.day) : 0;
  const takenUpSoFar = Math.min(takenUp, availableKg);
  const atRiskKg = availableKg - takenUpSoFar;
  const before = amounts.map((row) => row.map((kg, t) => (plan.applications[t]!.day < rain.day ? kg : 0)));
  const credited = plan.credits.reduce(
    (sum, credit) => (credit.day < rain.day ? sum + (credit.contentKg.N ?? 0) : sum),
    0,
  );
  const share = (soilWater: number) =>
    leachedFraction({ ...rain, drainageM: drainageOf(rain), soilWater: Math.max(0.01, soilWater) });
  const lostShare = share(rain.soilWater);
  return {
    availableKg,
    takenUpKg: takenUpSoFar,
    atRiskKg,
    notReleasedKg: Math.max(0, appliedKg(plan, before, "N") + credited - availableKg),
    lostShare,
    lostKg: atRiskKg * lostShare,
    lostLowKg: atRiskKg * share(rain.soilWater + SOIL_WATER_DOUBT),
    lostHighKg: atRiskKg * share(rain.soilWater - SOIL_WATER_DOUBT),
  };
}

/** kg that the crop would have taken up by a day if all of it was there. */
function takenUpBy(plan: Plan, demand: Demand, day: number): number {
  return demand.uptake
    ? takenUpKg(demand, day)
    : demand.minKg * Math.min(1, Math.max(0, day / plan.seasonDays));
}

function placedWarnings(plan: Plan, given: Rain, rain: Rain): Notice[] {
  if (plan.cover !== undefined && plan.cover !== "open")
    return [
      {
        code: "under-cover",
        text: `The bed is under ${plan.cover === "tunnel" ? "a tunnel" : "plastic"}: no rain drains through it, so nothing is lost.`,
      },
    ];
  if (rain.mixedToM === given.mixedToM) return [];
  return [
    {
      code: "mixed-by-placement",
      text: `By the placement of what was spread, nitrate is assumed to be mixed in to ${Number((rain.mixedToM * 100).toPrecision(3))} cm; \`--mixed-to\` says otherwise.`,
    },
  ];
}

function rainWarnings(plan: Plan, rain: Rain): Notice[] {
  const demand = plan.demands.find((d) => d.nutrient === "N");
  const warnings: Notice[] = [];
  if (!demand || demand.minKg <= 0)
    warnings.push({
      code: "nitrogen-not-needed",
      text: "The plan states no need of nitrogen, so there is none to replace.",
    });
  else if (!demand.uptake)
    warnings.push({
      code: "uptake-assumed",
      text: "The target has no uptake curve for nitrogen; the crop is assumed to take it up evenly.",
    });
  if (plan.applications.some((application) => application.day === rain.day))
    warnings.push({
      code: "spread-that-day",
      text: "What the plan spreads on the day of the rain is assumed to be spread after it.",
    });
  return warnings;
}

/** Limits on shares are of the season's blend; a dressing is no such blend. */
function shareWarnings(plan: Plan, kg: readonly number[]): Notice[] {
  const names = plan.amendments
    .filter(({ id }, a) => kg[a]! > 0 && plan.limits.some((l) => l.id === id && l.maxShare !== undefined))
    .map((amendment) => amendment.name);
  return names.length === 0
    ? []
    : [
        {
          code: "share-limit-not-kept",
          text: `The plan limits the share of ${names.join(", ")} in its blend; a dressing after rain is not held to that.`,
        },
      ];
}

/** kg of a nutrient that a dressing on one day has made available by another. */
function fed(
  plan: Plan,
  season: Season,
  kg: readonly number[],
  nutrient: Nutrient,
  spreadOn: number,
  day: number,
): number {
  return plan.amendments.reduce((sum, amendment, a) => {
    const content = amendment.analysis[nutrient] ?? 0;
    return content === 0 || kg[a] === 0
      ? sum
      : sum + kg[a]! * content * season.available(amendment, nutrient, spreadOn, day);
  }, 0);
}

const usedOf = (amounts: Amounts, a: number): number => amounts[a]!.reduce((sum, kg) => sum + kg, 0);

/** What the season's mix leaves in the shed. */
const leftInShed = (plan: Plan, amounts: Amounts, a: number): number =>
  Math.max(0, plan.amendments[a]!.stockKg - usedOf(amounts, a));

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
    const room = limit === undefined ? Infinity : roomBelow(limit, usedOf(amounts, a));
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
    for (const day of season.checkpoints) {
      if (day <= rain.day) continue;
      const end = day === plan.seasonDays;
      if (!demand.uptake && !end) continue;
      const left = suppliedKg(plan, season, amounts, nutrient, day) - lost;
      const reached = countedKg(plan, season, amounts, demand, day) - lost;
      const available = (a: number) =>
        content(a) === 0 ? 0 : content(a) * season.available(plan.amendments[a]!, nutrient, rain.day, day);
      const countable = (a: number) => content(a) * (plan.amendments[a]!.effective?.[nutrient] ?? 1);
      const counted = demand.counts === "applied" ? countable : available;
      const need = end ? demand.minKg : takenUpKg(demand, day);
      if (nutrient === "N" && need > 0 && (surely || need > reached))
        add({ kind: end ? "season-min" : "in-time", nutrient, day }, counted, need - reached, Infinity);
      if (end && demand.maxKg !== null)
        add({ kind: "season-max", nutrient, day }, counted, -Infinity, roomBelow(demand.maxKg, reached));
      if (demand.aheadMaxKg !== null) {
        const room = roomBelow(demand.aheadMaxKg + takenUpKg(demand, day), left);
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

/** How sure a dressing is to be, and the margins that make it so. */
interface SurelyDressed {
  readonly level: number;
  readonly rows: (program: PlanProgram, z: number) => SureRow[];
  /** Shares of worked seasons in which a dressing meets each need. */
  readonly worked: (kg: readonly number[]) => number[];
}

interface Dressed {
  readonly kg: number[];
  readonly cost: number;
  readonly verification: Verification;
  readonly complete: boolean;
}

async function solveDressing(base: PlanProgram, plan: Plan, surely: SurelyDressed | null): Promise<Dressed> {
  const weight = base.columns.map((column) => (column.tag.kind === "use" ? 1 : 0));
  const order = base.columns.map((column, j) => (column.tag.kind === "use" ? j : 0));
  const ties = [weight, order];
  const kgOf = (x: readonly number[]) => x.filter((_, j) => base.columns[j]!.tag.kind === "use");
  const found = (answer: Pick<Proven, "x" | "check">): Dressed => {
    const { dualBound, maxViolation, gap, cost } = answer.check;
    const verification = { engine: OWN_SIMPLEX, maxViolation, dualBound, gap };
    return { kg: kgOf(answer.x), cost, verification, complete: true };
  };
  let program = base;
  if (surely === null) {
    const answer = await solveProgram(base, ties);
    if (answer.status === "optimal")
      return { ...found(answer), verification: { ...found(answer).verification, engine: answer.engine } };
    if (answer.status === "unverified") throw unproven(plan);
  } else {
    let best: Dressed | null = null;
    let aimed = surely.level;
    for (let raises = 0; raises <= MOST_RAISES; raises++) {
      const answer = await solveSure(base, surely.rows(base, normalQuantile(aimed)), ties);
      if (answer.status === "unverified") throw unproven(plan);
      if (answer.status === "infeasible") {
        if (best) return best;
        program = answer.program as PlanProgram;
        break;
      }
      best = found(answer);
      const met = Math.min(...surely.worked(best.kg));
      if (met >= surely.level - CHECK_SLACK) return best;
      aimed = Math.min(AIM_MOST, aimed + surely.level - met);
    }
    if (best) return best;
  }
  const floors = (row: PlanRow) => (row.lower > -Infinity ? 1 / rowScale(row) : null);
  const closest = relax(program, floors, [program.columns.map((column) => column.cost), ...ties]);
  if (!closest) throw unproven(plan);
  const { check } = closest;
  return {
    kg: kgOf(closest.x),
    cost: program.columns.reduce((sum, column, j) => sum + column.cost * closest.x[j]!, 0),
    verification: {
      engine: "own simplex",
      maxViolation: check.maxViolation,
      dualBound: check.dualBound,
      gap: check.gap,
    },
    complete: false,
  };
}

function unproven(plan: Plan): UnverifiedError {
  return new UnverifiedError(`The dressing for ${plan.name} could not be verified; none is printed.`);
}
