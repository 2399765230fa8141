/**
 * The files as people write them: which keys there are and what each may hold. The only door to the zod package.
 *
 * Quantities become SI numbers right here, so that a fault carries the path of its value. Schemas are built when first
 * needed and kept, since a run needs only a few of them. The same shapes give the JSON Schemas for editors.
 */
import * as z from "zod/mini";
import { MATERIAL_KINDS, type NutrientMap, type Points } from "../model.ts";
import { NUTRIENT_NAMES, type Nutrient, readNutrient } from "../nutrients.ts";
import { nearest, type Problem } from "../problem.ts";
import {
  DIMENSION_WORDS,
  type Dimension,
  type Per,
  type PriceChange,
  parseDay,
  parseNumber,
  parsePer,
  parsePriceChange,
  parseQuantity,
  parseSoilContent,
  parseWaterContent,
  type QuantityFault,
  type QuantityRules,
  type SoilContent,
} from "../units.ts";
import { CAUTION_THRESHOLDS, type ThresholdCode } from "./caution-thresholds.ts";
import type { ProblemCode } from "./codes.ts";
import { isRecord, type Path, problemAt, type Tree, valueAt } from "./source.ts";

// Compiling validators pays off after thousands of parses; a run makes a few.
z.config({ jitless: true });

type Ctx = z.core.ParsePayload<unknown>;
type Schema<T = unknown> = z.core.$ZodType<T>;
export type Shape = Readonly<Record<string, Schema>>;
/** What a shape gives: keys that were absent, or wrong and reported, are absent. */
export type Read<S extends Shape> = { -readonly [K in keyof S]?: z.output<S[K]> };

const lazy = <T>(make: () => T): (() => T) => {
  let made: T | undefined;
  return () => {
    made ??= make();
    return made;
  };
};

/** Reports a fault from inside a transform, with its code and remedy beside the message. */
function report(
  ctx: Ctx,
  code: ProblemCode,
  message: string,
  hint?: string,
  path: Path = [],
  atKey = false,
): void {
  ctx.issues.push({
    code: "custom",
    input: undefined,
    message,
    path: [...path],
    params: { code, hint, atKey },
  });
}

function taken<T>(
  read: { readonly ok: true; readonly value: T } | QuantityFault,
  ctx: Ctx,
  path: Path = [],
): T {
  if (read.ok) return read.value;
  report(ctx, read.code, read.message, read.hint, path);
  return z.NEVER;
}

/** A schema that is built only when a file has its key, or for JSON Schema. */
const later = <S extends Schema>(make: () => S) => z.lazy(make);

/** A schema whose value is read further by a function, which may report faults. */
const read = <S extends Schema, T>(schema: S, reader: (input: z.output<S>, ctx: Ctx) => T) =>
  z.pipe(
    schema,
    z.transform<z.output<S>, T>(reader as (input: z.output<S>, ctx: Ctx) => T),
  ) as unknown as z.core.$ZodType<T, z.input<S>>;

/** Text or a number, which a transform then reads; `expected` completes "... is needed here". */
const written = (expected: string) => z.union([z.string(), z.number()], { error: expected });

const quantity = (dimension: Dimension, rules: QuantityRules = {}) =>
  read(
    written(
      `${DIMENSION_WORDS[dimension].noun} with its unit, for instance \`${DIMENSION_WORDS[dimension].example}\`,`,
    ),
    (input, ctx): number => taken(parseQuantity(input, dimension, rules), ctx),
  );

const ALL: QuantityRules = { most: { value: 1, text: "`100%`" } };
const share = (rules: QuantityRules = ALL) => quantity("share", rules);

/** A quantity of either of two kinds. */
function either<A extends string, B extends string>(
  first: { readonly name: A; readonly dimension: Dimension },
  second: { readonly name: B; readonly dimension: Dimension },
  rules: QuantityRules = {},
) {
  const nouns = `${DIMENSION_WORDS[first.dimension].noun} or ${DIMENSION_WORDS[second.dimension].noun}`;
  const examples = `\`${DIMENSION_WORDS[first.dimension].example}\` or \`${DIMENSION_WORDS[second.dimension].example}\``;
  return read(
    written(`${nouns}, for instance ${examples},`),
    (input, ctx): { readonly kind: A | B; readonly value: number } => {
      const one = parseQuantity(input, first.dimension, rules);
      if (one.ok) return { kind: first.name, value: one.value };
      const two = parseQuantity(input, second.dimension, rules);
      if (two.ok) return { kind: second.name, value: two.value };
      if (one.code === "unit-kind" && two.code !== "unit-kind") return taken<never>(two, ctx);
      if (one.code === "unit-kind" || one.code === "unit-missing") {
        const found = one.message.slice(0, one.message.indexOf(";"));
        const amount = one.code === "unit-missing" ? String(input).trim() : undefined;
        const fitting = amount === undefined ? examples : examples.replace(/`[\d.]+/g, `\`${amount}`);
        report(ctx, one.code, `${found}; ${nouns} is needed here`, `for instance ${fitting}`);
        return z.NEVER;
      }
      return taken<never>(one, ctx);
    },
  );
}
const massOrVolume = (rules: QuantityRules = {}) =>
  either({ name: "kg", dimension: "mass" }, { name: "litres", dimension: "volume" }, rules);
const massOrRate = lazy(() =>
  either({ name: "mass", dimension: "mass" }, { name: "rate", dimension: "rate" }),
);
export type MassOrVolume = { readonly kind: "kg" | "litres"; readonly value: number };
export type MassOrRate = { readonly kind: "mass" | "rate"; readonly value: number };

interface NumberRules {
  readonly least?: number;
  readonly above?: number;
  readonly most?: number;
  readonly whole?: boolean;
}
const number = (expected: string, rules: NumberRules = {}) =>
  read(written(expected), (input, ctx): number => {
    const value = typeof input === "number" ? input : parseNumber(input);
    if (value === undefined) {
      report(
        ctx,
        "number-unreadable",
        `\`${input}\` is not a number`,
        `${expected} is needed here, without a unit or sign`,
      );
      return z.NEVER;
    }
    const { least, above, most, whole } = rules;
    const wrong =
      !Number.isFinite(value) ||
      (least !== undefined && value < least) ||
      (above !== undefined && value <= above) ||
      (most !== undefined && value > most) ||
      (whole === true && !Number.isSafeInteger(value));
    if (wrong) {
      const bounds = [
        ...(whole ? ["a whole number"] : []),
        ...(least === undefined ? [] : [`${least} or more`]),
        ...(above === undefined ? [] : [`above ${above}`]),
        ...(most === undefined ? [] : [`at most ${most}`]),
      ];
      report(
        ctx,
        "number-range",
        `\`${input}\` is out of range`,
        `${expected}: ${bounds.join(", ") || "any ordinary number"}`,
      );
      return z.NEVER;
    }
    return value;
  });

const money = (expected: string) => number(expected, { least: 0 });
const text = (expected: string) => read(z.string({ error: expected }), (t) => t.trim());
/** What a price or a yield counts per: a unit of weight (`lb`) or a weight (`50 lb`), in kg. */
const massPer = (expected: string) =>
  read(written(expected), (input, ctx): number => {
    const lone = parseQuantity(`1 ${input}`, "mass", { positive: true });
    if (lone.ok) return taken(lone, ctx);
    const shown = String(input).trim();
    if (!/^\p{L}/u.test(shown)) return taken(parseQuantity(input, "mass", { positive: true }), ctx);
    // A unit by itself is not a number that went wrong: what is wrong is that it is no weight.
    return taken({ ...lone, message: lone.message.replace(`\`1 ${shown}\``, () => `\`${shown}\``) }, ctx);
  });
