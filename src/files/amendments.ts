/**
 * Amendments files to amendments: includes, later entries over earlier ones field by field, release classes by name.
 *
 * A field is replaced whole: a later `analysis` or `packs` takes the place of the earlier one, its parts are not mixed.
 */
import { basename } from "node:path";
import type { Amendment, NamedCurve, Pack, Release, ReleaseCurve } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { type Notice, nearest } from "../problem.ts";
import {
  complain,
  isKind,
  type Loading,
  openFile,
  openRecipe,
  recipePath,
  resolvePath,
  shownPath,
  warn,
} from "./context.ts";
import { RELEASE_CLASSES } from "./release-classes.ts";
import { amendmentShape, amendmentsFileShape, type PackSpec } from "./schema/amendments.ts";
import type { Read } from "./schema/base.ts";
import { readMap, readValue, wrongType } from "./schema/read.ts";
import { type CurveSpec, releaseClassSchema, SAME_CLASS } from "./schema/release.ts";
import type { MassOrVolume } from "./schema/values.ts";
import {
  bareTree,
  isRecord,
  type Override,
  type Path,
  problemAt,
  type Tree,
  valueAt,
  withOverrides,
} from "./source.ts";

import { contentsOf, type Kinds, readKinds } from "./spread.ts";

type Fields = Read<ReturnType<typeof amendmentShape>>;
type Field = keyof Fields;

/** Where a field came from, for what is found wrong with it later. */
interface Origin {
  readonly tree: Tree;
  readonly path: Path;
}

/** One amendment as the files leave it, not yet resolved. */
interface Entry {
  readonly id: string;
  readonly fields: Fields;
  readonly origins: Readonly<Partial<Record<Field, Origin>>>;
  /** Where it was first named. */
  readonly first: Origin;
}

/** Everything that the amendments files of a run define. */
export interface Shelf {
  readonly entries: ReadonlyMap<string, Entry>;
  readonly releases: ReadonlyMap<string, CurveSpec>;
  readonly kinds: Kinds;
  /** False where a file could not be read, so that an unknown id may not be the id's fault. */
  readonly complete: boolean;
}

const EMPTY: Shelf = { entries: new Map(), releases: new Map(), kinds: new Map(), complete: true };

function merged(below: Shelf, above: Shelf): Shelf {
  const entries = new Map(below.entries);
  for (const [id, entry] of above.entries) {
    const before = entries.get(id);
    entries.set(
      id,
      before === undefined
        ? entry
        : {
            id,
            fields: { ...before.fields, ...entry.fields },
            origins: { ...before.origins, ...entry.origins },
            first: before.first,
          },
    );
  }
  return {
    entries,
    releases: withClasses(below.releases, above.releases),
    kinds: new Map([...below.kinds, ...above.kinds]),
    complete: below.complete && above.complete,
  };
}

/** Release classes with others over them; one that says only how much it varies keeps the curve below it. */
export function withClasses(
  below: ReadonlyMap<string, CurveSpec>,
  above: ReadonlyMap<string, CurveSpec>,
): Map<string, CurveSpec> {
  const classes = new Map(below);
  for (const [name, spec] of above) {
    const before = below.get(name);
    const onlyVaries = spec.kind === "class" && spec.varies !== undefined && before !== undefined;
    classes.set(name, onlyVaries ? { ...before, varies: spec.varies } : spec);
  }
  return classes;
}

/** Whether a key is an id: letters a to z, digits, single hyphens. A bad one is reported. */
export function checkId(loading: Loading, tree: Tree, path: Path, id: string): boolean {
  if (/^[a-z0-9]+(-[a-z0-9]+)*$/.test(id)) return true;
  const better = id
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "");
  complain(loading, tree, {
    code: "id-malformed",
    path,
    at: "key",
    given: id,
    wrong: "is not an id",
    hint: `an id has small letters, digits and hyphens only${better === "" ? "" : `, for instance \`${better}\``}`,
  });
  return false;
}

/** The `releases:` map of a file or a plan. */
export function readReleases(loading: Loading, tree: Tree, path: Path): Map<string, CurveSpec> {
  const raw = valueAt(tree.root, path);
  const classes = new Map<string, CurveSpec>();
  if (raw === undefined || raw === null) return classes;
  if (!isRecord(raw)) {
    loading.problems.push(wrongType(tree, path, raw, "a map from class to release"));
    return classes;
  }
  for (const name of Object.keys(raw)) {
    if (!checkId(loading, tree, [...path, name], name)) continue;
    const curve = readValue(releaseClassSchema(), tree, [...path, name], loading.problems);
    if (curve?.kind === "class" && !Object.hasOwn(RELEASE_CLASSES, name))
      complain(loading, tree, {
        code: "release-parts",
        path: [...path, name],
        wrong: `the class \`${name}\` says how much it varies, but not what it releases`,
        hint: "give `at_once`, or `later` with `half_life`, or `points`",
      });
    // A broken class stays known, so that its users are not blamed for it.
    classes.set(name, curve ?? { kind: "class", name: "at-once" });
  }
  return classes;
}

