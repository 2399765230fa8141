/** `schema`: the JSON Schema of a kind of file, for editors, or of what a command prints, for scripts. */
import { resolve } from "node:path";
import { listed } from "../words/numbers.ts";
import { type Command, type CommandOutput, oneOf, outputForPrograms } from "./command.ts";
import { renderJson } from "./render.ts";
import { FileError, type World } from "./world.ts";

/** The kinds of file that have a schema. Kept here so that help needs no validator. */
export const SCHEMA_KINDS = [
  "plan",
  "farm",
  "amendments",
  "target",
  "mix",
  "season",
  "cases",
  "credits",
] as const;
/** The outputs that have one, made from their types by the build. `failure`: a file without a result among several. */
export const OUTPUT_KINDS = [
  "solution",
  "comparison",
  "sweep",
  "assay",
  "card",
  "now",
  "log",
  "record",
  "check",
  "list",
  "init",
  "failure",
] as const;
const KINDS = [...SCHEMA_KINDS, ...OUTPUT_KINDS];

export const command: Command = {
  formats: ["text"],
  usual: "json",
  choices: KINDS,
  arguments: [["<kind>", listed(KINDS, "or")]],
  notes: [
    "An editor that knows YAML schemas completes and checks a file that begins with",
    "  # yaml-language-server: $schema=plan.schema.json",
    "where that file was made by `barrowmix schema plan --out plan.schema.json`.",
    "`barrowmix init` sets this up. `barrowmix check` finds more than a schema can.",
  ],

  async run([kind], _options, { world }): Promise<CommandOutput> {
    const known = oneOf(KINDS, kind, "no kind of file or output is called");
    const schema = await schemaOf(known, world);
    const use = "It is made for programs: leave the format out to print it.";
    return outputForPrograms(schema, renderJson(schema), `JSON Schema: ${known}`, use);
  },
};

async function schemaOf(kind: (typeof KINDS)[number], world: World): Promise<unknown> {
  const file = SCHEMA_KINDS.find((name) => name === kind);
  if (file !== undefined) return (await import("../files/schema/json-schema.ts")).jsonSchema(file);
  const path = resolve(world.packageDir, "dist/schemas", `${kind}.schema.json`);
  const text = world.files.read(path);
  if (text === null) throw new FileError(`${path} is not there; \`npm run build\` makes it`);
  return JSON.parse(text);
}
