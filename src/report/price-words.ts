/** Short names for what a plan's numbers stand for, where the numbers themselves are moving. */
import type { Plan } from "../model.ts";
import type { Handle } from "../program/moves.ts";
import type { RowTag } from "../program/program.ts";
import { day } from "./numbers.ts";
import { nameOf } from "./words.ts";

/** A row of the program as a short name: `N by day 21`, `the cap on P2O5 applied`. */
export function rowName(plan: Plan, tag: RowTag): string {
  const within = (application: number | null): string =>
    application === null || plan.applications.length === 1
      ? ""
      : ` (${plan.applications[application]?.name ?? ""})`;
  switch (tag.kind) {
    case "in-time":
      return `${tag.nutrient} by ${day(tag.day)}`;
    case "season-min":
      return `${tag.nutrient} over the season`;
    case "season-max":
      return `most ${tag.nutrient} over the season`;
    case "applied-max":
      return `cap on ${tag.nutrient} applied`;
    case "ahead-max":
      return `cap on ${tag.nutrient} ahead of uptake on ${day(tag.day)}`;
    case "share-min":
      return `least share of ${nameOf(plan, tag.id)}${within(tag.application)}`;
    case "share-max":
      return `most share of ${nameOf(plan, tag.id)}${within(tag.application)}`;
    case "amount-min":
      return `least amount of ${nameOf(plan, tag.id)}${within(tag.application)}`;
    case "amount-max":
      return `most amount of ${nameOf(plan, tag.id)}${within(tag.application)}`;
    case "not-in":
      return `no ${nameOf(plan, tag.id)}${within(tag.application)}`;
    case "stock":
      return `${nameOf(plan, tag.id)} in the shed`;
    case "other":
      return tag.label;
  }
}

/** A number of a plan as a short name: `price of Feather meal`, `need of N`, `cap on P2O5 applied`. */
export function handleName(plan: Plan, handle: Handle): string {
  switch (handle.kind) {
    case "price":
      return `price of ${nameOf(plan, handle.id)}`;
    case "stock":
      return `${nameOf(plan, handle.id)} in the shed`;
    case "need":
      return `need of ${handle.nutrient}`;
    case "season-max":
      return `most ${handle.nutrient} over the season`;
    case "applied-max":
      return `cap on ${handle.nutrient} applied`;
    case "ahead-max":
      return `cap on ${handle.nutrient} ahead of uptake`;
    case "min-share":
      return `least share of ${nameOf(plan, handle.id)}`;
    case "max-share":
      return `most share of ${nameOf(plan, handle.id)}`;
    case "min":
      return `least amount of ${nameOf(plan, handle.id)}`;
    case "max":
      return `most amount of ${nameOf(plan, handle.id)}`;
  }
}
