/** `record`: the log of a season as a table of spreadings and one of purchases, and what is missing in them. */
import { dateOfDay } from "../calendar.ts";
import {
  type BoughtLine,
  type LogLine,
  materialsOf,
  type SeasonFile,
  type SpreadLine,
} from "../files/season-model.ts";
import type { RecordPurchase, RecordResult, RecordRow } from "../results/record.ts";
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
    missing: missingIn(rows, purchases),
  };
}

const materialOf = (season: SeasonFile, id: string) => season.materials.find((one) => one.id === id)!;

function purchaseOf(season: SeasonFile, line: BoughtLine): RecordPurchase {
  const { name, brand = null, organic } = materialOf(season, line.id);
  const { lot = null, supplier = null, packs = null, paid = null, note = null } = line;
  return {
    date: dateOfDay(line.day, season.planted),
    id: line.id,
    material: name,
    brand,
    lot,
    supplier,
    kg: line.kg,
    packs,
    paid,
    organic,
    note,
    line: line.line,
  };
}

function rowsOf(season: SeasonFile, line: SpreadLine): RecordRow[] {
  const person = line.who === undefined ? undefined : season.people[line.who];
  return line.beds.flatMap((got) => {
    const plan = season.beds.find(({ name }) => name === got.bed)!;
    const areaM2 = plan.bed.areaM2 ?? null;
    return Object.entries(materialsOf(got, season.mixes)).map(([id, kg]): RecordRow => {
      const { name, brand = null, organic } = materialOf(season, id);
      return {
        date: dateOfDay(line.day, season.planted),
        bed: got.bed,
        areaM2,
        crop: plan.targetName,
        id,
        material: name,
        brand,
        ...bagOf(season, line, id),
        kg,
        kgPerM2: areaM2 === null ? null : kg / areaM2,
        method: got.placement ?? null,
        who: person?.name ?? line.who ?? null,
        address: person?.address ?? null,
        organic,
        note: line.note ?? null,
        line: line.line,
      };
    });
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
    sums.set(key, { bed, year, id, material, kg: (sums.get(key)?.kg ?? 0) + kg });
  }
  return [...sums.values()];
}

/** What an inspector asks for, with the days on which it is missing. */
function missingIn(rows: readonly RecordRow[], purchases: readonly RecordPurchase[]): string[] {
  const onDays = (
    what: string,
    missing: readonly { readonly date: string; readonly line: number }[],
  ): string[] => {
    const days = [...new Set(missing.map(({ date, line }) => `${date} (line ${line})`))];
    return days.length === 0 ? [] : [`${what}: ${listed(days)}.`];
  };
  const byMaterial = (what: string, lacks: (row: RecordRow) => boolean): string[] => {
    const names = [...new Set(rows.filter(lacks).map(({ material }) => material))];
    return names.flatMap((name) =>
      onDays(
        `${what} of ${name}, spread`,
        rows.filter((row) => lacks(row) && row.material === name),
      ),
    );
  };
  return [
    ...onDays(
      "Who spread it is not said",
      rows.filter(({ who }) => who === null),
    ),
    ...[...new Set(rows.flatMap(({ who, address }) => (who !== null && address === null ? [who] : [])))].map(
      (who) => `The address of ${who} is not said: put it under \`people\`.`,
    ),
    ...onDays(
      "How it was placed is not said",
      rows.filter(({ method }) => method === null),
    ),
    ...byMaterial("The lot", ({ lot }) => lot === null),
    ...byMaterial("The supplier", ({ supplier }) => supplier === null),
    ...[...new Set(rows.flatMap(({ bed, areaM2 }) => (areaM2 === null ? [bed] : [])))].map(
      (bed) => `The area of ${bed} is not said: put it under \`bed\` of the plan.`,
    ),
    ...onDays(
      "What was paid is not said, bought",
      purchases.filter(({ paid }) => paid === null),
    ),
  ];
}
