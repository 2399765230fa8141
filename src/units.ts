/**
 * Units of the trade: one table of what may be written, with exact factors to SI, and the reader and writer of quantities.
 *
 * Inside the program numbers are plain and SI: kg, m2, m, L, days, degrees Celsius, kg/L, kg/m2, fractions of 1, money per kg.
 * Sources: NIST SP 811 (2008), Appendix B, for the pound, foot, inch, acre (international foot) and their squares and cubes;
 * NIST Handbook 44, Appendix C, for the US gallon (231 cubic inches) with its parts and the bushel (2150.42 cubic inches).
 */
import {
  fault,
  type Numeral,
  oddNumber,
  outOfRange,
  parseNumber,
  plain,
  type QuantityFault,
  type Reading,
  readNumeral,
  soundAdvice,
  unreadable,
} from "./numerals.ts";
import { defined } from "./optional.ts";
import { nearest } from "./problem.ts";

/** What a quantity may be of. */
export type Dimension =
  | ("mass" | "area" | "length" | "volume" | "time" | "temperature" | "share")
  | ("density" | "rate" | "price");
type SimpleDimension = Exclude<Dimension, "density" | "rate" | "price">;

/** One unit: `SI = value * factor + offset`, with SI meaning kg, m2, m, L, days, C, fraction of 1. */
export interface Unit {
  /** The spelling shown to people, and the name that `fromSi` takes. */
  readonly id: string;
  readonly dimension: SimpleDimension;
  readonly factor: number;
  /** Only temperatures have one. */
  readonly offset?: number;
  /** Other spellings, compared without case, spaces, dots, hyphens or `^`. */
  readonly spellings: readonly string[];
  readonly source: string;
}

const SP811 = "NIST SP 811, Appendix B";
const HB44 = "NIST Handbook 44, Appendix C";
const SI = "SI, by definition";

const unit = (
  id: string,
  dimension: SimpleDimension,
  factor: number,
  spellings: string,
  source: string,
  offset?: number,
): Unit => ({
  id,
  dimension,
  factor,
  spellings: spellings === "" ? [] : spellings.split(", "),
  source,
  ...defined({ offset }),
});

