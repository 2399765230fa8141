/**
 * From SI to what a grower reads: the only place where digits, unit names and alignment are chosen.
 *
 * Nothing above zero is ever shown as zero, and no number is shown in scientific notation. The text is the same
 * on every machine: no locale is asked.
 */
import { fromSi, toSi } from "../units.ts";

export type UnitSystem = "us" | "metric";

const BLANK = "";

/**
 * A number with a fixed count of decimals and commas between thousands: `1,234.50`. Never `-0`.
 * @param decimals 0 to 20.
 */
export function decimal(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return value > 0 ? "no limit" : value < 0 ? "-no limit" : "unknown";
  const digits = fixed(value, decimals);
  const text = digits.replace(/(?<!\.\d*)\B(?=(\d{3})+(?!\d))/g, ",");
  return value < 0 && Number(digits) > 0 ? `-${text}` : text;
}

function fixed(value: number, decimals: number): string {
  const size = Math.abs(value);
  // toFixed turns to exponents at 1e21; nothing this program weighs has digits after the point there.
  return size >= 1e15 ? BigInt(Math.round(size)).toString() : size.toFixed(decimals);
}

/** A number for CSV: a plain decimal of at most ten significant digits, no commas, no exponent, no trailing zeros. */
export function plainNumber(value: number): string {
  if (!Number.isFinite(value)) return BLANK;
  if (value === 0) return "0";
  const decimals = Math.min(20, Math.max(0, 9 - Math.floor(Math.log10(Math.abs(value)))));
  const digits = fixed(value, decimals);
  const text = digits.includes(".") ? digits.replace(/\.?0+$/, "") : digits;
  return value < 0 && Number(digits) > 0 ? `-${text}` : text;
}

/** A number that is rounded already, with commas between thousands: `2,270`, `39.1`. */
export function grouped(value: number): string {
  return Math.abs(value) >= 1000 ? decimal(value, 0) : plainNumber(value);
}

/**
 * Decimals with which a small number keeps two significant digits: 0.034, 0.0012; undefined below `least`.
 * @param decimals used where they show two significant digits anyway.
 */
function decimalsFor(value: number, decimals: number, least = 0.001): number | undefined {
  const size = Math.abs(value);
  const steps = size * 10 ** decimals;
  if (size >= 0.95 * 10 ** (1 - decimals) || Math.abs(steps - Math.round(steps)) < 1e-9) {
    if (size === 0 || steps > 0.5) return decimals;
  }
  return size < least ? undefined : 1 - Math.floor(Math.log10(size * 1.005));
}

/** A small number with two significant digits. Nothing but zero reads as zero: below `least` it is `<0.001`. */
function significant(value: number, decimals: number, least = 0.001): string {
  const enough = decimalsFor(value, decimals, least);
  return enough === undefined ? `${value < 0 ? ">-" : "<"}${plainNumber(least)}` : decimal(value, enough);
}

/** A change with its sign: `+$1.20`, `-$0.50`. */
export function signed(value: number, show: (value: number) => string): string {
  return value > 0 ? `+${show(value)}` : show(value);
}

function fewDecimals(size: number): number {
  return size >= 999.95 ? 0 : size >= 99.995 ? 1 : 2;
}

/** How a weight is shown: so many of a unit. */
interface Figure {
  readonly value: number;
  readonly unit: "lb" | "oz" | "kg" | "g";
  /** Before a small value is given more. */
  readonly decimals: number;
}

/** A weight in the unit that suits it: pounds, or ounces below a pound; kilograms, or grams below a kilogram. */
function figureOf(kg: number, units: UnitSystem): Figure {
  const us = units === "us";
  const unit = us ? "lb" : "kg";
  const value = fromSi(kg, unit);
  const size = Math.abs(value);
  if (size === 0) return { value: 0, unit, decimals: 0 };
  if (size >= (us ? 0.995 : 0.9995)) return { value, unit, decimals: fewDecimals(size) };
  if (us) return { value: value * 16, unit: "oz", decimals: size * 16 >= 9.995 ? 1 : 2 };
  return { value: value * 1000, unit: "g", decimals: gramDecimals(value * 1000) };
}

/**
 * A weight: pounds, or ounces below a pound; kilograms, or grams below a kilogram.
 * @param kg negative for a shortfall.
 */
export function weight(kg: number, units: UnitSystem): string {
  const { value, unit, decimals } = figureOf(kg, units);
  return `${significant(value, decimals)} ${unit}`;
}

/** What stays over in a bag, in whole pounds or kilograms: `12 lb`, `under 1 lb`. */
export function roughWeight(kg: number, units: UnitSystem): string {
  const unit = units === "us" ? "lb" : "kg";
  const value = fromSi(kg, unit);
  return value >= 0.995 ? `${decimal(value, 0)} ${unit}` : `under 1 ${unit}`;
}

/** A weight rounded up or down at the last digit that `weight` shows; `none` where nothing is left. */
export function weightOutward(kg: number, up: boolean, units: UnitSystem): string {
  if (kg <= 0) return "none";
  const { value, unit, decimals } = figureOf(kg, units);
  const step = 10 ** (decimalsFor(value, decimals) ?? 3);
  const whole = up ? Math.ceil(value * step - 1e-6) : Math.floor(value * step + 1e-6);
  return whole <= 0 ? "none" : weight(toSi(whole / step, unit), units);
}

