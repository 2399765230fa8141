/**
 * How the optimum moves when costs or bounds do: exact breakpoints, and the optimal point and duals between them.
 *
 * Costs `c + t r` are followed by the primal simplex, bounds `b + t r` by the dual simplex (Gass and Saaty 1955,
 * Naval Research Logistics Quarterly 2:39-45; Vanderbei, Linear Programming, chapter 7). Ties and degenerate corners
 * are not left to chance: at each breakpoint the basis is made optimal for what comes just after it, by minimising in
 * turn (lexicographically) the costs there, then how they move, then the costs that break ties.
 */
import { largestOf } from "./matrix.ts";
import { other, type Program, type Tag } from "./program.ts";
import { Simplex, type SimplexStatus } from "./simplex.ts";

/** What moves with the parameter `t`, in program units per unit of `t`. */
export type Move =
  /** By column: its cost. */
  | { readonly kind: "cost"; readonly rate: readonly number[] }
  /** By row: whichever of its bounds are finite. */
  | { readonly kind: "bounds"; readonly rate: readonly number[] };

/** A stretch on which one basis stays optimal: the point, the duals and the cost are linear between its ends. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly xFrom: readonly number[];
  readonly xTo: readonly number[];
  readonly yFrom: readonly number[];
  readonly yTo: readonly number[];
}

/** The stretches from `t = 0` on. `end`: where they end, short of what was asked only where nothing is feasible beyond. */
export interface Trace {
  readonly stretches: readonly Stretch[];
  readonly end: number;
}

/** The program with the parameter at `t`. */
export function movedProgram<R extends Tag, C extends Tag>(
  program: Program<R, C>,
  move: Move,
  t: number,
): Program<R, C> {
  const { kind, rate } = move;
  const columns = [...program.columns];
  const rows = [...program.rows];
  for (let k = 0; k < rate.length; k++) {
    if (rate[k] === 0) continue;
    const change = t * rate[k]!;
    if (kind === "cost") columns[k] = { ...columns[k]!, cost: shifted(columns[k]!.cost, change) };
    else {
      const { lower, upper } = rows[k]!;
      rows[k] = { ...rows[k]!, lower: shifted(lower, change), upper: shifted(upper, change) };
    }
  }
  return { columns, rows };
}

/** a + b, zero where only rounding is left of it: a price that has come down to nothing is nothing; infinity stays. */
function shifted(a: number, b: number): number {
  const value = a + b;
  if (!Number.isFinite(value)) return a;
  return Math.abs(value) <= 1e-14 * Math.abs(a) ? 0 : value;
}

/** Change of the cost of a point, or of the value of bounds, per unit of the parameter. */
export function slopeOf(move: Move, x: readonly number[], y: readonly number[]): number {
  const values = move.kind === "cost" ? x : y;
  let sum = 0;
  for (let k = 0; k < move.rate.length; k++) if (move.rate[k] !== 0) sum += move.rate[k]! * values[k]!;
  return sum;
}

/**
 * The parameters `0 <= t <= length` for which anything is feasible, whatever it costs. Where bounds move: one interval, found by taking
 * `t` as a column of its own. Null where there is none.
 */
export function feasibleRange(
  program: Program,
  move: Move,
  length: number,
): { readonly from: number; readonly to: number } | null {
  if (move.kind === "cost") {
    const free = { rows: program.rows, columns: program.columns.map((column) => ({ ...column, cost: 0 })) };
    return new Simplex(free).optimise() === "optimal" ? { from: 0, to: length } : null;
  }
  const t = program.columns.length;
  const rows = program.rows.map((row, i) =>
    move.rate[i] === 0
      ? row
      : { ...row, index: [...row.index, t], value: [...row.value, -move.rate[i]! * length] },
  );
  const ends = [1, -1].map((cost) => {
    const columns = [
      ...program.columns.map((column) => ({ ...column, cost: 0 })),
      { tag: other("parameter"), cost, upper: 1 },
    ];
    const simplex = new Simplex({ columns, rows });
    return simplex.optimise() === "optimal" ? simplex.point()[t]! * length : null;
  });
  const [from, to] = ends as [number | null, number | null];
  return from === null || to === null ? null : { from, to };
}

