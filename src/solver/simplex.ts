/**
 * The one pivoting core: a bounded-variable revised simplex, dual and primal on one basis.
 *
 * A start that breaks bounds is mended by the dual simplex with the long-step rule (Maros, Computational Techniques of
 * the Simplex Method, 2003, chapter 10); costs that are in its way are shifted for the time. The primal simplex
 * (Chvatal, Linear Programming, 1983, chapter 8) then finishes with the true costs. Where bounds or rows change,
 * the basis stays and a few dual pivots restore it; where costs change, a few primal ones do.
 *
 * Inside, row i reads a_i.x - s_i = 0 with the row's bounds on its logical variable s_i, so every variable has bounds
 * and nothing else. Rows and columns are scaled by powers of two, which loses no digit. Nothing it says is believed:
 * verify.ts recomputes every claim from the program.
 */
import { Basis } from "./basis.ts";
import { largestOf, powerOfTwo, ScaledMatrix } from "./matrix.ts";
import { type Program, type Row, rowScale } from "./program.ts";
import { firstOfLeast, largestOfLeast, PIVOT, primalRatio } from "./ratio.ts";

/**
 * `cut off`: the cost passed the limit given. `stalled`: too many pivots, or arithmetic that does not settle. `late`: it
 * was told to stop.
 */
export type SimplexStatus = "optimal" | "infeasible" | "unbounded" | "cut off" | "stalled" | "late";

export interface SimplexLimits {
  /** Stop once no point can cost less than this. */
  readonly cutoff?: number;
  readonly pivots?: number;
  /** Stops where it returns true; asked every few pivots. */
  readonly stop?: (() => boolean) | undefined;
}

/** A bound that is kept, and a reduced cost with the right sign: far below what a proof allows (1e-6). */
const FEASIBILITY = 1e-10;
const OPTIMALITY = 1e-10;
/** An amount or a dual below this is what arithmetic leaves of nothing; bounds and costs are scaled to about 1. */
const ROUNDING = 1e-13;
/** Pivots between fresh inverses: so many, or half as many as there are rows. */
const REFACTOR_EVERY = 64;
/** Shift of the costs that steer dual pivots, so that many equal ones do not send them in circles. */
const SHIFT = 1e-8;
/** The least size that a bound's tolerance is taken of. */
const LEAST_SIZE = 1e-4;
/** A residual of the rows above this calls for a fresh inverse. */
const RESIDUAL = 1e-12;
/**
 * Rounds of dual and primal pivots until what is worked out afresh agrees with both. Where rows are nearly parallel
 * that may never be so to the last digit: each later round is content with ten times more, and whether that is enough
 * is for the proof to say.
 */
const ROUNDS = 8;
const STRICT_ROUNDS = 3;
/** Pivots between two questions whether to stop. */
const ASK_EVERY = 8;
/** Rows that are off by less than this share of the worst are not measured for steepness. */
const WORTH_MEASURING = 0.3;

export class Simplex {
  /** The scaled program; variables are numbered as in `Basis`. */
  readonly matrix: ScaledMatrix;
  readonly basis: Basis;
  /** Columns, rows, and variables: columns and logicals. */
  readonly n: number;
  readonly m: number;
  readonly total: number;
  /** Bounds, costs and values of all variables, in the simplex's own scale. */
  readonly lower: Float64Array;
  readonly upper: Float64Array;
  readonly cost: Float64Array;
  readonly x: Float64Array;
  /** Scaled amount = amount / columnScale * boundScale; scaled cost = cost * columnScale * costScale. */
  readonly boundScale: number;
  costScale = 1;
  private readonly tolerance: Float64Array;
  private readonly y: Float64Array;
  private readonly work: Float64Array;
  private readonly alpha: Float64Array;
  /** Costs that steer the dual simplex, and reduced costs by them. */
  private readonly steering: Float64Array;
  private readonly reduced: Float64Array;
  private readonly off: Float64Array;
  private readonly candidates: Int32Array;
  private readonly ratio: Float64Array;
  private infeasibleAt = -1;
  /** The variable whose pivot could not be trusted. */
  private doubtful = -1;
  /** What feasibility and optimality are judged by, in units of their tolerances. */
  private loose = 1;
  /** What the rows are off by at the present point, which no tolerance can be below. */
  private noise = 0;
  /** Variables not to enter, and positions not to leave, since the pivot could not be trusted; 1 each. */
  private readonly barred: Uint8Array;
  private readonly passed: Uint8Array;

