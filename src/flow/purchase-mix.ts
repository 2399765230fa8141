/** The mixes that the packs of a purchase allow, as sure as their plans ask. */
import { type Amounts, findMisses } from "../field/delivery.ts";
import { type Bought, boughtKg, ordersOf } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { type BlendProgram, cheapestPricePerKg } from "../program/build.ts";
import type { ShopProgram } from "../program/shop-program.ts";
import type { ColumnTag, PlanColumn, PlanProgram, PlanRow, RowTag } from "../program/tags.ts";
import type { Season } from "../season/season.ts";
import { branchAndBound, type SearchLimits } from "../solver/branch.ts";
import { type Entry, other, rowOf, termsOf } from "../solver/program.ts";
import { solveProgram } from "../solver/solve.ts";
import { missedCuts } from "../solver/sure.ts";
import { costOf, MAX_VIOLATION, UnverifiedError, worstViolation } from "../solver/verify.ts";
import { hold, holdWhole } from "../solver/whole.ts";
import { demandWords } from "../words/demand-words.ts";
import {
  boughtIn,
  buy,
  type Errand,
  type Found,
  type NotFound,
  prepare,
  type SolvedBed,
} from "./purchase.ts";
import { isSimple } from "./simple.ts";
import { amountsOf, pointOf } from "./solve-blend.ts";
import { askedNutrients } from "./sure.ts";

/** What is said of a purchase that was not settled. */
export const TIE_OPEN =
  "A mix of fewer or cheaper materials may exist for the same money: the search for one was ended early.";

/** A purchase and the mixes on it. */
export interface Purchased {
  readonly errand: Errand;
  readonly found: Found;
  readonly mixes: readonly Amounts[];
  /** Whether fewer materials, or less of what is dear, are ruled out at this total; false: the search for them was ended. */
  readonly settled: boolean;
}

const MOST_PURCHASES = 25;
const MOST_MIXES = 60;
/** A margin missed by less than this share of its row counts as kept. */
const KEPT = 2e-7;

/**
 * The best purchase whose mixes keep the margins that their beds have, and of all mixes on purchases of that total the one
 * of fewest materials, then least worth. A cut holds for every mix that keeps them, so each purchase on the way is a lower
 * bound; on the packs found, the mix is chosen again until it has its margins, and where none has, packs are looked for
 * again.
 * @param ties whether it matters which of several mixes of that total is found.
 * @throws UnverifiedError where no such purchase was found in time.
 */
export async function buyWithMargins(errand: Errand, ties = true): Promise<Purchased | NotFound> {
  let now = errand;
  for (let round = 0; round < MOST_PURCHASES; round++) {
    const bought = await buy(now);
    if (!("point" in bought)) return bought;
    let found: Found = bought;
    ({ errand: now, found } = await withLooseCuts(now, found));
    let before = "";
    for (let k = 0; k < MOST_MIXES; k++) {
      const { x, mixes } = await mixOn(now, found);
      const cuts = missedRows(now, mixes);
      if (cuts.every((rows) => rows.length === 0))
        return ties
          ? settle(now, { ...found, point: { ...found.point, x } }, mixes)
          : { errand: now, found, mixes, settled: true };
      // The same mix again: no mix on these packs keeps the margins.
      const shown = JSON.stringify(mixes);
      const stuck = shown === before;
      before = shown;
      ({ errand: now, found } = withRows(now, found, cuts));
      if (stuck) break;
    }
    if (errand.deadline.isPast()) break;
  }
  throw new UnverifiedError("A purchase that sure was not found in time; allow more with --time-limit.");
}

/**
 * The cuts that the least loose weight beside the packs of a purchase meets on the way to a mix with its margins: found here
 * one after the other at the price of a linear program, not of a search for packs each.
 */
async function withLooseCuts(errand: Errand, bought: Found): Promise<{ errand: Errand; found: Found }> {
  let now = { errand, found: bought };
  const isLoose = bought.program.bulk.some((j) => j !== null);
  for (let k = 0; isLoose && k < MOST_MIXES && !errand.deadline.isPast(); k++) {
    const { program, point } = now.found;
    const { program: held, kept } = holdWhole(program, point.x);
    const answer = await solveProgram(held);
    if (answer.status !== "optimal") break;
    const x = [...point.x];
    kept.forEach((j, c) => {
      x[j] = answer.x[c]!;
    });
    const cuts = missedRows(now.errand, mixesAt(now.errand, program, x));
    if (cuts.every((rows) => rows.length === 0)) break;
    now = withRows(now.errand, now.found, cuts);
  }
  return now;
}

/**
 * The mixes, by bed, that use a purchase well with the packs as they are: the least worth of what is used, then weight,
 * then id order.
 * @throws UnverifiedError where a mix does not keep its plan.
 */