/** Reduced costs and duals nearer to zero than this count as zero; all costs are scaled to at most about 1. */
const ZERO = 1e-9;
/** A basic variable this near to its bound is on it; all bounds are scaled to at most about 1. */
const AT_BOUND = 1e-9;
/** Pivots below this size are not taken. */
const PIVOT = 1e-8;

/** A stretch shorter than this share of the way is rounding. */
const ROUNDING = 1e-11;

/** Pivots on one point before another way is tried; more may be going round in circles. */
const MOST_STILL_PIVOTS = 40;

/** What one end of the parameter's walk looks like: the basis holds from `tau` to `next`. */
interface Hold {
  readonly next: number;
  /** Where the bounds leave nothing feasible beyond. */
  readonly stuck: boolean;
}

/**
 * Stands on an optimal basis and can follow it along a move. Its tie-breaks are those given. What it computes on the way
 * is in the simplex's own scale.
 */
export class Walker {
  private readonly simplex: Simplex;
  private readonly ties: readonly Float64Array[];
  /** Where `settle` left off, with the program's own bounds and costs. */
  private readonly home: Simplex;
  /** How fast costs, or bounds, move along the present way. */
  private readonly rates: Float64Array;
  /** Reduced costs at home, in the scale that costs have there. */
  private homeReduced: Float64Array = new Float64Array(0);
  /** Another optimal point may exist: a resting variable could move at no cost. */
  private tied = false;

  /**
   * @param tieBreaks costs by column, one list after the other, that choose among equal optima.
   */
  constructor(
    readonly program: Program,
    tieBreaks: readonly (readonly number[])[] = [],
  ) {
    this.simplex = new Simplex(program);
    this.ties = tieBreaks.map((costs) => this.scaled(costs));
    this.home = new Simplex(program);
    this.rates = new Float64Array(this.simplex.total);
  }

  /** The present point and its row duals, in program units. */
  point(): number[] {
    return this.simplex.point();
  }

  duals(): number[] {
    return this.simplex.duals();
  }

  private scaled(costs: readonly number[]): Float64Array {
    const { total, matrix } = this.simplex;
    const scaled = new Float64Array(total);
    costs.forEach((cost, j) => {
      scaled[j] = cost * matrix.columnScale[j]!;
    });
    const largest = largestOf(scaled);
    return largest > 0 ? scaled.map((cost) => cost / largest) : scaled;
  }

  /**
   * Takes the program to its optimum, ties broken, and calls that home.
   * @param point an optimal point to begin from, if one is known.
   * @returns whether there is an optimum.
   */
  settle(point?: readonly number[]): boolean {
    const { simplex } = this;
    if (point) simplex.crossOver(point);
    if (this.inTurn(this.home.cost) !== "optimal") return false;
    this.home.copyFrom(simplex);
    this.homeReduced = this.reducedFor(simplex.cost);
    this.tied = this.homeReduced.some((d, j) => this.canMove(j) && Math.abs(d) <= ZERO);
    return true;
  }

  /** Goes back to where `settle` left off. */
  goHome(): void {
    this.simplex.copyFrom(this.home);
  }

  /** Minimises the costs, then the tie-breaks, one after the other, each without losing the optimum of those before. */
  private inTurn(...main: readonly Float64Array[]): SimplexStatus {
    const { simplex } = this;
    const costs = [...main, ...this.ties];
    const lower = simplex.lower.slice();
    const upper = simplex.upper.slice();
    let status: SimplexStatus = "optimal";
    for (let k = 0; k < costs.length && status === "optimal"; k++) {
      if (k > 0) simplex.fixOptimalFace();
      simplex.cost.set(costs[k]!);
      status = simplex.optimise();
      // A tie-break without a floor is no fault of the optimum itself.
      if (k >= main.length && status === "unbounded") status = "optimal";
    }
    simplex.lower.set(lower);
    simplex.upper.set(upper);
    simplex.cost.set(costs[0]!);
    return status;
  }

