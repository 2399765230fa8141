import { describe, expect, it, vi } from "vitest";
import { bought as shopPlans } from "../helpers/answers.ts";
import { slow } from "../helpers/seeds.ts";
import { DEMO, load, set, shop, small } from "../helpers/shop.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

describe("several plans and single applications", () => {
  // The same bed twice is one bed of twice the size: by the definition of the demands, which grow with the area.
  it("buys for two beds at once what one bed of their size takes", async () => {
    const twice = load(DEMO, [
      set("bed.area", "4800 sq ft"),
      set("bed.plants", 1920),
      set("limits.kelp-meal.max", "50 lb"),
    ]);
    const one = load(DEMO);
    const other = { ...one, name: "The terraces above" };
    const both = await shop([one, other]);
    const [large, alone] = [await shop(twice), await shop(one)];
    expect(both.total!).toBeCloseTo(large.total!, 6);
    expect(both.total!).toBeLessThanOrEqual(2 * alone.total!);
    expect(both.byWeight!).toBeCloseTo(large.byWeight!, 5);
    expect(both.beds.map(({ bed }) => bed)).toEqual(["Kestrel Bank terraces", "The terraces above"]);
    expect(both.mixes.map(({ name }) => name)).toEqual(["A", "B"]);
    for (const line of both.purchases) {
      const used = both.mixes.reduce(
        (kg, mix) => kg + (mix.materials.find(({ id }) => id === line.id)?.kg ?? 0),
        0,
      );
      expect(line.usedKg).toBeCloseTo(used, 6);
    }
  });

  it("says once what all beds call for, and names the bed of the rest", async () => {
    const half = {
      ...load(DEMO, [set("bed.area", "1200 sq ft"), set("bed.plants", 480)]),
      name: "The lower half",
    };
    const { cautions } = await shop([load(DEMO), half]);
    const texts = cautions.map(({ text }) => text);
    expect(new Set(texts).size).toBe(texts.length);
    expect(texts.filter((text) => text.includes("Mix outdoors"))).toEqual([
      expect.stringMatching(/^Mix outdoors/),
    ]);
    // Each bed has its own weights of phosphate.
    const piles = cautions.filter(({ code }) => code === "phosphorus-above-need").map(({ text }) => text);
    expect(piles).toEqual([
      expect.stringMatching(/^Kestrel Bank terraces: Phosphorus builds up/),
      expect.stringMatching(/^The lower half: Phosphorus builds up/),
    ]);
  });

  it("refuses plans that do not agree on what is for sale", async () => {
    const one = load(DEMO);
    const amendments = one.amendments.map((a) =>
      a.id === "gypsum" ? { ...a, packs: [{ sizeKg: 20, price: 9 }] } : a,
    );
    const result = await shopPlans([one, { ...one, amendments, currency: "EUR" }]);
    expect(result.ok ? [] : result.problems.map((p) => p.code).sort()).toEqual([
      "shared-amendments",
      "shared-currencies",
    ]);
  });

  slow("buys for one application what that one takes, and compares", async () => {
    const plan = load(DEMO);
    const season = await shop(plan, { detail: "whole" });
    const byName = await shop(plan, { application: "three weeks" });
    const byDay = await shop(plan, { application: "day 21" });
    expect({ ...byDay, inputs: null }).toEqual({ ...byName, inputs: null });
    expect(byName.rounds.map((round) => round.name)).toEqual(["three weeks"]);
    expect(byName.total!).toBeLessThanOrEqual(season.total!);
    for (const line of byName.purchases) {
      const share = plan.applications[1]!.share;
      expect(line.usedKg).toBeCloseTo(
        share * (season.purchases.find(({ id }) => id === line.id)?.usedKg ?? 0),
        6,
      );
    }
    const { trips } = byName;
    expect(season.trips).toEqual(trips);
    expect(trips!.atOnce).toBeCloseTo(season.total!, 9);
    expect(trips!.byApplication).toHaveLength(3);
    expect(trips!.inAll).toBeGreaterThanOrEqual(trips!.atOnce - 1e-9);
    const wrong = await shopPlans([plan], { application: "frost" });
    expect(wrong.ok).toBe(false);
  });
});

describe("rounding to the scale", () => {
  it("takes no more than there is, and says what that misses", async () => {
    // 100 kg in three batches are 33.33 kg each, on this scale 33.5 kg: 100.5 kg in all, and 100 are bought.
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 50 kg, price: 45}]}",
      "batch: {size: 40 kg}\nscale: 0.5 kg",
    );
    const shopping = await shop(plan);
    expect(shopping.purchases[0]).toMatchObject({ boughtKg: 100, leftKg: 0 });
    const [{ batches }] = shopping.mixes as [(typeof shopping.mixes)[0]];
    expect(batches.count).toBe(3);
    expect(batches.kgEach).toBeCloseTo(33, 9);
    expect(shopping.rounding.worstShortfall).toMatchObject({ nutrient: "N" });
    expect(shopping.rounding.worstShortfall.fraction).toBeCloseTo(0.01, 9);
    const finer = await shop({ ...plan, scaleKg: 0.001 });
    expect(finer.rounding.worstShortfall.fraction).toBeLessThan(1e-4);
  });
});
