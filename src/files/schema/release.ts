/** How a material releases its nutrients: the name of a class, or parameters of its own. */
import * as z from "zod/mini";
import type { ReleaseCurve } from "../../model.ts";
import { defined } from "../../optional.ts";
import type { QuantityRules } from "../../units.ts";
import * as s from "./base.ts";
import { mapWithNutrients, type Nutrients, nutrientKeys } from "./nutrients.ts";
import { spreadShare } from "./sure.ts";
import * as v from "./values.ts";

/** A release as a file states it; class names are resolved later, when every file has been read. */
export type CurveSpec = (ReleaseCurve | { readonly kind: "class"; readonly name: string }) & {
  /** Standard deviation of what it gives, as a share of that. */
  readonly varies?: number;
};

/** Name of the class in a spec that says only how much the class it means varies. */
export const SAME_CLASS = "";

/** Below nothing: the material ties up what the soil holds. */
const TIED_UP: QuantityRules = { ...v.ALL, negative: true };

const releaseKeys = s.lazy(() => ({
  class: s.later(() => v.label("the name of a release class")),
  varies: s.later(spreadShare),
  at_once: v.share(TIED_UP),
  later: v.share(TIED_UP),
  half_life: v.quantity("time", { positive: true }),
  points: v.curve(),
  q10: v.number("the factor of speed per 10 degrees, for instance `2`", { above: 0, most: 10 }),
  reference: v.soilTemperature(),
  t_ref: v.soilTemperature(),
}));

const inlineShape = s.lazy(() => ({ ...releaseKeys(), summary: v.text("text"), ...s.remarks() }));
type Inline = s.Read<ReturnType<typeof inlineShape>>;

const DEFAULT_Q10 = 2;
const DEFAULT_REFERENCE_C = 25;
/** Shares that add up to a whole may miss it by what adding does. */
export const SUM_TOLERANCE = 1e-9;

const releaseKeysIn = (inline: Inline): string[] =>
  Object.keys(releaseKeys()).filter((key) => Object.hasOwn(inline, key));

const POOLED = ["at_once", "later", "half_life"];
const TIES: s.Ties = {
  excludes: [
    [
      "class",
      [...POOLED, "points", "q10", "reference", "t_ref"],
      "a release is a class, or has numbers of its own",
    ],
    ["points", POOLED, "a measured release has `points` only; a computed one has the other three"],
    ["reference", ["t_ref"], "they are two names for one thing: keep `reference`"],
  ],
};

function inlineCurve(inline: Inline, ctx: s.Ctx): CurveSpec {
  const { class: name, varies } = inline;
  const [other] = releaseKeysIn(inline).filter((key) => key !== "class" && key !== "varies");
  s.reportAll(
    ctx,
    s.untied(TIES, (key) => Object.hasOwn(inline, key)),
  );
  const onlyVaries = other === undefined && varies !== undefined;
  const curve: CurveSpec =
    name !== undefined || onlyVaries ? { kind: "class", name: name ?? SAME_CLASS } : ownCurve(inline, ctx);
  return { ...curve, ...defined({ varies }) };
}

function ownCurve(inline: Inline, ctx: s.Ctx): ReleaseCurve {
  const { at_once: atOnce = 0, later = 0, half_life, points, reference, t_ref, q10 = DEFAULT_Q10 } = inline;
  const referenceC = reference ?? t_ref ?? DEFAULT_REFERENCE_C;
  if (points !== undefined) return { kind: "points", points, q10, referenceC };
  const tiesUpTooMuch = (key: string, part: number): s.Faults[number] =>
    part < -1 - SUM_TOLERANCE && {
      code: "release-parts",
      path: [key],
      given: key,
      wrong: `is ${v.percent(part)}`,
      hint: "at least -100%: below zero it says how much the material ties up, as a share of what it holds",
    };
  s.reportAll(ctx, [
    !POOLED.some((key) => Object.hasOwn(inline, key)) && {
      code: "release-parts",
      wrong: "this release does not say how much becomes available",
      hint: "give `at_once`, or `later` with `half_life`, or `points`",
    },
    tiesUpTooMuch("at_once", atOnce),
    tiesUpTooMuch("later", later),
    tooMuch({ at_once: atOnce, later }, SUM_TOLERANCE),
    later !== 0 &&
      half_life === undefined && {
        code: "release-parts",
        wrong: "`later` is given without a `half_life`",
        hint: "say how long half of it takes, for instance `half_life: 18 days`",
      },
  ]);
  return { kind: "pool", atOnce, later, halfLifeDays: half_life ?? 1, q10, referenceC };
}

/** What is wrong with two parts of a release, by their keys, that add to more than all. */
export function tooMuch(parts: Readonly<Record<string, number>>, tolerance: number): s.Faults[number] {
  const sum = Object.values(parts).reduce((total, part) => total + part, 0);
  const [one, other] = Object.keys(parts);
  return (
    sum > 1 + tolerance && {
      code: "release-parts",
      wrong: `\`${one}\` and \`${other}\` add to ${v.percent(sum)}`,
      hint: "together they are at most 100%: nothing is available that the label does not contain",
    }
  );
}

const classSchema = () =>
  s.read(
    z.string({ error: "a release class or a map" }),
    (name): CurveSpec => ({ kind: "class", name: name.trim() }),
  );

const inlineSchema = (expected: string) => s.read(s.map(inlineShape(), expected), inlineCurve);

/** One curve: the name of a class, or parameters. */
export const curveSchema = s.lazy(() =>
  z.union([classSchema(), inlineSchema("a release class or a map")], {
    error: "a release class such as `slow`, or a map such as `{at_once: 5%, later: 70%, half_life: 18 days}`",
  }),
);

/** What a release says by nutrient and, under `other`, of the rest; without that, the rest is available at once. */
export interface ReleaseSpec extends Nutrients<CurveSpec> {
  readonly other?: CurveSpec;
}

/** A curve for all nutrients, or one for each named and `other` for the rest. */
export const releaseSchema = s.lazy(() =>
  z.union(
    [
      s.read(classSchema(), (other): ReleaseSpec => ({ nutrients: [], other })),
      s.read(
        mapWithNutrients(
          { ...inlineShape(), ...nutrientKeys(curveSchema()), other: curveSchema() },
          "a release class or a map",
        ),
        ({ nutrients, other, ...inline }, ctx): ReleaseSpec => {
          if (nutrients.length === 0 && other === undefined)
            return { nutrients, other: inlineCurve(inline, ctx) };
          const [first] = releaseKeysIn(inline);
          if (first !== undefined)
            s.report(ctx, {
              code: "key-conflict",
              path: [first],
              at: "key",
              given: first,
              wrong: "is given together with nutrients",
              hint: "put it inside one: `{N: {at_once: 5%, ...}, other: at-once}`",
            });
          return { nutrients, ...defined({ other }) };
        },
      ),
    ],
    { error: "a release class such as `slow`, or a map," },
  ),
);

/** One entry of `releases:`, which defines or redefines a class. */
export const releaseClassSchema = s.lazy(() =>
  inlineSchema("a map such as `{at_once: 5%, later: 70%, half_life: 18 days}`"),
);
