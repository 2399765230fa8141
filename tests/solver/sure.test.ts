import { describe, expect, it } from "vitest";
import { normalQuantile } from "../../src/solver/normal.ts";
import type { Program } from "../../src/solver/program.ts";
import { mergedCuts, type ProvenSure, pricedOf, type SureRow, solveSure } from "../../src/solver/sure.ts";
import { checkSure, isSureProven } from "../../src/solver/verify-sure.ts";

const tag = (label: string) => ({ kind: "other", label });
const alone = (j: number, cv: number) => ({ index: [j], value: [cv], constant: 0 });

async function solved(
  program: Program,
  sure: readonly SureRow[],
  ties: number[][] = [],
): Promise<ProvenSure> {
  const answer = await solveSure(program, sure, ties);
  if (answer.status !== "optimal") throw new Error(`not solved: ${answer.status}`);
  return answer;
}

/**
 * Cattle feed with protein that varies: van de Panne and Popp 1963, Management Sci. 9:405; problem 73 of Hock and
 * Schittkowski. Data and published optimum as several public test sets print them.
 */
const PROTEIN_VARIANCE = [0.28, 0.19, 20.5, 0.62];
const all = [0, 1, 2, 3];
const CATTLE_FEED: Program = {
  columns: [24.55, 26.75, 39, 40.5].map((cost, j) => ({ tag: tag(`feed ${j}`), cost, upper: Infinity })),
  rows: [
    { tag: tag("shares"), index: all, value: [1, 1, 1, 1], lower: 1, upper: 1 },
    { tag: tag("fat"), index: all, value: [2.3, 5.6, 11.1, 1.3], lower: 5, upper: Infinity },
    { tag: tag("protein"), index: all, value: [12, 11.9, 41.8, 52.1], lower: 21, upper: Infinity },
  ],
};
const protein = (z: number): SureRow => ({
  row: 2,
  z,
  factors: PROTEIN_VARIANCE.map((variance, j) => alone(j, Math.sqrt(variance))),
});

describe("cattle feed with protein that varies", () => {
  it("has the published optimum", async () => {
    const { x, check, ...answer } = await solved(CATTLE_FEED, [protein(1.645)]);
    expect(check.cost).toBeCloseTo(29.894378, 6);
    expect(check.cost).toBeCloseTo(29.89437816, 8);
    [0.6355216, 0, 0.3127019, 0.05177655].forEach((share, j) => {
      expect(x[j]).toBeCloseTo(share, 6);
    });
    expect(check.dualBound).toBeCloseTo(29.89437816, 8);
    const [only] = mergedCuts([protein(1.645)], { x, check, ...answer });
    expect(only!.price).toBeCloseTo(0.41054, 5);
    expect(Math.hypot(...only!.u)).toBeCloseTo(1, 6);
  });

  // Computed once with another cutting-plane loop on the same data.
  it.each([
    [normalQuantile(0.8), 29.41778014, [0.66569185, 0, 0.30962328, 0.02468487], 7],
    [normalQuantile(0.9), 29.67789973, [0.64922539, 0, 0.31130353, 0.03947108], 7],
    [normalQuantile(0.95), 29.89429068, [0.63552711, 0, 0.31270132, 0.05177158], 7],
    // Oats come in, for their protein varies less; near this optimum the cost is flat, so the shares are loose.
    [normalQuantile(0.99), 30.23715083, [0.23210141, 0.46059472, 0.15176952, 0.15553435], 3],
  ])("at z = %f costs %f", async (z, cost, shares, digits) => {
    const answer = await solved(CATTLE_FEED, [protein(z)]);
    expect(answer.check.cost).toBeCloseTo(cost, 7);
    shares.forEach((share, j) => {
      expect(answer.x[j]).toBeCloseTo(share, digits);
    });
    expect(answer.check.worstMargin).toBeLessThan(1e-8);
  });

  it("refuses a certificate that has been spoiled", async () => {
    const sure = [protein(1.645)];
    const { x, y, cuts } = await solved(CATTLE_FEED, sure);
    expect(isSureProven(checkSure(CATTLE_FEED, sure, { x, y, cuts }))).toBe(true);
    const refused = (claim: Partial<{ x: readonly number[]; y: readonly number[]; cuts: typeof cuts }>) => {
      expect(isSureProven(checkSure(CATTLE_FEED, sure, { x, y, cuts, ...claim }))).toBe(false);
    };
    // A direction longer than 1 asks for more than the margin, and would prove too high a bound.
    refused({ cuts: cuts.map((cut) => ({ ...cut, u: cut.u.map((entry) => 1.001 * entry) })) });
    refused({ cuts: cuts.map((cut) => ({ ...cut, u: cut.u.map((entry) => -entry) })) });
    refused({ cuts: cuts.map((cut) => ({ ...cut, u: cut.u.map(() => Number.NaN) })) });
    refused({ cuts: cuts.map((cut) => ({ ...cut, u: cut.u.slice(1) })) });
    refused({ cuts: cuts.map((cut) => ({ ...cut, sure: 1 })) });
    refused({ y: y.map((dual) => 1.01 * dual) });
    refused({ y: y.map(() => 0) });
    refused({ y: y.slice(1) });
    refused({ y: y.map(() => Number.NaN) });
    // The optimum without a margin keeps every row, but not the cone.
    refused({ x: [0.68524491, 0.01269905, 0.30205604, 0] });
    refused({ x: x.map(() => Number.NaN) });
    refused({ x: x.slice(1) });
  });
});

