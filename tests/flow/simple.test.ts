import { describe, expect, it } from "vitest";
import { solveBlend, solveFreely } from "../../src/flow/solve-blend.ts";
import type { Plan } from "../../src/model.ts";
import { Simplex } from "../../src/solver/simplex.ts";
import { certify } from "../../src/solver/solve.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";
import { seeds, slow } from "../helpers/seeds.ts";

/** Every way to take at most `most` of `count`. */
function* choices(count: number, most: number, from = 0): Generator<number[]> {
  yield [];
  if (most === 0) return;
  for (let a = from; a < count; a++) for (const rest of choices(count, most - 1, a + 1)) yield [a, ...rest];
}

/** The least cost of one blend with at most so many amendments, by solving every choice of them; null: none. */
async function byTrying(plan: Plan, most: number): Promise<number | null> {
  const { program } = await solveFreely({ ...plan });
  let best: number | null = null;
  for (const chosen of choices(plan.amendments.length, most)) {
    const barred = new Set(program.use.flatMap((columns, a) => (chosen.includes(a) ? [] : columns)));
    const columns = program.columns.map((column, j) => (barred.has(j) ? { ...column, upper: 0 } : column));
    const held = { columns, rows: program.rows };
    const found = certify(held, new Simplex(held));
    if (found?.status === "optimal" && (best === null || found.check.cost < best)) best = found.check.cost;
  }
  return best;
}

describe("few amendments, against every choice of them solved by itself", () => {
  slow(
    "costs least, or is infeasible where every choice is",
    async () => {
      let feasible = 0;
      let infeasible = 0;
      for (let seed = 700; feasible + infeasible < seeds(10, 30); seed++) {
        const plan = loadTree(toTree(randomSpec(seed), seed));
        if (plan.blend !== "one" || plan.amendments.length > 9) continue;
        if ((await solveFreely(plan)).answer.status !== "optimal") continue;
        const most = 1 + (seed % 3);
        const least = await byTrying(plan, most);
        const { answer, simplicity } = await solveBlend({ ...plan, simple: { most } });
        if (least === null) {
          infeasible++;
          expect(answer.status, `plan ${seed}`).toBe("infeasible");
          expect(simplicity?.fault, `plan ${seed}`).toBeDefined();
          continue;
        }
        feasible++;
        expect(answer.status, `plan ${seed}`).toBe("optimal");
        if (answer.status === "optimal")
          expect(Math.abs(answer.check.cost - least), `plan ${seed}`).toBeLessThanOrEqual(
            1e-6 * Math.max(least, 0.1),
          );
      }
      expect(feasible).toBeGreaterThan(seeds(2, 10));
      expect(infeasible).toBeGreaterThan(seeds(0, 2));
    },
    60_000,
  );
});

describe("the time that few amendments may take", () => {
  // Twelve amendments that are alike but for their prices, and three nutrients: many choices cost nearly the same.
  const amendments = Object.fromEntries(
    Array.from({ length: 12 }, (_, k) => [
      `a${k}`,
      {
        analysis: { N: 2 + ((k * 5) % 7), P2O5: 1 + ((k * 3) % 5), K2O: 1 + ((k * 2) % 6) },
        packs: [{ size: "20 kg", price: 20 + ((k * 11) % 13) }],
        release: "at-once",
      },
    ]),
  );
  const plan = loadTree({
    plan: "Alike",
    units: "metric",
    amendments,
    target: {
      target: "Bed",
      season: "90 days",
      need: { per: "bed", N: "2 kg", P2O5: "1 kg", K2O: "1.6 kg" },
    },
    bed: { area: "100 m2" },
    simple: { most: 2, least: "1 kg" },
  });

  it("is kept, and what is not proven by then is said", async () => {
    let now = 0;
    const late = await solvePlan(plan, undefined, {
      seconds: 1,
      clock: () => {
        now += 300;
        return now;
      },
    });
    const whole = await solvePlan(plan);
    expect(whole.status).toBe("optimal");
    expect(whole.cost.gap!).toBeLessThanOrEqual(1e-6);
    expect(whole.warnings.map(({ code }) => code)).not.toContain("simple-gap");
    expect(late.status).toBe("optimal");
    expect(late.cost.total).toBeGreaterThanOrEqual(whole.cost.total! * (1 - 1e-9));
    expect(late.cost.total! - late.cost.gap! * Math.max(1, late.cost.total!)).toBeLessThanOrEqual(
      whole.cost.total! * (1 + 1e-9),
    );
    const told = late.warnings.some(({ code }) => code === "simple-gap");
    expect(told).toBe(late.cost.gap! > 1e-6);
  });
});
