import { describe, expect, it, vi } from "vitest";
import { DEMO, load, shop, small } from "../helpers/shop.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

describe("further demands", () => {
  const meal =
    "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 70 kg, price: 50}, {size: 10 kg, price: 12}]}";

  it("keeps to a budget, or names the least that would do", async () => {
    const plan = small(meal);
    // 70 + 3 x 10 kg for 86; 2 x 70 for 100.
    expect(await shop(plan, { budget: 86 })).toMatchObject({
      status: "optimal",
      total: 86,
      inputs: { budget: 86 },
    });
    const none = await shop(plan, { budget: 85.99 });
    expect(none).toMatchObject({ status: "infeasible", purchases: [] });
    expect(none.conflicts[0]!.text).toContain("at most $85.99 in all");
    expect(none.conflicts[0]!.text).toContain("the least that would do is $86.00");
  });

  it("leaves no more over than allowed, by weight and by share", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 70 kg, price: 50}, {size: 30 kg, price: 62}]}",
      "",
      "{min: 10 kg, max: 11 kg}",
    );
    // 2 x 70 for 100 leaves 30 kg (the cap allows 110 kg); 70 + 30 for 112 leaves nothing.
    expect(await shop(plan)).toMatchObject({ total: 100 });
    expect(await shop(plan, { mostLeft: { kg: 30 } })).toMatchObject({ total: 100 });
    expect(await shop(plan, { mostLeft: { kg: 29 } })).toMatchObject({ total: 112 });
    expect(await shop(plan, { mostLeft: { share: 0.2 } })).toMatchObject({ total: 112 });
    const some = await shop(plan, { mostLeft: { share: 0.25 } });
    expect(some.total).toBe(100);
    expect(some.purchases[0]!.leftKg).toBeLessThanOrEqual(0.25 * 140 + 1e-9);
    const none = await shop(plan, { mostLeft: { kg: 29 }, budget: 111 });
    expect(none.status).toBe("infeasible");
    expect(none.conflicts[0]!.demands).toHaveLength(2);
  });

  it("minds what is left of a purchase, not of the shed", async () => {
    const plan = small(
      "  meal: {name: Meal, analysis: {N: 10}, stock: 500 kg, packs: [{size: 70 kg, price: 50}]}",
    );
    expect(await shop(plan, { mostLeft: { kg: 1 } })).toMatchObject({ status: "optimal", total: 0 });
  });

  it("says why there is no purchase where there is no mix", async () => {
    const plan = small("  meal: {name: Meal, analysis: {K2O: 10}, packs: [{size: 70 kg, price: 50}]}");
    const shopping = await shop(plan);
    expect(shopping.status).toBe("infeasible");
    expect(shopping.conflicts[0]!.text).toContain("N");
  });
});

describe("a budget that is too small", () => {
  it("gets the best that it buys, marked as short", async () => {
    // 10 kg of N from packs with 2.5 kg of it each: three of the four packs that are needed are a quarter short.
    const plan = small("  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 25 kg, price: 20}]}");
    const shopping = await shop(plan, { budget: 65 });
    expect(shopping.status).toBe("infeasible");
    expect(shopping.cost.total).toBeNull();
    expect(shopping.best).toMatchObject({ total: 60, goods: 60, delivery: 0 });
    expect(shopping.best!.shortfall.nutrient).toBe("N");
    expect(shopping.best!.shortfall.fraction).toBeCloseTo(0.25, 9);
    expect(shopping.best!.purchases.map(({ id, packs }) => [id, packs[0]!.count])).toEqual([["meal", 3]]);
    expect(shopping.conflicts[0]!.text).toContain(
      "FALLS SHORT of N by 25.0%: 3 x 25 kg of Meal. That is $60.00",
    );
  });

  it("falls less short the more there is to spend", async () => {
    const short: number[] = [];
    for (const budget of [80, 120, 150]) {
      const { best } = await shop(load(DEMO), { budget });
      expect(best!.total).toBeLessThanOrEqual(budget + 1e-9);
      short.push(best!.shortfall.fraction);
    }
    expect(short).toEqual([...short].sort((x, y) => y - x));
    expect(short.at(-1)!).toBeGreaterThan(0);
  });
});

describe("pack changes", () => {
  it("tell what one pack less saves, and what falls short then", async () => {
    const plan = small("  meal: {name: Meal, analysis: {N: 10}, packs: [{size: 48 kg, price: 40}]}");
    // Three packs for 120; two hold 96 kg of the 100 needed: 4% short. By weight 100 kg cost 83.33.
    const shopping = await shop(plan, { detail: "whole" });
    expect(shopping.cost.total).toBe(120);
    const fewer = shopping.changes!.find((change) => change.kind === "fewer")!;
    expect(fewer.saves).toBeCloseTo(40, 9);
    expect(fewer.shortfall.nutrient).toBe("N");
    expect(fewer.shortfall.fraction).toBeCloseTo(0.04, 6);
    const finer = shopping.changes!.find((change) => change.kind === "finer")!;
    expect(finer.saves).toBeCloseTo(120 - 100 * (40 / 48), 6);
    expect(shopping.byWeight).toBeCloseTo(100 * (40 / 48), 6);
  });
});
