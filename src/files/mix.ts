/** Mix files: what a grower makes today, in weights. */
import { basename } from "node:path";
import type { Amendment, Batch } from "../model.ts";
import { defined } from "../optional.ts";
import {
  Classes,
  readAmendmentsOf,
  readReleases,
  resolveEntry,
  unknownId,
  withClasses,
} from "./amendments.ts";
import { complain, type Loading } from "./context.ts";
import { readScoops, withScoops } from "./own-words.ts";
import type { Read } from "./schema/base.ts";
import { mixShape, portionSchema } from "./schema/mix.ts";
import { readMap, readValue, wrongType } from "./schema/read.ts";
import { isRecord, type Path, type Tree, valueAt } from "./source.ts";

interface Portion {
  readonly amendment: Amendment;
  readonly kg: number;
  /** Given only where the file says a volume. */
  readonly litres?: number;
}

/** How the mix is spread; every field absent that the file leaves out, except `times`. */
interface Spread {
  readonly plants?: number;
  readonly areaM2?: number;
  /** Per plant each time, by weight or loose volume. */
  readonly perPlant?: Batch;
  /** How many batches of the mix are spread each time. */
  readonly batches?: number;
  /** How often; 1 unless given. */
  readonly times: number;
  /** Days from planting, one for each time, earliest first; absent where the file does not say. */
  readonly days?: readonly number[];
}

/** A mix, complete and checked. */
export interface Mix {
  readonly name: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** By id; never empty, and their weights add to more than nothing. */
  readonly portions: readonly Portion[];
  /** What one batch holds, where that is not the sum of the portions. */
  readonly batch?: Batch;
  readonly spread?: Spread;
}

/** Reads a mix; undefined where `loading.problems` says why not. */
export function readMix(
  loading: Loading,
  written: Tree,
  extraAmendments: readonly string[] = [],
): Mix | undefined {
  const tree = withScoops(written, readScoops(loading, written));
  const fields = readMap(mixShape(), tree, [], loading.problems, "a mix: a map with `mix` and `amendments`", [
    "mix",
    "amendments",
    "releases",
    "scoops",
  ]);
  const hasAmendments = valueAt(tree.root, ["amendments"]) !== undefined;
  if (!hasAmendments && extraAmendments.length === 0)
    complain(loading, tree, {
      code: "key-missing",
      path: ["amendments"],
      wrong: "the mix names no amendments",
      hint: "add `amendments: amendments.yaml`",
    });
  const shelf =
    hasAmendments || extraAmendments.length > 0
      ? readAmendmentsOf(loading, tree, ["amendments"], extraAmendments)
      : {
          entries: new Map<string, never>(),
          releases: new Map<string, never>(),
          kinds: new Map(),
          complete: false,
        };
  const classes = new Classes(
    withClasses(shelf.releases, readReleases(loading, tree, ["releases"])),
    shelf.kinds,
  );

  const raw = valueAt(tree.root, ["mix"]);
  const portions: Portion[] = [];
  if (!isRecord(raw))
    loading.problems.push(wrongType(tree, ["mix"], raw, "a map such as `{blood-meal: 20 lb}`"));
  else {
    for (const id of Object.keys(raw)) {
      const path: Path = ["mix", id];
      const amount = readValue(portionSchema(), tree, path, loading.problems);
      const entry = shelf.entries.get(id);
      if (entry === undefined) {
        if (shelf.complete) loading.problems.push(...unknownId(tree, path, id, shelf, "key"));
        continue;
      }
      const resolved = resolveEntry(loading, entry, classes);
      if (resolved === undefined || amount === undefined) continue;
      const density = resolved.amendment.densityKgPerL;
      if (amount.kind === "litres" && density === undefined)
        complain(loading, tree, {
          code: "density-missing",
          path,
          wrong: `a volume of \`${id}\`, which has no density`,
          hint: "give its weight, or add `density` to the amendment, for instance `density: 0.6 kg/L`",
        });
      const kg = amount.kind === "kg" ? amount.value : amount.value * (density ?? 0);
      portions.push({
        amendment: resolved.amendment,
        kg,
        ...(amount.kind === "litres" ? { litres: amount.value } : {}),
      });
    }
    if (loading.problems.length === 0 && portions.reduce((sum, p) => sum + p.kg, 0) <= 0)
      complain(loading, tree, {
        code: "choice-empty",
        path: ["mix"],
        at: "key",
        wrong: "the mix weighs nothing",
        hint: "for instance `mix: {blood-meal: 20 lb}`",
      });
  }
  const spread = fields.spread && spreadOf(loading, tree, fields.spread);
  const loose = portions.find((p) => p.kg > 0 && p.amendment.densityKgPerL === undefined);
  if (spread && loose)
    for (const [path, size] of [
      [["spread", "per_plant"], fields.spread?.per_plant],
      [["batch"], fields.batch],
    ] as const)
      if (size?.kind === "litres")
        complain(loading, tree, {
          code: "density-missing",
          path,
          wrong: `a volume of the mix, and \`${loose.amendment.id}\` has no density`,
          hint: "give a weight, or weigh a level cup and add `density` to the amendment: `density: 0.6 kg/L`",
        });
  if (loading.problems.length > 0) return undefined;
  return {
    name: fields.name ?? (tree.path === "" ? "mix" : basename(tree.path).replace(/\.ya?ml$/i, "")),
    currency: fields.currency ?? "USD",
    units: fields.units ?? "us",
    portions: portions.sort((a, b) => (a.amendment.id < b.amendment.id ? -1 : 1)),
    ...(fields.batch === undefined ? {} : { batch: batchOf(fields.batch) }),
    ...defined({ spread }),
  };
}

const batchOf = (size: { readonly kind: "kg" | "litres"; readonly value: number }): Batch =>
  size.kind === "kg" ? { kg: size.value } : { litres: size.value };

function spreadOf(
  loading: Loading,
  tree: Tree,
  fields: NonNullable<Read<ReturnType<typeof mixShape>>["spread"]>,
): Spread | undefined {
  const path: Path = ["spread"];
  if (fields.per_plant !== undefined && fields.batches !== undefined) {
    complain(loading, tree, {
      code: "key-conflict",
      path: [...path, "batches"],
      at: "key",
      wrong: "`per_plant` and `batches` both say how much is spread",
      hint: "keep one of the two",
    });
    return undefined;
  }
  if (fields.per_plant === undefined && fields.batches === undefined)
    complain(loading, tree, {
      code: "spread-incomplete",
      path,
      at: "key",
      wrong: "this does not say how much is spread",
      hint: "give `per_plant: 0.5 cup`, or `batches: 1`",
    });
  else if (fields.plants === undefined && (fields.per_plant !== undefined || fields.area === undefined))
    complain(loading, tree, {
      code: "spread-incomplete",
      path,
      at: "key",
      wrong: "this does not say over how many plants",
      hint: "give `plants: 180`",
    });
  const { days } = fields;
  if (days && fields.times !== undefined && days.length !== fields.times)
    complain(loading, tree, {
      code: "spread-incomplete",
      path: [...path, "days"],
      at: "key",
      wrong: `${days.length} ${days.length === 1 ? "day is" : "days are"} given for ${fields.times} times`,
      hint: "give one day for each time",
    });
  return {
    ...defined({ plants: fields.plants, areaM2: fields.area }),
    ...(fields.per_plant === undefined ? {} : { perPlant: batchOf(fields.per_plant) }),
    ...defined({ batches: fields.batches }),
    times: fields.times ?? days?.length ?? 1,
    ...(days === undefined ? {} : { days: [...days].sort((a, b) => a - b) }),
  };
}
