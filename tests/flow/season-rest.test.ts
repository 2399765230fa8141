/** The rest of a season, against a program and simulations that were written apart from the documents. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { loadSeason } from "../../src/files/load.ts";
import { lateNeeds, seasonRest } from "../../src/flow/season-rest.ts";
import { surenessFound } from "../../src/flow/sure.ts";
import { formatProblems } from "../../src/problem.ts";
import { layOutSeason } from "../../src/season/season.ts";
import { KG_PER_PPM, luck, Terraces } from "../helpers/drawn-terraces.ts";
import { diskReader } from "../helpers/files.ts";
import { seeded } from "../helpers/random.ts";
import { seasonOf, TERRACES } from "../helpers/season.ts";
import { besideApart } from "../helpers/season-rest.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT } from "../helpers/world.ts";

describe("the rest of a season", () => {
  slow("costs what a program written apart finds, and is as sure", { timeout: 240_000 }, async () => {
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

  slow("is as sure as seasons drawn apart that make the reading, of a low one too", () => {
    const heap = { "turkey-litter-pellets": 137.8, "feather-meal": 43.2, langbeinite: 11.2 };
    const round = (day: number, share: number) => ({
      day,
      kg: Object.fromEntries(Object.entries(heap).map(([id, lb]) => [id, share * lb * 0.45359237])),
    });
    const terraces = new Terraces(TERRACES);
    const given = [round(0, 0.4), round(21, 0.35)];
    const lies = terraces.liesKg(() => 0, given, null, 49);
    const ppm = Math.round((10 * lies) / 2 / KG_PER_PPM) / 10;
    const { plan, oldPlan } = seasonRest(
      seasonOf([
        ...["day: 0, spread: planting", "day: 21, spread: three weeks"],
        `day: 49, soil_nitrate: ${ppm} ppm, depth: 12 in, as: NO3-N`,
      ]),
      49,
    ).beds[0]!;
    const { needs } = surenessFound(plan, layOutSeason(plan), oldPlan);
    const told = needs.find(({ nutrient, day }) => nutrient === "N" && day === 100)!;
    let [met, all] = [0, 0];
    for (let n = 0; n < 20_000; n++) {
      const of = luck(seeded(31_000 + n));
      const there = terraces.liesKg(of, given, null, 49);
      const variance = terraces.testVariance(there, 49);
      const weight = Math.exp(-((ppm * KG_PER_PPM - there) ** 2) / (2 * variance)) / Math.sqrt(variance);
      all += weight;
      if (terraces.overKg(of, [...given, round(50, 0.25)], null) >= 0) met += weight;
    }
    // Some 5,000 equal draws tell as much: a standard error of about 0.7 points. The normal law is five points off here.
    expect(met / all).toBeGreaterThan(0.05);
    expect(Math.abs(told.pChecked! - met / all)).toBeLessThan(0.025);
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
