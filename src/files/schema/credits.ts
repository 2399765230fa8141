/** What feeds the crop besides the blend: the credits of a plan, and the list of materials they may name. */
import * as z from "zod/mini";
import { outOfRange, type Reading } from "../../numerals.ts";
import { parseWaterContent } from "../../units.ts";
import { crossed } from "../faults.ts";
import { analysis, analysisValue, density } from "./amendments.ts";
import { sourceText } from "./amounts.ts";
import * as s from "./base.ts";
import { type ByNutrient, mapWithNutrients, nutrientKeys, nutrientMap } from "./nutrients.ts";
import { curveSchema, releaseSchema } from "./release.ts";
import { spreadShare } from "./sure.ts";
import * as v from "./values.ts";

/** What is spread of a credited material: a weight, a rate, a volume or a depth, in kg, kg/m2, L or m. */
export type Spread = v.OfKind<keyof typeof SPREAD_KINDS>;
const SPREAD_KINDS = { mass: "mass", rate: "rate", litres: "volume", depth: "length" } as const;

/** Six inches: no one spreads a deeper layer. */
const DEEPEST_M = 0.1524;

/** A layer that is no slip: a yard of compost is a cubic yard. */
function depthOf(layer: Spread, input: string | number): Reading<Spread> {
  const [, count] = /^(.*?)\s*(?:yds?|yards?)\.?$/i.exec(String(input).trim()) ?? [];
  if (count !== undefined)
    return outOfRange(
      String(input),
      "is a length, and compost by the yard is a volume",
      `write \`${count} cu yd\`, or a depth in inches such as \`0.5 in\``,
    );
  if (layer.value <= DEEPEST_M * (1 + 1e-9)) return { ok: true, value: layer };
  return outOfRange(
    String(input),
    "is a layer deeper than anyone spreads",
    "a depth is at most `6 in` (15 cm); write a volume as one, for instance `2 cu yd`",
  );
}

function parseSpread(input: string | number): Reading<Spread> {
  const reading = v.firstKind(SPREAD_KINDS, { positive: true }, input);
  if (reading.ok) return reading.value.kind === "depth" ? depthOf(reading.value, input) : reading;
  const [asMass] = reading.faults;
  return asMass!.code === "unit-kind"
    ? {
        ok: false,
        code: "unit-kind",
        given: input,
        wrong: "is not an amount that is spread",
        hint: "a weight, a rate, a volume or a depth: `200 lb`, `5 t/ha`, `1 cu yd`, `0.5 in`",
      }
    : asMass!;
}

/** In a credit a nutrient is an amount; the nitrogen of a dry matter is a share of it. */
function parseAmountOrShare(input: string | number): Reading<v.MassOrRate | v.OfKind<"share">> {
  const part = v.firstKind({ share: "share" }, v.ALL, input);
  return part.ok ? part : v.parseEither(v.MASS_OR_RATE, {}, input);
}

const creditShape = s.lazy(() => ({
  from: v.label("what it comes from"),
  per: v.per(),
  release: curveSchema(),
  day: v.day(),
  /** The credit comes evenly from `day` to this day. */
  until: v.day(),
  spread: s.parsed("what is spread, for instance `200 lb`, `5 t/ha`, `1 cu yd` or `0.5 in`", parseSpread),
  analysis: analysis(),
  density: density(),
  /** A material of the shipped list of credits. */
  material: v.label("a material of the shipped list"),
  /** Of a green manure. */
  dry_matter: v.massOrRate(),
  /** Share of the soil's weight. */
  organic_matter: v.share(),
  /** Nitrogen for each percent of organic matter, kg/m2. */
  n_per_percent: v.quantity("rate"),
  water: v.either({ depth: "length", litres: "volume" }),
  /** Of the water, kg/L. */
  nitrate_n: s.parsed("what the water holds, for instance `8 mg/L`", parseWaterContent),
  nitrate: s.parsed("what the water holds, for instance `35 mg/L`", parseWaterContent),
  /** Standard deviation, as a share of what it brings. */
  varies: s.later(spreadShare),
  ...s.remarks(),
  ...nutrientKeys(s.parsed("a weight or a rate, for instance `0.6 lb`", parseAmountOrShare)),
}));

const writtenCredit = s.lazy(() =>
  mapWithNutrients(creditShape(), "a credit such as `{from: compost, per: 1000 sq ft, N: 0.6 lb}`", ["from"]),
);
type WrittenCredit = z.output<ReturnType<typeof writtenCredit>>;

function checkNutrients({ nutrients, dry_matter }: WrittenCredit, ctx: s.Ctx): void {
  for (const { name, nutrient, value } of nutrients)
    if (value.kind !== "share") {
      if (dry_matter !== undefined)
        s.report(ctx, {
          code: "key-conflict",
          path: [name],
          given: name,
          wrong: "is an amount given with `dry_matter`",
          hint: "with a dry matter give the share of nitrogen in it, for instance `N: 2%`; other amounts are a credit of their own",
        });
    } else if (dry_matter === undefined || nutrient !== "N")
      s.report(ctx, {
        code: "unit-kind",
        path: [name],
        given: name,
        wrong: "is a share",
        expected: "a weight or a rate",
        hint:
          dry_matter === undefined
            ? "a share of nitrogen goes with `dry_matter`: `{dry_matter: 2 ton/acre, N: 2%}`"
            : "of a dry matter only its nitrogen is credited",
      });
}

const WAYS = ["spread", "dry_matter", "organic_matter", "nitrate_n", "nitrate"] as const;
const WAYS_OF_CREDIT =
  "nutrients (`N: 0.6 lb`), `spread` with `analysis` or `material`, `dry_matter` with `N: 2%` or `material`, `organic_matter`, or `nitrate_n` with `water`";