/** Every unit that may be written, by dimension, in the order they are listed to people. */
export const UNITS: readonly Unit[] = [
  unit("lb", "mass", 0.45359237, "lbs, pound, pounds, #", SP811),
  unit("oz", "mass", 0.028349523125, "ounce, ounces", SP811),
  unit("ton", "mass", 907.18474, "tons, short ton, short tons, us ton, us tons", SP811),
  unit("kg", "mass", 1, "kgs, kilo, kilos, kilogram, kilograms, kilogramme, kilogrammes", SI),
  unit("g", "mass", 0.001, "gm, gr, gram, grams, gramme, grammes", SI),
  unit("mg", "mass", 0.000001, "milligram, milligrams", SI),
  unit("t", "mass", 1000, "tonne, tonnes, metric ton, metric tons", SI),

  unit("sq ft", "area", 0.09290304, "ft2, ft², square foot, square feet, sf, sq feet, sq foot", SP811),
  unit("100 sq ft", "area", 9.290304, "", SP811),
  unit("1000 sq ft", "area", 92.90304, "", SP811),
  unit("sq yd", "area", 0.83612736, "yd2, yd², square yard, square yards, sq yards, sq yard", SP811),
  unit("acre", "area", 4046.8564224, "acres, ac", SP811),
  unit("m2", "area", 1, "m², sq m, sqm, square metre, square metres, square meter, square meters", SI),
  unit("ha", "area", 10000, "hectare, hectares", SI),

  unit("ft", "length", 0.3048, "foot, feet, '", SP811),
  unit("in", "length", 0.0254, 'inch, inches, "', SP811),
  unit("yd", "length", 0.9144, "yard, yards", SP811),
  unit("m", "length", 1, "metre, metres, meter, meters", SI),
  unit("cm", "length", 0.01, "centimetre, centimetres, centimeter, centimeters", SI),
  unit("mm", "length", 0.001, "millimetre, millimetres, millimeter, millimeters", SI),

  unit("tsp", "volume", 0.00492892159375, "teaspoon, teaspoons, tsps", HB44),
  unit("tbsp", "volume", 0.01478676478125, "tablespoon, tablespoons, tbsps, tbs", HB44),
  unit("fl oz", "volume", 0.0295735295625, "fluid ounce, fluid ounces", HB44),
  unit("cup", "volume", 0.2365882365, "cups", HB44),
  unit("pint", "volume", 0.473176473, "pints, pt, pts", HB44),
  unit("quart", "volume", 0.946352946, "quarts, qt, qts", HB44),
  unit("gal", "volume", 3.785411784, "gals, gallon, gallons", HB44),
  unit("bushel", "volume", 35.23907016688, "bushels, bu", HB44),
  unit("cu ft", "volume", 28.316846592, "ft3, ft³, cubic foot, cubic feet, cf, cu feet, cu foot", SP811),
  unit("cu yd", "volume", 764.554857984, "yd3, yd³, cubic yard, cubic yards, cu yards, cu yard", SP811),
  unit("L", "volume", 1, "litre, litres, liter, liters", SI),
  unit("mL", "volume", 0.001, "millilitre, millilitres, milliliter, milliliters, cc, cm3, cm³", SI),
  unit("m3", "volume", 1000, "m³, cu m, cubic metre, cubic metres, cubic meter, cubic meters", SI),

  unit("hours", "time", 1 / 24, "hour, h, hr, hrs", "by definition"),
  unit("days", "time", 1, "day, d", "by definition"),
  unit("weeks", "time", 7, "week, wk, wks", "by definition"),

  unit("C", "temperature", 1, "°C, deg C, degree C, degrees C, celsius", SI),
  unit(
    "F",
    "temperature",
    5 / 9,
    "°F, deg F, degree F, degrees F, fahrenheit",
    "NIST SP 811, Appendix B: C = (F - 32) / 1.8",
    -160 / 9,
  ),

  unit("%", "share", 0.01, "percent, per cent, pct", "by definition"),
];

/** What a quantity of each dimension is called in a sentence, and an example of one. */
export const DIMENSION_WORDS = {
  mass: { noun: "a weight", example: "50 lb", unit: "lb" },
  area: { noun: "an area", example: "1500 sq ft", unit: "sq ft" },
  length: { noun: "a length", example: "60 ft", unit: "ft" },
  volume: { noun: "a volume", example: "6 cu ft", unit: "cu ft" },
  time: { noun: "a time", example: "21 days", unit: "days" },
  temperature: { noun: "a temperature", example: "18 C", unit: "C" },
  density: { noun: "a density (weight per volume)", example: "0.6 kg/L", unit: "kg/L" },
  rate: { noun: "a rate (weight per area)", example: "4 lb/1000 sq ft", unit: "lb/1000 sq ft" },
  share: { noun: "a share", example: "30%", unit: "%" },
  price: { noun: "a price per weight", example: "1.20/lb", unit: "per lb" },
} as const satisfies Record<Dimension, object>;

/** A quantity in SI, or what is wrong with the text. */
export type Quantity = Reading<number>;

/** What else a quantity must satisfy; without any, it may be zero but not negative (a temperature may). */
export interface QuantityRules {
  /** Zero is refused too. */
  readonly positive?: boolean;
  readonly negative?: boolean;
  /** Largest accepted value, in SI, and how to say it. */
  readonly most?: { readonly value: number; readonly text: string };
  /** What messages call the input; absent: the input itself. */
  readonly shown?: string;
}

const squeeze = (text: string): string =>
  text
    .toLowerCase()
    .replace(/[\s.^-]/g, "")
    .replace(/²/g, "2")
    .replace(/³/g, "3");

