/**
 * Random plans: as plain numbers (kg, m2, days, fractions), and as the file a grower would write, in mixed units.
 * The numbers are what the reference model works on; the file is what the program under test reads.
 */
import { type Random, seeded } from "./random.ts";

export interface SpecCurve {
  atOnce?: number;
  later?: number;
  halfLife?: number;
  q10?: number;
  points?: [number, number][];
}
export interface SpecAmendment {
  id: string;
  analysis: Record<string, number>;
  packs: { kg: number; price: number }[];
  bulkPerKg: number | null;
  stockKg: number;
  release: { byNutrient: Record<string, SpecCurve>; other: SpecCurve };
  density: number | null;
  /** A raw manure whose nitrogen its ammonium, its animal and the digging in decide. */
  manure?: { ammonium?: number; animal?: string; dryMatter?: number };
  /** What of its content counts as grade; absent: all. */
  grade?: Record<string, number>;
}
export interface SpecDemand {
  /** As the file states it, before `efficiency`. */
  min: number;
  max: number | null;
  appliedMax: number | null;
  aheadMax: number | null;
  uptake: [number, number][] | null;
  /** Absent: available. */
  counts?: "available" | "applied";
  /** By which an available need is divided; absent: 1. */
  efficiency?: number;
}
export interface SpecLimit {
  minShare?: number;
  maxShare?: number;
  minKg?: number;
  maxKg?: number;
  notIn?: string[];
}
/** A green manure: kg of dry matter on the whole bed, and the nitrogen in it as a fraction. */
export interface SpecGreenManure {
  dryMatterKg: number;
  nitrogen: number;
}
export interface Spec {
  amendments: SpecAmendment[];
  season: number;
  areaM2: number;
  plants: number;
  demands: Record<string, SpecDemand>;
  soil: [number, number][] | null;
  credits: {
    day: number;
    content: Record<string, number>;
    curve: SpecCurve;
    /** Its nitrogen follows from this; `content` and `curve` mean nothing then. */
    greenManure?: SpecGreenManure;
  }[];
  applications: {
    name: string;
    day: number;
    share: number;
    placement?: string;
    dugInHours?: number;
  }[];
  /** Water that drains below the roots, m, with what the soil holds and how deep roots go. */
  drainage?: { lines: { day: number; m: number }[]; holds: number; rootsM: number };
  /** The season of the file that holds the uptake curves, of which `season` takes the place. */
  seasonOfCurves?: number;
  blend: "one" | "each";
  limits: Record<string, SpecLimit>;
  batchKg: number;
  scaleKg: number;
  /** Further days of check; absent: none. */
  checkDays?: number[];
}

/** Days on which needs are checked: before each later application, on days named, and at the end. */
export const checkpointsOf = (spec: Spec): number[] =>
  [
    ...new Set([...spec.applications.slice(1).map((a) => a.day), ...(spec.checkDays ?? []), spec.season]),
  ].sort((a, b) => a - b);

const MAIN = ["N", "P2O5", "K2O"];
const MORE = ["Ca", "Mg", "S", "B"];

function curve(r: Random): SpecCurve {
  const kind = r.next();
  if (kind < 0.25) return { atOnce: 1, later: 0, halfLife: 10, q10: 2 };
  if (kind < 0.4) {
    const first = r.between(0, 0.2);
    const second = first + r.between(0, 0.4);
    return {
      points: [
        [0, first],
        [r.whole(10, 30), second],
        [r.whole(40, 90), second + r.between(0, 0.35)],
      ],
      q10: 2,
    };
  }
  const atOnce = r.between(0, 0.4);
  return {
    atOnce,
    later: r.between(0.2, 1) * (1 - atOnce),
    halfLife: r.between(4, 60),
    q10: r.pick([1, 1.12, 2, 2]),
  };
}

function greenManure(r: Random, areaM2: number) {
  return {
    content: {},
    curve: {},
    greenManure: { dryMatterKg: r.between(0.1, 0.6) * areaM2, nitrogen: r.between(0.008, 0.035) },
  };
}

