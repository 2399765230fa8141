/**
 * The main job as one flow: checked plans to the cheapest purchase that feeds them all, the mixes on it, their batches and
 * measures; or why there is none.
 */

import { chanceTogether } from "../field/chances.ts";
import type { Amounts } from "../field/delivery.ts";
import { type Bought, usedKg } from "../field/purchase.ts";
import type { Amendment, Counts, Demand, Money, Plan, Seconds } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { fail, type Notice, noticesOf, ok, type Problem, type Result } from "../problem.ts";
import { soldByWeight } from "../program/build.ts";
import { moveOf } from "../program/moves.ts";
import { analyse } from "../program/sensitivity.ts";
import { type MostLeft, mergeAmendments, mergeSuppliers, type ShopDemands } from "../program/shop-program.ts";
import type {
  Asked,
  BedAnswer,
  By,
  OtherCounting,
  Sensitivity,
  Sharing,
  Solution,
} from "../results/solution.ts";
import type { Sureness, SureStep } from "../results/sure.ts";
import { layOutSpread } from "../season/spread.ts";
import { slopeOf } from "../solver/parametric.ts";
import { MAX_GAP, UnverifiedError } from "../solver/verify.ts";
import { OWN_ENGINE, TIME_LIMIT, type TimeLimit, type WholePoint } from "../solver/whole.ts";
import { sensitivityNotes, simpleWords } from "../words/demand-words.ts";
import { listed, money, percent } from "../words/numbers.ts";
import { bedWithout, type FedBed, type FoundAnswer, layOut, planWarnings, withoutAnswer } from "./lay-out.ts";
import {
  buy,
  Deadline,
  type Errand,
  errandFor,
  errandOf,
  type NotFound,
  type SolvedBed,
  solveBeds,
} from "./purchase.ts";
import { bestWithin, compareTrips, explainNoPurchase, packChanges, shortWords } from "./purchase-advice.ts";
import { type Purchased, TIE_OPEN, trimmed } from "./purchase-mix.ts";
import { buySurely, surerPurchases } from "./purchase-sure.ts";
import { amountsOf, type SolvedBlend, solveBlend, tieBreaks, verificationOf } from "./solve-blend.ts";
import { STEPS, surenessFound, surenessOf } from "./sure.ts";
import { usedUpChances } from "./used-up.ts";

/** How much is worked out beside the mixes: how sure they are, what surer ones cost, and all that can be asked. */
export type Detail = "mix" | "page" | "whole";

export interface AnswerOptions {
  /** What is paid: packs with delivery, or the weight alone. Absent: `purchase`. */
  readonly by?: By;
  /** Money at most, delivery included. */
  readonly budget?: Money;
  /** Of what is bought, the most that may be left over of any amendment. */
  readonly mostLeft?: MostLeft;
  /** Name or day: buy for this application alone. One plan only. */
  readonly application?: string;
  /** Absent: `page`. */
  readonly detail?: Detail;
  /** How beds share mixes; absent: each has its own. */
  readonly sharing?: Sharing;
  /** Bounds on what all beds together use of an amendment. */
  readonly heap?: ShopDemands["heap"];
  /** Whether curves of supply and need are worked out. */
  readonly curves?: boolean;
  /** What the answer for several plans is called; absent: their names. */
  readonly name?: string;
  /** Seconds for the search; why there is no answer may take as long again. */
  readonly seconds?: Seconds;
  /** Milliseconds, rising. */
  readonly clock?: () => number;
  /** Amendments that may be proposed where a plan has no mix; asked for only then. */
  readonly candidates?: () => readonly Amendment[] | Promise<readonly Amendment[]>;
}

/** The options with the plans as they were asked, whatever was made of them on the way. */
interface Asking extends AnswerOptions {
  readonly asked: Asked;
}

