/**
 * What one mix for a set of beds costs by weight, without a shed: F(S), with a bound that duals prove.
 *
 * Over y, the kg in one unit of money of the mix, bed b needs money D_b = 1/v_b, and the cost is the sum of 1/v_b. Rows of
 * beds come in when they are missed, tangents where a share is; points of touch are rounded to one in a hundred unless an
 * exact answer is asked for, so that they serve the next set too.
 */
import {
  cutAt,
  kindOfBed,
  type MixBed,
  type MixRow,
  missOf,
  mostM,
  sharedBy,
  timesLarger,
} from "../program/shared-mix.ts";
import { type Column, type Entry, other, type Program, type Row, rowOf, termsOf } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { boundWithin } from "../solver/verify.ts";

/** A bed with what it costs by itself. */
interface ValuedBed extends MixBed {
  /** Money by weight, above zero; no mix feeds it for less. */
  readonly own: number;
}

/** One mix for a set of beds. */
export interface Value {
  /** What this mix costs; Infinity where none is known. */
  readonly cost: number;
  /** No mix costs less; Infinity where none feeds all. */
  readonly bound: number;
  /** kg of each amendment in one unit of money; empty where no mix is known. */
  readonly mix: readonly number[];
}

export interface ValueLimits {
  /** Share of the cost that may stay between cost and bound. */
  readonly gap: number;
  /** Nothing dearer matters. */
  readonly cutoff?: number;
}

const NOTHING: Value = { cost: Infinity, bound: Infinity, mix: [] };
/** A mix that costs a bed so many times what it would by itself is none. */
const MOST_TIMES = 1e4;
const LEAST_PART = 1 / MOST_TIMES;
/** A row missed by less than this counts as kept. */
const KEPT = 1e-10;
/** The same where margins are held by cuts. */
const KEPT_BY_CUTS = 1e-7;
const MOST_ROUNDS = 200;
/** What a bed costs by itself is known so well. */
const OWN_GAP = 1e-10;
/** Tangents touch at powers of this while searching. */
const STEP = Math.log(1.01);
/** Rows and touches of earlier sets that a bed begins with, at most. */
const REMEMBERED = 8;

/** Values sets of beds, and remembers for each bed which rows and touches mattered. */
export class MixValues {
  readonly beds: readonly ValuedBed[];
  private readonly rows: MixRow[][];
  private readonly touches: number[][];

  /**
   * @param prices of the farm's amendments, money per kg, each above zero.
   * @param roughly what each bed costs by itself; absent: it is worked out.
   */
  constructor(
    beds: readonly MixBed[],
    readonly prices: readonly number[],
    roughly?: readonly number[],
  ) {
    this.beds = beds.map((bed, b) => ({ ...bed, own: roughly?.[b] ?? ownCost(bed, prices) }));
    this.rows = beds.map(() => []);
    this.touches = beds.map(() => [1]);
  }

  /** What a bed pays for its part of a mix; Infinity where the mix does not feed it. */
  costOf(b: number, mix: readonly number[]): number {
    const bed = this.beds[b]!;
    if (mix.some((kg, a) => kg > 0 && !bed.may[a])) return Infinity;
    const m = mostM(bed, mix);
    if (!(m > LEAST_PART / bed.own) || m === Infinity) return Infinity;
    const kept = bed.cones.length > 0 ? KEPT_BY_CUTS : 10 * KEPT;
    return bed.rows.every((row) => missOf(row, mix, m) <= kept) ? this.priceOf(mix) / m : Infinity;
  }

  private priceOf(mix: readonly number[]): number {
    return mix.reduce((sum, kg, a) => sum + kg * this.prices[a]!, 0);
  }