export function randomSpec(seed: number): Spec {
  const r = seeded(seed);
  const count = r.whole(3, 12);
  const amendments = Array.from({ length: count }, (_, i): SpecAmendment => {
    const analysis: Record<string, number> = {};
    const rich = r.pick(MAIN);
    for (const nutrient of MAIN)
      if (nutrient === rich || r.chance(0.4))
        analysis[nutrient] = r.between(0.5, nutrient === rich ? 15 : 4) / 100;
    for (const nutrient of MORE)
      if (r.chance(0.25))
        analysis[nutrient] = (nutrient === "B" ? r.between(0.01, 1) : r.between(0.5, 12)) / 100;
    const perKg = r.between(0.2, 4);
    const packs = Array.from({ length: r.whole(1, 3) }, () => {
      const kg = r.pick([2, 5, 11.34, 22.68, 20]);
      return { kg, price: kg * perKg * r.between(0.8, 1.3) };
    });
    const byNutrient: Record<string, SpecCurve> = {};
    if (r.chance(0.4)) byNutrient.N = curve(r);
    if (r.chance(0.2)) byNutrient.P2O5 = curve(r);
    return {
      id: `material-${String.fromCharCode(97 + i)}`,
      analysis,
      packs,
      bulkPerKg: r.chance(0.15) ? perKg * r.between(0.8, 1.1) : null,
      stockKg: r.chance(0.25) ? r.between(1, 30) : 0,
      release: { byNutrient, other: curve(r) },
      density: r.chance(0.8) ? r.between(0.4, 1.4) : null,
    };
  });
  const season = r.whole(70, 140);
  const areaM2 = r.between(20, 800);
  const starts = Array.from({ length: r.whole(1, 4) }, (_, k) => (k === 0 ? 0 : r.whole(7, season - 15)));
  const days = [...new Set(starts)].sort((a, b) => a - b);
  const weights = days.map(() => r.between(0.2, 1));
  const sum = weights.reduce((a, b) => a + b, 0);
  const applications = days.map((day, k) => ({ name: `round ${k + 1}`, day, share: weights[k]! / sum }));
  const demands: Record<string, SpecDemand> = {};
  for (const nutrient of [...MAIN, ...MORE]) {
    if (nutrient !== "N" && !r.chance(nutrient.length > 2 ? 0.7 : 0.3)) continue;
    const perM2 = nutrient === "B" ? r.between(0.00001, 0.0001) : r.between(0.002, 0.015);
    const min = perM2 * areaM2;
    const a = r.between(10, 40);
    const b = a + r.between(10, 30);
    demands[nutrient] = {
      min,
      max: r.chance(0.3) ? min * r.between(1, 2.5) : null,
      appliedMax: r.chance(0.25) ? min * r.between(0.9, 3) : null,
      aheadMax: r.chance(0.2) ? min * r.between(0.15, 0.7) : null,
      uptake: r.chance(0.6)
        ? [
            [a, r.between(0.05, 0.3)],
            [b, r.between(0.4, 0.8)],
            [season, 1],
          ]
        : null,
    };
  }
  const limits: Record<string, SpecLimit> = {};
  const blend = r.chance(0.5) ? "one" : "each";
  for (const amendment of amendments) {
    if (!r.chance(0.25)) continue;
    const limit: SpecLimit = {};
    const kind = r.next();
    if (kind < 0.3) limit.maxShare = r.between(0.1, 0.6);
    else if (kind < 0.5) limit.minShare = r.between(0.02, 0.25);
    else if (kind < 0.7) limit.maxKg = r.between(1, 60);
    else if (kind < 0.8) limit.minKg = r.between(0.1, 3);
    else limit.notIn = [r.pick(applications).name];
    limits[amendment.id] = limit;
  }
  return {
    amendments,
    season,
    areaM2,
    plants: r.whole(20, 600),
    demands,
    soil: r.chance(0.5)
      ? r.chance(0.5)
        ? [[0, r.between(8, 28)]]
        : [
            [0, r.between(8, 16)],
            [r.whole(30, 60), r.between(16, 28)],
          ]
      : null,
    credits: r.chance(0.4)
      ? [
          {
            day: r.whole(-30, 20),
            content: { [r.pick(MAIN)]: r.between(0.001, 0.004) * areaM2 },
            curve: curve(r),
          },
        ]
      : [],
    applications,
    blend,
    limits,
    batchKg: r.between(10, 40),
    scaleKg: r.pick([0.005, 0.01, 0.1]),
  };
}