const BY_SPELLING: ReadonlyMap<string, Unit> = new Map(
  UNITS.flatMap((u) => [u.id, ...u.spellings].map((s) => [squeeze(s), u] as const)),
);

/** The dimensions that are written as two units with a slash: those of the two (a price has none above), and what is accepted. */
const COMPOUND: Readonly<
  Partial<Record<Dimension, readonly [above: "mass" | "", below: SimpleDimension, accepted: string]>>
> = {
  density: ["mass", "volume", "a weight per volume, such as kg/L, lb/cu ft, oz/pint"],
  rate: ["mass", "area", "a weight per area, such as lb/acre, kg/ha, lb/1000 sq ft"],
  price: ["", "mass", "a number per weight, such as 1.20/lb, 2.60/kg"],
};

/** Units of one dimension as a list for a sentence: `lb, oz, ton, kg`. */
function unitNames(dimension: Dimension): string {
  const ids = UNITS.filter((u) => u.dimension === dimension).map((u) => u.id);
  return COMPOUND[dimension]?.[2] ?? ids.join(", ");
}

/** Whether a name is one of the units that every file may use. */
export function isKnownUnit(name: string): boolean {
  return findUnit(name) !== undefined;
}

/** The unit nearest to a mistyped one, of the wanted kind first. */
function nearestUnit(text: string, wanted: readonly SimpleDimension[]): Unit | undefined {
  const key = squeeze(text);
  const keys = [...BY_SPELLING.keys()].filter((k) => !/^\d/.test(k));
  const ofKind = keys.filter((k) => wanted.includes(BY_SPELLING.get(k)!.dimension));
  return BY_SPELLING.get(nearest(key, ofKind) ?? nearest(key, keys) ?? "");
}

/** What is written for a unit and is none, with what to write instead. */
const NO_UNITS: readonly {
  readonly pattern: RegExp;
  readonly wrong: string;
  readonly hint: (rebuilt: (id: string) => string, wanted: Dimension) => string;
}[] = [
  {
    pattern: /^T$/,
    wrong: "a capital T has more than one meaning",
    hint: (rebuilt, wanted) =>
      wanted === "volume"
        ? `of a tablespoon, write \`${rebuilt("tbsp")}\``
        : `of 1000 kg, write \`${rebuilt("t")}\`; of 2000 lb, write \`${rebuilt("ton")}\``,
  },
  {
    pattern: /^Mg$/,
    wrong: "a capital M makes it 1000 kg to some and a milligram to others",
    hint: (rebuilt) => `of 1000 kg, write \`${rebuilt("t")}\`; a milligram is \`mg\``,
  },
  { pattern: /^months?$|^mo$/i, wrong: "a month has no fixed length", hint: () => "write days or weeks" },
  {
    // What people measure with that has no size of its own.
    pattern:
      /^(wheel-?\s?barrows?|barrows?|carts?|cartloads?|truck-?\s?loads?|loads?|bags?|sacks?|buckets?|pails?|shovels?|shovelfuls?|scoops?|handfuls?|coffee cans?|cans?|bales?|flats?|totes?)$/i,
    wrong: "means different sizes to different people",
    hint: () =>
      "fill it once, weigh it or measure it by the quart or litre, and write that: `50 lb`, `6 cu ft`",
  },
];

const SIDES = /^([\d.]+)\s*(?:ft|feet|'|m)?\s*(?:x|×|by)\s*([\d.]+)\s*(ft|feet|'|m|met(?:re|er)s)$/i;

/**
 * The fault of a unit that is not known.
 * @param rebuilt the quantity with another unit in its place.
 * @param part what the unit may be of.
 */
