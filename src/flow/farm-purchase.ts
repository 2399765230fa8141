/**
 * What to buy for beds in groups of one mix each, by purchase or by weight: the purchase's own program with the convex part of
 * every shared mix in it, held by tangents. A purchase counts once its shares add to one: the bags are kept, the mix is
 * worked out until nothing is missed, and where the bags do not serve, what shows it goes into the next search.
 */
import { type Bought, ordersOf, totalOf } from "../field/purchase.ts";
import type { Amendment, Plan, Supplier } from "../model.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { Lone } from "../program/lone.ts";
import {
  buildShared,
  cutAt,
  isAllShares,
  type MixRow,
  missOf,
  mostM,
  type SharedCuts,
  type SharedProgram,
  sharedBy,
} from "../program/shared-mix.ts";
import type { ShopDemands } from "../program/shop-program.ts";
import { Draft, type Entry, other, termsOf } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { solveProgram } from "../solver/solve.ts";
import { MAX_GAP, UnverifiedError } from "../solver/verify.ts";
import type { FarmBed } from "./farm-beds.ts";
import { type Kind, kindsOf, MixValues } from "./farm-value.ts";
import { buy, type Deadline, type Errand, type Found, type NotFound, type SolvedBed } from "./purchase.ts";
import { settle } from "./purchase-mix.ts";

/** A mix and the beds that it feeds. */
export interface FarmMix {
  /** Indices into the beds bought for. */
  readonly beds: readonly number[];
  /** By amendment of the farm, kg of the whole heap. */
  readonly heapKg: readonly number[];
  /** By bed, in the same order: its share of the heap; they add to 1. */
  readonly shares: readonly number[];
}

/** A purchase for groups with the mixes made from it. */
export interface FarmPurchase {
  readonly mixes: readonly FarmMix[];
  readonly bought: Bought;
  readonly cost: number;
  /** No purchase for these groups costs less. */
  readonly bound: number;
  /** Whether the bound is the cost. */
  readonly proven: boolean;
  /** Whether the bound is the larger solver's word. */
  readonly claimed: boolean;
  /** Whether of mixes on purchases of that total the one of fewest materials was found; undefined where none was looked for. */
  readonly settled?: boolean;
  /** By bed of the errand, what it gets beside its mix; absent: no bed gets anything. */
  readonly lone?: readonly (Lone | null)[];
  /** By weight: what a kg more of each amendment in the shed would save; null where none is used. */
  readonly worth?: readonly (number | null)[];
}

export interface FarmErrand {
  readonly beds: readonly FarmBed[];
  /** Beds by group: each in one. */
  readonly groups: readonly (readonly number[])[];
  readonly amendments: readonly Amendment[];
  readonly suppliers: readonly Supplier[];
  readonly demands: ShopDemands;
  readonly deadline: Deadline;
  /** What a kg is worth, none of it nothing; for where the search begins. */
  readonly prices: readonly number[];
}

/** A share of the heap above 1 that is rounding. */
const ROUNDING = 1e-9;
/** By weight a heap grows for what is left of that: the cost is off by as much. */
const SETTLED = 1e-8;
const KEPT = 1e-10;
const KEPT_AT_LAST = 1e-9;
/** The same bags twice: what they miss by less than this is left to the tolerance of the search. */
const MISSED_AT_MOST = 1e-7;
const MOST_SEARCHES = 40;
const MOST_TIES = 10;
const MOST_ROUNDS = 60;

/** A group of beds: its program so far, and what is known of its convex part. */
class Group {
  readonly kinds: readonly Kind[];
  readonly mayHave: readonly number[];
  private readonly touches: number[][];
  private readonly cuts: MixRow[][];
  private start: readonly number[];

