/** What it takes to be sure, against the plain answer to the same plan. */
import { join } from "node:path";
import { loadPlan } from "../../src/files/load.ts";
import { solveBlend, tieBreaks } from "../../src/flow/solve-blend.ts";
import { SureSearch } from "../../src/flow/sure.ts";
import type { Plan } from "../../src/model.ts";
import { solveProgram } from "../../src/solver/solve.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { diskReader } from "../helpers/files.ts";
import { alternate, type Benchmark, check, type Figure, median, runNode } from "./measure.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";
const COLD_ROUNDS = 21;
const WARM_ROUNDS = 50;
const WARM_UP = 30;
const LEVEL = 0.9;

export const sure: Benchmark = {
  name: "sureness",
  async run(root) {
    return [...(await warm(root)), await cold(root)];
  },
};

async function warm(root: string): Promise<Figure[]> {
  const loaded = loadPlan(diskReader, { planFile: PLAN, cwd: root, recipesDir: join(root, "recipes") });
  check(loaded.ok, "the demo plan loads");
  if (!loaded.ok) return [];
  const plan = loaded.value.plan;
  const asked: Plan = {
    ...plan,
    sure: {
      each: [
        { nutrient: "N", p: LEVEL },
        { nutrient: "S", p: LEVEL },
      ],
    },
  };
  const plain = await solveBlend(plan);
  const { answer, program } = plain;
  check(answer.status === "optimal", "the demo has a mix");
  if (answer.status !== "optimal") return [];
  const found = await solvePlan(asked);
  const nitrogen = found.sure!.needs.find(
    ({ nutrient, day }) => nutrient === "N" && day === plan.seasonDays,
  )!;
  check(nitrogen.p >= LEVEL - 1e-6 && Math.abs(nitrogen.pChecked! - LEVEL) < 0.005, "N is met in 90 %");
  const levels = new Map(asked.sure!.each.map(({ nutrient, p }) => [nutrient, p]));
  const ties = tieBreaks(program);
  const [programs, whole] = [
    await timed(
      () => solveProgram(program, ties),
      () => new SureSearch(plan, plain, answer.x).at(levels),
    ),
    await timed(
      () => solvePlan(plan),
      () => solvePlan(asked),
    ),
  ];
  const figure = (name: string, [before, after]: readonly [number, number]): Figure => ({
    name,
    value: after / before,
    unit: "x plain",
    goal: { at: "most", value: 10 },
    detail: `${after.toFixed(2)} ms against ${before.toFixed(2)} ms, medians of ${WARM_ROUNDS}`,
  });
  return [figure("sure program, warm", programs), figure("sure solve with its seasons, warm", whole)];
}

/** Medians of two things done in turn, in milliseconds. */
async function timed(
  one: () => Promise<unknown>,
  other: () => Promise<unknown>,
): Promise<readonly [number, number]> {
  const times: [number[], number[]] = [[], []];
  for (let round = -WARM_UP; round < WARM_ROUNDS; round++)
    for (const [k, work] of [one, other].entries()) {
      const begun = performance.now();
      await work();
      if (round >= 0) times[k]!.push(performance.now() - begun);
    }
  return [median(times[0]), median(times[1])];
}

async function cold(root: string): Promise<Figure> {
  const program = "bin/barrowmix.cjs";
  const args = [program, "solve", PLAN, "--sure", "90%"];
  const solved = JSON.parse((await runNode([...args, "--json"], root)).stdout);
  check(solved.status === "optimal" && solved.cost.gap <= 1e-6, "solve --sure of the demo plan");
  const [plain, surely] = await alternate([[program, "solve", PLAN], args], COLD_ROUNDS, root);
  return {
    name: "cold solve --sure, wall",
    value: surely!.ms / plain!.ms,
    unit: "x cold solve",
    goal: { at: "most", value: 1.3 },
    detail: `${surely!.ms.toFixed(0)} ms against ${plain!.ms.toFixed(0)} ms, medians of ${COLD_ROUNDS}`,
  };
}