/**
 * A weight in the unit that suits another, so that the numbers of a row can be compared: beside `6.00 lb` an ounce
 * reads `0.06 lb`.
 * @param besideKg the weight that chooses the unit.
 */
export function weightBeside(kg: number, besideKg: number, units: UnitSystem): string {
  const { unit } = figureOf(besideKg, units);
  return `${inUnit(kg, unit)} ${unit}`;
}

/** Two weights in the unit that suits the larger: `1.20 to 4.50 lb`. */
export function weightRange(fromKg: number, toKg: number, units: UnitSystem): string {
  const { unit } = figureOf(Math.max(fromKg, toKg), units);
  return `${inUnit(fromKg, unit)} to ${inUnit(toKg, unit)} ${unit}`;
}

function inUnit(kg: number, unit: Figure["unit"]): string {
  const value = fromSi(kg, unit);
  if (value === 0) return "0";
  return significant(value, unit === "g" ? gramDecimals(value) : fewDecimals(Math.abs(value)));
}

/** Decimals of a kitchen scale: whole grams from 100 g up, tenths below. */
function gramDecimals(g: number): number {
  return Math.abs(g) >= 99.95 ? 0 : 1;
}

/** Grams, as a kitchen scale shows them. */
export function grams(g: number): string {
  return `${significant(g, gramDecimals(g))} g`;
}

/** A number to two significant digits: nobody spreads by hand more finely. */
function twoDigits(value: number): number {
  return Number(value.toPrecision(2));
}

/** What a hand gives to a plant or a foot of row: two significant digits, `36 g`, `1.3 kg`. */
export function handGrams(g: number): string {
  const rounded = twoDigits(g);
  return rounded >= 1000
    ? `${plainNumber(rounded / 1000)} kg`
    : `${significant(rounded, rounded >= 9.95 ? 0 : 1)} g`;
}

/** What a hand gives to a stretch of ground: two significant digits. */
export function handWeight(kg: number, units: UnitSystem): string {
  if (units === "metric") return handGrams(kg * 1000);
  const pounds = twoDigits(fromSi(kg, "lb"));
  if (pounds >= 1) return `${decimal(pounds, pounds >= 10 ? 0 : 1)} lb`;
  const ounces = twoDigits(fromSi(kg, "oz"));
  return `${significant(ounces, ounces >= 9.95 ? 0 : 1)} oz`;
}

/** The unit of the plan's weights, and a weight in it, for a CSV column. */
export function csvWeight(units: UnitSystem) {
  const unit = units === "us" ? "lb" : "kg";
  return { unit, of: (kg: number) => fromSi(kg, unit) } as const;
}

/** Decimals after which a number ends, or undefined where it has more than `most`. */
function exactDecimals(value: number, most: number): number | undefined {
  for (let n = 0; n <= most; n++) {
    const scaled = value * 10 ** n;
    if (Math.round(scaled) > 0 && Math.abs(scaled - Math.round(scaled)) <= 1e-7 * scaled) return n;
  }
  return undefined;
}

/**
 * A weight that is on the grower's scale, in the unit that scale shows: with a scale of 0.25 lb `12.25 lb`,
 * of 1 oz `3 lb 4 oz`, of 5 g `1.475 kg` or `475 g`. A weight that is no multiple of the scale falls back to `weight`.
 */
export function scaleWeight(kg: number, scaleKg: number, units: UnitSystem): string {
  const steps = kg / scaleKg;
  if (!(Math.round(steps) >= 1) || Math.abs(steps - Math.round(steps)) > 1e-6 * steps)
    return weight(kg, units);
  const inPounds = () => {
    const decimals = exactDecimals(fromSi(scaleKg, "lb"), 3);
    if (decimals !== undefined) return `${decimal(fromSi(kg, "lb"), decimals)} lb`;
    const ounceDecimals = exactDecimals(fromSi(scaleKg, "oz"), 2);
    return ounceDecimals === undefined ? undefined : poundsAndOunces(kg, ounceDecimals);
  };
  const inGrams = () => {
    const decimals = exactDecimals(scaleKg * 1000, 2);
    if (decimals === undefined) return undefined;
    const kgDecimals = exactDecimals(scaleKg, 3);
    return kg >= 1 && kgDecimals !== undefined
      ? `${decimal(kg, kgDecimals)} kg`
      : `${decimal(kg * 1000, decimals)} g`;
  };
  return (units === "us" ? (inPounds() ?? inGrams()) : (inGrams() ?? inPounds())) ?? weight(kg, units);
}

function poundsAndOunces(kg: number, decimals: number): string {
  const step = 10 ** decimals;
  const ounces = Math.round(fromSi(kg, "oz") * step) / step;
  const pounds = Math.floor(ounces / 16);
  const rest = Math.round((ounces - 16 * pounds) * step) / step;
  const ofOunces = `${decimal(rest, decimals)} oz`;
  if (pounds === 0) return ofOunces;
  return rest > 0 ? `${decimal(pounds, 0)} lb ${ofOunces}` : `${decimal(pounds, 0)} lb`;
}

