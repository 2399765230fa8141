/**
 * Seasons drawn at random, from a plan's plain numbers and the weights of a mix alone: analyses, releases, soil
 * temperature, rounds and credits each turn out otherwise, and all is multiplied out. It shares no code with the
 * project; the spreads are those of `list varies` for materials that state no kind, written out again.
 */
import { seeded } from "./random.ts";
import type { Spec, SpecCurve } from "./random-plan.ts";
import { available } from "./reference-model.ts";

const LOT: Record<string, number> = { N: 0.08, P2O5: 0.12, K2O: 0.1 };
const OTHER_LOT = 0.15;
const POINTS = 0.1;
const INLINE = 0.18;
const COMMON = 0.08;
const SOIL_C = 1.2;
const ROUND = 0.03;
const CREDIT = 0.35;

/** Soil temperatures at which releases are worked out; those between are read off a line. */
const STEPS = 24;
const WIDEST_C = 4 * SOIL_C;

function releaseSpread(curve: SpecCurve): number {
  if (curve.points) return POINTS;
  return (curve.later ?? 0) === 0 ? 0 : INLINE;
}

function sharesOf(curve: SpecCurve, from: number, day: number, soil: Spec["soil"]): number[] {
  return Array.from({ length: STEPS + 1 }, (_, k) => {
    const warmer = WIDEST_C * ((2 * k) / STEPS - 1);
    const shifted = soil?.map(([d, c]): [number, number] => [d, c + warmer]) ?? null;
    return available(curve, from, day, shifted);
  });
}

/**
 * Share of drawn seasons that meet a need of a nutrient by a day.
 * @param kg by amendment of the spec and application.
 */
export function shareMet(
  spec: Spec,
  kg: readonly (readonly number[])[],
  nutrient: string,
  day: number,
  need: number,
  seasons: number,
  seed: number,
): number {
  const random = seeded(seed);
  let spare: number | null = null;
  const normal = (): number => {
    if (spare !== null) {
      const kept = spare;
      spare = null;
      return kept;
    }
    // Box and Muller.
    const radius = Math.sqrt(-2 * Math.log(1 - random.next()));
    const angle = 2 * Math.PI * random.next();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };
  const lots = spec.amendments.flatMap((amendment, a) => {
    const content = amendment.analysis[nutrient] ?? 0;
    if (content === 0 || kg[a]!.every((weight) => weight === 0)) return [];
    const curve = amendment.release.byNutrient[nutrient] ?? amendment.release.other;
    const whole = releaseSpread(curve);
    const common = Math.min(COMMON, whole);
    return [
      {
        content,
        kg: kg[a]!,
        common,
        own: Math.sqrt(whole ** 2 - common ** 2),
        lot: LOT[nutrient] ?? OTHER_LOT,
        shares: spec.applications.map((application) => sharesOf(curve, application.day, day, spec.soil)),
      },
    ];
  });
  const credits = spec.credits.map((credit) => ({
    content: credit.content[nutrient] ?? 0,
    common: Math.min(COMMON, releaseSpread(credit.curve)),
    shares: sharesOf(credit.curve, credit.day, day, spec.soil),
  }));
  const at = (shares: readonly number[], warmth: number): number => {
    const place = Math.min(Math.max(((warmth + 4) / 8) * STEPS, 0), STEPS - 1e-9);
    const k = Math.floor(place);
    return shares[k]! + (place - k) * (shares[k + 1]! - shares[k]!);
  };
  let met = 0;
  for (let j = 0; j < seasons; j++) {
    const season = normal();
    const warmth = normal();
    const rounds = spec.applications.map(() => 1 + ROUND * normal());
    let supply = 0;
    for (const lot of lots) {
      const release = (1 + lot.common * season) * (1 + lot.own * normal());
      let brought = 0;
      lot.shares.forEach((shares, t) => {
        brought += lot.kg[t]! * Math.min(1, Math.max(0, at(shares, warmth) * release)) * rounds[t]!;
      });
      supply += lot.content * (1 + lot.lot * normal()) * brought;
    }
    for (const credit of credits)
      supply +=
        credit.content *
        Math.min(1, Math.max(0, at(credit.shares, warmth) * (1 + credit.common * season))) *
        Math.max(0, 1 + CREDIT * normal());
    if (supply >= need * (1 - 1e-9)) met++;
  }
  return met / seasons;
}
