import { expect, it } from "vitest";
import { tallyPlans } from "./check/plans.ts";
import { seeds, slow } from "./helpers/seeds.ts";

slow(
  "proves hard random plans, and finds the cost that HiGHS finds for a model written a second time",
  async () => {
    const tally = await tallyPlans(1, seeds(40, 400));
    expect(tally.wrong).toEqual([]);
    expect(tally.unproven).toEqual([]);
    expect(tally.mixes).toBeGreaterThan(10);
    expect(tally.without).toBeGreaterThan(10);
  },
);

// What is left of an amendment without a bound, 1e-11 of its terms, kept these from being proven to have no mix.
it.each([324, 667, 816, 1723, 2255])("proves that plan %d has no mix", async (seed) => {
  expect(await tallyPlans(seed, 1)).toMatchObject({ without: 1, wrong: [], unproven: [] });
});