  constructor(
    readonly beds: readonly number[],
    private readonly farm: FarmErrand,
  ) {
    const all = beds.map((b) => farm.beds[b]!.asks);
    this.kinds = kindsOf(all);
    this.mayHave = sharedBy(all);
    this.cuts = this.kinds.map(() => []);
    const kinds = this.kinds.map(({ bed }) => bed);
    const values = new MixValues(kinds, farm.prices);
    const value = values.value(
      kinds.map((_, k) => k),
      { gap: 1e-10 },
    );
    const money = kinds.map((_, k) => (value.mix.length > 0 ? values.costOf(k, value.mix) : 1));
    const sum = money.reduce((total, one) => total + one, 0);
    this.touches = kinds.map(({ kg }, k) => [(kg * sum) / money[k]!]);
    const program = this.program();
    const x = program.columns.map(() => 0);
    const allKg = kinds.reduce((total, { kg }) => total + kg, 0);
    if (value.mix.length > 0) {
      this.mayHave.forEach((a, j) => {
        x[program.use[j]![0]!] = value.mix[a]! * sum;
      });
      kinds.forEach(({ kg }, k) => {
        x[program.m[k]!] = (kg * sum) / money[k]!;
        x[program.share[k]!] = ((money[k]! / sum) * allKg) / kg;
      });
    }
    this.start = x;
  }

  program(): SharedProgram {
    const cuts: SharedCuts = { touches: this.touches, cones: this.cuts };
    const ids = this.farm.amendments.map(({ id }) => id);
    return buildShared(
      this.kinds.map(({ bed }) => bed),
      this.mayHave,
      ids,
      cuts,
    );
  }

  /** The group as one bed that is bought for. */
  asBed(): SolvedBed {
    const first = this.farm.beds[this.beds[0]!]!.solved;
    const { simple: _, ...rest } = first.plan;
    const plan: Plan = {
      ...rest,
      amendments: this.mayHave.map((a) => this.farm.amendments[a]!),
      demands: [],
      limits: [],
      credits: [],
    };
    const x = this.start;
    const check = { cost: 0, dualBound: 0, gap: 0, maxViolation: 0, worstRow: -1, costScale: 1 };
    const answer = { status: "optimal", engine: "", x, y: [], check } as const;
    return { plan, season: first.season, program: this.program(), answer };
  }

  /** kg of the heap by amendment of the farm, and `m` by kind, at a point of a program that holds the group's. */
  private at(columnOf: ReadonlyMap<number, number>, x: readonly number[]) {
    const program = this.program();
    const heap = this.farm.amendments.map(() => 0);
    this.mayHave.forEach((a, j) => {
      heap[a] = x[columnOf.get(program.use[j]![0]!)!]!;
    });
    const m = this.kinds.map(({ bed }, k) => x[columnOf.get(program.m[k]!)!]! / bed.kg);
    return { heap, m };
  }

  /** Adds what a point misses; says whether anything was. */
  tighten(columnOf: ReadonlyMap<number, number>, x: readonly number[]): boolean {
    const { heap, m } = this.at(columnOf, x);
    const sum = m.reduce((total, one) => total + 1 / one, 0);
    let added = false;
    this.kinds.forEach(({ bed }, k) => {
      for (const cone of bed.cones) {
        const cut = cutAt(cone, heap, m[k]!);
        if (missOf(cut, heap, m[k]!) <= KEPT) continue;
        this.cuts[k]!.push(cut);
        added = true;
      }
      // Touching where the shares add to one is tightest: a heap grows in proportion.
      const at = bed.kg * m[k]! * sum;
      if (sum <= 1 + ROUNDING || this.touches[k]!.some((one) => Math.abs(one - at) <= 1e-7 * at)) return;
      this.touches[k]!.push(at);
      added = true;
    });
    return added;
  }

