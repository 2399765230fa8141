/** Buying as one flow: checked plans to the whole packs that cost least in all, and the mixes that they allow. */

import { batchCounts, layOutBatches } from "../field/batches.ts";
import { type Amounts, deliver, sumKg, totalsKg } from "../field/delivery.ts";
import { type Bought, boughtKg, linesOf, moneyOf, ordersOf, usedKg } from "../field/purchase.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { fail, type Notice, ok, type Problem, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { type MostLeft, mergeAmendments, mergeSuppliers } from "../program/shop-program.ts";
import type { Shopping, ShoppingMix } from "../results/shopping.ts";
import { MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import { TIME_LIMIT, type TimeLimit, type WholePoint } from "../solver/whole.ts";
import { cautionsOf } from "../words/cautions.ts";
import { listed, percent } from "../words/numbers.ts";
import { leftOutWarnings, roundingOf, solvePlan } from "./blend.ts";
import { mixOf, roundedAbove } from "./bought.ts";
import {
  buy,
  Deadline,
  type Errand,
  errandFor,
  errandOf,
  type Found,
  type NotFound,
  solveBeds,
} from "./purchase.ts";
import {
  bestWithin,
  compareTrips,
  costByWeight,
  explainNoPurchase,
  packChanges,
  shortWords,
} from "./purchase-advice.ts";
import { buySurely, packLadder, purchaseSureness, trimmed } from "./purchase-mix.ts";

export interface ShopOptions {
  /** Money at most, delivery included. */
  readonly budget?: number;
  readonly mostLeft?: MostLeft;
  /** Name or day: buy for this application alone. One plan only. */
  readonly application?: string;
  /** Whether to say, where a plan asks to be sure, what packs cost at each step of certainty. */
  readonly certainty?: boolean;
  /** For the whole purchase; why there is none may take as long again. */
  readonly seconds?: number;
  /** Milliseconds, rising. */
  readonly clock?: () => number;
  /** Whether to ask too what other packs or several trips would change; so it is unless told otherwise. */
  readonly advice?: boolean;
}

/**
 * The packs to buy for one or several plans.
 * @returns the purchase, or one with status `infeasible` that says why; problems where the plans or options do not go
 *   together.
 * @throws UnverifiedError where an answer does not hold up.
 */
export async function shopPlans(
  plans: readonly [Plan, ...Plan[]],
  options: ShopOptions = {},
): Promise<Result<Shopping>> {
  const problems = [...planProblems(plans), ...applicationProblems(plans, options.application)];
  if (problems.length > 0) return fail(...problems);
  const limit = options.clock && { clock: options.clock };
  const solved = await solveBeds(plans, limit);
  if (!("beds" in solved)) return ok(await withoutMix(plans, solved.without, limit));
  const { budget, mostLeft, application, seconds = TIME_LIMIT, clock = () => 0 } = options;
  const demands = defined({ budget, mostLeft });
  const errand = errandFor(solved.beds, demands, new Deadline(seconds, clock));
  return ok(
    application === undefined
      ? await seasonPurchase(errand, options)
      : await applicationPurchase(errand, applicationIndex(plans[0], application)),
  );
}

function planProblems(plans: readonly [Plan, ...Plan[]]): Problem[] {
  const [first, ...others] = plans;
  const together = plans.map((plan) => plan.name).join(", ");
  const differing = (code: string, ids: readonly string[], how: string, hint: string): Problem[] =>
    ids.map((id) => ({
      code,
      message: `${id} ${how} in one of the plans ${together} than in another`,
      hint,
    }));
  return [
    ...others
      .filter(({ currency }) => currency !== first.currency)
      .map(({ name, currency }) => ({
        code: "shop-currencies",
        message: `${first.name} has prices in ${first.currency} and ${name} in ${currency}: they cannot be added up`,
        hint: "plans that are bought for together need one currency",
      })),
    ...differing(
      "shop-amendments",
      mergeAmendments(plans).differing,
      "has other packs, prices, stock or supplier",
      "let the plans use the same amendments file",
    ),
    ...differing(
      "shop-suppliers",
      mergeSuppliers(plans).differing,
      "charges otherwise for delivery",
      "give the supplier the same delivery and free_over in each",
    ),
  ];
}

function applicationProblems(plans: readonly [Plan, ...Plan[]], wanted: string | undefined): Problem[] {
  if (wanted === undefined) return [];
  const refused = (message: string, hint: string) => [{ code: "shop-application", message, hint }];
  const [{ name, applications }, ...others] = plans;
  if (others.length > 0)
    return refused(
      "buying for one application works for one plan at a time",
      "leave out --also, or --application",
    );
  const there = applications.map((one) => `${one.name} (day ${one.day})`).join(", ");
  return applicationIndex(plans[0], wanted) >= 0
    ? []
    : refused(`${name} has no application \`${wanted}\``, `there are ${there}`);
}

function applicationIndex(plan: Plan, wanted: string): number {
  const plain = wanted.trim().toLowerCase();
  const named = plan.applications.findIndex((a) => a.name.toLowerCase() === plain);
  if (named >= 0) return named;
  const day = /^(?:day )?(-?\d+(?:\.\d+)?)$/.exec(plain)?.[1];
  return day === undefined ? -1 : plan.applications.findIndex((a) => a.day === Number(day));
}

/** Everything for the season, in one purchase. */
async function seasonPurchase(
  asked: Errand,
  { advice = true, certainty = false }: ShopOptions,
): Promise<Shopping> {
  const purchased = await buySurely(asked);
  if (!("found" in purchased)) return noPurchase(purchased, asked);
  const { errand, found, mixes } = purchased;
  const used = usedKg(errand, mixes);
  const bought = trimmed(errand, found.bought, used);
  const sure = advice ? await purchaseSureness(purchased, bought) : null;
  const ladder = certainty ? await packLadder(purchased) : [];
  const byWeight = await costByWeight(errand);
  const counts = mixes.map((amounts, p) => batchCounts(errand.plans[p]!, amounts));
  const batches = counts.flat().reduce((sum, count) => sum + count, 0);
  const frame = frameOf(errand, found, bought, { used, batches, byWeight });
  return {
    ...frame,
    ...(sure ? { sure: { ...sure, ...(ladder.length > 0 ? { ladder } : {}) } } : {}),
    changes: advice ? await packChanges(errand, found, bought) : [],
    trips:
      advice && errand.beds.length === 1 && !errand.deadline.isPast()
        ? await compareTrips(errand, mixes[0]!, frame.total)
        : null,
    warnings: [...frame.warnings, ...roundedAbove({ ...frame, plans: errand.plans }, mixes)],
    ...described(mixes.map((amounts, p) => layOut(errand, p, amounts))),
    mixes: mixes.map((amounts, p) => mixOf(errand.plans[p]!, amounts)),
    cautions: cautionsOfBeds(errand, mixes),
  };
}

/** What to mind on the beds: what all of them call for once, and the rest by the name of its bed. */
function cautionsOfBeds({ beds }: Errand, mixes: readonly Amounts[]): Shopping["cautions"] {
  const said = new Map<string, { readonly caution: Notice; readonly names: readonly string[] }>();
  for (const [p, { plan, season }] of beds.entries())
    for (const caution of cautionsOf(plan, season, mixes[p]!)) {
      const key = JSON.stringify([caution.code, caution.text]);
      said.set(key, { caution, names: [...(said.get(key)?.names ?? []), plan.name] });
    }
  return [...said.values()].map(({ caution, names }) =>
    names.length === beds.length ? caution : { ...caution, text: `${listed(names)}: ${caution.text}` },
  );
}

/** What one application takes of the mix that the season's best purchase allows, and nothing else. */
async function applicationPurchase(errand: Errand, t: number): Promise<Shopping> {
  const { plan, season } = errand.beds[0]!;
  const whole = await buySurely({ ...errand, demands: {} });
  if (!("found" in whole)) return noPurchase(whole, errand);
  const amounts = whole.mixes[0]!;
  const used = amounts.map((row) => row[t]!);
  const alone = errandOf(used, errand);
  const found = await buy(alone);
  if (!("point" in found)) return noPurchase(found, alone);
  const byWeight = used.reduce((sum, kg, a) => {
    const beyond = Math.max(0, kg - errand.amendments[a]!.stockKg);
    return sum + beyond * (cheapestPricePerKg(errand.amendments[a]!) ?? 0);
  }, 0);
  const part = amounts.map((row) => row.map((kg, k) => (k === t ? kg : 0)));
  const mix = layOut(errand, 0, part, amounts);
  const batches = batchCounts(plan, amounts)[t]!;
  return {
    ...frameOf(errand, found, found.bought, { used, batches, byWeight }),
    application: plan.applications[t]!.name,
    changes: [],
    trips: await compareTrips(errand, amounts, whole.found.point.cost),
    ...described([{ ...mix, nutrients: [], applications: mix.applications.filter((_, k) => k === t) }]),
    mixes: [mixOf(plan, part)],
    cautions: cautionsOf(plan, season, amounts),
  };
}

/** The parts that every purchase has, recomputed from counts alone and held against what the search says. */
function frameOf(
  { plans, amendments, suppliers, demands }: Errand,
  { point }: Found,
  bought: Bought,
  { used, batches, byWeight }: { used: readonly number[]; batches: number; byWeight: number },
): Omit<Shopping, "changes" | "mix" | "also" | "mixes" | "cautions"> & { readonly total: number } {
  const purchases = linesOf(amendments, bought, used, batches);
  const orders = ordersOf(amendments, suppliers, bought);
  const { total, goods, delivery } = moneyOf(orders);
  amendments.forEach((amendment, a) => {
    const kg = boughtKg(amendment, bought.counts[a]!, bought.bulkKg[a]!) + amendment.stockKg;
    if (used[a]! > kg * (1 + MAX_VIOLATION))
      throw new UnverifiedError(
        `The mix takes more ${amendment.name} than is bought and in the shed; nothing is printed.`,
      );
  });
  if (orders.some(({ refused }) => refused))
    throw new UnverifiedError("An order is heavier than its supplier delivers; nothing is printed.");
  if (Math.abs(total - point.cost) > 1e-6 * Math.max(1, Math.abs(total)))
    throw new UnverifiedError("The money of this purchase does not add up again; nothing is printed.");
  const left = purchases.flatMap(({ leftBatches }) => leftBatches ?? []);
  const { status, engine, maxViolation, bound: dualBound, gap } = point;
  const [plan] = plans;
  return {
    schema: "barrowmix.shopping/1",
    status,
    plan: plan!.name,
    plans: plans.map(({ name }) => name),
    application: null,
    currency: plan!.currency,
    units: plan!.units,
    purchases,
    suppliers: orders,
    goods,
    delivery,
    total,
    gap,
    verification: { engine, maxViolation, dualBound, gap },
    byWeight,
    wholePacksCost: goods - byWeight,
    budget: demands.budget ?? null,
    moreBatches: left.length === 0 ? 0 : Math.floor(Math.min(...left) + 1e-9),
    trips: null,
    conflicts: [],
    warnings: warningsOf(plans, point),
    inputs: plans,
  };
}

function warningsOf(plans: readonly Plan[], point: WholePoint): Notice[] {
  const notices = plans.flatMap((plan) => [...plan.warnings, ...leftOutWarnings(plan)]);
  if (point.status === "stopped")
    notices.push({
      code: "shop-time",
      text: `The time limit came before the proof: another purchase could cost up to ${percent(point.gap)} less. Allow more with --time-limit.`,
    });
  else if (point.claimed)
    notices.push({
      code: "shop-claimed",
      text: "The solver HiGHS says that no other purchase costs less; this was not proven again here.",
    });
  return [...new Map(notices.map((notice) => [`${notice.code} ${notice.text}`, notice])).values()];
}

/** @param whole what rounding is judged on, where the mix shown is only a part of it. */
function layOut({ beds }: Errand, p: number, amounts: Amounts, whole: Amounts = amounts): ShoppingMix {
  const { plan, season } = beds[p]!;
  const kg = totalsKg(amounts);
  const wholeKg = sumKg(kg);
  return {
    plan: plan.name,
    amendments: plan.amendments.flatMap(({ id, name }, a) =>
      kg[a]! > 0 ? [{ id, name, kg: kg[a]!, share: kg[a]! / wholeKg }] : [],
    ),
    nutrients: deliver(plan, season, amounts),
    applications: layOutBatches(plan, amounts).applications,
    rounding: roundingOf(plan, season, layOutBatches(plan, whole).rounded),
  };
}

function described([mix, ...also]: readonly ShoppingMix[]): Pick<Shopping, "mix" | "also"> {
  return { mix: mix!, also };
}

/** No purchase keeps the further demands: what would. */
async function noPurchase(answer: NotFound, errand: Errand): Promise<Shopping> {
  if (answer.status === "nothing")
    throw new UnverifiedError(
      "No purchase was found within the time limit; allow more with --time-limit. Nothing is printed.",
    );
  const shopping = emptyShopping(errand.plans);
  const conflict = await explainNoPurchase(errand);
  const best = await bestWithin(errand);
  const text = best ? `${conflict.text} ${shortWords(best, shopping)}` : conflict.text;
  const claimed = {
    code: "shop-claimed",
    text: "The solver HiGHS says that there is no such purchase; this was not proven again here.",
  };
  return {
    ...shopping,
    ...(best ? { best } : {}),
    budget: errand.demands.budget ?? null,
    verification: { ...shopping.verification, engine: answer.engine },
    conflicts: [{ ...conflict, text }],
    warnings: answer.claimed ? [claimed] : [],
  };
}

/** The shopping of plans of which one has no mix at all. */
async function withoutMix(
  plans: readonly [Plan, ...Plan[]],
  plan: Plan,
  limit: TimeLimit | undefined,
): Promise<Shopping> {
  const { conflicts, warnings } = await solvePlan(plan, undefined, limit);
  return { ...emptyShopping(plans), plan: plan.name, conflicts, warnings };
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
    goods: null,
    delivery: null,
    total: null,
    gap: null,
    verification: { engine: "", maxViolation: 0, dualBound: 0, gap: 0 },
    byWeight: null,
    wholePacksCost: null,
    budget: null,
    moreBatches: 0,
    changes: [],
    trips: null,
    mix: null,
    also: [],
    mixes: [],
    conflicts: [],
    cautions: [],
    warnings: [],
    inputs: plans,
  };
}
