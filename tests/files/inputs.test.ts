import { describe, expect, it } from "vitest";
import { readPlanValue } from "../../src/files/load.ts";
import { ruleOf } from "../../src/files/schema/figures.ts";
import { planShapes } from "../../src/files/schema/plan-shape.ts";
import type { Shape } from "../../src/files/schema/shape.ts";
import type { Plan } from "../../src/model.ts";
import { sentence } from "../../src/problem.ts";
import { examplePlan } from "../helpers/files.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";
import { randomShopSpec, shopTree } from "../helpers/random-shop.ts";

const throughJson = (plan: Plan): unknown => JSON.parse(JSON.stringify(plan));
const said = (inputs: unknown): string[] => {
  const read = readPlanValue(inputs, ["inputs"]);
  return read.ok ? [] : read.problems.map((p) => `${p.code} ${sentence(p)}`);
};

/** The example as JSON, with one value put in place of another; the value undefined takes it out. */
function changed(path: readonly (string | number)[], value: unknown): unknown {
  const inputs = throughJson(examplePlan()) as Record<string | number, unknown>;
  let at = inputs;
  for (const step of path.slice(0, -1)) at = at[step] as typeof at;
  if (value === undefined) delete at[path.at(-1)!];
  else at[path.at(-1)!] = value;
  return inputs;
}

describe("the plan in what `solve --json` prints", () => {
  it("is read back as it was", () => {
    const plan = examplePlan();
    expect(readPlanValue(throughJson(plan))).toEqual({ ok: true, value: throughJson(plan) });
  });

  it.each(Array.from({ length: 60 }, (_, i) => i + 1))("is read back as it was: random plan %d", (seed) => {
    for (const plan of [
      loadTree(toTree(randomSpec(seed), seed)),
      loadTree(shopTree(randomShopSpec(seed), seed)),
    ])
      expect(readPlanValue(throughJson(plan))).toEqual({ ok: true, value: throughJson(plan) });
  });

  it("is read back where a release ties up more than its material holds", () => {
    const loaded = loadTree({
      plan: "straw",
      amendments: {
        straw: {
          analysis: { N: 1 },
          packs: [{ size: "50 lb", price: 3 }],
          release: { at_once: "-80%", later: "-80%", half_life: "20 days" },
        },
      },
      target: { target: "crop", season: "90 days", need: { per: "bed", N: "2 lb" } },
    });
    expect(said(loaded)).toEqual([]);
  });

  it("is read back where nearly all of a bag is potassium, which is more than a bag of K2O", () => {
    const loaded = loadTree({
      plan: "potassium",
      amendments: {
        metal: { analysis: { K: 95 }, packs: [{ size: "50 lb", price: 3 }], release: "at-once" },
      },
      target: { target: "crop", season: "90 days", need: { per: "bed", K: "2 lb" } },
    });
    // K2O weighs 2 x 39.098 + 15.999 = 94.195 for 78.196 of K (IUPAC 2021, Pure Appl. Chem. 94:573).
    expect(loaded.amendments[0]!.analysis.K2O).toBeCloseTo((0.95 * 94.195) / 78.196, 4);
    expect(said(loaded)).toEqual([]);
    const analysis = { P2O5: 1.1 };
    expect(said({ ...loaded, amendments: [{ ...loaded.amendments[0]!, analysis }] })[0]).toMatch(
      /^analysis-sum /,
    );
  });

  it("may hold keys that a later version writes", () => {
    expect(said(changed(["later_key"], { any: [1] }))).toEqual([]);
    expect(said(changed(["amendments", 0, "laterKey"], "x"))).toEqual([]);
  });

  it.each<[string, (string | number)[], unknown, string]>([
    [
      "a negative price",
      ["amendments", 0, "packs"],
      [{ sizeKg: 20, price: -5 }],
      "number-range inputs.amendments[0].packs[0].price: `-5` is out of range",
    ],
    [
      "a price that is text",
      ["amendments", 0, "packs"],
      [{ sizeKg: 20, price: "5" }],
      "type-wrong inputs.amendments[0].packs[0].price: found the text `5` here",
    ],
    [
      "no release",
      ["amendments", 0, "release"],
      undefined,
      "key-missing inputs.amendments[0].release: `release` is missing",
    ],
    [
      "a tenfold analysis",
      ["amendments", 0, "analysis"],
      { N: 1.3 },
      "number-range inputs.amendments[0].analysis.N: `1.3` is out of range",
    ],
    [
      "an analysis of more than the bag",
      ["amendments", 0, "analysis"],
      { N: 0.6, P2O5: 0.6 },
      "analysis-sum inputs.amendments[0].analysis: what this analysis names weighs 120% of the bag",
    ],
    [
      "a nutrient of another name",
      ["amendments", 0, "analysis"],
      { Nitrogen: 0.1 },
      "key-unknown inputs.amendments[0].analysis.Nitrogen: the key `Nitrogen` means nothing here",
    ],
    [
      "a nutrient that is none",
      ["amendments", 0, "analysis"],
      { Xy: 0.1 },
      "nutrient-unknown inputs.amendments[0].analysis.Xy: `Xy` is no nutrient the program knows",
    ],
    [
      "a curve of another kind",
      ["amendments", 0, "release", "other", "curve", "kind"],
      "line",
      "choice-unknown",
    ],
    ["half a plant", ["bed", "plants"], 0.5, "number-range inputs.bed.plants: `0.5` is out of range"],
    [
      "a release of more than all",
      ["amendments", 0, "release", "other"],
      {
        label: "x",
        curve: { kind: "pool", atOnce: 0.8, later: 0.8, halfLifeDays: 9, q10: 2, referenceC: 25 },
      },
      "release-parts inputs.amendments[0].release.other.curve: `atOnce` and `later` add to 160%",
    ],
    [
      "a release that falls",
      ["amendments", 0, "release", "other"],
      {
        label: "x",
        curve: {
          kind: "points",
          points: [
            [0, 0.5],
            [9, 0.4],
          ],
          q10: 2,
          referenceC: 25,
        },
      },
      "points-falling inputs.amendments[0].release.other.curve.points[1][1]: the share falls",
    ],
    ["an absurd weight", ["scaleKg"], 1e308, "number-range inputs.scaleKg: `1e+308` is out of range"],
    ["a vanishing weight", ["scaleKg"], 1e-320, "number-range inputs.scaleKg: `1e-320` is out of range"],
    [
      "no amendments",
      ["amendments"],
      [],
      "choice-empty inputs.amendments: no amendment is left to make a blend from",
    ],
    [
      "no applications",
      ["applications"],
      [],
      "key-missing inputs.applications: the list of applications is empty",
    ],
    ["shares that miss the whole", ["applications", 0, "share"], 0.01, "shares-sum inputs.applications"],
    ["a day after the season", ["applications", 0, "day"], 3000, "day-outside inputs.applications[0].day"],
    [
      "a need that is no number",
      ["demands", 0, "minKg"],
      null,
      "key-missing inputs.demands[0].minKg: nothing is given for `minKg`",
    ],
    ["a least above a most", ["demands", 0, "maxKg"], 0, "range-crossed inputs.demands[0].maxKg"],
    [
      "a limit on nothing",
      ["limits"],
      [{ id: "no-such", notIn: [] }],
      "amendment-unknown inputs.limits[0].id",
    ],
    ["a currency that is none", ["currency"], "dollars", "choice-unknown inputs.currency"],
    ["units that are none", ["units"], "imperial", "choice-unknown inputs.units"],
  ])("is refused with %s, at its place", (_, path, value, expected) => {
    const problems = said(changed(path, value));
    expect(problems.join("\n")).toContain(expected);
  });
});

