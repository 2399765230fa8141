/**
 * Files to models: the one door through which plans, amendments, targets, mixes and cases come in.
 *
 * Nothing here reads a disk or throws for a user's fault. All problems of all files come back together, sorted by place.
 */
import { resolve } from "node:path";
import type { Amendment, Plan, ReleaseCurve } from "../model.ts";
import {
  distinctProblems,
  type Fault,
  type Notice,
  ok,
  type Problem,
  type Result,
  sortProblems,
} from "../problem.ts";
import { Classes, readAmendmentsFile, resolveEntry } from "./amendments.ts";
import { type Case, readCases } from "./cases.ts";
import type { ProblemCode } from "./codes.ts";
import {
  complain,
  type FileKind,
  type FileReader,
  filesRead,
  isKind,
  kindOf,
  type Loading,
  openFile,
  printedSchema,
  resolvePath,
  shownPath,
  startLoading,
  type Where,
} from "./context.ts";
import { readCreditSources } from "./credits.ts";
import { type Mix, readMix } from "./mix.ts";
import { readPlan } from "./plan.ts";
import type { Standing } from "./schema/standing.ts";
import { bareTree, type Override, type Tree, withOverrides } from "./source.ts";
import { assumedSpreads } from "./spread.ts";
import { readTarget, type Target } from "./target.ts";

export { type Case, parsePath } from "./cases.ts";
export { type FileReader, kindOf, type Where } from "./context.ts";
export type { Mix } from "./mix.ts";
export { readPlanJson, readPlanValue } from "./schema/inputs.ts";
export type { Override } from "./source.ts";
export { parseFlagValue } from "./yaml.ts";

/** What to load as a plan. */
export interface PlanRequest extends Where {
  /** Absent: the overrides are the whole plan. */
  readonly planFile?: string;
  /** The text of the plan where it comes from elsewhere, such as standard input; `planFile` then only names it. */
  readonly planText?: string;
  /** Laid over the plan in this order, before anything is checked. */
  readonly overrides?: readonly Override[];
  /** Further amendments files, laid over the plan's own; relative to `cwd`. */
  readonly extraAmendments?: readonly string[];
}

export interface LoadedPlan {
  readonly plan: Plan;
  /** Every file read, as people would name it from `cwd`. */
  readonly files: readonly string[];
}

/** Wraps up a run: the value, or everything that was wrong, each thing once. */
function finish<T>(loading: Loading, value: T | undefined): Result<T> {
  const problems = distinctProblems(sortProblems(loading.problems));
  if (problems.length > 0 || value === undefined) return { ok: false, problems };
  return ok(value);
}

/**
 * Loads a plan with everything it names.
 * @returns the plan in SI, or every problem of every file read; never throws for what a file holds.
 */
export function loadPlan(io: FileReader, request: PlanRequest): Result<LoadedPlan> {
  const loading = startLoading(
    request.planText === undefined
      ? io
      : {
          ...io,
          read: (path) =>
            path === resolve(request.cwd, request.planFile ?? "-") ? request.planText! : io.read(path),
        },
    request,
  );
  const named = request.planFile ?? (request.planText === undefined ? undefined : "-");
  const file =
    named === undefined ? bareTree(Object.create(null)) : openFile(loading, resolve(request.cwd, named));
  const overrides = request.overrides ?? [];
  checkOverrides(loading, overrides);
  const extra = (request.extraAmendments ?? []).map((path) => resolve(request.cwd, path));
  const plan = file && isKind(loading, file, "plan") && readPlan(loading, file, overrides, extra);
  return finish(loading, plan ? { plan, files: filesRead(loading) } : undefined);
}

function checkOverrides(loading: Loading, overrides: readonly Override[]): void {
  for (const { path, flag } of overrides)
    if (path.length === 0 || path.some((step) => step === ""))
      loading.problems.push({
        code: "override-path" satisfies ProblemCode,
        about: flag,
        message: "this leads nowhere",
        hint: "name a field of the plan, for instance `batch.size`",
      });
}

export interface LoadedAmendments {
  /** Sorted by id. */
  readonly amendments: readonly Amendment[];
  /** Every release class, shipped and own. */
  readonly releases: Readonly<Record<string, ReleaseCurve>>;
  readonly warnings: readonly Notice[];
  readonly files: readonly string[];
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
  const loading = startLoading(io, where);
  const tree = openFile(loading, resolve(where.cwd, path));
  return finish(
    loading,
    tree && isKind(loading, tree, "amendments") ? amendmentsOf(loading, tree) : undefined,
  );
}

function amendmentsOf(loading: Loading, tree: Tree): LoadedAmendments {
  const shelf = readAmendmentsFile(loading, tree);
  const classes = new Classes(shelf.releases, shelf.kinds);
  const resolved = [...shelf.entries.values()].flatMap(
    (entry) => resolveEntry(loading, entry, classes) ?? [],
  );
  return {
    amendments: resolved.map((r) => r.amendment).sort((a, b) => (a.id < b.id ? -1 : 1)),
    releases: classes.all(),
    warnings: [...loading.warnings, ...resolved.flatMap((r) => r.warnings)],
    files: filesRead(loading),
    origins: new Map(
      [...shelf.entries.values()].map(({ id, fields }) => [
        id,
        {
          source: fields.source === undefined ? null : [fields.source].flat().join(" ").trim(),
          standing: fields.standing ?? {},
        },
      ]),
    ),
  };
}

