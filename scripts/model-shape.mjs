/**
 * What a plan is in JSON, made from the types of `src/model.ts`: a JSON Schema without its prose, in which every part has
 * the name of its type. Bundlers put it in place of `src/files/schema/plan-shape.ts`, so that it cannot drift from them.
 */
import { createHash } from "node:crypto";
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { createGenerator } from "ts-json-schema-generator";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const PLACE = /files[\\/]schema[\\/]plan-shape\.ts$/;
/** The files whose types a plan is made of. */
const SOURCES = ["src/model.ts", "src/nutrients.ts", "src/problem.ts", "scripts/model-shape.mjs"];

/** The module as text; made once for the same types, and kept. */
export function planShapeModule() {
  const hash = createHash("sha256");
  for (const file of SOURCES) hash.update(fs.readFileSync(path.join(root, file)));
  const kept = path.join(
    root,
    "node_modules/.cache/barrowmix",
    `shape-${hash.digest("hex").slice(0, 16)}.mjs`,
  );
  if (fs.existsSync(kept)) return fs.readFileSync(kept, "utf8");
  const text = `export const planShapes = () => (${JSON.stringify(shapes())});\n`;
  fs.mkdirSync(path.dirname(kept), { recursive: true });
  const mine = `${kept}.${process.pid}`;
  fs.writeFileSync(mine, text);
  fs.renameSync(mine, kept);
  return text;
}

function shapes() {
  const generator = createGenerator({
    path: path.join(root, "src/model.ts"),
    tsconfig: path.join(root, "tsconfig.json"),
    skipTypeCheck: true,
    additionalProperties: true,
    expose: "all",
    topRef: true,
    jsDoc: "none",
  });
  return plain(generator.createSchema("Plan").definitions);
}

/**
 * Names of types as they are written; `Readonly<..>` and the like are named after what they are of. Several types at once
 * are alternatives, and a part that is a function says so.
 */
export function plain(value) {
  if (Array.isArray(value)) return value.map(plain);
  if (typeof value !== "object" || value === null) return value;
  if (Array.isArray(value.type)) return { anyOf: value.type.map((type) => ({ type })) };
  if (value.$comment !== undefined) return { type: "function" };
  return Object.fromEntries(
    Object.entries(value).map(([key, one]) => [
      key,
      key === "$ref" ? decodeURIComponent(one).slice("#/definitions/".length) : plain(one),
    ]),
  );
}

/** For esbuild. */
export const planShape = {
  name: "plan-shape",
  setup({ onLoad }) {
    onLoad({ filter: PLACE }, () => ({ contents: planShapeModule(), loader: "js" }));
  },
};

/** For vitest. */
export const planShapeForTests = {
  name: "plan-shape",
  enforce: "pre",
  load: (id) => (PLACE.test(id) ? planShapeModule() : null),
};
