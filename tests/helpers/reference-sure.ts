/**
 * How sure a mix is, and the least cost of being so sure, written a second time from the document: what varies as linear
 * factors of the weights, margins as rows for HiGHS alone. It shares no code with the project; the spreads are those of
 * `list varies` for materials that state no kind.
 */
import { checkpointsOf, type Spec, type SpecCurve } from "./random-plan.ts";
import { available, credited, creditInAll, highs, referenceText } from "./reference-model.ts";

const LOT: Record<string, number> = { N: 0.08, P2O5: 0.12, K2O: 0.1 };
const OTHER_LOT = 0.15;
const COMMON = 0.08;
const SOIL_C = 1.2;
const ROUND = 0.03;
const CREDIT = 0.35;

function released(curve: SpecCurve): number {
  if (curve.points) return 0.1;
  return (curve.later ?? 0) === 0 ? 0 : 0.18;
}

/** By amendment and application, kg for each kg; and kg whatever is spread. */
interface Linear {
  readonly perKg: readonly (readonly number[])[];
  readonly constant: number;
}
export interface SureNeed {
  readonly nutrient: string;
  readonly day: number;
  readonly need: number;
  readonly mean: Linear;
  /** By what varies: what one standard deviation of it moves. */
  readonly moves: ReadonlyMap<string, Linear>;
}

/** The needs of some nutrients on each of their days. */
export function sureNeeds(spec: Spec, nutrients: readonly string[]): SureNeed[] {
  return nutrients.flatMap((nutrient) =>
    checkpointsOf(spec).flatMap((day): SureNeed[] => {
      const demand = spec.demands[nutrient]!;
      const applied = demand.counts === "applied";
      const end = day === spec.season;
      if (!end && (applied || !demand.uptake)) return [];
      const min = applied ? demand.min : demand.min / (demand.efficiency ?? 1);
      const need = min * (end ? 1 : takenUp(demand.uptake!, day));
      return need > 0 ? [needOf(spec, nutrient, day, need, applied)] : [];
    }),
  );
}

function takenUp(uptake: readonly [number, number][], day: number): number {
  let before: readonly [number, number] = [0, 0];
  for (const point of uptake) {
    if (day <= point[0])
      return before[1] + ((point[1] - before[1]) * (day - before[0])) / (point[0] - before[0]);
    before = point;
  }
  return before[1];
}

function needOf(spec: Spec, nutrient: string, day: number, need: number, applied: boolean): SureNeed {
  const curveOf = (a: number): SpecCurve =>
    spec.amendments[a]!.release.byNutrient[nutrient] ?? spec.amendments[a]!.release.other;
  const content = (a: number): number => spec.amendments[a]!.analysis[nutrient] ?? 0;
  const by = (coefficient: (a: number, t: number) => number, constant = 0): Linear => ({
    perKg: spec.amendments.map((_, a) => spec.applications.map((__, t) => coefficient(a, t))),
    constant,
  });
  const warmer = (degrees: number) => spec.soil?.map(([d, c]): [number, number] => [d, c + degrees]) ?? null;
  const given = (a: number, t: number, degrees = 0): number =>
    content(a) *
    (applied
      ? 1
      : available(curveOf(a), spec.applications[t]!.day, day, degrees === 0 ? spec.soil : warmer(degrees)));
  const credit = (c: Spec["credits"][number], degrees = 0): number =>
    applied
      ? creditInAll(c, nutrient)
      : credited(degrees === 0 ? spec : { ...spec, soil: warmer(degrees) }, c, nutrient, day);
  const credits = spec.credits.map((c) => ({
    kg: credit(c),
    common: applied ? 0 : Math.min(COMMON, c.greenManure ? 0.18 : released(c.curve)),
  }));
  const common = (a: number): number => (applied ? 0 : Math.min(COMMON, released(curveOf(a))));
  const own = (a: number): number => (applied ? 0 : Math.sqrt(released(curveOf(a)) ** 2 - common(a) ** 2));
  const moves = new Map<string, Linear>();
  spec.amendments.forEach((_, a) => {
    if (content(a) > 0)
      moves.set(
        `lot ${a} ${nutrient}`,
        by((b, t) => (b === a ? Math.hypot(LOT[nutrient] ?? OTHER_LOT, own(a)) * given(a, t) : 0)),
      );
  });
  moves.set(
    "releases",
    by(
      (a, t) => common(a) * given(a, t),
      credits.reduce((sum, c) => sum + c.common * c.kg, 0),
    ),
  );
  if (spec.soil && !applied)
    moves.set(
      "soil",
      by(
        (a, t) => SOIL_C * (given(a, t, 0.5) - given(a, t, -0.5)),
        spec.credits.reduce((sum, c) => sum + SOIL_C * (credit(c, 0.5) - credit(c, -0.5)), 0),
      ),
    );
  spec.applications.forEach((_, k) => {
    moves.set(
      `round ${k}`,
      by((a, t) => (t === k ? ROUND * given(a, t) : 0)),
    );
  });
  credits.forEach((c, k) => {
    if (c.kg !== 0)
      moves.set(
        `credit ${k}`,
        by(() => 0, CREDIT * c.kg),
      );
  });
  return {
    nutrient,
    day,
    need,
    mean: by(
      given,
      credits.reduce((sum, c) => sum + c.kg, 0),
    ),
    moves,
  };
}

