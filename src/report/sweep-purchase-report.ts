/** A sweep by purchase as a report: a chart of what each step costs, and what is bought at which steps. */

import type { SweepPoint, SweepRun } from "../results/sweep.ts";
import { counted, csvWeight, percent } from "../words/numbers.ts";
import { drawChart } from "./chart.ts";
import { buyWords } from "./purchase-sections.ts";
import {
  type Block,
  cell,
  drawing,
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
import type { SweepView } from "./sweep-view.ts";

/** Purchases that fit side by side on 80 columns. */
const ABREAST = 3;

/**
 * The report of a sweep by purchase.
 * @param feasible where no mix fits, in words.
 */
export function purchaseSweepReport(view: SweepView, feasible: readonly Block[]): Report {
  const { sweep } = view;
  return {
    title: `${sweep.plan}: the ${sweep.name}, by purchase`,
    summary: [
      paragraph(sweep.understood),
      paragraph(
        "Each step is bought for by itself, in whole packs and with delivery. Such a cost moves in jumps: this says nothing of what lies between two steps.",
      ),
      ...fallNote(view),
      ...feasible,
    ],
    sections: [...chartSection(view), ...runSections(view), proofSection(view)],
    csv: stepTable(view),
  };
}

/** A cost that falls on the way up surprises, except along a cap, where more room can only help. */
function fallNote({ sweep, show, money }: SweepView): Block[] {
  if (sweep.kind === "cap") return [];
  const { points } = sweep;
  const fall = points.findIndex(({ total }, k) => {
    const before = points[k - 1]?.total ?? null;
    return total !== null && before !== null && total < before * (1 - 1e-6);
  });
  const [from, to] = [points[fall - 1], points[fall]];
  if (!from || !to) return [];
  return [
    paragraph(
      `It may even fall on the way up, here from ${money(from.total!)} at ${show(from.value)} to ${money(to.total!)} at ${show(to.value)}: an order that is worth more may be delivered for less.`,
    ),
  ];
}

function chartSection({ sweep, show, money }: SweepView): Section[] {
  const { points, today } = sweep;
  const from = points[0]!.value;
  const to = points.at(-1)!.value;
  const nearest = (value: number): number =>
    Math.min(
      points.length - 1,
      Math.max(0, Math.round(((value - from) / (to - from)) * (points.length - 1))),
    );
  const chart = drawChart({
    from,
    to,
    at: (value) => points[nearest(value)]!.total,
    marks: (sweep.runs ?? []).slice(1).map((run) => run.from),
    here: null,
    showValue: show,
    showHeight: money,
  });
  if (chart.length === 0) return [];
  const legend = [
    ...((sweep.runs ?? []).length > 1 ? ["^ other packs from this step on"] : []),
    ...(today !== null && today >= from && today <= to ? [`the plan has ${show(today)}`] : []),
  ];
  const lines = legend.length > 0 ? [...chart, "", legend.join("    ")] : chart;
  return [{ title: "What the purchase costs", blocks: [drawing(lines)] }];
}

function range(view: SweepView, [from, to]: readonly [number, number]): string {
  const [least, most] = [view.money(from), view.money(to)];
  return least === most ? least : `${least} to ${most}`;
}

function stretch({ show }: SweepView, { from, to, steps }: SweepRun): string {
  return steps === 1 ? `at ${show(from)}` : `${show(from)} to ${show(to)}`;
}

/** What it costs at which steps, then what is bought there. */
function runSections(view: SweepView): Section[] {
  const { sweep, name, inUnit, unit } = view;
  const runs = sweep.runs ?? [];
  if (runs.length === 0) return [];
  const costs = tableOf(runs, [
    figures<SweepRun>(
      "Steps",
      `${unit}_from`,
      (run) => inUnit(run.from),
      (_, run) => stretch(view, run),
    ),
    figures<SweepRun>(
      "Total",
      "total",
      (run) => run.totalFrom,
      (_, run) => range(view, run.total),
    ),
    figures<SweepRun>(
      "Of it delivery",
      "delivery",
      (run) => run.delivery[0],
      (_, run) => range(view, run.delivery),
    ),
    figures<SweepRun>(
      "Worth of leftovers",
      "left_worth",
      (run) => run.leftWorth[0],
      (_, run) => range(view, run.leftWorth),
    ),
  ]);
  const blocks: Block[] = [];
  for (let first = 0; first < runs.length; first += ABREAST) {
    const shown = runs.slice(first, first + ABREAST);
    const lineOf = (run: SweepRun, id: string) =>
      run.lines.find((line) => line.id === id && line.boughtKg > 0);
    const ids = [...new Set(shown.flatMap(({ lines }) => lines.map(({ id }) => id)))]
      .filter((id) => shown.some((run) => lineOf(run, id)))
      .sort();
    blocks.push(
      tableBlock(
        tableOf(
          ids,
          [
            words("Amendment", "amendment", name),
            ...shown.map((run, k) =>
              words<string>(stretch(view, run), `run_${first + k + 1}`, (id) => {
                const line = lineOf(run, id);
                return line ? buyWords(line, sweep.units) : cell("none", "faint");
              }),
            ),
          ],
          Object.fromEntries([
            ["amendment", cell("Total")],
            ...shown.map((run, k) => [
              `run_${first + k + 1}`,
              numberCell(range(view, run.total), run.totalFrom),
            ]),
          ]),
        ),
      ),
    );
  }
  return [
    { title: "What it costs at which steps", blocks: [tableBlock(costs)] },
    { title: "What to buy there", blocks },
  ];
}

function proofSection({ sweep }: SweepView): Section {
  const stopped = sweep.points.filter(({ status }) => status === "stopped").length;
  const { points, maxGap } = sweep.verification;
  const text =
    stopped === 0
      ? `${counted(points, "step")}, each with the purchase that is proven to cost least.`
      : `${counted(points, "step")}, ${stopped} of them with the best purchase found in time: another could cost up to ${percent(maxGap)} less. Allow more with --time-limit.`;
  return { title: "Proof", blocks: [paragraph(text)] };
}

/** One row for each step. */
function stepTable({ sweep, inUnit, unit, show }: SweepView) {
  const csv = csvWeight(sweep.units);
  const ids = [
    ...new Set(
      sweep.points.flatMap(({ amendments, purchase }) =>
        [...amendments, ...(purchase?.lines ?? [])].map(({ id }) => id),
      ),
    ),
  ].sort();
  const sum = (head: string, name: string, of: (p: SweepPoint) => number | null | undefined) =>
    figures<SweepPoint>(head, name, (p) => of(p) ?? null, String);
  const lineOf = ({ purchase }: SweepPoint, id: string) => purchase?.lines.find((line) => line.id === id);
  return fullTableOf(sweep.points, [
    figures<SweepPoint>(
      "Value",
      unit,
      (p) => inUnit(p.value),
      (_, p) => show(p.value),
    ),
    words<SweepPoint>("Status", "status", (p) => p.status),
    sum("Cost", "cost", (p) => p.total),
    sum("Goods", "goods", (p) => p.purchase?.goods),
    sum("Delivery", "delivery", (p) => p.purchase?.delivery),
    sum("By weight", "by_weight", (p) => p.byWeight),
    sum("Gap", "gap", (p) => p.purchase?.gap),
    sum("Packs", "packs", (p) => p.purchase?.packs),
    sum("Worth of leftovers", "left_worth", (p) => p.purchase?.leftWorth),
    ...ids.flatMap((id) => [
      words<SweepPoint>(`${id}: buy`, `${id}_buy`, (p) => {
        const line = lineOf(p, id);
        return line && line.boughtKg > 0 ? buyWords(line, sweep.units) : "";
      }),
      figures<SweepPoint>(
        `${id}: use`,
        `${id}_${csv.unit}`,
        (p) => (p.total === null ? null : csv.of(p.amendments.find((a) => a.id === id)?.kg ?? 0)),
        String,
      ),
    ]),
  ]);
}