async function mixOn(errand: Errand, { program, point }: Found): Promise<{ x: number[]; mixes: Amounts[] }> {
  const [worth, ...ties] = mixCosts(errand, program);
  const { program: held, kept } = onPacks(withCosts(program, worth!), program.bulk, point.x);
  const answer = await solveProgram(
    held,
    ties.map((costs) => kept.map((j) => costs[j]!)),
  );
  const x = [...point.x];
  if (answer.status === "optimal")
    kept.forEach((j, k) => {
      x[j] = answer.x[k]!;
    });
  return { x, mixes: mixesAt(errand, program, x) };
}

/** @throws UnverifiedError where a mix does not keep its plan. */
function mixesAt(errand: Errand, program: ShopProgram, x: readonly number[]): Amounts[] {
  return errand.beds.map(({ plan, season }, p) => {
    const largest = Math.max(0, ...program.use[p]!.flat().map((j) => x[j]!));
    const tidy = x.map((kg) => (kg <= NOTHING * largest ? 0 : kg));
    const amounts = amountsOf(plan, { use: program.use[p]! }, tidy);
    const broken = brokenBy(plan, season, amounts);
    if (broken) throw new UnverifiedError(`The mix on these packs ${broken}; nothing is printed.`);
    return amounts;
  });
}

/** Which demand of its plan a mix does not keep, after its name; null where it keeps all of them. */
function brokenBy(plan: Plan, season: Season, amounts: Amounts): string | null {
  const worst = findMisses(plan, season, amounts)[0];
  if (worst && worst.fraction > MAX_VIOLATION)
    return `does not keep a demand of ${plan.name} (${demandWords(plan, worst.tag)})`;
  return plan.simple && !isSimple(plan, amounts) ? `is not as simple as ${plan.name} asks` : null;
}

const withCosts = <P extends PlanProgram>(program: P, costs: readonly number[]): P => ({
  ...program,
  columns: program.columns.map((column, j) => ({ ...column, cost: costs[j] ?? 0 })),
});

/**
 * Costs that choose among mixes of equal money, one list after the other: the worth of what is used (stock at what it
 * costs to buy again; without any price nothing), its weight, and earlier ids.
 */
function mixCosts({ amendments, beds }: Errand, program: ShopProgram): number[][] {
  const lists = [0, 1, 2].map(() => program.columns.map(() => 0));
  const [worth, weigh, order] = lists as [number[], number[], number[]];
  amendments.forEach((amendment, a) => {
    const uses = usesOf(beds, program, amendment.id);
    uses.forEach((j, b) => {
      worth[j] = cheapestPricePerKg(amendment) ?? 0;
      weigh[j] = 1;
      order[j] = a + b / (uses.length + 1);
    });
  });
  return lists;
}

/** Columns of what any bed uses of an amendment. */
function usesOf(beds: Errand["beds"], program: ShopProgram, id: string): number[] {
  return beds.flatMap(({ plan }, p) => {
    const i = plan.amendments.findIndex((amendment) => amendment.id === id);
    return i < 0 ? [] : program.use[p]![i]!;
  });
}

/** Totals nearer than this, in the currency, are the same. */
const SAME_TOTAL = 0.001;
/** Nodes for each of the questions that settle a tie. */
const TIE_NODES = 4_000;
/** An amount below this share of the largest is none. */
const NOTHING = 1e-9;

/**
 * Of all mixes on purchases of the total found: the fewest materials, then the fewest pairs of mix and material, then the
 * least worth, weight and order.
 */
export async function settle(errand: Errand, found: Found, mixes: readonly Amounts[]): Promise<Purchased> {
  let now = errand;
  const limits = { nodes: TIE_NODES, stop: () => errand.deadline.isPast() };
  for (let k = 0; k < MOST_MIXES; k++) {
    const tied = tiedMix(now, found, limits);
    if (!tied) break;
    const { program } = tied;
    const chosen = await mixOn(now, { ...found, program, point: { ...found.point, x: tied.x } });
    const cuts = missedRows(now, chosen.mixes);
    if (cuts.some((rows) => rows.length > 0)) {
      now = withRows(now, found, cuts).errand;
      continue;
    }
    const at = { program, point: { ...found.point, x: chosen.x }, bought: boughtIn(program, chosen.x) };
    return { errand: now, found: at, mixes: chosen.mixes, settled: tied.proven };
  }
  const bought = boughtIn(found.program, found.point.x);
  return { errand, found: { ...found, bought }, mixes, settled: false };
}

/** A question that settles a tie: whole numbers and rows that it brings, and the costs to be made least. */
interface TieQuestion {
  readonly columns: readonly PlanColumn[];
  readonly rows: readonly PlanRow[];
  /** By column of the purchase, then of those above. */
  readonly costs: readonly number[];
}

