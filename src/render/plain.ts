/** A report whose every text is plain: the renderers start from it (HTML escapes text by text instead), so that no name can forge a line of its output. */
import { plainText } from "../plain-text.ts";
import type { Block, Cell, Chart, Report, Table } from "../report/report.ts";

/** The same report with control characters, marks of direction and unseen signs taken out of its texts. */
export function plainReport(report: Report): Report {
  return {
    title: plainText(report.title),
    sections: report.sections.map(({ title, blocks }) => ({
      title: plainText(title),
      blocks: blocks.map(plainBlock),
    })),
    ...(report.summary ? { summary: report.summary.map(plainBlock) } : {}),
    ...(report.closing ? { closing: report.closing.map(plainBlock) } : {}),
    ...(report.csv ? { csv: plainTable(report.csv) } : {}),
  };
}

function plainBlock(block: Block): Block {
  switch (block.kind) {
    case "text":
      return { ...block, text: plainText(block.text) };
    case "list":
      return { ...block, items: block.items.map(plainText) };
    case "table":
      return { ...block, table: plainTable(block.table) };
    case "chart":
      return { ...block, chart: plainChart(block.chart) };
    case "drawing":
      return { ...block, lines: block.lines.map(plainText) };
  }
}

function plainChart(chart: Chart): Chart {
  const ticks = (axis: Chart["x"]): Chart["x"] => ({
    ...axis,
    ticks: axis.ticks.map(({ at, text }) => ({ at, text: plainText(text) })),
  });
  return {
    ...chart,
    title: plainText(chart.title),
    x: ticks(chart.x),
    y: ticks(chart.y),
    series: chart.series.map((series) => ({ ...series, name: plainText(series.name) })),
  };
}

function plainTable(table: Table): Table {
  const cells = (row: readonly Cell[]) => row.map((cell) => ({ ...cell, text: plainText(cell.text) }));
  return {
    columns: table.columns.map((column) => ({
      ...column,
      head: plainText(column.head),
      csv: plainText(column.csv),
    })),
    rows: table.rows.map(cells),
    ...(table.total ? { total: cells(table.total) } : {}),
  };
}
