/** The sure needs of a plan as rows with margins: what is in doubt about each row, by column of its program. */
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { type Doubt, doubtsAbout, needsOf, type SpreadSeason } from "../season/spread.ts";
import { termsOf } from "../solver/program.ts";
import type { SureRow } from "../solver/sure.ts";
import type { BlendProgram } from "./build.ts";

/** A row with a margin, and what its factors mean, in the same order. */
export interface PlanSureRow extends SureRow {
  readonly nutrient: Nutrient;
  readonly day: number;
  readonly doubts: readonly Doubt[];
}

/**
 * The rows of a blend's program that need a margin.
 * @param z standard deviations to keep above the need of a nutrient, on each of its days; 0: none.
 */
export function sureRows(
  plan: Plan,
  spread: SpreadSeason,
  program: BlendProgram,
  z: (nutrient: Nutrient) => number,
): PlanSureRow[] {
  const needs = needsOf(plan, spread.season);
  return program.rows.flatMap(({ tag }, row) => {
    if (tag.kind !== "season-min" && tag.kind !== "in-time") return [];
    const margin = z(tag.nutrient);
    const need = needs.find((one) => one.nutrient === tag.nutrient && one.day === tag.day);
    if (!(margin > 0) || !need) return [];
    const doubts = doubtsAbout(plan, spread, tag.nutrient, tag.day, need.counted);
    const factors = doubts.map(({ perKg, constantKg }) => {
      const byColumn = new Map<number, number>();
      for (const { amendment, application, value } of perKg) {
        const one = plan.blend === "one";
        const column = program.use[amendment]![one ? 0 : application]!;
        const share = one ? plan.applications[application]!.share : 1;
        byColumn.set(column, (byColumn.get(column) ?? 0) + share * value);
      }
      return { ...termsOf(byColumn), constant: constantKg };
    });
    return [
      {
        row,
        z: margin,
        nutrient: tag.nutrient,
        day: tag.day,
        factors,
        doubts: doubts.map(({ doubt }) => doubt),
      },
    ];
  });
}
