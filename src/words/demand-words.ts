/** The demands of a plan in the grower's words. */

import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { RowTag } from "../program/tags.ts";
import { takenUpKg } from "../season/season.ts";
import { percent, weight } from "./numbers.ts";
import { dayWords } from "./own-measures.ts";

/** Name of an amendment of the plan; the id where the plan does not list it. */
export function nameOf(plan: Plan, id: string): string {
  return plan.amendments.find((amendment) => amendment.id === id)?.name ?? id;
}

function inBlend(plan: Plan, application: number | null): string {
  return application === null ? "the blend" : `the ${plan.applications[application]!.name} blend`;
}

/** How a need is counted, after its amount: `available over the season`, `spread in all, credits included`. */
export function countedWords(plan: Plan, nutrient: Nutrient): string {
  return isApplied(plan, nutrient) ? "spread in all, credits included" : "available over the season";
}

/** Whether the need of a nutrient is counted by what is spread. */
export function isApplied(plan: Plan, nutrient: Nutrient): boolean {
  return plan.demands.find((d) => d.nutrient === nutrient)?.counts === "applied";
}

/** One demand, as a phrase: `at least 3 lb of N available by day 120`. */
export function demandWords(plan: Plan, tag: RowTag): string {
  const kg = (value: number): string => weight(value, plan.units);
  const demandOf = (nutrient: Nutrient) => plan.demands.find((d) => d.nutrient === nutrient);
  const limitOf = (id: string) => plan.limits.find((limit) => limit.id === id);
  switch (tag.kind) {
    case "in-time": {
      const demand = demandOf(tag.nutrient);
      return `at least ${kg(demand ? takenUpKg(demand, tag.day) : 0)} of ${tag.nutrient} available by ${dayWords(tag.day, plan.planted)}`;
    }
    case "season-min":
      return `at least ${kg(demandOf(tag.nutrient)?.minKg ?? 0)} of ${tag.nutrient} ${countedWords(plan, tag.nutrient)}`;
    case "season-max":
      return `at most ${kg(demandOf(tag.nutrient)?.maxKg ?? 0)} of ${tag.nutrient} ${countedWords(plan, tag.nutrient)}`;
    case "applied-max":
      return `at most ${kg(demandOf(tag.nutrient)?.appliedMaxKg ?? 0)} of ${tag.nutrient} applied in all`;
    case "ahead-max":
      return `at most ${kg(demandOf(tag.nutrient)?.aheadMaxKg ?? 0)} of ${tag.nutrient} available ahead of uptake on ${dayWords(tag.day, plan.planted)}`;
    case "share-min":
      return `${nameOf(plan, tag.id)} at least ${percent(limitOf(tag.id)?.minShare ?? 0)} of ${inBlend(plan, tag.application)}`;
    case "share-max":
      return `${nameOf(plan, tag.id)} at most ${percent(limitOf(tag.id)?.maxShare ?? 1)} of ${inBlend(plan, tag.application)}`;
    case "amount-min":
      return `at least ${kg(limitOf(tag.id)?.minKg ?? 0)} of ${nameOf(plan, tag.id)} in ${inBlend(plan, tag.application)}`;
    case "amount-max":
      return `at most ${kg(limitOf(tag.id)?.maxKg ?? 0)} of ${nameOf(plan, tag.id)} in ${inBlend(plan, tag.application)}`;
    case "not-in":
      return `no ${nameOf(plan, tag.id)} in ${inBlend(plan, tag.application)}`;
    case "stock":
      return `no more ${nameOf(plan, tag.id)} than the shed holds`;
    case "other":
      return tag.label;
  }
}
