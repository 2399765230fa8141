/** Seasons written in a test, on the example's plan. */
import { loadSeason } from "../../src/files/load.ts";
import type { SeasonFile } from "../../src/files/season-model.ts";
import type { Problem } from "../../src/problem.ts";
import { formatProblems } from "../../src/problem.ts";
import { diskReader } from "./files.ts";
import { ROOT } from "./world.ts";

export const TERRACES = `${ROOT}/examples/brassica-terraces`;

/** What comes before the log: ten lines, so that the first line of the log is line 11 of the file. */
export const SEASON_HEAD = `season: plan.yaml
planted: 2027-08-01
people:
  maria: {name: Maria, address: The upper gate}
mixes:
  A: {turkey-litter-pellets: 137.8 lb, feather-meal: 43.2 lb, langbeinite: 11.2 lb}
batches: {A: 4}
shed: {kelp-meal: 18 lb, gypsum: 12 lb}
to_buy: [{feather-meal: 1 x 50 lb, supplier: grower-coop, price: 43.50}]
log:
`;

/** A season with a log, one line of it an item. */
export const seasonText = (lines: readonly string[], head = SEASON_HEAD): string =>
  `${head}${lines.map((line) => `  - {${line}}\n`).join("")}`;

/** Reads a season as if it were beside the example's plan. */
export function readSeasonText(text: string) {
  const path = `${TERRACES}/test-season.yaml`;
  const reader = { ...diskReader, read: (other: string) => (other === path ? text : diskReader.read(other)) };
  return loadSeason(reader, "test-season.yaml", { cwd: TERRACES, recipesDir: `${ROOT}/recipes` });
}

/** The season; throws with the problems' text where it does not load. */
export function seasonOf(lines: readonly string[], head = SEASON_HEAD): SeasonFile {
  const read = readSeasonText(seasonText(lines, head));
  if (!read.ok) throw new Error(formatProblems(read.problems));
  return read.value.season;
}

/** What is wrong with a log, as `line: message; hint`. */
export function faultsOf(lines: readonly string[], head = SEASON_HEAD): string[] {
  const read = readSeasonText(seasonText(lines, head));
  const said = ({ place, message, hint }: Problem) => `${place?.line ?? "-"}: ${message}; ${hint ?? ""}`;
  return read.ok ? [] : read.problems.map(said);
}
