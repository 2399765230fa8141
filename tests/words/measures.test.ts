/** What is printed to scoop, read back by the definitions of NIST Handbook 44 and by nothing of the program's. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CLOSE, nearestMeasure, scoop, vessel } from "../../src/words/measures.ts";

// NIST Handbook 44, Appendix C: a cup is 8 fluid ounces of 29.573 529 562 5 mL, 16 tablespoons or 48 teaspoons; a gallon 16 cups.
const CUP = 8 * 29.5735295625;
const TBSP = CUP / 16;
const TSP = CUP / 48;
const SEED = { seed: 20270311, numRuns: 400 };

/** Reads a measure back, by the definitions above and by nothing of the program's. */
function inMl(text: string): number {
  const sizes: Readonly<Record<string, number>> = {
    tsp: TSP,
    tbsp: TBSP,
    cup: CUP,
    cups: CUP,
    quart: 4 * CUP,
    quarts: 4 * CUP,
    gal: 16 * CUP,
  };
  return text.split(" + ").reduce((sum, part) => {
    const words = part.split(" ");
    const unit = words.pop()!;
    const count = words.reduce((n, word) => {
      const [top, bottom] = word.split("/");
      return n + (bottom === undefined ? Number(top) : Number(top) / Number(bottom));
    }, 0);
    return sum + count * sizes[unit]!;
  }, 0);
}

describe("the nearest measure", () => {
  it.each([
    [TSP / 4, "1/4 tsp"],
    [1.5 * TSP, "1 1/2 tsp"],
    [TBSP, "1 tbsp"],
    [2.99 * TSP, "1 tbsp"],
    [2.5 * TBSP, "2 1/2 tbsp"],
    [CUP / 4, "1/4 cup"],
    [CUP / 3, "1/3 cup"],
    [CUP / 2, "1/2 cup"],
    [(2 / 3) * CUP, "2/3 cup"],
    [0.75 * CUP, "3/4 cup"],
    [0.5 * CUP + TBSP, "1/2 cup + 1 tbsp"],
    [CUP, "1 cup"],
    [1.26 * CUP, "1 1/4 cups"],
    [15.9 * CUP, "1 gal"],
    [24 * CUP, "1 gal + 2 quarts"],
    [40 * 16 * CUP, "40 gal"],
    [0.01 * TSP, "under 1/8 tsp"],
  ])("of %f mL is %s", (mL, text) => {
    expect(scoop(mL, "us")).toBe(text);
  });

  it("is in mL and litres elsewhere", () => {
    expect(scoop(118.3, "metric")).toBe("118 mL");
    expect(scoop(2.44, "metric")).toBe("2.4 mL");
    expect(scoop(1500, "metric")).toBe("1.50 L");
  });

  it("is within 3 % from one and a half tablespoons up, and says what it holds", () => {
    fc.assert(
      fc.property(fc.double({ min: 1.5 * TBSP, max: 2e5, noNaN: true }), (mL) => {
        const { text, mL: holds } = nearestMeasure(mL, "us");
        expect(inMl(text)).toBeCloseTo(holds, 6);
        expect(Math.abs(holds - mL) / mL, text).toBeLessThanOrEqual(CLOSE + 1e-6);
        // Beside gallons, four cups are a quart.
        expect(text).not.toMatch(/gal \+ .*\b([4-9]|1\d)( 1\/2)? cups/);
      }),
      SEED,
    );
  });
});

describe("one vessel for a plant", () => {
  it("never runs a batch dry, gives at most 5 % less, and says what it holds", () => {
    fc.assert(
      fc.property(fc.double({ min: TSP / 8, max: 1200, noNaN: true }), (mL) => {
        const found = vessel(mL, "us");
        if (found === null) return;
        expect(inMl(found.text)).toBeCloseTo(found.mL, 6);
        expect(found.mL).toBeLessThanOrEqual(mL * (1 + 1e-9));
        expect(found.mL).toBeGreaterThanOrEqual(mL * 0.95 * (1 - 1e-9));
      }),
      SEED,
    );
  });

  it.each([
    [CUP / 4, "1/4 cup"],
    [1.04 * (CUP / 4), "1/4 cup"],
    [1.06 * (CUP / 4), null],
    [2.05 * TBSP, "2 tbsp"],
    [2.02 * CUP, "2 cups"],
    [0.97 * TSP, null],
  ])("of %f mL is %s", (mL, text) => {
    expect(vessel(mL, "us")?.text ?? null).toBe(text);
  });
});
