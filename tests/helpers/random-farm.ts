/**
 * Random farms as plain numbers: a shelf of materials, kinds of crop on one or two soils, beds of each. Releases are
 * shares that are there at once, so that what is available of a material is its analysis times that share and the rows
 * of a bed can be written down from here by anyone.
 */

import type { Plan } from "../../src/model.ts";
import { loadTree } from "./load-tree.ts";
import { type Random, seeded } from "./random.ts";

export const FARM_NUTRIENTS = ["N", "P2O5", "K2O"] as const;
type Three = readonly [number, number, number];

export interface FarmMaterial {
  readonly id: string;
  /** Shares of the weight, and the share of that which is available, for N, P2O5, K2O. */
  readonly analysis: Three;
  readonly available: Three;
  readonly perKg: number;
  readonly packs: readonly { readonly kg: number; readonly price: number }[];
  readonly stockKg: number;
}

export interface FarmBedSpec {
  readonly name: string;
  readonly areaM2: number;
  /** kg for a square metre. */
  readonly need: Three;
  /** kg for a square metre that may be spread, available or not. */
  readonly cap: readonly [number | null, number | null, number | null];
  /** Share of the need of N on a day before the second of two equal rounds; null: one round. */
  readonly half: number | null;
  /** Most of the weight that a material may be. */
  readonly share: { readonly id: string; readonly most: number } | null;
}

export interface FarmSpec {
  readonly materials: readonly FarmMaterial[];
  readonly beds: readonly FarmBedSpec[];
}

const three = (make: (i: number) => number): Three => [make(0), make(1), make(2)];

function material(r: Random, i: number, stocked: boolean): FarmMaterial {
  const rich = i < 3 ? i : r.whole(0, 2);
  const analysis = three((n) =>
    n === rich ? r.between(0.04, 0.14) : r.chance(0.6) ? r.between(0.005, 0.05) : 0,
  );
  const richness = analysis[0] * 2 + analysis[1] + analysis[2];
  const perKg = Math.round(100 * richness * r.between(4, 12)) / 100 + 0.1;
  const sizes = [r.pick([5, 10]), r.pick([20, 25])];
  return {
    id: `material-${String.fromCharCode(97 + i)}`,
    analysis,
    available: three((n) => (n === 0 ? r.between(0.5, 1) : r.between(0.7, 1))),
    perKg,
    packs: sizes.map((kg, k) => ({ kg, price: Math.round(kg * perKg * (k === 0 ? 1.25 : 1)) || 1 })),
    stockKg: stocked && r.chance(0.3) ? Math.round(r.between(5, 40)) : 0,
  };
}

export interface FarmAsked {
  readonly materials?: number;
  readonly crops?: number;
  readonly beds?: number;
  readonly stocked?: boolean;
}

export function randomFarm(seed: number, asked: FarmAsked = {}): FarmSpec {
  const r = seeded(seed * 6151 + 17);
  const count = asked.materials ?? r.whole(6, 15);
  const materials = Array.from({ length: count }, (_, i) => material(r, i, asked.stocked ?? false));
  const soils = [
    { p: 1, k: 1, capP: null as number | null },
    { p: r.between(0, 0.4), k: r.between(0.4, 1.2), capP: r.between(0.6, 1.5) },
  ];
  const crops = Array.from({ length: asked.crops ?? r.whole(2, 8) }, () => ({
    need: three((n) => r.between([0.008, 0.003, 0.005][n]!, [0.022, 0.01, 0.025][n]!)),
    half: r.chance(0.5) ? r.between(0.2, 0.6) : null,
    share: r.chance(0.25) ? { id: r.pick(materials).id, most: r.between(0.2, 0.6) } : null,
  }));
  const beds = Array.from({ length: asked.beds ?? r.whole(4, 40) }, (_, b): FarmBedSpec => {
    const crop = r.pick(crops);
    const soil = r.pick(soils);
    const areaM2 = Math.round(r.between(0.5, 1) * r.pick([20, 60, 200, 400]));
    const need: Three = [crop.need[0], crop.need[1] * soil.p, crop.need[2] * soil.k];
    const capP = soil.capP === null ? null : Math.max(need[1] * 1.5, soil.capP * 0.01);
    return {
      name: `bed ${b + 1}`,
      areaM2,
      need,
      cap: [null, capP, null],
      half: crop.half,
      share: crop.share,
    };
  });
  return { materials, beds };
}

