/** The shipped recipes and the examples in recipes/README.md, read and solved by the program itself. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import {
  checkFiles,
  type FileReader,
  loadAmendments,
  loadMix,
  loadPlan,
  loadTarget,
  readFlagValue,
} from "../../src/files/load.ts";
import { RELEASE_CLASSES, type ReleaseClassName } from "../../src/files/release-classes.ts";
import { LINE_KINDS } from "../../src/files/schema/season.ts";
import type { ReleaseCurve } from "../../src/model.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { readSeasonText } from "../helpers/season.ts";

const recipesDir = fileURLToPath(new URL("../../recipes", import.meta.url));
const cwd = "/garden";
const where = { cwd, recipesDir };
const disk = (files: Readonly<Record<string, string>> = {}): FileReader => ({
  read: (path) =>
    files[path] ?? (path.startsWith(recipesDir) && existsSync(path) ? readFileSync(path, "utf8") : null),
});
const shipped = ["amendments", "crops"].flatMap((room) =>
  readdirSync(resolve(recipesDir, room)).map((file) => resolve(recipesDir, room, file)),
);
const cropNames = readdirSync(resolve(recipesDir, "crops")).map((file) => file.replace(".yaml", ""));
const README = readFileSync(resolve(recipesDir, "README.md"), "utf8");

describe("every shipped file", () => {
  it.each(shipped)("%s loads without a problem or a warning", (path) => {
    const [checked] = checkFiles(disk(), [path], where);
    expect(checked!.problems).toEqual([]);
    // What has no label varies as is usual for its kind, and `check` says so.
    expect(checked!.warnings.filter(({ code }) => code !== "spread-assumed")).toEqual([]);
    expect(checked!.kind).toBe(path.includes("/crops/") ? "target" : "amendments");
  });

  it("all.yaml gives every amendment of the other files", () => {
    const all = loadAmendments(disk(), resolve(recipesDir, "amendments/all.yaml"), where);
    if (!all.ok) throw new Error(JSON.stringify(all.problems));
    const ids = readdirSync(resolve(recipesDir, "amendments"))
      .filter((file) => file !== "all.yaml")
      .flatMap((file) =>
        [...readFileSync(resolve(recipesDir, "amendments", file), "utf8").matchAll(/^ {2}([a-z-]+):$/gm)].map(
          (m) => m[1]!,
        ),
      );
    expect(all.value.amendments.map((a) => a.id)).toEqual(ids.toSorted());
  });
});

describe("the examples in recipes/README.md", () => {
  const blocks = [...README.matchAll(/```yaml\n([\s\S]*?)```/g)].map((m) => m[1]!);
  const block = (start: RegExp): string => {
    const found = blocks.filter((text) => start.test(text));
    if (found.length !== 1) throw new Error(`${found.length} examples match ${start}`);
    return found[0]!;
  };
  const files = {
    "/garden/amendments.yaml": block(/^include:/),
    "/garden/neighbours-list.yaml": "amendments: {}\n",
    "/garden/my-prices.yaml": block(/^# my-prices\.yaml/),
    "/garden/my-target.yaml": block(/^target: /),
    "/garden/plan.yaml": block(/^plan: /),
    "/garden/mix.yaml": block(/^mix: /),
    "/garden/yield.yaml": `target: A crop\nseason: 90 days\nneed: {per: ha, N: 165 kg}\n${block(/^yield: /)}`,
  };
  const io = disk(files);

  it("amendments, target, mix and yield goal load", () => {
    for (const result of [
      loadAmendments(io, "amendments.yaml", where),
      loadTarget(io, "my-target.yaml", where),
      loadTarget(io, "yield.yaml", where),
      loadMix(io, "mix.yaml", where),
    ])
      expect(result.ok ? [] : result.problems).toEqual([]);
  });

  it("the plan loads, and takes the grower's own prices over the shipped ones", () => {
    const loaded = loadPlan(io, { ...where, planFile: "plan.yaml" });
    if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
    const feather = loaded.value.plan.amendments.find((a) => a.id === "feather-meal")!;
    expect(feather.packs).toHaveLength(1);
    expect(feather.packs[0]!.price).toBe(41);
    expect(feather.analysis.N).toBeCloseTo(0.13, 12); // kept from the shipped file
  });

  it("the season loads beside the demo's plan, with a line of each kind", () => {
    const read = readSeasonText(block(/^season: plan/));
    if (!read.ok) throw new Error(JSON.stringify(read.problems));
    const { log, planned } = read.value.season;
    expect(planned[1]!.gives["kelp-meal"]).toBeCloseTo(2 * 0.45359237, 9);
    // The line that is taken back is left out, and so is the one that does it.
    expect(log).toHaveLength(10);
    for (const kind of LINE_KINDS) expect(block(/^season: plan/)).toMatch(new RegExp(`[,{] ${kind}: `));
  });

  it("each way to write a release is accepted", () => {
    const lines = block(/^release: slow/)
      .trimEnd()
      .split("\n");
    expect(lines.length).toBeGreaterThanOrEqual(5);
    for (const line of lines) {
      const text = `amendments:\n  x:\n    name: X\n    analysis: {N: 5}\n    stock: 1 kg\n    ${line}\n`;
      const result = loadAmendments(disk({ "/garden/x.yaml": text }), "x.yaml", where);
      expect(result.ok ? [] : result.problems).toEqual([]);
    }
  });
});

// Own arithmetic again, so that the tables are held against the parameters and not against the program.
function available(curve: ReleaseCurve, days: number, temperatureC: number): number {
  const tau = days * curve.q10 ** ((temperatureC - curve.referenceC) / 10);
  if (curve.kind === "pool") return curve.atOnce + curve.later * (1 - 0.5 ** (tau / curve.halfLifeDays));
  let [x0, y0] = [0, 0];
  for (const [x1, y1] of curve.points) {
    if (tau <= x1) return x1 === x0 ? y1 : y0 + ((y1 - y0) * (tau - x0)) / (x1 - x0);
    [x0, y0] = [x1, y1];
  }
  return y0;
}

describe("the release tables in recipes/README.md", () => {
  it("shares by day and soil temperature follow from the classes", () => {
    let rows = 0;
    for (const [, name, soil, ...cells] of README.matchAll(
      /^\| `([a-z-]+)` \| (\d+) C \| (\d+) % \| (\d+) % \| (\d+) % \| (\d+) % \| (\d+) % \|$/gm,
    )) {
      const { curve } = RELEASE_CLASSES[name as ReleaseClassName];
      const expected = [14, 28, 56, 84, 112].map((d) => Math.round(100 * available(curve, d, Number(soil))));
      expect(cells.map(Number), `${name} at ${soil} C`).toEqual(expected);
      rows++;
    }
    expect(rows).toBe(10);
  });

  it("parameters are those of the classes", () => {
    for (const [name, { curve }] of Object.entries(RELEASE_CLASSES)) {
      const row = README.split("\n").find(
        (line) => line.startsWith(`| \`${name}\` |`) && !/ C \|/.test(line),
      )!;
      const cells = row.split("|").map((cell) => cell.trim());
      expect(cells.at(-2)).toBe(String(curve.q10));
      if (curve.kind === "points") {
        const written = [...row.matchAll(/(\d+) days (\d+) %/g)].map((m) => [
          Number(m[1]),
          Number(m[2]) / 100,
        ]);
        expect([[0, 0], ...written]).toEqual(curve.points);
      } else {
        expect(cells.slice(3, 5).map(Number.parseFloat)).toEqual(
          [curve.atOnce, curve.later].map((share) => Math.round(100 * share)),
        );
        if (curve.later > 0) expect(cells[5]).toBe(`${curve.halfLifeDays} days`);
      }
    }
  });
});

describe("every crop solves with what ships, without what the organic rule bars", () => {
  const HA = 0.1;
  const flag = (path: string, value: string) => ({
    path: path.split("."),
    value: readFlagValue(value).value,
    flag: `--set ${path}`,
  });
  // Two files for all crops: parsed once.
  const parsed: NonNullable<FileReader["parsed"]> = new Map();
  const planOf = (crop: string, soilC: number, applications: string) => {
    const loaded = loadPlan(
      { ...disk(), parsed },
      {
        ...where,
        overrides: [
          flag("recipe", crop),
          flag("amendments", "[{recipe: all}]"),
          flag("bed", `{area: ${HA} ha}`),
          flag("units", "metric"),
          flag("soil_temperature", `${soilC} C`),
          flag("exclude", "[urea, ammonium-sulfate, superphosphate]"),
          flag("applications", applications),
        ],
      },
    );
    if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
    return loaded.value.plan;
  };

  it.each(cropNames)(
    "%s, one application: proven, and no dearer than a mix worked out by hand",
    async (crop) => {
      const soilC = 18;
      const plan = planOf(crop, soilC, "[{day: 0, share: 100%}]");
      const solution = await solvePlan(plan);
      expect(solution.status).toBe("optimal");
      // By hand: poultry pellets for the phosphorus, feather meal for what nitrogen is left, potassium sulfate for the potash.
      const perKg = (id: string, nutrient: "N" | "P2O5" | "K2O"): number => {
        const a = plan.amendments.find((x) => x.id === id)!;
        const { curve } = a.release.byNutrient[nutrient] ?? a.release.other;
        return (a.analysis[nutrient] ?? 0) * available(curve, plan.seasonDays, soilC);
      };
      const price = (id: string): number =>
        Math.min(...plan.amendments.find((x) => x.id === id)!.packs.map((p) => p.price / p.sizeKg));
      const need = (nutrient: string): number => plan.demands.find((d) => d.nutrient === nutrient)!.minKg;
      const pellets = need("P2O5") / perKg("poultry-pellets", "P2O5");
      const feather = Math.max(
        0,
        (need("N") - pellets * perKg("poultry-pellets", "N")) / perKg("feather-meal", "N"),
      );
      const sulfate = Math.max(
        0,
        (need("K2O") - pellets * perKg("poultry-pellets", "K2O")) / perKg("potassium-sulfate", "K2O"),
      );
      const byHand =
        pellets * price("poultry-pellets") +
        feather * price("feather-meal") +
        sulfate * price("potassium-sulfate");
      expect(solution.cost.total).toBeGreaterThan(0);
      expect(solution.cost.total).toBeLessThanOrEqual(byHand * (1 + 1e-6));
    },
  );

  it.each(cropNames.flatMap((crop) => [15, 25].map((soilC) => [crop, soilC] as const)))(
    "%s at %s C keeps up with the crop over three applications",
    async (crop, soilC) => {
      const season = planOf(crop, soilC, "[{day: 0, share: 100%}]").seasonDays;
      const [second, third] = [Math.round(season * 0.2), Math.round(season * 0.4)];
      const plan = planOf(
        crop,
        soilC,
        `[{name: planting, day: 0, share: 50%}, {name: second, day: ${second}, share: 30%}, {name: third, day: ${third}, share: 20%}]`,
      );
      expect((await solvePlan(plan)).status).toBe("optimal");
    },
  );
});
