/** How wide a text is in print, so that a sheet can be filled without a browser to measure it. */

/** Widths of bold letters in thousandths of their size: Helvetica-Bold of Adobe's Core 14 metrics, which Arial shares. */
const WIDTHS: readonly (readonly [width: number, letters: string])[] = [
  [278, " ,./Iijl\\'\u00a0"],
  [333, "!()-:;ft[]`\u2019"],
  [389, "*r"],
  [500, "z"],
  [556, "0123456789aceksvxy$#J_"],
  [584, "+<=>~"],
  [611, "bdghnopquFLTZ?"],
  [667, "EPSVXY"],
  [722, "ABCDHKNRU&"],
  [778, "wGOQ"],
  [833, "M"],
  [889, "m%"],
  [975, "W@"],
];
const OF_LETTER = new Map(WIDTHS.flatMap(([width, letters]) => [...letters].map((c) => [c, width])));
/** Signs of other scripts are as wide as they are high. */
const OTHER = 1000;

/** Width of a text in bold letters of a size, in the unit of the size; letters with marks are as wide as without. */
export function boldWidth(text: string, size: number): number {
  const letters = [...text.normalize("NFD").replace(/\p{M}/gu, "")];
  return (letters.reduce((sum, c) => sum + (OF_LETTER.get(c) ?? OTHER), 0) * size) / 1000;
}
