/** The demands of a plan in the grower's words: in full, by short names, why they cannot be met, and what gives way. */

import type { Amendment, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { type Handle, numberOf, statedBy } from "../program/moves.ts";
import type { RowTag } from "../program/tags.ts";
import type { DemandSensitivity, GivingWay, Sensitivity } from "../results/solution.ts";
import { takenUpKg } from "../season/season.ts";
import { counted, day, listed, percent, weight, weightOutward } from "./numbers.ts";
import { dayWords } from "./own-measures.ts";

/** Name of an amendment of the plan; the id where the plan does not list it. */
export function nameOf(plan: Plan, id: string): string {
  return plan.amendments.find((amendment) => amendment.id === id)?.name ?? id;
}

/** Names of amendments in a sentence; of more than so many the first four and how many there are besides. */
export function namesOf(amendments: readonly Amendment[], most: number): string {
  const names = amendments.map(({ name }) => name);
  return names.length > most ? `${names.slice(0, 4).join(", ")} and ${names.length - 4} more` : listed(names);
}

type NutrientTag = Extract<RowTag, { readonly nutrient: Nutrient }>;
const isNutrientTag = (tag: RowTag): tag is NutrientTag => "nutrient" in tag;

/** Whether a demand is a least (which gives way downwards) rather than a most. */
export function isFloor(tag: RowTag): boolean {
  return tag.kind === "in-time" || tag.kind.endsWith("-min");
}

/** Whether a demand is on a share of the blend's weight. */
export function isShare(tag: RowTag): boolean {
  return tag.kind === "share-min" || tag.kind === "share-max";
}

/** The bound of a demand as the plan states it: kg, or a share. */
export function statedBound(plan: Plan, tag: RowTag): number {
  if (tag.kind === "in-time") {
    const demand = plan.demands.find(({ nutrient }) => nutrient === tag.nutrient);
    return demand ? takenUpKg(demand, tag.day) : 0;
  }
  const stated = statedBy(tag);
  return (stated && numberOf(plan, stated)) ?? (tag.kind === "share-max" ? 1 : 0);
}

function isApplied(plan: Plan, nutrient: Nutrient): boolean {
  return plan.demands.find((d) => d.nutrient === nutrient)?.counts === "applied";
}

/** How a weight of a nutrient is counted by a demand on it: `available by day 45`, `applied in all`. */
function countedWords(plan: Plan, tag: NutrientTag): string {
  if (tag.kind === "in-time") return `available by ${dayWords(tag.day, plan.planted)}`;
  if (tag.kind === "ahead-max") return `available ahead of uptake on ${dayWords(tag.day, plan.planted)}`;
  if (tag.kind === "applied-max") return "applied in all";
  return isApplied(plan, tag.nutrient) ? "spread in all, credits included" : "available over the season";
}

function blendWords(plan: Plan, application: number | null): string {
  return application === null ? "the blend" : `the ${plan.applications[application]!.name} blend`;
}

/** The bound of a demand, and on which side of it the plan wants to be: `at least 3 lb`, `at most 30.0%`. */
function boundWords(plan: Plan, tag: RowTag): string {
  const bound = statedBound(plan, tag);
  return `${isFloor(tag) ? "at least" : "at most"} ${isShare(tag) ? percent(bound) : weight(bound, plan.units)}`;
}

/**
 * The limits of a plan's `simple`, as phrases.
 * @param each what a least weight is of.
 */
export function simpleWords({ simple, units }: Plan, each: "each" | "each amendment"): string[] {
  const { most, leastKg } = simple ?? {};
  return [
    ...(most === undefined ? [] : [`at most ${counted(most, "amendment")} in a blend`]),
    ...(leastKg === undefined ? [] : [`at least ${weight(leastKg, units)} of ${each} in a batch`]),
  ];
}

/** One demand, as a phrase: `at least 3 lb of N available by day 120`. */
export function demandWords(plan: Plan, tag: RowTag): string {
  if (isNutrientTag(tag)) return `${boundWords(plan, tag)} of ${tag.nutrient} ${countedWords(plan, tag)}`;
  if (tag.kind === "other") return tag.label;
  const name = nameOf(plan, tag.id);
  if (tag.kind === "stock") return `no more ${name} than the shed holds`;
  const blend = blendWords(plan, tag.application);
  if (tag.kind === "not-in") return `no ${name} in ${blend}`;
  const bound = boundWords(plan, tag);
  return isShare(tag) ? `${name} ${bound} of ${blend}` : `${bound} of ${name} in ${blend}`;
}

const LIMIT_NAMES = {
  "min-share": "least share of",
  "max-share": "most share of",
  min: "least amount of",
  max: "most amount of",
} as const;

/** A row of the program as a short name: `N by day 21`, `cap on P2O5 applied`. */
export function rowName(plan: Plan, tag: RowTag): string {
  if (tag.kind === "other") return tag.label;
  if (tag.kind === "stock") return `${nameOf(plan, tag.id)} in the shed`;
  if (tag.kind === "in-time") return `${tag.nutrient} by ${day(tag.day)}`;
  if (tag.kind === "applied-max") return handleName(plan, tag);
  if (tag.kind === "ahead-max") return `${handleName(plan, tag)} on ${day(tag.day)}`;
  if (isNutrientTag(tag)) {
    const counted = isApplied(plan, tag.nutrient) ? "spread in all" : "over the season";
    return `${tag.kind === "season-max" ? "most " : ""}${tag.nutrient} ${counted}`;
  }
  const { applications } = plan;
  const round =
    tag.application === null || applications.length === 1 ? undefined : applications[tag.application];
  const limit = statedBy(tag);
  const name = limit === null ? `no ${nameOf(plan, tag.id)}` : handleName(plan, limit);
  return `${name}${round ? ` (${round.name})` : ""}`;
}

/** A number of a plan as a short name: `price of Feather meal`, `need of N`, `cap on P2O5 applied`. */
export function handleName(plan: Plan, handle: Handle): string {
  if (handle.kind === "price") return `price of ${nameOf(plan, handle.id)}`;
  if (handle.kind === "stock") return rowName(plan, { kind: "stock", id: handle.id });
  if ("id" in handle) return `${LIMIT_NAMES[handle.kind]} ${nameOf(plan, handle.id)}`;
  const { kind, nutrient } = handle;
  if (kind === "need") return `need of ${nutrient}`;
  if (kind === "season-max") return `most ${nutrient} over the season`;
  return `cap on ${nutrient} ${kind === "applied-max" ? "applied" : "ahead of uptake"}`;
}

/** The demand of a sensitivity as a short name. */
export function demandName(plan: Plan, { kind, nutrient, id }: DemandSensitivity): string {
  return handleName(plan, (nutrient === undefined ? { kind, id } : { kind, nutrient }) as Handle);
}

function outwardShare(share: number, up: boolean): string {
  const steps = share * 1000;
  const whole = up ? Math.ceil(steps - 1e-5) : Math.floor(steps + 1e-5);
  return percent(Math.min(1000, Math.max(0, whole)) / 1000);
}

/** What to write instead of a demand so that it gives way as far as `to`. */
export function givingWay(plan: Plan, tag: RowTag, to: number): GivingWay {
  return {
    demand: demandWords(plan, tag),
    tag,
    unit: isShare(tag) ? "share" : "kg",
    from: statedBound(plan, tag),
    to,
    text: wayText(plan, tag, to),
  };
}

function wayText(plan: Plan, tag: RowTag, to: number): string {
  const floor = isFloor(tag);
  const now = `(now ${boundWords(plan, tag)})`;
  const relaxed = isShare(tag) ? outwardShare(to, !floor) : weightOutward(to, !floor, plan.units);
  if (isNutrientTag(tag)) {
    const bound = weight(statedBound(plan, tag), plan.units);
    if (floor && to <= 0) return `do without ${bound} of ${tag.nutrient} ${when(plan, tag)}`;
    return `${floor ? "settle for" : "allow"} ${relaxed} of ${tag.nutrient} ${countedWords(plan, tag)} (now ${bound})`;
  }
  if (!("application" in tag)) return demandWords(plan, tag);
  const name = nameOf(plan, tag.id);
  const blend = blendWords(plan, tag.application);
  if (floor && to <= 0) return `do without ${name} in ${blend} ${now}`;
  const only = floor ? "only " : "";
  if (tag.kind === "not-in") return `let ${relaxed} of ${name} into ${blend}`;
  const does = isShare(tag) ? "be" : "weigh";
  return `let ${name} ${does} ${only}${relaxed} ${isShare(tag) ? "of" : "in"} ${blend} ${now}`;
}

const brings = (amendment: Amendment, nutrient: Nutrient) => (amendment.analysis[nutrient] ?? 0) > 0;
const names = (amendments: readonly Amendment[]) => namesOf(amendments, 4);

function when(plan: Plan, tag: NutrientTag): string {
  return tag.kind === "in-time" ? `by ${dayWords(tag.day, plan.planted)}` : "over the season";
}

/** A most in words that follow `without`: `P2O5 above 4 lb applied`. */
function above(plan: Plan, tag: NutrientTag): string {
  const more = `more than ${weight(statedBound(plan, tag), plan.units)} of ${tag.nutrient}`;
  if (tag.kind === "applied-max") return `applying ${more}`;
  if (tag.kind === "ahead-max") return `having ${more} ahead of uptake on ${dayWords(tag.day, plan.planted)}`;
  return isApplied(plan, tag.nutrient) ? `spreading ${more} in all` : `having ${more} over the season`;
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
