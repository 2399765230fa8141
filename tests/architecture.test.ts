import { readdirSync, readFileSync } from "node:fs";
import { join, posix } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";

/** Rooms of src/ in the order they may import from: each from itself and from those before it, never from one after. */
const ORDER = [
  "optional.ts",
  "plain-text.ts",
  "problem.ts",
  "calendar.ts",
  "numerals.ts",
  "units.ts",
  "nutrients.ts",
  "model.ts",
  "results",
  "files",
  "season",
  "solver",
  "program",
  "field",
  "words",
  "report",
  "render",
  "flow",
  "library.ts",
  "guard.ts",
  "disk.ts",
  "index.ts",
  "commands",
  "cli.ts",
  "start.ts",
];
/** Allowed against the order, each with its reason. */
const EXCEPTIONS: Readonly<Record<string, string>> = {
  "model.ts -> files": "the names of caution thresholds are listed where the loader checks them",
};
/** Rooms that do not know each other, though the order would allow it. */
const WALLS: readonly (readonly [from: string, to: string, why: string])[] = [
  ["solver", "results", "a solver knows rows and columns, no plan"],
  ["solver", "files", "a solver knows rows and columns, no plan"],
  ["solver", "season", "a solver knows rows and columns, no plan"],
  ["solver", "model.ts", "a solver knows rows and columns, no plan"],
  ["solver", "nutrients.ts", "a solver knows rows and columns, no plan"],
  ["flow", "report", "a flow makes results; commands turn them into reports"],
  ["flow", "render", "a flow makes results; commands turn them into reports"],
  ["report", "field", "a report reads results"],
  ["report", "program", "a report reads results"],
  ["report", "solver", "a report reads results"],
  ["report", "files", "a report reads results"],
  ["render", "results", "a renderer knows reports, whatever they are about"],
];
/** Files that import one another in a circle all the same: to be cut with the rooms they are in. */
const CIRCLES: readonly (readonly string[])[] = [
  ["files/schema/amendments.ts", "files/schema/release.ts", "files/schema/sure.ts"],
  ["commands/case-flags.ts", "commands/plan-options.ts"],
  ["commands/command.ts", "commands/world.ts"],
  ["flow/simple.ts", "flow/solve-blend.ts", "flow/sure-together.ts", "flow/sure.ts"],
];
/** Packages and the only files that may import them. */
const DOORS: Readonly<Record<string, RegExp>> = {
  yaml: /^files\/yaml\.ts$/,
  "zod/mini": /^files\/schema\/[a-z-]+\.ts$/,
  zod: /^files\/schema\/[a-z-]+\.ts$/,
  "javascript-lp-solver": /^solver\/engine-continuous\.ts$/,
  highs: /^solver\/engine-highs\.ts$/,
  "cli-table3": /^render\/terminal\.ts$/,
  chalk: /^render\/terminal\.ts$/,
  "string-width": /^render\/terminal\.ts$/,
  commander: /^cli\.ts$/,
  "@inquirer/checkbox": /^commands\/ask\.ts$/,
  "@inquirer/input": /^commands\/ask\.ts$/,
  "@inquirer/search": /^commands\/ask\.ts$/,
  "node:os": /^commands\/node-world\.ts$/,
  "node:worker_threads": /^(commands\/node-world|start)\.ts$/,
  "node:fs": /^(commands\/node-world|disk)\.ts$/,
};
/** Rooms that compute and do nothing else: no files, no process, no printing. */
const PURE =
  /^(optional|plain-text|calendar|problem|numerals|units|nutrients|model)\.ts$|^(results|season|solver|program|field|words|report|render)\//;

const root = fileURLToPath(new URL("../src/", import.meta.url));
const files = readdirSync(root, { recursive: true, encoding: "utf8" })
  .map((file) => file.split("\\").join("/"))
  .filter((file) => file.endsWith(".ts"));

function roomOf(file: string): string {
  return file.split("/")[0]!;
}

