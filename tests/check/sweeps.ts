/**
 * Random sweeps against exact re-solves. Every point must cost what its own program does when it is solved by itself and
 * proven; one point of each sweep is solved by HiGHS too. The cost must be convex along a need or a cap and concave along
 * a price, as the theory of parametric linear programs has it (Gal 1995, Postoptimal Analyses, Parametric Programming
 * and Related Topics), segments must join, and points must lie on them.
 */

import { type SweepRequest, sweepPlan, sweepProgram } from "../../src/flow/sweep.ts";
import type { Plan } from "../../src/model.ts";
import type { Sweep } from "../../src/results/sweep.ts";
import { highsEngine } from "../../src/solver/engine-highs.ts";
import { movedProgram } from "../../src/solver/parametric.ts";
import { Simplex } from "../../src/solver/simplex.ts";
import { certify, solveProgram } from "../../src/solver/solve.ts";
import { costOf } from "../../src/solver/verify.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";

/** A random number of a random plan along a random range; null where the plan has no mix. */
export async function randomSweep(
  seed: number,
  steps: number,
): Promise<{ readonly plan: Plan; readonly request: SweepRequest } | null> {
  const random = seeded(seed * 31 + 5);
  const plan = loadTree(toTree(randomSpec(seed), seed));
  const solution = await solvePlan(plan);
  if (solution.status !== "optimal") return null;
  const common = { steps, understood: "" };
  const kind = random.pick(["price", "need", "applied-max"] as const);
  if (kind === "price") {
    const amendment = random.pick(plan.amendments);
    const prices = amendment.packs.map(({ price, sizeKg }) => price / sizeKg);
    const price = Math.max(0.05, Math.min(...prices, amendment.bulkPricePerKg ?? Infinity, 10));
    const handle = { kind, id: amendment.id } as const;
    return {
      plan,
      request: {
        handle,
        from: random.chance(0.2) ? 0 : 0.3 * price,
        to: random.between(1.2, 4) * price,
        ...common,
      },
    };
  }
  const { nutrient, minKg, appliedKg } = random.pick(solution.nutrients);
  const size = kind === "need" ? minKg : appliedKg;
  const to = random.between(1.2, 3) * (size > 0 ? size : 1);
  const from = random.chance(0.2) ? 0 : random.between(0.1, 0.9) * Math.min(size > 0 ? size : 1, to);
  return { plan, request: { handle: { kind, nutrient }, from, to, ...common } };
}

const near = (a: number, b: number, scale: number): boolean => Math.abs(a - b) <= 1e-6 * scale;

/** What is wrong with the shape of a sweep; null where nothing is. */
export function wrongShape(sweep: Sweep, request: SweepRequest): string | null {
  const sign = request.handle.kind === "price" ? -1 : 1;
  const { segments, points } = sweep;
  const range = request.to - request.from;
  const scale = Math.max(...segments.flatMap((s) => [s.totalFrom, s.totalTo]), 1e-9);
  for (const [k, after] of segments.entries()) {
    const chord = (after.totalTo - after.totalFrom) / (after.to - after.from);
    if (after.to - after.from > 1e-6 * range && !near(chord * range, after.slope * range, scale))
      return `slope ${after.slope} of a segment whose ends say ${chord}`;
    const before = segments[k - 1];
    if (!before) continue;
    if (!near(before.totalTo, after.totalFrom, scale) || !near(before.to, after.from, range))
      return `segments that do not join at ${after.from}`;
    if (sign * (after.slope - before.slope) * range < -1e-6 * scale)
      return `slopes turn the wrong way at ${after.from}`;
  }
  const first = segments[0];
  for (const { value, total } of points) {
    if (total === null || !first) continue;
    const segment = segments.find(({ to }) => value <= to) ?? segments.at(-1)!;
    const part = Math.min(1, Math.max(0, (value - segment.from) / (segment.to - segment.from || 1)));
    const expected = segment.totalFrom + part * (segment.totalTo - segment.totalFrom);
    if (!near(total, expected, scale)) return `a point off its segment at ${value}`;
  }
  return null;
}

export interface SweepTally {
  sweeps: number;
  points: number;
  infeasible: number;
  wrong: string[];
}

/** Checks the sweeps of seeds from `first` on. */
export async function tallySweeps(first: number, sweeps: number, steps: number): Promise<SweepTally> {
  const tally: SweepTally = { sweeps: 0, points: 0, infeasible: 0, wrong: [] };
  for (let seed = first; tally.sweeps < sweeps; seed++) {
    const found = await randomSweep(seed, steps);
    if (!found) continue;
    tally.sweeps++;
    const { plan, request } = found;
    const name = `plan ${seed}, ${JSON.stringify(request.handle)}`;
    const sweep = await sweepPlan(plan, request).catch((error: unknown) => String(error));
    if (typeof sweep === "string") {
      tally.wrong.push(`${name}: ${sweep}`);
      continue;
    }
    const shape = wrongShape(sweep, request);
    if (shape) tally.wrong.push(`${name}: ${shape}`);
    const swept = sweepProgram(plan, request);
    const simplex = new Simplex(swept.program);
    const byHighs = seed % (steps + 1);
    for (const [k, point] of sweep.points.entries()) {
      const program = movedProgram(swept.program, swept.move, point.value - request.from);
      program.rows.forEach((row, i) => {
        simplex.setRowBounds(i, row.lower, row.upper);
      });
      simplex.setCosts(program.columns.map(({ cost }) => cost));
      // Where rows fit together by a hair, it takes the way that allows for rounding.
      const exact = certify(program, simplex) ?? (await solveProgram(program));
      tally.points++;
      if (point.total === null) tally.infeasible++;
      const cost =
        exact.status === "optimal" ? exact.check.cost : exact.status === "infeasible" ? null : Number.NaN;
      const same =
        cost === null || point.total === null
          ? cost === point.total
          : near(cost, point.total, Math.max(cost, 1e-6));
      const other = k === byHighs ? await highsEngine.solve(program) : null;
      const otherSame =
        other?.status !== "optimal" ||
        (point.total !== null && near(costOf(program, other.x), point.total, Math.max(1e-3, point.total)));
      if (same && otherSame) continue;
      tally.wrong.push(
        `${name} at ${point.value}: ${point.total}, by itself ${cost}, by HiGHS ${other?.status}`,
      );
      break;
    }
  }
  return tally;
}

/** Runs 600 sweeps of 1,000 steps, or so many as asked; throws where one is wrong. */
export async function checkSweeps(print: (line: string) => void, sweeps = 600, steps = 1000): Promise<void> {
  const { points, infeasible, wrong } = await tallySweeps(1, sweeps, steps);
  print(
    `sweeps: ${sweeps} of ${steps} steps; points solved again: ${points}, of them without a mix: ${infeasible}`,
  );
  for (const line of wrong) print(line);
  print(`wrong: ${wrong.length}`);
  if (wrong.length > 0) throw new Error(`${wrong.length} of ${sweeps} sweeps are wrong`);
}
