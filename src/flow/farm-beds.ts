/** The beds of a farm, each solved by itself: its settled caps, its margins, what it costs alone, and which beds are alike. */
import type { Amendment, Plan } from "../model.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { type MixBed, mixBed } from "../program/shared-mix.ts";
import { type PlanSureRow, sureRows } from "../program/sure-rows.ts";
import { layOutSpread } from "../season/spread.ts";
import { normalQuantile } from "../solver/normal.ts";
import type { ValuedBed } from "./farm-value.ts";
import type { SolvedBed } from "./purchase.ts";
import { solveBlend } from "./solve-blend.ts";
import type { Levels } from "./sure.ts";

/** A bed of a farm with its own proven mix, whole shed its own. */
export interface FarmBed {
  readonly solved: SolvedBed;
  /** Its program with plain rows alone, and the margins on them. */
  readonly base: SolvedBed["program"];
  readonly sure: readonly PlanSureRow[];
  readonly levels: Levels;
  /** What it costs by weight with nothing in the shed, and what weighs; for the search of who shares. */
  readonly valued: ValuedBed;
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
export async function farmBeds(
  solvedBeds: readonly SolvedBed[],
  amendments: readonly Amendment[],
): Promise<FarmBeds> {
  const known = amendments.map((amendment) => cheapestPricePerKg(amendment) ?? 0);
  const least = NO_PRICE * Math.max(...known, 1e-6);
  const prices = known.map((price) => Math.max(price, least));
  const priceOf = new Map(amendments.map(({ id }, a) => [id, prices[a]!]));
  const beds: FarmBed[] = [];
  for (const solved of solvedBeds)
    if (kgOf(solved, solved.answer.x) > 0) beds.push(await valued(solved, amendments, priceOf));
  return { beds, prices };
}

async function valued(
  solved: SolvedBed,
  amendments: readonly Amendment[],
  priceOf: ReadonlyMap<string, number>,
): Promise<FarmBed> {
  const { plan } = solved;
  const base = solved.sure?.base ?? solved.program;
  const levels = solved.sure?.levels ?? new Map();
  const sure = marginsOf(plan, solved, base, levels);
  const kg = kgOf(solved, solved.answer.x);
  const mix = mixBed(plan, base, sure, amendments, kg);
  return { solved, base, sure, levels, valued: { ...mix, own: await ownCost(solved, priceOf) } };
}

/** The margins of a bed at given levels. */
export function marginsOf(
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
  const { solved, base, valued } = bed;
  const sure = marginsOf(solved.plan, solved, base, levels);
  const mix: MixBed = mixBed(solved.plan, base, sure, amendments, valued.kg);
  return { ...bed, sure, levels, valued: { ...valued, ...mix } };
}

function kgOf({ program }: SolvedBed, x: readonly number[]): number {
  return program.use.flat().reduce((sum, j) => sum + x[j]!, 0);
}

/** What a bed costs with everything bought by weight. */
async function ownCost({ plan, answer }: SolvedBed, priceOf: ReadonlyMap<string, number>): Promise<number> {
  const stocked = plan.amendments.some(({ id, stockKg, ...amendment }) => {
    const price = cheapestPricePerKg({ id, stockKg, ...amendment });
    return stockKg > 0 || price !== priceOf.get(id);
  });
  if (!stocked) return answer.check.cost;
  const amendments = plan.amendments.map(
    (amendment): Amendment => ({
      ...amendment,
      stockKg: 0,
      packs: [],
      bulkPricePerKg: priceOf.get(amendment.id)!,
    }),
  );
  const bought = await solveBlend({ ...plan, amendments });
  if (bought.answer.status !== "optimal") throw new Error("a bed lost its mix with more to buy");
  return bought.answer.check.cost;
}