interface Import {
  readonly from: string;
  readonly to: string;
}
const imports: Import[] = files.flatMap((from) => {
  const text = readFileSync(join(root, from), "utf8");
  const found = text.matchAll(
    /^(?:import|export)\b[^"`;]*?\bfrom\s+"([^"]+)"|\bimport\("([^"]+)"\)|^import\s+"([^"]+)"/gm,
  );
  return [...found].map((match) => ({ from, to: (match[1] ?? match[2] ?? match[3])! }));
});

describe("the structure of src/", () => {
  it("is read at all", () => {
    expect(files.length).toBeGreaterThan(25);
    expect(imports.length).toBeGreaterThan(60);
  });

  it("imports one way", () => {
    const wrong = imports.flatMap(({ from, to }) => {
      if (!to.startsWith(".")) return [];
      const target = posix.normalize(posix.join(posix.dirname(from), to));
      const source = ORDER.indexOf(roomOf(from));
      const wanted = ORDER.indexOf(roomOf(target));
      if (source < 0 || wanted < 0) return [`${from} -> ${target}: a room that is not in the order`];
      if (wanted <= source || `${roomOf(from)} -> ${roomOf(target)}` in EXCEPTIONS) return [];
      return [`${from} -> ${target}`];
    });
    expect(wrong).toEqual([]);
  });

  it("imports in no circle", () => {
    const reach = new Map<string, ReadonlySet<string>>();
    const all = imports.flatMap(({ from, to }) =>
      to.startsWith(".") ? [[from, posix.normalize(posix.join(posix.dirname(from), to))] as const] : [],
    );
    for (const file of files) {
      const seen = new Set<string>();
      const open = [file];
      for (let at = open.pop(); at !== undefined; at = open.pop())
        for (const [from, to] of all) if (from === at && !seen.has(to)) open.push(to) && seen.add(to);
      reach.set(file, seen);
    }
    const circles = files
      .filter((file) => reach.get(file)!.has(file))
      .map((file) => [...reach.get(file)!].filter((other) => reach.get(other)?.has(file)).sort());
    const distinct = [...new Set(circles.map((circle) => circle.join(" ")))].sort();
    // A circle that is meant to be there may be cut at any time, or become smaller.
    const known = (circle: string) =>
      CIRCLES.some((one) => circle.split(" ").every((file) => one.includes(file)));
    expect(distinct.filter((circle) => !known(circle))).toEqual([]);
  });

  it("keeps the walls", () => {
    const wrong = imports.flatMap(({ from, to }) => {
      if (!to.startsWith(".")) return [];
      const target = roomOf(posix.normalize(posix.join(posix.dirname(from), to)));
      const wall = WALLS.find(([left, right]) => left === roomOf(from) && right === target);
      return wall ? [`${from} -> ${to}: ${wall[2]}`] : [];
    });
    expect(wrong).toEqual([]);
    for (const [left, right] of WALLS) {
      expect(ORDER).toContain(left);
      expect(ORDER).toContain(right);
    }
  });

  it("reaches each package through its own door", () => {
    const packages = imports.filter(({ to }) => !to.startsWith("."));
    const known = packages.filter(({ to }) => to in DOORS || /^node:(path|url|tty)$/.test(to));
    expect(packages.filter((one) => !known.includes(one))).toEqual([]);
    expect(known.filter(({ from, to }) => to in DOORS && !DOORS[to]!.test(from))).toEqual([]);
  });

  it("says of every tolerance what it is for, above it or above those that it is beside", () => {
    const bare = files.flatMap((file) => {
      const lines = readFileSync(join(root, file), "utf8").split("\n");
      const isTolerance = (line = "") => /^(export )?const [A-Z_]+ = [\d.]*e-\d+;/.test(line);
      return lines.flatMap((line, i) => {
        if (!isTolerance(line)) return [];
        let above = i - 1;
        while (isTolerance(lines[above])) above -= 1;
        return /^( \*\/|\/\*\*|\/\/)/.test(lines[above] ?? "") ? [] : [`${file}: ${line}`];
      });
    });
    expect(bare).toEqual([]);
  });

  it("does no input or output in the core", () => {
    const wrong = files.filter((file) => {
      if (!PURE.test(file)) return false;
      const text = readFileSync(join(root, file), "utf8");
      return /console\.|process\.|from "node:(fs|child_process|os|net)|Date\.now|new Date(?!\(\w)|Math\.random|toLocale/.test(
        text,
      );
    });
    expect(wrong).toEqual([]);
  });
});
