/** How sure each need is met, what being surer costs, and the weak season that a mix is ready for. */
import type { Nutrient } from "../nutrients.ts";
import type { Solution } from "../results/solution.ts";
import type { NeedSureness, SureCertificate, Sureness, SureStep } from "../results/sure.ts";
import { decimal, listed, weightBeside } from "../words/numbers.ts";
import {
  chancePercent,
  inSeasons,
  isCarriedOver,
  seasonsOf,
  shortfallWords,
  worthWords,
} from "../words/sure-words.ts";
import { type BedView, ofBed, type View } from "./answer-view.ts";
import { type Block, blocksOf, bullets, paragraph, type Section, section, table, words } from "./report.ts";
import { sum, type Writer } from "./writer.ts";

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
    ...(first ? [`${opening} ${inSeasons(first.p)}`] : []),
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

/** How often the crop is fed, as words: `in about 5 seasons of 10`; of several beds the least sure. Null where it was not worked out. */
export function fedWords({
  beds,
}: View): { readonly p: number; readonly each: string; readonly together: string | null } | null {
  const spoken = beds.flatMap(({ bed, plan }) => {
    if (!bed.sure || bed.sure.needs.length === 0) return [];
    const asked = askedOf(bed.sure);
    const own = weakest(bed.sure.needs).filter(({ nutrient }) =>
      asked.size > 0 ? asked.has(nutrient) : !isCarriedOver(nutrient),
    );
    const needs = own.length > 0 ? own : weakest(bed.sure.needs);
    const { together } = bed.sure;
    // Where some needs are asked for, it is these that are counted together.
    const of = asked.size > 0 ? asked : new Set(bed.sure.needs.map(({ nutrient }) => nutrient));
    return [{ plan, each: Math.min(...needs.map(chanceOf)), together, of, asked: asked.size > 0 }];
  });
  if (spoken.length === 0) return null;
  const each = Math.min(...spoken.map((one) => one.each));
  const joint = spoken.flatMap(({ together, of }) => (together !== null && of.size > 1 ? [together] : []));
  const which = spoken.some(({ asked }) => asked) ? "what is asked for" : "all needs";
  return {
    p: each,
    each: inSeasons(each),
    together: joint.length > 0 ? `${which} at once in ${seasonsOf(Math.min(...joint))}` : null,
  };
}

/** A chance by law may be so much above that of drawn seasons, by which a mix is found that is as sure as asked. */
const BY_SEASONS = 0.02;

