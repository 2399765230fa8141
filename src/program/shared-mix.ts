/**
 * One mix for several beds as a convex program.
 *
 * Bed b has rows `a.x >= l` over the kg x that it gets. Where all beds get the same mix in amounts of their own, x = X / m_b,
 * with X the heap and m_b how many times bed b would use it up: every row becomes linear, `a.X >= l m_b`, and so do margins
 * for what varies, since a cone keeps its shape with each constant times m_b. What is left is `sum 1/m_b <= 1`, convex in m
 * and held by tangents (1/m >= 2/m0 - m/m0^2 for every m0 > 0), each of which is a plain row. A program with such rows
 * leaves nothing out that could be done, so its bound is a bound; a point of it counts once its shares add to one.
 */
import type { Amendment } from "../model.ts";
import { spreadsAt } from "../solver/margin.ts";
import { type Column, type Entry, other, type Row, rowOf, termsOf } from "../solver/program.ts";
import type { SureRow } from "../solver/sure.ts";
import type { BlendProgram } from "./build.ts";
import type { RowTag } from "./tags.ts";

/** `sum value[k] * X[index[k]] >= bound * m`: a row of a bed over the heap that it gets a share of. */
export interface MixRow {
  readonly tag: RowTag;
  /** Amendments of the farm. */
  readonly index: readonly number[];
  readonly value: readonly number[];
  readonly bound: number;
  /** The size by which a miss is measured, kg of the bed's. */
  readonly scale: number;
}

/** A row of a bed that is to hold with a margin: `row`, less `z` times the length of its factors. */
export interface MixCone {
  readonly row: MixRow;
  readonly z: number;
  readonly factors: SureRow["factors"];
}

/** A bed as a mix sees it that feeds several. */
export interface MixBed {
  readonly rows: readonly MixRow[];
  readonly cones: readonly MixCone[];
  /** By amendment of the farm: whether the bed may get it. */
  readonly may: readonly boolean[];
  /** What it would get by itself, kg; the size its share is counted in. Above zero. */
  readonly kg: number;
}

/**
 * What a bed asks, over the amendments of the farm; what is asked of the shed is left to the purchase.
 * @param program the bed's own, with one blend.
 * @param sure margins on rows of it.
 * @param amendments of the farm, by id.
 */
export function mixBed(
  own: { readonly amendments: readonly Amendment[] },
  program: BlendProgram,
  sure: readonly SureRow[],
  amendments: readonly Amendment[],
  kg: number,
): MixBed {
  const place = new Map(amendments.map(({ id }, a) => [id, a]));
  const at = new Map<number, number>();
  program.use.forEach((columns, a) => {
    at.set(columns[0]!, place.get(own.amendments[a]!.id)!);
  });
  const side = (row: Row<RowTag>, sign: 1 | -1, bound: number): MixRow => {
    const value = sign === 1 ? row.value : row.value.map((v) => -v);
    const scale = Math.max(row.scale ?? 0, Math.abs(bound));
    return { tag: row.tag, index: row.index.map((j) => at.get(j)!), value, bound: sign * bound, scale };
  };
  const rows = program.rows.flatMap((row) => {
    if (row.tag.kind === "stock") return [];
    return [
      ...(Number.isFinite(row.lower) ? [side(row, 1, row.lower)] : []),
      ...(Number.isFinite(row.upper) ? [side(row, -1, row.upper)] : []),
    ];
  });
  const cones = sure.map(({ row, z, factors }): MixCone => {
    const base = program.rows[row]!;
    return {
      row: side(base, 1, base.lower),
      z,
      factors: factors.map((factor) => ({ ...factor, index: factor.index.map((j) => at.get(j)!) })),
    };
  });
  const own_ = new Set(own.amendments.map(({ id }) => id));
  return { rows, cones, may: amendments.map(({ id }) => own_.has(id)), kg };
}

/** What a row leaves at a heap of which the bed gets one part in `m`: below zero where it is missed. */
export function roomOf({ index, value, bound }: MixRow, heap: readonly number[], m: number): number {
  let sum = -bound * m;
  for (let k = 0; k < index.length; k++) sum += value[k]! * heap[index[k]!]!;
  return sum;
}

/** How far a row is missed, relative to its size or its largest term; zero or less where it holds. */
export function missOf(row: MixRow, heap: readonly number[], m: number): number {
  let size = row.scale * m;
  for (let k = 0; k < row.index.length; k++)
    size = Math.max(size, Math.abs(row.value[k]! * heap[row.index[k]!]!));
  return -roomOf(row, heap, m) / Math.max(size, Number.MIN_VALUE);
}

/** The row that touches a cone at a heap and a share: every mix with the margin keeps it. */
export function cutAt({ row, z, factors }: MixCone, heap: readonly number[], m: number): MixRow {
  const spreads = spreadsAt(
    factors.map((factor) => ({ ...factor, constant: factor.constant * m })),
    heap,
  );
  const length = Math.hypot(...spreads);
  const at = new Map(row.index.map((a, k) => [a, row.value[k]!]));
  let { bound } = row;
  if (length > 0)
    factors.forEach(({ index, value, constant }, f) => {
      const weight = (z * spreads[f]!) / length;
      bound += weight * constant;
      index.forEach((a, k) => {
        at.set(a, (at.get(a) ?? 0) - weight * value[k]!);
      });
    });
  const terms = termsOf([...at].sort(([a], [b]) => a - b));
  return { ...row, ...terms, bound };
}

