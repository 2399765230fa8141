import { describe, expect, it, vi } from "vitest";
import { loadPlan } from "../../src/files/load.ts";
import type { Plan } from "../../src/model.ts";
import { shopList } from "../../src/report/shop-report.ts";
import { memoryReader } from "../helpers/files.ts";
import { counts, DEMO, load, shop, small } from "../helpers/shop.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

describe("what is for sale", () => {
  // Worked by hand: 10 kg of N at 10% is 100 kg.
  it("mixes sizes", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 30 kg, price: 27}, {size: 5 kg, price: 6}]}",
    );
    // 3 x 30 + 2 x 5 = 100 kg for 93; 4 x 30 for 108.
    const shopping = await shop(plan);
    expect(counts(shopping)).toEqual({
      meal: [
        [30, 3],
        [5, 2],
      ],
    });
    expect(shopping.cost.total).toBeCloseTo(93, 9);
    expect(shopping.purchases[0]!.leftKg).toBe(0);
  });

  it("costs nothing where the price is nothing", async () => {
    const plan = small("  manure: {name: Manure, analysis: {N: 1}, packs: [{size: 100 kg, price: free}]}");
    const shopping = await shop(plan);
    expect(shopping).toMatchObject({ status: "optimal", total: 0 });
    expect(counts(shopping)).toEqual({ manure: [[100, 10]] });
  });

  it("pays delivery for what is free", async () => {
    const plan = small(
      "  manure: {name: Manure, analysis: {N: 1}, packs: [{size: 100 kg, price: free}], supplier: farm}",
      "suppliers: {farm: {delivery: 30}}",
    );
    expect(await shop(plan)).toMatchObject({ status: "optimal", total: 30, delivery: 30, goods: 0 });
  });

  it("takes a huge pack where it is the cheapest in all", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 20 t, price: 80}, {size: 50 kg, price: 45}]}",
    );
    const shopping = await shop(plan);
    expect(counts(shopping)).toEqual({ meal: [[20000, 1]] });
    expect(shopping.purchases[0]!.leftKg).toBeCloseTo(19900, 6);
  });

  it("buys nothing where the shed holds enough", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, stock: 150 kg, packs: [{size: 5 kg, price: 6}]}",
    );
    const shopping = await shop(plan);
    expect(shopping).toMatchObject({ status: "optimal", total: 0, suppliers: [] });
    expect(shopping.purchases).toMatchObject([{ id: "meal", packs: [], boughtKg: 0 }]);
    // What stays in the shed is the shed's; 100 kg are taken of it.
    expect(shopping.purchases[0]!.stockKg).toBeCloseTo(100, 6);
    expect(shopping.purchases[0]!.leftKg).toBe(0);
    expect(shopList(shopping)).toBe("Nothing to buy: the shed holds enough.\n");
  });

  it("buys nothing where nothing is needed", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 5 kg, price: 6}]}",
      "credits: [{from: clover, per: bed, N: 20 kg}]",
    );
    const shopping = await shop(plan);
    expect(shopping).toMatchObject({ status: "optimal", total: 0, purchases: [] });
    // The shed is empty: it is the clover that feeds.
    expect(shopList(shopping)).toBe("Nothing to buy: what feeds the crop already is enough.\n");
  });

  it("tops packs up loose where that is cheaper", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 40 kg, price: 30}], bulk: {price: 1, per: kg}}",
    );
    // 2 x 40 kg for 60 and 20 kg loose for 20; a third pack would be 90.
    const shopping = await shop(plan);
    expect(shopping.cost.total).toBeCloseTo(80, 6);
    expect(shopping.purchases[0]!.bulkKg).toBeCloseTo(20, 6);
  });

  it("groups what has no supplier, last", async () => {
    const plan = small(
      [
        "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 40 kg, price: 30}]}",
        "  other: {name: Other, analysis: {N: 10}, packs: [{size: 20 kg, price: 16}], supplier: farm}",
      ].join("\n"),
    );
    const shopping = await shop(plan);
    expect(shopping.suppliers.map(({ id, goods }) => [id, goods])).toEqual([
      ["farm", 16],
      [null, 60],
    ]);
    expect(shopping.cost.total).toBeCloseTo(76, 9);
  });

  it("buys one pack more where that makes delivery free", async () => {
    const offers =
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 50 kg, price: 45}], supplier: farm}";
    const shopping = await shop(small(offers, "suppliers: {farm: {delivery: 60, free_over: 130}}"));
    // 2 packs and delivery: 150; 3 packs: 135.
    expect(shopping).toMatchObject({ total: 135, delivery: 0 });
    const dearer = await shop(small(offers, "suppliers: {farm: {delivery: 60, free_over: 200}}"));
    expect(dearer).toMatchObject({ total: 150, delivery: 60 });
    expect(dearer.suppliers[0]!.freeFrom).toBeCloseTo(110, 9);
  });

  it("buys more loose than is used where that makes delivery free", async () => {
    const offers = "  meal: {name: Meal, analysis: {N: 10}, bulk: {price: 1, per: kg}, supplier: farm}";
    const shopping = await shop(small(offers, "suppliers: {farm: {delivery: 60, free_over: 113}}"));
    // 100 kg and delivery: 160; 113 kg: 113, and 13 kg stay.
    expect(shopping.cost.total).toBeCloseTo(113, 6);
    expect(shopping.delivery).toBe(0);
    expect(shopping.purchases[0]!.boughtKg).toBeCloseTo(113, 6);
    const dearer = await shop(small(offers, "suppliers: {farm: {delivery: 60, free_over: 200}}"));
    expect(dearer.total).toBeCloseTo(160, 6);
    expect(dearer.purchases[0]!.boughtKg).toBeCloseTo(100, 6);
  });

  it("orders from one supplier where two deliveries cost more", async () => {
    const plan = small(
      [
        "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 50 kg, price: 45}], supplier: farm}",
        "  other: {name: Other, analysis: {N: 10}, packs: [{size: 50 kg, price: 40}, {size: 100 kg, price: 99}], supplier: mill}",
      ].join("\n"),
      "suppliers: {farm: {delivery: 5}, mill: {delivery: 20}}",
    );
    // farm 95, mill 100, one of each 110.
    expect(await shop(plan)).toMatchObject({ total: 95 });
  });
});

