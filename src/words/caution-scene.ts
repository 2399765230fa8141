/** What cautions are found in and how they are put into words: the mix as its plan spreads it, and the pieces of every rule. */
import type { Amounts } from "../field/delivery.ts";
import { CAUTION_THRESHOLDS, type ThresholdCode } from "../files/caution-thresholds.ts";
import type { Amendment, Application, Plan } from "../model.ts";
import type { Season } from "../season/season.ts";
import { fromSi } from "../units.ts";
import { CAUTIONS, type CautionCode } from "./caution-table.ts";
import { namesOf } from "./demand-words.ts";
import { grams, grouped, percent, plainNumber } from "./numbers.ts";

/** A mix as its plan spreads it, and how to speak of it. */
export interface Scene {
  readonly plan: Plan;
  readonly season: Season;
  readonly amounts: Amounts;
  readonly used: readonly Amendment[];
  /** kg of something in all that is spread, by what a kg of each amendment holds of it; of a whole, what is spread. */
  readonly kgOf: (share: (amendment: Amendment) => number) => number;
  /** The rounds in which any of these is spread. */
  readonly rounds: (amendments?: readonly Amendment[]) => readonly Application[];
  /** kg/m2 of so much on the bed; 0 where its area is not known, so that no rate is too high. */
  readonly perM2: (kg: number) => number;
  readonly rate: (kgPerM2: number) => string;
  readonly kg: (value: number) => string;
  /** A day, with its date where the plan has one of planting. */
  readonly day: (value: number) => string;
}

/** A caution before it has its rank and whom it defers to. */
export interface Said {
  readonly code: CautionCode;
  readonly text: string;
  readonly source: string;
}

/** Three significant digits: no rate in the field is known better. */
export function rateWords(kgPerM2: number, units: Plan["units"]): string {
  const unit = units === "us" ? "lb/acre" : "kg/ha";
  return `${grouped(Number(fromSi(kgPerM2, unit).toPrecision(3)))} ${unit}`;
}

export const names = (amendments: readonly Amendment[]): string => namesOf(amendments, 5);

/** A threshold with its unit: `2 lb/acre`, `120 days`, `50.0%`, `15.0 g`. */
export function thresholdWords(value: number, code: ThresholdCode, units: Plan["units"]): string {
  const { dimension } = CAUTION_THRESHOLDS[code];
  if (dimension === "share") return percent(value);
  if (dimension === "time") return `${plainNumber(value)} days`;
  return dimension === "mass" ? grams(value * 1000) : rateWords(value, units);
}

/** The threshold that holds for a plan, in SI. */
export const thresholdOf = (plan: Plan, code: ThresholdCode): number =>
  plan.thresholds?.[code] ?? CAUTION_THRESHOLDS[code].value;

/** Amounts below this part of a threshold's own size are rounding. */
export const SLACK = 1e-9;
export const above = (value: number, limit: number): boolean => value > limit * (1 + SLACK) + SLACK * 1e-6;

/** One caution, of another source than its row in the table says where one is given. */
export const said = (code: CautionCode, text: string, source = CAUTIONS[code].source): Said[] => [
  { code, text, source },
];

/** What is said of a figure above the threshold of its caution; nothing where it is not above. */
export function whereAbove(
  { plan }: Scene,
  code: CautionCode & ThresholdCode,
  figure: number,
  text: (limit: number) => string,
): Said[] {
  const limit = thresholdOf(plan, code);
  return above(figure, limit) ? said(code, text(limit)) : [];
}

/** What is said of amendments where there are any; nothing where there are none. */
export function whereAny(
  amendments: readonly Amendment[],
  code: CautionCode,
  text: (names: string) => string,
): Said[] {
  return amendments.length === 0 ? [] : said(code, text(names(amendments)));
}
