/** Supply against need over the season, as charts: the shade is what the crop has taken up, the line has to stay above. */
import type { Plan } from "../model.ts";
import type { NutrientCurve, Solution } from "../results/solution.ts";
import { plainNumber, weightBeside } from "../words/numbers.ts";
import { dateWords } from "../words/own-measures.ts";
import { type Block, type Chart, paragraph, type Section, section } from "./report.ts";

/**
 * The charts of curves, one for each nutrient.
 * @param need how the need is drawn: as a shade behind the supply, or as a line, for paper.
 */
export function seasonCharts(
  plan: Plan,
  curves: readonly NutrientCurve[],
  need: "shade" | "lines" = "shade",
): Chart[] {
  return curves.map((curve) => {
    const chart = chartOf(plan, curve);
    if (need === "shade") return chart;
    const [shade, supply] = chart.series;
    const level = [chart.x.from, chart.x.to].map((day) => [day, curve.seasonNeedKg] as const);
    const points = curve.needKg === null ? level : shade!.points;
    return { ...chart, series: [supply!, { ...shade!, points, kind: "line" }] };
  });
}

function chartOf(plan: Plan, { nutrient, days, needKg, seasonNeedKg, supplyKg }: NutrientCurve): Chart {
  const highest = Math.max(seasonNeedKg, ...supplyKg);
  const show = (kg: number) => weightBeside(kg, highest, plan.units);
  const from = days[0]!;
  const to = days.at(-1)!;
  const ticks = [...new Set([from, ...plan.applications.map(({ day }) => day), to])].sort((a, b) => a - b);
  const points = (kg: readonly number[]) => days.map((day, k) => [day, kg[k]!] as const);
  return {
    title: nutrient,
    x: {
      from,
      to,
      ticks: ticks.map((day) => ({ at: day, text: dateWords(day, plan.planted) ?? plainNumber(day) })),
    },
    y: {
      from: 0,
      to: highest,
      ticks: [0, highest / 2, highest].map((kg) => ({ at: kg, text: show(kg) })),
    },
    series: [
      needKg === null
        ? {
            kind: "shade",
            name: "needed by the season's end",
            points: [
              [to - (to - from) / 50, seasonNeedKg],
              [to, seasonNeedKg],
            ],
          }
        : { kind: "shade", name: "the crop needs by then", points: points(needKg) },
      { kind: "line", name: "available by then", points: points(supplyKg) },
    ],
    marks: plan.applications.map(({ day }) => ({ at: day })),
    markName: "spread",
  };
}

/** The section of a solution that has its curves. */
export function chartSections({ curves = [], inputs }: Solution): Section[] {
  if (curves.length === 0) return [];
  const axis = inputs.planted === undefined ? "Days from planting." : "By date.";
  return section(
    "Supply against need",
    paragraph(
      `The line is what the weighed batches and the credits have made available; the shade is what the crop has taken up. In time means: the line stays above the shade. ${axis}`,
    ),
    seasonCharts(inputs, curves).map((chart): Block => ({ kind: "chart", chart })),
  );
}
