/** What feeds the crop besides the blend: the credits of a plan, and the list of materials they may name. */
import * as z from "zod/mini";
import type { NutrientMap } from "../../model.ts";
import { defined } from "../../optional.ts";
import { type Per, parseQuantity, parseWaterContent } from "../../units.ts";
import { type AnalysisSpec, analysis, analysisValue, density } from "./amendments.ts";
import { type Amounts, amountsOf, sourceText } from "./amounts.ts";
import {
  type Ctx,
  later,
  lazy,
  map,
  optional,
  read,
  remarks,
  report,
  type Schema,
  taken,
  written,
} from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { type CurveSpec, curveSchema, releaseSchema } from "./release.ts";
import { spreadShare } from "./sure.ts";
import {
  ALL,
  day,
  either,
  label,
  MASS,
  type MassOrRate,
  massOrRate,
  per,
  quantity,
  RATE,
  readEither,
  share,
} from "./values.ts";

/** What is spread of a credited material: a weight, a rate, a volume or a depth. */
export interface Spread {
  readonly kind: "mass" | "rate" | "litres" | "depth";
  /** kg, kg/m2, L or m. */
  readonly value: number;
}

/** One `credits:` entry: nutrients as such, or what they are to be worked out from. */
export interface CreditSpec {
  readonly from: string;
  readonly per?: Per;
  readonly day: number;
  readonly release?: CurveSpec;
  /** The credit comes evenly from `day` to this day. */
  readonly until?: number;
  readonly nutrients: readonly ByNutrient<MassOrRate>[];
  readonly spread?: Spread;
  readonly analysis?: NutrientMap;
  readonly densityKgPerL?: number;
  /** A material of the shipped list of credits. */
  readonly material?: string;
  /** Share of the soil's weight. */
  readonly organicMatter?: number;
  /** Nitrogen for each percent of organic matter, kg/m2. */
  readonly nPerPercent?: number;
  readonly water?: { readonly kind: "depth" | "litres"; readonly value: number };
  /** Of the water, kg/L. */
  readonly nitrateN?: number;
  readonly nitrate?: number;
  /** A green manure: its dry matter, and the nitrogen in it as a fraction; absent: that of the material. */
  readonly dryMatter?: MassOrRate;
  readonly dryMatterN?: number;
  /** Standard deviation, as a share of what it brings. */
  readonly varies?: number;
}

const spreadAmount = () =>
  read(
    written("what is spread, for instance `200 lb`, `5 t/ha`, `1 cu yd` or `0.5 in`"),
    (input, ctx): Spread => {
      const mass = parseQuantity(input, "mass", { positive: true });
      if (mass.ok) return { kind: "mass", value: mass.value };
      for (const [dimension, kind] of [
        ["rate", "rate"],
        ["volume", "litres"],
        ["length", "depth"],
      ] as const) {
        const other = parseQuantity(input, dimension, { positive: true });
        if (other.ok) return { kind, value: other.value };
      }
      return taken<never>(
        mass.code === "unit-kind"
          ? {
              ok: false,
              code: "unit-kind",
              given: input,
              wrong: "is not an amount that is spread",
              hint: "a weight, a rate, a volume or a depth: `200 lb`, `5 t/ha`, `1 cu yd`, `0.5 in`",
            }
          : mass,
        ctx,
      );
    },
  );

const WAYS_OF_CREDIT =
  "nutrients (`N: 0.6 lb`), `spread` with `analysis` or `material`, `dry_matter` with `N: 2%` or `material`, `organic_matter`, or `nitrate_n` with `water`";

/** In a credit a nutrient is an amount; the nitrogen of a dry matter is a share of it. */
const amountOrShare = lazy(() =>
  read(
    written("a weight or a rate, for instance `0.6 lb`"),
    (input, ctx): MassOrRate | { readonly kind: "share"; readonly value: number } => {
      const part = parseQuantity(input, "share", ALL);
      return part.ok ? { kind: "share", value: part.value } : readEither(MASS, RATE, {}, input, ctx);
    },
  ),
);