/**
 * Answers the questions in turn, each within the answers before it.
 * @returns the program with all that was settled, and a point of it; null where none was found.
 */
function tiedMix(
  errand: Errand,
  { point, program: before }: Found,
  limits: SearchLimits,
): { readonly program: ShopProgram; readonly x: readonly number[]; readonly proven: boolean } | null {
  const most = point.cost + SAME_TOTAL;
  // Within that sum amounts cannot go as far, which makes the search short.
  const { program } = prepare(errand, Infinity, most);
  const spent = program.columns.map(({ cost }) => cost);
  const rows = [...program.rows, ...sumRow(program, spent, most)];
  let now: ShopProgram = { ...program, rows };
  let x: readonly number[] | null = before.columns.length >= program.columns.length ? point.x : null;
  let proven = true;
  for (const { columns, rows, costs } of tieQuestions(errand, program)) {
    const own = now.columns.length;
    const shifted = (j: number): number =>
      j < program.columns.length ? j : j - program.columns.length + own;
    const moved = rows.map((row) => ({ ...row, index: row.index.map(shifted) }));
    const all = [...now.columns, ...columns];
    const cost = all.map((_, j) =>
      j < program.columns.length ? costs[j]! : j < own ? 0 : costs[j - own + program.columns.length]!,
    );
    const asked = withCosts({ ...now, columns: all, rows: [...now.rows, ...moved] }, cost);
    const start = x && [...x.slice(0, own), ...moved.map((row) => isUsed(row, x!, own))];
    const known = start && worstViolation(asked, start).amount <= KEPT_START ? start : null;
    const found = branchAndBound(asked, limits, known);
    if (found.status !== "finished") proven = false;
    if (!found.x) {
      if (!known) return null;
      x = known;
    } else x = found.x;
    const reached = costOf(asked, x);
    const room = columns.length > 0 ? 0.5 : 1e-9 * Math.max(1, Math.abs(reached));
    now = { ...asked, rows: [...asked.rows, ...sumRow(asked, cost, reached + room)] };
  }
  return x && { program: now, x: packsFor(now, program, x, limits), proven };
}

/** The mix of a point on the packs that suit it best of those that the search meets. */
function packsFor(
  now: ShopProgram,
  { use, columns, tieBreaks }: ShopProgram,
  x: readonly number[],
  limits: SearchLimits,
): readonly number[] {
  const mix = new Set(use.flat(2));
  const { program, kept } = hold(now, x, (j) => mix.has(j) || j >= columns.length);
  let packs: PlanProgram = program;
  let best = kept.map((j) => x[j]!);
  for (const costs of tieBreaks) {
    const cost = kept.map((j) => costs[j]!);
    const asked = withCosts(packs, cost);
    const known = worstViolation(asked, best).amount <= KEPT_START ? best : null;
    const found = branchAndBound(asked, limits, known).x;
    if (!found) break;
    best = [...found];
    packs = { ...asked, rows: [...asked.rows, ...sumRow(asked, cost, costOf(asked, best) * (1 + 1e-9))] };
  }
  const chosen = [...x];
  kept.forEach((j, k) => {
    chosen[j] = best[k]!;
  });
  return chosen;
}

/** A start may miss a row by so much, relative to its scale. */
const KEPT_START = 1e-8;

/** 1 where the columns of a row that counts something, all but the counting one, are above nothing. */
function isUsed({ index }: PlanRow, x: readonly number[], own: number): number {
  const largest = Math.max(0, ...x);
  return index.some((j) => j < own && x[j]! > NOTHING * largest) ? 1 : 0;
}

function sumRow({ columns }: PlanProgram, costs: readonly number[], upper: number): PlanRow[] {
  const entries = columns.flatMap((_, j): Entry[] => (costs[j] ? [[j, costs[j]!]] : []));
  return entries.length === 0 ? [] : [rowOf(other("no dearer"), termsOf(entries), { upper })];
}

/** What makes one of two mixes of equal money the better one, in order. */
function tieQuestions(errand: Errand, program: ShopProgram): TieQuestion[] {
  const { amendments, beds } = errand;
  const ids = amendments.map(({ id }) => usesOf(beds, program, id));
  const heaps = beds.flatMap((bed, p) =>
    bed.program.blends.map((_, b) => program.use[p]!.map((uses) => uses[b]!)),
  );
  const pairs = heaps.flat().map((j) => [j]);
  const upper = pairs.map(([j]) => program.columns[j!]!.upper);
  const [worth, weigh] = mixCosts(errand, program);
  return [
    countingUsed(program, ids, program.mostKg),
    ...(heaps.length > 1 ? [countingUsed(program, pairs, upper)] : []),
    { columns: [], rows: [], costs: worth! },
    { columns: [], rows: [], costs: weigh! },
  ];
}

