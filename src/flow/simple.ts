/** The least-cost mix with few amendments, none too small to weigh: an integer program round the continuous one. */

import { batchCounts } from "../field/batches.ts";
import type { Amounts } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { reachOf, simpleProgram } from "../program/simple.ts";
import { firstMix } from "../program/simple-start.ts";
import type { PlanProgram } from "../program/tags.ts";
import type { Conflict } from "../results/solution.ts";
import { branchAndBound } from "../solver/branch.ts";
import { type Proven, relax, solveProgram } from "../solver/solve.ts";
import { UnverifiedError, worstViolation } from "../solver/verify.ts";
import {
  holdWhole,
  solveWhole,
  TIME_LIMIT,
  type TimeLimit,
  type WholeAnswer,
  type WholePoint,
} from "../solver/whole.ts";
import { counted, weight } from "../words/numbers.ts";
import { amountsOf, type Simplicity, type SolvedBlend, tieBreaks } from "./continuous.ts";

/** A mix dearer than so many times the free one is looked for only where no other is found. */
const DEARER = [3, 3000];

/** Nodes of the search for a mix to begin from. */
const START_NODES = 300;

/** Nodes of one search, where no clock ends it. */
const NODES = 4000;
/** However late it is, a search gets so long. */
const LEAST_SECONDS = 0.2;

/** The searches of one plan, which share its time. */
class Search {
  private readonly deadline: number;
  /** Some search ended with the word of HiGHS that there is no such mix. */
  claimed = false;

  constructor(private readonly limit: TimeLimit) {
    this.deadline = limit.clock() + (limit.seconds ?? TIME_LIMIT) * 1000;
  }

  async run(program: PlanProgram, start: readonly number[] | null = null): Promise<WholeAnswer> {
    const { clock } = this.limit;
    const seconds = Math.max(LEAST_SECONDS, (this.deadline - clock()) / 1000);
    const answer = await solveWhole(program, { start, clock, seconds, nodes: NODES });
    if (answer.status === "infeasible" && answer.claimed) this.claimed = true;
    return answer;
  }
}

/** Whether a mix keeps the limits of `simple`: so many amendments in a blend, so much of each in a batch. */
export function isSimple(plan: Plan, amounts: Amounts): boolean {
  const { most = Infinity, leastKg = 0 } = plan.simple ?? {};
  const counts = batchCounts(plan, amounts);
  return plan.applications.every((_, t) => {
    const each = amounts.flatMap((row) => (row[t]! > 0 ? [row[t]! / Math.max(1, counts[t]!)] : []));
    return each.length <= most && each.every((kg) => kg >= leastKg * (1 - 1e-6));
  });
}

/**
 * Keeps to `plan.simple`, from the mix without it.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveSimple(
  free: SolvedBlend,
  answer: Proven,
  limit: TimeLimit = { clock: () => 0 },
): Promise<SolvedBlend> {
  const { plan, program } = free;
  const freeCost = answer.check.cost;
  if (isSimple(plan, amountsOf(plan, program, answer.x)))
    return { ...free, simplicity: { freeCost, gap: answer.check.gap, claimed: false, free: program } };
  const search = new Search(limit);
  const found = await cheapest(search, free, answer, plan.simple ?? {});
  if (found === null) {
    const elastic = relax(program);
    if (!elastic) throw new UnverifiedError("That no mix is simple enough could not be verified.");
    return {
      ...free,
      // Its rows can be kept; that no choice of amendments keeps them is the search's proof.
      answer: { status: "infeasible", engine: answer.engine, certificate: [], rows: [], elastic },
      simplicity: {
        freeCost,
        gap: 0,
        claimed: search.claimed,
        free: program,
        ...(await faultOf(search, free, answer)),
      },
    };
  }
  const { point } = found;
  const held = await proven(free, found, plan.simple ?? {});
  if (held === null) throw new UnverifiedError("The simple mix could not be verified; no mix is printed.");
  const { blend, again } = held;
  const { cost } = again.check;
  const gap = Math.max(0, cost - point.bound) / Math.max(1, Math.abs(cost));
  return {
    ...free,
    program: blend,
    answer: { ...again, engine: point.engine, check: { ...again.check, dualBound: point.bound, gap } },
    simplicity: { freeCost, gap, claimed: point.claimed, free: program },
  };
}

/** The mix of a choice of amendments, solved again and held against the limits it was found under; null where it does not hold up. */
async function proven(
  { plan, program }: SolvedBlend,
  { held }: Found,
  limits: NonNullable<Plan["simple"]>,
): Promise<{ readonly blend: SolvedBlend["program"]; readonly again: Proven } | null> {
  const blend = { ...program, ...held };
  const again = await solveProgram(blend, tieBreaks(blend));
  const holds =
    again.status === "optimal" && isSimple({ ...plan, simple: limits }, amountsOf(plan, blend, again.x));
  return holds ? { blend, again } : null;
}

interface Found {
  readonly point: WholePoint;
  readonly held: PlanProgram;
}

