/** A chart in plain signs, for terminals and mails: the need as a shade, the supply as a line that has to stay above it. */
import { type Chart, heightAt } from "../report/report.ts";

const ROWS = 8;
const WIDEST = 76;

/** Signs of a chart: with shades and dots, or in ASCII alone. */
const SIGNS = {
  unicode: { shade: "░", line: "●", dashes: "○", mark: "▲", axis: "│", corner: "└", tick: "┤", floor: "─" },
  ascii: { shade: ".", line: "*", dashes: "o", mark: "^", axis: "|", corner: "+", tick: "+", floor: "-" },
} as const;

/** The lines of a chart, at most `width` signs wide (58 at least). */
export function chartLines(chart: Chart, width: number, ascii: boolean): string[] {
  const signs = SIGNS[ascii ? "ascii" : "unicode"];
  const margin = Math.max(...chart.y.ticks.map(({ text }) => text.length));
  const columns = Math.min(width, WIDEST) - margin - 2;
  const xAt = (column: number) => chart.x.from + ((chart.x.to - chart.x.from) * column) / (columns - 1);
  const columnOf = (x: number) =>
    Math.round(((x - chart.x.from) / (chart.x.to - chart.x.from)) * (columns - 1));
  /** Row 0 is the floor. */
  const rowOf = (y: number) =>
    Math.max(0, Math.min(ROWS, Math.round(((y - chart.y.from) / (chart.y.to - chart.y.from)) * ROWS)));
  const grid = Array.from({ length: ROWS + 1 }, () => new Array<string>(columns).fill(" "));
  for (const { kind, points } of chart.series)
    for (let c = 0; c < columns; c++) {
      const y = heightAt(points, xAt(c));
      if (y === null) continue;
      const top = rowOf(y);
      if (kind !== "shade") grid[top]![c] = signs[kind];
      else for (let r = 0; r <= top; r++) if (top > 0) grid[r]![c] = signs.shade;
    }
  const labels = new Map(chart.y.ticks.map(({ at, text }) => [rowOf(at), text]));
  const drawn = grid.map(
    (row, r) =>
      `${(labels.get(r) ?? "").padStart(margin)} ${labels.has(r) ? signs.tick : signs.axis}${row.join("")}`,
  );
  const floor = new Array<string>(columns).fill(signs.floor);
  for (const { at } of chart.marks)
    if (at >= chart.x.from && at <= chart.x.to) floor[columnOf(at)] = signs.mark;
  return [
    ...drawn.reverse(),
    `${" ".repeat(margin)} ${signs.corner}${floor.join("")}`,
    `${" ".repeat(margin + 2)}${ticksLine(chart, columns, columnOf)}`,
    `${" ".repeat(margin + 2)}${legendOf(chart, signs)}`,
  ].map((line) => line.trimEnd());
}

/** The labels of the days, each under its own column; one that would run into its neighbour is left out. */
function ticksLine(chart: Chart, columns: number, columnOf: (x: number) => number): string {
  let line = "";
  for (const { at, text } of chart.x.ticks) {
    const start = Math.max(0, Math.min(columns - text.length, columnOf(at) - Math.floor(text.length / 2)));
    if (line !== "" && start < line.length + 1) continue;
    line = line.padEnd(start) + text;
  }
  return line;
}

function legendOf({ series, marks, markName }: Chart, signs: (typeof SIGNS)[keyof typeof SIGNS]): string {
  const parts = series.map(({ kind, name }) => `${signs[kind]} ${name}`);
  return [...parts, ...(marks.length > 0 && markName ? [`${signs.mark} ${markName}`] : [])].join("   ");
}
