/**
 * One mix for all beds of a random farm and one material alone for each, by trying: thousands of compositions, the best of
 * them bent a little at a time. What a bed does with a composition is worked out at the corners of its own rows, material by
 * material, from plain numbers alone.
 */
import { seeded } from "./random.ts";
import { cheapest, type FarmBedSpec, type FarmSpec, plainRows } from "./random-farm.ts";

/** A row over kg of the mix and kg of one material in each round: `sum of >= bound`. */
interface Row {
  readonly of: readonly number[];
  readonly bound: number;
}

/** The rows of a bed with a composition, and with one material beside it (null: none). */
function rowsOf(
  spec: FarmSpec,
  bed: FarmBedSpec,
  mix: readonly number[],
  a: number | null,
): { readonly rows: Row[]; readonly fits: boolean } {
  const rounds = a === null ? 0 : bed.half === null ? 1 : 2;
  let fits = true;
  const rows = plainRows(spec, bed).flatMap(({ g, sense, bound }, i, all): Row[] => {
    const sign = sense === ">=" ? 1 : -1;
    const ofMix = g.reduce((sum, v, m) => sum + v * mix[m]!, 0);
    // The share of a material is of the mix alone.
    if (bed.share && i === all.length - 1) {
      if (sign * ofMix < -1e-9) fits = false;
      return [];
    }
    // What must be there by the second round has no part of it; the plain row counts half of the mix.
    const isHalf = bed.half !== null && sense === ">=" && isHalfOf(g, all, i);
    const alone = Array.from({ length: rounds }, (_, t) => (isHalf ? (t === 0 ? 2 * g[a!]! : 0) : g[a!]!));
    return [{ of: [sign * ofMix, ...alone.map((v) => sign * v)], bound: sign * bound }];
  });
  return { rows, fits };
}

/** Whether a row is half of another. */
function isHalfOf(
  g: readonly number[],
  all: readonly { readonly g: readonly number[] }[],
  i: number,
): boolean {
  return all.some((one, k) => k !== i && one.g.every((v, m) => Math.abs(v / 2 - g[m]!) <= 1e-15));
}

/** Least cost over amounts of nothing or more: the best corner that keeps all rows. */
function cornered(costs: readonly number[], rows: readonly Row[]): { cost: number; x: number[] } | null {
  const n = costs.length;
  const walls: Row[] = [
    ...rows,
    ...costs.map((_, j) => ({ of: costs.map((_, k) => (k === j ? 1 : 0)), bound: 0 })),
  ];
  let best: { cost: number; x: number[] } | null = null;
  const chosen: Row[] = [];
  const visit = (from: number): void => {
    if (chosen.length === n) {
      const x = crossing(chosen);
      if (!x) return;
      for (const { of, bound } of walls) {
        let sum = 0;
        let size = Math.abs(bound);
        for (let j = 0; j < n; j++) {
          sum += of[j]! * x[j]!;
          size = Math.max(size, Math.abs(of[j]! * x[j]!));
        }
        if (sum < bound - 1e-9 * size) return;
      }
      const cost = x.reduce((sum, v, j) => sum + costs[j]! * v, 0);
      if (!best || cost < best.cost) best = { cost, x };
      return;
    }
    for (let i = from; i < walls.length; i++) {
      chosen.push(walls[i]!);
      visit(i + 1);
      chosen.pop();
    }
  };
  visit(0);
  return best;
}

/** Where as many rows as amounts hold exactly; null where they do not cross in one point. */
function crossing(rows: readonly Row[]): number[] | null {
  const n = rows.length;
  const m = rows.map(({ of, bound }) => [...of, bound]);
  for (let c = 0; c < n; c++) {
    let pivot = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(m[r]![c]!) > Math.abs(m[pivot]![c]!)) pivot = r;
    const size = Math.max(...m[pivot]!.slice(0, n).map(Math.abs));
    if (!(Math.abs(m[pivot]![c]!) > 1e-12 * size)) return null;
    [m[c], m[pivot]] = [m[pivot]!, m[c]!];
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const times = m[r]![c]! / m[c]![c]!;
      for (let k = c; k <= n; k++) m[r]![k]! -= times * m[c]![k]!;
    }
  }
  return m.map((row, c) => row[n]! / row[c]!);
}

/** What all beds cost with one composition; Infinity where it does not feed one of them. */
function costWith(spec: FarmSpec, mix: readonly number[]): number {
  const prices = spec.materials.map(cheapest);
  const price = prices.reduce((sum, p, m) => sum + p * mix[m]!, 0);
  let total = 0;
  for (const bed of spec.beds) {
    let least = Infinity;
    for (const a of [null, ...prices.keys()]) {
      const { rows, fits } = rowsOf(spec, bed, mix, a);
      if (!fits) continue;
      const alone = (rows[0]?.of.length ?? 1) - 1;
      const found = cornered([price, ...Array.from({ length: alone }, () => prices[a!]!)], rows);
      if (found && found.cost < least) least = found.cost;
    }
    total += least;
  }
  return total;
}

/** The least cost by weight that trying finds, with one mix for all beds; Infinity where none was found. */
export function triedCost(spec: FarmSpec, seed: number, tries: number): number {
  const r = seeded(seed * 977 + 5);
  const normal = (mix: readonly number[]): number[] => {
    const sum = mix.reduce((a, b) => a + b, 0);
    return mix.map((v) => v / sum);
  };
  const drawn = Array.from({ length: tries }, () => {
    const mix = normal(spec.materials.map(() => (r.chance(0.4) ? 0 : r.between(0.01, 1) ** 2) + 1e-12));
    return { mix, cost: costWith(spec, mix) };
  }).sort((a, b) => a.cost - b.cost);
  let best = Infinity;
  for (const start of drawn.slice(0, 4)) {
    let { mix, cost } = start;
    for (let step = 0.2, missed = 0; step > 1e-7; ) {
      const next = normal(
        mix.map((v) => Math.max(0, v + (r.chance(0.6) ? r.between(-1, 1) * step : 0)) + 1e-15),
      );
      const there = costWith(spec, next);
      if (there < cost) [mix, cost, missed] = [next, there, 0];
      else if (++missed > 12) [step, missed] = [step / 2, 0];
    }
    best = Math.min(best, cost);
  }
  return best;
}

/** Rows of a bed that amounts miss: kg of each material in its mix, and what it gets alone by round. */
export function missesWith(
  spec: FarmSpec,
  bed: FarmBedSpec,
  mixKg: readonly number[],
  alone: { readonly amendment: number; readonly kg: readonly number[] } | null,
): number {
  const whole = mixKg.reduce((sum, kg) => sum + kg, 0);
  const mix = whole > 0 ? mixKg.map((kg) => kg / whole) : mixKg;
  const { rows, fits } = rowsOf(spec, bed, mix, alone?.amendment ?? null);
  const x = [whole, ...(alone?.kg ?? [])];
  return rows.reduce(
    (worst, { of, bound }) => {
      const sum = of.reduce((total, v, j) => total + v * (x[j] ?? 0), 0);
      const size = Math.max(Math.abs(bound), ...of.map((v, j) => Math.abs(v * (x[j] ?? 0))), 1e-12);
      return Math.max(worst, (bound - sum) / size);
    },
    fits || whole === 0 ? 0 : 1,
  );
}
