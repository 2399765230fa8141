/** Going on as planned: the rounds of the old plan that are left, in the weights decided, with what they still cost to buy. */
import { usedKg } from "../field/purchase.ts";
import { sumOf } from "../files/season-model.ts";
import { soldByWeight } from "../program/build.ts";
import { mergeAmendments, mergeSuppliers } from "../program/shop-program.ts";
import type { Solution } from "../results/solution.ts";
import { layOutSeason } from "../season/season.ts";
import { MAX_VIOLATION } from "../solver/verify.ts";
import { listed } from "../words/numbers.ts";
import { type AnswerOptions, foundAt } from "./answer.ts";
import { layOut } from "./lay-out.ts";
import { buy, Deadline, type Errand, errandOf } from "./purchase.ts";
import { trimmed } from "./purchase-mix.ts";
import { type BedRest, leftOf } from "./season-rest.ts";
import { surenessFound } from "./sure.ts";

/**
 * The old plan as an answer. It may miss a need by what rounding its weights did, or by what has happened since.
 * @returns null where it gives nothing more, or what it takes cannot be had.
 * @throws UnverifiedError where its money does not add up.
 */
export async function goOn(
  rests: readonly BedRest[],
  { by = "purchase", clock = () => 0, seconds = Infinity }: AnswerOptions,
): Promise<Solution | null> {
  const open = rests.filter(({ over }) => !over);
  const amounts = open.map(({ oldPlan }) => oldPlan);
  const left = open.flatMap(({ rounds }) => leftOf(rounds));
  if (left.every(({ gives }) => sumOf(gives) === 0)) return null;
  // Where all rounds that are left take one mix, it is stirred as one.
  const plans = open.map(({ plan, oldMix }) => ({
    ...plan,
    ...(oldMix === null ? {} : { blend: "one" as const }),
    ...(by === "weight" ? { amendments: plan.amendments.map(soldByWeight), suppliers: [] } : {}),
  }));
  const errand: Errand = {
    plans,
    beds: [],
    amendments: mergeAmendments(plans).all,
    suppliers: mergeSuppliers(plans).all,
    demands: {},
    deadline: new Deadline(seconds, clock),
  };
  // What the shed just holds is not bought for what arithmetic leaves of it.
  const used = usedKg(errand, amounts).map((kg, a) => {
    const { stockKg } = errand.amendments[a]!;
    return kg > stockKg && kg <= stockKg * (1 + MAX_VIOLATION) ? stockKg : kg;
  });
  const found = await buy(errandOf(used, errand));
  if (!("bought" in found)) return null;
  const mixes = [...new Set(open.map(({ oldMix }) => oldMix))];
  return layOut({
    ...foundAt(found.point, trimmed(errand, found.bought, used), true, { by }),
    name: listed(plans.map(({ name }) => name)),
    beds: plans.map((plan, p) => {
      const season = layOutSeason(plan);
      return { plan, season, amounts: amounts[p]!, more: { sure: surenessFound(plan, season, amounts[p]!) } };
    }),
    amendments: errand.amendments,
    suppliers: errand.suppliers,
    inputs: { by, plans },
    asPlanned: true,
    ...(mixes.includes(null)
      ? {}
      : {
          groups: mixes.map((name) => ({
            name: name!,
            beds: open.flatMap(({ oldMix }, p) => (oldMix === name ? [p] : [])),
          })),
        }),
  });
}