/** Materials that bring `grade` of a nutrient for `price`, and a need. */
function oneNeed(materials: readonly (readonly [grade: number, price: number])[], need: number): Program {
  return {
    columns: materials.map(([, price], j) => ({ tag: tag(`m${j}`), cost: price, upper: Infinity })),
    rows: [
      {
        tag: tag("need"),
        index: materials.map((_, j) => j),
        value: materials.map(([grade]) => grade),
        lower: need,
        upper: Infinity,
      },
    ],
  };
}

describe("closed forms", () => {
  it("weighs one material as need / (grade (1 - z cv))", async () => {
    const z = normalQuantile(0.9);
    const { x } = await solved(oneNeed([[0.13, 1]], 3), [{ row: 0, z, factors: [alone(0, 0.13 * 0.1)] }]);
    expect(x[0]).toBeCloseTo(26.46907, 5);
    expect(x[0]).toBeCloseTo(3 / (0.13 * (1 - 0.1 * z)), 8);
  });

  it("halves the variance of two lots alike", async () => {
    const z = normalQuantile(0.9);
    const both = oneNeed(
      [
        [0.04, 1],
        [0.04, 1],
      ],
      1,
    );
    const { x, check } = await solved(both, [{ row: 0, z, factors: [alone(0, 0.008), alone(1, 0.008)] }]);
    expect(x[0]! + x[1]!).toBeCloseTo(25 * 1.22136, 3);
    expect(check.cost).toBeCloseTo(25 / (1 - (0.2 / Math.SQRT2) * z), 6);
    // The cost is flat where they are equal, so the halves are known to half as many digits.
    expect(x[0]! / (x[0]! + x[1]!)).toBeCloseTo(0.5, 3);
    const one = await solved(oneNeed([[0.04, 1]], 1), [{ row: 0, z, factors: [alone(0, 0.008)] }]);
    expect(one.x[0]).toBeCloseTo(25 * 1.34465, 3);
  });

  it("counts what varies without any column", async () => {
    const factors = [{ index: [], value: [], constant: 0.3 }];
    const { x } = await solved(oneNeed([[1, 1]], 2), [{ row: 0, z: 2, factors }]);
    expect(x[0]).toBeCloseTo(2.6, 9);
  });

  it("settles in few rounds between corners, where many lots share a need", async () => {
    // n lots alike that vary apart: x = need / (g (1 - z cv / sqrt n)) in all, by the same closed form.
    const z = normalQuantile(0.9);
    for (const n of [3, 5, 8]) {
      const lots = oneNeed(
        Array.from({ length: n }, () => [0.04, 1] as const),
        1,
      );
      const factors = Array.from({ length: n }, (_, j) => alone(j, 0.008));
      const { check, rounds } = await solved(lots, [{ row: 0, z, factors }]);
      expect(check.cost).toBeCloseTo(25 / (1 - (0.2 / Math.sqrt(n)) * z), 5);
      expect(rounds).toBeLessThan(30);
    }
  });

  it("has no answer where one standard deviation times z is the whole content", async () => {
    const answer = await solveSure(oneNeed([[0.02, 1]], 1), [{ row: 0, z: 1.3, factors: [alone(0, 0.016)] }]);
    expect(answer.status).toBe("infeasible");
  });

  it("keeps the margin when ties are broken", async () => {
    // Alike in price, but the second varies: the first alone is enough, and weighs the same.
    const program = oneNeed(
      [
        [0.04, 1],
        [0.04, 1],
      ],
      1,
    );
    const sure = [{ row: 0, z: 1, factors: [alone(0, 0.004), alone(1, 0.004)] }];
    const { x, check, cuts, y } = await solved(program, sure, [
      [1, 1],
      [0, 1],
    ]);
    expect(isSureProven(checkSure(program, sure, { x, y, cuts }))).toBe(true);
    expect(check.cost).toBeCloseTo(25 / (1 - 0.1 / Math.SQRT2), 6);
  });

  it("starts from a neighbour and comes to the same answer", async () => {
    const before = await solved(CATTLE_FEED, [protein(normalQuantile(0.9))]);
    const sure = [protein(normalQuantile(0.95))];
    const warm = await solveSure(CATTLE_FEED, sure, [], pricedOf(sure, before.cuts, before));
    const fresh = await solved(CATTLE_FEED, sure);
    expect(warm.status === "optimal" && warm.check.cost).toBeCloseTo(fresh.check.cost, 8);
    expect(warm.status === "optimal" && warm.rounds).toBeLessThanOrEqual(fresh.rounds);
  });
});
