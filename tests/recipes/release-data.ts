/** The published figures that the release classes were fitted to, class by class. */
import type { ReleaseClassName } from "../../src/files/release-classes.ts";

/** A published figure: by `days` at `temperatureC`, between `low` and `high` of the content had become available. */
export interface ReleaseDatum {
  readonly days: number;
  readonly temperatureC: number;
  /** Fraction of 1. */
  readonly low: number;
  /** Fraction of 1; equal to `low` where the source gives one number. */
  readonly high: number;
  readonly what: string;
  readonly source: string;
}

const figures = (
  source: string,
  ...rows: readonly (readonly [days: number, temperatureC: number, low: number, high: number, what: string])[]
): readonly ReleaseDatum[] =>
  rows.map(([days, temperatureC, low, high, what]) => ({ days, temperatureC, low, high, what, source }));

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

export const RELEASE_DATA: Readonly<Record<ReleaseClassName, readonly ReleaseDatum[]>> = {
  "at-once": figures("Definition of the class", [0, 25, 1, 1, "a soluble salt, by definition"]),
  fast: figures(
    HARTZ_JOHNSTONE,
    [14, 10, 0.47, 0.6, "high-nitrogen materials, 2 weeks, 10 C"],
    [14, 25, 0.47, 0.6, "high-nitrogen materials, 2 weeks, 25 C"],
    [56, 10, 0.56, 0.56, "mean of the materials, 8 weeks, 10 C"],
    [56, 25, 0.66, 0.66, "mean of the materials, 8 weeks, 25 C"],
  ),
  medium: [
    ...figures(PAN_RULE, [28, 25, 0.3, 0.45, "4 to 5 % N, 4 weeks"]),
    ...figures(
      `${PAN_RULE}; ${NAHM}`,
      [28, 14, 0.3, 0.45, "the same in cool soil (no change of rate from 14 to 35 C)"],
      [28, 35, 0.3, 0.45, "the same in hot soil (no change of rate from 14 to 35 C)"],
    ),
    ...figures(PAN_RULE, [SEASON_DAYS, 25, 0.45, 0.6, "4 to 5 % N, a season"]),
  ],
  "composted-litter": figures(LAZICKI, [84, 23, 0.15, 0.3, "composts of poultry manure, 84 days, 23 C"]),
  slow: figures(
    PAN_RULE,
    [28, 25, 0, 0.15, "2 to 3 % N, 4 weeks"],
    [SEASON_DAYS, 25, 0.15, 0.3, "2 to 3 % N, a season"],
  ),
  "very-slow": figures(PAN_RULE, [SEASON_DAYS, 25, 0, 0.1, "composted materials, a season"]),
};
