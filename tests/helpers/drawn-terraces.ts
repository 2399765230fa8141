/**
 * Seasons of the demo's terraces drawn at random and multiplied out, to judge what the program advises in them: analyses,
 * releases, soil temperature, rounds, the clover, a storm and a test of the soil each turn out otherwise. It reads the
 * example's YAML and shares no code with the project; the spreads are those of `list varies`, the curves those of
 * `list releases`, written out again; leaching is Burns's equation.
 */
import { readFileSync } from "node:fs";
import { parse } from "yaml";
import type { Random } from "./random.ts";
import { available } from "./reference-model.ts";

type Curve = Parameters<typeof available>[0];
const CURVES: Record<string, { curve: Curve; cv: number }> = {
  fast: {
    curve: {
      points: [
        [0, 0],
        [5, 0.47],
        [20, 0.56],
        [56, 0.66],
      ],
      q10: 2,
    } as Curve,
    cv: 0.12,
  },
  medium: { curve: { atOnce: 0.15, later: 0.38, halfLife: 21, q10: 1.2 } as Curve, cv: 0.18 },
  slow: { curve: { atOnce: 0, later: 0.35, halfLife: 60, q10: 2 } as Curve, cv: 0.25 },
};
const LOT: Record<string, number> = { animal: 0.04, plant: 0.06, "manure-processed": 0.08, none: 0.08 };
const [COMMON, SOIL_C, ROUND, CREDIT] = [0.08, 1.2, 0.03, 0.35];
const [TEST, UPTAKE, HOLDS, HOLDS_SD, ROOTS_M] = [0.15, 0.1, 0.25, 0.05, 0.3048];
const LB = 0.45359237;
const ACRES = 2400 / 43_560;
/** 1 ppm of nitrate nitrogen in 12 in of the bed: 0.147 kg/ha for each cm. */
export const KG_PER_PPM = 0.147 * 30.48 * ((2400 * 0.09290304) / 10_000);

/** Something spread on a day: kg by material. */
export interface Spreading {
  readonly day: number;
  readonly kg: Readonly<Record<string, number>>;
}
export interface Storm {
  readonly day: number;
  readonly drainedM: number;
}

/** One season's luck: standard normal numbers by what they are of. */
export type Luck = (what: string) => number;

/** A season's luck, each thing drawn when it is first asked for and kept. */
export function luck(random: Random): Luck {
  const drawn = new Map<string, number>();
  return (what) => {
    const known = drawn.get(what);
    if (known !== undefined) return known;
    const made = Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
    drawn.set(what, made);
    return made;
  };
}

/** A material as the example writes it. */
interface Entry {
  analysis: { N?: number };
  release: string | { N?: string };
  kind?: string;
}

interface Material {
  readonly nitrogen: number;
  readonly curve: Curve;
  readonly releaseCv: number;
  readonly lotCv: number;
}

/** The terraces, where everything varies `times` as much as is thought. */
export class Terraces {
  readonly needKg: number;
  readonly seasonDays = 100;
  readonly #soil: [number, number][];
  readonly #uptake: [number, number][];
  readonly #materials = new Map<string, Material>();
  readonly #credit: { kg: number; day: number };
  readonly #shares = new Map<string, number[]>();