/** A name: text, or a bare number that stands for text. */
const label = (expected: string) =>
  read(written(expected), (input, ctx): string => {
    const name = String(input).trim();
    if (name === "") report(ctx, "key-missing", "nothing stands here", `${expected} is needed`);
    return name;
  });
const choice = <const T extends readonly string[]>(choices: T) =>
  z.enum(choices as unknown as readonly [T[number], ...T[number][]], { error: `one of ${listed(choices)}` });
const listed = (words: readonly string[]): string => words.map((w) => `\`${w}\``).join(", ");

const yesNo = () =>
  read(z.union([z.boolean(), z.string()], { error: "yes or no" }), (input, ctx): boolean => {
    if (typeof input === "boolean") return input;
    if (/^(yes|true|on)$/i.test(input)) return true;
    if (/^(no|false|off)$/i.test(input)) return false;
    report(ctx, "choice-unknown", `\`${input}\` is neither yes nor no`, "write `true` or `false`");
    return z.NEVER;
  });

const day = () =>
  read(written("a day counted from planting"), (input, ctx): number => taken(parseDay(input), ctx));
const per = () =>
  read(
    written("what the amounts are counted per (`plant`, `bed`, or an area such as `acre`)"),
    (input, ctx): Per => taken<Per>(parsePer(input), ctx),
  );
const ids = () =>
  read(
    z.union([z.string(), z.array(z.string({ error: "an id" }))], { error: "a list of ids" }),
    (input): string[] =>
      typeof input === "string"
        ? input.split(/[\s,]+/).filter((id) => id !== "")
        : input.map((id) => id.trim()),
  );
const paths = () =>
  read(
    z.union([z.string(), z.array(z.string({ error: "a path" }))], { error: "a path or a list of paths" }),
    (input): string[] => (typeof input === "string" ? [input] : input),
  );

/** A map with known keys only. The message carries them to `problemsOf`, which names the nearest. */
const map = <S extends Shape>(shape: S, expected: string) =>
  z.strictObject(shape, {
    error: (issue) => (issue.code === "unrecognized_keys" ? Object.keys(shape).join(" ") : expected),
  });

const optional = <S extends Shape>(shape: S): { [K in keyof S]: z.ZodMiniOptional<S[K]> } =>
  Object.fromEntries(Object.entries(shape).map(([key, schema]) => [key, z.optional(schema)])) as {
    [K in keyof S]: z.ZodMiniOptional<S[K]>;
  };

/** Notes for people, allowed beside the data and never read by the program. */
const remarks = lazy(() => ({
  note: z.union([z.string(), z.array(z.string())], { error: "text" }),
  source: z.union([z.string(), z.array(z.string())], { error: "text" }),
  sources: z.union([z.string(), z.array(z.string())], { error: "text" }),
}));

/** One entry of a map by nutrient, in canonical terms: amounts are to be multiplied by `factor`. */
export interface ByNutrient<T> {
  /** As the file names it. */
  readonly name: string;
  readonly nutrient: Nutrient;
  readonly factor: number;
  readonly value: T;
}

const nutrientKeys = <V extends Schema>(value: V): Record<string, z.ZodMiniOptional<V>> => {
  const entry = z.optional(value);
  return Object.fromEntries(NUTRIENT_NAMES.map((name) => [name, entry]));
};

function nutrientsOf<T>(input: Readonly<Record<string, unknown>>, ctx: Ctx): ByNutrient<T>[] {
  const seen = new Map<Nutrient, string>();
  const entries: ByNutrient<T>[] = [];
  for (const [name, value] of Object.entries(input)) {
    const form = value === undefined ? undefined : readNutrient(name);
    if (form === undefined) continue;
    const before = seen.get(form.nutrient);
    if (before !== undefined)
      for (const [here, there] of [
        [before, name],
        [name, before],
      ] as const)
        report(
          ctx,
          "nutrient-twice",
          `\`${here}\` names the same nutrient as \`${there}\` in this map`,
          `keep one of the two; tables show ${form.nutrient}`,
          [here],
          true,
        );
    seen.set(form.nutrient, name);
    entries.push({ name, nutrient: form.nutrient, factor: form.factor, value: value as T });
  }
  return entries;
}

/** Days with shares: sorted, none twice, never falling. */
const curve = (lowest: number) =>
  read(
    z.record(z.string(), share(), { error: "a map from day to share, for instance `{0: 0%, 28: 45%}`," }),
    (input, ctx): Points => {
      const points: { x: number; y: number; key: string }[] = [];
      for (const [key, y] of Object.entries(input)) {
        const read = parseDay(key);
        if (!read.ok) report(ctx, read.code, read.message, read.hint, [key], true);
        else if (read.value < lowest)
          report(
            ctx,
            "number-range",
            `day \`${key}\` is before day ${lowest}`,
            "days count from here on",
            [key],
            true,
          );
        else if (points.some((p) => p.x === read.value))
          report(ctx, "key-duplicate", `day ${read.value} stands twice`, "keep one of the two", [key], true);
        else points.push({ x: read.value, y, key });
      }
      points.sort((a, b) => a.x - b.x);
      for (const [i, p] of points.entries()) {
        const before = points[i - 1];
        if (before && p.y < before.y)
          report(
            ctx,
            "points-falling",
            `the share falls from ${percent(before.y)} on day ${before.x} to ${percent(p.y)} on day ${p.x}`,
            "shares are totals up to the day, so each is at least the one before",
            [p.key],
          );
      }
      if (points.length === 0)
        report(ctx, "key-missing", "no day is given", "for instance `{0: 0%, 28: 45%, 84: 75%}`");
      return points.map((p) => [p.x, p.y] as const);
    },
  );

const percent = (fraction: number): string => `${Number((fraction * 100).toPrecision(6))}%`;

/** A soil cannot be colder or hotter than this and grow a vegetable; outside, a unit was mistaken. */
const SOIL_C = { least: -10, most: 50 } as const;

const soilTemperature = () =>
  read(written("a temperature such as `18 C`"), (input, ctx): number => {
    const value = taken(parseQuantity(input, "temperature"), ctx);
    if (typeof value === "number" && (value < SOIL_C.least || value > SOIL_C.most)) {
      const other = /c/i.test(String(input))
        ? `did you mean \`${String(input).replace(/°?\s*c\w*$/i, " F")}\`?`
        : undefined;
      report(
        ctx,
        "number-range",
        `\`${input}\` is no temperature of a soil that grows a crop`,
        other ?? "between -10 C and 50 C",
      );
    }
    return value;
  });

// ---------------------------------------------------------------------------------------------------------------- release

/** A release as a file states it; class names are resolved later, when every file has been read. */
export type CurveSpec =
  | { readonly kind: "class"; readonly name: string }
  | {
      readonly kind: "pool";
      readonly atOnce: number;
      readonly later: number;
      readonly halfLifeDays: number;
      readonly q10: number;
      readonly referenceC: number;
    }
  | { readonly kind: "points"; readonly points: Points; readonly q10: number; readonly referenceC: number };

export interface ReleaseSpec {
  readonly byNutrient: readonly ByNutrient<CurveSpec>[];
  /** Absent: the rest is available at once. */
  readonly other?: CurveSpec;
}

