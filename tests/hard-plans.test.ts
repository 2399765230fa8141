import { expect, it } from "vitest";
import { tallyPlans } from "./check/plans.ts";
import { seeds } from "./helpers/seeds.ts";

it("proves hard random plans, and finds the cost that HiGHS finds for a model written a second time", async () => {
  const tally = await tallyPlans(1, seeds(40, 400));
  expect(tally.wrong).toEqual([]);
  expect(tally.unproven).toEqual([]);
  expect(tally.mixes).toBeGreaterThan(10);
  expect(tally.without).toBeGreaterThan(10);
});
