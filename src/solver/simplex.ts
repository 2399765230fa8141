/**
 * A bounded-variable revised simplex with a dense basis inverse, for programs of at most a few hundred rows.
 *
 * It is what proves an engine's answer: the answer is turned into a basis (crossover), the basis is taken to
 * optimality where it is not there yet, and its duals are the certificate. Neighbouring programs start from the
 * same basis. Method: Dantzig's bounded simplex as in Chvatal, Linear Programming (1983), chapter 8; phase one
 * minimises the sum of infeasibilities.
 *
 * Inside, row i reads a_i.x - s_i = 0 with the row's bounds on its logical variable s_i, so every variable has
 * bounds and nothing else. Rows and columns are scaled by powers of two, which loses no digit.
 */
import type { Program } from "./program.ts";

export type SimplexStatus = "optimal" | "infeasible" | "unbounded" | "stalled";

const FEASIBILITY = 1e-10;
const OPTIMALITY = 1e-10;
const PIVOT = 1e-9;
/** An amount or a dual below this is what arithmetic leaves of nothing; bounds and costs are scaled to about 1. */
const ROUNDING = 1e-13;
const REFACTOR_EVERY = 64;

function powerOfTwo(value: number): number {
  return value > 0 && Number.isFinite(value) ? 2 ** Math.round(Math.log2(value)) : 1;
}

export class Simplex {
  readonly m: number;
  readonly n: number;
  readonly total: number;
  protected readonly start: Int32Array;
  protected readonly rowOf: Int32Array;
  protected readonly value: Float64Array;
  protected readonly rowScale: Float64Array;
  protected readonly columnScale: Float64Array;
  protected readonly boundScale: number;
  protected costScale = 1;
  protected readonly cost: Float64Array;
  protected readonly lower: Float64Array;
  protected readonly upper: Float64Array;
  /** Variable in each basis position; columns first (0..n-1), then logicals (n..n+m-1). */
  readonly basis: Int32Array;
  /** Position of a variable in the basis, -1 where nonbasic. */
  readonly position: Int32Array;
  protected readonly inverse: Float64Array;
  protected readonly x: Float64Array;
  protected readonly y: Float64Array;
  protected readonly work: Float64Array;
  protected readonly phaseCost: Float64Array;
  protected sinceFactor = 0;
  /** Pivots done so far, for benchmarks. */
  pivots = 0;

  constructor(program: Program) {
    const m = program.rows.length;
    const n = program.columns.length;
    this.m = m;
    this.n = n;
    this.total = n + m;
    const counts = new Int32Array(n + 1);
    for (const row of program.rows) for (const j of row.index) counts[j + 1]!++;
    for (let j = 0; j < n; j++) counts[j + 1]! += counts[j]!;
    this.start = counts;
    const entries = counts[n]!;
    this.rowOf = new Int32Array(entries);
    this.value = new Float64Array(entries);
    const next = counts.slice(0, n);
    program.rows.forEach((row, i) => {
      row.index.forEach((j, k) => {
        const at = next[j]!++;
        this.rowOf[at] = i;
        this.value[at] = row.value[k]!;
      });
    });
    this.rowScale = new Float64Array(m).fill(1);
    this.columnScale = new Float64Array(n).fill(1);
    this.scale();
    this.cost = new Float64Array(this.total);
    this.lower = new Float64Array(this.total);
    this.upper = new Float64Array(this.total);
    let largest = 0;
    program.rows.forEach((row, i) => {
      for (const bound of [row.lower, row.upper])
        if (Number.isFinite(bound)) largest = Math.max(largest, Math.abs(bound) * this.rowScale[i]!);
    });
    this.boundScale = largest > 0 ? 1 / powerOfTwo(largest) : 1;
    program.columns.forEach((column, j) => {
      this.upper[j] = (column.upper / this.columnScale[j]!) * this.boundScale;
    });
    for (const [i, row] of program.rows.entries()) this.setRowBounds(i, row.lower, row.upper);
    this.setCosts(program.columns.map((column) => column.cost));
    this.basis = new Int32Array(m);
    this.position = new Int32Array(this.total).fill(-1);
    this.inverse = new Float64Array(m * m);
    this.x = new Float64Array(this.total);
    this.y = new Float64Array(m);
    this.work = new Float64Array(m);
    this.phaseCost = new Float64Array(this.total);
    this.startFromLogicals();
  }

