/** Batches and what is weighed into each, worked out by hand, and laws that hold for any amounts. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { batchCounts, layOutHeap } from "../../src/field/batches.ts";
import type { Plan } from "../../src/model.ts";
import { handPlan } from "../helpers/hand-plan.ts";
import { slow } from "../helpers/seeds.ts";

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
/** A heap of so many kg of each, with so much more of each to be had. */
const heap = (of: Plan, kg: number[], room = Infinity) =>
  layOutHeap(
    of.amendments,
    kg,
    of,
    kg.map(() => room),
    "the bed",
  );
const weights = (of: Plan, kg: number[]) => heap(of, kg).batches.weights.map(({ id, kg }) => [id, kg]);

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
    expect(heap(plan(), [0, 0, 0]).batches).toEqual({ count: 0, kgEach: 0, litresEach: 0, weights: [] });
    expect(batchCounts(plan(), [[500], [0], [0]])).toEqual([1]);
  });

  it("cannot be told by volume without a density, and says so", () => {
    const { batches, warnings } = heap(plan({ batch: { volume: "50 L" } }, ""), [100, 0, 0]);
    expect(batches.count).toBe(1);
    expect(batches.litresEach).toBeNull();
    expect(warnings.map(({ code }) => code)).toEqual(["batch-volume-unknown", "density-missing"]);
  });
});

describe("what is weighed into a batch", () => {
  it("is rounded by the largest remainder, so that the batch keeps its weight", () => {
    // In steps of 0.5 kg: 20.6, 10.6 and 8.8 make 40; two steps are left for the two largest remainders.
    expect(weights(plan(), [10.3, 5.3, 4.4])).toEqual([
      ["a", 10.5],
      ["b", 5],
      ["c", 4.5],
    ]);
  });

  it("gives a tie to the earlier one", () => {
    // 2.5, 2.5 and 1 step: the sum is 6, and one half-step is left for two.
    expect(weights(plan(), [1.25, 1.25, 0.5])).toEqual([
      ["a", 1.5],
      ["b", 1],
      ["c", 0.5],
    ]);
  });

  it("warns of what rounds to nothing, and of what the scale moves far", () => {
    const { warnings, weighedKg } = heap(plan(), [10, 0.1, 0.4]);
    expect(warnings.map(({ code }) => code)).toEqual(["rounds-to-nothing", "rounds-far"]);
    expect(warnings[0]!.text).toContain("b rounds to nothing");
    expect(weighedKg).toEqual([10, 0, 0.5]);
  });

  it("is weighed once for the whole heap where a batch would hold a tenth more or less of it", () => {
    // Four batches of 25 kg. In each 0.35 kg of b, which the scale would show as 0.5; in all of them 1.4, shown as 1.5.
    const { batches, weighedKg, warnings } = heap(plan({ batch: "25 kg" }), [98.6, 1.4, 0]);
    expect(batches.count).toBe(4);
    expect(batches.weights).toEqual([
      { id: "a", kg: 24.5, mL: 49_000 },
      { id: "b", kg: 0.375, mL: 750, once: true },
    ]);
    expect(batches.kgEach).toBeCloseTo(24.875, 9);
    expect(weighedKg).toEqual([98, 1.5, 0]);
    expect(warnings).toEqual([]);
  });

  it("takes no more than there is", () => {
    // Two batches of 10.4 kg of a: 10.5 each would be 21 kg of the 20.8 there are.
    const of = plan({ batch: "15 kg" });
    expect(heap(of, [20.8, 5.2, 0]).weighedKg).toEqual([21, 5, 0]);
    expect(heap(of, [20.8, 5.2, 0], 0).weighedKg).toEqual([20, 5, 0]);
  });

  slow("is never more than a step off, and adds up to the batch in whole steps", () => {
    const kg = fc.double({ min: 0, max: 200, noNaN: true });
    fc.assert(
      fc.property(kg, kg, kg, fc.integer({ min: 5, max: 80 }), (a, b, c, size) => {
        const of = plan({ batch: `${size} kg` });
        const exactly = [a, b, c];
        const { batches, weighedKg } = heap(of, exactly);
        const { count, kgEach, weights: parts } = batches;
        if (count === 0) return;
        const each = (a + b + c) / count;
        expect(each).toBeLessThanOrEqual(size * (1 + 1e-6));
        // What is weighed once is off by half a step of the heap.
        const once = parts.filter((part) => part.once).length;
        expect(Math.abs(kgEach - each)).toBeLessThanOrEqual(0.25 * (1 + once) + 1e-9);
        expect(parts.reduce((sum, part) => sum + part.kg, 0)).toBeCloseTo(kgEach, 9);
        exactly.forEach((exact, i) => {
          const shown = parts.find(({ id }) => id === ids[i])?.kg ?? 0;
          expect(Math.abs(shown - exact / count)).toBeLessThan(0.5 + 1e-9);
          expect(weighedKg[i]).toBeCloseTo(shown * count, 9);
        });
      }),
      { seed: 7, numRuns: 200 },
    );
  });
});
