/**
 * Dates of the calendar as people write them, and days between them. The Gregorian calendar throughout; no clock, no
 * time zone: a date is a day.
 */

const MONTHS = [
  "january",
  "february",
  "march",
  "april",
  "may",
  "june",
  "july",
  "august",
  "september",
  "october",
  "november",
  "december",
] as const;

/** A date without a year lies between so many days before planting and ten months after. */
const BEFORE_PLANTING = 60;

/** A date as written: the year may be left out. */
export interface WrittenDate {
  readonly year: number | null;
  /** 1 to 12. */
  readonly month: number;
  /** Of the month, from 1. */
  readonly day: number;
}

/** Whether a text is meant as a date, right or wrong: it has a month's name, or three numbers parted by `-` or `/`. */
export function looksLikeDate(text: string): boolean {
  const shown = text.trim();
  if (
    /^\d{1,4}[-/.]\d{1,2}([-/.]\d{1,4})?$/.test(shown) &&
    !/^\d+\.\d+$/.test(shown) &&
    !/^\d+\/\d+$/.test(shown)
  )
    return true;
  return wordsOf(shown).some((word) => monthOf(word) !== null);
}

const wordsOf = (text: string): string[] => text.split(/[\s,.]+/).filter((word) => word !== "");

function monthOf(word: string): number | null {
  const low = word.toLowerCase();
  if (low.length < 3) return null;
  const found = MONTHS.findIndex(
    (month) => month.startsWith(low) || (month === "september" && low === "sept"),
  );
  return found < 0 ? null : found + 1;
}

/** Reads `2027-06-03`, `June 3`, `3 Jun`, `Jun 3, 2027`; null where it is not such a date or there is no such day. */
export function parseDate(text: string): WrittenDate | null {
  const iso = /^(\d{4})-(\d{1,2})-(\d{1,2})$/.exec(text.trim());
  if (iso) return realDate(Number(iso[1]), Number(iso[2]), Number(iso[3]));
  const words = wordsOf(text);
  const at = words.findIndex((word) => monthOf(word) !== null);
  if (at < 0 || words.length < 2 || words.length > 3) return null;
  const month = monthOf(words[at]!)!;
  const numbers = words
    .filter((_, i) => i !== at)
    .map((word) => word.replace(/^(\d{1,2})(st|nd|rd|th)$/i, "$1"));
  if (!numbers.every((word) => /^\d{1,4}$/.test(word))) return null;
  const [first, second] = numbers;
  if (first!.length > 2 || (second !== undefined && second.length !== 4)) return null;
  return realDate(second === undefined ? null : Number(second), month, Number(first));
}

/** The date, where there is such a day; February has a 29th where no year is given. */
function realDate(year: number | null, month: number, day: number): WrittenDate | null {
  const real = dateOfNumber(dayNumber(year ?? 2024, month, day));
  return real.month === month && real.day === day ? { year, month, day } : null;
}

const DAY_MS = 86_400_000;

/** Days from the first of January 1970, the day that JavaScript counts from. */
function dayNumber(year: number, month: number, day: number): number {
  return new Date(0).setUTCFullYear(year, month - 1, day) / DAY_MS;
}

function dateOfNumber(number: number) {
  const date = new Date(number * DAY_MS);
  return { year: date.getUTCFullYear(), month: date.getUTCMonth() + 1, day: date.getUTCDate() };
}

/**
 * The day counted from planting of a date.
 * @param planted `2027-05-20`.
 */
export function dayOfDate(date: WrittenDate, planted: string): number {
  const start = parseDate(planted)!;
  const from = dayNumber(start.year!, start.month, start.day);
  if (date.year !== null) return dayNumber(date.year, date.month, date.day) - from;
  const years = [start.year! - 1, start.year!, start.year! + 1];
  const days = years.map((year) => dayNumber(year, date.month, date.day) - from);
  return days.find((day) => day >= -BEFORE_PLANTING)!;
}

/** A date as `2027-05-20`. */
export function isoDate({ year, month, day }: WrittenDate): string {
  const digits = (value: number | null, count: number) => String(value).padStart(count, "0");
  return `${digits(year, 4)}-${digits(month, 2)}-${digits(day, 2)}`;
}

/** The date of a day counted from planting; of a part of a day, the day it belongs to. */
function dateOn(day: number, planted: string) {
  const start = parseDate(planted)!;
  return dateOfNumber(dayNumber(start.year!, start.month, start.day) + Math.floor(day));
}

/** The date of a day counted from planting, `2027-06-10`; of a part of a day, the day it belongs to. */
export function dateOfDay(day: number, planted: string): string {
  return isoDate(dateOn(day, planted));
}

/** The same for reading: `Jun 10`, and `Jan 5, 2028` in another year than that of planting. */
export function shortDate(day: number, planted: string): string {
  const date = dateOn(day, planted);
  const name = MONTHS[date.month - 1]!.slice(0, 3);
  const year = date.year === parseDate(planted)!.year ? "" : `, ${date.year}`;
  return `${name[0]!.toUpperCase()}${name.slice(1)} ${date.day}${year}`;
}
