/**
 * Branch and bound for programs with integer columns: best bound first with plunges, bounds tightened by reduced
 * costs, branching by pseudocosts begun with trial pivots (Achterberg, Koch and Martin 2005, Operations Research
 * Letters 33:42-54). Every leaf is closed by a certificate recomputed from the program's rows, so the bound it ends
 * with is proven, not claimed.
 *
 * It is meant for small programs and ends after a given number of nodes; what it has not settled is for a larger solver.
 */
import type { Program } from "./program.ts";
import { Simplex } from "./simplex.ts";
import { boundWithin, costOf, costScale, impliedUpper, provesInfeasible, worstViolation } from "./verify.ts";

/** A whole number within this counts as whole; it is then rounded, and the rest solved again. */
const WHOLE = 1e-6;
/** What rounding leaves of a zero, relative to the largest amount. */
const SPECK = 1e-10;
/** A point must keep every row within this to count. */
const KEPT = 1e-8;
/** Rows that must give way by more than this cannot be kept by any point that counts. */
const BROKEN = 1e-9;

export interface SearchResult {
  /** `finished`: `bound` proves `x`, or that there is none; `stopped`: at a limit. */
  readonly status: "finished" | "stopped";
  /** Best point found; null: none. */
  readonly x: readonly number[] | null;
  readonly cost: number;
  /** No point costs less. Infinity where there is none at all. */
  readonly bound: number;
  readonly nodes: number;
}

export interface SearchLimits {
  readonly nodes: number;
  /** Stops the search where it returns true; asked at every node, and every few pivots within one. */
  readonly stop?: () => boolean;
}

interface Change {
  readonly before: Change | null;
  readonly column: number;
  readonly lower: number;
  readonly upper: number;
}
interface Node {
  readonly changes: Change | null;
  readonly bound: number;
  /** How it was made, to learn from its bound. */
  readonly branch: { column: number; up: boolean; distance: number } | null;
}

/** The step between possible costs where every priced column is whole; 0 where there is none. */
export function costStep(program: Program): number {
  let step = 0;
  let largest = 0;
  const costs: number[] = [];
  for (const column of program.columns) {
    if (column.cost === 0) continue;
    if (!column.integer) return 0;
    const size = Math.abs(column.cost);
    costs.push(size);
    largest = Math.max(largest, size);
    step = commonStep(step, size, 1e-7 * largest);
  }
  if (step < 1e-5 * largest) return 0;
  return costs.every((cost) => Math.abs(cost / step - Math.round(cost / step)) < 1e-6) ? step : 0;
}

function commonStep(a: number, b: number, tolerance: number): number {
  let [x, y] = [a, b];
  while (y > tolerance) [x, y] = [y, Math.abs(x - Math.round(x / y) * y)];
  return x;
}

/** The least possible cost that is not below a bound, where costs go by steps. */
export function nextStep(bound: number, step: number): number {
  return step > 0 && Number.isFinite(bound) ? Math.ceil(bound / step - 1e-6) * step : bound;
}

/** What a point that is better than `x` must cost less than. */
export function cutoffBelow(program: Program, x: readonly number[], cost: number, step: number): number {
  return cost - Math.max(1e-7 * costScale(program, x, cost), step * (1 - 1e-6));
}

/**
 * Minimises over whole numbers.
 * @param start a point that keeps every row, where one is known.
 */
export function branchAndBound(
  program: Program,
  limits: SearchLimits,
  start: readonly number[] | null = null,
): SearchResult {
  return new WholeSearch(program, start).run(limits);
}

function tidy(program: Program, point: readonly number[]): number[] {
  const largest = point.reduce((most, v, j) => (program.columns[j]!.integer ? most : Math.max(most, v)), 0);
  return program.columns.map((column, j) => {
    const v = point[j]!;
    if (column.integer) return Math.round(v);
    return v <= SPECK * largest ? 0 : Math.min(column.upper, v);
  });
}

/**
 * The cheapest point with the whole numbers of a given one, rounded: what a solver says within its tolerance, made
 * exact. Null where those whole numbers do not keep every row.
 */
