/** Plan files to plans: the shelf, the target and the bed put together, and everything checked against everything. */

import { basename } from "node:path";
import type {
  Amendment,
  Application,
  Bed,
  Demand,
  LeftOut,
  Limit,
  Plan,
  Points,
  Supplier,
  SureAsked,
} from "../model.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import { toSi } from "../units.ts";
import {
  Classes,
  checkId,
  type Resolved,
  readAmendmentsOf,
  readReleases,
  resolveEntry,
  type Shelf,
  unknownId,
  withClasses,
} from "./amendments.ts";
import { indicesOf } from "./application-names.ts";
import type { BedAt } from "./bed.ts";
import { complain, isKind, type Loading, openFile, openRecipe, resolvePath, warn } from "./context.ts";
import { readCredits } from "./credits.ts";
import { readPlanted, readScoops, withDates, withScoops } from "./own-words.ts";
import type { Read } from "./schema/base.ts";
import { applicationSchema, limitSchema, planShape, supplierSchema } from "./schema/plan.ts";
import { itemsOf, readMap, readValue, wrongType } from "./schema/read.ts";
import type { SureSpec } from "./schema/sure.ts";
import { onSoil, tellOfOrganicMatter } from "./soil.ts";
import { bareTree, isRecord, type Override, type Path, type Tree, valueAt, withOverrides } from "./source.ts";
import { readKinds, sureAsked } from "./spread.ts";
import { strangeSuppliers } from "./suppliers.ts";
import { askOf, type Outside, readTarget, type Target } from "./target.ts";

const SHARES_TOLERANCE = 1e-6;

/** Weights are rounded to what a kitchen or luggage scale shows, unless the plan says otherwise: 0.01 lb or 5 g. */
const DEFAULT_SCALE_KG = { us: toSi(0.01, "lb"), metric: 0.005 } as const;

const READ_ELSEWHERE = [
  "amendments",
  "target",
  "releases",
  "yield",
  "soil_test",
  "credits",
  "applications",
  "limits",
  "suppliers",
  "planted",
  "scoops",
  "kinds",
];

/** Maps and lists that may be empty, as they do when everything in them is commented out. */
const MAY_BE_EMPTY = [
  "credits",
  "limits",
  "suppliers",
  "releases",
  "only",
  "exclude",
  "bed",
  "yield",
  "soil_test",
  "simple",
  "check_days",
  "thresholds",
  "scoops",
  "varies",
  "kinds",
];

const percent = (fraction: number): string => `${Number((fraction * 100).toPrecision(8))}%`;

/**
 * Reads a plan.
 * @param overrides those that were laid over `tree`, to find the ones that reach into other files.
 * @returns the plan, or undefined where `loading.problems` says why not.
 */