function unknownUnit(
  shown: string,
  written: string,
  rebuilt: (id: string) => string,
  wanted: Dimension,
  part: readonly SimpleDimension[],
): QuantityFault {
  const unknown = (wrong: string, hint: string, near?: string) =>
    fault({ code: "unit-unknown", wrong: `\`${shown}\`${wrong}`, near, hint });
  if (wanted === "temperature" && /^[°º]$/.test(written.trim()))
    return unknown(" does not say of which degrees", degreesHint(Number.parseFloat(shown)));
  const none = NO_UNITS.find(({ pattern }) => pattern.test(written.trim()));
  if (none !== undefined) return unknown(`: ${none.wrong}`, none.hint(rebuilt, wanted));
  const [, one, other, unit] = (wanted === "area" ? SIDES.exec(shown) : null) ?? [];
  if (unit !== undefined)
    return unknown(
      " is two lengths, and an area is needed here",
      `multiply them: \`${Number((Number(one) * Number(other)).toPrecision(12))} ${/^m/i.test(unit) ? "m2" : "sq ft"}\``,
    );
  const near = nearestUnit(written, part);
  return unknown(": no such unit", `units accepted here: ${unitNames(wanted)}`, near && rebuilt(near.id));
}

/** The temperatures of a soil that a bare number of degrees may mean. */
function degreesHint(degrees: number): string {
  const units = (["C", "F"] as const).filter((unit) => {
    const celsius = toSi(degrees, unit);
    return celsius >= 0 && celsius <= HOTTEST_SOIL_C;
  });
  const meant = (units.length === 0 ? ["18 C", "65 F"] : units.map((unit) => `${degrees} ${unit}`)).map(
    (text) => `\`${text}\``,
  );
  return `write it with its unit, for instance ${meant.join(" or ")}`;
}

/** A value in a unit, to SI. Tenths and hundredths divide, so that `70%` is 0.7 to the last digit. */
function scaled(value: number, by: Unit): number {
  const parts = Math.round(1 / by.factor);
  const product = by.factor < 1 && 1 / parts === by.factor ? value / parts : value * by.factor;
  return product + (by.offset ?? 0);
}

/** A unit by any accepted spelling; `T` and `Mg` are refused as ambiguous. */
function findUnit(text: string): Unit | undefined {
  if (/^(T|Mg)$/.test(text.trim())) return undefined;
  return BY_SPELLING.get(squeeze(text));
}

/**
 * Reads a number with its unit, in any accepted spelling, into SI.
 * @param input what the file holds; a bare number lacks its unit and is refused, whatever the dimension.
 * @param dimension the kind of quantity needed: mass kg, area m2, length m, volume L, time days, temperature C, density kg/L,
 *   rate kg/m2, share as a fraction of 1, price money/kg.
 * @returns the value, or a fault whose hint says what would be right; nothing is thrown.
 */
export function parseQuantity(
  input: string | number,
  dimension: Dimension,
  rules: QuantityRules = {},
): Quantity {
  const read = quantityIn(input, dimension, rules);
  if (read.ok) return read;
  const { shown: _, ...bare } = rules;
  return soundAdvice(read, (text) => quantityIn(text, dimension, bare).ok, writeIt(dimension));
}

function writeIt(dimension: Dimension): string {
  const { noun, example } = DIMENSION_WORDS[dimension];
  return `write ${noun} as a number and a unit, for instance \`${example}\``;
}

