/** Going on as planned, and giving nothing more: amounts that are known, as answers like those that are searched for. */
import type { Amounts } from "../field/delivery.ts";
import { usedKg } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import { soldByWeight } from "../program/build.ts";
import { mergeAmendments, mergeSuppliers } from "../program/shop-program.ts";
import type { Solution } from "../results/solution.ts";
import type { Sureness } from "../results/sure.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import { MAX_VIOLATION } from "../solver/verify.ts";
import { listed } from "../words/numbers.ts";
import { type AnswerOptions, foundAt } from "./answer.ts";
import { layOut } from "./lay-out.ts";
import { buy, Deadline, type Errand, errandOf } from "./purchase.ts";
import { trimmed } from "./purchase-mix.ts";
import type { BedRest } from "./season-rest.ts";
import { surenessFound } from "./sure.ts";

/** Less short than this share of a need is what rounding to the scale does, and no crop shows it. */
const SHORT = 0.02;
/** So much less sure than was asked is what rounding does too: the weights that were printed are what is weighed. */
const AS_SURE = 0.01;

/** Amounts that are not searched for, with how sure they are. */
export interface Way {
  readonly plan: Plan;
  readonly season: Season;
  readonly amounts: Amounts;
  readonly sure: Sureness;
}

export function wayOf(plan: Plan, amounts: Amounts): Way {
  const season = layOutSeason(plan);
  return { plan, season, amounts, sure: surenessFound(plan, season, amounts) };
}

/** Nothing more of anything. */
export const nothingMore = ({ withoutKept: plan }: BedRest): Way =>
  wayOf(
    plan,
    plan.amendments.map(() => plan.applications.map(() => 0)),
  );

/** Whether a way feeds a bed on every day that is still ahead, as surely as was asked. */
export function isFed({ sure: { asked, askedTogether, needs, together } }: Way): boolean {
  const least = new Map(asked.map(({ nutrient, p }) => [nutrient, p]));
  return (
    needs.every(
      ({ nutrient, expectKg, needKg, p, pChecked }) =>
        expectKg >= (1 - SHORT) * needKg && (pChecked ?? p) >= (least.get(nutrient) ?? 0) - AS_SURE,
    ) && (together ?? 1) >= (askedTogether?.p ?? 0) - AS_SURE
  );
}

/**
 * Ways of the beds whose season is not over as an answer. It may miss a need by what rounding its weights did.
 * @param mixes by bed, the one mix that all its rounds take; null: there are several, or none. Where every bed that gets
 * anything has one, each mix is stirred as one.
 * @returns null where what they take cannot be had.
 * @throws UnverifiedError where the money does not add up.
 */
export async function asAnswer(
  ways: readonly Way[],
  mixes: readonly (string | null)[],
  { by = "purchase", clock = () => 0, seconds = Infinity }: AnswerOptions,
): Promise<Solution | null> {
  const isShared = ways.every(
    ({ amounts }, p) => mixes[p] !== null || amounts.flat().every((kg) => kg === 0),
  );
  const beds = ways.map(({ plan, season, amounts, sure }) => ({
    plan: {
      ...plan,
      ...(isShared ? { blend: "one" as const } : {}),
      ...(by === "weight" ? { amendments: plan.amendments.map(soldByWeight), suppliers: [] } : {}),
    },
    season,
    amounts,
    more: { sure },
  }));
  const plans = beds.map(({ plan }) => plan);
  const errand: Errand = {
    plans,
    beds: [],
    amendments: mergeAmendments(plans).all,
    suppliers: mergeSuppliers(plans).all,
    demands: {},
    deadline: new Deadline(seconds, clock),
  };
  const amounts = ways.map((way) => way.amounts);
  // What the shed just holds is not bought for what arithmetic leaves of it.
  const used = usedKg(errand, amounts).map((kg, a) => {
    const { stockKg } = errand.amendments[a]!;
    return kg > stockKg && kg <= stockKg * (1 + MAX_VIOLATION) ? stockKg : kg;
  });
  const found = await buy(errandOf(used, errand));
  if (!("bought" in found)) return null;
  const groups = [...new Set(mixes)].flatMap((name) =>
    name === null ? [] : [{ name, beds: mixes.flatMap((one, p) => (one === name ? [p] : [])) }],
  );
  return layOut({
    ...foundAt(found.point, trimmed(errand, found.bought, used), true, { by }),
    name: listed(plans.map(({ name }) => name)),
    beds,
    amendments: errand.amendments,
    suppliers: errand.suppliers,
    inputs: { by, plans },
    asPlanned: true,
    ...(isShared ? { groups } : {}),
  });
}
