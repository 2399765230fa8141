import { describe, expect, it } from "vitest";
import { boughtKg, goodsOf, linesOf, ordersOf, totalOf } from "../../src/field/purchase.ts";
import type { Amendment } from "../../src/model.ts";

const release = {
  byNutrient: {},
  other: {
    label: "at-once",
    curve: { kind: "pool", atOnce: 1, later: 0, halfLifeDays: 1, q10: 2, referenceC: 25 },
  },
} as const;

function amendment(id: string, fields: Partial<Amendment>): Amendment {
  return { id, name: id, analysis: {}, packs: [], release, stockKg: 0, organic: "unknown", ...fields };
}

const meal = amendment("meal", {
  packs: [
    { sizeKg: 20, price: 30 },
    { sizeKg: 5, price: 9.5 },
  ],
  supplier: "mill",
  stockKg: 3,
});
const lime = amendment("lime", { bulkPricePerKg: 0.25, supplier: "mill" });
const kelp = amendment("kelp", { packs: [{ sizeKg: 10, price: 40 }] });
const OFFERS = [kelp, lime, meal];
// Two large and one small pack of meal, 12 kg of lime, a pack of kelp.
const BOUGHT = { counts: [[1], [], [2, 1]], bulkKg: [0, 12, 0] };

describe("the arithmetic of a purchase", () => {
  it("adds packs and loose weight", () => {
    expect(boughtKg(meal, [2, 1], 0)).toBe(45);
    expect(boughtKg(lime, [], 12)).toBe(12);
    expect(goodsOf(meal, [2, 1], 0)).toBe(69.5);
    expect(goodsOf(lime, [], 12)).toBe(3);
    expect(goodsOf(meal, [0, 0], 0)).toBe(0);
  });

  it("charges each supplier once, and names those without one last", () => {
    const orders = ordersOf(OFFERS, [{ id: "mill", delivery: 20 }], BOUGHT);
    expect(orders).toEqual([
      { id: "mill", goods: 72.5, delivery: 20, freeFrom: null },
      { id: null, goods: 40, delivery: 0, freeFrom: null },
    ]);
    expect(totalOf(orders)).toBe(132.5);
  });

  it.each([
    [72.51, 20, 0.01],
    [72.5, 0, null],
    [72.5 + 5e-7, 0, null],
    [60, 0, null],
  ])("delivers free from %d", (freeOver, delivery, freeFrom) => {
    const [order] = ordersOf(OFFERS, [{ id: "mill", delivery: 20, freeOver }], BOUGHT);
    expect(order!.delivery).toBe(delivery);
    if (freeFrom === null) expect(order!.freeFrom).toBeNull();
    else expect(order!.freeFrom).toBeCloseTo(freeFrom, 9);
  });

  it("orders nothing where nothing is bought, and something where it costs nothing", () => {
    const none = { counts: [[0], [], [0, 0]], bulkKg: [0, 0, 0] };
    expect(ordersOf(OFFERS, [{ id: "mill", delivery: 20 }], none)).toEqual([]);
    const gift = { ...lime, bulkPricePerKg: 0 };
    const free = ordersOf([gift], [{ id: "mill", delivery: 20 }], { counts: [[]], bulkKg: [12] });
    expect(totalOf(free)).toBe(20);
  });

  it("says what is left, in weight and money", () => {
    const lines = linesOf(OFFERS, BOUGHT, [0, 12, 32]);
    expect(lines.map(({ id, leftKg }) => [id, leftKg])).toEqual([
      ["kelp", 10],
      ["lime", 0],
      ["meal", 16],
    ]);
    const [, , left] = lines;
    // 45 kg bought and 3 in the shed, of which 32 kg are taken; the cheapest kilogram of meal costs 1.50.
    expect(left!.leftWorth).toBeCloseTo(24, 9);
    expect(left!.packs).toEqual([
      { sizeKg: 20, count: 2, price: 30 },
      { sizeKg: 5, count: 1, price: 9.5 },
    ]);
  });

  // 45 kg and 12 kg for 72.50: 5 + 57 x 0.10 + 8 % of 72.50 (5.80) + the second step, 12.
  const mill = {
    id: "mill",
    delivery: 5,
    perKg: 0.1,
    percent: 0.08,
    steps: [
      { upToKg: 50, price: 10 },
      { upToKg: 57, price: 12 },
    ],
  };
  const mills = (fields: object) => ordersOf(OFFERS, [{ ...mill, ...fields }], BOUGHT)[0]!;

  it("adds up what is asked by order, weight, value and step", () => {
    expect(mills({}).delivery).toBeCloseTo(28.5, 9);
    expect(mills({}).refused).toBeUndefined();
    expect(mills({ freeOver: 70 }).delivery).toBe(0);
  });

  it("refuses what is heavier than the last step, free or not", () => {
    const steps = [{ upToKg: 56, price: 10 }];
    expect(mills({ steps }).refused).toBe(true);
    expect(mills({ steps, freeOver: 70 }).refused).toBe(true);
    const open = mills({ steps: [...steps, { price: 30 }] });
    expect(open.refused).toBeUndefined();
    expect(open.delivery).toBeCloseTo(46.5, 9);
  });

  it("counts a pack with the supplier that the pack names", () => {
    const packs = [meal.packs[0]!, { ...meal.packs[1]!, supplier: "barn" }];
    const orders = ordersOf([kelp, lime, { ...meal, packs }], [{ id: "barn", delivery: 4 }], BOUGHT);
    expect(orders).toEqual([
      { id: "barn", goods: 9.5, delivery: 4, freeFrom: null },
      { id: "mill", goods: 63, delivery: 0, freeFrom: null },
      { id: null, goods: 40, delivery: 0, freeFrom: null },
    ]);
  });
});
