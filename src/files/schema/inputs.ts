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
import { NUTRIENTS, type Nutrient, readNutrient } from "../../nutrients.ts";
import { fail, type Notice, ok, type Problem, pathText, problemOf, type Result } from "../../problem.ts";
import { parseDay } from "../../units.ts";
import { crossed, TOLERANCE } from "../faults.ts";
import { isRecord, type Path } from "../source.ts";
import { CCE, DENSITY_KG_PER_L, LEAST_PERCENT, ORGANIC_WORDS, overfull, PHOSPHATES } from "./amendments.ts";
import { type Faults, freeMap, held, lazy, list, read, type Schema, type Shape, taken } from "./base.ts";
import { checkPlan } from "./inputs-rules.ts";
import { currency, PH, unrising } from "./plan.ts";
import { type Complain, readValue } from "./read.ts";
import { tooMuch } from "./release.ts";
import { LEAST_SURE, MOST_SURE } from "./sure.ts";
import { type Bounds, choice, falling, label, malformed, outOfBounds, outOfRange, SOIL_C } from "./values.ts";

/** A number of the model within its bounds. */
const figure = (expected: string, bounds: Bounds = {}) =>
  held(z.number({ error: expected }), (value) => [outOfBounds(expected, value, bounds)]);
const amount = (expected: string) => figure(expected, { least: 0 });
const positive = (expected: string) => figure(expected, { above: 0 });
const fraction = (expected: string) => figure(expected, { least: 0, most: 1 + TOLERANCE });
const dayNumber = () =>
  read(z.number({ error: "a day counted from planting" }), (days, ctx) => taken(parseDay(days), ctx));

/**
 * A map with every field of a type of the model: one that is added there is asked for here by the type checker.
 * @param expected completes "... is needed".
 */
const record = <T>(shape: { readonly [K in keyof T]-?: Schema<T[K]> }, expected: string): Schema<T> =>
  z.looseObject(shape as Shape, { error: expected }) as unknown as Schema<T>;
const orNull = z.nullable;
const maybe = z.optional;

/** Text, and not a number as a file may have in its place. */
const name = (expected: string) =>
  z.pipe(z.string({ error: expected }), label(expected) as z.core.$ZodType<string, string>);

/** A map by nutrient, under the names of the model only. */
const byNutrient = <S extends Schema>(value: S, expected: string) =>
  z.partialRecord(z.enum(NUTRIENTS as readonly [Nutrient, ...Nutrient[]]), value, { error: expected });

const points = (value: Schema<number>) =>
  held(
    list(z.tuple([dayNumber(), value], { error: "a pair `[day, value]`" }), "a list of pairs `[day, value]`"),
    (pairs) => [
      pairs.length === 0 && {
        code: "key-missing",
        wrong: "no day is given",
        hint: "at least one pair `[day, value]`",
      },
      ...pairs.map(
        ([day], i): Faults[number] =>
          i > 0 &&
          day <= pairs[i - 1]![0] && {
            code: "points-falling",
            path: [i, 0],
            wrong: `day ${day} is not after the one before it`,
            hint: "days go forward",
          },
      ),
    ],
  );

/** Shares that are totals up to a day. */
const totals = () => held(points(fraction("a share")), (pairs) => falling(pairs, (i) => [i, 1]));

/** A standard deviation as a share of its mean. */
const spread = () => figure("a share below 1 (two lots in three lie within it)", { least: 0, below: 1 });

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
      halfLifeDays: positive("a number of days"),
      ...speed,
    },
    "a release",
  );
  const measured = record<Measured>({ kind: z.literal("points"), points: totals(), ...speed }, "a release");
  const either = z.discriminatedUnion(
    "kind",
    [held(pool, ({ atOnce, later }) => [tooMuch({ atOnce, later }, TOLERANCE)]), measured] as never,
    { error: "a release of kind `pool` or `points`" },
  );
  return either as unknown as Schema<ReleaseCurve>;
});
const namedCurve = lazy(() =>
  record<NamedCurve>(
    { label: name("text"), curve: curve(), varies: maybe(spread()) },
    "a release with its `label` and `curve`",
  ),
);

/** A share of a bag: none at all, or enough to be on a label. All potassium is more than a bag of K2O. */
const content = () =>
  held(figure("a share of the bag", { least: 0, most: readNutrient("K")!.factor + TOLERANCE }), (share) => [
    share > 0 &&
      share < LEAST_PERCENT / 100 && {
        code: "number-range",
        given: share,
        wrong: "is too small to be on a label",
        hint: "a share of the bag from 0 to 1",
      },
  ]);

