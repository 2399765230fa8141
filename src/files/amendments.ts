/**
 * Amendments files to amendments: includes, later entries over earlier ones field by field, release classes by name.
 *
 * A field is replaced whole: a later `analysis` or `packs` takes the place of the earlier one, its parts are not mixed. Prices
 * are replaced together: an entry that states one leaves nothing of those below it, nor their mark as placeholders.
 */
import { basename } from "node:path";
import type {
  Amendment,
  Batch,
  MaterialKind,
  NamedCurve,
  Pack,
  RawManure,
  Release,
  ReleaseCurve,
} from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { type Fault, type Notice, nearest, noticesOf } from "../problem.ts";
import {
  Cursor,
  type Loading,
  ofKind,
  openFile,
  openRecipe,
  recipeNamed,
  recipePath,
  shownPath,
} from "./context.ts";
import { RELEASE_CLASS_NAMES, RELEASE_CLASSES } from "./release-classes.ts";
import { amendmentShape, amendmentsFileShape } from "./schema/amendments.ts";
import type { Read } from "./schema/base.ts";
import { type CurveSpec, releaseClassSchema, SAME_CLASS } from "./schema/release.ts";
import { ID, malformed } from "./schema/values.ts";
import {
  bareTree,
  isRecord,
  type Override,
  replaced,
  type Spot,
  type Tree,
  valueAt,
  withOverrides,
} from "./source.ts";
import { contentsOf, type Kinds, readKinds } from "./spread.ts";

type Fields = Read<ReturnType<typeof amendmentShape>>;
type Field = keyof Fields;

/** One amendment as the files leave it, not yet resolved. */
interface Entry {
  readonly id: string;
  readonly fields: Fields;
  readonly origins: Readonly<Partial<Record<Field, Spot>>>;
  /** Where it was first named. */
  readonly first: Spot;
  /** Its analysis was written over one that had a grade, and the grade was not written anew. */
  readonly gradeBelow?: boolean;
}

/** Release classes of the files' own, by name. */
type Releases = ReadonlyMap<string, CurveSpec>;

/** Everything that the amendments files of a run define. */
export interface Shelf {
  readonly entries: ReadonlyMap<string, Entry>;
  readonly releases: Releases;
  readonly kinds: Kinds;
  /** False where a file could not be read, so that an unknown id may not be the id's fault. */
  readonly complete: boolean;
}

const EMPTY: Shelf = { entries: new Map(), releases: new Map(), kinds: new Map(), complete: true };
const UNREAD: Shelf = { ...EMPTY, complete: false };

const PRICES = ["packs", "bulk"] as const;

/** Whether an entry states a price; `bulk: null` and `packs: []` take one away. */
function statesPrice({ fields, origins }: Entry): boolean {
  // What is wrong with a price has been reported: it was stated.
  return PRICES.some((key) => {
    const value = fields[key];
    return Array.isArray(value) ? value.length > 0 : origins[key] !== undefined && value !== null;
  });
}

function unpriced({ id, first, fields, origins }: Entry): Entry {
  const { packs: _, bulk: __, placeholder: ___, ...others } = fields;
  const { packs: ____, bulk: _____, placeholder: ______, ...places } = origins;
  return { id, first, fields: others, origins: places };
}

function overlaid(before: Entry, above: Entry): Entry {
  const below = statesPrice(above) ? unpriced(before) : before;
  return {
    id: above.id,
    fields: { ...below.fields, ...above.fields },
    origins: { ...below.origins, ...above.origins },
    first: before.first,
    gradeBelow:
      above.fields.grade === undefined &&
      (before.gradeBelow === true ||
        (before.fields.grade !== undefined && above.fields.analysis !== undefined)),
  };
}

function merged(below: Shelf, above: Shelf): Shelf {
  const entries = new Map(below.entries);
  for (const [id, entry] of above.entries) {
    const before = entries.get(id);
    entries.set(id, before === undefined ? entry : overlaid(before, entry));
  }
  return {
    entries,
    releases: withClasses(below.releases, above.releases),
    kinds: new Map([...below.kinds, ...above.kinds]),
    complete: below.complete && above.complete,
  };
}

