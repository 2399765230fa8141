/** The cards as a report: for Markdown, the terminal and CSV. The page for print is `render/card.ts`. */
import type { Solution } from "../results/solution.ts";
import type { UnitSystem } from "../words/numbers.ts";
import { noMixWords } from "../words/sure-words.ts";
import { type CardSheet, cardOf } from "./card-sheet.ts";
import { conflictTable } from "./outcome-table.ts";
import { bullets, figures, paragraph, type Report, type Section, section, table, words } from "./report.ts";
import { solutionColumns, solutionReport } from "./solution-report.ts";

/** More boxes than this in a row are counted, not drawn. */
export const MOST_BOXES = 24;
export const NOTHING_TO_MIX = "Nothing needs to be mixed: what feeds the crop already is enough.";

/** The cards of an answer as a report; without an answer, why there is none. */
export function cardReport(solution: Solution): Report {
  if (solution.status === "infeasible") {
    const { conflicts, units } = solution;
    return {
      ...solutionReport(solution, "page"),
      summary: [paragraph(`${noMixWords(conflicts)}: there is nothing to weigh yet.`, "bad")],
      csv: conflictTable(solutionColumns(units), conflicts),
    };
  }
  const card = cardOf(solution);
  const { csv } = solutionReport(solution, "page");
  return {
    title: `Batch card: ${card.name}`,
    summary: card.sheets.length === 0 ? [paragraph(NOTHING_TO_MIX)] : [],
    sections: card.sheets.flatMap((sheet) => sheetSection(sheet, solution.units)),
    ...(csv ? { csv } : {}),
  };
}

function sheetSection(
  { name, heading, mix, whole, given, named, takeCare }: CardSheet,
  units: UnitSystem,
): Section[] {
  const rows = given.flatMap((one) => one.whens.map((when) => ({ ...one, when })));
  const blank = (head: string) => words<unknown>(head, "", () => "");
  return section(
    `${name}: ${heading}`,
    table(
      mix.weights,
      [
        figures(
          "Into each batch",
          "weight_kg",
          (line) => line.kg,
          (_, line) => line.text,
        ),
        words("Material", "material", ({ name }) => name),
        words("or, loose", "loose", (line) => line.loose),
        words("Done", "done", ({ once }) =>
          once ? "☐ once for all batches, shared out by eye" : boxesText(mix.batches),
        ),
      ],
      whole === null ? undefined : [whole, "one batch"],
    ),
    table(rows, [
      words("Bed", "bed", ({ bed }) => (named ? bed : null)),
      words("Give", "round", ({ when }) => when),
      words(rows[0]?.each ?? "", "dose", ({ dose }) => dose),
      words("Take", "take", ({ take }) => take),
      blank("Spread on"),
      blank(units === "us" ? "Pounds spread" : "Kilograms spread"),
      blank("Spread by"),
      blank("Lot numbers on the bags"),
    ]),
    bullets(takeCare),
  );
}

function boxesText(count: number): string {
  if (count > MOST_BOXES) return `____ of ${count}`;
  return Array.from({ length: count }, (_, k) => `☐ ${k + 1}`).join("  ");
}
