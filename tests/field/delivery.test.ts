/** What amounts deliver and miss, worked out by hand. */
import { describe, expect, it } from "vitest";
import { appliedKg, countedKg, deliver, findMisses, suppliedKg } from "../../src/field/delivery.ts";
import type { Plan } from "../../src/model.ts";
import { layOutSeason } from "../../src/season/season.ts";
import { handPlan } from "../helpers/hand-plan.ts";

const MEAL = { analysis: { N: 10 }, price: 1 };
/** Half of what it releases later has come after ten days. */
const SLOW = {
  analysis: { N: 10 },
  price: 1,
  release: { at_once: "20%", later: "60%", half_life: "10 days" },
};
const TWICE = {
  applications: [
    { name: "planting", day: 0, share: "50%" },
    { name: "later", day: 40, share: "50%" },
  ],
};
const missesOf = (plan: Plan, amounts: number[][]) =>
  findMisses(plan, layOutSeason(plan), amounts).map(({ tag, by }) => [tag.kind, Number(by.toFixed(9))]);

describe("what is available", () => {
  it("follows the release from each application on", () => {
    const plan = handPlan({ slow: SLOW }, { need: { per: "bed", N: "1 kg" } }, TWICE);
    const season = layOutSeason(plan);
    const amounts = [[10, 20]];
    const on = (day: number) => suppliedKg(plan, season, amounts, "N", day);
    // Of 1 kg and of 2 kg of N: nothing on the day itself, then 20 % + 60 % (1 - 2^(-t/10)).
    expect(on(0)).toBe(0);
    expect(on(10)).toBeCloseTo(0.2 + 0.6 * 0.5, 12);
    expect(on(20)).toBeCloseTo(0.2 + 0.6 * 0.75, 12);
    expect(on(40)).toBeCloseTo(0.2 + 0.6 * (1 - 2 ** -4), 12);
    expect(on(50)).toBeCloseTo(0.2 + 0.6 * (1 - 2 ** -5) + 2 * (0.2 + 0.6 * 0.5), 12);
  });

  it("adds what credits bring", () => {
    const plan = handPlan(
      { meal: MEAL },
      { need: { per: "bed", N: "1 kg" } },
      { credits: [{ from: "compost", per: "bed", N: "0.4 kg", release: "at-once", day: -5 }] },
    );
    const season = layOutSeason(plan);
    expect(suppliedKg(plan, season, [[0]], "N", 100)).toBeCloseTo(0.4, 12);
    expect(suppliedKg(plan, season, [[5]], "N", 100)).toBeCloseTo(0.9, 12);
  });

  it("is counted as it is spread where the need says so, and only as far as the soil can use it", () => {
    const plan = handPlan(
      { slow: { ...SLOW, analysis: { P2O5: 10 } } },
      { need: { per: "bed", P2O5: { min: "1 kg", counts: "applied" } } },
    );
    const season = layOutSeason(plan);
    const [demand] = plan.demands;
    expect(countedKg(plan, season, [[30]], demand!)).toBeCloseTo(3, 12);
    const half = { ...plan, amendments: [{ ...plan.amendments[0]!, effective: { P2O5: 0.5 } }] };
    expect(countedKg(half, layOutSeason(half), [[30]], demand!)).toBeCloseTo(1.5, 12);
    expect(appliedKg(half, [[30]], "P2O5")).toBeCloseTo(3, 12);
  });
});

describe("the account of nutrients", () => {
  it("has a line for what is needed, spread or credited, in canonical order", () => {
    const plan = handPlan(
      { ash: { analysis: { K2O: 5, Ca: 20 }, price: 1 }, meal: MEAL },
      { need: { per: "bed", N: "1 kg" } },
      { credits: [{ from: "water", per: "bed", S: "0.1 kg", release: "at-once", day: 0 }] },
    );
    const lines = deliver(plan, layOutSeason(plan), [[2], [10]]);
    expect(lines.map(({ nutrient, appliedKg: kg, creditKg }) => [nutrient, kg, creditKg])).toEqual([
      ["N", 1, 0],
      ["K2O", 0.1, 0],
      ["Ca", 0.4, 0],
      ["S", 0, 0.1],
    ]);
    expect(lines[0]!.checkpoints).toEqual([{ day: 100, needKg: 1, availableKg: 1 }]);
  });
});

