/**
 * The shares of the applications, in steps of 5 percent, that cost least while they feed in time.
 *
 * For given shares the blend is a linear program; over the shares it is not, so the grid is searched by branch and bound.
 * A partly chosen split is bounded from below by the program in which every amendment may split the rest of itself as it
 * likes. The bound is taken from duals and proves itself; the split that wins is solved and proven like any plan.
 */
import type { Plan } from "../model.ts";
import { type BlendProgram, buildProgram } from "../program/build.ts";
import type { PlanColumn, PlanProgram, PlanRow } from "../program/tags.ts";
import { layOutSeason } from "../season/season.ts";
import { Simplex } from "../solver/simplex.ts";
import { dualBound } from "../solver/verify.ts";

/** Steps of the grid: 20 of 5 percent each. */
const SPLIT_STEPS = 20;
/** Programs solved at most before the search stops with the best split found. */
const MOST_PROGRAMS = 40_000;
/** Costs nearer than this, relative to the larger, are the same. */
const SAME = 1e-9;

/** Shares by application, in plan order, and what they cost; null: no mix. */
interface SplitCost {
  readonly shares: readonly number[];
  readonly total: number | null;
}

/** What the search found. */
export interface BestSplit {
  /** The smallest share an application may have. */
  readonly least: number;
  /** Null where no split of the grid has a mix. */
  readonly best: SplitCost | null;
  /** The next best split of the grid. */
  readonly runnerUp: SplitCost | null;
  /** As the plan has it. */
  readonly today: SplitCost;
  /** How many splits the grid has. */
  readonly splits: number;
  /** Whether every split was looked at or ruled out. */
  readonly complete: boolean;
  /** No split of the grid can cost less than this. */
  readonly bound: number;
}

/** The plan with other shares. */
export function withShares(plan: Plan, shares: readonly number[]): Plan {
  return {
    ...plan,
    applications: plan.applications.map((application, t) => ({ ...application, share: shares[t]! })),
  };
}

/**
 * Searches the splits of a plan with one blend for all applications.
 * @param least the smallest share an application may have; taken up to the next step.
 */
export function bestSplit(plan: Plan, least: number): BestSplit {
  return new SplitSearch(plan, Math.max(0, Math.ceil(least * SPLIT_STEPS - 1e-9))).run(least);
}

/** Number of ways to part `steps` among `parts`. */
function countSplits(steps: number, parts: number): number {
  let count = 1;
  for (let k = 1; k < parts; k++) count = (count * (steps + k)) / k;
  return Math.round(count);
}

interface Known {
  readonly steps: readonly number[];
  readonly total: number;
}

class SplitSearch {
  private readonly each: BlendProgram;
  /** Rows of limits, over the weight of each amendment in the whole blend. */
  private readonly limitRows: readonly PlanRow[];
  private readonly oneUse: readonly number[];
  private programs = 0;
  private readonly known = new Map<string, number | null>();
  private first: Known | null = null;
  private second: Known | null = null;

  constructor(
    private readonly plan: Plan,
    private readonly leastSteps: number,
  ) {
    const season = layOutSeason(plan);
    this.each = buildProgram({ ...plan, blend: "each", limits: [] }, season);
    const one = buildProgram({ ...plan, blend: "one" }, season);
    this.limitRows = one.rows.filter(({ tag }) => /^(share|amount)-(min|max)$/.test(tag.kind));
    this.oneUse = one.use.map((columns) => columns[0]!);
  }

  run(least: number): BestSplit {
    const { plan, leastSteps } = this;
    const today = plan.applications.map(({ share }) => share);
    const todayTotal = this.solve(today).total;
    const spare = SPLIT_STEPS - today.length * leastSteps;
    const start = this.nearest(today);
    this.look(start);
    this.climb(start);
    const root = this.solve([]).bound;
    const complete = this.branch([]);
    const asShares = (known: Known | null): SplitCost | null =>
      known && { shares: known.steps.map((s) => s / SPLIT_STEPS), total: known.total };
    return {
      least,
      best: asShares(this.first),
      runnerUp: asShares(this.second),
      today: { shares: today, total: todayTotal },
      splits: countSplits(spare, today.length),
      complete,
      bound: complete && this.first ? this.first.total : root,
    };
  }

  /** The split of the grid nearest to given shares: largest remainders, nobody below the least. */
  private nearest(shares: readonly number[]): number[] {
    const steps = shares.map((share) => Math.max(this.leastSteps, Math.floor(share * SPLIT_STEPS + 1e-9)));
    const order = shares.map((_, t) => t);
    const off = (t: number): number => shares[t]! * SPLIT_STEPS - steps[t]!;
    let left = SPLIT_STEPS - steps.reduce((sum, s) => sum + s, 0);
    while (left !== 0) {
      const sign = Math.sign(left);
      const t = order
        .filter((k) => sign > 0 || steps[k]! > this.leastSteps)
        .reduce((best, k) => (sign * off(k) > sign * off(best) ? k : best));
      steps[t]! += sign;
      left -= sign;
    }
    return steps;
  }

  /** Moves single steps between two applications while that saves money. */
  private climb(from: readonly number[]): void {
    let at = from;
    for (;;) {
      let best = this.known.get(at.join()) ?? Infinity;
      let next = at;
      for (let a = 0; a < at.length; a++)
        for (let b = 0; b < at.length; b++) {
          if (a === b || at[a]! <= this.leastSteps) continue;
          const moved = at.map((s, t) => s + (t === b ? 1 : 0) - (t === a ? 1 : 0));
          const total = this.look(moved) ?? Infinity;
          if (total < best - SAME * Math.max(1, best === Infinity ? 0 : best)) {
            best = total;
            next = moved;
          }
        }
      if (next === at) return;
      at = next;
    }
  }