const inlineShape = lazy(() => ({
  at_once: share(),
  later: share(),
  half_life: quantity("time", { positive: true }),
  points: curve(0),
  q10: number("the factor of speed per 10 degrees, for instance `2`", { above: 0, most: 10 }),
  reference: soilTemperature(),
  t_ref: soilTemperature(),
  summary: text("text"),
  ...remarks(),
}));

const INLINE_KEYS = ["at_once", "later", "half_life", "points", "q10", "reference", "t_ref"] as const;
const DEFAULT_Q10 = 2;
const DEFAULT_REFERENCE_C = 25;
const SUM_TOLERANCE = 1e-9;

function inlineCurve(input: Read<ReturnType<typeof inlineShape>>, ctx: Ctx): CurveSpec {
  const q10 = input.q10 ?? DEFAULT_Q10;
  const referenceC = input.reference ?? input.t_ref ?? DEFAULT_REFERENCE_C;
  if (input.reference !== undefined && input.t_ref !== undefined)
    report(
      ctx,
      "key-conflict",
      "`reference` and `t_ref` are two names for one thing",
      "keep `reference`",
      ["t_ref"],
      true,
    );
  const pooled = input.at_once !== undefined || input.later !== undefined || input.half_life !== undefined;
  if (input.points !== undefined) {
    if (pooled)
      report(
        ctx,
        "key-conflict",
        "`points` stands beside `at_once`, `later` or `half_life`",
        "a measured release has `points` only; a computed one has the other three",
        ["points"],
        true,
      );
    return { kind: "points", points: input.points, q10, referenceC };
  }
  const atOnce = input.at_once ?? 0;
  const later = input.later ?? 0;
  if (!pooled)
    report(
      ctx,
      "release-parts",
      "this release does not say how much becomes available",
      "give `at_once`, or `later` with `half_life`, or `points`",
    );
  if (atOnce + later > 1 + SUM_TOLERANCE)
    report(
      ctx,
      "release-parts",
      `\`at_once\` and \`later\` add to ${percent(atOnce + later)}`,
      "together they are at most 100%: nothing is available that the label does not contain",
    );
  if (later > 0 && input.half_life === undefined)
    report(
      ctx,
      "release-parts",
      "`later` stands without a `half_life`",
      "say how long half of it takes, for instance `half_life: 18 days`",
    );
  return { kind: "pool", atOnce, later, halfLifeDays: input.half_life ?? 1, q10, referenceC };
}

const className = () =>
  read(
    z.string({ error: "a release class or a map" }),
    (name): CurveSpec => ({ kind: "class", name: name.trim() }),
  );

/** One curve: the name of a class, or parameters. */
const curveSchema = lazy(() =>
  z.union(
    [
      className(),
      read(map(optional(inlineShape()), "a release class or a map"), (input, ctx) =>
        inlineCurve(input as never, ctx),
      ),
    ],
    {
      error:
        "a release class such as `slow`, or a map such as `{at_once: 5%, later: 70%, half_life: 18 days}`,",
    },
  ),
);

/** A curve for all nutrients, or one for each named and `other` for the rest. */
const releaseSchema = lazy(() => {
  const shape = {
    ...optional(inlineShape()),
    ...nutrientKeys(curveSchema()),
    other: z.optional(curveSchema()),
  };
  return z.union(
    [
      read(className(), (other): ReleaseSpec => ({ byNutrient: [], other })),
      read(map(shape, "a release class or a map"), (input, ctx): ReleaseSpec => {
        const raw = input as Record<string, unknown>;
        const inline = INLINE_KEYS.filter((key) => raw[key] !== undefined);
        const byNutrient = nutrientsOf<CurveSpec>(raw, ctx);
        const other = raw.other as CurveSpec | undefined;
        if (inline.length > 0 && (byNutrient.length > 0 || other !== undefined)) {
          report(
            ctx,
            "key-conflict",
            `\`${inline[0]}\` stands beside nutrients`,
            "put it inside one: `{N: {at_once: 5%, ...}, other: at-once}`",
            [inline[0]!],
            true,
          );
          return z.NEVER;
        }
        if (byNutrient.length > 0 || other !== undefined)
          return { byNutrient, ...(other === undefined ? {} : { other }) };
        return { byNutrient: [], other: inlineCurve(raw as never, ctx) };
      }),
    ],
    { error: "a release class such as `slow`, or a map," },
  );
});

/** One entry of `releases:`, which defines or redefines a class. */
export const releaseClassSchema = lazy(() =>
  read(
    map(optional(inlineShape()), "a map such as `{at_once: 5%, later: 70%, half_life: 18 days}`"),
    (input, ctx) => inlineCurve(input as never, ctx),
  ),
);

// ------------------------------------------------------------------------------------------------------------- amendments

const analysisValue = () =>
  read(z.union([z.number(), z.string()], { error: "a number of percent" }), (input, ctx): number => {
    const value = typeof input === "number" ? input : (parseNumber(input) ?? Number.NaN);
    const read = Number.isNaN(value) ? parseQuantity(input, "share", ALL) : undefined;
    if (read !== undefined) return taken(read, ctx);
    if (value >= 0 && value <= 100) return value / 100;
    report(
      ctx,
      "number-range",
      `\`${input}\` is not a percentage`,
      "an analysis is a number of percent from 0 to 100",
    );
    return z.NEVER;
  });

/** An analysis in canonical terms, and what the label says before conversion. */
export interface AnalysisSpec {
  readonly fractions: NutrientMap;
  readonly named: readonly ByNutrient<number>[];
}

/**
 * What a part of an analysis surely weighs in the bag: the element, since potash and lime are counted as oxides by custom
 * only (potassium chloride holds 63 percent "K2O" and 48 percent Cl). Phosphorus does come with its oxygen, as phosphate.
 */
function labelWeight(part: ByNutrient<number>): number {
  const amount = part.value * part.factor;
  return part.nutrient === "K2O" ? amount / readNutrient("K")!.factor : amount;
}

const analysis = lazy(() =>
  read(
    map(nutrientKeys(analysisValue()), "a map of percentages, for instance `{N: 13, S: 1.5}`,"),
    (input, ctx): AnalysisSpec => {
      const named = nutrientsOf<number>(input, ctx);
      const total = named.reduce((sum, e) => sum + labelWeight(e), 0);
      if (total > 1 + SUM_TOLERANCE)
        report(
          ctx,
          "analysis-sum",
          `what this analysis names weighs ${percent(total)} of the bag`,
          "the parts of a bag cannot weigh more than the bag",
        );
      const fractions: Partial<Record<Nutrient, number>> = {};
      for (const e of named) fractions[e.nutrient] = e.value * e.factor;
      return { fractions, named };
    },
  ),
);

const pack = lazy(() =>
  map(
    { size: massOrVolume({ positive: true }), price: money("a price"), ...optional(remarks()) },
    "a pack such as `{size: 50 lb, price: 38.50}`",
  ),
);
export interface PackSpec {
  readonly size: MassOrVolume;
  readonly price: number;
}

/** Loose densities outside this are a slip of unit: the lightest peat is above, iron powder below. */
const DENSITY_KG_PER_L = { least: 0.03, most: 5 } as const;

