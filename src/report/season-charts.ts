/** Supply against need over the season, as charts: the shade is what the crop has taken up, the line has to stay above. */
import type { Plan } from "../model.ts";
import type { NutrientCurve } from "../results/solution.ts";
import { plainNumber, weightBeside } from "../words/numbers.ts";
import { dateWords } from "../words/own-measures.ts";
import { ofBed, type View } from "./answer-view.ts";
import { type Block, type Chart, paragraph, type Section, section } from "./report.ts";

/**
 * The charts of curves, one for each nutrient.
 * @param need how the need is drawn: as a shade behind the supply, or as a second line, for paper.
 */
export function seasonCharts(
  plan: Plan,
  curves: readonly NutrientCurve[],
  need: "shade" | "dashes" = "shade",
): Chart[] {
  return curves.map((curve) => chartOf(plan, curve, need));
}

function chartOf(
  { units, planted, applications }: Plan,
  { nutrient, days, needKg, seasonNeedKg, supplyKg }: NutrientCurve,
  need: "shade" | "dashes",
): Chart {
  const highest = Math.max(seasonNeedKg, ...supplyKg);
  const from = days[0]!;
  const to = days.at(-1)!;
  const ticks = [...new Set([from, ...applications.map(({ day }) => day), to])].sort((a, b) => a - b);
  const points = (kg: readonly number[]) => days.map((day, k) => [day, kg[k]!] as const);
  // Where no uptake is known, a shade stands at the season's end alone, and a line runs through the whole season.
  const levelFrom = need === "shade" ? to - (to - from) / 50 : from;
  const needed: Chart["series"][number] =
    needKg === null
      ? {
          kind: need,
          name: "needed by the season's end",
          points: [levelFrom, to].map((day) => [day, seasonNeedKg]),
        }
      : { kind: need, name: "the crop needs by then", points: points(needKg) };
  const supply = { kind: "line", name: "available by then", points: points(supplyKg) } as const;
  return {
    title: nutrient,
    x: {
      from,
      to,
      ticks: ticks.map((day) => ({ at: day, text: dateWords(day, planted) ?? plainNumber(day) })),
    },
    y: {
      from: 0,
      to: highest,
      ticks: [0, highest / 2, highest].map((kg) => ({ at: kg, text: weightBeside(kg, highest, units) })),
    },
    series: need === "shade" ? [needed, supply] : [supply, needed],
    marks: applications.map(({ day }) => ({ at: day })),
    markName: "spread",
  };
}

/** The curves of each bed that has some. */
export function chartSections(view: View): Section[] {
  return view.beds.flatMap((one) => {
    const { bed, plan } = one;
    if (!bed.curves || bed.curves.length === 0) return [];
    const axis = plan.planted === undefined ? "Days from planting." : "By date.";
    return section(
      ofBed(view, one, "Supply against need"),
      paragraph(
        `The line is what the weighed batches and the credits have made available; the shade is what the crop has taken up. In time means: the line stays above the shade. ${axis}`,
      ),
      seasonCharts(plan, bed.curves).map((chart): Block => ({ kind: "chart", chart })),
    );
  });
}