  /** Follows a move from home to `t = length`. Null where the arithmetic did not hold up. */
  trace(move: Move, length: number): Trace | null {
    const stretches: Stretch[] = [];
    const end = this.walk(move, length, 1, (tau, next) => {
      if (next - tau > ROUNDING || stretches.length === 0)
        stretches.push(this.stretch(move, length, tau, next));
      return true;
    });
    return end === null ? null : { stretches, end: end * length };
  }

  /**
   * How far from home a move can go before the cost stops changing at its first rate.
   * @param length the parameter's own size, for scale only.
   * @returns the rate (Infinity: nothing is feasible any further) and where it ends (Infinity: never). Null where the
   *   arithmetic did not hold up.
   */
  reach(move: Move, length: number): { readonly slope: number; readonly until: number } | null {
    if (move.kind === "cost") {
      const found = this.reachCost(move, length);
      if (found) return found;
    }
    this.goHome();
    const slopeHere = (): number =>
      move.kind === "cost" ? slopeOf(move, this.point(), []) : slopeOf(move, [], this.duals());
    // A size against which changes of a slope count as changes at all.
    const size = move.kind === "cost" ? 1e-3 * largestOf(this.point()) * largestOf(move.rate) : 0;
    let slope = move.kind === "cost" ? slopeHere() : null;
    let until = 0;
    let first = true;
    const before = this.simplex.basis.pivots;
    const end = this.walk(move, length, Infinity, (_, next) => {
      const here = slopeHere();
      slope ??= here;
      if (Math.abs(here - slope) > 1e-7 * Math.max(size, Math.abs(slope))) return false;
      until = next;
      // Where one basis alone has these duals, the next one has another slope for certain.
      const alone = first && move.kind === "bounds" && this.simplex.basis.pivots === before && !this.tied;
      first = false;
      return !alone;
    });
    if (end === null) return null;
    return slope === null ? { slope: Infinity, until: 0 } : { slope, until: until * length };
  }

  /**
   * The reach of costs, by pivots that do not move the point: the first pivot that would move it is where the point
   * ceases to be optimal. Null where there are too many of them, or none can be taken safely.
   */
  private reachCost(move: Move, length: number): { readonly slope: number; readonly until: number } | null {
    this.goHome();
    const { rates, simplex } = this;
    const { lower, upper, x, matrix, basis } = simplex;
    rates.fill(0);
    let slope = 0;
    move.rate.forEach((rate, j) => {
      if (rate === 0) return;
      rates[j] = rate * length * matrix.columnScale[j]! * simplex.costScale;
      slope += rate * simplex.amount(j);
    });
    const column = new Float64Array(simplex.m);
    for (let turn = 0; turn < MOST_STILL_PIVOTS; turn++) {
      const reduced = turn === 0 ? this.homeReduced : this.reducedFor(simplex.cost);
      const { next, entering } = this.firstToEnter(reduced);
      if (entering < 0) return { slope, until: Infinity };
      basis.column(entering, column);
      const direction = x[entering] === lower[entering] ? 1 : -1;
      let leaving = -1;
      let size = PIVOT;
      let onUpper = false;
      for (let r = 0; r < basis.m; r++) {
        const speed = -direction * column[r]!;
        if (Math.abs(speed) <= size) continue;
        const j = basis.head[r]!;
        const room = speed > 0 ? upper[j]! - x[j]! : x[j]! - lower[j]!;
        if (room > AT_BOUND) continue;
        leaving = r;
        size = Math.abs(speed);
        onUpper = speed > 0;
      }
      if (leaving < 0) return { slope, until: next * length };
      const out = basis.head[leaving]!;
      basis.exchange(leaving, entering, column);
      x[out] = onUpper ? upper[out]! : lower[out]!;
    }
    return null;
  }

