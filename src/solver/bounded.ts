/**
 * A dual simplex on a dense condensed tableau, for the many nearly equal relaxations of a branch and bound: bounds of
 * variables change, the basis stays, and a few pivots restore it.
 *
 * Every row i of the program becomes a variable s_i = a_i.x with the row's bounds; basic variables are written in
 * terms of nonbasic ones that rest at a bound (the dual simplex for bounded variables; Chvatal, Linear Programming,
 * 1983). The ratio test passes over variables that can go from one bound to the other (the long-step rule; Maros,
 * Computational Techniques of the Simplex Method, 2003).
 *
 * What it says is not believed: `provenBound` and `provenInfeasible` recompute their claim from the program's rows.
 */
import type { Program } from "./program.ts";

export type BoundedStatus = "optimal" | "infeasible" | "cut off" | "stalled";

const FEASIBILITY = 1e-9;
const PIVOT = 1e-9;
const REBUILD_EVERY = 200;
/** Shift of costs, relative to the largest. */
const SHIFT = 1e-8;
/** Pivots after which the rule that cannot cycle takes over. */
const CAREFUL_AFTER = 1000;

export class BoundedTableau {
  readonly n: number;
  readonly m: number;
  /** Bounds of columns (0..n-1), then of rows (n..n+m-1), rows scaled. */
  readonly lower: Float64Array;
  readonly upper: Float64Array;
  /** Present value of every variable. */
  readonly value: Float64Array;
  /** Pivots done so far. */
  pivots = 0;
  private readonly rowScale: Float64Array;
  private readonly rowIndex: Int32Array[];
  private readonly rowValue: Float64Array[];
  private readonly cost: Float64Array;
  private table: Float64Array;
  /** Reduced costs by nonbasic position: of the costs, and of the slightly shifted costs that steer the pivots. */
  private readonly plain: Float64Array;
  private readonly reduced: Float64Array;
  private readonly shifted: Float64Array;
  private readonly nonbasic: Int32Array;
  private readonly basic: Int32Array;
  /** Place of a variable: its nonbasic position, or -1 - its row. */
  private readonly place: Int32Array;
  private readonly candidates: Int32Array;
  private readonly ratio: Float64Array;
  private readonly filled: Int32Array;
  private readonly flips: Int32Array;
  private sinceRebuild = 0;
  private infeasibleRow = -1;

  /** @param program costs are at least 0, or the column has an upper bound: the start is then dual feasible. */
  constructor(program: Program) {
    const n = program.columns.length;
    const m = program.rows.length;
    this.n = n;
    this.m = m;
    this.rowScale = Float64Array.from(program.rows, (row) => {
      // A bound near 1 makes one tolerance fit every row, be it in tonnes of compost or in grams of boron.
      const bounds = [row.lower, row.upper].filter((b) => Number.isFinite(b) && b !== 0).map(Math.abs);
      const size =
        bounds.length > 0
          ? Math.min(...bounds)
          : row.value.reduce((most, v) => Math.max(most, Math.abs(v)), 0);
      return size > 0 ? 2 ** -Math.round(Math.log2(size)) : 1;
    });
    this.rowIndex = program.rows.map((row) => Int32Array.from(row.index));
    this.rowValue = program.rows.map((row, i) => Float64Array.from(row.value, (v) => v * this.rowScale[i]!));
    this.cost = Float64Array.from(program.columns, (column) => column.cost);
    // Many reduced costs are zero at once; shifts too small to matter keep the pivots from going in circles.
    const largest = this.cost.reduce((most, cost) => Math.max(most, Math.abs(cost)), 0);
    this.shifted = this.cost.map((cost, j) => cost + SHIFT * largest * (1 + ((j * 0.6180339887498949) % 1)));
    this.lower = new Float64Array(n + m);
    this.upper = new Float64Array(n + m);
    program.columns.forEach((column, j) => {
      this.upper[j] = column.upper;
    });
    program.rows.forEach((row, i) => {
      this.lower[n + i] = row.lower * this.rowScale[i]!;
      this.upper[n + i] = row.upper * this.rowScale[i]!;
    });
    this.value = new Float64Array(n + m);
    this.table = new Float64Array(m * n);
    this.plain = new Float64Array(n);
    this.reduced = new Float64Array(n);
    this.nonbasic = new Int32Array(n);
    this.basic = new Int32Array(m);
    this.place = new Int32Array(n + m);
    this.candidates = new Int32Array(n);
    this.ratio = new Float64Array(n);
    this.filled = new Int32Array(n);
    this.flips = new Int32Array(n);
    this.startFromRows();
  }

