/**
 * Random plans with raw manures, grades, old credits, green manures, stretched seasons and drainage, against a model that was
 * written apart, from the documents, and solved by HiGHS: `helpers/reference-model.ts`, where drainage is a column.
 */
import { describe, expect, it } from "vitest";
import { loadPlan } from "../src/files/load.ts";
import type { Plan } from "../src/model.ts";
import { formatProblems } from "../src/problem.ts";
import { weighed as solvePlan } from "./helpers/answers.ts";
import { diskReader, memoryReader } from "./helpers/files.ts";
import { type Spec, toTree, truthSpec } from "./helpers/random-plan.ts";
import { referenceCost } from "./helpers/reference-model.ts";
import { seeds } from "./helpers/seeds.ts";
import { ROOT } from "./helpers/world.ts";

const PLANS = seeds(40, 500);
const GROUP = 20;

/** The plan as files, its target in one of its own whose season a flag overrides. */
function loaded(spec: Spec, seed: number): Plan {
  const { target, ...tree } = toTree(spec, seed);
  const memory = memoryReader({
    "/plans/plan.yaml": JSON.stringify({ ...tree, target: "target.yaml" }),
    "/plans/target.yaml": JSON.stringify(target),
  });
  const io = { ...memory, read: (path: string) => memory.read(path) ?? diskReader.read(path) };
  const result = loadPlan(io, {
    planFile: "/plans/plan.yaml",
    cwd: "/plans",
    recipesDir: `${ROOT}/recipes`,
    overrides:
      spec.seasonOfCurves === undefined
        ? []
        : [{ path: ["target", "season"], value: `${spec.season} days`, flag: "--set" }],
  });
  if (!result.ok) throw new Error(formatProblems(result.problems));
  return result.value.plan;
}

describe(`${PLANS} random plans of the third round against a separately written model solved by HiGHS`, () => {
  const seen = {
    optimal: 0,
    infeasible: 0,
    manure: 0,
    drainage: 0,
    stretched: 0,
    old: 0,
    green: 0,
    grade: 0,
  };
  it.each(Array.from({ length: PLANS / GROUP }, (_, k) => k))(
    "plans %#",
    async (group) => {
      for (let seed = 40_000 + group * GROUP; seed < 40_000 + (group + 1) * GROUP; seed++) {
        const spec = truthSpec(seed);
        const solution = await solvePlan(loaded(spec, seed));
        const cost = await referenceCost(spec);
        if (cost === null) {
          expect(solution.status, `plan ${seed}`).toBe("infeasible");
          seen.infeasible++;
          continue;
        }
        expect(solution.status, `plan ${seed}`).toBe("optimal");
        expect(
          Math.abs(solution.byWeight! - cost),
          `plan ${seed}: ${solution.byWeight} and ${cost}`,
        ).toBeLessThan(1e-5 * Math.max(1, cost));
        seen.optimal++;
        if (spec.amendments.some(({ manure }) => manure)) seen.manure++;
        if (spec.amendments.some(({ grade }) => grade)) seen.grade++;
        if (spec.drainage) seen.drainage++;
        if (spec.seasonOfCurves !== undefined) seen.stretched++;
        if (spec.credits.some(({ day }) => day < -60)) seen.old++;
        if (spec.credits.some(({ greenManure }) => greenManure)) seen.green++;
      }
    },
    120_000,
  );

  it("have met all that is new", () => {
    expect(Object.entries(seen).filter(([, count]) => count < PLANS / 30)).toEqual([]);
  });
});
