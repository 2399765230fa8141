/**
 * The plan that `solve --json` prints as `inputs`, read back: the model in SI, held to what a file is held to.
 *
 * Keys that are not known here pass unread, since later versions may write more; what is known is checked.
 */
import * as z from "zod/mini";
import { MATERIAL_KINDS, type Plan } from "../../model.ts";
import { NUTRIENTS, type Nutrient, readNutrient } from "../../nutrients.ts";
import { fail, ok, type Problem, pathText, type Result } from "../../problem.ts";
import { isAbsurd, LEAST_DAY, MAX_SI } from "../../units.ts";
import { isRecord, type Path, type Tree } from "../source.ts";
import { DENSITY_KG_PER_L, LEAST_PERCENT, ORGANIC_WORDS } from "./amendments.ts";
import { type Ctx, lazy, read, report, type Schema, type Shape } from "./base.ts";
import { readValue } from "./read.ts";
import { choice, label, percent, SOIL_C } from "./values.ts";

/** Shares that add up to a whole may miss it by what rounding does. */
const TOLERANCE = 1e-6;
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

const record = <S extends Shape>(shape: S, expected: string) => z.looseObject(shape, { error: expected });
const list = <S extends Schema>(item: S, expected: string) => z.array(item, { error: expected });
const orNull = <S extends Schema>(schema: S) => z.nullable(schema);

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

const curve = lazy(() => {
  const speed = {
    q10: figure("the factor of speed per 10 degrees", { above: 0, most: 10 }),
    referenceC: figure("a soil temperature in C", SOIL_C),
  };
  const pool = record(
    {
      kind: z.literal("pool"),
      atOnce: fraction("a share"),
      later: fraction("a share"),
      halfLifeDays: figure("a number of days", { above: 0 }),
      ...speed,
    },
    "a release",
  );
  return z.discriminatedUnion(
    "kind",
    [
      z.pipe(
        pool,
        z.transform((value: z.output<typeof pool>, ctx) => {
          if (value.atOnce + value.later > 1 + TOLERANCE)
            report(ctx, {
              code: "release-parts",
              wrong: `\`atOnce\` and \`later\` add to ${percent(value.atOnce + value.later)}`,
              hint: "together they are at most 100%",
            });
          return value;
        }),
      ),
      record({ kind: z.literal("points"), points: totals(), ...speed }, "a release"),
    ],
    { error: "a release of kind `pool` or `points`" },
  );
});
const namedCurve = lazy(() =>
  record({ label: z.string({ error: "text" }), curve: curve() }, "a release with its `label` and `curve`"),
);