/** Whole numbers that say which groups of columns are used, to be made few. */
function countingUsed(
  program: ShopProgram,
  groups: readonly (readonly number[])[],
  mostKg: readonly number[],
): TieQuestion {
  const first = program.columns.length;
  const used = groups.flatMap((uses, g) =>
    uses.length > 0 && mostKg[g]! > 0 ? [{ uses, most: mostKg[g]! }] : [],
  );
  return {
    columns: used.map((_, k) => ({ tag: other(`is used ${k}`), cost: 0, upper: 1, integer: true })),
    rows: used.map(({ uses, most }, k) => {
      const entries = [...uses.map((j): Entry => [j, 1]), [first + k, -most] as const];
      return rowOf(other("few materials"), termsOf(entries), { upper: 0 });
    }),
    costs: [...program.columns.map(() => 0), ...used.map(() => 1)],
  };
}

/**
 * A program of purchases with the packs as they are at a point, and no more loose weight than there. Rows for stock and
 * packs get room for the rounding of a mix that uses them up.
 * @returns the program, and for each of its columns the index it had.
 */
export function onPacks(
  { columns, rows }: PlanProgram,
  bulk: ShopProgram["bulk"],
  x: readonly number[],
): ReturnType<typeof holdWhole<RowTag, ColumnTag>> {
  const loose = new Set(bulk);
  const bought = columns.map((column, j) => (loose.has(j) ? { ...column, upper: x[j]! } : column));
  const { program, kept } = holdWhole({ columns: bought, rows }, x);
  const widened = program.rows.map((row) =>
    row.tag.kind === "stock"
      ? { ...row, upper: row.upper + 1e-9 * Math.max(Math.abs(row.upper), 1e-6) }
      : row,
  );
  return { program: { ...program, rows: widened }, kept };
}

/** By bed: the rows that its mix misses, as cuts of its own program. */
function missedRows({ beds }: Errand, mixes: readonly Amounts[]): PlanRow[][] {
  return beds.map((bed, p) => {
    const { sure } = bed;
    return sure
      ? missedCuts(sure.base, sure.rows, pointOf(bed.plan, bed.program, mixes[p]!), KEPT).map(
          ({ row }) => row,
        )
      : [];
  });
}

function withRows(
  errand: Errand,
  found: Found,
  cuts: readonly (readonly PlanRow[])[],
): { errand: Errand; found: Found } {
  const moved = cuts.flatMap((rows, p) => {
    const own = found.program.use[p]!.flat();
    const place = new Map(errand.beds[p]!.program.use.flat().map((j, k) => [j, own[k]!]));
    return rows.map((row) => ({ ...row, index: row.index.map((j) => place.get(j)!) }));
  });
  const beds = errand.beds.map(({ simplicity, ...bed }, p): SolvedBed => {
    const cut = (program: BlendProgram) => ({ ...program, rows: [...program.rows, ...cuts[p]!] });
    const simple = simplicity && { ...simplicity, free: cut(simplicity.free) };
    return { ...bed, program: cut(bed.program), ...defined({ simplicity: simple }) };
  });
  const program = { ...found.program, rows: [...found.program.rows, ...moved] };
  return { errand: { ...errand, beds }, found: { ...found, program } };
}

/** Nutrients that a purchase is said to be sure of: those asked for, or else those that the soil does not keep. */
export function spokenOf(plan: Plan): Nutrient[] {
  const asked = askedNutrients(plan);
  return plan.demands.flatMap(({ nutrient, minKg }) =>
    minKg > 0 && (asked.size > 0 ? asked.has(nutrient) : nutrient === "N" || nutrient === "S")
      ? [nutrient]
      : [],
  );
}

/**
 * What is sold loose is bought to the gram: no more than the mixes take beyond packs and stock. More than that stays
 * bought only where it takes an order over the value from which delivery is free, and so saves money.
 */
export function trimmed({ amendments, suppliers }: Errand, bought: Bought, used: readonly number[]): Bought {
  const bulkKg = amendments.map((amendment, a) => {
    const inPacks = boughtKg(amendment, bought.counts[a]!, 0) + amendment.stockKg;
    return Math.min(bought.bulkKg[a]!, Math.max(0, used[a]! - inPacks));
  });
  const costs = (of: Bought) =>
    new Map(ordersOf(amendments, suppliers, of).map((order) => [order.id, order.goods + order.delivery]));
  const [before, after] = [costs(bought), costs({ counts: bought.counts, bulkKg })];
  const dearer = (id: string | null): boolean => (after.get(id) ?? 0) > (before.get(id) ?? Infinity);
  return {
    counts: bought.counts,
    bulkKg: bulkKg.map((kg, a) => (dearer(amendments[a]!.supplier ?? null) ? bought.bulkKg[a]! : kg)),
  };
}
