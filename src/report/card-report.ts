/** The batch cards as a report: for Markdown, the terminal and CSV. The page for print is `render/card.ts`. */
import type { SolutionApplication } from "../results/solution.ts";
import { counted, csvWeight, scaleWeight, type UnitSystem } from "../words/numbers.ts";
import { type CardLine, type CardRound, type CardSheet, type CardSource, sheetsOf } from "./card-sheet.ts";
import { answerTable } from "./outcome-table.ts";
import {
  type Block,
  bullets,
  type ColumnOf,
  cell,
  figures,
  numberCell,
  paragraph,
  type Report,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** More boxes than this in a row are counted, not drawn. */
export const MOST_BOXES = 24;
export const NOTHING_TO_MIX = "Nothing needs to be mixed: the needs are met already.";

/** The cards of one bed or several as a report. */
export function cardReport(sources: readonly CardSource[]): Report {
  const beds = sources.map((source) => ({ source, sheets: sheetsOf(source) }));
  const { units } = sources[0]!.plan;
  const rows = beds.flatMap(({ sheets }) =>
    sheets.flatMap((sheet) =>
      sheet.rounds.flatMap(({ application }) => sheet.lines.map((line) => ({ sheet, application, line }))),
    ),
  );
  return {
    title: `Batch card: ${sources.map(({ plan }) => plan.name).join(" and ")}`,
    summary: beds.map(({ source, sheets }) =>
      paragraph(sheets.length === 0 ? NOTHING_TO_MIX : summaryWords(source, sheets)),
    ),
    sections: beds.flatMap(({ source, sheets }) => [
      ...sheets.map((sheet) => sheetSection(source, sheet, sources.length > 1)),
      ...careSection(sheets),
    ]),
    csv: answerTable(rows, cardColumns(units)),
  };
}

interface CardRow {
  readonly sheet: CardSheet;
  readonly application: SolutionApplication;
  readonly line: CardLine;
}

/** The columns of a card's CSV, a row for each amendment of each application. */
export function cardColumns(units: UnitSystem): ColumnOf<CardRow>[] {
  const { unit, of } = csvWeight(units);
  return [
    words("Application", "application", (r) => r.application.name),
    figures("Day", "day", (r) => r.application.day, String),
    figures("Batches", "batches", (r) => r.application.batches.count, String),
    words("Id", "id", (r) => r.line.id),
    words("Amendment", "amendment", (r) => r.line.name),
    figures("Into each batch", `batch_${unit}`, (r) => of(r.line.kg), String),
    figures("Loose", "batch_ml", (r) => r.line.mL, String),
    words("Plan", "plan", (r) => r.sheet.plan),
  ];
}

function summaryWords({ plan, scaleKg, bought }: CardSource, sheets: readonly CardSheet[]): string {
  const { plants } = plan.bed;
  const bed = plants === undefined ? "" : ` for ${counted(plants, "plant")}`;
  const packs = bought ? " The mix on the packs that are bought." : "";
  const made = sheets[0]?.sure ? ` ${sheets[0].sure.text}` : "";
  return `${plan.targetName}${bed}. ${counted(sheets.length, "recipe")}; weights to ${scaleWeight(scaleKg, scaleKg, plan.units)}.${packs}${made}`;
}

function sheetSection({ plan }: CardSource, sheet: CardSheet, named: boolean): Section {
  const { unit, of } = csvWeight(plan.units);
  const table = tableOf(
    sheet.lines,
    [
      words("Done", "done", () => "☐"),
      figures(
        "Weigh",
        `weight_${unit}`,
        (line) => of(line.kg),
        (_, line) => line.weigh,
      ),
      words("Amendment", "amendment", (line) =>
        line.bags === null ? line.name : `${line.name} (${line.bags})`,
      ),
      figures(
        "or, loose",
        "volume_ml",
        (line) => line.mL,
        (_, line) => line.loose ?? "",
      ),
    ],
    {
      [`weight_${unit}`]: numberCell(sheet.whole, of(sheet.kgEach)),
      amendment: cell("One batch weighs"),
    },
  );
  const blocks: Block[] = [tableBlock(table), paragraph(`Grade ${sheet.grade} (N-P2O5-K2O).`)];
  const given = ({ give }: CardRound) => bullets(give.map(([label, amount]) => `${label}: ${amount}`));
  sheet.rounds.forEach((round, k) => {
    blocks.push(paragraph(`${round.when}: ${round.batches}. Made: ${boxesText(round.count)}`, "strong"));
    if (!sheet.givesAlike || k === sheet.rounds.length - 1) blocks.push(given(round));
  });
  return { title: named ? `${sheet.plan}: ${sheet.when}` : sheet.when, blocks };
}

function boxesText(count: number): string {
  if (count > MOST_BOXES) return `____ of ${count}`;
  return Array.from({ length: count }, (_, k) => `☐ ${k + 1}`).join("  ");
}

/** What to mind, once for all the cards of a bed. */
function careSection(sheets: readonly CardSheet[]): Section[] {
  const cautions = [...new Set(sheets.flatMap((sheet) => sheet.cautions))];
  return cautions.length === 0 ? [] : [{ title: "Take care", blocks: [bullets(cautions)] }];
}
