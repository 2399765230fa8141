/** Published and closed-form examples, from file to weights, through the same door as a grower's plan. */
import { describe, expect, it } from "vitest";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

const LB = 0.45359237;

function bag(analysis: Record<string, number>, pricePerLb: number) {
  return { name: "Bag", analysis, bulk: { price: pricePerLb, per: "lb" }, release: "at-once" };
}

async function solve(
  amendments: Record<string, unknown>,
  need: Record<string, unknown>,
  more: Record<string, unknown> = {},
  target: Record<string, unknown> = {},
) {
  const plan = loadTree({
    plan: "Worked example",
    amendments,
    target: { target: "Example", season: "60 days", need: { per: "1000 sq ft", ...need }, ...target },
    bed: { plants: 100, area: "1000 sq ft" },
    ...more,
  });
  const solution = await solvePlan(plan);
  const pounds = Object.fromEntries(solution.amendments.map((a) => [a.id, a.kg / LB]));
  return { solution, pounds };
}

describe("one material", () => {
  it("gives 1 lb of N from about 8 lb of a 12-11-2", async () => {
    // Oregon State University Extension news 2008, on R. Penhallegon, Values of Organic Fertilizers: 100/12, "about 8 lb".
    const { pounds } = await solve({ guano: bag({ N: 12, P2O5: 11, K2O: 2 }, 1) }, { N: "1 lb" });
    expect(pounds.guano).toBeCloseTo(8.3333, 4);
  });

  it("gives 2 oz of N on 100 sq ft from 40 oz of 5-10-10", async () => {
    // 2/0.05 = 40 oz, a Master Gardener page (which then prints 2 1/4 lb; 40 oz are 2.5 lb).
    const { pounds } = await solve(
      { mix: bag({ N: 5, P2O5: 10, K2O: 10 }, 1) },
      { per: "100 sq ft", N: "2 oz" },
      { bed: { plants: 10, area: "100 sq ft" } },
    );
    expect(pounds.mix! * 16).toBeCloseTo(40, 9);
  });

  // Kansas State Univ. Research and Extension, W. Upham, 2019/2020: sidedressing tomatoes, per 30 ft of row, any one of
  // these; the N each brings is 0.100 to 0.115 lb, so the weight for 0.105 lb of N is within 10 % of the one printed.
  it.each([
    ["sodium nitrate 16-0-0", 16, 2 / 3],
    ["ammonium sulfate 21-0-0", 21, 0.5],
    ["blood meal 12-1.5-0.6", 12, 14 / 16],
    ["a 30 % N material", 30, 1 / 3],
  ])("agrees with the published sidedressing of %s", async (_name, percent, published) => {
    const { pounds } = await solve({ material: bag({ N: percent }, 1) }, { per: "bed", N: "0.105 lb" });
    expect(Math.abs(pounds.material! / published - 1)).toBeLessThan(0.1);
  });

  // New Mexico State University, Guide H-119 (Flynn and Leinauer), Table 1: lb/acre to lb per 100 sq ft, two decimals.
  it.each([
    [100, 0.23],
    [200, 0.46],
    [400, 0.92],
    [500, 1.15],
    [600, 1.38],
    [700, 1.61],
    [800, 1.84],
    [1000, 2.3],
    [2000, 4.59],
  ])("spreads %d lb/acre as %d lb on 100 sq ft", async (perAcre, per100) => {
    const { pounds } = await solve(
      { material: bag({ N: 20 }, 1) },
      { per: "acre", N: `${perAcre * 0.2} lb` },
      { bed: { plants: 10, area: "100 sq ft" } },
    );
    expect(Math.round(pounds.material! * 100) / 100).toBe(per100);
  });
});