/**
 * The same plan with what some plans have beside: needs of what is spread, an efficiency, materials that tie nitrogen up
 * as straw does, green manures of either sign, further days of check.
 */
export function widerSpec(seed: number): Spec {
  const spec = randomSpec(seed);
  const r = seeded(seed ^ 0x2545f491);
  const straw = (): SpecCurve => ({
    atOnce: r.between(-0.1, 0.05),
    later: r.between(-0.6, -0.02),
    halfLife: r.between(4, 60),
    q10: r.pick([1, 2]),
  });
  return {
    ...spec,
    amendments: spec.amendments.map((a) =>
      r.chance(0.15)
        ? { ...a, release: { ...a.release, byNutrient: { ...a.release.byNutrient, N: straw() } } }
        : a,
    ),
    demands: Object.fromEntries(
      Object.entries(spec.demands).map(([n, d]): [string, SpecDemand] => [
        n,
        {
          ...d,
          counts: r.chance(0.2) ? "applied" : "available",
          efficiency: r.chance(0.25) ? r.between(0.6, 1) : 1,
        },
      ]),
    ),
    credits: [
      ...spec.credits,
      ...(r.chance(0.3) ? [{ day: r.whole(-30, 20), ...greenManure(r, spec.areaM2) }] : []),
    ],
    ...(r.chance(0.3)
      ? { checkDays: [r.whole(1, spec.season - 1), r.whole(1, spec.season - 1)].sort((a, b) => b - a) }
      : {}),
  };
}

const LB = 0.45359237;
const P_TO_P2O5 = 141.943 / (2 * 30.974);
const K_TO_K2O = 94.195 / (2 * 39.098);

