/**
 * Credits: what feeds a crop besides the blend, given as nutrients or worked out from what was spread, from the organic
 * matter of the soil, or from nitrate in the water.
 *
 *     spread        content = weight spread x analysis
 *     organic matter  N = percent of organic matter x N for each percent, by 120 days of 18 C, slower in colder soil
 *     water           N = depth x area x concentration (1 mm on 1 m2 is 1 L), evenly over the season
 *
 * Where a shipped range is used, it counts with its low end: a credit is what the blend will not bring, so too little of
 * it costs money and too much of it costs the crop. A warning gives the whole range.
 */
import { resolve } from "node:path";
import type { Credit, NamedCurve, NutrientMap } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { nearest } from "../problem.ts";
import { namedCurve, type Shelf } from "./amendments.ts";
import { type BedAt, bedAmounts, bedArea, bedKg, checkPer, rateText } from "./bed.ts";
import { type Cursor, openFile } from "./context.ts";
import { notInSeason } from "./faults.ts";
import {
  type CreditSpec,
  creditSchema,
  creditSourceSchema,
  creditSourcesShape,
  type Spread,
} from "./schema/credits.ts";
import type { MassOrRate } from "./schema/values.ts";
import { isRecord } from "./source.ts";

/** Atomic weights of N and O (IUPAC 2021, Prohaska and others 2022): nitrate is N with three O. */
const N_IN_NITRATE = 14.007 / (14.007 + 3 * 15.999);

const CREDITS_FILE = "credits.yaml";

interface Reading {
  readonly at: Cursor;
  readonly one: CreditSpec;
  readonly bed: BedAt;
  readonly shelf: Shelf;
  readonly season: number | undefined;
  /** Whether the plan says how warm the soil is. */
  readonly temperature: boolean;
}

/** Reads a list of credits from its file. */
export function readCreditSources(file: Cursor) {
  return file.readMap(creditSourcesShape(), "a map with `credit_sources`");
}

/** Reads the plan's `credits`, in kg for the bed. */
export function readCredits(plan: Cursor, bed: BedAt, shelf: Shelf, season: number | undefined): Credit[] {
  const temperature = plan.has("soil_temperature");
  return plan
    .at("credits")
    .items("a list such as `- {from: compost, per: 1000 sq ft, N: 0.6 lb}`")
    .flatMap((at) => {
      const one = at.read(creditSchema());
      return one === undefined ? [] : creditsOf({ at, one, bed, shelf, season, temperature });
    });
}

function creditsOf(reading: Reading): Credit[] {
  const { at, one, bed, season, shelf } = reading;
  checkPer(at, one.per, [...one.nutrients.map((e) => e.value), one.spread, one.dry_matter]);
  checkDays(reading);
  const credit = (contentKg: NutrientMap | undefined, release: NamedCurve | undefined): Credit[] =>
    contentKg && release ? [creditOf(one, contentKg, release)] : [];
  const overSeason = (): NamedCurve | undefined =>
    releaseOf(reading, () =>
      season === undefined || season <= one.day ? undefined : evenly(season - one.day),
    );

  if (one.nitrate_n !== undefined || one.nitrate !== undefined) {
    const perL = one.nitrate_n ?? (one.nitrate ?? 0) * N_IN_NITRATE;
    const litres =
      one.water?.kind === "depth" ? times(bedArea(bed), one.water.value * 1000) : one.water?.value;
    const release = overSeason();
    // Nitrate is dissolved already: no season makes its release quicker or slower.
    return credit(
      litres === undefined ? undefined : { N: litres * perL },
      release && { ...release, varies: 0 },
    );
  }
  if (one.organic_matter !== undefined) return fromOrganicMatter(reading, one.organic_matter);
  if (one.dry_matter !== undefined) return fromGreenManure(reading, one.dry_matter);
  if (one.spread && one.material !== undefined) return fromMaterial(reading, one.spread, one.material);
  const release = releaseOf(reading, () => namedCurve(at, { kind: "class", name: "at-once" }, shelf));
  if (one.spread === undefined) return credit(bedAmounts(bed, one), release);
  const kg = spreadKg(reading, one.spread, one.density);
  return credit(kg === undefined ? undefined : scaled(one.analysis ?? {}, kg), release);
}

/** What a credit released before this day is the last season's (`season/season.ts` leaves it out of N, S and B). */
const OLD_DAY = -60;
/** What does not wait in the soil for the next crop. */
const PASSING: readonly Nutrient[] = ["N", "S", "B"];

/** The days of a credit lie in the season, and what is older is said to be left out. */
function checkDays({ at, one, season = Number.POSITIVE_INFINITY }: Reading): void {
  const passing = one.nutrients.length === 0 || one.nutrients.some((e) => PASSING.includes(e.nutrient));
  if (one.day < OLD_DAY && passing)
    at.warn(
      "credit-old",
      `Credit "${one.from}" is from day ${one.day}. What it released of nitrogen, sulfur and boron before day ${OLD_DAY} went to the crop before, or away over the winter, and is left out; phosphorus, potassium, calcium and magnesium count whole.`,
    );
  at.at("day").complain(notInSeason(one.day, season, "such a credit never reaches the crop"));
  if (one.until !== undefined && one.until > season)
    at.at("until").complain({
      code: "day-outside",
      wrong: `day ${one.until} lies after the season's end on day ${season}`,
      hint: "leave `until` out for the whole season",
    });
}