/** What the same bags give where they are used up, and the flag that asks for that mix, where that is surer; null where it is not, or not known. */
export function usedUpWords({ beds }: View): string | null {
  const [one] = beds;
  const { sure } = one?.bed ?? {};
  if (beds.length !== 1 || sure?.usedUp === undefined) return null;
  const now = Math.min(...weakest(sure.needs).map(chanceOf));
  if (sure.usedUp - now < 0.02 || seasonsOf(sure.usedUp) === seasonsOf(now)) return null;
  const percent = Math.floor(100 * (sure.usedUp - BY_SEASONS));
  // A need can be asked for from 50 % on.
  return `${seasonsOf(sure.usedUp)}${percent > 50 ? ` (\`--sure ${percent}%\`)` : ""}`;
}

/** The table of needs, where sureness was asked for. */
export function sureSections(view: View): Section[] {
  return view.beds.flatMap((one) => {
    const { sure } = one.bed;
    if (sure === undefined || askedOf(sure).size === 0) return [];
    return section(
      ofBed(view, one, "How sure, as far as the spreads are right (see `list varies`)"),
      needTable(view, one, sure),
      sureNotes(view, sure),
    );
  });
}

function needTable({ solution: { units }, masses }: View, { plan }: BedView, sure: Sureness): Block {
  const lasting = new Set(carriedOver(sure));
  const beside = (kg: number, need: NeedSureness): string => weightBeside(kg, need.expectKg, units);
  return table(weakest(sure.needs), [
    words("Nutrient", "nutrient", (need) =>
      need.day === plan.seasonDays ? need.nutrient : `${need.nutrient} by day ${need.day}`,
    ),
    masses("Needed", "needed", (need) => need.needKg, beside),
    masses("Expected", "expected", (need) => need.expectKg, beside),
    masses("In a weak season (1 of 10)", "one_in_ten", (need) => need.oneInTenKg, beside),
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
  const plain = (solution.surer ?? []).find(({ p }) => p === 0.5)?.cost ?? sure.plainCost;
  const total = solution.cost.total;
  const more = plain === undefined || plain === null || total === null ? null : total - plain;
  const share = more !== null && plain! > 0 ? ` (+${decimal((100 * more) / plain!, 0)}%)` : "";
  const costs =
    more === null
      ? ""
      : more > 0.005
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
      `Worked out again over ${decimal(sure.seasons, 0)} seasons: ${listed(worked)}${together}.${costs}`,
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

/** At length: the price of certainty step by step, the weak season, and what knowing better is worth. */
export function sureDetails(view: View): Section[] {
  const { solution } = view;
  const { surer = [], by } = solution;
  const head = by === "purchase" ? "With delivery" : "By weight";
  return [
    ...section("What being surer costs", ladderTable(surer, view, { head, none: "no mix is that sure" })),
    ...view.beds.flatMap((one) => bedDetails(view, one)),
  ];
}

function bedDetails(view: View, one: BedView): Section[] {
  const { money, perUnit, solution } = view;
  const { sure } = one.bed;
  if (sure === undefined) return [];
  const { paysAbovePerKg: pays, certificate, worth = [] } = sure;
  return [
    ...section(
      ofBed(view, one, "The weak season this mix is ready for"),
      bullets(certificate.map((weak) => weakWords(view, one, weak))),
      paragraph(
        pays
          ? `What was asked pays where ${solution.units === "us" ? "a pound" : "a kilogram"} of ${pays.nutrient} too little would cost more than ${perUnit(pays.perKg)} of crop.`
          : "",
      ),
    ),
    ...section(
      ofBed(view, one, "What knowing better could save in a season, as sure as now"),
      bullets(
        worth.map(
          (known) =>
            `${worthWords(one.plan, known)}: ${known.saves > 0.005 ? `about ${money(known.saves)}` : "nothing"}.`,
        ),
      ),
    ),
  ];
}

function weakWords(
  { solution: { units }, weight }: View,
  { plan }: BedView,
  { nutrient, day, weakSeason }: SureCertificate,
): string {
  const all = sum(weakSeason.map(({ kg }) => kg));
  const named = weakSeason.filter(({ kg }) => kg >= REST * all);
  const rest = all - sum(named.map(({ kg }) => kg));
  const parts = [
    ...named.map((one) => `${shortfallWords(plan, one)} ${weightBeside(one.kg, all, units)}`),
    ...(rest > 0.001 * all ? [`the rest ${weightBeside(rest, all, units)}`] : []),
  ];
  const by = day === plan.seasonDays ? "" : ` by day ${day}`;
  return `${nutrient}${by}: ${weight(all)} less than expected (${parts.join(", ")}).`;
}

/** Nine seasons in ten are what most people want to know the price of; a judgement. */
const WISHED = 0.9 - 1e-9;

/** The surer answer that the page names, and what it costs: nine in ten, or the next step above what is asked; else null. */
export function surerStep({ surer = [], inputs }: Solution): SureStep | null {
  const asked = Math.max(0.5, ...inputs.plans.flatMap(({ sure }) => sure?.each.map(({ p }) => p) ?? []));
  const above = surer.filter(({ p }) => p > asked);
  const [first] = above;
  // What a page and the whole report know of the steps differs; the step that both name is this one.
  const wished = above.find(({ p }) => p >= WISHED) ?? first;
  const possible = above.findLast(({ cost }) => cost !== null);
  return (wished?.cost === null ? possible : undefined) ?? wished ?? null;
}
