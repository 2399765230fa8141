import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { oddNumber, parseNumber } from "../src/numerals.ts";

describe("numbers as people write them", () => {
  it("reads plain numbers", () => {
    expect(parseNumber("1,500")).toBe(1500);
    expect(parseNumber("1,234,567.5")).toBe(1234567.5);
    expect(parseNumber(" 2 1/4 ")).toBe(2.25);
    expect(parseNumber("-3")).toBe(-3);
    expect(parseNumber("-1/2")).toBe(-0.5);
    for (const no of [
      "",
      "x",
      "3x",
      "1,5",
      "1,50",
      "12,3456",
      "1/0",
      "--3",
      "3 lb",
      "NaN",
      "Infinity",
      "1e999",
    ])
      expect(parseNumber(no), no).toBeUndefined();
  });

  it("reads every number as JavaScript prints it, and with commas between thousands", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 2 ** 40 }), fc.boolean(), (whole, negative) => {
        const value = negative ? -whole : whole;
        expect(parseNumber(String(value))).toBe(value);
        expect(parseNumber(value.toLocaleString("en-US"))).toBe(value);
        expect(parseNumber(`${value}.25`)).toBe(negative ? value - 0.25 : value + 0.25);
      }),
      { seed: 1, numRuns: 200 },
    );
  });

  it.each([
    ["$5", "begins with a currency sign", "`5`"],
    ["0x1f", "is not an ordinary decimal number", "`31`"],
    ["007", "begins with a zero", "`7`"],
    ["3-4 lb", "is a range", "`4 lb`"],
    ["3 to 4 lb", "is a range", "`4 lb`"],
    ["60-70 F", "is a range", "`70 F`"],
    ["20-30%", "is a range", "`30%`"],
    ["100,50", "has a comma that is not between thousands", "`100.50`"],
    ["1,0", "has a comma that is not between thousands", "`1.0`"],
    ["1.500,5 lb", "has a comma that is not between thousands", "`1500.5 lb`"],
    ["24 00 sq ft", "has a space among its digits", "`2400 sq ft`"],
    ["9O%", "has a letter O among its digits", "`90%`"],
    ["1/0 lb", "divides by zero", "an ordinary number"],
  ])("does not guess at %s", (text, wrong, hint) => {
    const fault = oddNumber(text)!;
    expect(fault).toMatchObject({ ok: false, code: "number-unreadable", given: text });
    expect(fault.wrong).toContain(wrong);
    expect(fault.hint).toContain(hint);
  });

  it.each(["0", "0.5", "-0.25", "12 lb", "1-1/2 lb", "soon", "2 100 sq ft", "1,500 lb", "5 oz"])(
    "has nothing against %s",
    (text) => {
      expect(oddNumber(text)).toBeUndefined();
    },
  );
});
