/** Random plans made as sure as asked, and how often drawn seasons meet their need of nitrogen. */

import { amountsOf, solveBlend } from "../../src/flow/solve-blend.ts";
import type { SureAsked } from "../../src/model.ts";
import { mergedCuts } from "../../src/solver/sure.ts";
import { shareMet } from "./drawn-seasons.ts";
import { loadTree } from "./load-tree.ts";
import { checkpointsOf, randomSpec, type Spec, toTree } from "./random-plan.ts";

export interface SureCase {
  readonly seed: number;
  readonly asked: number;
  readonly status: "optimal" | "infeasible" | "no mix that sure";
  /** Share of drawn seasons that meet the need, on the worst of its days; null where there is no mix. */
  readonly met: number | null;
  /** Whether the need is what makes the mix cost more. */
  readonly binds: boolean;
  readonly cost: number | null;
  readonly plainCost: number | null;
}

const ASKED = [0.8, 0.9, 0.95];

/** kg of a need by a day, written out from the spec. */
function needOn(spec: Spec, day: number): number | null {
  const demand = spec.demands.N!;
  if (day === spec.season) return demand.min;
  if (!demand.uptake) return null;
  let before: [number, number] = [0, 0];
  for (const point of demand.uptake) {
    if (day <= point[0])
      return demand.min * (before[1] + ((point[1] - before[1]) * (day - before[0])) / (point[0] - before[0]));
    before = point;
  }
  return demand.min * before[1];
}

export async function sureCase(seed: number, draws: number): Promise<SureCase> {
  const asked = ASKED[seed % ASKED.length]!;
  const spec = randomSpec(seed);
  const sure: SureAsked = { each: [{ nutrient: "N", p: asked }] };
  const plan = { ...loadTree(toTree(spec, seed)), sure };
  const { answer, program, sure: found, sureFault } = await solveBlend(plan);
  if (answer.status !== "optimal" || !found)
    return {
      seed,
      asked,
      status: sureFault ? "no mix that sure" : "infeasible",
      met: null,
      binds: false,
      cost: null,
      plainCost: sureFault ? sureFault.surest.cost : null,
    };
  const amounts = amountsOf(plan, program, answer.x);
  const kg = spec.amendments.map(({ id }) => {
    const a = plan.amendments.findIndex((amendment) => amendment.id === id);
    return a < 0 ? spec.applications.map(() => 0) : amounts[a]!;
  });
  const days = checkpointsOf(spec);
  const shares = days.flatMap((day) => {
    const need = needOn(spec, day);
    return need === null ? [] : [shareMet(spec, kg, "N", day, need, draws, seed)];
  });
  return {
    seed,
    asked,
    status: "optimal",
    met: Math.min(...shares),
    binds: found.proven !== null && mergedCuts(found.rows, found.proven).some(({ price }) => price > 1e-9),
    cost: answer.check.cost,
    plainCost: found.plainCost,
  };
}

/** What is wrong with a case, in words; null where nothing is. `slack`: how far drawn shares may be off. */
export function faultOf(one: SureCase, slack: number): string | null {
  if (one.met === null) return null;
  const share = `${(100 * one.met).toFixed(1)} % of drawn seasons, asked ${100 * one.asked} %`;
  if (one.met < one.asked - slack) return `too few: ${share}`;
  if (one.binds && one.met > one.asked + slack) return `too many: ${share}`;
  if (one.cost! < one.plainCost! * (1 - 1e-7)) return `cheaper than the plain mix`;
  return null;
}
