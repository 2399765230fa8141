/**
 * What a plan says of its soil, put to work before anything is mixed: phosphorus that this soil cannot set free, the
 * phosphorus of manures by its rating, and the cap on phosphorus that goes with the rating.
 */
import type { Amendment, NamedCurve, Soil } from "../model.ts";
import type { Cursor } from "./context.ts";
import { percent } from "./schema/values.ts";
import { isRecord } from "./source.ts";

/** Whether a rating of phosphorus is below what crops need, about right, or above. */
export type PhosphorusLevel = "below" | "right" | "above";

const LEVELS: Readonly<Record<PhosphorusLevel, readonly string[]>> = {
  below: ["very low", "low", "medium", "below optimum", "deficient"],
  right: ["optimum", "sufficient", "adequate", "high"],
  above: ["very high", "above optimum", "excessive", "excess"],
};

const wordOf = (rating: string): string =>
  rating
    .toLowerCase()
    .replace(/[-_\s]+/g, " ")
    .trim();

/** The level of a rating word, or undefined where the word is not known. */
export function phosphorusLevel(rating: string | undefined): PhosphorusLevel | undefined {
  if (rating === undefined) return undefined;
  const word = wordOf(rating);
  return (Object.keys(LEVELS) as PhosphorusLevel[]).find((level) => LEVELS[level].includes(word));
}

/** Ratings at which a soil holds on to half of the phosphorus of manure. */
const POOR: readonly string[] = ["very low", "low", "deficient"];

/** Kinds of phosphorus that a soil's pH decides on. */
export type Phosphate = "rock" | "bone";

/** Whether the phosphorus of a material is that of ground rock or of bone; undefined for any other. */
export function phosphateOf({ id, name, analysis, phosphate }: Amendment): Phosphate | undefined {
  if (phosphate === "rock" || phosphate === "bone") return phosphate;
  if (phosphate !== undefined || !((analysis.P2O5 ?? 0) > 0)) return undefined;
  const words = `${id} ${name}`.toLowerCase();
  if (/rock[ -]phosphate|phosphate[ -]rock|colloidal[ -]phosphate/.test(words)) return "rock";
  return /\bbones?\b/.test(words.replaceAll("-", " ")) ? "bone" : undefined;
}

/**
 * The phosphorus of bone meal and ground rock feeds a crop whole up to the first pH and not at all from the second on, along
 * a line between them: bone meal breaks down only in acid soil, below pH 7 (a garden guide after Colorado State University);
 * at 7.5 and above calcium phosphates are insoluble (Colorado State University Extension 0.569, 2014). The line is a
 * judgement: a tenth of a pH is within the error of a test and cannot decide over all of it.
 */
const LIMY_PH = { allTo: 6.5, noneFrom: 7.2 } as const;

/** Share of the phosphorus of bone and rock that feeds a crop at a pH. */
function limyShare(pH: number | undefined): number {
  if (pH === undefined) return 1;
  const share = (LIMY_PH.noneFrom - pH) / (LIMY_PH.noneFrom - LIMY_PH.allTo);
  return Math.min(1, Math.max(0, Number(share.toPrecision(12))));
}

const AT_ONCE = { kind: "pool", later: 0, halfLifeDays: 1, q10: 1, referenceC: 25 } as const;

/** The amendments as this soil lets them feed; what changes is said in warnings. */
export function onSoil(
  plan: Cursor,
  amendments: readonly Amendment[],
  soil: Soil | undefined,
): readonly Amendment[] {
  if (soil === undefined) return amendments;
  const limy = limyShare(soil.pH);
  const weakened: string[] = [];
  const manures: string[] = [];
  const share = manurePhosphorus(soil.pRating);
  const changed = amendments.map((amendment): Amendment => {
    if (limy < 1 && phosphateOf(amendment) !== undefined) {
      weakened.push(amendment.name);
      return { ...amendment, effective: { ...amendment.effective, P2O5: limy } };
    }
    if (share === undefined || !isManureOrCompost(amendment) || !((amendment.analysis.P2O5 ?? 0) > 0))
      return amendment;
    manures.push(amendment.name);
    const curve: NamedCurve = { label: "by the soil's rating", curve: { ...AT_ONCE, atOnce: share } };
    return {
      ...amendment,
      release: { ...amendment.release, byNutrient: { ...amendment.release.byNutrient, P2O5: curve } },
    };
  });
  if (weakened.length > 0)
    plan.warn(
      "phosphate-in-limy-soil",
      `At pH ${soil.pH} the phosphorus of ${weakened.join(", ")} counts for ${limy === 0 ? "nothing" : `${percent(limy)} of what it is`}: bone and ground rock break down only in acid soil, all of it up to pH ${LIMY_PH.allTo}, none from pH ${LIMY_PH.noneFrom} on (after Colorado State University; the line between is a judgement). Use a soluble source, or compost.`,
    );
  if (manures.length > 0 && share !== undefined)
    plan.warn(
      "manure-phosphorus",
      `On soil rated ${soil.pRating} in phosphorus, ${percent(share)} of the phosphorus of manures and composts counts as available in the first year (Kansas State University: half on soil that tests low, all of it where it tests optimum or more).`,
    );
  return changed;
}

/**
 * Share of the phosphorus of manure that counts in the first year: 50 % where the soil tests very low or low, 100 % at
 * optimum and above (Ruiz Diaz, Kansas State University, in a farm paper of 2014). Undefined: the material's own release.
 */
function manurePhosphorus(rating: string | undefined): number | undefined {
  const level = phosphorusLevel(rating);
  if (level === undefined) return undefined;
  if (level !== "below") return 1;
  return POOR.includes(wordOf(rating!)) ? 0.5 : undefined;
}

const isManureOrCompost = ({ kind }: Amendment): boolean =>
  kind === "manure-raw" || kind === "manure-processed" || kind === "compost";

/** Organic matter that the soil has, and that no credit counts. */
export function tellOfOrganicMatter(plan: Cursor, soil: Soil | undefined): void {
  if (soil?.organicMatter === undefined) return;
  const credits = plan.written("credits");
  if (Array.isArray(credits) && credits.some((one) => isRecord(one) && one.organic_matter !== undefined))
    return;
  const text = `The soil has ${percent(soil.organicMatter)} organic matter, and no credit counts the nitrogen that it sets free: \`credits: [{from: soil organic matter, organic_matter: ${percent(soil.organicMatter)}}]\`.`;
  plan.warn("organic-matter-uncounted", text);
}
