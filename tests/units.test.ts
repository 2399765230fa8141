import { describe, expect, it } from "vitest";
import { faultText, problemOf } from "../src/problem.ts";
import {
  DIMENSION_WORDS,
  type Dimension,
  fromSi,
  parseDay,
  parsePer,
  parsePriceChange,
  parseQuantity,
  toSi,
  UNITS,
} from "../src/units.ts";

/** The SI value of a text that must be readable. */
function si(text: string, dimension: Dimension): number {
  const read = parseQuantity(text, dimension);
  if (!read.ok) throw new Error(`${text}: ${faultText(read)}`);
  return read.value;
}

describe("exact definitions", () => {
  // NIST SP 811 (2008), Appendix B.8: pound (avoirdupois), ounce, short ton, inch, foot, yard.
  it("agrees with NIST SP 811 on weights and lengths", () => {
    expect(si("1 lb", "mass")).toBe(0.45359237);
    expect(si("1 oz", "mass")).toBe(0.45359237 / 16);
    expect(si("1 ton", "mass")).toBeCloseTo(2000 * 0.45359237, 12);
    expect(si("1 in", "length")).toBe(0.0254);
    expect(si("1 ft", "length")).toBe(0.3048);
    expect(si("1 yd", "length")).toBe(0.9144);
  });

  // NIST Handbook 44, Appendix C: US gallon 231 cubic inches, bushel 2150.42 cubic inches, cup 8 fluid ounces; the cubic inch
  // is (25.4 mm)^3 exactly.
  it("agrees with NIST Handbook 44 on volumes", () => {
    const cubicInchL = 0.254 ** 3;
    expect(si("1 gal", "volume")).toBeCloseTo(231 * cubicInchL, 12);
    expect(si("1 quart", "volume")).toBeCloseTo((231 / 4) * cubicInchL, 12);
    expect(si("1 pint", "volume")).toBeCloseTo((231 / 8) * cubicInchL, 12);
    expect(si("1 cup", "volume")).toBeCloseTo((231 / 16) * cubicInchL, 12);
    expect(si("1 cup", "volume")).toBe(0.2365882365);
    expect(si("8 fl oz", "volume")).toBeCloseTo(si("1 cup", "volume"), 14);
    expect(si("16 tbsp", "volume")).toBeCloseTo(si("1 cup", "volume"), 14);
    expect(si("48 tsp", "volume")).toBeCloseTo(si("1 cup", "volume"), 14);
    expect(si("1 bushel", "volume")).toBeCloseTo(2150.42 * cubicInchL, 10);
    // HB 44 prints a cubic foot as 7.481 gallons.
    expect(si("1 cu ft", "volume") / si("1 gal", "volume")).toBeCloseTo(7.481, 3);
    expect(si("1 cu ft", "volume")).toBeCloseTo(1728 * cubicInchL, 10);
    expect(si("1 cu yd", "volume")).toBeCloseTo(27 * 1728 * cubicInchL, 9);
  });

  // New Mexico State University Guide H-119 (Flynn and Leinauer): an acre is 43,560 square feet.
  it("agrees with the acre of NMSU H-119", () => {
    expect(si("1 acre", "area") / si("1 sq ft", "area")).toBeCloseTo(43560, 9);
    expect(si("1 sq ft", "area")).toBeCloseTo(0.3048 ** 2, 15);
    expect(si("1 sq yd", "area")).toBeCloseTo(0.9144 ** 2, 15);
    expect(si("1 ha", "area")).toBe(10_000);
  });

  // NIST SP 811, Appendix B: C = (F - 32) / 1.8; water freezes at 32 F and boils at 212 F.
  it("turns Fahrenheit into Celsius", () => {
    expect(si("32 F", "temperature")).toBeCloseTo(0, 12);
    expect(si("212 F", "temperature")).toBeCloseTo(100, 12);
    expect(si("-40 °F", "temperature")).toBeCloseTo(-40, 12);
    expect(si("64.4 F", "temperature")).toBeCloseTo(18, 12);
  });

  it("goes there and back for every unit", () => {
    for (const u of UNITS) {
      expect(toSi(fromSi(3.7, u.id), u.id)).toBeCloseTo(3.7, 12);
      // The table's own name is among the spellings that may be written.
      if (!/^\d/.test(u.id)) expect(parseQuantity(`2 ${u.id}`, u.dimension).ok, u.id).toBe(true);
    }
    expect(() => fromSi(1, "furlong")).toThrow(RangeError);
    expect(() => fromSi(1, "kg/L/m")).toThrow(RangeError);
  });
});

