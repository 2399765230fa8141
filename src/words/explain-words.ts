/** Why a plan cannot work, and what would have to give way, in the grower's words. */

import type { Amendment, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { RowTag } from "../program/tags.ts";
import type { GivingWay } from "../results/solution.ts";
import { takenUpKg } from "../season/season.ts";
import { countedWords, demandWords, isApplied, nameOf } from "./demand-words.ts";
import { listed, percent, weight, weightOutward } from "./numbers.ts";
import { dayWords } from "./own-measures.ts";

const FLOORS: ReadonlySet<RowTag["kind"]> = new Set(["in-time", "season-min", "share-min", "amount-min"]);

/** Whether a demand is a least (which gives way downwards) rather than a most. */
export function isFloor(tag: RowTag): boolean {
  return FLOORS.has(tag.kind);
}

/** Whether a demand is on a share of the blend's weight. */
export function isShare(tag: RowTag): boolean {
  return tag.kind === "share-min" || tag.kind === "share-max";
}

/** The bound of a demand as the plan states it: kg, or a share. */
export function statedBound(plan: Plan, tag: RowTag): number {
  const demandOf = (nutrient: Nutrient) => plan.demands.find((d) => d.nutrient === nutrient);
  const limitOf = (id: string) => plan.limits.find((limit) => limit.id === id);
  switch (tag.kind) {
    case "in-time": {
      const demand = demandOf(tag.nutrient);
      return demand ? takenUpKg(demand, tag.day) : 0;
    }
    case "season-min":
      return demandOf(tag.nutrient)?.minKg ?? 0;
    case "season-max":
      return demandOf(tag.nutrient)?.maxKg ?? 0;
    case "applied-max":
      return demandOf(tag.nutrient)?.appliedMaxKg ?? 0;
    case "ahead-max":
      return demandOf(tag.nutrient)?.aheadMaxKg ?? 0;
    case "share-min":
      return limitOf(tag.id)?.minShare ?? 0;
    case "share-max":
      return limitOf(tag.id)?.maxShare ?? 1;
    case "amount-min":
      return limitOf(tag.id)?.minKg ?? 0;
    case "amount-max":
      return limitOf(tag.id)?.maxKg ?? 0;
    case "not-in":
    case "stock":
    case "other":
      return 0;
  }
}

function outwardShare(share: number, up: boolean): string {
  const steps = share * 1000;
  const whole = up ? Math.ceil(steps - 1e-5) : Math.floor(steps + 1e-5);
  return percent(Math.min(1000, Math.max(0, whole)) / 1000);
}

/** What a need is a need of, after its weight. */
function ofWhat(plan: Plan, tag: RowTag): string {
  if (tag.kind === "in-time") return ` of ${tag.nutrient} by ${dayWords(tag.day, plan.planted)}`;
  return tag.kind === "season-min" ? ` of ${tag.nutrient} over the season` : "";
}

/** What to write instead of a demand so that it gives way as far as `to`. */
export function givingWay(plan: Plan, tag: RowTag, to: number): GivingWay {
  const from = statedBound(plan, tag);
  const kg = (value: number) => weightOutward(value, !isFloor(tag), plan.units);
  const share = (value: number) => outwardShare(value, !isFloor(tag));
  const exact = (value: number) => (isShare(tag) ? percent(value) : weight(value, plan.units));
  const blend = (application: number | null) =>
    application === null ? "the blend" : `the ${plan.applications[application]!.name} blend`;
  const words = (): string => {
    if (to <= 0 && isFloor(tag))
      return "application" in tag
        ? `do without ${nameOf(plan, tag.id)} in ${blend(tag.application)} (now at least ${exact(from)})`
        : `do without ${exact(from)}${ofWhat(plan, tag)}`;
    switch (tag.kind) {
      case "in-time":
        return `settle for ${kg(to)} of ${tag.nutrient} available by ${dayWords(tag.day, plan.planted)} (now ${exact(from)})`;
      case "season-min":
        return `settle for ${kg(to)} of ${tag.nutrient} ${countedWords(plan, tag.nutrient)} (now ${exact(from)})`;
      case "season-max":
        return `allow ${kg(to)} of ${tag.nutrient} ${countedWords(plan, tag.nutrient)} (now ${exact(from)})`;
      case "applied-max":
        return `allow ${kg(to)} of ${tag.nutrient} applied in all (now ${exact(from)})`;
      case "ahead-max":
        return `allow ${kg(to)} of ${tag.nutrient} available ahead of uptake on ${dayWords(tag.day, plan.planted)} (now ${exact(from)})`;
      case "share-min":
        return `let ${nameOf(plan, tag.id)} be only ${share(to)} of ${blend(tag.application)} (now at least ${percent(from)})`;
      case "share-max":
        return `let ${nameOf(plan, tag.id)} be ${share(to)} of ${blend(tag.application)} (now at most ${percent(from)})`;
      case "amount-min":
        return `let ${nameOf(plan, tag.id)} weigh only ${kg(to)} in ${blend(tag.application)} (now at least ${exact(from)})`;
      case "amount-max":
        return `let ${nameOf(plan, tag.id)} weigh ${kg(to)} in ${blend(tag.application)} (now at most ${exact(from)})`;
      case "not-in":
        return `let ${kg(to)} of ${nameOf(plan, tag.id)} into ${blend(tag.application)}`;
      case "stock":
      case "other":
        return demandWords(plan, tag);
    }
  };
  return {
    demand: demandWords(plan, tag),
    tag,
    unit: isShare(tag) ? "share" : "kg",
    from,
    to,
    text: words(),
  };
}

const brings = (amendment: Amendment, nutrient: Nutrient) => (amendment.analysis[nutrient] ?? 0) > 0;

function names(amendments: readonly Amendment[]): string {
  const shown = amendments.slice(0, 4).map((a) => a.name);
  return amendments.length > 4 ? `${shown.join(", ")} and ${amendments.length - 4} more` : listed(shown);
}

type NutrientTag = Extract<RowTag, { readonly nutrient: Nutrient }>;
const isNutrientTag = (tag: RowTag): tag is NutrientTag => "nutrient" in tag;

/** `by day 45`, `over the season`. */
function when(plan: Plan, tag: NutrientTag): string {
  return tag.kind === "in-time" ? `by ${dayWords(tag.day, plan.planted)}` : "over the season";
}

/** A most in words that follow `without`: `P2O5 above 4 lb applied`. */
function above(plan: Plan, tag: NutrientTag): string {
  const most = weight(statedBound(plan, tag), plan.units);
  switch (tag.kind) {
    case "applied-max":
      return `applying more than ${most} of ${tag.nutrient}`;
    case "ahead-max":
      return `having more than ${most} of ${tag.nutrient} ahead of uptake on ${dayWords(tag.day, plan.planted)}`;
    default:
      return isApplied(plan, tag.nutrient)
        ? `spreading more than ${most} of ${tag.nutrient} in all`
        : `having more than ${most} of ${tag.nutrient} over the season`;
  }
}

/** One nutrient that cannot be had, by itself. */
function missing(plan: Plan, tag: NutrientTag): string {
  const { nutrient } = tag;
  const needed = `${weight(statedBound(plan, tag), plan.units)} of ${nutrient} ${when(plan, tag)}`;
  const sources = plan.amendments.filter((a) => brings(a, nutrient));
  if (sources.length === 0)
    return `The plan needs ${needed}, and no amendment in the plan brings any ${nutrient}. Add one that does.`;
  const limited = sources.filter((a) => a.packs.length === 0 && a.bulkPricePerKg === undefined);
  if (limited.length === sources.length)
    return `The plan needs ${needed}; ${names(limited)} ${limited.length === 1 ? "brings" : "bring"} it, but the shed holds too little and there is no price to buy at. Give a price, or add another source of ${nutrient}.`;
  return `The plan needs ${needed}, and what brings ${nutrient} (${names(sources)}) is not available by then. Spread it earlier, or add a quicker source.`;
}

/** A least of one nutrient against a most of another, or of itself. */
function opposed(plan: Plan, floor: NutrientTag, cap: NutrientTag): string {
  const headline = `${floor.nutrient} cannot be met ${when(plan, floor)} without ${above(plan, cap)}`;
  const sources = plan.amendments.filter((a) => brings(a, floor.nutrient));
  if (floor.nutrient === cap.nutrient) {
    if (cap.kind === "ahead-max") return `${headline}: what is needed later has to be in the soil by then.`;
    if (cap.kind !== "applied-max")
      return `${headline}: what brings ${floor.nutrient} in time goes on to bring more than that.`;
    return statedBound(plan, floor) > statedBound(plan, cap)
      ? `The plan needs ${weight(statedBound(plan, floor), plan.units)} of ${floor.nutrient} ${when(plan, floor)} and allows only ${weight(statedBound(plan, cap), plan.units)} of it to be applied: no amendment can keep both.`
      : `${headline}: too little of what is applied becomes available in time. Add a quicker source.`;
  }
  const clean = sources.filter((a) => !brings(a, cap.nutrient));
  return clean.length === 0
    ? `${headline}: every source of ${floor.nutrient} in the plan brings ${cap.nutrient}. Add one without.`
    : `${headline}: ${names(clean)} ${clean.length === 1 ? "brings" : "bring"} ${floor.nutrient} without ${cap.nutrient}, but not enough of it. Add another that does.`;
}

/** A conflict in words: what cannot be had together, and why. */
export function conflictReason(plan: Plan, tags: readonly RowTag[]): string {
  const [first, second] = tags;
  const floor = tags.find(isFloor);
  const cap = tags.find((tag) => !isFloor(tag));
  const demands = tags.map((tag) => demandWords(plan, tag));
  if (tags.length === 1 && first) {
    if (isFloor(first) && isNutrientTag(first)) return missing(plan, first);
    if (isNutrientTag(first))
      return `No mix keeps ${demands[0]}: what the plan credits brings more than that already.`;
    return `No mix of these amendments keeps ${demands[0]}.`;
  }
  if (tags.length === 2 && second && floor && cap && isNutrientTag(floor) && isNutrientTag(cap))
    return opposed(plan, floor, cap);
  return `No mix of these amendments keeps all of these at once: ${demands.join("; ")}.`;
}

/** The sentence that follows a reason: what would be enough by itself; empty where nothing would. */
export function waysText(ways: readonly GivingWay[]): string {
  if (ways.length === 0) return "";
  const texts = ways.map((way) => way.text);
  return ways.length === 1
    ? `It would be enough to ${texts[0]}.`
    : `Any one of these would be enough: ${texts.join("; or ")}.`;
}
