/**
 * The plan that `solve --json` prints as `inputs`, read back: the model in SI, held to what a file is held to.
 *
 * Keys that are not known here pass unread, since later versions may write more; what is known is checked.
 */
import * as z from "zod/mini";
import { isoDate, parseDate } from "../../calendar.ts";
import {
  type Amendment,
  type Application,
  type Batch,
  type Bed,
  COVERS,
  type Credit,
  type DeliveryStep,
  type Demand,
  type Harvest,
  type LeftOut,
  type Limit,
  MATERIAL_KINDS,
  type NamedCurve,
  type OwnMeasure,
  type Pack,
  PLACEMENTS,
  type Plan,
  type Release,
  type ReleaseCurve,
  type Soil,
  type Supplier,
  type SureAsked,
  type Varies,
} from "../../model.ts";
import { NUTRIENTS, type Nutrient } from "../../nutrients.ts";
import { fail, type Notice, ok, type Problem, pathText, type Result } from "../../problem.ts";
import { isAbsurd, LEAST_DAY, MAX_SI } from "../../units.ts";
import { isRecord, type Path, type Tree } from "../source.ts";
import { checkBag, DENSITY_KG_PER_L, LEAST_PERCENT, ORGANIC_WORDS, PHOSPHATES } from "./amendments.ts";
import { lazy, read, report, type Schema, type Shape } from "./base.ts";
import { checkPlan, TOLERANCE } from "./inputs-rules.ts";
import { PH } from "./plan.ts";
import { readValue } from "./read.ts";
import { LEAST_SURE, MOST_SURE } from "./sure.ts";
import { choice, label, percent, SOIL_C } from "./values.ts";

const DAYS = { least: -3650, most: 3650 } as const;

interface Bounds {
  readonly least?: number;
  readonly above?: number;
  readonly most?: number;
}

/** A number of the model within its bounds. */
const figure = (expected: string, { least, above, most = MAX_SI }: Bounds = {}) =>
  read(z.number({ error: expected }), (value, ctx): number => {
    const low = above === undefined ? value < (least ?? -MAX_SI) : value <= above;
    if (low || value > most || isAbsurd(value)) {
      const floor = above === undefined ? `${least ?? -MAX_SI} or more` : `above ${above}`;
      const roof = most === MAX_SI && value <= most ? "" : `, at most ${most}`;
      report(ctx, {
        code: "number-range",
        given: value,
        wrong: "is out of range",
        hint: `${expected}: ${floor}${roof}`,
      });
    }
    return value;
  });
const amount = (expected: string) => figure(expected, { least: 0 });
const fraction = (expected: string) => figure(expected, { least: 0, most: 1 + TOLERANCE });
const dayNumber = () =>
  read(figure("a day counted from planting", DAYS), (days, ctx): number => {
    if (days !== 0 && Math.abs(days) < LEAST_DAY)
      report(ctx, {
        code: "number-range",
        given: days,
        wrong: "is too small a number for a day",
        hint: "a day such as `14`, or `0`",
      });
    return days;
  });

/**
 * A map with every field of a type of the model: one that is added there is asked for here by the type checker.
 * @param expected completes "... is needed".
 */
const record = <T>(shape: { readonly [K in keyof T]-?: Schema<T[K]> }, expected: string): Schema<T> =>
  z.looseObject(shape as Shape, { error: expected }) as unknown as Schema<T>;
const list = <T>(item: Schema<T>, expected: string) => z.array(item, { error: expected });
const orNull = <S extends Schema>(schema: S) => z.nullable(schema);
const maybe = <S extends Schema>(schema: S) => z.optional(schema);

/** Text, and not a number as a file may have in its place. */
const name = (expected: string) =>
  z.pipe(z.string({ error: expected }), label(expected) as z.core.$ZodType<string, string>);

/** A map by nutrient, under the names of the model only. */
const byNutrient = <S extends Schema>(value: S, expected: string) =>
  z.partialRecord(z.enum(NUTRIENTS as readonly [Nutrient, ...Nutrient[]]), value, { error: expected });

