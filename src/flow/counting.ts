/** What a plan would cost if a need were counted the other way: by what is available, or by what is spread. */
import type { Counts, Demand, Plan } from "../model.ts";
import type { OtherCounting } from "../results/solution.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { solveBlend } from "./solve-blend.ts";

/** The plan with one need counted the other way. A need of what is spread has no uptake curve. */
function countedOtherwise(plan: Plan, demand: Demand): Plan {
  const counts: Counts = demand.counts === "applied" ? "available" : "applied";
  // An efficiency is of what is available; a rate that is spread has none.
  const times = counts === "applied" ? (demand.efficiency ?? 1) : 1;
  const { efficiency: _, ...rest } = demand;
  const other: Demand = {
    ...rest,
    counts,
    minKg: demand.minKg * times,
    maxKg: demand.maxKg === null ? null : demand.maxKg * times,
    uptake: null,
  };
  return { ...plan, demands: plan.demands.map((d) => (d === demand ? other : d)) };
}

/**
 * What each need that asks for something would make the plan cost if it were counted the other way.
 * @param which the needs to look at.
 * @throws UnverifiedError where an answer could not be verified.
 */
export async function otherCountings(
  plan: Plan,
  which: (demand: Demand) => boolean,
  limit?: TimeLimit,
): Promise<OtherCounting[]> {
  const found: OtherCounting[] = [];
  for (const demand of plan.demands) {
    if (!(demand.minKg > 0) || !which(demand)) continue;
    const other = countedOtherwise(plan, demand);
    const { answer } = await solveBlend(other, limit);
    found.push({
      nutrient: demand.nutrient,
      counts: demand.counts === "applied" ? "available" : "applied",
      total: answer.status === "optimal" ? answer.check.cost : null,
    });
  }
  return found;
}
