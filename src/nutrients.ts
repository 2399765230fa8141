/** The nutrients of the program, the other forms a file may name, and the factors between them. */

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
