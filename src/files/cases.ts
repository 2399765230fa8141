/** Cases files: named changes to a plan, for comparing. */
import type { PriceChange } from "../units.ts";
import type { Cursor } from "./context.ts";
import { caseSchema, casesShape } from "./schema/cases.ts";
import type { Override, Path } from "./source.ts";

/** One case: what differs from the plan. Ids are checked when it meets a plan. */
export interface Case {
  readonly name: string;
  readonly price: Readonly<Record<string, PriceChange>>;
  /** Ids that cannot be had. */
  readonly exclude: readonly string[];
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

/** Reads a cases file; undefined where something is wrong with it (reported). */
export function readCases(file: Cursor): Case[] | undefined {
  const { problems } = file.loading;
  const before = problems.length;
  file.readMap(casesShape(), "a map with `cases:`", ["cases"]);
  const all = file.at("cases");
  const names = all.neededKeys("a map from name to changes");
  const cases = names.flatMap((name) => caseOf(all.at(name), name) ?? []);
  const example = "for instance `dear bone meal: {price: {bone-meal: +15%}}`";
  if (cases.length === 0 && problems.length === before)
    all.refuseKey("key-missing", "no case is given", example);
  return problems.length > before ? undefined : cases;
}

function caseOf(at: Cursor, name: string): Case | undefined {
  const one = at.read(caseSchema());
  if (one === undefined) return undefined;
  const set: Override[] = [];
  if (one.sure !== undefined)
    set.push({ path: ["sure"], value: at.written("sure"), flag: `case ${name}: sure` });
  for (const [field, value] of Object.entries(one.set ?? {})) {
    const path = parsePath(field);
    if (path !== undefined) set.push({ path, value, flag: `case ${name}: set ${field}` });
    else
      at.at("set", field).complainOfKey({
        code: "override-path",
        given: field,
        wrong: "leads nowhere",
        hint: "name a field of the plan, for instance `batch.size`",
      });
  }
  return {
    name,
    price: one.price ?? {},
    exclude: one.exclude ?? [],
    with: (one.with ?? []).map((path, i) => at.at("with").item(i).resolve(path)),
    set,
  };
}
