/** Buying as one flow: checked plans to the whole packs that cost least in all, and the mixes that they allow. */

import { batchCounts, layOutBatches } from "../field/batches.ts";
import { findCautions } from "../field/cautions.ts";
import { type Amounts, deliver, findMisses } from "../field/delivery.ts";
import { cheapestPacks } from "../field/packs.ts";
import { type Bought, boughtKg, linesOf, ordersOf, totalOf } from "../field/purchase.ts";
import type { Amendment, Plan, Supplier } from "../model.ts";
import { fail, type Notice, ok, type Problem, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import {
  type Bed,
  buildShopProgram,
  type MostLeft,
  mergeAmendments,
  mergeSuppliers,
  type ShopDemands,
  type ShopProgram,
} from "../program/shop-program.ts";
import { reachOf } from "../program/simple.ts";
import type { ColumnTag, PlanProgram, PlanRow, RowTag } from "../program/tags.ts";
import type { PackChange, Shopping, ShoppingMix, TripComparison } from "../results/shopping.ts";
import { takenUpKg } from "../season/season.ts";
import { Draft, type Entry } from "../solver/draft.ts";
import { Simplex } from "../solver/simplex.ts";
import { type Proven, solveProgram } from "../solver/solve.ts";
import { MAX_VIOLATION, UnverifiedError, worstViolation } from "../solver/verify.ts";
import { holdWhole, solveWhole, TIME_LIMIT, type WholeAnswer, type WholePoint } from "../solver/whole.ts";
import { cautionNotices } from "../words/caution-words.ts";
import { demandWords } from "../words/demand-words.ts";
import { money, percent, weight } from "../words/numbers.ts";
import { leftOutWarnings, roundingOf, solvePlan } from "./blend.ts";
import { amountsOf, type SolvedBlend } from "./continuous.ts";
import { isSimple } from "./simple.ts";
import { solveBlend } from "./solve-blend.ts";

export interface ShopOptions {
  /** Money at most, delivery included. */
  readonly budget?: number;
  readonly mostLeft?: MostLeft;
  /** Name or day: buy for this application alone. One plan only. */
  readonly application?: string;
  /** For the whole purchase; why there is none may take as long again. */
  readonly seconds?: number;
  /** Milliseconds, rising. */
  readonly clock?: () => number;
}

/** A feasible plan with its proven mix by weight. */
interface SolvedBed extends SolvedBlend {
  readonly answer: Proven;
}

/**
 * The packs to buy for one or several plans.
 * @returns the purchase, or one with status `infeasible` that says why; problems where the plans or options do not go
 *   together.
 * @throws UnverifiedError where an answer does not stand up.
 */
export async function shopPlans(
  plans: readonly [Plan, ...Plan[]],
  options: ShopOptions = {},
): Promise<Result<Shopping>> {
  const problems = [...planProblems(plans), ...applicationProblems(plans, options.application)];
  if (problems.length > 0) return fail(...problems);
  const beds: SolvedBed[] = [];
  for (const plan of plans) {
    const { answer, ...solved } = await solveBlend(plan);
    if (answer.status !== "optimal") return ok(await withoutMix(plans, plan));
    beds.push({ ...solved, answer });
  }
  const shop = new Shop(beds, options);
  const first = plans[0];
  return options.application === undefined
    ? ok(await shop.season())
    : ok(await shop.application(applicationIndex(first, options.application)));
}

/**
 * The integer program of a season's purchase with a first point of it, for benchmarks and checks; null where one of
 * the plans has no mix.
 */
export async function purchaseProgram(
  plans: readonly [Plan, ...Plan[]],
): Promise<{ program: ShopProgram; start: readonly number[] } | null> {
  const beds: SolvedBed[] = [];
  for (const plan of plans) {
    const { answer, ...solved } = await solveBlend(plan);
    if (answer.status !== "optimal") return null;
    beds.push({ ...solved, answer });
  }
  return new Shop(beds, {}).prepare(beds, {}, 1);
}

function planProblems(plans: readonly [Plan, ...Plan[]]): Problem[] {
  const problems: Problem[] = [];
  const [first, ...others] = plans;
  for (const plan of others)
    if (plan.currency !== first.currency)
      problems.push({
        code: "shop-currencies",
        message: `${first.name} has prices in ${first.currency} and ${plan.name} in ${plan.currency}: they cannot be added up`,
        hint: "plans that are bought for together need one currency",
      });
  const together = plans.map((plan) => plan.name).join(", ");
  for (const id of mergeAmendments(plans).differing)
    problems.push({
      code: "shop-amendments",
      message: `${id} has other packs, prices, stock or supplier in one of the plans ${together} than in another`,
      hint: "let the plans use the same amendments file",
    });
  for (const id of mergeSuppliers(plans).differing)
    problems.push({
      code: "shop-suppliers",
      message: `${id} charges otherwise for delivery in one of the plans ${together} than in another`,
      hint: "give the supplier the same delivery and free_over in each",
    });
  return problems;
}

function applicationProblems(plans: readonly [Plan, ...Plan[]], wanted: string | undefined): Problem[] {
  if (wanted === undefined) return [];
  const [first] = plans;
  if (plans.length > 1)
    return [
      {
        code: "shop-application",
        message: "buying for one application works for one plan at a time",
        hint: "leave out --also, or --application",
      },
    ];
  if (applicationIndex(first, wanted) >= 0) return [];
  return [
    {
      code: "shop-application",
      message: `${first.name} has no application \`${wanted}\``,
      hint: `there are ${first.applications.map((a) => `${a.name} (day ${a.day})`).join(", ")}`,
    },
  ];
}

function applicationIndex(plan: Plan, wanted: string): number {
  const plain = wanted.trim().toLowerCase();
  const named = plan.applications.findIndex((a) => a.name.toLowerCase() === plain);
  if (named >= 0) return named;
  const day = /^(?:day )?(-?\d+(?:\.\d+)?)$/.exec(plain)?.[1];
  return day === undefined ? -1 : plan.applications.findIndex((a) => a.day === Number(day));
}

/** Money caps to look within, as multiples of a purchase that is known; used where that one breaks a further demand. */
const DEARER = [2, 20, 1000];
/** Pack changes and comparisons are worth so many nodes each, no larger solver. */
const SIDE_NODES = 2_000;
/** Every search gets so much time at least. */
const LEAST_SECONDS = 0.05;
/** Most amendments whose pack size is looked at. */
const MOST_CHANGES = 12;

interface Bag {
  readonly program: ShopProgram;
  readonly point: WholePoint;
  readonly bought: Bought;
}

class Shop {
  readonly amendments: readonly Amendment[];
  readonly suppliers: readonly Supplier[];
  private readonly plans: readonly Plan[];
  private readonly clock: () => number;
  private deadline: number;

  constructor(
    private readonly beds: readonly SolvedBed[],
    private readonly options: ShopOptions,
  ) {
    this.plans = beds.map((bed) => bed.plan);
    this.amendments = mergeAmendments(this.plans).amendments;
    this.suppliers = mergeSuppliers(this.plans).suppliers;
    this.clock = options.clock ?? (() => 0);
    this.deadline = this.clock() + (options.seconds ?? TIME_LIMIT) * 1000;
  }

  /** Everything for the season, in one purchase. */
  async season(): Promise<Shopping> {
    const bag = await this.buy(this.beds, this.demands());
    if (!("point" in bag)) return this.noPurchase(bag, this.beds, {});
    const mixes = await this.mixOn(bag);
    const usedKg = this.usedKg(mixes);
    const trimmed = this.trim(bag.bought, usedKg);
    const byWeight = await this.byWeight();
    const counts = mixes.map((amounts, p) => batchCounts(this.plans[p]!, amounts));
    const batches = counts.flat().reduce((sum, count) => sum + count, 0);
    const frame = this.frame(bag, trimmed, usedKg, batches, byWeight);
    return {
      ...frame,
      changes: await this.changes(bag, trimmed),
      trips: this.beds.length === 1 && !this.late() ? await this.trips(mixes[0]!, frame.total) : null,
      warnings: [...frame.warnings, ...this.roundedAbove(mixes, trimmed)],
      ...described(mixes.map((amounts, p) => this.layOut(p, amounts))),
      cautions: this.beds.flatMap(({ plan, season }, p) =>
        cautionNotices(plan, findCautions(plan, season, mixes[p]!)),
      ),
    };
  }

  /** What one application takes of the mix that the season's best purchase allows, and nothing else. */
  async application(t: number): Promise<Shopping> {
    const bed = this.beds[0]!;
    const { plan } = bed;
    const whole = await this.buy(this.beds, {});
    if (!("point" in whole)) return this.noPurchase(whole, this.beds, {});
    const amounts = (await this.mixOn(whole))[0]!;
    const need = amounts.map((row) => row[t]!);
    const fixed = { fixedKg: need };
    const bag = await this.buy([], { ...this.demands(), ...fixed });
    if (!("point" in bag)) return this.noPurchase(bag, [], fixed);
    const byWeight = need.reduce((sum, kg, a) => {
      const beyond = Math.max(0, kg - this.amendments[a]!.stockKg);
      return sum + beyond * (cheapestPricePerKg(this.amendments[a]!) ?? 0);
    }, 0);
    const alone = amounts.map((row) => row.map((kg, k) => (k === t ? kg : 0)));
    const mix = this.layOut(0, alone, amounts);
    return {
      ...this.frame(bag, bag.bought, need, batchCounts(plan, amounts)[t]!, byWeight),
      application: plan.applications[t]!.name,
      changes: [],
      trips: await this.trips(amounts, whole.point.cost),
      ...described([{ ...mix, nutrients: [], applications: mix.applications.filter((_, k) => k === t) }]),
      cautions: cautionNotices(plan, findCautions(plan, bed.season, amounts)),
    };
  }

  private late(): boolean {
    return this.clock() > this.deadline;
  }

  private demands(): ShopDemands {
    const { budget, mostLeft } = this.options;
    return {
      ...(budget === undefined ? {} : { budget }),
      ...(mostLeft === undefined ? {} : { mostLeft }),
    };
  }

  /** The best purchase for some beds, or why there is none. */
  private async buy(
    beds: readonly SolvedBed[],
    demands: ShopDemands,
    side = false,
  ): Promise<Bag | Exclude<WholeAnswer, WholePoint>> {
    // A purchase that is known sets the sum to look within, unless it may break a further demand.
    const known = demands.mostLeft === undefined;
    for (const times of known ? [1] : DEARER) {
      const last = known || times === DEARER.at(-1);
      const { program, start, cap } = this.prepare(beds, demands, times);
      const point = await solveWhole(program, {
        start: worstViolation(program, start).amount <= 1e-9 ? start : null,
        seconds: Math.max(LEAST_SECONDS, (this.deadline - this.clock()) / 1000),
        clock: this.clock,
        tieBreaks: program.tieBreaks,
        ...(side ? { nodes: SIDE_NODES, alone: true } : {}),
      });
      if (!("x" in point)) {
        if (point.status === "infeasible" && !last) continue;
        return point;
      }
      if (point.cost <= cap || last) return { program, point, bought: boughtIn(program, point.x) };
    }
    throw new Error("no purchase was looked for");
  }

  /**
   * The integer program of a purchase, and a first point: the mixes by weight with packs that cover them.
   * @param times how many times what that point costs a purchase may cost to be looked at.
   */
  prepare(
    beds: readonly SolvedBed[],
    demands: ShopDemands,
    times: number,
  ): { program: ShopProgram; start: readonly number[]; cap: number } {
    const need = this.amendments.map((_, a) => demands.fixedKg?.[a] ?? 0);
    for (const { plan, program, answer } of beds)
      plan.amendments.forEach((amendment, i) => {
        const a = this.amendments.findIndex(({ id }) => id === amendment.id);
        need[a]! += program.use[i]!.reduce((sum, j) => sum + answer.x[j]!, 0);
      });
    const known = this.packsFor(need);
    const knownTotal = totalOf(ordersOf(this.amendments, this.suppliers, known));
    const cap = Math.max(knownTotal, 1e-6) * times * (1 + 1e-9);
    const spent = Math.min(cap, demands.budget ?? Infinity);
    const program = buildShopProgram(
      beds.map((bed) => this.bedWithin(bed, spent)),
      this.amendments,
      this.suppliers,
      demands,
      spent,
      this.mostUsed(beds, spent, need),
    );
    return { program, start: this.startOf(program, beds, known), cap };
  }

  /** The cheapest packs for amounts that are given, each amendment by itself. */
  private packsFor(needKg: readonly number[]): Bought {
    const counts: number[][] = [];
    const bulkKg: number[] = [];
    this.amendments.forEach((amendment, a) => {
      const beyond = needKg[a]! - amendment.stockKg;
      const choice = beyond > needKg[a]! * 1e-9 ? cheapestPacks(amendment, beyond * (1 + 1e-10)) : null;
      counts.push(choice?.counts ?? amendment.packs.map(() => 0));
      bulkKg.push(choice?.bulkKg ?? 0);
    });
    return { counts, bulkKg };
  }

  private bedWithin(bed: SolvedBed, spent: number): Bed {
    const { plan, simplicity } = bed;
    const program = simplicity?.free ?? bed.program;
    if (!simplicity) return { plan, program };
    const kg = program.use.flat().reduce((sum, j) => sum + bed.answer.x[j]!, 0);
    return { plan, program, reach: reachOf(plan, program, Math.max(spent, 1e-6), kg) };
  }

  /** By amendment: more of it than no purchase within a sum of money uses, in one blend and in all. */
  private mostUsed(
    beds: readonly SolvedBed[],
    spent: number,
    need: readonly number[],
  ): { oneBlendKg: number; inAllKg: number }[] {
    const whole = 1000 * Math.max(1e-3, sum(need));
    const byRows = this.mostByRows(beds);
    return this.amendments.map((amendment, a) => {
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

  /** By bed and column: the most that one upper limit alone allows. */
  private mostByRows(beds: readonly SolvedBed[]): number[][] {
    return beds.map((bed) => {
      const program = bed.simplicity?.free ?? bed.program;
      const most = program.columns.map(() => Infinity);
      for (const row of program.rows) {
        if (!Number.isFinite(row.upper) || row.tag.kind === "stock" || row.value.some((v) => v < 0)) continue;
        row.index.forEach((j, k) => {
          if (row.value[k]! > 0) most[j] = Math.min(most[j]!, Math.max(0, row.upper) / row.value[k]!);
        });
      }
      return most;
    });
  }

  /** A point of the program: the mixes by weight, and packs that cover them. */
  private startOf(program: ShopProgram, beds: readonly SolvedBed[], known: Bought): number[] {
    const x = program.columns.map(() => 0);
    beds.forEach(({ plan, program: blend, answer }, p) => {
      blend.use.forEach((columns, i) => {
        columns.forEach((j, b) => {
          x[program.use[p]![i]![b]!] = answer.x[j]!;
        });
      });
      const simple = program.simple[p];
      if (!simple) return;
      simple.uses.forEach((columns, i) => {
        columns.forEach((column, b) => {
          x[column] = answer.x[blend.use[i]![b]!]! > 0 ? 1 : 0;
        });
      });
      const counts = batchCounts(plan, amountsOf(plan, blend, answer.x));
      simple.batches.forEach((column, t) => {
        if (column !== null) x[column] = Math.max(1, counts[t]!);
      });
    });
    program.packs.forEach((columns, a) => {
      columns.forEach((column, k) => {
        x[column] = known.counts[a]![k]!;
      });
      const loose = program.bulk[a] ?? null;
      if (loose !== null) x[loose] = known.bulkKg[a]!;
    });
    const orders = ordersOf(this.amendments, this.suppliers, known);
    this.suppliers
      .filter((supplier) => supplier.delivery > 0)
      .forEach((supplier, s) => {
        const order = orders.find(({ id }) => id === supplier.id);
        if (!order) return;
        const { paid, free } = program.delivery[s]!;
        if (order.delivery > 0 || free === null) x[paid] = 1;
        else x[free] = 1;
      });
    return x;
  }

  /**
   * The mixes that use a purchase well. With the packs as they are, it is the choice that `solve` makes, from what is
   * at hand: the shed first, then the least worth (at the cheapest price by weight) of what was bought; the rest stays.
   */
  private async mixOn({ program, point }: Bag): Promise<Amounts[]> {
    const { program: held, kept } = holdWhole(program, point.x);
    const place = new Map(kept.map((j, k) => [j, k]));
    const loose = new Map(program.bulk.flatMap((j) => (j === null ? [] : [[place.get(j)!, point.x[j]!]])));
    const draft = new Draft<RowTag, ColumnTag>();
    held.columns.forEach((column, k) => {
      draft.columns.push({ ...column, cost: 0, upper: loose.get(k) ?? column.upper });
    });
    draft.rows.push(...held.rows.map(widened));
    const weigh = kept.map(() => 0);
    const order = kept.map(() => 0);
    this.amendments.forEach((amendment, a) => {
      const uses = this.plans.flatMap((plan, p) => {
        const i = plan.amendments.findIndex(({ id }) => id === amendment.id);
        return i < 0 ? [] : program.use[p]![i]!.map((j) => place.get(j)!);
      });
      const price = cheapestPricePerKg(amendment) ?? 0;
      uses.forEach((k, b) => {
        weigh[k] = 1;
        order[k] = a + b / (uses.length + 1);
        if (amendment.stockKg <= 0) draft.columns[k] = { ...draft.columns[k]!, cost: price };
      });
      if (amendment.stockKg <= 0) return;
      const beyond = draft.column(`beyond the stock of ${amendment.id}`, price, Infinity);
      draft.row(
        { kind: "stock", id: amendment.id },
        [...uses.map((k): Entry => [k, 1]), [beyond, -1]],
        -Infinity,
        amendment.stockKg,
        true,
      );
      weigh.push(0);
      order.push(0);
    });
    const fixed: PlanProgram = { columns: draft.columns, rows: draft.rows };
    const answer = await solveProgram(fixed, [weigh, order]);
    const x = answer.status === "optimal" ? answer.x : kept.map((j) => point.x[j]!);
    return this.beds.map(({ plan, season, program: blend }, p) => {
      const amounts = plan.amendments.map((_, i) =>
        plan.applications.map((application, t) => {
          const columns = program.use[p]![i]!;
          return plan.blend === "one"
            ? x[place.get(columns[0]!)!]! * application.share
            : x[place.get(columns[blend.blends.indexOf(t)]!)!]!;
        }),
      );
      const worst = findMisses(plan, season, amounts)[0];
      if (worst && worst.fraction > MAX_VIOLATION)
        throw new UnverifiedError(
          `The mix on these packs does not keep a demand of ${plan.name} (${demandWords(plan, worst.tag)}); nothing is printed.`,
        );
      if (plan.simple && !isSimple(plan, amounts))
        throw new UnverifiedError(
          `The mix on these packs is not as simple as ${plan.name} asks; nothing is printed.`,
        );
      return amounts;
    });
  }

  private usedKg(mixes: readonly Amounts[]): number[] {
    const used = this.amendments.map(() => 0);
    this.plans.forEach((plan, p) => {
      plan.amendments.forEach((amendment, i) => {
        const a = this.amendments.findIndex(({ id }) => id === amendment.id);
        used[a]! += mixes[p]![i]!.reduce((sum, kg) => sum + kg, 0);
      });
    });
    return used;
  }

  /**
   * What is sold loose is bought to the gram: no more than the mixes take beyond packs and stock. More than that stays
   * bought only where it takes an order over the value from which delivery is free, and so saves money.
   */
  private trim(bought: Bought, usedKg: readonly number[]): Bought {
    const bulkKg = this.amendments.map((amendment, a) => {
      const inPacks = boughtKg(amendment, bought.counts[a]!, 0) + amendment.stockKg;
      return Math.min(bought.bulkKg[a]!, Math.max(0, usedKg[a]! - inPacks));
    });
    const trimmed = { counts: bought.counts, bulkKg };
    const costs = (of: Bought) =>
      new Map(
        ordersOf(this.amendments, this.suppliers, of).map((order) => [
          order.id,
          order.goods + order.delivery,
        ]),
      );
    const before = costs(bought);
    const dearer = new Set<string | null>();
    for (const [id, cost] of costs(trimmed)) if (cost > (before.get(id) ?? Infinity)) dearer.add(id);
    return {
      counts: bought.counts,
      bulkKg: bulkKg.map((kg, a) =>
        dearer.has(this.amendments[a]!.supplier ?? null) ? bought.bulkKg[a]! : kg,
      ),
    };
  }

  /** The parts that every purchase has, recomputed from counts alone and held against what the search says. */
  private frame(
    { point }: Bag,
    bought: Bought,
    usedKg: readonly number[],
    batches: number,
    byWeight: number,
  ): Omit<Shopping, "changes" | "mix" | "also" | "cautions"> {
    const purchases = linesOf(this.amendments, bought, usedKg, batches);
    const orders = ordersOf(this.amendments, this.suppliers, bought);
    const total = totalOf(orders);
    const goods = orders.reduce((sum, order) => sum + order.goods, 0);
    this.amendments.forEach((amendment, a) => {
      const kg = boughtKg(amendment, bought.counts[a]!, bought.bulkKg[a]!) + amendment.stockKg;
      if (usedKg[a]! > kg * (1 + MAX_VIOLATION))
        throw new UnverifiedError(
          `The mix takes more ${amendment.name} than is bought and in the shed; nothing is printed.`,
        );
    });
    if (Math.abs(total - point.cost) > 1e-6 * Math.max(1, Math.abs(total)))
      throw new UnverifiedError("The money of this purchase does not add up again; nothing is printed.");
    const inMix = purchases.filter((line) => line.leftBatches !== null);
    const [plan] = this.plans;
    return {
      schema: "barrowmix.shopping/1",
      status: point.status,
      plan: plan!.name,
      plans: this.plans.map(({ name }) => name),
      application: null,
      currency: plan!.currency,
      units: plan!.units,
      purchases,
      suppliers: orders,
      goods,
      delivery: total - goods,
      total,
      gap: point.gap,
      verification: {
        engine: point.engine,
        maxViolation: point.maxViolation,
        dualBound: point.bound,
        gap: point.gap,
      },
      byWeight,
      wholePacksCost: goods - byWeight,
      budget: this.options.budget ?? null,
      moreBatches:
        inMix.length === 0 ? 0 : Math.floor(Math.min(...inMix.map((line) => line.leftBatches!)) + 1e-9),
      trips: null,
      conflicts: [],
      warnings: this.warnings(point),
      inputs: this.plans,
    };
  }

  /** What the batches, rounded to the scale, take beyond what there is. */
  private roundedAbove(mixes: readonly Amounts[], bought: Bought): Notice[] {
    const rounded = this.usedKg(mixes.map((amounts, p) => layOutBatches(this.plans[p]!, amounts).rounded));
    return this.amendments.flatMap((amendment, a): Notice[] => {
      const kg = amendment.stockKg + boughtKg(amendment, bought.counts[a]!, bought.bulkKg[a]!);
      const above = rounded[a]! - kg;
      // Loose weight is bought as the scale shows it.
      if (above <= 1e-6 * kg || bought.bulkKg[a]! > 0) return [];
      return [
        {
          code: "rounding-above-packs",
          text: `Rounded to the scale, the batches take ${weight(above, this.plans[0]!.units)} more ${amendment.name} than there is: put that much less into the last one.`,
        },
      ];
    });
  }

  private warnings(point: WholePoint): Notice[] {
    const notices = this.plans.flatMap((plan) => [...plan.warnings, ...leftOutWarnings(plan)]);
    if (point.status === "stopped")
      notices.push({
        code: "shop-time",
        text: `The time limit came before the proof: another purchase could cost up to ${percent(point.gap)} less. Allow more with --time-limit.`,
      });
    const seen = new Set<string>();
    return notices.filter(({ code, text }) => {
      const key = `${code} ${text}`;
      const fresh = !seen.has(key);
      seen.add(key);
      return fresh;
    });
  }

  /** @param whole what rounding is judged on, where the mix shown is only a part of it. */
  private layOut(p: number, amounts: Amounts, whole: Amounts = amounts): ShoppingMix {
    const { plan, season } = this.beds[p]!;
    const field = layOutBatches(plan, amounts);
    const kg = amounts.map((row) => row.reduce((sum, value) => sum + value, 0));
    const wholeKg = kg.reduce((sum, value) => sum + value, 0);
    return {
      plan: plan.name,
      amendments: plan.amendments.flatMap(({ id, name }, a) =>
        kg[a]! > 0 ? [{ id, name, kg: kg[a]!, share: kg[a]! / wholeKg }] : [],
      ),
      nutrients: deliver(plan, season, amounts),
      applications: field.applications,
      rounding: roundingOf(
        plan,
        season,
        whole === amounts ? field.rounded : layOutBatches(plan, whole).rounded,
      ),
    };
  }

  /** What the mixes cost where everything is sold by weight: of one plan what `solve` says, of several together. */
  private async byWeight(): Promise<number> {
    const [bed] = this.beds;
    if (this.beds.length === 1) return bed!.answer.check.cost;
    const loose = this.amendments.map((amendment): Amendment => {
      const price = cheapestPricePerKg(amendment);
      return { ...amendment, packs: [], ...(price === null ? {} : { bulkPricePerKg: price }) };
    });
    const point = await this.soldAs(loose, []);
    return point?.cost ?? Number.NaN;
  }

  /** The best purchase with other offers, as far as a short search tells; null where it tells nothing. */
  private async soldAs(
    offers: readonly Amendment[],
    suppliers: readonly Supplier[],
  ): Promise<WholePoint | null> {
    const byId = new Map(offers.map((amendment) => [amendment.id, amendment]));
    const beds = this.beds.map(
      (bed): SolvedBed => ({
        ...bed,
        plan: {
          ...bed.plan,
          amendments: bed.plan.amendments.map((amendment) => byId.get(amendment.id)!),
          suppliers: bed.plan.suppliers.filter(({ id }) => suppliers.some((s) => s.id === id)),
        },
      }),
    );
    const left = Math.max(LEAST_SECONDS, (this.deadline - this.clock()) / 1000);
    const other = new Shop(beds, { ...this.options, seconds: left });
    const bag = await other.buy(beds, this.demands(), true);
    return "point" in bag && bag.point.status === "optimal" ? bag.point : null;
  }

  /** What one pack less, or packs of any size, would save; the largest saving first. */
  private async changes(bag: Bag, bought: Bought): Promise<PackChange[]> {
    const changes: PackChange[] = [];
    const total = bag.point.cost;
    const lines = this.amendments
      .map((amendment, a) => ({ amendment, a, cost: bought.counts[a]!.reduce((sum, n) => sum + n, 0) }))
      .filter(({ cost }) => cost > 0)
      .slice(0, MOST_CHANGES);
    for (const { amendment, a } of lines) {
      for (const [k, pack] of amendment.packs.entries()) {
        if (bought.counts[a]![k]! === 0 || this.late()) continue;
        const counts = bought.counts.map((row, i) =>
          i === a ? row.map((n, c) => (c === k ? n - 1 : n)) : row,
        );
        const saves =
          total - totalOf(ordersOf(this.amendments, this.suppliers, { counts, bulkKg: bought.bulkKg }));
        const shortfall = saves > 0 ? this.shortfallOf(bag, counts) : null;
        if (shortfall)
          changes.push({ id: amendment.id, kind: "fewer", sizeKg: pack.sizeKg, saves, shortfall });
      }
      const price = cheapestPricePerKg(amendment);
      if (price === null || amendment.bulkPricePerKg === price || this.late()) continue;
      const offers = this.amendments.map((other) =>
        other.id === amendment.id ? { ...other, bulkPricePerKg: price } : other,
      );
      const point = await this.soldAs(offers, this.suppliers);
      const saves = point ? total - point.cost : 0;
      if (saves > 1e-6 * Math.max(1, total))
        changes.push({
          id: amendment.id,
          kind: "finer",
          sizeKg: null,
          saves,
          shortfall: { nutrient: null, fraction: 0 },
        });
    }
    return changes.sort((x, y) => y.saves - x.saves || (x.id < y.id ? -1 : 1));
  }

  /** The least worst shortfall of any need on packs with one left out; null where the limits leave no mix. */
  private shortfallOf(
    { program, point }: Bag,
    counts: readonly (readonly number[])[],
  ): PackChange["shortfall"] | null {
    const x = [...point.x];
    program.packs.forEach((columns, a) => {
      columns.forEach((j, k) => {
        x[j] = counts[a]![k]!;
      });
    });
    const { program: held, kept } = holdWhole(program, x);
    const loose = new Set(program.bulk);
    const needs = this.needs(program);
    const short = held.columns.length;
    const rows = held.rows.map((row): PlanRow => {
      const need = needs.get(row.tag);
      return widened(
        need === undefined ? row : { ...row, index: [...row.index, short], value: [...row.value, need] },
      );
    });
    const fixed: PlanProgram = {
      columns: [
        ...held.columns.map((column, k) => ({
          ...column,
          cost: 0,
          upper: loose.has(kept[k]!) ? point.x[kept[k]!]! : column.upper,
        })),
        { tag: { kind: "other", label: "shortfall" }, cost: 1, upper: 1 },
      ],
      rows,
    };
    const simplex = new Simplex(fixed);
    if (simplex.optimise() !== "optimal") return null;
    const found = simplex.point();
    if (worstViolation(fixed, found).amount > MAX_VIOLATION) return null;
    const fraction = found[short]! <= 1e-9 ? 0 : found[short]!;
    return { nutrient: fraction === 0 ? null : this.shortNutrient(fixed, found, needs), fraction };
  }

  /** The size of the need behind each row that is a floor. */
  private needs(program: ShopProgram): Map<PlanRow["tag"], number> {
    const needs = new Map<PlanRow["tag"], number>();
    const owner = new Map<number, Plan>();
    this.plans.forEach((plan, p) => {
      for (const column of program.use[p]!.flat()) owner.set(column, plan);
    });
    for (const { tag, index } of program.rows) {
      if (tag.kind !== "season-min" && tag.kind !== "in-time") continue;
      const plan = owner.get(index[0] ?? -1);
      const demand = plan?.demands.find(({ nutrient }) => nutrient === tag.nutrient);
      if (!demand) continue;
      needs.set(tag, tag.kind === "season-min" ? demand.minKg : takenUpKg(demand, tag.day));
    }
    return needs;
  }

  private shortNutrient(
    program: PlanProgram,
    x: readonly number[],
    needs: Map<PlanRow["tag"], number>,
  ): string | null {
    let tightest: string | null = null;
    let least = Infinity;
    for (const row of program.rows) {
      const need = needs.get(row.tag);
      if (need === undefined || !("nutrient" in row.tag)) continue;
      const value = row.index.reduce((sum, j, k) => sum + row.value[k]! * x[j]!, 0);
      const room = (value - row.lower) / need;
      if (room < least - 1e-9) {
        least = room;
        tightest = row.tag.nutrient;
      }
    }
    return tightest;
  }

  /** Buying before each application for that one alone, leftovers carried along, against everything at once. */
  private async trips(amounts: Amounts, atOnce: number): Promise<TripComparison | null> {
    const bed = this.beds[0]!;
    const { plan } = bed;
    if (plan.applications.length < 2) return null;
    let stock = this.amendments.map((amendment) => amendment.stockKg);
    const byApplication: { name: string; total: number }[] = [];
    for (const [t, application] of plan.applications.entries()) {
      const need = amounts.map((row) => row[t]!);
      const now = this.amendments.map((amendment, a): Amendment => ({ ...amendment, stockKg: stock[a]! }));
      const trip = new Shop([{ ...bed, plan: { ...plan, amendments: now } }], {});
      const bag = await trip.buy([], { fixedKg: need }, true);
      if (!("point" in bag)) return null;
      byApplication.push({ name: application.name, total: bag.point.cost });
      stock = this.amendments.map((amendment, a) =>
        Math.max(0, stock[a]! + boughtKg(amendment, bag.bought.counts[a]!, bag.bought.bulkKg[a]!) - need[a]!),
      );
    }
    const inAll = byApplication.reduce((sum, { total }) => sum + total, 0);
    return { atOnce, byApplication, inAll };
  }

  /**
   * No purchase keeps the further demands: what would.
   * @param fixed what is needed beside the beds.
   */
  private async noPurchase(
    answer: Exclude<WholeAnswer, WholePoint>,
    beds: readonly SolvedBed[],
    fixed: Pick<ShopDemands, "fixedKg">,
  ): Promise<Shopping> {
    const { budget, mostLeft } = this.options;
    const { currency, units } = this.plans[0]!;
    if (answer.status === "nothing")
      throw new UnverifiedError(
        "No purchase was found within the time limit; allow more with --time-limit. Nothing is printed.",
      );
    this.deadline = this.clock() + (this.options.seconds ?? TIME_LIMIT) * 1000;
    const demands: string[] = [];
    const ways: string[] = [];
    if (budget !== undefined) {
      demands.push(`at most ${money(budget, currency)} in all`);
      const within = await this.buy(beds, { ...(mostLeft ? { mostLeft } : {}), ...fixed });
      if ("point" in within) {
        const sum = `${money(within.point.cost, currency)}, delivery included`;
        ways.push(
          within.point.status === "optimal" ? `the least that would do is ${sum}` : `${sum}, would do`,
        );
      }
    }
    if (mostLeft) {
      const most =
        "kg" in mostLeft ? weight(mostLeft.kg, units) : `${percent(mostLeft.share)} of what is bought`;
      demands.push(`at most ${most} left over of any amendment`);
      const loose = await this.buy(beds, { ...(budget === undefined ? {} : { budget }), ...fixed });
      if ("point" in loose)
        ways.push(
          `${money(loose.point.cost, currency)} would do if more may be left over, or offer smaller packs in the amendments file`,
        );
    }
    const why = `No purchase of whole packs keeps to ${demands.join(" and ")}`;
    const text = ways.length > 0 ? `${why}: ${ways.join("; or ")}.` : `${why}.`;
    const shopping = emptyShopping(this.plans);
    return {
      ...shopping,
      budget: budget ?? null,
      verification: { ...shopping.verification, engine: answer.engine },
      conflicts: [{ text, demands }],
    };
  }
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

function described(mixes: readonly ShoppingMix[]): Pick<Shopping, "mix" | "also"> {
  const [mix, ...also] = mixes;
  return { mix: mix!, also };
}

function boughtIn(program: ShopProgram, x: readonly number[]): Bought {
  return {
    counts: program.packs.map((columns) => columns.map((j) => Math.round(x[j]!))),
    bulkKg: program.bulk.map((j) => (j === null ? 0 : x[j]!)),
  };
}

/** Stock and packs, with room for the rounding of a mix that uses them up. */
function widened(row: PlanRow): PlanRow {
  if (row.tag.kind !== "stock") return row;
  return { ...row, upper: row.upper + 1e-9 * Math.max(Math.abs(row.upper), 1e-6) };
}

/** The shopping of plans of which one has no mix at all. */
async function withoutMix(plans: readonly [Plan, ...Plan[]], plan: Plan): Promise<Shopping> {
  const solution = await solvePlan(plan);
  return {
    ...emptyShopping(plans),
    plan: plan.name,
    conflicts: solution.conflicts,
    warnings: solution.warnings,
  };
}

function emptyShopping(plans: readonly Plan[]): Shopping {
  const [plan] = plans;
  return {
    schema: "barrowmix.shopping/1",
    status: "infeasible",
    plan: plan!.name,
    plans: plans.map(({ name }) => name),
    application: null,
    currency: plan!.currency,
    units: plan!.units,
    purchases: [],
    suppliers: [],
    goods: 0,
    delivery: 0,
    total: 0,
    gap: 0,
    verification: { engine: "", maxViolation: 0, dualBound: 0, gap: 0 },
    byWeight: 0,
    wholePacksCost: 0,
    budget: null,
    moreBatches: 0,
    changes: [],
    trips: null,
    mix: null,
    also: [],
    conflicts: [],
    cautions: [],
    warnings: [],
    inputs: plans,
  };
}
