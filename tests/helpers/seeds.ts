/**
 * How much of a long list of random cases is tried: a few in `npm test`, all of them in `npm run check`. BARROWMIX_SEEDS
 * says which: `all` for the lists that CI tries after `npm test` (`check -- short`), `answers` for whole purchases, each
 * of which other solvers work at for seconds (`check -- answers`, not in CI).
 */
import { it } from "vitest";

const LEVEL = process.env.BARROWMIX_SEEDS;

const left = Object.assign(() => undefined, { each: () => () => undefined });

/** A test that takes half a second or more, of what a faster one touches too: in the short check alone. */
export const slow = (LEVEL === "all" ? it : left) as typeof it;

/** The first in the suite, the second in the short check. */
export const seeds = <T>(few: T, all: T): T => (LEVEL === "all" ? all : few);

/** Whether purchases are tried at full length. */
export const ALL_ANSWERS = LEVEL === "answers";

/** The first in the suite, the second in the check of answers. */
export const answerSeeds = <T>(few: T, all: T): T => (ALL_ANSWERS ? all : few);
