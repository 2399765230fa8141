/**
 * A sweep as a report: a chart of the cost, where it changes or what each step costs, and what is mixed or bought there.
 * A price, a need or a cap is followed exactly from one change of the mix to the next; sureness, and purchases, are known
 * at the steps alone.
 */

import type { Amount } from "../results/comparison.ts";
import type { Sweep, SweepPoint, SweepRun, SweepSegment } from "../results/sweep.ts";
import {
  bagWeight,
  capital,
  counted,
  decimal,
  listed,
  money,
  percent,
  plainNumber,
  weightRange,
} from "../words/numbers.ts";
import { buyWords } from "./buy-sections.ts";
import {
  type Block,
  type Cell,
  type Chart,
  type ColumnOf,
  cell,
  figures,
  fullTableOf,
  heightAt,
  paragraph,
  type Report,
  type Section,
  section,
  sideBySide,
  type Table,
  table,
  words,
} from "./report.ts";
import { type Writer, writerOf } from "./writer.ts";

/** A sweep with the writers of its values: prices, weights or shares of seasons. */
interface SweepView extends Writer {
  readonly sweep: Sweep;
  readonly name: (id: string) => string;
  readonly show: (value: number) => string;
  /** The value in the grower's unit, for CSV, and that unit. */
  readonly valueInUnit: (value: number) => number;
  readonly valueUnit: string;
}

/** The report of a sweep, in the units and the currency that it carries. */
export function sweepReport(sweep: Sweep): Report {
  const view = viewOf(sweep);
  const byPurchase = sweep.by === "purchase";
  const sectionsOf = byPurchase ? purchaseSections : sweep.kind === "sure" ? sureSections : exactSections;
  return {
    title: `${sweep.plan}: the ${sweep.name}${byPurchase ? ", by purchase" : ""}`,
    summary: [
      paragraph(sweep.understood),
      ...(byPurchase ? purchaseNotes(view) : []),
      ...feasibleNotes(view),
    ],
    sections: sectionsOf(view),
    csv: pointTable(view),
  };
}

function viewOf(sweep: Sweep): SweepView {
  const { kind, of, segments } = sweep;
  const writer = writerOf(sweep);
  const { weightUnit, weight, perUnit, inUnit } = writer;
  const shared = { ...writer, sweep, name: (id: string): string => sweep.names[id] ?? id };
  if (kind === "sure")
    return {
      ...shared,
      show: (value) => `${Number((100 * value).toFixed(2))}%`,
      valueInUnit: (value) => Number((100 * value).toFixed(6)),
      valueUnit: `sure_${of.replaceAll(",", "_")}_percent`,
    };
  const isPrice = kind === "price";
  const valueInUnit = (value: number): number => (isPrice ? value / inUnit(1) : value * inUnit(1));
  const behind = isPrice ? `/${weightUnit}` : ` ${weightUnit}`;
  const usual = (value: number): string => (isPrice ? `${perUnit(value)}${behind}` : weight(value));
  const fine = (value: number): string =>
    `${plainNumber(Number(valueInUnit(value).toPrecision(6)))}${behind}`;
  return {
    ...shared,
    show: tellsApart(usual, segments) ? usual : fine,
    valueInUnit,
    valueUnit: isPrice ? `price_per_${weightUnit}` : `${kind}_${of}_${weightUnit}`,
  };
}

/** Whether a writer of values writes neighbouring breakpoints differently. */
function tellsApart(write: (value: number) => string, segments: readonly SweepSegment[]): boolean {
  const texts = [...segments.slice(0, 1).map(({ from }) => from), ...segments.map(({ to }) => to)].map(write);
  return texts.every((text, i) => text !== texts[i - 1]);
}

/** Where no mix fits, and why. */
function feasibleNotes({ sweep, show }: SweepView): Block[] {
  const { conflicts, feasible } = sweep;
  const { from, to } = endsOf(sweep);
  const because = (names: readonly string[]): string =>
    names.length === 0 ? "" : `: these cannot all be kept there: ${names.join("; ")}`;
  if (!feasible) return [paragraph(`No mix fits anywhere in this range${because(conflicts.from)}.`, "bad")];
  const slack = 1e-9 * (to - from);
  return [
    ...(feasible.from > from + slack
      ? [`No mix fits below ${show(feasible.from)}${because(conflicts.from)}.`]
      : []),
    ...(feasible.to < to - slack ? [`No mix fits above ${show(feasible.to)}${because(conflicts.to)}.`] : []),
  ].map((text) => paragraph(text, "bad"));
}