/** A map from id to amendment. */
function readEntries(loading: Loading, tree: Tree, path: Path): Map<string, Entry> {
  const raw = valueAt(tree.root, path);
  const entries = new Map<string, Entry>();
  if (raw === undefined || raw === null) return entries;
  if (!isRecord(raw)) {
    loading.problems.push(wrongType(tree, path, raw, "a map from id to amendment"));
    return entries;
  }
  for (const [id, value] of Object.entries(raw)) {
    const here = [...path, id];
    if (!checkId(loading, tree, here, id)) continue;
    const fields = readMap(
      amendmentShape(),
      tree,
      here,
      loading.problems,
      "a map with `analysis`, `packs` and so on",
    );
    const origins: Partial<Record<Field, Origin>> = {};
    if (isRecord(value))
      for (const key of Object.keys(value))
        if (Object.hasOwn(amendmentShape(), key)) origins[key as Field] = { tree, path: [...here, key] };
        // What is no map at all has been reported, and is not to be blamed for lacking an analysis too.
        else origins.analysis = { tree, path: here };
    entries.set(id, { id, fields, origins, first: { tree, path: here } });
  }
  return entries;
}

/** Files without a fault as they were read, with the files they include: a tree that comes again is not read again. */
const faultless = new WeakMap<
  Tree,
  { readonly shelf: Shelf; readonly included: readonly [string, Tree][] }
>();

/** One amendments file with everything it includes. `chain` holds the files being read, for cycles. */
function readFile(loading: Loading, tree: Tree, known: Map<string, Shelf>, chain: readonly string[]): Shelf {
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
  const shape = amendmentsFileShape();
  const top = readMap(shape, tree, [], loading.problems, "a map with `amendments:`", [
    "amendments",
    "releases",
    "kinds",
  ]);
  if (
    isRecord(tree.root) &&
    !["amendments", "include", "releases"].some((key) => Object.hasOwn(tree.root as object, key))
  )
    complain(loading, tree, {
      code: "key-missing",
      wrong: "this file has no `amendments`",
      hint: "an amendments file begins with `amendments:`",
    });
  let shelf = EMPTY;
  const here = [...chain, tree.path];
  const listed = Array.isArray(valueAt(tree.root, ["include"]));
  for (const [i, text] of (top.include ?? []).entries()) {
    const at: Path = listed ? ["include", i] : ["include"];
    const path = resolvePath(loading, tree, at, text);
    const loop = here.indexOf(path);
    if (loop >= 0) {
      const circle = [...here.slice(loop), path].map((p) => shownPath(loading, p)).join(" -> ");
      complain(loading, tree, {
        code: "include-cycle",
        path: at,
        wrong: `these files include one another in a circle: ${circle}`,
        hint: "take out one of the includes",
      });
      continue;
    }
    const opened = openFile(loading, path, { tree, path: at });
    const included = opened && isKind(loading, opened, "amendments", { tree, path: at }) ? opened : undefined;
    shelf = merged(
      shelf,
      included ? readFile(loading, included, known, here) : { ...EMPTY, complete: false },
    );
  }
  shelf = merged(shelf, {
    entries: readEntries(loading, tree, ["amendments"]),
    releases: readReleases(loading, tree, ["releases"]),
    kinds: readKinds(loading, tree),
    complete: true,
  });
  known.set(tree.path, shelf);
  if (loading.problems.length + loading.warnings.length === faults && shelf.complete)
    faultless.set(tree, { shelf, included: [...loading.trees].slice(opened).filter(isRead) });
  return shelf;
}

