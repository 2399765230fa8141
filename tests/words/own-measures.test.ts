import { describe, expect, it } from "vitest";
import { toSi } from "../../src/units.ts";
import { handGrams, handWeight } from "../../src/words/numbers.ts";
import { dayWords, inOwnMeasure, loose } from "../../src/words/own-measures.ts";

const LB = 0.45359237;
const own = [
  { name: "barrow", litres: toSi(6, "cu ft") },
  { name: "scoop", litres: toSi(1, "quart") },
];

describe("measures of one's own", () => {
  const quarts = (count: number) => inOwnMeasure(toSi(count, "quart") * 1000, own);

  it("count in quarters of the largest that fits, at most 3 % off", () => {
    expect(quarts(2.25)).toBe("2 1/4 scoops");
    expect(quarts(1)).toBe("1 scoop");
    expect(quarts(0.5)).toBe("1/2 scoop");
    expect(quarts(2.3)).toBe("2 1/4 scoops");
    expect(quarts(2.35)).toBeNull();
    expect(quarts(0.1)).toBeNull();
    expect(inOwnMeasure(toSi(9, "cu ft") * 1000, own)).toBe("1 1/2 barrows");
    expect(loose(toSi(0.1, "quart") * 1000, "us", own)).toBe("1/3 cup + 1 tbsp");
    expect(loose(toSi(1, "cup") * 1000, "us", undefined)).toBe("1 cup");
  });

  it("are never more than 3 % off, whatever the amount", () => {
    for (let mL = 100; mL < 12_000; mL += 7) {
      const found = /^(?:(\d+)(?: |$))?(?:([13])\/([24]) )?/.exec(inOwnMeasure(mL, own.slice(1)) ?? "none");
      if (!found?.[0]) continue;
      const count = Number(found[1] ?? 0) + (found[2] ? Number(found[2]) / Number(found[3]) : 0);
      expect(Math.abs((count * toSi(1, "quart") * 1000) / mL - 1), String(mL)).toBeLessThanOrEqual(0.0301);
    }
  });
});

describe("what a hand gives", () => {
  it("has two significant digits", () => {
    expect([35.7, 262, 0.449, 9.96, 1249].map(handGrams)).toEqual([
      "36 g",
      "260 g",
      "0.45 g",
      "10 g",
      "1.2 kg",
    ]);
    expect([4.5, 12.34, 0.3].map((lb) => handWeight(lb * LB, "us"))).toEqual(["4.5 lb", "12 lb", "4.8 oz"]);
    expect(handWeight(0.0357, "metric")).toBe("36 g");
  });
});

describe("days", () => {
  it("have their date where the planting has one", () => {
    expect(dayWords(21, undefined)).toBe("day 21");
    expect(dayWords(21, "2027-05-20")).toBe("day 21 (Jun 10)");
  });
});