/** The plan as a tree a YAML file would hold: the same numbers in units chosen at random. */
export function toTree(spec: Spec, seed: number): Record<string, unknown> {
  const r = seeded(seed ^ 0x5bd1e995);
  const mass = (kg: number): string =>
    r.pick([`${kg} kg`, `${kg * 1000} g`, `${kg / LB} lb`, `${(kg / LB) * 16} oz`]);
  const share = (value: number): string => `${value * 100}%`;
  const map = (points: [number, number][]) => Object.fromEntries(points.map(([x, y]) => [x, share(y)]));
  const curveTree = (c: SpecCurve) =>
    c.points
      ? { points: map(c.points) }
      : {
          at_once: share(c.atOnce!),
          later: share(c.later!),
          half_life: r.chance(0.5) ? `${c.halfLife} days` : `${c.halfLife! / 7} weeks`,
          ...(c.q10 === 2 ? {} : { q10: c.q10 }),
        };
  const named = (nutrient: string, value: number): [string, number] =>
    nutrient === "P2O5" && r.chance(0.3)
      ? ["P", value / P_TO_P2O5]
      : nutrient === "K2O" && r.chance(0.3)
        ? ["K", value / K_TO_K2O]
        : [nutrient, value];
  const amendments = Object.fromEntries(
    spec.amendments.map((a) => [
      a.id,
      {
        name: a.id.replace("-", " "),
        analysis: Object.fromEntries(
          Object.entries(a.analysis).map(([n, v]) => {
            const [key, value] = named(n, v);
            return [key, value * 100];
          }),
        ),
        packs: a.packs.map((p) => ({ size: mass(p.kg), price: p.price })),
        ...(a.bulkPerKg === null ? {} : { bulk: { price: a.bulkPerKg * LB, per: "lb" } }),
        ...(a.stockKg > 0 ? { stock: mass(a.stockKg) } : {}),
        ...(a.density === null ? {} : { density: `${a.density} kg/L` }),
        release: {
          ...Object.fromEntries(Object.entries(a.release.byNutrient).map(([n, c]) => [n, curveTree(c)])),
          other: curveTree(a.release.other),
        },
        ...(a.manure
          ? {
              kind: "manure-raw",
              ...(a.manure.ammonium === undefined ? {} : { ammonium_n: share(a.manure.ammonium) }),
              ...(a.manure.animal === undefined ? {} : { animal: a.manure.animal }),
              ...(a.manure.dryMatter === undefined ? {} : { dry_matter: share(a.manure.dryMatter) }),
            }
          : {}),
        ...(a.grade
          ? { grade: Object.fromEntries(Object.entries(a.grade).map(([n, part]) => [n, share(part)])) }
          : {}),
      },
    ]),
  );
  const [per, factor] = r.pick([
    ["1000 sq ft", 92.90304 / spec.areaM2],
    ["ha", 10000 / spec.areaM2],
    ["bed", 1],
    ["plant", 1 / spec.plants],
  ] as [string, number][]);
  const amounts = (pickValue: (d: SpecDemand) => unknown): Record<string, unknown> =>
    Object.fromEntries(
      Object.entries(spec.demands).flatMap(([n, d]) => {
        const value = pickValue(d);
        return value === null ? [] : [[n, value]];
      }),
    );
  const cap = (value: number | null) => (value === null ? null : mass(value * factor));
  const applied = amounts((d) => cap(d.appliedMax));
  const ahead = amounts((d) => cap(d.aheadMax));
  const stretched = spec.season / (spec.seasonOfCurves ?? spec.season);
  const uptake = amounts((d) =>
    d.uptake ? map(d.uptake.map(([day, part]): [number, number] => [day / stretched, part])) : null,
  );
  return {
    plan: "Random beds",
    units: r.pick(["us", "metric"]),
    amendments,
    target: {
      target: "Random crop",
      season: `${spec.seasonOfCurves ?? spec.season} days`,
      need: {
        per,
        ...amounts((d) => {
          const plain = d.max === null && r.chance(0.5);
          const counted = {
            ...(d.counts === "applied" ? { counts: d.counts } : {}),
            ...(d.efficiency === undefined || d.efficiency === 1 ? {} : { efficiency: share(d.efficiency) }),
          };
          if (plain && Object.keys(counted).length === 0) return mass(d.min * factor);
          return {
            min: mass(d.min * factor),
            ...(d.max === null ? {} : { max: mass(d.max * factor) }),
            ...counted,
          };
        }),
      },
      ...(Object.keys(applied).length > 0 ? { applied_max: { per, ...applied } } : {}),
      ...(Object.keys(ahead).length > 0 ? { ahead_max: { per, ...ahead } } : {}),
      ...(Object.keys(uptake).length > 0 ? { uptake } : {}),
    },
    bed: { plants: spec.plants, area: `${spec.areaM2} m2` },
    ...(spec.soil
      ? {
          soil_temperature:
            spec.soil.length === 1
              ? `${spec.soil[0]![1]} C`
              : Object.fromEntries(spec.soil.map(([d, t]) => [d, `${(t * 9) / 5 + 32} F`])),
        }
      : {}),
    ...(spec.credits.length > 0
      ? {
          credits: spec.credits.map((c) =>
            c.greenManure
              ? {
                  from: "green manure",
                  per: "bed",
                  dry_matter: mass(c.greenManure.dryMatterKg),
                  N: share(c.greenManure.nitrogen),
                  day: c.day,
                }
              : {
                  from: "compost",
                  per: "bed",
                  ...Object.fromEntries(Object.entries(c.content).map(([n, kg]) => [n, mass(kg)])),
                  release: curveTree(c.curve),
                  day: c.day,
                },
          ),
        }
      : {}),
    applications: spec.applications.map((a) => ({
      name: a.name,
      day: a.day,
      share: share(a.share),
      ...(a.placement === undefined ? {} : { placement: a.placement }),
      ...(a.dugInHours === undefined ? {} : { dug_in: `${a.dugInHours} hours` }),
    })),
    ...(spec.drainage
      ? {
          soil: { holds: share(spec.drainage.holds), roots: `${spec.drainage.rootsM} m` },
          drainage: spec.drainage.lines.map(({ day, m }) => ({ day, depth: `${m} m` })),
        }
      : {}),
    blend: spec.blend,
    batch: { size: mass(spec.batchKg) },
    scale: mass(spec.scaleKg),
    ...(spec.checkDays ? { check_days: spec.checkDays } : {}),
    ...(Object.keys(spec.limits).length > 0
      ? {
          limits: Object.fromEntries(
            Object.entries(spec.limits).map(([id, l]) => [
              id,
              {
                ...(l.minShare === undefined ? {} : { min_share: share(l.minShare) }),
                ...(l.maxShare === undefined ? {} : { max_share: share(l.maxShare) }),
                ...(l.minKg === undefined ? {} : { min: mass(l.minKg) }),
                ...(l.maxKg === undefined ? {} : { max: mass(l.maxKg) }),
                ...(l.notIn === undefined ? {} : { not_in: l.notIn }),
              },
            ]),
          ),
        }
      : {}),
  };
}