const amendment = lazy(() =>
  record<Amendment>(
    {
      id: id(),
      name: name("a name"),
      analysis: held(byNutrient(content(), "a map from nutrient to its share of the bag"), (parts) => [
        overfull(parts),
      ]),
      packs: list(
        record<Pack>(
          { sizeKg: positive("a weight in kg"), price: amount("a price"), supplier: maybe(id()) },
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
      cce: maybe(figure("a share", CCE)),
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
  held(
    list(
      record<DeliveryStep>(
        { upToKg: maybe(positive("a weight in kg")), price: amount("a charge") },
        "a step: `upToKg` and `price`",
      ),
      "a list of steps",
    ),
    (steps) => unrising(steps, "upToKg"),
  );

const id = () => held(z.string({ error: "an id" }), (text) => [malformed(text)]);

const demand = lazy(() =>
  held(
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
    ({ minKg, maxKg }) => [
      maxKg !== null && minKg > maxKg && { ...crossed("`maxKg`", "`minKg`"), path: ["maxKg"] },
    ],
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

/** What a credit brings in all; only nitrogen can be tied up. */
const credited = () =>
  held(byNutrient(figure("a weight in kg"), "a map from nutrient to kg"), (parts) =>
    Object.entries(parts).map(
      ([nutrient, kg]): Faults[number] =>
        nutrient !== "N" &&
        kg! < 0 && { ...outOfRange(kg!, "zero or more: only nitrogen can be tied up"), path: [nutrient] },
    ),
  );

/** A date as `2027-05-20`. */
const isoDay = () =>
  held(z.string({ error: "the date of planting, for instance `2027-05-20`" }), (text) => {
    const date = parseDate(text);
    const sound = date !== null && date.year !== null && isoDate(date) === text;
    return [
      !sound && {
        code: "date-unreadable",
        given: text,
        wrong: "is not a date",
        hint: "write it as `2027-05-20`",
      },
    ];
  });

/** A share of seasons. */
const chance = () =>
  figure("a share of seasons", { least: LEAST_SURE - TOLERANCE, most: MOST_SURE + TOLERANCE });
const nutrient = () => choice(NUTRIENTS);

const batch = () =>
  held(
    record<{ readonly kg?: number; readonly litres?: number }>(
      { kg: maybe(positive("a weight in kg")), litres: maybe(positive("litres")) },
      "a batch",
    ),
    ({ kg, litres }) => [
      (kg === undefined) === (litres === undefined) && {
        code: "key-conflict",
        wrong: "a batch has either `kg` or `litres`",
        hint: "keep the one that fills first",
      },
    ],
  ) as Schema<Batch>;

const bed = () =>
  record<Bed>(
    {
      plants: maybe(positive("a number of plants")),
      areaM2: maybe(positive("an area in m2")),
      rows: maybe(positive("a number of rows")),
      rowLengthM: maybe(positive("a length in m")),
    },
    "a bed",
  );

const credit = () =>
  record<Credit>(
    {
      from: name("what it comes from"),
      day: dayNumber(),
      release: namedCurve(),
      contentKg: credited(),
      varies: maybe(spread()),
      allBySeasonEnd: maybe(flag()),
    },
    "a credit",
  );

const supplier = () =>
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
  );

const sure = () =>
  record<SureAsked>(
    {
      each: list(
        record<SureAsked["each"][number]>({ nutrient: nutrient(), p: chance() }, "a nutrient and its `p`"),
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
  );

const planJson = lazy(() =>
  record<Plan>(
    {
      name: name("the name of the plan"),
      currency: currency(),
      units: choice(["us", "metric"]),
      amendments: list(amendment(), "a list of amendments"),
      leftOut: list(record<LeftOut>({ id: id(), why: choice(LEFT_OUT) }, "an amendment left out"), "a list"),
      targetName: name("the name of the target"),
      planted: maybe(isoDay()),
      scoops: maybe(
        list(
          record<OwnMeasure>({ name: name("a name"), litres: positive("litres") }, "a measure"),
          "a list of measures",
        ),
      ),
      seasonDays: positive("a number of days"),
      demands: list(demand(), "a list of needs"),
      removalKg: maybe(byNutrient(amount("a weight in kg"), "a map from nutrient to kg")),
      bed: bed(),
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
      credits: list(credit(), "a list of credits"),
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
      scaleKg: positive("a weight in kg"),
      limits: list(limit(), "a list of limits"),
      simple: maybe(
        record<NonNullable<Plan["simple"]>>(
          { most: maybe(positive("a number of amendments")), leastKg: maybe(amount("a weight in kg")) },
          "`most` and `leastKg`",
        ),
      ),
      suppliers: list(supplier(), "a list of suppliers"),
      harvest: maybe(record<Harvest>({ firstDay: dayNumber(), touchesSoil: flag() }, "a harvest")),
      checkDays: maybe(list(dayNumber(), "a list of days")),
      sure: maybe(sure()),
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
      thresholds: maybe(freeMap(amount("a threshold"), "a map from caution to threshold")),
      warnings: list(
        record<Notice>({ code: name("a code"), text: name("text") }, "a warning"),
        "a list of warnings",
      ),
    },
    "a plan: the `inputs` that `solve --json` prints",
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
  const { schema, inputs } = isRecord(value) ? value : {};
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
  const complain: Complain = ({ path = [], ...fault }) => {
    problems.push(problemOf(fault, { path, about: pathText([...at, ...path]) }));
  };
  const plan = readValue(planJson(), value, [], complain);
  if (plan !== undefined) checkPlan(plan, complain);
  return plan === undefined || problems.length > 0 ? { ok: false, problems } : ok(plan);
}
