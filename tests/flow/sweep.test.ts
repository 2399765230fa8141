import { describe, expect, it } from "vitest";
import { type SweepRequest, sweepPlan } from "../../src/flow/sweep.ts";
import { randomSweep, tallySweeps, wrongShape } from "../check/sweeps.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, type Spec, toTree } from "../helpers/random-plan.ts";
import { referenceCost } from "../helpers/reference-model.ts";
import { seeds, slow } from "../helpers/seeds.ts";

/** Plans that have a mix. */
const PLANS = seeds(5, 100);
const GROUP = Math.min(PLANS, 10);

/** The least cost by the separately written model and HiGHS, with the swept number at a value. */
function costAt(spec: Spec, { handle }: SweepRequest, value: number): Promise<number | null> {
  if (handle.kind === "price") {
    const amendments = spec.amendments.map((a) =>
      a.id === handle.id ? { ...a, packs: [{ kg: 1, price: value }], bulkPerKg: null } : a,
    );
    return referenceCost({ ...spec, amendments });
  }
  const demands = structuredClone(spec.demands);
  demands[handle.nutrient] ??= { min: 0, max: null, appliedMax: null, aheadMax: null, uptake: null };
  demands[handle.nutrient]![handle.kind === "need" ? "min" : "appliedMax"] = value;
  return referenceCost({ ...spec, demands });
}

/** Slope of the least cost just above a value, from two of HiGHS's answers. */
async function slopeAt(spec: Spec, request: SweepRequest, value: number, step: number): Promise<number> {
  const here = await costAt(spec, request, value);
  const there = await costAt(spec, request, value + step);
  return (there! - here!) / step;
}

async function checkSweep(spec: Spec, request: SweepRequest, name: string): Promise<{ bent: boolean }> {
  const plan = loadTree(toTree(spec, 1));
  const sweep = await sweepPlan(plan, request);
  expect(sweep.points, name).toHaveLength(request.steps + 1);
  for (const point of sweep.points) {
    const cost = await costAt(spec, request, point.value);
    const at = `${name} at ${point.value}`;
    expect(point.status, at).toBe(cost === null ? "infeasible" : "optimal");
    if (cost === null) expect(point.total, at).toBeNull();
    else expect(Math.abs(point.total! - cost), at).toBeLessThanOrEqual(1e-6 * Math.max(1, cost));
  }
  expect(sweep.verification.maxGap, name).toBeLessThanOrEqual(1e-6);
  expect(sweep.verification.maxViolation, name).toBeLessThanOrEqual(1e-6);
  const { segments, breakpoints, feasible, points, names } = sweep;
  const mixes = [
    ...points.map(({ amendments }) => amendments),
    ...segments.flatMap(({ amendmentsFrom, amendmentsTo }) => [amendmentsFrom, amendmentsTo]),
  ];
  const met = new Set(mixes.flat().map(({ id }) => id));
  expect(Object.keys(names).sort(), name).toEqual([...met].sort());
  if (!feasible) return { bent: false };
  const range = request.to - request.from;
  expect(segments[0]?.from ?? feasible.from, name).toBeCloseTo(feasible.from, 6);
  segments.slice(1).forEach((segment, k) => {
    const before = segments[k]!;
    expect(segment.from, name).toBe(breakpoints[k]!.value);
    expect(Math.abs(segment.from - before.to), name).toBeLessThanOrEqual(1e-9 * range);
    expect(Math.abs(segment.totalFrom - before.totalTo), name).toBeLessThanOrEqual(
      1e-7 * Math.max(1, segment.totalFrom),
    );
  });
  // The sharpest bend of the cost, found again by bisection on the slope that HiGHS's answers have.
  const bends = segments.slice(1).map((after, k) => ({ before: segments[k]!, after }));
  const sharpest = bends
    .filter(({ before, after }) => Math.min(before.to - before.from, after.to - after.from) > 1e-3 * range)
    .sort((a, b) => Math.abs(b.after.slope - b.before.slope) - Math.abs(a.after.slope - a.before.slope))[0];
  if (!sharpest) return { bent: false };
  const { before, after } = sharpest;
  const bend = Math.abs(after.slope - before.slope);
  if (bend < 1e-3 * Math.max(Math.abs(after.slope), Math.abs(before.slope))) return { bent: false };
  const step = 1e-5 * range;
  let low = (before.from + before.to) / 2;
  let high = (after.from + after.to) / 2;
  const slopes = [await slopeAt(spec, request, low, step), await slopeAt(spec, request, high, step)] as const;
  expect(Math.abs(slopes[0] - before.slope), `${name}: slope below`).toBeLessThan(0.01 * bend);
  expect(Math.abs(slopes[1] - after.slope), `${name}: slope above`).toBeLessThan(0.01 * bend);
  while (high - low > step) {
    const middle = (low + high) / 2;
    const slope = await slopeAt(spec, request, middle, step);
    if (Math.abs(slope - slopes[0]) < Math.abs(slope - slopes[1])) low = middle;
    else high = middle;
  }
  expect(Math.abs((low + high) / 2 - after.from), `${name}: breakpoint`).toBeLessThan(3 * step);
  return { bent: true };
}

