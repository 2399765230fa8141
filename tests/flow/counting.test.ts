/** How needs are counted, from the file to the demand and the mix. */
import { describe, expect, it } from "vitest";
import type { Demand } from "../../src/model.ts";
import { NUTRIENTS } from "../../src/nutrients.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

const LB = 0.45359237;

const shelf = {
  // Half of its phosphate and nitrogen is released within the season.
  "slow-meal": {
    name: "Slow meal",
    analysis: { N: 10, P2O5: 10 },
    bulk: { price: 1, per: "lb" },
    release: { at_once: "50%" },
  },
};

function planOf(target: Record<string, unknown>, more: Record<string, unknown> = {}) {
  return loadTree({
    plan: "Counting",
    amendments: shelf,
    bed: { area: "1000 sq ft", plants: 100 },
    target: { target: "Crop", season: "100 days", ...target },
    ...more,
  });
}
const demandOf = (demands: readonly Demand[], nutrient: string) =>
  demands.find((d) => d.nutrient === nutrient)!;

describe("a need counted as applied", () => {
  it("is met by content, and one counted as available by what is released", async () => {
    const pounds = async (need: Record<string, unknown>) =>
      (await solvePlan(planOf({ need: { per: "bed", ...need } }))).amendments[0]!.kg / LB;
    expect(await pounds({ P2O5: "2 lb" })).toBeCloseTo(40, 6);
    expect(await pounds({ P2O5: { min: "2 lb", counts: "applied" } })).toBeCloseTo(20, 6);
    expect(await pounds({ counts: "applied", P2O5: "2 lb" })).toBeCloseTo(20, 6);
    expect(await pounds({ counts: "applied", P2O5: { min: "2 lb", counts: "available" } })).toBeCloseTo(
      40,
      6,
    );
  });

  it("counts all that credits bring, released or not", async () => {
    const credits = [{ from: "compost", per: "bed", P2O5: "1 lb", release: { at_once: "10%" }, day: -5 }];
    const solution = await solvePlan(
      planOf({ need: { per: "bed", P2O5: { min: "2 lb", counts: "applied" } } }, { credits }),
    );
    expect(solution.amendments[0]!.kg / LB).toBeCloseTo(10, 6);
    const p = solution.nutrients.find((n) => n.nutrient === "P2O5")!;
    expect(p.counts).toBe("applied");
    expect(p.countedKg / LB).toBeCloseTo(2, 6);
    expect(p.creditInAllKg / LB).toBeCloseTo(1, 9);
    expect(p.creditKg / LB).toBeCloseTo(0.1, 9);
    expect(p.appliedKg / LB).toBeCloseTo(1, 6);
    expect(p.availableKg / LB).toBeCloseTo(0.6, 6);
  });

  it("has no uptake curve, and says so where the file has one", () => {
    const plan = planOf({
      need: { per: "bed", P2O5: { min: "2 lb", counts: "applied" } },
      uptake: { P2O5: { 50: "50%", 100: "100%" } },
    });
    expect(demandOf(plan.demands, "P2O5").uptake).toBeNull();
    expect(plan.warnings.map((w) => w.code)).toContain("uptake-unused");
  });

  it("holds its most against what is spread", async () => {
    const need = { min: "2 lb", max: "2.2 lb", counts: "applied" };
    const solution = await solvePlan(planOf({ need: { per: "bed", N: { min: "1.2 lb" }, P2O5: need } }));
    // 1.2 lb of available N takes 24 lb of the meal, which spreads 2.4 lb of P2O5.
    expect(solution.status).toBe("infeasible");
    expect(solution.conflicts[0]!.demands).toContain(
      "at most 2.20 lb of P2O5 spread in all, credits included",
    );
  });

  it("says what the other way of counting would cost", async () => {
    const plan = planOf({ need: { per: "bed", P2O5: { min: "2 lb", counts: "applied" } } });
    expect((await solvePlan(plan)).countings).toEqual([
      { nutrient: "P2O5", counts: "available", total: expect.closeTo(40, 6), asAsked: expect.closeTo(20, 6) },
    ]);
    const available = planOf({ need: { per: "bed", P2O5: "2 lb" } });
    expect((await solvePlan(available)).countings).toBeUndefined();
    expect((await solvePlan(available, () => [], undefined, { detail: "whole" })).countings).toEqual([
      { nutrient: "P2O5", counts: "applied", total: expect.closeTo(20, 6), asAsked: expect.closeTo(40, 6) },
    ]);
  });
});

