/**
 * `node scripts/search-endless.mjs [first seed] [last seed] [seconds]`: looks for a plan whose whole-pack program
 * javascript-lp-solver does not finish, and says how long `solve` takes on it. Each trial runs in a child process that is
 * ended at the limit. `tests/fixtures/endless/plan.yaml` was found so.
 */
import { spawnSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { build } from "esbuild";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const folder = path.join(root, "node_modules", ".cache", "barrowmix");
const [first = "1", last = "40", seconds = "20"] = process.argv.slice(2);

/** Solves the model on standard input; prints its verdict. */
const CHILD = `
  const solver = require("javascript-lp-solver");
  const model = JSON.parse(require("node:fs").readFileSync(0, "utf8"));
  const answer = (solver.default ?? solver).Solve(model);
  console.log(answer.feasible, answer.result);
`;

const entry = path.join(folder, "endless.ts");
const bundle = path.join(folder, "endless.mjs");
fs.mkdirSync(folder, { recursive: true });
const tests = path.join(root, "tests", "helpers");
fs.writeFileSync(
  entry,
  [
    `export { planOf, purchaseProgram } from ${JSON.stringify(path.join(tests, "check-bags.ts"))};`,
    `export { otherModel } from ${JSON.stringify(path.join(tests, "other-solver.ts"))};`,
    `export { solvePlans } from ${JSON.stringify(path.join(root, "src", "flow", "answer.ts"))};`,
  ].join("\n"),
);
await build({
  absWorkingDir: root,
  entryPoints: [entry],
  outfile: bundle,
  bundle: true,
  platform: "node",
  target: "node20",
  format: "esm",
  packages: "external",
  logLevel: "warning",
});
const { otherModel, planOf, purchaseProgram, solvePlans } = await import(pathToFileURL(bundle).href);
for (let seed = Number(first); seed <= Number(last); seed++) {
  const { plan } = planOf(seed);
  const purchase = await purchaseProgram([plan]);
  if (!purchase) continue;
  const begun = performance.now();
  const child = spawnSync(process.execPath, ["-e", CHILD], {
    cwd: root,
    input: JSON.stringify(otherModel(purchase.program)),
    timeout: Number(seconds) * 1000,
    encoding: "utf8",
  });
  const took = performance.now() - begun;
  const verdict = child.signal ? `still running after ${seconds} s` : child.stdout.trim();
  const start = performance.now();
  const result = await solvePlans([plan], { clock: () => performance.now() });
  const own = result.ok ? `${result.value.status} ${result.value.cost.total}` : "refused";
  console.log(
    `seed ${seed}: javascript-lp-solver ${verdict} (${took.toFixed(0)} ms); solve ${own} (${(performance.now() - start).toFixed(0)} ms)`,
  );
}
fs.rmSync(entry, { force: true });
fs.rmSync(bundle, { force: true });
