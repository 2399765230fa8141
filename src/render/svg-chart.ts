/** A chart as inline SVG: no script, no outside file, in black and grey, told apart by shape and not by colour. */
import type { Chart } from "../report/report.ts";
import { escapeHtml } from "./escape.ts";

const WIDTH = 360;
const HEIGHT = 150;
const LEFT = 52;
const RIGHT = 10;
const TOP = 8;
const BOTTOM = 24;

const number = (value: number): string => String(Math.round(value * 10) / 10);

/** How the style calls what is drawn. */
const CLASSES = { shade: "need", line: "supply", dashes: "other" } as const;

/** The chart as one `<figure>`. */
export function chartSvg(chart: Chart): string {
  const xOf = (x: number) =>
    LEFT + ((x - chart.x.from) / (chart.x.to - chart.x.from)) * (WIDTH - LEFT - RIGHT);
  const yOf = (y: number) =>
    HEIGHT - BOTTOM - ((y - chart.y.from) / (chart.y.to - chart.y.from)) * (HEIGHT - TOP - BOTTOM);
  const floor = number(HEIGHT - BOTTOM);
  const pathsOf = (shade: boolean) =>
    chart.series
      .filter(({ kind, points }) => (kind === "shade") === shade && points.length > 0)
      .map(({ kind, points }) => {
        const line = points.map(([x, y]) => `${number(xOf(x))} ${number(yOf(y))}`).join("L");
        const [first, last] = [points[0]!, points.at(-1)!].map(([x]) => number(xOf(x)));
        const under = shade ? `L${last} ${floor}L${first} ${floor}Z` : "";
        return `<path class="${CLASSES[kind]}" d="M${line}${under}"/>`;
      });
  const marks = chart.marks.map(({ at }) => `<path class="mark" d="M${number(xOf(at))} ${floor}l-4 7h8z"/>`);
  const yTicks = chart.y.ticks.map(
    ({ at, text }) =>
      `<path class="grid" d="M${LEFT} ${number(yOf(at))}H${WIDTH - RIGHT}"/><text x="${LEFT - 5}" y="${number(yOf(at) + 3.5)}" text-anchor="end">${escapeHtml(text)}</text>`,
  );
  const xTicks = spaced(chart.x.ticks, xOf).map(
    ({ at, text }) =>
      `<text x="${number(Math.min(xOf(at), WIDTH - RIGHT - 3 * text.length))}" y="${HEIGHT - 5}" text-anchor="middle">${escapeHtml(text)}</text>`,
  );
  const legend = [
    ...chart.series.map(({ kind, name }) => `${kind}: ${name}`),
    ...(chart.marks.length > 0 && chart.markName ? [`triangles: ${chart.markName}`] : []),
  ].join("; ");
  return [
    '<figure class="chart">',
    `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escapeHtml(`${chart.title}: ${legend}`)}">`,
    ...pathsOf(true),
    ...yTicks,
    ...pathsOf(false),
    ...marks,
    ...xTicks,
    "</svg>",
    `<figcaption><b>${escapeHtml(chart.title)}</b> ${escapeHtml(legend)}</figcaption>`,
    "</figure>",
  ].join("\n");
}

/** Labels that do not run into one another, in order; the last is kept. */
function spaced(ticks: Chart["x"]["ticks"], xOf: (x: number) => number): Chart["x"]["ticks"] {
  const kept: { at: number; text: string }[] = [];
  for (const tick of ticks) {
    const before = kept.at(-1);
    if (before && xOf(tick.at) - xOf(before.at) < 3.2 * (tick.text.length + before.text.length) + 4) {
      if (tick === ticks.at(-1) && kept.length > 1) kept.pop();
      else continue;
    }
    kept.push(tick);
  }
  return kept;
}

/** The style of the charts, for the page they are on. */
export const CHART_STYLE = `
.chart { margin: 0.6em 0; break-inside: avoid; }
.chart svg { display: block; width: 100%; height: auto; font: 10px system-ui, sans-serif; }
.chart figcaption { font-size: 0.85em; }
.chart .need { fill: #ddd; stroke: #777; stroke-width: 1; }
.chart .grid { stroke: #bbb; stroke-width: 0.5; fill: none; }
.chart .supply, .chart .other { fill: none; stroke: #000; stroke-width: 2; }
.chart .other { stroke-dasharray: 5 3; }
.chart .mark { fill: #000; }
`.trim();
