/** Plan files to plans: the shelf, the target and the bed put together, and everything checked against everything. */

import { basename } from "node:path";
import {
  type Amendment,
  type Application,
  type Bed,
  type Demand,
  type LeftOut,
  type Limit,
  type Plan,
  type Points,
  type Supplier,
  wholeBed,
} from "../model.ts";
import { defined } from "../optional.ts";
import { type Notice, nearest } from "../problem.ts";
import { fromSi, toSi } from "../units.ts";
import {
  canBeHad,
  checkId,
  isDefined,
  type Resolved,
  readShelf,
  resolveEntry,
  type Shelf,
} from "./amendments.ts";
import type { BedAt } from "./bed.ts";
import { Cursor, kindOf, ofKind, openFile, openRecipe, recipeNamed } from "./context.ts";
import { readCredits } from "./credits.ts";
import * as faults from "./faults.ts";
import { readPlanted, readScoops, withDates, withScoops } from "./own-words.ts";
import { type ExtraPrices, keptPrices, offered, offersOfLists, readPriceLists } from "./plan-prices.ts";
import type { Read } from "./schema/base.ts";
import { applicationSchema, limitSchema, planShape, supplierSchema } from "./schema/plan.ts";
import { percent } from "./schema/values.ts";
import { onSoil, tellOfOrganicMatter } from "./soil.ts";
import { bareTree, isRecord, type Override, type Tree, valueAt, withOverrides } from "./source.ts";
import { sureAsked } from "./spread.ts";
import { strangeSuppliers } from "./suppliers.ts";
import { askOf, type Outside, readTarget, type Target } from "./target.ts";

type Fields = Read<ReturnType<typeof planShape>>;

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
  "prices",
];

/** Maps and lists that may be empty, as they are when everything in them is commented out. */
const MAY_BE_EMPTY = [
  "credits",
  "drainage",
  "only",
  "exclude",
  "bed",
  "yield",
  "soil_test",
  "simple",
  "check_days",
  "thresholds",
  "varies",
  "prices",
];

const USUAL_CURRENCY = "USD";

const A_PLAN = "a plan: a map with `amendments`, `target` and so on";

const weightText = (kg: number, units: Plan["units"]): string => {
  const unit = units === "us" ? "lb" : "kg";
  return `${Number(fromSi(kg, unit).toPrecision(6))} ${unit}`;
};

/**
 * Reads a plan.
 * @param overrides those to lay over the file, and over the files that it names.
 * @param extraPrices price lists beside the plan's own.
 * @returns the plan, or undefined where something is wrong with it (reported).
 */