/** Release classes with others over them; one that says only how much it varies keeps the curve below it. */
function withClasses(below: Releases, above: Releases): Releases {
  const classes = new Map(below);
  for (const [name, spec] of above) {
    const before = below.get(name);
    const onlyVaries = spec.kind === "class" && spec.varies !== undefined && before !== undefined;
    classes.set(name, onlyVaries ? { ...before, varies: spec.varies } : spec);
  }
  return classes;
}

/** Whether the key that leads to a place is an id; a bad one is reported. */
export function checkId(at: Cursor): boolean {
  const fault = malformed(String(at.path.at(-1)));
  at.complainOfKey(fault);
  return !fault;
}

function readReleases(map: Cursor): Releases {
  const classes = new Map<string, CurveSpec>();
  for (const name of map.keys("a map from class to release")) {
    const at = map.at(name);
    if (!checkId(at)) continue;
    const curve = at.read(releaseClassSchema());
    const wrong = `the class \`${name}\` says how much it varies, but not what it releases`;
    if (curve?.kind === "class" && !Object.hasOwn(RELEASE_CLASSES, name))
      at.refuse("release-parts", wrong, "give `at_once`, or `later` with `half_life`, or `points`");
    // A broken class stays known, so that its users are not blamed for it.
    classes.set(name, curve ?? { kind: "class", name: "at-once" });
  }
  return classes;
}

function readEntries(map: Cursor): Map<string, Entry> {
  const entries = new Map<string, Entry>();
  for (const id of map.keys("a map from id to amendment")) {
    const at = map.at(id);
    if (!checkId(at)) continue;
    const fields = at.readMap(amendmentShape(), "a map with `analysis`, `packs` and so on");
    const written = at.written();
    const { tree, path } = at;
    const origins: Partial<Record<Field, Spot>> = {};
    for (const key of isRecord(written) ? Object.keys(written) : [])
      if (Object.hasOwn(amendmentShape(), key)) origins[key as Field] = { tree, path: [...path, key] };
      // A key that means nothing may be the analysis misspelt; it has been reported, and is not to be missed too.
      else origins.analysis = { tree, path };
    entries.set(id, { id, fields, origins, first: { tree, path } });
  }
  return entries;
}

/** What the map at a place says of release classes and of kinds of material, beside its amendments. */
const readClasses = (at: Cursor): Shelf => ({
  ...EMPTY,
  releases: readReleases(at.at("releases")),
  kinds: readKinds(at.at("kinds")),
});

/** Files without a fault as they were read, with the files they include: a tree that comes again is not read again. */
const faultless = new WeakMap<
  Tree,
  { readonly shelf: Shelf; readonly included: readonly [string, Tree | undefined][] }
>();

/** One amendments file with everything it includes. `chain` holds the files being read, for cycles. */
function readFile(file: Cursor, known: Map<string, Shelf>, chain: readonly string[]): Shelf {
  const { loading, tree } = file;
  const done = known.get(tree.path);
  if (done) return done;
  const kept = faultless.get(tree);
  if (kept) {
    for (const [path, included] of kept.included) loading.trees.set(path, included);
    known.set(tree.path, kept.shelf);
    return kept.shelf;
  }
  const faults = loading.problems.length + loading.warnings.length;
  const opened = loading.trees.size;
  const skip = ["amendments", "releases", "kinds"];
  const { include = [] } = file.readMap(amendmentsFileShape(), "a map with `amendments:`", skip);
  if (isRecord(tree.root) && !["amendments", "include", "releases"].some((key) => file.has(key)))
    file.refuse(
      "key-missing",
      "this file has no `amendments`",
      "an amendments file begins with `amendments:`",
    );
  let shelf = EMPTY;
  const here = [...chain, tree.path];
  for (const [i, text] of include.entries()) {
    const at = file.at("include").item(i);
    const path = at.resolve(text);
    const loop = here.indexOf(path);
    if (loop >= 0) {
      const circle = [...here.slice(loop), path].map((p) => shownPath(loading.where, p)).join(" -> ");
      const wrong = `these files include one another in a circle: ${circle}`;
      at.refuse("include-cycle", wrong, "take out one of the includes");
      continue;
    }
    const included = ofKind(openFile(loading, path, at), "amendments", at);
    shelf = merged(shelf, included ? readFile(included, known, here) : UNREAD);
  }
  shelf = merged(shelf, { ...readClasses(file), entries: readEntries(file.at("amendments")) });
  known.set(tree.path, shelf);
  if (loading.problems.length + loading.warnings.length === faults && shelf.complete)
    faultless.set(tree, { shelf, included: [...loading.trees].slice(opened) });
  return shelf;
}