function quantityIn(input: string | number, dimension: Dimension, rules: QuantityRules): Quantity {
  const given = String(input).trim();
  const shown = rules.shown ?? given;
  const words = DIMENSION_WORDS[dimension];
  const odd = oddNumber(given);
  if (odd !== undefined) return odd;
  const numeral = readNumeral(plain(given), dimension !== "price");
  if (numeral === undefined) {
    const wrong = shown === "" ? "there is no value here" : `\`${shown}\` does not begin with a number`;
    return fault({ code: "number-unreadable", wrong, hint: writeIt(dimension) });
  }
  if (!Number.isFinite(numeral.value))
    return outOfRange(shown, "is too large a number to work with", `for instance \`${words.example}\``);
  if (/^[,\d.]/.test(numeral.rest))
    return unreadable(
      shown,
      "is not a number that can be read",
      "write `1.5` with a point for the decimal, and commas only between thousands (`1,500`)",
    );
  const rest = numeral.rest.trim();
  if (rest === "") return bareNumber(shown, numeral, dimension);

  const slash = /\s*\/\s*|(?:^|\s+)per\s+(?!cent)/i.exec(rest);
  if (slash !== null) {
    const above = rest.slice(0, slash.index).trim();
    const below = rest.slice(slash.index + slash[0].length).trim();
    const value = readPair(shown, numeral, above, below, dimension);
    return typeof value === "number" ? inRange(shown, value, dimension, rules) : value;
  }
  const found = findUnit(rest);
  if (found === undefined) {
    const part = dimension in COMPOUND ? "mass" : (dimension as SimpleDimension);
    return unknownUnit(shown, rest, (id) => join(numeral.text, id), dimension, [part]);
  }
  if (found.dimension !== dimension) return wrongKind(shown, found.dimension, dimension);
  return inRange(shown, scaled(numeral.value, found), dimension, rules);
}

/** A number of one unit per another, or per so many of it, in SI. */
function readPair(
  shown: string,
  numeral: Numeral,
  above: string,
  below: string,
  dimension: Dimension,
): number | QuantityFault {
  const top = above === "" ? undefined : findUnit(above);
  const count = readNumeral(below, true);
  const bottomText = (count ? count.rest : below).trim();
  const bottom = findUnit(bottomText);
  if (above !== "" && top === undefined)
    return unknownUnit(shown, above, (id) => `${numeral.text} ${id}/${below}`, dimension, ["mass"]);
  if (bottom === undefined) {
    const wanted = COMPOUND[dimension]?.[1];
    return unknownUnit(
      shown,
      bottomText,
      (id) => `${numeral.text}${above === "" ? "" : ` ${above}`}/${count ? `${count.text} ` : ""}${id}`,
      dimension,
      wanted === undefined ? ["area", "volume", "mass"] : [wanted],
    );
  }
  const found = (Object.keys(COMPOUND) as Dimension[]).find((one) => {
    const [over, under] = COMPOUND[one]!;
    return over === (top?.dimension ?? "") && under === bottom.dimension;
  });
  if (found !== dimension) return wrongKind(shown, found, dimension);
  if (count && !(count.value > 0 && Number.isFinite(count.value)))
    return fault({
      code: "number-range",
      wrong: `\`${shown}\`: nothing can be counted per ${count.text}`,
      hint: `for instance \`${DIMENSION_WORDS[dimension].example}\``,
    });
  return (numeral.value * (top?.factor ?? 1)) / ((count?.value ?? 1) * bottom.factor);
}

const join = (number: string, id: string): string => (id === "%" ? `${number}%` : `${number} ${id}`);

/** A soil cannot be colder or hotter than this and grow a vegetable; outside, a unit was mistaken. */
export const SOIL_C = { least: -10, most: 50 } as const;
/** No soil that is planted is as hot as this: a bare number above it is meant in degrees Fahrenheit. */
const HOTTEST_SOIL_C = 40;

function bareNumber(shown: string, numeral: Numeral, dimension: Dimension): QuantityFault {
  if (dimension === "share") {
    const percent = Math.abs(numeral.value) <= 1 && numeral.value !== 0 ? numeral.value * 100 : numeral.value;
    return fault({
      code: "unit-missing",
      given: shown,
      wrong: "is a share without its percent sign",
      hint: `write \`${Number(percent.toPrecision(12))}%\``,
    });
  }
  const { noun: expected, unit } = DIMENSION_WORDS[dimension];
  const names = unitNames(dimension);
  const meant =
    dimension === "temperature"
      ? degreesHint(numeral.value)
      : `write it with its unit, for instance \`${numeral.text} ${unit}\``;
  const hint = dimension in COMPOUND ? `write ${names}` : `${meant}; units accepted: ${names}`;
  return fault({ code: "unit-missing", given: shown, wrong: "has no unit", expected, hint });
}

