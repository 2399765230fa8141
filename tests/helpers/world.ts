/** A world for the command line in tests: the real files to read, and streams that are kept as text. */
import { dirname, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { nodeWorld } from "../../src/commands/node-world.ts";
import type { World } from "../../src/commands/world.ts";

/** The project's own folder. */
export const ROOT = resolve(dirname(fileURLToPath(import.meta.url)), "../..");

export interface TestWorld extends World {
  /** What was written so far. */
  readonly written: { stdout: string; stderr: string };
}

export interface TestWorldOptions {
  readonly cwd?: string;
  readonly stdin?: string;
  readonly tty?: boolean;
  readonly columns?: number;
  readonly env?: Readonly<Record<string, string>>;
  readonly files?: Partial<World["files"]>;
}

export function testWorld(options: TestWorldOptions = {}): TestWorld {
  const real = nodeWorld(ROOT);
  const written = { stdout: "", stderr: "" };
  const stream = (name: "stdout" | "stderr") => ({
    isTTY: options.tty ?? false,
    columns: options.columns,
    write: (text: string) => {
      written[name] += text;
    },
  });
  return {
    files: { ...real.files, ...options.files },
    cwd: options.cwd ?? ROOT,
    packageDir: ROOT,
    stdout: stream("stdout"),
    stderr: stream("stderr"),
    stdin: { isTTY: false, read: () => options.stdin ?? "" },
    env: options.env ?? {},
    written,
  };
}