  constructor(
    folder: string,
    readonly times = 1,
  ) {
    const read = (name: string) => parse(readFileSync(`${folder}/${name}.yaml`, "utf8"));
    const plan = read("plan");
    const target = read("target");
    const pairs = (map: Record<string, string>, scale: number): [number, number][] =>
      Object.entries(map).map(([day, text]) => [Number(day), Number.parseFloat(text) * scale]);
    this.needKg = Number.parseFloat(target.need.N.min) * LB * ACRES;
    this.#soil = pairs(plan.soil_temperature, 1);
    this.#uptake = [[0, 0], ...pairs(target.uptake.N, 0.01)];
    const [clover] = plan.credits;
    this.#credit = { kg: Number.parseFloat(clover.N) * LB * ACRES, day: clover.day };
    for (const [id, one] of Object.entries<Entry>(read("amendments").amendments)) {
      const { analysis, release, kind } = one;
      const named = typeof release === "string" ? release : release.N;
      if (analysis.N === undefined) continue;
      const { curve, cv } = CURVES[named!]!;
      this.#materials.set(id, {
        nitrogen: analysis.N / 100,
        curve,
        releaseCv: cv,
        lotCv: LOT[kind ?? "none"]!,
      });
    }
  }

  takenUpKg(day: number): number {
    const points = this.#uptake;
    for (let k = 1; k < points.length; k++) {
      const [[x0, y0], [x1, y1]] = [points[k - 1]!, points[k]!];
      if (day <= x1) return this.needKg * (y0 + ((y1 - y0) * (day - x0)) / (x1 - x0));
    }
    return this.needKg;
  }

  /** Share released, read off a line between soil temperatures 0.3 C apart. */
  #share(curve: Curve, key: string, from: number, day: number, warmerC: number): number {
    const at = Math.min(31.999, Math.max(0, warmerC / 0.3 + 16));
    const named = `${key} ${from} ${day}`;
    let table = this.#shares.get(named);
    if (table === undefined) {
      table = Array.from({ length: 33 }, (_, k) =>
        available(
          curve,
          from,
          day,
          this.#soil.map(([on, c]): [number, number] => [on, c + (k - 16) * 0.3]),
        ),
      );
      this.#shares.set(named, table);
    }
    const k = Math.floor(at);
    return table[k]! + (at - k) * (table[k + 1]! - table[k]!);
  }

  /** Nitrogen that has become available by a day, kg. */
  suppliedKg(of: Luck, given: readonly Spreading[], day: number): number {
    const { times } = this;
    const warmer = times * SOIL_C * of("warmth");
    const common = 1 + times * COMMON * of("releases");
    let sum =
      this.#credit.kg *
      this.#share(CURVES.medium!.curve, "clover", this.#credit.day, day, warmer) *
      common *
      Math.max(0, 1 + times * CREDIT * of("clover"));
    for (const { day: on, kg } of given) {
      if (on >= day) continue;
      const round = Math.max(0, 1 + times * ROUND * of(`round on ${on}`));
      for (const [id, weight] of Object.entries(kg)) {
        const one = this.#materials.get(id);
        if (one === undefined || weight === 0) continue;
        const own = Math.sqrt(one.releaseCv ** 2 - COMMON ** 2);
        const gives = 1 + times * own * of(`release of ${id}`);
        const holds = Math.max(0, 1 + times * one.lotCv * of(`lot of ${id}`));
        const part = this.#share(one.curve, id, on, day, warmer) * common * gives;
        sum += weight * one.nitrogen * holds * Math.min(1, Math.max(0, part)) * round;
      }
    }
    return sum;
  }

  /** What a storm carries away of what lies there then, kg. */
  lostKg(of: Luck, given: readonly Spreading[], storm: Storm | null): number {
    if (storm === null) return 0;
    const lies = Math.max(0, this.suppliedKg(of, given, storm.day) - this.takenUpKg(storm.day));
    const holds = Math.max(0.01, HOLDS + this.times * HOLDS_SD * of("soil water"));
    return lies * Math.exp((-ROOTS_M * holds) / storm.drainedM);
  }

  /** Nitrogen that a test would find if it were exact, kg. */
  liesKg(of: Luck, given: readonly Spreading[], storm: Storm | null, day: number): number {
    const lost = storm !== null && storm.day <= day ? this.lostKg(of, given, storm) : 0;
    return this.suppliedKg(of, given, day) - this.takenUpKg(day) - lost;
  }

  /** Variance of a test of what lies there. */
  testVariance(liesKg: number, day: number): number {
    return (TEST * liesKg) ** 2 + (UPTAKE * this.takenUpKg(day)) ** 2;
  }

  /** What a strip shows, to half a part in a million. */
  readingPpm(of: Luck, given: readonly Spreading[], storm: Storm | null, day: number): number {
    const lies = this.liesKg(of, given, storm, day);
    const found = lies + Math.sqrt(this.testVariance(lies, day)) * of("test");
    return Math.max(0, Math.round((2 * found) / KG_PER_PPM) / 2);
  }

  /** Nitrogen over the need at the season's end, kg; below zero it was not met. */
  overKg(of: Luck, given: readonly Spreading[], storm: Storm | null): number {
    return (
      this.suppliedKg(of, given, this.seasonDays) - this.lostKg(of, given, storm) - this.needKg * (1 - 1e-9)
    );
  }
}
