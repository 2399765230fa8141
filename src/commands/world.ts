/**
 * What a command may touch of the machine it runs on, as values that are passed in: files, streams, settings. Tests
 * pass a world of their own; `node-world.ts` makes the real one.
 */
import { UsageError } from "./command.ts";

/** A file that a command could not write or make, in words for the person who asked for it. */
export class FileError extends Error {
  override readonly name = "FileError";
}

/** A file that comes to be whole or not at all; nothing is made of it before `commit`. */
export interface PendingFile {
  /** Puts the text in place. */
  commit(text: string): void;
}

/** Files by absolute path. */
export interface Files {
  /** The text, or null where there is no such file or it cannot be read. */
  read(path: string): string | null;
  /** Names in a folder, sorted; empty where there is none. */
  list(folder: string): readonly string[];
  /** The path that a file has once links are followed; the path as it is where there is none. */
  real(path: string): string;
  /**
   * Looks whether a file can be written, so that a path that cannot fails before any long work; makes nothing yet.
   * @throws FileError saying why not.
   */
  create(path: string): PendingFile;
  /**
   * Changes a file that no other run changes meanwhile.
   * @param change takes the text (null where there is none) and gives the new one, or null to leave all as it is; called
   *   again where the file changed under its hands.
   * @throws FileError saying why not.
   */
  update(path: string, change: (text: string | null) => string | null): void;
  /**
   * Makes new files and the folders that they need: all of them, or none is left.
   * @throws FileError saying why not.
   */
  makeNew(texts: ReadonlyMap<string, string>): void;
}

export interface OutputStream {
  /** Whether a person sees it. */
  readonly isTTY: boolean;
  /** Of the screen; undefined where there is none. */
  readonly columns: number | undefined;
  /** @throws an error with code `EPIPE` once nobody reads any more. */
  write(text: string): void;
}

export interface World {
  readonly files: Files;
  /** Absolute. */
  readonly cwd: string;
  /** The folder with the shipped recipes and `package.json`; absolute. */
  readonly packageDir: string;
  readonly stdout: OutputStream;
  readonly stderr: OutputStream;
  readonly stdin: {
    readonly isTTY: boolean;
    /** Everything up to its end. */
    read(): string;
  };
  readonly env: Readonly<Record<string, string | undefined>>;
}

/** The world, in which a file that will be written cannot be read: it would be overwritten. */
export function sparing(world: World, path: string, flag: string): World {
  const { files } = world;
  const target = files.real(path);
  return {
    ...world,
    files: {
      ...files,
      read(other) {
        const text = files.read(other);
        if (text !== null && files.real(other) === target)
          throw new UsageError(`${flag} ${path} would overwrite a file that is read; name another`);
        return text;
      },
    },
  };
}
