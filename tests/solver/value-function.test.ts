import { describe, expect, it } from "vitest";
import { sweepProgram } from "../../src/flow/sweep.ts";
import { highsEngine } from "../../src/solver/engine-highs.ts";
import { feasibleRange, movedProgram, type Stretch } from "../../src/solver/parametric.ts";
import type { Program, Row } from "../../src/solver/program.ts";
import { faultOf, traceByTangents } from "../../src/solver/value-function.ts";
import { costOf } from "../../src/solver/verify.ts";
import { randomSweep } from "../check/sweeps.ts";
import { seeds } from "../helpers/seeds.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;
const row = (index: number[], value: number[], lower: number, upper = Infinity): Row => ({
  tag: label("row"),
  index,
  value,
  lower,
  upper,
});

// t of a good is wanted: the first 2 cost 1 each, more costs 3. Cost: t up to 2, then 3 t - 4.
const steps: Program = {
  columns: [
    { tag: label("cheap"), cost: 1, upper: 2 },
    { tag: label("dear"), cost: 3, upper: Infinity },
  ],
  rows: [row([0, 1], [1, 1], 0)],
};
const need = { kind: "bounds", rate: [1] } as const;

describe("the least cost along a move", () => {
  it("is found by tangents: stretches, slopes and ends", async () => {
    const stretches = (await traceByTangents(steps, [], need, 0, 5))!;
    expect(stretches.map(({ from, to }) => [from, to])).toEqual([
      [0, 2],
      [2, 5],
    ]);
    expect(stretches.map(({ yFrom }) => yFrom)).toEqual([[1], [3]]);
    expect(stretches[1]!.xTo).toEqual([2, 3]);
    expect(faultOf(steps, need, stretches)).toBeNull();
  });

  it("is found by tangents along a price too", async () => {
    // 4 wanted; the dear one's price goes from 0 to 3: it is used alone, then beside the cheap one.
    const program = {
      ...steps,
      columns: [steps.columns[0]!, { ...steps.columns[1]!, cost: 0 }],
      rows: [row([0, 1], [1, 1], 4)],
    };
    const move = { kind: "cost", rate: [0, 1] } as const;
    const stretches = (await traceByTangents(program, [], move, 0, 3))!;
    expect(stretches.map(({ from, to, xFrom }) => [from, to, xFrom])).toEqual([
      [0, 1, [0, 4]],
      [1, 3, [2, 2]],
    ]);
    expect(faultOf(program, move, stretches)).toBeNull();
  });

  it("is not one stretch where it bends, nor one whose ends are false", async () => {
    const [first, second] = (await traceByTangents(steps, [], need, 0, 5))! as [Stretch, Stretch];
    const over = { ...first, to: 5, xTo: [2, 3] };
    expect(faultOf(steps, need, [over])).toBe("an end of a stretch is not proven");
    const dear = { ...second, from: 0, xFrom: [0, 0], yFrom: [1] };
    expect(faultOf(steps, need, [{ ...dear, yTo: [3] }])).toBe(
      "the slope of a stretch is not that of its ends",
    );
    expect(faultOf(steps, need, [first, { ...second, from: 3, xFrom: [2, 1] }])).toBe(
      "stretches do not join",
    );
  });

  it("is what HiGHS finds at every stretch's end and middle, on random plans", async () => {
    let compared = 0;
    for (let seed = 300; compared < seeds(10, 40); seed++) {
      const found = await randomSweep(seed, 1);
      if (!found) continue;
      const { program, move, ties } = sweepProgram(found.plan, found.request);
      const range = feasibleRange(program, move, found.request.to - found.request.from);
      if (!range || range.to - range.from < 1e-6) continue;
      compared++;
      const tangents = (await traceByTangents(program, ties, move, range.from, range.to))!;
      expect(faultOf(program, move, tangents), `plan ${seed}`).toBeNull();
      for (const { from, to, xFrom, xTo } of tangents) {
        const [a, b] = [from, to].map((t, k) =>
          costOf(movedProgram(program, move, t), k === 0 ? xFrom : xTo),
        );
        for (const [t, here] of [
          [from, a!],
          [(from + to) / 2, (a! + b!) / 2],
        ] as const) {
          const moved = movedProgram(program, move, t);
          const there = await highsEngine.solve(moved);
          if (there.status !== "optimal") continue;
          expect(Math.abs(here - costOf(moved, there.x)), `plan ${seed} at ${t}`).toBeLessThanOrEqual(
            1e-6 * Math.max(here, 1e-3),
          );
        }
      }
    }
  }, 60_000);
});