  /** Geometric-mean scaling, three passes, rounded to powers of two. */
  protected scale(): void {
    const { m, n, start, rowOf, value, rowScale, columnScale } = this;
    for (let pass = 0; pass < 3; pass++) {
      const low = new Float64Array(m).fill(Infinity);
      const high = new Float64Array(m);
      for (let j = 0; j < n; j++)
        for (let k = start[j]!; k < start[j + 1]!; k++) {
          const size = Math.abs(value[k]!) * columnScale[j]!;
          const i = rowOf[k]!;
          if (size < low[i]!) low[i] = size;
          if (size > high[i]!) high[i] = size;
        }
      for (let i = 0; i < m; i++)
        rowScale[i] = high[i]! > 0 ? 1 / powerOfTwo(Math.sqrt(low[i]! * high[i]!)) : 1;
      for (let j = 0; j < n; j++) {
        let smallest = Infinity;
        let biggest = 0;
        for (let k = start[j]!; k < start[j + 1]!; k++) {
          const size = Math.abs(value[k]!) * rowScale[rowOf[k]!]!;
          if (size < smallest) smallest = size;
          if (size > biggest) biggest = size;
        }
        columnScale[j] = biggest > 0 ? 1 / powerOfTwo(Math.sqrt(smallest * biggest)) : 1;
      }
    }
    for (let j = 0; j < n; j++)
      for (let k = start[j]!; k < start[j + 1]!; k++) value[k]! *= rowScale[rowOf[k]!]! * columnScale[j]!;
  }

  /** Replaces the bounds of row `i` (program units); the basis stays. */
  setRowBounds(i: number, lower: number, upper: number): void {
    const factor = this.rowScale[i]! * this.boundScale;
    this.lower[this.n + i] = lower * factor;
    this.upper[this.n + i] = upper * factor;
  }

  /** Replaces the upper bound of column `j` (program units); the basis stays. */
  setColumnUpper(j: number, upper: number): void {
    this.upper[j] = (upper / this.columnScale[j]!) * this.boundScale;
  }

  /** Replaces the costs (program units, one per column); the basis stays. */
  setCosts(costs: readonly number[]): void {
    let largest = 0;
    costs.forEach((cost, j) => {
      largest = Math.max(largest, Math.abs(cost * this.columnScale[j]!));
    });
    this.costScale = largest > 0 ? 1 / powerOfTwo(largest) : 1;
    costs.forEach((cost, j) => {
      this.cost[j] = cost * this.columnScale[j]! * this.costScale;
    });
  }

  protected startFromLogicals(): void {
    const { m, n } = this;
    this.position.fill(-1);
    this.inverse.fill(0);
    for (let i = 0; i < m; i++) {
      this.basis[i] = n + i;
      this.position[n + i] = i;
      this.inverse[i * m + i] = -1;
    }
    for (let j = 0; j < this.total; j++) if (this.position[j]! < 0) this.x[j] = this.restAt(j, 0);
    this.computeBasics();
  }

  /** The bound a nonbasic variable rests at, the nearer to `near`. */
  protected restAt(j: number, near: number): number {
    const low = this.lower[j]!;
    const high = this.upper[j]!;
    if (low === -Infinity) return high === Infinity ? 0 : high;
    if (high === Infinity) return low;
    return Math.abs(near - low) <= Math.abs(near - high) ? low : high;
  }

