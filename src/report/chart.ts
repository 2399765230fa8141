/** A line chart in plain signs, for terminals and mails. */

export interface Chart {
  readonly from: number;
  readonly to: number;
  /** Height of the line at a value; null: there is none. */
  readonly at: (value: number) => number | null;
  /** Values marked below the line with `^`. */
  readonly marks: readonly number[];
  /** A value whose point is drawn as `o`. */
  readonly here: number | null;
  readonly showValue: (value: number) => string;
  readonly showHeight: (height: number) => string;
}

const WIDTH = 58;
const ROWS = 11;

/** The lines of a chart, at most 58 signs wide; none where the line has no point. */
export function drawChart(chart: Chart): string[] {
  const { from, to, at, marks, here, showValue, showHeight } = chart;
  const heights = (columns: number): (number | null)[] =>
    Array.from({ length: columns }, (_, c) => at(from + ((to - from) * c) / (columns - 1)));
  const rough = heights(WIDTH).filter((height) => height !== null);
  if (rough.length === 0) return [];
  const low = Math.min(...rough);
  const high = Math.max(...rough);
  const middle = (low + high) / 2;
  const labels = new Map([
    [0, showHeight(high)],
    [(ROWS - 1) / 2, showHeight(middle)],
    [ROWS - 1, showHeight(low)],
  ]);
  const margin = Math.max(...[...labels.values()].map((label) => label.length));
  const columns = WIDTH - margin - 2;
  const line = heights(columns);
  const rowOf = (height: number): number =>
    high === low
      ? (ROWS - 1) / 2
      : Math.round(Math.min(1, Math.max(0, (high - height) / (high - low))) * (ROWS - 1));
  const columnOf = (value: number): number => Math.round(((value - from) / (to - from)) * (columns - 1));
  const inside = (value: number): boolean => value >= from && value <= to;

  const grid = Array.from({ length: ROWS }, () => new Array<string>(columns).fill(" "));
  line.forEach((height, c) => {
    if (height !== null) grid[rowOf(height)]![c] = "*";
  });
  const hereHeight = here !== null && inside(here) ? at(here) : null;
  if (here !== null && hereHeight !== null) grid[rowOf(hereHeight)]![columnOf(here)] = "o";
  const lines = grid.map(
    (row, r) => `${(labels.get(r) ?? "").padStart(margin)} ${labels.has(r) ? "+" : "|"}${row.join("")}`,
  );
  const axis = new Array<string>(columns).fill("-");
  for (const mark of marks) if (inside(mark)) axis[columnOf(mark)] = "^";
  lines.push(`${" ".repeat(margin)} +${axis.join("")}`);
  const [left, right] = [showValue(from), showValue(to)];
  const gap = columns - left.length - right.length;
  lines.push(`${" ".repeat(margin + 2)}${left}${" ".repeat(Math.max(1, gap))}${right}`);
  return lines.map((text) => text.trimEnd());
}
