import { describe, expect, it } from "vitest";
import { weakest } from "../../src/report/sure-sections.ts";
import type { NeedSureness } from "../../src/results/sure.ts";

const need = (day: number, p: number, pChecked: number | null = null): NeedSureness => ({
  nutrient: "Ca",
  day,
  needKg: 1,
  expectKg: 1,
  oneInTenKg: 0.9,
  p,
  pChecked,
});
const dayOf = (...needs: NeedSureness[]) => weakest(needs).map(({ day }) => day);

describe("the need of a nutrient that is met least often", () => {
  it("is the season's end where an earlier day is as sure but for rounding", () => {
    expect(dayOf(need(70, 0.49999999999363665), need(134, 0.49999999999467654))).toEqual([134]);
  });

  it("is the earlier day where that is really less sure", () => {
    expect(dayOf(need(70, 0.49), need(134, 0.5))).toEqual([70]);
  });

  it("goes by the chance that was worked out again", () => {
    expect(dayOf(need(70, 0.6, 0.4), need(134, 0.5, 0.5))).toEqual([70]);
  });
});
