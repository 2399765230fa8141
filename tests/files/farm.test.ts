/** Farm files: what of the farm, the field and the bed holds for a bed, worked out by hand. */
import { describe, expect, it } from "vitest";
import { loadFarm } from "../../src/files/load.ts";
import type { Farm } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { memoryReader } from "../helpers/files.ts";

const SHELF = `
amendments:
  feather: {analysis: {N: 12}, packs: [{size: 10 kg, price: 20}], release: at-once}
  kelp: {analysis: {K2O: 5}, packs: [{size: 10 kg, price: 30}], release: at-once}
`;

function farmOf(
  text: string,
  more: Record<string, string> = {},
  overrides: { path: string[]; value: unknown }[] = [],
): Farm {
  const io = memoryReader({ "/f/farm.yaml": text, "/f/shelf.yaml": SHELF, ...more });
  const result = loadFarm(io, {
    planFile: "/f/farm.yaml",
    cwd: "/f",
    recipesDir: "/recipes",
    overrides: overrides.map((one) => ({ ...one, flag: "--set" })),
  });
  if (!result.ok) throw new Error(formatProblems(result.problems));
  return result.value.farm;
}

const FARM = `
farm: By hand
units: metric
amendments: shelf.yaml
batch: 20 kg
scale: 100 g
most_mixes: 2
alone: 0
target: {target: Leaf, season: 100 days, need: {per: m2, N: 10 g}}
limits: {feather: {max: 90 kg, max_share: 80%}, kelp: {max_share: 50%}}
credits: [{from: rain, per: m2, N: 1 g, release: at-once}]
fields:
  low:
    soil_temperature: 12 C
    credits: [{from: compost, per: m2, N: 2 g, release: at-once}]
    limits: {kelp: {max_share: 40%}}
beds:
  - bed: east
    area: 50 m2
    field: low
    rounds: [0, 28]
    credits: [{from: straw, per: m2, N: 0.5 g, release: at-once}]
    soil_temperature: 15 C
  - {bed: west, area: 20 m2, field: low, mix: B, beds_alike: 3, plants: 40}
  - {bed: herbs, plan: herbs.yaml}
`;
const HERBS = `
plan: Herbs by the door
target: {target: Herbs, season: 60 days, need: {per: plant, N: 1 g}}
bed: {plants: 30}
limits: {feather: {max: 2 kg}}
`;

describe("a farm", () => {
  const farm = farmOf(FARM, { "/f/herbs.yaml": HERBS });
  const [east, west, herbs] = farm.beds.map(({ plan }) => plan);

  it("knows its beds, mixes and bounds on the heap", () => {
    expect(farm).toMatchObject({
      name: "By hand",
      mostMixes: 2,
      alone: 0,
      heap: [{ id: "feather", maxKg: 90 }],
    });
    expect(farm.beds.map(({ name, mix }) => [name, mix])).toEqual([
      ["east", undefined],
      ["west", "B"],
      ["herbs", undefined],
    ]);
    expect(farm.beds.map(({ plan }) => plan.name)).toEqual(["east", "west", "herbs"]);
  });

  it("lets the bed go over its field, and that over the farm", () => {
    expect(east!.soilTemperatureC).toEqual([[0, 15]]);
    expect(west!.soilTemperatureC).toEqual([[0, 12]]);
    expect(herbs!.soilTemperatureC).toBeUndefined();
    expect(west!.limits).toMatchObject([
      { id: "feather", maxShare: 0.8 },
      { id: "kelp", maxShare: 0.4 },
    ]);
    // Weights among the farm's limits are of the whole heap.
    expect(west!.limits[0]!.maxKg).toBeUndefined();
    expect(herbs!.limits).toMatchObject([{ id: "feather", maxKg: 2 }]);
  });

  it("adds up credits", () => {
    // 1 g of rain, 2 g of compost and 0.5 g of straw on 50 m2.
    expect(east!.credits.map(({ from, contentKg }) => [from, contentKg.N])).toEqual([
      ["rain", 0.05],
      ["compost", 0.1],
      ["straw", 0.025],
    ]);
    expect(herbs!.credits).toEqual([]);
  });

  it("makes rounds of the same size", () => {
    expect(east!.applications).toEqual([
      { name: "round 1", day: 0, share: 0.5 },
      { name: "round 2", day: 28, share: 0.5 },
    ]);
  });

  it("counts needs for all beds alike, and keeps the measures of one", () => {
    expect(west!.bed).toEqual({ plants: 40, areaM2: 20, bedsAlike: 3 });
    expect(west!.demands[0]!.minKg).toBeCloseTo(3 * 20 * 0.01, 12);
    expect(west!.credits[1]!.contentKg.N).toBeCloseTo(3 * 20 * 0.002, 12);
    // By the plant, in a plan as it stands: 30 x 1 g.
    expect(herbs!.demands[0]!.minKg).toBeCloseTo(0.03, 12);
  });

  it("gives a plan as it stands the farm's shelf, batch and scale", () => {
    expect(herbs).toMatchObject({ units: "metric", batch: { kg: 20 }, scaleKg: 0.1 });
    expect(herbs!.amendments.map(({ id }) => id)).toEqual(["feather", "kelp"]);
  });

  it("lays a flag over every bed, and one for the farm over the farm", () => {
    const changed = farmOf(FARM, { "/f/herbs.yaml": HERBS }, [
      { path: ["exclude"], value: ["kelp"] },
      { path: ["most_mixes"], value: 3 },
    ]);
    expect(changed.mostMixes).toBe(3);
    for (const { plan } of changed.beds) expect(plan.amendments.map(({ id }) => id)).toEqual(["feather"]);
  });

  it("reads a target relative to the plan that names it, from another folder", () => {
    const there = farmOf(FARM.replace("plan: herbs.yaml", "plan: far/herbs.yaml"), {
      "/f/far/herbs.yaml": "plan: Herbs\ntarget: target.yaml\nbed: {plants: 30}\n",
      "/f/far/target.yaml": "target: Herbs\nseason: 60 days\nneed: {per: plant, N: 1 g}\n",
    });
    expect(there.beds[2]!.plan.demands[0]!.minKg).toBeCloseTo(0.03, 12);
  });
});