export function readPlan(
  loading: Loading,
  tree: Tree,
  overrides: readonly Override[],
  extraAmendments: readonly string[],
): Plan | undefined {
  const inside = (key: string): Override[] =>
    overrides
      .filter((o) => o.path[0] === key && o.path.length > 1)
      .map((o) => ({ ...o, path: o.path.slice(1) }));
  const written = withOverrides(
    pruned(tree, overrides),
    overrides.filter((o) => !reachesIntoFile(tree, o, overrides)),
  );
  const planted = readPlanted(loading, written);
  const scoops = readScoops(loading, written);
  const own = withScoops(withDates(loading, written, planted), scoops);
  const fields = readMap(
    planShape(),
    own,
    [],
    loading.problems,
    "a plan: a map with `amendments`, `target` and so on",
    READ_ELSEWHERE,
  );
  const raw = isRecord(own.root) ? own.root : {};
  const wasGiven = (key: string): boolean => Object.hasOwn(raw, key);
  const broken = (key: keyof typeof fields): boolean => wasGiven(key) && fields[key] === undefined;

  const { plants, area, rows, row_length: rowLengthM } = fields.bed ?? {};
  const bed: Bed = defined({ plants, areaM2: area, rows, rowLengthM });
  const at: BedAt = { bed, tree: own, path: ["bed"], reported: new Set(), broken: broken("bed") };
  const { shelf, classes, resolved } = readSupply(loading, own, extraAmendments, inside("amendments"));
  const target = readTargetOf(
    loading,
    own,
    wasGiven,
    inside("target").filter(() => !isWrittenOut(valueAt(own.root, ["target"]))),
  );
  const units = fields.units ?? "us";
  const asked = target && askOf(loading, target, at, units, fields.soil);
  const season = target?.seasonDays;
  const blend = fields.blend ?? "one";
  const applications = readApplications(loading, own, blend, season);
  const checkDays = readCheckDays(loading, own, fields.check_days ?? [], applications, season);
  const credits = readCredits(loading, own, at, classes, season, units);
  tellOfOrganicMatter(loading, own, fields.soil);
  const suppliers = readSuppliers(loading, own);
  const choice = choose(loading, own, fields, shelf, resolved);
  const limits = readLimits(loading, own, shelf, choice, applications, blend);
  checkSimple(loading, own, fields.simple);
  const sure = readSure(loading, own, fields.sure, target, asked?.demands ?? []);
  if (loading.problems.length > 0 || target === undefined) return undefined;
  return {
    name: fields.plan ?? (tree.path === "" ? target.name : basename(tree.path).replace(/\.ya?ml$/i, "")),
    currency: fields.currency ?? "USD",
    units,
    amendments: onSoil(loading, choice.amendments, asked?.soil),
    leftOut: choice.leftOut,
    targetName: target.name,
    seasonDays: target.seasonDays,
    demands: asked?.demands ?? [],
    removalKg: asked?.removalKg ?? {},
    bed,
    credits,
    applications: applications ?? [],
    blend,
    scaleKg: fields.scale ?? DEFAULT_SCALE_KG[units],
    limits,
    suppliers,
    ...maySay(fields),
    ...defined({
      planted,
      scoops: scoops.length === 0 ? undefined : scoops,
      soil: asked?.soil,
      checkDays: checkDays.length === 0 ? undefined : checkDays,
      sure,
    }),
    warnings: [...loading.warnings, ...choice.warnings, ...strangeSuppliers(choice.amendments, suppliers)],
  };
}

type PlanFields = Read<ReturnType<typeof planShape>>;

/** What a plan may say of itself and need not. */
function maySay({ batch, cover, harvest, simple, soil_temperature, thresholds, varies }: PlanFields) {
  const soil = soil_temperature as number | Points | undefined;
  return defined({
    cover,
    soilTemperatureC: typeof soil === "number" ? [[0, soil] as const] : soil,
    batch: batch && (batch.kind === "kg" ? { kg: batch.value } : { litres: batch.value }),
    simple: simple && defined({ most: simple.most, leastKg: simple.least }),
    // Without a word on it, the harvested part is taken to touch the soil: the longer of the two manure intervals.
    harvest: harvest && { firstDay: harvest.first, touchesSoil: harvest.touches_soil ?? true },
    varies: varies && seasonSpread(varies),
    thresholds: thresholds && thresholdsOf(thresholds),
  });
}

function checkSimple(loading: Loading, own: Tree, simple: PlanFields["simple"]): void {
  if (simple && simple.most === undefined && simple.least === undefined)
    complain(loading, own, {
      code: "key-missing",
      path: ["simple"],
      at: "key",
      wrong: "`simple` says neither `most` nor `least`",
      hint: "for instance `{most: 5, least: 1 lb}`",
    });
}

/** What there is to choose from: the amendments as files have them, the release classes, and amendments ready for use. */
function readSupply(loading: Loading, own: Tree, extra: readonly string[], patches: readonly Override[]) {
  const inFile = !isRecord(valueAt(own.root, ["amendments"]));
  const shelf = readShelf(loading, own, extra, inFile ? patches : []);
  const classes = new Classes(
    withClasses(shelf.releases, readReleases(loading, own, ["releases"])),
    new Map([...shelf.kinds, ...readKinds(loading, own)]),
  );
  const resolved = new Map<string, Resolved>();
  for (const [id, entry] of shelf.entries) {
    const one = resolveEntry(loading, entry, classes);
    if (one) resolved.set(id, one);
  }
  return { shelf, classes, resolved };
}

/** Further days of check, rising; each lies between the first application and the season's end. */
function readCheckDays(
  loading: Loading,
  own: Tree,
  days: readonly number[],
  applications: readonly Application[] | undefined,
  seasonDays: number | undefined,
): number[] {
  const first = applications?.[0]?.day ?? 0;
  for (const [i, day] of days.entries())
    if (day <= first || (seasonDays !== undefined && day >= seasonDays))
      complain(loading, own, {
        code: "day-outside",
        path: ["check_days", i],
        wrong: `day ${day} is not between the first application and the season's end`,
        hint: `give a day after day ${first}${seasonDays === undefined ? "" : ` and before day ${seasonDays}`}`,
      });
  return [...new Set(days)].sort((a, b) => a - b);
}

