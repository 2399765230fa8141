/** The batch cards as a report: for Markdown, the terminal and CSV. The page for print is `render/card.ts`. */
import { counted, scaleWeight, type UnitSystem } from "../words/numbers.ts";
import { type BatchRow, batchColumns } from "./batch-tables.ts";
import { type CardSheet, type CardSource, sheetsOf } from "./card-sheet.ts";
import { answerTable } from "./outcome-table.ts";
import {
  bullets,
  type ColumnOf,
  figures,
  paragraph,
  type Report,
  type Section,
  section,
  table,
  words,
} from "./report.ts";

/** More boxes than this in a row are counted, not drawn. */
export const MOST_BOXES = 24;
export const NOTHING_TO_MIX = "Nothing needs to be mixed: the needs are met already.";

/** The cards of one bed or several as a report. */
export function cardReport(sources: readonly CardSource[]): Report {
  const beds = sources.map((source) => ({ source, sheets: sheetsOf(source) }));
  const rows = beds.flatMap(({ sheets }) =>
    sheets.flatMap(({ plan, rounds, lines }) =>
      rounds.flatMap(({ application }) => lines.map((line) => ({ plan, application, line }))),
    ),
  );
  return {
    title: `Batch card: ${sources.map(({ plan }) => plan.name).join(" and ")}`,
    summary: beds.map(({ source, sheets }) => paragraph(summaryWords(source, sheets))),
    sections: beds.flatMap(({ sheets }) => [
      ...sheets.flatMap((sheet) => sheetSection(sheet, sources.length > 1)),
      // What to mind, once for all the cards of a bed.
      ...section("Take care", bullets([...new Set(sheets.flatMap(({ cautions }) => cautions))])),
    ]),
    csv: answerTable(rows, cardColumns(sources[0]!.plan.units)),
  };
}

/** The columns of a card's CSV, a row for each amendment of each application. */
export function cardColumns(units: UnitSystem): ColumnOf<BatchRow & { readonly plan: string }>[] {
  return [
    ...batchColumns(units),
    figures("Loose", "batch_ml", (r) => r.line.mL),
    words("Plan", "plan", (r) => r.plan),
  ];
}

function summaryWords({ plan, scaleKg, bought }: CardSource, sheets: readonly CardSheet[]): string {
  const [first] = sheets;
  if (!first) return NOTHING_TO_MIX;
  const { plants } = plan.bed;
  const bed = plants === undefined ? "" : ` for ${counted(plants, "plant")}`;
  const packs = bought ? " The mix on the packs that are bought." : "";
  const made = first.sure ? ` ${first.sure.text}` : "";
  return `${plan.targetName}${bed}. ${counted(sheets.length, "recipe")}; weights to ${scaleWeight(scaleKg, scaleKg, plan.units)}.${packs}${made}`;
}

function sheetSection(sheet: CardSheet, named: boolean): Section[] {
  const { plan, when, lines, whole, grade, rounds, givesAlike } = sheet;
  return section(
    named ? `${plan}: ${when}` : when,
    table(
      lines,
      [
        words("Done", "done", () => "☐"),
        figures(
          "Weigh",
          "weight_kg",
          (line) => line.kg,
          (_, line) => line.text,
        ),
        words("Amendment", "amendment", ({ name, bags }) => (bags === null ? name : `${name} (${bags})`)),
        figures(
          "or, loose",
          "volume_ml",
          (line) => line.mL,
          (_, line) => line.loose!,
        ),
      ],
      ["", whole, "One batch weighs"],
    ),
    paragraph(`Grade ${grade} (N-P2O5-K2O).`),
    rounds.flatMap(({ when, batches, count, give }, k) => [
      paragraph(`${when}: ${batches}. Made: ${boxesText(count)}`, "strong"),
      ...(givesAlike && k < rounds.length - 1
        ? []
        : [bullets(give.map(({ what, text }) => `${what}: ${text}`))]),
    ]),
  );
}

function boxesText(count: number): string {
  if (count > MOST_BOXES) return `____ of ${count}`;
  return Array.from({ length: count }, (_, k) => `☐ ${k + 1}`).join("  ");
}