describe("the types of the model", () => {
  const shapes = planShapes();

  /** Shapes inside a shape. */
  const insideOf = ({
    properties = {},
    items = [],
    anyOf = [],
    additionalProperties: others,
  }: Shape): Shape[] => [
    ...Object.values(properties),
    ...[items].flat(),
    ...anyOf,
    ...(typeof others === "object" ? [others] : []),
  ];
  const all = (shape: Shape): Shape[] => [shape, ...insideOf(shape).flatMap(all)];

  it("say of each number of a plan what it is of", () => {
    const bare = Object.entries(shapes)
      .filter(([, shape]) => shape.type !== "number")
      .flatMap(([name, shape]) => (all(shape).some(({ type }) => type === "number") ? [name] : []));
    expect(bare, "use a type such as Kg in place of number").toEqual([]);
    const known = ["Kg", "Day", "Share", "Money", "Celsius", "Id"];
    expect(Object.keys(shapes)).toEqual(expect.arrayContaining(known));
  });

  it("are each known to the reader of JSON", () => {
    const figures = Object.entries(shapes).filter(
      ([, shape]) => (shape.type === "number" || shape.type === "string") && shape.enum === undefined,
    );
    expect(figures.length).toBeGreaterThan(25);
    expect(figures.flatMap(([name]) => (ruleOf(name) === undefined ? [name] : []))).toEqual([]);
  });
});
