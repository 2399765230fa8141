/**
 * Target files to demands: what a crop asks, first as written and then for one bed.
 *
 * A target may begin from a shipped recipe, be counted for another yield, and be corrected by a soil test.
 */
import { basename } from "node:path";
import type { Demand, NutrientMap, Plan, Points, Soil } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { fromSi } from "../units.ts";
import { type BedAt, bedAmounts, bedKg, checkPer, rateText } from "./bed.ts";
import { Cursor, openRecipe } from "./context.ts";
import { crossed } from "./faults.ts";
import type { PerYield, Range } from "./schema/amounts.ts";
import type { Read } from "./schema/base.ts";
import { targetShape } from "./schema/target.ts";
import { type PhosphorusLevel, phosphorusLevel } from "./soil.ts";
import { applySoilTest, type Need, needOf, type SoilTestAt } from "./soil-test.ts";
import { isRecord, type Tree, treeAt, withOverrides } from "./source.ts";

type Fields = Read<ReturnType<typeof targetShape>>;

/** A target as written, with quantities in SI but not yet counted for a bed. */
export interface Target {
  readonly name: string;
  readonly seasonDays: number;
  readonly fields: Fields;
  /** The top of a file of its own, or where it is in a plan. */
  readonly at: Cursor;
  /** The yield to feed for, in kg/m2, where it is not the one that the target's `need` is for. */
  readonly goal?: number;
  readonly soilTest?: SoilTestAt;
  /** Whether `applied_max` is a shipped recipe's own. */
  readonly capsShipped: boolean;
  /** Whether `applied_max` gives way as far as the plain needs cannot be met otherwise. */
  readonly capsGiveWay: boolean;
  /** Keys that mean the yield goal as they are. */
  readonly own: readonly string[];
  readonly from: NonNullable<Plan["needsFrom"]>;
}

/** What is said about a target outside it. */
export interface Outside {
  /** Where a yield goal is given. */
  readonly goal?: Cursor | undefined;
  /** Where a soil test is given; it takes the place of the target's own. */
  readonly soilTest?: Cursor | undefined;
  /** The target is a shipped recipe, or begins from one. */
  readonly shipped?: boolean;
  /** Keys that the grower has put in place of a recipe's own. They mean the yield goal as they are. */
  readonly own?: readonly string[];
  /** A flag caps what is applied, and a cap of the grower's own holds. */
  readonly capFlagged?: boolean;
  /** The season of the file that holds the uptake curves, where another takes its place. */
  readonly curveSeason?: Cursor | undefined;
}

/** A target that begins from a shipped recipe: its own keys are above the recipe's, each as a whole. */
function onRecipe(recipe: Tree, own: Cursor): Tree {
  // Its `yield` is a goal, while the recipe's stays what the need means.
  const keys = own.keys("a target").filter((key) => key !== "recipe" && key !== "yield");
  // A grower's own uptake makes the need; the recipe's was made from another.
  const ownUptake = keys.includes("uptake_per_yield") && !keys.includes("need");
  const below = Object.entries(recipe.root as object).filter(([key]) => !ownUptake || key !== "need");
  return withOverrides(treeAt(own, {}), [
    ...below.map(([key, value]) => ({ path: [key], value, from: { tree: recipe, path: [key] } })),
    ...keys.map((key) => ({ path: [key], value: own.written(key), from: own.at(key) })),
  ]);
}

