/** A sweep of sureness as a report: what each step costs, and the mix at a few of them. */

import type { SweepPoint } from "../results/sweep.ts";
import { csvWeight, decimal, listed, weight } from "../words/numbers.ts";
import { drawChart } from "./chart.ts";
import {
  type Block,
  cell,
  drawing,
  figures,
  numberCell,
  paragraph,
  type Report,
  type Section,
  type Table,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import type { SweepView } from "./sweep-view.ts";

/** A step that a mix reaches. */
type Reached = SweepPoint & { readonly total: number };

export function sureSweepReport(view: SweepView, notes: readonly Block[], csv: Table): Report {
  const { sweep } = view;
  const reached = sweep.points.filter((point): point is Reached => point.total !== null);
  return {
    title: `${sweep.plan}: the ${sweep.name}`,
    summary: [paragraph(sweep.understood), ...notes],
    sections:
      reached.length === 0
        ? []
        : [
            ...chartSection(view, reached),
            stepSection(view, reached),
            mixSection(view, reached),
            proofSection(view, reached),
          ],
    csv,
  };
}

function chartSection({ sweep, show, money: cash }: SweepView, reached: readonly Reached[]): Section[] {
  if (reached.length < 2) return [];
  const { today } = sweep;
  const at = (value: number): number | null => {
    const above = reached.findIndex((point) => point.value >= value - 1e-12);
    if (above < 0 || value < reached[0]!.value - 1e-12) return null;
    const [low, high] = [reached[Math.max(0, above - 1)]!, reached[above]!];
    const part = high.value > low.value ? (value - low.value) / (high.value - low.value) : 1;
    return low.total + part * (high.total - low.total);
  };
  const lines = drawChart({
    from: sweep.points[0]!.value,
    to: sweep.points.at(-1)!.value,
    at,
    marks: [],
    here: today,
    showValue: show,
    showHeight: cash,
  });
  const legend = today !== null && at(today) !== null ? ["", `o as the plan asks, ${show(today)}`] : [];
  return [{ title: "What the mix costs", blocks: [drawing([...lines, ...legend])] }];
}

function stepSection(view: SweepView, reached: readonly Reached[]): Section {
  const { inUnit, unit, show, money: cash, name } = view;
  const ids = ({ amendments }: Reached): string[] => amendments.map(({ id }) => id);
  const rows = reached.map((point, k) => {
    const before = k === 0 ? null : reached[k - 1]!;
    return {
      point,
      perPoint: before && (point.total - before.total) / (100 * (point.value - before.value)),
      entered: before ? ids(point).filter((id) => !ids(before).includes(id)) : [],
      left: before ? ids(before).filter((id) => !ids(point).includes(id)) : [],
    };
  });
  type Row = (typeof rows)[number];
  const change = ({ entered, left }: Row): string | null => {
    const parts = [
      ...(entered.length > 0 ? [`${listed(entered.map(name))} in`] : []),
      ...(left.length > 0 ? [`${listed(left.map(name))} out`] : []),
    ];
    return parts.length > 0 ? parts.join("; ") : null;
  };
  const table = tableOf(rows, [
    figures(
      "Asked for",
      unit,
      (row: Row) => inUnit(row.point.value),
      (_, row) => show(row.point.value),
    ),
    figures(
      "Worked again",
      "met_percent",
      (row) => (row.point.met == null ? null : 100 * row.point.met),
      (percent) => `${decimal(percent, 1)}%`,
    ),
    figures("Cost", "cost", (row) => row.point.total, cash),
    figures("Per point more", "cost_per_point", (row) => row.perPoint, cash),
    words("The mix", "change", change),
  ]);
  return { title: "What each step costs", blocks: [tableBlock(table)] };
}

function mixSection(view: SweepView, reached: readonly Reached[]): Section {
  const { sweep, show, money: cash, name } = view;
  const csv = csvWeight(sweep.units);
  const shown = [...new Set([reached[0]!, reached[reached.length >> 1]!, reached.at(-1)!])];
  const kg = (point: Reached, id: string): number => point.amendments.find((a) => a.id === id)?.kg ?? 0;
  const ids = Object.keys(sweep.names).filter((id) => shown.some((point) => kg(point, id) > 0));
  const table = tableOf(
    ids,
    [
      words("Amendment", "amendment", name),
      ...shown.map((point, k) =>
        figures<string>(
          show(point.value),
          `mix_${k + 1}_${csv.unit}`,
          (id) => csv.of(kg(point, id)),
          (_, id) => (kg(point, id) > 0 ? weight(kg(point, id), sweep.units) : "none"),
        ),
      ),
    ],
    Object.fromEntries([
      ["amendment", cell("Cost")],
      ...shown.map((point, k) => [`mix_${k + 1}_${csv.unit}`, numberCell(cash(point.total), point.total)]),
    ]),
  );
  return { title: "The mix at the first, a middle and the last of them", blocks: [tableBlock(table)] };
}

function proofSection({ sweep }: SweepView, reached: readonly Reached[]): Section {
  const { solved } = sweep.verification;
  const again =
    solved > 0
      ? ` ${solved} were made surer than asked at first, because the worked seasons found less.`
      : "";
  return {
    title: "Proof",
    blocks: [
      paragraph(
        `${reached.length} steps, each solved and proven by itself and worked again over 4,096 seasons.${again} What lies between two steps was not looked at. All of it holds as far as the spreads are right (\`list varies\`).`,
      ),
    ],
  };
}
