/** Batches and what is weighed into each, worked out by hand, and laws that hold for any amounts. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { batchCounts, layOutBatches } from "../../src/field/batches.ts";
import type { Plan } from "../../src/model.ts";
import { handPlan } from "../helpers/hand-plan.ts";

const NEED = { need: { per: "bed", N: "1 kg" } };
const ids = ["a", "b", "c"];
const plan = (more: Record<string, unknown> = {}, density: string | undefined = "0.5 kg/L"): Plan =>
  handPlan(
    Object.fromEntries(
      ids.map((id) => [id, { analysis: { N: 5 }, price: 1, ...(density ? { density } : {}) }]),
    ),
    NEED,
    { scale: "0.5 kg", ...more },
  );
const weights = (of: Plan, amounts: number[][]) =>
  layOutBatches(of, amounts).applications[0]!.batches.weights.map(({ id, kg }) => [id, kg]);

describe("how many batches there are", () => {
  it("is as few as hold the whole", () => {
    const of = (kg: number) => batchCounts(plan({ batch: "30 kg" }), [[kg], [0], [0]])[0];
    expect([10, 30, 30.1, 60, 100].map(of)).toEqual([1, 1, 2, 2, 4]);
  });

  it("goes by the loose volume where the batch is a volume", () => {
    // 100 kg of 0.5 kg/L are 200 L.
    expect(batchCounts(plan({ batch: { volume: "50 L" } }), [[60], [40], [0]])).toEqual([4]);
  });

  it("is none where nothing is spread, and one without a batch", () => {
    expect(layOutBatches(plan(), [[0], [0], [0]]).applications[0]!.batches).toEqual({
      count: 0,
      kgEach: 0,
      weights: [],
    });
    expect(batchCounts(plan(), [[500], [0], [0]])).toEqual([1]);
  });

  it("cannot be told by volume without a density, and says so", () => {
    const { applications, warnings } = layOutBatches(plan({ batch: { volume: "50 L" } }, ""), [
      [100],
      [0],
      [0],
    ]);
    expect(applications[0]!.batches.count).toBe(1);
    expect(applications[0]!.litres).toBeNull();
    expect(warnings.map(({ code }) => code)).toEqual(["batch-volume-unknown", "density-missing"]);
  });
});

describe("what is weighed into a batch", () => {
  it("is rounded by the largest remainder, so that the batch keeps its weight", () => {
    // In steps of 0.5 kg: 20.6, 10.6 and 8.8 make 40; two steps are left for the two largest remainders.
    expect(weights(plan(), [[10.3], [5.3], [4.4]])).toEqual([
      ["a", 10.5],
      ["b", 5],
      ["c", 4.5],
    ]);
  });

  it("gives a tie to the earlier one", () => {
    // 2.5, 2.5 and 1 step: the sum is 6, and one half-step is left for two.
    expect(weights(plan(), [[1.25], [1.25], [0.5]])).toEqual([
      ["a", 1.5],
      ["b", 1],
      ["c", 0.5],
    ]);
  });

  it("warns of what rounds to nothing", () => {
    const { warnings, rounded } = layOutBatches(plan(), [[10], [0.1], [0]]);
    expect(warnings.map(({ code }) => code)).toEqual(["rounds-to-nothing"]);
    expect(warnings[0]!.text).toContain("b rounds to nothing");
    expect(rounded).toEqual([[10], [0], [0]]);
  });

  it("is never more than a step off, and adds up to the batch in whole steps", () => {
    const kg = fc.double({ min: 0, max: 200, noNaN: true });
    fc.assert(
      fc.property(kg, kg, kg, fc.integer({ min: 5, max: 80 }), (a, b, c, size) => {
        const of = plan({ batch: `${size} kg` });
        const amounts = [[a], [b], [c]];
        const { applications, rounded } = layOutBatches(of, amounts);
        const { count, kgEach, weights: parts } = applications[0]!.batches;
        if (count === 0) return;
        const each = (a + b + c) / count;
        expect(each).toBeLessThanOrEqual(size * (1 + 1e-6));
        expect(Math.abs(kgEach - each)).toBeLessThanOrEqual(0.25 + 1e-9);
        expect(parts.reduce((sum, part) => sum + part.kg, 0)).toBeCloseTo(kgEach, 9);
        amounts.forEach(([exact], i) => {
          const shown = parts.find(({ id }) => id === ids[i])?.kg ?? 0;
          expect(Math.abs(shown - exact! / count)).toBeLessThan(0.5 + 1e-9);
          expect(rounded[i]![0]).toBeCloseTo(shown * count, 9);
        });
      }),
      { seed: 7, numRuns: 200 },
    );
  });
});

describe("measures", () => {
  it("divide an application among plants and along the rows", () => {
    const of = plan({ batch: "30 kg", bed: { plants: 200, rows: 4, row_length: "25 m" } });
    const [application] = layOutBatches(of, [[60], [0], [0]]).applications;
    expect(application).toMatchObject({
      kg: 60,
      litres: 120,
      perPlant: { g: 300, mL: 600 },
      perRowMeter: { g: 600, mL: 1200 },
      coverage: { plantsPerBatch: 100, rowMetersPerBatch: 50 },
    });
  });

  it("are absent where the bed does not say how many", () => {
    const [application] = layOutBatches(plan({ bed: { area: "10 m2" } }), [[60], [0], [0]]).applications;
    expect(application!.perPlant).toEqual({ g: null, mL: null });
    expect(application!.coverage).toEqual({ plantsPerBatch: null, rowMetersPerBatch: null });
  });
});
