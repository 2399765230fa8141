/** Readers of files for tests: the disk, and a folder that exists only in the test. */
import { posix } from "node:path";
import { nodeWorld } from "../../src/commands/node-world.ts";
import { type FileReader, loadPlan } from "../../src/files/load.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { ROOT } from "./world.ts";

export const diskReader: FileReader = nodeWorld(ROOT).files;

/** Files of the project, which no test changes: what other files name is parsed once. */
export const projectReader: FileReader = { ...nodeWorld(ROOT).files, parsed: new Map() };

/** Files by absolute path. */
export function memoryReader(files: Readonly<Record<string, string>>): FileReader {
  return {
    read: (path) => (Object.hasOwn(files, path) ? files[path]! : null),
    list: (folder) =>
      Object.keys(files)
        .filter((path) => posix.dirname(path) === folder)
        .map((path) => posix.basename(path)),
  };
}

/** The plan of the example, loaded. */
export function examplePlan(): Plan {
  const loaded = loadPlan(projectReader, {
    planFile: `${ROOT}/examples/brassica-terraces/plan.yaml`,
    cwd: ROOT,
    recipesDir: `${ROOT}/recipes`,
  });
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.plan;
}
