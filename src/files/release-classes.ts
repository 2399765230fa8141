/**
 * The named release classes. The published figures they were fitted to are in `tests/recipes/release-data.ts`, which holds
 * them against these.
 *
 * Shares are fractions of the label content, days run from the application, temperatures are of the soil in
 * degrees Celsius. Where a figure rests on judgement and not on a measurement, `source` says so.
 */
import type { ReleaseCurve } from "../model.ts";

export const RELEASE_CLASS_NAMES = [
  "at-once",
  "fast",
  "medium",
  "composted-litter",
  "slow",
  "very-slow",
] as const;
export type ReleaseClassName = (typeof RELEASE_CLASS_NAMES)[number];

export interface ReleaseClass {
  readonly curve: ReleaseCurve;
  /** What belongs in the class, for a grower. */
  readonly summary: string;
  /** Where the numbers come from, and which of them are a judgement. */
  readonly source: string;
}

const HARTZ_JOHNSTONE =
  "Hartz and Johnstone 2006, Nitrogen availability from high-nitrogen-containing organic fertilizers, HortTechnology 16:39-42";
const PAN_RULE =
  "Oregon State and Washington State Extension rule of plant-available N by total N, resting on Gale et al. 2006, J. Environ. Qual. 35:2321; from memory, weak";
const NAHM =
  "Nahm, Factors influencing nitrogen mineralization during poultry litter composting, World's Poultry Science Journal (abstract)";

const LAZICKI =
  "Lazicki, Geisseler and Lloyd 2020, Nitrogen mineralization from organic amendments is variable but predictable, J. Environ. Qual. 49:483-495 (abstract)";

/** The rules of thumb speak of a season; here it counts as sixteen weeks. */
const SEASON_DAYS = 112;

/**
 * The classes that a file may name.
 *
 * `fast` is given as points. Its data show two phases (half within two weeks even in cold soil, then little more),
 * and one pool that starts at nothing cannot follow both. The points are the published totals, each at its age in
 * days of 25 C soil for a Q10 of 2: 14 days at 10 C count as 5, 56 days at 10 C as 20.
 */
export const RELEASE_CLASSES: Readonly<Record<ReleaseClassName, ReleaseClass>> = {
  "at-once": {
    curve: { kind: "pool", atOnce: 1, later: 0, halfLifeDays: 1, q10: 1, referenceC: 25 },
    summary: "Salts that dissolve in the water of the soil, and the potash of ashes and manures.",
    source:
      "By definition: the whole content counts from the day it is applied. Whether rain then carries it away is another question.",
  },
  fast: {
    curve: {
      kind: "points",
      points: [
        [0, 0],
        [5, 0.47],
        [20, 0.56],
        [56, 0.66],
      ],
      q10: 2,
      referenceC: 25,
    },
    summary:
      "Nitrogen of animal and seed meals with 6 % N and more: blood, feather, fish, horn, soybean, seabird guano.",
    source: `${HARTZ_JOHNSTONE}: totals at 2 and 8 weeks, 10 to 25 C. Judgement: the Q10 of 2, the pairing of the lowest total at 2 weeks with 10 C, a flat line after 8 weeks, where the data end, and seed meals in the same class (${PAN_RULE}: 60 % in 4 weeks and 75 % in a season from 6 % N on).`,
  },
  medium: {
    curve: { kind: "pool", atOnce: 0.15, later: 0.38, halfLifeDays: 21, q10: 1.2, referenceC: 25 },
    summary: "Nitrogen of manures with 3 to 5 % N, such as dried or pelleted poultry manure.",
    source: `${PAN_RULE}: the rows for 4 and 5 % N. ${NAHM}: no change of rate from 14 to 35 C. Judgement: the 15 % at once, the half-life, the Q10 of 1.2 (weak, not none) and a season of ${SEASON_DAYS} days.`,
  },
  "composted-litter": {
    curve: { kind: "pool", atOnce: 0.08, later: 0.17, halfLifeDays: 28, q10: 1.2, referenceC: 25 },
    summary: "Nitrogen of composted poultry manure.",
    source: `${LAZICKI}: 15 to 30 % of the nitrogen of poultry-manure composts in 84 days at 23 C. Judgement: the middle of that, 8 % at once for the ammonium, the half-life and the Q10 of 1.2, as for poultry manure that is not composted.`,
  },
  slow: {
    curve: { kind: "pool", atOnce: 0, later: 0.35, halfLifeDays: 60, q10: 2, referenceC: 25 },
    summary: "Nitrogen of plant meals and manures with 2 to 3 % N; phosphorus of bone meal.",
    source: `${PAN_RULE}: the rows for 2 and 3 % N. Judgement: the plateau of 35 %, the half-life of 60 days (tables give bone meal 1 to 4 months) and the Q10 of 2, near that of soil organic matter (Stanford, Frere and Schwaninger 1973, Soil Sci. 115:321, from memory).`,
  },
  "very-slow": {
    curve: { kind: "pool", atOnce: 0, later: 0.4, halfLifeDays: 450, q10: 2, referenceC: 25 },
    summary: "Nitrogen of finished composts; what rock dusts and greensand give.",
    source: `${PAN_RULE}: composted materials give 0 to 10 % in a season. Judgement: the plateau and the half-life beyond the first season (the University of Nebraska-Lincoln counts 37 % of compost nitrogen over three years), the Q10 of 2, and the use of the class for rock dusts, for which no rate was found.`,
  },
};
