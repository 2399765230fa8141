import { describe, expect, it } from "vitest";
import type { ReleaseCurve } from "../../src/model.ts";
import { availableAfter, availableOn, effectiveDays } from "../../src/season/release.ts";

const pool = (atOnce: number, later: number, halfLifeDays: number, q10 = 2): ReleaseCurve => ({
  kind: "pool",
  atOnce,
  later,
  halfLifeDays,
  q10,
  referenceC: 25,
});

describe("release of a first-order pool", () => {
  // A(t) = a + l (1 - 2^(-t/h)), a 5 %, l 70 %, h 18 d: figures worked out by hand from the formula.
  it.each([
    [0, 0.05],
    [7, 0.2154],
    [14, 0.3417],
    [28, 0.5119],
    [42, 0.6111],
    [56, 0.669],
    [84, 0.7224],
    [120, 0.7431],
  ])("has released after %d days at 25 C what the formula says", (days, share) => {
    expect(availableAfter(pool(0.05, 0.7, 18), days)).toBeCloseTo(share, 4);
  });

  it.each([
    [28, 0.3417],
    [56, 0.5119],
    [84, 0.6111],
  ])("counts a day at 15 C as half a day with Q10 = 2 (%d days)", (days, share) => {
    expect(availableOn(pool(0.05, 0.7, 18), 0, days, [[0, 15]])).toBeCloseTo(share, 4);
  });

  it("has nothing on the day of application, or before", () => {
    expect(availableOn(pool(1, 0, 10), 14, 14)).toBe(0);
    expect(availableOn(pool(1, 0, 10), 14, 3)).toBe(0);
  });
});

describe("soil temperature as a factor on time", () => {
  // Q10 = 2, base 25 C: 2^((T - 25) / 10).
  it.each([
    [10, 0.353553],
    [12, 0.406126],
    [15, 0.5],
    [18, 0.615572],
    // biome-ignore lint/suspicious/noApproximativeNumericConstant: a figure as tabulated
    [20, 0.707107],
    // biome-ignore lint/suspicious/noApproximativeNumericConstant: a figure as tabulated
    [30, 1.414214],
    [35, 2],
  ])("at %d C", (celsius, factor) => {
    expect(effectiveDays(0, 1, { q10: 2, referenceC: 25 }, [[0, celsius]])).toBeCloseTo(factor, 6);
  });

  it("integrates a temperature that changes, as fine steps do", () => {
    const soil = [
      [0, 8],
      [40, 22],
      [90, 12],
    ] as const;
    const steps = 200_000;
    let sum = 0;
    for (let k = 0; k < steps; k++) {
      const day = 10 + (90 * (k + 0.5)) / steps;
      const celsius = day <= 40 ? 8 + (14 * day) / 40 : day <= 90 ? 22 - (10 * (day - 40)) / 50 : 12;
      sum += 2 ** ((celsius - 25) / 10) * (90 / steps);
    }
    expect(effectiveDays(10, 100, { q10: 2, referenceC: 25 }, soil)).toBeCloseTo(sum, 6);
  });

  it("counts a day as a day without a temperature", () => {
    expect(effectiveDays(3, 31, { q10: 2, referenceC: 25 })).toBe(28);
  });
});

describe("a measured release", () => {
  const measured: ReleaseCurve = {
    kind: "points",
    points: [
      [0, 0.05],
      [28, 0.45],
      [84, 0.75],
    ],
    q10: 2,
    referenceC: 25,
  };
  it.each([
    [0, 0.05],
    [14, 0.25],
    [28, 0.45],
    [56, 0.6],
    [84, 0.75],
    [200, 0.75],
  ])("is linear between its points and flat after the last (day %d)", (day, share) => {
    expect(availableAfter(measured, day)).toBeCloseTo(share, 12);
  });
});
