/** A plan's continuous blend, solved and proven; what every flow begins with. */
import type { Amounts } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import { type BlendProgram, buildProgram } from "../program/build.ts";
import type { Conflict, Verification } from "../results/solution.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import { type Proven, type ProvenInfeasible, solveProgram } from "../solver/solve.ts";
import { type Check, UnverifiedError } from "../solver/verify.ts";
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

/** Costs that choose among equal optima: less total weight, then earlier ids (later ones are held down harder). */
export function tieBreaks(program: BlendProgram): number[][] {
  const weight = program.columns.map((column) => (column.tag.kind === "use" ? 1 : 0));
  const order = program.columns.map(() => 0);
  program.use.forEach((columns, a) => {
    columns.forEach((j, b) => {
      order[j] = a + b / (columns.length + 1);
    });
  });
  return [weight, order];
}

/**
 * Solves the blend of a plan without its `simple`, and proves the answer.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveFreely(asked: Plan): Promise<SolvedBlend> {
  const season = layOutSeason(asked);
  const gives = asked.demands.some((demand) => demand.appliedSoftMaxKg !== undefined);
  const plan = gives ? await (await import("./settle.ts")).settleCaps(asked, season) : asked;
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