  /** Solves one split, once, and remembers the two cheapest. */
  private look(steps: readonly number[]): number | null {
    const key = steps.join();
    const before = this.known.get(key);
    if (before !== undefined) return before;
    const { total } = this.solve(steps.map((s) => s / SPLIT_STEPS));
    this.known.set(key, total);
    if (total === null) return null;
    const beats = (other: Known | null): boolean =>
      other === null || total < other.total - SAME * Math.max(1, other.total);
    if (beats(this.first)) {
      this.second = this.first;
      this.first = { steps, total };
    } else if (beats(this.second)) this.second = { steps, total };
    return total;
  }

  /** Looks at every split that begins like this, unless its bound rules it out. False: the search ran out of programs. */
  private branch(prefix: readonly number[]): boolean {
    if (this.programs > MOST_PROGRAMS) return false;
    const rest = this.plan.applications.length - prefix.length;
    const left = SPLIT_STEPS - prefix.reduce((sum, s) => sum + s, 0);
    if (rest === 1) {
      this.look([...prefix, left]);
      return true;
    }
    if (prefix.length > 0) {
      const { bound } = this.solve(prefix.map((s) => s / SPLIT_STEPS));
      const second = this.second?.total ?? Infinity;
      if (bound === Infinity || bound >= second - SAME * Math.max(1, Math.abs(bound))) return true;
    }
    for (let s = this.leastSteps; s <= left - (rest - 1) * this.leastSteps; s++)
      if (!this.branch([...prefix, s])) return false;
    return true;
  }

  /**
   * Solves the program for shares that begin as given. With every share given that is the plan's own program; with fewer,
   * each amendment splits what is left of itself as it likes, each part at least the least share.
   */
  private solve(prefix: readonly number[]): { total: number | null; bound: number } {
    this.programs++;
    const program = this.program(prefix);
    const simplex = new Simplex(program);
    const status = simplex.optimise();
    if (status === "infeasible") return { total: null, bound: Infinity };
    if (status !== "optimal") return { total: null, bound: -Infinity };
    const x = simplex.point();
    const total = program.columns.reduce((sum, column, j) => sum + column.cost * x[j]!, 0);
    return { total, bound: dualBound(program, simplex.duals(), total) };
  }

  private program(prefix: readonly number[]): PlanProgram {
    const { plan, each } = this;
    const amendments = plan.amendments.length;
    const fixed = prefix.reduce((sum, share) => sum + share, 0);
    const whole = prefix.length === plan.applications.length;
    const least = this.leastSteps / SPLIT_STEPS;
    // A part is the share of an amendment that one column means: all of it, or what goes into one free application.
    const free = whole ? [null] : plan.applications.map((_, t) => t).slice(prefix.length);
    const columns: PlanColumn[] = [];
    const at = (a: number, k: number): number => a * free.length + k;
    const toWhole = whole ? 1 : 1 / (1 - fixed);
    for (let a = 0; a < amendments; a++) {
      const { id } = plan.amendments[a]!;
      const limit = plan.limits.find((l) => l.id === id);
      const barred = (limit?.notIn ?? []).some((t) => (t < prefix.length ? prefix[t]! > 0 : least > 0));
      for (const t of free) {
        const never = barred || (t !== null && (limit?.notIn.includes(t) ?? false));
        const cost = each.columns[each.use[a]![0]!]!.cost * toWhole;
        columns.push({ tag: { kind: "use", id, application: t }, cost, upper: never ? 0 : Infinity });
      }
    }
    const bought = each.buy.map((column) => {
      if (column === null) return null;
      columns.push(each.columns[column]!);
      return columns.length - 1;
    });

    const rows: PlanRow[] = each.rows.map((row) => {
      const byUse = new Map(row.index.map((j, k) => [j, row.value[k]!]));
      const index: number[] = [];
      const value: number[] = [];
      const put = (j: number, v: number): void => {
        if (v === 0) return;
        index.push(j);
        value.push(v);
      };
      for (let a = 0; a < amendments; a++) {
        const own = each.use[a]!.map((j) => byUse.get(j) ?? 0);
        const given = prefix.reduce((sum, share, t) => sum + share * own[t]!, 0) * toWhole;
        free.forEach((t, k) => {
          put(at(a, k), given + (t === null ? 0 : own[t]!));
        });
        const buy = each.buy[a] ?? null;
        if (buy !== null) put(bought[a]!, byUse.get(buy) ?? 0);
      }
      return { ...row, index, value };
    });
    for (const row of this.limitRows) {
      const index = row.index.flatMap((j) => free.map((_, k) => at(this.oneUse.indexOf(j), k)));
      const value = row.value.flatMap((v) => free.map(() => v * toWhole));
      rows.push({ ...row, index, value });
    }
    if (!whole && least > 0 && free.length > 1)
      for (let a = 0; a < amendments; a++)
        for (let k = 0; k < free.length; k++) {
          // part >= least share of the whole: part - least * sum / (1 - fixed) >= 0
          const tag = { kind: "other", label: "least share" } as const;
          const index = free.map((_, other) => at(a, other));
          const value = free.map((_, other) => (other === k ? 1 : 0) - least * toWhole);
          rows.push({ tag, index, value, lower: 0, upper: Infinity });
        }
    return { columns, rows };
  }
}
