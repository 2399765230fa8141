/** The program as a process: the entry point of the bundle that `bin/` starts. */
import { main } from "./cli.ts";
import { nodeWorld } from "./commands/node-world.ts";

/**
 * Runs the command line that this process was given, and ends the process.
 * @param packageDir absolute; where `recipes/` and `package.json` are.
 */
export async function start(packageDir: string): Promise<never> {
  const code = await main(process.argv.slice(2), nodeWorld(packageDir));
  // All output is written by now; going at once spares taking the heap apart.
  process.exit(code);
}