describe("what is missed", () => {
  const uptake = { N: { 50: "50%", 100: "100%" } };

  it("is nothing where every demand is just met", () => {
    const plan = handPlan(
      { meal: MEAL },
      { need: { per: "bed", N: { min: "1 kg", max: "1 kg" } }, applied_max: { per: "bed", N: "1 kg" } },
      { limits: { meal: { min: "10 kg", max: "10 kg", min_share: "100%" } } },
    );
    expect(missesOf(plan, [[10]])).toEqual([]);
  });

  it("is a need in time, though the season's is met", () => {
    const plan = handPlan({ meal: MEAL }, { need: { per: "bed", N: "1 kg" }, uptake }, TWICE);
    // By day 40 the crop has taken up 40 %; all is spread on that day.
    expect(missesOf(plan, [[0, 10]])).toEqual([["in-time", 0.4]]);
    expect(missesOf(plan, [[4, 6]])).toEqual([]);
  });

  it("is a most of any kind", () => {
    const most = (target: Record<string, unknown>) =>
      missesOf(handPlan({ meal: MEAL }, { need: { per: "bed", N: "1 kg" }, ...target }), [[15]]);
    expect(most({ need: { per: "bed", N: { min: "1 kg", max: "1.2 kg" } } })).toEqual([["season-max", 0.3]]);
    expect(most({ applied_max: { per: "bed", N: "1.1 kg" } })).toEqual([["applied-max", 0.4]]);
    // By the end the crop has taken up 1 kg of the 1.5.
    expect(most({ uptake, ahead_max: { per: "bed", N: "0.2 kg" } })).toEqual([["ahead-max", 0.3]]);
  });

  it("is a limit on an amendment, in each blend or in the whole", () => {
    const two = { meal: MEAL, ash: { analysis: { K2O: 5 }, price: 1 } };
    const limited = (limits: Record<string, unknown>, more = {}) =>
      handPlan(two, { need: { per: "bed", N: "0.1 kg" } }, { limits, ...TWICE, ...more });
    // Amendments are in the order of their ids: ash, meal.
    const spread = [
      [3, 3],
      [7, 2],
    ];
    expect(missesOf(limited({ ash: { min: "8 kg" } }), spread)).toEqual([["amount-min", 2]]);
    expect(missesOf(limited({ ash: { max: "5 kg" } }), spread)).toEqual([["amount-max", 1]]);
    expect(missesOf(limited({ ash: { min_share: "50%" } }), spread)).toEqual([["share-min", 0.1]]);
    expect(missesOf(limited({ ash: { max_share: "30%" } }), spread)).toEqual([["share-max", 0.1]]);
    // Each blend by itself: 3 of 10 in the first, 3 of 5 in the second.
    const each = limited({ ash: { max_share: "50%" } }, { blend: "each" });
    expect(missesOf(each, spread)).toEqual([["share-max", 0.1]]);
    const barred = limited({ ash: { not_in: ["later"] } }, { blend: "each" });
    expect(missesOf(barred, spread)).toEqual([["not-in", 3]]);
  });

  it("has the worst first, by its share of the demand", () => {
    const plan = handPlan(
      { meal: { analysis: { N: 10, K2O: 1 }, price: 1 } },
      { need: { per: "bed", N: "1.1 kg", K2O: "0.5 kg" } },
    );
    const misses = findMisses(plan, layOutSeason(plan), [[10]]);
    expect(
      misses.map(({ tag, fraction }) => ["nutrient" in tag && tag.nutrient, Number(fraction.toFixed(9))]),
    ).toEqual([
      ["K2O", 0.8],
      ["N", Number((0.1 / 1.1).toFixed(9))],
    ]);
  });
});
