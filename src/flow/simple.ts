/** The least-cost mix with few amendments, none too small to weigh: an integer program round the continuous one. */

import { batchCounts } from "../field/batches.ts";
import type { Amounts } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import { type Reach, reachOf, simpleProgram } from "../program/simple.ts";
import { firstMix } from "../program/simple-start.ts";
import type { PlanProgram } from "../program/tags.ts";
import type { Conflict } from "../results/solution.ts";
import { branchAndBound, type SearchLimits, type SearchResult } from "../solver/branch.ts";
import { chooseFew } from "../solver/few.ts";
import { type Proven, relax, solveProgram } from "../solver/solve.ts";
import { UnverifiedError, worstViolation } from "../solver/verify.ts";
import {
  holdWhole,
  OWN_ENGINE,
  pointOf,
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
/** Nodes of the search over which amendments are used; each is far less work. */
const FEW_NODES = 10_000;
/** Nodes after which the search over amendments lets another try, and that other the first again. */
const TURNS = { choice: 800, whole: 40 };
/** Of the time that is left, what those searches may use. */
const FEW_SHARE = 0.6;
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

  /** Whether the time is over. */
  late(): boolean {
    return this.limit.clock() >= this.deadline;
  }

  /** Asked at every node of a search that may use a share of the time that is left. */
  stopAfter(share: number): () => boolean {
    const { clock } = this.limit;
    const begun = clock();
    const end = begun + Math.max(LEAST_SECONDS * 1000, share * (this.deadline - begun));
    return () => clock() >= end;
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
  if (found === "open")
    throw new UnverifiedError("No mix with so few amendments was found in time; allow more of them.");
  if (found === "none") {
    const elastic = relax(program);
    if (!elastic) throw new UnverifiedError("It could not be verified that no mix is simple enough.");
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

/** The cheapest mix within limits; `none` where there is none, `open` where the search came to no end. */
async function cheapest(
  search: Search,
  { plan, program }: SolvedBlend,
  answer: Proven,
  limits: NonNullable<Plan["simple"]>,
): Promise<Found | "none" | "open"> {
  const freeKg = program.use.flat().reduce((sum, j) => sum + answer.x[j]!, 0);
  const dearest = Math.max(0, ...program.columns.map((column) => column.cost));
  const scale = Math.max(answer.check.cost, 0.01 * dearest * freeKg);
  const start = beginning(plan, program, answer.x, scale * DEARER[0]!, freeKg, limits);
  // Nothing dearer than a mix at hand needs to be looked at.
  const sums = start ? [start.cost * (1 + 1e-6) + 1e-6 * scale] : DEARER.map((times) => times * scale);
  for (const [k, mostSpent] of sums.entries()) {
    const last = k === sums.length - 1;
    const reach = reachOf(plan, program, mostSpent, freeKg);
    const { draft } = simpleProgram(plan, program, reach, limits);
    const whole = { columns: draft.columns, rows: draft.rows };
    const first = start && fitting(whole, start.x) ? start : null;
    const found = fewAmendments(search, plan, program, { reach, limits, dearest: mostSpent, whole }, first);
    if (found.status === "finished" && !found.x) continue;
    if (found.status === "finished" && found.x && found.cost <= mostSpent)
      return { point: pointOf(whole, found.x, found, OWN_ENGINE), held: holdWhole(whole, found.x).program };
    const point = await search.run(whole, found.x);
    if (point.status === "nothing") return "open";
    // Amounts reach only as far as the money looked at: a dearer answer is looked for again with more of it.
    if (point.status !== "infeasible" && (point.cost <= mostSpent || last))
      return { point, held: holdWhole(whole, point.x).program };
  }
  return "none";
}

/** What is looked for: the limits, how far amounts reach within the money, and the integer program that says so. */
interface Sought {
  readonly limits: NonNullable<Plan["simple"]>;
  readonly dearest: number;
  readonly reach: Reach;
  readonly whole: PlanProgram;
}

/** A mix that keeps the limits, as a point of the integer program. */
interface Beginning {
  readonly x: readonly number[];
  readonly cost: number;
}

/**
 * The cheapest mix with few amendments, by two searches in turn: one over which amendments are used, which is quick where
 * their number is what matters, and one over all whole numbers, which is quick where weights are. Each goes on from the
 * best mix of the one before. Where weights alone are limited, it is left to the larger search.
 */
function fewAmendments(
  search: Search,
  plan: Plan,
  program: SolvedBlend["program"],
  sought: Sought,
  start: Beginning | null,
): SearchResult {
  const most = sought.limits.most;
  let best: SearchResult = {
    status: "stopped",
    x: start?.x ?? null,
    cost: start?.cost ?? Infinity,
    bound: -Infinity,
    nodes: 0,
  };
  if (most === undefined || most >= plan.amendments.length) return best;
  const stop = search.stopAfter(FEW_SHARE);
  const known = (): Beginning | null => (best.x ? { x: best.x, cost: best.cost } : null);
  const turns = [
    () => byChoice(plan, program, sought, most, known(), { nodes: TURNS.choice, stop }),
    () => branchAndBound(sought.whole, { nodes: TURNS.whole, stop }, best.x),
    () => byChoice(plan, program, sought, most, known(), { nodes: FEW_NODES, stop }),
  ];
  for (const turn of turns) {
    best = turn();
    if (best.status === "finished") break;
  }
  return best;
}

/** Searches over which amendments are used. */
function byChoice(
  plan: Plan,
  program: SolvedBlend["program"],
  { reach, limits, dearest }: Sought,
  most: number,
  start: Beginning | null,
  within: SearchLimits,
): SearchResult {
  const smallest = Math.min(1, ...plan.applications.flatMap(({ share }) => (share > 0 ? [share] : [])));
  const least = (limits.leastKg ?? 0) / (plan.blend === "one" ? smallest : 1);
  return chooseFew(program, {
    ...within,
    groups: program.blends.map((_, b) => ({ columns: program.use.map((columns) => columns[b]!), most })),
    least: program.columns.map(() => least),
    dearest,
    start,
    settle: (allowed) => {
      const useKg = reach.useKg.map((row, a) => row.map((kg, b) => (allowed(program.use[a]![b]!) ? kg : 0)));
      const { draft } = simpleProgram(plan, program, { ...reach, useKg }, limits);
      return branchAndBound({ columns: draft.columns, rows: draft.rows }, { ...within, nodes: START_NODES });
    },
  });
}

/** A mix within the limits to begin from; null where none was found at once. */
function beginning(
  plan: Plan,
  program: SolvedBlend["program"],
  x: readonly number[],
  mostSpent: number,
  freeKg: number,
  limits: NonNullable<Plan["simple"]>,
): Beginning | null {
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
    if (found === "none" || found === "open") return false;
    if (nearest === undefined) {
      const held = await proven(free, found, limits);
      if (held) nearest = { amounts: amountsOf(plan, held.blend, held.again.x), cost: held.again.check.cost };
    }
    return true;
  };
  if (most !== undefined) {
    for (let more = most + 1; more <= plan.amendments.length && !search.late(); more++) {
      if (!(await consider({ most: more, ...(leastKg === undefined ? {} : { leastKg }) }))) continue;
      ways.push(`allow ${counted(more, "amendment")}`);
      break;
    }
  }
  if (leastKg !== undefined && (await consider(most === undefined ? {} : { most })))
    ways.push("allow smaller weights in a batch, or make larger batches");
  nearest ??= { amounts: amountsOf(plan, program, answer.x), cost: answer.check.cost };
  const text = `Mixes meet the plan, but none with ${demands.join(" and ")}.`;
  const said = ways.length > 0 ? `${text} To make it possible, ${ways.join("; or ")}.` : text;
  return { fault: { text: said, demands }, nearest };
}
