/** What a farm asks, as plans and options of an answer. */
import type { Farm, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { AnswerOptions } from "./answer.ts";

/** The plans of a farm's beds, and how they share. A farm whose beds each have their own way of mixing shares nothing. */
export function farmAsked({ name, beds, mostMixes, alone, heap }: Farm): {
  readonly plans: readonly [Plan, ...Plan[]];
  readonly options: AnswerOptions;
} {
  const plans = beds.map(({ plan }) => plan) as unknown as [Plan, ...Plan[]];
  const pins = beds.map(({ mix }) => mix ?? null);
  const pinned = pins.some((pin) => pin !== null);
  const own = plans.some(({ blend, simple }) => blend === "each" || simple !== undefined);
  if (own && !pinned && mostMixes === undefined && alone === 0 && heap.length === 0)
    return { plans, options: { name } };
  return {
    plans,
    options: {
      name,
      sharing: defined({
        mostMixes,
        alone: alone === 1 ? true : undefined,
        pins: pinned ? pins : undefined,
        heap: heap.length > 0 ? heap : undefined,
      }),
    },
  };
}
