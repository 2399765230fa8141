/** A sweep as a report: a chart of the cost, where the mix changes, and the mix on each stretch between. */

import type { Amount } from "../results/comparison.ts";
import type { Sweep, SweepSegment } from "../results/sweep.ts";
import { csvWeight, listed, weight, weightRange } from "../words/numbers.ts";
import { drawChart } from "./chart.ts";
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
import { purchaseSweepReport } from "./sweep-purchase-report.ts";
import { sureSweepReport } from "./sweep-sure-report.ts";
import { type SweepView, viewOf } from "./sweep-view.ts";

/** Stretches that fit side by side on 80 columns. */
const ABREAST = 3;

/** The report of a sweep, in the units and the currency that it carries. */
export function sweepReport(sweep: Sweep): Report {
  const view = viewOf(sweep);
  if (sweep.by === "purchase") return purchaseSweepReport(view, feasibleNote(view));
  if (sweep.kind === "sure") return sureSweepReport(view, feasibleNote(view), pointTable(view));
  return {
    title: `${sweep.plan}: the ${sweep.name}`,
    summary: [paragraph(sweep.understood), ...feasibleNote(view)],
    sections: [...chartSection(view), ...breakpointSection(view), ...mixSection(view), proofSection(view)],
    csv: pointTable(view),
  };
}

function feasibleNote({ sweep, show }: SweepView): Block[] {
  const first = sweep.points[0]!.value;
  const last = sweep.points.at(-1)!.value;
  const because = (names: readonly string[]): string =>
    names.length === 0 ? "" : `: these cannot all be kept there: ${names.join("; ")}`;
  const { conflicts } = sweep;
  if (!sweep.feasible)
    return [paragraph(`No mix fits anywhere in this range${because(conflicts.from)}.`, "bad")];
  const { from, to } = sweep.feasible;
  const slack = 1e-9 * (last - first);
  return [
    ...(from > first + slack ? [`No mix fits below ${show(from)}${because(conflicts.from)}.`] : []),
    ...(to < last - slack ? [`No mix fits above ${show(to)}${because(conflicts.to)}.`] : []),
  ].map((text) => paragraph(text, "bad"));
}

/** The exact cost at a value. */
function costAt(segments: readonly SweepSegment[], value: number): number | null {
  const segment = segments.find(({ from, to }) => value >= from && value <= to);
  if (!segment) return null;
  const { from, to, totalFrom, totalTo } = segment;
  return to > from ? totalFrom + ((totalTo - totalFrom) * (value - from)) / (to - from) : totalFrom;
}

function chartSection({ sweep, show, money: cash }: SweepView): Section[] {
  const { segments, breakpoints, today, points } = sweep;
  const chart = drawChart({
    from: points[0]!.value,
    to: points.at(-1)!.value,
    at: (value) => costAt(segments, value),
    marks: breakpoints.map(({ value }) => value),
    here: today,
    showValue: show,
    showHeight: cash,
  });
  if (chart.length === 0) return [];
  const within = today !== null && costAt(segments, today) !== null;
  const legend = [
    ...(breakpoints.length > 0 ? ["^ the mix changes"] : []),
    ...(within ? [`o as the plan has it, ${show(today)}`] : []),
  ];
  return [
    {
      title: "What the mix costs",
      blocks: [drawing([...chart, ...(legend.length > 0 ? ["", legend.join("    ")] : [])])],
    },
  ];
}

function breakpointSection({ sweep, show, inUnit, unit, money: cash, name }: SweepView): Section[] {
  const { breakpoints } = sweep;
  if (breakpoints.length === 0) {
    const text = sweep.feasible ? "The mix keeps its kind over the whole range." : "";
    return text === "" ? [] : [{ title: "Where the mix changes", blocks: [paragraph(text)] }];
  }
  const names = (ids: readonly string[]): string | null => (ids.length > 0 ? listed(ids.map(name)) : null);
  const texts = (items: readonly string[]): string | null => (items.length > 0 ? items.join("; ") : null);
  const table = tableOf(breakpoints, [
    figures(
      "At",
      unit,
      (b) => inUnit(b.value),
      (_, b) => show(b.value),
    ),
    figures("Cost", "cost", (b) => b.total, cash),
    words("Enters above", "entered", (b) => names(b.entered)),
    words("Leaves above", "left", (b) => names(b.left)),
    words("Begins to bind", "binds", (b) => texts(b.binds)),
    words("No longer binds", "frees", (b) => texts(b.frees)),
  ]);
  return [{ title: "Where the mix changes", blocks: [tableBlock(table)] }];
}

