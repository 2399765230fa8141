import { describe, expect, it } from "vitest";
import { drainageOf } from "../../src/field/rain.ts";
import { solvePlan } from "../../src/flow/blend.ts";
import { topUp } from "../../src/flow/topup.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { topUpReport } from "../../src/report/topup-report.ts";
import type { Rain, TopUp } from "../../src/results/topup.ts";
import { leachedFraction } from "../../src/season/leaching.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";

const POUND = 0.45359237;

describe("the leaching equation", () => {
  // Scotter, White and Dyson 1993, J. Soil Sci. 44:25-33: X = exp(-z theta / I); z = 30 cm, worked out by hand.
  const surface = [
    [25.4, 0.15, 0.1701],
    [50.8, 0.15, 0.4124],
    [100, 0.15, 0.6376],
    [101.6, 0.15, 0.6422],
    [25.4, 0.3, 0.0289],
    [50.8, 0.3, 0.1701],
    [100, 0.3, 0.4066],
    [101.6, 0.3, 0.4124],
  ] as const;
  it.each(surface)("%d mm through soil of %d water", (mm, soilWater, share) => {
    const x = leachedFraction({ drainageM: mm / 1000, soilWater, depthM: 0.3, mixedToM: 0 });
    expect(x).toBeCloseTo(share, 4);
  });

  const mixed = [
    [25.4, 0.0797],
    [50.8, 0.2736],
    [100, 0.5135],
    [101.6, 0.5188],
  ] as const;
  it.each(mixed)("%d mm where the nitrate is mixed evenly to 15 cm", (mm, share) => {
    const rain = { drainageM: mm / 1000, soilWater: 0.3, depthM: 0.3 };
    expect(leachedFraction({ ...rain, mixedToM: 0.15 })).toBeCloseTo(share, 4);
    // The same mean, taken over 2000 thin layers.
    const layers = 2000;
    let sum = 0;
    for (let k = 0; k < layers; k++)
      sum += Math.exp((-(0.3 - (0.15 * (k + 0.5)) / layers) * 0.3) / rain.drainageM);
    expect(leachedFraction({ ...rain, mixedToM: 0.15 })).toBeCloseTo(sum / layers, 7);
  });

  // Burns 1975, J. Agric. Sci. 85:443 (from memory): (P/(P + V/100))^z in cm comes within one point of the hundred.
  it.each(surface)("%d mm and %d agree with Burns's power form", (mm, soilWater, share) => {
    const p = mm / 10;
    expect(Math.abs((p / (p + soilWater)) ** 30 - share)).toBeLessThan(0.01);
  });

  it("takes nothing where nothing drains, and never more than all", () => {
    const soil = { soilWater: 0.2, depthM: 0.3, mixedToM: 0.3 };
    expect(leachedFraction({ ...soil, drainageM: 0 })).toBe(0);
    expect(leachedFraction({ ...soil, drainageM: -0.01 })).toBe(0);
    expect(leachedFraction({ ...soil, drainageM: 1e-6 })).toBeLessThan(1e-4);
    expect(leachedFraction({ ...soil, drainageM: 100 })).toBeLessThanOrEqual(1);
    expect(leachedFraction({ ...soil, drainageM: 0.1, mixedToM: 1e-12 })).toBeCloseTo(Math.exp(-0.6), 9);
  });
});

const RAIN: Rain = {
  day: 30,
  rainM: 0.1016,
  evaporationM: 0,
  soilWater: 0.3,
  depthM: 0.3,
  mixedToM: 0,
};

const material = (name: string, analysis: Record<string, number>, price: number, more = {}) => ({
  name,
  analysis,
  packs: [{ size: "1 lb", price }],
  release: "at-once",
  ...more,
});
const plan = (more = {}, target = {}) =>
  loadTree({
    plan: "Wet bed",
    amendments: {
      meal: material("Quick meal", { N: 10 }, 1),
      dear: material("Dear meal", { N: 20 }, 5),
    },
    target: {
      target: "Crop",
      season: "100 days",
      need: { per: "bed", N: "10 lb" },
      uptake: { N: { 50: "50%", 100: "100%" } },
      ...target,
    },
    bed: { plants: 100 },
    ...more,
  });

async function found(input: ReturnType<typeof plan>, rain: Rain = RAIN): Promise<TopUp> {
  const result = await topUp(input, rain);
  if (!result) throw new Error("no mix");
  return result;
}