export function readPlan(
  file: Cursor,
  overrides: readonly Override[],
  extraAmendments: readonly string[],
  extraPrices: readonly ExtraPrices[] = [],
): Plan | undefined {
  const { loading, tree } = file;
  const { root } = tree;
  if (!isRecord(root)) return file.complainOfType(A_PLAN);
  const inside = (key: string): Override[] =>
    overrides
      .filter((o) => o.path[0] === key && o.path.length > 1)
      .map((o) => ({ ...o, path: o.path.slice(1) }));
  const outer = overrides.filter((o) => !reachesIntoFile(tree, o, overrides));
  const written = new Cursor(loading, withOverrides({ ...tree, root: pruned(root, overrides) }, outer));
  const planted = readPlanted(written);
  const scoops = readScoops(written);
  const plan = withScoops(withDates(written, planted), scoops);
  const fields = plan.readMap(planShape(), A_PLAN, READ_ELSEWHERE);
  const { units = "us", blend = "one" } = fields;

  const { plants, area, rows, row_length: rowLengthM, beds_alike: bedsAlike } = fields.bed ?? {};
  const measures: Bed = defined({ plants, areaM2: area, rows, rowLengthM, bedsAlike });
  const broken = plan.has("bed") && fields.bed === undefined;
  const bed: BedAt = {
    measures: wholeBed(measures),
    alike: bedsAlike ?? 1,
    at: plan.at("bed"),
    units,
    reported: new Set(),
    broken,
  };
  const patches = isRecord(plan.written("amendments")) ? [] : inside("amendments");
  const named = patches.filter((p) => !/^\d+$/.test(String(p.path[0])));
  const shelf = readShelf(plan, NO_AMENDMENTS, extraAmendments, named);
  const resolved = new Map<string, Resolved>();
  for (const [id, entry] of shelf.entries) {
    const one = resolveEntry(loading, entry, shelf);
    if (one) resolved.set(id, one);
  }
  const priceWarnings = readPrices(plan, fields, shelf, resolved, extraPrices);
  const writtenOut = isWrittenOut(plan.written("target"));
  const target = readTargetOf(plan, fields.recipe, writtenOut ? [] : inside("target"));
  const asked = target && askOf(target, bed, fields.soil);
  const season = target?.seasonDays;
  const applications = readApplications(plan, blend, season);
  const checkDays = readCheckDays(plan, fields.check_days ?? [], applications?.[0]?.day, season);
  const credits = readCredits(plan, bed, shelf, season);
  tellOfOrganicMatter(plan, fields.soil);
  const suppliers = readSuppliers(plan);
  const choice = choose(plan, fields, shelf, resolved);
  const limits = readLimits(plan, shelf, choice, applications, blend);
  const sure = readSure(plan, fields, target, asked?.demands ?? []);
  const scaleKg = fields.scale ?? DEFAULT_SCALE_KG[units];
  const { batch, harvest } = fields;
  if (batch !== undefined && "kg" in batch)
    plan.at("batch").complain(faults.batchTooSmall(batch.kg, scaleKg, `\`${weightText(scaleKg, units)}\``));
  if (harvest !== undefined) plan.at("harvest", "first").complain(faults.harvestTooEarly(harvest.first));
  if (loading.problems.length > 0 || target === undefined || asked === undefined) return undefined;
  return {
    name: fields.plan ?? (tree.path === "" ? target.name : basename(tree.path).replace(/\.ya?ml$/i, "")),
    currency: fields.currency ?? USUAL_CURRENCY,
    units,
    amendments: onSoil(plan, choice.amendments, asked.soil),
    leftOut: choice.leftOut,
    targetName: target.name,
    needsFrom: target.from,
    seasonDays: target.seasonDays,
    demands: asked.demands,
    removalKg: asked.removalKg,
    bed: measures,
    credits,
    applications: applications ?? [],
    blend,
    scaleKg,
    limits,
    suppliers,
    ...maySay(fields),
    ...defined({
      planted,
      scoops: scoops.length === 0 ? undefined : scoops,
      soil: asked.soil,
      checkDays: checkDays.length === 0 ? undefined : checkDays,
      sure,
      drainage: drainageOf(plan, fields, season),
    }),
    warnings: [
      ...loading.warnings,
      ...priceWarnings,
      ...choice.warnings,
      ...strangeSuppliers(choice.amendments, suppliers),
    ],
  };
}

const NO_AMENDMENTS = {
  wrong: "the plan names no amendments",
  hint: "add `amendments: amendments.yaml`, or give `--amendments`",
};

/** Puts the prices of lists into the amendments; returns what should be said of the lists. */
function readPrices(
  plan: Cursor,
  { only, exclude = [], currency = USUAL_CURRENCY }: Fields,
  shelf: Shelf,
  resolved: Map<string, Resolved>,
  extra: readonly ExtraPrices[],
): readonly Notice[] {
  const lists = readPriceLists(plan, shelf, extra, currency);
  const amendments = [...resolved.values()].map(({ amendment }) => amendment);
  const sold = (id: string): boolean => (only?.includes(id) ?? true) && !exclude.includes(id);
  const { offers, problems, notices } = offersOfLists(lists, amendments, sold);
  for (const problem of problems) plan.loading.problems.push(problem);
  for (const before of amendments) {
    const amendment = offered(before, offers);
    resolved.set(before.id, { ...resolved.get(before.id)!, amendment });
  }
  const chosen = amendments.filter(({ id }) => sold(id));
  return extra.length === 0 ? notices : [...notices, ...keptPrices(chosen, offers)];
}