describe("published tables", () => {
  // New Mexico State University, Determining Amounts of Fertilizer for Small Areas (now Guide H-119), Table 1:
  // lb/acre, lb/100 sq ft, oz/100 sq ft, and lb with oz per 1000 sq ft.
  const H119: readonly (readonly [number, number, number, number, number])[] = [
    [100, 0.23, 4, 2, 5],
    [200, 0.46, 7, 4, 9],
    [400, 0.92, 15, 9, 3],
    [500, 1.15, 18, 11, 8],
    [600, 1.38, 22, 13, 12],
    [700, 1.61, 26, 16, 1],
    [800, 1.84, 29, 18, 6],
    [1000, 2.3, 37, 22, 15],
    [2000, 4.59, 73, 45, 15],
  ];
  it.each(H119)("NMSU H-119: %d lb/acre", (perAcre, lb100, oz100, lb1000, oz1000) => {
    const rate = si(`${perAcre} lb/acre`, "rate");
    expect(fromSi(rate, "lb/100 sq ft").toFixed(2)).toBe(lb100.toFixed(2));
    expect(Math.round(fromSi(rate, "oz/100 sq ft"))).toBe(oz100);
    const ounces = Math.round(fromSi(rate, "oz/1000 sq ft"));
    expect([Math.floor(ounces / 16), ounces % 16]).toEqual([lb1000, oz1000]);
  });

  // Factors computed from the exact definitions of NIST SP 811 and Handbook 44, six or more figures.
  it.each([
    ["1 lb/acre", "rate", "kg/ha", 1.120851],
    ["1 lb/1000 sq ft", "rate", "kg/ha", 48.82428],
    ["1 lb/1000 sq ft", "rate", "g/m2", 4.882428],
    ["1 lb/100 sq ft", "rate", "g/m2", 48.82428],
    ["1 oz/sq yd", "rate", "g/m2", 33.90575],
    ["1 lb/cu ft", "density", "kg/L", 0.01601846],
    ["1 kg/L", "density", "lb/cup", 0.5215878],
    ["1 g/mL", "density", "oz/cup", 8.345404],
    ["1 oz/pint", "density", "kg/L", 0.05991321],
    ["1 lb/bushel", "density", "kg/L", 0.01287186],
  ] as const)("%s", (text, dimension, unit, value) => {
    expect(Math.abs(fromSi(si(text, dimension), unit) / value - 1)).toBeLessThan(1e-6);
  });

  // LSU AgCenter, Tons to Teaspoons, Table 2: cottonseed meal 10 oz/pint. Alabama Extension MKM-14-4 (citing Kammel 1991):
  // cottonseed meal 38 lb per cubic foot. Two sources, two units, one material: within 2 percent of each other.
  it("brings two published densities of cottonseed meal together", () => {
    expect(si("10 oz/pint", "density")).toBeCloseTo(0.599, 3);
    expect(si("38 lb/cu ft", "density")).toBeCloseTo(0.609, 3);
  });

  // NOFA soil manual, Appendix A: horse manure 40 lb/bu; compost 1000 lb per cubic yard; a cubic yard is 21.7 bushels.
  it("reads densities per bushel and per cubic yard", () => {
    expect(si("40 lb/bu", "density")).toBeCloseTo(0.515, 3);
    expect(si("1000 lb/cu yd", "density")).toBeCloseTo(0.593, 3);
    expect(si("1 cu yd", "volume") / si("1 bu", "volume")).toBeCloseTo(21.7, 1);
  });
});

describe("spellings", () => {
  it.each([
    ["50 lb", "mass", 22.6796185],
    ["50lbs", "mass", 22.6796185],
    ["50 lbs.", "mass", 22.6796185],
    ["50 Pounds", "mass", 22.6796185],
    ["1,500 sq ft", "area", 139.35456],
    ["1500 sqft", "area", 139.35456],
    ["1500 sq. ft.", "area", 139.35456],
    ["1500 ft2", "area", 139.35456],
    ["1500 ft^2", "area", 139.35456],
    ["1500 ft²", "area", 139.35456],
    ["1500 SQUARE FEET", "area", 139.35456],
    ["10 m²", "area", 10],
    ["1/2 cup", "volume", 0.11829411825],
    ["½ cup", "volume", 0.11829411825],
    ["2 1/4 lb", "mass", 1.0205828325],
    ["2¼ lb", "mass", 1.0205828325],
    ["2-1/4 lb", "mass", 1.0205828325],
    [".5 kg", "mass", 0.5],
    ["1e3 g", "mass", 1],
    ["3 weeks", "time", 21],
    ["21 d", "time", 21],
    ["6 cubic feet", "volume", 169.901079552],
    ["6 ft3", "volume", 169.901079552],
    ["500 mL", "volume", 0.5],
    ["500 ML", "volume", 0.5],
    ["2 l", "volume", 2],
    ["60'", "length", 18.288],
    ["18 °C", "temperature", 18],
    ["18 deg C", "temperature", 18],
    ["-3 C", "temperature", -3],
    ["−3 C", "temperature", -3],
    ["30%", "share", 0.3],
    ["30 percent", "share", 0.3],
    ["30 per cent", "share", 0.3],
    ["0.62 kg/L", "density", 0.62],
    ["0.62 kg / l", "density", 0.62],
    ["0.62 kg per litre", "density", 0.62],
    ["4 lb/1000 sq ft", "rate", 0.019529711],
    ["4 lb per 1,000 square feet", "rate", 0.019529711],
    ["1.20/lb", "price", 2.645547146],
    ["1.20 per lb", "price", 2.645547146],
    ["60/50 lb", "price", 2.645547146],
    ["2 t", "mass", 2000],
    ["2 metric tons", "mass", 2000],
    ["2 tons", "mass", 1814.36948],
  ] as const)("%s", (text, dimension, value) => {
    expect(si(text, dimension)).toBeCloseTo(value, 9);
  });
});

