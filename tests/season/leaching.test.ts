/** Nitrate carried away by several drainages, against the equation worked out by hand and against layers counted one by one. */
import { describe, expect, it } from "vitest";
import { layOutLeaching, leachedNext, mixedToM, SOIL_WATER } from "../../src/season/leaching.ts";
import { seeded } from "../helpers/random.ts";

const LOAM = { holds: 0.25, rootsM: 0.3048 };
// Scotter, White and Dyson 1993, J. Soil Sci. 44:25-33: X = exp(-z theta / I).
const X = (drainageM: number): number => Math.exp((-0.3048 * 0.25) / drainageM);

describe("several drainages", () => {
  it("take what one of their depth takes, however they are split", () => {
    for (const parts of [[0.254], [0.1, 0.154], [0.05, 0.05, 0.154]]) {
      const { drainages, lostOf } = layOutLeaching(
        parts.map((depthM, i) => ({ day: 10 + i, depthM })),
        LOAM,
      );
      const lost = drainages.map((_, k) => lostOf(k, () => 1, 0)).reduce((a, b) => a + b, 0);
      expect(lost).toBeCloseTo(X(0.254), 12);
      const sameDay = layOutLeaching(
        parts.map((depthM) => ({ day: 10, depthM })),
        LOAM,
      );
      expect(sameDay.drainages).toHaveLength(1);
      expect(sameDay.lostOf(0, () => 1, 0)).toBeCloseTo(X(0.254), 12);
    }
  });

  it("take of what is left what the second part of one drainage takes", () => {
    // (X(0.3) - X(0.1)) / (1 - X(0.1)) by hand: exp(-0.254) = 0.775691, exp(-0.762) = 0.466732.
    expect(leachedNext(LOAM, 0.1, 0.2, 0)).toBeCloseTo((0.775691 - 0.466732) / (1 - 0.466732), 5);
    expect(leachedNext(LOAM, 0, 0.2, 0)).toBeCloseTo(X(0.2), 12);
    expect(leachedNext(LOAM, 0.1, 0, 0)).toBe(0);
  });

  it("take from each layer by what it has met itself", () => {
    // 1 kg before the first drainage, 2 kg between the two.
    const { lostOf } = layOutLeaching(
      [
        { day: 30, depthM: 0.1 },
        { day: 60, depthM: 0.2 },
      ],
      LOAM,
    );
    const by = (day: number) => (day < 30 ? 0 : day < 45 ? 1 : 3);
    expect(lostOf(0, by, 0)).toBeCloseTo(X(0.1), 12);
    expect(lostOf(1, by, 0)).toBeCloseTo(X(0.3) - X(0.1) + 2 * X(0.2), 12);
  });

  it("spare what was taken up before they came, and no more than that", () => {
    const { lostOf, sparedBy } = layOutLeaching(
      [
        { day: 30, depthM: 0.1 },
        { day: 60, depthM: 0.2 },
      ],
      LOAM,
    );
    // Half taken up by day 30: each drainage takes half of what it would take.
    expect(sparedBy(0, () => 0.5, 0, 0)).toBeCloseTo(0.5 * lostOf(0, () => 1, 0), 12);
    expect(sparedBy(1, () => 0.5, 0, 0)).toBeCloseTo(0.5 * lostOf(1, () => 1, 0), 12);
    // Taken up between the two: of what the first had left.
    const later = (day: number) => (day < 45 ? 0 : 0.2);
    expect(sparedBy(0, later, 0, 0)).toBe(0);
    expect(sparedBy(1, later, 0, 0)).toBeCloseTo(0.2 * leachedNext(LOAM, 0.1, 0.2, 0), 12);
    // What first lay there after the first drainage is not spared by it.
    expect(sparedBy(0, () => 0.5, 0, 40)).toBe(0);
  });

  it("take less of what is mixed in shallow than of what is mixed in deep, and never more than there is", () => {
    const { next: random } = seeded(7);
    for (let i = 0; i < 200; i++) {
      const count = 1 + Math.floor(random() * 4);
      const lines = Array.from({ length: count }, (_, k) => ({ day: 10 * (k + 1), depthM: 0.4 * random() }));
      const water = { holds: 0.1 + 0.3 * random(), rootsM: 0.2 + 0.5 * random() };
      const laid = layOutLeaching(lines, water);
      const by = (day: number) => Math.min(1, day / (10 * count));
      const lost = (mixed: number) =>
        laid.drainages.reduce((sum, _, k) => sum + laid.lostOf(k, by, mixed), 0);
      expect(lost(0)).toBeGreaterThanOrEqual(0);
      expect(lost(0.15)).toBeGreaterThanOrEqual(lost(0));
      expect(lost(0.15)).toBeLessThanOrEqual(1);
      expect(laid.drainages.reduce((sum, _, k) => sum + laid.sparedBy(k, by, 0, 0), 0)).toBeLessThanOrEqual(
        1,
      );
    }
  });

  it("has the defaults that the contract names", () => {
    expect(SOIL_WATER).toEqual({ holds: 0.25, rootsM: 0.3048 });
    expect([mixedToM(undefined), mixedToM("surface"), mixedToM("band")]).toEqual([0, 0, 0.05]);
    expect([mixedToM("hole"), mixedToM("broadcast")]).toEqual([0.1, 0.15]);
  });
});
