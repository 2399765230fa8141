/** A comparison as a report: cost by case, the mixes side by side, what binds, and what the base says about prices. */

import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import type { ComparedBase, ComparedCase, Comparison } from "../results/comparison.ts";
import type { Solution } from "../results/solution.ts";
import { listed, percent, signed } from "../words/numbers.ts";
import { seasonsOf } from "../words/sure-words.ts";
import { viewOf } from "./answer-view.ts";
import {
  type Block,
  bullets,
  cell,
  figures,
  fullTableOf,
  paragraph,
  type Report,
  type Section,
  section,
  sideBySide,
  type Table,
  table,
  words,
} from "./report.ts";
import { sensitivitySections } from "./sensitivity-report.ts";
import { chanceOf } from "./sure-sections.ts";
import { TOLERANCE, type Writer, writerOf } from "./writer.ts";

/** Mixes that fit side by side on 80 columns, the plan's own among them. */
const ABREAST = 4;
const BASE = "as planned";

/** One column of the comparison: the plan as it is, or a case. */
type Standing = ComparedBase & Partial<ComparedCase> & Pick<ComparedCase, "name">;

/** A comparison with the writers of its units and currency. */
interface View extends Writer {
  readonly comparison: Comparison;
  readonly standings: readonly Standing[];
  /** The plan as it is beside up to three cases, as often as it takes. */
  readonly abreast: readonly (readonly Standing[])[];
}

/** The report of a comparison, in the units and the currency that it carries. */
export function whatIfReport(comparison: Comparison, base: Solution): Report {
  const standings: Standing[] = [{ ...comparison.base, name: BASE }, ...comparison.cases];
  const [planned, ...cases] = standings.filter(({ total }) => total !== null);
  const groups = sideBySide(cases, ABREAST - 1);
  const view: View = {
    ...writerOf(comparison),
    comparison,
    standings,
    abreast: planned ? (groups.length > 0 ? groups : [[]]).map((group) => [planned, ...group]) : [],
  };
  return {
    title: `${comparison.plan}: what if`,
    summary: [summaryOf(view)],
    sections: [
      ...costSection(view),
      ...section("Why there is no mix", bullets(comparison.cases.map(reasonWords), "bad")),
      ...mixSection(view),
      ...sureSection(view),
      ...bindingSection(view),
      ...(comparison.by === "purchase" ? [] : sensitivitySections(viewOf(base))).map(({ title, blocks }) => ({
        title: `${title}, ${BASE}`,
        blocks,
      })),
    ],
    csv: caseTable(view),
  };
}

function summaryOf({ comparison: { base, cases, by }, money }: View): Block {
  if (base.total === null)
    return paragraph("The plan itself has no mix, so there is nothing to compare with.", "bad");
  const priced = cases.filter((one) => one.total !== null);
  const [best] = priced.toSorted((a, b) => a.total! - b.total!);
  const worst = Math.max(...[base, ...cases].map(({ purchase }) => purchase?.gap ?? 0));
  const texts = [
    by === "purchase"
      ? `As planned the purchase costs ${money(base.total)}, in whole packs and with delivery.`
      : `As planned the mix costs ${money(base.total)}.`,
    best && priced.length > 1 ? `The least of the cases costs ${money(best.total!)}: ${best.name}.` : "",
    worst > TOLERANCE
      ? `Not every purchase is proven to cost least: one could cost up to ${percent(worst)} less. More time (--time-limit) may settle that, but not which beds share a mix.`
      : "",
  ];
  return paragraph(texts.filter((text) => text !== "").join(" "));
}

function reasonWords({ name, reason }: ComparedCase): string {
  return reason === null ? "" : `${name}: ${reason}`;
}

function costSection({ comparison, standings, money, cash }: View): Section[] {
  const { base, names, by, cases } = comparison;
  const ids = (list: readonly string[] = []): string | null =>
    list.length > 0 ? listed(list.map((id) => names[id] ?? id)) : null;
  return section(
    "What it costs",
    table(standings, [
      words("Case", "case", (s) => s.name),
      figures(
        "Cost",
        "cost",
        (s) => s.total,
        money,
        () => cell("no mix", "bad"),
      ),
      cash("By weight", "by_weight", (s) => (by === "purchase" ? (s.byWeight ?? null) : null)),
      figures(
        "Change",
        "difference",
        (s) => s.difference ?? null,
        (difference) => signed(difference, money),
      ),
      figures(
        "",
        "difference_percent",
        ({ difference = null }) => (difference === null || !base.total ? null : difference / base.total),
        (part) => signed(part, percent),
      ),
      words("Enters", "entered", (s) => ids(s.entered)),
      words("Leaves", "left", (s) => ids(s.left)),
    ]),
    bullets(cases.flatMap(({ name, notes }) => notes.map((text) => `${name}: ${text}`))),
  );
}