/** A weight as it is printed on a bag, in whichever unit it is tidy: `50 lb`, `2.5 kg`, `12 oz`. */
export function bagWeight(kg: number, units: UnitSystem): string {
  const candidates = units === "us" ? (["lb", "kg", "oz", "g"] as const) : (["kg", "lb", "g", "oz"] as const);
  for (const unit of candidates) {
    const value = fromSi(kg, unit);
    const decimals = exactDecimals(value, 2);
    if (decimals !== undefined && value >= 1) return `${decimal(value, decimals)} ${unit}`;
  }
  return weight(kg, units);
}

const CURRENCY_SIGNS: Readonly<Record<string, string>> = {
  USD: "$",
  EUR: "€",
  GBP: "£",
  JPY: "¥",
  INR: "₹",
  CAD: "CA$",
  AUD: "A$",
  NZD: "NZ$",
  MXN: "MX$",
  BRL: "R$",
};
/** Currencies that are not divided by a hundred (ISO 4217): not at all, or by a thousand. */
const NO_MINOR_UNIT: ReadonlySet<string> = new Set("JPY KRW CLP ISK VND XAF XOF UGX RWF PYG".split(" "));
const THOUSANDTHS: ReadonlySet<string> = new Set("KWD BHD OMR JOD TND".split(" "));

/** Less money than this is shown as `<$0.000001`. */
const LEAST_MONEY = 1e-6;

/** An amount of money: `$1,234.50`, `CHF 12.00`; a very small one keeps two significant digits: `$0.034`. */
export function money(amount: number, currency: string): string {
  const digits = NO_MINOR_UNIT.has(currency) ? 0 : THOUSANDTHS.has(currency) ? 3 : 2;
  const sign = CURRENCY_SIGNS[currency] ?? `${currency} `;
  const size = Math.abs(amount);
  const enough = decimalsFor(size, digits, LEAST_MONEY);
  const minus = amount < 0 ? "-" : "";
  return enough === undefined
    ? `<${minus}${sign}${plainNumber(LEAST_MONEY)}`
    : `${minus}${sign}${decimal(size, enough)}`;
}

/** What a pound or a kilogram costs, under a head that names the unit: `$0.84`. */
export function moneyPerUnit(perKg: number, currency: string, units: UnitSystem): string {
  return money(units === "us" ? perKg / fromSi(1, "lb") : perKg, currency);
}

/** A price per weight: `$0.84 per lb`. */
export function pricePerWeight(perKg: number, currency: string, units: UnitSystem): string {
  return `${moneyPerUnit(perKg, currency, units)} per ${units === "us" ? "lb" : "kg"}`;
}

/** A length along the row or round a bed: feet or metres. */
export function length(m: number, units: UnitSystem): string {
  const value = units === "us" ? fromSi(m, "ft") : m;
  return `${significant(value, Math.abs(value) >= 99.95 ? 0 : 1)} ${units === "us" ? "ft" : "m"}`;
}

/** The length of row that rates are given for: a foot or a metre, in m. */
export function rowStepM(units: UnitSystem): number {
  return units === "us" ? toSi(1, "ft") : 1;
}

/** The area that rates by the area are given for: 100 square feet or a square metre, in m2. */
export function areaStepM2(units: UnitSystem): number {
  return units === "us" ? toSi(1, "100 sq ft") : 1;
}

/** An area: square feet, acres from half an acre; square metres, hectares from half a hectare. */
export function area(m2: number, units: UnitSystem): string {
  const [small, large] = units === "us" ? (["sq ft", "acre"] as const) : (["m2", "ha"] as const);
  const big = fromSi(m2, large);
  if (big >= 0.5) return `${decimal(big, 2)} ${large === "acre" ? "acres" : large}`;
  const value = fromSi(m2, small);
  return `${significant(value, value >= 9.95 ? 0 : 1)} ${small}`;
}

/** A share of a whole, 0..1, as percent with one decimal: `40.1%`. */
export function percent(fraction: number): string {
  return `${significant(fraction * 100, 1, 0.01)}%`;
}

/** How many of something that a batch lasts for: whole from 10 up and where it is whole anyway, else one decimal. */
export function howMany(count: number): string {
  const whole = Math.abs(count - Math.round(count)) < 1e-9;
  return significant(count, whole || count >= 9.95 ? 0 : 1);
}

/** A day counted from planting, negative before it. */
export function day(value: number): string {
  return `day ${Number.isInteger(value) ? String(value) : plainNumber(value)}`;
}

/** `1 batch`, `3 batches`. */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${decimal(count, 0)} ${count === 1 ? one : many}`;
}

/** `a, b and c`, or `a, b or c`. */
export function listed(items: readonly string[], joint: "and" | "or" = "and"): string {
  return items.length < 2 ? (items[0] ?? "") : `${items.slice(0, -1).join(", ")} ${joint} ${items.at(-1)}`;
}

/** A text as the beginning of a sentence. */
export function capital(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}
