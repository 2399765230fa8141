/** Short names for what a plan's numbers are for, where the numbers themselves are moving. */
import type { Plan } from "../model.ts";
import type { Handle } from "../program/moves.ts";
import type { RowTag } from "../program/tags.ts";
import type { DemandSensitivity, Sensitivity } from "../results/solution.ts";
import { isApplied, nameOf } from "./demand-words.ts";
import { day, listed } from "./numbers.ts";

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
      return isApplied(plan, tag.nutrient)
        ? `${tag.nutrient} spread in all`
        : `${tag.nutrient} over the season`;
    case "season-max":
      return isApplied(plan, tag.nutrient)
        ? `most ${tag.nutrient} spread in all`
        : `most ${tag.nutrient} over the season`;
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

/** The demand of a sensitivity as a short name. */
export function demandName(plan: Plan, demand: DemandSensitivity): string {
  const { kind, nutrient, id } = demand;
  if (nutrient !== undefined)
    return handleName(plan, { kind, nutrient } as Extract<Handle, { nutrient: unknown }>);
  return handleName(plan, { kind, id } as Extract<Handle, { id: string }>);
}

/** What a reader of worths and price ranges should know, in sentences. */
export function sensitivityNotes(plan: Plan, sensitivity: Omit<Sensitivity, "notes">): string[] {
  const notes: string[] = [];
  const { tied, demands } = sensitivity;
  if (tied.length > 0)
    notes.push(
      `More than one mix costs the least: the amounts of ${listed(tied.map((id) => nameOf(plan, id)))} ` +
        "could be others at the same cost. The mix shown weighs least.",
    );
  const kinked = demands.filter(
    ({ costOfMore: more, costOfLess: less }) =>
      more !== null &&
      less !== null &&
      Math.abs(more + less) > 1e-6 * Math.max(Math.abs(more), Math.abs(less)),
  );
  if (kinked.length > 0)
    notes.push(
      `One more is not worth the same as one less for ${listed(kinked.map((demand) => demandName(plan, demand)))}: ` +
        "at this number another demand begins to bind.",
    );
  for (const [field, word] of [
    ["costOfMore", "higher"],
    ["costOfLess", "lower"],
  ] as const) {
    const stuck = demands
      .filter((demand) => demand[field] === null)
      .map((demand) => demandName(plan, demand));
    if (stuck.length > 0)
      notes.push(
        stuck.length === 1
          ? `No mix fits if this is any ${word}: ${stuck[0]}.`
          : `No mix fits if one of these is any ${word}: ${stuck.join("; ")}.`,
      );
  }
  return notes;
}