/** The cheapest mix within limits; null where there is none. */
async function cheapest(
  search: Search,
  { plan, program }: SolvedBlend,
  answer: Proven,
  limits: NonNullable<Plan["simple"]>,
): Promise<Found | null> {
  const freeKg = program.use.flat().reduce((sum, j) => sum + answer.x[j]!, 0);
  const dearest = Math.max(0, ...program.columns.map((column) => column.cost));
  const scale = Math.max(answer.check.cost, 0.01 * dearest * freeKg);
  const start = beginning(plan, program, answer.x, scale * DEARER[0]!, freeKg, limits);
  // Nothing dearer than a mix at hand needs to be looked at.
  const sums = start ? [start.cost * (1 + 1e-6) + 1e-6 * scale] : DEARER.map((times) => times * scale);
  for (const [k, mostSpent] of sums.entries()) {
    const { draft } = simpleProgram(plan, program, reachOf(plan, program, mostSpent, freeKg), limits);
    const whole = { columns: draft.columns, rows: draft.rows };
    const point = await search.run(whole, start && fitting(whole, start.x));
    if (point.status === "nothing")
      throw new UnverifiedError("No mix with so few amendments was found in time; allow more of them.");
    // Amounts reach only as far as the money looked at: a dearer answer is looked for again with more of it.
    if (point.status !== "infeasible" && (point.cost <= mostSpent || k === sums.length - 1))
      return { point, held: holdWhole(whole, point.x).program };
  }
  return null;
}

/** A mix within the limits to begin from; null where none was found at once. */
function beginning(
  plan: Plan,
  program: SolvedBlend["program"],
  x: readonly number[],
  mostSpent: number,
  freeKg: number,
  limits: NonNullable<Plan["simple"]>,
): { readonly x: readonly number[]; readonly cost: number } | null {
  const reach = reachOf(plan, program, mostSpent, freeKg);
  const first = firstMix(plan, program, x, limits.most ?? Infinity, reach.useKg);
  if (!first) return null;
  const useKg = reach.useKg.map((row, a) => row.map((kg, b) => (first[a]![b]! ? kg : 0)));
  const { draft } = simpleProgram(plan, program, { ...reach, useKg }, limits);
  const found = branchAndBound({ columns: draft.columns, rows: draft.rows }, { nodes: START_NODES });
  return found.x ? { x: found.x, cost: found.cost } : null;
}

/** A point if it keeps the rows of a program; null otherwise. */
function fitting(program: PlanProgram, x: readonly number[]): readonly number[] | null {
  return worstViolation(program, x).amount <= 1e-8 ? x : null;
}

/** Why no mix is simple enough, with the fewest amendments that would do, and the mix that comes nearest. */
async function faultOf(
  search: Search,
  free: SolvedBlend,
  answer: Proven,
): Promise<{ readonly fault: Conflict; readonly nearest: NonNullable<Simplicity["nearest"]> }> {
  const { plan, program } = free;
  const { most, leastKg } = plan.simple ?? {};
  const demands = [
    ...(most === undefined ? [] : [`at most ${counted(most, "amendment")} in a blend`]),
    ...(leastKg === undefined
      ? []
      : [`at least ${weight(leastKg, plan.units)} of each amendment in a batch`]),
  ];
  const ways: string[] = [];
  let nearest: Simplicity["nearest"];
  const consider = async (limits: NonNullable<Plan["simple"]>): Promise<boolean> => {
    const found = await cheapest(search, free, answer, limits);
    if (found === null) return false;
    if (nearest === undefined) {
      const held = await proven(free, found, limits);
      if (held) nearest = { amounts: amountsOf(plan, held.blend, held.again.x), cost: held.again.check.cost };
    }
    return true;
  };
  if (most !== undefined) {
    const fewest = await fewestAmendments();
    if (fewest !== null) {
      ways.push(`allow ${counted(fewest, "amendment")}`);
      await consider({ most: fewest, ...defined({ leastKg }) });
    }
  }
  if (leastKg !== undefined && (await consider(most === undefined ? {} : { most })))
    ways.push("allow smaller weights in a batch, or make larger batches");
  nearest ??= { amounts: amountsOf(plan, program, answer.x), cost: answer.check.cost };
  const text = `Mixes meet the plan, but none with ${demands.join(" and ")}.`;
  const said = ways.length > 0 ? `${text} To make it possible, ${ways.join("; or ")}.` : text;
  return { fault: { text: said, demands }, nearest };

  async function fewestAmendments(): Promise<number | null> {
    const freeKg = program.use.flat().reduce((sum, j) => sum + answer.x[j]!, 0);
    const mostSpent = Math.max(answer.check.cost, 1e-3) * DEARER.at(-1)!;
    const reach = reachOf(plan, program, mostSpent, freeKg);
    const { draft, columns } = simpleProgram(plan, program, reach, defined({ leastKg }));
    for (let j = 0; j < draft.columns.length; j++) draft.columns[j] = { ...draft.columns[j]!, cost: 0 };
    const count = draft.column("amendments in the longest blend", 1, plan.amendments.length, true);
    program.blends.forEach((_, b) => {
      draft.row(
        { kind: "other", label: "few amendments in a blend" },
        [...columns.uses.map((uses) => [uses[b]!, 1] as const), [count, -1]],
        -Infinity,
        0,
      );
    });
    const found = await search.run({ columns: draft.columns, rows: draft.rows });
    return "x" in found ? Math.round(found.x[count]!) : null;
  }
}