const valueAt = ({ perKg, constant }: Linear, kg: readonly (readonly number[])[]): number =>
  perKg.reduce((sum, row, a) => sum + row.reduce((more, v, t) => more + v * kg[a]![t]!, 0), constant);

export interface SureReference {
  readonly cost: number;
  readonly kg: readonly (readonly number[])[];
}

const MOST_ROUNDS = 400;

/**
 * The least cost at which needs keep so many standard deviations, by cuts given to HiGHS; null where there is no mix.
 * @param start cuts to begin with: directions by index of a need; found ones are added.
 */
export async function sureReference(
  spec: Spec,
  needs: readonly SureNeed[],
  z: (need: SureNeed) => number,
  start: [need: number, u: ReadonlyMap<string, number>][] = [],
): Promise<SureReference | null> {
  const solver = await highs();
  const [before, after] = referenceText(spec).split("\nBounds\n");
  const rowOf = ([n, u]: (typeof start)[number], k: number): string => {
    const need = needs[n]!;
    let least = need.need - need.mean.constant;
    const terms: string[] = [];
    for (const [key, weight] of u) least += z(need) * weight * need.moves.get(key)!.constant;
    need.mean.perKg.forEach((row, a) => {
      row.forEach((mean, t) => {
        let value = mean;
        for (const [key, weight] of u) value -= z(need) * weight * need.moves.get(key)!.perKg[a]![t]!;
        if (value !== 0) terms.push(`${value < 0 ? "-" : "+"} ${Math.abs(value)} x_${a}_${t}`);
      });
    });
    return ` s${k}: ${terms.length === 0 ? "0 x_0_0" : terms.join(" ")} >= ${least}`;
  };
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const text = [before, ...start.map(rowOf), "Bounds", after].join("\n");
    const answer = solver.solve(text, {
      output_flag: false,
      primal_feasibility_tolerance: 1e-9,
      dual_feasibility_tolerance: 1e-9,
    });
    if (answer.Status === "Infeasible" || answer.Status === "Primal infeasible or unbounded") return null;
    if (answer.Status !== "Optimal") throw new Error(answer.Status);
    const kg = spec.amendments.map((_, a) =>
      spec.applications.map((__, t) => answer.Columns[`x_${a}_${t}`]?.Primal ?? 0),
    );
    let missed = 0;
    needs.forEach((need, n) => {
      const v = [...need.moves].map(([key, one]) => [key, valueAt(one, kg)] as const);
      const length = Math.hypot(...v.map(([, value]) => value));
      if (!(z(need) > 0) || length === 0) return;
      const short = need.need - (valueAt(need.mean, kg) - z(need) * length);
      if (short <= 1e-7 * need.need) return;
      missed++;
      start.push([n, new Map(v.map(([key, value]) => [key, value / length]))]);
    });
    if (missed === 0) return { cost: answer.ObjectiveValue, kg };
  }
  return null;
}

/** The share of drawn seasons in which all needs are met, each draw the same for any mix; what varies adds up. */
export class LinearSeasons {
  readonly #draws = new Map<string, Float64Array>();

  constructor(
    private readonly normal: () => number,
    private readonly count: number,
  ) {}

  met(needs: readonly SureNeed[], kg: readonly (readonly number[])[]): number {
    const all = new Uint8Array(this.count).fill(1);
    for (const need of needs) {
      const supply = new Float64Array(this.count).fill(valueAt(need.mean, kg));
      for (const [key, one] of need.moves) {
        const value = valueAt(one, kg);
        const draw = this.#draw(key);
        if (value !== 0) for (let j = 0; j < this.count; j++) supply[j]! += value * draw[j]!;
      }
      for (let j = 0; j < this.count; j++) if (supply[j]! < need.need * (1 - 1e-7)) all[j] = 0;
    }
    return all.reduce((sum, one) => sum + one, 0) / this.count;
  }

  #draw(key: string): Float64Array {
    const known = this.#draws.get(key);
    if (known) return known;
    const made = Float64Array.from({ length: this.count }, this.normal);
    this.#draws.set(key, made);
    return made;
  }
}
