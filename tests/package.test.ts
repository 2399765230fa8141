/** The package as it would be published: what it holds, how large it is, and whether its entry points are in order. */
import { execFileSync } from "node:child_process";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { publint } from "publint";
import { formatMessage } from "publint/utils";
import { expect, it } from "vitest";
import { slow } from "./helpers/seeds.ts";
import { ROOT } from "./helpers/world.ts";

it("has its entry points in order", async () => {
  const { messages, pkg } = await publint({ pkgDir: ROOT, pack: false });
  expect(messages.map((message) => formatMessage(message, pkg))).toEqual([]);
});

slow(
  "holds what is needed and nothing else, and is small",
  () => {
    const listed = execFileSync("npm", ["pack", "--dry-run", "--json", "--ignore-scripts"], {
      cwd: ROOT,
      encoding: "utf8",
      stdio: ["ignore", "pipe", "ignore"],
    });
    const [pack] = JSON.parse(listed) as { size: number; files: { path: string }[] }[];
    const paths = pack!.files.map((file) => file.path);
    const allowed =
      /^(package\.json|README\.md|LICENSE|CHANGELOG\.md|DEVELOPERS\.md|src\/DECISIONS\.md|bin\/barrowmix(-thread)?\.cjs|man\/barrowmix\.1|dist\/(barrowmix\.cjs|index\.js|third-party-notices\.txt|schemas\/[a-z-]+\.schema\.json|types\/.+\.d\.ts)|recipes\/.+|examples\/.+)$/;
    expect(paths.filter((path) => !allowed.test(path))).toEqual([]);
    for (const needed of [
      "bin/barrowmix.cjs",
      "dist/barrowmix.cjs",
      "dist/index.js",
      "dist/types/index.d.ts",
    ])
      expect(paths).toContain(needed);
    expect(paths).toContain("recipes/amendments/all.yaml");
    // What the README leads to is there too.
    const readme = readFileSync(join(ROOT, "README.md"), "utf8");
    const links = [...readme.matchAll(/\]\(([^)#:]+)\)/g)].map((m) => m[1]!);
    expect(links.length).toBeGreaterThan(2);
    expect(links.filter((link) => !paths.includes(link))).toEqual([]);
    expect(pack!.size).toBeLessThan(1_000_000);
  },
  120_000,
);

it("says whose work it contains, with each licence in full", () => {
  const notices = readFileSync(join(ROOT, "dist/third-party-notices.txt"), "utf8");
  for (const name of [
    "chalk",
    "cli-table3",
    "commander",
    "javascript-lp-solver",
    "string-width",
    "yaml",
    "zod",
  ]) {
    const { version } = JSON.parse(
      readFileSync(join(ROOT, "node_modules", name, "package.json"), "utf8"),
    ) as { version: string };
    const own = readdirSync(join(ROOT, "node_modules", name)).find((file) => /^licen[cs]e/i.test(file))!;
    expect(notices).toContain(`\n${name} ${version} (`);
    expect(notices).toContain(readFileSync(join(ROOT, "node_modules", name, own), "utf8").trim());
  }
});