/** Reads one amendments file and what it includes. */
export const readAmendmentsFile = (file: Cursor): Shelf => readFile(file, new Map(), []);

/** What a file says of an amendment that it buys, and nothing of what is in the bag. */
const OVERLAID: ReadonlySet<string> = new Set(["packs", "bulk", "supplier", "stock"]);

/**
 * Reads one amendments file by itself. Entries of prices and stock alone are laid over the shipped amendments of the same
 * ids, as in a plan that names the shipped list first.
 */
export function readOverShipped(file: Cursor): Shelf {
  const { loading } = file;
  const shelf = readAmendmentsFile(file);
  const all = recipePath(loading, "amendments", "all");
  const overlays = [...shelf.entries.values()].filter(({ origins }) => {
    const given = Object.keys(origins);
    return given.length > 0 && given.every((field) => OVERLAID.has(field));
  });
  const shipped = overlays.length > 0 && loading.io.read(all) !== null ? openFile(loading, all) : undefined;
  if (shipped === undefined) return shelf;
  const below = readFile(shipped, new Map(), []);
  const known = overlays.filter(({ id }) => below.entries.has(id));
  const entries = new Map(known.map(({ id }) => [id, below.entries.get(id)!]));
  if (entries.size > 0)
    file.warn(
      "laid-over",
      `No analysis is given for ${[...entries.keys()].join(", ")}: checked as laid over the shipped list. ` +
        "In the plan, name that list first: `amendments: [recipe: all, ...]`.",
    );
  return merged({ ...below, entries }, shelf);
}

/**
 * What a plan or a mix has to choose from: under `amendments` a path, a list of paths and maps, or a map of amendments,
 * and its own release classes and kinds.
 * @param lacking what is wrong where it names none.
 * @param extra further files, laid over the rest.
 * @param patches overrides into single amendments (`id, field, ...`), laid over everything.
 */
export function readShelf(
  file: Cursor,
  lacking: Pick<Fault, "wrong" | "hint">,
  extra: readonly string[],
  patches: readonly Override[] = [],
): Shelf {
  const { loading } = file;
  const at = file.at("amendments");
  const known = new Map<string, Shelf>();
  let shelf = EMPTY;
  const add = (more: Shelf): void => {
    shelf = merged(shelf, more);
  };
  const addFile = (opened: Cursor | undefined, asked?: Cursor): void => {
    const right = ofKind(opened, "amendments", asked);
    add(right ? readFile(right, known, []) : UNREAD);
  };
  /** A file, or where there is none of that name and it is the id of a shipped amendment, that amendment. */
  const addNamed = (path: string, asked?: Cursor): void => {
    const shipped = shippedAlone(loading, path, known);
    if (shipped) add(shipped);
    else addFile(openFile(loading, path, asked), asked);
  };
  for (const item of at.each) {
    const written = item.written();
    const shipped = recipeNamed(written);
    if (shipped !== undefined) addFile(openRecipe(item, "amendments", shipped), item);
    else if (typeof written === "string") addNamed(item.resolve(written), item);
    else if (isRecord(written)) add({ ...EMPTY, entries: readEntries(item) });
    else {
      item.complainOfType("a path, or a map of amendments");
      add(UNREAD);
    }
  }
  if (!at.has() && extra.length === 0) {
    at.complain({ code: "key-missing", ...lacking });
    add(UNREAD);
  }
  for (const path of extra) addNamed(path);
  add(patched(loading, shelf, patches));
  return merged(shelf, readClasses(file));
}

