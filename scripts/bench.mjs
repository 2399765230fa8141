/** Bundles `tests/bench/main.ts` and runs it: each measure checks its answers first, then prints ratios from this run. */
import path from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { build } from "esbuild";
import { planShape } from "./model-shape.mjs";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const outfile = path.join(root, "dist", "bench.mjs");
await build({
  absWorkingDir: root,
  entryPoints: ["tests/bench/main.ts"],
  outfile,
  bundle: true,
  platform: "node",
  target: "node20",
  format: "esm",
  packages: "external",
  plugins: [planShape],
  logLevel: "warning",
});
await import(pathToFileURL(outfile).href);
