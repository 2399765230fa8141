/** Files from the disk, for programs that use the library in Node: the one place besides the command line that reads them. */
import { readdirSync, readFileSync } from "node:fs";
import { dirname, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import type { Case } from "./files/cases.ts";
import {
  type FileReader,
  type LoadedAmendments,
  type LoadedFarm,
  type LoadedMix,
  type LoadedPlan,
  loadAmendments,
  loadCases,
  loadFarm,
  loadMix,
  loadPlan,
  loadPriceList,
  type Override,
  type Where,
} from "./files/load.ts";
import type { ExtraPrices } from "./files/plan-prices.ts";
import type { PriceList } from "./files/price-list.ts";
import { decodeText } from "./files/text.ts";
import type { Result } from "./problem.ts";

/** The folder of the recipes that ship with the package. */
export const SHIPPED_RECIPES: string = resolve(dirname(fileURLToPath(import.meta.url)), "../recipes");

/** Reads files of the disk by absolute path. */
export const diskReader: FileReader = {
  read(path) {
    let bytes: Uint8Array;
    try {
      bytes = readFileSync(path);
    } catch {
      return null;
    }
    return decodeText(bytes, path);
  },
  list(folder) {
    try {
      return readdirSync(folder).sort();
    } catch {
      return [];
    }
  },
};

/** How to read files; absent: as the command line does in the current folder. */
export interface FileOptions {
  /** The folder from which relative paths count. */
  readonly cwd?: string;
  /** The folder of shipped recipes. */
  readonly recipesDir?: string;
  /** Values laid over the file, such as `{path: ["bed", "plants"], value: 240, flag: "plants"}`. */
  readonly overrides?: readonly Override[];
  /** Further amendments files, laid over the file's own. */
  readonly extraAmendments?: readonly string[];
  /** Price lists beside the plan's own, from the working folder. */
  readonly extraPrices?: readonly ExtraPrices[];
}

function whereOf({ cwd = process.cwd(), recipesDir = SHIPPED_RECIPES }: FileOptions): Where {
  return { cwd, recipesDir };
}

/**
 * Loads a plan file with everything it names.
 * @returns the plan, or every problem found, each with file, line and column where it has them.
 */
export function loadPlanFile(path: string, options: FileOptions = {}): Result<LoadedPlan> {
  return loadPlan(diskReader, { ...options, ...whereOf(options), planFile: path });
}

/**
 * Loads a farm file with everything it names, for `solveFarm`.
 * @returns the farm with a plan for each bed, or every problem found, each with file, line and column where it has them.
 */
export function loadFarmFile(path: string, options: FileOptions = {}): Result<LoadedFarm> {
  return loadFarm(diskReader, { ...options, ...whereOf(options), planFile: path });
}

/** Loads a mix file, for `assayMix`. */
export function loadMixFile(path: string, options: FileOptions = {}): Result<LoadedMix> {
  return loadMix(diskReader, path, { ...options, ...whereOf(options) });
}

/** Loads a file of what-if cases. */
export function loadCasesFile(path: string, options: FileOptions = {}): Result<readonly Case[]> {
  return loadCases(diskReader, path, whereOf(options));
}

/** Loads an amendments file; without a path, the amendments that ship, whose prices are placeholders. */
export function loadAmendmentsFile(path?: string, options: FileOptions = {}): Result<LoadedAmendments> {
  const where = whereOf(options);
  return loadAmendments(diskReader, path ?? resolve(where.recipesDir, "amendments/all.yaml"), where);
}

/** Reads a price list (CSV), for `applyPriceList`. */
export function loadPriceListFile(path: string, options: FileOptions = {}): Result<PriceList> {
  return loadPriceList(diskReader, path, whereOf(options));
}
