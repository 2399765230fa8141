/**
 * Builds `dist/`: the program, the library and its types, and the JSON Schemas.
 *
 * - `barrowmix.cjs`: `src/start.ts` with what it depends on, started by `bin/barrowmix.cjs`. `--readable` keeps the names
 *   of functions, for stack traces and profiles.
 * - `index.js`: `src/index.ts` as an ES module, its functions behind their doors (`library-door.mjs`); packages are left to
 *   the host. `types/`: its declarations.
 * - `third-party-notices.txt`: the licences of the packages that the program contains.
 * - `schemas/`: the JSON Schema of each kind of file and of each output, as `barrowmix schema` prints it.
 */
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";
import { doorModule } from "./library-door.mjs";
import { planShape } from "./model-shape.mjs";
import { writeOutputSchemas } from "./output-schemas.mjs";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const dist = path.join(root, "dist");

/**
 * Parts of Node that packages load when they are loaded themselves, and that this program hardly ever uses: loaded on
 * first use instead, a tenth of a short run.
 */
const LAZY_BUILTINS = ["child_process", "os", "tty", "worker_threads"];

const lazyBuiltins = {
  name: "lazy-builtins",
  setup({ onResolve, onLoad }) {
    onResolve(
      { filter: new RegExp(`^(node:)?(${LAZY_BUILTINS.join("|")})$`) },
      ({ path: name, namespace }) =>
        namespace === "lazy-builtin"
          ? { path: name, external: true }
          : { path: name, namespace: "lazy-builtin" },
    );
    onLoad({ filter: /.*/, namespace: "lazy-builtin" }, ({ path: name }) => ({
      contents: `module.exports = new Proxy({}, { get: (_, key) => require(${JSON.stringify(name)})[key] });`,
    }));
  },
};

/**
 * JavaScript in ASCII alone, which is read and kept at half the size. The bundler leaves other signs in regular
 * expressions as they are.
 */
function inAscii(code) {
  return code.replace(/[^\0-\x7f]/g, (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, "0")}`);
}

async function bundle() {
  const shared = {
    absWorkingDir: root,
    bundle: true,
    platform: "node",
    target: "node20",
    logLevel: "warning",
  };
  const program = await build({
    ...shared,
    write: false,
    metafile: true,
    entryPoints: ["src/start.ts"],
    outfile: path.join(dist, "barrowmix.cjs"),
    format: "cjs",
    minifyWhitespace: true,
    minifySyntax: true,
    minifyIdentifiers: !process.argv.includes("--readable"),
    legalComments: "none",
    // highs finds its WebAssembly by its own path; the prompts of `init` are larger than all the rest together.
    external: ["highs", "@inquirer/*"],
    plugins: [lazyBuiltins, planShape],
  });
  for (const { path: file, text } of program.outputFiles) fs.writeFileSync(file, inAscii(text));
  const library = {
    ...shared,
    outfile: path.join(dist, "index.js"),
    format: "esm",
    packages: "external",
    plugins: [planShape],
  };
  const bare = await build({ ...library, entryPoints: ["src/index.ts"], write: false, metafile: true });
  const [{ exports }] = Object.values(bare.metafile.outputs);
  await build({
    ...library,
    stdin: { contents: doorModule(root, exports), resolveDir: path.join(root, "src") },
  });
  writeNotices(program.metafile);
}

/**
 * The licence of every package of which the program holds a part, in full, as most of them ask.
 * @throws Error where a package has none.
 */
function writeNotices({ inputs }) {
  const folders = new Set();
  for (const file of Object.keys(inputs)) {
    const [folder] = /^.*node_modules\/(?:@[^/]+\/)?[^/]+/.exec(file) ?? [];
    if (folder !== undefined) folders.add(path.join(root, folder));
  }
  const notices = [...folders].map((folder) => {
    const { name, version, license } = JSON.parse(fs.readFileSync(path.join(folder, "package.json"), "utf8"));
    const texts = fs.readdirSync(folder).filter((file) => /^(licen[cs]e|copying|notice)/i.test(file));
    if (texts.length === 0) throw new Error(`${name} has no licence file`);
    const text = texts.map((file) => fs.readFileSync(path.join(folder, file), "utf8").trim()).join("\n\n");
    return { name, text: `${name} ${version} (${license})\n\n${text}\n` };
  });
  notices.sort((a, b) => (a.name < b.name ? -1 : 1));
  const head = "barrowmix contains parts of the packages below, each under its own licence.\n";
  const rule = `\n${"-".repeat(78)}\n\n`;
  fs.writeFileSync(
    path.join(dist, "third-party-notices.txt"),
    [head, ...notices.map(({ text }) => text)].join(rule),
  );
}

/** Writes what `schema` prints, so that editors find it without running the program. */
function writeSchemas() {
  const folder = path.join(dist, "schemas");
  fs.mkdirSync(folder, { recursive: true });
  const run = (...args) =>
    execFileSync(process.execPath, [path.join(root, "bin/barrowmix.cjs"), ...args], { encoding: "utf8" });
  for (const kind of ["plan", "amendments", "target", "mix", "cases", "credits"])
    fs.writeFileSync(path.join(folder, `${kind}.schema.json`), run("schema", kind));
  writeOutputSchemas(root, folder);
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
declareTypes();
await bundle();
writeSchemas();