export function settle(program: Program, point: readonly number[]): number[] | null {
  const simplex = new Simplex(program);
  program.columns.forEach((column, j) => {
    if (!column.integer) return;
    const v = Math.min(Math.floor(column.upper + 1e-9), Math.max(0, Math.round(point[j]!)));
    simplex.setColumnBounds(j, v, v);
  });
  if (simplex.optimise() !== "optimal") return null;
  const x = tidy(program, simplex.point());
  return worstViolation(program, x).amount <= KEPT ? x : null;
}

/** A simplex whose columns have bounds of their own, and what it proves within them from the program's rows alone. */
export class Relaxed {
  /** Stops a solution where it returns true. */
  stop: (() => boolean) | undefined;
  readonly simplex: Simplex;
  readonly lower: Float64Array;
  readonly upper: Float64Array;

  constructor(private readonly program: Program) {
    this.simplex = new Simplex(program);
    this.lower = new Float64Array(program.columns.length);
    // What the rows allow is as good for a proof as a bound of the column's own.
    this.upper = impliedUpper(program);
  }

  copyFrom(other: Relaxed): void {
    this.simplex.copyFrom(other.simplex);
    this.lower.set(other.lower);
    this.upper.set(other.upper);
  }

  setBounds(j: number, lower: number, upper: number): void {
    this.lower[j] = lower;
    this.upper[j] = upper;
    this.simplex.setColumnBounds(j, lower, upper);
  }

  /** The amount of a column. */
  value(j: number): number {
    return this.simplex.amount(j);
  }

  /** The lower bound that the present duals prove; -Infinity where they prove nothing. */
  provenBound(into?: Float64Array): number {
    return boundWithin(this.program, this.simplex.duals(), this.lower, this.upper, into);
  }

  /** Whether the row that could not be repaired proves that no point is within the bounds. */
  provenInfeasible(): boolean {
    const ray = this.simplex.ray();
    return ray !== null && provesInfeasible(this.program, ray, this.lower, this.upper, BROKEN) !== null;
  }

  /**
   * Solves what is within the bounds, for a search in which nothing dearer than `cutoff` counts.
   * @param into filled with the reduced costs, where given.
   * @returns a certified bound; Infinity where nothing that counts is there; null where neither could be certified, and
   *   where it was told to stop.
   */
  solve(cutoff: number, into?: Float64Array): number | null {
    const { simplex, stop } = this;
    for (let attempt = 0; attempt < 3; attempt++) {
      let status = simplex.optimise({ cutoff, stop });
      if (status === "late") return null;
      if (status === "infeasible") {
        if (this.provenInfeasible() || this.provenBound() > cutoff) return Infinity;
      } else if (status !== "stalled") {
        if (status === "cut off") {
          if (this.provenBound() > cutoff) return Infinity;
          status = simplex.optimise({ stop });
          if (status === "late") return null;
        }
        const bound = this.provenBound(into);
        if (bound > cutoff) return Infinity;
        if (status === "optimal" && bound > -Infinity) return bound;
      }
      if (attempt === 0) simplex.refactor();
      else simplex.startFromLogicals();
    }
    return null;
  }
}

/** A search that goes on where it stopped, as often as it is run. */
export class WholeSearch {
  private readonly tableau: Relaxed;
  private readonly trial: Relaxed;
  private readonly whole: number[];
  private readonly step: number;
  private readonly lower: Float64Array;
  private readonly upper: Float64Array;
  private readonly reduced: Float64Array;
  /** Bounds of the node being entered. */
  private readonly low: Float64Array;
  private readonly high: Float64Array;
  private readonly gain: [Float64Array, Float64Array];
  private readonly seen: [Int32Array, Int32Array];
  private rootReduced: Float64Array | null = null;
  private rootBound = -Infinity;
  private best: number[] | null = null;
  private bestCost = Infinity;
  private cutoff = Infinity;
  private nodes = 0;
  /** Least bound over leaves that could not be certified beyond it. */
  private unsettled = Infinity;
  private readonly open: Node[] = [{ changes: null, bound: -Infinity, branch: null }];
  private late: () => boolean = () => false;

