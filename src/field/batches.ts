/** Kilograms to equal barrow batches: how many, and one list of what to weigh, rounded to what the scale shows. */
import type { Amendment, Plan } from "../model.ts";
import { type Notice, noticesOf } from "../problem.ts";
import type { Batches, BatchWeight } from "../results/solution.ts";
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

/** What is weighed of a material by itself: to the nearest step of the scale, and no less than one. */
export function onScale(kg: number, scaleKg: number): number {
  return kg > 0 ? Math.max(1, Math.round(kg / scaleKg)) * scaleKg : 0;
}

/** How batches are made: what one holds, and what the scale shows. */
export type Batching = Pick<Plan, "batch" | "scaleKg">;

/** A heap divided into batches. */
export interface LaidHeap {
  readonly batches: Batches;
  /** By material, what all batches take together as they are weighed. */
  readonly weighedKg: readonly number[];
  readonly warnings: readonly Notice[];
}

/** A weight that rounding moves by more than this part of itself is not weighed batch by batch. */
const MOVED = 0.1;
/** A weight this near to a whole step of the scale, in steps, is on it. */
const ON_STEP = 1e-9;

/** How many batches so much takes; 0 where nothing is spread, null where a volume is needed and not known. */
function batchCount({ batch }: Pick<Plan, "batch">, kg: number, litres: number | null): number | null {
  if (kg <= 0) return 0;
  if (!batch) return 1;
  const [amount, size] = "kg" in batch ? [kg, batch.kg] : [litres, batch.litres];
  return amount === null ? null : Math.max(1, Math.ceil(amount / size - 1e-9));
}

function litresIn(materials: readonly Amendment[], kg: readonly number[]): number | null {
  return sumKnown(materials.map((material, a) => litresOf(material, kg[a]!)));
}

/** kg by material of what is stirred together: the season's mix, or with `blend: each` one round's. */
export function heapsOf(plan: Plan, amounts: Amounts): number[][] {
  return plan.blend === "one"
    ? [amounts.map(sumKg)]
    : plan.applications.map((_, t) => amounts.map((row) => row[t]!));
}

/** How many batches each heap of a plan takes; one where that cannot be told. */
export function batchCounts(plan: Plan, amounts: Amounts): number[] {
  return heapsOf(plan, amounts).map((kg) => batchCount(plan, sumKg(kg), litresIn(plan.amendments, kg)) ?? 1);
}

/**
 * Rounds parts to whole steps so that their sum is the rounded sum (largest remainder, Hamilton's method); equal
 * remainders go to the earlier part.
 * @param parts in steps, not rounded.
 * @param most by part: no more whole steps than this.
 * @returns whole steps.
 */
function roundKeepingSum(parts: readonly number[], most: readonly number[]): number[] {
  const rounded = parts.map((value, i) => Math.min(most[i]!, Math.floor(value + ON_STEP)));
  const remainders = parts.map((value, i) => value - rounded[i]!);
  const missing = Math.max(0, Math.round(sumKg(parts)) - sumKg(rounded));
  const largestFirst = [...parts.keys()]
    .filter((i) => parts[i]! > 0 && remainders[i]! > 0 && rounded[i]! < most[i]!)
    .sort((i, j) => remainders[j]! - remainders[i]! || i - j);
  for (const i of largestFirst.slice(0, missing)) rounded[i]!++;
  return rounded;
}

const isMoved = (exact: number, rounded: number): boolean =>
  exact > 0 && Math.abs(rounded - exact) > MOVED * exact * (1 + 1e-9);

/**
 * Divides a heap into equal batches, with one list of weights. What rounding would move by more than a tenth is weighed
 * once for the whole heap. No material is taken beyond `kg` and `roomKg` together.
 * @param kg exact, by material.
 * @param roomKg what there is of each material beyond `kg`.
 * @param name of the heap, for warnings.
 */
export function layOutHeap(
  materials: readonly Amendment[],
  kg: readonly number[],
  batching: Batching,
  roomKg: readonly number[],
  name: string,
): LaidHeap {
  const { scaleKg } = batching;
  const counted = batchCount(batching, sumKg(kg), litresIn(materials, kg));
  const count = counted ?? 1;
  const none = { count: 0, kgEach: 0, litresEach: 0, weights: [] };
  if (count === 0) return { batches: none, weighedKg: kg.map(() => 0), warnings: [] };
  const each = kg.map((value) => value / count / scaleKg);
  const whole = kg.map((value) => value / scaleKg);
  const there = kg.map((value, a) => Math.floor(((value + roomKg[a]!) / scaleKg) * (1 + 1e-9) + ON_STEP));
  const most = there.map((steps) => Math.floor(steps / count + ON_STEP));
  // What is weighed once leaves the others to be rounded among themselves, which may leave another to be weighed once.
  const once = new Set<number>();
  let steps: number[] = [];
  for (let before = -1; before < once.size; ) {
    before = once.size;
    steps = roundKeepingSum(
      each.map((value, a) => (once.has(a) ? 0 : value)),
      most,
    );
    if (count > 1)
      each.forEach((value, a) => {
        if (!once.has(a) && isMoved(value, steps[a]!)) once.add(a);
      });
  }
  const heapSteps = whole.map((value, a) =>
    once.has(a) ? Math.min(there[a]!, Math.round(value)) : steps[a]! * count,
  );
  const weights = materials.flatMap(({ id }, a): BatchWeight[] => {
    if (heapSteps[a]! === 0) return [];
    const weighed = (heapSteps[a]! * scaleKg) / count;
    const litres = litresOf(materials[a]!, weighed);
    const mL = litres === null ? null : litres * 1000;
    return [{ id, kg: weighed, mL, ...(once.has(a) ? { once: true } : {}) }];
  });
  weights.sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1));
  const weighedKg = heapSteps.map((value) => value * scaleKg);
  return {
    batches: {
      count,
      kgEach: weights.reduce((sum, weight) => sum + weight.kg, 0),
      litresEach: sumKnown(weights.map(({ mL }) => (mL === null ? null : mL / 1000))),
      weights,
    },
    weighedKg,
    warnings: heapWarnings(materials, kg, { weighedKg, name, countKnown: counted !== null }),
  };
}

function heapWarnings(
  materials: readonly Amendment[],
  kg: readonly number[],
  laid: { readonly weighedKg: readonly number[]; readonly name: string; readonly countKnown: boolean },
): Notice[] {
  const named = (which: (a: number) => boolean): string =>
    materials.flatMap(({ name }, a) => (kg[a]! > 0 && which(a) ? [name] : [])).join(", ");
  const vanished = named((a) => laid.weighedKg[a] === 0);
  const moved = named((a) => laid.weighedKg[a]! > 0 && isMoved(kg[a]!, laid.weighedKg[a]!));
  const unknown = named((a) => litresOf(materials[a]!, kg[a]!) === null);
  return noticesOf({
    "batch-volume-unknown":
      !laid.countKnown &&
      `${laid.name} is given as one batch: its volume is not known, so it cannot be divided by volume.`,
    "rounds-to-nothing":
      vanished !== "" &&
      `${vanished} rounds to nothing: the whole heap holds less of it than half of what the scale shows. Weigh it on a finer scale.`,
    "rounds-far":
      moved !== "" &&
      `Rounded to the scale, the whole heap holds over a tenth more or less of ${moved} than it should. Weigh it on a finer scale.`,
    "density-missing":
      unknown !== "" &&
      `No volumes are given where ${unknown} is in the mix: no density is known for it. Weigh a level cup and add a density to get cups.`,
  });
}
