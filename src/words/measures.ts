/**
 * Loose volumes as something to scoop: level teaspoons, tablespoons, measuring cups and gallons; millilitres and litres.
 *
 * Two questions are asked. What is nearest to a volume (what goes into a batch)? And what is nearest without being more (what
 * each plant gets: a batch must not run dry before the last one)? Either is within `CLOSE` wherever a kitchen set allows it.
 */
import { fromSi, toSi } from "../units.ts";
import { decimal, type UnitSystem } from "./numbers.ts";

/** How far a printed measure may be from the volume it means. */
export const CLOSE = 0.03;

/** Something to scoop, and what it holds. */
export interface Measure {
  readonly text: string;
  readonly mL: number;
}

/** Volumes here are counted in eighths of a teaspoon, so that every measure but the third of a cup is whole. */
const EIGHTHS = { tsp: 8, tbsp: 24, cup: 384, quart: 4 * 384, gal: 16 * 384 } as const;

/** One filling of spoons or cups of one kind: so many whole ones and a part of one. */
interface Part {
  readonly whole: number;
  readonly fraction: Fraction;
  readonly unit: keyof typeof EIGHTHS;
  readonly eighths: number;
  /** How much more bother it is than whole spoons or cups. */
  readonly bother: number;
}

/** What a part of a spoon or a cup is called, how much of it that is, and how much bother; eighths are small to read. */
const PARTS = {
  "": { of: 0, spoon: 0, cup: 0 },
  "1/8": { of: 1 / 8, spoon: 0.4, cup: 0.1 },
  "1/4": { of: 1 / 4, spoon: 0.2, cup: 0.1 },
  "1/3": { of: 1 / 3, spoon: 0.4, cup: 0.3 },
  "3/8": { of: 3 / 8, spoon: 0.4, cup: 0.1 },
  "1/2": { of: 1 / 2, spoon: 0.1, cup: 0.1 },
  "5/8": { of: 5 / 8, spoon: 0.4, cup: 0.1 },
  "2/3": { of: 2 / 3, spoon: 0.4, cup: 0.3 },
  "3/4": { of: 3 / 4, spoon: 0.2, cup: 0.1 },
  "7/8": { of: 7 / 8, spoon: 0.4, cup: 0.1 },
} as const;
type Fraction = keyof typeof PARTS;

function part(whole: number, fraction: Fraction, unit: keyof typeof EIGHTHS): Part {
  const { of, spoon, cup } = PARTS[fraction];
  // A part of a cup is a cup of its own; beside whole cups it is a second filling, though an easy one.
  const bother = unit !== "cup" ? spoon : whole === 0 ? 0 : cup;
  return { whole, fraction, unit, eighths: (whole + of) * EIGHTHS[unit], bother };
}

/** So many of a unit: `1 1/2 cups`. */
function partText({ whole, fraction, unit }: Part): string {
  const plural = (unit === "cup" || unit === "quart") && whole + PARTS[fraction].of > 1 ? "s" : "";
  const number = fraction === "" ? decimal(whole, 0) : whole === 0 ? fraction : `${whole} ${fraction}`;
  return `${number} ${unit}${plural}`;
}

const range = (from: number, to: number): number[] =>
  Array.from({ length: Math.max(0, to - from + 1) }, (_, i) => from + i);
const mixed = (
  wholes: readonly number[],
  fractions: readonly Fraction[],
  unit: keyof typeof EIGHTHS,
): Part[] =>
  wholes
    .flatMap((whole) => fractions.map((fraction) => part(whole, fraction, unit)))
    .filter(({ eighths }) => eighths > 0);