describe("an efficiency", () => {
  it("divides what is needed of available nutrients, the least and the most", () => {
    const { demands } = planOf({
      efficiency: "80%",
      need: {
        per: "bed",
        N: { min: "2 lb", max: "3 lb" },
        P2O5: { min: "1 lb", efficiency: "50%" },
        K2O: { min: "1 lb", counts: "applied" },
      },
    });
    expect(demandOf(demands, "N").minKg / LB).toBeCloseTo(2.5, 9);
    expect(demandOf(demands, "N").maxKg! / LB).toBeCloseTo(3.75, 9);
    expect(demandOf(demands, "N").efficiency).toBe(0.8);
    expect(demandOf(demands, "P2O5").minKg / LB).toBeCloseTo(2, 9);
    expect(demandOf(demands, "K2O").minKg / LB).toBeCloseTo(1, 9);
    expect(demandOf(demands, "K2O").efficiency).toBeUndefined();
  });

  it("agrees with a published case: 150 kg broadcast before planting for 100 taken up", () => {
    // Efficient use of nitrogen on crop land in the Northeast, Connecticut Agricultural Experiment Station Bulletin 792:
    // two thirds of nitrogen broadcast before planting is available in the season.
    const { demands } = planOf({ need: { per: "bed", N: { min: "100 kg", efficiency: `${200 / 3}%` } } });
    expect(demandOf(demands, "N").minKg).toBeCloseTo(150, 9);
  });
});

describe("a recommended rate", () => {
  const recommends = (extra: Record<string, unknown> = {}) =>
    planOf({
      need: { per: "bed", N: "1 lb" },
      efficiency: "50%",
      soil_test: {
        recommends: { per: "bed", ...Object.fromEntries(NUTRIENTS.map((n) => [n, "2 lb"])), ...extra },
      },
    });

  it("is of available nitrogen and of everything else as it is spread", () => {
    for (const demand of recommends().demands)
      expect(demand.counts ?? "available", demand.nutrient).toBe(
        demand.nutrient === "N" ? "available" : "applied",
      );
  });

  it("is not divided by the target's efficiency, which it has in it", () => {
    expect(demandOf(recommends().demands, "N").minKg / LB).toBeCloseTo(2, 9);
  });

  it("can be counted the other way", () => {
    const { demands } = recommends({ counts: "available", N: { min: "2 lb", counts: "applied" } });
    expect(demandOf(demands, "P2O5").counts).toBeUndefined();
    expect(demandOf(demands, "N").counts).toBe("applied");
  });

  it("says that this is new", () => {
    const texts = recommends()
      .warnings.filter((w) => w.code === "soil-test-need")
      .map((w) => w.text);
    expect(texts.find((text) => text.startsWith("P2O5"))).toContain("counted as it is spread");
    expect(texts.find((text) => text.startsWith("N "))).not.toContain("counted as it is spread");
  });
});

describe("nitrogen that is tied up", () => {
  it("takes more of what feeds", async () => {
    const straw = {
      name: "Straw",
      analysis: { N: 0.6 },
      bulk: { price: 0.01, per: "lb" },
      release: { N: { later: "-40%", half_life: "1 day" } },
    };
    const solution = await solvePlan(
      planOf(
        { need: { per: "bed", N: "1 lb" } },
        { amendments: { ...shelf, straw }, limits: { straw: { min: "100 lb" } } },
      ),
    );
    const kg = Object.fromEntries(solution.amendments.map((a) => [a.id, a.kg / LB]));
    // 100 lb x 0.6 % x 40 % = 0.24 lb tied up; the meal gives 5 % of its weight.
    expect(kg["slow-meal"]).toBeCloseTo(1.24 / 0.05, 5);
  });

  it("is refused below -100 %, and where it would be more than all", () => {
    const withRelease = (release: object) => () =>
      planOf({ need: { per: "bed", N: "1 lb" } }, { amendments: { a: { ...shelf["slow-meal"], release } } });
    expect(withRelease({ at_once: "-101%" })).toThrow(/release-parts/);
    expect(withRelease({ at_once: "-50%", later: "160%", half_life: "9 days" })).toThrow();
    expect(withRelease({ at_once: "-100%", later: "100%", half_life: "9 days" })).not.toThrow();
  });
});
