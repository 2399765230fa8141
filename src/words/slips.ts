/** What looks like a slip of the pen, asked about before a plan is believed: units, places of a point, sizes of a bed. */

import type { Amendment, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Notice } from "../problem.ts";
import type { SolutionApplication } from "../results/solution.ts";
import { volume } from "./measures.ts";
import { bagWeight, grouped, length, money, weight } from "./numbers.ts";
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

/** Questions about what the plan itself says. */
export function slipsOf(plan: Plan): Notice[] {
  return [
    ...plan.amendments.flatMap((amendment) => [...analysisSlip(amendment), ...priceSlip(plan, amendment)]),
    ...bedSlips(plan),
    ...harvestSlip(plan),
  ];
}

function analysisSlip({ id, name, analysis }: Amendment): Notice[] {
  const usual = USUAL[id];
  if (usual === undefined) return [];
  const [nutrient, expected] = usual;
  const found = (analysis[nutrient] ?? 0) * 100;
  // A nutrient that is not named at all is left out on purpose.
  if (found === 0 || (found > expected / FAR_OFF && found < expected * FAR_OFF)) return [];
  return [
    {
      code: "analysis-suspect",
      text: `${name} has ${Number(found.toPrecision(3))}% ${nutrient}; the usual label says about ${expected}%. An analysis is in percent: \`${nutrient}: ${expected}\`.`,
    },
  ];
}

function priceSlip({ currency, units }: Plan, { name, packs }: Amendment): Notice[] {
  const odd = packs.find(({ sizeKg, price }) => sizeKg >= BAG.kg && price > 0 && price < BAG.price);
  return odd === undefined
    ? []
    : [
        {
          code: "price-suspect",
          text: `${name}: a pack of ${bagWeight(odd.sizeKg, units)} for ${money(odd.price, currency)}. A pack's price is for the whole pack; a price by weight goes under \`bulk: {price: ${odd.price}, per: ${units === "us" ? "lb" : "kg"}}\`.`,
        },
      ];
}

function bedSlips({ bed, units }: Plan): Notice[] {
  const { areaM2, rows, rowLengthM, plants } = bed;
  const found: Notice[] = [];
  const ask = (text: string): void => {
    found.push({ code: "bed-suspect", text });
  };
  if (areaM2 !== undefined && rows !== undefined && rowLengthM !== undefined) {
    const spacing = areaM2 / (rows * rowLengthM);
    if (spacing > ROW_SPACING_M.most || spacing < ROW_SPACING_M.least)
      ask(
        `The bed's rows would lie ${length(spacing, units)} apart: \`area\` shared out over ${rows} rows of ${length(rowLengthM, units)}. Check \`area\`, \`rows\` and \`row_length\`.`,
      );
  }
  if (areaM2 !== undefined && plants !== undefined) {
    const ground = areaM2 / plants;
    if (ground > GROUND_PER_PLANT_M2.most || ground < GROUND_PER_PLANT_M2.least) {
      const each =
        units === "us"
          ? `${Number((ground / 0.09290304).toPrecision(2))} sq ft`
          : `${Number(ground.toPrecision(2))} m2`;
      ask(
        `Each of the ${grouped(plants)} plants would have ${each} of ground. Check \`area\` and \`plants\`.`,
      );
    }
  }
  return found;
}

function harvestSlip({ harvest, seasonDays, planted }: Plan): Notice[] {
  return harvest === undefined || harvest.firstDay <= seasonDays
    ? []
    : [
        {
          code: "harvest-suspect",
          text: `The first harvest is on ${dayWords(harvest.firstDay, planted)}, after the season's end on ${dayWords(seasonDays, planted)}: the crop would take up nothing more by then. Check \`harvest\` and the target's \`season\`.`,
        },
      ];
}

/** Questions about what a mix would come to in the field. */
export function slipsOfMix(plan: Plan, applications: readonly SolutionApplication[]): Notice[] {
  const found: Notice[] = [];
  const { areaM2 } = plan.bed;
  const kg = applications.reduce((sum, application) => sum + application.kg, 0);
  if (areaM2 !== undefined && kg / areaM2 > HEAVY_KG_PER_M2)
    found.push({
      code: "load-suspect",
      text: `The mix weighs ${weight(kg, plan.units)} for this bed, ${weight((kg / areaM2) * (plan.units === "us" ? 92.90304 : 1), plan.units)} on ${plan.units === "us" ? "1000 sq ft" : "a square metre"}. So much is usual for compost, not for fertilizer: check the need, the analyses and the area, or leave out the poorest.`,
    });
  const worst = applications.reduce((most, { perPlant }) => Math.max(most, (perPlant.mL ?? 0) / 1000), 0);
  if (worst > PER_PLANT_L)
    found.push({
      code: "per-plant-suspect",
      text: `Each plant would get ${volume(worst, plan.units)} at one time. Check the number of plants and the need; so much at one plant burns it unless it is spread wide.`,
    });
  return found;
}