const TEASPOONS = mixed([0, 1, 2], ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"], "tsp");
const TABLESPOONS = mixed([1, 2, 3], ["", "1/2"], "tbsp");
const cupsNear = (cups: number): Part[] =>
  mixed(
    range(Math.max(0, Math.floor(cups) - 1), Math.min(15, Math.floor(cups) + 1)),
    ["", "1/4", "1/3", "1/2", "2/3", "3/4"],
    "cup",
  );

/** Lists from each of which one part is taken, or none. */
type Choice = readonly (readonly Part[])[];

/** What could be scooped for a volume of so many eighths of a teaspoon. */
function kitchen(eighths: number): readonly Choice[] {
  const cups = eighths / EIGHTHS.cup;
  if (eighths < EIGHTHS.tbsp) return [[TEASPOONS], [[TABLESPOONS[0]!]]];
  if (cups < 1 / 4) return [[TABLESPOONS, TEASPOONS], [cupsNear(0)]];
  if (cups < 2) return [[cupsNear(cups), TABLESPOONS, TEASPOONS]];
  if (cups < 9) return [[cupsNear(cups), TABLESPOONS]];
  const gallons = Math.floor(cups / 16);
  const next = [part(gallons + 1, "", "gal")];
  if (gallons === 0) return [[cupsNear(cups)], [next]];
  const gallon = [part(gallons, "", "gal")];
  // Beside gallons four cups are a quart: fourteen would be miscounted.
  const quarts = mixed([1, 2, 3], ["", "1/4", "1/2", "3/4"], "quart");
  return [[gallon], [next], [gallon, quarts], [gallon, mixed(range(0, 3), ["", "1/2"], "cup")]];
}

const MOST_VESSELS = 2;
/** How much a miss weighs against the bother of a filling more: 3 % against a third of one. */
const MISS = 10;

/** Best of what can be scooped, as its parts; undefined where even an eighth of a teaspoon is too much. */
function best(eighths: number, over: number): readonly Part[] | undefined {
  if (eighths < 1) return undefined;
  let chosen: readonly Part[] | undefined;
  let least = Number.POSITIVE_INFINITY;
  const consider = (parts: readonly Part[], size: number, bother: number): void => {
    const miss = size / eighths - 1;
    if (parts.length === 0 || miss > over + 1e-9) return;
    // Where nothing is close, the nearest.
    const cost =
      Math.abs(miss) <= CLOSE ? bother + MISS * Math.abs(miss) : 1000 + bother + 1000 * Math.abs(miss);
    if (cost < least - 1e-12) {
      least = cost;
      chosen = [...parts];
    }
  };
  const parts: Part[] = [];
  const choose = (choice: Choice, list: number, size: number, bother: number): void => {
    if (list === choice.length) {
      consider(parts, size, bother);
      return;
    }
    choose(choice, list + 1, size, bother);
    if (parts.length === MOST_VESSELS) return;
    for (const part of choice[list]!) {
      parts.push(part);
      choose(choice, list + 1, size + part.eighths, bother + 1 + part.bother);
      parts.pop();
    }
  };
  for (const choice of kitchen(eighths)) choose(choice, 0, 0, 0);
  return chosen;
}

const MILLILITRES_PER_EIGHTH = (1000 * toSi(1, "tsp")) / EIGHTHS.tsp;

function kitchenMeasure(mL: number, over: number): Measure {
  const parts = best(fromSi(mL / 1000, "tsp") * EIGHTHS.tsp, over);
  if (parts === undefined) return { text: "under 1/8 tsp", mL };
  return {
    text: parts.map(partText).join(" + "),
    mL: parts.reduce((sum, { eighths }) => sum + eighths, 0) * MILLILITRES_PER_EIGHTH,
  };
}

/** Millilitres, to the tenth below ten; litres from 1000 mL to three digits. */
function metricMeasure(mL: number, round: (x: number) => number): Measure {
  const decimals = mL >= 99_950 ? -3 : mL >= 9995 ? -2 : mL >= 999.5 ? -1 : mL >= 9.95 ? 0 : 1;
  const rounded = round(mL * 10 ** decimals + 1e-9) / 10 ** decimals;
  if (rounded < 0.05) return { text: "<0.1 mL", mL };
  if (rounded < 999.5) return { text: `${decimal(rounded, Math.max(0, decimals))} mL`, mL: rounded };
  return { text: `${decimal(rounded / 1000, 3 + decimals)} L`, mL: rounded };
}

/**
 * The nearest measure to a loose volume, for what is put into a batch.
 * @param mL 0 or more.
 */
export function nearestMeasure(mL: number, units: UnitSystem): Measure {
  if (mL === 0) return { text: units === "us" ? "0 cups" : "0 mL", mL };
  return units === "us" ? kitchenMeasure(mL, Infinity) : metricMeasure(mL, Math.round);
}

/** A single vessel may give this much less than it should. */
const VESSEL_SHORT = 0.05;
/** Vessels of a kitchen, and as many of each as may be counted out; smallest first. */
const VESSELS: readonly Part[] = [
  ...mixed([0], ["1/4", "1/2", "3/4"], "tsp"),
  ...mixed([1, 2], [""], "tsp"),
  ...mixed([1, 2, 3], [""], "tbsp"),
  ...mixed([0], ["1/4", "1/3", "1/2", "2/3", "3/4"], "cup"),
  ...mixed(range(1, 4), [""], "cup"),
  ...mixed(range(1, 4), [""], "quart"),
  ...mixed(range(1, 5), [""], "gal"),
];

/**
 * One vessel, filled level, perhaps a few times, that gives a volume: no more than it, since a batch must last, and at most
 * 5 % less. In millilitres what a measuring cup shows.
 * @returns null where no vessel is so near.
 */
export function vessel(mL: number, units: UnitSystem): Measure | null {
  if (units === "metric") return mL >= 5 ? metricMeasure(mL, Math.floor) : null;
  const most = fromSi(mL / 1000, "tsp") * EIGHTHS.tsp * (1 + 1e-9);
  const fitting = VESSELS.filter(({ eighths }) => eighths <= most && eighths >= most * (1 - VESSEL_SHORT));
  const [found] = fitting.sort((one, other) => other.eighths - one.eighths);
  return found ? { text: partText(found), mL: found.eighths * MILLILITRES_PER_EIGHTH } : null;
}

/** The nearest measure to a loose volume, in words. */
export const scoop = (mL: number, units: UnitSystem): string => nearestMeasure(mL, units).text;

/** A heap or a barrow: cubic feet from half a cubic foot, else as a scoop; litres. */
export function volume(litres: number, units: UnitSystem): string {
  const cubicFeet = fromSi(litres, "cu ft");
  return units === "us" && cubicFeet >= 0.495
    ? `${decimal(cubicFeet, cubicFeet >= 99.95 ? 0 : 1)} cu ft`
    : scoop(litres * 1000, units);
}
