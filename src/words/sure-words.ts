/** How sure something is, in seasons; and what makes a season a weak one. */
import type { Plan, SureAsked } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Conflict } from "../results/solution.ts";
import type { Shortfall, WorthKnowing } from "../results/sure.ts";
import type { Doubt } from "../season/spread.ts";
import { nameOf } from "./demand-words.ts";
import { decimal } from "./numbers.ts";

/** A share of seasons to one digit, as growers count: 9 of 10, 19 of 20. No finer, for the spreads are not. */
function seasons(p: number): readonly [count: number, of: number] {
  if (p >= 0.9975) return [10, 10];
  if (p >= 0.985) return [99, 100];
  if (p >= 0.925) return [19, 20];
  if (p < 0.0025) return [0, 10];
  if (p < 0.015) return [1, 100];
  if (p < 0.075) return [1, 20];
  return [Math.round(p * 10), 10];
}

/** A share of seasons for a table, or where seasons were named already: `9 of 10`. */
export function seasonsOf(p: number): string {
  return seasons(p).join(" of ");
}

/** The same in a sentence: `in about 9 seasons of 10`, `in no season`. */
export function inSeasons(p: number): string {
  const [count, of] = seasons(p);
  if (count === 0) return "in no season";
  return `in about ${count} ${count === 1 ? "season" : "seasons"} of ${of}`;
}

/** A share as a percentage of the fewest digits that keep it from reading 100 % or 0 % when it is not. */
export function chancePercent(p: number): string {
  const percent = 100 * p;
  const near = Math.min(percent, 100 - percent);
  const text = decimal(percent, near > 0 && near < 1 ? 1 : 0);
  if (p < 1 && (text === "100" || text === "100.0")) return "over 99.9%";
  if (p > 0 && (text === "0" || text === "0.0")) return "under 0.1%";
  return `${text}%`;
}

const WITH_SPACE = {
  "soil-temperature": "soil temperature",
  "soil-water": "soil water",
  releases: "releases",
  spreading: "spreading",
} as const;

/** What a doubt is about, for machines. */
export function shortfallOf(doubt: Doubt, kg: number): Shortfall {
  if (doubt.kind === "lot") return { what: doubt.id, kind: "amendment", kg };
  if (doubt.kind === "credit") return { what: doubt.from, kind: "credit", kg };
  if (doubt.kind === "given") return { what: "spreading", kind: "spreading", kg };
  const kind = WITH_SPACE[doubt.kind];
  return { what: kind, kind, kg };
}

const SHARED_BY_ALL = {
  releases: "all releases together",
  "soil temperature": "cold soil",
  "soil water": "drainage",
  spreading: "weighing and spreading",
} as const;

/** What runs low, for a reader. */
export function shortfallWords(plan: Plan, { what, kind }: Shortfall): string {
  if (kind === "amendment") return nameOf(plan, what);
  return kind === "credit" ? `the credit for ${what}` : SHARED_BY_ALL[kind];
}

/** Nutrients that a soil hardly carries from one season to the next: Bray 1954, Soil Sci. 78:9 (abstract). */
const MOBILE: readonly Nutrient[] = ["N", "S", "B", "Cl"];

/** Whether the soil carries a nutrient over, so that one poor season is mended by the next. */
export function isCarriedOver(nutrient: Nutrient): boolean {
  return !MOBILE.includes(nutrient);
}

/** What could be known better, for a reader. */
export function worthWords(plan: Plan, one: WorthKnowing): string {
  switch (one.what) {
    case "soil-nitrate":
      return "A soil nitrate test before planting, where 0, 20, 40 and 60 lb/acre are equally likely";
    case "soil-p-k":
      return "A soil test of P and K, where they turn out to be needed in full, by half or not at all (it holds for about three years)";
    case "releases":
      return "Knowing the release of these lots twice as well";
    case "analysis":
      return `A laboratory analysis of ${one.nutrient} in this lot of ${nameOf(plan, one.id!)}`;
  }
}

/** Why there is nothing to weigh, as a clause: no mix at all, or none as sure as asked. */
export function noMixWords(conflicts: readonly Conflict[]): string {
  return conflicts.some(({ relaxations = [] }) => relaxations.some(({ tag }) => tag.kind === "sure"))
    ? "Mixes meet the plan, but none as surely as asked"
    : "No mix of these amendments meets every demand of the plan";
}

/** Which mixes or purchases a proof of least cost is about, put behind the noun: those as sure as a plan asks. */
export function thatSure(asked: SureAsked | undefined): string {
  // How risk is shared among needs that are to be met together is not proven; what each of them costs is.
  if (asked?.together) return " that is as sure of every need";
  return asked?.each.some(({ p }) => p > 0.5) ? " that is as sure" : "";
}
