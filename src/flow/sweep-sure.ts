import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { sureRows } from "../program/sure-rows.ts";
import type { Sweep, SweepPoint } from "../results/sweep.ts";
import { normalQuantile } from "../solver/normal.ts";
import { lengthOf, spreadsAt } from "../solver/sure.ts";
import { UnverifiedError } from "../solver/verify.ts";
import { listed } from "../words/numbers.ts";
import { type SolvedBlend, solveFreely } from "./solve-blend.ts";
import { holdSurely, inTheWay, levelsOf, SureSearch } from "./sure.ts";
import { amountsAt, conflictNames, noMix, type Swept, stepValues, sweepOf } from "./sweep.ts";

/** Of what the sureness is swept, as shares of seasons. */
export interface SureSweepRequest {
  /** Needs of the plan. */
  readonly nutrients: readonly Nutrient[];
  /** At least one half. */
  readonly from: number;
  /** Above `from`. */
  readonly to: number;
  readonly steps: number;
  readonly understood: string;
}

/** Times that the end of what can be reached is halved between two steps. */
const BISECTIONS = 12;
/** Costs are proven to about this share of them. */
const EXACT = 2e-6;

/**
 * What each step of sureness costs.
 * @throws UnverifiedError where a step cannot be proven, or proven costs do not rise as they must.
 */
export async function sweepSureness(plan: Plan, request: SureSweepRequest): Promise<Sweep> {
  const { simple: _, sure: __, ...bare } = plan;
  const plain = await solveFreely(bare);
  const values = stepValues(request);
  const { answer } = plain;
  if (answer.status !== "optimal") {
    const names = conflictNames(plan, plain.program);
    return sweepOf(plan, surenessSwept(plan, request), {
      ...NO_STRETCHES,
      feasible: null,
      conflicts: { from: names, to: names },
      points: values.map(unreached),
      verification: { points: values.length, solved: 0, maxViolation: 0, maxGap: 0 },
    });
  }
  const settled = { ...plain.plan, ...defined({ sure: plan.sure }) };
  const steps = new Steps(settled, plain, answer.x, request.nutrients);
  const points: SweepPoint[] = [];
  let end: number | null = null;
  for (const value of values) {
    // What cannot be reached at one step cannot at any surer one.
    const point = end === null ? await steps.at(value) : null;
    if (point === null && end === null) end = await steps.end(points.at(-1)?.value ?? null, value);
    points.push(point ?? unreached(value));
  }
  const fault = steps.areProven ? shapeFault(steps.curve) : null;
  if (fault !== null) throw new UnverifiedError(`The costs of this sweep could not be verified (${fault}).`);
  const reached = points.filter(({ total }) => total !== null);
  return sweepOf(plan, surenessSwept(plan, request), {
    ...NO_STRETCHES,
    feasible: reached.length > 0 ? { from: request.from, to: end ?? request.to } : null,
    conflicts: {
      from: reached.length > 0 ? [] : steps.conflict,
      to: end === null ? [] : steps.conflict,
    },
    points,
    verification: { points: reached.length, ...steps.proofs },
  });
}

/** Of sureness costs are known at the steps alone. */
const NO_STRETCHES = { by: "weight", breakpoints: [], segments: [] } as const;

/** What a sweep of sureness is of. */
export function surenessSwept(plan: Plan, { nutrients, understood }: SureSweepRequest): Swept {
  const asked = levelsOf(plan.sure);
  const levels = nutrients.map((nutrient) => asked.get(nutrient));
  return {
    kind: "sure",
    of: nutrients.join(","),
    name: `share of seasons that meet ${listed(nutrients)}`,
    unit: "share of seasons",
    understood,
    today: levels.every((level) => level === levels[0]) ? (levels[0] ?? null) : null,
  };
}

function unreached(value: number): SweepPoint {
  return { ...noMix(value), met: null };
}

/** One step as it was first found, at the level that was asked. */
export interface CurvePoint {
  /** Standard deviations kept. */
  readonly z: number;
  readonly cost: number;
  /** By margin: the standard deviation of its supply. */
  readonly spreads: readonly number[];
}