  /**
   * Takes over a point (program units, one entry per column) as a basis: variables away from their bounds become
   * basic, the rest rest at the nearer bound. The point of a vertex comes back exactly.
   */
  crossOver(point: readonly number[]): void {
    const { m, n } = this;
    this.startFromLogicals();
    const at = new Float64Array(this.total);
    for (let j = 0; j < n; j++) at[j] = (point[j]! / this.columnScale[j]!) * this.boundScale;
    for (let j = 0; j < n; j++)
      for (let k = this.start[j]!; k < this.start[j + 1]!; k++)
        at[n + this.rowOf[k]!]! += this.value[k]! * at[j]!;
    const inside = (j: number): number => Math.min(at[j]! - this.lower[j]!, this.upper[j]! - at[j]!);
    const candidates = Array.from({ length: n }, (_, j) => j).filter((j) => inside(j) > 1e-9);
    candidates.sort((a, b) => inside(b) - inside(a) || a - b);
    for (const j of candidates) {
      this.column(j, this.work);
      let best = -1;
      let bestScore = 0;
      for (let i = 0; i < m; i++) {
        const size = Math.abs(this.work[i]!);
        const leaving = this.basis[i]!;
        if (leaving < n || size < 1e-7) continue;
        const score = size / (Math.max(0, inside(leaving)) + 1e-6);
        if (score > bestScore) {
          bestScore = score;
          best = i;
        }
      }
      if (best >= 0) {
        const leaving = this.basis[best]!;
        this.replace(best, j, this.work);
        this.x[leaving] = this.restAt(leaving, at[leaving]!);
      }
    }
    for (let j = 0; j < this.total; j++) if (this.position[j]! < 0) this.x[j] = this.restAt(j, at[j]!);
    this.factor();
    this.computeBasics();
  }

  /** Entry of variable j in a row of inverse * (columns, logicals), given that row of the inverse. */
  protected rowEntry(row: Float64Array, j: number): number {
    if (j >= this.n) return -row[j - this.n]!;
    let sum = 0;
    for (let k = this.start[j]!; k < this.start[j + 1]!; k++) sum += row[this.rowOf[k]!]! * this.value[k]!;
    return sum;
  }

  /** out = inverse * column of variable j. */
  protected column(j: number, out: Float64Array): void {
    const { m, n, inverse } = this;
    out.fill(0);
    if (j >= n) {
      const i = j - n;
      for (let r = 0; r < m; r++) out[r] = -inverse[r * m + i]!;
      return;
    }
    for (let k = this.start[j]!; k < this.start[j + 1]!; k++) {
      const v = this.value[k]!;
      const i = this.rowOf[k]!;
      for (let r = 0; r < m; r++) out[r]! += inverse[r * m + i]! * v;
    }
  }

  /** Puts variable `entering` into basis position `r`, given its column in the present basis. */
  protected replace(r: number, entering: number, column: Float64Array): void {
    const { m, inverse } = this;
    const pivot = column[r]!;
    const base = r * m;
    for (let k = 0; k < m; k++) inverse[base + k]! /= pivot;
    for (let i = 0; i < m; i++) {
      const factor = column[i]!;
      if (i === r || factor === 0) continue;
      const row = i * m;
      for (let k = 0; k < m; k++) inverse[row + k]! -= factor * inverse[base + k]!;
    }
    this.position[this.basis[r]!] = -1;
    this.basis[r] = entering;
    this.position[entering] = r;
    this.sinceFactor++;
    this.pivots++;
  }

  /** Inverts the basis afresh (Gauss-Jordan, partial pivoting). A singular column gives way to a logical. */
  protected factor(): void {
    const { m, n } = this;
    this.sinceFactor = 0;
    const wanted = Array.from(this.basis);
    this.inverse.fill(0);
    this.position.fill(-1);
    for (let i = 0; i < m; i++) {
      this.basis[i] = n + i;
      this.inverse[i * m + i] = -1;
    }
    for (let i = 0; i < m; i++) this.position[n + i] = i;
    const free = new Uint8Array(m).fill(1);
    for (const j of wanted) if (j >= n) free[j - n] = 0;
    const pivotsBefore = this.pivots;
    for (const j of wanted) {
      if (j >= n) continue;
      this.column(j, this.work);
      let best = -1;
      let size = PIVOT;
      for (let i = 0; i < m; i++) {
        if (free[i]! && Math.abs(this.work[i]!) > size) {
          size = Math.abs(this.work[i]!);
          best = i;
        }
      }
      if (best < 0) {
        this.x[j] = this.restAt(j, this.x[j]!);
        continue;
      }
      free[best] = 0;
      this.replace(best, j, this.work);
    }
    this.pivots = pivotsBefore;
    this.sinceFactor = 0;
    for (let i = 0; i < m; i++) {
      const logical = n + i;
      if (this.position[logical]! < 0) this.x[logical] = this.restAt(logical, this.x[logical]!);
    }
  }