const creditOf = (one: CreditSpec, contentKg: NutrientMap, release: NamedCurve): Credit => {
  const { from, day, varies } = one;
  return { from, day, release, contentKg, ...defined({ varies }) };
};

/** The release that a credit states; else `usual`. */
function releaseOf({ at, one, shelf }: Reading, usual: () => NamedCurve | undefined): NamedCurve | undefined {
  if (one.until !== undefined) {
    const release = evenly(one.until - one.day);
    // What comes with the water on stated days is there then; what a soil releases is in doubt as ever.
    return one.organic_matter === undefined ? { ...release, varies: 0 } : release;
  }
  return one.release === undefined ? usual() : namedCurve(at.at("release"), one.release, shelf);
}

/**
 * Plant-available nitrogen of a green manure, by the nitrogen in its dry matter: 17.5 lb for each percent above 1.5, per
 * short ton (Sullivan and Andrews 2012, Oregon State University PNW 636: little or none at 1.5 %, about 35 lb at 3.5 %,
 * linear between). Below 1.5 % it is negative: nitrogen of the soil is tied up, as under cereals.
 */
const GREEN_MANURE = { perPercent: 17.5 / 2000, none: 0.015, highest: 0.035 } as const;
/** The rules are of fields, whose soil is taken to be this warm; a judgement. */
const FIELD_C = 18;
/** Most of it within 4 to 6 weeks (the same publication): 75 % in 4, 87.5 % in 6. The Q10 is a judgement. */
const GREEN_MANURE_RELEASE: NamedCurve = {
  label: "green manure",
  curve: { kind: "pool", atOnce: 0, later: 1, halfLifeDays: 14, q10: 2, referenceC: FIELD_C },
};

/** Days of soil at `FIELD_C` that the rule for organic matter is for: a season. */
const ORGANIC_MATTER_DAYS = 120;
/** Warm soil may give more than the rule's figure, up to this many times as much. */
const MOST_TIMES = 10;

/**
 * Nitrogen that the soil's organic matter sets free: the rule's figure by 120 days of 18 C soil, as long as the season lasts.
 * Without a soil temperature never more than the rule's figure.
 */
function fromOrganicMatter(reading: Reading, share: number): Credit[] {
  const { one, bed, temperature } = reading;
  const rate = one.n_per_percent ?? shippedPerPercent(reading);
  const area = rate === undefined ? undefined : bedArea(bed);
  if (rate === undefined || area === undefined) return [];
  const kg = share * 100 * rate * area;
  if (one.release !== undefined || one.until !== undefined) {
    const release = releaseOf(reading, () => undefined);
    return release === undefined ? [] : [creditOf(one, { N: kg }, release)];
  }
  const times = temperature ? MOST_TIMES : 1;
  const release = straight("soil organic matter", times * ORGANIC_MATTER_DAYS, 2, FIELD_C);
  return [{ ...creditOf(one, { N: kg * times }, release), ongoing: true }];
}

/** A green manure: what it brings, or ties up, half of it within two weeks in soil of 18 C. */
function fromGreenManure(reading: Reading, dryMatter: MassOrRate): Credit[] {
  const { at, one, bed, season } = reading;
  const nitrogen = one.dryMatterN ?? materialN(reading);
  const dryKg = bedKg(bed, dryMatter, 1, one.per);
  if (nitrogen === undefined || dryKg === undefined || season === undefined || season <= one.day) return [];
  const { perPercent, none, highest } = GREEN_MANURE;
  const kg = dryKg * perPercent * 100 * (nitrogen - none);
  const shown = rateText(bed, Math.abs(kg));
  const percents = `${Number((nitrogen * 100).toPrecision(4))}% nitrogen in its dry matter`;
  const beyond = nitrogen > highest ? ` The publication ends at ${highest * 100}%.` : "";
  const [does, more] =
    kg < 0
      ? [`ties up ${shown} of nitrogen`, ", and the mix brings that much more"]
      : [`makes ${shown} of nitrogen available`, ""];
  const text = `Credit "${one.from}": with ${percents} it ${does} in all, half of it within two weeks in soil of ${FIELD_C} C${more}; Oregon State University PNW 636.${beyond}`;
  at.warn("credit-green-manure", text);
  return [creditOf(one, { N: kg }, GREEN_MANURE_RELEASE)];
}

/** Nitrogen of a shipped material, by the low end of its range. */
function materialN(reading: Reading): number | undefined {
  const { material } = reading.one;
  const found = material === undefined ? undefined : listedMaterial(reading, material);
  if (found === undefined) return undefined;
  const nitrogen = found.source.analysis.find((part) => part.nutrient === "N");
  if (nitrogen === undefined)
    reading.at.at("dry_matter").complainOfKey({
      code: "key-missing",
      wrong: `the shipped list names no nitrogen of \`${material}\``,
      hint: "add the share of nitrogen in its dry matter, for instance `N: 2%`",
    });
  return nitrogen && nitrogen.value.least * nitrogen.factor;
}

