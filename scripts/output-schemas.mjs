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
  log: "LogResult",
  record: "RecordResult",
  check: "CheckResult",
  list: "ListResult",
  init: "InitResult",
  failure: "Failure",
};

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
    const { $schema, ...schema } = generator.createSchema(type);
    const named = { $schema, $id: `urn:barrowmix:${kind}:1`, title: `barrowmix: ${kind}`, ...schema };
    fs.writeFileSync(path.join(folder, `${kind}.schema.json`), `${JSON.stringify(named, null, 2)}\n`);
  }
}
