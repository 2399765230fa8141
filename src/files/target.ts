/**
 * Target files to demands: what a crop asks, first as written and then for one bed.
 *
 * A target may begin from a shipped recipe, be counted for another yield, and be corrected by a soil test.
 */
import type { Demand, NutrientMap, Points, Soil } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { fromSi } from "../units.ts";
import { type BedAt, bedAmounts, bedKg } from "./bed.ts";
import { complain, type Loading, openRecipe, warn } from "./context.ts";
import { type Amounts, crossed, type PerYield, type Range } from "./schema/amounts.ts";
import type { Read } from "./schema/base.ts";
import { readMap, readValue } from "./schema/read.ts";
import { targetShape } from "./schema/target.ts";
import type { MassOrRate } from "./schema/values.ts";
import { type PhosphorusLevel, phosphorusLevel } from "./soil.ts";
import { applySoilTest, type Need, rateText, type SoilTestAt } from "./soil-test.ts";
import { isRecord, type Path, type Tree, valueAt } from "./source.ts";

type Fields = Read<ReturnType<typeof targetShape>>;

/** Where something is. */
interface At {
  readonly tree: Tree;
  readonly path: Path;
}

/** A target as written, with quantities in SI but not yet counted for a bed. */
export interface Target {
  readonly name: string;
  readonly seasonDays: number;
  readonly fields: Fields;
  readonly tree: Tree;
  /** Where it is in its tree: nothing for a file of its own, `["target"]` inside a plan. */
  readonly path: Path;
  /** The yield to feed for, in kg/m2, where it is not the one that the target's `need` is for; and where it is given. */
  readonly goal?: At & { readonly rateKgPerM2: number };
  readonly soilTest?: SoilTestAt;
  /** Whether `applied_max` is a shipped recipe's own. */
  readonly capsShipped: boolean;
  /** Keys that mean the yield goal as they are. */
  readonly own: readonly string[];
}

/** What is said about a target outside it. */
export interface Outside {
  /** Where a yield goal is given. */
  readonly goal?: At;
  /** Where a soil test is given; it takes the place of the target's own. */
  readonly soilTest?: At;
  /** The target is a shipped recipe, or begins from one. */
  readonly shipped?: boolean;
  /** Keys that the grower has put in place of a recipe's own. They mean the yield goal as they are. */
  readonly own?: readonly string[];
}

/** A target that begins from a shipped recipe: its own keys are above the recipe's, each as a whole. */
function onRecipe(recipe: Tree, own: Tree, path: Path): Tree {
  const above = valueAt(own.root, path) as Readonly<Record<string, unknown>>;
  // Its `yield` is a goal, while the recipe's stays what the need means.
  const keys = Object.keys(above).filter((key) => key !== "recipe" && key !== "yield");
  const root: Record<string, unknown> = Object.assign(Object.create(null), recipe.root);
  for (const key of keys) root[key] = above[key];
  // A grower's own uptake makes the need; the recipe's was made from another.
  if (keys.includes("uptake_per_yield") && !keys.includes("need")) delete root.need;
  return {
    file: own.file,
    path: own.path,
    root,
    position: (wanted, at) => {
      const [first] = wanted;
      const fromRecipe = first !== undefined && !keys.includes(String(first)) && Object.hasOwn(root, first);
      return fromRecipe ? recipe.position(wanted, at) : own.position([...path, ...wanted], at);
    },
  };
}