  /** @param program its rows and columns are copied. */
  constructor(program: Program) {
    this.matrix = new ScaledMatrix(program);
    const { n, m, rowScale: factors, columnScale } = this.matrix;
    const total = n + m;
    this.n = n;
    this.m = m;
    this.total = total;
    this.lower = new Float64Array(total);
    this.upper = new Float64Array(total);
    this.cost = new Float64Array(total);
    this.x = new Float64Array(total);
    this.tolerance = new Float64Array(total).fill(FEASIBILITY);
    this.y = new Float64Array(m);
    this.work = new Float64Array(m);
    this.alpha = new Float64Array(total);
    this.steering = new Float64Array(total);
    this.reduced = new Float64Array(total);
    this.off = new Float64Array(m);
    this.barred = new Uint8Array(total);
    this.passed = new Uint8Array(m);
    this.candidates = new Int32Array(total);
    this.ratio = new Float64Array(total);
    let largest = 0;
    program.rows.forEach((row, i) => {
      for (const bound of [row.lower, row.upper, row.scale ?? 0])
        if (Number.isFinite(bound)) largest = Math.max(largest, Math.abs(bound) * factors[i]!);
    });
    this.boundScale = largest > 0 ? 1 / powerOfTwo(largest) : 1;
    program.columns.forEach((column, j) => {
      this.upper[j] = (column.upper / columnScale[j]!) * this.boundScale;
    });
    program.rows.forEach((row, i) => {
      this.setRowBounds(i, row.lower, row.upper);
      this.setTolerance(i, row);
    });
    this.setCosts(program.columns.map((column) => column.cost));
    this.basis = new Basis(this.matrix);
    this.startFromLogicals();
  }

  // Changes: the basis stays, and `optimise` goes on from it.

  /** Replaces the bounds of row `i` (program units). */
  setRowBounds(i: number, lower: number, upper: number): void {
    const factor = this.matrix.rowScale[i]! * this.boundScale;
    this.lower[this.n + i] = lower * factor;
    this.upper[this.n + i] = upper * factor;
  }

  private setTolerance(i: number, row: Row): void {
    const size = rowScale(row) * this.matrix.rowScale[i]! * this.boundScale;
    const bounded = Math.abs(row.lower) > 0 || Math.abs(row.upper) > 0 || row.scale !== undefined;
    this.tolerance[this.n + i] = FEASIBILITY * (bounded ? Math.max(LEAST_SIZE, size) : 1);
  }

  /** Replaces the bounds of column `j` (program units). */
  setColumnBounds(j: number, lower: number, upper: number): void {
    const factor = this.boundScale / this.matrix.columnScale[j]!;
    this.lower[j] = lower * factor;
    this.upper[j] = upper * factor;
  }

  /** Replaces the costs (program units, one per column). */
  setCosts(costs: readonly number[]): void {
    const { columnScale } = this.matrix;
    let largest = 0;
    for (let j = 0; j < this.n; j++) largest = Math.max(largest, Math.abs(costs[j]! * columnScale[j]!));
    this.costScale = largest > 0 ? 1 / powerOfTwo(largest) : 1;
    for (let j = 0; j < this.n; j++) this.cost[j] = costs[j]! * columnScale[j]! * this.costScale;
  }

  /** Takes over basis, bounds, costs and values of another simplex of the same program. */
  copyFrom(other: Simplex): void {
    this.basis.copyFrom(other.basis);
    this.lower.set(other.lower);
    this.upper.set(other.upper);
    this.cost.set(other.cost);
    this.costScale = other.costScale;
    this.x.set(other.x);
  }

