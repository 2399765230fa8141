/** The least-cost mix with few amendments, none too small to weigh: an integer program round the continuous one. */

import { batchCounts, heapsOf } from "../field/batches.ts";
import type { Amounts } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { BlendProgram } from "../program/build.ts";
import { type Reach, reachOf, simpleProgram } from "../program/simple.ts";
import { firstMix } from "../program/simple-start.ts";
import type { PlanProgram } from "../program/tags.ts";
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
  type WholePoint,
} from "../solver/whole.ts";
import { simpleWords } from "../words/demand-words.ts";
import { counted } from "../words/numbers.ts";
import { amountsOf, type Simplicity, type SolvedBlend, tieBreaks } from "./solve-blend.ts";

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

type Limits = NonNullable<Plan["simple"]>;

/** Whether a mix keeps the limits of `simple`: so many amendments in a blend, so much of each in a batch. */
export function isSimple(plan: Plan, amounts: Amounts, limits: Limits = plan.simple ?? {}): boolean {
  const { most = Infinity, leastKg = 0 } = limits;
  const counts = batchCounts(plan, amounts);
  return heapsOf(plan, amounts).every((heap, b) => {
    const each = heap.flatMap((kg) => (kg > 0 ? [kg / Math.max(1, counts[b]!)] : []));
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
  const limits = plan.simple ?? {};
  const known = { freeCost: answer.check.cost, free: program };
  const search = new Search(plan, program, answer, limit);
  if (isSimple(plan, search.free.amounts))
    return { ...free, simplicity: { ...known, gap: answer.check.gap, claimed: false } };
  const found = await search.cheapest(limits);
  if (found === "open")
    throw new UnverifiedError("No mix with so few amendments was found in time; allow more of them.");
  if (found === "none") {
    const elastic = relax(program);
    if (!elastic) throw new UnverifiedError("It could not be verified that no mix is simple enough.");
    return {
      ...free,
      // Its rows can be kept; that no choice of amendments keeps them is the search's proof.
      answer: { status: "infeasible", engine: answer.engine, certificate: [], rows: [], elastic },
      simplicity: { ...known, gap: 0, claimed: search.claimed, ...(await faultOf(search, plan)) },
    };
  }
  const { point } = found;
  const held = await search.proven(found, limits);
  if (held === null) throw new UnverifiedError("The simple mix could not be verified; no mix is printed.");
  const { blend, again } = held;
  const { cost } = again.check;
  const gap = Math.max(0, cost - point.bound) / Math.max(1, Math.abs(cost));
  return {
    ...free,
    program: blend,
    answer: { ...again, engine: point.engine, check: { ...again.check, dualBound: point.bound, gap } },
    simplicity: { ...known, gap, claimed: point.claimed },
  };
}

interface Found {
  readonly point: WholePoint;
  readonly held: PlanProgram;
}

/** What is looked for: the limits, how far amounts reach within the money, and the integer program that says so. */
interface Sought {
  readonly limits: Limits;
  readonly dearest: number;
  readonly reach: Reach;
  readonly whole: PlanProgram;
}

/** A mix that keeps the limits, as a point of the integer program. */
interface Beginning {
  readonly x: readonly number[];
  readonly cost: number;
}

/** The searches of one plan, which share its time. */
class Search {
  /** The mix without limits. */
  readonly free: NonNullable<Simplicity["nearest"]>;
  /** Some search ended with the word of HiGHS that there is no such mix. */
  claimed = false;
  private readonly deadline: number;
  private readonly freeKg: number;
  /** What a mix may well cost. */
  private readonly scale: number;

  constructor(
    private readonly plan: Plan,
    private readonly program: BlendProgram,
    private readonly answer: Proven,
    private readonly limit: TimeLimit,
  ) {
    this.free = { amounts: amountsOf(plan, program, answer.x), cost: answer.check.cost };
    this.deadline = limit.clock() + (limit.seconds ?? TIME_LIMIT) * 1000;
    this.freeKg = program.use.flat().reduce((sum, j) => sum + answer.x[j]!, 0);
    const dearest = Math.max(0, ...program.columns.map((column) => column.cost));
    this.scale = Math.max(answer.check.cost, 0.01 * dearest * this.freeKg);
  }

  /** Whether the time is over. */
  late(): boolean {
    return this.limit.clock() >= this.deadline;
  }

  /** The cheapest mix within limits; `none` where there is none, `open` where the search came to no end. */
  async cheapest(limits: Limits): Promise<Found | "none" | "open"> {
    const { scale } = this;
    const start = this.beginning(limits);
    // Nothing dearer than a mix at hand needs to be looked at.
    const sums = start ? [start.cost * (1 + 1e-6) + 1e-6 * scale] : DEARER.map((times) => times * scale);
    for (const [k, dearest] of sums.entries()) {
      const last = k === sums.length - 1;
      const reach = this.reach(dearest);
      const whole = simpleProgram(this.plan, this.program, reach, limits);
      const first = start && worstViolation(whole, start.x).amount <= 1e-8 ? start : null;
      const found = this.fewAmendments({ reach, limits, dearest, whole }, first);
      if (found.status === "finished" && !found.x) continue;
      if (found.status === "finished" && found.x && found.cost <= dearest)
        return { point: pointOf(whole, found.x, found, OWN_ENGINE), held: holdWhole(whole, found.x).program };
      const point = await this.run(whole, found.x);
      if (point.status === "nothing") return "open";
      // Amounts reach only as far as the money looked at: a dearer answer is looked for again with more of it.
      if (point.status !== "infeasible" && (point.cost <= dearest || last))
        return { point, held: holdWhole(whole, point.x).program };
    }
    return "none";
  }

  /** The mix of a choice of amendments, solved again and held against its limits; null where it does not hold up. */
  async proven(
    { held }: Found,
    limits: Limits,
  ): Promise<{ blend: BlendProgram; again: Proven; amounts: Amounts } | null> {
    const blend = { ...this.program, ...held };
    const again = await solveProgram(blend, tieBreaks(blend));
    if (again.status !== "optimal") return null;
    const amounts = amountsOf(this.plan, blend, again.x);
    return isSimple(this.plan, amounts, limits) ? { blend, again, amounts } : null;
  }

  private reach(mostSpent: number): Reach {
    return reachOf(this.plan, this.program, mostSpent, this.freeKg);
  }

  /** A mix within the limits to begin from; null where none was found at once. */
  private beginning(limits: Limits): Beginning | null {
    const { plan, program } = this;
    const reach = this.reach(this.scale * DEARER[0]!);
    const first = firstMix(plan, program, this.answer.x, limits.most ?? Infinity, reach.useKg);
    if (!first) return null;
    const { x, cost } = this.among((a, b) => first[a]![b]!, reach, limits, { nodes: START_NODES });
    return x && { x, cost };
  }

  /** A search that uses some amendments alone. */
  private among(
    allowed: (a: number, b: number) => boolean,
    reach: Reach,
    limits: Limits,
    within: SearchLimits,
  ): SearchResult {
    const useKg = reach.useKg.map((row, a) => row.map((kg, b) => (allowed(a, b) ? kg : 0)));
    return branchAndBound(simpleProgram(this.plan, this.program, { ...reach, useKg }, limits), within);
  }

  /**
   * The cheapest mix with few amendments, by two searches in turn: one over which amendments are used, which is quick
   * where their number is what matters, and one over all whole numbers, which is quick where weights are. Each goes on
   * from the best mix of the one before. Where weights alone are limited, it is left to the larger search.
   */
  private fewAmendments(sought: Sought, start: Beginning | null): SearchResult {
    const { most } = sought.limits;
    const { x = null, cost = Infinity } = start ?? {};
    let best: SearchResult = { status: "stopped", x, cost, bound: -Infinity, nodes: 0 };
    if (most === undefined || most >= this.plan.amendments.length) return best;
    const stop = this.stopAfter(FEW_SHARE);
    const known = (): Beginning | null => best.x && { x: best.x, cost: best.cost };
    const turns = [
      () => this.byChoice(sought, most, known(), { nodes: TURNS.choice, stop }),
      () => branchAndBound(sought.whole, { nodes: TURNS.whole, stop }, best.x),
      () => this.byChoice(sought, most, known(), { nodes: FEW_NODES, stop }),
    ];
    for (const turn of turns) {
      best = turn();
      if (best.status === "finished") break;
    }
    return best;
  }

  /** Searches over which amendments are used. */
  private byChoice(
    { reach, limits, dearest }: Sought,
    most: number,
    start: Beginning | null,
    within: SearchLimits,
  ): SearchResult {
    const { program } = this;
    const least = limits.leastKg ?? 0;
    return chooseFew(program, {
      ...within,
      groups: program.blends.map((_, b) => ({ columns: program.use.map((columns) => columns[b]!), most })),
      least: program.columns.map(() => least),
      dearest,
      start,
      settle: (allowed) =>
        this.among((a, b) => allowed(program.use[a]![b]!), reach, limits, { ...within, nodes: START_NODES }),
    });
  }

  /** Asked at every node of a search that may use a share of the time that is left. */
  private stopAfter(share: number): () => boolean {
    const { clock } = this.limit;
    const begun = clock();
    const end = begun + Math.max(LEAST_SECONDS * 1000, share * (this.deadline - begun));
    return () => clock() >= end;
  }

  private async run(program: PlanProgram, start: readonly number[] | null): ReturnType<typeof solveWhole> {
    const { clock } = this.limit;
    const seconds = Math.max(LEAST_SECONDS, (this.deadline - clock()) / 1000);
    const answer = await solveWhole(program, { start, clock, seconds, nodes: NODES });
    if (answer.status === "infeasible" && answer.claimed) this.claimed = true;
    return answer;
  }
}

/** Why no mix is simple enough, with the fewest amendments that would do, and the mix that comes nearest. */
async function faultOf(search: Search, plan: Plan): Promise<Required<Pick<Simplicity, "fault" | "nearest">>> {
  const { most, leastKg } = plan.simple ?? {};
  const ways: string[] = [];
  let nearest: Simplicity["nearest"];
  const consider = async (limits: Limits): Promise<boolean> => {
    const found = await search.cheapest(limits);
    if (found === "none" || found === "open") return false;
    const held = nearest ? null : await search.proven(found, limits);
    if (held) nearest = { amounts: held.amounts, cost: held.again.check.cost };
    return true;
  };
  if (most !== undefined) {
    for (let more = most + 1; more <= plan.amendments.length && !search.late(); more++) {
      if (!(await consider({ most: more, ...defined({ leastKg }) }))) continue;
      ways.push(`allow ${counted(more, "amendment")}`);
      break;
    }
  }
  if (leastKg !== undefined && (await consider(defined({ most }))))
    ways.push("allow smaller weights in a batch, or make larger batches");
  const demands = simpleWords(plan, "each amendment");
  const text = `Mixes meet the plan, but none with ${demands.join(" and ")}.`;
  const said = ways.length > 0 ? `${text} To make it possible, ${ways.join("; or ")}.` : text;
  return { fault: { text: said, demands }, nearest: nearest ?? search.free };
}