  /**
   * The mix of a heap with every bed at the least rate that its needs allow, and how far the shares are from adding to one;
   * null where a cap is missed at these rates.
   */
  mixAt(columnOf: ReadonlyMap<number, number>, x: readonly number[]): { mix: FarmMix; over: number } | null {
    const { heap } = this.at(columnOf, x);
    const m = this.kinds.map(({ bed }) => mostM(bed, heap));
    if (m.some((one) => !(one > 0) || one === Infinity)) return null;
    if (this.kinds.some(({ bed }, k) => bed.rows.some((row) => missOf(row, heap, m[k]!) > KEPT_AT_LAST)))
      return null;
    const sum = m.reduce((total, one) => total + 1 / one, 0);
    const shares = new Map<number, number>();
    this.kinds.forEach(({ bed, members }, k) => {
      for (const i of members) {
        const b = this.beds[i]!;
        shares.set(b, ((this.farm.beds[b]!.asks.kg / bed.kg) * (1 / m[k]!)) / sum);
      }
    });
    // A heap that is a little too small or too large grows or shrinks in proportion, but for what it must hold.
    const held = this.farm.demands.heap?.some(({ minKg = 0 }) => minKg > 0) || this.farm.demands.mostLeft;
    const times = held && sum < 1 ? 1 : sum;
    const heapKg = heap.map((kg) => kg * times);
    return { mix: { beds: this.beds, heapKg, shares: this.beds.map((b) => shares.get(b)!) }, over: sum - 1 };
  }
}

/**
 * The best purchase for beds in groups, each with one mix; or why there is none.
 * @param ties whether it matters which of several mixes of that total is found.
 */
export async function buyForGroups(farm: FarmErrand, ties = false): Promise<FarmPurchase | NotFound> {
  const groups = farm.groups.map((beds) => new Group(beds, farm));
  if (farm.suppliers.length === 0 && farm.amendments.every(({ packs }) => packs.length === 0))
    return weighed(farm, groups);
  let before = "";
  let known: FarmPurchase | null = null;
  for (let rounds = 1; rounds <= MOST_SEARCHES; rounds++) {
    const errand: Errand = {
      plans: farm.beds.map(({ solved }) => solved.plan),
      beds: groups.map((group) => group.asBed()),
      amendments: farm.amendments,
      suppliers: farm.suppliers,
      demands: farm.demands,
      deadline: farm.deadline,
    };
    const found = await buy(errand, { ties: false });
    if (!("point" in found)) return found;
    const { counts } = found.bought;
    const bags = JSON.stringify(counts);
    const mixed = await mixOf(counts, groups, farm, bags === before ? MISSED_AT_MOST : ROUNDING);
    before = bags;
    const { bound, claimed } = found.point;
    if (mixed) {
      const bought = { counts, bulkKg: mixed.bulkKg };
      const cost = totalOf(ordersOf(farm.amendments, farm.suppliers, bought));
      const proven = cost - bound <= MAX_GAP * Math.max(1, cost);
      const best = { mixes: mixed.mixes, bought, cost, bound: Math.min(cost, bound), proven, claimed };
      if (proven) return ties ? { ...best, ...(await simplest(errand, found, groups)) } : best;
      if (known === null || cost < known.cost) known = best;
    }
    // What is sold loose is bought by the last kilogram: the next search knows better how many that are.
    if (known && (found.point.status !== "optimal" || farm.deadline.isPast() || rounds === MOST_SEARCHES))
      return { ...known, bound: Math.min(known.cost, bound), claimed };
    if (farm.deadline.isPast()) return { status: "nothing", bound };
    // The mix of these bags may keep what the point of the search misses.
    groups.forEach((group, g) => {
      group.tighten(found.program.columnOf[g]!, found.point.x);
    });
  }
  throw new UnverifiedError("The shares of the beds did not settle; no mix is printed.");
}

