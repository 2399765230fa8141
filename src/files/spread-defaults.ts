/**
 * How much analyses, releases, credits and seasons vary, where no file says otherwise.
 *
 * Every figure is a standard deviation: of a content as a fraction of its mean, of soil temperature in degrees. Two lots
 * (or seasons) in three lie within one of it, nineteen in twenty within two. `source` says what a figure rests on;
 * where that is judgement, it says so. Only what a whole lot, bed or season shares counts, not what differs from plant
 * to plant.
 */
import type { MaterialKind, NutrientMap } from "../model.ts";
import type { ReleaseClassName } from "./release-classes.ts";

/** Variation of the contents of a kind of material between lots, with where it comes from. */
export interface KindSpread {
  readonly byNutrient: NutrientMap;
  readonly other: number;
  readonly source: string;
}

const LITTER =
  "Univ. Georgia Extension B1270, samples of July 2000 to July 2002, across farms: fresh broiler litter N 19, P2O5 29, K2O 27 %; stockpiled and composted litter N 31 to 35, P2O5 33, K2O 30 to 36 %";
const LABEL_RULE =
  "judgement: half the official allowance below the guarantee, so that a lot two such steps low is at the edge of the law";

const kind = (byNutrient: NutrientMap, other: number, source: string): KindSpread => ({
  byNutrient,
  other,
  source,
});
const NITROGEN = `${LABEL_RULE} (allowance for nitrogen from memory).`;

/** By kind of material; `unknown` for one that states none. */
export const KIND_SPREADS: Readonly<Record<MaterialKind | "unknown", KindSpread>> = {
  // Animal meals with a guarantee.
  animal: kind({ N: 0.04, P2O5: 0.1, K2O: 0.12 }, 0.12, NITROGEN),
  // Plant meals and seaweeds.
  plant: kind({ N: 0.06, P2O5: 0.1, K2O: 0.12 }, 0.15, NITROGEN),
  // Mined minerals.
  mineral: kind(
    { P2O5: 0.1, K2O: 0.03 },
    0.05,
    `${LABEL_RULE}; for Ca, Mg and S that allowance is 0.2 unit and 5 % of the guarantee, at most 1 unit (N.H. Admin. Code Agr 1105.04, table 1105-2).`,
  ),
  // Raw manure and bulk litter.
  "manure-raw": kind({ N: 0.2, P2O5: 0.3, K2O: 0.28 }, 0.3, `${LITTER}.`),
  // Bagged, labelled manure, such as pellets.
  "manure-processed": kind(
    { N: 0.08, P2O5: 0.12, K2O: 0.1 },
    0.15,
    `${LABEL_RULE} (allowances for N, P2O5 and K2O from memory).`,
  ),
  // Compost from one maker.
  compost: kind({ N: 0.2, P2O5: 0.3, K2O: 0.3 }, 0.3, `${LITTER}; judgement: less for one known source.`),
  // Soluble salts.
  salt: kind({ K2O: 0.02 }, 0.03, `${LABEL_RULE}.`),
  // A material that states no kind.
  unknown: kind({ N: 0.08, P2O5: 0.12, K2O: 0.1 }, 0.15, "judgement: as bagged, labelled manure."),
};

export interface ReleaseSpread {
  readonly cv: number;
  readonly source: string;
}

const LAZICKI =
  "Lazicki, Geisseler and Lloyd 2020, J. Environ. Qual. 49:483 (abstract), 84 days at 23 C, a range read as two steps each way";

/** Variation of what a release class gives, from lot to lot and season to season together; by name of the class. */
export const RELEASE_SPREADS: Readonly<Record<ReleaseClassName | "measured" | "inline", ReleaseSpread>> = {
  "at-once": { cv: 0, source: "by definition" },
  fast: {
    cv: 0.12,
    source: `${LAZICKI}: 60 to 90 % of the nitrogen of quick materials, 10 %; judgement: a little more in a field.`,
  },
  medium: {
    cv: 0.18,
    source: `${LAZICKI}: 35 to 55 % of granular materials, 11 %, and 15 to 30 % of poultry manure compost, 17 %; judgement between materials and soils.`,
  },
  "composted-litter": {
    cv: 0.2,
    source: `${LAZICKI}: 15 to 30 % of poultry manure compost, 17 %; judgement: a little more in a field.`,
  },
  slow: {
    cv: 0.25,
    source:
      "Cabrera, SARE LS16-269 (abstract), 100 days: litters 8 to 37 %, a range read as two steps each way, 32 %; judgement: less within a class.",
  },
  "very-slow": {
    cv: 0.5,
    source: `${LAZICKI}: yard compost below 0 to 5 %; release is near nothing, so its doubt is half of it or more.`,
  },
  measured: { cv: 0.1, source: "judgement: one incubation, another soil." },
  inline: { cv: 0.18, source: "judgement: as `medium`." },
};

/** What a whole season or bed shares. */
export const SEASON_SPREADS = {
  /** All releases together: soil, moisture, microbes. */
  releases: { cv: 0.08, source: "judgement; no figure from field trials was found, and it weighs most." },
  /** Mean soil temperature of a season, from year to year. */
  soilTemperatureC: {
    sd: 1.2,
    source: "from memory: climate tables print such figures; it matters little.",
  },
  /** Weighing and spreading, whole bed, each round. */
  spreading: { cv: 0.03, source: "judgement: what is left in the barrow and what goes beside the bed." },
  /** A credit: what a cover crop, the soil or the water gives. */
  credit: { cv: 0.35, source: "judgement: the stand and its nitrogen are both guessed." },
} as const;

/** Variation of one laboratory's result for one sample. */
export const LABORATORY_SPREAD = {
  byNutrient: { N: 0.05, P2O5: 0.08, K2O: 0.08 } as NutrientMap,
  other: 0.1,
  source:
    "Hu and others (abstract), six US laboratories, dairy slurry: total N 6.3 %; eight certified laboratories: P2O5 and K2O 5.9 to 14.4 %; judgement for the rest.",
} as const;

/** Variation between lots of one nutrient of a material, of its mean. */
export function lotSpread(
  own: { readonly byNutrient: NutrientMap; readonly other?: number } | undefined,
  kind: MaterialKind | undefined,
  nutrient: keyof NutrientMap,
): number {
  const shipped = KIND_SPREADS[kind ?? "unknown"];
  return own?.byNutrient[nutrient] ?? own?.other ?? shipped.byNutrient[nutrient] ?? shipped.other;
}