const density = () =>
  read(written("a density, for instance `0.6 kg/L` or `38 lb/cu ft`,"), (input, ctx): number => {
    const value = taken(parseQuantity(input, "density", { positive: true }), ctx);
    if (typeof value === "number" && (value < DENSITY_KG_PER_L.least || value > DENSITY_KG_PER_L.most))
      report(
        ctx,
        "number-range",
        `no loose amendment weighs \`${input}\``,
        `that is ${Number(value.toPrecision(3))} kg/L; most lie between 0.2 and 1.6 kg/L (12 to 100 lb/cu ft)`,
      );
    return value;
  });

export const ORGANIC_WORDS = ["listed", "restricted", "prohibited", "unknown"] as const;

/** The keys of one amendment. */
export const amendmentShape = lazy(() => ({
  name: label("a name"),
  analysis: analysis(),
  packs: z.array(pack(), { error: "a list of packs, for instance `- {size: 50 lb, price: 38.50}`," }),
  bulk: later(() =>
    read(
      map(
        { price: money("a price"), per: massPer("a weight, for instance `lb`,"), ...optional(remarks()) },
        "a map such as `{price: 0.12, per: lb}`",
      ),
      (input): number => input.price / input.per,
    ),
  ),
  supplier: label("the id of a supplier"),
  release: releaseSchema(),
  density: density(),
  stock: massOrVolume(),
  organic: choice(ORGANIC_WORDS),
  kind: choice(MATERIAL_KINDS),
  salt_index: number("a salt index (sodium nitrate is 100)", { least: 0, most: 400 }),
  cce: later(() => share({ most: { value: 2.5, text: "`250%`" } })),
  ...remarks(),
}));

/** The top of an amendments file. */
export const amendmentsFileShape = lazy(() => ({
  include: later(paths),
  amendments: later(() =>
    z.record(z.string(), map(optional(amendmentShape()), "a map of fields"), {
      error: "a map from id to amendment",
    }),
  ),
  releases: later(() => z.record(z.string(), releaseClassSchema(), { error: "a map from class to release" })),
  ...remarks(),
}));

// ----------------------------------------------------------------------------------------------------------------- target

/** Amounts by nutrient with what they are counted per; `per` may be absent only where all amounts are rates. */
export interface Amounts<T> {
  readonly per?: Per;
  readonly nutrients: readonly ByNutrient<T>[];
}
export interface Range {
  readonly min?: MassOrRate;
  readonly max?: MassOrRate;
}

function amountsOf<T>(input: Readonly<Record<string, unknown>>, ctx: Ctx): Amounts<T> {
  const nutrients = nutrientsOf<T>(input, ctx);
  return { nutrients, ...(input.per === undefined ? {} : { per: input.per as Per }) };
}

const range = lazy(() =>
  z.union(
    [
      read(massOrRate(), (min): Range => ({ min })),
      read(
        map(
          { min: z.optional(massOrRate()), max: z.optional(massOrRate()), ...optional(remarks()) },
          "a weight or `{min, max}`",
        ),
        ({ min, max }, ctx): Range => {
          if (min === undefined && max === undefined)
            report(
              ctx,
              "key-missing",
              "neither `min` nor `max` is given",
              "for instance `{min: 3 lb, max: 4 lb}`",
            );
          return { ...(min ? { min } : {}), ...(max ? { max } : {}) };
        },
      ),
    ],
    { error: "a weight such as `3 lb`, or a map such as `{min: 3 lb, max: 4 lb}`," },
  ),
);

const amounts = lazy(() =>
  read(
    map(
      { per: z.optional(per()), ...optional(remarks()), ...nutrientKeys(massOrRate()) },
      "a map such as `{per: 1000 sq ft, N: 3 lb}`",
    ),
    (input, ctx): Amounts<MassOrRate> => amountsOf(input, ctx),
  ),
);

/** Amounts per weight of harvest: the range of each nutrient's weight in `perKg` of fresh yield. */
export interface PerYield {
  readonly perKg: number;
  readonly part?: "whole-crop" | "harvested-part";
  readonly nutrients: readonly ByNutrient<Range>[];
}

const perYield = lazy(() =>
  read(
    map(
      {
        per: massPer("a weight of harvest such as `t`"),
        part: z.optional(choice(["whole-crop", "harvested-part"])),
        ...optional(remarks()),
        ...nutrientKeys(range()),
      },
      "a map such as `{per: t, N: 2.75 kg}`",
    ),
    (input, ctx): PerYield => {
      const { per: perKg, part } = input as unknown as {
        per: number;
        part?: "whole-crop" | "harvested-part";
      };
      return { perKg, ...(part === undefined ? {} : { part }), nutrients: nutrientsOf<Range>(input, ctx) };
    },
  ),
);

/** A method of a laboratory, for comparison: small letters, with hyphens between words. */
const methodName = () =>
  read(label("the name of a method such as `mehlich-3` or `olsen`"), (name): string =>
    name.toLowerCase().replace(/[^a-z0-9]+/g, "-"),
  );
const ratingName = () =>
  read(label("a rating such as `low`"), (name): string => name.toLowerCase().replace(/[-_\s]+/g, " "));

/** What a soil test says, in the order in which it is believed: a recommendation, ratings, readings. */
export interface SoilTest {
  readonly recommends?: Amounts<Range>;
  readonly ratings: readonly ByNutrient<string>[];
  readonly readings: readonly ByNutrient<SoilContent>[];
  /** The method of all nutrients that `methods` does not name. */
  readonly method?: string;
  readonly methods: readonly ByNutrient<string>[];
}

export const soilTestSchema = lazy(() =>
  read(
    map(
      {
        recommends: z.optional(
          read(
            map(
              { per: z.optional(per()), ...optional(remarks()), ...nutrientKeys(range()) },
              "a map such as `{per: 1000 sq ft, N: 3 lb}`",
            ),
            (input, ctx): Amounts<Range> => amountsOf(input, ctx),
          ),
        ),
        rating: z.optional(
          read(map(nutrientKeys(ratingName()), "a map such as `{P: low, K: medium}`"), (input, ctx) =>
            nutrientsOf<string>(input, ctx),
          ),
        ),
        method: z.optional(
          z.union(
            [
              read(methodName(), (one) => ({ one, named: [] as ByNutrient<string>[] })),
              read(
                map(nutrientKeys(methodName()), "a method, or a map such as `{P: olsen}`"),
                (input, ctx) => ({ one: undefined, named: nutrientsOf<string>(input, ctx) }),
              ),
            ],
            { error: "a method such as `mehlich-3`, or a map such as `{P: olsen, K: ammonium-acetate}`," },
          ),
        ),
        ...optional(remarks()),
        ...nutrientKeys(
          read(
            written("a reading such as `12 ppm`"),
            (input, ctx): SoilContent => taken(parseSoilContent(input), ctx),
          ),
        ),
      },
      "a map such as `{recommends: {per: 1000 sq ft, N: 3 lb}}`",
    ),
    (input, ctx): SoilTest => {
      const { recommends, rating, method } = input as {
        recommends?: Amounts<Range>;
        rating?: ByNutrient<string>[];
        method?: { one: string | undefined; named: ByNutrient<string>[] };
      };
      const readings = nutrientsOf<SoilContent>(input, ctx);
      const ratings = rating ?? [];
      if (recommends === undefined && ratings.length === 0 && readings.length === 0)
        report(
          ctx,
          "key-missing",
          "this soil test says nothing",
          "give `recommends`, `rating`, or readings such as `P: 12 ppm` with their `method`",
        );
      const methods = method?.named ?? [];
      for (const { nutrient, name } of readings)
        if (method?.one === undefined && !methods.some((m) => m.nutrient === nutrient))
          report(
            ctx,
            "key-missing",
            `the reading of ${name} does not say by which method it was made`,
            "add `method`, for instance `method: olsen`: a ppm means something else by every method",
            [name],
            true,
          );
      return {
        ...(recommends ? { recommends } : {}),
        ratings,
        readings,
        ...(method?.one === undefined ? {} : { method: method.one }),
        methods,
      };
    },
  ),
);

