/** The main job as one flow: a checked plan to a proven least-cost blend, its batches, measures and purchases. */

import { limingKg } from "../field/acidity.ts";
import { layOutBatches } from "../field/batches.ts";
import { chanceTogether } from "../field/chances.ts";
import { type Amounts, deliver, findMisses } from "../field/delivery.ts";
import { purchaseFor } from "../field/packs.ts";
import { moneyOf, ordersOfGoods } from "../field/purchase.ts";
import type { Amendment, Demand, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import { moveOf } from "../program/moves.ts";
import { analyse } from "../program/sensitivity.ts";
import type { SupplierOrder } from "../results/shopping.ts";
import type { Purchase, PurchaseSum, Sensitivity, Solution } from "../results/solution.ts";
import type { Season } from "../season/season.ts";
import { layOutSpread } from "../season/spread.ts";
import { slopeOf } from "../solver/parametric.ts";
import type { Proven, ProvenInfeasible } from "../solver/solve.ts";
import { MAX_GAP, MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { cautionsOf } from "../words/cautions.ts";
import { aboveRates } from "../words/counting-words.ts";
import { demandWords, sensitivityNotes } from "../words/demand-words.ts";
import { counted, money, weight } from "../words/numbers.ts";
import { slipsOf, slipsOfMix, temperatureAssumed } from "../words/slips.ts";
import { amountsOf, type SolvedBlend, tieBreaks } from "./continuous.ts";
import { solveBlend } from "./solve-blend.ts";
import { plainSureness, surenessOf } from "./sure-results.ts";

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
    const { otherCountings } = await import("./counting.ts");
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

function layOutSolution(plan: Plan, solved: SolvedBlend, answer: Proven): Solution {
  const { season, program } = solved;
  const amounts = amountsOf(plan, program, answer.x);
  const worst = findMisses(plan, season, amounts)[0];
  if (worst && worst.fraction > MAX_VIOLATION)
    throw new UnverifiedError(
      `The answer does not keep a demand of the plan (${demandWords(plan, worst.tag)}); no mix is printed.`,
    );
  const laidOut = layOutAmounts(plan, season, amounts);
  const total = answer.check.cost;
  const sensitivity = sensitivityOf(solved, answer);
  const purchases = laidOut.used.map(({ amendment, kg }) => purchaseFor(amendment, kg));
  const orders = ordersFor(plan, purchases);
  return {
    ...laidOut.parts,
    cost: { total, perPlant: plan.bed.plants === undefined ? null : total / plan.bed.plants },
    nutrients: laidOut.nutrients.map((nutrient) => ({
      ...nutrient,
      shadowPricePerKg:
        needSlope(sensitivity, nutrient.nutrient) ?? dualSlope(solved, answer, nutrient.nutrient),
    })),
    purchases,
    purchase: sumOf(plan, orders, total),
    verification: {
      engine: answer.engine,
      maxViolation: answer.check.maxViolation,
      dualBound: answer.check.dualBound,
      gap: answer.check.gap,
    },
    warnings: [
      ...planWarnings(plan),
      ...simpleWarnings(plan, solved, total),
      ...refusals(orders),
      ...laidOut.warnings,
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

/** The orders that purchases come to. */
function ordersFor(plan: Plan, purchases: readonly Purchase[]): SupplierOrder[] {
  const suppliers = new Map(plan.amendments.map(({ id, supplier }) => [id, supplier ?? null]));
  const values = new Map<string | null, number>();
  const weights = new Map<string | null, number>();
  const add = (supplier: string | null, cost: number, kg: number): void => {
    if (kg <= 0) return;
    values.set(supplier, (values.get(supplier) ?? 0) + cost);
    weights.set(supplier, (weights.get(supplier) ?? 0) + kg);
  };
  for (const { id, packs, boughtKg, cost } of purchases) {
    const own = suppliers.get(id) ?? null;
    const elsewhere = packs.filter(({ supplier }) => supplier !== undefined && supplier !== own);
    for (const { sizeKg, count, price, supplier } of elsewhere) add(supplier!, price * count, sizeKg * count);
    const kg = elsewhere.reduce((sum, { sizeKg, count }) => sum + sizeKg * count, 0);
    const money = elsewhere.reduce((sum, { price, count }) => sum + price * count, 0);
    if (boughtKg - kg > 1e-9 * boughtKg) add(own, cost - money, boughtKg - kg);
  }
  return ordersOfGoods(values, plan.suppliers, weights);
}

/** What a reader of any mix for a plan should know about the plan. */
export function planWarnings(plan: Plan): Notice[] {
  return [...slipsOf(plan), ...plan.warnings, ...leftOutWarnings(plan)];
}

/** Amounts laid out for the field: all of a solution that follows from them alone, wherever they come from. */
export interface LaidOut {
  readonly parts: Pick<
    Solution,
    | "schema"
    | "status"
    | "plan"
    | "currency"
    | "units"
    | "amendments"
    | "applications"
    | "rounding"
    | "conflicts"
    | "cautions"
    | "inputs"
    | "limestoneKg"
  >;
  readonly nutrients: ReturnType<typeof deliver>;
  /** What the mix takes, kg for the whole bed. */
  readonly used: readonly { readonly amendment: Amendment; readonly kg: number }[];
  /** Of the mix as such, of rounding and measuring. */
  readonly warnings: readonly Notice[];
}

/** Lays out amounts that keep a plan. */
export function layOutAmounts(plan: Plan, season: Season, amounts: Amounts): LaidOut {
  const field = layOutBatches(plan, amounts);
  const usedKg = amounts.map((row) => row.reduce((sum, kg) => sum + kg, 0));
  const wholeKg = usedKg.reduce((sum, kg) => sum + kg, 0);
  const used = plan.amendments.flatMap((amendment, a) =>
    usedKg[a]! > 0 ? [{ amendment, kg: usedKg[a]! }] : [],
  );
  const limestoneKg = limingKg(plan, amounts);
  const nutrients = deliver(plan, season, amounts);
  return {
    parts: {
      schema: "barrowmix.solution/1",
      status: "optimal",
      plan: plan.name,
      currency: plan.currency,
      units: plan.units,
      amendments: used.map(({ amendment, kg }) => {
        const stockKg = Math.min(kg, amendment.stockKg);
        return {
          id: amendment.id,
          name: amendment.name,
          kg,
          cost: (kg - stockKg) * (cheapestPricePerKg(amendment) ?? 0),
          share: kg / wholeKg,
          stockKg,
        };
      }),
      applications: field.applications,
      rounding: roundingOf(plan, season, field.rounded),
      conflicts: [],
      cautions: cautionsOf(plan, season, amounts),
      inputs: plan,
      ...(limestoneKg === 0 ? {} : { limestoneKg }),
    },
    nutrients,
    used,
    warnings: [
      ...slipsOfMix(plan, field.applications),
      ...aboveRates(plan, amounts, nutrients),
      ...temperatureAssumed(plan, season, amounts),
      ...field.warnings,
    ],
  };
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

const FLOORS: ReadonlySet<string> = new Set(["in-time", "season-min"]);

/** What rounding the weights to the scale does to the needs, and to the caps and limits. */
export function roundingOf(plan: Plan, season: Season, rounded: Amounts): Solution["rounding"] {
  const misses = findMisses(plan, season, rounded);
  const short = misses.find((miss) => FLOORS.has(miss.tag.kind));
  const breach = misses.find((miss) => !FLOORS.has(miss.tag.kind));
  const nutrient: Nutrient | null = short && "nutrient" in short.tag ? short.tag.nutrient : null;
  return {
    scaleKg: plan.scaleKg,
    worstShortfall: { nutrient, fraction: short?.fraction ?? 0 },
    worstBreach: breach ? { demand: demandWords(plan, breach.tag), fraction: breach.fraction } : null,
  };
}

/** Which amendments the plan's own words left out, where that may surprise. */
export function leftOutWarnings(plan: Plan): Notice[] {
  const notListed = plan.leftOut.filter((left) => left.why === "not listed organic").map((left) => left.id);
  return notListed.length === 0
    ? []
    : [
        {
          code: "left-out-not-listed",
          text: `Left out because their organic status is not \`listed\`: ${notListed.join(", ")}.`,
        },
      ];
}

/** What it costs to keep to few amendments. */
function simpleWarnings(plan: Plan, { simplicity }: SolvedBlend, total: number): Notice[] {
  if (!simplicity) return [];
  const more = total - simplicity.freeCost;
  const limits = [
    ...(plan.simple?.most === undefined
      ? []
      : [`at most ${counted(plan.simple.most, "amendment")} in a blend`]),
    ...(plan.simple?.leastKg === undefined
      ? []
      : [`at least ${weight(plan.simple.leastKg, plan.units)} of each in a batch`]),
  ].join(" and ");
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
  const { check } = answer.elastic;
  const { explainInfeasible } = await import("./explain.ts");
  return {
    schema: "barrowmix.solution/1",
    status: "infeasible",
    plan: plan.name,
    currency: plan.currency,
    units: plan.units,
    cost: { total: null, perPlant: null },
    amendments: [],
    nutrients: [],
    applications: [],
    purchases: [],
    rounding: { scaleKg: plan.scaleKg, worstShortfall: { nutrient: null, fraction: 0 }, worstBreach: null },
    verification: {
      engine: answer.engine,
      maxViolation: check.maxViolation,
      dualBound: check.dualBound,
      gap: check.gap,
    },
    ...(await explainInfeasible(solved, answer, candidates)),
    cautions: [],
    warnings: planWarnings(plan),
    inputs: plan,
  };
}
