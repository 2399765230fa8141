/**
 * JSON Schemas of what the program prints, made from the types of the results themselves, so that they cannot drift from
 * them: a field's docstring becomes its description. Fields may be added to an output at any time, so none is closed.
 */
import fs from "node:fs";
import path from "node:path";
import { createGenerator } from "ts-json-schema-generator";

/** Kind of output, as `barrowmix schema` names it, and its type in `src/results/`. */
const OUTPUTS = {
  solution: "Solution",
  comparison: "Comparison",
  sweep: "Sweep",
  assay: "Assay",
  card: "CardJson",
  now: "SeasonNow",
  log: "LogResult",
  record: "RecordResult",
  check: "CheckResult",
  list: "ListResult",
  init: "InitResult",
  failure: "Failure",
};

/** The draft that the schemas of files are in too. */
const DRAFT = "https://json-schema.org/draft/2020-12/schema";

/** A schema of draft-07, as the generator makes it, in the words of 2020-12. */
function modern(schema) {
  if (Array.isArray(schema)) return schema.map(modern);
  if (typeof schema !== "object" || schema === null) return schema;
  const inEach = (map) => Object.fromEntries(Object.entries(map).map(([name, one]) => [name, modern(one)]));
  const words = Object.entries(schema).map(([word, value]) => {
    if (word === "definitions") return ["$defs", inEach(value)];
    if (word === "$ref") return ["$ref", value.replace("#/definitions/", "#/$defs/")];
    if (word === "properties") return [word, inEach(value)];
    if (word === "items" && Array.isArray(value)) return ["prefixItems", value.map(modern)];
    if (word === "additionalItems") return ["items", modern(value)];
    return [word, ["const", "enum", "default", "required"].includes(word) ? value : modern(value)];
  });
  return Object.fromEntries(words);
}

/** Writes one schema for each kind of output into a folder. */
export function writeOutputSchemas(root, folder) {
  const generator = createGenerator({
    path: path.join(root, "src/results/*.ts"),
    tsconfig: path.join(root, "tsconfig.json"),
    skipTypeCheck: true,
    additionalProperties: true,
    expose: "none",
    topRef: false,
    jsDoc: "basic",
  });
  for (const [kind, type] of Object.entries(OUTPUTS)) {
    const { $schema: _, ...schema } = modern(generator.createSchema(type));
    const named = { $schema: DRAFT, $id: `urn:barrowmix:${kind}:1`, title: `barrowmix: ${kind}`, ...schema };
    fs.writeFileSync(path.join(folder, `${kind}.schema.json`), `${JSON.stringify(named, null, 2)}\n`);
  }
}
