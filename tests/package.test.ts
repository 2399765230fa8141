/** The package as it would be published: what it holds, how large it is, and whether its entry points are in order. */
import { execFileSync } from "node:child_process";
import { publint } from "publint";
import { formatMessage } from "publint/utils";
import { expect, it } from "vitest";
import { ROOT } from "./helpers/world.ts";

it("has its entry points in order", async () => {
  const { messages, pkg } = await publint({ pkgDir: ROOT, pack: false });
  expect(messages.map((message) => formatMessage(message, pkg))).toEqual([]);
});

it("holds what is needed and nothing else, and is small", () => {
  const listed = execFileSync("npm", ["pack", "--dry-run", "--json", "--ignore-scripts"], {
    cwd: ROOT,
    encoding: "utf8",
    stdio: ["ignore", "pipe", "ignore"],
  });
  const [pack] = JSON.parse(listed) as { size: number; files: { path: string }[] }[];
  const paths = pack!.files.map((file) => file.path);
  const allowed =
    /^(package\.json|README\.md|LICENSE|CHANGELOG\.md|bin\/barrowmix(-thread)?\.cjs|man\/barrowmix\.1|dist\/(barrowmix\.cjs|index\.js|schemas\/[a-z-]+\.schema\.json|types\/.+\.d\.ts)|recipes\/.+)$/;
  expect(paths.filter((path) => !allowed.test(path))).toEqual([]);
  for (const needed of ["bin/barrowmix.cjs", "dist/barrowmix.cjs", "dist/index.js", "dist/types/index.d.ts"])
    expect(paths).toContain(needed);
  expect(paths).toContain("recipes/amendments/all.yaml");
  expect(pack!.size).toBeLessThan(1_000_000);
});