/** A rating and the readings it stands for: less than `below`, or up to and with `to`, or all the rest. */
export interface Band {
  readonly rating: string;
  readonly below?: number;
  readonly to?: number;
}

/** Published tables of a crop: from a reading to a rating, and from a rating to an amount. */
export interface RatingTables {
  readonly methods: readonly {
    readonly name: string;
    readonly nutrient: Nutrient;
    readonly factor: number;
    readonly method: string;
    readonly bands: readonly Band[];
    readonly source: string;
  }[];
  readonly recommends: readonly {
    readonly method: string;
    readonly per?: Per;
    readonly nutrients: readonly ByNutrient<readonly { readonly rating: string; readonly amount: Range }[]>[];
    readonly source: string;
  }[];
}

const sourceText = (source: string | readonly string[] | undefined): string =>
  source === undefined ? "" : [source].flat().join("; ").replace(/\s+/g, " ").trim();

const bands = () =>
  read(
    z.record(
      z.string(),
      map(
        {
          below: z.optional(number("an upper bound", { above: 0 })),
          to: z.optional(number("an upper bound", { above: 0 })),
        },
        "a bound such as `{below: 15}`, `{to: 25}`, or `{}` for the rest",
      ),
      { error: "a map from rating to bound, for instance `{low: {below: 15}, medium: {to: 25}, high: {}}`," },
    ),
    (input, ctx): Band[] => {
      const list = Object.entries(input);
      let above = 0;
      for (const [i, [rating, { below, to }]] of list.entries()) {
        const bound = below ?? to;
        if (below !== undefined && to !== undefined)
          report(ctx, "key-conflict", "a rating has both `below` and `to`", "keep one", [rating, "to"], true);
        if (bound === undefined && i < list.length - 1)
          report(
            ctx,
            "range-crossed",
            `\`${rating}\` has no bound, and ratings follow it`,
            "ratings go from low to high; only the last has none",
            [rating],
            true,
          );
        if (bound !== undefined && bound <= above)
          report(
            ctx,
            "range-crossed",
            `the bound of \`${rating}\` is not above the one before it`,
            "ratings go from low to high",
            [rating],
          );
        above = bound ?? above;
      }
      return list.map(([rating, band]) => ({
        rating: rating.toLowerCase().replace(/[-_\s]+/g, " "),
        ...(band.below === undefined ? {} : { below: band.below }),
        ...(band.to === undefined ? {} : { to: band.to }),
      }));
    },
  );

const ratingTables = lazy(() =>
  read(
    map(
      {
        methods: z.optional(
          z.array(
            read(
              map(
                {
                  nutrient: z.string({ error: "a nutrient" }),
                  method: methodName(),
                  unit: z.optional(choice(["ppm", "mg/kg"])),
                  ratings: bands(),
                  ...optional(remarks()),
                },
                "a table such as `{nutrient: P, method: olsen, ratings: {low: {below: 15}, high: {}}}`",
              ),
              (input, ctx) => {
                const form = readNutrient(input.nutrient);
                if (form === undefined)
                  report(
                    ctx,
                    "nutrient-unknown",
                    `\`${input.nutrient}\` is no nutrient the program knows`,
                    `one of ${NUTRIENT_NAMES.join(", ")}`,
                    ["nutrient"],
                  );
                return {
                  name: input.nutrient,
                  nutrient: form?.nutrient ?? "N",
                  factor: form?.factor ?? 1,
                  method: input.method,
                  bands: input.ratings,
                  source: sourceText(input.source),
                };
              },
            ),
            { error: "a list of tables" },
          ),
        ),
        recommends: z.optional(
          z.array(
            read(
              map(
                {
                  per: z.optional(per()),
                  method: methodName(),
                  ...optional(remarks()),
                  ...nutrientKeys(
                    z.record(z.string(), range(), {
                      error: "a map from rating to amount, for instance `{low: 200 lb, high: 0 lb}`,",
                    }),
                  ),
                },
                "a table such as `{per: acre, method: mehlich-3, P2O5: {low: 200 lb, high: 0 lb}}`",
              ),
              (input, ctx) => {
                const raw = input as unknown as {
                  per?: Per;
                  method: string;
                  source?: string | string[];
                };
                return {
                  method: raw.method,
                  ...(raw.per === undefined ? {} : { per: raw.per }),
                  source: sourceText(raw.source),
                  nutrients: nutrientsOf<Record<string, Range>>(input, ctx).map((e) => ({
                    ...e,
                    value: Object.entries(e.value).map(([rating, amount]) => ({
                      rating: rating.toLowerCase().replace(/[-_\s]+/g, " "),
                      amount,
                    })),
                  })),
                };
              },
            ),
            { error: "a list of tables" },
          ),
        ),
        ...optional(remarks()),
      },
      "a map with `methods` and `recommends`",
    ),
    (input): RatingTables => ({ methods: input.methods ?? [], recommends: input.recommends ?? [] }),
  ),
);

/** The keys of a target, in a file of its own or inside a plan. */
export const targetShape = lazy(() => ({
  target: label("the name of the target"),
  recipe: label("the name of a shipped recipe to begin from"),
  season: quantity("time", { positive: true }),
  need: read(
    map(
      { per: z.optional(per()), ...optional(remarks()), ...nutrientKeys(range()) },
      "a map such as `{per: 1000 sq ft, N: {min: 3 lb}}`",
    ),
    (input, ctx): Amounts<Range> => amountsOf(input, ctx),
  ),
  applied_max: amounts(),
  ahead_max: amounts(),
  uptake: read(
    map(
      { ...optional(remarks()), ...nutrientKeys(curve(0)), other: z.optional(curve(0)) },
      "a map from nutrient to curve, for instance `{N: {0: 0%, 60: 45%, 120: 100%}}`,",
    ),
    (input, ctx) => ({
      nutrients: nutrientsOf<Points>(input as Record<string, unknown>, ctx),
      ...((input as { other?: Points }).other === undefined
        ? {}
        : { other: (input as { other: Points }).other }),
    }),
  ),
  yield: later(() => quantity("rate", { positive: true })),
  uptake_per_yield: later(perYield),
  removal_per_yield: later(perYield),
  soil_test: later(soilTestSchema),
  soil_test_ratings: later(ratingTables),
  ...remarks(),
}));

// ------------------------------------------------------------------------------------------------------------------- plan

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
}

const spreadAmount = () =>
  read(
    written("what is spread, for instance `200 lb`, `5 t/ha`, `1 cu yd` or `0.5 in`,"),
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
              ...mass,
              message: `\`${input}\` is not an amount that is spread`,
              hint: "a weight, a rate, a volume or a depth: `200 lb`, `5 t/ha`, `1 cu yd`, `0.5 in`",
            }
          : mass,
        ctx,
      );
    },
  );

