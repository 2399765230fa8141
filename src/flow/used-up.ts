/** How sure a mix can be of its needs on the packs of a purchase, where these are used up. */
import { chancesOf } from "../field/chances.ts";
import { type Amounts, sumKg } from "../field/delivery.ts";
import { type Bought, boughtKg, usedKg } from "../field/purchase.ts";
import type { Nutrient } from "../nutrients.ts";
import { type PlanSureRow, sureRows } from "../program/sure-rows.ts";
import type { PlanProgram, PlanRow } from "../program/tags.ts";
import { layOutSpread } from "../season/spread.ts";
import { lengthOf, meanOf, spreadsAt } from "../solver/margin.ts";
import { normalCdf } from "../solver/normal.ts";
import { other } from "../solver/program.ts";
import { solveSure } from "../solver/sure.ts";
import { unlessUnverified } from "../solver/verify.ts";
import type { Deadline, SolvedBed } from "./purchase.ts";
import { type Purchased, spokenOf } from "./purchase-mix.ts";
import { pointOf } from "./solve-blend.ts";

/** So many mixes are looked at, each with more room than the one before. */
const MOST_CLIMBS = 12;
/** More room than this, in standard deviations, is worth another look: less than 0.0005 of a chance. */
const CLIMBED = 1e-3;
/** A margin has to be above none. */
const LEAST_MARGIN = 1e-6;
/** No one step gains or loses more room than this, in standard deviations of the mix before. */
const FARTHEST = 8;

/**
 * By bed: the highest chance, for the needs asked (else N and S) and the least sure of them, of any mix from the same bags,
 * caps and limits kept and the other beds given their own.
 * @returns undefined for a bed in which nothing is to be sure of, or for which that was not worked out.
 */
export async function usedUpChances(
  { errand, mixes }: Pick<Purchased, "errand" | "mixes">,
  bought: Bought,
): Promise<(number | undefined)[]> {
  const used = usedKg(errand, mixes);
  const deadline = errand.deadline.again();
  const chances: (number | undefined)[] = [];
  for (const [p, bed] of errand.beds.entries()) {
    const { plan, season } = bed;
    const nutrients = spokenOf(plan);
    if (nutrients.length === 0 || plan.simple || deadline.isPast()) {
      chances.push(undefined);
      continue;
    }
    const spread = layOutSpread(plan, season);
    const known = Math.min(
      ...chancesOf(plan, spread, mixes[p]!).flatMap(({ nutrient, p }) =>
        nutrients.includes(nutrient) ? [p] : [],
      ),
    );
    const atHand = plan.amendments.map(({ id }, i) => {
      const a = errand.amendments.findIndex((amendment) => amendment.id === id);
      const amendment = errand.amendments[a]!;
      const there = amendment.stockKg + boughtKg(amendment, bought.counts[a]!, bought.bulkKg[a]!);
      return Math.max(0, there - used[a]!) + sumKg(mixes[p]![i]!);
    });
    const usedUp = await unlessUnverified(surestOn(bed, atHand, nutrients, mixes[p]!, deadline));
    chances.push(Math.max(known, usedUp ?? known));
  }
  return chances;
}

/**
 * The largest share of seasons in which each of some needs can be met by what is at hand: from a mix, at the margins that it
 * has, the mix with the most room above them, and so on until none has more (Dinkelbach 1967, Management Science 13:492-498).
 * @returns null where nothing about these needs varies.
 * @throws UnverifiedError
 */
async function surestOn(
  { plan, season, sure, program }: SolvedBed,
  atHandKg: readonly number[],
  nutrients: readonly Nutrient[],
  mix: Amounts,
  deadline: Deadline,
): Promise<number | null> {
  const base = sure?.base ?? program;
  const atHand = plan.amendments.map(({ id }, a): PlanRow => {
    const [index, upper] = [base.use[a]!, atHandKg[a]! * (1 + 1e-9)];
    return {
      tag: { kind: "stock", id },
      index,
      value: index.map(() => 1),
      lower: -Infinity,
      upper,
      fact: true,
    };
  });
  const stocked = { ...base, rows: [...base.rows.filter(({ tag }) => tag.kind !== "stock"), ...atHand] };
  const spoken = (nutrient: Nutrient): number => (nutrients.includes(nutrient) ? 1 : 0);
  const needs = sureRows(plan, layOutSpread(plan, season), stocked, spoken);
  if (needs.length === 0) return null;
  let x: readonly number[] | null = pointOf(plan, base, mix);
  let reached = -Infinity;
  for (let climbs = 0; x && climbs < MOST_CLIMBS; climbs++) {
    const spreads = needs.map(({ factors }) => lengthOf(spreadsAt(factors, x!)));
    const room = needs.map(
      (need, r) => (meanOf(stocked, need, x!).mean - stocked.rows[need.row]!.lower) / spreads[r]!,
    );
    const least = Math.min(...room);
    const before = reached;
    reached = Math.max(before, least);
    if (!(least > before + CLIMBED) || deadline.isPast()) break;
    x = await roomiest(stocked, needs, spreads, Math.max(LEAST_MARGIN, reached));
  }
  return normalCdf(reached);
}

/**
 * The mix with the most room above its margins, the least of all needs.
 * @param spreads by need: a standard deviation, in which room is counted.
 * @param z the margins, in standard deviations of the mix itself.
 * @returns null where none was found.
 */
async function roomiest(
  { columns, rows }: PlanProgram,
  needs: readonly PlanSureRow[],
  spreads: readonly number[],
  z: number,
): Promise<readonly number[] | null> {
  const lacking = columns.length;
  const spreadOf = new Map(needs.map(({ row }, r) => [row, spreads[r]!]));
  const program: PlanProgram = {
    columns: [
      ...columns.map((column) => ({ ...column, cost: 0 })),
      { tag: other("room that is lacking"), cost: 1, upper: 2 * FARTHEST },
    ],
    rows: rows.map((row, i) => {
      const spread = spreadOf.get(i);
      if (spread === undefined) return row;
      const lower = row.lower + FARTHEST * spread;
      return { ...row, index: [...row.index, lacking], value: [...row.value, spread], lower };
    }),
  };
  const answer = await solveSure(
    program,
    needs.map((need) => ({ ...need, z })),
  );
  return answer.status === "optimal" ? answer.x.slice(0, lacking) : null;
}