  /**
   * Takes over the basis of a simplex with the same columns and other rows.
   * @param from by row: its index there; -1 where the row is new.
   */
  takeBasis(other: Simplex, from: readonly number[]): void {
    const { n, matrix } = this;
    const basic: number[] = [];
    for (let j = 0; j < n; j++) {
      if (other.isBasic(j)) basic.push(j);
      else this.x[j] = this.restAt(j, (other.amount(j) / matrix.columnScale[j]!) * this.boundScale);
    }
    from.forEach((at, i) => {
      if (at < 0 || other.isBasic(n + at)) basic.push(n + i);
      else this.x[n + i] = other.x[n + at] === other.lower[n + at] ? this.lower[n + i]! : this.upper[n + i]!;
    });
    this.refactor(basic);
  }

  /** Goes back to the basis of the logicals. */
  startFromLogicals(): void {
    this.basis.takeLogicals();
    for (let j = 0; j < this.n; j++) this.x[j] = this.restAt(j, 0);
    this.basis.basics(this.x);
  }

  /** The bound a nonbasic variable rests at, the nearer to `near`. */
  private restAt(j: number, near: number): number {
    const low = this.lower[j]!;
    const high = this.upper[j]!;
    if (low === -Infinity) return high === Infinity ? near : high;
    if (high === Infinity) return low;
    return Math.abs(near - low) <= Math.abs(near - high) ? low : high;
  }

  /**
   * Takes over a point (program units, one entry per column) as a basis: variables away from their bounds become
   * basic, the rest rest at the nearer bound. The point of a vertex comes back exactly.
   */
  crossOver(point: readonly number[]): void {
    const { n, m, matrix, basis, work } = this;
    this.startFromLogicals();
    const at = new Float64Array(this.total);
    for (let j = 0; j < n; j++) at[j] = (point[j]! / matrix.columnScale[j]!) * this.boundScale;
    for (let j = 0; j < n; j++)
      for (let k = matrix.start[j]!; k < matrix.start[j + 1]!; k++)
        at[n + matrix.rowOf[k]!]! += matrix.value[k]! * at[j]!;
    const inside = (j: number): number => Math.min(at[j]! - this.lower[j]!, this.upper[j]! - at[j]!);
    const candidates = Array.from({ length: n }, (_, j) => j).filter((j) => inside(j) > 1e-9);
    candidates.sort((a, b) => inside(b) - inside(a) || a - b);
    for (const j of candidates) {
      basis.column(j, work);
      let best = -1;
      let bestScore = 0;
      for (let i = 0; i < m; i++) {
        const size = Math.abs(work[i]!);
        const leaving = basis.head[i]!;
        if (leaving < n || size < 1e-7) continue;
        const score = size / (Math.max(0, inside(leaving)) + 1e-6);
        if (score > bestScore) {
          bestScore = score;
          best = i;
        }
      }
      if (best >= 0) {
        const leaving = basis.head[best]!;
        basis.exchange(best, j, work);
        this.x[leaving] = this.restAt(leaving, at[leaving]!);
      }
    }
    for (let j = 0; j < this.total; j++) if (basis.position[j]! < 0) this.x[j] = this.restAt(j, at[j]!);
    this.refactor();
  }

  /** Inverts a basis, the present one unless given; works out the basic variables; what had to leave rests at a bound. */
  refactor(wanted?: readonly number[]): void {
    const { basis, x } = this;
    const before = basis.position.slice();
    for (const j of basis.factor(wanted)) x[j] = this.restAt(j, x[j]!);
    for (let j = this.n; j < this.total; j++)
      if (basis.position[j]! < 0 && before[j]! >= 0) x[j] = this.restAt(j, x[j]!);
    basis.basics(x);
    this.refine();
  }

  /**
   * Goes on from the present basis to an optimal one.
   * @returns `infeasible` leaves the proof in `ray`; `cut off`, `stalled` and `late` leave a basis to go on from.
   */
  optimise({ cutoff = Infinity, pivots = 2000 + 40 * this.total, stop }: SimplexLimits = {}): SimplexStatus {
    const last = this.basis.pivots + pivots;
    this.infeasibleAt = -1;
    this.rest();
    this.basis.basics(this.x);
    this.noise = 0;
    for (let round = 0; round < ROUNDS; round++) {
      this.loose = 10 ** Math.max(0, round - STRICT_ROUNDS);
      if (round > 0 && this.isFeasible() && this.isOptimal()) return "optimal";
      if (!this.isFeasible()) {
        const status = this.dual(cutoff, last, stop);
        if (status !== "optimal") return status;
      }
      const status = this.primal(last, stop);
      if (status !== "optimal") return status;
      this.basis.basics(this.x);
      this.refine();
      if (this.noise > RESIDUAL) this.refactor();
      if (this.isFeasible() && this.isOptimal()) return "optimal";
      if (this.basis.sinceFactor > 0) this.refactor();
    }
    return "stalled";
  }