  /** Whether a variable rests and has somewhere else to go. */
  private canMove(j: number): boolean {
    const { simplex } = this;
    return !simplex.isBasic(j) && simplex.lower[j] !== simplex.upper[j];
  }

  /** Reduced costs of what could move. */
  private reducedFor(costs: Float64Array): Float64Array {
    const { simplex } = this;
    const reduced = new Float64Array(simplex.total);
    const y = simplex.dualsOf(costs);
    for (let j = 0; j < simplex.total; j++)
      if (this.canMove(j)) reduced[j] = simplex.reducedCost(j, costs, y);
    return reduced;
  }

  /**
   * How far costs may move before a variable has to enter the basis, and which one (-1: none ever).
   * @param reduced costs, as they are before the move.
   * @returns `torn`: a reduced cost that is zero already becomes negative at once.
   */
  private firstToEnter(reduced: Float64Array): { next: number; entering: number; torn: boolean } {
    const { rates, simplex } = this;
    const { n, total, lower, x } = simplex;
    const y = simplex.dualsOf(rates);
    const still = y.every((value) => value === 0);
    let next = Infinity;
    let entering = -1;
    let torn = false;
    const end = still ? n : total;
    for (let j = 0; j < end; j++) {
      if (!this.canMove(j) || (still && rates[j] === 0)) continue;
      const sign = x[j] === lower[j] ? 1 : -1;
      const rate = sign * (still ? rates[j]! : simplex.reducedCost(j, rates, y));
      if (rate >= -ZERO) continue;
      torn ||= Math.abs(reduced[j]!) <= ZERO;
      const step = Math.max(0, sign * reduced[j]!) / -rate;
      if (step < next) {
        next = step;
        entering = j;
      }
    }
    return { next, entering, torn };
  }

  /**
   * Whether bounds that move bear on the optimum at home: one of them is a bound on which the optimum is. Without
   * that their first unit changes nothing.
   */
  touches(move: Move): boolean {
    if (move.kind === "cost") return true;
    this.goHome();
    const { simplex } = this;
    const { n, x, lower, upper } = simplex;
    return move.rate.some((rate, i) => {
      const j = n + i;
      return (
        rate !== 0 && (!simplex.isBasic(j) || Math.min(x[j]! - lower[j]!, upper[j]! - x[j]!) <= AT_BOUND)
      );
    });
  }

  /** The optimal point at which a tie-breaking cost is greatest; null where it has no end among the optimal points. */
  worstOf(costs: readonly number[]): number[] | null {
    this.goHome();
    const { simplex } = this;
    if (!this.tied) return simplex.point();
    simplex.fixOptimalFace();
    simplex.cost.set(this.scaled(costs.map((cost) => -cost)));
    const point = simplex.optimise() === "optimal" ? simplex.point() : null;
    this.goHome();
    return point;
  }