/**
 * A random plan with what the third round of truth counts: raw manures, grades, placements and digging in, drainage, credits
 * from before the season, green manures, and a season longer than that of the uptake curves.
 */
export function truthSpec(seed: number): Spec {
  const spec = widerSpec(seed);
  const r = seeded(seed * 7 + 3);
  const times = r.chance(0.4) ? r.pick([1.25, 1.5, 2]) : 1;
  const season = spec.season * times;
  const amendments = spec.amendments.map((a): SpecAmendment => {
    const nitrogen = a.analysis.N ?? 0;
    if (nitrogen > 0 && r.chance(0.3)) {
      const { N: _, ...byNutrient } = a.release.byNutrient;
      const manure = {
        ...(r.chance(0.6) ? { ammonium: nitrogen * r.between(0.05, 0.9) } : {}),
        ...(r.chance(0.8) ? { animal: r.pick(["cattle", "horse", "sheep", "swine", "poultry"]) } : {}),
        ...(r.chance(0.5) ? { dryMatter: r.between(0.05, 0.9) } : {}),
      };
      return { ...a, release: { ...a.release, byNutrient }, manure };
    }
    const phosphate = a.analysis.P2O5 ?? 0;
    if (phosphate > 0 && r.chance(0.3)) return { ...a, grade: { P2O5: phosphate * r.between(0.05, 1) } };
    return a;
  });
  const applications = spec.applications.map((a) => ({
    ...a,
    ...(r.chance(0.6) ? { placement: r.pick(["hole", "band", "broadcast", "surface"]) } : {}),
    ...(r.chance(0.4) ? { dugInHours: r.pick([6, 12, 48, 96, 120]) } : {}),
  }));
  const days = [...new Set(Array.from({ length: r.whole(1, 3) }, () => r.whole(5, Math.ceil(season) - 1)))];
  const old = {
    day: -r.whole(61, 300),
    content: { N: r.between(0.001, 0.01) * spec.areaM2 },
    curve: curve(r),
  };
  return {
    ...spec,
    season,
    ...(times === 1 ? {} : { seasonOfCurves: spec.season }),
    demands: Object.fromEntries(
      Object.entries(spec.demands).map(([n, d]) => [
        n,
        { ...d, uptake: d.uptake?.map(([day, part]): [number, number] => [day * times, part]) ?? null },
      ]),
    ),
    amendments,
    applications,
    credits: r.chance(0.5) ? [...spec.credits, old] : spec.credits,
    ...(r.chance(0.7)
      ? {
          drainage: {
            lines: days.sort((a, b) => a - b).map((day) => ({ day, m: r.between(0.02, 0.3) })),
            holds: r.between(0.1, 0.4),
            rootsM: r.between(0.2, 0.8),
          },
        }
      : {}),
  };
}
