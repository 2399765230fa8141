/** The record of a season as a report: spreadings, sums, purchases, and what is missing. */
import type { RecordPurchase, RecordResult, RecordRow } from "../results/record.ts";
import { fromSi } from "../units.ts";
import { area, csvWeight, decimal, money, weight } from "../words/numbers.ts";
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

/** What a row of either table has. */
type Either =
  | { readonly what: "spread"; readonly row: RecordRow }
  | { readonly what: "bought"; readonly row: RecordPurchase };

/** The report of a season's record. */
export function recordReport(record: RecordResult, extent: Extent): Report {
  const { units, currency, rows, purchases, sums, missing } = record;
  const { unit, of } = csvWeight(units);
  const weighed = <T extends { readonly kg: number }>(): ColumnOf<T> =>
    figures(
      "Weight",
      `weight_${unit}`,
      ({ kg }) => of(kg),
      (_, { kg }) => weight(kg, units),
    );
  const whole = extent === "whole";
  /** A column for which a screen has no room. */
  const more = <T>(...columns: readonly ColumnOf<T>[]) => (whole ? columns : []);
  const beds = new Set(rows.map(({ bed }) => bed)).size;
  return {
    title: `Record of ${record.season}, planted ${record.planted}`,
    summary: [paragraph(RULE)],
    sections: [
      ...section(
        "Spread",
        table(rows, [
          words("Date", "date", (row) => row.date),
          words("Bed", "bed", (row) => (whole || beds > 1 ? row.bed : null)),
          ...more<RecordRow>(
            words("Area", "area", (row) => (row.areaM2 === null ? null : area(row.areaM2, units))),
            words("Crop", "crop", (row) => row.crop),
          ),
          words("Material", "material", (row) => row.material),
          ...more<RecordRow>(words("Brand", "brand", (row) => row.brand)),
          words("Lot", "lot", (row) => row.lot),
          ...more<RecordRow>(words("Supplier", "supplier", (row) => row.supplier)),
          weighed(),
          ...more<RecordRow>(
            words("Rate", "rate", (row) => (row.kgPerM2 === null ? null : rateText(row.kgPerM2, units))),
          ),
          words("Method", "method", (row) => row.method),
          words("By", "who", (row) => row.who),
          ...more<RecordRow>(
            words("Address", "address", (row) => row.address),
            words("Organic", "organic", (row) => row.organic),
            words("Note", "note", (row) => row.note),
          ),
        ]),
      ),
      ...section(
        "Sums for each bed and year",
        table(sums, [
          words("Bed", "bed", (one) => one.bed),
          words("Year", "year", (one) => one.year),
          words("Material", "material", (one) => one.material),
          weighed(),
        ]),
      ),
      ...section(
        "Bought",
        table(purchases, [
          words("Date", "date", (one) => one.date),
          words("Material", "material", (one) => one.material),
          ...more<RecordPurchase>(words("Brand", "brand", (one) => one.brand)),
          words("Lot", "lot", (one) => one.lot),
          words("Supplier", "supplier", (one) => one.supplier),
          words("Packs", "packs", ({ packs }) =>
            packs === null ? null : `${packs.count} x ${weight(packs.sizeKg, units)}`,
          ),
          weighed(),
          figures(
            "Paid",
            "paid",
            (one) => one.paid,
            (paid) => money(paid, currency),
          ),
          ...more<RecordPurchase>(
            words("Organic", "organic", (one) => one.organic),
            words("Note", "note", (one) => one.note),
          ),
        ]),
      ),
      ...section(
        "Missing in this record",
        missing.length === 0 ? paragraph("Nothing that is asked for above is missing.") : bullets(missing),
      ),
    ],
    ...(whole
      ? {}
      : {
          closing: [
            paragraph(
              "With --all, --format html, md or csv also: area, crop, supplier, rate, address, notes.",
              "faint",
            ),
          ],
        }),
    csv: csvOf(record),
  };
}

const per = (units: RecordResult["units"]) => (units === "us" ? "lb/1000 sq ft" : "kg/ha");

function rateText(kgPerM2: number, units: RecordResult["units"]): string {
  const shown = decimal(fromSi(kgPerM2, per(units)), units === "us" ? 2 : 0);
  return units === "us" ? `${shown} lb per 1000 sq ft` : `${shown} kg/ha`;
}

/** Spreadings, then purchases, under one head. */
function csvOf({ units, rows, purchases, currency }: RecordResult) {
  const all: Either[] = [
    ...rows.map((row) => ({ what: "spread", row }) as const),
    ...purchases.map((row) => ({ what: "bought", row }) as const),
  ];
  const spread = (get: (row: RecordRow) => string | null) => (one: Either) =>
    one.what === "spread" ? get(one.row) : null;
  const number = (get: (row: RecordRow) => number | null) => (one: Either) =>
    one.what === "spread" ? get(one.row) : null;
  const rate = (kg: number | null) => (kg === null ? null : fromSi(kg, per(units)));
  const weights = csvWeight(units);
  const areaUnit = units === "us" ? "sq ft" : "m2";
  return fullTableOf(all, [
    words("What", "what", ({ what }) => what),
    words("Date", "date", ({ row }) => row.date),
    words(
      "Bed",
      "bed",
      spread(({ bed }) => bed),
    ),
    figures(
      "Area",
      units === "us" ? "area_sq_ft" : "area_m2",
      number(({ areaM2 }) => (areaM2 === null ? null : fromSi(areaM2, areaUnit))),
    ),
    words(
      "Crop",
      "crop",
      spread(({ crop }) => crop),
    ),
    words("Id", "id", ({ row }) => row.id),
    words("Material", "material", ({ row }) => row.material),
    words("Brand", "brand", ({ row }) => row.brand),
    words("Lot", "lot", ({ row }) => row.lot),
    words("Supplier", "supplier", ({ row }) => row.supplier),
    figures("Weight", `weight_${weights.unit}`, ({ row }) => weights.of(row.kg)),
    figures(
      "Rate",
      units === "us" ? "rate_lb_per_1000_sq_ft" : "rate_kg_per_ha",
      number(({ kgPerM2 }) => rate(kgPerM2)),
    ),
    words(
      "Method",
      "method",
      spread(({ method }) => method),
    ),
    words(
      "Who",
      "who",
      spread(({ who }) => who),
    ),
    words(
      "Address",
      "address",
      spread(({ address }) => address),
    ),
    words("Organic", "organic", ({ row }) => row.organic),
    words("Note", "note", ({ row }) => row.note),
    figures("Paid", `paid_${currency.toLowerCase()}`, (one) => (one.what === "bought" ? one.row.paid : null)),
    figures("Line", "line", ({ row }) => row.line),
  ]);
}
