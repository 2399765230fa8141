/**
 * A tomato bed at Mehlich-3 phosphorus of 15, 60 and 200 ppm, through the command.
 *
 * Ratings: Rutgers NJAES, Relative levels of nutrients: Mehlich-3 P in lb/acre low to 45, medium to 71, high (here
 * `optimum`) to 137, very high above; halved to ppm. Rates: Mid-Atlantic commercial vegetable recommendations,
 * fresh-market tomato on bare ground, 200, 150, 100 and 0 lb P2O5/acre (from memory). At optimum
 * the recipe gives what the harvest carries off, 0.207 kg P/t x 60 t/ha = 25.4 lb P2O5/acre, rounded: rates above removal are for soils below
 * optimum (New England Vegetable Management Guide). A published rate is what is spread.
 */
import { describe, expect, it } from "vitest";
import { stringify } from "yaml";
import { main } from "../../src/cli.ts";
import type { Solution } from "../../src/results/solution.ts";
import { type OneBed, unfolded } from "../helpers/answers.ts";
import { testWorld } from "../helpers/world.ts";

const LB = 0.45359237;
const ACRE = 43_560;
const AREA = 1000;

/** What growers of an organic bed have at hand; prices are invented. */
const SHELF = ["poultry-pellets", "feather-meal", "bone-meal-steamed", "potassium-sulfate"];

async function solve(ppm: number, more: Record<string, unknown> = {}): Promise<OneBed> {
  const plan = {
    plan: `Tomatoes at ${ppm} ppm`,
    amendments: [{ recipe: "all" }],
    only: SHELF,
    recipe: "tomato",
    bed: { plants: 200, area: `${AREA} sq ft` },
    soil_temperature: "20 C",
    soil: { pH: 6.4 },
    soil_test: { method: "mehlich-3", P: `${ppm} ppm` },
    ...more,
  };
  const world = testWorld({ stdin: stringify(plan) });
  const code = await main(["solve", "-", "--json"], world);
  expect(code, world.written.stderr).toBe(0);
  return unfolded(JSON.parse(world.written.stdout) as Solution);
}

const perAcre = (kg: number): number => (kg / LB) * (ACRE / AREA);

describe("a tomato bed after a Mehlich-3 test for phosphorus", () => {
  it.each([
    [15, 200],
    [30, 150],
    [60, 25],
    [200, 0],
  ])("at %d ppm asks for the table's %d lb of P2O5 per acre, as spread", async (ppm, rate) => {
    const solution = await solve(ppm);
    const p = solution.nutrients.find((n) => n.nutrient === "P2O5")!;
    expect(p.counts).toBe("applied");
    expect(perAcre(p.minKg)).toBeCloseTo(rate, 6);
    expect(perAcre(p.countedKg)).toBeGreaterThanOrEqual(rate * (1 - 1e-6));
    expect(p.countedKg).toBeCloseTo(p.appliedKg, 9);
    // No mix spreads more than twice a rate without saying why.
    const said = solution.warnings.some(
      ({ code }) => code === "above-rate" || code === "phosphorus-unavoidable",
    );
    if (p.appliedKg > 2 * p.minKg * (1 + 1e-6)) expect(said).toBe(true);
  });

  it("spreads the rate and no more where the soil has enough", async () => {
    const p = (await solve(60)).nutrients.find((n) => n.nutrient === "P2O5")!;
    expect(perAcre(p.appliedKg)).toBeCloseTo(25, 3);
  });

  it("spreads no phosphorus on soil that has far too much, as long as there is nitrogen without it", async () => {
    const p = (await solve(200)).nutrients.find((n) => n.nutrient === "P2O5");
    expect(p?.appliedKg ?? 0).toBeCloseTo(0, 6);
  });

  it("spreads what cannot be helped, and says so, where all nitrogen comes with phosphorus", async () => {
    const solution = await solve(200, { only: ["poultry-pellets", "potassium-sulfate"] });
    const n = solution.nutrients.find((one) => one.nutrient === "N")!;
    const p = solution.nutrients.find((one) => one.nutrient === "P2O5")!;
    const pellets = solution.plan.amendments.find(({ id }) => id === "poultry-pellets")!;
    // Phosphate and nitrogen are in the pellets' own proportion, and nitrogen is not above its need by more than the
    // hundredth of room that the cap leaves.
    expect(p.appliedKg / n.appliedKg).toBeCloseTo(pellets.analysis.P2O5! / pellets.analysis.N!, 9);
    expect(n.availableKg).toBeLessThanOrEqual(n.minKg * 1.011);
    expect(solution.warnings.map(({ code }) => code)).toContain("phosphorus-unavoidable");
    expect(solution.cautions.map(({ code }) => code)).toContain("phosphorus-above-need");
  });

  it("says why where more than twice a rate is spread", async () => {
    // 150 lb of N as compost of 1 % N and 1 % P2O5, of which little nitrogen comes free.
    const solution = await solve(15, {
      only: ["poor"],
      amendments: {
        poor: {
          name: "Poor manure",
          analysis: { N: 1, P2O5: 2, K2O: 2 },
          bulk: { price: 0.01, per: "lb" },
          release: { N: { at_once: "30%" } },
        },
      },
    });
    const said = solution.warnings.find(({ code }) => code === "above-rate")!;
    expect(said.text).toContain("where the rate is 4.59 lb");
    expect(said.text).toContain("Poor manure");
  });

  it("drops the recipe's cap on poor soil and keeps a grower's own", async () => {
    const poor = (await solve(15)).plan.demands.find((d) => d.nutrient === "P2O5")!;
    expect(poor.appliedMaxKg).toBeNull();
    const own = await solve(200, {
      recipe: undefined,
      target: { recipe: "tomato", applied_max: { per: "acre", P2O5: "20 lb" } },
    });
    expect(perAcre(own.plan.demands.find((d) => d.nutrient === "P2O5")!.appliedMaxKg!)).toBeCloseTo(20, 6);
  });
});
