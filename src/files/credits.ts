/**
 * Credits: what feeds a crop besides the blend, given as nutrients or worked out from what was spread, from the organic
 * matter of the soil, or from nitrate in the water.
 *
 *     spread        content = weight spread x analysis
 *     organic matter  N = percent of organic matter x N for each percent, evenly over the season
 *     water         N = depth x area x concentration (1 mm on 1 m2 is 1 L), evenly over the season
 *
 * Where a shipped range is used, it counts with its low end: a credit is what the blend will not bring, so too little of
 * it costs money and too much of it costs the crop. A warning gives the whole range.
 */
import { resolve } from "node:path";
import type { Credit, NamedCurve, NutrientMap } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { nearest } from "../problem.ts";
import { type Classes, namedCurve } from "./amendments.ts";
import { type BedAt, bedAmounts, bedArea, bedKg } from "./bed.ts";
import { complain, type Loading, openFile, warn } from "./context.ts";
import type { Read } from "./schema/base.ts";
import {
  type CreditSource,
  type CreditSpec,
  creditSchema,
  creditSourceSchema,
  creditSourcesShape,
  type Spread,
} from "./schema/credits.ts";
import { itemsOf, readMap, readValue } from "./schema/read.ts";
import type { MassOrRate } from "./schema/values.ts";
import { rateText } from "./soil-test.ts";
import { isRecord, type Path, type Tree, valueAt } from "./source.ts";

type Sources = Read<ReturnType<typeof creditSourcesShape>>;

/** Atomic weights of N and O (IUPAC 2021, Prohaska and others 2022): nitrate is N with three O. */
const N_IN_NITRATE = 14.007 / (14.007 + 3 * 15.999);

/** Where the list of credits ships, in the folder of recipes. */
const CREDITS_FILE = "credits.yaml";

/** What reading one list of credits needs. */
interface Reading {
  readonly loading: Loading;
  readonly own: Tree;
  readonly at: BedAt;
  readonly classes: Classes;
  readonly season: number | undefined;
  readonly units: "us" | "metric";
}

/** Reads a list of credits from its file; problems go to `loading`. */
export function readCreditSources(loading: Loading, tree: Tree): Sources {
  return readMap(creditSourcesShape(), tree, [], loading.problems, "a map with `credit_sources`");
}

/** Reads the plan's `credits`, in kg for the bed. */
export function readCredits(
  loading: Loading,
  own: Tree,
  at: BedAt,
  classes: Classes,
  season: number | undefined,
  units: "us" | "metric",
): Credit[] {
  const raw =
    itemsOf(
      own,
      ["credits"],
      loading.problems,
      "a list such as `- {from: compost, per: 1000 sq ft, N: 0.6 lb}`",
    ) ?? [];
  const reading: Reading = { loading, own, at, classes, season, units };
  return [...raw.keys()].flatMap((i) => {
    const path: Path = ["credits", i];
    const one = readValue(creditSchema(), own, path, loading.problems);
    return one === undefined ? [] : creditsOf(reading, one, path);
  });
}

