/** Every caution, the gravest first: its rank, where it comes from, and with whom the last word lies. */
import { CAUTION_THRESHOLDS, type ThresholdCode } from "../files/caution-thresholds.ts";

const CERTIFIER = "your certifier";
const FOOD_SAFETY = `${CERTIFIER} and local food-safety rules`;
const LABEL = "the label of the bag and local codes";
const ADVICE = "licensed advice and a soil test";
const PRACTICE = "common practice, no source";

/** Rank 1: what can hurt people; 2 and 3: crop and ground; 4: rules and papers; 5: what holds for every mix, or nearly. */
const row = (rank: 1 | 2 | 3 | 4 | 5, source: string, defersTo = ADVICE) => ({ rank, source, defersTo });

/** The source of a threshold. */
export const sourceOf = (threshold: ThresholdCode): string => CAUTION_THRESHOLDS[threshold].source;

export const CAUTIONS = {
  "raw-manure-interval": row(1, sourceOf("raw-manure-touching"), FOOD_SAFETY),
  "manure-pathogens": row(1, `raw manure carries germs of people; ${PRACTICE}`, FOOD_SAFETY),
  silica: row(
    1,
    "29 CFR 1910.1053, respirable silica at most 0.05 mg/m3; from memory",
    "the safety data sheet",
  ),
  "organic-prohibited": row(1, "7 CFR 205.105; from memory", CERTIFIER),

  "ammonia-injury": row(2, sourceOf("ammonia-injury"), LABEL),
  "salt-at-planting": row(2, sourceOf("salt-at-planting")),
  "placement-unknown": row(2, sourceOf("ammonia-injury"), LABEL),
  "pets-poison": row(
    2,
    "cocoa shell holds theobromine, castor meal may hold ricin; from memory",
    "a veterinarian",
  ),
  "gluten-seeds": row(2, "corn gluten meal is sold to keep seeds from rooting; from memory", LABEL),
  "herbicide-carry-over": row(
    2,
    "aminopyralid and clopyralid pass through animals and composting (extension bulletins, from memory)",
    "the seller in writing, and a test with bean seeds",
  ),
  "soil-salt": row(2, "FAO Irrigation and Drainage Paper 29 (Maas and Hoffman 1977); from memory"),
  boron: row(2, sourceOf("boron")),
  copper: row(2, sourceOf("copper")),
  zinc: row(2, sourceOf("zinc")),
  sodium: row(2, sourceOf("sodium")),
  chloride: row(2, sourceOf("chloride")),
  cadmium: row(2, "10 ppm of cadmium for each percent of P2O5, the state fertilizer officials' limit", LABEL),
  "wood-ash": row(2, sourceOf("wood-ash")),
  "acidity-wrong-way": row(2, `vegetables do best between about pH 6 and 7; ${PRACTICE}`),
  liming: row(2, sourceOf("liming")),
  acidifying: row(2, sourceOf("acidifying")),
  "salt-gathers": row(
    2,
    "soils of high tunnels show high salts and phosphorus from compost (Fitzgerald and Hutton 2016, NACAA 9(2)); Purdue 2024",
  ),
  "raw-manure-no-harvest": row(2, sourceOf("raw-manure-touching"), FOOD_SAFETY),

  "short-between": row(3, sourceOf("short-between")),
  "nitrogen-ahead": row(3, sourceOf("nitrogen-ahead")),
  "heavy-rain": row(3, sourceOf("heavy-rain"), "local codes on buffers and slopes"),
  "nitrogen-left": row(3, sourceOf("nitrogen-left")),
  "phosphorus-above-need": row(3, sourceOf("phosphorus-above-need")),
  "phosphorus-without-need": row(3, sourceOf("phosphorus-without-need")),
  "applied-unavailable": row(3, sourceOf("applied-unavailable")),
  "iron-fixed": row(
    3,
    "sulfates of iron and manganese turn to forms that plants cannot take up in limy soil (extension bulletins, from memory)",
  ),
  "under-plastic": row(3, PRACTICE),
  "frozen-ground": row(
    3,
    `spreading on frozen ground is barred in many places; ${PRACTICE}`,
    "local codes on spreading in winter",
  ),
  "autumn-nitrogen": row(
    3,
    "Burns's leaching equation (Scotter, White and Dyson 1993, J. Soil Sci. 44:25)",
    "local codes on spreading in autumn",
  ),
  "surface-left": row(3, `urea and rich meals lose ammonia from the surface too; ${PRACTICE}`),
  "phosphate-needs-acid": row(
    3,
    "a garden guide after Colorado State University; Colorado State University Extension 0.569, 2014",
  ),
  "surface-loss": row(
    3,
    "3.3 % of total N in winter to 24 % in summer (J. Environ. Qual. 33:1183), about the middle; 0.9 to 10.5 % in field studies of 28 days (Cassity-Duffey and others 2014, SSSAJ)",
  ),
  "area-unknown": row(3, sourceOf("boron")),

  "sodium-nitrate-share": row(4, sourceOf("sodium-nitrate-share"), CERTIFIER),
  "threshold-raised": row(4, PRACTICE),
  "keep-off-plants": row(4, PRACTICE, LABEL),
  "manure-process": row(4, "7 CFR 205.203(c)(2)", CERTIFIER),
  "organic-restricted": row(4, "7 CFR 205.601(j), 205.602; from memory", CERTIFIER),
  "organic-unknown": row(4, "7 CFR 205.105; from memory", CERTIFIER),

  "plants-differ": row(
    5,
    "spreaders in the field: 15 % is acceptable, above 20 % costs yield (Teagasc), 20 % typical (Fertiliser Society); by hand no figure was found",
  ),
  dust: row(
    5,
    "29 CFR 1910.1000 Table Z-1, dust at most 15 mg/m3 total and 5 respirable; from memory",
    LABEL,
  ),
  pets: row(5, "veterinary poison-control case note on bone and blood meal", "a veterinarian"),
  "not-for-sale": row(
    5,
    "state fertilizer laws after the AAPFCO model bill; from memory",
    "the fertilizer control office of your state",
  ),
  "last-word": row(5, PRACTICE, LABEL),
};

export type CautionCode = keyof typeof CAUTIONS;

const codesTo = (rank: number): string[] =>
  (Object.keys(CAUTIONS) as CautionCode[]).filter((code) => CAUTIONS[code].rank <= rank);

/** Place of a caution among all, the gravest at 0; one that has none comes before rules and papers. */
export function gravityOf(code: string): number {
  const place = codesTo(5).indexOf(code);
  return place < 0 ? codesTo(3).length - 0.5 : place;
}

/** Whether a caution holds for every mix, or nearly. */
export function isForEveryMix(code: string): boolean {
  return gravityOf(code) >= codesTo(4).length;
}
