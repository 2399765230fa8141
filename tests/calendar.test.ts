import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { dateOfDay, dayOfDate, isoDate, looksLikeDate, parseDate, shortDate } from "../src/calendar.ts";

const DAY_MS = 86_400_000;
/** The same from JavaScript's own calendar. */
const dateBySystem = (day: number, planted: string) =>
  new Date(Date.parse(`${planted}T00:00:00Z`) + day * DAY_MS).toISOString().slice(0, 10);

describe("dates", () => {
  it("are read as people write them", () => {
    const read = (text: string) => {
      const date = parseDate(text);
      return date && isoDate(date);
    };
    expect(["2027-06-03", "June 3, 2027", "Jun 3 2027", "3 June 2027", "3rd june 2027"].map(read)).toEqual(
      Array.from({ length: 5 }, () => "2027-06-03"),
    );
    expect(parseDate("June 3")).toEqual({ year: null, month: 6, day: 3 });
    expect(parseDate("Sept 9")).toEqual({ year: null, month: 9, day: 9 });
    expect(parseDate("Feb 29")).toEqual({ year: null, month: 2, day: 29 });
  });

  it("are refused where there is no such day, or no telling which is meant", () => {
    for (const text of [
      "2027-02-29",
      "June 31",
      "6/3",
      "6/3/2027",
      "June",
      "2027-6",
      "Juny 3",
      "3",
      "June 3 27",
    ])
      expect(parseDate(text), text).toBeNull();
    expect(looksLikeDate("6/3/2027")).toBe(true);
    expect(looksLikeDate("Juni 3")).toBe(false);
    for (const text of ["14", "2 weeks", "1/2", "21 days", "1.5", "-14"])
      expect(looksLikeDate(text), text).toBe(false);
  });

  it("agree with the calendar of the system, there and back", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1900, max: 2200 }),
        fc.integer({ min: 0, max: 365 }),
        fc.integer({ min: -3650, max: 3650 }),
        (year, offset, day) => {
          const planted = dateBySystem(offset, `${year}-01-01`);
          const date = dateOfDay(day, planted);
          expect(date).toBe(dateBySystem(day, planted));
          expect(dayOfDate(parseDate(date)!, planted)).toBe(day);
        },
      ),
      { seed: 20261125 },
    );
  });

  it("have a leap day every fourth year, but for centuries that are no multiple of 400", () => {
    const years = ["2024", "2027", "2000", "1900", "2100"];
    expect(years.filter((year) => parseDate(`${year}-02-29`) !== null)).toEqual(["2024", "2000"]);
    expect(dateOfDay(286, "2027-05-20")).toBe("2028-03-01");
  });

  it("without a year lie from two months before planting to ten months after", () => {
    const on = (text: string, planted: string) => dayOfDate(parseDate(text)!, planted);
    expect(on("June 3", "2027-05-20")).toBe(14);
    expect(on("May 6", "2027-05-20")).toBe(-14);
    // Garlic: planted in October, side-dressed in spring.
    expect(on("April 1", "2026-10-15")).toBe(168);
    expect(on("Jan 5", "2027-11-01")).toBe(65);
  });

  it("are shown short, with the year where it is another than that of planting", () => {
    expect(shortDate(21, "2027-05-20")).toBe("Jun 10");
    expect(shortDate(65, "2027-11-01")).toBe("Jan 5, 2028");
    expect(shortDate(0.5, "2027-05-20")).toBe("May 20");
  });

  it("keep four digits of a year, and go on after the last year that has four", () => {
    const early = isoDate(parseDate("May 20, 0950")!);
    expect(early).toBe("0950-05-20");
    expect(shortDate(21, early)).toBe("Jun 10");
    expect(shortDate(21, "9999-12-20")).toBe("Jan 10, 10000");
  });
});