  /** @param start a point that keeps every row, where one is known. */
  constructor(
    private readonly program: Program,
    start: readonly number[] | null = null,
  ) {
    const n = program.columns.length;
    this.whole = program.columns.flatMap((column, j) => (column.integer ? [j] : []));
    this.step = costStep(program);
    this.tableau = new Relaxed(program);
    this.trial = new Relaxed(program);
    this.lower = new Float64Array(n);
    this.upper = Float64Array.from(program.columns, (column) =>
      column.integer ? Math.floor(column.upper + 1e-9) : column.upper,
    );
    this.reduced = new Float64Array(n);
    this.low = new Float64Array(n);
    this.high = new Float64Array(n);
    this.gain = [new Float64Array(n), new Float64Array(n)];
    this.seen = [new Int32Array(n), new Int32Array(n)];
    if (start) this.accept(start);
  }

  /** Takes a point that another has found, where it is better than the best here and keeps every row. */
  offer(point: readonly number[]): boolean {
    return this.accept(point);
  }

  /** Goes on. `limits.nodes` counts those of earlier runs too. */
  run({ nodes, stop }: SearchLimits): SearchResult {
    this.late = () => stop?.() ?? false;
    this.tableau.stop = stop;
    this.trial.stop = stop;
    let node = this.next();
    while (node) {
      if (this.nodes >= nodes || this.late()) {
        this.open.push(node);
        return this.result("stopped");
      }
      this.nodes++;
      node = this.visit(node) ?? this.next();
    }
    return this.result("finished");
  }

  private result(end: "finished" | "stopped"): SearchResult {
    // Leaves are closed where nothing below them can be better by a step; so much is proven, and no more.
    const closed = this.step > 0 ? this.bestCost : this.cutoff;
    let bound = Math.min(closed, this.unsettled);
    if (end === "stopped") for (const node of this.open) bound = Math.min(bound, node.bound);
    const status = bound < closed ? "stopped" : "finished";
    bound = Math.min(closed, nextStep(bound, this.step));
    return { status, x: this.best, cost: this.bestCost, bound, nodes: this.nodes };
  }

  /** The open node with the least bound. */
  private next(): Node | null {
    const { open } = this;
    for (;;) {
      if (open.length === 0) return null;
      let least = 0;
      for (let k = 1; k < open.length; k++) if (open[k]!.bound < open[least]!.bound) least = k;
      const node = open[least]!;
      open[least] = open[open.length - 1]!;
      open.pop();
      if (node.bound <= this.cutoff) return node;
    }
  }

  private enter(node: Node): boolean {
    const { tableau, whole, low, high } = this;
    for (const j of whole) {
      low[j] = this.lower[j]!;
      high[j] = this.upper[j]!;
    }
    for (let change = node.changes; change; change = change.before) {
      const j = change.column;
      if (change.lower > low[j]!) low[j] = change.lower;
      if (change.upper < high[j]!) high[j] = change.upper;
    }
    for (const j of whole) {
      if (low[j]! > high[j]!) return false;
      if (tableau.lower[j] !== low[j] || tableau.upper[j] !== high[j])
        tableau.setBounds(j, low[j]!, high[j]!);
    }
    return true;
  }

  /** Solves a node; returns the child to go on with, or null where it is closed. */
  private visit(node: Node): Node | null {
    const { tableau } = this;
    if (!this.enter(node)) return null;
    let changes = node.changes;
    for (let round = 0; ; round++) {
      const bound = this.relax(node);
      if (bound === null) return null;
      if (this.late()) return this.putBack({ ...node, changes, bound });
      if (node.branch && round === 0) this.learn(node, bound);
      if (changes === null && round === 0) {
        this.rootBound = bound;
        this.rootReduced = this.reduced.slice();
        this.tightenRoot();
      }
      const fractional = this.fractional();
      if (fractional.length === 0) {
        this.tryPoint();
        if (this.late()) return this.putBack({ ...node, changes, bound });
        if (bound > this.cutoff) return null;
        // Whole within the tolerance, and yet the rounded point is no better: what was rounded is branched on.
        const rounded = this.leastWhole();
        if (rounded >= 0) return this.split(rounded, bound, changes);
        this.unsettled = Math.min(this.unsettled, bound);
        return null;
      }
      if (round === 0 && (node.changes === null || this.nodes % 8 === 0)) {
        this.tryRoundingUp();
        if (bound > this.cutoff) return null;
      }
      changes = this.tightenHere(bound, changes);
      const choice = this.choose(fractional, bound);
      if (choice.tightened.length > 0) {
        // One side of a branch is certified empty: the other side is all there is here.
        for (const [column, lower, upper] of choice.tightened) {
          changes = { before: changes, column, lower, upper };
          tableau.setBounds(column, lower, upper);
          if (lower > upper) return null;
        }
        if (round < 20) continue;
      }
      return this.split(choice.column, bound, changes);
    }
  }

