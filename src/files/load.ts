/**
 * Files to models: the one door through which plans, amendments, targets, mixes and cases come in.
 *
 * Nothing here reads a disk or throws for a user's fault. All problems of all files come back together, sorted by place.
 */
import { resolve } from "node:path";
import type { Amendment, Farm, Plan, ReleaseCurve } from "../model.ts";
import {
  distinctProblems,
  type Notice,
  noticesOf,
  ok,
  type Problem,
  type Result,
  sortProblems,
} from "../problem.ts";
import { allClasses, readAmendmentsFile, readOverShipped, resolveEntry } from "./amendments.ts";
import { type Case, readCases } from "./cases.ts";
import type { ProblemCode } from "./codes.ts";
import {
  Cursor,
  type FileKind,
  type FileReader,
  filesRead,
  kindOf,
  type Loading,
  ofKind,
  openFile,
  printedSchema,
  shownPath,
  startLoading,
  type Where,
} from "./context.ts";
import { readCreditSources } from "./credits.ts";
import { readFarm } from "./farm.ts";
import { readMix, type WeighedMix } from "./mix.ts";
import { readPlan } from "./plan.ts";
import { type ExtraPrices, openPriceList } from "./plan-prices.ts";
import type { DecimalSign } from "./price-cells.ts";
import { offersIn, type PriceList } from "./price-list.ts";
import { RELEASE_CLASSES } from "./release-classes.ts";
import { ID, type Standing } from "./schema/values.ts";
import { readSeason } from "./season.ts";
import type { SeasonFile } from "./season-model.ts";
import { bareTree, isRecord, type Override, withOverrides } from "./source.ts";
import { assumedSpreads } from "./spread.ts";
import { readTarget, type Target } from "./target.ts";
import { parseTree } from "./yaml.ts";

export { type Case, parsePath } from "./cases.ts";
export { type FileReader, kindOf, type Where } from "./context.ts";
export type { WeighedMix } from "./mix.ts";
export { planFaults, readPlanValue } from "./schema/inputs.ts";
export type { Override } from "./source.ts";
export { readFlagValue } from "./yaml.ts";

interface Above extends Where {
  /** Laid over the file in this order, before anything is checked. */
  readonly overrides?: readonly Override[];
  /** Further amendments files, laid over the file's own; relative to `cwd`. */
  readonly extraAmendments?: readonly string[];
}

/** What to load as a plan. */
export interface PlanRequest extends Above {
  /** Absent: the overrides are the whole plan. */
  readonly planFile?: string;
  /** The text of the plan where it comes from elsewhere, such as standard input; `planFile` then only names it. */
  readonly planText?: string;
  /** Price lists beside the plan's own, from the working folder. */
  readonly extraPrices?: readonly ExtraPrices[];
}

/** What was read on the way, and should be said of it. */
interface LoadedWith {
  readonly warnings: readonly Notice[];
  /** Every file read, as people would name it from `cwd`. */
  readonly files: readonly string[];
}

type Loaded<K extends string, T> = LoadedWith & Readonly<Record<K, T>>;
export type LoadedPlan = Loaded<"plan", Plan>;
export type LoadedFarm = Loaded<"farm", Farm>;
export type LoadedTarget = Loaded<"target", Target>;
export type LoadedMix = Loaded<"mix", WeighedMix>;
export type LoadedSeason = Loaded<"season", SeasonFile>;

/** Each thing that was wrong once, in reading order. */
const problemsOf = ({ problems }: Loading): Problem[] => distinctProblems(sortProblems(problems));

/** Wraps up a run: the value, or everything that was wrong. */
function finish<T>(loading: Loading, value: T | undefined): Result<T> {
  const problems = problemsOf(loading);
  if (problems.length > 0 || value === undefined) return { ok: false, problems };
  return ok(value);
}

