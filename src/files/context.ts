/** What one loading run shares: the reader of files, the trees already read, and everything found wrong so far. */
import { basename, dirname, join, relative, resolve } from "node:path";
import type { Fault, Notice, Problem } from "../problem.ts";
import { nearest, problemOf, UnreadableInput } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";
import { isRecord, type Path, problemAt, type Tree } from "./source.ts";
import { parseTree } from "./yaml.ts";

/** Access to files, handed in so that loading itself touches nothing. */
export interface FileReader {
  /**
   * The text of a file, or null where it is not there or not readable.
   * @throws UnreadableInput where it is there and no text.
   */
  read(path: string): string | null;
  /** Names in a folder, for proposals after a slip; may be absent. */
  list?(folder: string): readonly string[];
  /**
   * Files that other files name, as they were parsed: given, several loadings read a shared file once. Whoever gives it
   * says that files do not change in the meantime.
   */
  readonly parsed?: Map<string, Tree>;
}

/** Where a run is. Both are absolute. */
export interface Where {
  readonly cwd: string;
  /** The shipped recipes: `crops/` and `amendments/` inside. */
  readonly recipesDir: string;
}

/** One loading of files, with what has come to light in it so far. */
export interface Loading {
  readonly io: FileReader;
  readonly where: Where;
  readonly problems: Problem[];
  readonly warnings: Notice[];
  /** Absolute path to what was read; undefined for a file that is not readable or not YAML. */
  readonly trees: Map<string, Tree | undefined>;
}

/** A loading that has read nothing yet. */
export function startLoading(io: FileReader, where: Where): Loading {
  return { io, where, problems: [], warnings: [], trees: new Map() };
}

/** Every file read, as shown to people, in the order first met. */
export function filesRead(loading: Loading): string[] {
  return [...loading.trees]
    .filter(([, tree]) => tree !== undefined)
    .map(([path]) => shownPath(loading, path));
}

/** A path as people would type it from where they are. */
export function shownPath(loading: Loading, path: string): string {
  const near = relative(loading.where.cwd, path);
  return near === "" || near.length > path.length ? path : near;
}

/** A path in a file is relative to that file; one in a flag, or where there is no file, to the working folder. */
export function resolvePath(loading: Loading, tree: Tree, at: Path, text: string): string {
  const fromFlag = tree.path === "" || tree.position(at).flag !== undefined;
  return resolve(fromFlag ? loading.where.cwd : dirname(tree.path), text);
}

/** Adds a fault in a tree. */
export function complain(loading: Loading, tree: Tree, fault: Fault<ProblemCode>): void {
  loading.problems.push(problemAt(tree, fault));
}

/** Adds a warning. */
export function warn(loading: Loading, code: string, text: string): void {
  if (!loading.warnings.some((w) => w.code === code && w.text === text))
    loading.warnings.push({ code, text });
}

/**
 * Reads a file once.
 * @param asked where its name is; absent for a file named on the command line.
 * @returns undefined where it cannot be read or is not YAML; the problem has been noted then.
 */
export function openFile(
  loading: Loading,
  path: string,
  asked?: { readonly tree: Tree; readonly path: Path },
): Tree | undefined {
  if (loading.trees.has(path)) return loading.trees.get(path);
  const before = asked && loading.io.parsed?.get(path);
  if (before !== undefined) {
    loading.trees.set(path, before);
    return before;
  }
  const shown = shownPath(loading, path);
  const text = readText(loading, path, shown);
  if (text === undefined) return undefined;
  if (text === null) {
    const fault = noFile(loading, path, shown);
    loading.problems.push(asked ? problemAt(asked.tree, { ...fault, path: asked.path }) : problemOf(fault));
    return undefined;
  }
  const { tree, problems, broken } = parseTree(text, shown, path);
  for (const problem of problems) loading.problems.push(problem);
  const empty = !broken && (tree.root === null || tree.root === undefined);
  if (empty)
    complain(loading, tree, {
      code: "file-empty",
      wrong: "this file holds nothing",
      hint: "an example of each kind of file ships with the program",
    });
  loading.trees.set(path, broken || empty ? undefined : tree);
  if (asked && !empty && problems.length === 0) loading.io.parsed?.set(path, tree);
  return loading.trees.get(path);
}

/** Says that a file cannot be read, and which other may be meant. */
function noFile(loading: Loading, path: string, shown: string): Fault<ProblemCode> {
  const list = (folder: string): readonly string[] => loading.io.list?.(folder) ?? [];
  const isYaml = (name: string): boolean => name.endsWith(".yaml");
  const inside = list(path).filter(isYaml);
  // A folder of `init` holds a plan and what belongs to it.
  const named = inside.includes("plan.yaml") ? ["plan.yaml"] : inside.slice(0, MOST_NAMED);
  if (named.length > 0)
    return {
      code: "file-unreadable",
      given: shown,
      wrong: "is a folder, and a file is needed here",
      hint: `name a file in it: ${named.map((one) => `\`${join(shown, one)}\``).join(" or ")}`,
    };
  const name = basename(path);
  const folder = list(dirname(path));
  const near = folder.includes(`${name}.yaml`) ? `${name}.yaml` : nearest(name, folder);
  return {
    code: "file-unreadable",
    wrong: `the file \`${shown}\` is not there or cannot be read`,
    // What bears the very name and cannot be read is a folder, or not the reader's to read.
    near: near === name ? undefined : near,
    hint: "check the name and the folder",
  };
}

