import { describe, expect, it } from "vitest";
import { cheapestPacks } from "../../src/field/packs.ts";
import type { Amendment, Pack } from "../../src/model.ts";
import { seeded } from "../helpers/random.ts";

function material(packs: Pack[], bulkPricePerKg?: number): Amendment {
  return {
    id: "meal",
    name: "Meal",
    analysis: { N: 0.1 },
    packs,
    ...(bulkPricePerKg === undefined ? {} : { bulkPricePerKg }),
    release: {
      byNutrient: {},
      other: {
        label: "at-once",
        curve: { kind: "pool", atOnce: 1, later: 0, halfLifeDays: 1, q10: 1, referenceC: 25 },
      },
    },
    stockKg: 0,
    organic: "unknown",
  };
}

/** Least cost by trying every count. */
function byTrying(packs: Pack[], needKg: number): number {
  const visit = (k: number, left: number): number => {
    const pack = packs[k];
    if (left <= 1e-9) return 0;
    if (!pack) return Infinity;
    let best = Infinity;
    for (let count = 0; count <= Math.ceil(left / pack.sizeKg); count++)
      best = Math.min(best, count * pack.price + visit(k + 1, left - count * pack.sizeKg));
    return best;
  };
  return visit(0, needKg);
}

describe("cheapest whole packs", () => {
  it("costs what trying every count finds", () => {
    const random = seeded(11);
    for (let k = 0; k < 300; k++) {
      const packs = Array.from({ length: random.whole(1, 3) }, () => ({
        sizeKg: random.pick([1, 2, 2.5, 5, 10, 11.34, 22.68]),
        price: random.whole(2, 60),
      }));
      const need = random.between(0.1, 60);
      const choice = cheapestPacks(material(packs), need)!;
      expect(choice.cost).toBeCloseTo(byTrying(packs, need), 9);
      const bought = packs.reduce((sum, pack, i) => sum + pack.sizeKg * choice.counts[i]!, 0);
      expect(bought).toBeGreaterThanOrEqual(need * (1 - 1e-9));
    }
  });

  it("does not buy a second bag for a rounding error", () => {
    expect(cheapestPacks(material([{ sizeKg: 10, price: 5 }]), 20 * (1 + 1e-12))!.counts).toEqual([2]);
  });

  it("fills up with loose weight where that is cheaper", () => {
    const choice = cheapestPacks(material([{ sizeKg: 10, price: 5 }], 0.6), 12)!;
    expect(choice.counts).toEqual([1]);
    expect(choice.bulkKg).toBeCloseTo(2, 9);
    expect(choice.cost).toBeCloseTo(6.2, 9);
  });

  it("leaves less over at equal money, then takes fewer packs", () => {
    const packs = [
      { sizeKg: 20, price: 20 },
      { sizeKg: 10, price: 20 },
      { sizeKg: 10, price: 10 },
    ];
    expect(cheapestPacks(material(packs), 20)!.counts).toEqual([1, 0, 0]);
    expect(cheapestPacks(material(packs), 9)!.counts).toEqual([0, 0, 1]);
  });

  it("ends quickly when every size costs the same per kg", () => {
    const packs = [1, 2, 3, 5, 7].map((sizeKg) => ({ sizeKg, price: sizeKg * 1.1 }));
    const choice = cheapestPacks(material(packs), 20_011.5)!;
    expect(choice.cost).toBeCloseTo(20_012 * 1.1, 6);
  });
});
