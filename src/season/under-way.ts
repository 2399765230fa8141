/**
 * A season that is under way: what was spread before counts beside the credits, nitrogen that water took is gone, and what a
 * reading of the soil says moves what is expected of everything that it tells of.
 */
import type { Amendment, Credit, Past, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Spreading } from "./manure.ts";
import type { Season } from "./season-model.ts";

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

/** By how much a credit is expected to bring more of everything, by its place in the plan. */
const creditAlone = (plan: Plan, credit: Credit): Plan => ({ ...before(plan), credits: [credit] });

/**
 * The season as it is seen from where it has got to.
 * @param ahead the same season with nothing in it but the plan's credits.
 * @param layOut lays out a plan's season.
 * @param countedShare what of a content counts towards a need of what is spread.
 */
export function underWay(
  plan: Plan,
  past: Past,
  ahead: Season,
  {
    layOut,
    countedShare,
  }: {
    readonly layOut: (plan: Plan) => Season;
    readonly countedShare: (amendment: Amendment, nutrient: Nutrient) => number;
  },
): Season {
  const { given, losses, expects } = past;
  const amendmentOf = new Map(plan.amendments.map((one) => [one.id, one]));
  const more = new Map(expects?.materials.map(({ id, nutrient, more: by }) => [`${id} ${nutrient}`, by]));
  const warmerC = plan.soilTemperatureC === undefined ? 0 : (expects?.warmerC ?? 0);
  const [warm, cold] =
    warmerC === 0
      ? [ahead, ahead]
      : [SLOPE_STEP_C, -SLOPE_STEP_C].map((degrees) => layOut(warmerBy(before(plan), degrees)));
  const credits = expects?.credits.map((by, c) => [by, layOut(creditAlone(plan, plan.credits[c]!))] as const);
  /** As much more as the warmth that is now expected makes, in proportion. */
  const warmed = (of: (season: Season) => number): number =>
    warmerC === 0 ? 0 : (warmerC * (of(warm!) - of(cold!))) / (2 * SLOPE_STEP_C);
  const available = (
    amendment: Amendment,
    nutrient: Nutrient,
    appliedDay: number,
    day: number,
    how?: Spreading,
    beside = 0,
  ): number => {
    const of = (season: Season): number => season.available(amendment, nutrient, appliedDay, day, how);
    return of(ahead) * (1 + (more.get(`${amendment.id} ${nutrient}`) ?? 0) + beside) + warmed(of);
  };
  const spreadKg = (of: (amendment: Amendment, kg: number, k: number) => number): number =>
    given.reduce(
      (sum, { kg }, k) =>
        sum + kg.reduce((part, { id, kg: weight }) => part + of(amendmentOf.get(id)!, weight, k), 0),
      0,
    );
  const lostKg = (day: number): number =>
    losses.reduce((sum, loss) => (loss.day < day ? sum + loss.kg : sum), 0);
  return {
    ...ahead,
    available: (amendment, nutrient, appliedDay, day, how) =>
      available(amendment, nutrient, appliedDay, day, how),
    creditKg: (nutrient, day) => {
      const fromCredits =
        (credits ?? []).reduce(
          (sum, [by, alone]) => sum + by * alone.creditKg(nutrient, day),
          ahead.creditKg(nutrient, day),
        ) + warmed((season) => season.creditKg(nutrient, day));
      const spread = spreadKg((amendment, kg, k) => {
        const content = amendment.analysis[nutrient] ?? 0;
        if (content === 0) return 0;
        const one = given[k]!;
        return kg * content * available(amendment, nutrient, one.day, day, one, expects?.given[k] ?? 0);
      });
      return fromCredits + spread - (nutrient === "N" ? lostKg(day) : 0);
    },
    creditInAllKg: (nutrient) =>
      ahead.creditInAllKg(nutrient) +
      spreadKg(
        (amendment, kg) => kg * (amendment.analysis[nutrient] ?? 0) * countedShare(amendment, nutrient),
      ),
  };
}
