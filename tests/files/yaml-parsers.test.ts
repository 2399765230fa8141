/**
 * Two YAML parsers share the reading of files; whatever one of them would take, the other must take, and as the same
 * values. The yaml package alone is the judge here.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { isAlias, isMap, isScalar, isSeq, parseDocument, stringify } from "yaml";
import { parseTree } from "../../src/files/source.ts";
import { ROOT } from "../helpers/world.ts";

const SEEDED = { seed: 20261125, numRuns: 400 };

const files = ["examples", "recipes", "tests/errors"].flatMap((folder) =>
  readdirSync(join(ROOT, folder), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".yaml"))
    .map((name) => join(ROOT, folder, name)),
);

/** What the yaml package alone makes of a text, keys as they are written; null where it finds fault. */
function judged(text: string): { value: unknown } | null {
  const document = parseDocument(text, { logLevel: "error", prettyErrors: false });
  if (document.errors.length > 0 || document.warnings.length > 0) return null;
  const value = (node: unknown): unknown => {
    if (isAlias(node)) {
      const anchored = node.resolve(document);
      if (anchored === undefined) throw new RangeError("an alias that leads nowhere");
      return value(anchored);
    }
    if (isSeq(node)) return node.items.map(value);
    if (!isMap(node)) return isScalar(node) ? node.value : null;
    return Object.fromEntries(node.items.map((pair) => [keyOf(pair.key), value(pair.value)]));
  };
  try {
    return { value: value(document.contents) };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

function keyOf(key: unknown): string {
  if (!isScalar(key)) return String(key);
  return typeof key.value === "string" ? key.value : String(key.source ?? key.value ?? "");
}

/** `0` and `00` are one number as keys and two words: this program counts words. */
const onlyTwins = (text: string): boolean => {
  const { errors } = parseDocument(text, { logLevel: "error", prettyErrors: false });
  return errors.length > 0 && errors.every((error) => error.code === "DUPLICATE_KEY");
};

/** Maps without prototype as plain ones, for comparison. */
const plain = (value: unknown): unknown => JSON.parse(JSON.stringify(value ?? null));

function expectSame(text: string): void {
  const expected = judged(text);
  const { tree, broken, problems } = parseTree(text, "f.yaml", "/f.yaml");
  if (expected === null) expect(broken || problems.length > 0 || onlyTwins(text), text).toBe(true);
  else if (!broken) expect(plain(tree.root), text).toEqual(plain(expected.value));
  else
    expect(
      problems.map((p) => p.code).every((code) => code.startsWith("yaml-")),
      text,
    ).toBe(true);
}

describe("the two parsers", () => {
  it("agree on every file that ships, and on every file of the gallery of faults", () => {
    expect(files.length).toBeGreaterThan(80);
    for (const file of files) expectSame(readFileSync(file, "utf8"));
  }, 60_000);

  it("agree on any value written as YAML in any style", () => {
    const value = fc.jsonValue({ maxDepth: 3 });
    const style = fc.constantFrom("PLAIN", "QUOTE_DOUBLE", "QUOTE_SINGLE", "BLOCK_LITERAL", "BLOCK_FOLDED");
    fc.assert(
      fc.property(value, style, fc.integer({ min: 1, max: 4 }), (json, defaultStringType, indent) => {
        expectSame(stringify(json, { defaultStringType: defaultStringType as "PLAIN", indent }));
      }),
      SEEDED,
    );
  });

  it("agree on shipped files with a slip in them", () => {
    const texts = files.map((file) => readFileSync(file, "utf8"));
    const slip = fc.constantFrom(
      "",
      " ",
      "  ",
      "\t",
      "\n",
      ":",
      "- ",
      "{",
      "}",
      "[",
      "]",
      ",",
      "#",
      '"',
      "'",
      "|",
      ">",
      "&a ",
      "*a",
      "!x ",
      "---\n",
      "...\n",
      "? ",
      "%",
      "@",
      "`",
      "\\",
      "0",
      "-",
    );
    fc.assert(
      fc.property(fc.constantFrom(...texts), fc.nat(), fc.nat({ max: 3 }), slip, (text, where, cut, put) => {
        const at = where % Math.max(1, Math.min(text.length, 3000));
        expectSame(text.slice(0, at) + put + text.slice(at + cut, 4000));
      }),
      { ...SEEDED, numRuns: 800 },
    );
  }, 120_000);
});
