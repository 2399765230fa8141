/** What certainty costs step by step, and what knowing something better would save at the same sureness. */
import { LABORATORY_SPREAD } from "../files/spread-defaults.ts";
import type { Amendment, Credit, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { buildProgram } from "../program/build.ts";
import type { SureStep, WorthKnowing } from "../results/sure.ts";
import { layOutSeason } from "../season/season.ts";
import { analysisSpread } from "../season/varies.ts";
import { solveProgram } from "../solver/solve.ts";
import { mergedCuts } from "../solver/sure.ts";
import { unlessUnverified } from "../solver/verify.ts";
import { toSi } from "../units.ts";
import type { SolvedBlend } from "./solve-blend.ts";
import { askedNutrients, type Levels, STEPS, type SureFound, SureSearch } from "./sure.ts";

/**
 * What each step of certainty costs for the needs that were asked for, all at the step's level.
 * @param total cost of the mix that was found for what was asked.
 */
export async function ladderOf(
  solved: SolvedBlend,
  sure: SureFound,
  total: number,
): Promise<readonly SureStep[]> {
  const { plan } = solved;
  // Needs asked for together have no level of their own, and few amendments make each step a search of its own.
  if (plan.sure?.together || plan.simple) return [];
  const nutrients = [...askedNutrients(plan)];
  const asked = new Set(plan.sure?.each.map(({ p }) => p) ?? []);
  const only = asked.size === 1 ? [...asked][0]! : undefined;
  const search = new SureSearch(plan, { ...solved, program: sure.base }, sure.plainX);
  const steps: SureStep[] = [];
  for (const p of [...new Set([...STEPS, ...(only === undefined ? [] : [only])])].sort((a, b) => a - b)) {
    const known = p === 0.5 ? sure.plainCost : p === only ? total : undefined;
    const levels = new Map(nutrients.map((nutrient) => [nutrient, p]));
    steps.push({ p, cost: known ?? (await search.at(levels)).found?.check.cost ?? null });
  }
  return steps;
}

/** Seven nodes of Gauss and Hermite for the standard normal law (Abramowitz and Stegun, table 25.10, rescaled). */
const NODES: readonly (readonly [xi: number, weight: number])[] = [
  [-3.750439717725742, 0.000548268855972219],
  [-2.366759410734541, 0.030757123967586],
  [-1.154405394739968, 0.240123178605013],
  [0, 0.457142857142857],
  [1.154405394739968, 0.240123178605013],
  [2.366759410734541, 0.030757123967586],
  [3.750439717725742, 0.000548268855972219],
];

/** Nitrate nitrogen that a test before planting may find, all alike likely, in kg/m2: 0, 20, 40 and 60 lb/acre. */
const NITRATE_KG_PER_M2 = [0, 20, 40, 60].map((pounds) => toSi(pounds, "lb") / toSi(1, "acre"));

/** Parts of the need of phosphorus and potassium that a soil test may leave, all alike likely. */
const NEED_LEFT = [1, 0.5, 0];

/** What could be known better, and what that would save in a season; what cannot be said is left out. */
export async function worthOf(
  { plan }: SolvedBlend,
  sure: SureFound,
  amounts: readonly (readonly number[])[],
): Promise<readonly WorthKnowing[]> {
  if (plan.sure?.together || plan.simple || sure.proven === null) return [];
  const { levels } = sure;
  const now = sure.proven.check.cost;
  const prices = mergedCuts(sure.rows, sure.proven);
  const worth: WorthKnowing[] = [];
  const add = (one: Omit<WorthKnowing, "saves">, after: number | null): void => {
    if (after !== null) worth.push({ ...one, saves: Math.max(0, now - after) });
  };
  add({ what: "soil-nitrate" }, await meanCost(nitratePlans(plan), levels));
  add({ what: "soil-p-k" }, await meanCost(testedPlans(plan), levels));
  for (const [a, amendment] of plan.amendments.entries()) {
    if (!amounts[a]!.some((kg) => kg > 0)) continue;
    for (const nutrient of levels.keys()) {
      if ((amendment.analysis[nutrient] ?? 0) === 0) continue;
      const priced = sure.rows.some((row, r) => row.nutrient === nutrient && prices[r]!.price > 0);
      if (!priced) continue;
      const after = await meanCost(analysedPlans(plan, amendment, nutrient), levels);
      add({ what: "analysis", id: amendment.id, nutrient }, after);
    }
  }
  return worth.sort((a, b) => b.saves - a.saves);
}

type Weighted = readonly (readonly [Plan, weight: number])[];

/** The mean cost of plans at the same sureness; null where there are none, or one has no mix that sure. */
async function meanCost(plans: Weighted, levels: Levels): Promise<number | null> {
  if (plans.length === 0) return null;
  let sum = 0;
  for (const [plan, weight] of plans) {
    const cost = await unlessUnverified(sureCost(plan, levels));
    if (cost === null) return null;
    sum += weight * cost;
  }
  return sum;
}

/** The least cost of a plan at some sureness; null: there is no such mix. */
async function sureCost(plan: Plan, levels: Levels): Promise<number | null> {
  const season = layOutSeason(plan);
  const program = buildProgram(plan, season);
  const plain = await solveProgram(program);
  if (plain.status !== "optimal") return null;
  const reached = await new SureSearch(plan, { program, season }, plain.x).at(levels);
  return reached.found?.check.cost ?? null;
}

function nitratePlans(plan: Plan): Weighted {
  const area = plan.bed.areaM2;
  if (area === undefined || !plan.demands.some(({ nutrient, minKg }) => nutrient === "N" && minKg > 0))
    return [];
  const weight = 1 / NITRATE_KG_PER_M2.length;
  return NITRATE_KG_PER_M2.map((rate) => {
    const found: Credit = {
      from: "soil nitrate",
      day: plan.applications[0]!.day - 1,
      release: {
        label: "at-once",
        curve: { kind: "pool", atOnce: 1, later: 0, halfLifeDays: 1, q10: 1, referenceC: 25 },
      },
      contentKg: { N: rate * area },
      varies: LABORATORY_SPREAD.byNutrient.N ?? 0,
    };
    return [{ ...plan, credits: [...plan.credits, found] }, weight] as const;
  });
}

function testedPlans(plan: Plan): Weighted {
  const needed = (["P2O5", "K2O"] as const).filter((nutrient) =>
    plan.demands.some((demand) => demand.nutrient === nutrient && demand.minKg > 0),
  );
  const cases = needed.reduce<Plan[]>(
    (plans, nutrient) =>
      plans.flatMap((one) =>
        NEED_LEFT.map((part) => ({
          ...one,
          demands: one.demands.map((demand) =>
            demand.nutrient === nutrient ? { ...demand, minKg: demand.minKg * part } : demand,
          ),
        })),
      ),
    [plan],
  );
  return needed.length === 0 ? [] : cases.map((one) => [one, 1 / cases.length] as const);
}

/**
 * The plans that an analysis of one lot may lead to: what it holds is then known by the precision of the laboratory, at
 * a value that lies as far from the label's as the better knowledge leaves room for.
 */
function analysedPlans(plan: Plan, amendment: Amendment, nutrient: Nutrient): Weighted {
  const lot = analysisSpread(amendment, nutrient);
  if (lot === 0) return [];
  const laboratory = LABORATORY_SPREAD.byNutrient[nutrient] ?? LABORATORY_SPREAD.other;
  const after = 1 / Math.hypot(1 / lot, 1 / laboratory);
  const moves = Math.sqrt(lot * lot - after * after);
  return NODES.map(([xi, weight]) => {
    const known: Amendment = {
      ...amendment,
      analysis: {
        ...amendment.analysis,
        [nutrient]: amendment.analysis[nutrient]! * Math.max(0.01, 1 + moves * xi),
      },
      varies: {
        ...amendment.varies,
        byNutrient: { ...amendment.varies?.byNutrient, [nutrient]: after },
      },
    };
    const amendments = plan.amendments.map((one) => (one === amendment ? known : one));
    return [{ ...plan, amendments }, weight] as const;
  });
}