const straight = (label: string, days: number, q10: number, referenceC: number): NamedCurve => ({
  label,
  curve: { kind: "points", points: [0, days].map((day, i) => [day, i] as const), q10, referenceC },
});

/** The same from the credit's own day. The season's warmth is not counted again. */
const evenly = (days: number): NamedCurve => straight("evenly", days, 1, 25);

const times = (a: number | undefined, b: number): number | undefined => (a === undefined ? undefined : a * b);

function scaled(analysis: NutrientMap, kg: number): NutrientMap {
  return Object.fromEntries(Object.entries(analysis).map(([n, fraction]) => [n, fraction * kg]));
}

/** What was spread on the whole bed, in kg; undefined where the bed does not say enough (reported). */
function spreadKg({ one, bed }: Reading, { kind, value }: Spread, densityKgPerL = 0): number | undefined {
  // A metre of depth on a square metre is 1000 L.
  if (kind === "depth") return times(bedArea(bed), value * 1000 * densityKgPerL);
  return kind === "litres"
    ? bedKg(bed, { kind: "mass", value: value * densityKgPerL }, 1, one.per ?? { kind: "bed" })
    : bedKg(bed, { kind, value }, 1, one.per);
}

/** A material of the shipped list, by the low end of each range, with a credit for each speed of release. */
function fromMaterial(reading: Reading, spread: Spread, material: string): Credit[] {
  const { at, one, shelf } = reading;
  const found = listedMaterial(reading, material);
  if (found === undefined) return [];
  const { source } = found;
  const density = one.density ?? source.density;
  const lacking = (spread.kind === "litres" || spread.kind === "depth") && density === undefined;
  at.at("spread").complain(
    lacking && {
      code: "density-missing",
      wrong: `a volume of \`${material}\`, whose density is not known`,
      hint: "give its weight, or add `density`, for instance `density: 0.6 kg/L`",
    },
  );
  const kg = lacking ? undefined : spreadKg(reading, spread, density);
  if (kg === undefined) return [];
  const curves = new Map<string, { release: NamedCurve; contentKg: Partial<Record<Nutrient, number>> }>();
  for (const { nutrient, factor, value } of source.analysis) {
    const spec = source.release.nutrients.find((part) => part.nutrient === nutrient)?.value ??
      source.release.other ?? { kind: "class", name: "at-once" };
    const release = releaseOf(reading, () => namedCurve(found.at.at("release"), spec, shelf));
    if (release === undefined) continue;
    const key = JSON.stringify(release);
    const entry = curves.get(key) ?? { release, contentKg: {} };
    entry.contentKg[nutrient] = value.least * factor * kg;
    curves.set(key, entry);
  }
  const ranges = source.analysis
    .map(({ name, value }) => `${name} ${percents(value.least, value.most)}`)
    .join(", ");
  const text = `Credit "${one.from}": ${rateText(reading.bed, kg)} of ${source.name}, percent ${ranges}, each counted with its low end; ${source.source}.`;
  at.warn("credit-range", text);
  return [...curves.values()].map(({ contentKg, release }) => creditOf(one, contentKg, release));
}

function listedMaterial({ at }: Reading, material: string) {
  const sources = shippedSources(at)?.at("credit_sources");
  const listed = sources?.written();
  if (sources === undefined || !isRecord(listed)) return undefined;
  const known = Object.keys(listed);
  if (!known.includes(material))
    return at.at("material").complain({
      code: "choice-unknown",
      wrong: `the shipped list of credits has no \`${material}\``,
      near: nearest(material, known),
      hint: `it has ${known.join(", ")}; or give \`analysis\` in place of \`material\``,
    });
  const here = sources.at(material);
  const source = here.read(creditSourceSchema());
  return source && { source, at: here };
}

function percents(least: number, most: number): string {
  const text = (fraction: number): string => String(Number((fraction * 100).toPrecision(4)));
  return least === most ? text(least) : `${text(least)} to ${text(most)}`;
}

/** The shipped range of nitrogen for each percent of organic matter, by its low end, in kg/m2. */
function shippedPerPercent({ at, one, bed }: Reading): number | undefined {
  const sources = shippedSources(at);
  const range = sources && readCreditSources(sources).soil_organic_matter;
  if (range === undefined) return undefined;
  const { least, most } = range.n_per_percent;
  const area = bed.measures.areaM2;
  if (area !== undefined)
    at.warn(
      "credit-range",
      `Credit "${one.from}": ${rateText(bed, least * area)} to ${rateText(bed, most * area)} of nitrogen for each percent of organic matter, counted with the low end; ${range.source}.`,
    );
  return least;
}

function shippedSources({ loading }: Cursor): Cursor | undefined {
  return openFile(loading, resolve(loading.where.recipesDir, CREDITS_FILE));
}
