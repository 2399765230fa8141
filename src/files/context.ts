/** What one loading run shares: the reader of files, the trees already read, and everything found wrong so far. */
import { basename, dirname, join, relative, resolve } from "node:path";
import type { Fault, Notice, Problem } from "../problem.ts";
import { nearest, problemOf, UnreadableInput } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";
import type { Read, Schema, Shape } from "./schema/base.ts";
import { type Complain, readMap, readValue, wrongType } from "./schema/read.ts";
import { bareTree, isRecord, type Path, problemAt, type Tree, valueAt } from "./source.ts";
import { parseTree } from "./yaml.ts";

/** Access to files, handed in so that loading itself touches nothing. */
export interface FileReader {
  /**
   * The text of a file, or null where it is not there or not readable.
   * @throws UnreadableInput where it is there and no text.
   */
  readonly read: (path: string) => string | null;
  /** Names in a folder, for proposals after a slip; may be absent. */
  readonly list?: (folder: string) => readonly string[];
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
export function filesRead({ trees, where }: Loading): string[] {
  return [...trees].filter(([, tree]) => tree !== undefined).map(([path]) => shownPath(where, path));
}

/** A path as people would type it from where they are. */
export function shownPath({ cwd }: Where, path: string): string {
  const near = relative(cwd, path);
  return near === "" || near.length > path.length ? path : near;
}

/** A place in a file while the file is loaded: what is written there, and what is said of it. */
export class Cursor {
  constructor(
    readonly loading: Loading,
    readonly tree: Tree,
    readonly path: Path = [],
  ) {}

  /** The place that these keys and indices lead to from here. */
  at(...steps: Path): Cursor {
    return new Cursor(this.loading, this.tree, [...this.path, ...steps]);
  }

  /** The same place in a file that says something else. */
  saying(root: unknown): Cursor {
    return root === this.tree.root ? this : new Cursor(this.loading, { ...this.tree, root }, this.path);
  }

  /** What is written here, or under `key`; undefined where nothing is. */
  written(...key: Path): unknown {
    return valueAt(this.tree.root, [...this.path, ...key]);
  }

  /** Whether anything is written here, or under a key of the map here. */
  has(...key: Path): boolean {
    return this.written(...key) !== undefined;
  }

  get isList(): boolean {
    return Array.isArray(this.written());
  }

  /** The place of an item of the list here; where one item may stand for a list and does, of that. */
  item(index: number): Cursor {
    return this.isList ? this.at(index) : this;
  }

  /** Whether a flag says what is here, and not the file. */
  get isFromFlag(): boolean {
    return this.tree.position(this.path).about !== undefined;
  }

