/** The rest of a season, against a program and simulations that were written apart from the documents. */
import { describe, expect, it } from "vitest";
import { besideApart } from "../helpers/season-rest.ts";

describe("the rest of a season", () => {
  it("costs what a program written apart finds, and is as sure", { timeout: 240_000 }, async () => {
    let found = 0;
    let read = 0;
    let lost = 0;
    for (let seed = 0; seed < 14; seed++) {
      const { cost, apartCost, met, drawn, readings, losses } = await besideApart(seed, 20_000);
      expect(cost === null, `season ${seed}`).toBe(apartCost === null);
      if (cost === null || apartCost === null) continue;
      expect(Math.abs(cost - apartCost), `season ${seed}`).toBeLessThanOrEqual(1e-6 * Math.max(1, cost));
      // 20,000 draws have a standard error of at most 0.35 points; the check draws 100,000.
      expect(Math.abs(met! - drawn!), `season ${seed}`).toBeLessThanOrEqual(0.012);
      found++;
      if (readings > 0) read++;
      if (losses > 0) lost++;
    }
    expect(found).toBeGreaterThanOrEqual(8);
    expect(read).toBeGreaterThanOrEqual(3);
    expect(lost).toBeGreaterThanOrEqual(3);
  });
});