  /** Values of the basic variables from the nonbasic ones; of their rates of change where `x` holds rates. */
  protected computeBasics(x: Float64Array = this.x): void {
    const { m, n, inverse } = this;
    const rhs = new Float64Array(m);
    for (let j = 0; j < n; j++) {
      const value = x[j]!;
      if (this.position[j]! >= 0 || value === 0) continue;
      for (let k = this.start[j]!; k < this.start[j + 1]!; k++)
        rhs[this.rowOf[k]!]! -= this.value[k]! * value;
    }
    for (let i = 0; i < m; i++) if (this.position[n + i]! < 0) rhs[i]! += x[n + i]!;
    for (let r = 0; r < m; r++) {
      let sum = 0;
      for (let k = 0; k < m; k++) sum += inverse[r * m + k]! * rhs[k]!;
      x[this.basis[r]!] = sum;
    }
  }

  protected computeDuals(cost: Float64Array): void {
    const { m, y, inverse } = this;
    y.fill(0);
    for (let r = 0; r < m; r++) {
      const c = cost[this.basis[r]!]!;
      if (c === 0) continue;
      for (let k = 0; k < m; k++) y[k]! += c * inverse[r * m + k]!;
    }
  }

  protected reducedCost(j: number, cost: Float64Array): number {
    if (j >= this.n) return cost[j]! + this.y[j - this.n]!;
    let d = cost[j]!;
    for (let k = this.start[j]!; k < this.start[j + 1]!; k++) d -= this.y[this.rowOf[k]!]! * this.value[k]!;
    return d;
  }

  /** How far a variable is outside its bounds (0 inside), beyond the tolerance of its size. */
  protected outside(j: number): number {
    const value = this.x[j]!;
    const low = this.lower[j]!;
    const high = this.upper[j]!;
    if (value < low - FEASIBILITY * (1 + Math.abs(low))) return value - low;
    if (value > high + FEASIBILITY * (1 + Math.abs(high))) return value - high;
    return 0;
  }

  /** Goes on from the present basis to an optimal one (primal simplex, both phases). */
  optimise(): SimplexStatus {
    const limit = 2000 + 40 * this.total;
    let degenerate = 0;
    let polished = false;
    for (let iteration = 0; iteration < limit; iteration++) {
      if (this.sinceFactor >= REFACTOR_EVERY) {
        this.factor();
        this.computeBasics();
      }
      let infeasible = false;
      for (let r = 0; r < this.m; r++) {
        const j = this.basis[r]!;
        const off = this.outside(j);
        this.phaseCost[j] = Math.sign(off);
        if (off !== 0) infeasible = true;
      }
      const cost = infeasible ? this.phaseCost : this.cost;
      this.computeDuals(cost);
      const bland = degenerate > 20 + this.m;
      const entering = this.price(cost, bland);
      for (let r = 0; r < this.m; r++) this.phaseCost[this.basis[r]!] = 0;
      if (entering < 0) {
        if (this.sinceFactor > 0 && !polished) {
          polished = true;
          this.factor();
          this.computeBasics();
          continue;
        }
        return infeasible ? "infeasible" : "optimal";
      }
      polished = false;
      const step = this.move(entering, infeasible, bland);
      if (step === Infinity) return infeasible ? "stalled" : "unbounded";
      degenerate = step > 1e-12 ? 0 : degenerate + 1;
    }
    return "stalled";
  }

  protected enteringDirection = 1;

  protected price(cost: Float64Array, bland: boolean): number {
    let best = -1;
    let bestSize = OPTIMALITY;
    for (let j = 0; j < this.total; j++) {
      if (this.position[j]! >= 0) continue;
      const low = this.lower[j]!;
      const high = this.upper[j]!;
      if (low === high) continue;
      const d = this.reducedCost(j, cost);
      const canRise = this.x[j]! < high;
      const canFall = this.x[j]! > low;
      const gain = canRise && d < 0 ? -d : canFall && d > 0 ? d : 0;
      if (gain > bestSize) {
        best = j;
        this.enteringDirection = d < 0 ? 1 : -1;
        if (bland) return j;
        bestSize = gain;
      }
    }
    return best;
  }