function endsOf({ points }: Sweep): { readonly from: number; readonly to: number } {
  return { from: points[0]!.value, to: points.at(-1)!.value };
}

/**
 * The chart of a cost; no section where there is none to draw.
 * @param points of it, rising in value.
 */
function chartSection(
  { sweep, show, money: cash }: SweepView,
  title: string,
  points: readonly (readonly [value: number, total: number])[],
  marks: readonly number[],
  markName: string,
): Section[] {
  if (points.length === 0) return [];
  const { from, to } = endsOf(sweep);
  const { name, today } = sweep;
  const here = today === null ? null : heightAt(points, today);
  const totals = points.map(([, total]) => total);
  const [low, high] = [Math.min(...totals), Math.max(...totals)];
  // A level line is drawn in the middle.
  const room = high > low ? 0 : 0.01 * Math.max(1, high);
  const y = { from: low - room, to: high + room };
  const beside = (to - from) / 80;
  const chart: Chart = {
    title: capital(name),
    x: { from, to, ticks: [from, to].map((at) => ({ at, text: show(at) })) },
    y: { ...y, ticks: [y.from, (y.from + y.to) / 2, y.to].map((at) => ({ at, text: cash(at) })) },
    series: [
      { kind: "line", name: "what it costs", points },
      ...(today === null || here === null
        ? []
        : [
            {
              kind: "dashes" as const,
              name: `as planned, ${show(today)}`,
              points: [today - beside, today + beside].map((at) => [at, here] as const),
            },
          ]),
    ],
    marks: marks.map((at) => ({ at })),
    markName,
  };
  return section(title, { kind: "chart", chart });
}

/** What is in the mix, or bought, on a stretch of the values: one column beside others. */
interface Side {
  readonly column: ColumnOf<string>;
  readonly holds: (id: string) => boolean;
  readonly total: Cell;
}

/** Columns that fit side by side on 80 columns, beside the names. */
const ABREAST = 3;

/** Tables by amendment, with what it costs below. */
function amendmentTables({ sweep, name }: SweepView, totalName: string, sides: readonly Side[]): Block[] {
  const ids = Object.keys(sweep.names).sort();
  return sideBySide(sides, ABREAST).map((shown) =>
    table(
      ids.filter((id) => shown.some(({ holds }) => holds(id))),
      [words("Amendment", "amendment", name), ...shown.map(({ column }) => column)],
      [totalName, ...shown.map(({ total }) => total)],
    ),
  );
}

function kgOf(amounts: readonly Amount[], id: string): number {
  return amounts.find((amount) => amount.id === id)?.kg ?? 0;
}

function moneyRange({ money: show }: SweepView, least: number, most: number): string {
  const [from, to] = [show(least), show(most)];
  return from === to ? from : `${from} to ${to}`;
}

/** The column of the value that is swept. */
function valueColumn<T>(
  { valueUnit, valueInUnit, show }: SweepView,
  head: string,
  value: (item: T) => number,
): ColumnOf<T> {
  return figures(
    head,
    valueUnit,
    (item) => valueInUnit(value(item)),
    (_, item) => show(value(item)),
  );
}

/** The cost along the way where every stretch of it is known. */
function lineOf({ segments }: Sweep): (readonly [value: number, total: number])[] {
  return segments.flatMap(({ from, to, totalFrom, totalTo }) => [
    [from, totalFrom] as const,
    [to, totalTo] as const,
  ]);
}

/** A price, a need or a cap, by weight. */
function exactSections(view: SweepView): Section[] {
  const { sweep } = view;
  const { breakpoints } = sweep;
  const line = lineOf(sweep);
  const marks = breakpoints.map(({ value }) => value);
  const { points, solved } = sweep.verification;
  const again = solved > 0 ? `, ${solved} of them solved again` : "";
  return [
    ...chartSection(view, "What the mix costs", line, marks, "the mix changes"),
    ...breakpointSection(view),
    ...segmentSection(view),
    proofSection(
      `${points} values looked at, each proven by itself${again}. Breakpoints are exact, not read off these values.`,
    ),
  ];
}