/**
 * Loads one file.
 * @param make what is made of it, with what lies above it.
 * @returns that under the name of its kind, with what was read on the way, or everything that is wrong.
 */
function loadFile<K extends FileKind, T>(
  io: FileReader,
  file: string | undefined,
  request: Above & Pick<PlanRequest, "planText">,
  kind: K,
  make: (file: Cursor, overrides: readonly Override[], extra: readonly string[]) => T | undefined,
): Result<Loaded<K, T>> {
  const { cwd, planText, overrides = [], extraAmendments = [] } = request;
  const path = file && resolve(cwd, file);
  const reading =
    planText === undefined ? io : { ...io, read: (p: string) => (p === path ? planText : io.read(p)) };
  const loading = startLoading(reading, request);
  for (const { path, flag } of overrides)
    if (path.length === 0 || path.some((step) => step === ""))
      loading.problems.push({
        code: "override-path" satisfies ProblemCode,
        about: flag,
        message: "this leads nowhere",
        hint: "name a field of the plan, for instance `batch.size`",
      });
  const opened =
    path === undefined
      ? new Cursor(loading, bareTree(Object.create(null)))
      : ofKind(openFile(loading, path), kind);
  const extra = extraAmendments.map((one) => resolve(cwd, one));
  const value = opened && make(opened, overrides, extra);
  const around: LoadedWith = { warnings: loading.warnings, files: filesRead(loading) };
  return finish(loading, value && ({ ...around, [kind]: value } as unknown as Loaded<K, T>));
}

/**
 * Loads a plan with everything it names.
 * @returns the plan in SI, or every problem of every file read; never throws for what a file holds.
 */
export function loadPlan(io: FileReader, request: PlanRequest): Result<LoadedPlan> {
  const { planText, planFile = planText === undefined ? undefined : "-", extraPrices } = request;
  return loadFile(io, planFile, request, "plan", (file, overrides, extra) =>
    readPlan(file, overrides, extra, extraPrices),
  );
}

/**
 * Loads a farm with everything it names; a request as for a plan.
 * @returns the farm with a plan for each bed, or every problem of every file read; never throws for what a file holds.
 */
export function loadFarm(
  io: FileReader,
  request: PlanRequest & { readonly planFile: string },
): Result<LoadedFarm> {
  return loadFile(io, request.planFile, request, "farm", (file, overrides, extra) =>
    readFarm(file, overrides, extra, request.extraPrices),
  );
}

