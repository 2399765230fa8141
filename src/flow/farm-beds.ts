/** The beds of a farm, each solved by itself: its settled caps, its margins, what it costs alone, and which beds are alike. */
import type { Amendment, Plan } from "../model.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { type MixBed, mixBed } from "../program/shared-mix.ts";
import { type PlanSureRow, sureRows } from "../program/sure-rows.ts";
import { layOutSpread } from "../season/spread.ts";
import { normalQuantile } from "../solver/normal.ts";
import type { SolvedBed } from "./purchase.ts";
import type { Levels } from "./sure.ts";

/** A bed of a farm with its own proven mix, whole shed its own. */
export interface FarmBed {
  readonly solved: SolvedBed;
  /** Its program with plain rows alone, and the margins on them. */
  readonly base: SolvedBed["program"];
  readonly sure: readonly PlanSureRow[];
  readonly levels: Levels;
  /** What it asks of a mix. */
  readonly asks: MixBed;
}

export interface FarmBeds {
  /** In the farm's order, those that need a mix: not those that credits feed wholly. */
  readonly beds: readonly FarmBed[];
  /** Money per kg of the farm's amendments, none of it zero. */
  readonly prices: readonly number[];
}

/** Of the dearest price, what a material without one counts as while beds are divided. */
const NO_PRICE = 1e-6;

/** The beds of a farm from what each costs by itself. */
export function farmBeds(solvedBeds: readonly SolvedBed[], amendments: readonly Amendment[]): FarmBeds {
  const known = amendments.map((amendment) => cheapestPricePerKg(amendment) ?? 0);
  const least = NO_PRICE * Math.max(...known, 1e-6);
  const beds = solvedBeds.flatMap((solved): FarmBed[] => {
    const kg = solved.program.use.flat().reduce((sum, j) => sum + solved.answer.x[j]!, 0);
    if (!(kg > 0)) return [];
    const base = solved.sure?.base ?? solved.program;
    const levels = solved.sure?.levels ?? new Map();
    const sure = marginsOf(solved.plan, solved, base, levels);
    return [{ solved, base, sure, levels, asks: mixBed(solved.plan, base, sure, amendments, kg) }];
  });
  return { beds, prices: known.map((price) => Math.max(price, least)) };
}

/** The margins of a bed at given levels. */
function marginsOf(
  plan: Plan,
  { season }: Pick<SolvedBed, "season">,
  base: SolvedBed["program"],
  levels: Levels,
): PlanSureRow[] {
  if (![...levels.values()].some((p) => p > 0.5)) return [];
  return sureRows(plan, layOutSpread(plan, season), base, (nutrient) => {
    const p = levels.get(nutrient) ?? 0.5;
    return p > 0.5 ? normalQuantile(p) : 0;
  });
}

/** The same bed with margins at other levels. */
export function withLevels(bed: FarmBed, amendments: readonly Amendment[], levels: Levels): FarmBed {
  const { solved, base, asks } = bed;
  const sure = marginsOf(solved.plan, solved, base, levels);
  return { ...bed, sure, levels, asks: mixBed(solved.plan, base, sure, amendments, asks.kg) };
}