  /**
   * Visits the bases that are optimal along a move, each with the stretch of `tau = t / length` it holds for.
   * @param limit where to stop.
   * @param visit called with this walker standing on the basis, at `tau`; false stops the walk.
   * @returns where the walk ended; null where the arithmetic did not hold up.
   */
  private walk(
    move: Move,
    length: number,
    limit: number,
    visit: (tau: number, next: number) => boolean,
  ): number | null {
    this.goHome();
    const { rates, simplex } = this;
    rates.fill(0);
    if (move.kind === "cost") {
      // A scale that suits the costs at both ends.
      const far = move.rate.map((rate, j) => this.program.columns[j]!.cost + length * rate);
      simplex.setCosts(far.map((cost, j) => Math.max(Math.abs(cost), this.program.columns[j]!.cost)));
      const scale = simplex.costScale;
      move.rate.forEach((rate, j) => {
        const factor = simplex.matrix.columnScale[j]! * scale;
        rates[j] = rate * length * factor;
        simplex.cost[j] = this.program.columns[j]!.cost * factor;
      });
    } else
      move.rate.forEach((rate, i) => {
        rates[simplex.n + i] = rate * length * simplex.matrix.rowScale[i]! * simplex.boundScale;
      });
    const start = simplex.cost.slice();
    const most = 200 + 20 * simplex.total;
    let tau = 0;
    for (let turn = 0; turn < most; turn++) {
      const hold = move.kind === "cost" ? this.holdCost(start, tau) : this.holdBounds(tau);
      if (hold === null) return this.leave(null);
      if (hold.stuck) return this.leave(limit - tau < ROUNDING ? limit : tau);
      const next = Math.min(hold.next, limit);
      if ((next > tau || limit === 0) && !visit(tau, next)) return this.leave(tau);
      if (next >= limit || next === Infinity) return this.leave(next);
      tau = next;
    }
    return this.leave(null);
  }

  private leave<T>(value: T): T {
    this.goHome();
    return value;
  }

  /** Makes the basis optimal from `tau` on for costs `start + tau * rates`, and finds how far it holds. */
  private holdCost(start: Float64Array, tau: number): Hold | null {
    const { rates } = this;
    const costs = tau === 0 ? start : start.map((cost, j) => cost + tau * rates[j]!);
    let first = tau === 0 ? this.firstToEnter(this.reducedFor(costs)) : null;
    if (first === null || first.torn) {
      const status = this.inTurn(costs, rates);
      // At a price of nothing there is no end to what may be used; below it, none to what is gained.
      if (status === "unbounded") return { next: tau, stuck: true };
      if (status !== "optimal") return null;
      first = this.firstToEnter(this.reducedFor(costs));
    }
    return { next: first.torn ? tau : tau + first.next, stuck: false };
  }

  /** Puts the bounds where `tau` has them, and every resting variable on its own. */
  private setBounds(tau: number): void {
    const { rates, simplex, home } = this;
    const { n, total, lower, upper, x } = simplex;
    for (let j = n; j < total; j++) {
      if (rates[j] === 0) continue;
      const onUpper = Math.abs(x[j]! - upper[j]!) < Math.abs(x[j]! - lower[j]!) || lower[j] === -Infinity;
      lower[j] = home.lower[j]! + tau * rates[j]!;
      upper[j] = home.upper[j]! + tau * rates[j]!;
      if (!simplex.isBasic(j)) x[j] = onUpper ? upper[j]! : lower[j]!;
    }
    this.workOut();
  }

  /** The basic variables from the resting ones, by a fresh inverse now and then. */
  private workOut(): void {
    const { basis, x } = this.simplex;
    if (basis.sinceFactor > 50) this.simplex.refactor();
    else basis.basics(x);
  }

  /** How fast every variable moves on the present basis when bounds do. */
  private speeds(): Float64Array {
    const { simplex, rates } = this;
    const speed = new Float64Array(simplex.total);
    for (let j = simplex.n; j < simplex.total; j++) if (!simplex.isBasic(j)) speed[j] = rates[j]!;
    simplex.basis.basics(speed);
    return speed;
  }

