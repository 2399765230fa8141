/** Plans to buy for, purchases of them, and everything that a purchase says worked out again. */
import { join } from "node:path";
import { expect } from "vitest";
import { loadPlan, type Override } from "../../src/files/load.ts";
import type { AnswerOptions as ShopOptions } from "../../src/flow/answer.ts";
import type { Plan } from "../../src/model.ts";
import { type OneBed as Shopping, bought as shopPlans } from "./answers.ts";
import { memoryReader, projectReader } from "./files.ts";
import type { SpecCurve } from "./random-plan.ts";
import { available } from "./reference-model.ts";
import { specOf } from "./reference-shop.ts";
import { ROOT } from "./world.ts";

export const DEMO = join(ROOT, "examples/brassica-terraces/plan.yaml");
export const ENDLESS = join(ROOT, "tests/fixtures/endless/plan.yaml");
export const LB = 0.45359237;

export function load(file: string, overrides: readonly Override[] = []): Plan {
  const loaded = loadPlan(projectReader, {
    planFile: file,
    cwd: ROOT,
    recipesDir: join(ROOT, "recipes"),
    overrides,
  });
  if (!loaded.ok) throw new Error(loaded.problems.map((p) => p.message).join("; "));
  return loaded.value.plan;
}

export function set(path: string, value: unknown): Override {
  return { path: path.split("."), value, flag: `--set ${path}` };
}

/** A small plan from YAML: N from one bed of 100 m2, everything available at once. */
export function small(amendments: string, rest = "", need = "10 kg"): Plan {
  const text = [
    "plan: Small bed",
    "units: metric",
    "bed: {plants: 100, area: 100 m2}",
    `target: {target: Crop, season: 100 days, need: {per: bed, N: ${need}}}`,
    `amendments:\n${amendments}`,
    rest,
  ].join("\n");
  const loaded = loadPlan(memoryReader({ "/beds/plan.yaml": text }), {
    planFile: "plan.yaml",
    cwd: "/beds",
    recipesDir: "/recipes",
  });
  if (!loaded.ok) throw new Error(loaded.problems.map((p) => p.message).join("; "));
  return loaded.value.plan;
}

export async function shop(
  plans: Plan | readonly [Plan, ...Plan[]],
  options: ShopOptions = {},
): Promise<Shopping> {
  const result = await shopPlans("name" in plans ? [plans] : plans, options);
  if (!result.ok) throw new Error(result.problems.map((p) => p.message).join("; "));
  return result.value;
}

export function counts(shopping: Shopping): Record<string, [sizeKg: number, count: number][]> {
  return Object.fromEntries(
    shopping.purchases
      .filter((line) => line.packs.length > 0)
      .map((line) => [
        line.id,
        line.packs.map(({ sizeKg, count }): [number, number] => [Number(sizeKg.toFixed(4)), count]),
      ]),
  );
}