  /** What is here as a schema reads it; undefined where it is wrong (reported). */
  read<T extends Schema>(schema: T) {
    return readValue(schema, this.written(), this.path, this.#complain);
  }

  /** The map here, key by key; `skip` names the keys that are read elsewhere. */
  readMap<S extends Shape>(shape: S, expected: string, skip: readonly string[] = []): Read<S> {
    return readMap(shape, this.written(), this.path, this.#complain, expected, skip);
  }

  /** The keys of the map here; none where something else is (reported). */
  neededKeys(expected: string): string[] {
    const written = this.written();
    if (isRecord(written)) return Object.keys(written);
    this.complainOfType(expected);
    return [];
  }

  /** The same of a map that may be left out, or empty. */
  keys(expected: string): string[] {
    return (this.written() ?? null) === null ? [] : this.neededKeys(expected);
  }

  /** The items of the list here; what is no list stands for a list of itself. */
  get each(): Cursor[] {
    const written = this.written();
    if (Array.isArray(written)) return written.map((_, i) => this.at(i));
    return written === undefined ? [] : [this];
  }

  /** The items of the list here; none where nothing is, or something else (reported). */
  items(expected: string): Cursor[] {
    if (this.isList || !this.has()) return this.each;
    this.complainOfType(expected);
    return [];
  }

  /** A path written here: relative to the file, or in a flag, or where there is no file, to the working folder. */
  resolve(text: string): string {
    const { cwd } = this.loading.where;
    const { file = "" } = this.tree.position(this.path).place ?? {};
    return resolve(cwd, file === "" ? "" : dirname(file), text);
  }

  /** Reports a fault, its path counted from the top of the file. */
  readonly #complain: Complain = (fault) => {
    this.loading.problems.push(problemAt(this.tree, fault));
  };

  /** Reports a fault of what is here, if there is one. All that report give undefined, which may be given on. */
  complain(fault: Omit<Fault<ProblemCode>, "path"> | false): undefined {
    if (fault) this.#complain({ ...fault, path: this.path });
  }

  /** Reports a fault of the key that leads here, or of what is missing under it, if there is one. */
  complainOfKey(fault: Omit<Fault<ProblemCode>, "path" | "at"> | false): undefined {
    this.complain(fault && { ...fault, at: "key" });
  }

  /** Reports what is wrong with what is here, and what would be right. */
  refuse(code: ProblemCode, wrong: string, hint: string): undefined {
    this.complain({ code, wrong, hint });
  }

  /** The same of the key that leads here. */
  refuseKey(code: ProblemCode, wrong: string, hint: string): undefined {
    this.complain({ code, wrong, hint, at: "key" });
  }

  /**
   * Reports that a name is none of those known, with the nearest.
   * @param wrong what is wrong with it: `is no mix of this season`.
   */
  unknown(given: string, wrong: string, known: Iterable<string>, hint: string): undefined {
    this.complain({ code: "choice-unknown", given, wrong, near: nearest(given, known), hint });
  }

  /** Reports that something else is here than what is `expected`. */
  complainOfType(expected: string): undefined {
    this.#complain(wrongType(this.written(), this.path, expected));
  }

  /** Adds a warning, once. */
  warn(code: string, text: string): undefined {
    const { warnings } = this.loading;
    if (!warnings.some((w) => w.code === code && w.text === text)) warnings.push({ code, text });
  }
}

/**
 * Reads a file once.
 * @param asked where its name is; absent for a file named on the command line.
 * @returns undefined where it cannot be read or is not YAML; the problem has been noted then.
 */
export function openFile(loading: Loading, path: string, asked?: Cursor): Cursor | undefined {
  const { trees, io } = loading;
  const before = asked && io.parsed?.get(path);
  if (!trees.has(path) && before !== undefined) trees.set(path, before);
  if (!trees.has(path)) parseFile(loading, path, asked);
  const tree = trees.get(path);
  return tree && new Cursor(loading, tree);
}

/**
 * The text of a file that is no YAML.
 * @param asked where its name is; absent for a file named on the command line.
 * @returns undefined where it cannot be read; the problem has been noted then.
 */
export function readText(loading: Loading, path: string, asked?: Cursor): string | undefined {
  const text = textOf(loading, path, asked);
  const { trees, where } = loading;
  if (text !== undefined && !trees.has(path))
    trees.set(path, { ...bareTree(undefined), file: shownPath(where, path), path });
  return text;
}

function textOf({ io, trees, problems, where }: Loading, path: string, asked?: Cursor): string | undefined {
  const shown = shownPath(where, path);
  try {
    const text = io.read(path);
    if (typeof text === "string") return text;
  } catch (error) {
    if (!(error instanceof UnreadableInput)) throw error;
    for (const problem of error.problems) {
      const { place } = problem;
      problems.push(place ? { ...problem, place: { ...place, file: shown } } : { ...problem, about: shown });
    }
    trees.set(path, undefined);
    return undefined;
  }
  const fault = noFile(io, path, shown);
  if (asked) asked.complain(fault);
  else problems.push(problemOf(fault));
  return undefined;
}

function parseFile(loading: Loading, path: string, asked?: Cursor): void {
  const { io, trees, problems, where } = loading;
  const shown = shownPath(where, path);
  const text = textOf(loading, path, asked);
  if (text === undefined) return;
  const { tree, problems: wrong, broken } = parseTree(text, shown, path);
  for (const problem of wrong) problems.push(problem);
  const empty = !broken && (tree.root === null || tree.root === undefined);
  if (empty)
    problems.push(
      problemAt(tree, {
        code: "file-empty",
        wrong: "this file holds nothing",
        hint: "an example of each kind of file ships with the program",
      }),
    );
  trees.set(path, broken || empty ? undefined : tree);
  if (asked && !empty && wrong.length === 0) io.parsed?.set(path, tree);
}

/** Says that a file cannot be read, and which other may be meant. */
function noFile(io: FileReader, path: string, shown: string): Fault<ProblemCode> {
  const list = (folder: string): readonly string[] => io.list?.(folder) ?? [];
  const isYaml = (name: string): boolean => name.endsWith(".yaml");
  const names = list(path);
  const inside = names.filter(isYaml);
  // A folder of `init` holds a plan and what belongs to it.
  const named = inside.includes("plan.yaml") ? ["plan.yaml"] : inside.slice(0, MOST_NAMED);
  if (names.length > 0) {
    const below = shown === path ? "" : shown;
    const files = named.map((one) => `\`${join(below, one)}\``).join(" or ");
    return {
      code: "file-unreadable",
      given: shown,
      wrong: "is a folder, and a file is needed here",
      hint: named.length > 0 ? `name a file in it: ${files}` : "`barrowmix init` writes a plan into a folder",
    };
  }
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

const MOST_NAMED = 3;

/** The path of a shipped recipe. */
export function recipePath(loading: Loading, room: "crops" | "amendments", name: string): string {
  return resolve(loading.where.recipesDir, room, `${name}.yaml`);
}

/** Reads a shipped recipe by the name that stands at `asked`; a wrong one is answered with the nearest. */
export function openRecipe(asked: Cursor, room: "crops" | "amendments", name: string): Cursor | undefined {
  const { loading } = asked;
  const path = recipePath(loading, room, name);
  if (/^[a-z0-9-]+$/i.test(name) && (loading.trees.has(path) || loading.io.read(path) !== null))
    return openFile(loading, path, asked);
  const names = (loading.io.list?.(resolve(loading.where.recipesDir, room)) ?? [])
    .filter((file) => file.endsWith(".yaml"))
    .map((file) => file.slice(0, -".yaml".length))
    .sort();
  asked.complain({
    code: "recipe-unknown",
    wrong: `no shipped recipe is called \`${name}\``,
    near: nearest(name, names),
    hint: names.length > 0 ? `there are ${names.join(", ")}` : "write the path of a file instead",
  });
  return undefined;
}

/** The name in `recipe: pepper` or `{recipe: pepper}`, which names a shipped recipe and says nothing else. */
export function recipeNamed(written: unknown): string | undefined {
  if (typeof written === "string") return /^recipe:\s*(\S+)$/.exec(written.trim())?.[1];
  const alone = isRecord(written) && Object.keys(written).length === 1;
  return alone && typeof written.recipe === "string" ? written.recipe : undefined;
}

const KIND_WORDS = {
  plan: "a plan",
  farm: "a farm",
  season: "a season",
  mix: "a mix",
  cases: "a file of cases",
  amendments: "an amendments file",
  target: "a target",
  releases: "a file of release classes",
  credits: "a list of credit sources",
} as const;

/** The kinds of file, told apart by their top-level keys. */
export type FileKind = keyof typeof KIND_WORDS;

/** The schema of what the program printed as JSON, where a file holds that; else null. */
export function printedSchema(root: unknown): string | null {
  const schema = isRecord(root) ? root.schema : undefined;
  return typeof schema === "string" && schema.startsWith("barrowmix.") ? schema : null;
}

/** The kind of a file from its top-level keys, or null where they do not say. */
export function kindOf(root: unknown): FileKind | null {
  if (!isRecord(root) || printedSchema(root) !== null) return null;
  const has = (...keys: string[]): boolean => keys.some((key) => Object.hasOwn(root, key));
  if (has("farm") || (has("beds") && !has("plan"))) return "farm";
  if (has("plan")) return "plan";
  if (isSeason(root)) return "season";
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

/** A season names its plan where a target says how long it lasts, or it has what only a season has. */
function isSeason(root: Readonly<Record<string, unknown>>): boolean {
  const named = typeof root.season === "string" && /\.ya?ml$/i.test(root.season.trim());
  return named || ["log", "mixes", "planned", "to_buy"].some((key) => Object.hasOwn(root, key));
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
 * The file, where it is of the kind wanted or of none that can be told (then its keys are checked one by one).
 * A file of another kind is reported once, instead of every key in it.
 */
export function ofKind(file: Cursor | undefined, wanted: FileKind, asked = file): Cursor | undefined {
  if (file === undefined) return undefined;
  const kind = kindOf(file.tree.root);
  const printed = printedSchema(file.tree.root);
  if (printed === null && (kind === null || kind === wanted || STANDS_FOR[wanted]?.includes(kind)))
    return file;
  asked?.complain({
    code: "file-kind",
    given: file.tree.file,
    wrong: kind === null ? `is what the program printed (${printed})` : `is ${KIND_WORDS[kind]}`,
    expected: KIND_WORDS[wanted],
    hint: `${KIND_WORDS[wanted]} begins with \`${wanted}:\``,
  });
  return undefined;
}
