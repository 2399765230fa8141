/**
 * Builds `dist/`: the program as one file with its compiled code beside it, the library, and its types.
 *
 * - `barrowmix.cjs`: `src/cli.ts` with what it depends on, loaded by `bin/barrowmix.cjs`; `solve.cjs`, `shop.cjs`: the
 *   same for one command; `*.cjs.cache`: what V8 compiled while that command ran on an example.
 * - `schemas/`: the JSON Schema of each kind of file, for editors, as `barrowmix schema` prints it.
 * - `index.js`: `src/index.ts` as an ES module; packages are left to the host. `types/`: its declarations.
 */
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const dist = path.join(root, "dist");
const require = createRequire(import.meta.url);

const fullYaml = JSON.stringify(require.resolve("yaml"));
const fullStringWidth = JSON.stringify(require.resolve("string-width"));

/** Modules that cost more at the start than this program has of them, and what stands in for them. */
const STANDINS = {
  // commander runs subcommands in files of their own with it, javascript-lp-solver an outside solver; never here.
  "node:child_process": "module.exports = {};",
  child_process: "module.exports = {};",
  // chalk asks the terminal through it; this program decides about colour itself.
  "#supports-color": "export default { stdout: false, stderr: false };",
  // Places and faults in files are asked of it, and most runs have none to ask about.
  yaml: `module.exports = {
    ${["isAlias", "isMap", "isScalar", "isSeq", "parseDocument"]
      .map((name) => `get ${name}() { return require(${fullYaml}).${name}; },`)
      .join(" ")}
  };`,
  // cli-table3 colours borders with it; this program's tables have none.
  "@colors/colors/safe": "module.exports = {};",
  // The answer for plain ASCII, which is nearly all there is, without a pass of the regular expression of all emoji.
  "string-width": `module.exports = (text) => (/^[ -~]*$/.test(text) ? text.length : require(${fullStringWidth})(text));`,
};

/** cli-table3 shortens every cell for a debug message that is never shown; of tall cells that takes longer than solving. */
const DEBUG_LINE = "let content = utils.truncate(this.content, 10, this.truncate);";

const standins = {
  name: "standins",
  setup(build) {
    const names = new RegExp(`^(${Object.keys(STANDINS).join("|")})$`);
    build.onResolve({ filter: names }, ({ path: name }) => ({ path: name, namespace: "standin" }));
    build.onLoad({ filter: /.*/, namespace: "standin" }, ({ path: name }) => ({
      contents: STANDINS[name],
      resolveDir: root,
    }));
    build.onLoad({ filter: /cli-table3[/\\]src[/\\]cell\.js$/ }, ({ path: file }) => {
      const text = fs.readFileSync(file, "utf8");
      if (!text.includes(DEBUG_LINE))
        throw new Error(`cli-table3 has changed: ${DEBUG_LINE} is no longer in ${file}`);
      return { contents: text.replace(DEBUG_LINE, "let content = '';") };
    });
  },
};

/** Commands with a bundle of their own, which leaves out all other commands: the rest of the program need not be read. */
const OWN_BUNDLES = ["solve", "shop"];

/** Every command but one as a module without a command. */
const without = (command) => ({
  name: "one-command",
  setup(build) {
    build.onResolve({ filter: /^\.\/commands\/[a-z-]+\.ts$/ }, ({ path: name, importer, kind }) => {
      const isCommand = kind === "dynamic-import" && importer.endsWith("cli.ts");
      return isCommand && name !== `./commands/${command}.ts`
        ? { path: name, namespace: "left-out" }
        : undefined;
    });
    build.onLoad({ filter: /.*/, namespace: "left-out" }, () => ({
      contents: "export const command = undefined;",
    }));
  },
});