/** What a plan may say of itself and need not. */
function maySay({ batch, cover, harvest, simple, soil_temperature, thresholds, varies }: Fields) {
  const soil = soil_temperature as number | Points | undefined;
  return defined({
    cover,
    soilTemperatureC: typeof soil === "number" ? [[0, soil] as const] : soil,
    batch,
    simple: simple && defined({ most: simple.most, leastKg: simple.least }),
    // Without a word on it, the harvested part is taken to touch the soil: the longer of the two manure intervals.
    harvest: harvest && { firstDay: harvest.first, touchesSoil: harvest.touches_soil ?? true },
    varies:
      varies &&
      defined({
        releases: varies.releases,
        soilTemperatureC: varies.soil_temperature,
        spreading: varies.spreading,
      }),
    // Without the remarks that may be beside them.
    thresholds:
      thresholds &&
      (Object.fromEntries(
        Object.entries(thresholds).filter(([, limit]) => typeof limit === "number"),
      ) as Readonly<Record<string, number>>),
  });
}

/** Every choice of them is a row of each need. */
const MOST_DRAINAGES = 4;

/** Expected drainage by day, within the season; under cover there is none. */
function drainageOf(plan: Cursor, { drainage = [], cover }: Fields, season = Infinity) {
  const hint = "what drains later takes nothing from this crop";
  for (const [i, { day }] of drainage.entries())
    plan.at("drainage", i, "day").complain(faults.notInSeason(day, season, hint));
  if (drainage.length === 0) return undefined;
  if (new Set(drainage.map(({ day }) => day)).size > MOST_DRAINAGES)
    plan.at("drainage").complain({
      code: "number-range",
      wrong: `drainage on more than ${MOST_DRAINAGES} days`,
      hint: "add up what lies close together: a month's rain as one",
    });
  const covered = cover !== undefined && cover !== "open";
  const text = "The bed is under cover, where no rain drains: `drainage` does nothing.";
  if (covered) return plan.warn("drainage-under-cover", text);
  return drainage.map(({ day, depth }) => ({ day, depthM: depth })).sort((a, b) => a.day - b.day);
}

/** Further days of check, rising; each lies between the first application and the season's end. */
function readCheckDays(plan: Cursor, days: readonly number[], first = 0, season = Infinity): number[] {
  for (const [i, day] of days.entries())
    plan.at("check_days", i).complain(faults.notBetween(day, first, season));
  return [...new Set(days)].sort((a, b) => a - b);
}

function readSure(plan: Cursor, fields: Fields, target: Target | undefined, demands: readonly Demand[]) {
  const teller = fields.sure === undefined ? target : { fields, at: plan };
  if (demands.length === 0 || teller?.fields.sure === undefined) return undefined;
  return sureAsked(teller.at.at("sure"), teller.fields.sure, demands);
}

/** The plan without the keys that are empty and may, and without a target that a flag replaces by a recipe, or the reverse. */
function pruned(root: Readonly<Record<string, unknown>>, overrides: readonly Override[]): object {
  const given = (key: string): boolean => overrides.some((o) => o.path.length === 1 && o.path[0] === key);
  const replaced = given("target") ? "recipe" : given("recipe") ? "target" : undefined;
  const kept = Object.entries(root).filter(
    ([key, value]) => key !== replaced && (value !== null || !MAY_BE_EMPTY.includes(key)),
  );
  return Object.fromEntries(kept);
}

const isWrittenOut = (target: unknown): boolean => isRecord(target) && recipeNamed(target) === undefined;

/** Whether an override is meant for a file that the plan only names: a field of an amendment or of a target. */
function reachesIntoFile(tree: Tree, override: Override, all: readonly Override[]): boolean {
  const [key, step] = override.path;
  if (override.path.length < 2 || (key !== "amendments" && key !== "target")) return false;
  const whole = all.findLast((o) => o.path.length === 1 && o.path[0] === key);
  const value = whole ? whole.value : valueAt(tree.root, [key]);
  if (Array.isArray(value)) return !/^\d+$/.test(String(step));
  if (isRecord(value)) return key === "target" && !isWrittenOut(value);
  return (
    value !== undefined ||
    key === "amendments" ||
    valueAt(tree.root, ["recipe"]) !== undefined ||
    all.some((o) => o.path[0] === "recipe")
  );
}

