/**
 * How much of a long list of random cases is tried: a few in `npm test`, all of them in `npm run check -- short`, which
 * sets BARROWMIX_SEEDS=all and runs the test files that import this one. CI runs both.
 */
const ALL = process.env.BARROWMIX_SEEDS === "all";

/** The first in the suite, the second in the check. */
export const seeds = <T>(few: T, all: T): T => (ALL ? all : few);