  /** Moves the entering variable as far as it goes, pivots or flips it; returns the length of the step. */
  protected move(entering: number, infeasible: boolean, bland: boolean): number {
    const { m, work, x, basis } = this;
    this.column(entering, work);
    const direction = this.enteringDirection;
    let step = this.upper[entering]! - this.lower[entering]!;
    let leaving = -1;
    let leavingBound = 0;
    let pivotSize = 0;
    for (let r = 0; r < m; r++) {
      const rate = -direction * work[r]!;
      if (Math.abs(rate) < PIVOT) continue;
      const j = basis[r]!;
      const value = x[j]!;
      const low = this.lower[j]!;
      const high = this.upper[j]!;
      const off = infeasible ? this.outside(j) : 0;
      let bound: number;
      if (off < 0) {
        if (rate < 0) continue;
        bound = low;
      } else if (off > 0) {
        if (rate > 0) continue;
        bound = high;
      } else bound = rate > 0 ? high : low;
      if (!Number.isFinite(bound)) continue;
      const t = Math.max(0, (bound - value) / rate);
      const tie = step < Infinity && Math.abs(t - step) <= 1e-12 * (1 + step);
      const better = bland
        ? t < step - 1e-14 || (tie && (leaving < 0 || j < basis[leaving]!))
        : (!tie && t < step) || (tie && Math.abs(rate) > pivotSize);
      if (better) {
        step = Math.min(t, step);
        leaving = r;
        leavingBound = bound;
        pivotSize = Math.abs(rate);
      }
    }
    if (step === Infinity) return Infinity;
    for (let r = 0; r < m; r++) x[basis[r]!]! -= direction * work[r]! * step;
    if (leaving < 0) {
      x[entering] = direction > 0 ? this.upper[entering]! : this.lower[entering]!;
      return step;
    }
    const out = basis[leaving]!;
    x[entering]! += direction * step;
    this.replace(leaving, entering, work);
    x[out] = leavingBound;
    return step;
  }

  /**
   * Keeps to the optimal face of the present costs: every nonbasic variable whose reduced cost is not zero is fixed
   * where it is. A further `setCosts` and `optimise` then breaks ties without losing the optimum.
   */
  fixOptimalFace(): void {
    this.computeDuals(this.cost);
    for (let j = 0; j < this.total; j++) {
      if (this.position[j]! >= 0) continue;
      if (Math.abs(this.reducedCost(j, this.cost)) > 1e-9) {
        this.lower[j] = this.x[j]!;
        this.upper[j] = this.x[j]!;
      }
    }
  }

  /** The point, in program units; what is only rounding, or rounding left below zero, is zero. */
  point(): number[] {
    return Array.from({ length: this.n }, (_, j) =>
      this.x[j]! <= ROUNDING ? 0 : (this.x[j]! * this.columnScale[j]!) / this.boundScale,
    );
  }

  /** Row duals of the present basis for the present costs, in program units: change of cost per unit of the row's bound. */
  duals(): number[] {
    this.computeDuals(this.cost);
    return this.cleanDuals(this.y);
  }

  /**
   * Duals in program units. What is only rounding is zero: on a column that costs nothing, the slightest false dual
   * would leave the dual bound without any proof.
   */
  protected cleanDuals(y: Float64Array): number[] {
    const largest = y.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
    return Array.from(y, (value, i) =>
      Math.abs(value) <= ROUNDING * largest ? 0 : (value * this.rowScale[i]!) / this.costScale,
    );
  }

  /** Reduced costs of the columns for the present basis and costs, in program units. */
  reducedCosts(): number[] {
    this.computeDuals(this.cost);
    return Array.from(
      { length: this.n },
      (_, j) => this.reducedCost(j, this.cost) / (this.columnScale[j]! * this.costScale),
    );
  }
}
