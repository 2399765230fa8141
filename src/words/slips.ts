/** What looks like a slip of the pen, asked about before a plan is believed, and what a plan leaves to be assumed. */

import { type Amounts, suppliedKg } from "../field/delivery.ts";
import { type Amendment, type Demand, type Plan, wholeBed } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import type { Round } from "../results/solution.ts";
import { curveOf, layOutSeason, type Season } from "../season/season.ts";
import { fromSi, toSi } from "../units.ts";
import { volume } from "./measures.ts";
import { bagWeight, grams, grouped, length, money, weight } from "./numbers.ts";
import { dayWords } from "./own-measures.ts";

/** Percent of the main nutrient on the usual label, by id; a test holds it to the list that ships. */
export const USUAL: Readonly<Record<string, readonly [Nutrient, number]>> = {
  "alfalfa-meal": ["N", 2.5],
  "blood-meal": ["N", 12.5],
  "bone-meal-steamed": ["P2O5", 27],
  "cottonseed-meal": ["N", 6],
  "epsom-salt": ["Mg", 9.8],
  "feather-meal": ["N", 13],
  "fish-meal": ["N", 10],
  gypsum: ["Ca", 22],
  langbeinite: ["K2O", 22],
  "potassium-sulfate": ["K2O", 50],
  "poultry-pellets": ["N", 4],
  "soybean-meal": ["N", 7],
  urea: ["N", 46],
};
/** A label so many times off the usual one, up or down, is asked about. */
const FAR_OFF = 10;
/** A bag that weighs this much and costs less is asked about: it may be the price of a pound. In any currency. */
const BAG = { kg: 9, price: 2.5 } as const;
/** Row spacings and ground per plant outside these are asked about; common practice, no source. */
const ROW_SPACING_M = { least: 0.08, most: 3 } as const;
const GROUND_PER_PLANT_M2 = { least: 0.002, most: 10 } as const;
/** More than this for one plant at one time is asked about: about 6 cups. A judgement. */
const PER_PLANT_L = 1.5;
/** A mix heavier than this is a load of compost and no fertilizer: 10 kg/m2, about 2000 lb per 1000 sq ft. A judgement. */
const HEAVY_KG_PER_M2 = 10;

/**
 * Season needs that no vegetable crop has, lb/acre: several times the largest removals and recommendations in print
 * (tomato 200 N, 225 K2O, University of Florida CV236; broccoli, whole crop, 210 K2O, New England Vegetable Management
 * Guide). The round numbers themselves are common practice, no source.
 */
const BEYOND_REASON_LB_PER_ACRE: Readonly<Partial<Record<Nutrient, number>>> = {
  N: 400,
  P2O5: 400,
  K2O: 700,
  Ca: 2000,
  Mg: 300,
  S: 300,
  Fe: 60,
  Mn: 60,
  Zn: 40,
  Cu: 40,
  B: 10,
  Mo: 3,
};
/** A vegetable plant has at most about this much ground; used where a bed gives plants and no area. */
const MOST_GROUND_PER_PLANT_M2 = 2;
/** A soil that many vegetable beds have on average from spring to autumn; common practice, no source. */
const ORDINARY_C = 18;

const notice = (code: string, text: string): Notice[] => [{ code, text }];

/** Questions about what the plan itself says; it is solved all the same. */
export function slipsOf(plan: Plan): Notice[] {
  return [
    ...plan.demands.flatMap((demand) => needSlip(plan, demand)),
    ...plan.amendments.flatMap((amendment) => [...analysisSlip(amendment), ...priceSlip(plan, amendment)]),
    ...bedSlips(plan),
    ...harvestSlip(plan),
  ];
}

function needSlip({ bed, units }: Plan, { nutrient, minKg }: Demand): Notice[] {
  const { areaM2, plants } = wholeBed(bed);
  const limit = BEYOND_REASON_LB_PER_ACRE[nutrient];
  const ground = areaM2 ?? (plants === undefined ? undefined : plants * MOST_GROUND_PER_PLANT_M2);
  if (limit === undefined || ground === undefined || fromSi(minKg / ground, "lb/acre") <= limit) return [];
  const unit = units === "us" ? "lb/acre" : "kg/ha";
  const figures = (kgPerM2: number, digits: number): string =>
    areaM2 === undefined
      ? grams(kgPerM2 * MOST_GROUND_PER_PLANT_M2 * 1000)
      : grouped(Number(fromSi(kgPerM2, unit).toPrecision(digits)));
  const per = areaM2 === undefined ? " per plant" : ` ${unit}`;
  const text = `A need of ${weight(minKg, units)} of ${nutrient} on this bed is ${figures(minKg / ground, 3)}${per}; no vegetable crop needs more than about ${figures(toSi(limit, "lb/acre"), 2)}. Check the unit of the need, what it is \`per\`, and the size of the bed.`;
  return notice("need-suspect", text);
}

