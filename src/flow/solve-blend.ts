/** A plan's blend with all it asks for, solved and proven; what every flow begins with. */
import type { Amounts } from "../field/delivery.ts";
import type { Demand, Plan } from "../model.ts";
import { type BlendProgram, buildProgram } from "../program/build.ts";
import type { Conflict, Verification } from "../results/solution.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import { type Proven, type ProvenInfeasible, solveProgram } from "../solver/solve.ts";
import { type Check, UnverifiedError } from "../solver/verify.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { weight } from "../words/numbers.ts";
import type { SureFault, SureFound } from "./sure.ts";

/** What the limits of `simple` come to. */
export interface Simplicity {
  /** What the mix costs without them. */
  readonly freeCost: number;
  readonly gap: number;
  /** That nothing simpler is cheaper is the word of HiGHS alone. */
  readonly claimed: boolean;
  /** The program without them; the blend's own program holds the choices that were made. */
  readonly free: BlendProgram;
  /** Why no mix keeps them, where none does; what else is in the answer then means nothing. */
  readonly fault?: Conflict;
  /** With `fault`: the mix that comes nearest, the cheapest with the fewest amendments or with smaller weights. */
  readonly nearest?: { readonly amounts: Amounts; readonly cost: number };
}

/** A solved plan with the parts that further commands work on. */
export interface SolvedBlend {
  readonly plan: Plan;
  readonly season: Season;
  readonly program: BlendProgram;
  readonly answer: Proven | ProvenInfeasible;
  /** Where the plan asks for few amendments that can be weighed. */
  readonly simplicity?: Simplicity;
  /** Where the plan asks to be sure of needs: what was found, or why there is none so sure. */
  readonly sure?: SureFound;
  readonly sureFault?: SureFault;
}

/** What shows that an answer is right, as a result. */
export function verificationOf({ engine, check }: { engine: string; check: Check }): Verification {
  const { maxViolation, dualBound, gap } = check;
  return { engine, maxViolation, dualBound, gap };
}

/**
 * Costs that choose among equal optima: the least worth of what is used (stock at what it costs to buy again; without any
 * price nothing), less total weight, then earlier ids (later ones are held down harder).
 */
export function tieBreaks(program: BlendProgram): number[][] {
  const weight = program.columns.map((column) => (column.tag.kind === "use" ? 1 : 0));
  const order = program.columns.map(() => 0);
  program.use.forEach((columns, a) => {
    columns.forEach((j, b) => {
      order[j] = a + b / (columns.length + 1);
    });
  });
  const worth = program.columns.map((_, j) => program.worth[j] ?? 0);
  // Without stock the cost is the worth.
  return program.columns.every(({ cost }, j) => cost === worth[j]) ? [weight, order] : [worth, weight, order];
}

/**
 * Solves the blend of a plan and proves the answer.
 * @param limit how long the search for few amendments may take; absent: as many programs as it may look at.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveBlend(plan: Plan, limit?: TimeLimit): Promise<SolvedBlend> {
  const free = await solveFreely(plan);
  if (free.answer.status !== "optimal") return free;
  const sure = plan.sure && (await import("./sure.ts"));
  const solved = sure ? await sure.solveSurely(free, free.answer) : free;
  if (!plan.simple || solved.answer.status !== "optimal") return solved;
  const { solveSimple } = await import("./simple.ts");
  return sure && solved.sure
    ? sure.simpleAndSure(solved, solved.sure, (blend, answer) => solveSimple(blend, answer, limit))
    : solveSimple(solved, solved.answer, limit);
}

/**
 * Solves the blend of a plan without its `simple`, and proves the answer.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveFreely(asked: Plan): Promise<SolvedBlend> {
  const season = layOutSeason(asked);
  const plan = await settleCaps(asked, season);
  const program = buildProgram(plan, season);
  const answer = await solveProgram(program, tieBreaks(program));
  if (answer.status === "unverified")
    throw new UnverifiedError(`The answer could not be verified (${answer.reason}); no mix is printed.`);
  return { plan, season, program, answer };
}

/** kg by amendment and application from a point of the program. */
export function amountsOf(plan: Plan, { use }: Pick<BlendProgram, "use">, x: readonly number[]): Amounts {
  return plan.amendments.map((_, a) =>
    plan.applications.map((application, t) =>
      plan.blend === "one" ? x[use[a]![0]!]! * application.share : x[use[a]![t]!]!,
    ),
  );
}

/** Room above the least possible, so that cost still has something to choose from; a judgement. */
const ROOM = 0.01;

/** The plan with the cap of one demand at so many kg; null: without. */
function capped(plan: Plan, demand: Demand, kg: number | null): Plan {
  const { appliedSoftMaxKg: _, ...rest } = demand;
  const settled: Demand = { ...rest, appliedMaxKg: kg };
  return { ...plan, demands: plan.demands.map((d) => (d === demand ? settled : d)) };
}

/**
 * A plan whose soft caps have become caps: as stated where that leaves a mix, otherwise at the least that the other
 * demands make unavoidable, with a warning. Where there is no mix at all the cap is dropped: it is not what is in the
 * way. With `simple` a cap is dropped too, since what is unavoidable is not known before the amendments are chosen.
 */
export async function settleCaps(plan: Plan, season: Season): Promise<Plan> {
  const demand = plan.demands.find(({ appliedSoftMaxKg }) => appliedSoftMaxKg !== undefined);
  if (demand?.appliedSoftMaxKg === undefined) return plan;
  const { nutrient, appliedSoftMaxKg } = demand;
  const free = capped(plan, demand, null);
  if (plan.simple) return settleCaps(free, season);
  const stated = capped(plan, demand, appliedSoftMaxKg);
  const program = buildProgram(free, season);
  const content = new Map(plan.amendments.map((a) => [a.id, a.analysis[nutrient] ?? 0]));
  const least = await solveProgram(
    {
      ...program,
      columns: program.columns.map((column) => ({
        ...column,
        cost: column.tag.kind === "use" ? (content.get(column.tag.id) ?? 0) : 0,
      })),
    },
    [],
  );
  if (least.status !== "optimal") return settleCaps(free, season);
  const leastKg = least.check.cost;
  if (leastKg <= appliedSoftMaxKg) return settleCaps(stated, season);
  const kg = leastKg * (1 + ROOM);
  const found = capped(plan, demand, kg);
  const text = `The soil's rating of phosphorus asks for at most ${weight(appliedSoftMaxKg, plan.units)} of ${nutrient}; these amendments cannot meet the other needs with less than ${weight(leastKg, plan.units)}, so that is the cap. A source of nitrogen without phosphorus would bring it down.`;
  return settleCaps(
    { ...found, warnings: [...found.warnings, { code: "phosphorus-unavoidable", text }] },
    season,
  );
}
