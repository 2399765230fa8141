/** How well the numbers of an entry are known, by what they are about. */
import * as z from "zod/mini";
import { map } from "./base.ts";
import { choice } from "./values.ts";

/**
 * `seen`: in the text of the publication named in `source`. `computed`: worked out from such numbers. `judgement`: chosen between or
 * beyond them. `memory`: not looked up again.
 */
const STANDINGS = ["seen", "computed", "judgement", "memory"] as const;
export type Standing = (typeof STANDINGS)[number];

/** A map from what is known to how well. */
export const standing = (about: readonly string[]) =>
  map(
    Object.fromEntries(about.map((key) => [key, z.optional(choice(STANDINGS))])),
    `a map such as \`{${about[0]}: seen}\``,
  );

export const AMENDMENT_STANDINGS = ["analysis", "release", "density", "salt_index"] as const;
export const TARGET_STANDINGS = ["need", "most", "timing", "spacing"] as const;
