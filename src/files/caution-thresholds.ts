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
  /** Which way a grower moves it to be warned sooner: an interval up, an amount or a share down. */
  readonly stricter: "lower" | "higher";
  /** What the number is, as a phrase: `boron spread in a season`. */
  readonly what: string;
  readonly source: string;
}

const LB_PER_ACRE = toSi(1, "lb") / toSi(1, "acre");
/** In kg per m2. */
const KG_PER_HA = 1e-4;
const PRACTICE = "common practice, no source";
const SALT_INDEX = `${PRACTICE}; the salt index (Rader, White and Whittaker 1943, Soil Sci. 55:201) ranks materials and sets no limit`;
const SEWAGE_SLUDGE =
  "40 CFR 503.13, annual loading rate for sewage sludge, the usual yardstick; from memory";

/** Rows of the table: the threshold, what it is, where it comes from. */
const of =
  <D extends ThresholdDimension>(dimension: D) =>
  (value: number, what: string, source: string) => {
    const stricter = dimension === "time" ? ("higher" as const) : ("lower" as const);
    return { dimension, value, stricter, what, source };
  };
const [share, time, mass, rate] = [of("share"), of("time"), of("mass"), of("rate")];

export const CAUTION_THRESHOLDS = {
  "raw-manure-touching": time(
    120,
    "days from raw manure to the harvest of a crop that touches the soil",
    "7 CFR 205.203(c)(1)",
  ),
  "raw-manure-clear": time(
    90,
    "days from raw manure to the harvest of a crop that does not touch the soil",
    "7 CFR 205.203(c)(1)",
  ),
  "ammonia-injury": mass(
    0.003,
    "nitrogen of animal meals per plant at planting",
    "Diaz-Perez et al. 2017, HortScience 52:138: little effect on tomato germination below about 3 g N of blood or feather meal per kg of potting mix, none germinated at about 14 g; taken for a planting hole that holds 1 kg of soil, a judgement",
  ),
  "salt-at-planting": mass(0.015, "salt per plant at planting, counted as sodium nitrate", SALT_INDEX),
  "salt-at-planting-area": rate(0.05, "salt spread at planting, counted as sodium nitrate", SALT_INDEX),
  boron: rate(
    2 * LB_PER_ACRE,
    "boron spread in a season",
    "ordinary rates are 0.5 to 2 lb B/acre, none on beans; from memory",
  ),
  "boron-sensitive": rate(
    0.5 * LB_PER_ACRE,
    "boron spread in a season on beans, peas and strawberries",
    "beans bear almost none: yields fell at 4.4 kg/ha at two of four sites (Prince Edward Island); the 0.5 lb is the low end of ordinary rates, a judgement",
  ),
  "boron-demanding": rate(
    3 * LB_PER_ACRE,
    "boron spread in a season on cole crops, beets and celery",
    "1.5 to 3 lb B/acre on broccoli, kale and cole crops, University of Delaware 2012",
  ),
  copper: rate(
    3 * LB_PER_ACRE,
    "copper spread in a year",
    "University of Wisconsin A2527: stop at 30 lb/acre in all; a tenth of that in one year is a judgement",
  ),
  zinc: rate(140 * KG_PER_HA, "zinc spread in a year", SEWAGE_SLUDGE),
  "nitrogen-ahead": share(
    0.5,
    "nitrogen that is available and not yet taken up, as a share of the season's need",
    PRACTICE,
  ),
  "heavy-rain": rate(
    50 * LB_PER_ACRE,
    "nitrogen that lies available in the soil and is not yet taken up",
    PRACTICE,
  ),
  "short-between": share(
    0.05,
    "what the crop has taken up and the mix not made available, between the days that are checked, as a share",
    `${PRACTICE}; uptake curves are known no better than that`,
  ),
  "nitrogen-left": rate(
    170 * KG_PER_HA,
    "nitrogen spread that the season does not release",
    "Council Directive 91/676/EEC, Annex III: at most 170 kg/ha of nitrogen a year from livestock manure in vulnerable zones, from memory; taken for what stays behind, a judgement",
  ),
  "phosphorus-above-need": share(
    2,
    "phosphate applied, as a share of what the harvest removes or the season needs",
    "New England Vegetable Management Guide: rates above removal are given only where soil tests below optimum; the factor of two is a judgement",
  ),
  "phosphorus-without-need": rate(
    40 * LB_PER_ACRE,
    "phosphate applied where the plan states no need for it",
    "20 tons of tomatoes remove about 40 lb P2O5/acre (North Carolina State AG-439-16, Zublena 1991); from memory",
  ),
  "applied-unavailable": share(
    0.25,
    "part of a need counted as it is spread that becomes available in the season",
    `${PRACTICE}; a rate of a table is for soluble sources`,
  ),
  "sodium-nitrate-share": share(
    0.2,
    "share of the crop's nitrogen that comes from sodium nitrate",
    "7 CFR 205.602; from memory",
  ),
  sodium: rate(100 * KG_PER_HA, "sodium spread in a season", PRACTICE),
  chloride: rate(150 * KG_PER_HA, "chloride spread in a season", PRACTICE),
  liming: rate(500 * KG_PER_HA, "liming effect, as calcium carbonate", PRACTICE),
  acidifying: rate(
    500 * KG_PER_HA,
    "acidifying effect, as the calcium carbonate that it takes up",
    `${PRACTICE}; 1 lb of sulfur takes up 3.12 lb of limestone by stoichiometry, and 135 to 270 g of sulfur per m2 lower a pH of 7 to 7.5 to 6 to 6.5 (Royal Horticultural Society)`,
  ),
  "wood-ash": rate(
    toSi(20, "lb") / toSi(1000, "sq ft"),
    "wood ash spread in a year",
    "10 to 20 lb per 1000 sq ft a year where the pH is below 7 (extension text of 1991)",
  ),
} as const satisfies Readonly<Record<string, CautionThreshold>>;

export type ThresholdCode = keyof typeof CAUTION_THRESHOLDS;
