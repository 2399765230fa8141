/** The season of a plan: when needs are checked, what of each material is available then, what credits bring. */
import type { Amendment, Credit, Demand, MaterialKind, NamedCurve, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { interpolateFromZero } from "./curve.ts";
import { layOutLeaching, leachedNext, mixedToM, SOIL_WATER, SOIL_WATER_DOUBT } from "./leaching.ts";
import { curveOf, type Spreading } from "./manure.ts";
import { availableOn } from "./release.ts";
import type { Lost, Season } from "./season-model.ts";
import { underWay } from "./under-way.ts";

export { curveOf } from "./manure.ts";
export type { Lost, Season } from "./season-model.ts";

/**
 * Of the nitrogen of manure left on the surface, the part lost to the air as ammonia: 3.3 % of total N in winter to 24 % in
 * summer (J. Environ. Qual. 33:1183), about the middle. In eleven field studies of 28 days litter on pasture lost 0.9 to
 * 10.5 % (Cassity-Duffey and others 2014, SSSAJ, abstract), in boxes 24 to 35 % (USDA-ARS 2019, Environments 6(8):96).
 */
export const SURFACE_LOSS = 0.15;

/** What a credit released before this day went to the last crop, or away over the winter. */
export const OLD_DAY = -60;
/** Nutrients that do not wait in the soil for the next crop. */
const PASSING: ReadonlySet<Nutrient> = new Set(["N", "S", "B"]);

/** kg that counts of a need of what is spread, per kg of an amendment's content: its grade, as far as the soil lets it feed. */
export function countedShare({ analysis, grade, effective }: Amendment, nutrient: Nutrient): number {
  const content = analysis[nutrient] ?? 0;
  const graded = grade?.[nutrient] ?? content;
  return (content > 0 ? graded / content : 1) * (effective?.[nutrient] ?? 1);
}

/** Share of the nutrient that stays in the soil; what raw manure loses its own rules count. */
function keptFromAir({ kind, manure }: Amendment, nutrient: Nutrient, { placement }: Spreading): number {
  const lost = placement === "surface" && nutrient === "N" && isManure(kind) && manure === undefined;
  return lost ? 1 - SURFACE_LOSS : 1;
}

/** Manure, raw or processed; finished compost has no ammonia left to lose. */
export function isManure(kind: MaterialKind | undefined): boolean {
  return kind === "manure-raw" || kind === "manure-processed";
}

/** kg of a demand's need that the crop has taken up by `day`; the whole need where no uptake is known. */
export function takenUpKg(demand: Demand, day: number): number {
  return demand.minKg * (demand.uptake ? interpolateFromZero(demand.uptake, day) : 1);
}

/** The demand of a nutrient; of nothing where the plan has none. */
export function demandOf(plan: Plan, nutrient: Nutrient): Demand {
  const known = plan.demands.find((demand) => demand.nutrient === nutrient);
  return known ?? { nutrient, minKg: 0, maxKg: null, appliedMaxKg: null, aheadMaxKg: null, uptake: null };
}

/** kg that the crop would take up by a day if all was there: evenly over the season where no uptake is known. */
export function wouldTakeUpKg(plan: Plan, demand: Demand, day: number): number {
  return demand.uptake
    ? takenUpKg(demand, day)
    : demand.minKg * Math.min(1, Math.max(0, day / plan.seasonDays));
}

/** Lays out the season of a plan, with what has happened in it. Availabilities are computed once per curve and pair of days. */
export function layOutSeason(plan: Plan): Season {
  const { applications, checkDays = [], seasonDays } = plan;
  const first = applications[0]!.day;
  const between = [...applications.map(({ day }) => day), ...checkDays].filter(
    (day) => day > first && day !== seasonDays,
  );
  const checkpoints = [...[...new Set(between)].sort((a, b) => a - b), seasonDays];

  const known = new Map<NamedCurve["curve"], Map<number, Map<number, number>>>();
  const share = (curve: NamedCurve["curve"], appliedDay: number, day: number): number => {
    if (day <= appliedDay) return 0;
    const byDay = getOrMake(getOrMake(known, curve), appliedDay);
    let value = byDay.get(day);
    if (value === undefined) {
      value = availableOn(curve, appliedDay, day, plan.soilTemperatureC);
      byDay.set(day, value);
    }
    return value;
  };
  const creditKg = (nutrient: Nutrient, day: number): number => {
    let sum = 0;
    for (const credit of plan.credits) {
      const content = credit.contentKg[nutrient];
      if (content === undefined) continue;
      const by = (when: number): number => share(credit.release.curve, credit.day, when);
      sum += content * (by(day) - oldShare(credit, nutrient, by));
    }
    return sum;
  };
  const available: Season["available"] = (amendment, nutrient, appliedDay, day, how = {}) =>
    share(curveOf(amendment, nutrient, how).curve, appliedDay, day) *
    (amendment.effective?.[nutrient] ?? 1) *
    keptFromAir(amendment, nutrient, how);
  const ahead: Season = {
    checkpoints,
    available,
    ...defined({ lost: layOutLost(plan, available, creditKg) }),
    creditKg,
    creditInAllKg: (nutrient) => {
      let sum = 0;
      for (const credit of plan.credits) {
        const content = credit.contentKg[nutrient] ?? 0;
        const by = (when: number): number => share(credit.release.curve, credit.day, when);
        if (content !== 0)
          sum += content * ((credit.ongoing ? by(seasonDays) : 1) - oldShare(credit, nutrient, by));
      }
      return sum;
    },
  };
  if (plan.past === undefined) return ahead;
  const now = underWay(plan, plan.past, ahead, { layOut: layOutSeason, countedShare });
  return { ...now, ...defined({ lost: layOutLost(plan, now.available, now.creditKg) }) };
}

/** Lays out what expected drainage takes; undefined where none is expected. */
function layOutLost(
  plan: Plan,
  available: Season["available"],
  creditKg: Season["creditKg"],
): Lost | undefined {
  const { drainage = [], soil, credits, applications, past } = plan;
  if (drainage.length === 0) return undefined;
  // What water has carried away already is spared, as what the crop has taken up is.
  const lostBy = (day: number): number =>
    (past?.losses ?? []).reduce((sum, loss) => (loss.day < day ? sum + loss.kg : sum), 0);
  const { holds = SOIL_WATER.holds, rootsM = SOIL_WATER.rootsM } = soil ?? {};
  const leaching = layOutLeaching(drainage, { holds, rootsM });
  const [first] = applications;
  const feeding = credits.filter(({ contentKg }) => contentKg.N !== undefined).map(({ day }) => day);
  const from = Math.min(first!.day, ...feeding);
  const mixed = mixedToM(first!.placement);
  const demand = demandOf(plan, "N");
  const takenUp = (day: number): number => wouldTakeUpKg(plan, demand, day);
  const depthM = Math.max(...leaching.drainages.map((one) => one.depthM));
  const taken = (water: number): number => leachedNext({ holds: water, rootsM }, 0, depthM, mixed);
  return {
    days: leaching.drainages.map(({ day }) => day),
    share: (k, amendment, appliedDay, how = {}) =>
      leaching.lostOf(k, (day) => available(amendment, "N", appliedDay, day, how), mixedToM(how.placement)),
    creditKg: (k) => leaching.lostOf(k, (day) => creditKg("N", day) + lostBy(day), 0),
    sparedKg: (k) => leaching.sparedBy(k, takenUp, mixed, from) + leaching.lostOf(k, lostBy, 0),
    doubt: (taken(holds - SOIL_WATER_DOUBT) - taken(holds + SOIL_WATER_DOUBT)) / (2 * taken(holds)),
  };
}

/** Share of a credit's nutrient that was released too long ago to count. */
function oldShare({ day }: Credit, nutrient: Nutrient, by: (day: number) => number): number {
  return day < OLD_DAY && PASSING.has(nutrient) ? by(OLD_DAY) : 0;
}

function getOrMake<K, L, V>(maps: Map<K, Map<L, V>>, key: K): Map<L, V> {
  const found = maps.get(key);
  if (found) return found;
  const made = new Map<L, V>();
  maps.set(key, made);
  return made;
}
