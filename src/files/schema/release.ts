/** How a material releases its nutrients: the name of a class, or parameters of its own. */
import * as z from "zod/mini";
import type { Points } from "../../model.ts";
import { defined } from "../../optional.ts";
import type { QuantityRules } from "../../units.ts";
import { type Ctx, later, lazy, map, optional, type Read, read, remarks, report } from "./base.ts";
import { type ByNutrient, nutrientKeys, nutrientsOf } from "./nutrients.ts";
import { spreadShare } from "./sure.ts";
import { ALL, curve, label, number, percent, quantity, share, soilTemperature, text } from "./values.ts";

/** A release as a file states it; class names are resolved later, when every file has been read. */
export type CurveSpec = (
  | { readonly kind: "class"; readonly name: string }
  | {
      readonly kind: "pool";
      readonly atOnce: number;
      readonly later: number;
      readonly halfLifeDays: number;
      readonly q10: number;
      readonly referenceC: number;
    }
  | { readonly kind: "points"; readonly points: Points; readonly q10: number; readonly referenceC: number }
) & {
  /** Standard deviation of what it gives, as a share of that. */
  readonly varies?: number;
};

/** Name of the class in a spec that says only how much the class it means varies. */
export const SAME_CLASS = "";

export interface ReleaseSpec {
  readonly byNutrient: readonly ByNutrient<CurveSpec>[];
  /** Absent: the rest is available at once. */
  readonly other?: CurveSpec;
}

/** Below nothing: the material ties up what the soil holds. */
const TIED_UP: QuantityRules = { ...ALL, negative: true };

const inlineShape = lazy(() => ({
  class: later(() => label("the name of a release class")),
  varies: later(spreadShare),
  at_once: share(TIED_UP),
  later: share(TIED_UP),
  half_life: quantity("time", { positive: true }),
  points: curve(0),
  q10: number("the factor of speed per 10 degrees, for instance `2`", { above: 0, most: 10 }),
  reference: soilTemperature(),
  t_ref: soilTemperature(),
  summary: text("text"),
  ...remarks(),
}));

const INLINE_KEYS = [
  "class",
  "varies",
  "at_once",
  "later",
  "half_life",
  "points",
  "q10",
  "reference",
  "t_ref",
] as const;
const DEFAULT_Q10 = 2;
const DEFAULT_REFERENCE_C = 25;
export const SUM_TOLERANCE = 1e-9;

function inlineCurve(input: Read<ReturnType<typeof inlineShape>>, ctx: Ctx): CurveSpec {
  const varies = input.varies === undefined ? {} : { varies: input.varies };
  const others = INLINE_KEYS.filter((key) => key !== "class" && key !== "varies" && input[key] !== undefined);
  if (input.class !== undefined && others.length > 0)
    report(ctx, {
      code: "key-conflict",
      path: ["class"],
      at: "key",
      wrong: `\`class\` is given together with \`${others[0]}\``,
      hint: "a release is a class, or has numbers of its own",
    });
  if (input.class !== undefined) return { kind: "class", name: input.class, ...varies };
  if (others.length === 0 && input.varies !== undefined)
    return { kind: "class", name: SAME_CLASS, ...varies };
  return { ...ownCurve(input, ctx), ...varies };
}

function ownCurve(input: Read<ReturnType<typeof inlineShape>>, ctx: Ctx): CurveSpec {
  const q10 = input.q10 ?? DEFAULT_Q10;
  const referenceC = input.reference ?? input.t_ref ?? DEFAULT_REFERENCE_C;
  if (input.reference !== undefined && input.t_ref !== undefined)
    report(ctx, {
      code: "key-conflict",
      path: ["t_ref"],
      at: "key",
      wrong: "`reference` and `t_ref` are two names for one thing",
      hint: "keep `reference`",
    });
  const pooled = input.at_once !== undefined || input.later !== undefined || input.half_life !== undefined;
  if (input.points !== undefined) {
    if (pooled)
      report(ctx, {
        code: "key-conflict",
        path: ["points"],
        at: "key",
        wrong: "`points` is given together with `at_once`, `later` or `half_life`",
        hint: "a measured release has `points` only; a computed one has the other three",
      });
    return { kind: "points", points: input.points, q10, referenceC };
  }
  const atOnce = input.at_once ?? 0;
  const later = input.later ?? 0;
  if (!pooled)
    report(ctx, {
      code: "release-parts",
      wrong: "this release does not say how much becomes available",
      hint: "give `at_once`, or `later` with `half_life`, or `points`",
    });
  for (const [key, value] of [
    ["at_once", atOnce],
    ["later", later],
  ] as const)
    if (value < -1 - SUM_TOLERANCE)
      report(ctx, {
        code: "release-parts",
        path: [key],
        given: key,
        wrong: `is ${percent(value)}`,
        hint: "at least -100%: below zero it says how much the material ties up, as a share of what it holds",
      });
  if (atOnce + later > 1 + SUM_TOLERANCE)
    report(ctx, {
      code: "release-parts",
      wrong: `\`at_once\` and \`later\` add to ${percent(atOnce + later)}`,
      hint: "together they are at most 100%: nothing is available that the label does not contain",
    });
  if (later !== 0 && input.half_life === undefined)
    report(ctx, {
      code: "release-parts",
      wrong: "`later` is given without a `half_life`",
      hint: "say how long half of it takes, for instance `half_life: 18 days`",
    });
  return { kind: "pool", atOnce, later, halfLifeDays: input.half_life ?? 1, q10, referenceC };
}

const className = () =>
  read(
    z.string({ error: "a release class or a map" }),
    (name): CurveSpec => ({ kind: "class", name: name.trim() }),
  );

/** One curve: the name of a class, or parameters. */
export const curveSchema = lazy(() =>
  z.union(
    [
      className(),
      read(map(optional(inlineShape()), "a release class or a map"), (input, ctx) =>
        inlineCurve(input as never, ctx),
      ),
    ],
    {
      error:
        "a release class such as `slow`, or a map such as `{at_once: 5%, later: 70%, half_life: 18 days}`",
    },
  ),
);

/** A curve for all nutrients, or one for each named and `other` for the rest. */
export const releaseSchema = lazy(() => {
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
          report(ctx, {
            code: "key-conflict",
            path: [inline[0]!],
            at: "key",
            given: inline[0],
            wrong: "is given together with nutrients",
            hint: "put it inside one: `{N: {at_once: 5%, ...}, other: at-once}`",
          });
          return z.NEVER;
        }
        if (byNutrient.length > 0 || other !== undefined) return { byNutrient, ...defined({ other }) };
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
