/**
 * What one file says, as a `Tree`: plain values with their places, and any overrides from flags laid over them.
 */
import { type Fault, type Path, type Problem, problemOf, type Whereabouts } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";

export type { Path } from "../problem.ts";

/** A value put over what the file says, and the flag that put it there. */
export interface Override {
  readonly path: Path;
  readonly value: unknown;
  /** As typed, for instance `--plants`; faults of the value are about it. */
  readonly flag: string;
}

/** A place in a tree. */
export interface Spot {
  readonly tree: Tree;
  readonly path: Path;
}

/** A value put over what the file says that is written elsewhere: faults of it are placed there. */
export interface Patch extends Omit<Override, "flag"> {
  readonly from: Spot;
}

/** Where something is: in a file, or about what: a flag, a path in a JSON text. */
export type Position = Omit<Whereabouts, "path">;

/** What one file says, as plain values: maps without prototype, arrays, text, numbers, booleans, null. */
export interface Tree {
  /** As shown to people; empty where there is no file. */
  readonly file: string;
  /** Absolute; empty where there is no file. */
  readonly path: string;
  readonly root: unknown;
  /** The nearest place to a path: of the key or of the value, or of whatever holds a path that is not there. */
  position(path: Path, at?: "key" | "value"): Position;
}

type Map_ = Record<string, unknown>;

/** Whether a value is a map of a `Tree`. */
export function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** The value at a path, or undefined. */
export function valueAt(root: unknown, path: Path): unknown {
  let value = root;
  for (const key of path) {
    if (Array.isArray(value)) value = value[Number(key)];
    else if (isRecord(value) && Object.hasOwn(value, String(key))) value = value[String(key)];
    else return undefined;
  }
  return value;
}

/** A fault in a tree, its path counted from the top, as a problem; one that a flag caused names the flag. */
export function problemAt(tree: Tree, fault: Fault<ProblemCode>): Problem {
  const { path = [], at } = fault;
  return problemOf(fault, { path, ...tree.position(path, at) });
}

/** A tree for values that come from no file, such as flags alone. */
export function bareTree(root: unknown): Tree {
  return { file: "", path: "", root, position: () => ({}) };
}

/** What is at a place as a tree of its own, saying something else. */
export function treeAt({ tree, path }: Spot, root: unknown): Tree {
  return { ...tree, root, position: (wanted, at) => tree.position([...path, ...wanted], at) };
}

/**
 * Lays values over a tree: each sets one, making the maps on the way. A place inside such a value is its flag, or where the
 * value is written. The given tree is not changed.
 */
export function withOverrides(tree: Tree, overrides: readonly (Override | Patch)[]): Tree {
  if (overrides.length === 0) return tree;
  let root = tree.root;
  for (const { path, value } of overrides) root = replaced(root, path, value);
  const leadsTo = (from: Path, to: Path): boolean => from.every((step, i) => String(to[i]) === String(step));
  const position = (wanted: Path, at: "key" | "value" = "value"): Position => {
    const made = wanted.length > 0 && valueAt(tree.root, wanted) === undefined;
    const over =
      overrides.findLast(({ path }) => leadsTo(path, wanted)) ??
      (made ? overrides.find(({ path }) => leadsTo(wanted, path)) : undefined);
    if (over === undefined) return tree.position(wanted, at);
    if ("flag" in over) return { about: over.flag };
    return over.from.tree.position([...over.from.path, ...wanted.slice(over.path.length)], at);
  };
  return { ...tree, root, position };
}

/** The value with another one at a path; maps on the way are made where there are none. */
export function replaced(root: unknown, path: Path, value: unknown): unknown {
  const [step, ...rest] = path;
  if (step === undefined) return value;
  if (Array.isArray(root) && /^\d+$/.test(String(step)) && Number(step) <= root.length) {
    const list: unknown[] = [...(root as unknown[])];
    list[Number(step)] = replaced(list[Number(step)], rest, value);
    return list;
  }
  const map: Map_ = Object.assign(Object.create(null) as Map_, isRecord(root) ? root : {});
  map[String(step)] = replaced(map[String(step)], rest, value);
  return map;
}