  /** Takes over the state of another tableau of the same program. */
  copyFrom(other: BoundedTableau): void {
    this.table.set(other.table);
    this.plain.set(other.plain);
    this.reduced.set(other.reduced);
    this.nonbasic.set(other.nonbasic);
    this.basic.set(other.basic);
    this.place.set(other.place);
    this.lower.set(other.lower);
    this.upper.set(other.upper);
    this.value.set(other.value);
    this.sinceRebuild = other.sinceRebuild;
  }

  private startFromRows(): void {
    const { n, m, table } = this;
    table.fill(0);
    for (let i = 0; i < m; i++) {
      const index = this.rowIndex[i]!;
      const value = this.rowValue[i]!;
      for (let k = 0; k < index.length; k++) table[i * n + index[k]!]! += value[k]!;
      this.basic[i] = n + i;
      this.place[n + i] = -1 - i;
    }
    for (let j = 0; j < n; j++) {
      this.nonbasic[j] = j;
      this.place[j] = j;
      this.plain[j] = this.cost[j]!;
      this.reduced[j] = this.shifted[j]!;
    }
    this.sinceRebuild = 0;
    this.rest();
  }

  /** Puts every nonbasic variable at the bound its reduced cost asks for, and works out the basic ones. */
  private rest(): void {
    const { n, m, table, value, nonbasic } = this;
    for (let p = 0; p < n; p++) value[nonbasic[p]!] = this.restingPlace(p);
    for (let i = 0; i < m; i++) {
      let sum = 0;
      for (let p = 0; p < n; p++) sum += table[i * n + p]! * value[nonbasic[p]!]!;
      value[this.basic[i]!] = sum;
    }
  }

  private restingPlace(p: number): number {
    const j = this.nonbasic[p]!;
    const low = this.lower[j]!;
    const high = this.upper[j]!;
    const wanted = this.reduced[p]! >= 0 ? low : high;
    if (Number.isFinite(wanted)) return wanted;
    const other = wanted === low ? high : low;
    return Number.isFinite(other) ? other : 0;
  }

  /** Changes the bounds of a variable; its value follows where it is nonbasic. */
  setBounds(j: number, lower: number, upper: number): void {
    this.lower[j] = lower;
    this.upper[j] = upper;
    const p = this.place[j]!;
    if (p < 0) return;
    const target = this.restingPlace(p);
    const step = target - this.value[j]!;
    if (step === 0) return;
    this.value[j] = target;
    const { n, m, table, value, basic } = this;
    for (let i = 0; i < m; i++) value[basic[i]!]! += table[i * n + p]! * step;
  }

  /** Cost of the present point: while dual feasible, a lower bound on every feasible point's. */
  objective(): number {
    let sum = 0;
    for (let j = 0; j < this.n; j++) sum += this.cost[j]! * this.value[j]!;
    return sum;
  }

  /** Reduced cost of a column in the present basis; 0 where it is basic. */
  reducedCost(j: number): number {
    const p = this.place[j]!;
    return p < 0 ? 0 : this.plain[p]!;
  }

  isBasic(j: number): boolean {
    return this.place[j]! < 0;
  }

  /** Goes on to an optimal basis, or until the bound passes `cutoff`, or for at most `limit` pivots. */
  optimise(cutoff = Infinity, limit = 20_000): BoundedStatus {
    for (let iteration = 0; iteration < limit; iteration++) {
      if (this.sinceRebuild >= REBUILD_EVERY && !this.rebuild()) return "stalled";
      const careful = iteration > CAREFUL_AFTER;
      const r = this.leavingRow(careful);
      if (r < 0) {
        // The last steps may have drifted: the point is worked out again before it counts.
        this.rest();
        if (this.leavingRow(false) < 0) return "optimal";
        continue;
      }
      if (!this.step(r, careful)) {
        this.infeasibleRow = r;
        return "infeasible";
      }
      if (this.objective() > cutoff) return "cut off";
    }
    return "stalled";
  }

  /** The basic variable furthest outside its bounds; when careful, the one of least index (Bland's rule). */
  private leavingRow(careful: boolean): number {
    const { m, basic, value, lower, upper } = this;
    let worst = -1;
    let most = 0;
    for (let i = 0; i < m; i++) {
      const j = basic[i]!;
      const v = value[j]!;
      const low = lower[j]!;
      const high = upper[j]!;
      const off = v < low ? low - v : v - high;
      if (!(off > FEASIBILITY)) continue;
      const size = v < low ? Math.abs(low) : Math.abs(high);
      if (off <= FEASIBILITY * (1 + size)) continue;
      if (careful) {
        if (worst < 0 || j < basic[worst]!) worst = i;
      } else if (off > most) {
        most = off;
        worst = i;
      }
    }
    return worst;
  }