/** Shares of a bag: none below zero, and together no more than the bag. */
const analysis = () =>
  read(
    byNutrient(fraction("a share of the bag"), "a map from nutrient to its share of the bag"),
    (parts, ctx) => {
      const potash = readNutrient("K")!.factor;
      const total = Object.entries(parts).reduce(
        (sum, [nutrient, share]) => sum + (nutrient === "K2O" ? share! / potash : share!),
        0,
      );
      if (total > 1 + TOLERANCE)
        report(ctx, {
          code: "analysis-sum",
          wrong: `what this analysis names weighs ${percent(total)} of the bag`,
          hint: "the parts of a bag cannot weigh more than the bag",
        });
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
  record(
    {
      id: id(),
      name: label("a name"),
      analysis: analysis(),
      packs: list(
        record(
          {
            sizeKg: figure("a weight in kg", { above: 0 }),
            price: amount("a price"),
            supplier: z.optional(id()),
          },
          "a pack",
        ),
        "a list of packs",
      ),
      bulkPricePerKg: z.optional(amount("a price per kg")),
      supplier: z.optional(id()),
      release: record(
        { byNutrient: byNutrient(namedCurve(), "a map from nutrient to release"), other: namedCurve() },
        "a release: `byNutrient` and `other`",
      ),
      densityKgPerL: z.optional(figure("a density in kg/L", DENSITY_KG_PER_L)),
      stockKg: amount("a weight in kg"),
      organic: choice(ORGANIC_WORDS),
      kind: z.optional(choice(MATERIAL_KINDS)),
      saltIndex: z.optional(figure("a salt index", { least: 0, most: 400 })),
      cce: z.optional(figure("a share", { least: 0, most: 2.5 })),
    },
    "an amendment",
  ),
);

/** Steps of delivery charges, which rise in weight and price. */
const deliverySteps = () =>
  read(
    list(
      record(
        { upToKg: z.optional(figure("a weight in kg", { above: 0 })), price: amount("a charge") },
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
    record(
      {
        nutrient: choice(NUTRIENTS),
        minKg: amount("a weight in kg"),
        maxKg: orNull(amount("a weight in kg")),
        appliedMaxKg: orNull(amount("a weight in kg")),
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
  record(
    {
      id: id(),
      minShare: z.optional(fraction("a share")),
      maxShare: z.optional(fraction("a share")),
      minKg: z.optional(amount("a weight in kg")),
      maxKg: z.optional(amount("a weight in kg")),
      notIn: list(figure("the number of an application", { least: 0 }), "a list of numbers of applications"),
    },
    "a limit",
  ),
);

const notice = () =>
  record({ code: z.string({ error: "a code" }), text: z.string({ error: "text" }) }, "a warning");
const count = (expected: string) => figure(expected, { above: 0 });

const batch = () =>
  read(
    record({ kg: z.optional(count("a weight in kg")), litres: z.optional(count("litres")) }, "a batch"),
    (value, ctx) => {
      if ((value.kg === undefined) === (value.litres === undefined))
        report(ctx, {
          code: "key-conflict",
          wrong: "a batch has either `kg` or `litres`",
          hint: "keep the one that fills first",
        });
      return value;
    },
  );

const planJson = lazy(() =>
  read(
    record(
      {
        name: label("the name of the plan"),
        currency: z.string({ error: "a currency such as `USD`" }),
        units: choice(["us", "metric"]),
        amendments: list(amendment(), "a list of amendments"),
        leftOut: list(
          record({ id: id(), why: z.string({ error: "text" }) }, "an amendment left out"),
          "a list",
        ),
        targetName: label("the name of the target"),
        seasonDays: count("a number of days"),
        demands: list(demand(), "a list of needs"),
        removalKg: z.optional(byNutrient(amount("a weight in kg"), "a map from nutrient to kg")),
        bed: record(
          {
            plants: z.optional(count("a number of plants")),
            areaM2: z.optional(count("an area in m2")),
            rows: z.optional(count("a number of rows")),
            rowLengthM: z.optional(count("a length in m")),
          },
          "a bed",
        ),
        soilTemperatureC: z.optional(points(figure("a soil temperature in C", SOIL_C))),
        credits: list(
          record(
            {
              from: label("what it comes from"),
              day: dayNumber(),
              release: namedCurve(),
              contentKg: byNutrient(amount("a weight in kg"), "a map from nutrient to kg"),
            },
            "a credit",
          ),
          "a list of credits",
        ),
        applications: list(
          record({ name: label("a name"), day: dayNumber(), share: fraction("a share") }, "an application"),
          "a list of applications",
        ),
        blend: choice(["one", "each"]),
        batch: z.optional(batch()),
        scaleKg: count("a weight in kg"),
        limits: list(limit(), "a list of limits"),
        simple: z.optional(
          record(
            {
              most: z.optional(count("a number of amendments")),
              leastKg: z.optional(amount("a weight in kg")),
            },
            "`most` and `leastKg`",
          ),
        ),
        suppliers: list(
          record(
            {
              id: id(),
              delivery: amount("a charge"),
              freeOver: z.optional(amount("an order value")),
              perKg: z.optional(amount("a charge per kg")),
              percent: z.optional(figure("a share", { least: 0, most: 1 })),
              steps: z.optional(deliverySteps()),
            },
            "a supplier",
          ),
          "a list of suppliers",
        ),
        harvest: z.optional(
          record({ firstDay: dayNumber(), touchesSoil: z.boolean({ error: "true or false" }) }, "a harvest"),
        ),
        checkDays: z.optional(list(dayNumber(), "a list of days")),
        thresholds: z.optional(
          z.record(z.string(), amount("a threshold"), { error: "a map from caution to threshold" }),
        ),
        warnings: list(notice(), "a list of warnings"),
      },
      "a plan: the `inputs` that `solve --json` prints",
    ),
    (plan, ctx) => {
      checkPlan(plan as unknown as Plan, ctx);
      return plan;
    },
  ),
);

/** What holds between the parts of a plan. */
function checkPlan(plan: Plan, ctx: Ctx): void {
  const { amendments, applications, limits } = plan;
  if (!/^[A-Z]{3}$/.test(plan.currency))
    report(ctx, {
      code: "choice-unknown",
      path: ["currency"],
      given: plan.currency,
      wrong: "is not a currency code",
      hint: "three capital letters (ISO 4217)",
    });
  if (amendments.length === 0)
    report(ctx, {
      code: "choice-empty",
      path: ["amendments"],
      wrong: "no amendment is left to make a blend from",
      expected: "at least one",
    });
  if (applications.length === 0)
    report(ctx, {
      code: "key-missing",
      path: ["applications"],
      wrong: "the list of applications is empty",
      expected: "at least one",
    });
  for (const [key, names] of [
    ["amendments", amendments.map((a) => a.id)],
    ["demands", plan.demands.map((d) => d.nutrient)],
    ["applications", applications.map((a) => a.name)],
    ["suppliers", plan.suppliers.map((s) => s.id)],
  ] as const)
    for (const [i, name] of names.entries())
      if (names.indexOf(name as never) < i)
        report(ctx, {
          code: "name-twice",
          path: [key, i],
          given: name,
          wrong: "is in this list twice",
          hint: "each is there once",
        });
  const total = applications.reduce((sum, a) => sum + a.share, 0);
  if (applications.length > 0 && Math.abs(total - 1) > TOLERANCE)
    report(ctx, {
      code: "shares-sum",
      path: ["applications"],
      wrong: `the shares add to ${percent(total)}`,
      hint: "they must add to 100%",
    });
  for (const [i, { day }] of applications.entries()) {
    if (day >= plan.seasonDays)
      report(ctx, {
        code: "day-outside",
        path: ["applications", i, "day"],
        wrong: `day ${day} is not before the season's end`,
        hint: `the season ends on day ${plan.seasonDays}`,
      });
    if (i > 0 && day < applications[i - 1]!.day)
      report(ctx, {
        code: "day-outside",
        path: ["applications", i, "day"],
        wrong: `day ${day} is before the one above it`,
        hint: "the earliest comes first",
      });
  }
  for (const [i, day] of (plan.checkDays ?? []).entries())
    if (day <= (applications[0]?.day ?? 0) || day >= plan.seasonDays)
      report(ctx, {
        code: "day-outside",
        path: ["checkDays", i],
        wrong: `day ${day} is not between the first application and the season's end`,
        hint: `give a day before day ${plan.seasonDays}`,
      });
  for (const [i, one] of limits.entries()) checkLimit(one, i, plan, ctx);
}

function checkLimit(one: Plan["limits"][number], i: number, plan: Plan, ctx: Ctx): void {
  if (!plan.amendments.some((a) => a.id === one.id))
    report(ctx, {
      code: "amendment-unknown",
      path: ["limits", i, "id"],
      wrong: `no amendment is called \`${one.id}\``,
      hint: "a limit is on an amendment of the plan",
    });
  for (const [k, index] of one.notIn.entries())
    if (!Number.isInteger(index) || index >= plan.applications.length)
      report(ctx, {
        code: "application-unknown",
        path: ["limits", i, "notIn", k],
        wrong: `there is no application ${index}`,
        hint: "they are counted from 0",
      });
  for (const [least, most] of [
    ["minKg", "maxKg"],
    ["minShare", "maxShare"],
  ] as const)
    if ((one[least] ?? 0) > (one[most] ?? Number.POSITIVE_INFINITY))
      report(ctx, {
        code: "limit-conflict",
        path: ["limits", i, least],
        given: least,
        wrong: `is above \`${most}\``,
        hint: "the least is at most the most",
      });
}

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