function wrongKind(shown: string, found: Dimension | undefined, wanted: Dimension): QuantityFault {
  return fault({
    code: "unit-kind",
    given: shown,
    wrong: found === undefined ? "is not a quantity used here" : `is ${DIMENSION_WORDS[found].noun}`,
    expected: DIMENSION_WORDS[wanted].noun,
    hint: `for instance \`${DIMENSION_WORDS[wanted].example}\`; units accepted: ${unitNames(wanted)}`,
  });
}

/** No amount of anything on a farm is above this, whatever its unit: kg, m2, L, m, days, money. */
export const MAX_SI = 1e10;

/**
 * Whether a number is nothing that a farm has, in any unit of the model (kg, m2, L, m, days, money and their ratios): a
 * slip of the keys, and past what a solver can tell apart.
 */
export function isAbsurd(value: number): boolean {
  const size = Math.abs(value);
  return !Number.isFinite(value) || size > MAX_SI || (size > 0 && size < 1e-15);
}

function inRange(shown: string, value: number, dimension: Dimension, rules: QuantityRules): Quantity {
  const { noun, example } = DIMENSION_WORDS[dimension];
  if (isAbsurd(value)) {
    const size = Math.abs(value) < 1 ? "small" : "large";
    return outOfRange(shown, `is too ${size} a number to work with`, `for instance \`${example}\``);
  }
  if (value < 0 && !(rules.negative ?? dimension === "temperature"))
    return outOfRange(shown, "is below zero", `${noun} is zero or more here`);
  if (rules.positive && value <= 0) return outOfRange(shown, "is zero", `${noun} above zero is needed here`);
  if (rules.most && value > rules.most.value * (1 + 1e-12))
    return outOfRange(shown, "is too much", `at most ${rules.most.text}`);
  return { ok: true, value };
}

/** An id of `UNITS`, or two joined by a slash: `lb`, `1000 sq ft`, `lb/acre`, `kg/L`. */
export type UnitId = string;

/** Whether `UNITS` has a unit, or both of two joined by a slash. */
export const isUnitId = (unitId: UnitId): boolean => {
  const parts = unitId.split("/");
  return parts.length <= 2 && parts.every((part) => UNITS.some(({ id }) => id === part));
};

function scaleOf(unitId: UnitId): { readonly factor: number; readonly offset: number } {
  if (!isUnitId(unitId)) throw new RangeError(`no unit \`${unitId}\``);
  const [above, below] = unitId.split("/").map((part) => UNITS.find(({ id }) => id === part)!);
  return below === undefined
    ? { factor: above!.factor, offset: above!.offset ?? 0 }
    : { factor: above!.factor / below.factor, offset: 0 };
}

/**
 * Converts an SI value for display.
 * @throws RangeError for an id that is not in the table, which is a fault of the program and not of its user.
 */
export function fromSi(value: number, unitId: UnitId): number {
  const { factor, offset } = scaleOf(unitId);
  return (value - offset) / factor;
}

/** The inverse of `fromSi`: a value in the unit named, to SI. */
export function toSi(value: number, unitId: UnitId): number {
  const { factor, offset } = scaleOf(unitId);
  return value * factor + offset;
}

/**
 * Reads a day counted from planting: `14`, `day 14`, `14 days`, `2 weeks`, and before planting `-20`.
 * @returns days.
 */
