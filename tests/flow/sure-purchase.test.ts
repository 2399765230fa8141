/**
 * Purchases that are to be as sure as asked: the chance of the mix that is printed by a second model with draws of its own
 * (tests/helpers/reference-sure.ts), and every cheaper purchase counted out and given to HiGHS.
 */
import { describe, expect, test } from "vitest";
import { SeasonWork } from "../../src/field/sureness.ts";
import { Deadline, errandFor, solveBeds } from "../../src/flow/purchase.ts";
import { buyWithMargins, type Purchased } from "../../src/flow/purchase-mix.ts";
import { buySurely } from "../../src/flow/purchase-sure.ts";
import { workAsked } from "../../src/flow/sure.ts";
import type { Plan, SureAsked } from "../../src/model.ts";
import { normalQuantile } from "../../src/solver/normal.ts";
import { bought } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { randomSpec, type Spec, toTree } from "../helpers/random-plan.ts";
import { LinearSeasons, sureNeeds, sureReference } from "../helpers/reference-sure.ts";
import { slow } from "../helpers/seeds.ts";
import { shippedPlan } from "../helpers/shipped-plans.ts";

/** A random plan that has a mix. */
const BEDS = 24;
const TOLERANCE = 0.0025;

async function errandOfPlans(...plans: Plan[]) {
  const solved = await solveBeds(plans);
  if (!("beds" in solved)) return null;
  return errandFor(solved.beds, {}, new Deadline(60, () => 0));
}

/** A small plan with whole packs alone, sure of its nitrogen. */
function smallSpec(seed: number): Spec {
  const spec = randomSpec(seed);
  const amendments = spec.amendments
    .slice(0, 5)
    .map((a) => ({ ...a, packs: a.packs.slice(0, 1), bulkPerKg: null }));
  const limits = Object.entries(spec.limits).filter(([id]) => amendments.some((a) => a.id === id));
  return { ...spec, amendments, limits: Object.fromEntries(limits) };
}

function normals(seed: number): () => number {
  const r = seeded(seed);
  return () => Math.sqrt(-2 * Math.log(1 - r.next())) * Math.cos(2 * Math.PI * r.next());
}

/** Counts of packs that cost less than a sum, none of which could have a pack more. */
function fullest(prices: readonly number[], most: number): number[][] {
  const found: number[][] = [];
  const walk = (k: number, left: number, counts: readonly number[]): void => {
    if (k === prices.length) {
      if (prices.every((price) => price > left)) found.push([...counts]);
      return;
    }
    for (let n = 0; n * prices[k]! <= left; n++) walk(k + 1, left - n * prices[k]!, [...counts, n]);
  };
  walk(0, most, []);
  return found;
}

/** Whether packs and stock can keep margins of a level, by HiGHS. */
async function canBe(spec: Spec, counts: readonly number[], level: number): Promise<boolean> {
  const amendments = spec.amendments.map((a, i) => ({
    ...a,
    stockKg: a.stockKg + counts[i]! * a.packs[0]!.kg,
    packs: [{ kg: 1, price: 1 }],
  }));
  const z = normalQuantile(level);
  const found = await sureReference({ ...spec, amendments }, sureNeeds(spec, ["N"]), () => z);
  return found !== null && found.cost <= 1e-6;
}

/** By amendment of a spec. */
function bySpec<T>(spec: Spec, plan: Plan, values: readonly T[], none: T): T[] {
  return spec.amendments.map(({ id }) => {
    const a = plan.amendments.findIndex((one) => one.id === id);
    return a < 0 ? none : values[a]!;
  });
}

const worked = (plan: Plan, { mixes }: Purchased, bed = 0) => workAsked(new SeasonWork(plan), mixes[bed]!);

