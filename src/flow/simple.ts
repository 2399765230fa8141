/** The least-cost mix with few amendments, none too small to weigh: an integer program round the continuous one. */

import { batchCounts } from "../field/batches.ts";
import type { Amounts } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import { reachOf, simpleProgram } from "../program/simple.ts";
import { type Proven, relax, solveProgram } from "../program/solve.ts";
import { holdWhole, solveWhole, type WholePoint } from "../program/whole.ts";
import { counted, weight } from "../report/numbers.ts";
import type { Conflict } from "../solution.ts";
import { amountsOf, type SolvedBlend, tieBreaks, UnverifiedError } from "./continuous.ts";

/** A mix dearer than so many times the free one is looked for only where no other is found. */
const DEARER = [3, 30, 3000];

/** Whether a mix keeps the limits of `simple`: so many amendments in a blend, so much of each in a batch. */
export function isSimple(plan: Plan, amounts: Amounts): boolean {
  const { most = Infinity, leastKg = 0 } = plan.simple ?? {};
  const counts = batchCounts(plan, amounts);
  return plan.applications.every((_, t) => {
    const each = amounts.flatMap((row) => (row[t]! > 0 ? [row[t]! / Math.max(1, counts[t]!)] : []));
    return each.length <= most && each.every((kg) => kg >= leastKg * (1 - 1e-6));
  });
}

/**
 * Keeps to `plan.simple`, from the mix without it.
 * @throws UnverifiedError where no answer stands up.
 */
export async function solveSimple(free: SolvedBlend, answer: Proven): Promise<SolvedBlend> {
  const { plan, program } = free;
  const freeCost = answer.check.cost;
  if (isSimple(plan, amountsOf(plan, program, answer.x)))
    return { ...free, simplicity: { freeCost, gap: answer.check.gap, free: program } };
  const found = await cheapest(free, answer, plan.simple ?? {});
  if (found === null) {
    const elastic = relax(program);
    if (!elastic) throw new UnverifiedError("That no mix is simple enough could not be verified.");
    return {
      ...free,
      answer: { status: "infeasible", engine: answer.engine, elastic },
      simplicity: { freeCost, gap: 0, free: program, fault: await faultOf(free, answer) },
    };
  }
  const { point, held } = found;
  const blend = { ...program, ...held };
  const again = await solveProgram(blend, tieBreaks(blend));
  if (again.status !== "optimal" || !isSimple(plan, amountsOf(plan, blend, again.x)))
    throw new UnverifiedError("The simple mix could not be verified; no mix is printed.");
  const { cost } = again.check;
  const gap = Math.max(0, cost - point.bound) / Math.max(1, Math.abs(cost));
  return {
    ...free,
    program: blend,
    answer: { ...again, engine: point.engine, check: { ...again.check, dualBound: point.bound, gap } },
    simplicity: { freeCost, gap, free: program },
  };
}

interface Found {
  readonly point: WholePoint;
  readonly held: ReturnType<typeof holdWhole>["program"];
}

/** The cheapest mix within limits; null where there is none. */
async function cheapest(
  { plan, program }: SolvedBlend,
  answer: Proven,
  limits: NonNullable<Plan["simple"]>,
): Promise<Found | null> {
  const freeKg = program.use.flat().reduce((sum, j) => sum + answer.x[j]!, 0);
  const dearest = Math.max(0, ...program.columns.map((column) => column.cost));
  const scale = Math.max(answer.check.cost, 0.01 * dearest * freeKg);
  for (let k = 0; k < DEARER.length; ) {
    const mostSpent = scale * DEARER[k]!;
    const { draft } = simpleProgram(plan, program, reachOf(plan, program, mostSpent, freeKg), limits);
    const whole = { columns: draft.columns, rows: draft.rows };
    const point = await solveWhole(whole);
    if (point.status === "nothing")
      throw new UnverifiedError("No mix with so few amendments was found in time; allow more of them.");
    // Amounts reach only as far as the money looked at: a dearer answer is looked for again with more of it.
    if (point.status !== "infeasible" && (point.cost <= mostSpent || k === DEARER.length - 1))
      return { point, held: holdWhole(whole, point.x).program };
    k++;
  }
  return null;
}

/** Why no mix is simple enough, with the fewest amendments that would do. */
async function faultOf(free: SolvedBlend, answer: Proven): Promise<Conflict> {
  const { plan, program } = free;
  const { most, leastKg } = plan.simple ?? {};
  const demands = [
    ...(most === undefined ? [] : [`at most ${counted(most, "amendment")} in a blend`]),
    ...(leastKg === undefined
      ? []
      : [`at least ${weight(leastKg, plan.units)} of each amendment in a batch`]),
  ];
  const ways: string[] = [];
  if (most !== undefined) {
    const fewest = await fewestAmendments();
    if (fewest !== null) ways.push(`allow ${counted(fewest, "amendment")}`);
  }
  if (leastKg !== undefined && (await cheapest(free, answer, most === undefined ? {} : { most })) !== null)
    ways.push("allow smaller weights in a batch, or make larger batches");
  const text = `Mixes meet the plan, but none with ${demands.join(" and ")}.`;
  return { text: ways.length > 0 ? `${text} To make it possible, ${ways.join("; or ")}.` : text, demands };

  async function fewestAmendments(): Promise<number | null> {
    const freeKg = program.use.flat().reduce((sum, j) => sum + answer.x[j]!, 0);
    const mostSpent = Math.max(answer.check.cost, 1e-3) * DEARER.at(-1)!;
    const reach = reachOf(plan, program, mostSpent, freeKg);
    const { draft, columns } = simpleProgram(plan, program, reach, {
      ...(leastKg === undefined ? {} : { leastKg }),
    });
    for (let j = 0; j < draft.columns.length; j++) draft.columns[j] = { ...draft.columns[j]!, cost: 0 };
    const count = draft.column("amendments in the longest blend", 1, plan.amendments.length, true);
    program.blends.forEach((_, b) => {
      draft.row(
        { kind: "other", label: "few amendments in a blend" },
        [...columns.uses.map((uses) => [uses[b]!, 1] as const), [count, -1]],
        -Infinity,
        0,
      );
    });
    const found = await solveWhole({ columns: draft.columns, rows: draft.rows });
    return "x" in found ? Math.round(found.x[count]!) : null;
  }
}