const points = (value: Schema<number>) =>
  read(
    list(z.tuple([dayNumber(), value], { error: "a pair `[day, value]`" }), "a list of pairs `[day, value]`"),
    (pairs, ctx) => {
      if (pairs.length === 0)
        report(ctx, {
          code: "key-missing",
          wrong: "no day is given",
          hint: "at least one pair `[day, value]`",
        });
      for (const [i, [x]] of pairs.entries())
        if (i > 0 && x <= pairs[i - 1]![0])
          report(ctx, {
            code: "points-falling",
            path: [i, 0],
            wrong: `day ${x} is not after the one before it`,
            hint: "days go forward",
          });
      return pairs;
    },
  );

/** Shares that are totals up to a day. */
const totals = () =>
  read(points(fraction("a share")), (pairs, ctx) => {
    for (const [i, [, y]] of pairs.entries())
      if (i > 0 && y < pairs[i - 1]![1])
        report(ctx, {
          code: "points-falling",
          path: [i, 1],
          wrong: "the share falls",
          hint: "shares are totals up to the day",
        });
    return pairs;
  });

/** A standard deviation as a share of its mean. */
const spread = () =>
  read(amount("a share below 1"), (value, ctx): number => {
    if (value >= 1)
      report(ctx, {
        code: "number-range",
        given: value,
        wrong: "is out of range",
        hint: "a share below 1: two lots in three lie within it",
      });
    return value;
  });

type Pool = Extract<ReleaseCurve, { readonly kind: "pool" }>;
type Measured = Extract<ReleaseCurve, { readonly kind: "points" }>;

const curve = lazy(() => {
  const speed = {
    q10: figure("the factor of speed per 10 degrees", { above: 0, most: 10 }),
    referenceC: figure("a soil temperature in C", SOIL_C),
  };
  // Below nothing: what the material ties up.
  const part = () => figure("a share", { least: -1 - TOLERANCE, most: 1 + TOLERANCE });
  const pool = record<Pool>(
    {
      kind: z.literal("pool"),
      atOnce: part(),
      later: part(),
      halfLifeDays: figure("a number of days", { above: 0 }),
      ...speed,
    },
    "a release",
  );
  const whole = read(pool, (value, ctx): Pool => {
    const { atOnce, later } = value;
    if (atOnce + later > 1 + TOLERANCE)
      report(ctx, {
        code: "release-parts",
        wrong: `\`atOnce\` and \`later\` add to ${percent(atOnce + later)}`,
        hint: "together they are at most 100%",
      });
    return value;
  });
  const measured = record<Measured>({ kind: z.literal("points"), points: totals(), ...speed }, "a release");
  const either = z.discriminatedUnion("kind", [whole, measured] as never, {
    error: "a release of kind `pool` or `points`",
  });
  return either as unknown as Schema<ReleaseCurve>;
});
const namedCurve = lazy(() =>
  record<NamedCurve>(
    { label: name("text"), curve: curve(), varies: maybe(spread()) },
    "a release with its `label` and `curve`",
  ),
);

/** Shares of a bag: none below zero, and together no more than the bag. */
const analysis = () =>
  read(
    byNutrient(fraction("a share of the bag"), "a map from nutrient to its share of the bag"),
    (parts, ctx) => {
      checkBag(parts, ctx);
      for (const [nutrient, share] of Object.entries(parts))
        if (share! > 0 && share! < LEAST_PERCENT / 100)
          report(ctx, {
            code: "number-range",
            given: share!,
            wrong: "is too small to be on a label",
            hint: "a share of the bag from 0 to 1",
            path: [nutrient],
          });
      return parts;
    },
  );