function readTargetOf(
  plan: Cursor,
  recipeName: string | undefined,
  patches: readonly Override[],
): Target | undefined {
  const { loading } = plan;
  const target = plan.at("target");
  const recipe = plan.at("recipe");
  const both = "the plan has both a `target` and a `recipe`";
  if (target.has() && recipe.has()) return recipe.refuseKey("key-conflict", both, "keep one of the two");
  const given = (key: string): Cursor | undefined => (plan.has(key) ? plan.at(key) : undefined);
  const outside: Outside = { goal: given("yield"), soilTest: given("soil_test") };
  // A yield that a flag puts into a target is the goal; what the target's need means does not change with it.
  const goals = patches.filter((p) => p.path.length === 1 && p.path[0] === "yield");
  const others = patches.filter((p) => !goals.includes(p));
  const caps = others.filter((p) => p.path[0] === "applied_max").map((p) => p.path[1]);
  const isPatched = (key: string): boolean => others.some((p) => p.path[0] === key);
  const seasonOnly = isPatched("season") && !isPatched("uptake");
  const flagged =
    goals.length > 0 ? new Cursor(loading, withOverrides(bareTree({}), goals), ["yield"]) : undefined;
  const fromFile = (opened: Cursor | undefined, asked: Cursor): Target | undefined => {
    const file = ofKind(opened, "target", asked);
    return (
      file &&
      readTarget(new Cursor(loading, withOverrides(file.tree, others)), {
        ...outside,
        goal: outside.goal ?? flagged,
        shipped: file.tree.path.startsWith(loading.where.recipesDir),
        capFlagged: caps.length > 0 && !caps.includes("gives_way"),
        curveSeason: seasonOnly ? file.at("season") : undefined,
        own: isPatched("applied_max") ? ["applied_max"] : [],
      })
    );
  };
  const fromRecipe = (name: string, asked: Cursor): Target | undefined =>
    fromFile(openRecipe(asked, "crops", name), asked);
  if (recipe.has()) return recipeName === undefined ? undefined : fromRecipe(recipeName, recipe);
  if (!target.has() && kindOf(plan.tree.root) === "amendments")
    return plan.complain({
      code: "file-kind",
      ...(plan.tree.file === "" ? {} : { given: plan.tree.file }),
      wrong: "is an amendments file, and nothing says what the crop needs",
      hint: 'name the plan that uses it, or add `--recipe pepper --area "1500 sq ft"`; `barrowmix init` writes a plan',
    });
  if (!target.has())
    return target.refuse(
      "key-missing",
      "the plan names no target",
      "add `target: target.yaml` or `recipe: pepper`, or give `--target` or `--recipe`",
    );
  const value = target.written();
  const shipped = recipeNamed(value);
  if (shipped !== undefined) return fromRecipe(shipped, isRecord(value) ? target.at("recipe") : target);
  if (isRecord(value)) return readTarget(target, outside);
  return typeof value === "string"
    ? fromFile(openFile(loading, target.resolve(value.trim()), target), target)
    : target.complainOfType("a path, `{recipe: pepper}`, or a target");
}

function readApplications(plan: Cursor, blend: "one" | "each", season = Infinity): Application[] | undefined {
  const list = plan.at("applications");
  if (!list.has()) return [{ name: "planting", day: 0, share: 1 }];
  const items = list.items("a list such as `- {name: planting, day: 0, share: 40%}`");
  const empty = "the list of applications is empty";
  if (list.isList && items.length === 0)
    list.refuse("key-missing", empty, "leave it out for one application at planting");
  const read = items.map((item) => item.read(applicationSchema()));
  const names = new Set<string>();
  for (const [i, one] of read.entries()) {
    if (one === undefined) continue;
    const name = one.name ?? `day ${one.day}`;
    if (names.has(name))
      list.at(i, "name").complain({
        code: "name-twice",
        wrong: `two applications are called \`${name}\``,
        hint: "give each its own name",
      });
    names.add(name);
    const hint = "an application feeds the crop only before the end of uptake";
    list.at(i, "day").complain(faults.notInSeason(one.day, season, hint));
  }
  const all = read.filter((one) => one !== undefined);
  if (all.length === 0 || all.length < read.length) return undefined;
  const given = all.filter((one) => one.share !== undefined).length;
  const shares = all.map((one) => one.share);
  const text =
    "The applications' shares do nothing with `blend: each`, where every application has its own amounts.";
  if (blend === "one") checkShares(list, shares);
  else if (given > 0) plan.warn("shares-ignored", text);
  const byShare = blend === "one" && given === all.length;
  return all
    .map(({ name, day, share, placement, dug_in: dugInDays }) => ({
      name: name ?? `day ${day}`,
      day,
      share: byShare ? share! : 1 / all.length,
      ...defined({ placement, dugInDays }),
    }))
    .sort((a, b) => a.day - b.day);
}

