/** The values that are read, against the yaml package, which reads the same language with code of its own. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { isMap, isScalar, isSeq, parseDocument, stringify } from "yaml";
import { parseTree } from "../../src/files/yaml.ts";

const root = fileURLToPath(new URL("../..", import.meta.url));

function parse(text: string) {
  return parseTree(text, "f.yaml", "/f.yaml");
}

/** Core schema, but for the numbers that people read in two ways: they stay text here. */
function reference(text: string): unknown {
  return parseDocument(text, { logLevel: "error", intAsBigInt: false }).toJS();
}

const plainMaps = (value: unknown): unknown => JSON.parse(JSON.stringify(value ?? null));

/** Every path of a document of the reference with the offset where its value begins. */
function placesOf(text: string): (readonly [path: (string | number)[], offset: number])[] {
  const found: (readonly [(string | number)[], number])[] = [];
  const visit = (node: unknown, path: (string | number)[]): void => {
    if (isMap(node))
      for (const pair of node.items) {
        const key = String(isScalar(pair.key) ? (pair.key.source ?? pair.key.value) : pair.key);
        const { value } = pair;
        const blank = !isMap(value) && !isSeq(value) && (!isScalar(value) || value.source === "");
        const at = blank ? pair.key : value;
        found.push([[...path, key], (at as { range: [number] }).range[0]]);
        visit(value, [...path, key]);
      }
    else if (isSeq(node))
      node.items.forEach((item, i) => {
        if (isScalar(item) && item.source !== "") found.push([[...path, i], item.range![0]]);
        visit(item, [...path, i]);
      });
  };
  visit(parseDocument(text, { schema: "failsafe", logLevel: "error" }).contents, []);
  return found;
}

function placeOf(text: string, offset: number) {
  const before = text.slice(0, offset).split("\n");
  return { file: "f.yaml", line: before.length, column: before.at(-1)!.length + 1 };
}

const FOLDERS = ["recipes", "examples", "tests/errors", "tests/cases"];
const files = FOLDERS.flatMap((folder) =>
  readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
    .filter((file) => file.endsWith(".yaml"))
    .map((file) => join(folder, file)),
);

describe("all YAML files here", () => {
  it("are read as the yaml package reads them", () => {
    let read = 0;
    for (const file of files) {
      const text = readFileSync(join(root, file), "utf8");
      const { tree, broken, problems } = parse(text);
      if (broken || problems.length > 0 || /0[ox]|\b0\d/.test(text)) continue;
      read++;
      expect(plainMaps(tree.root), file).toEqual(plainMaps(reference(text)));
    }
    expect(read).toBeGreaterThan(100);
  });

  it("have their values where the yaml package finds them", () => {
    let places = 0;
    for (const file of files) {
      const text = readFileSync(join(root, file), "utf8");
      const { tree, broken, problems } = parse(text);
      if (broken || problems.length > 0 || /[&*]/.test(text)) continue;
      for (const [path, offset] of placesOf(text)) {
        places++;
        expect(tree.position(path).place, `${file} ${path.join(".")}`).toEqual(placeOf(text, offset));
      }
    }
    expect(places).toBeGreaterThan(2000);
  });
});

const word = fc.stringMatching(/^[a-z][a-z0-9 %.:'"#{}[\],&*!|>@`?-]{0,12}[a-z0-9%]$/);
const scalar = fc.oneof(
  word,
  fc.integer({ min: -1000, max: 1000 }),
  fc.double({ noNaN: true, min: -1e6, max: 1e6 }).map((x) => Number(x.toPrecision(6))),
  fc.constantFrom(null, true, false, "", "~", "null", "1.50", "yes", "line one\nline two\n", " spaced "),
);
const value = fc.letrec((tie) => ({
  node: fc.oneof({ maxDepth: 4 }, scalar, fc.array(tie("node"), { maxLength: 4 }), tie("map")),
  map: fc.dictionary(word, tie("node"), { maxKeys: 5 }),
})).map;

describe("what the yaml package writes", () => {
  it.each([
    { collectionStyle: "block" },
    { collectionStyle: "flow" },
    { defaultStringType: "QUOTE_SINGLE" },
    { defaultStringType: "QUOTE_DOUBLE" },
    { lineWidth: 20 },
  ] as const)("is read as it was meant (%o)", (style) => {
    fc.assert(
      fc.property(value, (meant) => {
        const { tree, problems } = parse(stringify(meant, style));
        expect(problems).toEqual([]);
        expect(plainMaps(tree.root)).toEqual(plainMaps(meant));
      }),
      { numRuns: 200, seed: 7 },
    );
  });
});