/** The steps of a sweep, each from where the one before ended. */
class Steps {
  readonly curve: CurvePoint[] = [];
  readonly proofs = { solved: 0, maxViolation: 0, maxGap: 0 };
  /** How risk is shared among needs that are to hold together is searched for: such costs may fall a little. */
  readonly areProven: boolean;
  /** What cannot all be kept just above what can be reached. */
  conflict: readonly string[] = [];
  readonly #search: SureSearch;
  readonly #margins;

  constructor(
    private readonly plan: Plan,
    private readonly solved: SolvedBlend,
    x: readonly number[],
    private readonly nutrients: readonly Nutrient[],
  ) {
    this.areProven = plan.sure?.together === undefined;
    this.#search = new SureSearch(plan, solved, x);
    this.#margins = sureRows(plan, this.#search.spread, solved.program, (nutrient) =>
      nutrients.includes(nutrient) ? 1 : 0,
    );
  }

  /** The mix at one level of the swept needs, the others as the plan asks. */
  async #reach(p: number): ReturnType<typeof holdSurely> {
    const { plan, nutrients } = this;
    const others = (plan.sure?.each ?? []).filter(({ nutrient }) => !nutrients.includes(nutrient));
    const asked = { ...plan.sure, each: [...others, ...nutrients.map((nutrient) => ({ nutrient, p }))] };
    const held = await holdSurely(this.#search, asked);
    if ("none" in held) this.conflict = inTheWay({ ...plan, sure: asked }, this.solved.program, held.none);
    return held;
  }

  /** The step at one level; null: no mix reaches it. */
  async at(value: number): Promise<SweepPoint | null> {
    const held = await this.#reach(value);
    if ("none" in held) return null;
    const { x, check } = held.first.found;
    const spreads = this.#margins.map(({ factors }) => lengthOf(spreadsAt(factors, x)));
    this.curve.push({ z: normalQuantile(value), cost: check.cost, spreads });
    const { found } = held.reached;
    const { maxViolation, gap, cost } = found.check;
    if (this.areProven && cost < check.cost * (1 - EXACT))
      throw new UnverifiedError("A surer mix came out cheaper; nothing is printed.");
    if (held.reached !== held.first) this.proofs.solved++;
    this.proofs.maxViolation = Math.max(this.proofs.maxViolation, maxViolation);
    this.proofs.maxGap = Math.max(this.proofs.maxGap, Math.abs(gap));
    const needs = held.worked.needs.filter(({ nutrient }) => this.nutrients.includes(nutrient));
    return {
      value,
      status: "optimal",
      total: cost,
      amendments: amountsAt(this.plan, this.solved.program, found.x),
      met: Math.min(...needs.map(({ met }) => met)),
    };
  }

  /** The largest level that can be reached between one that can (null: none is known) and one that cannot. */
  async end(known: number | null, beyond: number): Promise<number> {
    let [low, high] = [known ?? beyond, beyond];
    for (let k = 0; k < BISECTIONS && high > low; k++) {
      const p = (low + high) / 2;
      if ("none" in (await this.#reach(p))) high = p;
      else low = p;
    }
    return low;
  }
}

/**
 * What is wrong with costs at rising sureness; null where nothing is. They never fall. And where the spread of no swept
 * supply is smaller at one step than at another below it, the mixture of their two mixes keeps every margin in between,
 * since the margin of the mixture is at most the mixture of the margins: there the cost lies on or below the straight
 * line between the two, in standard deviations. (Where a surer mix is surer because it varies less, it need not.)
 */
export function shapeFault(curve: readonly CurvePoint[]): string | null {
  for (const [k, { z, cost, spreads }] of curve.entries()) {
    const before = curve[k - 1];
    if (!before) continue;
    const slack = EXACT * Math.max(1, cost);
    if (cost < before.cost - slack) return "a surer mix came out cheaper";
    const low = curve[k - 2];
    if (!low || !spreads.every((spread, r) => spread >= low.spreads[r]!)) continue;
    const part = (before.z - low.z) / (z - low.z);
    if (before.cost > low.cost + part * (cost - low.cost) + slack) return "a mixture of two mixes is cheaper";
  }
  return null;
}