/** Of mixes on purchases of the total found the one of fewest materials, then of least worth; as far as its search comes. */
async function simplest(
  errand: Errand,
  found: Found,
  groups: readonly Group[],
): Promise<Partial<FarmPurchase>> {
  for (let round = 0; round < MOST_TIES; round++) {
    const now = { ...errand, beds: groups.map((group) => group.asBed()), deadline: errand.deadline.again() };
    const { found: tied, settled } = await settle(now, found, []);
    const { columnOf } = tied.program;
    const { x } = tied.point;
    const mixes = groups.map((group, g) => group.mixAt(columnOf[g]!, x));
    if (mixes.every((one) => one !== null && one.over <= ROUNDING))
      return {
        mixes: mixes.map((one) => one!.mix),
        bought: tied.bought,
        cost: totalOf(ordersOf(errand.amendments, errand.suppliers, tied.bought)),
        settled,
      };
    if (!groups.map((group, g) => group.tighten(columnOf[g]!, x)).some(Boolean)) break;
  }
  return { settled: false };
}

/** The least that everything costs by weight: a linear program with tangents, until no share is missed. */
async function weighed(farm: FarmErrand, groups: readonly Group[]): Promise<FarmPurchase | NotFound> {
  const counts = farm.amendments.map(() => []);
  for (let rounds = 1; rounds <= MOST_ROUNDS; rounds++) {
    const held = heldProgram(farm, groups, counts, null);
    const answer = await solveProgram(held.program);
    if (answer.status === "infeasible")
      return { status: "infeasible", engine: answer.engine, claimed: false };
    if (answer.status === "unverified") throw new UnverifiedError(`${answer.reason}; no mix is printed.`);
    const { x, check } = answer;
    const added = groups.map((group, g) => group.tighten(held.columnOf[g]!, x)).some(Boolean);
    const mixes = groups.map((group, g) => group.mixAt(held.columnOf[g]!, x));
    const settled = mixes.every((one) => one !== null && Math.abs(one.over) <= SETTLED);
    if (added && !settled) continue;
    if (!settled) break;
    const used = farm.amendments.map((_, a) =>
      mixes.reduce((sum, one) => sum + one!.mix.heapKg[a]!, farm.demands.fixedKg?.[a] ?? 0),
    );
    const bulkKg = farm.amendments.map(({ stockKg }, a) => Math.max(0, used[a]! - stockKg));
    const cost = totalOf(ordersOf(farm.amendments, [], { counts, bulkKg }));
    const bound = Math.min(cost, check.dualBound);
    if (cost > (farm.demands.budget ?? Infinity) * (1 + MAX_GAP))
      return { status: "infeasible", engine: answer.engine, claimed: false };
    return {
      mixes: mixes.map((one) => one!.mix),
      bought: { counts, bulkKg },
      cost,
      bound,
      proven: cost - bound <= MAX_GAP * Math.max(1, cost),
      claimed: false,
      worth: held.there.map((i) => (i === null ? null : Math.abs(answer.y[i]!))),
    };
  }
  throw new UnverifiedError("The shares of the beds did not settle; no mix is printed.");
}

/**
 * The mixes that given bags allow with the least money for what is sold loose, then of least worth; null where the bags do
 * not serve, which the groups then know.
 */
async function mixOf(
  counts: Bought["counts"],
  groups: readonly Group[],
  farm: FarmErrand,
  rounding: number,
): Promise<{ readonly mixes: readonly FarmMix[]; readonly bulkKg: readonly number[] } | null> {
  const worth = Math.max(...farm.amendments.map((one) => cheapestPricePerKg(one) ?? 0), ...farm.prices);
  for (let round = 0; round < MOST_ROUNDS; round++) {
    let held = heldProgram(farm, groups, counts, null);
    let answer = await solveProgram(held.program, [held.worth]);
    if (answer.status !== "optimal") {
      held = heldProgram(farm, groups, counts, 1e3 * worth);
      answer = await solveProgram(held.program, [held.worth]);
    }
    // Tangents that all but touch at one point can be more than a proof can tell apart.
    const x =
      answer.status === "optimal" ? answer.x : answer.status === "unverified" ? unproven(held.program) : null;
    if (x === null) return null;
    const mixes = groups.map((group, g) => group.mixAt(held.columnOf[g]!, x));
    if (mixes.every((one) => one !== null && one.over <= rounding)) {
      const bulkKg = held.bulk.map((j) => (j === null ? 0 : x[j]!));
      return { mixes: mixes.map((one) => one!.mix), bulkKg };
    }
    if (!groups.map((group, g) => group.tighten(held.columnOf[g]!, x)).some(Boolean)) return null;
  }
  return null;
}

