/** Cases files: named changes to a plan, for comparing. */
import type { PriceChange } from "../units.ts";
import { complain, type Loading } from "./context.ts";
import { caseSchema, casesShape } from "./schema/cases.ts";
import { readMap, readValue, wrongType } from "./schema/read.ts";
import { isRecord, type Override, type Path, type Tree, valueAt } from "./source.ts";

/** One case: what differs from the plan. Ids are checked when it meets a plan. */
export interface Case {
  readonly name: string;
  readonly price: Readonly<Record<string, PriceChange>>;
  /** Ids that cannot be had. */
  readonly without: readonly string[];
  /** Further amendments files, absolute where the case is in a file. */
  readonly with: readonly string[];
  readonly set: readonly Override[];
}

/** `a.b.0.c` as a path; undefined for one with an empty step. */
export function parsePath(text: string): Path | undefined {
  const steps = text.trim().split(".");
  if (steps.some((step) => step === "")) return undefined;
  return steps.map((step) => (/^\d+$/.test(step) ? Number(step) : step));
}

/** Reads a cases file; undefined where `loading.problems` says why not. */
export function readCases(
  loading: Loading,
  tree: Tree,
  resolve: (text: string, at: Path) => string,
): Case[] | undefined {
  const before = loading.problems.length;
  readMap(casesShape(), tree, [], loading.problems, "a map with `cases:`", ["cases"]);
  const raw = valueAt(tree.root, ["cases"]);
  if (!isRecord(raw)) {
    loading.problems.push(wrongType(tree, ["cases"], raw, "a map from name to changes"));
    return undefined;
  }
  const cases: Case[] = [];
  for (const name of Object.keys(raw)) {
    const at: Path = ["cases", name];
    const one = readValue(caseSchema(), tree, at, loading.problems);
    if (one === undefined) continue;
    const set: Override[] = [];
    if (one.sure !== undefined)
      set.push({ path: ["sure"], value: valueAt(tree.root, [...at, "sure"]), flag: `case ${name}: sure` });
    for (const [field, value] of Object.entries(one.set ?? {})) {
      const path = parsePath(field);
      if (path === undefined)
        complain(loading, tree, {
          code: "override-path",
          path: [...at, "set", field],
          at: "key",
          given: field,
          wrong: "leads nowhere",
          hint: "name a field of the plan, for instance `batch.size`",
        });
      else set.push({ path, value, flag: `case ${name}: set ${field}` });
    }
    const listed = Array.isArray(valueAt(tree.root, [...at, "with"]));
    cases.push({
      name,
      price: one.price ?? {},
      without: one.without ?? [],
      with: (one.with ?? []).map((text, i) => resolve(text, listed ? [...at, "with", i] : [...at, "with"])),
      set,
    });
  }
  if (cases.length === 0 && loading.problems.length === before)
    complain(loading, tree, {
      code: "key-missing",
      path: ["cases"],
      at: "key",
      wrong: "no case is given",
      hint: "for instance `dear bone meal: {price: {bone-meal: +15%}}`",
    });
  return loading.problems.length > before ? undefined : cases;
}