const amendment = lazy(() =>
  record<Amendment>(
    {
      id: id(),
      name: name("a name"),
      analysis: analysis(),
      packs: list(
        record<Pack>(
          { sizeKg: figure("a weight in kg", { above: 0 }), price: amount("a price"), supplier: maybe(id()) },
          "a pack",
        ),
        "a list of packs",
      ),
      bulkPricePerKg: maybe(amount("a price per kg")),
      supplier: maybe(id()),
      release: record<Release>(
        { byNutrient: byNutrient(namedCurve(), "a map from nutrient to release"), other: namedCurve() },
        "a release: `byNutrient` and `other`",
      ),
      densityKgPerL: maybe(figure("a density in kg/L", DENSITY_KG_PER_L)),
      stockKg: amount("a weight in kg"),
      organic: choice(ORGANIC_WORDS),
      kind: maybe(choice(MATERIAL_KINDS)),
      saltIndex: maybe(figure("a salt index", { least: 0, most: 400 })),
      phosphate: maybe(choice(PHOSPHATES)),
      cce: maybe(figure("a share", { least: -3.2, most: 2.5 })),
      varies: maybe(
        record<Varies>(
          { byNutrient: byNutrient(spread(), "a map from nutrient to a share"), other: maybe(spread()) },
          "how much it varies: `byNutrient` and `other`",
        ),
      ),
      effective: maybe(byNutrient(fraction("a share"), "a map from nutrient to a share")),
    },
    "an amendment",
  ),
);

/** Steps of delivery charges, which rise in weight and price. */
const deliverySteps = () =>
  read(
    list(
      record<DeliveryStep>(
        { upToKg: maybe(figure("a weight in kg", { above: 0 })), price: amount("a charge") },
        "a step: `upToKg` and `price`",
      ),
      "a list of steps",
    ),
    (steps, ctx) => {
      const rising = steps.every(
        ({ upToKg, price }, i) =>
          (upToKg !== undefined || i === steps.length - 1) &&
          (i === 0 || (price >= steps[i - 1]!.price && (upToKg ?? Infinity) > steps[i - 1]!.upToKg!)),
      );
      if (steps.length === 0 || !rising)
        report(ctx, {
          code: "number-range",
          wrong: "these steps do not rise",
          hint: "lightest first, the price never falling",
        });
      return steps;
    },
  );

const id = () =>
  read(z.string({ error: "an id" }), (text, ctx): string => {
    if (!/^[a-z0-9]+(?:-[a-z0-9]+)*$/.test(text))
      report(ctx, {
        code: "id-malformed",
        given: text,
        wrong: "is not an id",
        hint: "an id has small letters, digits and hyphens only",
      });
    return text;
  });

const demand = lazy(() =>
  read(
    record<Demand>(
      {
        nutrient: choice(NUTRIENTS),
        minKg: amount("a weight in kg"),
        maxKg: orNull(amount("a weight in kg")),
        counts: maybe(choice(["available", "applied"])),
        efficiency: maybe(figure("a share", { above: 0, most: 1 + TOLERANCE })),
        appliedMaxKg: orNull(amount("a weight in kg")),
        appliedSoftMaxKg: maybe(amount("a weight in kg")),
        aheadMaxKg: orNull(amount("a weight in kg")),
        uptake: orNull(totals()),
      },
      "what the crop needs of a nutrient",
    ),
    (value, ctx) => {
      if (value.maxKg !== null && value.minKg > value.maxKg)
        report(ctx, {
          code: "range-crossed",
          path: ["maxKg"],
          wrong: "`maxKg` is below `minKg`",
          hint: "the most is at least the least",
        });
      return value;
    },
  ),
);

const limit = lazy(() =>
  record<Limit>(
    {
      id: id(),
      minShare: maybe(fraction("a share")),
      maxShare: maybe(fraction("a share")),
      minKg: maybe(amount("a weight in kg")),
      maxKg: maybe(amount("a weight in kg")),
      notIn: list(figure("the number of an application", { least: 0 }), "a list of numbers of applications"),
    },
    "a limit",
  ),
);

const count = (expected: string) => figure(expected, { above: 0 });