/** Reads a target; undefined where it lacks what everything else needs (reported). */
export function readTarget(at: Cursor, outside: Outside = {}): Target | undefined {
  const written = at.written();
  if (isRecord(written) && typeof written.recipe === "string") {
    const recipe = openRecipe(at.at("recipe"), "crops", written.recipe.trim());
    if (recipe === undefined) return undefined;
    const curvesOfRecipe = at.has("season") && !at.has("uptake");
    return readTarget(new Cursor(at.loading, onRecipe(recipe.tree, at)), {
      ...outside,
      ...defined({ curveSeason: curvesOfRecipe ? recipe.at("season") : undefined }),
      goal: outside.goal ?? (at.has("yield") ? at.at("yield") : undefined),
      shipped: true,
      own: [...(outside.own ?? []), ...Object.keys(written)],
    });
  }
  const fields = at.readMap(targetShape(), "a target: a map with `season`, `need` and so on");
  if (!isRecord(written)) return undefined;
  const missing = (key: string, hint: string): undefined =>
    at.has(key) ? undefined : at.at(key).refuse("key-missing", `the target has no \`${key}\``, hint);
  missing("season", "the days from planting to the end of uptake, for instance `season: 120 days`");
  const soilTest = readSoilTest(at, fields, outside);
  const { season } = fields;
  if (!at.has("uptake_per_yield") && soilTest?.test.recommends === undefined)
    missing("need", "for instance `need: {per: 1000 sq ft, N: {min: 3 lb}}`");
  const goal = outside.goal?.read(targetShape().yield);
  checkYield(at, fields, outside);
  checkNeed(at, fields);
  if (season === undefined) return undefined;
  const curveSeason = outside.curveSeason?.read(targetShape().season) ?? season;
  checkUptake(at, fields, curveSeason);
  const { own = [] } = outside;
  return {
    name: fields.target ?? "target",
    seasonDays: season,
    fields: stretched(fields, season / curveSeason),
    at,
    ...defined({ goal, soilTest }),
    capsShipped: outside.shipped === true && !own.includes("applied_max"),
    capsGiveWay: fields.applied_max?.gives_way === true && outside.capFlagged !== true,
    own,
    from: {
      source: sourceOf(at, outside, soilTest),
      ...defined({ yieldKgPerM2: fields.need && !fields.yield ? undefined : (goal ?? fields.yield) }),
    },
  };
}

/** What says the rates: the laboratory, the shipped recipe, or the file. */
function sourceOf({ tree }: Cursor, { shipped, own = [] }: Outside, soilTest?: SoilTestAt): string {
  if (soilTest?.test.recommends !== undefined) return "your soil test";
  const file = basename(tree.path);
  const named = file === "" || file === "-" ? "your plan" : file;
  const rates = shipped && !own.includes("need") ? "shipped recipe" : named;
  return soilTest ? `${rates} and your soil test` : rates;
}

function readSoilTest(at: Cursor, fields: Fields, { soilTest }: Outside): SoilTestAt | undefined {
  if (soilTest && fields.soil_test)
    at.warn("soil-test-twice", "The plan's `soil_test` takes the place of the target's own.");
  const test = soilTest ? soilTest.read(targetShape().soil_test) : fields.soil_test;
  return test && { test, at: soilTest ?? at.at("soil_test") };
}

/** Whether there is a yield to count with, and weights where an amount per harvest must be one. */
function checkYield(at: Cursor, fields: Fields, { goal }: Outside): void {
  for (const key of ["uptake_per_yield", "removal_per_yield"] as const)
    for (const { name, value } of fields[key]?.nutrients ?? [])
      if (value.min?.kind === "rate" || value.max?.kind === "rate")
        at.at(key, name).complain({
          code: "unit-kind",
          wrong: `${name} is given per area`,
          expected: "a weight",
          hint: "it is counted per weight of harvest: `{per: t, N: 2.75 kg}`",
        });
  if (at.has("yield")) return;
  if (at.has("need"))
    goal?.complainOfKey({
      code: "key-missing",
      wrong: "a yield goal is given, and the target does not say which yield its `need` is for",
      hint: "add that `yield` to the target, or give `uptake_per_yield` in place of `need`",
    });
  else if (at.has("uptake_per_yield") && goal === undefined)
    at.at("yield").complain({
      code: "key-missing",
      wrong:
        "the target says what the crop takes up per weight of harvest, and not how much is to be harvested",
      hint: "add `yield`, for instance `yield: 25 t/ha`",
    });
}