function isRead(entry: readonly [string, Tree | undefined]): entry is [string, Tree] {
  return entry[1] !== undefined;
}

/** Reads one amendments file and what it includes. */
export function readAmendmentsFile(loading: Loading, tree: Tree): Shelf {
  return readFile(loading, tree, new Map(), []);
}

/**
 * What a plan or a mix says under `amendments`: a path, a list of paths and maps, or a map of amendments.
 * @param extra further files, laid over the rest.
 * @param patches overrides into single amendments (`id, field, ...`), laid over everything.
 */
export function readAmendmentsOf(
  loading: Loading,
  tree: Tree,
  path: Path,
  extra: readonly string[] = [],
  patches: readonly Override[] = [],
): Shelf {
  const known = new Map<string, Shelf>();
  let shelf = EMPTY;
  const add = (file: Tree | undefined, at?: Path): void => {
    const right = file && isKind(loading, file, "amendments", at && { tree, path: at });
    shelf = merged(shelf, right ? readFile(loading, file, known, []) : { ...EMPTY, complete: false });
  };
  /** A file, or where there is none of that name and it is the id of a shipped amendment, that amendment. */
  const addNamed = (named: string, at?: Path): void => {
    const shipped = shippedAlone(loading, named, known);
    if (shipped) shelf = merged(shelf, shipped);
    else add(openFile(loading, named, at && { tree, path: at }), at);
  };
  const one = (item: unknown, at: Path): void => {
    const shipped = typeof item === "string" ? /^recipe:\s*(\S+)$/.exec(item)?.[1] : shippedName(item);
    if (shipped !== undefined) add(openRecipe(loading, "amendments", shipped, { tree, path: at }), at);
    else if (typeof item === "string") addNamed(resolvePath(loading, tree, at, item), at);
    else if (isRecord(item)) shelf = merged(shelf, { ...EMPTY, entries: readEntries(loading, tree, at) });
    else {
      loading.problems.push(wrongType(tree, at, item, "a path, or a map of amendments"));
      shelf = { ...shelf, complete: false };
    }
  };
  const raw = valueAt(tree.root, path);
  if (Array.isArray(raw))
    raw.forEach((item, i) => {
      one(item, [...path, i]);
    });
  else if (raw !== undefined || extra.length === 0) one(raw, path);
  for (const file of extra) addNamed(file);
  return patches.length === 0 ? shelf : patched(loading, shelf, patches);
}

/** The shelf of one shipped amendment, where a path names no file and its last part is such an id. */
function shippedAlone(loading: Loading, path: string, known: Map<string, Shelf>): Shelf | undefined {
  const id = basename(path);
  if (!/^[a-z0-9]+(-[a-z0-9]+)*$/.test(id) || loading.io.read(path) !== null) return undefined;
  const all = recipePath(loading, "amendments", "all");
  if (loading.io.read(all) === null) return undefined;
  const tree = openFile(loading, all);
  const entry = tree && readFile(loading, tree, known, []).entries.get(id);
  if (entry === undefined) return undefined;
  warn(
    loading,
    "price-placeholder",
    `The price of ${entry.fields.name ?? id} is a placeholder of the shipped list: put in your own.`,
  );
  return { ...EMPTY, entries: new Map([[id, entry]]) };
}

function shippedName(item: unknown): string | undefined {
  if (!isRecord(item) || Object.keys(item).length !== 1) return undefined;
  return typeof item.recipe === "string" ? item.recipe : undefined;
}

/** Lays overrides of single fields over a shelf; one that reaches into a field keeps the rest of it. */
function patched(loading: Loading, shelf: Shelf, patches: readonly Override[]): Shelf {
  const seed: Record<string, Record<string, unknown>> = Object.create(null) as Record<
    string,
    Record<string, unknown>
  >;
  const good: Override[] = [];
  for (const patch of patches) {
    const id = String(patch.path[0]);
    const field = String(patch.path[1]);
    const entry = shelf.entries.get(id);
    if (entry === undefined) {
      if (shelf.complete) loading.problems.push(...unknownId(bareOverride(patch), [], id, shelf));
      continue;
    }
    good.push(patch);
    seed[id] ??= Object.create(null) as Record<string, unknown>;
    const origin = patch.path.length > 2 ? entry.origins[field as Field] : undefined;
    if (origin && seed[id][field] === undefined) seed[id][field] = valueAt(origin.tree.root, origin.path);
  }
  const tree = withOverrides(bareTree(seed), good);
  return merged(shelf, { ...EMPTY, entries: readEntries(loading, tree, []) });
}