function mixSection(view: SweepView): Section[] {
  const { sweep, show, name } = view;
  const { segments } = sweep;
  if (segments.length === 0) return [];
  const ids = [
    ...new Set(segments.flatMap((s) => [...s.amendmentsFrom, ...s.amendmentsTo].map(({ id }) => id))),
  ].sort();
  const kg = (amounts: readonly Amount[], id: string): number => amounts.find((a) => a.id === id)?.kg ?? 0;
  const csv = csvWeight(sweep.units);
  const amount = (segment: SweepSegment, id: string): string => {
    const from = kg(segment.amendmentsFrom, id);
    const to = kg(segment.amendmentsTo, id);
    const most = Math.max(from, to);
    if (most === 0) return "none";
    if (Math.abs(from - to) <= 1e-6 * most) return weight(from, sweep.units);
    return weightRange(from, to, sweep.units);
  };
  const blocks: Block[] = [];
  for (let first = 0; first < segments.length; first += ABREAST) {
    const shown = segments.slice(first, first + ABREAST);
    blocks.push(
      tableBlock(
        tableOf(
          ids.filter((id) => shown.some((s) => kg(s.amendmentsFrom, id) + kg(s.amendmentsTo, id) > 0)),
          [
            words("Amendment", "amendment", name),
            ...shown.map((segment, k) =>
              figures<string>(
                `${show(segment.from)} to ${show(segment.to)}`,
                `segment_${first + k + 1}_${csv.unit}`,
                (id) => csv.of(kg(segment.amendmentsFrom, id)),
                (_, id) => amount(segment, id),
              ),
            ),
          ],
          Object.fromEntries([
            ["amendment", cell("Cost")],
            ...shown.map((segment, k) => [
              `segment_${first + k + 1}_${csv.unit}`,
              numberCell(costRange(view, segment), segment.totalFrom),
            ]),
          ]),
        ),
      ),
    );
  }
  return [{ title: "The mix between", blocks }];
}

function costRange({ money: cash }: SweepView, { totalFrom, totalTo }: SweepSegment): string {
  const [from, to] = [cash(totalFrom), cash(totalTo)];
  return from === to ? from : `${from} to ${to}`;
}

function proofSection({ sweep }: SweepView): Section {
  const { points, solved } = sweep.verification;
  const again = solved > 0 ? `, ${solved} of them solved again` : "";
  return {
    title: "Proof",
    blocks: [
      paragraph(
        `${points} values looked at, each proven by itself${again}. Breakpoints are exact, not read off these values.`,
      ),
    ],
  };
}

/** One row for each value looked at. */
function pointTable({ sweep, inUnit, unit, show }: SweepView) {
  const csv = csvWeight(sweep.units);
  const ids = [...new Set(sweep.points.flatMap((p) => p.amendments.map(({ id }) => id)))].sort();
  return fullTableOf(sweep.points, [
    figures(
      "Value",
      unit,
      (p) => inUnit(p.value),
      (_, p) => show(p.value),
    ),
    words("Status", "status", (p) => p.status),
    figures("Cost", "cost", (p) => p.total, String),
    ...(sweep.kind === "sure"
      ? [
          figures<Sweep["points"][number]>(
            "Met in",
            "met_percent",
            (p) => (p.met == null ? null : 100 * p.met),
            String,
          ),
        ]
      : []),
    ...ids.map((id) =>
      figures<Sweep["points"][number]>(
        id,
        `${id}_${csv.unit}`,
        (p) => (p.total === null ? null : csv.of(p.amendments.find((a) => a.id === id)?.kg ?? 0)),
        String,
      ),
    ),
  ]);
}
