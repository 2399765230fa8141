/** Plans: applications, limits, suppliers, batches, the bed, and the keys that hold them together. */
import * as z from "zod/mini";
import { type Batch, COVERS, type DeliveryStep, PLACEMENTS, type Points, type Soil } from "../../model.ts";
import { parseNumber } from "../../numerals.ts";
import { defined } from "../../optional.ts";
import type { QuantityRules } from "../../units.ts";
import { CAUTION_THRESHOLDS, type ThresholdCode } from "../caution-thresholds.ts";
import { amendmentShape } from "./amendments.ts";
import * as s from "./base.ts";
import { creditSchema } from "./credits.ts";
import { releaseClassSchema } from "./release.ts";
import { soilTestSchema } from "./soil-test.ts";
import { kindsSchema, planVariesSchema, sureSchema } from "./sure.ts";
import { targetShape } from "./target.ts";
import * as v from "./values.ts";

/** One `applications:` entry. */
export const applicationSchema = s.lazy(() =>
  s.map(
    {
      name: v.label("a name"),
      day: v.day(),
      share: v.share({ ...v.ALL, positive: true }),
      placement: v.choice(PLACEMENTS),
      dug_in: v.quantity("time"),
    },
    "an application such as `{name: planting, day: 0, share: 40%}`",
    ["day"],
  ),
);

/** One `limits:` entry. */
export const limitSchema = s.lazy(() =>
  s.map(
    {
      min_share: v.share(),
      max_share: v.share(),
      min: v.quantity("mass"),
      max: v.quantity("mass"),
      not_in: s.read(
        z.union([z.string(), z.number(), z.array(s.written("the name of an application"))], {
          error: "a list of applications",
        }),
        (input): string[] => [input].flat().map((name) => String(name).trim()),
      ),
    },
    "limits such as `{max_share: 30%}`",
  ),
);

/**
 * What is wrong with steps of delivery. Weights and prices both rise, so that the first step that reaches an order is its
 * cheapest too.
 * @param upTo what the key of the weight is called.
 */
export const unrising = (steps: readonly DeliveryStep[], upTo: "up_to" | "upToKg"): s.Faults => [
  steps.length === 0 && {
    code: "steps-empty",
    wrong: "no step is given",
    hint: "for instance `[{up_to: 100 lb, price: 25}]`",
  },
  ...steps.flatMap(({ upToKg, price }, i): s.Faults => {
    const before = steps[i - 1];
    return [
      upToKg === undefined &&
        i < steps.length - 1 && {
          code: "steps-order",
          path: [i],
          wrong: `only the last step may leave out \`${upTo}\``,
          hint: "give the weight up to which this price holds",
        },
      upToKg !== undefined &&
        upToKg <= (before?.upToKg ?? 0) && {
          code: "steps-order",
          path: [i, upTo],
          wrong: "this step reaches no further than the one before it",
          hint: "list the lightest first",
        },
      before !== undefined &&
        price < before.price && {
          code: "steps-falling",
          path: [i, "price"],
          wrong: "this step is cheaper than a lighter one",
          hint: "a heavier order costs at least as much to deliver",
        },
    ];
  }),
];

const deliverySteps = () =>
  s.held(
    s.list(
      s.read(
        s.map(
          { up_to: v.quantity("mass", { positive: true }), price: v.money("the charge for a delivery") },
          "a step such as `{up_to: 100 lb, price: 25}`",
          ["price"],
        ),
        ({ up_to: upToKg, price }): DeliveryStep => defined({ upToKg, price }),
      ),
      "a list of steps, for instance `[{up_to: 100 lb, price: 25}]`,",
    ),
    (steps) => unrising(steps, "up_to"),
  );

/** One `suppliers:` entry. */
export const supplierSchema = s.lazy(() =>
  s.map(
    {
      name: v.label("a name"),
      delivery: v.money("the charge for a delivery"),
      free_over: v.money("the order value from which delivery is free"),
      per: v.quantity("price"),
      percent: v.share(),
      steps: deliverySteps(),
    },
    "a map such as `{delivery: 35, free_over: 250}`",
  ),
);

/** One `prices:` entry that says more than a file. */
export const priceListSchema = s.lazy(() =>
  s.map(
    {
      file: v.label("the name of a price list (CSV)"),
      supplier: supplierId(),
      names: s.freeMap(
        v.label("the id of an amendment"),
        "a map from the store's names to your ids, for instance `{Feather Meal 13-0-0: feather-meal}`",
      ),
      decimal: v.choice(["point", "comma"]),
    },
    "a price list such as `{file: valley.csv, supplier: valley-feed}`",
    ["file"],
  ),
);