const bareOverride = (patch: Override): Tree => ({
  ...bareTree(undefined),
  position: () => ({ flag: patch.flag }),
});

/** The problem of an id that no file defines. */
export function unknownId(tree: Tree, path: Path, id: string, shelf: Shelf, at: "key" | "value" = "value") {
  const names = [...shelf.entries.keys()].sort();
  const hint =
    names.length === 0
      ? "no amendment is defined at all"
      : `the ids are ${names.slice(0, 12).join(", ")}${names.length > 12 ? ` and ${names.length - 12} more` : ""}`;
  const wrong = `no amendments file defines \`${id}\``;
  return [problemAt(tree, { code: "amendment-unknown", path, at, wrong, near: nearest(id, names), hint })];
}

/** An amendment ready for use, with what should be said if it is among the choice. */
export interface Resolved {
  readonly amendment: Amendment;
  readonly buyable: boolean;
  readonly warnings: readonly Notice[];
}

/** The release classes of a run, those that ship with the files' own over them, and the files' own spreads by kind. */
export class Classes {
  readonly #own: ReadonlyMap<string, CurveSpec>;
  readonly kinds: Kinds;
  constructor(own: ReadonlyMap<string, CurveSpec>, kinds: Kinds = new Map()) {
    this.#own = own;
    this.kinds = kinds;
  }
  names(): string[] {
    return [...new Set([...Object.keys(RELEASE_CLASSES), ...this.#own.keys()])];
  }
  /** @returns undefined for a class that is not defined. */
  find(name: string): ReleaseCurve | undefined {
    const own = this.#own.get(name);
    if (own !== undefined && own.kind !== "class") return withoutSpread(own);
    const shipped = Object.hasOwn(RELEASE_CLASSES, name)
      ? RELEASE_CLASSES[name as keyof typeof RELEASE_CLASSES]
      : undefined;
    return shipped?.curve ?? (own ? RELEASE_CLASSES["at-once"].curve : undefined);
  }
  /** How much a class varies, where a file says so. */
  spreadOf(name: string): number | undefined {
    return this.#own.get(name)?.varies;
  }
  /** Every class by name, for display. */
  all(): Record<string, ReleaseCurve> {
    return Object.fromEntries(this.names().map((name) => [name, this.find(name)!]));
  }
}

function withoutSpread(spec: Exclude<CurveSpec, { kind: "class" }>): ReleaseCurve {
  const { varies: _, ...curve } = spec;
  return curve;
}

/** The curve that a file's words are for; an unknown class is reported at `path`. */
export function namedCurve(
  loading: Loading,
  tree: Tree,
  path: Path,
  spec: CurveSpec,
  classes: Classes,
): NamedCurve | undefined {
  if (spec.kind !== "class")
    return {
      label: spec.kind === "points" ? "measured" : "inline",
      curve: withoutSpread(spec),
      ...defined({ varies: spec.varies }),
    };
  if (spec.name === SAME_CLASS) {
    complain(loading, tree, {
      code: "release-parts",
      path,
      wrong: "this release says how much it varies, but not what it is",
      hint: "add its class, for instance `{class: medium, varies: 10%}`",
    });
    return undefined;
  }
  const curve = classes.find(spec.name);
  const varies = spec.varies ?? classes.spreadOf(spec.name);
  if (curve) return { label: spec.name, curve, ...defined({ varies }) };
  const near = nearest(spec.name, classes.names());
  complain(loading, tree, {
    code: "release-unknown",
    path,
    wrong: `there is no release class \`${spec.name}\``,
    near,
    hint: `the classes are ${classes.names().join(", ")}`,
  });
  return undefined;
}

/** Kinds whose nitrogen does not all come at once, so that a missing `release` deserves a word. */
const SLOW_KINDS: ReadonlySet<string> = new Set([
  "animal",
  "plant",
  "manure-raw",
  "manure-processed",
  "compost",
]);

/** Pure urea, the richest solid source, holds 46.65 percent nitrogen (14.007 * 2 / 60.056). */
const MOST_NITROGEN = 0.467;

/**
 * Finishes an amendment: names its curves, turns volumes into weights, prices its packs.
 * @returns undefined where something was wrong with it; that has been reported.
 */
export function resolveEntry(loading: Loading, entry: Entry, classes: Classes): Resolved | undefined {
  const { id, fields, origins, first } = entry;
  const before = loading.problems.length;
  const warnings: Notice[] = [];
  const name = fields.name ?? id.replaceAll("-", " ");
  const broken = (field: Field): boolean => origins[field] !== undefined && fields[field] === undefined;

  if (fields.analysis === undefined && !broken("analysis"))
    complain(loading, first.tree, {
      code: "key-missing",
      path: first.path,
      at: "key",
      given: id,
      wrong: "has no analysis",
      hint: "for instance `analysis: {N: 13, S: 1.5}`, in percent",
    });
  const nitrogen = fields.analysis?.fractions.N ?? 0;
  if (nitrogen > MOST_NITROGEN)
    warnings.push({
      code: "analysis-high",
      text: `${name}: ${Number((nitrogen * 100).toPrecision(6))} percent nitrogen is more than pure urea holds (46.6); is the analysis right?`,
    });

  const kilograms = (size: MassOrVolume, at: Origin | undefined, sub: Path): number => {
    if (size.kind === "kg") return size.value;
    if (fields.density !== undefined) return size.value * fields.density;
    if (!broken("density"))
      complain(loading, at?.tree ?? first.tree, {
        code: "density-missing",
        path: [...(at?.path ?? first.path), ...sub],
        wrong: `a volume of \`${id}\`, which has no density`,
        hint: "give its weight, or add `density`, for instance `density: 0.6 kg/L`",
      });
    return Number.NaN;
  };
  const packs = (fields.packs ?? []).map(
    (pack: PackSpec, i): Pack => ({
      sizeKg: kilograms(pack.size, origins.packs, [i, "size"]),
      price: pack.price,
      ...defined({ supplier: pack.supplier }),
    }),
  );
  const stockKg = fields.stock === undefined ? 0 : kilograms(fields.stock, origins.stock, []);

  const atOnce: NamedCurve = { label: "at-once", curve: classes.find("at-once")! };
  let release: Release = { byNutrient: {}, other: atOnce };
  if (fields.release) {
    const at = origins.release ?? first;
    const byNutrient: Partial<Record<Nutrient, NamedCurve>> = {};
    for (const part of fields.release.byNutrient) {
      const curve = namedCurve(loading, at.tree, [...at.path, part.name], part.value, classes);
      if (curve) byNutrient[part.nutrient] = curve;
    }
    const { other } = fields.release;
    const whole = other && isRecord(valueAt(at.tree.root, at.path)) ? [...at.path, "other"] : at.path;
    release = { byNutrient, other: (other && namedCurve(loading, at.tree, whole, other, classes)) ?? atOnce };
  } else if (!broken("release") && fields.kind !== undefined && SLOW_KINDS.has(fields.kind)) {
    warnings.push({
      code: "release-assumed",
      text: `${name} has no \`release\`, so all of it counts as available at once; a material of this kind (${fields.kind}) feeds slowly, so give a class such as \`slow\`.`,
    });
  }

  const contents = contentsOf(
    fields.analysis?.fractions ?? {},
    fields.kind,
    fields.varies,
    classes.kinds,
    fields.analysed,
  );
  const fieldBroken = (Object.keys(origins) as Field[]).some(broken);
  if (loading.problems.length > before || fieldBroken) return undefined;
  const amendment: Amendment = {
    id,
    name,
    analysis: contents.analysis,
    packs,
    ...defined({ bulkPricePerKg: fields.bulk, supplier: fields.supplier }),
    release,
    ...defined({ densityKgPerL: fields.density }),
    stockKg,
    organic: fields.organic ?? "unknown",
    ...defined({
      kind: fields.kind,
      saltIndex: fields.salt_index,
      cce: fields.cce,
      phosphate: fields.phosphate,
      varies: contents.varies,
    }),
  };
  return { amendment, buyable: packs.length > 0 || fields.bulk !== undefined || stockKg > 0, warnings };
}
