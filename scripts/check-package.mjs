/**
 * The package as those who install it have it: packed, installed into an empty project and globally, then used as a command,
 * with its manual page, with types, by a bundler and from CommonJS. Part of `npm run check -- short`; it needs the registry.
 */
import { spawnSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";

/** Licences under which a package may come along with a program under MIT. */
const LICENCES = ["MIT", "ISC", "BSD-2-Clause", "BSD-3-Clause", "0BSD", "Apache-2.0", "Unlicense", "CC0-1.0"];

const PROGRAM = `
import { type Solution, loadPlanFile, solvePlan } from "barrowmix";
// Where it is bundled, the program has to say where the recipes are.
const loaded = loadPlanFile("garden/plan.yaml", { recipesDir: "node_modules/barrowmix/recipes" });
if (!loaded.ok) throw new Error("the plan loads");
const solution: Solution = await solvePlan(loaded.value.plan);
const total: number | null = solution.cost.total;
console.log(total);
`;

/** Throws where something does not work. */
export function checkPackage(root, print) {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), "barrowmix-package-"));
  const project = path.join(folder, "project");
  const run = (file, args, cwd = project) => {
    const { status, stdout, stderr } = spawnSync(file, args, { cwd, encoding: "utf8" });
    if (status === 0) return stdout;
    throw new Error(`${path.basename(file)} ${args.join(" ")}: ${status}\n${stdout ?? ""}${stderr ?? ""}`);
  };
  const npm = (...args) => run("npm", [...args, "--no-audit", "--no-fund", "--loglevel=error"]);
  const tool = (...name) => path.join(root, "node_modules", ...name);
  const demand = (truth, what) => {
    if (!truth) throw new Error(what);
    print(`ok: ${what}`);
  };
  try {
    fs.mkdirSync(project);
    fs.writeFileSync(path.join(project, "package.json"), '{"name": "empty", "private": true}');
    run("node", ["scripts/build.mjs"], root);
    const packed = run(
      "npm",
      ["pack", "--ignore-scripts", "--silent", `--pack-destination=${folder}`],
      root,
    ).trim();
    const tarball = path.join(folder, packed);
    npm("install", tarball);
    const at = path.join(project, "node_modules/barrowmix");
    const own = JSON.parse(fs.readFileSync(path.join(at, "package.json"), "utf8"));
    const hooks = ["preinstall", "install", "postinstall", "prepare"].filter((hook) => own.scripts?.[hook]);
    demand(hooks.length === 0, "no script runs for those who install it");
    const notices = fs.readFileSync(path.join(at, "dist/third-party-notices.txt"), "utf8");
    demand(/\nyaml \S+ \(ISC\)\n/.test(notices), "the licences of what it contains come along");
    demand(licencesOf(project).length === 0, "every package it needs has a licence that allows it");

    const command = path.join(project, "node_modules/.bin/barrowmix");
    run(command, ["init", "garden", "--recipe", "pepper", "--area", "100 m2", "--yes"]);
    const { cost } = JSON.parse(run(command, ["solve", "garden/plan.yaml", "--json"]));
    demand(cost.total > 0, "the command solves a plan");

    fs.writeFileSync(path.join(project, "typed.mts"), PROGRAM);
    const options = ["--noEmit", "--strict", "--module", "nodenext", "--target", "es2022", "--lib", "es2023"];
    run(process.execPath, [
      tool("typescript/bin/tsc"),
      ...options,
      ...["--types", "node", "--typeRoots", tool("@types"), "typed.mts"],
    ]);
    demand(true, "a program in TypeScript (NodeNext, strict) finds its types");
    run(tool(".bin/esbuild"), [
      ...[
        "typed.mts",
        "--bundle",
        "--platform=node",
        "--format=esm",
        "--external:highs",
        "--outfile=bundled.mjs",
      ],
      // The usual help for packages of CommonJS in a bundle of ES modules, of which yaml is one.
      `--banner:js=import { createRequire } from "node:module"; const require = createRequire(import.meta.url);`,
      "--log-level=warning",
    ]);
    demand(Number(run("node", ["bundled.mjs"])) === cost.total, "a bundler takes it, and it solves the same");
    const common = `const { loadPlanFile, solvePlan } = require("barrowmix");
      solvePlan(loadPlanFile("garden/plan.yaml").value.plan).then(({ cost }) => console.log(cost.total));`;
    demand(
      Number(run("node", ["--no-warnings", "-e", common])) === cost.total,
      "CommonJS requires it, and it solves the same",
    );

    const globally = path.join(folder, "global");
    npm("install", "--global", `--prefix=${globally}`, tarball);
    demand(
      run(path.join(globally, "bin/barrowmix"), ["--version"]).trim() === own.version,
      "it installs globally",
    );
    const page = path.join(globally, "share/man/man1/barrowmix.1");
    demand(fs.existsSync(page), "its manual page is where man looks");
    demand(/least-cost blends/.test(run("man", ["-P", "cat", page])), "man shows it");
  } finally {
    fs.rmSync(folder, { recursive: true, force: true });
  }
}

/** Packages below a project whose licence is none of those. */
function licencesOf(project) {
  const lock = JSON.parse(fs.readFileSync(path.join(project, "package-lock.json"), "utf8"));
  const wrong = Object.entries(lock.packages).filter(
    ([name, { license }]) => name !== "" && !LICENCES.includes(license),
  );
  for (const [name, { license }] of wrong) console.error(`${name}: ${license ?? "no licence"}`);
  return wrong;
}