  /** Makes the basis feasible from `tau` on by dual pivots, and finds how far it holds. */
  private holdBounds(tau: number): Hold | null {
    const { rates, simplex } = this;
    const { n, lower, upper, x, basis } = simplex;
    this.setBounds(tau);
    const column = new Float64Array(basis.m);
    const most = 50 + 4 * basis.m;
    for (let turn = 0; turn < most; turn++) {
      const rate = this.speeds();
      let next = Infinity;
      let leaving = -1;
      let worst = -ZERO;
      let toUpper = false;
      for (let r = 0; r < basis.m; r++) {
        const j = basis.head[r]!;
        const ownRate = j >= n ? rates[j]! : 0;
        for (const onUpper of [false, true]) {
          const bound = onUpper ? upper[j]! : lower[j]!;
          if (!Number.isFinite(bound)) continue;
          const room = onUpper ? bound - x[j]! : x[j]! - bound;
          const speed = onUpper ? ownRate - rate[j]! : rate[j]! - ownRate;
          if (speed >= -ZERO) continue;
          if (room <= AT_BOUND) {
            if (speed < worst) {
              worst = speed;
              leaving = r;
              toUpper = onUpper;
            }
          } else next = Math.min(next, tau + room / -speed);
        }
      }
      if (leaving < 0) return { next, stuck: false };
      const entering = this.dualEntering(leaving, toUpper);
      if (entering < 0) return { next: tau, stuck: true };
      const out = basis.head[leaving]!;
      basis.column(entering, column);
      basis.exchange(leaving, entering, column);
      x[out] = toUpper ? upper[out]! : lower[out]!;
      this.workOut();
    }
    return null;
  }

  /** The variable that takes the place of basis position `r` at the least loss, ties broken by the costs that do so. */
  private dualEntering(r: number, toUpper: boolean): number {
    const { simplex } = this;
    const { total, lower, upper, x } = simplex;
    const row = new Float64Array(total);
    simplex.basis.row(r, row);
    const candidates: { j: number; size: number }[] = [];
    for (let j = 0; j < total; j++) {
      if (simplex.isBasic(j) || lower[j] === upper[j]) continue;
      const entry = row[j]!;
      const onLower = x[j] === lower[j];
      // The leaving variable has to rise onto its lower bound, or fall onto its upper one.
      const helps = (onLower ? -entry : entry) * (toUpper ? -1 : 1);
      if (helps > PIVOT) candidates.push({ j, size: helps });
    }
    let left = candidates;
    for (const costs of [simplex.cost, ...this.ties]) {
      if (left.length <= 1) break;
      const y = simplex.dualsOf(costs);
      let least = Infinity;
      const ratios = left.map(({ j, size }) => {
        const sign = x[j] === lower[j] ? 1 : -1;
        const reduced = sign * simplex.reducedCost(j, costs, y);
        const ratio = (Math.abs(reduced) <= ZERO ? 0 : reduced) / size;
        least = Math.min(least, ratio);
        return ratio;
      });
      left = left.filter((_, k) => ratios[k]! <= least + ZERO * (1 + Math.abs(least)));
    }
    let best = -1;
    let bestSize = 0;
    for (const { j, size } of left)
      if (size > bestSize) {
        best = j;
        bestSize = size;
      }
    return best;
  }

  /** The stretch from `tau` to `next` on the present basis, in program units. */
  private stretch(move: Move, length: number, tau: number, next: number): Stretch {
    const { simplex } = this;
    const from = tau * length;
    const to = next * length;
    if (move.kind === "cost") {
      const x = simplex.point();
      const yFrom = simplex.dualsOf(simplex.cost).slice();
      const rate = simplex.dualsOf(this.rates);
      const yTo = yFrom.map((value, i) => value + (next - tau) * rate[i]!);
      return { from, to, xFrom: x, xTo: x, yFrom: simplex.cleanDuals(yFrom), yTo: simplex.cleanDuals(yTo) };
    }
    simplex.refactor();
    const y = simplex.duals();
    const xFrom = simplex.point();
    const speed = this.speeds();
    const xTo = xFrom.map((value, j) => {
      const change = simplex.isBasic(j) ? (next - tau) * speed[j]! : 0;
      const size = simplex.matrix.columnScale[j]! / simplex.boundScale;
      const moved = value + change * size;
      return moved <= 1e-13 * size ? 0 : moved;
    });
    return { from, to, xFrom, xTo, yFrom: y, yTo: y };
  }
}
