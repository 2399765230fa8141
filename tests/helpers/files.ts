/** Readers of files for tests: the disk, and a folder that exists only in the test. */
import { posix } from "node:path";
import { nodeWorld } from "../../src/commands/node-world.ts";
import type { FileReader } from "../../src/files/load.ts";
import { ROOT } from "./world.ts";

export const diskReader: FileReader = nodeWorld(ROOT).files;

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