describe("what a rain takes and what replaces it, in closed form", () => {
  // 100 lb of 10 % N at planting: 10 lb available, 30 % of it taken up by day 30, so 7 lb lie there. Four inches
  // through a soil of 30 % water take 41.24 % below 30 cm: 2.887 lb, which 28.87 lb of the meal replace.
  it("replaces what is lost at the least cost", async () => {
    const result = await found(plan());
    expect(result.status).toBe("found");
    expect(result.nitrogen.availableKg / POUND).toBeCloseTo(10, 6);
    expect(result.nitrogen.takenUpKg / POUND).toBeCloseTo(3, 6);
    expect(result.nitrogen.lostShare).toBeCloseTo(Math.exp(-0.09 / 0.1016), 12);
    const lost = 7 * Math.exp(-0.09 / 0.1016);
    expect(result.nitrogen.lostKg / POUND).toBeCloseTo(lost, 6);
    expect(result.amendments.map((a) => a.id)).toEqual(["meal"]);
    expect(result.amendments[0]!.kg / POUND).toBeCloseTo(lost * 10, 5);
    expect(result.cost).toBeCloseTo(lost * 10, 5);
    expect(result.verification!.gap).toBeLessThan(1e-6);
    expect(result.checkpoints).toHaveLength(1);
    expect(result.checkpoints[0]!.withKg).toBeCloseTo(10 * POUND, 6);
    expect(result.nitrogen.lostLowKg).toBeLessThan(result.nitrogen.lostKg);
    expect(result.nitrogen.lostHighKg).toBeGreaterThan(result.nitrogen.lostKg);
    expect(result.application!.perPlant.g).toBeCloseTo((lost * 10 * POUND * 1000) / 100, 4);
  });

  it("does not let rain carry away what is not released yet", async () => {
    const slow = { at_once: "0%", later: "100%", half_life: "30 days" };
    const result = await found(
      plan({ amendments: { meal: material("Slow meal", { N: 10 }, 1, { release: slow }) } }, { uptake: {} }),
    );
    // Half is out by day 30; the other half of what is applied stays.
    expect(result.nitrogen.notReleasedKg).toBeCloseTo(result.nitrogen.availableKg, 9);
    expect(result.nitrogen.atRiskKg).toBeLessThanOrEqual(result.nitrogen.availableKg);
    expect(result.warnings.map((warning) => warning.code)).toContain("uptake-assumed");
  });

  it("says so where enough is left, where nothing drains, and where nothing lies there", async () => {
    const rich = plan({ limits: { meal: { min: "150 lb" } } });
    expect((await found(rich)).status).toBe("enough-left");
    const dry = await found(plan(), { ...RAIN, evaporationM: 0.2 });
    expect(dry.status).toBe("nothing-lost");
    expect(drainageOf({ ...RAIN, evaporationM: 0.2 })).toBe(0);
    expect(dry.amendments).toEqual([]);
    expect(dry.cost).toBe(0);
    const taken = await found(plan({}, { uptake: { N: { 20: "100%" } } }));
    expect(taken.status).toBe("nothing-lost");
    expect(taken.nitrogen.atRiskKg).toBe(0);
  });

  it("uses up the shed first and keeps the caps of the season", async () => {
    const stocked = plan({
      amendments: {
        meal: material("Quick meal", { N: 10, P2O5: 5 }, 1, { stock: "110 lb" }),
        dear: material("Dear meal", { N: 20 }, 5),
      },
    });
    const free = await found(stocked);
    const lost = 7 * Math.exp(-0.09 / 0.1016);
    // 10 lb of meal are left in the shed; the rest is bought.
    expect(free.cost).toBeCloseTo(lost * 10 - 10, 5);
    const capped = plan(
      { amendments: { meal: material("Quick meal", { N: 10, P2O5: 5 }, 1) } },
      { applied_max: { per: "bed", P2O5: "5.5 lb" } },
    );
    const short = await found(capped);
    // The season's 100 lb bring 5 lb of P2O5; the 0.5 lb of room takes 10 lb more, which bring 1 lb of N.
    expect(short.status).toBe("short");
    expect(short.amendments[0]!.kg / POUND).toBeCloseTo(10, 5);
    const end = short.checkpoints.at(-1)!;
    expect((end.needKg - end.withKg) / POUND).toBeCloseTo(lost - 1, 5);
  });

  // What is not released of a half-life of 30 days in the 70 days that are left: 0.5^(70/30) of it.
  it("counts as left behind what the dressing leaves, whatever else feeds the crop", async () => {
    const release = { at_once: "0%", later: "100%", half_life: "30 days" };
    const result = await found(
      plan(
        {
          amendments: { meal: material("Slow meal", { N: 10 }, 1, { release }) },
          bed: { plants: 100, area: "1 acre" },
          thresholds: { "nitrogen-left": "0.001 lb/acre" },
          credits: [{ from: "clover dug in", per: "bed", day: 0, N: "4 lb" }],
        },
        { uptake: {} },
      ),
    );
    const spread = (result.amendments[0]!.kg * 0.1) / POUND;
    const left = spread * 0.5 ** (70 / 30);
    const { text } = result.cautions.find(({ code }) => code === "nitrogen-left")!;
    const [, ofSpread, perAcre] = /of ([\d.]+) lb spread, .* end, ([\d.]+) lb\/acre/.exec(text)!;
    expect(Number(ofSpread)).toBeCloseTo(spread, 2);
    expect(Number(perAcre)).toBeCloseTo(left, 3);
    expect(left).toBeGreaterThan(0.1);
  });

  it("has nothing to say about a plan without a mix", async () => {
    expect(await topUp(plan({ limits: { meal: { max: "1 lb" }, dear: { max: "1 lb" } } }), RAIN)).toBeNull();
  });
});

describe("random plans after a rain", () => {
  it("meets every later need again, or says that it cannot", async () => {
    const seen = { found: 0, short: 0, "enough-left": 0, "nothing-lost": 0 };
    for (let seed = 3000; seed < 3060; seed++) {
      const input = loadTree(toTree(randomSpec(seed), seed));
      if ((await solvePlan(input)).status !== "optimal") continue;
      const day = Math.round((input.applications[0]!.day + input.seasonDays) / 3);
      const result = await found(input, { ...RAIN, day });
      seen[result.status]++;
      expect(result.nitrogen.lostKg).toBeLessThanOrEqual(result.nitrogen.atRiskKg);
      expect(result.nitrogen.atRiskKg).toBeLessThanOrEqual(result.nitrogen.availableKg);
      if (result.status !== "short")
        for (const point of result.checkpoints)
          expect(point.withKg, `plan ${seed}, day ${point.day}`).toBeGreaterThan(point.needKg * (1 - 2e-6));
      const text = renderTerminal(topUpReport(result, input.scaleKg), { width: 80, colour: false });
      expect(text).not.toMatch(/NaN|undefined|null|Infinity/);
      for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    }
    expect(seen.found).toBeGreaterThan(5);
  }, 60_000);
});