/** The nutrients of a credit: amounts, or beside a dry matter the share of nitrogen in it. */
function creditAmounts(
  input: Readonly<Record<string, unknown>>,
  green: boolean,
  ctx: Ctx,
): Amounts<MassOrRate> & { readonly dryMatterN?: number } {
  const { nutrients, ...per } = amountsOf<z.output<ReturnType<typeof amountOrShare>>>(input, ctx);
  const amounts: ByNutrient<MassOrRate>[] = [];
  let dryMatterN: number | undefined;
  for (const entry of nutrients) {
    const { name, nutrient, value } = entry;
    if (value.kind !== "share") {
      if (green)
        report(ctx, {
          code: "key-conflict",
          path: [name],
          given: name,
          wrong: "is an amount given with `dry_matter`",
          hint: "with a dry matter give the share of nitrogen in it, for instance `N: 2%`; other amounts are a credit of their own",
        });
      else amounts.push({ ...entry, value });
    } else if (green && nutrient === "N") dryMatterN = value.value;
    else
      report(ctx, {
        code: "unit-kind",
        path: [name],
        given: name,
        wrong: "is a share",
        expected: "a weight or a rate",
        hint: green
          ? "of a dry matter only its nitrogen is credited"
          : "a share of nitrogen goes with `dry_matter`: `{dry_matter: 2 ton/acre, N: 2%}`",
      });
  }
  return { ...per, nutrients: amounts, ...defined({ dryMatterN }) };
}

/** A credit is given in one way. */
function checkWays(
  raw: Readonly<Record<string, unknown>>,
  nutrients: readonly ByNutrient<unknown>[],
  ctx: Ctx,
): void {
  const given = (key: string): boolean => raw[key] !== undefined;
  const ways = [
    ...(nutrients.length > 0 ? [nutrients[0]!.name] : []),
    ...["spread", "dry_matter", "organic_matter", "nitrate_n", "nitrate"].filter(given),
  ];
  if (ways.length === 0)
    report(ctx, {
      code: "key-missing",
      wrong: given("water")
        ? "this credit does not say what the water holds"
        : "this credit names no nutrient",
      hint: given("water") ? "add `nitrate_n`, for instance `nitrate_n: 8 mg/L`" : `give ${WAYS_OF_CREDIT}`,
    });
  if (ways.length > 1)
    report(ctx, {
      code: "key-conflict",
      path: [ways[1]!],
      at: "key",
      wrong: `this credit is given in two ways, by \`${ways[0]}\` and by \`${ways[1]}\``,
      hint: "make two credits of it",
    });
}

/** What says nothing by itself has what it needs beside it, and nothing that contradicts it. */
function checkCompanions(raw: Readonly<Record<string, unknown>>, ctx: Ctx): void {
  const given = (key: string): boolean => raw[key] !== undefined;
  const needs = (key: string, other: readonly string[], hint: string): void => {
    if (given(key) && !other.some(given))
      report(ctx, {
        code: "key-missing",
        path: [key],
        at: "key",
        given: key,
        wrong: `is given without ${other.map((o) => `\`${o}\``).join(" or ")}`,
        hint,
      });
  };
  needs(
    "spread",
    ["analysis", "material"],
    "say what it holds: `analysis: {N: 1.5}`, or a shipped `material`",
  );
  needs("dry_matter", ["material", "N"], "say how much nitrogen is in it, for instance `N: 2%`");
  needs("material", ["spread", "dry_matter"], "say how much was spread, for instance `spread: 200 lb`");
  for (const key of ["analysis", "density"])
    needs(key, ["spread"], "say how much was spread, for instance `spread: 200 lb`");
  for (const key of ["nitrate_n", "nitrate"])
    needs(key, ["water"], "say how much water is given, for instance `water: 12 in`");
  needs("n_per_percent", ["organic_matter"], "for instance `organic_matter: 3%`");
  for (const [one, other] of [
    ["analysis", "material"],
    ["release", "until"],
    ["release", "dry_matter"],
    ["until", "dry_matter"],
  ] as const)
    if (given(one) && given(other))
      report(ctx, {
        code: "key-conflict",
        path: [other],
        at: "key",
        given: one,
        wrong: `is given together with \`${other}\``,
        hint: "keep one of the two",
      });
}

/** The days go forward, and what is spread by volume has a density. */
function checkTimeAndVolume(raw: Readonly<Record<string, unknown>>, ctx: Ctx): void {
  const given = (key: string): boolean => raw[key] !== undefined;
  const first = (raw.day as number | undefined) ?? 0;
  if (given("until") && (raw.until as number) <= first)
    report(ctx, {
      code: "range-crossed",
      path: ["until"],
      wrong: `\`until\` is not after day ${first}`,
      hint: "the credit comes evenly from `day` to `until`",
    });
  const spread = raw.spread as Spread | undefined;
  if (
    spread &&
    (spread.kind === "litres" || spread.kind === "depth") &&
    !given("density") &&
    !given("material")
  )
    report(ctx, {
      code: "density-missing",
      path: ["spread"],
      wrong: "what is spread is given by volume, and no density is known",
      hint: "add `density`, for instance `density: 0.6 kg/L`",
    });
}

const waterContent = (expected: string) =>
  read(written(expected), (input, ctx): number => taken(parseWaterContent(input), ctx));

