import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { loadPlan } from "../../src/files/load.ts";
import { changePlan } from "../../src/flow/changes.ts";
import { shopPlans } from "../../src/flow/shop.ts";
import { bestSplit } from "../../src/flow/split.ts";
import { type SweepRequest, sweepPlan } from "../../src/flow/sweep.ts";
import { topUp } from "../../src/flow/topup.ts";
import { InputError } from "../../src/problem.ts";
import type { Rain } from "../../src/results/topup.ts";
import type { PriceChange } from "../../src/units.ts";
import { diskReader } from "../helpers/files.ts";
import { ROOT } from "../helpers/world.ts";

const loaded = loadPlan(diskReader, {
  planFile: join(ROOT, "examples/brassica-terraces/plan.yaml"),
  cwd: ROOT,
  recipesDir: join(ROOT, "recipes"),
});
if (!loaded.ok) throw new Error("the demo plan does not load");
const { plan } = loaded.value;

const codesOf = async (call: () => unknown): Promise<string[]> => {
  try {
    await call();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    expect(error.message).toMatch(/\S/);
    return error.problems.map(({ code }) => code);
  }
  return [];
};

describe("a call of the library that cannot be meant", () => {
  const sweep = {
    handle: { kind: "price", id: "gypsum" },
    from: 0.1,
    to: 1,
    steps: 2,
    understood: "",
  } as const;
  const sweeps: [Partial<SweepRequest>, string[]][] = [
    [{}, []],
    [{ from: 2 }, ["range-crossed"]],
    [{ to: Number.NaN }, ["number-range"]],
    [{ from: -1 }, ["number-range"]],
    [{ steps: 0 }, ["number-range"]],
    [{ steps: 2.5 }, ["number-range"]],
    [{ steps: Infinity }, ["number-range"]],
    [{ handle: { kind: "price", id: "gipsum" } }, ["amendment-unknown"]],
    [{ handle: { kind: "need", nutrient: "X" as "N" } }, ["nutrient-unknown"]],
  ];
  it.each(sweeps)("sweep %j: %j", async (change, codes) => {
    expect(await codesOf(() => sweepPlan(plan, { ...sweep, ...change }))).toEqual(codes);
  });

  const rain = { rainM: 0.1, day: 30, soilWater: 0.25, depthM: 0.3, evaporationM: 0, mixedToM: 0 };
  const rains: [Partial<Rain>, string[]][] = [
    [{}, []],
    [{ rainM: Number.NaN }, ["number-range"]],
    [{ rainM: -1 }, ["number-range"]],
    [{ day: 500 }, ["day-outside"]],
    [{ soilWater: 3 }, ["number-range"]],
    [{ depthM: 0 }, ["number-range"]],
    [{ mixedToM: 1 }, ["number-range"]],
  ];
  it.each(rains)("rain %j: %j", async (change, codes) => {
    expect(await codesOf(() => topUp(plan, { ...rain, ...change }))).toEqual(codes);
  });

  it("split", async () => {
    for (const least of [Number.NaN, -0.1, 0.5])
      expect(await codesOf(() => bestSplit(plan, least))).toEqual(["number-range"]);
  });

  it.each([
    [{ budget: Number.NaN }],
    [{ budget: -1 }],
    [{ mostLeft: { share: 1.5 } }],
    [{ mostLeft: { kg: -1 } }],
    [{ seconds: 0 }],
  ])("purchase %j", async (options) => {
    const result = await shopPlans([plan], options);
    expect(result.ok).toBe(false);
    if (!result.ok) expect(result.problems.map(({ code }) => code)).toEqual(["number-range"]);
  });

  const changes: [PriceChange][] = [
    [{ kind: "factor", factor: -1 }],
    [{ kind: "price", pricePerKg: Number.NaN }],
    [{ kind: "price", pricePerKg: Infinity }],
    [{ kind: "pack", price: 3, size: { kg: 0 } }],
  ];
  it.each(changes)("price %j", (change) => {
    const result = changePlan(plan, { price: { gypsum: change }, without: [] }, "case");
    expect(result.ok).toBe(false);
    if (!result.ok) expect(result.problems.map(({ code }) => code)).toEqual(["number-range"]);
  });

  it("says what there is where an id or a nutrient is not known", async () => {
    const request = { ...sweep, handle: { kind: "price", id: "gipsum" } } as const;
    await expect(sweepPlan(plan, request)).rejects.toThrow("did you mean `gypsum`?");
  });
});

describe("a plan without a mix", () => {
  it("has no cost and no purchase, rather than one of nothing", async () => {
    const { solvePlan } = await import("../../src/flow/blend.ts");
    const nowhere = {
      ...plan,
      amendments: plan.amendments.filter(({ id }) => id === "kelp-meal"),
      limits: [],
    };
    const solution = await solvePlan(nowhere);
    expect(solution.status).toBe("infeasible");
    expect(solution.cost).toEqual({ total: null, perPlant: null });
    const shopping = await shopPlans([nowhere]);
    if (!shopping.ok) throw new Error("refused");
    const { total, goods, delivery, gap, byWeight, wholePacksCost } = shopping.value;
    expect([total, goods, delivery, gap, byWeight, wholePacksCost]).toEqual([
      null,
      null,
      null,
      null,
      null,
      null,
    ]);
  });
});