const supplierId = () => s.held(v.label("the id of a supplier"), (id) => [v.malformed(id)]);

export const batch = s.lazy(() =>
  z.union(
    [
      v.massOrVolume({ positive: true }),
      s.read(
        s.tied(
          s.map(
            {
              size: v.quantity("mass", { positive: true }),
              volume: v.quantity("volume", { positive: true }),
            },
            "a map such as `{size: 60 lb}` or `{volume: 6 cu ft}`",
          ),
          {
            some: [["size", "volume"], "for instance `{size: 60 lb}` or `{volume: 6 cu ft}`"],
            excludes: [["size", ["volume"], "keep the one that fills first"]],
          },
        ),
        ({ size: kg, volume: litres }) => defined({ kg, litres }) as Batch,
      ),
    ],
    { error: "a map such as `{size: 60 lb}` or `{volume: 6 cu ft}`" },
  ),
);

/** The measures of a bed. */
export const bedShape = s.lazy(() => ({
  plants: v.number("a number of plants", { above: 0, whole: true }),
  area: v.quantity("area", { positive: true }),
  rows: v.number("a number of rows", { above: 0, whole: true }),
  row_length: v.quantity("length", { positive: true }),
  beds_alike: v.number("a number of beds", { above: 0, whole: true }),
}));

const bed = s.lazy(() => s.map(bedShape(), "a map such as `{plants: 240, area: 1500 sq ft}`"));

/** No soil drains outside of these: water at field capacity, by volume. */
const soilHolds = () =>
  s.held(v.quantity("share"), (holds) => [
    (holds < 0.05 || holds > 0.6) && {
      code: "number-range",
      given: v.percent(holds),
      wrong: "is no soil's water at field capacity",
      hint: "sand holds about 12%, loam 25%, clay 40%; between 5% and 60%",
    },
  ]);

/** Roots of annual crops go no deeper. */
const rootDepth = () => v.quantity("length", { positive: true, most: { value: 3, text: "`3 m`" } });

/** A pH outside these is no soil that grows a crop. */
export const PH = { least: 3, most: 10 } as const;

/** Sea water has 50 dS/m; a soil that grows anything at all has less. */
export const SALINITY = { least: 0, most: 50 } as const;

/** Salt of the soil: `3.1 dS/m`, or mS/cm or mmhos/cm, which are the same. */
const salinity = () =>
  s.parsed("the salt of the soil, for instance `3.1 dS/m`", (input) => {
    const written = String(input).trim();
    const match = /^([\d.,/ ]+?)\s*(?:ds\/m|ms\/cm|mmhos?\/cm)?$/i.exec(written);
    const value = match ? parseNumber(match[1]!) : null;
    if (value !== null && value !== undefined && value >= SALINITY.least && value <= SALINITY.most)
      return { ok: true, value };
    return {
      ok: false,
      code: "number-unreadable",
      given: input,
      wrong: "is no salinity of a soil",
      hint: "a number of dS/m (mS/cm is the same) up to 50, for instance `3.1 dS/m`",
    };
  });

const soil = s.lazy(() =>
  s.read(
    s.map(
      {
        pH: v.number("a pH such as `6.4`", PH),
        ph: v.number("a pH such as `6.4`", PH),
        organic_matter: v.share(),
        holds: s.later(soilHolds),
        roots: s.later(rootDepth),
        P_rating: v.label("a rating of phosphorus such as `high`"),
        p_rating: v.label("a rating of phosphorus such as `high`"),
        EC: salinity(),
        ec: salinity(),
      },
      "a map such as `{pH: 6.4, organic_matter: 3%, P_rating: high}`",
    ),
    (fields): Soil => {
      const { ph, pH = ph, organic_matter: organicMatter, p_rating, P_rating: pRating = p_rating } = fields;
      const { ec: low, EC: ec = low, holds, roots: rootsM } = fields;
      return defined({ pH, organicMatter, pRating, ec, holds, rootsM });
    },
  ),
);

export const currencyFaults = (code: string): s.Faults => [
  !/^[A-Z]{3}$/.test(code) && {
    code: "choice-unknown",
    given: code,
    wrong: "is not a currency code",
    hint: /^[a-z]{3}$/i.test(code)
      ? `did you mean \`${code.toUpperCase()}\`?`
      : "three capital letters, such as `USD` or `EUR` (ISO 4217)",
  },
];

