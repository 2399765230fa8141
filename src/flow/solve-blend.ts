/** A plan's blend with all it asks for, solved and proven; what every flow begins with. */
import { type Amounts, sumKg } from "../field/delivery.ts";
import type { Demand, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import { type BlendProgram, buildProgram } from "../program/build.ts";
import type { Conflict, Verification } from "../results/solution.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import { other } from "../solver/program.ts";
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
  const simple =
    sure && solved.sure
      ? await sure.simpleAndSure(solved, solved.sure, (blend, answer) => solveSimple(blend, answer, limit))
      : await solveSimple(solved, solved.answer, limit);
  const bare = withoutCaps(plan);
  if (bare === plan || simple.simplicity?.fault === undefined) return simple;
  // What few amendments make unavoidable is not known before they are chosen: the caps that give way are left out.
  const uncapped = await solveBlend(bare, limit);
  if (uncapped.simplicity?.fault !== undefined || uncapped.answer.status !== "optimal") return simple;
  const warnings = [...uncapped.plan.warnings, CAPS_LEFT_OUT];
  return { ...uncapped, plan: { ...uncapped.plan, warnings } };
}

const CAPS_LEFT_OUT: Notice = {
  code: "cap-gave-way",
  text: "No mix as simple as asked keeps the cap on what is spread, so it was left out. Allow one more amendment, or smaller weights, to keep it.",
};

/**
 * Solves the blend of a plan without its `simple`, and proves the answer.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveFreely(asked: Plan): Promise<SolvedBlend> {
  const season = layOutSeason(asked);
  const stated = withCaps(asked, (cap) => cap);
  const solved = await solveOn(stated, season);
  if (stated === asked || solved.answer.status === "optimal") return solved;
  return solveOn(await capsGivenWay(asked, season), season);
}

async function solveOn(plan: Plan, season: Season): Promise<SolvedBlend> {
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

/** Amounts as a point of the program; of what is bought there is nothing. */
export function pointOf(plan: Plan, { columns, use }: BlendProgram, amounts: Amounts): number[] {
  const x = columns.map(() => 0);
  use.forEach((own, a) => {
    own.forEach((j, b) => {
      x[j] = plan.blend === "one" ? sumKg(amounts[a]!) : amounts[a]![b]!;
    });
  });
  return x;
}

/** Room above the least possible, so that cost still has something to choose from; a judgement. */
const ROOM = 0.01;

/**
 * A plan whose caps that give way have become caps, or none.
 * @param capOf kg of the cap of a demand, of which so much was stated; null: no cap.
 */
function withCaps(plan: Plan, capOf: (stated: number, demand: Demand) => number | null): Plan {
  if (plan.demands.every(({ appliedSoftMaxKg }) => appliedSoftMaxKg === undefined)) return plan;
  const demands = plan.demands.map((demand): Demand => {
    const { appliedSoftMaxKg, ...rest } = demand;
    if (appliedSoftMaxKg === undefined) return demand;
    return { ...rest, appliedMaxKg: capOf(appliedSoftMaxKg, demand) };
  });
  return { ...plan, demands };
}

/** A plan without those of its caps that give way. */
function withoutCaps(plan: Plan): Plan {
  return withCaps(plan, () => null);
}

/**
 * A plan whose caps that give way have become caps: as stated where that leaves a mix for its plain needs, otherwise all
 * raised by the least common share that does, with a warning for each. Where there is no mix at all they are dropped: they
 * are not what is in the way.
 */
export async function settleCaps(plan: Plan, season: Season): Promise<Plan> {
  const stated = withCaps(plan, (cap) => cap);
  if (stated === plan) return plan;
  const { answer } = await solveOn(stated, season);
  return answer.status === "optimal" ? stated : capsGivenWay(plan, season);
}

/** The same where the stated caps leave no mix. */
async function capsGivenWay(plan: Plan, season: Season): Promise<Plan> {
  const free = withoutCaps(plan);
  const { columns, rows } = buildProgram(free, season);
  const most = Math.max(...plan.demands.map(({ minKg }) => minKg));
  // A cap of nothing cannot grow by a share of itself: it grows by that share of the largest need.
  const scaleOf = (cap: number): number => (cap > 0 ? cap : most);
  const capped = buildProgram(
    withCaps(plan, (cap) => cap),
    season,
  ).rows.filter(({ tag }) => tag.kind === "applied-max");
  const share = columns.length;
  const caps = plan.demands.flatMap(({ nutrient, appliedSoftMaxKg }) => {
    const row = capped.find(({ tag }) => tag.kind === "applied-max" && tag.nutrient === nutrient);
    if (appliedSoftMaxKg === undefined || row === undefined) return [];
    return [{ ...row, index: [...row.index, share], value: [...row.value, -scaleOf(appliedSoftMaxKg)] }];
  });
  const least = await solveProgram(
    {
      columns: [
        ...columns.map((column) => ({ ...column, cost: 0 })),
        { tag: other("share by which caps give way"), cost: 1, upper: Infinity },
      ],
      rows: [...rows, ...caps],
    },
    [],
  );
  if (least.status !== "optimal") return free;
  const by = least.check.cost;
  const warnings: Notice[] = [];
  const found = withCaps(plan, (cap, { nutrient }) => {
    const leastKg = cap + by * scaleOf(cap);
    warnings.push(gaveWay(plan, nutrient, cap, leastKg));
    return leastKg * (1 + ROOM);
  });
  return { ...found, warnings: [...found.warnings, ...warnings] };
}

function gaveWay({ soil, units }: Plan, nutrient: Nutrient, cap: number, leastKg: number): Notice {
  const [stated, least] = [weight(cap, units), weight(leastKg, units)];
  const phosphorus = nutrient === "P2O5";
  const text =
    phosphorus && soil?.pRating !== undefined
      ? `The soil's rating of phosphorus asks for at most ${stated} of ${nutrient}; these amendments cannot meet the other needs with less than ${least}, so that is the cap. A source of nitrogen without phosphorus would bring it down.`
      : `The recipe asks for at most ${stated} of ${nutrient} spread; these amendments cannot meet the needs with less than ${least}, so that is the cap.${phosphorus ? " It stays in the soil for years: test the soil, since where phosphorus tests high none is needed." : ""} A source that frees more of it in time, or brings less of it with the rest, would bring it down.`;
  return { code: phosphorus ? "phosphorus-unavoidable" : "cap-gave-way", text };
}