describe(`${PLANS} random plans swept, against HiGHS at each value and bisection between`, () => {
  let next = 5000;
  const bent = { price: 0, need: 0, "applied-max": 0 };
  it.each(Array.from({ length: PLANS / GROUP }, (_, k) => k))(
    "plans %#",
    async () => {
      for (let found = 0; found < GROUP; next++) {
        const spec = randomSpec(next);
        const solution = await solvePlan(loadTree(toTree(spec, 1)));
        if (solution.status !== "optimal") continue;
        found++;
        const dearest = [...solution.amendments].sort((a, b) => b.cost - a.cost)[0]!;
        const kg = dearest.kg - dearest.stockKg;
        const requests: SweepRequest[] = [];
        if (kg > 0 && dearest.cost > 0) {
          const price = dearest.cost / kg;
          requests.push({
            handle: { kind: "price", id: dearest.id },
            from: 0.3 * price,
            to: 2.5 * price,
            steps: 5,
            understood: "",
          });
        }
        const demand = solution.nutrients[found % solution.nutrients.length]!;
        if (demand.minKg > 0)
          requests.push({
            handle: { kind: "need", nutrient: demand.nutrient },
            from: 0.2 * demand.minKg,
            to: 1.8 * demand.minKg,
            steps: 5,
            understood: "",
          });
        const { appliedKg } = solution.nutrients.find(({ nutrient }) => nutrient === "N")!;
        requests.push({
          handle: { kind: "applied-max", nutrient: "N" },
          from: 0.2 * appliedKg,
          to: 1.3 * appliedKg,
          steps: 4,
          understood: "",
        });
        const request = requests[next % requests.length]!;
        const result = await checkSweep(spec, request, `plan ${next}, ${JSON.stringify(request.handle)}`);
        if (result.bent) bent[request.handle.kind]++;
      }
    },
    120_000,
  );

  it("has met breakpoints of every kind", () => {
    expect(bent.price).toBeGreaterThan(seeds(0, 15));
    expect(bent.need).toBeGreaterThan(seeds(0, 10));
    expect(bent["applied-max"]).toBeGreaterThan(seeds(0, 10));
  });
});

describe("the shape of random sweeps", () => {
  const SWEEPS = seeds(5, 40);

  slow(
    "is right, and every point costs what it does by itself",
    async () => {
      const { wrong, points } = await tallySweeps(2000, SWEEPS, 40);
      expect(wrong).toEqual([]);
      expect(points).toBe(SWEEPS * 41);
    },
    60_000,
  );

  it("is seen to be wrong where slopes fall, ends do not join or points are off", async () => {
    let found = null;
    for (let seed = 2000; !found; seed++) found = await randomSweep(seed, 10);
    const { plan, request } = found;
    const sweep = await sweepPlan(plan, request);
    expect(wrongShape(sweep, request)).toBeNull();
    const [first] = sweep.segments;
    const total = first!.totalFrom * 1.01 + 0.01;
    expect(wrongShape({ ...sweep, segments: [{ ...first!, slope: first!.slope + total }] }, request)).toMatch(
      /slope/,
    );
    expect(
      wrongShape(
        { ...sweep, points: sweep.points.map((p) => (p.total === null ? p : { ...p, total })) },
        request,
      ),
    ).toMatch(/off its segment/);
  });
});

