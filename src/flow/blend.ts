/** The main job as one flow: a checked plan to a proven least-cost blend, its batches, measures and purchases. */

import { limingKg } from "../field/acidity.ts";
import { layOutBatches } from "../field/batches.ts";
import { chanceTogether } from "../field/chances.ts";
import { type Amounts, deliver, findMisses, sumKg, totalsKg } from "../field/delivery.ts";
import { packsFor } from "../field/packs.ts";
import { lineOf, linesOf, moneyOf, ordersOf } from "../field/purchase.ts";
import type { Amendment, Counts, Demand, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { moveOf } from "../program/moves.ts";
import { analyse } from "../program/sensitivity.ts";
import { isNeed } from "../program/tags.ts";
import type { SupplierOrder } from "../results/shopping.ts";
import type {
  OtherCounting,
  PurchaseSum,
  Sensitivity,
  Solution,
  SolutionAmendment,
} from "../results/solution.ts";
import type { Season } from "../season/season.ts";
import { layOutSpread } from "../season/spread.ts";
import { slopeOf } from "../solver/parametric.ts";
import type { Proven, ProvenInfeasible } from "../solver/solve.ts";
import { MAX_GAP, MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { cautionsOf } from "../words/cautions.ts";
import { aboveRates } from "../words/counting-words.ts";
import { demandWords, sensitivityNotes, simpleWords } from "../words/demand-words.ts";
import { money } from "../words/numbers.ts";
import { placeholderNotice } from "../words/placeholder-words.ts";
import { slipsOf, slipsOfMix, temperatureAssumed } from "../words/slips.ts";
import { amountsOf, type SolvedBlend, solveBlend, tieBreaks, verificationOf } from "./solve-blend.ts";
import { plainSureness, surenessOf } from "./sure.ts";

/** What is worked out beside the mix. */
export interface SolveOptions {
  /** Say, where the plan asks to be sure, what each step of that costs and what knowing better would save. */
  readonly certainty?: boolean;
  /** Say how often all needs are met in the same season, where the plan does not ask to be sure. */
  readonly together?: boolean;
  /** What the other way of counting would cost, for every need; otherwise only for needs counted as applied. */
  readonly everyCounting?: boolean;
}

/**
 * The least-cost mix of a plan, laid out for the field, or why there is none.
 * @param candidates amendments that may be proposed where no mix exists; asked for only then.
 * @param limit how long the search for few amendments may take.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solvePlan(
  plan: Plan,
  candidates: () => readonly Amendment[] | Promise<readonly Amendment[]> = () => [],
  limit?: TimeLimit,
  options: SolveOptions = {},
): Promise<Solution> {
  const solved = await solveBlend(plan, limit);
  if (solved.answer.status === "optimal") {
    const plain = layOutSolution(solved.plan, solved, solved.answer);
    const solution = await withCertainty(plain, solved, options);
    const wanted = (demand: Demand) => options.everyCounting === true || demand.counts === "applied";
    if (!plan.demands.some(wanted)) return solution;
    return { ...solution, countings: await otherCountings(solved.plan, wanted, limit) };
  }
  return infeasibleSolution(solved.plan, solved, solved.answer, await candidates());
}

async function withCertainty(
  solution: Solution,
  solved: SolvedBlend,
  { certainty = false, together = false }: SolveOptions,
): Promise<Solution> {
  const { sure, answer } = solved;
  if (!solution.sure || answer.status !== "optimal") return solution;
  const { plan, program, season } = solved;
  if (!sure && together) {
    const chance = chanceTogether(plan, layOutSpread(plan, season), amountsOf(plan, program, answer.x));
    return { ...solution, sure: { ...solution.sure, together: chance } };
  }
  if (!sure || !certainty) return solution;
  const { ladderOf, worthOf } = await import("./sure-worth.ts");
  return {
    ...solution,
    sure: {
      ...solution.sure,
      ladder: await ladderOf(solved, sure, answer.check.cost),
      worth: await worthOf(solved, sure, amountsOf(plan, program, answer.x)),
    },
  };
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
 * What each need that asks for something would make the plan cost if it were counted the other way.
 * @param which the needs to look at.
 * @throws UnverifiedError where an answer could not be verified.
 */
async function otherCountings(
  plan: Plan,
  which: (demand: Demand) => boolean,
  limit?: TimeLimit,
): Promise<OtherCounting[]> {
  const found: OtherCounting[] = [];
  for (const demand of plan.demands) {
    if (!(demand.minKg > 0) || !which(demand)) continue;
    const other = countedOtherwise(demand);
    const demands = plan.demands.map((one) => (one === demand ? other : one));
    const { answer } = await solveBlend({ ...plan, demands }, limit);
    const total = answer.status === "optimal" ? answer.check.cost : null;
    found.push({ nutrient: demand.nutrient, counts: other.counts, total });
  }
  return found;
}

function layOutSolution(plan: Plan, solved: SolvedBlend, answer: Proven): Solution {
  const { season, program } = solved;
  const amounts = amountsOf(plan, program, answer.x);
  const worst = findMisses(plan, season, amounts)[0];
  if (worst && worst.fraction > MAX_VIOLATION)
    throw new UnverifiedError(
      `The answer does not keep a demand of the plan (${demandWords(plan, worst.tag)}); no mix is printed.`,
    );
  const total = answer.check.cost;
  const sensitivity = sensitivityOf(solved, answer);
  const { parts, usedKg, warnings } = layOutAmounts(plan, season, amounts, {
    total,
    shadowPrice: (nutrient) => needSlope(sensitivity, nutrient) ?? dualSlope(solved, answer, nutrient),
  });
  const bought = packsFor(plan.amendments, usedKg);
  const orders = ordersOf(plan.amendments, plan.suppliers, bought);
  return {
    ...parts,
    purchases: linesOf(plan.amendments, bought, usedKg, 0).map(lineOf),
    purchase: sumOf(plan, orders, total),
    verification: verificationOf(answer),
    warnings: [
      ...planWarnings(plan),
      ...simpleWarnings(plan, solved, total),
      ...refusals(orders),
      ...warnings,
    ],
    ...(solved.simplicity ? { simple: { freeCost: solved.simplicity.freeCost } } : {}),
    ...(sensitivity ? { sensitivity } : {}),
    sure: solved.sure ? surenessOf(plan, season, amounts, solved.sure) : plainSureness(plan, season, amounts),
  };
}

/**
 * What packs cost that cover the mix of least cost by weight, delivery included. No purchase for the plan can cost less
 * than that mix does by weight, which bounds how much better another could be.
 */
function sumOf(plan: Plan, orders: readonly SupplierOrder[], byWeight: number): PurchaseSum {
  const sums = moneyOf(orders);
  const gap = Math.max(0, sums.total - byWeight) / Math.max(1, sums.total);
  return { basis: "weight", ...sums, gap, plans: [plan.name] };
}

/** Orders that no supplier will deliver, and what finds others. */
function refusals(orders: readonly SupplierOrder[]): Notice[] {
  return orders
    .filter(({ refused }) => refused)
    .map(({ id }) => ({
      code: "order-too-heavy",
      text: `The packs from ${id} weigh more together than it delivers in an order, so this sum cannot be had; \`barrowmix shop\` looks for a purchase that can.`,
    }));
}

/** What a reader of any mix for a plan should know about the plan. */
export function planWarnings(plan: Plan): Notice[] {
  return [...slipsOf(plan), ...plan.warnings, ...leftOutWarnings(plan)];
}

/**
 * Amounts that keep a plan, laid out for the field, wherever they come from.
 * @param known what the mix costs, where that is not what each amendment costs by weight, and what a further kg of a need
 *   would cost; null: that is not known.
 * @returns all of a solution that follows from the amounts alone, kg by amendment, and warnings: of the mix as such, of
 *   rounding and measuring.
 */
export function layOutAmounts(
  plan: Plan,
  season: Season,
  amounts: Amounts,
  known: { readonly total?: number; readonly shadowPrice: (nutrient: Nutrient) => number | null },
) {
  const field = layOutBatches(plan, amounts);
  const usedKg = totalsKg(amounts);
  const wholeKg = sumKg(usedKg);
  const amendments = plan.amendments.flatMap((amendment, a): SolutionAmendment[] => {
    const kg = usedKg[a]!;
    if (kg <= 0) return [];
    const { id, name } = amendment;
    const stockKg = Math.min(kg, amendment.stockKg);
    const cost = (kg - stockKg) * (cheapestPricePerKg(amendment) ?? 0);
    return [{ id, name, kg, cost, share: kg / wholeKg, stockKg }];
  });
  const { total = amendments.reduce((sum, { cost }) => sum + cost, 0), shadowPrice } = known;
  const limestoneKg = limingKg(plan, amounts);
  const nutrients = deliver(plan, season, amounts);
  return {
    parts: {
      ...headOf(plan, "optimal"),
      amendments,
      applications: field.applications,
      rounding: roundingOf(plan, season, field.rounded),
      conflicts: [],
      cautions: cautionsOf(plan, season, amounts),
      inputs: plan,
      ...(limestoneKg === 0 ? {} : { limestoneKg }),
      cost: { total, perPlant: plan.bed.plants === undefined ? null : total / plan.bed.plants },
      nutrients: nutrients.map((one) => ({ ...one, shadowPricePerKg: shadowPrice(one.nutrient) })),
    },
    usedKg,
    warnings: [
      ...slipsOfMix(plan, field.applications),
      ...aboveRates(plan, amounts, nutrients),
      ...temperatureAssumed(plan, season, amounts),
      ...field.warnings,
      ...placeholderNotice(plan.amendments, amendments),
    ],
  };
}

/** What a solution begins with. */
function headOf({ name, currency, units }: Plan, status: Solution["status"]) {
  return { schema: "barrowmix.solution/1", status, plan: name, currency, units } as const;
}

/** A margin bends with the mix, and what is said of one more or one less follows the straight line that touches it. */
const AT_THIS_MIX =
  "Since needs are to be met this surely, what is said of one more or less, and of prices at which the mix stays, holds near the mix shown: further off, what sureness takes changes with the mix.";

/** What prices, demands and stock mean for the mix; undefined where the analysis did not hold up. */
function sensitivityOf(solved: SolvedBlend, answer: Proven): Sensitivity | undefined {
  const { plan, program, simplicity } = solved;
  // With whole numbers in the program the basis speaks only for the choices that were made.
  if (simplicity) return undefined;
  const found = analyse(plan, program, answer.x, tieBreaks(program));
  if (!found) return undefined;
  const notes = sensitivityNotes(plan, found);
  return { ...found, notes: solved.sure?.proven ? [...notes, AT_THIS_MIX] : notes };
}

/** What one more kg of a need costs, where that is known for certain; 0 where the need does not matter. */
function needSlope(sensitivity: Sensitivity | undefined, nutrient: Nutrient): number | undefined {
  if (!sensitivity) return undefined;
  const need = sensitivity.demands.find((demand) => demand.kind === "need" && demand.nutrient === nutrient);
  return need ? (need.costOfMore ?? undefined) : 0;
}

/** Change of cost per further kg of a nutrient's season need, by the duals of the rows that the need is in. */
function dualSlope({ plan, program }: SolvedBlend, answer: Proven, nutrient: Nutrient): number {
  return slopeOf(moveOf(plan, program, { kind: "need", nutrient }), [], answer.y);
}

/** What rounding the weights to the scale does to the needs, and to the caps and limits. */
export function roundingOf(plan: Plan, season: Season, rounded: Amounts): Solution["rounding"] {
  const misses = findMisses(plan, season, rounded);
  const short = misses.flatMap(({ tag, fraction }) =>
    isNeed(tag) ? [{ nutrient: tag.nutrient, fraction }] : [],
  );
  const breach = misses.find(({ tag }) => !isNeed(tag));
  return {
    scaleKg: plan.scaleKg,
    worstShortfall: short[0] ?? { nutrient: null, fraction: 0 },
    worstBreach: breach ? { demand: demandWords(plan, breach.tag), fraction: breach.fraction } : null,
  };
}

/** Which amendments the plan's own words left out, where that may surprise. */
export function leftOutWarnings(plan: Plan): Notice[] {
  const notListed = plan.leftOut.filter((left) => left.why === "not listed organic").map((left) => left.id);
  if (notListed.length === 0) return [];
  const text = `Left out because their organic status is not \`listed\`: ${notListed.join(", ")}.`;
  return [{ code: "left-out-not-listed", text }];
}

/** What it costs to keep to few amendments. */
function simpleWarnings(plan: Plan, { simplicity }: SolvedBlend, total: number): Notice[] {
  if (!simplicity) return [];
  const more = total - simplicity.freeCost;
  const limits = simpleWords(plan, "each").join(" and ");
  const text =
    more > 1e-6 * Math.max(1, total)
      ? `Keeping to ${limits} costs ${money(more, plan.currency)} more than the cheapest mix without that.`
      : `Keeping to ${limits} costs nothing more.`;
  const notices = [{ code: "simple-cost", text }];
  const { gap, claimed } = simplicity;
  if (gap > MAX_GAP)
    notices.push({
      code: "simple-gap",
      text: `The search for few amendments ended before every choice was ruled out. This mix may cost up to ${money(gap * Math.max(1, total), plan.currency)} more than the cheapest of its kind.`,
    });
  else if (claimed)
    notices.push({
      code: "simple-claimed",
      text: "The solver HiGHS says that no cheaper mix is as simple; this was not proven again here.",
    });
  return notices;
}

async function infeasibleSolution(
  plan: Plan,
  solved: SolvedBlend,
  answer: ProvenInfeasible,
  candidates: readonly Amendment[],
): Promise<Solution> {
  const { explainInfeasible } = await import("./explain.ts");
  return {
    ...headOf(plan, "infeasible"),
    cost: { total: null, perPlant: null },
    amendments: [],
    nutrients: [],
    applications: [],
    purchases: [],
    rounding: { scaleKg: plan.scaleKg, worstShortfall: { nutrient: null, fraction: 0 }, worstBreach: null },
    verification: verificationOf({ engine: answer.engine, check: answer.elastic.check }),
    ...(await explainInfeasible(solved, answer, candidates)),
    cautions: [],
    warnings: planWarnings(plan),
    inputs: plan,
  };
}
