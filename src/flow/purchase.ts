/** The best purchase of whole packs for beds that each have a mix by weight. */

import { type Bought, ordersOf, totalOf } from "../field/purchase.ts";
import { type Amendment, heaviestOrderKg, type Plan, type Supplier } from "../model.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import {
  type Bed,
  buildShopProgram,
  mergeAmendments,
  mergeSuppliers,
  type ShopDemands,
  type ShopProgram,
} from "../program/shop-program.ts";
import { reachOf } from "../program/simple.ts";
import type { Proven } from "../solver/solve.ts";
import { solveWhole, type TimeLimit, type WholeAnswer, type WholePoint } from "../solver/whole.ts";
import { type SolvedBlend, solveBlend } from "./solve-blend.ts";

/** A feasible plan with its proven mix by weight. */
export interface SolvedBed extends SolvedBlend {
  readonly answer: Proven;
}

/** What is bought for, what is on offer, and what is asked of a purchase beside the plans. */
export interface Errand {
  /** Every bed that is bought for, for its name, batches and scale. */
  readonly plans: readonly Plan[];
  /** The beds whose mixes the packs choose; none where only given amounts are bought. */
  readonly beds: readonly SolvedBed[];
  /** Everything on offer, by id. */
  readonly amendments: readonly Amendment[];
  readonly suppliers: readonly Supplier[];
  readonly demands: ShopDemands;
  readonly deadline: Deadline;
}

/** Every search gets so much time at least. */
const LEAST_SECONDS = 0.05;

/** A time at which to stop, by a clock that is handed in (milliseconds, rising): nothing here asks the time by itself. */
export class Deadline {
  private readonly end: number;

  constructor(
    private readonly seconds: number,
    readonly clock: () => number,
  ) {
    this.end = clock() + seconds * 1000;
  }

  isPast(): boolean {
    return this.clock() > this.end;
  }

  secondsLeft(): number {
    return Math.max(LEAST_SECONDS, (this.end - this.clock()) / 1000);
  }

  /** As long again, from now on. */
  again(): Deadline {
    return new Deadline(this.seconds, this.clock);
  }
}

/** A purchase with the program that it was found in. */
export interface Found {
  readonly program: ShopProgram;
  readonly point: WholePoint;
  readonly bought: Bought;
}

/** Why no purchase was found. */
export type NotFound = Exclude<WholeAnswer, WholePoint>;

/** How far a search may go; absent: until it ends or time is up. */
export interface SearchLimits {
  readonly nodes?: number;
  /** Leaves the larger solver out. */
  readonly alone?: boolean;
  /** Money above which a purchase is of no interest. */
  readonly within?: number;
  /** Whether it matters which of several purchases of equal cost is found; so it does unless told otherwise. */
  readonly ties?: boolean;
}

/** Money caps to look within, as multiples of a purchase that is known; used where that one breaks a further demand. */
const DEARER = [2, 20, 1000];

/** The errand for beds: everything that any of them may use, once. */
export function errandFor(beds: readonly SolvedBed[], demands: ShopDemands, deadline: Deadline): Errand {
  const plans = beds.map((bed) => bed.plan);
  const [amendments, suppliers] = [mergeAmendments(plans).all, mergeSuppliers(plans).all];
  return { plans, beds, amendments, suppliers, demands, deadline };
}

/** The same errand for amounts that are given (kg by amendment), whatever the beds would choose. */
export function errandOf(fixedKg: readonly number[], errand: Errand): Errand {
  return { ...errand, beds: [], demands: { ...errand.demands, fixedKg } };
}

/** The mixes by weight of plans; the first plan that has none in their place. */
export async function solveBeds(
  plans: readonly Plan[],
  limit?: TimeLimit,
): Promise<{ readonly beds: readonly SolvedBed[] } | { readonly without: Plan }> {
  const beds: SolvedBed[] = [];
  for (const plan of plans) {
    const { answer, ...solved } = await solveBlend(plan, limit);
    if (answer.status !== "optimal") return { without: plan };
    beds.push({ ...solved, answer });
  }
  return { beds };
}

/** The best purchase, or why there is none. */
export async function buy(
  errand: Errand,
  { within = Infinity, ties = errand.beds.length === 0, ...limits }: SearchLimits = {},
): Promise<Found | NotFound> {
  const { demands, deadline, suppliers } = errand;
  // A purchase that is known sets the sum to look within, unless it may break a further demand.
  const known =
    demands.mostLeft === undefined && suppliers.every((supplier) => heaviestOrderKg(supplier) === Infinity);
  for (const times of known ? [1] : DEARER) {
    const last = known || times === DEARER.at(-1);
    const { program, cap } = prepare(errand, times, within);
    const point = await solveWhole(program, {
      seconds: deadline.secondsLeft(),
      clock: deadline.clock,
      tieBreaks: ties ? program.tieBreaks : [],
      ...limits,
    });
    if (point.status === "infeasible" && !last) continue;
    if (!("x" in point)) return point;
    if (point.cost <= cap || last) return { program, point, bought: boughtIn(program, point.x) };
  }
  throw new Error("no purchase was looked for");
}