/** What the plan asks to be sure of, or else its target. */
function readSure(
  loading: Loading,
  own: Tree,
  spec: SureSpec | undefined,
  target: Target | undefined,
  demands: readonly Demand[],
): SureAsked | undefined {
  if (target === undefined || demands.length === 0) return undefined;
  if (spec !== undefined) return sureAsked(loading, own, ["sure"], spec, demands);
  const { sure } = target.fields;
  return sure && sureAsked(loading, target.tree, [...target.path, "sure"], sure, demands);
}

function seasonSpread(given: {
  readonly releases?: number | undefined;
  readonly soil_temperature?: number | undefined;
  readonly spreading?: number | undefined;
}): NonNullable<Plan["varies"]> {
  const { releases, soil_temperature: soilTemperatureC, spreading } = given;
  return defined({ releases, soilTemperatureC, spreading });
}

/** The thresholds without the remarks that may be beside them. */
function thresholdsOf(given: Readonly<Record<string, unknown>>): Record<string, number> {
  const numbers = Object.entries(given).filter(
    (entry): entry is [string, number] => typeof entry[1] === "number",
  );
  return Object.fromEntries(numbers);
}

/** The plan without the keys that are empty and may, and without a target that a flag replaces by a recipe, or the reverse. */
function pruned(tree: Tree, overrides: readonly Override[]): Tree {
  if (!isRecord(tree.root)) return tree;
  const given = (key: string): boolean => overrides.some((o) => o.path.length === 1 && o.path[0] === key);
  const replaced = given("target") ? "recipe" : given("recipe") ? "target" : undefined;
  const kept = Object.entries(tree.root).filter(
    ([key, value]) => key !== replaced && (value !== null || !MAY_BE_EMPTY.includes(key)),
  );
  if (kept.length === Object.keys(tree.root).length) return tree;
  return { ...tree, root: Object.assign(Object.create(null) as object, Object.fromEntries(kept)) };
}

/** `{recipe: pepper}`, which names a shipped recipe and says nothing else. */
function isRecipeAlone(target: unknown): target is { readonly recipe: string } {
  return isRecord(target) && Object.keys(target).length === 1 && typeof target.recipe === "string";
}

/** A target that is in the plan itself. */
const isWrittenOut = (target: unknown): boolean => isRecord(target) && !isRecipeAlone(target);

/** Whether an override is meant for a file that the plan only names: a field of an amendment or of a target. */
function reachesIntoFile(tree: Tree, override: Override, all: readonly Override[]): boolean {
  const [key, step] = override.path;
  if (override.path.length < 2 || (key !== "amendments" && key !== "target")) return false;
  const whole = all.findLast((o) => o.path.length === 1 && o.path[0] === key);
  const value = whole ? whole.value : valueAt(tree.root, [key]);
  if (Array.isArray(value)) return !/^\d+$/.test(String(step));
  if (isRecord(value)) return key === "target" && isRecipeAlone(value);
  return (
    value !== undefined ||
    key === "amendments" ||
    valueAt(tree.root, ["recipe"]) !== undefined ||
    all.some((o) => o.path[0] === "recipe")
  );
}

function readShelf(
  loading: Loading,
  own: Tree,
  extra: readonly string[],
  patches: readonly Override[],
): Shelf {
  if (valueAt(own.root, ["amendments"]) === undefined && extra.length === 0) {
    complain(loading, own, {
      code: "key-missing",
      path: ["amendments"],
      wrong: "the plan names no amendments",
      hint: "add `amendments: amendments.yaml`, or give `--amendments`",
    });
    return { entries: new Map(), releases: new Map(), kinds: new Map(), complete: false };
  }
  const named = patches.filter((p) => !/^\d+$/.test(String(p.path[0])));
  return readAmendmentsOf(loading, own, ["amendments"], extra, named);
}