  /** Puts every nonbasic variable that is off its bounds on the nearer one. */
  private rest(): void {
    for (let j = 0; j < this.total; j++) {
      if (this.basis.position[j]! >= 0) continue;
      if (this.x[j] !== this.lower[j] && this.x[j] !== this.upper[j]) this.x[j] = this.restAt(j, this.x[j]!);
    }
  }

  /** How far a variable is outside its bounds (0 inside), beyond its tolerance. */
  private outside(j: number): number {
    const value = this.x[j]!;
    const slack = Math.max(this.tolerance[j]! * this.loose, this.noise);
    const low = this.lower[j]!;
    if (value < low - slack) return value - low;
    const high = this.upper[j]!;
    return value > high + slack ? value - high : 0;
  }

  private isFeasible(): boolean {
    for (const j of this.basis.head) if (this.outside(j) !== 0) return false;
    return true;
  }

  /** Whether no reduced cost asks for a pivot. */
  private isOptimal(): boolean {
    this.basis.duals(this.cost, this.y);
    return this.price(true) < 0;
  }

  /** The largest residual of a row at the present point; `off` is filled with those of all rows. */
  private residual(): number {
    const { n, m, x, off } = this;
    const { rowStart, columnOf, rowValue } = this.matrix;
    let worst = 0;
    for (let i = 0; i < m; i++) {
      let sum = -x[n + i]!;
      for (let k = rowStart[i]!; k < rowStart[i + 1]!; k++) sum += rowValue[k]! * x[columnOf[k]!]!;
      off[i] = sum;
      worst = Math.max(worst, Math.abs(sum));
    }
    return worst;
  }

  /** Takes out of the basic variables what the rows are off by, so far as the inverse can, and notes what is left. */
  private refine(): void {
    const { m, x, off } = this;
    const { head, inverse } = this.basis;
    this.noise = this.residual();
    for (let round = 0; round < 2 && this.noise > 0.1 * RESIDUAL; round++) {
      const before = this.noise;
      for (let r = 0; r < m; r++) {
        let change = 0;
        for (let k = 0; k < m; k++) if (off[k] !== 0) change += inverse[r * m + k]! * off[k]!;
        x[head[r]!]! -= change;
      }
      this.noise = this.residual();
      if (!(this.noise < 0.5 * before)) break;
    }
  }

  // The dual simplex.

  /** Steering costs near the true ones, for which the present basis is dual feasible. */
  private steer(): void {
    const { total, steering, lower, upper, x } = this;
    for (let j = 0; j < total; j++) {
      const shift = SHIFT * (1 + ((j * 0.6180339887498949) % 1));
      steering[j] = this.cost[j]! + (x[j] === upper[j] && upper[j] !== lower[j] ? -shift : shift);
    }
    this.reduce();
  }

  /** Reduced costs by the steering costs. Where a sign is wrong, the variable goes to its other bound or its cost gives way. */
  private reduce(): void {
    const { total, steering, reduced, lower, upper, x, y, basis } = this;
    basis.duals(steering, y);
    let flipped = false;
    for (let j = 0; j < total; j++) {
      reduced[j] = 0;
      if (basis.position[j]! >= 0) continue;
      const d = this.reducedCost(j, steering, y);
      reduced[j] = d;
      if (lower[j] === upper[j]) continue;
      const wanted = d >= 0 ? lower[j]! : upper[j]!;
      const free = lower[j] === -Infinity && upper[j] === Infinity;
      if (!free && x[j] === wanted) continue;
      if (!free && Number.isFinite(wanted)) {
        x[j] = wanted;
        flipped = true;
      } else {
        steering[j]! -= d;
        reduced[j] = 0;
      }
    }
    if (flipped) basis.basics(x);
  }

  private trustAll(): void {
    this.barred.fill(0);
    this.passed.fill(0);
  }

