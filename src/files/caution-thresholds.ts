/**
 * The thresholds of the cautions, in one table: what is compared, with what, and where the number comes from.
 * A plan may set its own under `thresholds`. All values in SI: kg, kg/m2, days, fractions of 1.
 */
import { toSi } from "../units.ts";

/** What a threshold is a quantity of. */
type ThresholdDimension = "share" | "time" | "mass" | "rate";

export interface CautionThreshold {
  readonly dimension: ThresholdDimension;
  readonly value: number;
  /** Which way a grower moves it to be warned sooner. */
  readonly stricter: "lower" | "higher";
  /** What the number is, as a phrase: `boron spread in a season`. */
  readonly what: string;
  readonly source: string;
}

const LB_PER_ACRE = toSi(1, "lb") / toSi(1, "acre");
const KG_PER_HA = 1e-4;
const PRACTICE = "common practice, no source";

export const CAUTION_THRESHOLDS = {
  "raw-manure-touching": {
    dimension: "time",
    value: 120,
    stricter: "higher",
    what: "days from raw manure to the harvest of a crop that touches the soil",
    source: "7 CFR 205.203(c)(1)",
  },
  "raw-manure-clear": {
    dimension: "time",
    value: 90,
    stricter: "higher",
    what: "days from raw manure to the harvest of a crop that does not touch the soil",
    source: "7 CFR 205.203(c)(1)",
  },
  "ammonia-injury": {
    dimension: "mass",
    value: 0.003,
    stricter: "lower",
    what: "nitrogen of animal meals per plant at planting",
    source:
      "Diaz-Perez et al. 2017, HortScience 52:138: little effect on tomato germination below about 3 g N of blood or feather meal per kg of potting mix, none germinated at about 14 g; taken for a planting hole that holds 1 kg of soil, a judgement",
  },
  "salt-at-planting": {
    dimension: "mass",
    value: 0.015,
    stricter: "lower",
    what: "salt per plant at planting, counted as sodium nitrate",
    source: `${PRACTICE}; the salt index (Rader, White and Whittaker 1943, Soil Sci. 55:201) ranks materials and sets no limit`,
  },
  "salt-at-planting-area": {
    dimension: "rate",
    value: 0.05,
    stricter: "lower",
    what: "salt spread at planting, counted as sodium nitrate",
    source: `${PRACTICE}; the salt index (Rader, White and Whittaker 1943, Soil Sci. 55:201) ranks materials and sets no limit`,
  },
  boron: {
    dimension: "rate",
    value: 2 * LB_PER_ACRE,
    stricter: "lower",
    what: "boron spread in a season",
    source: "ordinary rates are 0.5 to 2 lb B/acre, none on beans; from memory",
  },
  "boron-sensitive": {
    dimension: "rate",
    value: 0.5 * LB_PER_ACRE,
    stricter: "lower",
    what: "boron spread in a season on beans, peas and strawberries",
    source:
      "beans bear almost none: yields fell at 4.4 kg/ha at two of four sites (Prince Edward Island); the 0.5 lb is the low end of ordinary rates, a judgement",
  },
  "boron-demanding": {
    dimension: "rate",
    value: 3 * LB_PER_ACRE,
    stricter: "lower",
    what: "boron spread in a season on cole crops, beets and celery",
    source: "1.5 to 3 lb B/acre on broccoli, kale and cole crops, University of Delaware 2012",
  },
  copper: {
    dimension: "rate",
    value: 75 * KG_PER_HA,
    stricter: "lower",
    what: "copper spread in a year",
    source: "40 CFR 503.13, annual loading rate for sewage sludge, the usual yardstick; from memory",
  },
  zinc: {
    dimension: "rate",
    value: 140 * KG_PER_HA,
    stricter: "lower",
    what: "zinc spread in a year",
    source: "40 CFR 503.13, annual loading rate for sewage sludge, the usual yardstick; from memory",
  },
  "nitrogen-ahead": {
    dimension: "share",
    value: 0.5,
    stricter: "lower",
    what: "nitrogen that is available and not yet taken up, as a share of the season's need",
    source: PRACTICE,
  },
  "heavy-rain": {
    dimension: "rate",
    value: 50 * LB_PER_ACRE,
    stricter: "lower",
    what: "nitrogen that lies available in the soil and is not yet taken up",
    source: PRACTICE,
  },
  "short-between": {
    dimension: "share",
    value: 0.05,
    stricter: "lower",
    what: "what the crop has taken up and the mix not made available, between the days that are checked, as a share",
    source: `${PRACTICE}; uptake curves are known no better than that`,
  },
  "nitrogen-left": {
    dimension: "rate",
    value: 170 * KG_PER_HA,
    stricter: "lower",
    what: "nitrogen spread that the season does not release",
    source:
      "Council Directive 91/676/EEC, Annex III: at most 170 kg/ha of nitrogen a year from livestock manure in vulnerable zones, from memory; taken for what stays behind, a judgement",
  },
  "phosphorus-above-need": {
    dimension: "share",
    value: 2,
    stricter: "lower",
    what: "phosphate applied, as a share of what the harvest removes or the season needs",
    source:
      "New England Vegetable Management Guide: rates above removal are given only where soil tests below optimum; the factor of two is a judgement",
  },
  "phosphorus-without-need": {
    dimension: "rate",
    value: 40 * LB_PER_ACRE,
    stricter: "lower",
    what: "phosphate applied where the plan states no need for it",
    source:
      "20 tons of tomatoes remove about 40 lb P2O5/acre (North Carolina State AG-439-16, Zublena 1991); from memory",
  },
  "sodium-nitrate-share": {
    dimension: "share",
    value: 0.2,
    stricter: "lower",
    what: "share of the crop's nitrogen that comes from sodium nitrate",
    source: "7 CFR 205.602; from memory",
  },
  sodium: {
    dimension: "rate",
    value: 100 * KG_PER_HA,
    stricter: "lower",
    what: "sodium spread in a season",
    source: PRACTICE,
  },
  chloride: {
    dimension: "rate",
    value: 150 * KG_PER_HA,
    stricter: "lower",
    what: "chloride spread in a season",
    source: PRACTICE,
  },
  liming: {
    dimension: "rate",
    value: 500 * KG_PER_HA,
    stricter: "lower",
    what: "liming effect, as calcium carbonate",
    source: PRACTICE,
  },
  acidifying: {
    dimension: "rate",
    value: 500 * KG_PER_HA,
    stricter: "lower",
    what: "acidifying effect, as the calcium carbonate that it takes up",
    source: `${PRACTICE}; 1 lb of sulfur takes up 3.12 lb of limestone by stoichiometry, and 135 to 270 g of sulfur per m2 lower a pH of 7 to 7.5 to 6 to 6.5 (Royal Horticultural Society)`,
  },
  "wood-ash": {
    dimension: "rate",
    value: toSi(20, "lb") / toSi(1000, "sq ft"),
    stricter: "lower",
    what: "wood ash spread in a year",
    source: "10 to 20 lb per 1000 sq ft a year where the pH is below 7 (extension text of 1991)",
  },
} as const satisfies Readonly<Record<string, CautionThreshold>>;

export type ThresholdCode = keyof typeof CAUTION_THRESHOLDS;
