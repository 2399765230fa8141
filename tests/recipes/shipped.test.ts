/** Every shipped amendment, alone in a plan: it must be what the plan buys, in the amount that its label and release give. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { loadPlan, readFlagValue } from "../../src/files/load.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { projectReader } from "../helpers/files.ts";
import { ROOT } from "../helpers/world.ts";

const recipesDir = join(ROOT, "recipes");
interface Written {
  readonly analysis: Readonly<Record<string, number>>;
  readonly source?: string;
  readonly release?: Readonly<Record<string, { readonly later?: string }>>;
  readonly packs?: readonly { readonly size: string; readonly price: number }[];
  readonly bulk?: { readonly price: number; readonly per: string };
}
const shipped = readdirSync(join(recipesDir, "amendments"))
  .filter((name) => name !== "all.yaml")
  .flatMap((name) => {
    const file = parse(readFileSync(join(recipesDir, "amendments", name), "utf8")) as {
      amendments: Record<string, Written>;
    };
    return Object.entries(file.amendments).map(([id, written]) => ({ id, name, written }));
  });

const SEASON = 3000;
const NEED_KG = 0.5;

describe("every shipped amendment", () => {
  it("is there", () => {
    expect(shipped.length).toBeGreaterThanOrEqual(30);
  });

  it.each(shipped)("$id has a source, and can be bought and solved for", async ({ id, name, written }) => {
    expect(written.source, "a published source, or `typical, from memory`").toMatch(
      /\d{4}|University|Extension|FAO|NOFA|atomic weights|from memory/,
    );
    // What it holds most of, with none of it hidden in a form that never comes free; not the nitrogen of what ties it up.
    const ties = (nutrient: string): boolean => /^-/.test(written.release?.[nutrient]?.later ?? "");
    const [nutrient] = Object.entries(written.analysis)
      .filter(([name]) => !ties(name))
      .sort((a, b) => b[1] - a[1])[0]!;
    const loaded = loadPlan(projectReader, {
      cwd: ROOT,
      recipesDir,
      overrides: [
        ["amendments", join(recipesDir, "amendments", name)],
        ["only", `[${id}]`],
        ["bed", "{area: 1 ha}"],
        ["target", `{target: X, season: ${SEASON} days, need: {per: bed, ${nutrient}: ${NEED_KG} kg}}`],
      ].map(([path, value]) => ({ path: [path!], value: readFlagValue(value!).value, flag: `--${path}` })),
    });
    if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
    const solution = await solvePlan(loaded.value.plan);
    expect(solution.status).toBe("optimal");
    expect(solution.amendments.map((a) => a.id)).toEqual([id]);
    // Of the label nothing more can come free than all of it, and after eight years not less than a tenth.
    const { kg } = solution.amendments[0]!;
    const label = (kg * written.analysis[nutrient]!) / 100;
    expect(label).toBeGreaterThanOrEqual(NEED_KG * (1 - 1e-6));
    expect(label).toBeLessThan(NEED_KG * 10.001);
    expect(solution.cost.total).toBeGreaterThan(0);
  });
});
