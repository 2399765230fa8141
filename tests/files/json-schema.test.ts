/**
 * The JSON Schemas that editors use, held against files by a validator that has nothing to do with the program (ajv, JSON
 * Schema 2020-12): what ships must pass, and what is wrong in shape must not.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { main } from "../../src/cli.ts";
import { SCHEMA_KINDS } from "../../src/commands/schema.ts";
import { kindOf } from "../../src/files/load.ts";
import { testWorld } from "../helpers/world.ts";

const root = fileURLToPath(new URL("../..", import.meta.url));
const yamlIn = (folder: string): string[] =>
  readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".yaml"))
    .map((name) => join(folder, name));

const printed = new Map<string, object>();
for (const kind of SCHEMA_KINDS) {
  const world = testWorld();
  if ((await main(["schema", kind], world)) !== 0) throw new Error(world.written.stderr);
  printed.set(kind, JSON.parse(world.written.stdout) as object);
}
const ajv = new Ajv2020({ strict: true, strictTypes: false, allErrors: true });
const validators = new Map([...printed].map(([kind, schema]) => [kind, ajv.compile(schema)]));

type FileKind = (typeof SCHEMA_KINDS)[number];

/** Release classes alone are an amendments file. */
const kindOfFile = (value: unknown): FileKind | null => {
  const kind = kindOf(value);
  return kind === "releases" ? "amendments" : kind;
};
function faults(kind: FileKind, value: unknown): string[] {
  const validate = validators.get(kind)!;
  return validate(value) ? [] : validate.errors!.map((e) => `${e.instancePath} ${e.message}`);
}

describe("JSON Schemas", () => {
  it.each(SCHEMA_KINDS)("%s: is a schema, with words for people", (kind) => {
    const text = JSON.stringify(printed.get(kind));
    expect(ajv.validateSchema(printed.get(kind)!)).toBe(true);
    expect(text).toContain('"description"');
    expect(text.length).toBeLessThan(120_000);
  });

  it.each([...yamlIn("recipes"), ...yamlIn("examples")])("%s passes", (file) => {
    const value: unknown = parse(readFileSync(join(root, file), "utf8"));
    const kind = kindOfFile(value);
    expect(kind).not.toBeNull();
    expect(faults(kind!, value)).toEqual([]);
  });

  // In the gallery, keys that mean nothing, a list where a map belongs and words beside the choices are faults of shape.
  const SHAPE =
    /^#! ((key-unknown|nutrient-unknown|type-wrong) \d|choice-unknown \d.* is not among the choices)/m;
  const broken = yamlIn("tests/errors").flatMap((file) => {
    const text = readFileSync(join(root, file), "utf8");
    if (!SHAPE.test(text)) return [];
    const value: unknown = parse(text, { logLevel: "silent" });
    const kind = kindOfFile(value);
    return kind === null ? [] : [{ file, kind, value }];
  });
  it("find many such files", () => {
    expect(broken.length).toBeGreaterThanOrEqual(10);
  });
  it.each(broken)("$file does not pass", ({ kind, value }) => {
    expect(faults(kind, value).length).toBeGreaterThan(0);
  });

  it("name the unknown key, as an editor would show it", () => {
    const errors = faults("plan", { plan: "x", amendmends: "a.yaml" });
    expect(errors.join("\n")).toMatch(/must NOT have additional properties/);
  });

  it("say which kinds there are", async () => {
    const world = testWorld();
    expect(await main(["schema", "plans"], world)).toBe(2);
    expect(world.written.stderr).toContain("did you mean `plan`?");
    expect(world.written.stdout).toBe("");
  });
});
