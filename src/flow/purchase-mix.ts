/** The mixes that the packs of a purchase allow, as sure as their plans ask, and how sure a mix can be on those packs. */
import { chancesOf } from "../field/chances.ts";
import { type Amounts, sumKg } from "../field/delivery.ts";
import { type Bought, boughtKg, ordersOf } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { type BlendProgram, cheapestPricePerKg } from "../program/build.ts";
import type { ShopProgram } from "../program/shop-program.ts";
import type { ColumnTag, PlanProgram, PlanRow, RowTag } from "../program/tags.ts";
import type { PurchaseSureness, SureStep } from "../results/sure.ts";
import { layOutSpread } from "../season/spread.ts";
import { Draft, type Entry, other } from "../solver/program.ts";
import { solveProgram } from "../solver/solve.ts";
import { missedCuts } from "../solver/sure.ts";
import { UnverifiedError, unlessUnverified } from "../solver/verify.ts";
import { holdWhole } from "../solver/whole.ts";
import { brokenBy } from "./bought.ts";
import {
  buy,
  type Errand,
  errandFor,
  type Found,
  type NotFound,
  type SolvedBed,
  solveBeds,
} from "./purchase.ts";
import { amountsOf } from "./solve-blend.ts";
import { askedNutrients, STEPS, SureSearch } from "./sure.ts";

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

/**
 * The best purchase whose mixes are as sure as their plans ask. A cut holds for every mix that is sure enough, so each
 * purchase on the way is a lower bound; on the packs found, the mix is chosen again until it has its margins, and where
 * none has, packs are looked for again.
 * @throws UnverifiedError where no such purchase was found in time.
 */
export async function buySurely(errand: Errand): Promise<Purchased | NotFound> {
  let now = errand;
  for (let round = 0; round < MOST_PURCHASES; round++) {
    const bought = await buy(now);
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
    if (errand.deadline.isPast()) break;
  }
  throw new UnverifiedError("A purchase that sure was not found in time; allow more with --time-limit.");
}

/**
 * The mixes, by bed, that use a purchase well. With the packs as they are, it is the choice that `solve` makes, from
 * what is at hand: the shed first, then the least worth (at the cheapest price by weight) of what was bought; the rest
 * stays.
 * @throws UnverifiedError where a mix does not keep its plan.
 */
async function mixOn(errand: Errand, { program, point }: Found): Promise<Amounts[]> {
  const { draft, ties } = choiceAmong(errand, program);
  const { program: held, kept } = onPacks(draft, program.bulk, point.x);
  const answer = await solveProgram(
    held,
    ties.map((costs) => kept.map((j) => costs[j]!)),
  );
  const x = [...point.x];
  if (answer.status === "optimal")
    kept.forEach((j, k) => {
      x[j] = answer.x[k]!;
    });
  return errand.beds.map(({ plan, season }, p) => {
    const amounts = amountsOf(plan, { use: program.use[p]! }, x);
    const broken = brokenBy(plan, season, amounts);
    if (broken) throw new UnverifiedError(`The mix on these packs ${broken}; nothing is printed.`);
    return amounts;
  });
}

/** The program of a purchase with the costs of a choice among mixes, and those that break its ties. */
function choiceAmong(
  { amendments, beds }: Errand,
  program: ShopProgram,
): { draft: Draft<RowTag, ColumnTag>; ties: number[][] } {
  const draft = new Draft<RowTag, ColumnTag>();
  draft.columns.push(...program.columns.map((column) => ({ ...column, cost: 0 })));
  draft.rows.push(...program.rows);
  const weigh = program.columns.map(() => 0);
  const order = program.columns.map(() => 0);
  amendments.forEach((amendment, a) => {
    const uses = beds.flatMap(({ plan }, p) => {
      const i = plan.amendments.findIndex(({ id }) => id === amendment.id);
      return i < 0 ? [] : program.use[p]![i]!;
    });
    const price = cheapestPricePerKg(amendment) ?? 0;
    uses.forEach((j, b) => {
      weigh[j] = 1;
      order[j] = a + b / (uses.length + 1);
      if (amendment.stockKg <= 0) draft.columns[j] = { ...draft.columns[j]!, cost: price };
    });
    if (amendment.stockKg <= 0) return;
    const label = `beyond the stock of ${amendment.id}`;
    const beyond = draft.column(label, price, Infinity);
    const entries = [...uses.map((j): Entry => [j, 1]), [beyond, -1] as const];
    draft.row(other(label), entries, { upper: amendment.stockKg, fact: true });
    weigh.push(0);
    order.push(0);
  });
  return { draft, ties: [weigh, order] };
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
    return sure ? missedCuts(sure.base, sure.rows, pointOf(bed, mixes[p]!), KEPT).map(({ row }) => row) : [];
  });
}

/** Amounts as a point of the bed's own program; what is bought is left out. */
function pointOf({ plan, program }: SolvedBed, amounts: Amounts): number[] {
  const x = program.columns.map(() => 0);
  program.use.forEach((columns, a) => {
    columns.forEach((j, b) => {
      x[j] = plan.blend === "one" ? sumKg(amounts[a]!) : amounts[a]![b]!;
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
  const usedUp = await unlessUnverified(surestOn(bed, atHand, nutrients, mix));
  return { nutrients, mix, usedUp: Math.max(mix, usedUp ?? mix) };
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
        const [index, upper] = [base.use[a]!, atHandKg[a]! * (1 + 1e-9)];
        const value = index.map(() => 1);
        return { tag: { kind: "stock", id }, index, value, lower: -Infinity, upper, fact: true };
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
export async function packLadder({ errand, found }: Purchased): Promise<readonly SureStep[]> {
  const [bed] = errand.beds;
  if (!bed || errand.beds.length > 1 || !bed.plan.sure || bed.plan.sure.together) return [];
  const { plan } = bed;
  const deadline = errand.deadline.again();
  const nutrients = [...askedNutrients(plan)];
  const asked = plan.sure?.each.map(({ p }) => p) ?? [];
  const steps: SureStep[] = [];
  for (const p of STEPS) {
    if (deadline.isPast()) break;
    if (asked.every((one) => one === p)) {
      steps.push({ p, cost: found.point.cost });
      continue;
    }
    const each = nutrients.map((nutrient) => ({ nutrient, p }));
    const solved = await solveBeds([{ ...plan, sure: { each } }]);
    const step = "beds" in solved ? await buySurely(errandFor(solved.beds, errand.demands, deadline)) : null;
    steps.push({ p, cost: step && "found" in step ? step.found.point.cost : null });
  }
  return steps;
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