  /** The certified bound of the present relaxation; null where the node is closed. */
  private relax(node: Node): number | null {
    const bound = this.tableau.solve(this.cutoff, this.reduced);
    if (bound === null && this.late()) return this.putBack(node);
    if (bound === null) this.unsettled = Math.min(this.unsettled, node.bound);
    return bound === null || bound === Infinity ? null : Math.max(bound, node.bound);
  }

  /** What there was no time for is visited again. */
  private putBack(node: Node): null {
    this.open.push(node);
    return null;
  }

  private fractional(): number[] {
    return this.whole.filter((j) => {
      const v = this.tableau.value(j);
      return Math.abs(v - Math.round(v)) > WHOLE;
    });
  }

  /** Of the columns that are whole only within the tolerance, and may still move, the one that is least so; -1: none. */
  private leastWhole(): number {
    let least = -1;
    let most = SPECK;
    for (const j of this.whole) {
      const v = this.tableau.value(j);
      const off = Math.abs(v - Math.round(v));
      const free = this.tableau.lower[j]! < this.tableau.upper[j]!;
      if (free && off > most) {
        most = off;
        least = j;
      }
    }
    return least;
  }

  private learn(node: Node, bound: number): void {
    const { column, up, distance } = node.branch!;
    const side = up ? 1 : 0;
    this.gain[side][column]! += Math.max(0, bound - node.bound) / distance;
    this.seen[side][column]!++;
  }

  /** Uses the present point: its whole numbers rounded, everything else solved again. */
  private tryPoint(): boolean {
    return this.tryWhole((j) => Math.round(this.tableau.value(j)));
  }

  private tryRoundingUp(): boolean {
    return this.tryWhole((j) => Math.min(this.upper[j]!, Math.ceil(this.tableau.value(j) - WHOLE)));
  }

  private tryWhole(choose: (j: number) => number): boolean {
    const { trial, whole } = this;
    trial.copyFrom(this.tableau);
    for (const j of whole) {
      const v = choose(j);
      trial.setBounds(j, v, v);
    }
    const limits = { cutoff: this.cutoff, stop: trial.stop };
    if (trial.simplex.optimise(limits) !== "optimal") return false;
    return this.accept(trial.simplex.point());
  }

  private accept(point: readonly number[]): boolean {
    const { program } = this;
    const x = tidy(program, point);
    if (worstViolation(program, x).amount > KEPT) return false;
    const cost = costOf(program, x);
    if (!(cost < this.bestCost)) return false;
    this.best = x;
    this.bestCost = cost;
    this.cutoff = cutoffBelow(program, x, cost, this.step);
    this.tightenRoot();
    return true;
  }

  /** Tightens bounds everywhere by the root's reduced costs. */
  private tightenRoot(): void {
    const d = this.rootReduced;
    const room = this.cutoff - this.rootBound;
    if (!d || !Number.isFinite(room)) return;
    for (const j of this.whole) {
      if (d[j]! > 1e-9) {
        const most = this.lower[j]! + Math.floor(room / d[j]! + 1e-6);
        if (most < this.upper[j]!) this.upper[j] = Math.max(most, this.lower[j]!);
      } else if (d[j]! < -1e-9 && Number.isFinite(this.upper[j]!)) {
        const least = this.upper[j]! - Math.floor(room / -d[j]! + 1e-6);
        if (least > this.lower[j]!) this.lower[j] = Math.min(least, this.upper[j]!);
      }
    }
  }

  /** Tightens bounds below this node by its own reduced costs. */
  private tightenHere(bound: number, changes: Change | null): Change | null {
    const { tableau, reduced } = this;
    const room = this.cutoff - bound;
    if (!Number.isFinite(room)) return changes;
    let chain = changes;
    for (const j of this.whole) {
      const low = tableau.lower[j]!;
      const high = tableau.upper[j]!;
      if (low === high || tableau.simplex.isBasic(j)) continue;
      const d = reduced[j]!;
      if (d > 1e-9) {
        const most = low + Math.floor(room / d + 1e-6);
        if (most < high) chain = { before: chain, column: j, lower: low, upper: most };
      } else if (d < -1e-9) {
        const least = high - Math.floor(room / -d + 1e-6);
        if (least > low) chain = { before: chain, column: j, lower: least, upper: high };
      }
    }
    return chain;
  }