/** Whether a file is a farm, as far as a look tells; what is wrong with it is not said. */
export function isFarmFile(io: FileReader, path: string, where: Where): boolean {
  const text = io.read(path);
  // Most files are none, and are not read twice to know that.
  if (text === null || !/^["']?(farm|beds)["']?\s*:/m.test(text)) return false;
  const file = openFile(startLoading(io, where), path);
  return file !== undefined && kindOf(file.tree.root) === "farm";
}

export interface LoadedAmendments extends LoadedWith {
  /** Sorted by id. */
  readonly amendments: readonly Amendment[];
  /** Every release class, shipped and own. */
  readonly releases: Readonly<Record<string, ReleaseCurve>>;
  /** Where the numbers of each amendment come from and how well they are known, by id. */
  readonly origins: ReadonlyMap<string, Provenance>;
}

/** Where numbers come from, as the file says. */
export interface Provenance {
  readonly source: string | null;
  readonly standing: Readonly<Record<string, Standing | undefined>>;
}

/** Loads an amendments file with what it includes. */
export function loadAmendments(io: FileReader, path: string, where: Where): Result<LoadedAmendments> {
  const loaded = loadFile(io, path, where, "amendments", (file) => amendmentsOf(file));
  return loaded.ok ? ok({ ...loaded.value, ...loaded.value.amendments }) : loaded;
}

function amendmentsOf(file: Cursor, read = readAmendmentsFile): Omit<LoadedAmendments, "files"> {
  const { loading } = file;
  const shelf = read(file);
  const entries = [...shelf.entries.values()];
  const resolved = entries.flatMap((entry) => resolveEntry(loading, entry, shelf) ?? []);
  return {
    amendments: resolved.map((r) => r.amendment).sort((a, b) => (a.id < b.id ? -1 : 1)),
    releases: allClasses(shelf.releases),
    warnings: [...loading.warnings, ...resolved.flatMap((r) => r.warnings)],
    origins: new Map(
      entries.map(({ id, fields: { source, standing = {} } }) => [
        id,
        { source: source === undefined ? null : [source].flat().join(" ").trim(), standing },
      ]),
    ),
  };
}

/** The ids that an amendments file and what it includes define, whatever else may be wrong with them. */
export function amendmentIds(io: FileReader, path: string, where: Where): ReadonlySet<string> {
  const file = openFile(startLoading(io, where), resolve(where.cwd, path));
  return new Set(file && readAmendmentsFile(file).entries.keys());
}

/** Loads a target file on its own, that is without a bed to count its amounts for. */
export function loadTarget(io: FileReader, path: string, where: Where): Result<LoadedTarget> {
  return loadFile(io, path, where, "target", (file) => readTarget(file));
}

/** Loads a mix file. */
export function loadMix(io: FileReader, path: string, request: Above): Result<LoadedMix> {
  return loadFile(io, path, request, "mix", ({ loading, tree }, overrides, extra) =>
    readMix(new Cursor(loading, withOverrides(tree, overrides)), extra),
  );
}

/** Loads a season with its plan; overrides are laid over that plan. */
export function loadSeason(
  io: FileReader,
  path: string,
  request: Where & Pick<Above, "overrides">,
): Result<LoadedSeason> {
  return loadFile(io, path, request, "season", readSeason);
}

/**
 * Reads a price list (CSV). Its rows are judged by what they are held against: `offersIn`.
 * @param decimal how it writes decimals, where that is known.
 */
export function loadPriceList(
  io: FileReader,
  path: string,
  where: Where,
  decimal?: DecimalSign,
): Result<PriceList> {
  const loading = startLoading(io, where);
  return finish(loading, openPriceList(loading, resolve(where.cwd, path), decimal));
}

/** The plan file that a season names, as it is written: its absolute path, and its values; null where it cannot be read. */
export function planFileOf(
  io: FileReader,
  season: string,
  where: Where,
): { readonly path: string; readonly root: Readonly<Record<string, unknown>> } | null {
  const loading = startLoading(io, where);
  const file = openFile(loading, resolve(where.cwd, season));
  const at = file?.at("season");
  const plan = at && openFile(loading, at.resolve(String(at.written())), at);
  return plan && isRecord(plan.tree.root) ? { path: plan.tree.path, root: plan.tree.root } : null;
}

/** The kind of a file's text; null where that cannot be told. */
export function kindOfText(text: string): FileKind | null {
  const { tree, broken } = parseTree(text, "", "");
  return broken ? null : kindOf(tree.root);
}

/** Loads a cases file. */
export function loadCases(io: FileReader, path: string, where: Where): Result<readonly Case[]> {
  const loaded = loadFile(io, path, where, "cases", readCases);
  return loaded.ok ? ok(loaded.value.cases) : loaded;
}

export interface Checked {
  readonly file: string;
  /** Null where the kind could not be told; the problems say so. */
  readonly kind: FileKind | "prices" | null;
  readonly problems: readonly Problem[];
  readonly warnings: readonly Notice[];
}

const notAFile = (schema: string | null): readonly [wrong: string, hint: string] =>
  schema === null
    ? [
        "this is none of the files the program reads",
        "a file begins with one of `plan:`, `farm:`, `amendments:`, `target:`, `season:`, `mix:`, `cases:` or `releases:`; a price list is called `.csv`",
      ]
    : [
        `this is what the program printed (${schema}), not a file that is written by hand`,
        "an answer is checked when `solve`, `shop` or `card` reads it",
      ];

/** Checks files of any kind, with everything they name, and solves nothing. */
export function checkFiles(io: FileReader, paths: readonly string[], where: Where): readonly Checked[] {
  return paths.map((path): Checked => {
    const loading = startLoading(io, where);
    const absolute = resolve(where.cwd, path);
    const isList = /\.(?:csv|tsv)$/i.test(path);
    const list = isList ? openPriceList(loading, absolute) : undefined;
    const file = isList ? undefined : openFile(loading, absolute);
    const kind = file ? kindOf(file.tree.root) : null;
    if (file && kind === null) file.refuse("file-kind", ...notAFile(printedSchema(file.tree.root)));
    const found = list ? checkList(loading, list) : file && kind ? CHECKS[kind](file) : [];
    return {
      file: shownPath(where, absolute),
      kind: isList ? "prices" : kind,
      problems: problemsOf(loading),
      warnings: found,
    };
  });
}

/**
 * Checks a price list by itself: the rows of what ships, and those that give an id, must be right. What else a store sells
 * is not judged; it is said how many rows are of that kind.
 */
function checkList({ io, where, problems }: Loading, list: PriceList): readonly Notice[] {
  const shipped = loadAmendments(io, resolve(where.recipesDir, "amendments", "all.yaml"), where);
  const known = shipped.ok ? shipped.value.amendments : [];
  const ids = list.rows.flatMap(({ cells: { id } }) => (id && ID.test(id.text) ? [id.text] : []));
  const own = [...new Set(ids)].filter((id) => known.every((one) => one.id !== id));
  // Stands for an amendment of the reader's: only its id matters here, and that it may have a density.
  const others = own.map((id): Amendment => ({ ...STAND_IN, id, name: id }));
  const listed = offersIn(list, [...known, ...others]);
  for (const problem of listed.problems) problems.push(problem);
  const strange = listed.strange.length;
  return noticesOf({
    "price-rows-unknown":
      strange > 0 &&
      `${strange} of ${list.rows.length} rows give no id and no name of a shipped amendment, and were not looked at. A plan matches them by the names of its amendments, or by \`names\`.`,
  });
}

const STAND_IN: Omit<Amendment, "id" | "name"> = {
  analysis: {},
  packs: [],
  release: { byNutrient: {}, other: { label: "at-once", curve: RELEASE_CLASSES["at-once"].curve } },
  densityKgPerL: 1,
  stockKg: 0,
  organic: "unknown",
};

const silently = (read: (file: Cursor) => unknown) => (file: Cursor) => {
  read(file);
  return [];
};

const CHECKS: Readonly<Record<FileKind, (file: Cursor) => readonly Notice[]>> = {
  plan: (file) => withAssumedSpreads(readPlan(file, [], [])),
  farm: (file) => farmWarnings(readFarm(file, [], [])),
  amendments: (file) => withAssumedSpreads(amendmentsOf(file, readOverShipped)),
  releases: (file) => withAssumedSpreads(amendmentsOf(file, readOverShipped)),
  target: (file) => {
    readTarget(file);
    return file.loading.warnings;
  },
  mix: silently(readMix),
  season: (file) => readSeason(file)?.warnings ?? [],
  cases: silently(readCases),
  credits: silently(readCreditSources),
};

function farmWarnings(farm: Farm | undefined): Notice[] {
  if (farm === undefined) return [];
  const all = farm.beds.flatMap(({ plan }) => withAssumedSpreads(plan));
  const seen = new Set<string>();
  return [...farm.warnings, ...all].filter(({ text }) => !seen.has(text) && seen.add(text));
}

function withAssumedSpreads(loaded: Pick<Plan, "amendments" | "warnings"> | undefined): Notice[] {
  return loaded ? [...loaded.warnings, ...assumedSpreads(loaded.amendments)] : [];
}
