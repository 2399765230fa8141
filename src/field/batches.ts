/** Kilograms to barrow batches: how many, and what to weigh into each, rounded to what the scale shows. */
import type { Amendment, Plan } from "../model.ts";
import type { Notice } from "../problem.ts";
import type { SolutionApplication } from "../results/solution.ts";
import type { Amounts } from "./delivery.ts";

/** Litres per kg of a loose material; null where its density is not known. */
export function litresPerKg(amendment: Amendment): number | null {
  return amendment.densityKgPerL === undefined ? null : 1 / amendment.densityKgPerL;
}

/** Loose volume of amounts, the sum of each material's own; null where a density is missing. */
function looseLitres(plan: Plan, kg: readonly number[]): number | null {
  let sum = 0;
  for (let a = 0; a < kg.length; a++) {
    if (kg[a]! <= 0) continue;
    const litres = litresPerKg(plan.amendments[a]!);
    if (litres === null) return null;
    sum += kg[a]! * litres;
  }
  return sum;
}

/**
 * Rounds parts to whole multiples of `unit` so that their sum is the rounded sum (largest remainder, Hamilton's
 * method); equal remainders go to the earlier part.
 * @returns multiples of `unit`, as whole numbers.
 */
function roundKeepingSum(parts: readonly number[], unit: number): number[] {
  const exact = parts.map((part) => part / unit);
  const floors = exact.map((value) => Math.floor(value + 1e-9));
  const goal = Math.round(exact.reduce((sum, value) => sum + value, 0));
  let missing = goal - floors.reduce((sum, value) => sum + value, 0);
  const order = exact
    .map((value, i) => [value - floors[i]!, i] as const)
    .sort(([ra, ia], [rb, ib]) => rb - ra || ia - ib);
  const rounded = [...floors];
  for (const [, i] of order) {
    if (missing <= 0) break;
    rounded[i]!++;
    missing--;
  }
  return rounded;
}

/** How many batches an application takes; 0 where nothing is spread, null where a volume is needed and not known. */
function batchCount(plan: Plan, kg: number, litres: number | null): number | null {
  if (kg <= 0) return 0;
  if (!plan.batch) return 1;
  const [amount, size] = "kg" in plan.batch ? [kg, plan.batch.kg] : [litres, plan.batch.litres];
  return amount === null ? null : Math.max(1, Math.ceil(amount / size - 1e-9));
}

/** How many batches each application takes; one where that cannot be told. */
export function batchCounts(plan: Plan, amounts: Amounts): number[] {
  return plan.applications.map((_, t) => {
    const kg = amounts.map((row) => row[t]!);
    const total = kg.reduce((sum, value) => sum + value, 0);
    return batchCount(plan, total, looseLitres(plan, kg)) ?? 1;
  });
}

export interface FieldPlan {
  readonly applications: readonly SolutionApplication[];
  /** What is really spread once weights are rounded, kg by amendment and application. */
  readonly rounded: Amounts;
  readonly warnings: readonly Notice[];
}

/** Divides exact amounts into batches and measures, application by application. */
export function layOutBatches(plan: Plan, amounts: Amounts): FieldPlan {
  const rounded = plan.amendments.map(() => plan.applications.map(() => 0));
  const warnings: Notice[] = [];
  const missing = new Set<string>();
  const vanished = new Map<string, string[]>();
  const applications = plan.applications.map((application, t): SolutionApplication => {
    const kg = amounts.map((row) => row[t]!);
    const total = kg.reduce((sum, value) => sum + value, 0);
    const litres = looseLitres(plan, kg);
    plan.amendments.forEach((amendment, a) => {
      if (kg[a]! > 0 && amendment.densityKgPerL === undefined) missing.add(amendment.name);
    });
    const counted = batchCount(plan, total, litres);
    if (counted === null)
      warnings.push({
        code: "batch-volume-unknown",
        text: `${application.name} is given as one batch: its volume is not known, so it cannot be divided by volume.`,
      });
    const count = counted ?? 1;
    const units =
      count === 0
        ? kg.map(() => 0)
        : roundKeepingSum(
            kg.map((value) => value / count),
            plan.scaleKg,
          );
    const weights = plan.amendments.flatMap((amendment, a) => {
      const each = units[a]! * plan.scaleKg;
      rounded[a]![t] = each * count;
      if (kg[a]! > 0 && units[a] === 0)
        vanished.set(amendment.name, [...(vanished.get(amendment.name) ?? []), application.name]);
      const perKg = litresPerKg(amendment);
      return units[a]! > 0
        ? [{ id: amendment.id, kg: each, mL: perKg === null ? null : each * perKg * 1000 }]
        : [];
    });
    weights.sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1));
    return {
      name: application.name,
      day: application.day,
      kg: total,
      litres,
      batches: { count, kgEach: units.reduce((sum, value) => sum + value, 0) * plan.scaleKg, weights },
      ...measures(plan, total, litres, count),
    };
  });
  for (const [name, where] of vanished)
    warnings.push({
      code: "rounds-to-nothing",
      text: `${name} rounds to nothing in ${where.join(", ")}: its share of a batch is less than half of what the scale shows. Weigh it on a finer scale, or make larger batches.`,
    });
  if (missing.size > 0)
    warnings.push({
      code: "density-missing",
      text: `No volumes are given where ${[...missing].join(", ")} is in the mix: no density is known for it. Weigh a level cup and add a density to get cups.`,
    });
  return { applications, rounded, warnings };
}

function measures(
  plan: Plan,
  kg: number,
  litres: number | null,
  count: number,
): Pick<SolutionApplication, "perPlant" | "perRowMeter" | "coverage"> {
  const { plants, rows, rowLengthM } = plan.bed;
  const rowM = rowLengthM === undefined ? undefined : (rows ?? 1) * rowLengthM;
  const per = (divisor: number | undefined) => ({
    g: divisor === undefined ? null : (kg * 1000) / divisor,
    mL: divisor === undefined || litres === null ? null : (litres * 1000) / divisor,
  });
  const perBatch = (whole: number | undefined): number | null =>
    whole === undefined || count === 0 ? null : whole / count;
  return {
    perPlant: per(plants),
    perRowMeter: per(rowM),
    coverage: { plantsPerBatch: perBatch(plants), rowMetersPerBatch: perBatch(rowM) },
  };
}