function readTargetOf(
  loading: Loading,
  own: Tree,
  wasGiven: (key: string) => boolean,
  patches: readonly Override[],
): Target | undefined {
  const value = valueAt(own.root, ["target"]);
  const recipe = valueAt(own.root, ["recipe"]);
  if (wasGiven("target") && wasGiven("recipe")) {
    complain(loading, own, {
      code: "key-conflict",
      path: ["recipe"],
      at: "key",
      wrong: "the plan has both a `target` and a `recipe`",
      hint: "keep one of the two",
    });
    return undefined;
  }
  const outside: Outside = {
    ...(wasGiven("yield") ? { goal: { tree: own, path: ["yield"] } } : {}),
    ...(wasGiven("soil_test") ? { soilTest: { tree: own, path: ["soil_test"] } } : {}),
  };
  // A yield that a flag puts into a target is the goal; what the target's need means does not change with it.
  const goals = patches.filter((p) => p.path.length === 1 && p.path[0] === "yield");
  const others = patches.filter((p) => !goals.includes(p));
  const goal =
    outside.goal ??
    (goals.length > 0 ? { tree: withOverrides(bareTree({}), goals), path: ["yield"] } : undefined);
  const patched = (file: Tree | undefined, path: Path): Target | undefined =>
    file && isKind(loading, file, "target", { tree: own, path })
      ? readTarget(loading, withOverrides(file, others), [], {
          ...outside,
          ...(goal ? { goal } : {}),
          shipped: file.path.startsWith(loading.where.recipesDir),
          own: others.map((p) => String(p.path[0])).filter((key) => key === "applied_max"),
        })
      : undefined;
  if (wasGiven("recipe")) {
    if (typeof recipe !== "string") return undefined;
    return patched(openRecipe(loading, "crops", recipe.trim(), { tree: own, path: ["recipe"] }), ["recipe"]);
  }
  if (!wasGiven("target")) {
    complain(loading, own, {
      code: "key-missing",
      path: ["target"],
      wrong: "the plan names no target",
      hint: "add `target: target.yaml` or `recipe: pepper`, or give `--target` or `--recipe`",
    });
    return undefined;
  }
  const asked: { tree: Tree; path: Path } = { tree: own, path: ["target"] };
  if (typeof value === "string") {
    const shipped = /^recipe:\s*(\S+)$/.exec(value.trim())?.[1];
    if (shipped !== undefined) return patched(openRecipe(loading, "crops", shipped, asked), asked.path);
    return patched(openFile(loading, resolvePath(loading, own, ["target"], value.trim()), asked), asked.path);
  }
  if (isRecord(value)) {
    if (isRecipeAlone(value))
      return patched(openRecipe(loading, "crops", value.recipe, { tree: own, path: ["target", "recipe"] }), [
        "target",
        "recipe",
      ]);
    return readTarget(loading, own, ["target"], outside);
  }
  loading.problems.push(wrongType(own, ["target"], value, "a path, `{recipe: pepper}`, or a target"));
  return undefined;
}

function readApplications(
  loading: Loading,
  own: Tree,
  blend: "one" | "each",
  season: number | undefined,
): Application[] | undefined {
  const raw = itemsOf(
    own,
    ["applications"],
    loading.problems,
    "a list such as `- {name: planting, day: 0, share: 40%}`",
  );
  if (raw === undefined)
    return valueAt(own.root, ["applications"]) === undefined
      ? [{ name: "planting", day: 0, share: 1 }]
      : undefined;
  if (raw.length === 0) {
    complain(loading, own, {
      code: "key-missing",
      path: ["applications"],
      wrong: "the list of applications is empty",
      hint: "leave it out for one application at planting",
    });
    return undefined;
  }
  const read = raw.map((_, i) => readValue(applicationSchema(), own, ["applications", i], loading.problems));
  const names = new Map<string, number>();
  for (const [i, one] of read.entries()) {
    if (one === undefined) continue;
    const name = one.name ?? `day ${one.day}`;
    if (names.has(name))
      complain(loading, own, {
        code: "name-twice",
        path: ["applications", i, "name"],
        wrong: `two applications are called \`${name}\``,
        hint: "give each its own name",
      });
    names.set(name, i);
    if (season !== undefined && one.day >= season)
      complain(loading, own, {
        code: "day-outside",
        path: ["applications", i, "day"],
        wrong: `day ${one.day} is not before the season's end on day ${season}`,
        hint: "an application feeds the crop only before the end of uptake",
      });
  }
  if (read.some((one) => one === undefined)) return undefined;
  const all = read.filter((one) => one !== undefined);
  const given = all.filter((one) => one.share !== undefined).length;
  const equal = 1 / all.length;
  if (blend === "each") {
    if (given > 0)
      warn(
        loading,
        "shares-ignored",
        "The applications' shares do nothing with `blend: each`, where every application has its own amounts.",
      );
  } else if (given > 0 && given < all.length) {
    const i = all.findIndex((one) => one.share === undefined);
    complain(loading, own, {
      code: "shares-partial",
      path: ["applications", i],
      wrong: `this application has no share, while ${given === 1 ? "another has one" : "others have"}`,
      hint: "give every application a share, or none for equal ones",
    });
  } else if (given === all.length) {
    const sum = all.reduce((total, one) => total + one.share!, 0);
    if (Math.abs(sum - 1) > SHARES_TOLERANCE)
      complain(loading, own, {
        code: "shares-sum",
        path: ["applications"],
        at: "key",
        wrong: `the shares add to ${percent(sum)}`,
        hint: "they must add to 100%",
      });
  }
  const byShare = blend === "one" && given === all.length;
  return all
    .map(
      (one): Application => ({
        name: one.name ?? `day ${one.day}`,
        day: one.day,
        share: byShare ? one.share! : equal,
        ...defined({ placement: one.placement }),
      }),
    )
    .sort((a, b) => a.day - b.day);
}

