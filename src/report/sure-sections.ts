/** How sure each need is met, what being surer costs, and the weak season that a mix is ready for. */
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { NeedSureness, PurchaseSureness, SureCertificate, Sureness } from "../results/sure.ts";
import { decimal, listed, money, moneyPerUnit, weight, weightBeside } from "../words/numbers.ts";
import {
  chancePercent,
  isCarriedOver,
  seasonsOf,
  seasonsWords,
  shortfallWords,
  worthWords,
} from "../words/sure-words.ts";
import {
  type Block,
  bullets,
  cash,
  figures,
  paragraph,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** What a report on sureness needs of the result it belongs to. */
export interface SureView {
  readonly sure?: Sureness;
  readonly currency: string;
  readonly units: Plan["units"];
  readonly inputs: Plan;
  readonly cost?: { readonly total: number | null };
  readonly purchase?: { readonly basis: "packs" | "weight" };
}

/** The need of each nutrient that is met least often, in the order of the nutrients. */
export function weakest(needs: readonly NeedSureness[]): NeedSureness[] {
  const found = new Map<Nutrient, NeedSureness>();
  for (const need of needs) {
    const before = found.get(need.nutrient);
    // The season's end comes last and is what counts where an earlier day is as sure.
    if (before === undefined || chanceOf(need) <= chanceOf(before)) found.set(need.nutrient, need);
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

/** How often each need is met, as a sentence without its stop. */
export function metLine(needs: readonly NeedSureness[]): string {
  const groups = byOften(needs);
  const texts = groups.map(({ p, nutrients }, i) => {
    if (i > 0) return `${listed(nutrients)} in ${seasonsOf(p)}`;
    const whose =
      groups.length === 1 && nutrients.length > 1
        ? "Each need is"
        : `${listed(nutrients)} ${nutrients.length === 1 ? "is" : "are"}`;
    return `${whose} met in about ${seasonsWords(p)}`;
  });
  return listed(texts);
}

/** What a mix is made for, as a sentence: of the needs that are asked to be sure, or of all. Null without needs. */
export function madeLine({ needs }: Pick<Sureness, "needs">, asked: ReadonlySet<Nutrient>): string | null {
  const groups = byOften(asked.size === 0 ? needs : needs.filter(({ nutrient }) => asked.has(nutrient)));
  if (groups.length === 0) return null;
  const texts = groups.map(({ p, nutrients }, i) => {
    if (i > 0) return `${listed(nutrients)} in ${seasonsOf(p)}`;
    const whole = asked.size === 0 && groups.length === 1 && nutrients.length > 1;
    return `${whole ? "each need" : listed(nutrients)} in about ${seasonsWords(p)}`;
  });
  return `Made to meet ${listed(texts)}.`;
}

/** One line under the title, where nobody asked to be sure. */
export function sureLine({ sure, purchase }: SureView): Block[] {
  if (sure === undefined || sure.needs.length === 0 || askedOf(sure).size > 0) return [];
  const all =
    sure.together === null || sure.needs.length < 2
      ? ""
      : `, all of them together in about ${seasonsWords(sure.together)}`;
  const ask = purchase?.basis === "packs" ? "shop --sure 90%" : "--sure 90%";
  return [paragraph(`${metLine(sure.needs)}${all} (surer: \`${ask}\`).`)];
}

/** The table of needs, where sureness was asked for. */
export function sureSections(view: SureView): Section[] {
  const { sure } = view;
  if (sure === undefined || askedOf(sure).size === 0) return [];
  return [
    {
      title: "How sure, as far as the spreads are right (see `list varies`)",
      blocks: [needTable(view, sure), ...lines(view, sure)],
    },
  ];
}

function needTable({ inputs, units }: SureView, sure: Sureness): Block {
  const asked = askedOf(sure);
  const rows = weakest(sure.needs);
  const mark = (need: NeedSureness): string =>
    !asked.has(need.nutrient) && isCarriedOver(need.nutrient) && chanceOf(need) < 0.75 ? " *" : "";
  const beside = (kg: number, need: NeedSureness): string => weightBeside(kg, need.expectKg, units);
  const table = tableOf(rows, [
    words("Nutrient", "nutrient", (need) =>
      need.day === inputs.seasonDays ? need.nutrient : `${need.nutrient} by day ${need.day}`,
    ),
    figures("Needed", "needed_kg", (need) => need.needKg, beside),
    figures("Expected", "expected_kg", (need) => need.expectKg, beside),
    figures("1 season in 10 at most", "one_in_ten_kg", (need) => need.oneInTenKg, beside),
    words("Met in", "met_in", (need) => seasonsOf(chanceOf(need)) + mark(need)),
  ]);
  return tableBlock(table);
}

function askedOf(sure: Sureness): Set<Nutrient> {
  return new Set([...sure.asked.map(({ nutrient }) => nutrient), ...(sure.askedTogether?.nutrients ?? [])]);
}

function lines(view: SureView, sure: Sureness): Block[] {
  const asked = askedOf(sure);
  const rows = weakest(sure.needs);
  const kept = rows.filter(
    (need) => !asked.has(need.nutrient) && isCarriedOver(need.nutrient) && chanceOf(need) < 0.75,
  );
  const worked = rows
    .filter(({ nutrient, pChecked }) => asked.has(nutrient) && pChecked !== null)
    .map((need) => `${need.nutrient} in ${chancePercent(chanceOf(need))}`);
  const together =
    asked.size > 1 && sure.together !== null
      ? `, ${asked.size === 2 ? "both" : "all"} in ${chancePercent(sure.together)}`
      : "";
  const total = view.cost?.total;
  const more = total != null && sure.plainCost !== undefined ? total - sure.plainCost : 0;
  const costs =
    more > 0.005
      ? ` Being this sure costs ${money(more, view.currency)} more than meeting the needs on average${share(more, sure.plainCost)}.`
      : " Being this sure costs nothing more.";
  return [
    ...(kept.length > 0
      ? [
          paragraph(
            `* The soil carries ${listed(kept.map(({ nutrient }) => nutrient))} over from year to year. On a soil that tests low, ask for ${kept.length === 1 ? "it" : "them"} too: --sure ${kept[0]!.nutrient}=90%.`,
            "faint",
          ),
        ]
      : []),
    paragraph(
      `Worked out again over ${decimal(sure.seasons, 0)} seasons: ${listed(worked)}${together}.${sure.plainCost === undefined ? "" : costs}`,
    ),
    ...(sure.notes ?? []).map((note) => paragraph(note)),
  ];
}

function share(more: number, of: number | undefined): string {
  return of !== undefined && of > 0 ? ` (+${decimal((100 * more) / of, 0)}%)` : "";
}

/** At length: the weak season, the price of certainty step by step, and what knowing better is worth. */
export function sureDetails(view: SureView): Section[] {
  const { sure } = view;
  if (sure === undefined) return [];
  return [...ladderSections(view, sure), ...weakSections(view, sure), ...worthSections(view, sure)];
}

function ladderSections({ currency, units }: SureView, sure: Sureness): Section[] {
  const { ladder = [], paysAbovePerKg: pays } = sure;
  if (ladder.length === 0) return [];
  const table = tableOf(ladder, [
    words("Met in", "met_in", ({ p }) => seasonsOf(p)),
    cash("By weight", "cost", ({ cost }) => cost, currency),
    words("", "none", ({ cost }) => (cost === null ? "no mix is that sure" : null)),
  ]);
  return [
    {
      title: `What being surer of ${listed([...askedOf(sure)])} costs`,
      blocks: [
        tableBlock(table),
        ...(pays
          ? [
              paragraph(
                `What was asked pays where ${units === "us" ? "a pound" : "a kilogram"} of ${pays.nutrient} too little would cost more than ${moneyPerUnit(pays.perKg, currency, units)} of crop.`,
              ),
            ]
          : []),
      ],
    },
  ];
}

/** What runs low by less than this share of all is `the rest`. */
const REST = 0.03;

function weakSections({ inputs, units }: SureView, sure: Sureness): Section[] {
  if (sure.certificate.length === 0) return [];
  const line = ({ nutrient, day, weakSeason }: SureCertificate): string => {
    const all = weakSeason.reduce((sum, { kg }) => sum + kg, 0);
    const named = weakSeason.filter(({ kg }) => kg >= REST * all);
    const rest = all - named.reduce((sum, { kg }) => sum + kg, 0);
    const parts = [
      ...named.map((one) => `${shortfallWords(inputs, one)} ${weightBeside(one.kg, all, units)}`),
      ...(rest > 0.001 * all ? [`the rest ${weightBeside(rest, all, units)}`] : []),
    ];
    const by = day === inputs.seasonDays ? "" : ` by day ${day}`;
    return `${nutrient}${by}: ${weight(all, units)} less than expected (${parts.join(", ")}).`;
  };
  return [
    {
      title: "The weak season this mix is ready for",
      blocks: [bullets(sure.certificate.map(line))],
    },
  ];
}

function worthSections({ inputs, currency }: SureView, sure: Sureness): Section[] {
  const { worth = [] } = sure;
  if (worth.length === 0) return [];
  const items = worth.map(
    (one) =>
      `${worthWords(inputs, one)}: ${one.saves > 0.005 ? `about ${money(one.saves, currency)}` : "nothing"}.`,
  );
  return [
    {
      title: "What knowing better could save in a season, as sure as now",
      blocks: [bullets(items)],
    },
  ];
}

/** How sure a purchase is: one line under its title. */
export function shopSureLine({ sure }: { readonly sure?: PurchaseSureness }): Block[] {
  if (sure === undefined) return [];
  const { nutrients, mix, usedUp } = sure;
  const names = listed(nutrients);
  if (usedUp === null || usedUp - mix < 0.02 || seasonsOf(usedUp) === seasonsOf(mix))
    return [paragraph(`The mix on them meets ${names} in about ${seasonsWords(mix)}.`)];
  return [
    paragraph(
      `The mix on them meets ${names} in about ${seasonsWords(mix)}; another mix, using them up, in about ${seasonsOf(usedUp)}.`,
    ),
  ];
}

/** What whole packs cost at each step of certainty. */
export function shopSureSections({
  sure,
  currency,
}: {
  readonly sure?: PurchaseSureness;
  readonly currency: string;
}): Section[] {
  const { ladder = [], nutrients = [] } = sure ?? {};
  if (ladder.length === 0) return [];
  const table = tableOf(ladder, [
    words("Met in", "met_in", ({ p }) => seasonsOf(p)),
    cash("In whole packs", "total", ({ cost }) => cost, currency),
    words("", "none", ({ cost }) => (cost === null ? "no purchase was found" : null)),
  ]);
  return [
    {
      title: `What being surer of ${listed(nutrients)} costs, delivery included`,
      blocks: [tableBlock(table)],
    },
  ];
}