function checkWays(credit: WrittenCredit, ctx: s.Ctx): void {
  const amount = credit.nutrients.find(({ value }) => value.kind !== "share");
  const ways = [
    ...(amount === undefined || credit.dry_matter !== undefined ? [] : [amount.name]),
    ...WAYS.filter((key) => credit[key] !== undefined),
  ];
  if (ways.length === 0)
    s.report(ctx, {
      code: "key-missing",
      ...(credit.water === undefined
        ? { wrong: "this credit names no nutrient", hint: `give ${WAYS_OF_CREDIT}` }
        : {
            wrong: "this credit does not say what the water holds",
            hint: "add `nitrate_n`, for instance `nitrate_n: 8 mg/L`",
          }),
    });
  if (ways.length > 1)
    s.report(ctx, {
      code: "key-conflict",
      path: [ways[1]!],
      at: "key",
      wrong: `this credit is given in two ways, by \`${ways[0]}\` and by \`${ways[1]}\``,
      hint: "make two credits of it",
    });
}

const SPREAD_NEEDED = "say how much was spread, for instance `spread: 200 lb`";
const WATER_NEEDED = "say how much water is given, for instance `water: 12 in`";
const TIES: s.Ties = {
  needs: [
    ["spread", ["analysis", "material"], "say what it holds: `analysis: {N: 1.5}`, or a shipped `material`"],
    ["dry_matter", ["material", "N"], "say how much nitrogen is in it, for instance `N: 2%`"],
    ["material", ["spread", "dry_matter"], SPREAD_NEEDED],
    ["analysis", ["spread"], SPREAD_NEEDED],
    ["density", ["spread"], SPREAD_NEEDED],
    ["nitrate_n", ["water"], WATER_NEEDED],
    ["nitrate", ["water"], WATER_NEEDED],
    ["n_per_percent", ["organic_matter"], "for instance `organic_matter: 3%`"],
  ],
  excludes: [
    ["analysis", ["material"]],
    ["release", ["until", "dry_matter"]],
    ["until", ["dry_matter"]],
  ],
};

/** The days go forward, and what is spread by volume has a density. */
function checkTimeAndVolume({ day = 0, until, spread, density, material }: WrittenCredit, ctx: s.Ctx): void {
  if (until !== undefined && until <= day)
    s.report(ctx, {
      code: "range-crossed",
      path: ["until"],
      wrong: `\`until\` is not after day ${day}`,
      hint: "the credit comes evenly from `day` to `until`",
    });
  const byVolume = spread?.kind === "litres" || spread?.kind === "depth";
  if (byVolume && density === undefined && material === undefined)
    s.report(ctx, {
      code: "density-missing",
      path: ["spread"],
      wrong: "what is spread is given by volume, and no density is known",
      hint: "add `density`, for instance `density: 0.6 kg/L`",
    });
}

/** One `credits:` entry. */
export const creditSchema = s.lazy(() =>
  s.read(writtenCredit(), (credit, ctx) => {
    checkNutrients(credit, ctx);
    checkWays(credit, ctx);
    const given = (key: string): boolean =>
      Object.hasOwn(credit, key) || credit.nutrients.some((entry) => entry.name === key);
    s.reportAll(ctx, s.untied(TIES, given));
    checkTimeAndVolume(credit, ctx);
    const { day = 0, dry_matter, nutrients } = credit;
    return {
      ...credit,
      day,
      nutrients: dry_matter ? [] : (nutrients as readonly ByNutrient<v.MassOrRate>[]),
      /** The share of nitrogen in a green manure; absent: that of the material. */
      dryMatterN: dry_matter && nutrients.find((entry) => entry.nutrient === "N")?.value.value,
    };
  }),
);

/** A credit as the plan gives it: nutrients as such, or what they are to be worked out from. */
export type CreditSpec = z.output<ReturnType<typeof creditSchema>>;

/** A published range, as a fraction or a rate. */
export interface Span {
  readonly least: number;
  readonly most: number;
}

const span = (value: s.Schema<number>, expected: string) =>
  z.union(
    [
      s.read(value, (one): Span => ({ least: one, most: one })),
      s.read(s.bareMap({ min: value, max: value }, expected, ["min", "max"]), ({ min, max }, ctx): Span => {
        if (min > max) s.report(ctx, { ...crossed("`max`"), path: ["max"] });
        return { least: min, most: max };
      }),
    ],
    { error: expected },
  );

/** One entry under `credit_sources`. */
export const creditSourceSchema = s.lazy(() =>
  s.read(
    s.map(
      {
        name: v.label("a name"),
        analysis: nutrientMap(
          span(analysisValue(), "a number of percent, or a range such as `{min: 1.5, max: 3.5}`"),
          "a map of percentages",
        ),
        release: releaseSchema(),
        density: density(),
      },
      "a map with `name`, `analysis` and `release`",
      ["name", "analysis", "release"],
    ),
    (entry) => ({ ...entry, source: sourceText(entry.source) }),
  ),
);

/** The keys of the list of what feeds a crop besides a blend. */
export const creditSourcesShape = s.lazy(() => ({
  credit_sources: s.freeMap(creditSourceSchema(), "a map from material to what it holds"),
  soil_organic_matter: s.read(
    s.map(
      { n_per_percent: span(v.quantity("rate"), "a rate such as `15 lb/acre`, or a range") },
      "a map such as `{n_per_percent: {min: 10 lb/acre, max: 20 lb/acre}}`",
      ["n_per_percent"],
    ),
    (entry) => ({ ...entry, source: sourceText(entry.source) }),
  ),
  ...s.remarks(),
}));
