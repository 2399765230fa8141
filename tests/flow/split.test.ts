import { resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { bestSplitOf } from "../../src/commands/solve.ts";
import { solveBlend } from "../../src/flow/solve-blend.ts";
import { bestSplit, withShares } from "../../src/flow/split.ts";
import type { Plan } from "../../src/model.ts";
import type { Solution } from "../../src/results/solution.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";
import { seeds } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const STEPS = 20;
const PLANS = seeds(4, 12);

/** Costs of every split of the grid, each plan solved by itself; cheapest first. */
async function everySplit(plan: Plan, leastSteps: number): Promise<{ shares: number[]; cost: number }[]> {
  const found: { shares: number[]; cost: number }[] = [];
  const visit = async (steps: number[]): Promise<void> => {
    const left = STEPS - steps.reduce((sum, s) => sum + s, 0);
    if (steps.length === plan.applications.length - 1) {
      if (left < leastSteps) return;
      const shares = [...steps, left].map((s) => s / STEPS);
      const { answer } = await solveBlend(withShares(plan, shares));
      if (answer.status === "optimal") found.push({ shares, cost: answer.check.cost });
      return;
    }
    for (let s = leastSteps; s <= left; s++) await visit([...steps, s]);
  };
  await visit([]);
  return found.sort((a, b) => a.cost - b.cost);
}

describe("the best split of the applications", () => {
  it("is the best of all splits, each solved by itself, on random plans", async () => {
    let compared = 0;
    let improved = 0;
    for (let seed = 0; compared < PLANS; seed++) {
      const spec = randomSpec(seed);
      const { applications } = spec;
      if (spec.blend !== "one" || applications.length < 2 || applications.length > 3) continue;
      const plan = loadTree(toTree(spec, seed));
      const leastSteps = seed % 3;
      const all = await everySplit(plan, leastSteps);
      if (all.length === 0 && compared < 0.75 * PLANS) continue;
      compared++;
      const found = bestSplit(plan, leastSteps / STEPS);
      const name = `plan ${seed}`;
      expect(found.complete, name).toBe(true);
      if (all.length === 0) {
        expect(found.best, name).toBeNull();
        continue;
      }
      const close = (a: number, b: number): boolean => Math.abs(a - b) <= 1e-6 * Math.max(1, b);
      expect(close(found.best!.total!, all[0]!.cost), `${name}: best`).toBe(true);
      expect(close(found.bound, all[0]!.cost), `${name}: bound`).toBe(true);
      if (all[1]) expect(close(found.runnerUp!.total!, all[1].cost), `${name}: next`).toBe(true);
      const shares = found.best!.shares;
      expect(
        shares.reduce((sum, s) => sum + s, 0),
        name,
      ).toBeCloseTo(1, 12);
      expect(Math.min(...shares), name).toBeGreaterThanOrEqual(leastSteps / STEPS);
      const { answer } = await solveBlend(withShares(plan, shares));
      expect(answer.status === "optimal" && close(answer.check.cost, found.best!.total!), name).toBe(true);
      if (found.today.total === null || found.best!.total! < found.today.total - 1e-6) improved++;
    }
    expect(improved).toBeGreaterThan(PLANS / 4);
  }, 60_000);

  it("searches grids too large to try one by one", () => {
    // 8 applications, each at least 5 %: 50,388 splits. A material that takes a season to release goes on early.
    const plan = loadTree({
      plan: "Many rounds",
      amendments: {
        slow: {
          analysis: { N: 5 },
          packs: [{ size: "10 kg", price: 10 }],
          release: { other: { at_once: "0%", later: "100%", half_life: "40 days" } },
        },
      },
      target: { target: "Crop", season: "100 days", need: { per: "bed", N: "3 kg" } },
      bed: { plants: 100 },
      applications: Array.from({ length: 8 }, (_, t) => ({
        name: `round ${t}`,
        day: 10 * t,
        share: "12.5%",
      })),
    });
    const found = bestSplit(plan, 0.05);
    expect(found).toMatchObject({ complete: true, splits: 50388 });
    expect(found.best!.shares).toEqual([0.65, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05]);
    expect(found.runnerUp!.shares).toEqual([0.6, 0.1, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05]);
    // Available per kg: 0.05 x the mean over the shares of 1 - 2^(-(100 - day) / 40).
    const released = (day: number): number => 1 - 2 ** (-(100 - day) / 40);
    const mean = found.best!.shares.reduce((sum, share, t) => sum + share * released(10 * t), 0);
    expect(found.best!.total).toBeCloseTo(3 / 0.05 / mean, 9);
  });

  it("keeps what may not go into an application out of it", async () => {
    // The cheap meal may not go on at planting, so that it is of use only when nothing is spread then.
    const plan = loadTree({
      plan: "Late meal",
      amendments: {
        cheap: { analysis: { N: 10 }, packs: [{ size: "10 kg", price: 5 }], release: "at-once" },
        dear: { analysis: { N: 10 }, packs: [{ size: "10 kg", price: 50 }], release: "at-once" },
      },
      target: { target: "Crop", season: "100 days", need: { per: "bed", N: "3 kg" } },
      bed: { plants: 100 },
      applications: [
        { name: "planting", day: 0, share: "50%" },
        { name: "later", day: 40, share: "50%" },
      ],
      limits: { cheap: { not_in: ["planting"] } },
    });
    expect(bestSplit(plan, 0).best).toEqual({ shares: [0, 1], total: expect.closeTo(15, 9) });
    expect(bestSplit(plan, 0.05).best!.total).toBeCloseTo(150, 9);
  });

  it("is what solve --best-split prints, and the mix is that of the best split", async () => {
    const world = testWorld();
    const plan = resolve(ROOT, "examples/brassica-terraces/plan.yaml");
    expect(await main(["solve", plan, "--best-split", "10%", "--json"], world)).toBe(0);
    const solution = JSON.parse(world.written.stdout) as Solution;
    const split = solution.split!;
    expect(split).toMatchObject({ least: 0.1, step: 0.05, splits: 120, complete: true, found: true });
    expect(split.total!).toBeCloseTo(solution.cost.total!, 9);
    expect(solution.inputs.applications.map(({ share }) => share)).toEqual(
      split.applications.map(({ share }) => share),
    );
    const shares = split.applications.map(({ share }) => `${100 * share}%`);
    const again = testWorld();
    const sets = shares.flatMap((share, t) => ["--set", `applications.${t}.share=${share}`]);
    await main(["solve", plan, ...sets, "--json"], again);
    expect((JSON.parse(again.written.stdout) as Solution).cost.total).toBeCloseTo(split.total!, 9);
    expect(split.total!).toBeLessThan(split.today!);
    expect(split.runnerUp!).toBeGreaterThan(split.total!);
  });

  it.each([
    ["40%", /at most 30% is possible/],
    ["10", /write `10%`/],
    ["-5%", /below zero/],
  ])("refuses a least share of %s with a remedy", async (value, message) => {
    const plan = loadTree({
      plan: "Three rounds",
      amendments: { meal: { analysis: { N: 5 }, packs: [{ size: "10 kg", price: 10 }], release: "fast" } },
      target: { target: "Crop", season: "100 days", need: { per: "bed", N: "3 kg" } },
      bed: { plants: 100 },
      applications: [
        { name: "one", day: 0 },
        { name: "two", day: 20 },
        { name: "three", day: 40 },
      ],
    });
    const refused = await bestSplitOf(plan, value);
    expect(refused.ok).toBe(false);
    if (!refused.ok) expect(`${refused.problems[0]!.message} ${refused.problems[0]!.hint}`).toMatch(message);
    const each = await bestSplitOf({ ...plan, blend: "each" }, true);
    expect(!each.ok && each.problems[0]!.hint).toContain("blend: one");
  });
});
