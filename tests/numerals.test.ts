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
    ["3 to 4 lb", "is a range", "{min: 3 lb, max: 4 lb}"],
  ])("does not guess at %s", (text, wrong, hint) => {
    const fault = oddNumber(text)!;
    expect(fault).toMatchObject({ ok: false, code: "number-unreadable", given: text });
    expect(fault.wrong).toContain(wrong);
    expect(fault.hint).toContain(hint);
  });

  it.each(["0", "0.5", "-0.25", "12 lb", "1-1/2 lb", "soon"])("has nothing against %s", (text) => {
    expect(oddNumber(text)).toBeUndefined();
  });
});