  /** One mix for a set of beds. */
  value(set: readonly number[], { gap, cutoff = Infinity }: ValueLimits): Value {
    const amendments = sharedBy(set.map((b) => this.beds[b]!));
    if (amendments.length === 0) return NOTHING;
    const work = new Shared(this, set, amendments);
    for (const b of set) work.begin(b, this.rows[b]!, this.touches[b]!);
    const exact = gap < 1e-5;
    let best: Value = { ...NOTHING, bound: 0 };
    for (let round = 0; round < MOST_ROUNDS; round++) {
      const point = work.solve();
      if (point === "none") return NOTHING;
      if (point === null) break;
      const { mix, bound } = point;
      best = { ...best, bound: Math.max(best.bound, bound) };
      const cost = set.reduce((sum, b) => sum + this.costOf(b, mix), 0);
      if (cost < best.cost) best = { ...best, cost, mix };
      if (best.bound >= cutoff || (best.cost < Infinity && best.cost - best.bound <= gap * best.cost)) break;
      if (!work.tighten(exact)) break;
    }
    for (const b of set) {
      const { rows, touches } = work.mattered(b);
      this.rows[b] = [...new Set([...rows, ...this.rows[b]!])].slice(0, REMEMBERED);
      this.touches[b] = [...new Set([...touches, ...this.touches[b]!])].slice(0, REMEMBERED);
    }
    return best;
  }
}

/** What a bed costs by itself, everything bought by weight. */
function ownCost(bed: MixBed, prices: readonly number[]): number {
  const rough = bed.kg * Math.max(...prices);
  const { bound } = new MixValues([bed], prices, [rough]).value([0], { gap: OWN_GAP });
  return bound < Infinity ? bound : rough;
}

/** The growing program of one set. */
class Shared {
  private readonly columns: Column[];
  private readonly rowsOf = new Map<number, MixRow[]>();
  private readonly touchesOf = new Map<number, number[]>();
  private readonly place: Map<number, number>;
  private readonly fixed: Row;
  private last: { program: Program; simplex: Simplex; keys: readonly unknown[] } | null = null;
  private readonly made = new Map<unknown, Row>();

  constructor(
    private readonly values: MixValues,
    private readonly set: readonly number[],
    private readonly amendments: readonly number[],
  ) {
    this.place = new Map(amendments.map((a, j) => [a, j]));
    const { beds, prices } = values;
    this.columns = [
      ...amendments.map((a): Column => ({ tag: other(`kg ${a}`), cost: 0, upper: Infinity })),
      ...set.map((b): Column => ({ tag: other(`part ${b}`), cost: 0, upper: Infinity })),
      ...set.map((b): Column => ({ tag: other(`times ${b}`), cost: beds[b]!.own, upper: Infinity })),
    ];
    const entries = amendments.map((a, j): Entry => [j, prices[a]!]);
    this.fixed = rowOf(other("one unit of money"), termsOf(entries), { lower: 1, upper: 1 });
  }

  begin(b: number, rows: readonly MixRow[], touches: readonly number[]): void {
    this.rowsOf.set(b, [...rows]);
    this.touchesOf.set(b, [...touches]);
  }

  /** Columns: the part v_b over that of the bed by itself, above `LEAST_PART`; how many times its own cost it costs. */
  private partColumn(s: number): number {
    return this.amendments.length + s;
  }
  private timesColumn(s: number): number {
    return this.amendments.length + this.set.length + s;
  }

  private program(): { program: Program; keys: unknown[] } {
    const rows: Row[] = [this.fixed];
    const keys: unknown[] = [this.fixed];
    this.set.forEach((b, s) => {
      const { own } = this.values.beds[b]!;
      for (const row of this.rowsOf.get(b)!) {
        let made = this.made.get(row);
        if (!made) {
          const entries = row.index.flatMap((a, k): Entry[] => {
            const j = this.place.get(a);
            return j === undefined ? [] : [[j, row.value[k]!]];
          });
          const per = row.bound / own;
          if (per !== 0) entries.push([this.partColumn(s), -per]);
          made = rowOf(row.tag, termsOf(entries), { lower: per * LEAST_PART, scale: row.scale / own });
          this.made.set(row, made);
        }
        rows.push(made);
        keys.push(row);
      }
      for (const at of this.touchesOf.get(b)!) {
        const entries: Entry[] = [
          [this.timesColumn(s), 1],
          [this.partColumn(s), at * at],
        ];
        rows.push(
          rowOf(other("tangent"), termsOf(entries), { lower: 2 * at - at * at * LEAST_PART, scale: at }),
        );
        keys.push(`${b} ${at}`);
      }
    });
    return { program: { columns: this.columns, rows }, keys };
  }

