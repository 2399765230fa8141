/** A comparison as a report: cost by case, the mixes side by side, what binds, and what the base says about prices. */

import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import type { ComparedBase, ComparedCase, Comparison } from "../results/comparison.ts";
import type { Solution } from "../results/solution.ts";
import { fromSi } from "../units.ts";
import { csvWeight, listed, money, percent, signed, weight } from "../words/numbers.ts";
import { seasonsOf } from "../words/sure-words.ts";
import {
  type Block,
  bullets,
  type Cell,
  cash,
  cell,
  figures,
  fullTableOf,
  numberCell,
  paragraph,
  type Report,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { sensitivitySections } from "./sensitivity-report.ts";

/** Mixes that fit side by side on 80 columns, the plan's own among them. */
const ABREAST = 4;
const BASE = "as planned";
/** A gap up to this is arithmetic. */
const PROVEN = 1e-6;

/** One column of the comparison: the plan as it is, or a case. */
interface Standing {
  readonly name: string;
  readonly outcome: ComparedBase | ComparedCase;
}

/** The report of a comparison, in the units and the currency that it carries. */
export function whatIfReport(comparison: Comparison, base: Solution): Report {
  const standings: Standing[] = [
    { name: BASE, outcome: comparison.base },
    ...comparison.cases.map((one) => ({ name: one.name, outcome: one })),
  ];
  return {
    title: `${comparison.plan}: what if`,
    summary: summaryOf(comparison),
    sections: [
      costSection(comparison, standings),
      ...reasonSections(comparison),
      ...mixSections(comparison, standings),
      ...sureSections(standings),
      ...bindingSections(comparison, standings),
      ...(comparison.by === "purchase" ? [] : sensitivitySections(base)).map((section) => ({
        ...section,
        title: `${section.title}, ${BASE}`,
      })),
    ],
    csv: caseTable(comparison, standings),
  };
}

function summaryOf({ base, cases, currency, by }: Comparison): Block[] {
  if (base.total === null)
    return [paragraph("The plan itself has no mix, so there is nothing to compare with.", "bad")];
  const priced = cases.filter((one) => one.total !== null);
  const best = priced.reduce<ComparedCase | null>(
    (least, one) => (least === null || one.total! < least.total! ? one : least),
    null,
  );
  const texts = [
    by === "purchase"
      ? `As planned the purchase costs ${money(base.total, currency)}, in whole packs and with delivery.`
      : `As planned the mix costs ${money(base.total, currency)}.`,
  ];
  if (best && priced.length > 1)
    texts.push(`The least of the cases costs ${money(best.total!, currency)}: ${best.name}.`);
  const worst = Math.max(...[base, ...cases].map(({ purchase }) => purchase?.gap ?? 0));
  if (worst > PROVEN)
    texts.push(
      `Not every purchase is proven to cost least: one could cost up to ${percent(worst)} less. Allow more with --time-limit.`,
    );
  return [paragraph(texts.join(" "))];
}

function change(difference: number, currency: string): string {
  return signed(difference, (amount) => money(amount, currency));
}

function costSection(comparison: Comparison, standings: readonly Standing[]): Section {
  const { currency, base, names } = comparison;
  const ids = (list: readonly string[]): string | null =>
    list.length > 0 ? listed(list.map((id) => names[id] ?? id)) : null;
  const asCase = ({ outcome }: Standing): ComparedCase | null => ("status" in outcome ? outcome : null);
  const table = tableOf(standings, [
    words("Case", "case", (s) => s.name),
    {
      ...cash<Standing>("Cost", "cost", (s) => s.outcome.total, currency),
      fill: ({ outcome }): Cell =>
        outcome.total === null
          ? cell("no mix", "bad")
          : numberCell(money(outcome.total, currency), outcome.total),
    },
    ...(comparison.by === "purchase"
      ? [cash<Standing>("By weight", "by_weight", (s) => s.outcome.byWeight ?? null, currency)]
      : []),
    figures<Standing>(
      "Change",
      "difference",
      (s) => asCase(s)?.difference ?? null,
      (difference) => change(difference, currency),
    ),
    figures<Standing>(
      "",
      "difference_percent",
      (s) => {
        const difference = asCase(s)?.difference ?? null;
        return difference === null || base.total === null || base.total === 0
          ? null
          : difference / base.total;
      },
      (part) => signed(part, percent),
    ),
    words<Standing>("Enters", "entered", (s) => ids(asCase(s)?.entered ?? [])),
    words<Standing>("Leaves", "left", (s) => ids(asCase(s)?.left ?? [])),
  ]);
  const notes = comparison.cases.flatMap(({ name, notes: texts }) => texts.map((text) => `${name}: ${text}`));
  return {
    title: "What it costs",
    blocks: [tableBlock(table), ...(notes.length > 0 ? [bullets(notes)] : [])],
  };
}

function reasonSections({ cases }: Comparison): Section[] {
  const items = cases.flatMap(({ name, reason }) => (reason === null ? [] : [`${name}: ${reason}`]));
  return items.length === 0 ? [] : [{ title: "Why there is no mix", blocks: [bullets(items, "bad")] }];
}

/** The plan as it is beside up to three cases, as often as it takes. */
function abreast(standings: readonly Standing[]): Standing[][] {
  const [base, ...cases] = standings.filter(({ outcome }) => outcome.total !== null);
  if (!base) return [];
  const groups: Standing[][] = [];
  for (let first = 0; first < Math.max(1, cases.length); first += ABREAST - 1)
    groups.push([base, ...cases.slice(first, first + ABREAST - 1)]);
  return groups;
}

function mixSections({ units, names }: Comparison, standings: readonly Standing[]): Section[] {
  const { unit, of } = csvWeight(units);
  const kg = ({ outcome }: Standing, id: string): number =>
    outcome.amendments.find((a) => a.id === id)?.kg ?? 0;
  const blocks = abreast(standings).map((group) => {
    const ids = Object.keys(names).filter((id) => group.some((s) => kg(s, id) > 0));
    return tableBlock(
      tableOf(ids, [
        words("Amendment", "amendment", (id) => names[id] ?? id),
        ...group.map((standing, k) =>
          figures<string>(
            standing.name,
            `mix_${k + 1}_${unit}`,
            (id) => of(kg(standing, id)),
            (_, id) => (kg(standing, id) > 0 ? weight(kg(standing, id), units) : "none"),
          ),
        ),
      ]),
    );
  });
  return blocks.length === 0 ? [] : [{ title: "The mixes", blocks }];
}

/** How often each need is met, by case. */
function sureSections(standings: readonly Standing[]): Section[] {
  const blocks = abreast(standings).map((group) => {
    const nutrients = metNutrients(group);
    return tableBlock(
      tableOf(nutrients, [
        words<Nutrient>("Need", "need", (nutrient) => nutrient),
        ...group.map((standing, k) => ({
          ...figures<Nutrient>(
            standing.name,
            `met_${k + 1}_percent`,
            (nutrient) => metPercent(standing, nutrient),
            String,
          ),
          fill: (nutrient: Nutrient): Cell => {
            const percent = metPercent(standing, nutrient);
            return percent === null ? cell("-", "faint") : numberCell(seasonsOf(percent / 100), percent);
          },
        })),
      ]),
    );
  });
  return blocks.length === 0 ? [] : [{ title: "In about how many seasons each need is met", blocks }];
}

/** Nutrients whose needs any of the mixes is judged by. */
function metNutrients(standings: readonly Standing[]): Nutrient[] {
  const needed = new Set(
    standings.flatMap(({ outcome }) => (outcome.sure?.needs ?? []).map(({ nutrient }) => nutrient)),
  );
  return NUTRIENTS.filter((nutrient) => needed.has(nutrient));
}

/** The share of seasons in which a nutrient is met, on the day that is met least often; as worked where that was done. */
function metPercent({ outcome }: Standing, nutrient: Nutrient): number | null {
  const needs = (outcome.sure?.needs ?? []).filter((need) => need.nutrient === nutrient);
  return needs.length === 0 ? null : 100 * Math.min(...needs.map(({ p, pChecked }) => pChecked ?? p));
}

/** Which demands bind, and what one more of each would change in the cost. */
function bindingSections({ units, currency }: Comparison, standings: readonly Standing[]): Section[] {
  const unit = units === "us" ? "lb" : "kg";
  const blocks = abreast(standings).flatMap((group) => {
    const demands = [...new Set(group.flatMap(({ outcome }) => outcome.binding.map(({ name }) => name)))];
    if (demands.length === 0) return [];
    const found = ({ outcome }: Standing, name: string) => outcome.binding.find((b) => b.name === name);
    const perUnit = (standing: Standing, name: string): number | null => {
      const demand = found(standing, name);
      const cost = demand?.costOfMore ?? null;
      if (!demand || cost === null) return null;
      if (demand.unit === "share") return cost / 100;
      return units === "us" ? cost / fromSi(1, "lb") : cost;
    };
    return [
      tableBlock(
        tableOf(demands, [
          words("Demand that binds", "demand", (name) => name),
          ...group.map((standing, k) => ({
            ...figures<string>(
              standing.name,
              `binding_${k + 1}`,
              (name) => perUnit(standing, name),
              (value) => change(value, currency),
            ),
            fill: (name: string): Cell => {
              const value = perUnit(standing, name);
              if (value !== null) return numberCell(change(value, currency), value);
              return cell(found(standing, name) ? "at its end" : "-", "faint");
            },
          })),
        ]),
      ),
    ];
  });
  return blocks.length === 0
    ? []
    : [
        {
          title: "Which demands bind",
          blocks: [
            paragraph(
              `What one more ${unit} of each (or one more percent of a share) would change in the cost.`,
            ),
            ...blocks,
          ],
        },
      ];
}

function statusOf({ outcome }: Standing): string {
  if ("status" in outcome) return outcome.status;
  if (outcome.total === null) return "infeasible";
  return (outcome.purchase?.gap ?? 0) > PROVEN ? "stopped" : "optimal";
}

/** One row for the plan as it is and for each case. */
function caseTable(comparison: Comparison, standings: readonly Standing[]) {
  const { unit, of } = csvWeight(comparison.units);
  const asCase = ({ outcome }: Standing): ComparedCase | null => ("status" in outcome ? outcome : null);
  const join = (items: readonly string[] | undefined): string => (items ?? []).join(" ");
  return fullTableOf(standings, [
    words("Case", "case", (s) => s.name),
    words("Status", "status", statusOf),
    figures<Standing>("Cost", "cost", (s) => s.outcome.total, String),
    figures<Standing>("Difference", "difference", (s) => asCase(s)?.difference ?? null, String),
    words<Standing>("Entered", "entered", (s) => join(asCase(s)?.entered)),
    words<Standing>("Left", "left", (s) => join(asCase(s)?.left)),
    words<Standing>("Binding", "binding", (s) => s.outcome.binding.map(({ name }) => name).join("; ")),
    words<Standing>("Reason", "reason", (s) => asCase(s)?.reason ?? ""),
    ...Object.keys(comparison.names).map((id) =>
      figures<Standing>(
        id,
        `${id}_${unit}`,
        ({ outcome }) =>
          outcome.total === null ? null : of(outcome.amendments.find((a) => a.id === id)?.kg ?? 0),
        String,
      ),
    ),
    ...metNutrients(standings).map((nutrient) =>
      figures<Standing>(
        nutrient,
        `${nutrient}_met_percent`,
        (standing) => metPercent(standing, nutrient),
        String,
      ),
    ),
  ]);
}
