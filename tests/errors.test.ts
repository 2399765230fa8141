/**
 * The gallery of bad input: every file in `tests/errors/` is broken in its own way, and its first lines say what must be
 * reported, all of it and nothing else:
 *
 *     #! code line:column the message
 *
 * `UPDATE_ERRORS=1 npx vitest run tests/errors.test.ts` writes those lines again; read the difference before keeping it.
 */
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { PROBLEM_CODES } from "../src/files/codes.ts";
import { checkFiles } from "../src/files/load.ts";
import { formatProblems, type Problem } from "../src/problem.ts";
import { diskReader } from "./helpers/files.ts";

const FOLDER = join(import.meta.dirname, "errors");
const FILES = readdirSync(FOLDER)
  .filter((name) => name.endsWith(".yaml"))
  .sort();
const WHERE = { cwd: FOLDER, recipesDir: join(import.meta.dirname, "..", "recipes") };

function problemsOf(name: string): readonly Problem[] {
  return checkFiles(diskReader, [name], WHERE)[0]!.problems;
}

function described(problem: Problem, name: string): string {
  const { place } = problem;
  const where = place ? `${place.file === name ? "" : `${place.file}:`}${place.line}:${place.column}` : "-";
  return `#! ${problem.code} ${where} ${problem.message}`;
}

const expectations = (text: string): string[] => text.split("\n").filter((line) => line.startsWith("#! "));

if (process.env.UPDATE_ERRORS === "1") {
  // Each pass moves lines, in files that others include too; three passes settle it.
  for (let pass = 0; pass < 3; pass++)
    for (const name of FILES) {
      const path = join(FOLDER, name);
      const body = readFileSync(path, "utf8").replace(/^#! .*\n/gm, "");
      const before = problemsOf(name).map((p) => described(p, name));
      writeFileSync(path, `${before.map((line) => `${line}\n`).join("")}${body}`);
      const after = problemsOf(name).map((p) => described(p, name));
      writeFileSync(path, `${after.map((line) => `${line}\n`).join("")}${body}`);
    }
}

describe("a line too long for a screen", () => {
  it.each([1, 50, 5000, 9999])("is cut around column %d, with the caret under the same sign", (column) => {
    // Unlike its neighbours wherever it is cut.
    const line = Array.from({ length: 10_000 }, (_, i) => String.fromCharCode(97 + ((i * i) % 23))).join("");
    const place = { file: "x.yaml", line: 7, column };
    const text = formatProblems([{ code: "x", message: "wrong", place, excerpt: line }]);
    const [, shown, caret] = text.split("\n");
    expect(shown!.length).toBeLessThan(220);
    const at = caret!.indexOf("^");
    expect(shown!.slice(at, at + 2)).toBe(line.slice(column - 1, column + 1));
    expect(shown!.includes(" | ...")).toBe(column > 101);
  });
});

describe("the gallery of bad input", () => {
  it("is large", () => {
    expect(FILES.length).toBeGreaterThanOrEqual(45);
  });

  it.each(FILES)("%s", (name) => {
    const expected = expectations(readFileSync(join(FOLDER, name), "utf8"));
    expect(expected.length, "a file of the gallery says what is wrong with it").toBeGreaterThan(0);
    const problems = problemsOf(name);
    expect(problems.map((p) => described(p, name))).toEqual(expected);
    for (const p of problems) {
      // What would be right is said every time, and the line is shown as it is in the file.
      expect(p.hint, p.message).toMatch(/\S/);
      if (p.place) {
        const line = readFileSync(join(FOLDER, p.place.file), "utf8").split(/\r?\n/)[p.place.line - 1];
        expect(p.excerpt).toBe(line);
      }
    }
    const text = formatProblems(problems);
    expect(text).not.toMatch(/undefined|\[object|NaN|\n\s+at \S+ \(/);
  });

  it("provokes every code there is, and no other", () => {
    const provoked = new Set(FILES.flatMap((name) => problemsOf(name).map((p) => p.code)));
    // A file of five million bytes is not kept here; the command line's own tests make one.
    const elsewhere = ["file-size"];
    expect([...provoked, ...elsewhere].sort()).toEqual(Object.keys(PROBLEM_CODES).sort());
  });

  it("knows every code that the source names", () => {
    const room = join(import.meta.dirname, "..", "src", "files");
    const named = new Set<string>();
    for (const file of readdirSync(room, { recursive: true, encoding: "utf8" })) {
      if (!file.endsWith(".ts")) continue;
      const source = readFileSync(join(room, file), "utf8");
      for (const [, code] of source.matchAll(/code: "([a-z-]+)" satisfies ProblemCode/g)) named.add(code!);
    }
    expect(named.size).toBeGreaterThan(0);
    for (const code of named) expect(Object.keys(PROBLEM_CODES)).toContain(code);
  });
});
