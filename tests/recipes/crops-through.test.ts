/** Every shipped crop with a random part of the shipped amendments, through solve, card and assay. */
import { readdirSync } from "node:fs";
import { resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { loadAmendments, loadPlan } from "../../src/files/load.ts";
import { solvePlans } from "../../src/flow/answer.ts";
import { assayMix } from "../../src/flow/assay.ts";
import type { Amendment, Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { renderCardHtml } from "../../src/render/card.ts";
import { renderMarkdown } from "../../src/render/markdown.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { assayReport } from "../../src/report/assay-report.ts";
import { cardReport } from "../../src/report/card-report.ts";
import { cardOf } from "../../src/report/card-sheet.ts";
import type { Report } from "../../src/report/report.ts";
import { solutionReport } from "../../src/report/solution-report.ts";
import { projectReader } from "../helpers/files.ts";
import { seeded } from "../helpers/random.ts";
import { ROOT } from "../helpers/world.ts";

const WHERE = { cwd: ROOT, recipesDir: resolve(ROOT, "recipes") };
const crops = readdirSync(resolve(ROOT, "recipes/crops")).map((file) => file.replace(".yaml", ""));

function shippedAmendments(): readonly Amendment[] {
  const loaded = loadAmendments(projectReader, "recipes/amendments/all.yaml", WHERE);
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.amendments;
}

function planFor(crop: string, seed: number): Plan {
  const r = seeded(seed);
  const tree = {
    plan: `Some ${crop}`,
    amendments: "recipes/amendments/all.yaml",
    recipe: crop,
    only: shippedAmendments()
      .map((a) => a.id)
      .filter(() => r.chance(0.3)),
    units: r.pick(["us", "metric"]),
    bed: r.pick<object>([
      { plants: 200, area: "1000 sq ft" },
      { area: "30 m2" },
      { area: "0.5 acre", rows: 10, row_length: "100 ft" },
    ]),
    applications: r.pick<object[]>([
      [{ day: 0 }],
      [{ day: 0 }, { day: 30 }],
      [{ day: -10, name: "before" }, { day: 5 }, { day: 20 }],
    ]),
    blend: r.pick(["one", "each"]),
    batch: r.pick<object>([{ size: "40 lb" }, { volume: "3 cu ft" }]),
    harvest: { first: 60 },
  };
  const planText = JSON.stringify(tree);
  const loaded = loadPlan(projectReader, { ...WHERE, planText, planFile: "plan.yaml" });
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.plan;
}

/** Nothing that a person should not see, on lines that fit. */
function checkReport(report: Report): void {
  const text = renderTerminal(report, { width: 80, colour: false });
  expect(text).not.toMatch(/NaN|undefined|Infinity|\bnull\b|\[object/);
  for (const line of text.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
}

describe("every shipped crop", () => {
  it.each(crops)(
    "%s",
    async (crop) => {
      const plan = planFor(crop, crop.length * 101 + crop.charCodeAt(1));
      const found = await solvePlans([plan], { by: "weight", candidates: shippedAmendments });
      if (!found.ok) throw new Error(formatProblems(found.problems));
      const solution = found.value;
      checkReport(solutionReport(solution));
      if (solution.status === "infeasible") {
        expect(solution.conflicts.length).toBeGreaterThan(0);
        expect(solution.beds[0]!.closest!.misses.length).toBeGreaterThan(0);
      } else {
        expect(renderCardHtml(cardOf(solution))).not.toMatch(/NaN|undefined|Infinity/);
        expect(renderMarkdown(cardReport(solution))).not.toMatch(/NaN|undefined|Infinity/);
        for (const { nutrient, minKg, countedKg } of solution.beds[0]!.nutrients)
          expect(countedKg, nutrient).toBeGreaterThan(minKg * (1 - 2e-6));
      }
      const portions = plan.amendments.slice(0, 3).map((amendment, i) => ({ amendment, kg: 3 + 4 * i }));
      const mix = { name: "Three bags", currency: plan.currency, units: plan.units, portions };
      const assay = await assayMix(mix, plan);
      if (!assay.ok) throw new Error(formatProblems(assay.problems));
      checkReport(assayReport(assay.value));
      // A mix is one recipe; a plan may need another for each application.
      if (solution.status === "optimal" && plan.blend === "one")
        expect(assay.value.against!.change.status).not.toBe("impossible");
    },
    60_000,
  );
});