function breakpointSection(view: SweepView): Section[] {
  const { breakpoints, feasible } = view.sweep;
  const names = (ids: readonly string[]): string | null =>
    ids.length > 0 ? listed(ids.map(view.name)) : null;
  const texts = (items: readonly string[]): string | null => (items.length > 0 ? items.join("; ") : null);
  return section(
    "Where the mix changes",
    paragraph(breakpoints.length === 0 && feasible ? "The mix keeps its kind over the whole range." : ""),
    table(breakpoints, [
      valueColumn(view, "At", ({ value }) => value),
      view.cash("Cost", "cost", ({ total }) => total),
      words("Enters above", "entered", ({ entered }) => names(entered)),
      words("Leaves above", "left", ({ left }) => names(left)),
      words("Begins to bind", "binds", ({ binds }) => texts(binds)),
      words("No longer binds", "frees", ({ frees }) => texts(frees)),
    ]),
  );
}

function segmentSection(view: SweepView): Section[] {
  const { segments, units } = view.sweep;
  const sides = segments.map(({ from, to, amendmentsFrom, amendmentsTo, totalFrom, totalTo }, k): Side => {
    const text = (id: string): string => {
      const [start, end] = [kgOf(amendmentsFrom, id), kgOf(amendmentsTo, id)];
      const most = Math.max(start, end);
      if (most === 0) return "none";
      return Math.abs(start - end) <= 1e-6 * most ? view.weight(start) : weightRange(start, end, units);
    };
    return {
      column: view.masses(
        `${view.show(from)} to ${view.show(to)}`,
        `segment_${k + 1}`,
        (id) => kgOf(amendmentsFrom, id),
        (_, id) => text(id),
      ),
      holds: (id) => kgOf(amendmentsFrom, id) + kgOf(amendmentsTo, id) > 0,
      total: { text: moneyRange(view, totalFrom, totalTo), raw: totalFrom },
    };
  });
  return sides.length === 0
    ? []
    : [{ title: "The mix between", blocks: amendmentTables(view, "Cost", sides) }];
}

/** A step that a mix reaches. */
type Reached = SweepPoint & { readonly total: number };

/** Sureness: each step by itself, with straight lines between them in the chart alone. */
function sureSections(view: SweepView): Section[] {
  const { sweep } = view;
  const reached = sweep.points.filter((point): point is Reached => point.total !== null);
  if (reached.length === 0) return [];
  const line = reached.map(({ value, total }) => [value, total] as const);
  const { solved } = sweep.verification;
  const again =
    solved > 0
      ? ` ${solved} were made surer than asked at first, because the worked seasons found less.`
      : "";
  return [
    ...(reached.length < 2 ? [] : chartSection(view, "What the mix costs", line, [], "")),
    stepSection(view, reached),
    sampleSection(view, reached),
    proofSection(
      `${reached.length} steps, each solved and proven by itself and worked again over 4,096 seasons.${again} What lies between two steps was not looked at. All of it holds as far as the spreads are right (\`list varies\`).`,
    ),
  ];
}

function stepSection(view: SweepView, reached: readonly Reached[]): Section {
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
      ...(entered.length > 0 ? [`${listed(entered.map(view.name))} in`] : []),
      ...(left.length > 0 ? [`${listed(left.map(view.name))} out`] : []),
    ];
    return parts.length > 0 ? parts.join("; ") : null;
  };
  const steps = table(rows, [
    valueColumn<Row>(view, "Asked for", ({ point }) => point.value),
    figures(
      "Worked again",
      "met_percent",
      ({ point }) => metPercent(point),
      (percent) => `${decimal(percent, 1)}%`,
    ),
    view.cash("Cost", "cost", ({ point }) => point.total),
    view.cash("Per point more", "cost_per_point", ({ perPoint }) => perPoint),
    words("The mix", "change", change),
  ]);
  return { title: "What each step costs", blocks: [steps] };
}

function metPercent({ met }: SweepPoint): number | null {
  return met == null ? null : 100 * met;
}