/** The entries of a map, or none where something else is there (reported). */
function keysOf(loading: Loading, own: Tree, key: string, expected: string): string[] {
  const raw = valueAt(own.root, [key]);
  if (raw === undefined) return [];
  if (isRecord(raw)) return Object.keys(raw);
  loading.problems.push(wrongType(own, [key], raw, expected));
  return [];
}

function readSuppliers(loading: Loading, own: Tree): Supplier[] {
  const suppliers: Supplier[] = [];
  for (const id of keysOf(loading, own, "suppliers", "a map such as `farm-store: {delivery: 35}`")) {
    if (!checkId(loading, own, ["suppliers", id], id)) continue;
    const one = readValue(supplierSchema(), own, ["suppliers", id], loading.problems);
    if (one)
      suppliers.push({
        id,
        delivery: one.delivery ?? 0,
        ...defined({
          freeOver: one.free_over,
          perKg: one.per,
          percent: one.percent,
          steps: one.steps,
        }),
      });
  }
  return suppliers.sort((a, b) => compare(a.id, b.id));
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

interface Choice {
  readonly amendments: readonly Amendment[];
  readonly leftOut: readonly LeftOut[];
  readonly warnings: readonly Notice[];
  /** Also those whose definition is broken, which count as chosen. */
  readonly ids: ReadonlySet<string>;
}

/** Which amendments the blend may be made from. */
function choose(
  loading: Loading,
  own: Tree,
  fields: {
    readonly only?: readonly string[];
    readonly exclude?: readonly string[];
    readonly require?: "organic-listed";
  },
  shelf: Shelf,
  resolved: ReadonlyMap<string, Resolved>,
): Choice {
  const check = (key: "only" | "exclude"): void => {
    const listed = Array.isArray(valueAt(own.root, [key]));
    for (const [i, id] of (fields[key] ?? []).entries())
      if (!shelf.entries.has(id) && shelf.complete)
        loading.problems.push(...unknownId(own, listed ? [key, i] : [key], id, shelf));
  };
  check("only");
  check("exclude");
  const only = fields.only && new Set(fields.only);
  const exclude = new Set(fields.exclude ?? []);
  const amendments: Amendment[] = [];
  const leftOut: LeftOut[] = [];
  const warnings: Notice[] = [];
  const ids = new Set<string>();
  for (const id of [...shelf.entries.keys()].sort(compare)) {
    const one = resolved.get(id);
    if (only && !only.has(id)) leftOut.push({ id, why: "not in only" });
    else if (exclude.has(id)) leftOut.push({ id, why: "excluded" });
    else if (one === undefined) ids.add(id);
    else if (fields.require && one.amendment.organic !== "listed")
      leftOut.push({ id, why: "not listed organic" });
    else if (!one.buyable) {
      leftOut.push({ id, why: "not buyable" });
      if (only) {
        const i = fields.only!.indexOf(id);
        complain(loading, own, {
          code: "amendment-not-for-sale",
          path: Array.isArray(valueAt(own.root, ["only"])) ? ["only", i] : ["only"],
          given: id,
          wrong: "is asked for, and it has no pack, no bulk price and no stock",
          hint: "give it `packs`, for instance `- {size: 50 lb, price: 38.50}`",
        });
      }
    } else {
      amendments.push(one.amendment);
      warnings.push(...one.warnings);
      ids.add(id);
    }
  }
  if (ids.size === 0 && shelf.complete && loading.problems.length === 0) {
    const key =
      ["only", "exclude", "require", "amendments"].find((k) => valueAt(own.root, [k]) !== undefined) ??
      "amendments";
    const reasons = [...new Set(leftOut.map((l) => l.why))].join(", ");
    complain(loading, own, {
      code: "choice-empty",
      path: [key],
      at: "key",
      wrong: `no amendment is left to make a blend from${reasons === "" ? "" : ` (${reasons})`}`,
      hint: leftOut.some((l) => l.why === "not listed organic")
        ? "nothing that ships is called listed: write `organic: listed` into your own amendments file where your certifier says so"
        : "widen the choice: every amendment in it needs a pack, a bulk price or stock",
    });
  }
  return { amendments, leftOut, warnings, ids };
}

function readLimits(
  loading: Loading,
  own: Tree,
  shelf: Shelf,
  choice: Choice,
  applications: readonly Application[] | undefined,
  blend: "one" | "each",
): Limit[] {
  const limits: Limit[] = [];
  const leftOut = new Map(choice.leftOut.map((l) => [l.id, l.why] as const));
  for (const id of keysOf(loading, own, "limits", "a map such as `feather-meal: {max_share: 30%}`")) {
    const path: Path = ["limits", id];
    const known = shelf.entries.has(id);
    if (!known && shelf.complete) loading.problems.push(...unknownId(own, path, id, shelf, "key"));
    const one = readValue(limitSchema(), own, path, loading.problems);
    if (one === undefined) continue;
    const crossed = (least: "min" | "min_share", most: "max" | "max_share"): void => {
      const a = one[least];
      const b = one[most];
      if (a !== undefined && b !== undefined && a > b)
        complain(loading, own, {
          code: "limit-conflict",
          path: [...path, least],
          given: least,
          wrong: `of \`${id}\` is above its \`${most}\``,
          hint: "the least is at most the most",
        });
    };
    crossed("min", "max");
    crossed("min_share", "max_share");
    const notIn = indicesOf(loading, own, [...path, "not_in"], one.not_in ?? [], applications);
    const asked = (one.min ?? 0) > 0 ? "min" : (one.min_share ?? 0) > 0 ? "min_share" : undefined;
    const why = leftOut.get(id);
    if (
      asked &&
      applications &&
      notIn.length > 0 &&
      (notIn.length === applications.length || blend === "one")
    )
      complain(loading, own, {
        code: "limit-conflict",
        path: [...path, "not_in"],
        at: "key",
        wrong:
          blend === "one" && notIn.length < applications.length
            ? `\`${id}\` has a \`${asked}\`, and with one blend for all applications \`not_in\` leaves it out of every one`
            : `\`${id}\` has a \`${asked}\`, and \`not_in\` leaves it out of every application`,
        hint: blend === "one" ? "use `blend: each`, or take out one of the two" : "take out one of the two",
      });
    else if (notIn.length > 0 && blend === "one")
      warn(
        loading,
        "not-in-one-blend",
        `With one blend for all applications, leaving \`${id}\` out of one leaves it out of all; \`blend: each\` can leave it out of one.`,
      );
    if (asked && why !== undefined)
      complain(loading, own, {
        code: why === "not buyable" ? "amendment-not-for-sale" : "limit-conflict",
        path: [...path, asked],
        at: "key",
        wrong:
          why === "not buyable"
            ? `\`${id}\` is asked for, and it has no pack, no bulk price and no stock`
            : `\`${id}\` is asked for, and the plan leaves it out (${why})`,
        hint:
          why === "not buyable"
            ? "give it `packs`, for instance `- {size: 50 lb, price: 38.50}`"
            : `take out \`${asked}\`, or let it in`,
      });
    if (choice.ids.has(id))
      limits.push({
        id,
        ...defined({ minShare: one.min_share, maxShare: one.max_share, minKg: one.min, maxKg: one.max }),
        notIn,
      });
  }
  const least = limits.reduce((sum, l) => sum + (l.minShare ?? 0), 0);
  if (least > 1 + SHARES_TOLERANCE)
    complain(loading, own, {
      code: "limit-conflict",
      path: ["limits"],
      at: "key",
      wrong: `the least shares add to ${percent(least)}`,
      hint: "together they can be at most 100%",
    });
  return limits.sort((a, b) => compare(a.id, b.id));
}