/** Shares are given for all applications or for none, and add to the whole. */
function checkShares(list: Cursor, shares: readonly (number | undefined)[]): void {
  const given = shares.filter((share) => share !== undefined);
  if (given.length === 0) return;
  const sum = given.reduce((total, share) => total + share, 0);
  if (given.length < shares.length)
    list.at(shares.indexOf(undefined)).complain({
      code: "shares-partial",
      wrong: `this application has no share, while ${given.length === 1 ? "another has one" : "others have"}`,
      hint: "give every application a share, or none for equal ones",
    });
  else list.complainOfKey(faults.sharesMiss(sum));
}

function readSuppliers(plan: Cursor): Supplier[] {
  const suppliers = plan.at("suppliers");
  const ids = suppliers.keys("a map such as `farm-store: {delivery: 35}`").sort();
  return ids.flatMap((id): Supplier[] => {
    const at = suppliers.at(id);
    const one = checkId(at) ? at.read(supplierSchema()) : undefined;
    if (one === undefined) return [];
    const { delivery = 0, free_over: freeOver, per: perKg, percent, steps } = one;
    return [{ id, delivery, ...defined({ freeOver, perKg, percent, steps }) }];
  });
}

interface Choice extends Pick<Plan, "amendments" | "leftOut" | "warnings"> {
  /** Also those whose definition is broken, which count as chosen. */
  readonly ids: ReadonlySet<string>;
}

const notForSale = (id: string) =>
  ({
    code: "amendment-not-for-sale",
    given: id,
    wrong: "is asked for, and it has no pack, no bulk price and no stock",
    hint: "give it `packs`, for instance `- {size: 50 lb, price: 38.50}`",
  }) as const;

function choose(
  plan: Cursor,
  { only, exclude = [], require }: Fields,
  shelf: Shelf,
  resolved: ReadonlyMap<string, Resolved>,
): Choice {
  for (const [key, named] of Object.entries({ only: only ?? [], exclude }))
    for (const [i, id] of named.entries()) isDefined(plan.at(key).item(i), id, shelf);
  const amendments: Amendment[] = [];
  const leftOut: LeftOut[] = [];
  const warnings: Notice[] = [];
  const ids = new Set<string>();
  for (const id of [...shelf.entries.keys()].sort()) {
    const one = resolved.get(id);
    if (only && !only.includes(id)) leftOut.push({ id, why: "not in only" });
    else if (exclude.includes(id)) leftOut.push({ id, why: "excluded" });
    else if (one === undefined) ids.add(id);
    else if (require && one.amendment.organic !== "listed") leftOut.push({ id, why: "not listed organic" });
    else if (!canBeHad(one.amendment)) {
      leftOut.push({ id, why: "not buyable" });
      if (only) plan.at("only").item(only.indexOf(id)).complain(notForSale(id));
    } else {
      amendments.push(one.amendment);
      warnings.push(...one.warnings);
      ids.add(id);
    }
  }
  if (ids.size === 0 && shelf.complete && plan.loading.problems.length === 0) {
    const key = ["only", "exclude", "require"].find((k) => plan.has(k)) ?? "amendments";
    const reasons = [...new Set(leftOut.map((l) => l.why))].join(", ");
    plan.at(key).complainOfKey({
      code: "choice-empty",
      wrong: `no amendment is left to make a blend from${reasons === "" ? "" : ` (${reasons})`}`,
      hint: leftOut.some((l) => l.why === "not listed organic")
        ? "nothing that ships is called listed: write `organic: listed` into your own amendments file where your certifier says so"
        : "widen the choice: every amendment in it needs a pack, a bulk price or stock",
    });
  }
  return { amendments, leftOut, warnings, ids };
}