/** The shelf of one shipped amendment, where a path names no file and its last part is such an id. */
function shippedAlone(loading: Loading, path: string, known: Map<string, Shelf>): Shelf | undefined {
  const id = basename(path);
  const all = recipePath(loading, "amendments", "all");
  if (!ID.test(id) || loading.io.read(path) !== null || loading.io.read(all) === null) return undefined;
  const file = openFile(loading, all);
  const entry = file && readFile(file, known, []).entries.get(id);
  return entry && { ...EMPTY, entries: new Map([[id, entry]]) };
}

/** Overrides of single fields, to be laid over a shelf; one that reaches into a field keeps the rest of it. */
function patched(loading: Loading, shelf: Shelf, patches: readonly Override[]): Shelf {
  let seed: unknown;
  const good = patches.filter(({ path, flag }) => {
    const [id, field] = [String(path[0]), String(path[1])];
    const unplaced: Tree = { ...bareTree(undefined), position: () => ({ about: flag }) };
    if (!isDefined(new Cursor(loading, unplaced), id, shelf)) return false;
    // Of a price that changes in part, the others stay too.
    const kept = PRICES.some((key) => key === field) ? PRICES : [field as Field];
    for (const key of path.length > 2 ? kept : []) {
      const origin = shelf.entries.get(id)?.origins[key];
      if (origin && valueAt(seed, [id, key]) === undefined)
        seed = replaced(seed, [id, key], valueAt(origin.tree.root, origin.path));
    }
    return true;
  });
  return { ...EMPTY, entries: readEntries(new Cursor(loading, withOverrides(bareTree(seed), good))) };
}

/** Whether a file defines an id; an unknown one is reported, unless a file could not be read. */
export function isDefined(at: Cursor, id: string, shelf: Shelf, of: "key" | "value" = "value"): boolean {
  if (shelf.entries.has(id)) return true;
  const names = [...shelf.entries.keys()].sort();
  const hint =
    names.length === 0
      ? "no amendment is defined at all"
      : `the ids are ${names.slice(0, 12).join(", ")}${names.length > 12 ? ` and ${names.length - 12} more` : ""}`;
  const wrong = `no amendments file defines \`${id}\``;
  if (shelf.complete)
    at.complain({ code: "amendment-unknown", at: of, wrong, near: nearest(id, names), hint });
  return false;
}

/** An amendment ready for use, with what should be said if it is among the choice. */
export interface Resolved {
  readonly amendment: Amendment;
  readonly warnings: readonly Notice[];
}

const classNames = (own: Releases): string[] => [...new Set([...RELEASE_CLASS_NAMES, ...own.keys()])];

/** The curve of a release class: the files' own, or the one that ships; undefined for a class that is not defined. */
function classCurve(name: string, releases: Releases): ReleaseCurve | undefined {
  const own = releases.get(name);
  if (own !== undefined && own.kind !== "class") return withoutSpread(own);
  const shipped = RELEASE_CLASS_NAMES.find((known) => known === name) ?? (own && "at-once");
  return shipped && RELEASE_CLASSES[shipped].curve;
}

/** Every release class by name, shipped and own, for display. */
export function allClasses(releases: Releases): Record<string, ReleaseCurve> {
  return Object.fromEntries(classNames(releases).map((name) => [name, classCurve(name, releases)!]));
}

function withoutSpread({ varies: _, ...curve }: Exclude<CurveSpec, { kind: "class" }>): ReleaseCurve {
  return curve;
}