describe("random plans sure of nitrogen", () => {
  const SEEDS = Array.from({ length: 40 }, (_, seed) => seed);
  const LEVELS = [0.7, 0.8, 0.9, 0.95];
  slow(
    "are as sure as asked, and no cheaper purchase is surer",
    async () => {
      const seen = { plans: 0, cheaper: 0 };
      const wrong: string[] = [];
      for (const seed of SEEDS) {
        const p = LEVELS[seed % LEVELS.length]!;
        const spec = smallSpec(seed);
        const plan: Plan = { ...loadTree(toTree(spec, seed)), sure: { each: [{ nutrient: "N", p }] } };
        const errand = await errandOfPlans(plan);
        const found = errand && (await buySurely(errand));
        if (!found || !("found" in found)) continue;
        seen.plans++;
        const met = Math.min(...worked(plan, found).needs.map((need) => need.met));
        if (met < p - TOLERANCE) wrong.push(`${seed}: worked ${met}, asked ${p}`);
        const kg = bySpec(
          spec,
          plan,
          found.mixes[0]!,
          spec.applications.map(() => 0),
        );
        const draws = new LinearSeasons(normals(seed), 4000);
        const drawn = Math.min(...sureNeeds(spec, ["N"]).map((need) => draws.met([need], kg)));
        if (drawn < p - 0.02) wrong.push(`${seed}: drawn ${drawn}, asked ${p}`);
        const prices = spec.amendments.map((a) => a.packs[0]!.price);
        const total = found.found.point.cost;
        // The law of margins and worked seasons differ by about a point.
        const level = Math.min(0.995, p + 0.015);
        const most = total * (1 - 1e-6) - 0.01;
        if (prices.reduce((ways, price) => ways * (1 + most / price), 1) > 300_000) continue;
        const all = fullest(prices, most);
        const cheaper = all.filter((_, k) => k % Math.ceil(all.length / 12) === 0);
        for (const counts of cheaper) {
          seen.cheaper++;
          if (await canBe(spec, counts, level)) wrong.push(`${seed}: ${counts} cost less than ${total}`);
        }
      }
      expect(wrong).toEqual([]);
      expect(seen.plans).toBeGreaterThan(5);
      expect(seen.cheaper).toBeGreaterThan(20);
    },
    120_000,
  );
});

describe("shipped plans", () => {
  const root = new URL("../..", import.meta.url).pathname;
  const asked = (crop: string, sure: SureAsked): Plan => ({ ...shippedPlan(root, crop), sure });

  test("a purchase by margins alone that is surer than asked together gives way to a cheaper one", async () => {
    const nutrients = shippedPlan(root, "pea").demands.flatMap((d) => (d.minKg > 0 ? [d.nutrient] : []));
    const plan = asked("pea", { each: [], together: { nutrients, p: 0.6 } });
    const errand = (await errandOfPlans(plan))!;
    const [aimed, before] = [await buySurely(errand, false), await buyWithMargins(errand, false)];
    if (!("found" in aimed && "found" in before)) throw new Error("no purchase");
    expect(worked(plan, aimed).together).toBeGreaterThanOrEqual(0.6 - TOLERANCE);
    expect(worked(plan, aimed).together).toBeLessThan(worked(plan, before).together);
    expect(aimed.found.point.cost).toBeLessThan(before.found.point.cost - 0.01);
  }, 60_000);

  slow(
    "beds that share a purchase are each as sure as they ask, and the total is the same with ties",
    async () => {
      const bed = (name: string, p: number): Plan => ({
        ...loadTree(toTree(smallSpec(BEDS), BEDS)),
        name,
        sure: { each: [{ nutrient: "N", p }] },
      });
      const plans = [bed("one", 0.9), bed("another", 0.7)] as const;
      const found = await buySurely((await errandOfPlans(...plans))!, false);
      if (!("found" in found)) throw new Error("no purchase");
      [0.9, 0.7].forEach((p, k) => {
        const met = Math.min(...worked(plans[k]!, found, k).needs.map((need) => need.met));
        expect(met).toBeGreaterThanOrEqual(p - TOLERANCE);
      });
      const answer = await bought(plans);
      expect(answer.ok && answer.value.total).toBeCloseTo(found.found.point.cost, 2);
    },
    60_000,
  );
});
