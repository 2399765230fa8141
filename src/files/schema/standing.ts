/** How well the numbers of an entry are known, by what they are about. */
import { bareMap } from "./base.ts";
import { choice } from "./values.ts";

/**
 * `seen`: in the text of the publication named in `source`. `computed`: worked out from such numbers. `judgement`: chosen between or
 * beyond them. `memory`: not looked up again.
 */
const STANDINGS = ["seen", "computed", "judgement", "memory"] as const;
export type Standing = (typeof STANDINGS)[number];

/** A map from what is known to how well. */
export const standing = (...about: readonly string[]) =>
  bareMap(
    Object.fromEntries(about.map((key) => [key, choice(STANDINGS)])),
    `a map such as \`{${about[0]}: seen}\``,
  );