/** So many files of a folder are named. */
const MOST_NAMED = 3;

/** The text of a file; undefined where it is none, which has been noted then. */
function readText(loading: Loading, path: string, shown: string): string | null | undefined {
  try {
    return loading.io.read(path);
  } catch (error) {
    if (!(error instanceof UnreadableInput)) throw error;
    const { problem } = error;
    loading.problems.push(
      problem.place ? { ...problem, place: { ...problem.place, file: shown } } : { ...problem, about: shown },
    );
    loading.trees.set(path, undefined);
    return undefined;
  }
}

/** The path of a shipped recipe. */
export function recipePath(loading: Loading, room: "crops" | "amendments", name: string): string {
  return resolve(loading.where.recipesDir, room, `${name}.yaml`);
}

/** Reads a shipped recipe by name; a wrong name is answered with the nearest one. */
export function openRecipe(
  loading: Loading,
  room: "crops" | "amendments",
  name: string,
  asked: { readonly tree: Tree; readonly path: Path },
): Tree | undefined {
  const path = recipePath(loading, room, name);
  if (!/^[a-z0-9-]+$/i.test(name) || (!loading.trees.has(path) && loading.io.read(path) === null)) {
    const names = (loading.io.list?.(resolve(loading.where.recipesDir, room)) ?? [])
      .filter((file) => file.endsWith(".yaml"))
      .map((file) => file.slice(0, -".yaml".length))
      .sort();
    const near = nearest(name, names);
    complain(loading, asked.tree, {
      code: "recipe-unknown",
      path: asked.path,
      wrong: `no shipped recipe is called \`${name}\``,
      near,
      hint: names.length > 0 ? `there are ${names.join(", ")}` : "write the path of a file instead",
    });
    return undefined;
  }
  return openFile(loading, path, asked);
}

/** The kinds of file, told apart by their top-level keys. */
export type FileKind = "plan" | "mix" | "cases" | "amendments" | "target" | "releases" | "credits";

const KIND_WORDS: Readonly<Record<FileKind, string>> = {
  plan: "a plan",
  mix: "a mix",
  cases: "a file of cases",
  amendments: "an amendments file",
  target: "a target",
  releases: "a file of release classes",
  credits: "a list of credit sources",
};

/** The schema of what the program printed as JSON, where a file holds that; else null. */
export function printedSchema(root: unknown): string | null {
  const schema = isRecord(root) ? root.schema : undefined;
  return typeof schema === "string" && schema.startsWith("barrowmix.") ? schema : null;
}

/** The kind of a file from its top-level keys, or null where they do not say. */
export function kindOf(root: unknown): FileKind | null {
  if (!isRecord(root) || printedSchema(root) !== null) return null;
  const has = (...keys: string[]): boolean => keys.some((key) => Object.hasOwn(root, key));
  if (has("plan")) return "plan";
  if (has("mix")) return "mix";
  if (has("cases")) return "cases";
  if (has("credit_sources")) return "credits";
  if (has("season", "need", "uptake", "uptake_per_yield")) return "target";
  // A target of its own name that begins from a shipped recipe.
  if (typeof root.target === "string" && has("recipe") && !has("amendments", "bed", "applications"))
    return "target";
  if (has("bed", "applications", "recipe", "batch", "blend", "limits", "harvest")) return "plan";
  // A plan says where its amendments are, or holds them beside a target.
  if (has("amendments", "include"))
    return has("target") || typeof root.amendments === "string" || isListOfFiles(root.amendments)
      ? "plan"
      : "amendments";
  if (has("releases")) return "releases";
  return has("target") ? "target" : null;
}

/** Paths and shipped lists, as a plan names them; a list of amendments written out is a slip in an amendments file. */
function isListOfFiles(value: unknown): boolean {
  return (
    Array.isArray(value) &&
    value.some((item) => typeof item === "string" || (isRecord(item) && typeof item.recipe === "string"))
  );
}

/** Kinds that may be for another: a plan may be its amendments with the rest in flags; classes may be included. */
const STANDS_FOR: Readonly<Partial<Record<FileKind, readonly FileKind[]>>> = {
  plan: ["amendments"],
  amendments: ["releases"],
};

/**
 * Whether a file is of the kind wanted, or of none that can be told (then its keys are checked one by one).
 * A file of another kind is reported once, instead of every key in it.
 */
export function isKind(
  loading: Loading,
  tree: Tree,
  wanted: FileKind,
  asked?: { readonly tree: Tree; readonly path: Path },
): boolean {
  const kind = kindOf(tree.root);
  const printed = printedSchema(tree.root);
  if (printed === null && (kind === null || kind === wanted || STANDS_FOR[wanted]?.includes(kind)))
    return true;
  const at = asked ?? { tree, path: [] };
  complain(loading, at.tree, {
    code: "file-kind",
    path: at.path,
    given: tree.file,
    wrong: kind === null ? `is what the program printed (${printed})` : `is ${KIND_WORDS[kind]}`,
    expected: KIND_WORDS[wanted],
    hint: `${KIND_WORDS[wanted]} begins with \`${wanted}:\``,
  });
  return false;
}