function sampleSection(view: SweepView, reached: readonly Reached[]): Section {
  const shown = [...new Set([reached[0]!, reached[reached.length >> 1]!, reached.at(-1)!])];
  const sides = shown.map(
    ({ value, total, amendments }, k): Side => ({
      column: view.masses(
        view.show(value),
        `mix_${k + 1}`,
        (id) => kgOf(amendments, id),
        (kg) => (kg > 0 ? view.weight(kg) : "none"),
      ),
      holds: (id) => kgOf(amendments, id) > 0,
      total: { text: view.money(total), raw: total },
    }),
  );
  return {
    title: "The mix at the first, a middle and the last of them",
    blocks: amendmentTables(view, "Cost", sides),
  };
}

/** What to know of a cost that moves in jumps. One that falls surprises, except along a cap, where room only helps. */
function purchaseNotes({ sweep, show, money: cash }: SweepView): Block[] {
  const { points, kind } = sweep;
  const jumps = paragraph(
    sweep.segments.length > 0
      ? whereItChanges(sweep, show)
      : "Each step is bought for by itself, in whole packs and with delivery. Such a cost moves in jumps: this says nothing of what lies between two steps.",
  );
  const fall = points.findIndex(({ total }, k) => {
    const before = points[k - 1]?.total ?? null;
    return total !== null && before !== null && total < before * (1 - 1e-6);
  });
  const [from, to] = [points[fall - 1], points[fall]];
  if (kind === "cap" || !from || !to) return [jumps];
  const falls = `It may even fall on the way up, here from ${cash(from.total!)} at ${show(from.value)} to ${cash(to.total!)} at ${show(to.value)}: an order that is worth more may be delivered for less.`;
  return [jumps, paragraph(falls)];
}

/** What is bought up to which price, and what above it: exact, and proven. */
function whereItChanges({ segments, units, of, currency }: Sweep, perKg: (value: number) => string): string {
  // A bag is paid by the bag: said beside the price by weight where there is one size.
  const sizes = new Set(
    segments.flatMap(({ buys = [] }) =>
      buys.flatMap(({ id, packs }) => (id === of ? packs.map(({ sizeKg }) => sizeKg) : [])),
    ),
  );
  const [size] = [...sizes];
  const show = (value: number): string =>
    sizes.size === 1 && size !== undefined
      ? `${money(value * size, currency)} a ${bagWeight(size, units)} bag (${perKg(value)})`
      : perKg(value);
  const said = segments.map(({ from, to, buys = [] }, k) => {
    const bags = listed(buys.map((one) => `${buyWords(one, units)} ${one.name}`));
    if (segments.length === 1)
      return `The whole way from ${show(from)} to ${show(to)} this is cheapest: ${bags}.`;
    if (k === 0) return `Up to ${show(to)}: ${bags}.`;
    return k === segments.length - 1
      ? `Above ${show(from)}: ${bags}.`
      : `From ${show(from)} to ${show(to)}: ${bags}.`;
  });
  return `${said.join(" ")} These prices are exact, delivery included.`;
}

/** What is bought, step by step. */
function purchaseSections(view: SweepView): Section[] {
  const { sweep } = view;
  const { points, runs = [] } = sweep;
  const { from, to } = endsOf(sweep);
  const line = lineOf(sweep);
  // What is known of a step alone is drawn half the way to its neighbours.
  const half = (to - from) / (2 * Math.max(1, points.length - 1));
  const steps = points.flatMap(({ value, total }) =>
    total === null
      ? []
      : [Math.max(from, value - half), Math.min(to, value + half)].map((at) => [at, total] as const),
  );
  const marks =
    line.length > 0 ? sweep.segments.slice(1).map((one) => one.from) : runs.slice(1).map((run) => run.from);
  const stopped = points.filter(({ status }) => status === "found").length;
  const { maxGap } = sweep.verification;
  return [
    ...chartSection(view, "What the purchase costs", line.length > 0 ? line : steps, marks, "other packs"),
    ...runSections(view, runs),
    proofSection(
      stopped === 0
        ? `${counted(points.length, "step")}, each with the purchase that is proven to cost least.`
        : `${counted(points.length, "step")}, ${stopped} of them with the best purchase found: another could cost up to ${percent(maxGap)} less. More time (--time-limit) may settle that, but not which beds share a mix.`,
    ),
  ];
}

