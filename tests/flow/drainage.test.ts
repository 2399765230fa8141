/**
 * Nitrogen that expected drainage carries below the roots, in a plan. Burns's equation as in Scotter, White and Dyson 1993,
 * J. Soil Sci. 44:25-33 (seen in an abstract): X = exp(-z theta / I) of what lies there, less what has been taken up.
 */
import { describe, expect, it } from "vitest";
import { findMisses, lostKg } from "../../src/field/delivery.ts";
import { SeasonWork } from "../../src/field/sureness.ts";
import type { Plan } from "../../src/model.ts";
import { layOutSeason } from "../../src/season/season.ts";
import { cautionsOf } from "../../src/words/cautions.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

const LB = 0.45359237;
const INCH = 0.0254;
/** Uptake of the shipped garlic on day 160: 15 % by day 150, 85 % by day 215. */
const TAKEN = 102 * (0.15 + (0.7 * 10) / 65);

const garlic = (more: object = {}): Plan =>
  loadTree({
    plan: "Garlic in autumn",
    amendments: { salt: { name: "Salt", analysis: { N: 20 }, bulk: { price: 1, per: "lb" }, varies: "0%" } },
    target: { recipe: "garlic", need: { per: "acre", N: "102 lb" } },
    bed: { area: "1 acre" },
    drainage: [{ day: 160, depth: "10 in" }],
    ...more,
  });

describe("all of garlic's nitrogen in autumn", () => {
  const X = Math.exp((-12 * INCH * 0.25) / (10 * INCH));

  it("loses to the winter what lies there and is not taken up, and the mix makes up for it", async () => {
    const plan = garlic();
    const season = layOutSeason(plan);
    const spread = [[(102 * LB) / 0.2]];
    expect(lostKg(plan, season, spread, 240) / LB).toBeCloseTo(X * (102 - TAKEN), 9);
    expect(lostKg(plan, season, spread, 160)).toBe(0);
    expect(lostKg(plan, season, spread, 240) / LB).toBeGreaterThan(50);
    // By hand: S - X (S - taken) = 102.
    const solution = await solvePlan(plan);
    expect((solution.amendments[0]!.kg * 0.2) / LB).toBeCloseTo((102 - X * TAKEN) / (1 - X), 6);
    expect(
      findMisses(plan, season, [[solution.amendments[0]!.kg]]).filter((miss) => miss.fraction > 1e-6),
    ).toEqual([]);
    const said = cautionsOf(plan, season, spread).find(({ code }) => code === "autumn-nitrogen")!;
    expect(said.text).toContain(`the ${(X * (102 - TAKEN)).toFixed(2)} lb that the expected drainage takes`);
  });

  it("loses more where it is mixed in deep, by the mean of the distances", () => {
    const plan = garlic({ applications: [{ day: 0, placement: "broadcast" }] });
    const layers = 4000;
    let mean = 0;
    for (let k = 0; k < layers; k++)
      mean += Math.exp((-(12 * INCH - (0.15 * (k + 0.5)) / layers) * 0.25) / (10 * INCH)) / layers;
    const lost = lostKg(plan, layOutSeason(plan), [[(102 * LB) / 0.2]], 240) / LB;
    expect(lost).toBeCloseTo(mean * (102 - TAKEN), 5);
  });

  it("takes the soil's own water and roots, and nothing of what is spread in spring", async () => {
    const sandy = garlic({ soil: { holds: "12%", roots: "18 in" } });
    const X12 = Math.exp((-18 * INCH * 0.12) / (10 * INCH));
    expect(lostKg(sandy, layOutSeason(sandy), [[(102 * LB) / 0.2]], 240) / LB).toBeCloseTo(
      X12 * (102 - TAKEN),
      9,
    );
    const split = garlic({
      applications: [
        { name: "planting", day: 0 },
        { name: "spring", day: 165 },
      ],
      blend: "each",
    });
    const { rounds } = (await solvePlan(split)) as unknown as { rounds: { kg: number }[] };
    const all = rounds.reduce((sum, { kg }) => sum + kg, 0);
    // By hand: just enough in autumn for day 165, and what that loses is all that is lost.
    const by165 = 102 * (0.15 + (0.7 * 15) / 65);
    const autumn = (by165 - X * TAKEN) / (1 - X);
    expect((all * 0.2) / LB).toBeCloseTo(102 + X * (autumn - TAKEN), 4);
  });

  it("is nothing under cover, and is refused out of season or on too many days", () => {
    const covered = garlic({ cover: "tunnel" });
    expect(covered.drainage).toBeUndefined();
    expect(covered.warnings.map(({ code }) => code)).toContain("drainage-under-cover");
    expect(() => garlic({ drainage: [{ day: 300, depth: "10 in" }] })).toThrow(/day-outside/);
    const many = [100, 110, 120, 130, 140].map((day) => ({ day, depth: "1 in" }));
    expect(() => garlic({ drainage: many })).toThrow(/more than 4 days/);
  });

  it("is met as surely as asked by worked seasons", async () => {
    const plan = garlic({ sure: { N: "90%" } });
    const solution = await solvePlan(plan);
    const work = new SeasonWork(plan).work([[solution.amendments[0]!.kg]]);
    for (const { met } of work.needs) expect(met).toBeGreaterThan(0.885);
  });
});
