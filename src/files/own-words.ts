/**
 * What a grower may write in words of their own: dates in place of days, and measures that they have named. Both are
 * turned into days and litres before the schemas read a file; places in messages stay those of the file.
 */
import { dayOfDate, isoDate, looksLikeDate, parseDate } from "../calendar.ts";
import type { OwnMeasure } from "../model.ts";
import { parseNumber } from "../numerals.ts";
import { isKnownUnit } from "../units.ts";
import type { Cursor } from "./context.ts";
import { strangeYear } from "./faults.ts";
import { quantity } from "./schema/values.ts";
import { isRecord, replaced } from "./source.ts";

/** The date of planting, `2027-05-20`; undefined where there is none or it is no date (reported). */
export function readPlanted(plan: Cursor): string | undefined {
  const at = plan.at("planted");
  const written = at.written();
  if (written === undefined) return undefined;
  if (isRecord(written) || at.isList) return at.complainOfType("the date of planting");
  const date = typeof written === "string" ? parseDate(written) : null;
  if (date === null || date.year === null)
    return at.complain({
      code: "date-unreadable",
      given: String(written),
      wrong: "is not a date with its year",
      hint: "write the day of planting, for instance `planted: 2027-05-20`",
    });
  at.complain(strangeYear(date.year, String(written)));
  return isoDate(date);
}

const itemsOf = (list: Cursor): Cursor[] => (list.isList ? list.each : []);

/** Where days are in a plan: every `day` and `until` of a list, the first harvest, days of check. */
function daysOf(plan: Cursor): Cursor[] {
  return [
    ...itemsOf(plan.at("applications")).map((one) => one.at("day")),
    ...itemsOf(plan.at("credits")).flatMap((one) => [one.at("day"), one.at("until")]),
    plan.at("harvest", "first"),
    ...itemsOf(plan.at("check_days")),
  ];
}

const withoutDay = (text: string): string => text.replace(/^day\s+/i, "");

/** A text that looks like a date, as a day from planting; undefined where it is no date (reported). */
export function dayOf(at: Cursor, text: string, planted: string, of: "key" | "value" = "value") {
  const given = withoutDay(text);
  const date = parseDate(given);
  if (date !== null) return dayOfDate(date, planted);
  const hint = "write `2027-06-03` or `June 3`";
  return at.complain({ code: "date-unreadable", at: of, given, wrong: "is not a date", hint });
}

/** Whether what is written is a date, right or wrong. */
export const isDate = (value: unknown): value is string =>
  typeof value === "string" && looksLikeDate(withoutDay(value));

/** The plan with its dates turned into days from planting. */
export function withDates(plan: Cursor, planted: string | undefined): Cursor {
  let { root } = plan.tree;
  const dayAt = (at: Cursor, text: string, of: "key" | "value"): number => {
    if (planted !== undefined || parseDate(withoutDay(text)) === null)
      return dayOf(at, text, planted ?? "", of) ?? 1;
    // A date of planting that is there and broken is complained of already.
    if (!plan.has("planted"))
      at.complain({
        code: "date-unreadable",
        at: of,
        given: withoutDay(text),
        wrong: "is a date, and the plan does not say when the crop is planted",
        hint: "add `planted: 2027-05-20`, or count days from planting",
      });
    return 1;
  };
  for (const at of daysOf(plan)) {
    const value = at.written();
    if (isDate(value)) root = replaced(root, at.path, dayAt(at, value, "value"));
  }
  const soil = plan.at("soil_temperature");
  const byDay = soil.written();
  if (isRecord(byDay) && Object.keys(byDay).some(isDate)) {
    const entries = Object.entries(byDay).map(([key, value]): [string, unknown] => [
      isDate(key) ? String(dayAt(soil.at(key), key, "key")) : key,
      value,
    ]);
    root = replaced(root, soil.path, Object.fromEntries(entries));
  }
  return plan.saying(root);
}

/** `scoops: {barrow: 6 cu ft}`: the grower's own measures, largest first. */
export function readScoops(file: Cursor): OwnMeasure[] {
  const scoops = file.at("scoops");
  const measures: OwnMeasure[] = [];
  for (const name of scoops.keys("a map such as `{barrow: 6 cu ft, scoop: 1 quart}`")) {
    const at = scoops.at(name);
    if (name === "notes" || name === "source") continue;
    if (!/^\p{L}[\p{L} -]*$/u.test(name) || isKnownUnit(name)) {
      at.complainOfKey({
        code: "id-malformed",
        wrong: isKnownUnit(name) ? `\`${name}\` is a unit already` : `\`${name}\` is no name for a measure`,
        hint: "give it a name of your own in letters, such as `scoop`, `barrow` or `blue bucket`",
      });
      continue;
    }
    const litres = at.read(quantity("volume", { positive: true }, "a volume such as `6 cu ft`"));
    if (litres !== undefined) measures.push({ name, litres });
  }
  return measures.sort((a, b) => b.litres - a.litres || (a.name < b.name ? -1 : 1));
}

function amountsOf(file: Cursor): Cursor[] {
  const mix = file.written("mix");
  return [
    file.at("batch"),
    file.at("batch", "size"),
    file.at("batch", "volume"),
    file.at("spread", "per_plant"),
    ...itemsOf(file.at("credits")).map((one) => one.at("spread")),
    ...(isRecord(mix) ? Object.keys(mix).map((id) => file.at("mix", id)) : []),
  ];
}

/** The file with amounts in the grower's own measures turned into litres. */
export function withScoops(file: Cursor, measures: readonly OwnMeasure[]): Cursor {
  let { root } = file.tree;
  for (const at of measures.length === 0 ? [] : amountsOf(file)) {
    const value = at.written();
    const litres = typeof value === "string" ? litresOf(value, measures) : undefined;
    if (litres === undefined) continue;
    // A batch of so many barrows is a volume, whichever of its two keys it was written under.
    if (at.path[0] === "batch")
      root = replaced(root, ["batch"], replaced(undefined, ["volume"], `${litres} L`));
    else root = replaced(root, at.path, `${litres} L`);
  }
  return file.saying(root);
}

function litresOf(text: string, measures: readonly OwnMeasure[]): number | undefined {
  const words = text.trim().toLowerCase();
  for (const { name, litres } of measures) {
    const low = name.toLowerCase();
    const ending = [low, `${low}s`, `${low}es`].find((form) => words.endsWith(form));
    if (ending === undefined) continue;
    const count = words.slice(0, -ending.length).trim();
    const number = ["", "a", "one"].includes(count) ? 1 : parseNumber(count);
    if (number !== undefined) return number * litres;
  }
  return undefined;
}