export function parseDay(input: string | number): Quantity {
  const shown = String(input).trim();
  const text = shown.replace(/^day\s+/i, "");
  if (/^\d+\s*\/\s*\d+$/.test(text))
    return unreadable(
      shown,
      "may be a date or a fraction of a day",
      "write a date as `2027-06-03` or `June 3`, or count days from planting, for instance `14`",
    );
  const bare = typeof input === "number" ? input : parseNumber(text);
  const hint = "count days from planting, for instance `14`";
  const read: Quantity =
    bare !== undefined && Number.isFinite(bare)
      ? { ok: true, value: bare }
      : parseQuantity(text, "time", { negative: true });
  if (!read.ok) return { ...read, hint: `${hint} or \`2 weeks\`; ${read.hint}` };
  if (Math.abs(read.value) > 3650) return outOfRange(shown, "is more than ten years from planting", hint);
  if (read.value !== 0 && Math.abs(read.value) < LEAST_DAY)
    return outOfRange(shown, "is less than a minute and a half from planting", hint);
  return read;
}

/** Less than this is no day: a minute and a half, below which a solver could not tell two days apart. */
export const LEAST_DAY = 1e-3;

/** What an amount is counted per: one plant, the whole bed, or an area. */
export type Per =
  | { readonly kind: "plant" }
  | { readonly kind: "bed" }
  | { readonly kind: "area"; readonly areaM2: number };

/** Reads `per`: `plant`, `bed`, a unit of area (`acre`) or an area (`1000 sq ft`). */
export function parsePer(input: string | number): Reading<Per> {
  const shown = String(input).trim();
  if (/^plants?$/i.test(shown)) return { ok: true, value: { kind: "plant" } };
  if (/^beds?$/i.test(shown)) return { ok: true, value: { kind: "bed" } };
  const lone = findUnit(shown);
  if (lone?.dimension === "area") return { ok: true, value: { kind: "area", areaM2: lone.factor } };
  const near = nearest(shown, ["plant", "bed", "acre", "ha", "m2", "sq ft"]);
  if (/^[^\d]/.test(shown) && near !== undefined)
    return fault({ code: "unit-unknown", wrong: `\`${shown}\`: no such unit`, near });
  const read = parseQuantity(input, "area", { positive: true });
  if (read.ok) return { ok: true, value: { kind: "area", areaM2: read.value } };
  const hint = "write `plant`, `bed`, or an area such as `acre` or `1000 sq ft`";
  return read.code === "number-unreadable"
    ? unreadable(shown, "is not something amounts are counted per", hint)
    : read;
}

/** The size of a pack, by weight or by loose volume. */
export type PackSize = { readonly kg: number } | { readonly litres: number };

/**
 * A change of a price: times a factor (`+10%`, `-5%`), a new price in money per kg (`1.20/lb`), or the price of one size
 * of pack (`48/50 lb`).
 */
export type PriceChange = (
  | { readonly kind: "factor"; readonly factor: number }
  | { readonly kind: "price"; readonly pricePerKg: number }
  | { readonly kind: "pack"; readonly price: number; readonly size: PackSize }
) & {
  /** The supplier whose offers alone it changes; absent: every offer. */
  readonly from?: string;
};

/**
 * Reads a change of a price: `+10%`, `-5%`, a new price such as `1.20/lb`, or that of a pack such as `48/50 lb`; with
 * ` from mill` behind it that of one supplier.
 */
export function parsePriceChange(input: string | number): Reading<PriceChange> {
  const [, what, from] = /^(.*\S)\s+from\s+(\S+)$/.exec(String(input).trim()) ?? [];
  if (what === undefined || from === undefined) return priceChange(String(input).trim());
  const read = priceChange(what);
  return read.ok ? { ok: true, value: { ...read.value, from } } : read;
}

function priceChange(shown: string): Reading<PriceChange> {
  if (/%|per ?cent|pct/i.test(shown)) {
    if (!/^[+−-]/.test(shown))
      return unreadable(shown, "does not say up or down", `write \`+${shown}\` or \`-${shown}\``);
    const read = parseQuantity(shown, "share", { negative: true });
    if (!read.ok) return read;
    if (read.value < -1) return outOfRange(shown, "would take the price below zero", "at most `-100%`");
    return { ok: true, value: { kind: "factor", factor: 1 + read.value } };
  }
  const [, each, size] = /^([^/]*)\/\s*(\d.*)$/.exec(shown) ?? [];
  if (each !== undefined && size !== undefined) return packPrice(each.trim(), size);
  const read = parseQuantity(shown.replace(/^free(?=\s*\/)/i, "0"), "price");
  if (read.ok && read.value === 0 && !/^free/i.test(shown))
    return zeroPrice(shown, shown.replace(/^[^/]*/, "free"));
  if (!read.ok)
    return { ...read, hint: `${read.hint}; of a pack, \`48/50 lb\`; or a change such as \`+10%\`` };
  return { ok: true, value: { kind: "price", pricePerKg: read.value } };
}