  private dual(cutoff: number, last: number, stop: SimplexLimits["stop"]): SimplexStatus {
    const { basis } = this;
    const bland = basis.pivots + 500 + 4 * this.total;
    this.steer();
    let doubted = false;
    this.trustAll();
    while (basis.pivots < last) {
      if (stop && basis.pivots % ASK_EVERY === 0 && stop()) return "late";
      if (basis.sinceFactor >= Math.max(REFACTOR_EVERY, basis.m / 2)) {
        this.refactor();
        this.reduce();
      }
      const careful = basis.pivots > bland;
      const r = this.leaving(careful);
      if (r < 0) {
        if (this.passed.includes(1)) return "stalled";
        if (doubted || this.residual() <= RESIDUAL) return "optimal";
      } else {
        const done = this.dualStep(r, careful);
        if (done === "pivoted") {
          if (doubted) this.trustAll();
          doubted = false;
          if (cutoff < Infinity && this.objective() > cutoff) return "cut off";
          continue;
        }
        if (done === "impossible") {
          this.infeasibleAt = r;
          return "infeasible";
        }
        // What cannot be trusted even with a fresh inverse is left for another pivot, or another row.
        if (doubted && basis.sinceFactor === 0) {
          if (done === "passed") this.passed[r] = 1;
          else this.barred[this.doubtful] = 1;
          continue;
        }
      }
      // What has drifted, or what two computations disagree on, is worked out again.
      doubted = true;
      this.refactor();
      this.reduce();
    }
    return "stalled";
  }

  /**
   * The position furthest outside its bounds for the length of its row of the inverse, which is the steepest way up
   * (Forrest and Goldfarb 1992, Mathematical Programming 57:341-374); when careful, that of the variable of least index
   * (Bland's rule).
   */
  private leaving(careful: boolean): number {
    const { head, inverse, m } = this.basis;
    const { off } = this;
    let worst = -1;
    let most = 0;
    for (let r = 0; r < m; r++) {
      off[r] = this.passed[r] ? 0 : Math.abs(this.outside(head[r]!));
      if (off[r]! > most) most = off[r]!;
      if (careful && off[r]! > 0 && (worst < 0 || head[r]! < head[worst]!)) worst = r;
    }
    if (careful || most === 0) return worst;
    let steepest = 0;
    for (let r = 0; r < m; r++) {
      if (off[r]! < WORTH_MEASURING * most) continue;
      let length = 0;
      const end = (r + 1) * m;
      for (let k = r * m; k < end; k++) length += inverse[k]! * inverse[k]!;
      const steepness = (off[r]! * off[r]!) / length;
      if (steepness > steepest) {
        steepest = steepness;
        worst = r;
      }
    }
    return worst;
  }

  /** One dual pivot on position `r`, with the flips of bounds that go before it. */
  private dualStep(r: number, careful: boolean): "pivoted" | "impossible" | "doubtful" | "passed" {
    const { total, n, basis, alpha, reduced, lower, upper, x, work } = this;
    const leaving = basis.head[r]!;
    const rising = x[leaving]! < lower[leaving]!;
    const goal = rising ? lower[leaving]! : upper[leaving]!;
    basis.row(r, alpha);
    const { candidates } = this;
    let count = 0;
    let barred = 0;
    for (let j = 0; j < total; j++) {
      const a = rising ? -alpha[j]! : alpha[j]!;
      if ((a < PIVOT && a > -PIVOT) || basis.position[j]! >= 0 || lower[j] === upper[j]) continue;
      const helps = x[j] === lower[j] ? a > 0 : x[j] === upper[j] ? a < 0 : true;
      if (!helps) continue;
      if (this.barred[j]) barred++;
      else candidates[count++] = j;
    }
    const chosen =
      count > 0
        ? this.dualRatio(count, Math.abs(goal - x[leaving]!), this.tolerance[leaving]!, careful)
        : null;
    if (chosen === null) return barred > 0 ? "passed" : "impossible";
    const { entering, flips } = chosen;
    basis.column(entering, work);
    const pivot = work[r]!;
    if (Math.abs(pivot - alpha[entering]!) > 1e-7 * (1 + Math.abs(pivot)) || Math.abs(pivot) < PIVOT) {
      this.doubtful = entering;
      return "doubtful";
    }
    if (flips.length > 0) {
      const change = new Float64Array(total);
      for (const j of flips) {
        const target = x[j] === lower[j] ? upper[j]! : lower[j]!;
        change[j] = target - x[j]!;
        x[j] = target;
      }
      basis.basics(change);
      for (const j of basis.head) x[j]! += change[j]!;
    }
    const step = (x[leaving]! - goal) / pivot;
    for (let k = 0; k < basis.m; k++) x[basis.head[k]!]! -= work[k]! * step;
    x[entering]! += step;
    x[leaving] = goal;
    const theta = reduced[entering]! / pivot;
    if (theta !== 0)
      for (let j = 0; j < n + basis.m; j++) if (alpha[j] !== 0) reduced[j]! -= theta * alpha[j]!;
    reduced[leaving] = -theta;
    reduced[entering] = 0;
    basis.exchange(r, entering, work);
    return "pivoted";
  }