function checkNeed(at: Cursor, { need, ...fields }: Fields): void {
  for (const key of ["applied_max", "ahead_max"] as const)
    checkPer(at.at(key), fields[key]?.per, fields[key]?.nutrients.map((e) => e.value) ?? []);
  if (need === undefined) return;
  const here = at.at("need");
  if (need.nutrients.length === 0)
    here.refuseKey("need-empty", "the target asks for no nutrient", "for instance `N: {min: 3 lb}`");
  for (const { name, value } of need.nutrients) {
    const { min, max } = value;
    if (min && max && min.kind === max.kind && min.value > max.value)
      here.at(name, "max").complain(crossed(`\`max\` of ${name}`));
  }
  checkPer(
    here,
    need.per,
    need.nutrients.flatMap(({ value }) => [value.min, value.max]),
  );
}

function checkUptake(at: Cursor, { uptake }: Fields, season: number): void {
  if (uptake === undefined) return;
  const curves = [
    ...uptake.nutrients.map((e) => ({ key: e.name, points: e.value })),
    ...(uptake.other ? [{ key: "other", points: uptake.other }] : []),
  ];
  for (const { key, points } of curves) {
    const here = at.at("uptake", key);
    const late = points.find(([d]) => d > season)?.[0];
    if (late !== undefined) {
      const written = Object.keys(here.written() ?? {}).find(
        (d) => Number.parseFloat(d.replace(/^day\s+/i, "")) === late,
      );
      here.at(written ?? String(late)).complainOfKey({
        code: "day-outside",
        wrong: `day ${late} lies after the season's ${season} days`,
        hint: "make the season longer, or end the curve earlier",
      });
    }
    const last = points.at(-1);
    if (last && last[1] < 1 - 1e-9)
      at.warn(
        "uptake-incomplete",
        `The uptake curve of ${key} ends at ${Number((last[1] * 100).toPrecision(4))}%; only the season's end asks for the rest.`,
      );
  }
}

/** Uptake as a longer or shorter season stretches it: U(d) = U0(d S0/S). */
function stretched(fields: Fields, times: number): Fields {
  const { uptake } = fields;
  if (uptake === undefined || times === 1) return fields;
  const longer = (points: Points): Points => points.map(([day, share]) => [day * times, share] as const);
  const nutrients = uptake.nutrients.map((e) => ({ ...e, value: longer(e.value) }));
  return {
    ...fields,
    uptake: { ...uptake, nutrients, ...defined({ other: uptake.other && longer(uptake.other) }) },
  };
}

const fromZero = (points: Points): Points => (points[0]![0] > 0 ? [[0, 0], ...points] : points);

/** The middle of a range of weights, in kg; a bare amount is itself. */
function middleKg({ min, max }: Range): number {
  const low = min?.value ?? max?.value ?? 0;
  return (low + (max?.value ?? low)) / 2;
}

/** What the crop takes up at a yield: the published range counts with its middle. In kg/m2; nothing where either is not said. */
function uptakeAt(perYield: PerYield | undefined, rateKgPerM2: number | undefined) {
  if (perYield === undefined || rateKgPerM2 === undefined) return [];
  return perYield.nutrients.map(({ nutrient, name, factor, value }) => ({
    nutrient,
    name,
    rate: ((middleKg(value) * factor) / perYield.per) * rateKgPerM2,
  }));
}

/** A need that differs by more than this from uptake times yield does not follow from it. */
const SAME_NEED = 0.02;