/**
 * The answer for one plan.
 * @returns one with status `infeasible` says why there is none.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solvePlan(plan: Plan, options: AnswerOptions = {}): Promise<Solution> {
  const answer = await solvePlans([plan], options);
  if (!answer.ok) throw new Error(answer.problems.map(({ message }) => message).join("; "));
  return answer.value;
}

/**
 * The answer for plans that share one shed and one purchase, each with its own mix.
 * @returns problems where the plans or the options do not go together.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solvePlans(
  plans: readonly [Plan, ...Plan[]],
  given: AnswerOptions = {},
): Promise<Result<Solution>> {
  const problems = [
    ...planProblems(plans),
    ...applicationProblems(plans, given.application),
    ...(given.sharing ? sharingProblems(plans) : []),
  ];
  if (problems.length > 0) return fail(...problems);
  const options: Asking = { ...given, asked: askedOf(plans, given) };
  const limit = options.clock && { clock: options.clock, ...defined({ seconds: options.seconds }) };
  const solved = await solveBeds(plans, limit);
  if (!("beds" in solved)) return ok(await withoutMix(plans, solved.without, options));
  const { by = "purchase", application } = options;
  const errand = errandOfPlans(solved.beds, options);
  if (options.sharing) return ok(await answerShared(errand, options.sharing, options));
  const offered = by === "weight" ? soldLoose(errand) : errand;
  if (application !== undefined)
    return ok(await applicationAnswer(offered, applicationIndex(plans[0], application), options));
  const answer = by === "weight" ? answerByWeight : answerByPurchase;
  return ok(await answer(offered, options));
}

function errandOfPlans(beds: readonly SolvedBed[], options: Asking): Errand {
  const { budget, mostLeft, heap, seconds = TIME_LIMIT, clock = () => 0 } = options;
  return errandFor(beds, defined({ budget, mostLeft, heap }), new Deadline(seconds, clock));
}

function askedOf(
  plans: readonly Plan[],
  { by = "purchase", budget, mostLeft, application, sharing }: AnswerOptions,
): Asked {
  return { by, plans, ...defined({ budget, mostLeft, application, sharing }) };
}

function nameOf(plans: readonly Plan[], { name }: Asking): string {
  return name ?? listed(plans.map((plan) => plan.name));
}

function planProblems(plans: readonly [Plan, ...Plan[]]): Problem[] {
  const [first, ...others] = plans;
  const together = plans.map((plan) => plan.name).join(", ");
  const differing = (code: string, ids: readonly string[], how: string, hint: string): Problem[] =>
    ids.map((id) => ({
      code,
      message: `${id} ${how} in one of the plans ${together} than in another`,
      hint: `${hint}, or answer each plan by itself with --apart`,
    }));
  return [
    ...others
      .filter(({ currency }) => currency !== first.currency)
      .map(({ name, currency }) => ({
        code: "shared-currencies",
        message: `${first.name} has prices in ${first.currency} and ${name} in ${currency}: they cannot be added up`,
        hint: "plans that share a purchase need one currency; --apart answers each by itself",
      })),
    ...differing(
      "shared-amendments",
      mergeAmendments(plans).differing,
      "has another analysis, other packs, prices, stock or supplier",
      "let the plans use the same amendments file",
    ),
    ...differing(
      "shared-suppliers",
      mergeSuppliers(plans).differing,
      "charges otherwise for delivery",
      "give the supplier the same charges in each",
    ),
  ];
}

/** What keeps plans from sharing mixes: one heap is stirred in one way for all. */
function sharingProblems([first, ...others]: readonly [Plan, ...Plan[]]): Problem[] {
  const problems: Problem[] = [];
  const refuseIf = (wrong: boolean, message: string, hint: string): void => {
    if (wrong) problems.push({ code: "shared-mixes", message, hint });
  };
  for (const { name, blend, simple } of [first, ...others]) {
    const each = `${name} has \`blend: each\`, a mix for every round`;
    refuseIf(blend === "each", each, "a mix that beds share is one for all rounds");
    const few = "how few materials a shared mix has is not one bed's to say";
    refuseIf(simple !== undefined, `${name} has \`simple\``, few);
  }
  for (const { name, batch, scaleKg } of others) {
    const both = `${first.name} and ${name}`;
    const otherwise = JSON.stringify(batch) !== JSON.stringify(first.batch);
    refuseIf(otherwise, `${both} have batches of different size`, "a shared mix is stirred in one");
    const scales = `${both} are weighed on different scales`;
    refuseIf(scaleKg !== first.scaleKg, scales, "give both one `scale`");
  }
  return problems;
}

