/** The least-cost mix with few amendments, none too small to weigh: an integer program round the continuous one. */

import { batchCounts, heapsOf } from "../field/batches.ts";
import type { Amounts } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { BlendProgram } from "../program/build.ts";
import { type Reach, reachOf, simpleProgram } from "../program/simple.ts";
import type { PlanProgram } from "../program/tags.ts";
import { branchAndBound, type SearchResult } from "../solver/branch.ts";
import { chooseFew } from "../solver/few.ts";
import { type Proven, relax, solveProgram } from "../solver/solve.ts";
import { UnverifiedError } from "../solver/verify.ts";
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

/** Nodes of one search, where no clock ends it. */
const NODES = 4000;
/** Nodes of the search over which amendments are used; each is far less work. */
const FEW_NODES = 10_000;
/** Nodes of the search that settles what one choice of them comes to. */
const SETTLE_NODES = 300;
/** Of the time that is left, what the search over amendments may use. */
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
    answer: Proven,
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
    for (const times of DEARER) {
      const last = times === DEARER.at(-1);
      const dearest = times * this.scale;
      const reach = reachOf(this.plan, this.program, dearest, this.freeKg);
      const whole = simpleProgram(this.plan, this.program, reach, limits);
      const found = this.fewAmendments(reach, limits, dearest);
      if (found?.status === "finished" && !found.x) continue;
      if (found?.status === "finished" && found.x && found.cost <= dearest)
        return { point: pointOf(whole, found.x, found, OWN_ENGINE), held: holdWhole(whole, found.x).program };
      const point = await this.run(whole, found?.x ?? null);
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

  /**
   * The cheapest mix with few amendments, by a search over which of them are used. Where weights alone are limited, it is
   * left to the larger search: null.
   */
  private fewAmendments(reach: Reach, limits: Limits, dearest: number): SearchResult | null {
    const { plan, program } = this;
    const { most, leastKg = 0 } = limits;
    if (most === undefined || most >= plan.amendments.length) return null;
    const { clock } = this.limit;
    const begun = clock();
    const end = begun + Math.max(LEAST_SECONDS * 1000, FEW_SHARE * (this.deadline - begun));
    const within = { nodes: FEW_NODES, stop: () => clock() >= end };
    return chooseFew(program, {
      ...within,
      groups: program.blends.map((_, b) => ({ columns: program.use.map((columns) => columns[b]!), most })),
      least: program.columns.map(() => leastKg),
      dearest,
      settle: (allowed) => {
        const useKg = reach.useKg.map((row, a) =>
          row.map((kg, b) => (allowed(program.use[a]![b]!) ? kg : 0)),
        );
        const whole = simpleProgram(plan, program, { ...reach, useKg }, limits);
        return branchAndBound(whole, { ...within, nodes: SETTLE_NODES });
      },
    });
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
