/** What can be wrong both in a plan's files and in a plan read back from JSON. */
import type { FileFault, ProblemCode } from "./codes.ts";

/** A fault whose place whoever finds it knows. */
type Unplaced = Omit<FileFault, "path" | "at">;

/** Shares that add up to a whole may miss it by what rounding does. */
export const TOLERANCE = 1e-6;

const fault = (code: ProblemCode, wrong: string, hint: string): Unplaced => ({ code, wrong, hint });

/** What is wrong with shares that add to something else than the whole. */
export const sharesMiss = (sum: number): Unplaced | false =>
  Math.abs(sum - 1) > TOLERANCE &&
  fault("shares-sum", `the shares add to ${Number((sum * 100).toPrecision(8))}%`, "they must add to 100%");

/** What is wrong with a day by which the crop takes nothing up any more. */
export const notInSeason = (day: number, season: number, hint: string): Unplaced | false =>
  day >= season && fault("day-outside", `day ${day} is not before the season's end on day ${season}`, hint);

/** What is wrong with a day of check before anything is spread, or when all is over. */
export function notBetween(day: number, first: number, season: number): Unplaced | false {
  const wrong = `day ${day} is not between the first application and the season's end`;
  const before = season === Infinity ? "" : ` and before day ${season}`;
  return (
    (day <= first || day >= season) && fault("day-outside", wrong, `give a day after day ${first}${before}`)
  );
}

/** No crop takes longer than this from planting to the end of uptake: ten years, as for days. */
const LONGEST_SEASON = 3650;

/** What is wrong with a season that no crop has. */
export function seasonTooLong(days: number): Unplaced | false {
  const hint = "write the days from planting to the end of uptake, for instance `120 days`";
  const wrong = "a season of more than ten years is no season of a crop";
  return days > LONGEST_SEASON && fault("number-range", wrong, hint);
}

/** What is wrong with a first harvest before anything grows. */
export function harvestTooEarly(day: number): Unplaced | false {
  const hint = "count the day of the first harvest from planting, for instance `75`";
  return day <= 0 && fault("day-outside", `day ${day} is not after planting`, hint);
}

/** What is wrong with the year of a planting. */
export const strangeYear = (year: number, given: string): Unplaced | false =>
  (year < 1900 || year > 2200) && {
    code: "date-unreadable",
    given,
    wrong: "is not in any year that a plan is for",
    hint: "write the day of planting, for instance `2027-05-20`",
  };

/** What is wrong with a batch that is less than the scale shows. */
export function batchTooSmall(batchKg: number, scaleKg: number, scale: string): Unplaced | false {
  const hint = `make it at least ${scale}, or give a finer \`scale\``;
  return (
    batchKg < scaleKg && fault("number-range", "a batch of this size rounds to nothing on the scale", hint)
  );
}

/** What is wrong with a limit whose least, by the keys of both, is above its most. */
export const crossedLimit = <K extends string>(
  id: string,
  limit: Readonly<Partial<Record<K, number>>>,
  least: K,
  most: K,
): Unplaced | false =>
  (limit[least] ?? 0) > (limit[most] ?? Infinity) && {
    code: "limit-conflict",
    given: least,
    wrong: `of \`${id}\` is above its \`${most}\``,
    hint: "the least is at most the most",
  };

/** What is wrong with a most that is below its least, by what they are called. */
export const crossed = (most: string, least = "its `min`"): Unplaced =>
  fault("range-crossed", `${most} is below ${least}`, "the most is at least the least");
