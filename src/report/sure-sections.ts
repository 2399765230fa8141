/** How sure each need is met, what being surer costs, and the weak season that a mix is ready for. */
import type { Nutrient } from "../nutrients.ts";
import type { Shopping } from "../results/shopping.ts";
import type { NeedSureness, SureCertificate, Sureness, SureStep } from "../results/sure.ts";
import { decimal, listed, weightBeside } from "../words/numbers.ts";
import {
  chancePercent,
  isCarriedOver,
  seasonsOf,
  seasonsWords,
  shortfallWords,
  worthWords,
} from "../words/sure-words.ts";
import { type Block, blocksOf, bullets, paragraph, type Section, section, table, words } from "./report.ts";
import type { View } from "./solution-view.ts";
import { sum, type Writer, writerOf } from "./writer.ts";

/** Chances as close as this are the same: what is between them is rounding. */
const AS_SURE = 1e-6;

/** The need of each nutrient that is met least often, in the order of the nutrients. */
export function weakest(needs: readonly NeedSureness[]): NeedSureness[] {
  const found = new Map<Nutrient, NeedSureness>();
  for (const need of needs) {
    const before = found.get(need.nutrient);
    // The season's end comes last and is what counts where an earlier day is as sure.
    if (before === undefined || chanceOf(need) <= chanceOf(before) + AS_SURE) found.set(need.nutrient, need);
  }
  return [...found.values()];
}

/** The chance to print: worked out again where that was done. */
export function chanceOf({ p, pChecked }: NeedSureness): number {
  return pChecked ?? p;
}

/** Needs by how often they are met, as it is written. */
function byOften(needs: readonly NeedSureness[]): { readonly p: number; readonly nutrients: Nutrient[] }[] {
  const groups = new Map<string, { p: number; nutrients: Nutrient[] }>();
  for (const need of weakest(needs)) {
    const p = chanceOf(need);
    const group = groups.get(seasonsOf(p)) ?? { p, nutrients: [] };
    group.nutrients.push(need.nutrient);
    groups.set(seasonsOf(p), group);
  }
  return [...groups.values()];
}

/** Needs by how often they are met: the first group in the words of a sentence, the others in short. */
function oftenWords([first, ...others]: ReturnType<typeof byOften>, opening: string): string {
  return listed([
    ...(first ? [`${opening} in about ${seasonsWords(first.p)}`] : []),
    ...others.map(({ p, nutrients }) => `${listed(nutrients)} in ${seasonsOf(p)}`),
  ]);
}

/** How often each need is met, as a sentence without its stop. */
export function metLine(needs: readonly NeedSureness[]): string {
  const groups = byOften(needs);
  const { nutrients = [] } = groups[0] ?? {};
  const each = groups.length === 1 && nutrients.length > 1;
  const whose = each ? "Each need is" : `${listed(nutrients)} ${nutrients.length === 1 ? "is" : "are"}`;
  return oftenWords(groups, `${whose} met`);
}

/** What a mix is made for, as a sentence: of the needs that are asked to be sure, or of all. Null without needs. */
export function madeLine({ needs }: Pick<Sureness, "needs">, asked: ReadonlySet<Nutrient>): string | null {
  const groups = byOften(asked.size === 0 ? needs : needs.filter(({ nutrient }) => asked.has(nutrient)));
  if (groups.length === 0) return null;
  const { nutrients } = groups[0]!;
  const each = asked.size === 0 && groups.length === 1 && nutrients.length > 1;
  return `Made to meet ${oftenWords(groups, each ? "each need" : listed(nutrients))}.`;
}

/** One line under the title, where nobody asked to be sure. */
export function sureLine({ solution: { sure, purchase } }: View): Block[] {
  if (sure === undefined || sure.needs.length === 0 || askedOf(sure).size > 0) return [];
  const all =
    sure.together === null || sure.needs.length < 2
      ? ""
      : `, all of them together in about ${seasonsWords(sure.together)}`;
  const ask = purchase?.basis === "packs" ? "shop --sure 90%" : "--sure 90%";
  return [paragraph(`${metLine(sure.needs)}${all} (surer: \`${ask}\`).`)];
}

/** The table of needs, where sureness was asked for. */
export function sureSections(view: View): Section[] {
  const { sure } = view.solution;
  if (sure === undefined || askedOf(sure).size === 0) return [];
  return section(
    "How sure, as far as the spreads are right (see `list varies`)",
    needTable(view, sure),
    sureNotes(view, sure),
  );
}

function needTable({ solution: { inputs, units }, masses }: View, sure: Sureness): Block {
  const lasting = new Set(carriedOver(sure));
  const beside = (kg: number, need: NeedSureness): string => weightBeside(kg, need.expectKg, units);
  return table(weakest(sure.needs), [
    words("Nutrient", "nutrient", (need) =>
      need.day === inputs.seasonDays ? need.nutrient : `${need.nutrient} by day ${need.day}`,
    ),
    masses("Needed", "needed", (need) => need.needKg, beside),
    masses("Expected", "expected", (need) => need.expectKg, beside),
    masses("1 season in 10 at most", "one_in_ten", (need) => need.oneInTenKg, beside),
    words("Met in", "met_in", (need) => seasonsOf(chanceOf(need)) + (lasting.has(need.nutrient) ? " *" : "")),
  ]);
}

function askedOf({ asked, askedTogether }: Pick<Sureness, "asked" | "askedTogether">): Set<Nutrient> {
  return new Set([...asked.map(({ nutrient }) => nutrient), ...(askedTogether?.nutrients ?? [])]);
}

