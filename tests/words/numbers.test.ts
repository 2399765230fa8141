/** Digits and units against published tables, and what must hold for every number. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { scoop, volume } from "../../src/words/measures.ts";
import {
  area,
  bagWeight,
  counted,
  decimal,
  grams,
  grouped,
  howMany,
  length,
  listed,
  money,
  percent,
  plainNumber,
  pricePerWeight,
  scaleWeight,
  weight,
  weightBeside,
} from "../../src/words/numbers.ts";

// NIST Handbook 44, Appendix C, and NIST SP 811, Appendix B: exact by definition.
const LB = 0.45359237;
const OZ = LB / 16;
const FT = 0.3048;

const SEED = { seed: 20240611 };
const positive = fc.double({ min: 1e-9, max: 1e7, noNaN: true });
const system = fc.constantFrom("us" as const, "metric" as const);

describe("weights", () => {
  // New Mexico State University Guide H-119, Determining Amounts of Fertilizer for Small Areas, Table 1:
  // pounds an acre, and the same on 1000 square feet to the nearest ounce.
  it.each([
    [100, "2 lb 5 oz"],
    [200, "4 lb 9 oz"],
    [400, "9 lb 3 oz"],
    [500, "11 lb 8 oz"],
    [600, "13 lb 12 oz"],
    [700, "16 lb 1 oz"],
    [800, "18 lb 6 oz"],
    [1000, "22 lb 15 oz"],
    [2000, "45 lb 15 oz"],
  ])("reads %d lb an acre on 1000 sq ft off a scale of ounces as the guide prints it", (perAcre, printed) => {
    const exactOz = (perAcre / 43560) * 1000 * 16;
    expect(scaleWeight(Math.round(exactOz) * OZ, OZ, "us")).toBe(printed);
  });

  it("shows a weight in the unit of the scale it stands on", () => {
    expect(scaleWeight(12.25 * LB, 0.25 * LB, "us")).toBe("12.25 lb");
    expect(scaleWeight(12 * LB, 0.25 * LB, "us")).toBe("12.00 lb");
    expect(scaleWeight(7 * LB, LB, "us")).toBe("7 lb");
    expect(scaleWeight(0.1 * LB, 0.1 * LB, "us")).toBe("0.1 lb");
    expect(scaleWeight(20 * OZ, 0.5 * OZ, "us")).toBe("1 lb 4.0 oz");
    expect(scaleWeight(16 * OZ, 0.5 * OZ, "us")).toBe("1 lb");
    expect(scaleWeight(3 * OZ, OZ, "us")).toBe("3 oz");
    expect(scaleWeight(1.475, 0.005, "metric")).toBe("1.475 kg");
    expect(scaleWeight(0.475, 0.005, "metric")).toBe("475 g");
    // A metric scale in a plan of pounds, and the other way round: the scale shows what it shows.
    expect(scaleWeight(1.475, 0.005, "us")).toBe("1.475 kg");
    expect(scaleWeight(3.25 * LB, 0.25 * LB, "metric")).toBe("3.25 lb");
    // No multiple of the scale: nothing is rounded away.
    expect(scaleWeight(0.1 * LB, 0.25 * LB, "us")).toBe("1.60 oz");
  });

  it("goes to ounces below a pound and to grams below a kilogram", () => {
    expect(weight(LB, "us")).toBe("1.00 lb");
    expect(weight(0.5 * LB, "us")).toBe("8.00 oz");
    expect(weight(0.9999 * LB, "us")).toBe("1.00 lb");
    expect(weight(1234.5 * LB, "us")).toBe("1,235 lb");
    expect(weight(-2 * LB, "us")).toBe("-2.00 lb");
    expect(weight(0, "us")).toBe("0 lb");
    expect(weight(1, "metric")).toBe("1.00 kg");
    expect(weight(0.25, "metric")).toBe("250 g");
    expect(weight(0.0021, "metric")).toBe("2.1 g");
    expect(grams(92.26)).toBe("92.3 g");
  });

  it("keeps one unit within a row", () => {
    expect(weightBeside(0.06 * LB, 6 * LB, "us")).toBe("0.06 lb");
    expect(weightBeside(2 * LB, 8 * OZ, "us")).toBe("32.00 oz");
    expect(weightBeside(0, 6 * LB, "us")).toBe("0 lb");
  });

  it("reads a bag as it is printed", () => {
    expect(bagWeight(50 * LB, "us")).toBe("50 lb");
    expect(bagWeight(25, "us")).toBe("25 kg");
    expect(bagWeight(4.5 * LB, "us")).toBe("4.5 lb");
    expect(bagWeight(12 * OZ, "us")).toBe("12 oz");
    expect(bagWeight(50 * LB, "metric")).toBe("50 lb");
    expect(bagWeight(22.5, "metric")).toBe("22.5 kg");
  });
});

describe("volumes and areas", () => {
  it("fills a barrow in cubic feet", () => {
    // NIST Handbook 44, Appendix C: a cubic foot is 28.316 846 592 L.
    expect(volume(6 * 28.316846592, "us")).toBe("6.0 cu ft");
    expect(volume(3.785411784, "us")).toBe("1 gal");
    expect(volume(170, "metric")).toBe("170 L");
  });
});

describe("money", () => {
  it("agrees with the platform's own table of currencies", () => {
    // Unicode CLDR, through Intl, which the program itself does not ask.
    for (const currency of [
      "USD",
      "EUR",
      "GBP",
      "JPY",
      "INR",
      "CAD",
      "AUD",
      "NZD",
      "MXN",
      "BRL",
      "CHF",
      "SEK",
    ]) {
      for (const amount of [0, 0.5, 12, 1234.5, 98765.43]) {
        if (currency === "JPY" && amount === 0.5) continue;
        const expected = new Intl.NumberFormat("en-US", { style: "currency", currency }).format(amount);
        expect(money(amount, currency), currency).toBe(expected.replace(/\u00a0/g, " "));
      }
    }
  });

  it("keeps two digits of a very small amount", () => {
    expect(money(0.0341, "USD")).toBe("$0.034");
    expect(money(0.0012, "USD")).toBe("$0.0012");
    expect(money(1e-9, "USD")).toBe("<$0.000001");
    expect(money(-3, "USD")).toBe("-$3.00");
  });

  it("is priced by the plan's weight", () => {
    expect(pricePerWeight(1 / LB, "USD", "us")).toBe("$1.00 per lb");
    expect(pricePerWeight(2.5, "EUR", "metric")).toBe("€2.50 per kg");
  });
});

describe("everything else", () => {
  it("is short and plain", () => {
    expect(decimal(1234567.891, 2)).toBe("1,234,567.89");
    expect(decimal(-0.001, 2)).toBe("0.00");
    expect(percent(0.4012)).toBe("40.1%");
    expect(percent(0.00004)).toBe("<0.01%");
    expect(percent(0)).toBe("0.0%");
    expect(length(60 * FT, "us")).toBe("60.0 ft");
    expect(length(60, "metric")).toBe("60.0 m");
    expect(howMany(240)).toBe("240");
    expect(howMany(2.5)).toBe("2.5");
    expect(howMany(4)).toBe("4");
    expect(grouped(2270)).toBe("2,270");
    expect(grouped(39.1)).toBe("39.1");
    expect(counted(1, "batch", "batches")).toBe("1 batch");
    expect(counted(1200, "plant")).toBe("1,200 plants");
    expect(listed(["a", "b", "c"])).toBe("a, b and c");
    // NIST SP 811: an acre is 43 560 square feet of 0.09290304 m2.
    expect(area(1500 * 0.09290304, "us")).toBe("1,500 sq ft");
    expect(area(43560 * 0.09290304, "us")).toBe("1.00 acres");
    expect(area(10000, "metric")).toBe("1.00 ha");
  });

  it("is never in scientific notation, and never zero for something above zero", () => {
    fc.assert(
      fc.property(positive, system, (value, units) => {
        const texts = [
          weight(value, units),
          weightBeside(value, value * 100, units),
          grams(value),
          money(value, "USD"),
          percent(value),
          scoop(value, units),
          volume(value, units),
          length(value, units),
          howMany(value),
          scaleWeight(value, 0.005, units),
          plainNumber(value),
        ];
        for (const text of texts) {
          expect(text).not.toMatch(/\de[+-]?\d/i);
          expect(text, String(value)).toMatch(/[1-9]/);
        }
      }),
      SEED,
    );
  });

  it("gives CSV numbers that read back", () => {
    fc.assert(
      fc.property(fc.double({ min: -1e12, max: 1e12, noNaN: true }), (value) => {
        const text = plainNumber(value);
        expect(text).toMatch(/^-?\d+(\.\d+)?$/);
        expect(Math.abs(Number(text) - value)).toBeLessThanOrEqual(Math.max(1e-9 * Math.abs(value), 1e-19));
      }),
      SEED,
    );
  });
});
