/** The nutrients of the program, the other forms a file may name, and the factors between them. */
import { nearest } from "./problem.ts";

/** Canonical forms, in the order every table and JSON uses. Phosphorus and potassium count as oxides. */
export const NUTRIENTS = [
  "N",
  "P2O5",
  "K2O",
  "Ca",
  "Mg",
  "S",
  "Fe",
  "Mn",
  "Zn",
  "Cu",
  "B",
  "Mo",
  "Na",
  "Cl",
] as const;
export type Nutrient = (typeof NUTRIENTS)[number];

/**
 * Standard atomic weights of 2021, abridged to five figures: Prohaska et al. 2022, Standard atomic weights of the
 * elements 2021 (IUPAC Technical Report), Pure Appl. Chem. 94:573. Sulfur is known to 32.06 +/- 0.02 only, so the
 * fourth figure of its factors is soft.
 */
const ATOMIC_WEIGHT = {
  O: 15.999,
  Mg: 24.305,
  P: 30.974,
  S: 32.06,
  K: 39.098,
  Ca: 40.078,
} as const;

const { O, Mg, P, S, K, Ca } = ATOMIC_WEIGHT;

/** A form that a file may name instead of the canonical one: `canonical = amount * factor`. */
export interface NutrientForm {
  readonly nutrient: Nutrient;
  readonly factor: number;
}

const OTHER_FORMS = {
  P: { nutrient: "P2O5", factor: (2 * P + 5 * O) / (2 * P) },
  K: { nutrient: "K2O", factor: (2 * K + O) / (2 * K) },
  CaO: { nutrient: "Ca", factor: Ca / (Ca + O) },
  MgO: { nutrient: "Mg", factor: Mg / (Mg + O) },
  SO3: { nutrient: "S", factor: S / (S + 3 * O) },
  SO4: { nutrient: "S", factor: S / (S + 4 * O) },
} as const satisfies Readonly<Record<string, NutrientForm>>;

/** What a file may call a nutrient. */
export type NutrientName = Nutrient | keyof typeof OTHER_FORMS;

/** Every `NutrientName`, canonical ones first. */
export const NUTRIENT_NAMES: readonly string[] = [...NUTRIENTS, ...Object.keys(OTHER_FORMS)];

/** What nutrients are called in words, and the name that files use. */
const WORDS: Readonly<Record<string, string>> = {
  nitrogen: "N",
  phosphorus: "P",
  phosphate: "P2O5",
  potassium: "K",
  potash: "K2O",
  calcium: "Ca",
  magnesium: "Mg",
  sulfur: "S",
  sulphur: "S",
  sulfate: "SO4",
  sulphate: "SO4",
  iron: "Fe",
  manganese: "Mn",
  zinc: "Zn",
  copper: "Cu",
  boron: "B",
  molybdenum: "Mo",
  sodium: "Na",
  chloride: "Cl",
  chlorine: "Cl",
};

/** The name that files use for a nutrient written in words or in other letters; undefined where it is neither. */
export function nutrientMeant(written: string): string | undefined {
  const low = written.trim().toLowerCase();
  return Object.hasOwn(WORDS, low) ? WORDS[low] : NUTRIENT_NAMES.find((name) => name.toLowerCase() === low);
}

/** The name that files use for what is most likely meant by a name that is none. */
export function nearestNutrient(written: string): string | undefined {
  return nutrientMeant(written) ?? nearest(written, NUTRIENT_NAMES);
}

/**
 * The canonical nutrient that a name means, and the factor that takes an amount so named to it.
 * @returns undefined for a name that is none; capitals count, since `Mo` and `Mn` are near enough already.
 */
export function readNutrient(name: string): NutrientForm | undefined {
  if ((NUTRIENTS as readonly string[]).includes(name)) return { nutrient: name as Nutrient, factor: 1 };
  return Object.hasOwn(OTHER_FORMS, name) ? OTHER_FORMS[name as keyof typeof OTHER_FORMS] : undefined;
}