/** Reads a target; undefined where it lacks what everything else needs. Problems go to `loading`. */
export function readTarget(
  loading: Loading,
  tree: Tree,
  path: Path,
  outside: Outside = {},
): Target | undefined {
  const written = valueAt(tree.root, path);
  const name = isRecord(written) ? written.recipe : undefined;
  if (isRecord(written) && typeof name === "string") {
    const recipe = openRecipe(loading, "crops", name.trim(), { tree, path: [...path, "recipe"] });
    if (recipe === undefined) return undefined;
    const goal =
      outside.goal ?? (Object.hasOwn(written, "yield") ? { tree, path: [...path, "yield"] } : undefined);
    return readTarget(loading, onRecipe(recipe, tree, path), [], {
      ...outside,
      ...(goal ? { goal } : {}),
      shipped: true,
      own: [...(outside.own ?? []), ...Object.keys(written)],
    });
  }
  const fields = readMap(
    targetShape(),
    tree,
    path,
    loading.problems,
    "a target: a map with `season`, `need` and so on",
  );
  const raw = valueAt(tree.root, path);
  if (!isRecord(raw)) return undefined;
  const missing = (key: string, hint: string): void => {
    if (!Object.hasOwn(raw, key))
      complain(loading, tree, {
        code: "key-missing",
        path: [...path, key],
        wrong: `the target has no \`${key}\``,
        hint,
      });
  };
  missing("season", "the days from planting to the end of uptake, for instance `season: 120 days`");
  const soilTest = readSoilTest(loading, tree, path, fields, outside);
  const { season } = fields;
  if (!Object.hasOwn(raw, "uptake_per_yield") && soilTest?.test.recommends === undefined)
    missing("need", "for instance `need: {per: 1000 sq ft, N: {min: 3 lb}}`");
  const goal = readGoal(loading, outside);
  const own = outside.own ?? [];
  checkYield(loading, fields, raw, tree, path, outside);
  checkNeed(loading, fields, tree, path);
  if (season !== undefined) checkUptake(loading, fields, season, tree, path);
  if (season === undefined) return undefined;
  return {
    name: fields.target ?? "target",
    seasonDays: season,
    fields,
    tree,
    path,
    ...(goal ? { goal } : {}),
    ...(soilTest ? { soilTest } : {}),
    capsShipped: outside.shipped === true && !own.includes("applied_max"),
    own,
  };
}

function readGoal(loading: Loading, { goal }: Outside): Target["goal"] {
  if (goal === undefined) return undefined;
  const rateKgPerM2 = readValue(targetShape().yield, goal.tree, goal.path, loading.problems);
  return rateKgPerM2 === undefined ? undefined : { ...goal, rateKgPerM2 };
}

function readSoilTest(
  loading: Loading,
  tree: Tree,
  path: Path,
  fields: Fields,
  { soilTest }: Outside,
): SoilTestAt | undefined {
  if (soilTest === undefined)
    return fields.soil_test && { test: fields.soil_test, tree, path: [...path, "soil_test"] };
  if (fields.soil_test)
    warn(loading, "soil-test-twice", "The plan's `soil_test` takes the place of the target's own.");
  const test = readValue(targetShape().soil_test, soilTest.tree, soilTest.path, loading.problems);
  return test && { test, ...soilTest };
}

/** Whether there is a yield to count with, and weights where an amount per harvest must be one. */
function checkYield(
  loading: Loading,
  fields: Fields,
  raw: Readonly<Record<string, unknown>>,
  tree: Tree,
  path: Path,
  { goal }: Outside,
): void {
  for (const key of ["uptake_per_yield", "removal_per_yield"] as const)
    for (const e of fields[key]?.nutrients ?? [])
      if (e.value.min?.kind === "rate" || e.value.max?.kind === "rate")
        complain(loading, tree, {
          code: "unit-kind",
          path: [...path, key, e.name],
          wrong: `${e.name} is given per area`,
          expected: "a weight",
          hint: "it is counted per weight of harvest: `{per: t, N: 2.75 kg}`",
        });
  const has = (key: string): boolean => Object.hasOwn(raw, key);
  if (!has("need") && has("uptake_per_yield") && !has("yield") && goal === undefined)
    complain(loading, tree, {
      code: "key-missing",
      path: [...path, "yield"],
      wrong:
        "the target says what the crop takes up per weight of harvest, and not how much is to be harvested",
      hint: "add `yield`, for instance `yield: 25 t/ha`",
    });
  if (has("need") && !has("yield") && goal !== undefined)
    complain(loading, goal.tree, {
      code: "key-missing",
      path: goal.path,
      at: "key",
      wrong: "a yield goal is given, and the target does not say which yield its `need` is for",
      hint: "add that `yield` to the target, or give `uptake_per_yield` in place of `need`",
    });
}

