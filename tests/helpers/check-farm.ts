/**
 * Farms against what is written apart from the project: one mix by weight against a search over shares and rates, all ways
 * to divide beds, purchases against whole-number programs for HiGHS, and every bed worked out again from plain numbers.
 */
import { bedKg, FarmSearch } from "../../src/flow/farm.ts";
import { farmBeds } from "../../src/flow/farm-beds.ts";
import type { FarmPurchase } from "../../src/flow/farm-purchase.ts";
import { kindsOf, MixValues } from "../../src/flow/farm-value.ts";
import { solveBeds } from "../../src/flow/purchase.ts";
import { mergeAmendments } from "../../src/program/shop-program.ts";
import { type FarmSpec, farmPlans, plainRows } from "./random-farm.ts";

/** A farm of the random kind, its beds solved. */
export async function solvedFarm(spec: FarmSpec) {
  const plans = farmPlans(spec);
  const amendments = mergeAmendments(plans).all;
  const solved = await solveBeds(plans);
  const beds = "beds" in solved ? solved.beds : [];
  return { spec, plans, amendments, without: beds.length === 0, farm: farmBeds(beds, amendments) };
}
export type SolvedFarm = Awaited<ReturnType<typeof solvedFarm>>;

/** The farm as it is asked; time is counted, never looked at, so that a run is as the one before. */
export function searchOf(
  { farm, amendments }: SolvedFarm,
  by: "purchase" | "weight",
  more: Partial<{ most: number; pins: string[]; alone: boolean; seconds: number; clock: () => number }> = {},
) {
  let ticks = 0;
  return new FarmSearch(farm, {
    by,
    pins: [],
    amendments,
    suppliers: [],
    demands: {},
    seconds: 1e6,
    clock: () => ticks++,
    ...more,
  });
}

/** One mix for some kinds of bed, by weight, to nine digits. */
export function exactValues({ farm }: SolvedFarm) {
  const kinds = kindsOf(farm.beds.map(({ asks }) => asks));
  const values = new MixValues(
    kinds.map(({ bed }) => bed),
    farm.prices,
  );
  return { beds: values.beds, value: (set: readonly number[]) => values.value(set, { gap: 1e-10 }) };
}

/** All ways to divide so many things into groups, at most so many. */
export function divisions(count: number, most: number): number[][][] {
  let all: number[][][] = [[]];
  for (let k = 0; k < count; k++)
    all = all.flatMap((groups) => [
      ...groups.map((_, g) => groups.map((group, h) => (h === g ? [...group, k] : group))),
      ...(groups.length < most ? [[...groups, [k]]] : []),
    ]);
  return all;
}

/** The least cost by weight of at most so many mixes, by trying all ways to divide kinds of bed. */
export function enumerated(solved: SolvedFarm, most: number): number {
  const { beds, value } = exactValues(solved);
  const known = new Map<string, number>();
  const cost = (set: readonly number[]): number => {
    const key = set.join();
    const found = known.get(key) ?? value(set).cost;
    known.set(key, found);
    return found;
  };
  const total = (groups: readonly (readonly number[])[]) =>
    groups.reduce((sum, group) => sum + cost(group), 0);
  return Math.min(...divisions(beds.length, most).map(total));
}

/** What is wrong with a purchase for a farm, from plain numbers: rows missed, stock or bags overdrawn. */
export function faultsOf(
  spec: FarmSpec,
  purchase: FarmPurchase,
  kept = 1e-9,
  bedOf: (b: number) => readonly number[] = (b) => bedKg(purchase, b),
): string[] {
  const faults: string[] = [];
  const used = spec.materials.map(() => 0);
  spec.beds.forEach((bed, b) => {
    const kg = bedOf(b);
    kg.forEach((one, a) => {
      used[a]! += one;
    });
    for (const { g, sense, bound } of plainRows(spec, bed)) {
      const sum = g.reduce((total, v, a) => total + v * kg[a]!, 0);
      const size = Math.max(Math.abs(bound), ...g.map((v, a) => Math.abs(v * kg[a]!)));
      const miss = (sense === ">=" ? bound - sum : sum - bound) / size;
      if (miss > kept) faults.push(`${bed.name} misses ${sense} ${bound} by ${miss}`);
    }
  });
  spec.materials.forEach((material, a) => {
    const { counts, bulkKg } = purchase.bought;
    const packs = (counts[a] ?? []).reduce((sum, count, k) => sum + count * material.packs[k]!.kg, 0);
    const had = material.stockKg + packs + bulkKg[a]!;
    if (used[a]! > had * (1 + kept) + 1e-9) faults.push(`${material.id}: ${used[a]} kg of ${had}`);
  });
  return faults;
}
