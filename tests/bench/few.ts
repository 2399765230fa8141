/** Plans that ask for few amendments in a blend and none too small to weigh; and a file in which every key is wrong. */
import { checkFiles } from "../../src/files/load.ts";
import { isSimple, solveSimple } from "../../src/flow/simple.ts";
import { amountsOf, solveFreely } from "../../src/flow/solve-blend.ts";
import { MAX_GAP } from "../../src/solver/verify.ts";
import { memoryReader } from "../helpers/files.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { largeTree } from "./large.ts";
import { type Benchmark, check, type Figure, spent } from "./measure.ts";

const PLANS = 40;
const WRONG_KEYS = 50_000;

/** 30 amendments, 6 applications, two or three amendments in a blend. */
function fewTree(seed: number): Record<string, unknown> {
  const random = seeded(1000 + seed);
  const tree = largeTree(30, 6);
  for (const amendment of Object.values(tree.amendments as Record<string, Record<string, unknown>>)) {
    const analysis: Record<string, number> = {};
    for (const nutrient of ["N", "P2O5", "K2O", "Ca", "Mg", "S", "B", "Zn"])
      if (random.chance(0.45))
        analysis[nutrient] = random.between(0.2, nutrient.length === 1 && nutrient !== "B" ? 12 : 3);
    if (Object.keys(analysis).length === 0) analysis.N = 3;
    amendment.analysis = analysis;
    amendment.packs = [{ size: "50 lb", price: random.between(10, 80) }];
  }
  return {
    ...tree,
    blend: random.pick(["each", "one"]),
    bed: { plants: 200, area: random.pick(["800 sq ft", "2000 sq ft", "6000 sq ft"]) },
    simple: {
      most: random.pick([2, 2, 3]),
      ...(random.chance(0.8) ? { least: random.pick(["0.5 lb", "1 lb", "2 lb"]) } : {}),
    },
  };
}

async function fewFigure(): Promise<Figure> {
  const times: number[] = [];
  let proven = 0;
  for (let seed = 0; seed < PLANS; seed++) {
    const free = await solveFreely(loadTree(fewTree(seed)));
    if (free.answer.status !== "optimal") continue;
    const begun = spent();
    const { plan, program, answer, simplicity } = await solveSimple(free, free.answer, {
      clock: () => performance.now(),
    });
    times.push(spent() - begun);
    if (answer.status === "optimal") {
      check(isSimple(plan, amountsOf(plan, program, answer.x)), `plan ${seed} keeps its limits`);
      if (answer.check.gap <= MAX_GAP && !simplicity!.claimed) proven++;
    } else {
      check(simplicity?.fault !== undefined, `plan ${seed} says why it has no mix`);
      if (!simplicity!.claimed) proven++;
    }
  }
  times.sort((a, b) => a - b);
  const at = (share: number): number => times[Math.floor(share * (times.length - 1))]!;
  return {
    name: "few amendments, 30 x 6",
    value: at(0.95),
    unit: "ms of processor time (of 20 the second slowest)",
    goal: { at: "most", value: 1000 },
    detail: `${times.length} random plans, ${proven} proven; median ${at(0.5).toFixed(0)} ms, slowest ${at(1).toFixed(0)} ms`,
  };
}

function wrongKeysFigure(): Figure {
  const lines = (count: number): string =>
    `plan: x\n${Array.from({ length: count }, (_, i) => `k${i}: 1\n`).join("")}`;
  const time = (count: number): number => {
    const reader = memoryReader({ "/f.yaml": lines(count) });
    const begun = spent();
    const [found] = checkFiles(reader, ["f.yaml"], { cwd: "/", recipesDir: "/recipes" });
    const taken = spent() - begun;
    check(found!.problems.length === count + 2, `${count} wrong keys are all told`);
    return taken;
  };
  time(1000);
  const [part, whole] = [time(WRONG_KEYS / 10), time(WRONG_KEYS)];
  return {
    name: "50,000 wrong keys",
    value: whole / part,
    unit: "x a tenth of them",
    goal: { at: "most", value: 15 },
    detail: `${whole.toFixed(0)} ms of processor time against ${part.toFixed(0)} ms`,
  };
}

export const few: Benchmark = {
  name: "few amendments, many faults",
  run: async () => [await fewFigure(), wrongKeysFigure()],
};