const WAYS_OF_CREDIT =
  "nutrients (`N: 0.6 lb`), `spread` with `analysis` or `material`, `organic_matter`, or `nitrate_n` with `water`";

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
        organic_matter: z.optional(share()),
        n_per_percent: z.optional(quantity("rate")),
        water: z.optional(
          either({ name: "depth", dimension: "length" }, { name: "litres", dimension: "volume" }),
        ),
        nitrate_n: z.optional(
          read(written("what the water holds, for instance `8 mg/L`,"), (input, ctx): number =>
            taken(parseWaterContent(input), ctx),
          ),
        ),
        nitrate: z.optional(
          read(written("what the water holds, for instance `35 mg/L`,"), (input, ctx): number =>
            taken(parseWaterContent(input), ctx),
          ),
        ),
        ...optional(remarks()),
        ...nutrientKeys(massOrRate()),
      },
      "a credit such as `{from: compost, per: 1000 sq ft, N: 0.6 lb}`",
    ),
    (input, ctx): CreditSpec => {
      const raw = input as Record<string, unknown>;
      const { per: counted, nutrients } = amountsOf<MassOrRate>(input, ctx);
      const given = (key: string): boolean => raw[key] !== undefined;
      const ways = [
        ...(nutrients.length > 0 ? [nutrients[0]!.name] : []),
        ...["spread", "organic_matter", "nitrate_n", "nitrate"].filter(given),
      ];
      if (ways.length === 0)
        report(
          ctx,
          "key-missing",
          given("water") ? "this credit does not say what the water holds" : "this credit names no nutrient",
          given("water") ? "add `nitrate_n`, for instance `nitrate_n: 8 mg/L`" : `give ${WAYS_OF_CREDIT}`,
        );
      if (ways.length > 1)
        report(
          ctx,
          "key-conflict",
          `this credit is given in two ways, by \`${ways[0]}\` and by \`${ways[1]}\``,
          "make two credits of it",
          [ways[1]!],
          true,
        );
      const needs = (key: string, other: readonly string[], hint: string): void => {
        if (given(key) && !other.some(given))
          report(
            ctx,
            "key-missing",
            `\`${key}\` stands without ${other.map((o) => `\`${o}\``).join(" or ")}`,
            hint,
            [key],
            true,
          );
      };
      needs(
        "spread",
        ["analysis", "material"],
        "say what it holds: `analysis: {N: 1.5}`, or a shipped `material`",
      );
      for (const key of ["analysis", "material", "density"])
        needs(key, ["spread"], "say how much was spread, for instance `spread: 200 lb`");
      for (const key of ["nitrate_n", "nitrate"])
        needs(key, ["water"], "say how much water is given, for instance `water: 12 in`");
      needs("n_per_percent", ["organic_matter"], "for instance `organic_matter: 3%`");
      for (const [one, other] of [
        ["analysis", "material"],
        ["release", "until"],
      ] as const)
        if (given(one) && given(other))
          report(
            ctx,
            "key-conflict",
            `\`${one}\` stands beside \`${other}\``,
            "keep one of the two",
            [other],
            true,
          );
      const first = (raw.day as number | undefined) ?? 0;
      if (given("until") && (raw.until as number) <= first)
        report(
          ctx,
          "range-crossed",
          `\`until\` is not after day ${first}`,
          "the credit comes evenly from `day` to `until`",
          ["until"],
        );
      const spread = raw.spread as Spread | undefined;
      if (
        spread &&
        (spread.kind === "litres" || spread.kind === "depth") &&
        !given("density") &&
        !given("material")
      )
        report(
          ctx,
          "density-missing",
          "what is spread is given by volume, and no density is known",
          "add `density`, for instance `density: 0.6 kg/L`",
          ["spread"],
        );
      const kept = (from: string, to: string): Record<string, unknown> =>
        given(from) ? { [to]: raw[from] } : {};
      return {
        from: raw.from as string,
        day: first,
        nutrients,
        ...(counted === undefined ? {} : { per: counted }),
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
          report(ctx, "range-crossed", "`max` is below its `min`", "the most is at least the least", ["max"]);
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
            span(analysisValue(), "a number of percent, or a range such as `{min: 1.5, max: 3.5}`,"),
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

/** The keys of the list of what feeds a crop besides a blend. */
export const creditSourcesShape = lazy(() => ({
  credit_sources: z.record(z.string(), creditSourceSchema(), {
    error: "a map from material to what it holds",
  }),
  soil_organic_matter: read(
    map(
      {
        n_per_percent: span(quantity("rate"), "a rate such as `15 lb/acre`, or a range,"),
        ...optional(remarks()),
      },
      "a map such as `{n_per_percent: {min: 10 lb/acre, max: 20 lb/acre}}`",
    ),
    (input) => ({ nPerPercent: input.n_per_percent, source: sourceText(input.source) }),
  ),
  ...remarks(),
}));

/** One `applications:` entry. */
export const applicationSchema = lazy(() =>
  map(
    { name: z.optional(label("a name")), day: day(), share: z.optional(share()), ...optional(remarks()) },
    "an application such as `{name: planting, day: 0, share: 40%}`",
  ),
);

/** One `limits:` entry. */
export const limitSchema = lazy(() =>
  map(
    {
      min_share: z.optional(share()),
      max_share: z.optional(share()),
      min: z.optional(quantity("mass")),
      max: z.optional(quantity("mass")),
      not_in: z.optional(
        read(
          z.union([z.string(), z.number(), z.array(written("the name of an application"))], {
            error: "a list of applications",
          }),
          (input): string[] => (Array.isArray(input) ? input : [input]).map((name) => String(name).trim()),
        ),
      ),
      ...optional(remarks()),
    },
    "limits such as `{max_share: 30%}`",
  ),
);

/** One `suppliers:` entry. */
export const supplierSchema = lazy(() =>
  map(
    {
      name: z.optional(label("a name")),
      delivery: z.optional(money("the charge for a delivery")),
      free_over: z.optional(money("the order value from which delivery is free")),
      ...optional(remarks()),
    },
    "a map such as `{delivery: 35, free_over: 250}`",
  ),
);

const batch = lazy(() =>
  z.union(
    [
      massOrVolume({ positive: true }),
      read(
        map(
          {
            size: z.optional(quantity("mass", { positive: true })),
            volume: z.optional(quantity("volume", { positive: true })),
            ...optional(remarks()),
          },
          "a map such as `{size: 60 lb}` or `{volume: 6 cu ft}`",
        ),
        (input, ctx): MassOrVolume => {
          if (input.size !== undefined && input.volume !== undefined) {
            report(
              ctx,
              "key-conflict",
              "a batch has both a size and a volume",
              "keep the one that fills first",
              ["volume"],
              true,
            );
            return z.NEVER;
          }
          if (input.size !== undefined) return { kind: "kg", value: input.size };
          if (input.volume !== undefined) return { kind: "litres", value: input.volume };
          report(
            ctx,
            "key-missing",
            "a batch has neither a size nor a volume",
            "for instance `{size: 60 lb}` or `{volume: 6 cu ft}`",
          );
          return z.NEVER;
        },
      ),
    ],
    { error: "a map such as `{size: 60 lb}` or `{volume: 6 cu ft}`" },
  ),
);

const bed = lazy(() =>
  map(
    {
      plants: z.optional(number("a number of plants", { above: 0, whole: true })),
      area: z.optional(quantity("area", { positive: true })),
      rows: z.optional(number("a number of rows", { above: 0, whole: true })),
      row_length: z.optional(quantity("length", { positive: true })),
      ...optional(remarks()),
    },
    "a map such as `{plants: 240, area: 1500 sq ft}`",
  ),
);

const currency = () =>
  read(text("a currency such as `USD`"), (code, ctx): string => {
    if (!/^[A-Z]{3}$/.test(code))
      report(
        ctx,
        "choice-unknown",
        `\`${code}\` is not a currency code`,
        /^[a-z]{3}$/i.test(code)
          ? `did you mean \`${code.toUpperCase()}\`?`
          : "three capital letters, such as `USD` or `EUR` (ISO 4217)",
      );
    return code;
  });

/** Shares of a threshold may pass the whole: twice the need is 200%. */
const FAR_ABOVE: QuantityRules = { most: { value: 100, text: "`10000%`" } };

const thresholds = () =>
  map(
    optional({
      ...(Object.fromEntries(
        Object.entries(CAUTION_THRESHOLDS).map(([code, { dimension }]) => [
          code,
          quantity(dimension, dimension === "share" ? FAR_ABOVE : {}),
        ]),
      ) as Record<ThresholdCode, ReturnType<typeof quantity>>),
      ...remarks(),
    }),
    "a map from caution to threshold, for instance `{boron: 1 lb/acre}`,",
  );

/** The keys of a plan. */
export const planShape = lazy(() => ({
  plan: label("the name of the plan"),
  currency: currency(),
  units: choice(["us", "metric"]),
  amendments: later(() =>
    z.union(
      [
        z.string(),
        z.array(
          z.union([z.string(), z.record(z.string(), map(optional(amendmentShape()), "a map of fields"))]),
        ),
        z.record(z.string(), map(optional(amendmentShape()), "a map of fields")),
      ],
      { error: "a path, a list of paths, or a map of amendments" },
    ),
  ),
  releases: later(() => z.record(z.string(), releaseClassSchema(), { error: "a map from class to release" })),
  target: later(() =>
    z.union([z.string(), map(optional(targetShape()), "a target")], {
      error: "a path, `{recipe: pepper}`, or a target",
    }),
  ),
  recipe: label("the name of a shipped recipe"),
  yield: later(() => quantity("rate", { positive: true })),
  soil_test: later(soilTestSchema),
  bed: bed(),
  soil_temperature: z.union(
    [
      soilTemperature(),
      read(z.record(z.string(), soilTemperature()), (input, ctx): Points => {
        const points: [number, number][] = [];
        for (const [key, value] of Object.entries(input)) {
          const read = parseDay(key);
          if (!read.ok) report(ctx, read.code, read.message, read.hint, [key], true);
          else if (points.some(([x]) => x === read.value))
            report(
              ctx,
              "key-duplicate",
              `day ${read.value} stands twice`,
              "keep one of the two",
              [key],
              true,
            );
          else points.push([read.value, value]);
        }
        if (Object.keys(input).length === 0)
          report(ctx, "key-missing", "no day is given", "for instance `{0: 14 C, 60: 20 C}`");
        return points.sort(([a], [b]) => a - b);
      }),
    ],
    { error: "a temperature such as `18 C`, or a map from day to temperature," },
  ),
  credits: later(() => z.array(creditSchema(), { error: "a list of credits" })),
  applications: later(() => z.array(applicationSchema(), { error: "a list of applications" })),
  blend: choice(["one", "each"]),
  batch: batch(),
  scale: quantity("mass", { positive: true }),
  limits: later(() => z.record(z.string(), limitSchema(), { error: "a map from id to limits" })),
  only: later(ids),
  exclude: later(ids),
  simple: later(() =>
    map(
      {
        most: z.optional(number("a number of amendments", { least: 1, whole: true })),
        least: z.optional(quantity("mass")),
        ...optional(remarks()),
      },
      "a map such as `{most: 5, least: 1 lb}`",
    ),
  ),
  require: later(() => choice(["organic-listed"])),
  suppliers: later(() => z.record(z.string(), supplierSchema(), { error: "a map from id to supplier" })),
  harvest: later(() =>
    map(
      { first: day(), touches_soil: z.optional(yesNo()), ...optional(remarks()) },
      "a map such as `{first: day 75, touches_soil: false}`",
    ),
  ),
  thresholds: later(thresholds),
  ...remarks(),
}));

// -------------------------------------------------------------------------------------------------------------------- mix

/** One `mix:` entry: a weight, or a volume of an amendment with a density. */
export const portionSchema = lazy(() => massOrVolume());

const spread = lazy(() =>
  map(
    {
      plants: z.optional(number("a number of plants", { above: 0, whole: true })),
      area: z.optional(quantity("area", { positive: true })),
      per_plant: z.optional(massOrVolume({ positive: true })),
      batches: z.optional(number("a number of batches", { above: 0 })),
      times: z.optional(number("a number of times", { above: 0, whole: true })),
      days: z.optional(z.array(day(), { error: "a list of days" })),
      ...optional(remarks()),
    },
    "a map such as `{plants: 180, per_plant: 0.5 cup, times: 3}`",
  ),
);

/** The keys of a mix file. */
export const mixShape = lazy(() => ({
  mix: later(() => z.record(z.string(), portionSchema(), { error: "a map from amendment to weight" })),
  name: label("the name of the mix"),
  currency: currency(),
  units: choice(["us", "metric"]),
  amendments: planShape().amendments,
  releases: planShape().releases,
  batch: batch(),
  spread: spread(),
  ...remarks(),
}));

// ------------------------------------------------------------------------------------------------------------------ cases

/** One `cases:` entry: changes to a plan. */
export const caseSchema = lazy(() =>
  map(
    {
      price: z.optional(
        read(
          z.record(z.string(), written("a change such as `+15%` or a price such as `1.20/lb`"), {
            error: "a map from id to change",
          }),
          (input, ctx) => {
            const changes: Record<string, PriceChange> = {};
            for (const [id, change] of Object.entries(input)) {
              const read = parsePriceChange(change);
              if (read.ok) changes[id] = read.value;
              else report(ctx, read.code, read.message, read.hint, [id]);
            }
            return changes;
          },
        ),
      ),
      without: z.optional(ids()),
      with: z.optional(paths()),
      set: z.optional(z.record(z.string(), z.unknown(), { error: "a map from field to value" })),
      ...optional(remarks()),
    },
    "a map such as `{price: {bone-meal: +15%}, without: [feather-meal]}`",
  ),
);

/** The keys of a cases file. */
export const casesShape = lazy(() => ({
  cases: z.record(z.string(), caseSchema(), { error: "a map from name to changes" }),
  ...remarks(),
}));

// ---------------------------------------------------------------------------------------------------------------- reading

/** The kinds of files that have a schema. */
export const FILE_KINDS = ["plan", "amendments", "target", "mix", "cases", "credits"] as const;
export type FileKind = (typeof FILE_KINDS)[number];
/** A schema for a whole file, for JSON Schema. */
export function fileSchema(kind: FileKind): Schema {
  const shapes: Readonly<Record<FileKind, () => Shape>> = {
    amendments: amendmentsFileShape,
    target: targetShape,
    plan: planShape,
    mix: mixShape,
    cases: casesShape,
    credits: creditSourcesShape,
  };
  const required: Readonly<Record<FileKind, readonly string[]>> = {
    amendments: [],
    target: [],
    plan: [],
    mix: ["mix", "amendments"],
    cases: ["cases"],
    credits: ["credit_sources"],
  };
  const shape = shapes[kind]();
  return z.strictObject(
    Object.fromEntries(
      Object.entries(shape).map(([k, s]) => [k, required[kind].includes(k) ? s : z.optional(s)]),
    ),
  );
}

/** The JSON Schema (2020-12) of a file, as an editor needs it to help; what each value should be stands as its description. */
export function jsonSchema(kind: FileKind): object {
  const { $schema, ...made } = z.toJSONSchema(fileSchema(kind), {
    io: "input",
    reused: "ref",
    override: ({ zodSchema, jsonSchema: made }) => {
      const { error } = zodSchema._zod.def as { error?: (issue: unknown) => unknown };
      const expected = error?.({ code: "invalid_type" });
      if (typeof expected === "string") made.description ??= expected.replace(/,$/, "");
    },
  });
  return { $schema, title: `barrowmix: ${kind}`, ...made };
}

/** Says that a key means nothing here, and which known one is nearest. */
export function unknownKey(tree: Tree, path: Path, key: string, known: readonly string[]): Problem {
  // `{area: 1,500 sq ft}`: inside braces the comma ends the value.
  if (/^\d{3}(\D|$)/.test(key) && valueAt(tree.root, [...path, key]) === null)
    return problemAt(
      tree,
      [...path, key],
      "key-unknown",
      `inside braces a comma ends the value, so \`${key}\` stands here as a key`,
      "write the number without the comma, or put the value in quotes",
      "key",
    );
  const near = nearest(key, known);
  const among = known.includes("N") && known.includes("P2O5") && /^[A-Z][A-Za-z0-9]{0,5}$/.test(key);
  const keys = known.filter((k) => k !== "note" && k !== "source" && k !== "sources");
  return problemAt(
    tree,
    [...path, key],
    among ? "nutrient-unknown" : "key-unknown",
    among ? `\`${key}\` is no nutrient the program knows` : `the key \`${key}\` means nothing here`,
    near === undefined ? `keys accepted here: ${keys.join(", ")}` : `did you mean \`${near}\`?`,
    "key",
  );
}

/** Checks one value; problems go to `out`, and the value read comes back if there were none. */
export function readValue<T extends Schema>(
  schema: T,
  tree: Tree,
  path: Path,
  out: Problem[],
): z.output<T> | undefined {
  const value = valueAt(tree.root, path);
  const result = z.safeParse(schema, value);
  if (!result.success) {
    problemsOf(result.error.issues, tree, path, out);
    return undefined;
  }
  // zod leaves this one key out of a map with free keys without a word, and what stands under it would be lost.
  const lost = pathsTo("__proto__", value, path);
  for (const at of lost)
    out.push(
      problemAt(tree, at, "id-malformed", "`__proto__` cannot be a key here", "use another name", "key"),
    );
  return lost.length === 0 ? result.data : undefined;
}

/** Where a key stands in a value, at any depth. */
function pathsTo(key: string, value: unknown, at: Path): readonly Path[] {
  if (Array.isArray(value)) return value.flatMap((item, i) => pathsTo(key, item, [...at, i]));
  if (!isRecord(value)) return [];
  return Object.keys(value).flatMap((k) => (k === key ? [[...at, k]] : pathsTo(key, value[k], [...at, k])));
}

/**
 * Checks a map key by key, so that a fault under one key does not hide those under the others.
 * @param skip keys that are known but read elsewhere.
 */
export function readMap<S extends Shape>(
  shape: S,
  tree: Tree,
  path: Path,
  out: Problem[],
  expected: string,
  skip: readonly string[] = [],
): Read<S> {
  const value = valueAt(tree.root, path);
  const read: Record<string, unknown> = {};
  if (!isRecord(value)) {
    out.push(wrongType(tree, path, value, expected));
    return read as Read<S>;
  }
  for (const key of Object.keys(value)) {
    if (!Object.hasOwn(shape, key)) out.push(unknownKey(tree, path, key, Object.keys(shape)));
    else if (!skip.includes(key)) {
      const got = readValue(shape[key]!, tree, [...path, key], out);
      if (got !== undefined) read[key] = got;
    }
  }
  return read as Read<S>;
}

/** The items of a list, or none where there is no list; something else in its place is reported. */
export function itemsOf(
  tree: Tree,
  path: Path,
  out: Problem[],
  expected: string,
): readonly unknown[] | undefined {
  const raw = valueAt(tree.root, path);
  if (raw === undefined || Array.isArray(raw)) return raw;
  out.push(wrongType(tree, path, raw, expected));
  return undefined;
}

const KINDS: readonly (readonly [(v: unknown) => boolean, string])[] = [
  [(v) => v === null, "nothing"],
  [(v) => Array.isArray(v), "a list"],
  [(v) => isRecord(v), "a map"],
  [(v) => typeof v === "boolean", "true or false"],
  [(v) => typeof v === "number", "a number"],
];

/** Says what stands at a path and what should. */
export function wrongType(tree: Tree, path: Path, value: unknown, expected: string): Problem {
  const clean = expected.replace(/,$/, "");
  const key = path.findLast((step) => typeof step === "string");
  if (value === undefined || value === null) {
    const name = path.length > 0 && typeof path.at(-1) === "string" ? `\`${path.at(-1)}\`` : "a value";
    return problemAt(
      tree,
      path,
      "key-missing",
      value === null
        ? `nothing is given for ${path.at(-1) === key ? name : "this item"}`
        : `${name} is missing`,
      `${clean} is needed`,
    );
  }
  if (typeof value === "number" && !Number.isFinite(value))
    return problemAt(
      tree,
      path,
      "number-range",
      `\`${value}\` is not a number one can reckon with`,
      `${clean} is needed`,
    );
  const found = KINDS.find(([is]) => is(value))?.[1] ?? `the text \`${String(value).slice(0, 40)}\``;
  return problemAt(tree, path, "type-wrong", `${found} stands here`, `${clean} is needed`);
}

type Issue = z.core.$ZodIssue;

/** Issues of zod as problems of ours. */
function problemsOf(issues: readonly Issue[], tree: Tree, base: Path, out: Problem[]): void {
  for (const issue of issues) {
    const path = [...base, ...(issue.path as (string | number)[])];
    const value = valueAt(tree.root, path);
    switch (issue.code) {
      case "custom": {
        const { code, hint, atKey } = issue.params as { code: ProblemCode; hint?: string; atKey?: boolean };
        out.push(problemAt(tree, path, code, issue.message, hint, atKey ? "key" : "value"));
        break;
      }
      case "unrecognized_keys":
        for (const key of issue.keys) out.push(unknownKey(tree, path, key, issue.message.split(" ")));
        break;
      case "invalid_union": {
        const branch = issue.errors.find((errors) => errors.length > 0 && !errors.every(isRootType));
        if (branch) problemsOf(branch, tree, path, out);
        else out.push(wrongType(tree, path, value, issue.message));
        break;
      }
      case "invalid_value": {
        const choices = issue.values.map(String);
        if (typeof value === "string") {
          const near = nearest(value, choices);
          out.push(
            problemAt(
              tree,
              path,
              "choice-unknown",
              `\`${value}\` is not among the choices`,
              near === undefined
                ? choices.length === 1
                  ? `the only choice is ${listed(choices)}`
                  : `one of ${listed(choices)}`
                : `did you mean \`${near}\`? the choices are ${listed(choices)}`,
            ),
          );
        } else out.push(wrongType(tree, path, value, issue.message));
        break;
      }
      default:
        out.push(wrongType(tree, path, value, issue.message));
    }
  }
}

const isRootType = (issue: Issue): boolean =>
  issue.path.length === 0 &&
  (issue.code === "invalid_type" ||
    (issue.code === "invalid_union" && issue.errors.every((e) => e.every(isRootType))));