/** Everything a purchase says, worked out again from its lines and the plan's own numbers. */
export function recheck(shopping: Shopping, plan: Plan): void {
  let goods = 0;
  for (const line of shopping.purchases) {
    const amendment = plan.amendments.find(({ id }) => id === line.id)!;
    const packsKg = line.packs.reduce((sum, pack) => sum + pack.sizeKg * pack.count, 0);
    const cost = line.packs.reduce((sum, pack) => sum + pack.price * pack.count, 0);
    for (const pack of line.packs) {
      expect(Number.isInteger(pack.count) && pack.count > 0).toBe(true);
      expect(amendment.packs).toContainEqual(
        pack.supplier === undefined
          ? { sizeKg: pack.sizeKg, price: pack.price }
          : { sizeKg: pack.sizeKg, price: pack.price, supplier: pack.supplier },
      );
    }
    expect(line.boughtKg).toBeCloseTo(packsKg + line.bulkKg, 9);
    expect(line.cost).toBeCloseTo(cost + line.bulkKg * (amendment.bulkPricePerKg ?? 0), 9);
    expect(line.usedKg).toBeLessThanOrEqual((amendment.stockKg + line.boughtKg) * (1 + 1e-8) + 1e-9);
    expect(line.stockKg).toBeLessThanOrEqual(amendment.stockKg * (1 + 1e-9));
    const left = line.stockKg + line.boughtKg - line.usedKg;
    expect(Math.abs(line.leftKg - left)).toBeLessThanOrEqual(1e-6 * (amendment.stockKg + line.boughtKg));
    goods += line.cost;
  }
  let delivery = 0;
  for (const order of shopping.suppliers) {
    let value = 0;
    let kg = 0;
    for (const line of shopping.purchases) {
      for (const pack of line.packs)
        if ((pack.supplier ?? line.supplier) === order.id) {
          value += pack.price * pack.count;
          kg += pack.sizeKg * pack.count;
        }
      if (line.supplier !== order.id || line.bulkKg <= 0) continue;
      value += line.bulkKg * plan.amendments.find(({ id }) => id === line.id)!.bulkPricePerKg!;
      kg += line.bulkKg;
    }
    expect(order.goods).toBeCloseTo(value, 9);
    expect(order.refused).toBeUndefined();
    const supplier = plan.suppliers.find(({ id }) => id === order.id);
    const free = !supplier || (supplier.freeOver !== undefined && order.goods >= supplier.freeOver - 1e-6);
    const steps = supplier?.steps ?? [];
    const reached = steps.filter(({ upToKg }) => (upToKg ?? Infinity) >= kg - 1e-6);
    if (steps.length > 0) expect(reached.length).toBeGreaterThan(0);
    const asked = supplier
      ? supplier.delivery +
        kg * (supplier.perKg ?? 0) +
        value * (supplier.percent ?? 0) +
        (reached[0]?.price ?? 0)
      : 0;
    expect(order.delivery).toBeCloseTo(free ? 0 : asked, 9);
    delivery += order.delivery;
  }
  expect(shopping.cost.goods).toBeCloseTo(goods, 9);
  expect(shopping.cost.total).toBeCloseTo(goods + delivery, 9);
  // Needs on the day they are checked, from kilograms, analyses and release curves written a second time.
  const spec = specOf(plan);
  const whole = shopping.amendments.reduce((sum, a) => sum + a.kg, 0);
  const kgOf = (id: string, t: number): number => {
    const own = shopping.amendments.find((a) => a.id === id)?.kg ?? 0;
    if (plan.blend === "one") return own * plan.applications[t]!.share;
    return Number.NaN;
  };
  expect(whole).toBeCloseTo(
    shopping.rounds.reduce((sum, a) => sum + a.kg, 0),
    6,
  );
  if (plan.blend !== "one") return;
  const days = [...plan.applications.slice(1).map((a) => a.day), plan.seasonDays];
  for (const demand of plan.demands) {
    const curve = (id: string): SpecCurve => {
      const release = spec.amendments.find((a) => a.id === id)!.release;
      return release.byNutrient[demand.nutrient] ?? release.other;
    };
    const supplied = (day: number): number =>
      plan.amendments.reduce(
        (sum, a) =>
          sum +
          plan.applications.reduce(
            (part, application, t) =>
              part +
              kgOf(a.id, t) *
                (a.analysis[demand.nutrient] ?? 0) *
                available(curve(a.id), application.day, day, spec.soil),
            0,
          ),
        spec.credits.reduce(
          (sum, c) => sum + (c.content[demand.nutrient] ?? 0) * available(c.curve, c.day, day, spec.soil),
          0,
        ),
      );
    const end = supplied(plan.seasonDays);
    expect(end).toBeGreaterThanOrEqual(demand.minKg * (1 - 1e-6));
    if (demand.maxKg !== null) expect(end).toBeLessThanOrEqual(demand.maxKg * (1 + 1e-6));
    if (!demand.uptake) continue;
    for (const day of days) {
      const points: [number, number][] = [[0, 0], ...demand.uptake.map(([x, y]): [number, number] => [x, y])];
      const next = points.findIndex(([x]) => x >= day);
      const [x1, y1] = points[next] ?? [day, 1];
      const [x0, y0] = points[Math.max(0, next - 1)]!;
      const share = x1 === x0 ? y1 : y0 + ((day - x0) / (x1 - x0)) * (y1 - y0);
      expect(supplied(day)).toBeGreaterThanOrEqual(demand.minKg * share * (1 - 1e-6));
    }
  }
}