  /** The column to branch on, and bounds that trial pivots have certified. */
  private choose(
    fractional: readonly number[],
    bound: number,
  ): { column: number; tightened: [number, number, number][] } {
    const { tableau, trial } = this;
    const score = (down: number, up: number): number => Math.max(down, 1e-9) * Math.max(up, 1e-9);
    const average = (side: 0 | 1): number => {
      let sum = 0;
      let count = 0;
      for (const j of this.whole) {
        const n = this.seen[side][j]!;
        if (n > 0) {
          sum += this.gain[side][j]! / n;
          count++;
        }
      }
      return count > 0 ? sum / count : 1;
    };
    const means = [average(0), average(1)] as const;
    const guess = (j: number, side: 0 | 1): number =>
      this.seen[side][j]! > 0 ? this.gain[side][j]! / this.seen[side][j]! : means[side];
    const ranked = fractional
      .map((j) => {
        const f = tableau.value(j) - Math.floor(tableau.value(j));
        return { j, f, score: score(guess(j, 0) * f, guess(j, 1) * (1 - f)) };
      })
      .sort((a, b) => b.score - a.score || a.j - b.j);
    let bestColumn = ranked[0]!.j;
    let bestScore = -1;
    let tried = 0;
    let behind = 0;
    const tightened: [number, number, number][] = [];
    for (const entry of ranked) {
      const { j, f } = entry;
      let value = entry.score;
      const reliable = Math.min(this.seen[0][j]!, this.seen[1][j]!) >= TRIALS;
      if (!reliable && tried < MOST_TRIALS && !this.late()) {
        tried++;
        const floor = Math.floor(tableau.value(j));
        const gains = [0, 0];
        for (const side of [0, 1] as const) {
          trial.copyFrom(tableau);
          const low = side === 0 ? tableau.lower[j]! : floor + 1;
          const high = side === 0 ? floor : tableau.upper[j]!;
          trial.setBounds(j, low, high);
          const status = trial.simplex.optimise({
            cutoff: this.cutoff,
            pivots: TRIAL_PIVOTS,
            stop: trial.stop,
          });
          const closed =
            (status === "infeasible" && trial.provenInfeasible()) ||
            (status !== "infeasible" && trial.provenBound() > this.cutoff);
          if (closed) {
            tightened.push(side === 0 ? [j, floor + 1, tableau.upper[j]!] : [j, tableau.lower[j]!, floor]);
            gains[side] = Number.isFinite(this.cutoff) ? this.cutoff - bound : 1;
            continue;
          }
          gains[side] = Math.max(0, trial.simplex.objective() - bound);
          this.gain[side][j]! += gains[side]! / (side === 0 ? f : 1 - f);
          this.seen[side][j]!++;
        }
        if (tightened.length > 0) return { column: j, tightened };
        value = score(gains[0]!, gains[1]!);
      }
      if (value > bestScore) {
        bestScore = value;
        bestColumn = j;
        behind = 0;
      } else if (++behind >= 4) break;
    }
    return { column: bestColumn, tightened };
  }

  private split(column: number, bound: number, changes: Change | null): Node {
    const { tableau } = this;
    const v = tableau.value(column);
    const floor = Math.floor(v);
    const f = v - floor;
    const child = (up: boolean): Node => ({
      changes: {
        before: changes,
        column,
        lower: up ? floor + 1 : tableau.lower[column]!,
        upper: up ? tableau.upper[column]! : floor,
      },
      bound,
      branch: { column, up, distance: up ? 1 - f : f },
    });
    const guess = (side: 0 | 1): number =>
      this.seen[side][column]! > 0 ? this.gain[side][column]! / this.seen[side][column]! : 0;
    const upFirst = !(guess(0) * f <= guess(1) * (1 - f));
    this.open.push(child(!upFirst));
    return child(upFirst);
  }
}

const TRIALS = 2;
const MOST_TRIALS = 8;
const TRIAL_PIVOTS = 40;