async function bundle() {
  const shared = {
    absWorkingDir: root,
    bundle: true,
    platform: "node",
    target: "node20",
    logLevel: "warning",
  };
  const program = (name, plugins) => ({
    ...shared,
    entryPoints: ["src/cli.ts"],
    outfile: path.join(dist, `${name}.cjs`),
    format: "cjs",
    minifyWhitespace: true,
    minifySyntax: true,
    // A quarter less to read at each start; `node scripts/build.mjs --readable` keeps the names for stack traces.
    minifyIdentifiers: !process.argv.includes("--readable"),
    // `bin/barrowmix.cjs` calls it as Node would call a CommonJS file.
    banner: { js: "(function (exports, require, module, __filename, __dirname) {" },
    footer: { js: "})" },
    legalComments: "none",
    // highs finds its WebAssembly by its own path; the prompts of `init` are larger than all the rest together.
    external: ["highs", "@inquirer/prompts"],
    // A script compiled from a string has no loader of its own for import().
    supported: { "dynamic-import": false },
    plugins: [standins, ...plugins],
  });
  await build(program("barrowmix", []));
  for (const command of OWN_BUNDLES) await build(program(command, [without(command)]));
  await build({
    ...shared,
    entryPoints: ["src/index.ts"],
    outfile: path.join(dist, "index.js"),
    format: "esm",
    packages: "external",
  });
}

/** Runs a command on an example in this process, so that V8 has compiled what a run needs, and keeps what it compiled. */
async function keepCompiledCode(bundle, command) {
  const { load } = require("../bin/barrowmix.cjs");
  const file = path.join(dist, `${bundle}.cjs`);
  fs.rmSync(`${file}.cache`, { force: true });
  const { exports: program, script } = load(file);
  const plan = fs
    .readdirSync(path.join(root, "examples"))
    .map((name) => path.join(root, "examples", name, "plan.yaml"))
    .find((name) => fs.existsSync(name));
  if (plan === undefined) throw new Error("no example has a plan.yaml");
  const real = program.nodeWorld(root, () => false);
  let failed = "";
  const world = {
    ...real,
    cwd: path.dirname(plan),
    stdout: { isTTY: false, columns: undefined, write: () => {} },
    stderr: {
      isTTY: false,
      columns: undefined,
      write: (text) => {
        failed += text;
      },
    },
  };
  const code = await program.main([command, plan], world);
  if (code !== 0) throw new Error(`the example does not ${command} (exit ${code}): ${failed}`);
  fs.writeFileSync(`${file}.cache`, script.createCachedData());
}

/** Writes what `schema` prints, so that editors find it without running the program. */
async function writeSchemas() {
  const { load } = require("../bin/barrowmix.cjs");
  const { main, nodeWorld } = load(path.join(dist, "barrowmix.cjs")).exports;
  const folder = path.join(dist, "schemas");
  fs.mkdirSync(folder, { recursive: true });
  for (const kind of ["plan", "amendments", "target", "mix", "cases", "credits"]) {
    const file = path.join(folder, `${kind}.schema.json`);
    const code = await main(
      ["schema", kind, "--quiet", "--out", file],
      nodeWorld(root, () => false),
    );
    if (code !== 0) throw new Error(`no schema of ${kind} (exit ${code})`);
  }
}

/** Declarations of `src/index.ts`, with `.js` in place of `.ts` in their imports. */
function declareTypes() {
  const config = path.join(dist, "tsconfig.json");
  fs.writeFileSync(
    config,
    JSON.stringify({
      extends: "../tsconfig.json",
      compilerOptions: {
        rootDir: "../src",
        outDir: "types",
        noEmit: false,
        declaration: true,
        emitDeclarationOnly: true,
        rewriteRelativeImportExtensions: true,
        typeRoots: ["../node_modules/@types"],
      },
      include: [],
      files: ["../src/index.ts"],
    }),
  );
  try {
    execFileSync(process.execPath, [path.join(root, "node_modules/typescript/bin/tsc"), "-p", config], {
      stdio: "inherit",
    });
  } catch {
    // The compiler has said what is wrong.
    process.exitCode = 1;
  } finally {
    fs.rmSync(config, { force: true });
  }
}

fs.rmSync(dist, { recursive: true, force: true });
fs.mkdirSync(dist);
await bundle();
await keepCompiledCode("barrowmix", "solve");
for (const command of OWN_BUNDLES) await keepCompiledCode(command, command);
await writeSchemas();
declareTypes();