describe("faults", () => {
  it.each([
    // text, dimension, code, part of the message, part of the hint
    ["50 lbb", "mass", "unit-unknown", "no such unit", "`50 lb`"],
    ["1500 sq fet", "area", "unit-unknown", "no such unit", "`1500 sq ft`"],
    ["21 dais", "time", "unit-unknown", "no such unit", "`21 days`"],
    ["2 1/4 cpu", "volume", "unit-unknown", "no such unit", "`2 1/4 cup`"],
    ["4 lb/acer", "rate", "unit-unknown", "no such unit", "`4 lb/acre`"],
    ["4 lbb/acre", "rate", "unit-unknown", "no such unit", "`4 lb/acre`"],
    ["38 lb/cu fot", "density", "unit-unknown", "no such unit", "`38 lb/cu ft`"],
    ["4 lb/1000 sq fet", "rate", "unit-unknown", "no such unit", "`4 lb/1000 sq ft`"],
    ["5 xyzzy", "mass", "unit-unknown", "no such unit", "lb, oz, ton, kg"],
    ["3 T", "mass", "unit-unknown", "more than one meaning", "`3 ton`"],
    ["2 months", "time", "unit-unknown", "no fixed length", "weeks"],
    ["50", "mass", "unit-missing", "a weight is needed", "`50 lb`"],
    ["1500", "area", "unit-missing", "an area is needed", "`1500 sq ft`"],
    ["18", "temperature", "unit-missing", "a temperature is needed", "`18 C`; units accepted: C, F"],
    ["65", "temperature", "unit-missing", "a temperature is needed", "`65 F`; units accepted: C, F"],
    ["30 x 50 ft", "area", "unit-unknown", "is two lengths", "`1500 sq ft`"],
    ["10 m by 4 m", "area", "unit-unknown", "is two lengths", "`40 m2`"],
    ["0.6", "density", "unit-missing", "a density", "lb/cu ft"],
    ["30", "share", "unit-missing", "percent sign", "`30%`"],
    ["0.3", "share", "unit-missing", "percent sign", "`30%`"],
    ["1.2", "price", "unit-missing", "a price per weight", "1.20/lb"],
    ["50 sq ft", "mass", "unit-kind", "is an area; a weight is needed", "lb"],
    ["50 lb", "area", "unit-kind", "is a weight; an area is needed", "sq ft"],
    ["4 lb/acre", "density", "unit-kind", "a rate", "kg/L"],
    ["4 lb/acre", "mass", "unit-kind", "a rate", "lb"],
    ["4 sq ft/acre", "rate", "unit-kind", "not a quantity used here", "lb/acre"],
    ["1.20/sq ft", "price", "unit-kind", "not a quantity used here", "1.20/lb"],
    ["fifty lb", "mass", "number-unreadable", "does not begin with a number", "`50 lb`"],
    ["", "mass", "number-unreadable", "there is no value here", "`50 lb`"],
    ["1,5 kg", "mass", "number-unreadable", "has a comma that is not between", "`1.5 kg`"],
    ["50 Mg", "mass", "unit-unknown", "a capital M", "`50 t`"],
    ["65°", "temperature", "unit-unknown", "does not say of which degrees", "`65 F`"],
    ["18°", "temperature", "unit-unknown", "does not say of which degrees", "`18 C`"],
    ["38°", "temperature", "unit-unknown", "does not say of which degrees", "`38 C` or `38 F`"],
    ["1.2.3 kg", "mass", "number-unreadable", "not a number", "`50 lb`"],
    ["$5/lb", "price", "number-unreadable", "currency sign", "`5/lb`"],
    ["-5 lb", "mass", "number-range", "below zero", "zero or more"],
    ["1e999 lb", "mass", "number-range", "too large", "`50 lb`"],
    ["4 lb/0 acre", "rate", "number-range", "per 0", "lb"],
  ] as const)("%s as %s", (text, dimension, code, message, hint) => {
    const read = parseQuantity(text, dimension);
    expect(read).toMatchObject({ ok: false, code });
    if (read.ok) return;
    expect(problemOf(read).message).toContain(message);
    expect(problemOf(read).hint).toContain(hint);
  });

  it("keeps to the rules given", () => {
    expect(parseQuantity("0 lb", "mass")).toEqual({ ok: true, value: 0 });
    expect(parseQuantity("0 lb", "mass", { positive: true })).toMatchObject({ code: "number-range" });
    expect(parseQuantity("101%", "share", { most: { value: 1, text: "`100%`" } })).toMatchObject({
      code: "number-range",
    });
    expect(parseQuantity("100%", "share", { most: { value: 1, text: "`100%`" } })).toEqual({
      ok: true,
      value: 1,
    });
  });

  it("names a unit of every kind as being of the wrong kind everywhere else", () => {
    for (const u of UNITS)
      for (const wanted of Object.keys(DIMENSION_WORDS) as Dimension[]) {
        if (wanted === u.dimension || /^\d/.test(u.id)) continue;
        expect(parseQuantity(`3 ${u.id}`, wanted), `${u.id} as ${wanted}`).toMatchObject({
          ok: false,
          code: "unit-kind",
        });
      }
  });
});