function creditsOf(reading: Reading, one: CreditSpec, path: Path): Credit[] {
  const { loading, own, at, season, classes } = reading;
  const weights =
    one.nutrients.some((e) => e.value.kind === "mass") ||
    one.spread?.kind === "mass" ||
    one.dryMatter?.kind === "mass";
  if (one.per === undefined && weights)
    complain(loading, own, {
      code: "key-missing",
      path,
      wrong: "these weights do not say what they are counted per",
      hint: "add `per`: `plant`, `bed`, or an area such as `1000 sq ft` or `acre`",
    });
  const late = (key: "day" | "until", day: number, hint: string): void => {
    if (season === undefined || day < season || (key === "until" && day <= season)) return;
    complain(loading, own, {
      code: "day-outside",
      path: [...path, key],
      wrong:
        key === "day"
          ? `day ${day} is not before the season's end on day ${season}`
          : `day ${day} lies after the season's end on day ${season}`,
      hint,
    });
  };
  late("day", one.day, "such a credit never reaches the crop");
  if (one.until !== undefined) late("until", one.until, "leave `until` out for the whole season");
  const { from, day } = one;
  const spreadOf = variesOf(one);
  const credit = (contentKg: NutrientMap, release: NamedCurve): Credit => ({
    from,
    day,
    release,
    contentKg,
    ...spreadOf,
  });
  const asked = (): NamedCurve | undefined =>
    one.until === undefined
      ? namedCurve(
          loading,
          own,
          [...path, "release"],
          one.release ?? { kind: "class", name: "at-once" },
          classes,
        )
      : evenly(one.until - day);
  const overSeason = (): NamedCurve | undefined =>
    one.release === undefined && one.until === undefined
      ? season === undefined || season <= day
        ? undefined
        : evenly(season - day)
      : asked();

  if (one.nitrateN !== undefined || one.nitrate !== undefined) {
    const perL = one.nitrateN ?? (one.nitrate ?? 0) * N_IN_NITRATE;
    const litres =
      one.water?.kind === "depth" ? times(bedArea(loading, at), one.water.value * 1000) : one.water?.value;
    const release = overSeason();
    if (litres === undefined || release === undefined) return [];
    // Nitrate is dissolved already: no season makes its release quicker or slower.
    return [credit({ N: litres * perL }, { ...release, varies: 0 })];
  }
  if (one.organicMatter !== undefined) {
    const release = overSeason();
    const rate = one.nPerPercent ?? shippedPerPercent(reading, one);
    const area = rate === undefined ? undefined : bedArea(loading, at);
    if (rate === undefined || area === undefined || release === undefined) return [];
    return [credit({ N: one.organicMatter * 100 * rate * area }, release)];
  }
  if (one.dryMatter !== undefined) return fromGreenManure(reading, one, one.dryMatter, path);
  if (one.spread === undefined) {
    const release = asked();
    const amounts = { nutrients: one.nutrients, ...(one.per ? { per: one.per } : {}) };
    const contentKg = bedAmounts(loading, amounts, at);
    return release ? [credit(contentKg, release)] : [];
  }
  if (one.material !== undefined) return fromMaterial(reading, one, one.spread, one.material, path);
  const kg = spreadKg(reading, one, one.spread, one.densityKgPerL);
  const release = asked();
  if (kg === undefined || release === undefined) return [];
  return [credit(scaled(one.analysis ?? {}, kg), release)];
}

/**
 * Plant-available nitrogen of a green manure, by the nitrogen in its dry matter: 17.5 lb for each percent above 1.5, per
 * short ton (Sullivan and Andrews 2012, Oregon State University PNW 636: little or none at 1.5 %, about 35 lb at 3.5 %,
 * linear between). Below 1.5 % it is negative: nitrogen of the soil is tied up, as under cereals.
 */
const GREEN_MANURE = { perPercent: 17.5 / 2000, none: 0.015, highest: 0.035 } as const;
/** Most of it within 4 to 6 weeks, half within 3 in warm soil (the same publication); the Q10 is a judgement. */
const GREEN_MANURE_RELEASE: NamedCurve = {
  label: "green manure",
  curve: { kind: "pool", atOnce: 0, later: 1, halfLifeDays: 21, q10: 2, referenceC: 25 },
};