function readLimits(
  plan: Cursor,
  shelf: Shelf,
  choice: Choice,
  applications: readonly Application[] | undefined,
  blend: "one" | "each",
): Limit[] {
  const all = plan.at("limits");
  const limits = all.keys("a map such as `feather-meal: {max_share: 30%}`").flatMap((id): Limit[] => {
    const at = all.at(id);
    isDefined(at, id, shelf, "key");
    const one = at.read(limitSchema());
    if (one === undefined) return [];
    const { min: minKg, max: maxKg, min_share: minShare, max_share: maxShare, not_in = [] } = one;
    at.at("min").complain(faults.crossedLimit(id, one, "min", "max"));
    at.at("min_share").complain(faults.crossedLimit(id, one, "min_share", "max_share"));
    const notIn = applications ? indicesOf(at.at("not_in"), not_in, applications) : [];
    const asked = (["min", "min_share"] as const).find((key) => (one[key] ?? 0) > 0);
    if (notIn.length > 0) checkNotIn(at, asked, notIn.length === applications?.length, blend);
    const why = choice.leftOut.find((left) => left.id === id)?.why;
    if (asked && why === "not buyable") at.at(asked).complainOfKey(notForSale(id));
    else if (asked && why !== undefined && plan.at(why === "excluded" ? "exclude" : "only").isFromFlag)
      // What cannot be had today has no least amount either; the file stays as it is for when it can.
      plan.loading.warnings.push({
        code: "limit-dropped",
        text: `${id} is left out, and with it what the plan asks at least of it.`,
      });
    else if (asked && why !== undefined)
      at.at(asked).complainOfKey({
        code: "limit-conflict",
        given: id,
        wrong: `is asked for, and the plan leaves it out (${why})`,
        hint: `take out \`${asked}\`, or let it in`,
      });
    return choice.ids.has(id) ? [{ id, ...defined({ minShare, maxShare, minKg, maxKg }), notIn }] : [];
  });
  const least = limits.reduce((sum, l) => sum + (l.minShare ?? 0), 0);
  if (least > 1 + faults.TOLERANCE) {
    const wrong = `the least shares add to ${percent(least)}`;
    all.refuseKey("limit-conflict", wrong, "together they can be at most 100%");
  }
  return limits.sort((a, b) => (a.id < b.id ? -1 : 1));
}

/** Where the applications named at `at` are in the plan's list, rising; unknown names are reported. */
function indicesOf(at: Cursor, names: readonly string[], applications: readonly Application[]): number[] {
  const known = applications.map(({ name }) => name);
  const indices = names.map((name, i) => {
    const index = known.indexOf(name);
    if (index < 0)
      at.item(i).complain({
        code: "application-unknown",
        wrong: `no application is called \`${name}\``,
        near: nearest(name, known),
        hint: `there are ${known.map((n) => `\`${n}\``).join(", ")}`,
      });
    return index;
  });
  return [...new Set(indices)].filter((index) => index >= 0).sort((a, b) => a - b);
}

/**
 * Whether an amendment that is asked for can go in somewhere.
 * @param asked the key that asks for it.
 * @param everywhere it may be in no application; else in some of them.
 */
function checkNotIn(at: Cursor, asked: string | undefined, everywhere: boolean, blend: "one" | "each"): void {
  const id = at.path.at(-1);
  if (asked && (everywhere || blend === "one"))
    at.at("not_in").complainOfKey({
      code: "limit-conflict",
      wrong: everywhere
        ? `\`${id}\` has a \`${asked}\`, and \`not_in\` leaves it out of every application`
        : `\`${id}\` has a \`${asked}\`, and with one blend for all applications \`not_in\` leaves it out of every one`,
      hint: blend === "one" ? "use `blend: each`, or take out one of the two" : "take out one of the two",
    });
  else if (blend === "one")
    at.warn(
      "not-in-one-blend",
      `With one blend for all applications, leaving \`${id}\` out of one leaves it out of all; \`blend: each\` can leave it out of one.`,
    );
}