/** The curve that a file's words are for; an unknown class is reported. */
export function namedCurve(at: Cursor, spec: CurveSpec, { releases }: Shelf): NamedCurve | undefined {
  if (spec.kind !== "class")
    return {
      label: spec.kind === "points" ? "measured" : "inline",
      curve: withoutSpread(spec),
      ...defined({ varies: spec.varies }),
    };
  if (spec.name === SAME_CLASS)
    return at.refuse(
      "release-parts",
      "this release says how much it varies, but not what it is",
      "add its class, for instance `{class: medium, varies: 10%}`",
    );
  const curve = classCurve(spec.name, releases);
  const varies = spec.varies ?? releases.get(spec.name)?.varies;
  if (curve) return { label: spec.name, curve, ...defined({ varies }) };
  const names = classNames(releases);
  return at.complain({
    code: "release-unknown",
    wrong: `there is no release class \`${spec.name}\``,
    near: nearest(spec.name, names),
    hint: `the classes are ${names.join(", ")}`,
  });
}

/** Kinds whose nitrogen all comes at once, or is counted by itself: others deserve a word where `release` is missing. */
const NOT_SLOW: readonly (MaterialKind | undefined)[] = ["mineral", "salt", "manure-raw", undefined];

/** Pure urea, the richest solid source, holds 46.65 percent nitrogen (14.007 * 2 / 60.056). */
const MOST_NITROGEN = 0.467;

/**
 * Finishes an amendment: names its curves, turns volumes into weights, prices its packs.
 * @returns undefined where something was wrong with it; that has been reported.
 */
export function resolveEntry(loading: Loading, entry: Entry, shelf: Shelf): Resolved | undefined {
  const { id, fields, origins } = entry;
  const at = ({ tree, path }: Spot): Cursor => new Cursor(loading, tree, path);
  const before = loading.problems.length;
  const name = fields.name ?? id.replaceAll("-", " ");
  const broken = (field: Field): boolean => origins[field] !== undefined && fields[field] === undefined;

  if (fields.analysis === undefined && !broken("analysis"))
    at(entry.first).complainOfKey({
      code: "key-missing",
      given: id,
      wrong: "has no analysis",
      hint: "for instance `analysis: {N: 13, S: 1.5}`, in percent",
    });
  checkGrade(entry, at);
  const nitrogen = fields.analysis?.N ?? 0;
  const density = broken("density") ? Number.NaN : fields.density;
  const kilograms = (size: Batch, here: Cursor): number => kgOf(here, id, size, density);
  const packs = (fields.packs ?? []).map(
    ({ size, price, supplier }, i): Pack => ({
      sizeKg: kilograms(size, at(origins.packs!).at(i, "size")),
      price,
      ...defined({ supplier }),
    }),
  );
  const stockKg = fields.stock === undefined ? 0 : kilograms(fields.stock, at(origins.stock!));

  const release = releaseOf(fields, origins.release && at(origins.release), shelf);
  const assumed = !fields.release && !broken("release") && !NOT_SLOW.includes(fields.kind);
  const warnings = noticesOf({
    "analysis-high":
      nitrogen > MOST_NITROGEN &&
      `${name}: ${Number((nitrogen * 100).toPrecision(6))} percent nitrogen is more than pure urea holds (46.6); is the analysis right?`,
    "release-assumed":
      assumed &&
      `${name} has no \`release\`, so all of it counts as available at once; a material of this kind (${fields.kind}) feeds slowly, so give a class such as \`slow\`.`,
  });

  if (loading.problems.length > before || (Object.keys(origins) as Field[]).some(broken)) return undefined;
  const { analysis, varies } = contentsOf(fields, shelf.kinds);
  const amendment: Amendment = defined({
    id,
    name,
    analysis,
    packs,
    bulkPricePerKg: fields.bulk ?? undefined,
    supplier: fields.supplier,
    // Prices are invented only where there are any.
    placeholder: (fields.placeholder && (packs.length > 0 || typeof fields.bulk === "number")) || undefined,
    release,
    densityKgPerL: fields.density,
    stockKg,
    organic: fields.organic ?? "unknown",
    kind: fields.kind,
    saltIndex: fields.salt_index,
    cce: fields.cce,
    phosphate: fields.phosphate,
    brand: fields.brand,
    grade: fields.grade,
    manure: rawManureOf(entry, at),
    varies,
  });
  return { amendment, warnings };
}