/** The ids that an amendments file and what it includes define, whatever else may be wrong with them. */
export function amendmentIds(io: FileReader, path: string, where: Where): ReadonlySet<string> {
  const loading = startLoading(io, where);
  const tree = openFile(loading, resolve(where.cwd, path));
  return new Set(tree ? readAmendmentsFile(loading, tree).entries.keys() : []);
}

export interface LoadedTarget {
  readonly target: Target;
  readonly warnings: readonly Notice[];
  readonly files: readonly string[];
}

/** Loads a target file on its own, that is without a bed to count its amounts for. */
export function loadTarget(io: FileReader, path: string, where: Where): Result<LoadedTarget> {
  const loading = startLoading(io, where);
  const tree = openFile(loading, resolve(where.cwd, path));
  const target = tree && isKind(loading, tree, "target") ? readTarget(loading, tree, []) : undefined;
  return finish(loading, target && { target, warnings: loading.warnings, files: filesRead(loading) });
}

export interface LoadedMix {
  readonly mix: Mix;
  readonly warnings: readonly Notice[];
  readonly files: readonly string[];
}

/** What to load as a mix; the fields mean what they mean for a plan. */
export interface MixRequest extends Where {
  readonly overrides?: readonly Override[];
  readonly extraAmendments?: readonly string[];
}

/** Loads a mix file. */
export function loadMix(io: FileReader, path: string, request: MixRequest): Result<LoadedMix> {
  const loading = startLoading(io, request);
  const file = openFile(loading, resolve(request.cwd, path));
  const overrides = request.overrides ?? [];
  checkOverrides(loading, overrides);
  const extra = (request.extraAmendments ?? []).map((p) => resolve(request.cwd, p));
  const mix =
    file && isKind(loading, file, "mix")
      ? readMix(loading, withOverrides(file, overrides), extra)
      : undefined;
  return finish(loading, mix && { mix, warnings: loading.warnings, files: filesRead(loading) });
}

/** Loads a cases file. */
export function loadCases(io: FileReader, path: string, where: Where): Result<readonly Case[]> {
  const loading = startLoading(io, where);
  const tree = openFile(loading, resolve(where.cwd, path));
  const read = (file: Tree) => readCases(loading, file, (text, at) => resolvePath(loading, file, at, text));
  return finish(loading, tree && isKind(loading, tree, "cases") ? read(tree) : undefined);
}

export interface Checked {
  readonly file: string;
  /** Null where the kind could not be told; the problems say so. */
  readonly kind: FileKind | null;
  readonly problems: readonly Problem[];
  readonly warnings: readonly Notice[];
}

/** What is wrong with a file of no kind. */
function notAFile(schema: string | null): Fault<ProblemCode> {
  return schema === null
    ? {
        code: "file-kind",
        wrong: "this is none of the files the program reads",
        hint: "a file begins with one of `plan:`, `amendments:`, `target:`, `mix:`, `cases:` or `releases:`",
      }
    : {
        code: "file-kind",
        wrong: `this is what the program printed (${schema}), not a file that is written by hand`,
        hint: "a solution or a purchase is checked when `solve`, `shop`, `card` or `topup` reads it",
      };
}

function withAssumedSpreads({ amendments, warnings }: Pick<Plan, "amendments" | "warnings">): Notice[] {
  return [...warnings, ...assumedSpreads(amendments)];
}

/** Checks files of any kind, with everything they name, and solves nothing. */
export function checkFiles(io: FileReader, paths: readonly string[], where: Where): readonly Checked[] {
  return paths.map((path): Checked => {
    const loading = startLoading(io, where);
    const absolute = resolve(where.cwd, path);
    const file = shownPath(loading, absolute);
    const tree = openFile(loading, absolute);
    if (tree === undefined)
      return { file, kind: null, problems: distinctProblems(sortProblems(loading.problems)), warnings: [] };
    const kind = kindOf(tree.root);
    let warnings: readonly Notice[] = [];
    switch (kind) {
      case "plan": {
        const plan = readPlan(loading, tree, [], []);
        warnings = plan ? withAssumedSpreads(plan) : [];
        break;
      }
      case "mix":
        readMix(loading, tree);
        break;
      case "cases":
        readCases(loading, tree, (text, at) => resolvePath(loading, tree, at, text));
        break;
      case "amendments":
      case "releases":
        warnings = withAssumedSpreads(amendmentsOf(loading, tree));
        break;
      case "credits":
        readCreditSources(loading, tree);
        break;
      case "target":
        readTarget(loading, tree, []);
        warnings = loading.warnings;
        break;
      case null:
        complain(loading, tree, notAFile(printedSchema(tree.root)));
    }
    return { file, kind, problems: distinctProblems(sortProblems(loading.problems)), warnings };
  });
}