  /**
   * The long-step ratio test over the first `count` candidates: variables that can go to their other bound without
   * repairing the row do so.
   * @returns null where even all of them together do not repair it.
   */
  private dualRatio(
    count: number,
    gap: number,
    tolerance: number,
    careful: boolean,
  ): { entering: number; flips: number[] } | null {
    const { alpha, reduced, lower, upper, x, candidates, ratio } = this;
    const flips: number[] = [];
    let left = count;
    let need = gap;
    for (let k = 0; k < count; k++) {
      const j = candidates[k]!;
      const d = x[j] === lower[j] ? reduced[j]! : x[j] === upper[j] ? -reduced[j]! : 0;
      ratio[j] = Math.max(0, d) / Math.abs(alpha[j]!);
    }
    while (left > 0) {
      const at = careful
        ? firstOfLeast(candidates, ratio, left)
        : largestOfLeast(candidates, ratio, alpha, left);
      const best = candidates[at]!;
      const reach = Math.abs(alpha[best]!) * (upper[best]! - lower[best]!);
      if (careful || reach >= need || (left === 1 && need - reach <= tolerance))
        return { entering: best, flips };
      need -= reach;
      flips.push(best);
      candidates[at] = candidates[--left]!;
    }
    return null;
  }

  /**
   * Multipliers of the rows (program units) by which the row that could not be repaired shows that nothing is
   * feasible; a claim, for `verify.ts` to check. Null where the last run did not end so. A claim that does not hold up
   * may do so after `refactor` and another run.
   */
  ray(): number[] | null {
    const r = this.infeasibleAt;
    if (r < 0) return null;
    const { m, inverse } = this.basis;
    return Array.from({ length: m }, (_, i) => {
      const value = inverse[r * m + i]!;
      return Math.abs(value) <= ROUNDING ? 0 : value * this.matrix.rowScale[i]!;
    });
  }

  // The primal simplex.

  private primal(last: number, stop: SimplexLimits["stop"]): SimplexStatus {
    const { basis, y, work } = this;
    let degenerate = 0;
    basis.duals(this.cost, y);
    while (basis.pivots < last) {
      if (stop && basis.pivots % ASK_EVERY === 0 && stop()) return "late";
      if (basis.sinceFactor >= Math.max(REFACTOR_EVERY, basis.m / 2)) {
        this.refactor();
        basis.duals(this.cost, y);
        if (!this.isFeasible()) return "optimal";
      }
      const bland = degenerate > 20 + basis.m;
      const entering = this.price(bland);
      if (entering < 0) return "optimal";
      const d = this.reducedCost(entering, this.cost, y);
      basis.column(entering, work);
      const move = this.primalStep(entering, d < 0 ? 1 : -1, bland);
      if (move.step === Infinity) return "unbounded";
      degenerate = move.step > 1e-12 ? 0 : degenerate + 1;
      if (move.leaving < 0) continue;
      const theta = d / work[move.leaving]!;
      const base = move.leaving * basis.m;
      for (let k = 0; k < basis.m; k++) y[k]! += theta * basis.inverse[base + k]!;
      basis.exchange(move.leaving, entering, work);
    }
    return "stalled";
  }