export function boughtIn(program: ShopProgram, x: readonly number[]): Bought {
  return {
    counts: program.packs.map((columns) => columns.map((j) => Math.round(x[j]!))),
    bulkKg: program.bulk.map((j) => (j === null ? 0 : x[j]!)),
  };
}

/**
 * The integer program of a purchase, within a cap on the money: a multiple of what packs that cover the mixes by weight cost.
 * @param times how many times that a purchase may cost to be looked at.
 */
export function prepare(
  errand: Errand,
  times: number,
  within = Infinity,
): { program: ShopProgram; cap: number } {
  const { beds, amendments, suppliers, demands } = errand;
  const need = amendments.map((_, a) => demands.fixedKg?.[a] ?? 0);
  for (const { plan, program, answer } of beds)
    plan.amendments.forEach((amendment, i) => {
      const a = amendments.findIndex(({ id }) => id === amendment.id);
      need[a]! += program.use[i]!.reduce((sum, j) => sum + answer.x[j]!, 0);
    });
  const known = covering(amendments, need);
  const knownTotal = totalOf(ordersOf(amendments, suppliers, known));
  const cap = Math.max(knownTotal, 1e-6) * times * (1 + 1e-9);
  const spent = Math.min(cap, within, demands.budget ?? Infinity);
  const program = buildShopProgram(
    beds.map((bed) => bedWithin(bed, spent)),
    amendments,
    suppliers,
    demands,
    spent,
    mostUsed(errand, spent, need),
  );
  return { program, cap };
}

/** Packs that cover what is needed beyond the shed, each amendment in the size (or loose) that costs least by itself. */
function covering(amendments: readonly Amendment[], needKg: readonly number[]): Bought {
  const bulkKg = amendments.map(() => 0);
  const counts = amendments.map(({ packs, bulkPricePerKg = Infinity, stockKg }, a) => {
    const short = (needKg[a]! - stockKg) * (1 + 1e-10);
    if (!(short > 1e-9 * needKg[a]!)) return packs.map(() => 0);
    const some = packs.map(({ sizeKg }) => Math.ceil(short / sizeKg - 1e-9));
    const costs = packs.map(({ price }, k) => price * some[k]!);
    const least = Math.min(...costs, bulkPricePerKg * short);
    const chosen = costs.indexOf(least);
    if (chosen < 0 && least < Infinity) bulkKg[a] = short;
    return packs.map((_, k) => (k === chosen ? some[k]! : 0));
  });
  return { counts, bulkKg };
}

function bedWithin(bed: SolvedBed, spent: number): Bed {
  const { plan, simplicity } = bed;
  const program = simplicity?.free ?? bed.program;
  if (!simplicity) return { plan, program };
  const kg = program.use.flat().reduce((sum, j) => sum + bed.answer.x[j]!, 0);
  return { plan, program, reach: reachOf(plan, program, Math.max(spent, 1e-6), kg) };
}

/** By amendment: more of it than no purchase within a sum of money uses, in one blend and in all. */
function mostUsed(
  { beds, amendments }: Errand,
  spent: number,
  need: readonly number[],
): { oneBlendKg: number; inAllKg: number }[] {
  const whole = 1000 * Math.max(1e-3, sum(need));
  const byRows = beds.map(mostByRows);
  return amendments.map((amendment, a) => {
    const price = cheapestPricePerKg(amendment);
    const byMoney = price === null ? 0 : price > 0 ? spent / price : Infinity;
    const atHand = Math.min(whole, amendment.stockKg + byMoney);
    const blends = beds.flatMap(({ plan, program }, p) => {
      const i = plan.amendments.findIndex(({ id }) => id === amendment.id);
      return i < 0 ? [] : program.use[i]!.map((j) => byRows[p]![j]!);
    });
    const fixed = beds.length === 0 ? need[a]! : 0;
    return {
      oneBlendKg: Math.min(atHand, Math.max(0, ...blends)) * (1 + 1e-9),
      inAllKg: Math.min(atHand, sum(blends) + fixed) * (1 + 1e-9),
    };
  });
}

/** By column of a bed's program: the most that one upper limit alone allows. */
function mostByRows(bed: SolvedBed): number[] {
  const program = bed.simplicity?.free ?? bed.program;
  const most = program.columns.map(() => Infinity);
  for (const row of program.rows) {
    if (!Number.isFinite(row.upper) || row.tag.kind === "stock" || row.value.some((v) => v < 0)) continue;
    row.index.forEach((j, k) => {
      if (row.value[k]! > 0) most[j] = Math.min(most[j]!, Math.max(0, row.upper) / row.value[k]!);
    });
  }
  return most;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