export const currency = () => s.held(v.text("a currency such as `USD`"), currencyFaults);

/** Shares of a threshold may pass the whole: twice the need is 200%. */
const FAR_ABOVE: QuantityRules = { most: { value: 100, text: "`10000%`" } };

const thresholds = () =>
  s.map(
    Object.fromEntries(
      Object.entries(CAUTION_THRESHOLDS).map(([code, { dimension }]) => [
        code,
        v.quantity(dimension, dimension === "share" ? FAR_ABOVE : {}),
      ]),
    ) as Record<ThresholdCode, s.Schema<number>>,
    "a map from caution to threshold, for instance `{boron: 1 lb/acre}`",
  );

/** The keys of a plan. */
export const planShape = s.lazy(() => ({
  plan: v.label("the name of the plan"),
  currency: currency(),
  units: v.choice(["us", "metric"]),
  amendments: s.later(() =>
    z.union(
      [
        z.string(),
        z.array(z.union([z.string(), z.record(z.string(), s.map(amendmentShape(), "a map of fields"))])),
        z.record(z.string(), s.map(amendmentShape(), "a map of fields")),
      ],
      { error: "a path, a list of paths, or a map of amendments" },
    ),
  ),
  releases: s.later(() => s.freeMap(releaseClassSchema(), "a map from class to release")),
  kinds: s.later(kindsSchema),
  target: s.later(() =>
    z.union([z.string(), s.map(targetShape(), "a target")], {
      error: "a path, `{recipe: pepper}`, or a target",
    }),
  ),
  recipe: v.label("the name of a shipped recipe"),
  yield: s.later(() => v.quantity("rate", { positive: true })),
  soil_test: s.later(soilTestSchema),
  bed: bed(),
  soil_temperature: z.union(
    [
      v.soilTemperature(),
      s.read(
        z.record(z.string(), v.soilTemperature()),
        (input, ctx): Points => v.byDay(input, ctx, "for instance `{0: 14 C, 60: 20 C}`").points,
      ),
    ],
    { error: "a temperature such as `18 C`, or a map from day to temperature," },
  ),
  soil: s.later(soil),
  cover: v.choice(COVERS),
  credits: s.later(() => s.list(creditSchema(), "a list of credits")),
  drainage: s.later(() =>
    s.list(
      s.map(
        { day: v.day(), depth: v.quantity("length", { most: { value: 2.032, text: "`80 in`" } }) },
        "expected drainage such as `{day: 160, depth: 10 in}`",
        ["day", "depth"],
      ),
      "a list of expected drainage, for instance `[{day: 160, depth: 10 in}]`",
    ),
  ),
  applications: s.later(() => s.list(applicationSchema(), "a list of applications")),
  blend: v.choice(["one", "each"]),
  batch: batch(),
  scale: v.quantity("mass", { positive: true }),
  limits: s.later(() => s.freeMap(limitSchema(), "a map from id to limits")),
  only: s.later(v.ids),
  exclude: s.later(v.ids),
  simple: s.later(() =>
    s.tied(
      s.map(
        { most: v.number("a number of amendments", { least: 1, whole: true }), least: v.quantity("mass") },
        "a map such as `{most: 5, least: 1 lb}`",
      ),
      { some: [["most", "least"], "for instance `{most: 5, least: 1 lb}`"] },
    ),
  ),
  require: s.later(() => v.choice(["organic-listed"])),
  suppliers: s.later(() => s.freeMap(supplierSchema(), "a map from id to supplier")),
  prices: s.later(() =>
    z.union([z.string(), z.array(z.union([z.string(), priceListSchema()])), priceListSchema()], {
      error: "a price list (CSV), or a list of them",
    }),
  ),
  planted: z.string({ error: "the date of planting, for instance `2027-05-20`" }),
  scoops: s.later(() =>
    s.freeMap(
      z.union([z.string(), z.number()]),
      "a map from your own measures to volumes, for instance `{scoop: 1 quart, barrow: 6 cu ft}`",
    ),
  ),
  harvest: s.later(() =>
    s.map(
      { first: v.day(), touches_soil: v.yesNo() },
      "a map such as `{first: day 75, touches_soil: false}`",
      ["first"],
    ),
  ),
  check_days: s.later(() =>
    s.list(v.day(), "a list of days on which needs are checked too, for instance `[60, 75]`"),
  ),
  thresholds: s.later(thresholds),
  sure: s.later(sureSchema),
  varies: s.later(planVariesSchema),
  ...s.remarks(),
}));
