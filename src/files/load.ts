/**
 * Files to models: the one door through which plans, amendments, targets, mixes and cases come in.
 *
 * Nothing here reads a disk or throws for a user's fault. All problems of all files come back together, sorted by place.
 */
import { resolve } from "node:path";
import type { Amendment, Farm, Plan, ReleaseCurve } from "../model.ts";
import {
  distinctProblems,
  type Fault,
  type Notice,
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
export { planFaults, readPlanJson, readPlanValue } from "./schema/inputs.ts";
export type { Override } from "./source.ts";
export { flagFaults, parseFlagValue } from "./yaml.ts";

/** What may be laid over a plan or a mix. */
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

export interface LoadedPlan extends Pick<LoadedWith, "files"> {
  readonly plan: Plan;
}

const readBy = (loading: Loading): LoadedWith => ({ warnings: loading.warnings, files: filesRead(loading) });

/** Each thing that was wrong once, in reading order. */
const problemsOf = ({ problems }: Loading): Problem[] => distinctProblems(sortProblems(problems));

/** Wraps up a run: the value, or everything that was wrong. */
function finish<T>(loading: Loading, value: T | undefined): Result<T> {
  const problems = problemsOf(loading);
  if (problems.length > 0 || value === undefined) return { ok: false, problems };
  return ok(value);
}

/** Loads one file: what `read` makes of it, or everything that is wrong with it. */
function loadFile<T>(
  io: FileReader,
  path: string,
  where: Where,
  kind: FileKind,
  read: (file: Cursor) => T | undefined,
): Result<T> {
  const loading = startLoading(io, where);
  const file = ofKind(openFile(loading, resolve(where.cwd, path)), kind);
  return finish(loading, file && read(file));
}

/**
 * Loads a plan with everything it names.
 * @returns the plan in SI, or every problem of every file read; never throws for what a file holds.
 */
export function loadPlan(io: FileReader, request: PlanRequest): Result<LoadedPlan> {
  const { cwd, planText, planFile = planText === undefined ? undefined : "-" } = request;
  const path = planFile && resolve(cwd, planFile);
  const reading =
    planText === undefined ? io : { ...io, read: (p: string) => (p === path ? planText : io.read(p)) };
  const loading = startLoading(reading, request);
  const { overrides, extra } = aboveOf(loading, request);
  const file =
    path === undefined
      ? new Cursor(loading, bareTree(Object.create(null)))
      : ofKind(openFile(loading, path), "plan");
  const plan = file && readPlan(file, overrides, extra, request.extraPrices);
  return finish(loading, plan && { plan, files: filesRead(loading) });
}

export interface LoadedFarm extends Pick<LoadedWith, "files"> {
  readonly farm: Farm;
}

/**
 * Loads a farm with everything it names; a request as for a plan.
 * @returns the farm with a plan for each bed, or every problem of every file read; never throws for what a file holds.
 */
export function loadFarm(
  io: FileReader,
  request: PlanRequest & { readonly planFile: string },
): Result<LoadedFarm> {
  const { cwd, planText, planFile } = request;
  const path = resolve(cwd, planFile);
  const reading =
    planText === undefined ? io : { ...io, read: (p: string) => (p === path ? planText : io.read(p)) };
  const loading = startLoading(reading, request);
  const { overrides, extra } = aboveOf(loading, request);
  const file = ofKind(openFile(loading, path), "farm");
  const farm = file && readFarm(file, overrides, extra, request.extraPrices);
  return finish(loading, farm && { farm, files: filesRead(loading) });
}

/** Whether a file is a farm, as far as a look tells; what is wrong with it is not said. */
export function isFarmFile(io: FileReader, path: string, where: Where): boolean {
  const text = io.read(path);
  // Most files are none, and are not read twice to know that.
  if (text === null || !/^["']?(farm|beds)["']?\s*:/m.test(text)) return false;
  const file = openFile(startLoading(io, where), path);
  return file !== undefined && kindOf(file.tree.root) === "farm";
}

/** What is laid over a file; overrides that lead nowhere are reported. */
function aboveOf(loading: Loading, { cwd, overrides = [], extraAmendments = [] }: Above) {
  for (const { path, flag } of overrides)
    if (path.length === 0 || path.some((step) => step === ""))
      loading.problems.push({
        code: "override-path" satisfies ProblemCode,
        about: flag,
        message: "this leads nowhere",
        hint: "name a field of the plan, for instance `batch.size`",
      });
  return { overrides, extra: extraAmendments.map((path) => resolve(cwd, path)) };
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
  return loadFile(io, path, where, "amendments", (file) => amendmentsOf(file));
}

function amendmentsOf(file: Cursor, read = readAmendmentsFile): LoadedAmendments {
  const { loading } = file;
  const shelf = read(file);
  const entries = [...shelf.entries.values()];
  const resolved = entries.flatMap((entry) => resolveEntry(loading, entry, shelf) ?? []);
  return {
    amendments: resolved.map((r) => r.amendment).sort((a, b) => (a.id < b.id ? -1 : 1)),
    releases: allClasses(shelf.releases),
    warnings: [...loading.warnings, ...resolved.flatMap((r) => r.warnings)],
    files: filesRead(loading),
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

export interface LoadedTarget extends LoadedWith {
  readonly target: Target;
}

/** Loads a target file on its own, that is without a bed to count its amounts for. */
export function loadTarget(io: FileReader, path: string, where: Where): Result<LoadedTarget> {
  return loadFile(io, path, where, "target", (file) => {
    const target = readTarget(file);
    return target && { target, ...readBy(file.loading) };
  });
}

export interface LoadedMix extends LoadedWith {
  readonly mix: WeighedMix;
}

/** Loads a mix file. */
export function loadMix(io: FileReader, path: string, request: Above): Result<LoadedMix> {
  const loading = startLoading(io, request);
  const { overrides, extra } = aboveOf(loading, request);
  const file = ofKind(openFile(loading, resolve(request.cwd, path)), "mix");
  const mix = file && readMix(new Cursor(loading, withOverrides(file.tree, overrides)), extra);
  return finish(loading, mix && { mix, ...readBy(loading) });
}

export interface LoadedSeason extends Pick<LoadedWith, "files"> {
  readonly season: SeasonFile;
}

/** Loads a season with its plan; overrides are laid over that plan. */
export function loadSeason(
  io: FileReader,
  path: string,
  request: Where & Pick<Above, "overrides">,
): Result<LoadedSeason> {
  const loading = startLoading(io, request);
  const { overrides } = aboveOf(loading, request);
  const file = ofKind(openFile(loading, resolve(request.cwd, path)), "season");
  const season = file && readSeason(file, overrides);
  return finish(loading, season && { season, files: filesRead(loading) });
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
  return loadFile(io, path, where, "cases", readCases);
}

export interface Checked {
  readonly file: string;
  /** Null where the kind could not be told; the problems say so. */
  readonly kind: FileKind | "prices" | null;
  readonly problems: readonly Problem[];
  readonly warnings: readonly Notice[];
}

/** What is wrong with a file of no kind. */
function notAFile(schema: string | null): Fault<ProblemCode> {
  return schema === null
    ? {
        code: "file-kind",
        wrong: "this is none of the files the program reads",
        hint: "a file begins with one of `plan:`, `farm:`, `amendments:`, `target:`, `season:`, `mix:`, `cases:` or `releases:`; a price list is called `.csv`",
      }
    : {
        code: "file-kind",
        wrong: `this is what the program printed (${schema}), not a file that is written by hand`,
        hint: "an answer is checked when `solve`, `shop` or `card` reads it",
      };
}

/** Checks files of any kind, with everything they name, and solves nothing. */
export function checkFiles(io: FileReader, paths: readonly string[], where: Where): readonly Checked[] {
  return paths.map((path): Checked => {
    const loading = startLoading(io, where);
    const absolute = resolve(where.cwd, path);
    if (/\.(?:csv|tsv)$/i.test(path)) {
      const list = openPriceList(loading, absolute);
      const warnings = list ? checkList(loading, list) : [];
      return { file: shownPath(where, absolute), kind: "prices", problems: problemsOf(loading), warnings };
    }
    const file = openFile(loading, absolute);
    const kind = file ? kindOf(file.tree.root) : null;
    const warnings = file ? checkOf(file, kind) : [];
    return { file: shownPath(where, absolute), kind, problems: problemsOf(loading), warnings };
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
  return strange === 0
    ? []
    : [
        {
          code: "price-rows-unknown",
          text: `${strange} of ${list.rows.length} rows give no id and no name of a shipped amendment, and were not looked at. A plan matches them by the names of its amendments, or by \`names\`.`,
        },
      ];
}

/** An amendment of which nothing is known. */
const STAND_IN: Omit<Amendment, "id" | "name"> = {
  analysis: {},
  packs: [],
  release: { byNutrient: {}, other: { label: "at-once", curve: RELEASE_CLASSES["at-once"].curve } },
  densityKgPerL: 1,
  stockKg: 0,
  organic: "unknown",
};

/** Checks a file of a kind; returns what should be said of a sound one. */
function checkOf(file: Cursor, kind: FileKind | null): readonly Notice[] {
  switch (kind) {
    case "plan":
      return withAssumedSpreads(readPlan(file, [], []));
    case "farm":
      return farmWarnings(readFarm(file, [], []));
    case "amendments":
    case "releases":
      return withAssumedSpreads(amendmentsOf(file, readOverShipped));
    case "target":
      readTarget(file);
      return file.loading.warnings;
    case "mix":
      readMix(file);
      return [];
    case "season":
      return readSeason(file)?.warnings ?? [];
    case "cases":
      readCases(file);
      return [];
    case "credits":
      readCreditSources(file);
      return [];
    case null:
      file.complain(notAFile(printedSchema(file.tree.root)));
      return [];
  }
}

/** What should be said of a farm and of its beds, each once. */
function farmWarnings(farm: Farm | undefined): Notice[] {
  if (farm === undefined) return [];
  const all = farm.beds.flatMap(({ plan }) => withAssumedSpreads(plan));
  const seen = new Set<string>();
  return [...farm.warnings, ...all].filter(({ text }) => !seen.has(text) && seen.add(text));
}

function withAssumedSpreads(loaded: Pick<Plan, "amendments" | "warnings"> | undefined): Notice[] {
  return loaded ? [...loaded.warnings, ...assumedSpreads(loaded.amendments)] : [];
}