describe("days, counting units, changes of price", () => {
  it("reads days", () => {
    for (const [text, day] of [
      ["14", 14],
      ["day 75", 75],
      ["Day 75", 75],
      ["2 weeks", 14],
      ["-20", -20],
      ["-20 days", -20],
    ] as const)
      expect(parseDay(text)).toEqual({ ok: true, value: day });
    expect(parseDay(-3)).toEqual({ ok: true, value: -3 });
    expect(parseDay("soon")).toMatchObject({ ok: false, code: "number-unreadable" });
    // `6/3` is June 3 to one, March 6 to another, and day 2 to none.
    expect(parseDay("6/3")).toMatchObject({ ok: false, code: "number-unreadable" });
    expect(parseDay("3 lb")).toMatchObject({ ok: false, code: "unit-kind" });
    expect(parseDay(1e9)).toMatchObject({ ok: false, code: "number-range" });
    expect(parseDay(1e-320)).toMatchObject({ ok: false, code: "number-range" });
    expect(parseDay("0.5 seconds")).toMatchObject({ ok: false });
    expect(parseDay("0.0001 days")).toMatchObject({ ok: false, code: "number-range" });
    expect(parseDay("0.5 days")).toEqual({ ok: true, value: 0.5 });
    expect(parseDay(Number.NaN)).toMatchObject({ ok: false });
  });

  it("reads what amounts are counted per", () => {
    expect(parsePer("plant")).toEqual({ ok: true, value: { kind: "plant" } });
    expect(parsePer("bed")).toEqual({ ok: true, value: { kind: "bed" } });
    expect(parsePer("acre")).toEqual({ ok: true, value: { kind: "area", areaM2: 4046.8564224 } });
    expect(parsePer("1000 sq ft")).toMatchObject({ ok: true, value: { areaM2: 92.90304 } });
    expect(parsePer("100 ft2")).toMatchObject({ ok: true, value: { areaM2: 9.290304 } });
    expect(parsePer("250 m2")).toMatchObject({ ok: true, value: { areaM2: 250 } });
    expect(parsePer("acer")).toMatchObject({ ok: false, near: "acre" });
    expect(parsePer("bucket")).toMatchObject({ ok: false });
    expect(parsePer(1000)).toMatchObject({ ok: false, code: "unit-missing" });
    expect(parsePer("0 sq ft")).toMatchObject({ ok: false, code: "number-range" });
  });

  it("reads changes of price", () => {
    expect(parsePriceChange("+10%")).toEqual({ ok: true, value: { kind: "factor", factor: 1.1 } });
    expect(parsePriceChange("-5%")).toEqual({ ok: true, value: { kind: "factor", factor: 0.95 } });
    expect(parsePriceChange("1.20/lb")).toMatchObject({ ok: true, value: { kind: "price" } });
    expect(parsePriceChange("10%")).toMatchObject({ ok: false, hint: "write `+10%` or `-10%`" });
    expect(parsePriceChange("-110%")).toMatchObject({ ok: false, code: "number-range" });
    expect(parsePriceChange("3")).toMatchObject({ ok: false, code: "unit-missing" });
  });
});
