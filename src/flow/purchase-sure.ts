/** Purchases whose mixes keep the margins that plans ask for, and how sure a mix can be on packs that are bought. */
import { chancesOf } from "../field/chances.ts";
import type { Amounts } from "../field/delivery.ts";
import { type Bought, boughtKg } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { ShopDemands } from "../program/shop-program.ts";
import type { PlanProgram, PlanRow } from "../program/tags.ts";
import type { PurchaseSureness, SureStep } from "../results/sure.ts";
import { layOutSpread } from "../season/spread.ts";
import { solveProgram } from "../solver/solve.ts";
import { cutRow, missedCuts } from "../solver/sure.ts";
import { MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import {
  buy,
  type Deadline,
  type Errand,
  errandFor,
  type Found,
  isPast,
  type NotFound,
  type SolvedBed,
  solveBeds,
} from "./purchase.ts";
import { mixOn } from "./purchase-mix.ts";
import { askedNutrients, SureSearch } from "./sure.ts";

/** A purchase and the mixes on it. */
export interface Purchased {
  readonly errand: Errand;
  readonly found: Found;
  readonly mixes: readonly Amounts[];
}

const MOST_PURCHASES = 25;
const MOST_MIXES = 60;
/** A margin missed by less than this share of its row counts as kept. */
const KEPT = 2e-7;
const BISECTIONS = 12;
/** Steps of certainty that are priced: 5, 7, 8 and 9 seasons of 10, and 19 of 20. */
const STEPS = [0.5, 0.7, 0.8, 0.9, 0.95];

/**
 * The best purchase whose mixes are as sure as their plans ask. A cut holds for every mix that is sure enough, so each
 * purchase on the way is a lower bound; on the packs found, the mix is chosen again until it has its margins, and where
 * none has, packs are looked for again.
 * @throws UnverifiedError where no such purchase was found in time.
 */
export async function buySurely(
  errand: Errand,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<Purchased | NotFound> {
  let now = errand;
  for (let round = 0; round < MOST_PURCHASES; round++) {
    const bought = await buy(now, demands, deadline);
    if (!("point" in bought)) return bought;
    let found: Found = bought;
    let before = "";
    for (let k = 0; k < MOST_MIXES; k++) {
      const mixes = await mixOn(now, found);
      const cuts = missedRows(now, mixes);
      if (cuts.every((rows) => rows.length === 0)) return { errand: now, found, mixes };
      // The same mix again: no mix on these packs keeps the margins.
      const shown = JSON.stringify(mixes);
      const stuck = shown === before;
      before = shown;
      ({ errand: now, found } = withRows(now, found, cuts));
      if (stuck) break;
    }
    if (isPast(deadline)) break;
  }
  throw new UnverifiedError("A purchase that sure was not found in time; allow more with --time-limit.");
}

/** By bed: the rows that its mix misses, as cuts of its own program. */
function missedRows({ beds }: Errand, mixes: readonly Amounts[]): PlanRow[][] {
  return beds.map((bed, p) => {
    const { sure } = bed;
    if (!sure) return [];
    return missedCuts(sure.base, sure.rows, pointOf(bed, mixes[p]!), KEPT).map((cut) => {
      const one = sure.rows[cut.sure]!;
      return cutRow(sure.base.rows[one.row]!, one, cut.u);
    });
  });
}

/** Amounts as a point of the bed's own program; what is bought is left out. */
function pointOf({ plan, program }: SolvedBed, amounts: Amounts): number[] {
  const x = program.columns.map(() => 0);
  program.use.forEach((columns, a) => {
    columns.forEach((j, b) => {
      x[j] = plan.blend === "one" ? amounts[a]!.reduce((sum, kg) => sum + kg, 0) : amounts[a]![b]!;
    });
  });
  return x;
}

function withRows(
  errand: Errand,
  found: Found,
  cuts: readonly (readonly PlanRow[])[],
): { errand: Errand; found: Found } {
  const moved = cuts.flatMap((rows, p) => {
    const place = new Map<number, number>();
    errand.beds[p]!.program.use.forEach((columns, a) => {
      columns.forEach((j, b) => {
        place.set(j, found.program.use[p]![a]![b]!);
      });
    });
    return rows.map((row) => ({ ...row, index: row.index.map((j) => place.get(j)!) }));
  });
  const beds = errand.beds.map((bed, p) => ({
    ...bed,
    program: { ...bed.program, rows: [...bed.program.rows, ...cuts[p]!] },
  }));
  const program = { ...found.program, rows: [...found.program.rows, ...moved] };
  return { errand: { ...errand, beds }, found: { ...found, program } };
}

/** Nutrients that a purchase is said to be sure of: those asked for, or else those that the soil does not keep. */
function spokenOf(plan: Plan): Nutrient[] {
  const asked = askedNutrients(plan);
  return plan.demands.flatMap(({ nutrient, minKg }) =>
    minKg > 0 && (asked.size > 0 ? asked.has(nutrient) : nutrient === "N" || nutrient === "S")
      ? [nutrient]
      : [],
  );
}

/**
 * How sure the mix on a purchase is, and how sure another mix would be that uses the packs up.
 * @returns null for several beds, and where nothing is to be sure of.
 */
export async function purchaseSureness(
  { errand, mixes }: Purchased,
  bought: Bought,
): Promise<PurchaseSureness | null> {
  const [bed] = errand.beds;
  if (!bed || errand.beds.length > 1) return null;
  const { plan, season } = bed;
  const nutrients = spokenOf(plan);
  if (nutrients.length === 0) return null;
  const spread = layOutSpread(plan, season);
  const least = (amounts: Amounts): number =>
    Math.min(
      ...chancesOf(plan, spread, amounts).flatMap(({ nutrient, p }) =>
        nutrients.includes(nutrient) ? [p] : [],
      ),
    );
  const mix = least(mixes[0]!);
  if (plan.simple) return { nutrients, mix, usedUp: null };
  const atHand = errand.amendments.map(
    (amendment, a) => amendment.stockKg + boughtKg(amendment, bought.counts[a]!, bought.bulkKg[a]!),
  );
  const usedUp = await advised(surestOn(bed, atHand, nutrients, mix));
  return { nutrients, mix, usedUp: Math.max(mix, usedUp ?? mix) };
}

/** What is advised beside a proven purchase is left out where it cannot be proven itself. */
async function advised<T>(found: Promise<T | null>): Promise<T | null> {
  try {
    return await found;
  } catch (error) {
    if (error instanceof UnverifiedError) return null;
    throw error;
  }
}

/** The largest share of seasons in which each of some needs can be met by what is at hand. */
async function surestOn(
  bed: SolvedBed,
  atHandKg: readonly number[],
  nutrients: readonly Nutrient[],
  known: number,
): Promise<number | null> {
  const { plan, season } = bed;
  const base = bed.sure?.base ?? bed.program;
  const program = {
    ...base,
    columns: base.columns.map((column) => ({ ...column, cost: column.tag.kind === "use" ? 1 : 0 })),
    rows: [
      ...base.rows.filter(({ tag }) => tag.kind !== "stock"),
      ...plan.amendments.map(({ id }, a): PlanRow => {
        const upper = atHandKg[a]! * (1 + 1e-9);
        return {
          tag: { kind: "stock", id },
          index: base.use[a]!,
          value: base.use[a]!.map(() => 1),
          lower: -Infinity,
          upper,
          fact: true,
        };
      }),
    ],
  };
  const plain = await solveProgram(program satisfies PlanProgram);
  if (plain.status !== "optimal") return null;
  const search = new SureSearch(plan, { program, season }, plain.x);
  let [low, high] = [Math.max(0.5, known), 0.999];
  for (let k = 0; k < BISECTIONS; k++) {
    const p = (low + high) / 2;
    const reached = await search.at(new Map(nutrients.map((nutrient) => [nutrient, p])));
    if (reached.found) low = p;
    else high = p;
  }
  return low;
}

/** What whole packs cost at each step of certainty; null where no purchase was found in time. */
export async function packLadder(
  { errand, found }: Purchased,
  demands: ShopDemands,
  deadline: Deadline,
): Promise<readonly SureStep[]> {
  const [bed] = errand.beds;
  if (!bed || errand.beds.length > 1 || !bed.plan.sure || bed.plan.sure.together) return [];
  const { plan } = bed;
  const nutrients = [...askedNutrients(plan)];
  const asked = plan.sure?.each.map(({ p }) => p) ?? [];
  const steps: SureStep[] = [];
  for (const p of STEPS) {
    if (isPast(deadline)) break;
    if (asked.every((one) => one === p)) {
      steps.push({ p, cost: found.point.cost });
      continue;
    }
    const each = nutrients.map((nutrient) => ({ nutrient, p }));
    const solved = await solveBeds([{ ...plan, sure: { each } }]);
    const step = "beds" in solved ? await buySurely(errandFor(solved.beds), demands, deadline) : null;
    steps.push({ p, cost: step && "found" in step ? step.found.point.cost : null });
  }
  return steps;
}

/** Whether every margin of a purchase's mixes holds within the tolerance of the proof. */
export function marginsHold({ errand, mixes }: Purchased): boolean {
  return errand.beds.every(
    (bed, p) =>
      !bed.sure ||
      missedCuts(bed.sure.base, bed.sure.rows, pointOf(bed, mixes[p]!), MAX_VIOLATION).length === 0,
  );
}
