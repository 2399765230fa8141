/** The rest of a season, against a program and simulations that were written apart from the documents. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { loadSeason } from "../../src/files/load.ts";
import { lateNeeds, seasonRest } from "../../src/flow/season-rest.ts";
import { formatProblems } from "../../src/problem.ts";
import { diskReader } from "../helpers/files.ts";
import { TERRACES } from "../helpers/season.ts";
import { besideApart } from "../helpers/season-rest.ts";
import { ROOT } from "../helpers/world.ts";

describe("the rest of a season", () => {
  it("costs what a program written apart finds, and is as sure", { timeout: 240_000 }, async () => {
    let found = 0;
    let read = 0;
    let lost = 0;
    // `npm run check -- seasons` takes 200, with 100,000 draws each.
    for (let seed = 0; seed < 8; seed++) {
      const { cost, apartCost, met, drawn, lean, readings, losses } = await besideApart(seed, 5000);
      expect(cost === null, `season ${seed}`).toBe(apartCost === null);
      if (cost === null || apartCost === null) continue;
      expect(Math.abs(cost - apartCost), `season ${seed}`).toBeLessThanOrEqual(1e-6 * Math.max(1, cost));
      // 5,000 draws have a standard error of at most 0.71 points.
      expect(Math.abs(met! - drawn!), `season ${seed}`).toBeLessThanOrEqual(0.025);
      expect(Math.abs(lean!.met - lean!.drawn), `season ${seed}, less of it`).toBeLessThanOrEqual(0.025);
      found++;
      if (readings > 0) read++;
      if (losses > 0) lost++;
    }
    expect(found).toBeGreaterThanOrEqual(5);
    expect(read).toBeGreaterThanOrEqual(3);
    expect(lost).toBeGreaterThanOrEqual(3);
  });

  it("moves nothing that was spread, read or weighed when prices change", () => {
    const seen = (priced: (price: number, k: number) => number) => {
      let k = 0;
      const read = (path: string) =>
        path.endsWith("terraces/amendments.yaml")
          ? diskReader
              .read(path)!
              .replace(/price: ([\d.]+)/g, (_, price) => `price: ${priced(Number(price), k++)}`)
          : diskReader.read(path);
      const where = { cwd: TERRACES, recipesDir: `${ROOT}/recipes` };
      const loaded = loadSeason({ ...diskReader, read }, "season.yaml", where);
      if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
      const { shed, beds } = seasonRest(loaded.value.season, 49);
      expect(k).toBeGreaterThan(10);
      return beds.map(({ plan, withoutKept, ...one }) => ({
        ...one,
        shed,
        bed: { ...one.bed, amendments: [] },
        late: lateNeeds({ plan, withoutKept, ...one }),
        past: plan.past,
        demands: plan.demands,
        limits: plan.limits,
      }));
    };
    const before = seen((price) => price);
    const times = fc.array(fc.double({ min: 0.05, max: 20, noNaN: true }), { minLength: 14, maxLength: 14 });
    fc.assert(
      fc.property(times, (some) => {
        expect(seen((price, k) => Number((price * some[k]!).toFixed(2)))).toEqual(before);
      }),
      { numRuns: 25, seed: 24 },
    );
  });
});