  /** The variable whose entering gains most by the duals at hand; the first one, where `first`. -1: none. */
  private price(first: boolean): number {
    let best = -1;
    let most = OPTIMALITY * this.loose;
    for (let j = 0; j < this.total; j++) {
      if (this.basis.position[j]! >= 0) continue;
      const low = this.lower[j]!;
      const high = this.upper[j]!;
      if (low === high) continue;
      const d = this.reducedCost(j, this.cost, this.y);
      const gain = d < 0 ? (this.x[j]! < high ? -d : 0) : this.x[j]! > low ? d : 0;
      if (gain > most) {
        if (first) return j;
        best = j;
        most = gain;
      }
    }
    return best;
  }

  /** Moves the entering variable as far as it goes; its column is in `work`. `leaving`: -1 where it flips its bound. */
  private primalStep(entering: number, direction: 1 | -1, bland: boolean): { step: number; leaving: number } {
    const { work, x, lower, upper, tolerance } = this;
    const { head, m } = this.basis;
    const most = upper[entering]! - lower[entering]!;
    const variables = { head, x, lower, upper, tolerance };
    const { step, leaving, bound } = primalRatio(variables, work, direction, most, bland);
    if (step === Infinity) return { step, leaving };
    for (let r = 0; r < m; r++) x[head[r]!]! -= direction * work[r]! * step;
    if (leaving < 0) {
      x[entering] = direction > 0 ? upper[entering]! : lower[entering]!;
      return { step, leaving };
    }
    x[entering]! += direction * step;
    x[head[leaving]!] = bound;
    return { step, leaving };
  }

  /**
   * Keeps to the optimal face of the present costs: every nonbasic variable whose reduced cost is not zero is fixed
   * where it is. A further `setCosts` and `optimise` then breaks ties without losing the optimum.
   */
  fixOptimalFace(): void {
    const y = this.dualsOf(this.cost);
    for (let j = 0; j < this.total; j++) {
      if (this.basis.position[j]! >= 0) continue;
      if (Math.abs(this.reducedCost(j, this.cost, y)) > 1e-9) {
        this.lower[j] = this.x[j]!;
        this.upper[j] = this.x[j]!;
      }
    }
  }

  // What the present basis says.

  /** Duals of the basis for any costs (own scale); valid until the next call. */
  dualsOf(cost: Float64Array): Float64Array {
    this.basis.duals(cost, this.y);
    return this.y;
  }

  /** Reduced cost of a variable for costs and the duals of the basis for them (own scale). */
  reducedCost(j: number, cost: Float64Array, y: Float64Array): number {
    if (j >= this.n) return cost[j]! + y[j - this.n]!;
    const { start, rowOf, value } = this.matrix;
    const end = start[j + 1]!;
    let d = cost[j]!;
    for (let k = start[j]!; k < end; k++) d -= y[rowOf[k]!]! * value[k]!;
    return d;
  }

  /** Cost of the present point, in program units. */
  objective(): number {
    let sum = 0;
    for (let j = 0; j < this.n; j++) sum += this.cost[j]! * this.x[j]!;
    return sum / (this.costScale * this.boundScale);
  }

  /** The amount of column `j`, in program units. */
  amount(j: number): number {
    return (this.x[j]! * this.matrix.columnScale[j]!) / this.boundScale;
  }

  isBasic(j: number): boolean {
    return this.basis.position[j]! >= 0;
  }

  /** The point, in program units; what is only rounding, or rounding left below zero, is zero. */
  point(): number[] {
    return Array.from({ length: this.n }, (_, j) => (this.x[j]! <= ROUNDING ? 0 : this.amount(j)));
  }

  /** Row duals of the present basis for the present costs, in program units: change of cost per unit of the row's bound. */
  duals(): number[] {
    return this.cleanDuals(this.dualsOf(this.cost));
  }

  /**
   * Duals in program units. What is only rounding is zero: on a column that costs nothing, the slightest false dual
   * would leave the dual bound without any proof.
   */
  cleanDuals(y: Float64Array): number[] {
    const largest = largestOf(y);
    return Array.from(y, (value, i) =>
      Math.abs(value) <= ROUNDING * largest ? 0 : (value * this.matrix.rowScale[i]!) / this.costScale,
    );
  }
}