/** A price of 0 is what is left where a spreadsheet has a blank. */
const zeroPrice = (given: string, free: string): QuantityFault =>
  outOfRange(
    given,
    "is no price: where a blank became 0, write the price",
    `write \`${free}\` for what costs nothing`,
  );

function packPrice(each: string, size: string): Reading<PriceChange> {
  const free = /^free$/i.test(each);
  const price = free ? 0 : parseNumber(each.replace(/^[$€£]\s*/, ""));
  const hint = "a pack has a price and a size, for instance `48/50 lb`";
  if (price === undefined) return unreadable(each, "is not a price", hint);
  if (price < 0)
    return fault({ code: "number-range", wrong: `\`${each}\`: a price is not below zero`, hint });
  if (price === 0 && !free) return zeroPrice(each, `free/${size}`);
  const volume = parseQuantity(size, "volume", { positive: true });
  if (volume.ok) return { ok: true, value: { kind: "pack", price, size: { litres: volume.value } } };
  const mass = parseQuantity(size, "mass", { positive: true });
  return mass.ok ? { ok: true, value: { kind: "pack", price, size: { kg: mass.value } } } : mass;
}

/** A laboratory's reading of a nutrient in soil. */
export interface SoilContent {
  /** Parts per million by weight, that is mg/kg. */
  readonly ppm: number;
  /** Whether it was given as lb/acre. */
  readonly perAcre: boolean;
}

/** Soil of a plough layer is taken as 2 million lb per acre: 1 ppm is 2 lb/acre (NOFA soil manual, Appendix A). */
const LB_PER_ACRE_IN_PPM = 2;

/** Reads a soil test value: `12 ppm`, `12 mg/kg`, or `24 lb/acre` by the rule of 2 million lb of soil per acre. */
export function parseSoilContent(input: string | number): Reading<SoilContent> {
  const shown = String(input).trim();
  const numeral = readNumeral(plain(shown), true);
  const hint = "laboratories report soil in ppm (mg/kg) or lb/acre, for instance `12 ppm`";
  if (numeral === undefined) return unreadable(shown, "does not begin with a number", hint);
  if (!Number.isFinite(numeral.value) || numeral.value < 0)
    return outOfRange(shown, "is not a content of soil", hint);
  const written = squeeze(numeral.rest).replace(/per/, "/");
  if (written === "") return fault({ code: "unit-missing", given: shown, wrong: "has no unit", hint });
  if (written === "ppm" || written === "mg/kg")
    return { ok: true, value: { ppm: numeral.value, perAcre: false } };
  if (/^(lbs?|pounds?)\/(acre|ac|a)$/.test(written))
    return { ok: true, value: { ppm: numeral.value / LB_PER_ACRE_IN_PPM, perAcre: true } };
  return fault({
    code: /^m[gl]|^g\/|%/.test(written) ? "unit-kind" : "unit-unknown",
    wrong: `\`${shown}\`: not how soil is reported here`,
    hint,
  });
}

/** Reads what water holds: `8 mg/L`, or `8 ppm`, which in water is the same. In kg/L. */
export function parseWaterContent(input: string | number): Quantity {
  const text = String(input).replace(/\bppm\b/i, "mg/L");
  const read = parseQuantity(text, "density");
  return read.ok ? read : { ...read, hint: "for instance `8 mg/L`" };
}
