import { readFileSync } from "node:fs";
import { describe, expect, it, vi } from "vitest";
import type { Plan } from "../../src/model.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { checkBag, furtherOf, planOf } from "../helpers/check-bags.ts";
import { glpkTotal, highsTotal, specOf } from "../helpers/reference-shop.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { DEMO, ENDLESS, load, recheck, set, shop } from "../helpers/shop.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

describe("the demo's purchase", () => {
  // GLPK 5 and HiGHS on the model written a second time in tests/helpers/reference-shop.ts.
  it("costs what GLPK and HiGHS say, proven, without the larger solver", async () => {
    const plan = load(DEMO);
    const shopping = await shop(plan);
    expect(shopping.status).toBe("optimal");
    expect(shopping.gap).toBeLessThanOrEqual(1e-6);
    expect(shopping.verification.engine).toBe("branch and bound");
    expect(await highsTotal(specOf(plan))).toBeCloseTo(shopping.total!, 6);
    expect(await glpkTotal(specOf(plan))).toBeCloseTo(shopping.total!, 6);
    recheck(shopping, plan);
  });

  // Every purchase of at most eight packs that costs less is tried; HiGHS says whether a mix exists on it.
  slow("has no cheaper purchase, by hand", async () => {
    const plan = load(DEMO, [
      set("only", ["feather-meal", "turkey-litter-pellets", "langbeinite", "soybean-meal"]),
    ]);
    const shopping = await shop(plan);
    const offers = plan.amendments.flatMap((a) => a.packs.map((pack) => ({ ...pack, a })));
    const deliveryOf = (picked: readonly number[]): number =>
      plan.suppliers.reduce((sum, supplier) => {
        const own = offers.map((o, k) => (o.a.supplier === supplier.id ? o.price * picked[k]! : 0));
        const goods = own.reduce((x, y) => x + y, 0);
        return goods === 0 || goods >= (supplier.freeOver ?? Infinity) ? sum : sum + supplier.delivery;
      }, 0);
    const cheaper: number[][] = [];
    const visit = (k: number, picked: number[], goods: number): void => {
      if (goods >= shopping.total!) return;
      if (k === offers.length) {
        if (goods + deliveryOf(picked) < shopping.total! - 1e-6) cheaper.push([...picked]);
        return;
      }
      for (let n = 0; n <= 8 && goods + n * offers[k]!.price < shopping.total!; n++)
        visit(k + 1, [...picked, n], goods + n * offers[k]!.price);
    };
    visit(0, [], 0);
    expect(cheaper.length).toBeGreaterThan(50);
    const most = (x: readonly number[], y: readonly number[]) => y.every((n, k) => n >= x[k]!);
    // What is part of a larger purchase that is cheaper too need not be tried by itself.
    const largest = cheaper.filter((x) => !cheaper.some((y) => y !== x && most(x, y)));
    for (const picked of largest) {
      const stocked: Plan = {
        ...plan,
        amendments: plan.amendments.map(({ packs: _, ...a }) => ({
          ...a,
          packs: [],
          stockKg:
            a.stockKg + offers.reduce((kg, o, k) => kg + (o.a.id === a.id ? o.sizeKg * picked[k]! : 0), 0),
        })),
      };
      expect(await highsTotal(specOf(stocked)), picked.join(" ")).toBeNull();
    }
  });

  it("says what whole packs add to the cost by weight", async () => {
    const plan = load(DEMO);
    const [shopping, solution] = [await shop(plan), await solvePlan(plan)];
    // The worth of the mix on the packs, which is not the mix of least worth.
    expect(shopping.byWeight!).toBeGreaterThanOrEqual(solution.cost.total! - 1e-9);
    expect(shopping.goods!).toBeGreaterThan(solution.cost.total!);
  });
});

describe("random purchases", () => {
  // GLPK on the model written a second time; what it does not finish in 10 seconds is left to HiGHS.
  it.each(seeds([3, 5, 15], [3, 5, 11, 15, 27, 28, 46, 53]))("seed %i agrees", async (seed) => {
    let tally = await checkBag(seed, 10, "glpk", false);
    if (tally.reference === undefined) tally = await checkBag(seed, 10, "highs", false);
    expect(tally, `${tally.status} ${tally.total} against ${tally.reference}`).toMatchObject({
      agrees: true,
    });
  });

  // HiGHS on that model with the further limits.
  it.each([
    ["simple", 3],
    ["simple", 5],
    ["simple", 14],
    ["left", 4],
    ["left", 5],
    ["left", 14],
  ] as const)("%s, seed %i agrees", async (kind, seed) => {
    const tally = await checkBag(seed, 10, "highs", false, furtherOf(seed, kind));
    expect(tally, `${tally.status} ${tally.total} against ${tally.reference}`).toMatchObject({
      agrees: true,
    });
  });

  slow("add up again, line by line", async () => {
    for (const seed of seeds([1, 15], [1, 15, 30, 45])) {
      const { plan } = planOf(seed);
      const shopping = await shop(plan);
      if (shopping.status !== "infeasible") recheck(shopping, plan);
    }
  });
});

describe("a program on which javascript-lp-solver does not return", () => {
  // HiGHS on the model written a second time. `scripts/search-endless.mjs` shows how long the other solver was given.
  slow("ends with a proven purchase", async () => {
    const plan = load(ENDLESS);
    const shopping = await shop(plan, { seconds: 10, clock: () => performance.now() });
    expect(shopping.status).toBe("optimal");
    expect(await highsTotal(specOf(plan))).toBeCloseTo(shopping.total!, 6);
  });
});

it("ships the endless plan with its origin", () => {
  expect(readFileSync(ENDLESS, "utf8")).toContain("scripts/search-endless.mjs");
});