  /** The mix of the present program and the bound its duals prove; null: no answer to be had, `none`: there is none. */
  solve(): { readonly mix: readonly number[]; readonly bound: number } | "none" | null {
    const { program, keys } = this.program();
    const simplex = new Simplex(program);
    if (this.last) {
      const before = new Map(this.last.keys.map((key, i) => [key, i]));
      simplex.takeBasis(
        this.last.simplex,
        keys.map((key) => before.get(key) ?? -1),
      );
    }
    this.last = { program, simplex, keys };
    let status = simplex.optimise();
    if (status !== "optimal" && status !== "infeasible") {
      simplex.startFromLogicals();
      status = simplex.optimise();
    }
    if (status === "infeasible") return "none";
    if (status !== "optimal") return null;
    const n = program.columns.length;
    const lower = new Float64Array(n);
    const upper = new Float64Array(n).fill(Infinity);
    const bound = boundWithin(program, simplex.duals(), lower, upper);
    const mix = this.values.prices.map(() => 0);
    this.amendments.forEach((a, j) => {
      mix[a] = Math.max(0, simplex.amount(j));
    });
    return { mix, bound };
  }

  private partOf(s: number): number {
    return this.last!.simplex.amount(this.partColumn(s)) + LEAST_PART;
  }

  /** Adds rows that the present point misses and tangents where a share is too small; false where none is to be added. */
  tighten(exact: boolean): boolean {
    const { simplex } = this.last!;
    const mix = this.values.prices.map(() => 0);
    this.amendments.forEach((a, j) => {
      mix[a] = Math.max(0, simplex.amount(j));
    });
    let added = false;
    this.set.forEach((b, s) => {
      const bed = this.values.beds[b]!;
      const part = this.partOf(s);
      const m = part / bed.own;
      const rows = this.rowsOf.get(b)!;
      let worst = KEPT;
      let row: MixRow | null = null;
      for (const one of bed.rows) {
        const miss = missOf(one, mix, m);
        if (miss > worst && !rows.includes(one)) {
          worst = miss;
          row = one;
        }
      }
      if (row) rows.push(row);
      else
        for (const cone of bed.cones) {
          const cut = cutAt(cone, mix, m);
          if (missOf(cut, mix, m) <= KEPT) continue;
          rows.push(cut);
          row = cut;
        }
      if (row) added = true;
      // Cuts come near slowly: the tangent does not wait for them.
      if (row && bed.cones.length === 0) return;
      const times = simplex.amount(this.timesColumn(s));
      if (times * part >= 1 - 1e-11) return;
      const touches = this.touchesOf.get(b)!;
      const at = exact ? 1 / part : Math.exp(Math.round(-Math.log(part) / STEP) * STEP);
      if (touches.includes(at)) return;
      touches.push(at);
      added = true;
    });
    return added;
  }

  /** The rows and touches of a bed that hold the present point. */
  mattered(b: number): { rows: readonly MixRow[]; touches: readonly number[] } {
    if (!this.last) return { rows: [], touches: [] };
    const { simplex, keys } = this.last;
    const tight = new Set(keys.filter((_, i) => !simplex.isBasic(simplex.n + i)));
    return {
      rows: this.rowsOf.get(b)!.filter((row) => tight.has(row)),
      touches: this.touchesOf.get(b)!.filter((at) => tight.has(`${b} ${at}`)),
    };
  }
}

/** Beds alike up to their size as one each, with the beds that it is made of. */
export interface Kind {
  readonly bed: MixBed;
  readonly members: readonly number[];
}

/**
 * Merges beds that are alike up to their size.
 * @param apart what else must be the same of beds that are merged, such as the mix they are pinned to.
 */
export function kindsOf(beds: readonly MixBed[], apart: (b: number) => string = () => ""): Kind[] {
  const groups = new Map<string, number[]>();
  beds.forEach((bed, b) => {
    const key = `${apart(b)} ${kindOfBed(bed)}`;
    const members = groups.get(key);
    if (members) members.push(b);
    else groups.set(key, [b]);
  });
  return [...groups.values()].map((members): Kind => {
    const first = beds[members[0]!]!;
    const kg = members.reduce((sum, b) => sum + beds[b]!.kg, 0);
    return { bed: timesLarger(first, kg / first.kg), members };
  });
}