/** What a credit brings in all; only nitrogen can be tied up. */
const content = () =>
  read(byNutrient(figure("a weight in kg"), "a map from nutrient to kg"), (parts, ctx) => {
    for (const [nutrient, kg] of Object.entries(parts))
      if (nutrient !== "N" && kg! < 0)
        report(ctx, {
          code: "number-range",
          path: [nutrient],
          given: kg,
          wrong: "is out of range",
          hint: "zero or more: only nitrogen can be tied up",
        });
    return parts;
  });

/** A date as `2027-05-20`. */
const isoDay = () =>
  read(z.string({ error: "the date of planting, for instance `2027-05-20`" }), (text, ctx): string => {
    const date = parseDate(text);
    if (date === null || date.year === null || isoDate(date) !== text)
      report(ctx, {
        code: "date-unreadable",
        given: text,
        wrong: "is not a date",
        hint: "write it as `2027-05-20`",
      });
    return text;
  });

/** A share of seasons. */
const chance = () =>
  figure("a share of seasons", { least: LEAST_SURE - TOLERANCE, most: MOST_SURE + TOLERANCE });
const nutrient = () => choice(NUTRIENTS);

const batch = () =>
  read(
    record<{ readonly kg?: number; readonly litres?: number }>(
      { kg: maybe(count("a weight in kg")), litres: maybe(count("litres")) },
      "a batch",
    ),
    (value, ctx): Batch => {
      if ((value.kg === undefined) === (value.litres === undefined))
        report(ctx, {
          code: "key-conflict",
          wrong: "a batch has either `kg` or `litres`",
          hint: "keep the one that fills first",
        });
      return value as Batch;
    },
  );

const planJson = lazy(() =>
  read(
    record<Plan>(
      {
        name: name("the name of the plan"),
        currency: z.string({ error: "a currency such as `USD`" }),
        units: choice(["us", "metric"]),
        amendments: list(amendment(), "a list of amendments"),
        leftOut: list(
          record<LeftOut>({ id: id(), why: choice(LEFT_OUT) }, "an amendment left out"),
          "a list",
        ),
        targetName: name("the name of the target"),
        planted: maybe(isoDay()),
        scoops: maybe(
          list(
            record<OwnMeasure>({ name: name("a name"), litres: count("litres") }, "a measure"),
            "a list of measures",
          ),
        ),
        seasonDays: count("a number of days"),
        demands: list(demand(), "a list of needs"),
        removalKg: maybe(byNutrient(amount("a weight in kg"), "a map from nutrient to kg")),
        bed: record<Bed>(
          {
            plants: maybe(count("a number of plants")),
            areaM2: maybe(count("an area in m2")),
            rows: maybe(count("a number of rows")),
            rowLengthM: maybe(count("a length in m")),
          },
          "a bed",
        ),
        soilTemperatureC: maybe(points(figure("a soil temperature in C", SOIL_C))),
        soil: maybe(
          record<Soil>(
            {
              pH: maybe(figure("a pH", PH)),
              organicMatter: maybe(fraction("a share")),
              pRating: maybe(name("a rating")),
            },
            "what is known of the soil",
          ),
        ),
        cover: maybe(choice(COVERS)),
        credits: list(
          record<Credit>(
            {
              from: name("what it comes from"),
              day: dayNumber(),
              release: namedCurve(),
              contentKg: content(),
              varies: maybe(spread()),
              allBySeasonEnd: maybe(flag()),
            },
            "a credit",
          ),
          "a list of credits",
        ),
        applications: list(
          record<Application>(
            {
              name: name("a name"),
              day: dayNumber(),
              share: fraction("a share"),
              placement: maybe(choice(PLACEMENTS)),
            },
            "an application",
          ),
          "a list of applications",
        ),
        blend: choice(["one", "each"]),
        batch: maybe(batch()),
        scaleKg: count("a weight in kg"),
        limits: list(limit(), "a list of limits"),
        simple: maybe(
          record<NonNullable<Plan["simple"]>>(
            { most: maybe(count("a number of amendments")), leastKg: maybe(amount("a weight in kg")) },
            "`most` and `leastKg`",
          ),
        ),
        suppliers: list(
          record<Supplier>(
            {
              id: id(),
              delivery: amount("a charge"),
              freeOver: maybe(amount("an order value")),
              perKg: maybe(amount("a charge per kg")),
              percent: maybe(figure("a share", { least: 0, most: 1 })),
              steps: maybe(deliverySteps()),
            },
            "a supplier",
          ),
          "a list of suppliers",
        ),
        harvest: maybe(record<Harvest>({ firstDay: dayNumber(), touchesSoil: flag() }, "a harvest")),
        checkDays: maybe(list(dayNumber(), "a list of days")),
        sure: maybe(
          record<SureAsked>(
            {
              each: list(
                record<SureAsked["each"][number]>(
                  { nutrient: nutrient(), p: chance() },
                  "a nutrient and its `p`",
                ),
                "a list of nutrients",
              ),
              together: maybe(
                record<NonNullable<SureAsked["together"]>>(
                  { nutrients: list(nutrient(), "a list of nutrients"), p: chance() },
                  "`nutrients` and their `p`",
                ),
              ),
            },
            "how sure: `each` and `together`",
          ),
        ),
        varies: maybe(
          record<NonNullable<Plan["varies"]>>(
            {
              releases: maybe(spread()),
              soilTemperatureC: maybe(figure("a difference of temperatures in C", { least: 0, most: 10 })),
              spreading: maybe(spread()),
            },
            "what a season shares",
          ),
        ),
        thresholds: maybe(
          z.record(z.string(), amount("a threshold"), { error: "a map from caution to threshold" }),
        ),
        warnings: list(
          record<Notice>({ code: name("a code"), text: name("text") }, "a warning"),
          "a list of warnings",
        ),
      },
      "a plan: the `inputs` that `solve --json` prints",
    ),
    (plan, ctx) => {
      checkPlan(plan, ctx);
      return plan;
    },
  ),
);
const LEFT_OUT = ["not in only", "excluded", "not listed organic", "not buyable"] as const;
const flag = () => z.boolean({ error: "true or false" });