function analysisSlip({ id, name, analysis }: Amendment): Notice[] {
  if (!Object.hasOwn(USUAL, id)) return [];
  const [nutrient, expected] = USUAL[id]!;
  const found = (analysis[nutrient] ?? 0) * 100;
  // A nutrient that is not named at all is left out on purpose.
  if (found === 0 || (found > expected / FAR_OFF && found < expected * FAR_OFF)) return [];
  const text = `${name} has ${Number(found.toPrecision(3))}% ${nutrient}; the usual label says about ${expected}%. An analysis is in percent: \`${nutrient}: ${expected}\`.`;
  return notice("analysis-suspect", text);
}

function priceSlip({ currency, units }: Plan, { name, packs }: Amendment): Notice[] {
  const odd = packs.find(({ sizeKg, price }) => sizeKg >= BAG.kg && price > 0 && price < BAG.price);
  if (odd === undefined) return [];
  const text = `${name}: a pack of ${bagWeight(odd.sizeKg, units)} for ${money(odd.price, currency)}. A pack's price is for the whole pack; a price by weight goes under \`bulk: {price: ${odd.price}, per: ${units === "us" ? "lb" : "kg"}}\`.`;
  return notice("price-suspect", text);
}

const isOutside = (value: number, { least, most }: { least: number; most: number }): boolean =>
  value > most || value < least;

function bedSlips({ bed, units }: Plan): Notice[] {
  const { areaM2, rows, rowLengthM, plants } = bed;
  if (areaM2 === undefined) return [];
  const texts: string[] = [];
  if (rows !== undefined && rowLengthM !== undefined) {
    const spacing = areaM2 / (rows * rowLengthM);
    if (isOutside(spacing, ROW_SPACING_M))
      texts.push(
        `The bed's rows would lie ${length(spacing, units)} apart: \`area\` shared out over ${rows} rows of ${length(rowLengthM, units)}. Check \`area\`, \`rows\` and \`row_length\`.`,
      );
  }
  if (plants !== undefined && isOutside(areaM2 / plants, GROUND_PER_PLANT_M2)) {
    const unit = units === "us" ? "sq ft" : "m2";
    const each = `${Number(fromSi(areaM2 / plants, unit).toPrecision(2))} ${unit}`;
    texts.push(
      `Each of the ${grouped(plants)} plants would have ${each} of ground. Check \`area\` and \`plants\`.`,
    );
  }
  return texts.flatMap((text) => notice("bed-suspect", text));
}

function harvestSlip({ harvest, seasonDays, planted }: Plan): Notice[] {
  if (harvest === undefined || harvest.firstDay <= seasonDays) return [];
  const text = `The first harvest is on ${dayWords(harvest.firstDay, planted)}, after the season's end on ${dayWords(seasonDays, planted)}: the crop would take up nothing more by then. Check \`harvest\` and the target's \`season\`.`;
  return notice("harvest-suspect", text);
}

/** Questions about what a mix would come to in the field. */
export function slipsOfMix(plan: Plan, rounds: readonly Round[]): Notice[] {
  return [...loadSlip(plan, rounds), ...dosesSlip(plan, rounds)];
}

function loadSlip({ bed, units }: Plan, rounds: readonly Round[]): Notice[] {
  const kg = rounds.reduce((sum, round) => sum + round.kg, 0);
  const kgPerM2 = kg / (wholeBed(bed).areaM2 ?? Infinity);
  if (kgPerM2 <= HEAVY_KG_PER_M2) return [];
  const [ground, m2] = units === "us" ? ["1000 sq ft", toSi(1, "1000 sq ft")] : ["a square metre", 1];
  const text = `The mix weighs ${weight(kg, units)} for this bed, ${weight(kgPerM2 * m2, units)} on ${ground}. So much is usual for compost, not for fertilizer: check the need, the analyses and the area, or leave out the poorest.`;
  return notice("load-suspect", text);
}

function dosesSlip({ units }: Plan, rounds: readonly Round[]): Notice[] {
  const worst = rounds.reduce((most, { perPlant }) => Math.max(most, (perPlant.mL ?? 0) / 1000), 0);
  if (worst <= PER_PLANT_L) return [];
  const text = `Each plant would get ${volume(worst, units)} at one time. Check the number of plants and the need; so much at one plant burns it unless it is spread wide.`;
  return notice("per-plant-suspect", text);
}

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
  const text = `The plan gives no \`soil_temperature\`, so releases run as in soil of 25 C.${gives} Give the season's mean, for instance \`soil_temperature: ${ORDINARY_C} C\`, or values by day.`;
  return notice("soil-temperature-assumed", text);
}
