/** The record of a season as a report: spreadings, sums, purchases, and what is missing. */
import type { RecordResult, RecordRow } from "../results/record.ts";
import { fromSi } from "../units.ts";
import { area, bagWeight, csvWeight, decimal, money, weight } from "../words/numbers.ts";
import {
  bullets,
  type ColumnOf,
  type Extent,
  figures,
  fullTableOf,
  paragraph,
  type Report,
  section,
  table,
  words,
} from "./report.ts";

const RULE =
  "Records of what was applied, by whom, when, how much and by what method are asked for by 7 U.S.C. 6519(a)(2) of certified farms in the United States; keep them 5 years. This page repeats what the season file says and judges nothing: whether a material, a rate or a record is in order is for your certifier to decide.";

/** What a row says in words. */
type Text = {
  [K in keyof RecordRow]: RecordRow[K] extends string | null ? K : never;
}[keyof RecordRow];

/** The tables of a page in which a column is shown where there is little room. */
type Shown = "both" | RecordRow["what"] | "neither";

/** The columns of both tables and of the CSV, where spreadings and purchases are under one head. */
function columnsOf({
  units,
  currency,
  rows,
}: RecordResult): readonly (readonly [Shown, ColumnOf<RecordRow>])[] {
  const us = units === "us";
  const weights = csvWeight(units);
  const per = us ? "lb/1000 sq ft" : "kg/ha";
  const severalBeds = new Set(rows.map(({ bed }) => bed)).size > 1;
  const said = (head: string, key: Text): ColumnOf<RecordRow> => words(head, key, (row) => row[key]);
  const convert = (value: number | null, unit: string) => (value === null ? null : fromSi(value, unit));
  return [
    ["both", said("Date", "date")],
    [severalBeds ? "both" : "neither", said("Bed", "bed")],
    [
      "neither",
      figures(
        "Area",
        us ? "area_sq_ft" : "area_m2",
        ({ areaM2 }) => convert(areaM2, us ? "sq ft" : "m2"),
        (_, { areaM2 }) => area(areaM2!, units),
      ),
    ],
    ["neither", said("Crop", "crop")],
    ["both", said("Material", "material")],
    ["neither", said("Brand", "brand")],
    ["both", said("Lot", "lot")],
    ["bought", said("Supplier", "supplier")],
    [
      "bought",
      words("Packs", "packs", ({ packs }) =>
        packs === null ? null : `${packs.count} x ${bagWeight(packs.sizeKg, units)}`,
      ),
    ],
    [
      "both",
      figures(
        "Weight",
        `weight_${weights.unit}`,
        ({ kg }) => weights.of(kg),
        (_, { kg }) => weight(kg, units),
      ),
    ],
    [
      "neither",
      figures(
        "Rate",
        us ? "rate_lb_per_1000_sq_ft" : "rate_kg_per_ha",
        ({ kgPerM2 }) => convert(kgPerM2, per),
        (rate) => `${decimal(rate, us ? 2 : 0)} ${us ? "lb per 1000 sq ft" : per}`,
      ),
    ],
    ["both", said("Method", "method")],
    ["both", said("By", "who")],
    ["neither", said("Address", "address")],
    ["neither", said("Organic", "organic")],
    [
      "both",
      figures(
        "Paid",
        `paid_${currency.toLowerCase()}`,
        ({ paid }) => paid,
        (paid) => money(paid, currency),
      ),
    ],
    ["neither", said("Note", "note")],
  ];
}

/** The report of a season's record. */
export function recordReport(record: RecordResult, extent: Extent): Report {
  const { units, rows, purchases, sums, others, missing } = record;
  const columns = columnsOf(record);
  const whole = extent === "whole";
  const shown = (what: RecordRow["what"]) =>
    columns.flatMap(([where, column]) => (whole || where === "both" || where === what ? [column] : []));
  return {
    title: `Record of ${record.season}, planted ${record.planted}`,
    summary: [paragraph(RULE)],
    sections: [
      ...section("Spread", table(rows, shown("spread"))),
      ...section(
        "Sums for each bed and year",
        table(sums, [
          words("Bed", "bed", ({ bed }) => bed),
          words("Year", "year", ({ year }) => year),
          words("Material", "material", ({ material }) => material),
          figures(
            "Weight",
            "weight",
            ({ kg }) => kg,
            (kg) => weight(kg, units),
          ),
        ]),
      ),
      ...section("Bought", table(purchases, shown("bought"))),
      ...section(
        "Also in the log",
        bullets(
          others.map(({ text, void: taken }) => (taken === null ? text : `${text} - TAKEN BACK: ${taken}`)),
        ),
      ),
      ...section(
        "Missing in this record",
        missing.length === 0 ? paragraph("Nothing that is asked for above is missing.") : bullets(missing),
      ),
    ],
    closing: whole
      ? []
      : [
          paragraph(
            "With --all, --format html, md or csv also: area, crop, supplier, rate, address, notes.",
            "faint",
          ),
        ],
    csv: fullTableOf(
      [...rows, ...purchases],
      [
        words("What", "what", ({ what }) => what),
        ...columns.map(([, column]) => column),
        words("Id", "id", ({ id }) => id),
        figures("Line", "line", ({ line }) => line),
      ],
    ),
  };
}
