/** The program as a process: the entry points of the bundle that `bin/` starts. */
import threads from "node:worker_threads";
import { main, runShare } from "./cli.ts";
import { nodeWorld } from "./commands/node-world.ts";
import type { Share } from "./commands/world.ts";

/**
 * Runs the command line that this process was given, and ends the process.
 * @param packageDir absolute; where `recipes/` and `package.json` are.
 */
export async function start(packageDir: string): Promise<never> {
  const code = await main(process.argv.slice(2), nodeWorld(packageDir));
  // All output is written by now; going at once spares taking the heap apart.
  process.exit(code);
}

/** Does the share of the files that this thread was given, and answers with what came of it. */
export async function startThread(packageDir: string): Promise<void> {
  const { threads: _, ...world } = nodeWorld(packageDir);
  threads.parentPort!.postMessage(await runShare(threads.workerData as Share, world));
}
