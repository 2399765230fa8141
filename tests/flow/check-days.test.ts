import { describe, expect, it } from "vitest";
import { layOutSeason } from "../../src/season/season.ts";
import { cautionsOf } from "../../src/words/cautions.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

/** 10 % N that comes free evenly over 100 days; 10 kg are needed, 80 % of it by day 50. */
const plan = (more: Record<string, unknown> = {}) =>
  loadTree({
    plan: "Days of check",
    units: "metric",
    amendments: {
      meal: {
        name: "Meal",
        analysis: { N: 10 },
        packs: [{ size: "1 kg", price: 1 }],
        release: { N: { points: { 0: "0%", 100: "100%" } } },
      },
    },
    target: {
      target: "Crop",
      season: "100 days",
      need: { per: "bed", N: "10 kg" },
      uptake: { N: { 50: "80%", 100: "100%" } },
    },
    bed: { area: "1 ha" },
    soil_temperature: "25 C",
    ...more,
  });

// By hand: 10 kg / 10 % = 100 kg meets the season; on day 50 half of it is free, 5 kg of the 8 kg needed; 8 / 0.05 = 160 kg.
describe("days of check", () => {
  it("are the season's end alone where the plan names none, and a caution says what that misses", async () => {
    const solution = await solvePlan(plan());
    expect(solution.amendments[0]!.kg).toBeCloseTo(100, 6);
    const caution = solution.cautions.find(({ code }) => code === "short-between");
    expect(caution?.text).toContain("day 50");
    expect(caution?.text).toContain("5.00 kg of N is available where 8.00 kg is needed by then, 37.5% less");
    expect(caution?.text).toContain("`check_days: [50]`");
  });

  it("are met where the plan names them", async () => {
    const solution = await solvePlan(plan({ check_days: [50] }));
    expect(solution.amendments[0]!.kg).toBeCloseTo(160, 6);
    expect(solution.nutrients[0]!.checkpoints.map(({ day }) => day)).toEqual([50, 100]);
    expect(solution.cautions.map(({ code }) => code)).not.toContain("short-between");
  });

  it("are not asked for where a day that is checked is missed already", () => {
    const target = plan();
    // 80 kg bring 8 of 10 kg by the end, and 4 of 8 kg by day 50.
    const found = (kg: number) => cautionsOf(target, layOutSeason(target), [[kg]]).map(({ code }) => code);
    expect(found(80)).not.toContain("short-between");
    expect(found(100)).toContain("short-between");
  });

  it("may be dates", async () => {
    const solution = await solvePlan(plan({ planted: "2027-05-20", check_days: ["July 9"] }));
    expect(solution.amendments[0]!.kg).toBeCloseTo(160, 6);
  });
});