/** How much of an amendment a mix has. */
function kgOf({ amendments }: Standing, id: string): number {
  return amendments.find((a) => a.id === id)?.kg ?? 0;
}

function mixSection({ comparison: { names }, abreast, weight, masses }: View): Section[] {
  return section(
    "The mixes",
    abreast.map((group) =>
      table(
        Object.keys(names).filter((id) => group.some((standing) => kgOf(standing, id) > 0)),
        [
          words("Amendment", "amendment", (id) => names[id] ?? id),
          ...group.map((standing, k) =>
            masses<string>(
              standing.name,
              `mix_${k + 1}`,
              (id) => kgOf(standing, id),
              (kg) => (kg > 0 ? weight(kg) : "none"),
            ),
          ),
        ],
      ),
    ),
  );
}

/** How often each need is met, by case. */
function sureSection({ abreast }: View): Section[] {
  return section(
    "In about how many seasons each need is met",
    abreast.map((group) =>
      table(metNutrients(group), [
        words("Need", "need", (nutrient) => nutrient),
        ...group.map((standing, k) =>
          figures<Nutrient>(
            standing.name,
            `met_${k + 1}`,
            (nutrient) => chanceIn(standing, nutrient),
            seasonsOf,
            () => cell("-", "faint"),
          ),
        ),
      ]),
    ),
  );
}

/** Nutrients whose needs any of the mixes is judged by. */
function metNutrients(standings: readonly Standing[]): Nutrient[] {
  return NUTRIENTS.filter((nutrient) => standings.some((standing) => chanceIn(standing, nutrient) !== null));
}

/** The share of seasons in which a nutrient is met, on the day that is met least often; as worked where that was done. */
function chanceIn({ sure }: Standing, nutrient: Nutrient): number | null {
  const needs = (sure?.needs ?? []).filter((need) => need.nutrient === nutrient);
  return needs.length === 0 ? null : Math.min(...needs.map(chanceOf));
}

/** Which demands bind, and what one more of each would change in the cost. */
function bindingSection({ abreast, weightUnit, inUnit, money }: View): Section[] {
  const tables = abreast.map((group) => {
    const found = ({ binding }: Standing, name: string) => binding.find((demand) => demand.name === name);
    const perUnit = (standing: Standing, name: string): number | null => {
      const { costOfMore = null, unit } = found(standing, name) ?? {};
      return costOfMore === null ? null : unit === "share" ? costOfMore / 100 : costOfMore / inUnit(1);
    };
    return table(
      [...new Set(group.flatMap(({ binding }) => binding.map(({ name }) => name)))],
      [
        words("Demand that binds", "demand", (name) => name),
        ...group.map((standing, k) =>
          figures<string>(
            standing.name,
            `binding_${k + 1}`,
            (name) => perUnit(standing, name),
            (value) => signed(value, money),
            (name) => cell(found(standing, name) ? "at its end" : "-", "faint"),
          ),
        ),
      ],
    );
  });
  const binds = section("Which demands bind", tables);
  const says = `What one more ${weightUnit} of each (or one more percent of a share) would change in the cost.`;
  return binds.map(({ title, blocks }) => ({ title, blocks: [paragraph(says), ...blocks] }));
}

function statusOf({ status, total, purchase }: Standing): string {
  if (status !== undefined) return status;
  if (total === null) return "infeasible";
  return (purchase?.gap ?? 0) > TOLERANCE ? "found" : "optimal";
}

/** One row for the plan as it is and for each case. */
function caseTable({ comparison: { names }, standings, masses, cash }: View): Table {
  return fullTableOf(standings, [
    words("Case", "case", (s) => s.name),
    words("Status", "status", statusOf),
    cash("Cost", "cost", (s) => s.total),
    cash("Difference", "difference", (s) => s.difference ?? null),
    words("Entered", "entered", ({ entered = [] }) => entered.join(" ")),
    words("Left", "left", ({ left = [] }) => left.join(" ")),
    words("Binding", "binding", (s) => s.binding.map(({ name }) => name).join("; ")),
    words("Reason", "reason", (s) => s.reason ?? ""),
    ...Object.keys(names).map((id) =>
      masses<Standing>(id, id, (standing) => (standing.total === null ? null : kgOf(standing, id))),
    ),
    ...metNutrients(standings).map((nutrient) =>
      figures<Standing>(nutrient, `${nutrient}_met_percent`, (standing) => {
        const chance = chanceIn(standing, nutrient);
        return chance === null ? null : 100 * chance;
      }),
    ),
  ]);
}
