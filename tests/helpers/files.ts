/** Readers of files for tests: the disk, and a folder that exists only in the test. */
import { readdirSync, readFileSync } from "node:fs";
import { posix } from "node:path";
import type { FileReader } from "../../src/files/load.ts";

export const diskReader: FileReader = {
  read: (path) => {
    try {
      return readFileSync(path, "utf8");
    } catch {
      return null;
    }
  },
  list: (folder) => {
    try {
      return readdirSync(folder);
    } catch {
      return [];
    }
  },
};

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