/** Nutrients that nobody asked to be sure of, that are seldom met, and that the soil keeps from year to year. */
function carriedOver(sure: Sureness): Nutrient[] {
  const asked = askedOf(sure);
  return weakest(sure.needs)
    .filter((need) => !asked.has(need.nutrient) && isCarriedOver(need.nutrient) && chanceOf(need) < 0.75)
    .map(({ nutrient }) => nutrient);
}

function sureNotes({ solution, money }: View, sure: Sureness): Block[] {
  const asked = askedOf(sure);
  const lasting = carriedOver(sure);
  const worked = weakest(sure.needs)
    .filter(({ nutrient, pChecked }) => asked.has(nutrient) && pChecked !== null)
    .map((need) => `${need.nutrient} in ${chancePercent(chanceOf(need))}`);
  const together =
    asked.size > 1 && sure.together !== null
      ? `, ${asked.size === 2 ? "both" : "all"} in ${chancePercent(sure.together)}`
      : "";
  const { plainCost } = sure;
  const more = (solution.cost.total ?? Number.NaN) - (plainCost ?? Number.NaN);
  const share =
    plainCost !== undefined && plainCost > 0 ? ` (+${decimal((100 * more) / plainCost, 0)}%)` : "";
  const costs =
    more > 0.005
      ? ` Being this sure costs ${money(more)} more than meeting the needs on average${share}.`
      : " Being this sure costs nothing more.";
  return blocksOf(
    paragraph(
      lasting.length === 0
        ? ""
        : `* The soil carries ${listed(lasting)} over from year to year. On a soil that tests low, ask for ${lasting.length === 1 ? "it" : "them"} too: --sure ${lasting[0]}=90%.`,
      "faint",
    ),
    paragraph(
      `Worked out again over ${decimal(sure.seasons, 0)} seasons: ${listed(worked)}${together}.${plainCost === undefined ? "" : costs}`,
    ),
    (sure.notes ?? []).map((note) => paragraph(note)),
  );
}

/** What each step of certainty costs. */
function ladderTable(
  ladder: readonly SureStep[],
  { cash }: Writer,
  { head, none }: { readonly head: string; readonly none: string },
): Block {
  return table(ladder, [
    words("Met in", "met_in", ({ p }) => seasonsOf(p)),
    cash(head, "cost", ({ cost }) => cost),
    words("", "none", ({ cost }) => (cost === null ? none : null)),
  ]);
}

/** What runs low by less than this share of all is `the rest`. */
const REST = 0.03;

/** At length: the weak season, the price of certainty step by step, and what knowing better is worth. */
export function sureDetails(view: View): Section[] {
  const { solution, money, perUnit } = view;
  const { sure, inputs, units } = solution;
  if (sure === undefined) return [];
  const { ladder = [], paysAbovePerKg: pays, certificate, worth = [] } = sure;
  return [
    ...section(
      `What being surer of ${listed([...askedOf(sure)])} costs`,
      ladderTable(ladder, view, { head: "By weight", none: "no mix is that sure" }),
      paragraph(
        pays && ladder.length > 0
          ? `What was asked pays where ${units === "us" ? "a pound" : "a kilogram"} of ${pays.nutrient} too little would cost more than ${perUnit(pays.perKg)} of crop.`
          : "",
      ),
    ),
    ...section(
      "The weak season this mix is ready for",
      bullets(certificate.map((one) => weakWords(view, one))),
    ),
    ...section(
      "What knowing better could save in a season, as sure as now",
      bullets(
        worth.map(
          (one) =>
            `${worthWords(inputs, one)}: ${one.saves > 0.005 ? `about ${money(one.saves)}` : "nothing"}.`,
        ),
      ),
    ),
  ];
}

function weakWords(
  { solution: { inputs, units }, weight }: View,
  { nutrient, day, weakSeason }: SureCertificate,
): string {
  const all = sum(weakSeason.map(({ kg }) => kg));
  const named = weakSeason.filter(({ kg }) => kg >= REST * all);
  const rest = all - sum(named.map(({ kg }) => kg));
  const parts = [
    ...named.map((one) => `${shortfallWords(inputs, one)} ${weightBeside(one.kg, all, units)}`),
    ...(rest > 0.001 * all ? [`the rest ${weightBeside(rest, all, units)}`] : []),
  ];
  const by = day === inputs.seasonDays ? "" : ` by day ${day}`;
  return `${nutrient}${by}: ${weight(all)} less than expected (${parts.join(", ")}).`;
}

/** How sure a purchase is: one line under its title. */
export function shopSureLine({ sure }: Pick<Shopping, "sure">): Block[] {
  if (sure === undefined) return [];
  const { nutrients, mix, usedUp } = sure;
  const better =
    usedUp === null || usedUp - mix < 0.02 || seasonsOf(usedUp) === seasonsOf(mix)
      ? ""
      : `; another mix, using them up, in about ${seasonsOf(usedUp)}`;
  return [paragraph(`The mix on them meets ${listed(nutrients)} in about ${seasonsWords(mix)}${better}.`)];
}

/** What whole packs cost at each step of certainty. */
export function shopSureSections({ sure, ...shopping }: Shopping): Section[] {
  const { ladder = [], nutrients = [] } = sure ?? {};
  return section(
    `What being surer of ${listed(nutrients)} costs, delivery included`,
    ladderTable(ladder, writerOf(shopping), { head: "In whole packs", none: "no purchase was found" }),
  );
}