describe("several materials, each credited with what the others bring", () => {
  it("subtracts the N of 11-55-0 before 21-0-0 fills up", async () => {
    // A garden article on 1000 sq ft, 3 lb N and 1 lb P2O5: 1/0.55 = 1.8 lb, which brings 0.2 lb N; 2.8/0.21 = 13.3 lb.
    const { pounds } = await solve(
      { map: bag({ N: 11, P2O5: 55 }, 1), sulfate: bag({ N: 21 }, 1) },
      { N: { min: "3 lb" }, P2O5: { min: "1 lb", max: "1 lb" } },
    );
    expect(pounds.map).toBeCloseTo(1.8, 1);
    expect(pounds.sulfate).toBeCloseTo(13.3, 1);
    expect(pounds.map).toBeCloseTo(1 / 0.55, 9);
    expect(pounds.sulfate).toBeCloseTo(2.8 / 0.21, 9);
  });

  it("turns 20 lb of 5-10-15 into bone meal, blood meal and potassium sulfate", async () => {
    // The method of University of Georgia Circular 853 (conversion of an inorganic recommendation to an organic one), with
    // analyses of our own: 2/0.15, (1 - 0.4)/0.12, 3/0.5.
    const bags = {
      "bone-meal": bag({ N: 3, P2O5: 15 }, 1),
      "blood-meal": bag({ N: 12 }, 1.5),
      "potassium-sulfate": bag({ K2O: 50 }, 1.2),
    };
    const need = { N: "1 lb", P2O5: "2 lb", K2O: "3 lb" };
    const { pounds, solution } = await solve(bags, need);
    expect(pounds["bone-meal"]).toBeCloseTo(13.3333, 4);
    expect(pounds["blood-meal"]).toBeCloseTo(5, 9);
    expect(pounds["potassium-sulfate"]).toBeCloseTo(6, 9);
    const kg = solution.mixes[0]!.kg;
    expect(kg / LB).toBeCloseTo(24.3333, 4);
    const grade = ["N", "P2O5", "K2O"].map(
      (n) => (100 * solution.nutrients.find((x) => x.nutrient === n)!.appliedKg) / kg,
    );
    expect(grade.map((x) => x.toFixed(4))).toEqual(["4.1096", "8.2192", "12.3288"]);
    const larger = await solve(bags, need, { bed: { plants: 100, area: "1500 sq ft" } });
    expect(larger.pounds["bone-meal"]).toBeCloseTo(20, 9);
    expect(larger.pounds["blood-meal"]).toBeCloseTo(7.5, 9);
    expect(larger.pounds["potassium-sulfate"]).toBeCloseTo(9, 9);
  });

  // Two-component mix in closed form (Pearson square): share of a = (t - b)/(a - b). A filler nutrient fixes the weight.
  it.each([
    [12, 3, 6, 100, 33.3333, 66.6667],
    [13, 4, 7, 60, 20, 40],
  ])("mixes %d %% and %d %% to %d %%", async (a, b, goal, weight, ofA, ofB) => {
    const { pounds } = await solve(
      { strong: bag({ N: a, Ca: 10 }, 1), weak: bag({ N: b, Ca: 10 }, 0.5) },
      {
        per: "bed",
        N: { min: `${(weight * goal) / 100} lb`, max: `${(weight * goal) / 100} lb` },
        Ca: { min: `${weight / 10} lb`, max: `${weight / 10} lb` },
      },
    );
    expect(pounds.strong).toBeCloseTo(ofA, 4);
    expect(pounds.weak).toBeCloseTo(ofB, 4);
  });
});

describe("small programs in closed form, prices invented", () => {
  const pellets = bag({ N: 4, P2O5: 3, K2O: 2 }, 0.3);
  const feather = bag({ N: 13 }, 1);

  it("brings feather meal in where a phosphorus cap binds, and prices the cap and the need", async () => {
    const { pounds, solution } = await solve(
      { pellets, feather },
      { N: "3 lb" },
      {},
      { applied_max: { per: "1000 sq ft", P2O5: "1.5 lb" } },
    );
    expect(pounds.pellets).toBeCloseTo(50, 6);
    expect(pounds.feather).toBeCloseTo(7.692308, 6);
    expect(solution.cost.total).toBeCloseTo(22.692308, 6);
    expect(solution.cost.perPlant).toBeCloseTo(0.22692308, 8);
    const n = solution.nutrients.find((x) => x.nutrient === "N")!;
    expect(n.shadowPricePerKg! * LB).toBeCloseTo(7.692308, 6);
  });

  it("buys pellets alone without the cap, until they cost more than 0.04/0.13 of feather meal", async () => {
    const free = await solve({ pellets, feather }, { N: "3 lb" });
    expect(free.pounds.pellets).toBeCloseTo(75, 6);
    expect(free.solution.cost.total).toBeCloseTo(22.5, 6);
    const dear = await solve({ pellets: bag({ N: 4, P2O5: 3, K2O: 2 }, 0.3077), feather }, { N: "3 lb" });
    expect(Object.keys(dear.pounds)).toEqual(["feather"]);
    const cheap = await solve({ pellets: bag({ N: 4, P2O5: 3, K2O: 2 }, 0.3076), feather }, { N: "3 lb" });
    expect(Object.keys(cheap.pounds)).toEqual(["pellets"]);
  });

  it("says what pellets alone cannot do under a cap", async () => {
    const { solution } = await solve(
      { pellets },
      { N: "3 lb" },
      {},
      { applied_max: { per: "1000 sq ft", P2O5: "1 lb" } },
    );
    expect(solution.status).toBe("infeasible");
    expect(solution.amendments).toEqual([]);
    expect(solution.conflicts[0]!.demands).toEqual([
      "at least 3.00 lb of N available over the season",
      "at most 1.00 lb of P2O5 applied in all",
    ]);
  });

  it("meets potash and magnesium from langbeinite and potassium sulfate", async () => {
    const bags = {
      langbeinite: bag({ K2O: 22, Mg: 11, S: 22 }, 0.6),
      "potassium-sulfate": bag({ K2O: 50, S: 18 }, 0.8),
      "epsom-salt": bag({ Mg: 9.8, S: 12.9 }, 0.7),
    };
    const need = { K2O: "3 lb", Mg: "0.5 lb" };
    const { pounds, solution } = await solve(bags, need);
    expect(pounds.langbeinite).toBeCloseTo(4.545455, 6);
    expect(pounds["potassium-sulfate"]).toBeCloseTo(4, 6);
    expect(solution.cost.total).toBeCloseTo(5.927273, 6);
    expect(solution.nutrients.find((n) => n.nutrient === "S")!.appliedKg / LB).toBeCloseTo(1.72, 6);
    const capped = await solve(bags, need, {}, { applied_max: { per: "bed", S: "1.71 lb" } });
    expect(capped.solution.status).toBe("infeasible");
  });
});