/** A size of an amendment in kg; not a number where its density is missing (reported). */
export function kgOf(at: Cursor, id: string, size: Batch, density: number | undefined): number {
  if ("kg" in size) return size.kg;
  at.complain(
    density === undefined && {
      code: "density-missing",
      wrong: `a volume of \`${id}\`, which has no density`,
      hint: "give its weight, or add `density` to the amendment, for instance `density: 0.6 kg/L`",
    },
  );
  return size.litres * (density ?? Number.NaN);
}

/** Whether an amendment can be bought, or is in the shed. */
export function canBeHad({ packs, bulkPricePerKg, stockKg }: Amendment): boolean {
  return packs.length > 0 || bulkPricePerKg !== undefined || stockKg > 0;
}

/** What a raw manure says of its nitrogen; undefined where a release of its own governs it, or it is no raw manure. */
function rawManureOf({ id, fields, origins }: Entry, at: (origin: Spot) => Cursor): RawManure | undefined {
  const { analysis, kind, release, ammonium_n: ammoniumN, animal, dry_matter: dryMatter } = fields;
  if (ammoniumN !== undefined && ammoniumN > (analysis?.N ?? 0) * (1 + 1e-9) && origins.ammonium_n)
    at(origins.ammonium_n).complain({
      code: "range-crossed",
      given: id,
      wrong: "has more ammonium nitrogen than nitrogen in all",
      hint: "`ammonium_n` is part of the N of the analysis, in percent of the weight",
    });
  if (kind !== "manure-raw") return undefined;
  // A test of one's own over the release of a list is the better knowledge.
  const tested = ammoniumN !== undefined && origins.ammonium_n?.tree !== origins.release?.tree;
  const whole = origins.release !== undefined && !isRecord(at(origins.release).written());
  const own = release !== undefined && (whole || release.nutrients.some(({ nutrient }) => nutrient === "N"));
  return own && !tested ? undefined : defined({ ammoniumN, animal, dryMatter });
}

/** A grade is part of the analysis; an analysis written over one that had a grade says its own. */
function checkGrade({ id, fields, origins, gradeBelow }: Entry, at: (origin: Spot) => Cursor): undefined {
  const { analysis, grade } = fields;
  if (analysis === undefined || grade === undefined) return;
  if (gradeBelow && origins.analysis !== undefined) {
    const parts = Object.entries(grade).map(([n, share]) => `${n}: ${Number((share * 100).toPrecision(3))}`);
    return at(origins.analysis).complainOfKey({
      code: "key-missing",
      given: id,
      wrong: `has an analysis of its own over one whose grade of ${Object.keys(grade).join(" and ")} is less than its whole content`,
      hint: `say what of yours counts as grade: \`grade: {${parts.join(", ")}}\`; the figure on a label often is the grade`,
    });
  }
  for (const [nutrient, share] of Object.entries(grade) as [Nutrient, number][])
    if (share > (analysis[nutrient] ?? 0) * (1 + 1e-9) && origins.grade !== undefined)
      at(origins.grade).complain({
        code: "range-crossed",
        given: id,
        wrong: `has a grade of ${nutrient} above its analysis`,
        hint: "the analysis is all that is in the bag, the grade what of it counts as available",
      });
}

/** What an amendment releases when; all at once where nothing is said. */
function releaseOf({ release }: Fields, at: Cursor | undefined, shelf: Shelf): Release {
  const atOnce: NamedCurve = { label: "at-once", curve: classCurve("at-once", shelf.releases)! };
  if (release === undefined || at === undefined) return { byNutrient: {}, other: atOnce };
  const byNutrient: Partial<Record<Nutrient, NamedCurve>> = {};
  for (const { name, nutrient, value } of release.nutrients) {
    const curve = namedCurve(at.at(name), value, shelf);
    if (curve) byNutrient[nutrient] = curve;
  }
  const { other } = release;
  const whole = isRecord(at.written()) ? at.at("other") : at;
  return { byNutrient, other: (other && namedCurve(whole, other, shelf)) ?? atOnce };
}
