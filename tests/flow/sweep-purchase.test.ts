import { describe, expect, it, vi } from "vitest";
import { type SweepRequest, withDemand } from "../../src/flow/sweep.ts";
import { sweepPurchases } from "../../src/flow/sweep-purchase.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { partsOf } from "../../src/report/report.ts";
import { sweepReport } from "../../src/report/sweep-report.ts";
import type { Sweep } from "../../src/results/sweep.ts";
import { bought as shopPlans } from "../helpers/answers.ts";
import { planOf } from "../helpers/check-bags.ts";
import { loadTree } from "../helpers/load-tree.ts";
import type { ShopSpec } from "../helpers/random-shop.ts";
import { highsTotal } from "../helpers/reference-shop.ts";
import { seeds, slow } from "../helpers/seeds.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

/** The numbers of a purchase with another price per kg of an amendment's cheapest offer, the others in proportion. */
function atPrice(spec: ShopSpec, id: string, perKg: number): ShopSpec {
  return {
    ...spec,
    amendments: spec.amendments.map((a) => {
      if (a.id !== id) return a;
      const offers = [
        ...a.packs.map(({ kg, price }) => price / kg),
        ...(a.bulkPerKg === null ? [] : [a.bulkPerKg]),
      ];
      const factor = perKg / Math.min(...offers);
      return {
        ...a,
        packs: a.packs.map(({ kg, price }) => ({ kg, price: price * factor })),
        bulkPerKg: a.bulkPerKg === null ? null : a.bulkPerKg * factor,
      };
    }),
  };
}

/** Every step is in one run, in order; neighbouring runs buy other packs. */
function checkRuns({ points, runs = [] }: Sweep): void {
  const bought = points.filter(({ total }) => total !== null);
  expect(runs.reduce((sum, { steps }) => sum + steps, 0)).toBe(bought.length);
  let k = 0;
  for (const run of runs) {
    const own = bought.slice(k, k + run.steps);
    k += run.steps;
    expect([run.from, run.to]).toEqual([own[0]!.value, own.at(-1)!.value]);
    expect([run.totalFrom, run.totalTo]).toEqual([own[0]!.total, own.at(-1)!.total]);
    const totals = own.map(({ total }) => total!);
    expect(run.total).toEqual([Math.min(...totals), Math.max(...totals)]);
    const delivery = own.map(({ purchase }) => purchase!.delivery);
    expect(run.delivery).toEqual([Math.min(...delivery), Math.max(...delivery)]);
    const counts = own.map(({ purchase }) =>
      purchase!.lines
        .flatMap(({ id, packs }) => packs.map(({ sizeKg, count }) => `${id} ${count} x ${sizeKg}`))
        .join(),
    );
    expect(new Set(counts).size).toBe(1);
  }
}

// HiGHS on the purchase written a second time in tests/helpers/reference-shop.ts, at every step.
describe("random purchases along a price, against HiGHS at each step", () => {
  it.each(seeds([], [5, 11, 15, 27]))("seed %i", async (seed) => {
    const { plan, spec } = planOf(seed);
    const [now] = await bought(seed);
    const dearest = [...now!.purchases].sort((a, b) => b.cost - a.cost)[0]!;
    const own = plan.amendments.find(({ id }) => id === dearest.id)!;
    const price = Math.min(
      ...own.packs.map((pack) => pack.price / pack.sizeKg),
      own.bulkPricePerKg ?? Infinity,
    );
    const request: SweepRequest = {
      handle: { kind: "price", id: dearest.id },
      from: 0.5 * price,
      to: 2 * price,
      steps: 4,
      understood: "",
    };
    const sweep = await sweepPurchases([plan], request);
    expect(sweep.points).toHaveLength(5);
    for (const { value, total, status } of sweep.points) {
      expect(status).toBe("optimal");
      const reference = await highsTotal(atPrice(spec, dearest.id, value));
      expect(Math.abs(total! - reference!), `at ${value}`).toBeLessThanOrEqual(1e-5 * Math.max(1, total!));
    }
    checkRuns(sweep);
  });

  async function bought(seed: number) {
    const found = await shopPlans([planOf(seed).plan]);
    return found.ok ? [found.value] : [];
  }
});

describe("a sweep of a cap by purchase", () => {
  slow("is the purchase under that cap at each step, and says where there is none", async () => {
    const { plan } = planOf(11);
    const demand = plan.demands.find(({ minKg }) => minKg > 0)!;
    const request: SweepRequest = {
      handle: { kind: "applied-max", nutrient: demand.nutrient } as const,
      from: 0,
      to: 4 * demand.minKg,
      steps: seeds(4, 8),
      understood: "",
    };
    const sweep = await sweepPurchases([plan], request);
    expect(sweep).toMatchObject({ by: "purchase", breakpoints: [], segments: [] });
    for (const point of sweep.points) {
      const found = await shopPlans([
        withDemand(plan, { kind: "applied-max", nutrient: demand.nutrient } as const, point.value),
      ]);
      if (!found.ok) throw new Error("the plan is fine");
      const { total, goods, delivery, status, byWeight } = found.value;
      expect(point).toMatchObject({ total, status, byWeight });
      if (total !== null) expect(point.purchase).toMatchObject({ goods, delivery });
    }
    const fit = sweep.points.filter(({ total }) => total !== null);
    expect(sweep.feasible).toEqual(fit.length === 0 ? null : { from: fit[0]!.value, to: fit.at(-1)!.value });
    expect(fit.length).toBeGreaterThan(0);
    expect(fit.length).toBeLessThan(sweep.points.length);
    expect(sweep.conflicts.from.length).toBeGreaterThan(0);
    checkRuns(sweep);
  });
});

// One pack of 10 kg: at 9.00 with 5.00 for delivery 14.00, at 10.00 with free delivery 10.00.
describe("a price along which delivery becomes free", () => {
  it("costs less where it is higher, and the report says so", async () => {
    const plan = loadTree({
      plan: "One pack",
      units: "metric",
      amendments: {
        meal: {
          name: "Meal",
          analysis: { N: 10 },
          release: "at-once",
          supplier: "mill",
          packs: [{ size: "10 kg", price: 9.5 }],
        },
      },
      target: { target: "Crop", season: "60 days", need: { per: "bed", N: "1 kg" } },
      suppliers: { mill: { delivery: 5, free_over: 10 } },
    });
    const handle = { kind: "price", id: "meal" } as const;
    const sweep = await sweepPurchases([plan], { handle, from: 0.8, to: 1.1, steps: 3, understood: "" });
    const totals = sweep.points.map(({ total }) => Number(total!.toFixed(9)));
    expect(totals).toEqual([13, 14, 10, 11]);
    expect(sweep.runs).toHaveLength(1);
    expect(sweep.runs![0]!.delivery).toEqual([0, 5]);
    // The chart is the line itself, no steps: 8 and 5 to 10 and 5, then 10 to 11 with free delivery.
    const blocks = partsOf(sweepReport(sweep)).flatMap((part) => part.blocks);
    const { chart } = blocks.find((block) => block.kind === "chart")!;
    const drawn = chart.series[0]!.points.map((at) => at.map((value) => Number(value.toFixed(6))));
    expect(drawn).toEqual([
      [0.8, 13],
      [1, 15],
      [1, 10],
      [1.1, 11],
    ]);
    const text = renderTerminal(sweepReport(sweep), { width: 200, colour: false });
    expect(text).toContain("here from $14.00 at $0.90/kg to $10.00 at $1.00/kg");
    // Equal packs throughout: the cost of a run is said from its least to its most.
    expect(text).toContain("$10.00 to $14.00");
  });
});