describe("sweeps in closed form", () => {
  // Pellets 4-3-0 and feather meal 13-0-0, at once available; 3 kg of N wanted, at most 1.5 kg of P2O5 applied.
  const plan = loadTree({
    plan: "Two meals",
    units: "metric",
    amendments: {
      feathers: { analysis: { N: 13 }, packs: [{ size: "10 kg", price: 10 }], release: "at-once" },
      pellets: { analysis: { N: 4, P2O5: 3 }, bulk: { price: 0.3, per: "kg" }, release: "at-once" },
    },
    target: {
      target: "Test crop",
      season: "100 days",
      need: { per: "bed", N: "3 kg" },
      applied_max: { per: "bed", P2O5: "1.5 kg" },
    },
    bed: { plants: 100 },
  });

  it("finds where pellets become dearer than feathers", async () => {
    const sweep = await sweepPlan(plan, {
      handle: { kind: "price", id: "pellets" },
      from: 0,
      to: 0.5,
      steps: 4,
      understood: "",
    });
    expect(sweep.today).toBeCloseTo(0.3, 12);
    expect(sweep.breakpoints).toHaveLength(1);
    expect(sweep.breakpoints[0]).toMatchObject({ entered: [], left: ["pellets"] });
    expect(sweep.breakpoints[0]!.value).toBeCloseTo(4 / 13, 12);
    expect(sweep.points[0]!.total).toBeCloseTo(1 / 0.13, 9);
    expect(sweep.points[4]).toEqual({
      value: 0.5,
      status: "optimal",
      total: expect.closeTo(3 / 0.13, 9),
      amendments: [{ id: "feathers", kg: expect.closeTo(3 / 0.13, 9) }],
    });
    expect(sweep.segments.map(({ slope }) => slope)).toEqual([expect.closeTo(50, 9), expect.closeTo(0, 9)]);
  });

  it("finds the need at which pellets reach their cap", async () => {
    const sweep = await sweepPlan(plan, {
      handle: { kind: "need", nutrient: "N" },
      from: 0,
      to: 4,
      steps: 2,
      understood: "",
    });
    expect(sweep.breakpoints).toHaveLength(1);
    expect(sweep.breakpoints[0]).toMatchObject({
      entered: ["feathers"],
      left: [],
      binds: ["cap on P2O5 applied"],
      frees: [],
    });
    expect(sweep.breakpoints[0]!.value).toBeCloseTo(2, 9);
    expect(sweep.points.map(({ total }) => total)).toEqual([
      expect.closeTo(0, 9),
      expect.closeTo(15, 9),
      expect.closeTo(15 + 2 / 0.13, 9),
    ]);
  });

  it("finds the cap above which pellets alone do, and says where nothing fits", async () => {
    const only = { ...plan, amendments: plan.amendments.filter(({ id }) => id === "pellets") };
    const both = await sweepPlan(plan, {
      handle: { kind: "applied-max", nutrient: "P2O5" },
      from: 0,
      to: 3,
      steps: 3,
      understood: "",
    });
    expect(both.breakpoints.map(({ value }) => value)).toEqual([expect.closeTo(2.25, 9)]);
    expect(both.breakpoints[0]).toMatchObject({ entered: [], left: ["feathers"] });
    const alone = await sweepPlan(only, {
      handle: { kind: "applied-max", nutrient: "P2O5" },
      from: 0,
      to: 3,
      steps: 3,
      understood: "",
    });
    expect(alone.feasible).toEqual({ from: expect.closeTo(2.25, 9), to: 3 });
    expect(alone.points.map(({ status }) => status)).toEqual([
      "infeasible",
      "infeasible",
      "infeasible",
      "optimal",
    ]);
    expect(alone.conflicts).toEqual({ from: ["N over the season", "cap on P2O5 applied"], to: [] });
  });

  it("says that nothing fits, whatever the price", async () => {
    const capped = {
      ...plan,
      demands: plan.demands.map((d) => ({ ...d, appliedMaxKg: d.nutrient === "N" ? 1 : d.appliedMaxKg })),
    };
    const sweep = await sweepPlan(capped, {
      handle: { kind: "price", id: "pellets" },
      from: 0.1,
      to: 0.5,
      steps: 2,
      understood: "",
    });
    expect(sweep.feasible).toBeNull();
    expect(sweep.segments).toEqual([]);
    expect(sweep.points.every(({ total }) => total === null)).toBe(true);
    expect(sweep.conflicts.from).toEqual(["N over the season", "cap on N applied"]);
  });

  it("says that nothing fits anywhere", async () => {
    const sweep = await sweepPlan(plan, {
      handle: { kind: "need", nutrient: "K2O" },
      from: 1,
      to: 2,
      steps: 2,
      understood: "",
    });
    expect(sweep.feasible).toBeNull();
    expect(sweep.points.every(({ total }) => total === null)).toBe(true);
    expect(sweep.conflicts.from).toEqual(["K2O over the season"]);
  });
});