/** The least heap-to-share that a bed's lower rows ask of a heap: m may be no larger. Infinity where nothing asks. */
export function mostM(bed: MixBed, heap: readonly number[]): number {
  let most = Infinity;
  for (const row of bed.rows) if (row.bound > 0) most = Math.min(most, roomOf(row, heap, 0) / row.bound);
  if (most <= 0) return 0;
  for (const cone of bed.cones) {
    const keeps = (m: number): boolean => roomOf(cutAt(cone, heap, m), heap, m) >= 0;
    if (most < Infinity && keeps(most)) continue;
    let [low, high] = [0, most < Infinity ? most : 1];
    while (most === Infinity && keeps(high) && high < 1e12) high *= 2;
    for (let k = 0; k < 60; k++) {
      const middle = (low + high) / 2;
      if (keeps(middle)) low = middle;
      else high = middle;
    }
    most = low;
  }
  return most;
}

/** What is known of a group's convex part so far: where tangents touch, and the cuts of its cones, by bed. */
export interface SharedCuts {
  readonly touches: readonly (readonly number[])[];
  readonly cones: readonly (readonly MixRow[])[];
}

/** A mix for several beds as the program of one blend: `use` is the heap. */
export interface SharedProgram extends BlendProgram {
  /** Column of `kg_b m_b` by bed: the heap, were all of it spread at the bed's own rate. */
  readonly m: readonly number[];
  /** Column of the bed's share of the heap, times the kg of all beds over its own. */
  readonly share: readonly number[];
}

const ALL_SHARES = other("all shares");

/** Whether a row says that the shares add to one at most. */
export const isAllShares = ({ tag }: Row<RowTag>): boolean => tag === ALL_SHARES;

/** The amendments that all of some beds may get, of those of the farm. */
export function sharedBy(beds: readonly MixBed[]): number[] {
  return beds[0]!.may.flatMap((_, a) => (beds.every(({ may }) => may[a]) ? [a] : []));
}

/**
 * The program of one mix for beds.
 * @param amendments those that all may get (`sharedBy`), as indices of the farm's.
 * @param ids of the farm's amendments.
 */
export function buildShared(
  beds: readonly MixBed[],
  amendments: readonly number[],
  ids: readonly string[],
  { touches, cones }: SharedCuts,
): SharedProgram {
  const columns: Column<BlendProgram["columns"][number]["tag"]>[] = amendments.map((a) => ({
    tag: { kind: "use", id: ids[a]!, application: null },
    cost: 0,
    upper: Infinity,
  }));
  const place = new Map(amendments.map((a, j) => [a, j]));
  const all = beds.reduce((sum, { kg }) => sum + kg, 0);
  const m = beds.map((_, b) => columns.push({ tag: other(`heap for ${b}`), cost: 0, upper: Infinity }) - 1);
  const share = beds.map(
    (_, b) => columns.push({ tag: other(`share of ${b}`), cost: 0, upper: all / beds[b]!.kg }) - 1,
  );
  const rows: Row<RowTag>[] = [];
  beds.forEach((bed, b) => {
    const { kg } = bed;
    for (const row of [...bed.rows, ...cones[b]!]) {
      const entries = row.index.flatMap((a, k): Entry[] => {
        const j = place.get(a);
        return j === undefined ? [] : [[j, row.value[k]!]];
      });
      if (row.bound !== 0) entries.push([m[b]!, -row.bound / kg]);
      rows.push(rowOf(row.tag, termsOf(entries), { lower: 0, scale: (row.scale / kg) * all }));
    }
    // Nothing gets more than the whole heap.
    rows.push(rowOf(other("a part"), termsOf([[m[b]!, 1]]), { lower: kg }));
    for (const at of touches[b]!) {
      const entries: Entry[] = [
        [share[b]!, 1],
        [m[b]!, all / (at * at)],
      ];
      rows.push(rowOf(other("share"), termsOf(entries), { lower: (2 * all) / at }));
    }
  });
  const parts = beds.map(({ kg }, b): Entry => [share[b]!, kg / all]);
  rows.push(rowOf(ALL_SHARES, termsOf(parts), { upper: 1 }));
  return {
    columns,
    rows,
    use: amendments.map((_, j) => [j]),
    buy: amendments.map(() => null),
    worth: columns.map(() => 0),
    blends: [null],
    m,
    share,
  };
}

/** A number by what can be told apart of it. */
const about = (value: number): number => Number(value.toPrecision(9));

/**
 * What beds that ask the same for each kg have in common: everything but their size. Of these, one is fed by a mix just as the
 * others are.
 */
export function kindOfBed({ rows, cones, may, kg }: MixBed): string {
  const rowKey = ({ index, value, bound }: MixRow): unknown => [index, value.map(about), about(bound / kg)];
  return JSON.stringify([
    rows.map(rowKey),
    cones.map(({ row, z, factors }) => [
      rowKey(row),
      about(z),
      factors.map(({ index, value, constant }) => [index, value.map(about), about(constant / kg)]),
    ]),
    may,
  ]);
}

/** A bed so many times as large. */
export function timesLarger(bed: MixBed, times: number): MixBed {
  const larger = (row: MixRow): MixRow => ({ ...row, bound: row.bound * times, scale: row.scale * times });
  return {
    ...bed,
    rows: bed.rows.map(larger),
    cones: bed.cones.map(({ row, z, factors }) => ({
      row: larger(row),
      z,
      factors: factors.map((factor) => ({ ...factor, constant: factor.constant * times })),
    })),
    kg: bed.kg * times,
  };
}