  /** One dual pivot on row `r`; false where no nonbasic variable can repair the row. */
  private step(r: number, careful: boolean): boolean {
    const { n, m, table, value, lower, upper, reduced, nonbasic, basic, candidates, ratio } = this;
    const leaving = basic[r]!;
    const rising = value[leaving]! < lower[leaving]!;
    const goal = rising ? lower[leaving]! : upper[leaving]!;
    const base = r * n;
    let count = 0;
    for (let p = 0; p < n; p++) {
      const a = rising ? table[base + p]! : -table[base + p]!;
      if (a < PIVOT && a > -PIVOT) continue;
      const j = nonbasic[p]!;
      const low = lower[j]!;
      const high = upper[j]!;
      if (low === high) continue;
      const atLow = value[j] === low;
      const atHigh = value[j] === high;
      const free = !atLow && !atHigh;
      if (!free && (atLow ? a < 0 : a > 0)) continue;
      candidates[count++] = p;
      ratio[p] = Math.max(0, (atHigh ? -reduced[p]! : reduced[p]!) / Math.abs(a));
      if (free) ratio[p] = 0;
    }
    if (count === 0) return false;
    let need = Math.abs(goal - value[leaving]!);
    let entering = -1;
    const { flips } = this;
    let flipped = 0;
    while (count > 0) {
      let best = 0;
      for (let k = 1; k < count; k++) {
        const p = candidates[k]!;
        const q = candidates[best]!;
        const tie = Math.abs(ratio[p]! - ratio[q]!) <= 1e-12;
        if (
          tie
            ? careful
              ? nonbasic[p]! < nonbasic[q]!
              : Math.abs(table[base + p]!) > Math.abs(table[base + q]!)
            : ratio[p]! < ratio[q]!
        )
          best = k;
      }
      const p = candidates[best]!;
      const j = nonbasic[p]!;
      const reach = Math.abs(table[base + p]!) * (upper[j]! - lower[j]!);
      if (careful || reach >= need || (count === 1 && need - reach <= FEASIBILITY * (1 + Math.abs(goal)))) {
        entering = p;
        break;
      }
      need -= reach;
      flips[flipped++] = p;
      candidates[best] = candidates[--count]!;
    }
    // Even with every candidate at its far bound the row stays violated.
    if (entering < 0) return false;
    for (let k = 0; k < flipped; k++) {
      const p = flips[k]!;
      const j = nonbasic[p]!;
      const target = value[j] === lower[j] ? upper[j]! : lower[j]!;
      const change = target - value[j]!;
      value[j] = target;
      for (let i = 0; i < m; i++) value[basic[i]!]! += table[i * n + p]! * change;
    }
    const pivot = table[base + entering]!;
    const change = (goal - value[leaving]!) / pivot;
    const j = nonbasic[entering]!;
    for (let i = 0; i < m; i++) if (i !== r) value[basic[i]!]! += table[i * n + entering]! * change;
    value[j]! += change;
    value[leaving] = goal;
    this.exchange(r, entering);
    return true;
  }

  /** Swaps the basic variable of row `r` with the nonbasic one at position `q`. */
  private exchange(r: number, q: number): void {
    const { n, m, table } = this;
    const base = r * n;
    const inverse = 1 / table[base + q]!;
    const { filled } = this;
    let count = 0;
    for (let p = 0; p < n; p++) {
      const a = table[base + p]!;
      if (a === 0 || p === q) continue;
      table[base + p] = -a * inverse;
      filled[count++] = p;
    }
    table[base + q] = inverse;
    for (let i = 0; i < m; i++) {
      if (i === r) continue;
      const row = i * n;
      const factor = table[row + q]!;
      if (factor === 0) continue;
      for (let k = 0; k < count; k++) {
        const p = filled[k]!;
        const sum = table[row + p]! + factor * table[base + p]!;
        table[row + p] = sum < 1e-14 && sum > -1e-14 ? 0 : sum;
      }
      table[row + q] = factor * inverse;
    }
    for (let which = 0; which < 2; which++) {
      const costs = which === 0 ? this.plain : this.reduced;
      const factor = costs[q]!;
      if (factor !== 0)
        for (let k = 0; k < count; k++) costs[filled[k]!]! += factor * table[base + filled[k]!]!;
      costs[q] = factor * inverse;
    }
    const out = this.basic[r]!;
    const into = this.nonbasic[q]!;
    this.basic[r] = into;
    this.nonbasic[q] = out;
    this.place[into] = -1 - r;
    this.place[out] = q;
    this.pivots++;
    this.sinceRebuild++;
  }

