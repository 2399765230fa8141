/**
 * `npm run check:bags [-- count [seconds]]`: whole-pack purchases of 300 seeded random plans against an independent
 * model, and the time they take. Exits 1 where any disagrees or outlives its limit.
 */
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { build } from "esbuild";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const bundle = path.join(root, "node_modules", ".cache", "barrowmix", "check-bags.mjs");
const [count = "300", seconds = "10"] = process.argv.slice(2);

await build({
  absWorkingDir: root,
  entryPoints: ["tests/helpers/check-bags.ts"],
  outfile: bundle,
  bundle: true,
  platform: "node",
  target: "node20",
  format: "esm",
  packages: "external",
  logLevel: "warning",
});
try {
  const { checkBags } = await import(pathToFileURL(bundle).href);
  process.exitCode = await checkBags(Number(count), Number(seconds), (line) => console.log(line));
} finally {
  fs.rmSync(bundle, { force: true });
}
