/** `record`: the log of a season as a table of spreadings and one of purchases, and what is missing in them. */
import { dateOfDay } from "../calendar.ts";
import {
  type BoughtLine,
  type LogLine,
  materialsOf,
  type SeasonFile,
  type SpreadLine,
} from "../files/season-model.ts";
import { wholeBed } from "../model.ts";
import type { RecordResult, RecordRow } from "../results/record.ts";
import { listed } from "../words/numbers.ts";

const isBought = (line: LogLine): line is BoughtLine => line.kind === "bought";
const isSpread = (line: LogLine): line is SpreadLine => line.kind === "spread";

/** The record of a season; nothing in it is guessed. */
export function recordOf(season: SeasonFile): RecordResult {
  const purchases = season.log.filter(isBought).map((line) => purchaseOf(season, line));
  const rows = season.log.filter(isSpread).flatMap((line) => rowsOf(season, line));
  return {
    schema: "barrowmix.record/1",
    season: season.file,
    planted: season.planted,
    currency: season.currency,
    units: season.units,
    rows,
    sums: sumsOf(rows),
    purchases,
    others: othersIn(season),
    missing: missingIn(rows, purchases),
  };
}

/** Rain, tests, what was weighed or kept, and lines that were taken back, by day. */
function othersIn({ log, voided, planted }: SeasonFile): RecordResult["others"] {
  const counted = log.filter((line) => !isBought(line) && !isSpread(line));
  return [
    ...counted.map((line) => ({ ...line, void: null })),
    ...voided.map((line) => ({ ...line, void: line.because ?? "no reason is given" })),
  ]
    .sort((a, b) => a.day - b.day || a.number - b.number)
    .map(({ day, text, line, void: taken }) => ({ date: dateOfDay(day, planted), text, void: taken, line }));
}

/** A row of what a line says of a material; the rest of it empty. */
function rowOf(season: SeasonFile, line: LogLine, id: string, kg: number): RecordRow {
  const { name, brand = null, organic } = season.materials.find((one) => one.id === id)!;
  return {
    what: "bought",
    date: dateOfDay(line.day, season.planted),
    bed: null,
    areaM2: null,
    crop: null,
    id,
    material: name,
    brand,
    lot: null,
    supplier: null,
    packs: null,
    kg,
    kgPerM2: null,
    method: null,
    who: null,
    address: null,
    organic,
    paid: null,
    note: line.note ?? null,
    line: line.line,
  };
}

function purchaseOf(season: SeasonFile, line: BoughtLine): RecordRow {
  const { lot = null, supplier = null, packs = null, paid = null } = line;
  return { ...rowOf(season, line, line.id, line.kg), lot, supplier, packs, paid };
}

function rowsOf(season: SeasonFile, line: SpreadLine): RecordRow[] {
  const person = line.who === undefined ? undefined : season.people[line.who];
  return line.beds.flatMap((got) => {
    const plan = season.beds.find(({ name }) => name === got.bed)!;
    const areaM2 = wholeBed(plan.bed).areaM2 ?? null;
    return Object.entries(materialsOf(got.gives, season.mixes)).map(
      ([id, kg]): RecordRow => ({
        ...rowOf(season, line, id, kg),
        what: "spread",
        bed: got.bed,
        areaM2,
        crop: plan.targetName,
        ...bagOf(season, line, id),
        kgPerM2: areaM2 === null ? null : kg / areaM2,
        method: got.placement ?? null,
        who: person?.name ?? line.who ?? null,
        address: person?.address ?? null,
      }),
    );
  });
}

/**
 * The lot and the supplier of what was spread: as the line says, or those of every bag that there was by then. Where there
 * were several, or some was in the shed from before, the line must say it.
 */
function bagOf(
  season: SeasonFile,
  { day, lots }: SpreadLine,
  id: string,
): Pick<RecordRow, "lot" | "supplier"> {
  const bags = season.log.filter(isBought).filter((bought) => bought.id === id && bought.day <= day);
  const fromBefore = (season.shed[id] ?? 0) > 0;
  const only = (of: (bag: BoughtLine) => string | undefined, among: readonly BoughtLine[]): string | null => {
    const [first, other] = [...new Set(among.map(of))];
    return other === undefined ? (first ?? null) : null;
  };
  const lot = Object.hasOwn(lots, id) ? lots[id]! : fromBefore ? null : only((bag) => bag.lot, bags);
  const ofLot = lot === null ? [] : bags.filter((bag) => bag.lot === lot);
  const among = ofLot.length > 0 ? ofLot : fromBefore ? [] : bags;
  return { lot, supplier: only((bag) => bag.supplier, among) };
}

function sumsOf(rows: readonly RecordRow[]): RecordResult["sums"] {
  const sums = new Map<string, RecordResult["sums"][number]>();
  for (const { bed, date, id, material, kg } of rows) {
    const year = date.slice(0, 4);
    const key = JSON.stringify([bed, year, id]);
    sums.set(key, { bed: bed!, year, id, material, kg: (sums.get(key)?.kg ?? 0) + kg });
  }
  return [...sums.values()];
}

/** What an inspector asks for, with the days on which it is missing. */
function missingIn(rows: readonly RecordRow[], purchases: readonly RecordRow[]): string[] {
  const daysOf = (some: readonly RecordRow[]): string =>
    listed([...new Set(some.map(({ date, line }) => `${date} (line ${line} of the file)`))]);
  const onDays = (what: string, some: readonly RecordRow[]): string[] =>
    some.length === 0 ? [] : [`${what}: ${daysOf(some)}.`];
  const without = (key: "who" | "method" | "lot" | "supplier"): RecordRow[] =>
    rows.filter((row) => row[key] === null);
  /** Materials that lack it on the same days are named together. */
  const ofMaterials = (what: string, key: "lot" | "supplier"): string[] => {
    const names = new Map<string, string[]>();
    for (const material of new Set(without(key).map((row) => row.material))) {
      const days = daysOf(without(key).filter((row) => row.material === material));
      names.set(days, [...(names.get(days) ?? []), material]);
    }
    return [...names].map(([days, some]) => `${what} of ${listed(some)}, spread: ${days}.`);
  };
  const names = (some: readonly (string | null)[]): string[] =>
    [...new Set(some)].filter((one) => one !== null);
  return [
    ...onDays("Who spread it is not said", without("who")),
    ...names(rows.map(({ who, address }) => (address === null ? who : null))).map(
      (who) => `The address of ${who} is not said: put it under \`people\`.`,
    ),
    ...onDays("How it was placed is not said", without("method")),
    ...ofMaterials("The lot", "lot"),
    ...ofMaterials("The supplier", "supplier"),
    ...names(rows.map(({ areaM2, bed }) => (areaM2 === null ? bed : null))).map(
      (bed) => `The area of ${bed} is not said: put it under \`bed\` of the plan.`,
    ),
    ...onDays(
      "What was paid is not said, bought",
      purchases.filter(({ paid }) => paid === null),
    ),
  ];
}