function checkNeed(loading: Loading, fields: Fields, tree: Tree, path: Path): void {
  const { need } = fields;
  if (need === undefined) return;
  if (need.nutrients.length === 0)
    complain(loading, tree, {
      code: "need-empty",
      path: [...path, "need"],
      at: "key",
      wrong: "the target asks for no nutrient",
      hint: "for instance `N: {min: 3 lb}`",
    });
  for (const entry of need.nutrients) {
    const { min, max } = entry.value;
    if (min && max && min.kind === max.kind && min.value > max.value)
      complain(loading, tree, { ...crossed(entry.name), path: [...path, "need", entry.name, "max"] });
  }
  checkPer(loading, need, (range) => [range.min, range.max], tree, [...path, "need"]);
  for (const key of ["applied_max", "ahead_max"] as const) {
    const amounts = fields[key];
    if (amounts) checkPer(loading, amounts, (amount) => [amount], tree, [...path, key]);
  }
}

/** Weights need a `per`; rates carry their own. */
function checkPer<T>(
  loading: Loading,
  amounts: Amounts<T>,
  parts: (value: T) => readonly (MassOrRate | undefined)[],
  tree: Tree,
  path: Path,
): void {
  if (amounts.per !== undefined) return;
  if (amounts.nutrients.some((e) => parts(e.value).some((part) => part?.kind === "mass")))
    complain(loading, tree, {
      code: "key-missing",
      path,
      at: "key",
      wrong: "these weights do not say what they are counted per",
      hint: "add `per`: `plant`, `bed`, or an area such as `1000 sq ft` or `acre`",
    });
}

function checkUptake(loading: Loading, fields: Fields, season: number, tree: Tree, path: Path): void {
  const { uptake } = fields;
  if (uptake === undefined) return;
  const curves = [
    ...uptake.nutrients.map((e) => ({ key: e.name, points: e.value })),
    ...("other" in uptake && uptake.other ? [{ key: "other", points: uptake.other }] : []),
  ];
  for (const { key, points } of curves) {
    const late = points.find(([d]) => d > season);
    if (late) {
      const raw = valueAt(tree.root, [...path, "uptake", key]);
      const written = isRecord(raw)
        ? Object.keys(raw).find((d) => Number.parseFloat(d.replace(/^day\s+/i, "")) === late[0])
        : undefined;
      complain(loading, tree, {
        code: "day-outside",
        path: [...path, "uptake", key, written ?? String(late[0])],
        at: "key",
        wrong: `day ${late[0]} lies after the season's ${season} days`,
        hint: "make the season longer, or end the curve earlier",
      });
    }
    const last = points.at(-1);
    if (last && last[1] < 1 - 1e-9)
      warn(
        loading,
        "uptake-incomplete",
        `The uptake curve of ${key} ends at ${Number((last[1] * 100).toPrecision(4))}%; only the season's end asks for the rest.`,
      );
  }
}

const fromZero = (points: Points): Points => (points[0]![0] > 0 ? [[0, 0], ...points] : points);

/** The middle of a range of weights, in kg; a bare amount is itself. */
function middleKg({ min, max }: Range): number {
  const low = min?.value ?? max?.value ?? 0;
  return (low + (max?.value ?? low)) / 2;
}

/** What the crop takes up at a yield: the published range counts with its middle. In kg/m2 by nutrient. */
function uptakeAt(perYield: PerYield, rateKgPerM2: number): Map<Nutrient, { rate: number; name: string }> {
  return new Map(
    perYield.nutrients.map((e) => [
      e.nutrient,
      { rate: ((middleKg(e.value) * e.factor) / perYield.perKg) * rateKgPerM2, name: e.name },
    ]),
  );
}

/** A need that differs by more than this from uptake times yield does not follow from it. */
const SAME_NEED = 0.02;

/** How a need of the target is counted, by the nearest word: its own, that of all needs, that of the target. */
function countingOf(
  loading: Loading,
  { fields }: Target,
  name: string,
  own: Range,
): Pick<Need, "counts" | "efficiency"> {
  const counts = own.counts ?? fields.need?.counts ?? "available";
  if (counts === "applied") {
    if (own.efficiency !== undefined)
      warn(
        loading,
        "efficiency-unused",
        `\`efficiency\` of ${name} does nothing, since its need is counted as it is spread (\`counts: applied\`).`,
      );
    return { counts };
  }
  const efficiency = own.efficiency ?? fields.need?.efficiency ?? fields.efficiency;
  return { counts, ...defined({ efficiency }) };
}