/** A green manure: what it brings by the season's end, or ties up, and half of it within three weeks in warm soil. */
function fromGreenManure(reading: Reading, one: CreditSpec, dryMatter: MassOrRate, path: Path): Credit[] {
  const { loading, at, season } = reading;
  const nitrogen = one.dryMatterN ?? materialN(reading, one, path);
  const dryKg = bedKg(loading, dryMatter, 1, one.per, at);
  if (nitrogen === undefined || dryKg === undefined || season === undefined || season <= one.day) return [];
  const { perPercent, none, highest } = GREEN_MANURE;
  const kg = dryKg * perPercent * 100 * (nitrogen - none);
  const shown = rateText(Math.abs(kg), at, reading.units);
  const percents = `${Number((nitrogen * 100).toPrecision(4))}% nitrogen in its dry matter`;
  const beyond = nitrogen > highest ? ` The publication ends at ${highest * 100}%.` : "";
  warn(
    loading,
    "credit-green-manure",
    kg < 0
      ? `Credit "${one.from}": with ${percents} it ties up ${shown} of nitrogen by the season's end, and the mix brings that much more; Oregon State University PNW 636.`
      : `Credit "${one.from}": with ${percents} it makes ${shown} of nitrogen available by the season's end; Oregon State University PNW 636.${beyond}`,
  );
  return [
    {
      from: one.from,
      day: one.day,
      release: GREEN_MANURE_RELEASE,
      contentKg: { N: kg },
      ...variesOf(one),
      allBySeasonEnd: true,
    },
  ];
}

/** Nitrogen of a shipped material, by the low end of its range. */
function materialN(reading: Reading, { material }: CreditSpec, path: Path): number | undefined {
  const found = material === undefined ? undefined : listedMaterial(reading, material, path);
  if (found === undefined) return undefined;
  const nitrogen = found.source.analysis.find((part) => part.nutrient === "N");
  if (nitrogen === undefined)
    complain(reading.loading, reading.own, {
      code: "key-missing",
      path: [...path, "dry_matter"],
      at: "key",
      wrong: `the shipped list names no nitrogen of \`${material}\``,
      hint: "add the share of nitrogen in its dry matter, for instance `N: 2%`",
    });
  return nitrogen && nitrogen.value.least * nitrogen.factor;
}

/** What a file says of how far a credit varies. */
function variesOf({ varies }: CreditSpec): { varies?: number } {
  return varies === undefined ? {} : { varies };
}

/** In equal parts a day, from the credit's own day. The season's warmth is not counted again. */
function evenly(days: number): NamedCurve {
  const points = [
    [0, 0],
    [days, 1],
  ] as const;
  return { label: "evenly", curve: { kind: "points", points, q10: 1, referenceC: 25 } };
}

const times = (a: number | undefined, b: number): number | undefined => (a === undefined ? undefined : a * b);

function scaled(analysis: NutrientMap, kg: number): NutrientMap {
  return Object.fromEntries(Object.entries(analysis).map(([n, fraction]) => [n, fraction * kg]));
}

/** No one spreads a deeper layer than this, 12 in; a yard of compost is a cubic yard. */
const DEEP_M = 0.3048;

/** What was spread on the whole bed, in kg; undefined where the bed does not say enough (reported). */
function spreadKg(
  { loading, at }: Reading,
  one: CreditSpec,
  spread: Spread,
  densityKgPerL: number | undefined,
): number | undefined {
  switch (spread.kind) {
    case "mass":
    case "rate":
      return bedKg(loading, { kind: spread.kind, value: spread.value }, 1, one.per, at);
    case "depth":
      if (spread.value > DEEP_M)
        warn(
          loading,
          "depth-suspect",
          `Credit "${one.from}": what is spread is read as a layer ${Number((spread.value / 0.0254).toPrecision(3))} in (${Number(spread.value.toPrecision(3))} m) deep. If a volume is meant, write it as one: \`2 cu yd\`.`,
        );
      // A metre of depth on a square metre is 1000 L.
      return times(bedArea(loading, at), spread.value * 1000 * (densityKgPerL ?? 0));
    case "litres": {
      const kg = spread.value * (densityKgPerL ?? 0);
      return one.per === undefined ? kg : bedKg(loading, { kind: "mass", value: kg }, 1, one.per, at);
    }
  }
}

