/** Caps that give way: settled before a plan is solved, as tight as its other demands let them be. */
import type { Demand, Plan } from "../model.ts";
import { buildProgram } from "../program/build.ts";
import type { Season } from "../season/season.ts";
import { solveProgram } from "../solver/solve.ts";
import { weight } from "../words/numbers.ts";

/** Room above the least possible, so that cost still has something to choose from; a judgement. */
const ROOM = 0.01;

const isSoft = (demand: Demand): boolean => demand.appliedSoftMaxKg !== undefined;

/** The plan with the cap of one demand at so many kg; null: without. */
function capped(plan: Plan, demand: Demand, kg: number | null): Plan {
  const { appliedSoftMaxKg: _, ...rest } = demand;
  const settled: Demand = { ...rest, appliedMaxKg: kg };
  return { ...plan, demands: plan.demands.map((d) => (d === demand ? settled : d)) };
}

/**
 * A plan whose soft caps have become caps: as stated where that leaves a mix, otherwise at the least that the other
 * demands make unavoidable, with a warning. Where there is no mix at all the cap is dropped: it is not what is in the
 * way. With `simple` a cap is dropped too, since what is unavoidable is not known before the amendments are chosen.
 */
export async function settleCaps(plan: Plan, season: Season): Promise<Plan> {
  const demand = plan.demands.find(isSoft);
  if (demand?.appliedSoftMaxKg === undefined) return plan;
  const { nutrient, appliedSoftMaxKg } = demand;
  const free = capped(plan, demand, null);
  if (plan.simple) return settleCaps(free, season);
  const stated = capped(plan, demand, appliedSoftMaxKg);
  const program = buildProgram(free, season);
  const content = new Map(plan.amendments.map((a) => [a.id, a.analysis[nutrient] ?? 0]));
  const least = await solveProgram(
    {
      ...program,
      columns: program.columns.map((column) => ({
        ...column,
        cost: column.tag.kind === "use" ? (content.get(column.tag.id) ?? 0) : 0,
      })),
    },
    [],
  );
  if (least.status !== "optimal") return settleCaps(free, season);
  const leastKg = least.check.cost;
  if (leastKg <= appliedSoftMaxKg) return settleCaps(stated, season);
  const kg = leastKg * (1 + ROOM);
  const found = capped(plan, demand, kg);
  const text = `The soil's rating of phosphorus asks for at most ${weight(appliedSoftMaxKg, plan.units)} of ${nutrient}; these amendments cannot meet the other needs with less than ${weight(leastKg, plan.units)}, so that is the cap. A source of nitrogen without phosphorus would bring it down.`;
  return settleCaps(
    { ...found, warnings: [...found.warnings, { code: "phosphorus-unavoidable", text }] },
    season,
  );
}