/** The JSON Schema's kinds of input that are no plan of this kind. */
const ALONE = "run the command before the pipe by itself to see what it says";
const WANTED = "`-` takes a plan, or what `barrowmix solve --json` prints (schema barrowmix.solution/1)";

/**
 * Reads the plan out of the text that `solve --json` prints.
 * @param source what the text comes from, for messages: `standard input`.
 * @returns the plan, or every fault with its path in the JSON.
 */
export function readPlanJson(text: string, source = "standard input"): Result<Plan> {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return fail({
      code: "stdin-json",
      message: `${source} is not whole JSON: it breaks off or is not what \`solve --json\` prints`,
      hint: `the command before the pipe may have been stopped: ${ALONE}`,
    });
  }
  const { schema, inputs } = (typeof value === "object" && value !== null ? value : {}) as {
    readonly schema?: unknown;
    readonly inputs?: unknown;
  };
  if (schema !== "barrowmix.solution/1")
    return fail({
      code: "stdin-schema",
      message:
        schema === undefined
          ? `${source} is JSON, but neither a plan nor what \`solve --json\` prints`
          : `${source} is JSON of another kind: schema ${JSON.stringify(schema)}`,
      hint: WANTED,
    });
  if (!isRecord(inputs) || !Array.isArray(inputs.amendments))
    return fail({
      code: "stdin-inputs",
      message: `the solution on ${source} does not carry its plan whole (\`inputs\`)`,
      hint: "use the JSON of `barrowmix solve --json` as it is printed",
    });
  return readPlanValue(inputs, ["inputs"]);
}

/** Checks a value as the plan of a solution; `at` is where it is in its JSON. */
export function readPlanValue(value: unknown, at: Path = []): Result<Plan> {
  const problems: Problem[] = [];
  const tree: Tree = {
    file: "",
    path: "",
    root: value,
    position: (path) => ({ where: pathText([...at, ...path]) }),
  };
  const plan = readValue(planJson(), tree, [], problems);
  if (problems.length > 0 || plan === undefined) return { ok: false, problems };
  return ok(plan as unknown as Plan);
}
