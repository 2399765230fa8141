/** Kilograms to barrow batches: how many, and what to weigh into each, rounded to what the scale shows. */
import type { Amendment, Plan } from "../model.ts";
import type { Notice } from "../problem.ts";
import type { SolutionApplication } from "../results/solution.ts";
import { type Amounts, sumKg } from "./delivery.ts";

/** Loose volume of so much of a material; null where its density is not known. */
export function litresOf({ densityKgPerL }: Amendment, kg: number): number | null {
  if (kg <= 0) return 0;
  return densityKgPerL === undefined ? null : kg * (1 / densityKgPerL);
}

/** The sum of values; null where one of them is not known. */
export function sumKnown(values: readonly (number | null)[]): number | null {
  return values.reduce((sum, value) => (sum === null || value === null ? null : sum + value), 0);
}

/**
 * Rounds parts to whole multiples of `unit` so that their sum is the rounded sum (largest remainder, Hamilton's
 * method); equal remainders go to the earlier part.
 * @returns multiples of `unit`, as whole numbers.
 */
function roundKeepingSum(parts: readonly number[], unit: number): number[] {
  const sum = (values: readonly number[]) => values.reduce((all, value) => all + value, 0);
  const exact = parts.map((part) => part / unit);
  const rounded = exact.map((value) => Math.floor(value + 1e-9));
  const remainders = exact.map((value, i) => value - rounded[i]!);
  const missing = Math.max(0, Math.round(sum(exact)) - sum(rounded));
  const largestFirst = [...parts.keys()].sort((i, j) => remainders[j]! - remainders[i]! || i - j);
  for (const i of largestFirst.slice(0, missing)) rounded[i]!++;
  return rounded;
}

/** What is spread in one application: kg of each amendment, kg and litres of all, and how many batches that takes. */
function loadOf(plan: Plan, amounts: Amounts, t: number) {
  const kg = amounts.map((row) => row[t]!);
  const total = sumKg(kg);
  const litres = sumKnown(plan.amendments.map((amendment, a) => litresOf(amendment, kg[a]!)));
  return { kg, total, litres, count: batchCount(plan, total, litres) };
}

/** How many batches so much takes; 0 where nothing is spread, null where a volume is needed and not known. */
function batchCount({ batch }: Plan, kg: number, litres: number | null): number | null {
  if (kg <= 0) return 0;
  if (!batch) return 1;
  const [amount, size] = "kg" in batch ? [kg, batch.kg] : [litres, batch.litres];
  return amount === null ? null : Math.max(1, Math.ceil(amount / size - 1e-9));
}

/** How many batches each application takes; one where that cannot be told. */
export function batchCounts(plan: Plan, amounts: Amounts): number[] {
  return plan.applications.map((_, t) => loadOf(plan, amounts, t).count ?? 1);
}

/**
 * Divides exact amounts into batches and measures, application by application.
 * @returns `rounded`: what is really spread once weights are rounded, kg by amendment and application.
 */
export function layOutBatches(plan: Plan, amounts: Amounts) {
  const rounded = plan.amendments.map(() => plan.applications.map(() => 0));
  const warnings: Notice[] = [];
  const missing = new Set<string>();
  const vanished = new Map<string, string[]>();
  const applications = plan.applications.map(({ name, day }, t): SolutionApplication => {
    const { kg, total, litres, count: counted } = loadOf(plan, amounts, t);
    if (counted === null)
      warnings.push({
        code: "batch-volume-unknown",
        text: `${name} is given as one batch: its volume is not known, so it cannot be divided by volume.`,
      });
    const count = counted ?? 1;
    const each = kg.map((value) => (count === 0 ? 0 : value / count));
    const steps = roundKeepingSum(each, plan.scaleKg);
    const weights = plan.amendments.flatMap((amendment, a) => {
      const weighedKg = steps[a]! * plan.scaleKg;
      rounded[a]![t] = weighedKg * count;
      if (litresOf(amendment, kg[a]!) === null) missing.add(amendment.name);
      if (kg[a]! > 0 && steps[a] === 0)
        vanished.set(amendment.name, [...(vanished.get(amendment.name) ?? []), name]);
      const weighed = litresOf(amendment, weighedKg);
      const mL = weighed === null ? null : weighed * 1000;
      return steps[a]! > 0 ? [{ id: amendment.id, kg: weighedKg, mL }] : [];
    });
    weights.sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1));
    return {
      name,
      day,
      kg: total,
      litres,
      batches: { count, kgEach: steps.reduce((sum, value) => sum + value, 0) * plan.scaleKg, weights },
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