function applicationProblems(plans: readonly [Plan, ...Plan[]], wanted: string | undefined): Problem[] {
  if (wanted === undefined) return [];
  const refused = (message: string, hint: string) => [{ code: "shop-application", message, hint }];
  const [{ name, applications }, ...others] = plans;
  if (others.length > 0)
    return refused(
      "buying for one application works for one plan at a time",
      "name one plan, or leave out --application",
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

/** The best purchase, and of all mixes on purchases of that total the best. */
async function answerByPurchase(asked: Errand, options: Asking): Promise<Solution> {
  const purchased = await buySurely(asked);
  if (!("found" in purchased)) return noPurchase(purchased, asked, options);
  const { errand, mixes, found, settled } = purchased;
  const bought = trimmed(errand, found.bought, usedKg(errand, mixes));
  const answer = await layOutFound(errand, mixes, options, foundAt(found.point, bought, settled, options));
  if (options.by === "weight") return answer;
  return withAdvice(answer, { ...purchased, found: { ...found, bought } }, options);
}

/** What is known of a purchase at the end of a search. */
export function foundAt(
  point: WholePoint,
  bought: Bought,
  settled: boolean,
  { by = "purchase" }: Pick<AnswerOptions, "by">,
) {
  const { cost, bound, gap, engine, maxViolation } = point;
  return {
    by,
    bought,
    cost,
    bound,
    gap,
    status: point.status === "stopped" ? ("found" as const) : ("optimal" as const),
    verification: { engine, maxViolation, dualBound: bound },
    warnings: searchWarnings(point, settled),
  };
}

/** Few mixes for many beds: what they cost, and what other numbers of mixes would. */
async function answerShared(asked: Errand, sharing: Sharing, options: Asking): Promise<Solution> {
  const { by = "purchase", detail = "page", seconds = TIME_LIMIT, clock = () => 0 } = options;
  const { shareMixes, noMixConflict } = await import("./farm-answer.ts");
  const shared = await shareMixes(asked, sharing, { by, seconds, clock, ladder: detail !== "mix" });
  if ("apart" in shared) {
    const { plans } = asked;
    return withoutAnswer(by, nameOf(plans, options), options.asked, {
      beds: plans.map((plan) => bedWithout(plan)),
      conflicts: [noMixConflict(plans, shared)],
      verification: { engine: OWN_ENGINE, maxViolation: 0, dualBound: 0 },
      warnings: plans.flatMap((plan) => planWarnings(plan)),
    });
  }
  if ("nothing" in shared)
    return noPurchase(
      shared.nothing === "time"
        ? { status: "nothing", bound: 0 }
        : { status: "infeasible", engine: OWN_ENGINE, claimed: false },
      asked,
      options,
    );
  const errand = by === "weight" ? soldLoose(asked) : asked;
  const { cost, bound, purchase, mixes, groups } = shared;
  const gap = Math.max(0, cost - bound) / Math.max(1, cost);
  const bought = trimmed(errand, purchase.bought, usedKg(errand, mixes));
  const answer = await layOutFound(errand, mixes, options, {
    by,
    bought,
    cost,
    bound,
    gap,
    status: gap > MAX_GAP ? "found" : "optimal",
    verification: { engine: OWN_ENGINE, maxViolation: shared.miss, dualBound: bound },
    warnings: shared.warnings,
    groups,
    ...defined({ alone: shared.alone }),
  });
  return { ...answer, byMixes: shared.byMixes };
}

/** What is worked out beside a purchase, as far as it is asked for. */
async function withAdvice(answer: Solution, purchased: Purchased, options: Asking): Promise<Solution> {
  const { detail = "page" } = options;
  if (detail === "mix") return answer;
  const { errand, found, mixes } = purchased;
  const usedUp = await usedUpChances(purchased, found.bought);
  const beds = answer.beds.map((bed, p) =>
    bed.sure && usedUp[p] !== undefined ? { ...bed, sure: { ...bed.sure, usedUp: usedUp[p] } } : bed,
  );
  const advised = { ...answer, beds, surer: await surerSteps(errand, detail, found.point.cost) };
  if (detail === "page") return advised;
  const { offerRanges } = await import("./offer-ranges.ts");
  const offers = await offerRanges({ ...errand, deadline: errand.deadline.again() }, found.bought);
  const changes = await packChanges(errand, found, found.bought);
  const inTrips = errand.beds.length === 1 && !errand.deadline.isPast();
  const trips = inTrips ? await compareTrips(errand, mixes[0]!, answer.cost.total!) : null;
  return { ...advised, offers, changes, trips };
}

/** How sure the page says what it would cost to be. */
const SURER = 0.9;

/** What steps of sureness cost in bags: on the page one, and where some is asked for, what none costs. */
async function surerSteps(errand: Errand, detail: Detail, total: number): Promise<readonly SureStep[]> {
  const { plans } = errand;
  const asked = new Set(plans.flatMap(({ sure }) => sure?.each.map(({ p }) => p) ?? []));
  const isAsked = plans.some(({ sure }) => sure);
  const isOne = plans.every(({ sure }) => !sure?.together) && asked.size <= 1;
  const [own] = [...asked];
  const known = new Map(isAsked ? (isOne && own !== undefined ? [[own, total]] : []) : [[0.5, total]]);
  const page = isAsked ? [0.5] : [SURER];
  const steps = detail === "page" ? page : [...new Set([...STEPS, ...known.keys()])].sort((a, b) => a - b);
  return surerPurchases({ ...errand, deadline: errand.deadline.again() }, steps, known);
}

function searchWarnings(point: WholePoint, settled: boolean): Notice[] {
  return noticesOf({
    "purchase-time":
      point.status === "stopped" &&
      `The time limit came before the proof: another purchase could cost up to ${percent(point.gap)} less. Allow more with --time-limit.`,
    "purchase-claimed":
      point.status !== "stopped" &&
      point.claimed &&
      "The solver HiGHS says that no other purchase costs less; this was not proven again here.",
    "tie-open": !settled && TIE_OPEN,
  });
}

/** Loose weight at the cheapest price of each material, packs and delivery left out. */
async function answerByWeight(loose: Errand, options: Asking): Promise<Solution> {
  const [bed, another] = loose.beds;
  if (bed === undefined || another !== undefined || options.heap) return answerByPurchase(loose, options);
  const { plan, program, answer, simplicity } = bed;
  const mixes = [amountsOf(plan, program, answer.x)];
  const { cost, dualBound, gap } = answer.check;
  const sensitivity = sensitivityOf(bed);
  const solution = await layOutFound(loose, mixes, options, {
    by: "weight",
    bought: boughtLoose(loose, usedKg(loose, mixes)),
    cost,
    bound: dualBound,
    gap,
    status: gap > MAX_GAP ? "found" : "optimal",
    verification: proofOf(answer),
    warnings: simplicity ? simpleWarnings(bed, cost) : [],
    shadowPrice: shadowPriceOf(bed, sensitivity),
  });
  return { ...solution, ...(await withCertainty(bed, options)), ...defined({ sensitivity }) };
}

function proofOf(answer: Parameters<typeof verificationOf>[0]): FoundAnswer["verification"] {
  const { gap: _, ...proof } = verificationOf(answer);
  return proof;
}

/** What is used beyond the shed, bought to the gram. */
function boughtLoose({ amendments }: Errand, used: readonly number[]): Bought {
  const bulkKg = amendments.map(({ stockKg, bulkPricePerKg }, a) =>
    bulkPricePerKg === undefined ? 0 : Math.max(0, used[a]! - stockKg),
  );
  return { counts: amendments.map(() => []), bulkKg };
}

/** Everything sold loose, at the cheapest price by weight, and delivered for nothing. */
function soldLoose({ beds, amendments, ...others }: Errand): Errand {
  const own = beds.map(
    (bed): SolvedBed => ({
      ...bed,
      plan: { ...bed.plan, amendments: bed.plan.amendments.map(soldByWeight), suppliers: [] },
    }),
  );
  const plans = own.map(({ plan }) => plan);
  return { ...others, plans, beds: own, amendments: amendments.map(soldByWeight), suppliers: [] };
}

/** By weight, what certainty costs step by step and what knowing better would save. */
async function withCertainty(bed: SolvedBed, { detail = "page" }: Asking): Promise<Pick<Solution, "surer">> {
  const { sure, answer } = bed;
  if (!sure || detail !== "whole") return {};
  const { ladderOf } = await import("./sure-worth.ts");
  return { surer: await ladderOf(bed, sure, answer.check.cost) };
}

/** A found answer laid out, with how sure each bed is. */
async function layOutFound(
  errand: Errand,
  mixes: readonly Amounts[],
  options: Asking,
  found: Pick<
    FoundAnswer,
    "by" | "bought" | "cost" | "bound" | "gap" | "status" | "verification" | "warnings" | "groups"
  > & {
    readonly only?: number;
    readonly alone?: readonly (Amounts | undefined)[];
  } & Pick<FedBed, "shadowPrice">,
): Promise<Solution> {
  const beds: FedBed[] = [];
  // Only a mix of its own is the one that was proven by weight.
  const how = found.groups ? { ...found, by: "purchase" as const } : found;
  for (const [p, bed] of errand.beds.entries()) {
    const fed = await fedBed(bed, mixes[p]!, how, options);
    beds.push({ ...fed, ...defined({ alone: found.alone?.[p] }) });
  }
  const { curves } = options;
  return layOut({
    ...found,
    name: nameOf(errand.plans, options),
    beds,
    amendments: errand.amendments,
    suppliers: errand.suppliers,
    inputs: options.asked,
    ...defined({ curves }),
  });
}

/** A bed with its amounts, how sure they are, and what is asked to be known of it. */
async function fedBed(
  bed: SolvedBed,
  amounts: Amounts,
  { by, shadowPrice }: Pick<FoundAnswer, "by"> & Pick<FedBed, "shadowPrice">,
  options: Asking,
): Promise<FedBed> {
  const { detail = "page" } = options;
  const { plan, season, simplicity } = bed;
  const isTold = detail !== "mix" || plan.sure !== undefined || plan.past !== undefined;
  const sure = isTold ? await surenessIn(bed, amounts, by, options) : undefined;
  const wanted = (demand: Demand) => detail === "whole" || demand.counts === "applied";
  const counts = detail !== "mix" && plan.demands.some(wanted);
  const countings = counts ? await otherCountings(bed, wanted, options) : undefined;
  return {
    plan,
    season,
    amounts,
    more: defined({
      sure,
      countings,
      simple: simplicity && { freeCost: simplicity.freeCost },
    }),
    ...defined({ shadowPrice }),
  };
}

async function surenessIn(
  bed: SolvedBed,
  amounts: Amounts,
  by: By,
  { detail = "page" }: Asking,
): Promise<Sureness> {
  const { plan, season } = bed;
  // A mix by weight is the one that was proven as sure; another is worked again.
  const own = by === "weight" && bed.sure;
  const sure = own ? surenessOf(plan, season, amounts, own) : surenessFound(plan, season, amounts);
  if (!bed.sure) return { ...sure, together: chanceTogether(plan, layOutSpread(plan, season), amounts) };
  if (!own || detail !== "whole") return sure;
  const { worthOf } = await import("./sure-worth.ts");
  return { ...sure, worth: await worthOf(bed, bed.sure, amounts) };
}

/** A need counted the other way. A need of what is spread has no uptake curve. */
function countedOtherwise({ efficiency = 1, ...demand }: Demand) {
  const counts: Counts = demand.counts === "applied" ? "available" : "applied";
  // An efficiency is of what is available; a rate that is spread has none.
  const times = counts === "applied" ? efficiency : 1;
  const maxKg = demand.maxKg === null ? null : demand.maxKg * times;
  return { ...demand, counts, minKg: demand.minKg * times, maxKg, uptake: null };
}

/**
 * What each need that asks for something would make the plan cost by weight if it were counted the other way.
 * @throws UnverifiedError where an answer could not be verified.
 */
async function otherCountings(
  { plan, answer: { check } }: SolvedBed,
  which: (demand: Demand) => boolean,
  { clock, seconds }: Pick<AnswerOptions, "clock" | "seconds">,
): Promise<OtherCounting[]> {
  const limit = clock && { clock, ...defined({ seconds }) };
  const found: OtherCounting[] = [];
  for (const demand of plan.demands) {
    if (!(demand.minKg > 0) || !which(demand)) continue;
    const other = countedOtherwise(demand);
    const demands = plan.demands.map((one) => (one === demand ? other : one));
    const { answer } = await solveBlend({ ...plan, demands }, limit);
    const total = answer.status === "optimal" ? answer.check.cost : null;
    found.push({ nutrient: demand.nutrient, counts: other.counts, total, asAsked: check.cost });
  }
  return found;
}

/** A margin bends with the mix, and what is said of one more or one less follows the straight line that touches it. */
const AT_THIS_MIX =
  "Since needs are to be met this surely, what is said of one more or less, and of prices at which the mix stays, holds near the mix shown: further off, what sureness takes changes with the mix.";

/** What prices, demands and stock mean for a mix by weight; undefined where the analysis did not hold up. */
function sensitivityOf({ plan, program, simplicity, answer, sure }: SolvedBed): Sensitivity | undefined {
  // With whole numbers in the program the basis speaks only for the choices that were made.
  if (simplicity) return undefined;
  const found = analyse(plan, program, answer.x, tieBreaks(program));
  if (!found) return undefined;
  const notes = sensitivityNotes(plan, found);
  return { ...found, notes: sure?.proven ? [...notes, AT_THIS_MIX] : notes };
}

/**
 * Change of cost per further kg of a need: as the sensitivity says where that is known for certain (0 where the need does
 * not matter), else by the duals of the rows that the need is in.
 */
function shadowPriceOf(
  { plan, program, answer }: SolvedBed,
  sensitivity: Sensitivity | undefined,
): (nutrient: Nutrient) => number {
  return (nutrient) => {
    const need = sensitivity?.demands.find((one) => one.kind === "need" && one.nutrient === nutrient);
    if (sensitivity && !need) return 0;
    return need?.costOfMore ?? slopeOf(moveOf(plan, program, { kind: "need", nutrient }), [], answer.y);
  };
}

/** What it costs by weight to keep to few amendments. */
function simpleWarnings({ plan, simplicity }: SolvedBed, total: number): Notice[] {
  if (!simplicity) return [];
  const more = total - simplicity.freeCost;
  const limits = simpleWords(plan, "each").join(" and ");
  const { gap, claimed } = simplicity;
  return noticesOf({
    "simple-cost":
      more > 1e-6 * Math.max(1, total)
        ? `Keeping to ${limits} costs ${money(more, plan.currency)} more than the cheapest mix without that.`
        : `Keeping to ${limits} costs nothing more.`,
    "simple-gap":
      gap > MAX_GAP &&
      `The search for few amendments ended before every choice was ruled out. This mix may cost up to ${money(gap * Math.max(1, total), plan.currency)} more than the cheapest of its kind.`,
    "simple-claimed":
      gap <= MAX_GAP &&
      claimed &&
      "The solver HiGHS says that no cheaper mix is as simple; this was not proven again here.",
  });
}

/** What one application takes of the mix that the season's best purchase allows, and nothing else. */
async function applicationAnswer(asked: Errand, t: number, options: Asking): Promise<Solution> {
  const whole = await buySurely({ ...asked, demands: {} });
  if (!("found" in whole)) return noPurchase(whole, asked, options);
  const amounts = whole.mixes[0]!;
  const kg = amounts.map((row) => row[t]!);
  const alone = errandOf(kg, asked);
  const found = await buy(alone);
  if (!("point" in found)) return noPurchase(found, alone, options);
  const known = { ...foundAt(found.point, found.bought, true, options), only: t };
  const solution = await layOutFound(whole.errand, whole.mixes, { ...options, detail: "mix" }, known);
  return { ...solution, trips: await compareTrips(asked, amounts, whole.found.point.cost) };
}

/** No purchase keeps the further demands: what would. */
async function noPurchase(answer: NotFound, errand: Errand, options: Asking): Promise<Solution> {
  if (answer.status === "nothing")
    throw new UnverifiedError(
      "No purchase was found within the time limit; allow more with --time-limit. Nothing is printed.",
    );
  const { plans } = errand;
  const conflict = await explainNoPurchase(errand);
  const best = await bestWithin(errand);
  const text = best ? `${conflict.text} ${shortWords(best, plans[0]!)}` : conflict.text;
  const claimed = noticesOf({
    "purchase-claimed":
      answer.claimed &&
      "The solver HiGHS says that there is no such purchase; this was not proven again here.",
  });
  return withoutAnswer(options.by ?? "purchase", nameOf(plans, options), options.asked, {
    beds: plans.map((plan) => bedWithout(plan)),
    conflicts: [{ ...conflict, text }],
    ...(best ? { best } : {}),
    verification: { engine: answer.engine, maxViolation: 0, dualBound: 0 },
    warnings: claimed,
  });
}

/** The answer for plans of which one has no mix at all. */
async function withoutMix(plans: readonly Plan[], asked: Plan, options: Asking): Promise<Solution> {
  const limit: TimeLimit | undefined = options.clock && {
    clock: options.clock,
    ...defined({ seconds: options.seconds }),
  };
  const solved: SolvedBlend = await solveBlend(asked, limit);
  const { plan, answer } = solved;
  if (answer.status === "optimal")
    throw new UnverifiedError("A plan was found with and without a mix; nothing is printed.");
  const { explainInfeasible } = await import("./explain.ts");
  const why = await explainInfeasible(solved, answer, (await options.candidates?.()) ?? []);
  const beds = plans.map((one): BedAnswer => (one === asked ? bedWithout(plan, why) : bedWithout(one)));
  const verification = proofOf({ engine: answer.engine, check: answer.elastic.check });
  return withoutAnswer(options.by ?? "purchase", nameOf(plans, options), options.asked, {
    beds,
    conflicts: why.conflicts,
    verification,
    warnings: plans.flatMap((plan) => planWarnings(plan)),
  });
}
