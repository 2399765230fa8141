/**
 * The library as it ships: every function of `src/index.ts` behind `guarded` (`src/guard.ts`), with the shapes of its
 * parameters made from its type. A function that is exported there has its door without more.
 */
import { createHash } from "node:crypto";
import fs from "node:fs";
import path from "node:path";
import { createGenerator } from "ts-json-schema-generator";
import { plain } from "./model-shape.mjs";

/**
 * The entry as JavaScript; made once for the same declarations, and kept.
 * @param names what `src/index.ts` exports beside types.
 */
export function doorModule(root, names) {
  const types = path.join(root, "dist/types");
  const hash = createHash("sha256");
  for (const file of [path.join(root, "scripts/library-door.mjs"), ...declarations(types)])
    hash.update(fs.readFileSync(file));
  const kept = path.join(
    root,
    "node_modules/.cache/barrowmix",
    `door-${hash.digest("hex").slice(0, 16)}.json`,
  );
  if (!fs.existsSync(kept)) {
    fs.mkdirSync(path.dirname(kept), { recursive: true });
    const mine = `${kept}.${process.pid}`;
    fs.writeFileSync(
      mine,
      JSON.stringify(parametersOf(path.join(types, "index.d.ts"), path.join(root, "tsconfig.json"), names)),
    );
    fs.renameSync(mine, kept);
  }
  const { functions, shapes } = JSON.parse(fs.readFileSync(kept, "utf8"));
  const others = names.filter((name) => functions[name] === undefined);
  return [
    'import * as library from "./index.ts";',
    'import { guarded } from "./guard.ts";',
    `export { ${others.join(", ")} } from "./index.ts";`,
    `const shapes = ${JSON.stringify(shapes)};`,
    ...Object.entries(functions).map(
      ([name, shape]) =>
        `export const ${name} = guarded(library.${name}, "${name}", ${JSON.stringify(shape)}, shapes);`,
    ),
  ].join("\n");
}

const declarations = (folder) =>
  fs
    .readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((file) => file.endsWith(".d.ts"))
    .sort()
    .map((file) => path.join(folder, file));

/** The parameters of each function as one shape, and the shapes that these name. */
function parametersOf(file, tsconfig, names) {
  const generator = createGenerator({
    path: file,
    tsconfig,
    skipTypeCheck: true,
    additionalProperties: true,
    expose: "all",
    topRef: true,
    jsDoc: "none",
    functions: "comment",
  });
  const functions = {};
  // A plan has its own shape (`model-shape.mjs`).
  const shapes = { Plan: {} };
  for (const name of names) {
    let definitions;
    try {
      ({ definitions } = generator.createSchema(name));
    } catch (error) {
      if (/No root type/.test(error.message)) continue;
      throw new Error(`${name}: ${error.message}`);
    }
    const { [name]: own, Plan: _, ...others } = definitions;
    if (own?.properties?.namedArgs === undefined) continue;
    const { own: parameters, ...parts } = apart({ own: own.properties.namedArgs, ...others });
    functions[name] = parameters;
    Object.assign(shapes, parts);
  }
  return { functions, shapes };
}

/**
 * Shapes under names that tell them from all others: types of one name may mean different things in different files, so
 * what a shape is made of is a part of its name (`Mix#1f3a9c02`).
 */
function apart(definitions) {
  const shapes = Object.fromEntries(
    Object.entries(definitions).map(([type, shape]) => [type, type.startsWith("Map<") ? {} : plain(shape)]),
  );
  const written = (type, above) => {
    if (type === "Plan" || above.includes(type)) return type;
    return JSON.stringify(shapes[type], (key, value) =>
      key === "$ref" ? written(value, [...above, type]) : value,
    );
  };
  const named = (type) => {
    if (type === "Plan" || type === "own") return type;
    return `${type}#${createHash("sha256").update(written(type, [])).digest("hex").slice(0, 8)}`;
  };
  return Object.fromEntries(
    Object.entries(shapes).map(([type, shape]) => [
      named(type),
      JSON.parse(JSON.stringify(shape, (key, value) => (key === "$ref" ? named(value) : value))),
    ]),
  );
}