/** One `credits:` entry. */
export const creditSchema = lazy(() =>
  read(
    map(
      {
        from: label("what it comes from"),
        per: z.optional(per()),
        release: z.optional(curveSchema()),
        day: z.optional(day()),
        until: z.optional(day()),
        spread: z.optional(spreadAmount()),
        analysis: z.optional(analysis()),
        density: z.optional(density()),
        material: z.optional(label("a material of the shipped list")),
        dry_matter: z.optional(massOrRate()),
        organic_matter: z.optional(share()),
        n_per_percent: z.optional(quantity("rate")),
        water: z.optional(
          either({ name: "depth", dimension: "length" }, { name: "litres", dimension: "volume" }),
        ),
        nitrate_n: z.optional(waterContent("what the water holds, for instance `8 mg/L`")),
        nitrate: z.optional(waterContent("what the water holds, for instance `35 mg/L`")),
        varies: z.optional(later(spreadShare)),
        ...optional(remarks()),
        ...nutrientKeys(amountOrShare()),
      },
      "a credit such as `{from: compost, per: 1000 sq ft, N: 0.6 lb}`",
    ),
    (input, ctx): CreditSpec => {
      const raw = input as Record<string, unknown>;
      const { per: counted, nutrients, dryMatterN } = creditAmounts(input, raw.dry_matter !== undefined, ctx);
      checkWays(raw, nutrients, ctx);
      checkCompanions(raw, ctx);
      checkTimeAndVolume(raw, ctx);
      const given = (key: string): boolean => raw[key] !== undefined;
      const kept = (from: string, to: string): Record<string, unknown> =>
        given(from) ? { [to]: raw[from] } : {};
      return {
        from: raw.from as string,
        day: (raw.day as number | undefined) ?? 0,
        nutrients,
        ...defined({ per: counted }),
        ...kept("release", "release"),
        ...kept("until", "until"),
        ...kept("spread", "spread"),
        ...(given("analysis") ? { analysis: (raw.analysis as AnalysisSpec).fractions } : {}),
        ...kept("density", "densityKgPerL"),
        ...kept("material", "material"),
        ...kept("organic_matter", "organicMatter"),
        ...kept("n_per_percent", "nPerPercent"),
        ...kept("water", "water"),
        ...kept("nitrate_n", "nitrateN"),
        ...kept("nitrate", "nitrate"),
        ...kept("dry_matter", "dryMatter"),
        ...defined({ dryMatterN }),
        ...kept("varies", "varies"),
      };
    },
  ),
);

/** A published range, as a fraction or a rate. */
export interface Span {
  readonly least: number;
  readonly most: number;
}

const span = (value: Schema<number>, expected: string) =>
  z.union(
    [
      read(value, (one): Span => ({ least: one, most: one })),
      read(map({ min: value, max: value }, expected), (input, ctx): Span => {
        const { min, max } = input as { min: number; max: number };
        if (min > max)
          report(ctx, {
            code: "range-crossed",
            path: ["max"],
            wrong: "`max` is below its `min`",
            hint: "the most is at least the least",
          });
        return { least: min, most: max };
      }),
    ],
    { error: expected },
  );

/** One entry under `credit_sources`. */
export const creditSourceSchema = lazy(() =>
  read(
    map(
      {
        name: label("a name"),
        analysis: map(
          nutrientKeys(
            span(analysisValue(), "a number of percent, or a range such as `{min: 1.5, max: 3.5}`"),
          ),
          "a map of percentages",
        ),
        release: releaseSchema(),
        density: z.optional(density()),
        ...optional(remarks()),
      },
      "a map with `name`, `analysis` and `release`",
    ),
    (input, ctx) => ({
      name: input.name,
      analysis: nutrientsOf<Span>(input.analysis, ctx),
      release: input.release,
      densityKgPerL: input.density,
      source: sourceText(input.source),
    }),
  ),
);

export type CreditSource = z.output<ReturnType<typeof creditSourceSchema>>;

/** The keys of the list of what feeds a crop besides a blend. */
export const creditSourcesShape = lazy(() => ({
  credit_sources: z.record(z.string(), creditSourceSchema(), {
    error: "a map from material to what it holds",
  }),
  soil_organic_matter: read(
    map(
      {
        n_per_percent: span(quantity("rate"), "a rate such as `15 lb/acre`, or a range"),
        ...optional(remarks()),
      },
      "a map such as `{n_per_percent: {min: 10 lb/acre, max: 20 lb/acre}}`",
    ),
    (input) => ({ nPerPercent: input.n_per_percent, source: sourceText(input.source) }),
  ),
  ...remarks(),
}));