/** The beds of a farm as plans with one shelf. */
export function farmPlans(spec: FarmSpec): Plan[] {
  const amendments = Object.fromEntries(
    spec.materials.map(({ id, analysis, available, packs, stockKg }) => [
      id,
      {
        analysis: byNutrient(analysis.map((share) => 100 * share)),
        release: Object.fromEntries(
          FARM_NUTRIENTS.map((nutrient, n) => [
            nutrient,
            { at_once: `${100 * available[n]!}%`, later: "0%", half_life: "10 days" },
          ]),
        ),
        packs: packs.map(({ kg, price }) => ({ size: `${kg} kg`, price })),
        ...(stockKg > 0 ? { stock: `${stockKg} kg` } : {}),
      },
    ]),
  );
  return spec.beds.map((bed) => loadTree(bedTree(bed, amendments)));
}

function bedTree(bed: FarmBedSpec, amendments: unknown): Record<string, unknown> {
  const cap = byNutrient(bed.cap.map((kg) => (kg === null ? null : `${kg} kg`)));
  return {
    plan: bed.name,
    units: "metric",
    amendments,
    target: {
      target: "Crop",
      season: "100 days",
      need: { per: "m2", ...byNutrient(bed.need.map((kg) => (kg > 0 ? `${kg} kg` : null))) },
      ...(Object.keys(cap).length > 0 ? { applied_max: { per: "m2", ...cap } } : {}),
      ...(bed.half === null ? {} : { uptake: { N: { 30: `${100 * bed.half}%`, 100: "100%" } } }),
    },
    bed: { area: `${bed.areaM2} m2` },
    applications:
      bed.half === null
        ? [{ name: "round 1", day: 0 }]
        : [
            { name: "round 1", day: 0 },
            { name: "round 2", day: 30 },
          ],
    ...(bed.share ? { limits: { [bed.share.id]: { max_share: `${100 * bed.share.most}%` } } } : {}),
  };
}

function byNutrient(values: readonly unknown[]): Record<string, unknown> {
  return Object.fromEntries(
    FARM_NUTRIENTS.flatMap((nutrient, n) =>
      values[n] === null || values[n] === 0 ? [] : [[nutrient, values[n]]],
    ),
  );
}

/**
 * What a bed asks as rows `sum g[a] x[a] >= or <= bound` over kg of each material, worked out from the numbers here alone.
 */
export interface PlainRow {
  readonly g: readonly number[];
  readonly sense: ">=" | "<=";
  readonly bound: number;
}

export function plainRows({ materials }: FarmSpec, bed: FarmBedSpec): PlainRow[] {
  const rows: PlainRow[] = [];
  for (const n of [0, 1, 2] as const) {
    const g = materials.map((m) => m.analysis[n] * m.available[n]);
    if (bed.need[n] > 0) rows.push({ g, sense: ">=", bound: bed.need[n] * bed.areaM2 });
    const cap = bed.cap[n];
    if (cap !== null)
      rows.push({ g: materials.map((m) => m.analysis[n]), sense: "<=", bound: cap * bed.areaM2 });
    // Half of the blend is down when the first share of the need must be there.
    if (n === 0 && bed.half !== null && bed.need[0] > 0)
      rows.push({ g: g.map((v) => v / 2), sense: ">=", bound: bed.half * bed.need[0] * bed.areaM2 });
  }
  if (bed.share) {
    const { id, most } = bed.share;
    rows.push({ g: materials.map((m) => (m.id === id ? 1 : 0) - most), sense: "<=", bound: 0 });
  }
  return rows;
}

/** Money per kg of the cheapest pack. */
export const cheapest = ({ packs }: FarmMaterial): number =>
  Math.min(...packs.map(({ kg, price }) => price / kg));