  /** Builds the tableau afresh from the rows for the present basis; false where that basis turns out singular. */
  rebuild(): boolean {
    const wanted = Array.from(this.basic).filter((j) => j < this.n);
    const keep = Uint8Array.from(this.rowScale, () => 0);
    for (const j of this.basic) if (j >= this.n) keep[j - this.n] = 1;
    this.startFromRows();
    const { n, m, table } = this;
    for (const j of wanted) {
      const q = this.place[j]!;
      let best = -1;
      let size = 1e-11;
      for (let i = 0; i < m; i++) {
        const b = this.basic[i]!;
        if (b < n || keep[b - n]) continue;
        const a = Math.abs(table[i * n + q]!);
        if (a > size) {
          size = a;
          best = i;
        }
      }
      if (best < 0) return false;
      this.exchange(best, q);
      this.pivots--;
    }
    this.sinceRebuild = 0;
    this.rest();
    return true;
  }

  /**
   * The lower bound that the present duals prove within the present bounds of columns, recomputed from the rows alone
   * by weak duality; -Infinity where they prove nothing. Fills `into` with the reduced costs where given.
   */
  provenBound(into?: Float64Array): number {
    const { n, m } = this;
    const reduced = into ?? new Float64Array(n);
    reduced.set(this.cost);
    let bound = 0;
    for (let i = 0; i < m; i++) {
      const p = this.place[n + i]!;
      if (p < 0) continue;
      const y = this.plain[p]!;
      if (y === 0) continue;
      const side = y > 0 ? this.lower[n + i]! : this.upper[n + i]!;
      if (!Number.isFinite(side)) continue;
      bound += y * side;
      const index = this.rowIndex[i]!;
      const value = this.rowValue[i]!;
      for (let k = 0; k < index.length; k++) reduced[index[k]!]! -= y * value[k]!;
    }
    for (let j = 0; j < n; j++) {
      const d = reduced[j]!;
      if (d === 0) continue;
      const side = d > 0 ? this.lower[j]! : this.upper[j]!;
      if (Number.isFinite(side)) bound += d * side;
      else if (d < -1e-11 * (1 + this.cost[j]!)) return -Infinity;
    }
    return bound;
  }

  /** Whether the row that could not be repaired proves, recomputed from the rows, that no point keeps every bound. */
  provenInfeasible(): boolean {
    const { n, m, table } = this;
    const r = this.infeasibleRow;
    if (r < 0) return false;
    const weight = new Float64Array(m);
    for (let i = 0; i < m; i++) {
      const p = this.place[n + i]!;
      if (p >= 0) weight[i] = -table[r * n + p]!;
      else if (-1 - p === r) weight[i] = 1;
    }
    // Sum of weight * s is sum of (weight * row) * x: the two sides' ranges must not meet.
    const onColumns = new Float64Array(n);
    const size = new Float64Array(n);
    let least = 0;
    let most = 0;
    let scale = 0;
    const add = (coefficient: number, low: number, high: number): void => {
      if (coefficient === 0) return;
      const a = coefficient > 0 ? coefficient * low : coefficient * high;
      const b = coefficient > 0 ? coefficient * high : coefficient * low;
      least += a;
      most += b;
      for (const side of [a, b]) if (Number.isFinite(side)) scale = Math.max(scale, Math.abs(side));
    };
    for (let i = 0; i < m; i++) {
      const w = weight[i]!;
      if (Math.abs(w) < 1e-13) continue;
      add(w, this.lower[n + i]!, this.upper[n + i]!);
      const index = this.rowIndex[i]!;
      const value = this.rowValue[i]!;
      for (let k = 0; k < index.length; k++) {
        onColumns[index[k]!]! -= w * value[k]!;
        size[index[k]!]! += Math.abs(w * value[k]!);
      }
    }
    for (let j = 0; j < n; j++) {
      if (Math.abs(onColumns[j]!) <= 1e-11 * size[j]!) continue;
      add(onColumns[j]!, this.lower[j]!, this.upper[j]!);
    }
    return least > 1e-10 * scale || most < -1e-10 * scale;
  }
}
