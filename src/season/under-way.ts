/**
 * A season that is under way: what was spread before counts beside the credits, nitrogen that water took is gone, and what a
 * reading of the soil says moves what is expected of everything that it tells of.
 */
import type { Amendment, Given, Past, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { curveOf, type Spreading } from "./manure.ts";
import type { Season } from "./season-model.ts";
import { commonSpread, creditSpread, spreadingSpread, temperatureSpread, wholeLotSpread } from "./varies.ts";

/** How supply changes with soil temperature is read off half a degree to either side, whatever the spread. */
export const SLOPE_STEP_C = 0.5;

/** A plan in a season that is warmer by so many degrees all through; without a soil temperature, the same plan. */
export function warmerBy(plan: Plan, degrees: number): Plan {
  const soilTemperatureC = plan.soilTemperatureC?.map(([day, celsius]) => [day, celsius + degrees] as const);
  return soilTemperatureC ? { ...plan, soilTemperatureC } : plan;
}

/** The plan as it was before anything had happened, whatever has been spread or read since. */
export function before({ past: _, ...plan }: Plan): Plan {
  return plan;
}

/** kg of a material in what was given. */
export function gaveKg(given: readonly Given[], id: string): number {
  return given.reduce((sum, { kg }) => sum + (kg.find((one) => one.id === id)?.kg ?? 0), 0);
}

/**
 * The season as it is seen from where it has got to.
 * @param ahead the same season with nothing in it but the plan's credits.
 * @param layOut lays out a plan's season.
 * @param countedShare what of a content counts towards a need of what is spread.
 */
export function underWay(
  plan: Plan,
  { given, losses, shifts }: Past,
  ahead: Season,
  {
    layOut,
    countedShare,
  }: {
    readonly layOut: (plan: Plan) => Season;
    readonly countedShare: (amendment: Amendment, nutrient: Nutrient) => number;
  },
): Season {
  const amendmentOf = new Map(plan.amendments.map((one) => [one.id, one]));
  const shiftOf = new Map(shifts.map(({ doubt, by }) => [doubt, by]));
  const shift = (doubt: string): number => shiftOf.get(doubt) ?? 0;
  const warmerC = plan.soilTemperatureC ? temperatureSpread(plan) * shift("soil-temperature") : 0;
  const [warm, cold] = [SLOPE_STEP_C, -SLOPE_STEP_C].map((degrees) =>
    warmerC === 0 ? ahead : layOut(warmerBy(before(plan), degrees)),
  );
  /** As much more as the warmth that is now expected makes, in proportion. */
  const warmed = (of: (season: Season) => number): number =>
    warmerC === 0 ? 0 : (warmerC * (of(warm!) - of(cold!))) / (2 * SLOPE_STEP_C);
  /** By credit: how much more it brings than was expected, as a share, and the season with it alone. */
  const credits = (shifts.length === 0 ? [] : plan.credits).map((credit, c) => ({
    more:
      creditSpread(credit) * shift(`credit ${c}`) + commonSpread(plan, credit.release) * shift("releases"),
    alone: layOut({ ...before(plan), credits: [credit] }),
  }));
  const available = (
    amendment: Amendment,
    nutrient: Nutrient,
    appliedDay: number,
    day: number,
    how?: Spreading,
    beside = 0,
  ): number => {
    const of = (season: Season): number => season.available(amendment, nutrient, appliedDay, day, how);
    const more =
      wholeLotSpread(plan, amendment, nutrient) * shift(`lot ${amendment.id} ${nutrient}`) +
      commonSpread(plan, curveOf(amendment, nutrient)) * shift("releases");
    return of(ahead) * (1 + more + beside) + warmed(of);
  };
  const spreadKg = (nutrient: Nutrient, share: (amendment: Amendment, k: number) => number): number => {
    let sum = 0;
    for (const [k, { kg }] of given.entries())
      for (const { id, kg: weight } of kg) {
        const amendment = amendmentOf.get(id)!;
        const content = amendment.analysis[nutrient] ?? 0;
        if (content !== 0) sum += weight * content * share(amendment, k);
      }
    return sum;
  };
  const lostKg = (day: number): number =>
    losses.reduce((sum, loss) => (loss.day < day ? sum + loss.kg : sum), 0);
  return {
    ...ahead,
    available: (amendment, nutrient, appliedDay, day, how) =>
      available(amendment, nutrient, appliedDay, day, how),
    creditKg: (nutrient, day) =>
      credits.reduce(
        (sum, { more, alone }) => sum + more * alone.creditKg(nutrient, day),
        ahead.creditKg(nutrient, day),
      ) +
      warmed((season) => season.creditKg(nutrient, day)) +
      spreadKg(nutrient, (amendment, k) => {
        const { day: on } = given[k]!;
        const beside = spreadingSpread(plan) * shift(`given ${k}`);
        return available(amendment, nutrient, on, day, given[k], beside);
      }) -
      (nutrient === "N" ? lostKg(day) : 0),
    creditInAllKg: (nutrient) =>
      ahead.creditInAllKg(nutrient) + spreadKg(nutrient, (amendment) => countedShare(amendment, nutrient)),
  };
}