/** A material of the shipped list, by the low end of each range, with a credit for each speed of release. */
function fromMaterial(
  reading: Reading,
  one: CreditSpec,
  spread: Spread,
  material: string,
  path: Path,
): Credit[] {
  const { loading, own, classes } = reading;
  const found = listedMaterial(reading, material, path);
  if (found === undefined) return [];
  const { source, tree, at } = found;
  const density = one.densityKgPerL ?? source.densityKgPerL;
  if ((spread.kind === "litres" || spread.kind === "depth") && density === undefined) {
    complain(loading, own, {
      code: "density-missing",
      path: [...path, "spread"],
      wrong: `a volume of \`${material}\`, whose density is not known`,
      hint: "give its weight, or add `density`, for instance `density: 0.6 kg/L`",
    });
    return [];
  }
  const kg = spreadKg(reading, one, spread, density);
  if (kg === undefined) return [];
  const curves = new Map<string, { release: NamedCurve; contentKg: Partial<Record<Nutrient, number>> }>();
  for (const { nutrient, factor, value } of source.analysis) {
    const spec = one.release ??
      source.release.byNutrient.find((part) => part.nutrient === nutrient)?.value ??
      source.release.other ?? { kind: "class", name: "at-once" };
    const release =
      one.until === undefined
        ? namedCurve(
            loading,
            one.release ? own : tree,
            one.release ? [...path, "release"] : [...at, "release"],
            spec,
            classes,
          )
        : evenly(one.until - one.day);
    if (release === undefined) continue;
    const key = JSON.stringify(release);
    const entry = curves.get(key) ?? { release, contentKg: {} };
    entry.contentKg[nutrient] = value.least * factor * kg;
    curves.set(key, entry);
  }
  const ranges = source.analysis
    .map(({ name, value }) => `${name} ${percents(value.least, value.most)}`)
    .join(", ");
  const rate = rateText(kg, reading.at, reading.units);
  warn(
    loading,
    "credit-range",
    `Credit "${one.from}": ${rate} of ${source.name}, percent ${ranges}, each counted with its low end; ${source.source}.`,
  );
  const spreadOf = variesOf(one);
  return [...curves.values()].map((entry) => ({ from: one.from, day: one.day, ...entry, ...spreadOf }));
}

/** An entry of the shipped list of credits, or undefined where it has none (reported). */
function listedMaterial(
  reading: Reading,
  material: string,
  path: Path,
): { readonly source: CreditSource; readonly tree: Tree; readonly at: Path } | undefined {
  const { loading, own } = reading;
  const tree = shippedSources(reading);
  const listed = tree && valueAt(tree.root, ["credit_sources"]);
  if (tree === undefined || !isRecord(listed)) return undefined;
  if (!Object.hasOwn(listed, material)) {
    const known = Object.keys(listed);
    const near = nearest(material, known);
    complain(loading, own, {
      code: "choice-unknown",
      path: [...path, "material"],
      wrong: `the shipped list of credits has no \`${material}\``,
      near,
      hint: `it has ${known.join(", ")}; or give \`analysis\` in place of \`material\``,
    });
    return undefined;
  }
  const at: Path = ["credit_sources", material];
  const source = readValue(creditSourceSchema(), tree, at, loading.problems);
  return source && { source, tree, at };
}

function percents(least: number, most: number): string {
  const text = (fraction: number): string => String(Number((fraction * 100).toPrecision(4)));
  return least === most ? text(least) : `${text(least)} to ${text(most)}`;
}

/** The shipped range of nitrogen for each percent of organic matter, by its low end, in kg/m2. */
function shippedPerPercent(reading: Reading, one: CreditSpec): number | undefined {
  const { loading, at, units } = reading;
  const tree = shippedSources(reading);
  const range = tree && readCreditSources(loading, tree).soil_organic_matter;
  if (range === undefined) return undefined;
  const { least, most } = range.nPerPercent;
  const area = at.bed.areaM2;
  if (area !== undefined)
    warn(
      loading,
      "credit-range",
      `Credit "${one.from}": ${rateText(least * area, at, units)} to ${rateText(most * area, at, units)} of nitrogen for each percent of organic matter, counted with the low end; ${range.source}.`,
    );
  return least;
}

function shippedSources({ loading }: Reading): Tree | undefined {
  return openFile(loading, resolve(loading.where.recipesDir, CREDITS_FILE));
}
