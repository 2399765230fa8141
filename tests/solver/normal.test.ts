import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  latticePoints,
  normalCdf,
  normalQuantile,
  orthantChance,
  roughChance,
} from "../../src/solver/normal.ts";

describe("the normal law", () => {
  it("agrees with Abramowitz and Stegun, table 26.1 (from memory)", () => {
    expect(normalCdf(0)).toBe(0.5);
    expect(normalCdf(1)).toBeCloseTo(0.841344746068543, 14);
    expect(normalCdf(2)).toBeCloseTo(0.977249868051821, 14);
    expect(normalCdf(3)).toBeCloseTo(0.99865010196837, 14);
    expect(normalCdf(-6) / 9.865876450377e-10).toBeCloseTo(1, 11);
  });

  it("has the quantiles that every table prints", () => {
    const table = { 0.8: 0.841621, 0.9: 1.281552, 0.95: 1.644854, 0.975: 1.959964, 0.99: 2.326348 };
    for (const [p, z] of Object.entries(table)) expect(normalQuantile(Number(p))).toBeCloseTo(z, 6);
    expect(normalQuantile(0.5)).toBe(0);
    expect(normalQuantile(0)).toBe(-Infinity);
    expect(normalQuantile(1)).toBe(Infinity);
    expect(normalQuantile(1.1)).toBeNaN();
  });

  it("inverts itself, joins its two formulas and mirrors", () => {
    fc.assert(
      fc.property(fc.double({ min: -8, max: 8, noNaN: true }), (x) => {
        expect(normalCdf(x) + normalCdf(-x)).toBeCloseTo(1, 14);
        if (x >= 3) return;
        const miss = Math.abs(normalQuantile(normalCdf(x)) - x);
        // A chance that is right to 1e-15 gives back x to that over the density; below -5 the tail is summed by itself.
        const density = Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI);
        expect(miss).toBeLessThan(x < -5 ? 1e-13 : 2e-15 / density);
      }),
      // Where the series loses most.
      { examples: [[-4.9999], [-4.5], [-3.7], [2.99], [0]] },
    );
    expect(normalCdf(-5.0000001) / normalCdf(-4.9999999)).toBeCloseTo(1, 5);
  });
});

describe("the lattice", () => {
  it("fills each side evenly and is the same every time", () => {
    const points = latticePoints(4096, 5);
    expect(Buffer.from(points.buffer).equals(Buffer.from(latticePoints(4096, 5).buffer))).toBe(true);
    for (let k = 0; k < 5; k++) {
      const side = Array.from({ length: 4096 }, (_, j) => points[j * 5 + k]!);
      for (const [from, to] of [
        [0, 0.1],
        [0.4, 0.6],
        [0.9, 1],
      ] as const)
        expect(side.filter((u) => u > from && u < to).length / 4096).toBeCloseTo(to - from, 2);
    }
  });
});

describe("several needs together", () => {
  it("follows 1/4 + asin(r) / 2 pi for two at 50 %", () => {
    for (const r of [-1, -0.9, -0.5, 0, 0.3, 0.7, 0.99, 1])
      expect(
        orthantChance(
          [0, 0],
          [
            [1, r],
            [r, 1],
          ],
        ),
      ).toBeCloseTo(0.25 + Math.asin(r) / (2 * Math.PI), 4);
  });

  it("multiplies where they are independent", () => {
    const z = normalQuantile(0.9);
    const apart = [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ];
    expect(orthantChance([z, z], [apart[0]!.slice(0, 2), apart[1]!.slice(0, 2)])).toBeCloseTo(0.81, 9);
    expect(orthantChance([z, 0, 1], apart)).toBeCloseTo(0.9 * 0.5 * normalCdf(1), 9);
  });

  it("follows the closed form of three at 50 %: 1/8 + (sum of asin r) / 4 pi", () => {
    const [a, b, c] = [0.3, -0.2, 0.6];
    const chance = orthantChance(
      [0, 0, 0],
      [
        [1, a, b],
        [a, 1, c],
        [b, c, 1],
      ],
    );
    expect(chance).toBeCloseTo(1 / 8 + (Math.asin(a) + Math.asin(b) + Math.asin(c)) / (4 * Math.PI), 4);
  });

  it("takes one need, none, and needs that are one and the same", () => {
    expect(orthantChance([], [])).toBe(1);
    expect(orthantChance([1], [[1]])).toBe(normalCdf(1));
    const same = [
      [1, 1, 1],
      [1, 1, 1],
      [1, 1, 1],
    ];
    expect(orthantChance([2, 1, 3], same)).toBeCloseTo(normalCdf(1), 9);
  });

  it("comes out about the same without points, and just so where they are independent", () => {
    const apart = [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ];
    expect(roughChance([1.2, 0, 1], apart)).toBeCloseTo(normalCdf(1.2) * 0.5 * normalCdf(1), 12);
    const alike = [0.3, 0.5, 0.8].map((r) => apart.map((row) => row.map((own) => (own === 1 ? 1 : r))));
    for (const correlation of alike)
      for (const room of [
        [0, 0, 0],
        [1, 1.5, 0.5],
        [2, 2, 2],
      ])
        expect(Math.abs(roughChance(room, correlation) - orthantChance(room, correlation))).toBeLessThan(
          0.02,
        );
  });
});
