/**
 * A first mix for `simple: {most, least}`. It proves nothing; it is where the search begins.
 *
 * The free mix loses amendments one by one where a blend has too many, each time the one whose absence costs least.
 * Where that leads nowhere, a feasibility pump (Fischetti, Glover and Lodi 2005, Mathematical Programming 104:91-104)
 * looks for few enough: the largest amounts of each blend are picked, what else the mix needs is made as small as it
 * goes, and the picks follow the mix until nothing else is needed.
 */
import type { Plan } from "../model.ts";
import { Simplex } from "../solver/simplex.ts";
import type { BlendProgram } from "./build.ts";

/** Amendments of a blend that are tried without, smallest first. */
const TRIED = 4;
/** Amounts below this share of the largest are none. */
const NOTHING = 1e-9;
/** Rounds of the pump. */
const ROUNDS = 60;

/** `kept[a][b]`: whether blend `b` may have amendment `a` in the mix that the search begins from. */
export type FirstMix = readonly (readonly boolean[])[];

/**
 * Amendments for each blend, few enough, of which some mix meets the plan without regard to least weights.
 * @param x the free mix.
 * @param useKg how much of each amendment a blend can have, to judge amounts by.
 * @returns null where none was found.
 */
export function firstMix(
  plan: Plan,
  program: BlendProgram,
  x: readonly number[],
  most: number,
  useKg: readonly (readonly number[])[],
): FirstMix | null {
  const simplex = new Simplex(program);
  simplex.crossOver(x);
  if (simplex.optimise() !== "optimal") return null;
  return byDropping(plan, program, simplex, most) ?? byPumping(plan, program, x, most, useKg);
}

function byDropping(plan: Plan, program: BlendProgram, simplex: Simplex, most: number): FirstMix | null {
  const trial = new Simplex(program);
  for (;;) {
    const point = simplex.point();
    const least = NOTHING * point.reduce((size, value) => Math.max(size, value), 0);
    const crowded = program.blends
      .map((_, b) => plan.amendments.map((_, a) => program.use[a]![b]!).filter((j) => point[j]! > least))
      .filter((used) => used.length > most)
      .sort((p, q) => q.length - p.length);
    // What is not used is not kept either: a blend begins with what it has.
    if (crowded.length === 0) return program.use.map((columns) => columns.map((j) => point[j]! > least));
    let best: { j: number; cost: number } | null = null;
    for (const used of crowded) {
      for (const [k, j] of used.sort((i, j) => point[i]! - point[j]!).entries()) {
        if (k >= TRIED && best) break;
        trial.copyFrom(simplex);
        trial.setColumnBounds(j, 0, 0);
        if (trial.optimise({ cutoff: best?.cost ?? Infinity }) !== "optimal") continue;
        const cost = trial.objective();
        if (!best || cost < best.cost) best = { j, cost };
      }
      if (best) break;
    }
    if (!best) return null;
    simplex.setColumnBounds(best.j, 0, 0);
    if (simplex.optimise() !== "optimal") return null;
  }
}

function byPumping(
  plan: Plan,
  program: BlendProgram,
  x: readonly number[],
  most: number,
  useKg: readonly (readonly number[])[],
): FirstMix | null {
  const simplex = new Simplex(program);
  simplex.crossOver(x);
  const size = program.columns.map(() => Infinity);
  program.use.forEach((columns, a) => {
    columns.forEach((j, b) => {
      size[j] = useKg[a]![b]!;
    });
  });
  /** Columns that were picked in vain lately count for less. */
  const weary = program.columns.map(() => 0);
  let point: readonly number[] = x;
  let before = "";
  for (let round = 0; round < ROUNDS; round++) {
    const worth = (j: number): number => (size[j]! > 0 ? point[j]! / size[j]! : 0) - weary[j]!;
    const picked = new Set(
      program.blends.flatMap((_, b) =>
        plan.amendments
          .map((_, a) => program.use[a]![b]!)
          .filter((j) => point[j]! > 0)
          .sort((i, j) => worth(j) - worth(i) || i - j)
          .slice(0, most),
      ),
    );
    const costs = program.columns.map((_, j) => (picked.has(j) || !(size[j]! > 0) ? 0 : 1 / size[j]!));
    program.use.flat().forEach((j) => {
      if (!(size[j]! > 0)) costs[j] = 1e6;
    });
    simplex.setCosts(costs);
    if (simplex.optimise() !== "optimal") return null;
    point = simplex.point();
    const largest = point.reduce((most, value) => Math.max(most, value), 0);
    const others = program.use.flat().filter((j) => !picked.has(j) && point[j]! > NOTHING * largest);
    if (others.length === 0)
      return program.use.map((columns) => columns.map((j) => picked.has(j) && point[j]! > NOTHING * largest));
    const now = [...picked].join();
    if (now === before) for (const j of picked) weary[j]! += (0.1 * (1 + ((j * 7) % 5))) / 5;
    before = now;
  }
  return null;
}