/** A column of what runs cost: the amount for CSV, then the least and the most to show. */
function moneyColumn(
  view: SweepView,
  head: string,
  csv: string,
  of: (run: SweepRun) => readonly [exact: number, least: number, most: number],
): ColumnOf<SweepRun> {
  return figures(
    head,
    csv,
    (run) => of(run)[0],
    (_, run) => moneyRange(view, of(run)[1], of(run)[2]),
  );
}

/** What it costs at which steps, then what is bought there. */
function runSections(view: SweepView, runs: readonly SweepRun[]): Section[] {
  if (runs.length === 0) return [];
  const { sweep, valueInUnit, valueUnit, show } = view;
  const where = ({ from, to, steps }: SweepRun): string =>
    steps === 1 ? `at ${show(from)}` : `${show(from)} to ${show(to)}`;
  const costs = table(runs, [
    figures<SweepRun>(
      "Steps",
      `${valueUnit}_from`,
      (run) => valueInUnit(run.from),
      (_, run) => where(run),
    ),
    moneyColumn(view, "Total", "total", ({ total, totalFrom }) => [totalFrom, ...total]),
    moneyColumn(view, "Of it delivery", "delivery", ({ delivery }) => [delivery[0], ...delivery]),
    moneyColumn(view, "Worth of leftovers", "left_worth", ({ leftWorth }) => [leftWorth[0], ...leftWorth]),
  ]);
  const sides = runs.map((run, k): Side => {
    const lineOf = (id: string) => run.lines.find((line) => line.id === id && line.boughtKg > 0);
    return {
      column: words(where(run), `run_${k + 1}`, (id) => {
        const line = lineOf(id);
        return line ? buyWords(line, sweep.units) : cell("none", "faint");
      }),
      holds: (id) => lineOf(id) !== undefined,
      total: { text: moneyRange(view, ...run.total), raw: run.totalFrom },
    };
  });
  return [
    { title: "What it costs at which steps", blocks: [costs] },
    { title: "What to buy there", blocks: amendmentTables(view, "Total", sides) },
  ];
}

function proofSection(text: string): Section {
  return { title: "Proof", blocks: [paragraph(text)] };
}

/** One row for each value looked at. */
function pointTable(view: SweepView): Table {
  const { sweep } = view;
  const byPurchase = sweep.by === "purchase";
  const ids = [
    ...new Set(
      sweep.points.flatMap(({ amendments, purchase }) =>
        [...amendments, ...(purchase?.lines ?? [])].map(({ id }) => id),
      ),
    ),
  ].sort();
  const exact = (head: string, name: string, of: (point: SweepPoint) => number | null | undefined) =>
    figures<SweepPoint>(head, name, (point) => of(point) ?? null);
  const use = (head: string, id: string) =>
    view.masses<SweepPoint>(head, id, ({ total, amendments }) =>
      total === null ? null : kgOf(amendments, id),
    );
  const buy = (id: string) =>
    words<SweepPoint>(`${id}: buy`, `${id}_buy`, ({ purchase }) => {
      const line = purchase?.lines.find((one) => one.id === id);
      return line && line.boughtKg > 0 ? buyWords(line, sweep.units) : "";
    });
  return fullTableOf(sweep.points, [
    valueColumn<SweepPoint>(view, "Value", ({ value }) => value),
    words("Status", "status", ({ status }) => status),
    exact("Cost", "cost", ({ total }) => total),
    ...(sweep.kind === "sure" ? [exact("Met in", "met_percent", metPercent)] : []),
    ...(byPurchase
      ? [
          exact("Goods", "goods", ({ purchase }) => purchase?.goods),
          exact("Delivery", "delivery", ({ purchase }) => purchase?.delivery),
          exact("By weight", "by_weight", ({ byWeight }) => byWeight),
          exact("Gap", "gap", ({ purchase }) => purchase?.gap),
          exact("Packs", "packs", ({ purchase }) => purchase?.packs),
          exact("Worth of leftovers", "left_worth", ({ purchase }) => purchase?.leftWorth),
        ]
      : []),
    ...ids.flatMap((id) => (byPurchase ? [buy(id), use(`${id}: use`, id)] : [use(id, id)])),
  ]);
}
