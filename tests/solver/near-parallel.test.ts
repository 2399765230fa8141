/** Rows that differ by rounding only, as cuts of a margin do: the simplex must end with an answer, and prove it. */
import { describe, expect, it } from "vitest";

import { solveWithHighs } from "../../src/solver/engine-highs.ts";
import { other, type Program, rowOf, termsOf } from "../../src/solver/program.ts";
import { Simplex } from "../../src/solver/simplex.ts";
import { certify, solveProgram } from "../../src/solver/solve.ts";
import { costOf } from "../../src/solver/verify.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { type Random, seeded } from "../helpers/random.ts";
import { seeds } from "../helpers/seeds.ts";

/** Bundles of rows that are the same within `hair`, over columns most of which may cost the same. */
function bundles(r: Random, hair: number): Program {
  const n = r.whole(3, 8);
  const alike = r.chance(0.5) ? r.between(1, 3) : null;
  const columns = Array.from({ length: n }, (_, j) => ({
    tag: other("x"),
    cost: alike !== null && j < n - 1 ? alike : r.between(1, 3),
    upper: Infinity,
  }));
  const off = (): number => 1 + hair * (2 * r.next() - 1);
  const rows = Array.from({ length: r.whole(1, 3) }, () => {
    const base = columns.map(() => r.between(0.05, 0.15));
    if (r.chance(0.5)) base.fill(base[0]!);
    return Array.from({ length: r.whole(4, 14) }, () =>
      rowOf(other("cut"), termsOf(base.map((v, j) => [j, v * off()] as const)), { lower: 3 * off() }),
    );
  }).flat();
  columns.forEach((_, j) => {
    if (r.chance(0.5)) rows.push(rowOf(other("cap"), termsOf([[j, 1]]), { upper: r.between(10, 30) }));
  });
  return { columns, rows };
}

describe("rows that are nearly parallel", () => {
  it.each([1e-4, 1e-6, 1e-8, 1e-9, 1e-10, 1e-11])(
    "differ by %d, and the cost is what HiGHS finds",
    async (hair) => {
      const open: number[] = [];
      for (let seed = 1; seed <= seeds(40, 400); seed++) {
        const program = bundles(seeded(seed), hair);
        const theirs = await solveWithHighs(program);
        const own = certify(program, new Simplex(program));
        if (!own) open.push(seed);
        // Where the simplex proves nothing, the other engines are asked.
        const found = own ?? (await solveProgram(program));
        expect(found.status, `seed ${seed}`).toBe(theirs.status);
        if (found.status === "optimal" && theirs.x)
          expect(found.check.cost / costOf(program, theirs.x), `seed ${seed}`).toBeCloseTo(1, 6);
      }
      expect(open.length, `not proven by the simplex itself: ${open.join()}`).toBeLessThanOrEqual(
        seeds(0, 2),
      );
    },
  );

  // Three dressings that the season cannot tell apart: their cuts are the same but for rounding.
  it.each([55, 60])("come of equal dressings that are to meet a need in %d % of seasons", async (asked) => {
    const solution = await solvePlan(
      loadTree({
        plan: "Equal dressings",
        units: "us",
        amendments: {
          "blood-meal": { analysis: { N: 12 }, packs: [{ size: "50 lb", price: 62 }], release: "at-once" },
          gypsum: { analysis: { Ca: 22, S: 17 }, packs: [{ size: "50 lb", price: 14 }], release: "at-once" },
        },
        target: {
          target: "Crop",
          season: "120 days",
          need: { per: "1000 sq ft", N: "3 lb", S: "1 lb" },
        },
        bed: { plants: 200, area: "1500 sq ft" },
        applications: [0, 14, 28].map((day) => ({ name: `round ${day}`, day })),
        blend: "each",
        batch: { size: "60 lb" },
        scale: "0.01 lb",
        sure: { N: `${asked}%` },
      }),
    );
    expect(solution.status).toBe("optimal");
  });
});