describe("equal money", () => {
  it("leaves less over", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 130 kg, price: 40}, {size: 55 kg, price: 20}]}",
    );
    expect(counts(await shop(plan))).toEqual({ meal: [[55, 2]] });
  });

  it("then takes fewer packs", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 10 kg, price: 4}, {size: 50 kg, price: 20}, {size: 25 kg, price: 10}]}",
    );
    expect(counts(await shop(plan))).toEqual({ meal: [[50, 2]] });
  });

  it("answers the same every time", async () => {
    const plan = load(DEMO);
    expect(JSON.stringify(await shop(plan))).toBe(JSON.stringify(await shop(plan)));
  });
});

describe("offers of one amendment from two suppliers", () => {
  const offers = (mill: string, barn: string): Plan => {
    const text = `
plan: offers
units: metric
amendments:
  meal:
    name: Meal
    analysis: {N: 10}
    release: at-once
    supplier: mill
    packs: [{size: 10 kg, price: 20}, {size: 10 kg, price: 18, supplier: barn}]
target: {season: 60 days, need: {per: bed, N: {min: 3 kg}}}
suppliers: {mill: ${mill}, barn: ${barn}}
`;
    const loaded = loadPlan(memoryReader({ "/beds/plan.yaml": text }), {
      planFile: "plan.yaml",
      cwd: "/beds",
      recipesDir: "/recipes",
    });
    if (!loaded.ok) throw new Error(loaded.problems.map((p) => p.message).join("; "));
    return loaded.value.plan;
  };
  const STEPS = "{delivery: 2, steps: [{up_to: 20 kg, price: 5}, {up_to: 30 kg, price: 9}]}";

  it("finds the cheapest split of three packs, by hand", async () => {
    // Packs from barn: none, 60 + 11 = 71; one, 40 + 7 + 18 + 4 + 1.80 = 70.80; two, 20 + 7 + 36 + 8 + 3.60 = 74.60;
    // three, 54 + 12 + 5.40 = 71.40.
    const shopping = await shop(offers(STEPS, "{per: 0.40/kg, percent: 10%}"));
    expect(shopping.cost.total).toBeCloseTo(70.8, 9);
    expect(shopping.purchases[0]!.packs).toEqual([
      { sizeKg: 10, count: 2, price: 20 },
      { sizeKg: 10, count: 1, price: 18, supplier: "barn" },
    ]);
    const rows = shopList(shopping).split("\n");
    expect(rows.find((row) => row.includes("2 x"))).toContain("(mill)");
    expect(rows.find((row) => row.includes("1 x"))).toContain("(barn)");
  });

  it("lets every charge fall away where delivery is free", async () => {
    // Three packs from barn reach 54 of goods.
    const shopping = await shop(offers(STEPS, "{per: 0.40/kg, percent: 10%, free_over: 54}"));
    expect(shopping.cost.total).toBeCloseTo(54, 9);
  });

  it("buys nothing that is too heavy to be delivered, and says so", async () => {
    const light = "{delivery: 1, steps: [{up_to: 15 kg, price: 3}]}";
    const none = await shop(offers(light, light));
    expect(none.status).toBe("infeasible");
    expect(none.conflicts[0]!.text).toContain("15.00 kg in an order from barn");
  });
});
