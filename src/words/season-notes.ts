/** What a plan leaves to be assumed about its soil, and how much hangs on it. */

import { type Amounts, suppliedKg } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import type { Notice } from "../problem.ts";
import { curveOf, layOutSeason, type Season } from "../season/season.ts";
import { weight } from "./numbers.ts";
import { dayWords } from "./own-measures.ts";

/** A soil that many vegetable beds have on average from spring to autumn; common practice, no source. */
const ORDINARY_C = 18;

/** Without a soil temperature releases run as in the warm soil they were measured in; the reader is told. */
export function temperatureAssumed(plan: Plan, season: Season, amounts: Amounts): Notice[] {
  if (plan.soilTemperatureC !== undefined) return [];
  const slow = plan.amendments.some((amendment, a) => {
    const { curve } = curveOf(amendment, "N");
    const releases = curve.kind === "points" || curve.later !== 0;
    return amounts[a]!.some((kg) => kg > 0) && (amendment.analysis.N ?? 0) > 0 && releases && curve.q10 !== 1;
  });
  if (!slow) return [];
  const end = plan.seasonDays;
  const cool = layOutSeason({ ...plan, soilTemperatureC: [[0, ORDINARY_C]] });
  const kg = (at: Season): string => weight(suppliedKg(plan, at, amounts, "N", end), plan.units);
  const [warm, cooler] = [kg(season), kg(cool)];
  const gives =
    warm === cooler
      ? ""
      : ` At ${ORDINARY_C} C this mix would give ${cooler} of nitrogen by ${dayWords(end, plan.planted)}, and not ${warm}.`;
  return [
    {
      code: "soil-temperature-assumed",
      text: `The plan gives no \`soil_temperature\`, so releases run as in soil of 25 C.${gives} Give the season's mean, for instance \`soil_temperature: ${ORDINARY_C} C\`, or values by day.`,
    },
  ];
}