/** The simplex's point of a program whose optimum could not be proven: which of several mixes is taken needs no proof. */
function unproven(program: Parameters<typeof solveProgram>[0]): readonly number[] | null {
  const simplex = new Simplex(program);
  return simplex.optimise() === "optimal" ? simplex.point() : null;
}

/**
 * The mixes of all groups, as they are known now, from given bags, the shed and what is sold loose: what that costs.
 * @param over money for a kg of heap more than there is; null: none may be missing.
 * @returns also the worth of what is used, by column.
 */
function heldProgram(
  farm: FarmErrand,
  groups: readonly Group[],
  counts: Bought["counts"],
  over: number | null,
) {
  const draft = new Draft();
  const worth: number[] = [];
  const columnOf = groups.map((group) => {
    const own = group.program();
    const moved = new Map<number, number>();
    const priceOf = new Map(
      own.use.map(([j], i) => [
        j!,
        cheapestPricePerKg(farm.amendments[group.mayHave[i]!]!) ?? farm.prices[group.mayHave[i]!]!,
      ]),
    );
    own.columns.forEach(({ upper }, j) => {
      worth[draft.columns.length] = priceOf.get(j) ?? 0;
      moved.set(j, draft.column("held", 0, upper));
    });
    const missing = over === null ? null : draft.column("over", over * totalKg(group), Infinity);
    for (const row of own.rows) {
      const entries = row.index.map((j, k): Entry => [moved.get(j)!, row.value[k]!]);
      if (missing !== null && isAllShares(row)) entries.push([missing, -1]);
      draft.rows.push({ ...row, ...termsOf(entries) });
    }
    return moved;
  });
  const { heap = [], mostLeft, fixedKg } = farm.demands;
  const there: (number | null)[] = farm.amendments.map(() => null);
  const bulk = farm.amendments.map((amendment, a) => {
    const { id, stockKg, packs, bulkPricePerKg } = amendment;
    const used = groups.flatMap((group, g): Entry[] => {
      const i = group.mayHave.indexOf(a);
      return i < 0 ? [] : [[columnOf[g]!.get(i)!, 1]];
    });
    const fixed = fixedKg?.[a] ?? 0;
    if (used.length === 0 && fixed === 0) return null;
    const bagged = (counts[a] ?? []).reduce((sum, count, k) => sum + count * packs[k]!.sizeKg, 0);
    const j = bulkPricePerKg === undefined ? null : draft.column(`loose ${id}`, bulkPricePerKg, Infinity);
    const scale = Math.max(stockKg + bagged, 1e-3);
    const from: Entry[] = j === null ? used : [...used, [j, -1]];
    there[a] = draft.rows.length;
    draft.row(other(`there is of ${id}`), from, { upper: stockKg + bagged - fixed, scale });
    if (mostLeft && bagged > 0) {
      const left = "kg" in mostLeft ? mostLeft.kg : mostLeft.share * bagged;
      draft.row(other(`left of ${id}`), used, { lower: stockKg + bagged - left - fixed });
    }
    for (const one of heap.filter((limit) => limit.id === id))
      draft.row(other("heap"), used, { lower: one.minKg ?? 0, upper: one.maxKg ?? Infinity });
    return j;
  });
  const { columns, rows } = draft;
  return { program: { columns, rows }, columnOf, bulk, there, worth: columns.map((_, j) => worth[j] ?? 0) };
}

const totalKg = (group: Group): number => group.kinds.reduce((sum, { bed }) => sum + bed.kg, 0);