/** Need and caps as the target states them, for the bed, at the yield goal. */
function askedOf(
  loading: Loading,
  target: Target,
  at: BedAt,
  units: "us" | "metric",
): { readonly needs: Map<Nutrient, Need>; readonly caps: Partial<Record<Nutrient, number>> } {
  const { fields, tree, path, goal } = target;
  const stated = fields.yield;
  // Without a yield of its own, the need has been refused already.
  const times = goal && stated !== undefined ? goal.rateKgPerM2 / stated : 1;
  const timesOf = (key: string): number => (target.own.includes(key) ? 1 : times);
  const needs = new Map<Nutrient, Need>();
  for (const e of fields.need?.nutrients ?? []) {
    const amount = (part: Range["min"]): number | undefined =>
      part && bedKg(loading, part, e.factor, fields.need?.per, at);
    const minKg = amount(e.value.min) ?? 0;
    const maxKg = amount(e.value.max) ?? null;
    const { min, max } = e.value;
    if (min && max && min.kind !== max.kind && maxKg !== null && minKg > maxKg)
      complain(loading, tree, { ...crossed(e.name), path: [...path, "need", e.name, "max"] });
    const grown = timesOf("need");
    needs.set(e.nutrient, {
      minKg: minKg * grown,
      maxKg: maxKg === null ? null : maxKg * grown,
      ...countingOf(loading, target, e.name, e.value),
    });
  }
  const caps = bedAmounts(loading, fields.applied_max, at) as Partial<Record<Nutrient, number>>;
  for (const nutrient of Object.keys(caps) as Nutrient[]) caps[nutrient]! *= timesOf("applied_max");

  const perYield = fields.uptake_per_yield;
  const yieldKgPerM2 = goal?.rateKgPerM2 ?? stated;
  if (perYield && yieldKgPerM2 !== undefined) {
    const differing: string[] = [];
    for (const [nutrient, { rate, name }] of uptakeAt(perYield, yieldKgPerM2)) {
      const kg = bedKg(loading, { kind: "rate", value: rate }, 1, undefined, at);
      if (kg === undefined) continue;
      const need = needs.get(nutrient);
      if (fields.need === undefined)
        needs.set(nutrient, {
          minKg: kg,
          maxKg: null,
          counts: "available",
          ...defined({ efficiency: fields.efficiency }),
        });
      else if (need && need.minKg > 0 && Math.abs(kg - need.minKg) > SAME_NEED * kg)
        differing.push(`${name} ${rateText(need.minKg, at, units)} against ${rateText(kg, at, units)}`);
    }
    if (differing.length > 0)
      warn(
        loading,
        "need-differs",
        `The target's \`need\` is not its \`uptake_per_yield\` times its \`yield\` (${differing.join(", ")}). The need counts as written; take it out to have it worked out, or give the yield goal in the plan.`,
      );
  }
  const scaled = ["need", "applied_max"].some((key) => timesOf(key) !== 1);
  if (goal && stated !== undefined && scaled && Math.abs(times - 1) > 1e-9) {
    const yieldText = (rate: number): string =>
      units === "us"
        ? `${Number(fromSi(rate, "ton/acre").toPrecision(3))} ton/acre`
        : `${Number(fromSi(rate, "t/ha").toPrecision(3))} t/ha`;
    const far =
      times > FAR_YIELD || times < 1 / FAR_YIELD
        ? ` That is far from the yield of the publication, where uptake per weight need not hold.`
        : "";
    warn(
      loading,
      "yield-goal",
      `Need and caps are counted for a yield of ${yieldText(goal.rateKgPerM2)}: x ${Number(times.toPrecision(3))} what the target states for ${yieldText(stated)}.${far}`,
    );
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

/** kg for the bed that leave with the harvest, where the target says so. */
function removalOf(loading: Loading, { fields, goal }: Target, at: BedAt): NutrientMap {
  const rate = goal?.rateKgPerM2 ?? fields.yield;
  if (fields.removal_per_yield === undefined || rate === undefined || at.bed.areaM2 === undefined) return {};
  const kg: Partial<Record<Nutrient, number>> = {};
  for (const [nutrient, { rate: perM2 }] of uptakeAt(fields.removal_per_yield, rate)) {
    const removed = bedKg(loading, { kind: "rate", value: perM2 }, 1, undefined, at);
    if (removed !== undefined) kg[nutrient] = removed;
  }
  return kg;
}

/**
 * The cap of a shipped recipe on phosphorus, by the soil's rating: none where the soil is poor; what the harvest removes,
 * or the rate asked for, where it is about right; where there is too much already no more than the rest of the plan
 * cannot do without. The last two give way as far as the other demands make them.
 */
function phosphorusCap(
  level: PhosphorusLevel,
  needKg: number,
  removalKg: number | undefined,
): number | null | undefined {
  if (level === "below") return null;
  if (level === "above") return needKg;
  return removalKg === undefined ? undefined : Math.max(needKg, removalKg);
}

/**
 * What the target asks of a bed.
 * @param units those of the plan, for what is said about it.
 * @param ownSoil what the plan itself says of its soil.
 */
export function askOf(
  loading: Loading,
  target: Target,
  at: BedAt,
  units: "us" | "metric" = "us",
  ownSoil?: Soil,
): AskedOfBed {
  const { fields } = target;
  const { needs: need, caps: applied } = askedOf(loading, target, at, units);
  const removalKg = removalOf(loading, target, at);
  let soil = ownSoil;
  if (target.soilTest) {
    const ratings = applySoilTest(
      loading,
      target.soilTest,
      {
        needs: need,
        caps: applied,
        capsGiveWay: target.capsShipped,
        pRated: ownSoil?.pRating !== undefined,
        tables: fields.soil_test_ratings,
      },
      at,
      units,
    );
    const tested = ratings.get("P2O5");
    if (ownSoil?.pRating === undefined && tested !== undefined) soil = { ...ownSoil, pRating: tested };
  }
  const level = phosphorusLevel(soil?.pRating);
  if (soil?.pRating !== undefined && level === undefined)
    warn(
      loading,
      "rating-unknown",
      `The rating of phosphorus \`${soil.pRating}\` is none that is known here, so it changes nothing: very low, low, medium, optimum, high, very high.`,
    );
  const softCap =
    level !== undefined && target.capsShipped && applied.P2O5 !== undefined
      ? phosphorusCap(level, need.get("P2O5")?.minKg ?? 0, removalKg.P2O5)
      : undefined;
  if (softCap !== undefined) delete applied.P2O5;
  const ahead = bedAmounts(loading, fields.ahead_max, at);
  const own = new Map((fields.uptake?.nutrients ?? []).map((e) => [e.nutrient, e] as const));
  const other =
    fields.uptake && "other" in fields.uptake ? (fields.uptake.other as Points | undefined) : undefined;

  // A soil test that asks for none has said so itself.
  for (const [nutrient, e] of own)
    if ((need.get(nutrient)?.minKg ?? 0) === 0 && target.soilTest === undefined)
      warn(
        loading,
        "uptake-unused",
        `The uptake curve of ${e.name} does nothing, since the target asks for no least amount of it.`,
      );

  const asks = (n: Nutrient): boolean =>
    need.has(n) || applied[n] !== undefined || ahead[n] !== undefined || (n === "P2O5" && softCap != null);
  const demands = NUTRIENTS.filter(asks).map((nutrient): Demand => {
    const asked = need.get(nutrient);
    const { efficiency = 1, counts = "available" } = asked ?? {};
    const minKg = (asked?.minKg ?? 0) / efficiency;
    const maxKg = asked?.maxKg == null ? null : asked.maxKg / efficiency;
    const stated = own.get(nutrient);
    if (counts === "applied" && stated && target.soilTest === undefined)
      warn(
        loading,
        "uptake-unused",
        `The uptake curve of ${stated.name} does nothing, since its need is counted as it is spread (\`counts: applied\`).`,
      );
    const curve = counts === "applied" ? undefined : (stated?.value ?? (minKg > 0 ? other : undefined));
    const uptake = curve === undefined ? null : fromZero(curve);
    if (ahead[nutrient] !== undefined && uptake === null)
      warn(
        loading,
        "ahead-without-uptake",
        `\`ahead_max\` of ${nutrient} is held against no uptake curve, so nothing counts as taken up before the season's end.`,
      );
    return {
      nutrient,
      minKg,
      maxKg,
      appliedMaxKg: applied[nutrient] ?? null,
      aheadMaxKg: ahead[nutrient] ?? null,
      uptake,
      ...(counts === "applied" ? { counts } : {}),
      ...(efficiency === 1 ? {} : { efficiency }),
      ...(nutrient === "P2O5" && softCap != null ? { appliedSoftMaxKg: softCap } : {}),
    };
  });
  return { demands, ...(soil ? { soil } : {}), removalKg };
}