/** Need and caps as the target states them, for the bed, at the yield goal. */
function askedOf(target: Target, bed: BedAt) {
  const { fields, at, goal } = target;
  const stated = fields.yield;
  // Without a yield of its own, the need has been refused already.
  const times = goal !== undefined && stated !== undefined ? goal / stated : 1;
  const timesOf = (key: string): number => (target.own.includes(key) ? 1 : times);
  const needs = new Map<Nutrient, Need>();
  const efficiency = fields.need?.efficiency ?? fields.efficiency;
  for (const { name, nutrient, factor, value } of fields.need?.nutrients ?? []) {
    const whole = { ...fields.need, ...defined({ efficiency }) };
    const need = needOf(bed, value, factor, whole, "available");
    if (need === undefined) continue;
    if (need.maxKg !== null && need.minKg > need.maxKg)
      at.at("need", name, "max").complain(crossed(`\`max\` of ${name}`));
    if (need.counts === "applied" && value.efficiency !== undefined)
      at.warn(
        "efficiency-unused",
        `\`efficiency\` of ${name} does nothing, since its need is counted as it is spread (\`counts: applied\`).`,
      );
    const grown = timesOf("need");
    const maxKg = need.maxKg === null ? null : need.maxKg * grown;
    needs.set(nutrient, { ...need, minKg: need.minKg * grown, maxKg });
  }
  const caps: Partial<Record<Nutrient, number>> = { ...bedAmounts(bed, fields.applied_max) };
  for (const nutrient of Object.keys(caps) as Nutrient[]) caps[nutrient]! *= timesOf("applied_max");

  const differing: string[] = [];
  for (const { nutrient, name, rate } of uptakeAt(fields.uptake_per_yield, goal ?? stated)) {
    const kg = bedKg(bed, { kind: "rate", value: rate }, 1);
    if (kg === undefined) continue;
    const need = needs.get(nutrient);
    if (fields.need === undefined)
      needs.set(nutrient, { minKg: kg, maxKg: null, counts: "available", ...defined({ efficiency }) });
    else if (need && need.minKg > 0 && Math.abs(kg - need.minKg) > SAME_NEED * kg)
      differing.push(`${name} ${rateText(bed, need.minKg)} against ${rateText(bed, kg)}`);
  }
  if (differing.length > 0)
    at.warn(
      "need-differs",
      `The target's \`need\` is not its \`uptake_per_yield\` times its \`yield\` (${differing.join(", ")}). The need counts as written; take it out to have it worked out, or give the yield goal in the plan.`,
    );
  const scaled = ["need", "applied_max"].some((key) => timesOf(key) !== 1);
  if (goal !== undefined && stated !== undefined && scaled && Math.abs(times - 1) > 1e-9) {
    const unit = bed.units === "us" ? "ton/acre" : "t/ha";
    const yieldText = (rate: number): string => `${Number(fromSi(rate, unit).toPrecision(3))} ${unit}`;
    const isFar = times > FAR_YIELD || times < 1 / FAR_YIELD;
    const far = " That is far from the yield of the publication, where uptake per weight need not hold.";
    const text = `Need and caps are counted for a yield of ${yieldText(goal)}: x ${Number(times.toPrecision(3))} what the target states for ${yieldText(stated)}.${isFar ? far : ""}`;
    at.warn("yield-goal", text);
  }
  return { needs, caps };
}

/** Beyond this factor from the published yield, proportion is doubtful (a judgement). */
const FAR_YIELD = 2;

/** What a target asks of a bed, and what is known of the soil after its test. */
export interface AskedOfBed {
  /** In canonical order. */
  readonly demands: readonly Demand[];
  readonly soil?: Soil;
  /** What leaves with the harvest, kg for the bed. */
  readonly removalKg: NutrientMap;
}

function removalOf({ fields, goal }: Target, { measures: { areaM2 } }: BedAt): NutrientMap {
  const removed = areaM2 === undefined ? [] : uptakeAt(fields.removal_per_yield, goal ?? fields.yield);
  return Object.fromEntries(removed.map(({ nutrient, rate }) => [nutrient, rate * areaM2!]));
}

/**
 * The cap of a shipped recipe on phosphorus, by the soil's rating: none where the soil is poor; what the harvest removes,
 * or the rate asked for, where it is about right; where there is too much already no more than the rest of the plan
 * cannot do without. The last two give way as far as the other demands make them.
 */
function phosphorusCap(
  level: PhosphorusLevel,
  needKg: number,
  removalKg?: number,
): number | null | undefined {
  if (level === "below") return null;
  if (level === "above") return needKg;
  return removalKg === undefined ? undefined : Math.max(needKg, removalKg);
}

/**
 * What the target asks of a bed.
 * @param ownSoil what the plan itself says of its soil.
 */
export function askOf(target: Target, bed: BedAt, ownSoil?: Soil): AskedOfBed {
  const { fields, at, soilTest } = target;
  const { needs, caps: applied } = askedOf(target, bed);
  const removalKg = removalOf(target, bed);
  let soil = ownSoil;
  if (soilTest) {
    const pRated = ownSoil?.pRating !== undefined;
    const asked = { needs, caps: applied, capsGiveWay: target.capsShipped, pRated };
    const ratings = applySoilTest(soilTest, { ...asked, tables: fields.soil_test_ratings }, bed);
    const tested = ratings.get("P2O5");
    if (!pRated && tested !== undefined) soil = { ...ownSoil, pRating: tested };
  }
  const level = phosphorusLevel(soil?.pRating);
  if (soil?.pRating !== undefined && level === undefined)
    at.warn(
      "rating-unknown",
      `The rating of phosphorus \`${soil.pRating}\` is none that is known here, so it changes nothing: very low, low, medium, optimum, high, very high.`,
    );
  const softCap =
    level !== undefined && target.capsShipped && applied.P2O5 !== undefined
      ? phosphorusCap(level, needs.get("P2O5")?.minKg ?? 0, removalKg.P2O5)
      : undefined;
  const softCaps: Partial<Record<Nutrient, number>> = target.capsGiveWay ? { ...applied } : {};
  for (const nutrient of Object.keys(softCaps) as Nutrient[]) delete applied[nutrient];
  if (softCap !== undefined) {
    delete applied.P2O5;
    if (softCap === null) delete softCaps.P2O5;
    else softCaps.P2O5 = softCap;
  }
  const ahead = bedAmounts(bed, fields.ahead_max);
  const curves = new Map((fields.uptake?.nutrients ?? []).map((e) => [e.nutrient, e] as const));
  const other = fields.uptake?.other;

  // A soil test that asks for none has said so itself.
  const unused = (name: string, why: string): void => {
    if (soilTest === undefined)
      at.warn("uptake-unused", `The uptake curve of ${name} does nothing, since ${why}.`);
  };
  for (const [nutrient, { name }] of curves)
    if ((needs.get(nutrient)?.minKg ?? 0) === 0) unused(name, "the target asks for no least amount of it");

  const asks = (n: Nutrient): boolean =>
    needs.has(n) || applied[n] !== undefined || ahead[n] !== undefined || softCaps[n] !== undefined;
  const demands = NUTRIENTS.filter(asks).map((nutrient): Demand => {
    const { minKg = 0, maxKg = null, efficiency = 1, counts = "available" } = needs.get(nutrient) ?? {};
    const stated = curves.get(nutrient);
    if (counts === "applied" && stated)
      unused(stated.name, "its need is counted as it is spread (`counts: applied`)");
    const curve = counts === "applied" ? undefined : (stated?.value ?? (minKg > 0 ? other : undefined));
    const uptake = curve === undefined ? null : fromZero(curve);
    if (ahead[nutrient] !== undefined && uptake === null)
      at.warn(
        "ahead-without-uptake",
        `\`ahead_max\` of ${nutrient} is held against no uptake curve, so nothing counts as taken up before the season's end.`,
      );
    return {
      nutrient,
      minKg: minKg / efficiency,
      maxKg: maxKg === null ? null : maxKg / efficiency,
      appliedMaxKg: applied[nutrient] ?? null,
      aheadMaxKg: ahead[nutrient] ?? null,
      uptake,
      ...defined({
        counts: counts === "applied" ? counts : undefined,
        efficiency: efficiency === 1 ? undefined : efficiency,
        appliedSoftMaxKg: softCaps[nutrient],
      }),
    };
  });
  return { demands, ...defined({ soil }), removalKg };
}
